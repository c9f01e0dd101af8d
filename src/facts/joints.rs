//! Facts on the joints between neighbours of the air path.

use super::graph::row;
use super::guards::boost_target_max;
use super::registry::Row;
use super::scope::Scope;
use crate::build::hoses::{Bead, CouplerFields, CouplerForm, JointFields, NamedList};
use crate::build::parts::{MountedOn, Part, PartKind};
use crate::build::scalars::{Length, Q};
use crate::known::{Datum, Field, Kind, Known, Missing, Num, Read, Reads, State};
use crate::text::Dim;
use crate::tract::{Joint, Region, Subject, SubjectKind};

const JOINT: &[SubjectKind] = &[SubjectKind::Joint];
const LENGTH: Kind = Kind::Number(Dim::LENGTH);

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row(
        "joint_boost",
        Kind::Number(Dim::PRESSURE),
        JOINT,
        "highest wanted boost where the joint stands under it, 0 where it does not; the losses between there and the manifold come on top",
        joint_boost,
    ),
    row(
        "beaded",
        Kind::Bool,
        JOINT,
        "whether the pipe ends under the coupler carry a bead",
        |scope, subject| {
            coupler(scope, subject).and_then(|coupler| match coupler.bead.state(scope) {
                State::SaidNone => Known::Is(Datum::Bool(false)),
                _ => coupler.bead.get(scope).map(|bead| Datum::Bool(*bead != Bead::None)),
            })
        },
    ),
    row(
        "coupler_gap",
        LENGTH,
        JOINT,
        "bare stretch between the pipe ends under the coupler",
        |scope, subject| described_length(scope, subject, |coupler| &coupler.gap),
    ),
    row("coupler_bore", LENGTH, JOINT, "inside diameter of the coupler", |scope, subject| {
        described_length(scope, subject, |coupler| &coupler.bore)
    }),
    row(
        "coupler_overlap",
        LENGTH,
        JOINT,
        "how far the coupler reaches over the pipe on each side",
        |scope, subject| described_length(scope, subject, |coupler| &coupler.overlap),
    ),
    row(
        "crosses_mounts",
        Kind::Bool,
        JOINT,
        "whether one neighbour is fixed to the engine and the other to the body",
        crosses_mounts,
    ),
    row(
        "flexible",
        Kind::Bool,
        JOINT,
        "whether the joint takes up movement: a coupler with a hump, or a neighbour that is itself a soft coupler",
        flexible,
    ),
];

/// A joint as described; nothing where it is not.
fn fields<'b>(scope: &Scope<'b>, subject: &Subject) -> Known<Option<&'b JointFields>> {
    let joints = &scope.build().top.joints;
    match joints.state(scope) {
        State::Given(NamedList(_)) => {}
        State::Faulty => return Known::missing(joints.route()),
        State::Absent | State::SaidNone => return Known::Is(None),
    }
    let State::Given(list) = joints.state(scope) else { return Known::Is(None) };
    match list.named(&subject.name) {
        None => Known::Is(None),
        Some(named) => match &named.fields {
            Some(fields) => Known::Is(Some(fields)),
            None => Known::missing(&named.route),
        },
    }
}

/// The coupler of a joint: does not apply to a flange, and is missing where nothing is said.
fn coupler<'b>(scope: &Scope<'b>, subject: &Subject) -> Known<&'b CouplerFields> {
    let missing = Missing::field(&subject.route.key("coupler"));
    fields(scope, subject).and_then(|fields| {
        let Some(fields) = fields else { return Known::Open(missing) };
        match fields.coupler.state(scope) {
            State::Given(coupler) => Known::Is(coupler),
            _ if fields.flange.is_given(scope) => Known::not_applicable("a flange joins the two"),
            State::SaidNone => Known::not_applicable("no coupler joins the two"),
            State::Absent | State::Faulty => Known::Open(missing),
        }
    })
}

fn described_length(
    scope: &Scope<'_>,
    subject: &Subject,
    pick: impl Fn(&CouplerFields) -> &Field<Q<Length>>,
) -> Known<Datum> {
    match fields(scope, subject) {
        Known::Is(None) => return Known::not_applicable("the joint is not described"),
        Known::Open(missing) => return Known::Open(missing),
        _ => {}
    }
    coupler(scope, subject).and_then(|coupler| {
        pick(coupler).get(scope).map(|length| Datum::Number(Num::new(length.si(), Dim::LENGTH)))
    })
}

fn joint(scope: &Scope<'_>, subject: &Subject) -> Option<Joint> {
    scope.tract().joints().into_iter().find(|joint| joint.route == subject.route)
}

fn joint_boost(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(joint) = joint(scope, subject) else { return Known::missing(&subject.route) };
    let tract = scope.tract();
    let region = tract.path(scope).and_then(|path| {
        let (Some(upstream), Some(downstream)) = (path.spot(&joint.upstream), path.spot(&joint.downstream))
        else {
            return Known::missing(scope.build().top.air_path.route());
        };
        // A compressor counts with what lies behind it, so that the joint ahead of one is that of the part ahead.
        let of = if downstream.compresses() && !upstream.compresses() { upstream } else { downstream };
        let region = if downstream.compresses() && upstream.compresses() { upstream } else { of };
        path.region(region.index)
            .map_or_else(|| Known::missing(scope.build().top.air_path.route()), Known::Is)
    });
    let boost = |pascals: f64| Datum::Number(Num::new(pascals, Dim::PRESSURE));
    region.and_then(|region| match region {
        Region::BetweenStages => {
            Known::Open(Missing::hindrance("how much of the boost the first stage makes is not computed"))
        }
        region if region.sees_boost() => boost_target_max(scope).map(boost),
        _ => Known::Is(boost(0.0)),
    })
}

/// What a part is fixed to: as said, else by its kind, and recorded as such.
fn mounted(scope: &Scope<'_>, part: &Part) -> Known<MountedOn> {
    let field = &part.common.mounted_on;
    let by_kind = match part.known_kind() {
        Some(PartKind::Turbocharger | PartKind::Supercharger | PartKind::InletManifold) => MountedOn::Engine,
        _ => return field.get(scope).map(|mounted| *mounted),
    };
    field.get_or(scope, by_kind, "it is taken as fixed to the engine, as such parts are")
}

fn crosses_mounts(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(joint) = joint(scope, subject) else { return Known::missing(&subject.route) };
    let parts = &scope.build().parts;
    let (Some(one), Some(other)) = (parts.named(&joint.upstream), parts.named(&joint.downstream)) else {
        return Known::missing(scope.build().top.air_path.route());
    };
    let says = |part: &Part| !matches!(part.common.mounted_on.state(scope), State::Absent);
    if !says(one) && !says(other) {
        return Known::not_applicable("neither neighbour says what it is fixed to");
    }
    mounted(scope, one).zip(mounted(scope, other)).map(|(one, other)| Datum::Bool(one != other))
}

fn flexible(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(joint) = joint(scope, subject) else { return Known::missing(&subject.route) };
    let soft = |name: &str| {
        scope.build().parts.named(name).map(|part| {
            scope.note(Read::Field(part.kind.route().clone()));
            part.known_kind() == Some(PartKind::Coupler)
        })
    };
    if soft(&joint.upstream) == Some(true) || soft(&joint.downstream) == Some(true) {
        return Known::Is(Datum::Bool(true));
    }
    match coupler(scope, subject) {
        Known::Is(coupler) => coupler.form.get(scope).map(|form| Datum::Bool(*form == CouplerForm::Hump)),
        // A flange gives way to nothing.
        Known::NotApplicable(_) => Known::Is(Datum::Bool(false)),
        other => other.and_then(|_| Known::missing(&subject.route)),
    }
}

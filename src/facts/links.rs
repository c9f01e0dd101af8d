//! Links: places of the description that follow from how the tract hangs together, for the places that a rule marks.

use super::flow::{largest_loss_part, largest_volume_part};
use super::measured::measured_part;
use super::scope::Scope;
use crate::build::parts::{Body, Part, PartKind};
use crate::build::scalars::{Destination, List};
use crate::known::{Known, Missing, State};
use crate::text::Route;
use crate::tract::{Connection, PathFault, Subject, SubjectKind};

/// All links: what they are on, their name in routes, what kind of thing they lead to, what they mean.
pub static LINKS: &[LinkRow] = &[
    LinkRow {
        on: SubjectKind::ReliefValve,
        name: "host",
        target: Target::PathPart,
        meaning: "the part that carries the valve's tap",
    },
    LinkRow {
        on: SubjectKind::ReliefValve,
        name: "signal-hose",
        target: Target::Hose,
        meaning: "the hose that brings the valve its signal",
    },
    LinkRow {
        on: SubjectKind::ReliefValve,
        name: "signal-source",
        target: Target::HoseEnd,
        meaning: "the end of the signal hose that is not at the valve",
    },
    LinkRow {
        on: SubjectKind::ReliefValve,
        name: "return-port",
        target: Target::Port,
        meaning: "the discharge port that leads furthest upstream",
    },
    LinkRow {
        on: SubjectKind::Consumer,
        name: "hose",
        target: Target::Hose,
        meaning: "the hose that the consumer hangs on",
    },
    LinkRow {
        on: SubjectKind::ReferencedPart,
        name: "reference",
        target: Target::Place,
        meaning: "the place that says whose pressure the part feels: the part of its tap, or the far end of its hose",
    },
    LinkRow {
        on: SubjectKind::Build,
        name: "last-cooler",
        target: Target::Kind(PartKind::ChargeAirCooler),
        meaning: "the last charge-air cooler on the air path",
    },
    LinkRow {
        on: SubjectKind::Build,
        name: "suction-loss-part",
        target: Target::PathPart,
        meaning: "the part ahead of the first compressor that takes most pressure",
    },
    LinkRow {
        on: SubjectKind::Build,
        name: "charge-loss-part",
        target: Target::PathPart,
        meaning: "the part behind the last compressor that takes most pressure",
    },
    LinkRow {
        on: SubjectKind::Build,
        name: "charge-volume-part",
        target: Target::PathPart,
        meaning: "the part behind the last compressor that holds most air",
    },
    LinkRow {
        on: SubjectKind::Build,
        name: "path-gap",
        target: Target::Place,
        meaning: "the first place that shows a gap in the air path",
    },
    LinkRow {
        on: SubjectKind::Build,
        name: "path-order-fault",
        target: Target::Place,
        meaning: "the first entry of the air path that stands where it cannot",
    },
    LinkRow {
        on: SubjectKind::Measurement,
        name: "measured-part",
        target: Target::PathPart,
        meaning: "the part of the air path at which the measurement was taken",
    },
];

/// One link.
pub struct LinkRow {
    /// What it is on.
    pub on: SubjectKind,
    /// Its name.
    pub name: &'static str,
    /// What it leads to.
    pub target: Target,
    /// What it means.
    pub meaning: &'static str,
}

/// What a link leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    /// A part of the air path.
    PathPart,
    /// A part of one kind.
    Kind(PartKind),
    /// A hose.
    Hose,
    /// One end of a hose.
    HoseEnd,
    /// A single place with nothing below it.
    Place,
    /// A discharge port of a relief valve.
    Port,
}

/// Where a link of a subject leads.
pub fn link(scope: &Scope<'_>, subject: &Subject, name: &str) -> Known<Route> {
    let tract = scope.tract();
    if name == "last-cooler" {
        return tract.path(scope).and_then(|path| {
            let last = path.iter().rev().find(|spot| spot.kind == PartKind::ChargeAirCooler);
            last.map_or_else(
                || Known::not_applicable("no cooler is on the air path"),
                |spot| Known::Is(spot.part.route.clone()),
            )
        });
    }
    let first = |faults: Known<Vec<PathFault>>| {
        faults.and_then(|faults| match faults.into_iter().next() {
            Some(fault) => Known::Is(fault.route),
            None => Known::not_applicable("the air path is sound"),
        })
    };
    match name {
        "suction-loss-part" => return largest_loss_part(scope, false),
        "charge-loss-part" => return largest_loss_part(scope, true),
        "charge-volume-part" => return largest_volume_part(scope),
        "measured-part" => return measured_part(scope, subject),
        "path-gap" => return first(tract.path_gaps(scope)),
        "path-order-fault" => return first(tract.path_order_faults(scope)),
        _ => {}
    }
    let Some(part) = tract.part_of(subject) else { return Known::missing(&subject.route) };
    let hose = || {
        tract.connections(part, scope).and_then(|connections| {
            let span = connections.found.into_iter().find_map(|connection| match connection {
                Connection::Hose(span, _) => Some(span),
                Connection::Tap(_) => None,
            });
            span.map_or_else(|| Known::not_applicable("no hose"), Known::Is)
        })
    };
    match name {
        "reference" => match part.common.tap.state(scope) {
            State::Given(tap) => Known::Is(tap.part.route().clone()),
            _ => hose().map(|span| span.far),
        },
        "return-port" => return_port(scope, part),
        "host" => tract.host_of(part, scope).map(|host| host.route.clone()),
        "hose" | "signal-hose" => hose().map(|span| span.hose.route.clone()),
        "signal-source" => hose().map(|span| span.far),
        _ => Known::Open(Missing::hindrance(format!("there is no link `{name}`"))),
    }
}

/// Of the ports that lead back into the path, the one whose part stands first on it.
fn return_port(scope: &Scope<'_>, valve: &Part) -> Known<Route> {
    let Body::ReliefValve(fields) = &valve.body else {
        return Known::not_applicable("it is no relief valve");
    };
    let tract = scope.tract();
    fields.discharge.get(scope).and_then(|List(ports)| {
        let places = ports.iter().enumerate().map(|(i, port)| {
            port.to
                .get(scope)
                .and_then(|Destination(to)| tract.spot(to, scope))
                .map(|spot| Some((spot?.index, i)))
        });
        places.collect::<Known<Vec<_>>>().and_then(|places| match places.into_iter().flatten().min() {
            Some((_, i)) => Known::Is(fields.discharge.route().index(i)),
            None => Known::not_applicable("nothing is returned"),
        })
    })
}

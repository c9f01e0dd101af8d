//! Facts on what signals share with what draws air, on single runners, and on air that comes in unmetered.

use super::graph::row;
use super::registry::Row;
use super::scope::Scope;
use crate::build::hoses::End;
use crate::build::parts::{Body, Part, PartKind, SensorPurpose};
use crate::build::scalars::{Destination, PartName};
use crate::known::{Datum, Kind, Known, Missing, Num, State};
use crate::text::{Dim, Route, Step};
use crate::tract::{HoseSpan, Region, Subject, SubjectKind, Ways};

const BUILD: &[SubjectKind] = &[SubjectKind::Build];
const HOSE: &[SubjectKind] = &[SubjectKind::Hose];
const OPENING: &[SubjectKind] = &[SubjectKind::Opening];
const COUNT: Kind = Kind::Number(Dim::ONE);

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row(
        "runners",
        COUNT,
        BUILD,
        "how many runners have a throttle of their own and nothing common behind it",
        |scope, _| {
            scope.tract().path(scope).map(|path| {
                let runs = path.ends().filter(|end| path.region(end.index) == Some(Region::Runner));
                count(runs.count())
            })
        },
    ),
    row(
        "source_runners",
        COUNT,
        HOSE,
        "from how many such runners what listens at the hose's end gets its pressure, chambers on the way included",
        source_runners,
    ),
    row(
        "shares_with_consumer",
        Kind::Bool,
        HOSE,
        "whether what listens at the hose's end has a stretch of hose in common with something that draws air",
        shares_with_consumer,
    ),
    row(
        "enters_behind_air_meter",
        Kind::Bool,
        OPENING,
        "whether outside air can come in by this opening behind an air meter that the engine goes by",
        enters_behind_air_meter,
    ),
];

fn count(number: usize) -> Datum {
    Datum::Number(Num::pure(number as f64))
}

/// Kinds that act on the pressure that a hose brings them.
pub(super) fn listens(part: &Part) -> bool {
    match &part.body {
        Body::ReliefValve(_) | Body::Actuator(_) | Body::BrakeServo(_) => true,
        // A needle on a dial may tremble.
        Body::PressureSensor(sensor) => {
            !matches!(sensor.purpose.state(&crate::known::Unrecorded), State::Given(SensorPurpose::Display))
        }
        _ => false,
    }
}

fn draws_air(part: &Part) -> bool {
    matches!(
        part.known_kind(),
        Some(PartKind::BrakeServo | PartKind::Breather | PartKind::PurgeValve | PartKind::IdleAirValve)
    )
}

/// What listens at an end of a hose.
pub(super) fn listener<'b>(
    scope: &Scope<'b>,
    subject: &Subject,
    wanted: fn(&Part) -> bool,
) -> Known<&'b Part> {
    let State::Given(hoses) = scope.build().top.hoses.state(scope) else {
        return Known::missing(&subject.route);
    };
    let Some(fields) = hoses.named(&subject.name).and_then(|hose| hose.fields.as_ref()) else {
        return Known::missing(&subject.route);
    };
    let mut unknown = Missing::default();
    for end in [&fields.from, &fields.to] {
        let name = match end.get(scope) {
            Known::Is(End::Named(Destination(name))) => name.clone(),
            Known::Is(End::Placed(tap)) => match tap.part.get(scope) {
                Known::Is(PartName(name)) => name.clone(),
                Known::Open(missing) => {
                    unknown = unknown.join(missing);
                    continue;
                }
                _ => continue,
            },
            Known::Open(missing) => {
                unknown = unknown.join(missing);
                continue;
            }
            _ => continue,
        };
        let Some(part) = scope.build().parts.named(&name) else { continue };
        match part.kind.get(scope) {
            Known::Is(_) if wanted(part) => return Known::Is(part),
            Known::Open(missing) => unknown = unknown.join(missing),
            _ => {}
        }
    }
    if unknown.is_nothing() {
        Known::not_applicable("nothing that acts on a pressure hangs on it")
    } else {
        Known::Open(unknown)
    }
}

/// The ways from a part that set out through a hose.
pub(super) fn ways_through<'b>(scope: &Scope<'b>, part: &Part, subject: &Subject) -> Ways<HoseSpan<'b>> {
    let (mut found, unknown) = scope.tract().hoses_at(&part.name, scope);
    found.retain(|way| way.hose.name == subject.name);
    Ways { found, unknown }
}

fn source_runners(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    listener(scope, subject, listens).zip(tract.path(scope)).and_then(|(part, path)| {
        let ways = ways_through(scope, part, subject);
        let region = |name: &str| path.spot(name).and_then(|spot| path.region(spot.index));
        let mut heard: Vec<&str> = Vec::new();
        for way in &ways.found {
            if region(&way.ends[1]) == Some(Region::Runner) && !heard.contains(&&*way.ends[1]) {
                heard.push(&way.ends[1]);
            }
        }
        match heard.len() {
            0 if ways.unknown.is_nothing() => Known::not_applicable("it brings no pressure of a runner"),
            _ if !ways.unknown.is_nothing() => Known::Open(ways.unknown.clone()),
            number => Known::Is(count(number)),
        }
    })
}

fn shares_with_consumer(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    let only_hears = |part: &Part| listens(part) && !draws_air(part);
    let only_hears: fn(&Part) -> bool = only_hears;
    listener(scope, subject, only_hears).and_then(|part| {
        let ways = ways_through(scope, part, subject);
        let consumers: Vec<_> = scope.build().parts.list.iter().filter(|part| draws_air(part)).collect();
        let kinds = tract.unknown_kinds(scope);
        let shared = ways.any(|way| {
            let mut unknown = kinds.clone();
            for consumer in &consumers {
                let (theirs, more) = tract.hoses_at(&consumer.name, scope);
                unknown = unknown.join(more);
                if theirs.iter().any(|other| way.shares_a_hose_with(other)) {
                    return Known::Is(true);
                }
            }
            if unknown.is_nothing() { Known::Is(false) } else { Known::Open(unknown) }
        });
        shared.map(Datum::Bool)
    })
}

/// The name of the table and of the thing that a route leads into.
fn thing(route: &Route) -> Option<(&str, &str)> {
    match route.steps() {
        [Step::Key(table), Step::Key(name), ..] => Some((&**table, &**name)),
        _ => None,
    }
}

fn enters_behind_air_meter(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    let ahead = |name: &str| tract.is_metered_ahead(name, scope);
    if let Some(missing) = super::surroundings::not_said_to_open(scope, subject) {
        return Known::Open(missing);
    }
    match thing(&subject.route) {
        Some(("parts", name)) => {
            let Some(part) = scope.build().parts.named(name) else { return Known::missing(&subject.route) };
            match &part.body {
                Body::IdleAirValve(valve) => {
                    valve.to.get(scope).and_then(|PartName(to)| ahead(to)).map(Datum::Bool)
                }
                _ => Known::not_applicable("air only leaves by it, while there is boost"),
            }
        }
        Some(("hoses", _)) => tract.path(scope).and_then(|path| {
            let mut unknown = Missing::default();
            for spot in path.iter() {
                let name = &*spot.part.name;
                let (ways, more) = tract.hoses_at(name, scope);
                unknown = unknown.join(more);
                for way in ways.iter().filter(|way| way.far == subject.route) {
                    match tract.passes_towards(way, name, scope).zip(ahead(name)) {
                        Known::Is((true, true)) => return Known::Is(Datum::Bool(true)),
                        Known::Open(missing) => unknown = unknown.join(missing),
                        Known::NotApplicable(reason) => return Known::NotApplicable(reason),
                        _ => {}
                    }
                }
            }
            if unknown.is_nothing() { Known::Is(Datum::Bool(false)) } else { Known::Open(unknown) }
        }),
        _ => Known::missing(&subject.route),
    }
}

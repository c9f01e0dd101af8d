//! Facts on what guards the boost, what a machine does without power, and what a person has to look up.

use super::graph::{row, with_part};
use super::registry::Row;
use super::scope::Scope;
use crate::build::Area;
use crate::build::engine::Metering;
use crate::build::parts::{Body, Part, PartKind, ReliefPurpose};
use crate::build::scalars::{AIR, Pressure, Q};
use crate::known::{Datum, Kind, Known, Missing, Num, Read, Reads, State};
use crate::model::sites;
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const BUILD: &[SubjectKind] = &[SubjectKind::Build];
const VALVE: &[SubjectKind] = &[SubjectKind::ReliefValve];
const SOLENOID: &[SubjectKind] = &[SubjectKind::BoostSolenoid];
const COUNT: Kind = Kind::Number(Dim::ONE);
const PRESSURE: Kind = Kind::Number(Dim::PRESSURE);

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row("boost_target_max", PRESSURE, BUILD, "highest wanted boost, above the air outside", |scope, _| {
        boost_target_max(scope).map(pressure)
    }),
    row(
        "boost_cut",
        PRESSURE,
        BUILD,
        "boost above the air outside at which fuel or ignition is cut",
        boost_cut,
    ),
    row(
        "weakest_rating_gauge",
        PRESSURE,
        BUILD,
        "lowest pressure rating of what stands under boost, above the air outside at home: parts of the air path, relief valves and sensors on it",
        weakest_rating_gauge,
    ),
    row(
        "overboost_guards",
        COUNT,
        BUILD,
        "how many things stop the boost when its control fails: a cut of fuel or ignition, a relief valve as ceiling",
        overboost_guards,
    ),
    row("turbochargers", COUNT, BUILD, "how many parts of kind turbocharger are described", |scope, _| {
        let list = &scope.build().parts.list;
        let number = list.iter().filter(|part| part.known_kind() == Some(PartKind::Turbocharger)).count();
        let unknown = scope.tract().unknown_kinds(scope);
        at_least(scope, number, unknown)
    }),
    row(
        "flame_arrester",
        Kind::Bool,
        BUILD,
        "whether every way from the outside to the engine leads through a flame arrester",
        flame_arrester,
    ),
    row(
        "rulebook_named",
        Kind::Bool,
        BUILD,
        "whether a person has named the rulebook that the build was held against",
        |scope, _| match scope.build().top.rulebook.state(scope) {
            State::Given(_) => Known::Is(Datum::Bool(true)),
            State::Absent | State::SaidNone => Known::Is(Datum::Bool(false)),
            State::Faulty => Known::missing(scope.build().top.rulebook.route()),
        },
    ),
    row(
        "emission_relevant_changes",
        COUNT,
        BUILD,
        "how many things were changed that a road vehicle's exhaust was approved with: breather led to the open air, purge left unconnected, another way of metering, more boost than as built",
        emission_relevant_changes,
    ),
    row(
        "rests_venting",
        Kind::Bool,
        SOLENOID,
        "whether the solenoid without power vents the actuator, so that the boost has no limit",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::BoostSolenoid(solenoid) => solenoid
                    .rest
                    .get(scope)
                    .map(|rest| Datum::Bool(*rest == crate::build::parts::SolenoidRest::VentsActuator)),
                _ => Known::missing(&part.route),
            })
        },
    ),
    row(
        "rest_said",
        Kind::Bool,
        VALVE,
        "whether it is said what the valve does without power",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::ReliefValve(valve) => match valve.rest.state(scope) {
                    State::Given(_) => Known::Is(Datum::Bool(true)),
                    State::Absent | State::SaidNone => Known::Is(Datum::Bool(false)),
                    State::Faulty => Known::missing(valve.rest.route()),
                },
                _ => Known::missing(&part.route),
            })
        },
    ),
];

fn pressure(pascals: f64) -> Datum {
    Datum::Number(Num::new(pascals, Dim::PRESSURE))
}

/// A count, of which more may be than are known.
pub(super) fn at_least(scope: &Scope<'_>, number: usize, unknown: Missing) -> Known<Datum> {
    let known = Num::pure(number as f64);
    if unknown.is_nothing() {
        return Known::Is(Datum::Number(known));
    }
    if number == 0 {
        return Known::Open(unknown);
    }
    scope.note(Read::Lacking(unknown));
    Known::Between(Datum::Number(known), Datum::Number(Num::pure(f64::INFINITY)))
}

/// The highest entry of the boost table, Pa above the air outside.
pub(super) fn boost_target_max(scope: &Scope<'_>) -> Known<f64> {
    let boost = &scope.build().top.boost;
    boost.get(scope).and_then(|table| {
        let highest = table.entries.iter().map(|entry| entry.value.si()).reduce(f64::max);
        highest.map_or_else(|| Known::missing(boost.route()), Known::Is)
    })
}

/// Cut by what guards the boost; known to be absent where the control is claimed complete or said to be none.
fn boost_cut(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let none = || Known::not_applicable("nothing cuts fuel or ignition at a boost");
    let control = &scope.build().top.control;
    let cut = match control.state(scope) {
        State::Given(control) => &control.boost_cut,
        State::Faulty => return Known::missing(control.route()),
        State::SaidNone => return none(),
        State::Absent => {
            return scope.build().claims(Area::Control, scope).and_then(|()| none());
        }
    };
    cut.get(scope).map(|cut| pressure(cut.si()))
}

fn overboost_guards(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let ceilings = scope.build().parts.list.iter().filter(|part| match &part.body {
        Body::ReliefValve(valve) => {
            matches!(valve.purpose.state(scope), State::Given(ReliefPurpose::Ceiling))
        }
        _ => false,
    });
    let ceilings = ceilings.count();
    let control = &scope.build().top.control;
    let cut = match control.state(scope) {
        State::Given(control) => match control.boost_cut.state(scope) {
            State::Given(_) => return count(ceilings + 1),
            State::SaidNone => Known::Is(()),
            State::Absent | State::Faulty => Known::missing(control.boost_cut.route()),
        },
        State::Faulty => Known::missing(control.route()),
        State::SaidNone => Known::Is(()),
        State::Absent => scope.build().claims(Area::Control, scope),
    };
    if ceilings > 0 {
        return count(ceilings);
    }
    let unknown = scope.tract().unknown_kinds(scope);
    match cut {
        Known::Open(missing) => {
            let field = if missing.fields.contains(scope.build().top.describes.route()) {
                missing.join(Missing::field(&control.route().key("boost-cut")))
            } else {
                missing
            };
            Known::Open(field.join(unknown))
        }
        _ if unknown.is_nothing() => count(0),
        _ => Known::Open(unknown),
    }
}

fn count(number: usize) -> Known<Datum> {
    Known::Is(Datum::Number(Num::pure(number as f64)))
}

/// Pressure of the air outside at home, Pa.
pub(super) fn home_pressure(scope: &Scope<'_>) -> Known<f64> {
    let home = sites(scope.build(), scope).into_iter().next();
    match home {
        Some((_, state)) => state.and_then(|state| Known::Is(state.pressure)),
        None => Known::missing(scope.build().top.site.route()),
    }
}

fn weakest_rating_gauge(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    tract.path(scope).and_then(|path| {
        let on_path =
            path.iter().filter(|spot| path.region(spot.index).is_some_and(|region| region.sees_boost()));
        let mut parts: Vec<&Part> = on_path.map(|spot| spot.part).collect();
        let mut unknown = Missing::default();
        for part in &scope.build().parts.list {
            if !matches!(part.body, Body::ReliefValve(_) | Body::PressureSensor(_)) {
                continue;
            }
            match tract.tap_region(part, scope) {
                Known::Is(region) if region.sees_boost() => parts.push(part),
                // What hangs on a hose is no wall of the tract.
                _ => {}
            }
        }
        let mut weakest: Option<f64> = None;
        for part in parts {
            match part.common.pressure_rating.get(scope).and_then(|rating| above_outside(scope, rating)) {
                Known::Is(rating) => weakest = Some(weakest.map_or(rating, |least| least.min(rating))),
                Known::Open(missing) => unknown = unknown.join(missing),
                _ => {}
            }
        }
        match weakest {
            Some(weakest) if unknown.is_nothing() => Known::Is(pressure(weakest)),
            Some(weakest) => {
                scope.note(Read::Lacking(unknown));
                Known::Between(pressure(0.0), pressure(weakest))
            }
            None if unknown.is_nothing() => Known::not_applicable("nothing stands under boost"),
            None => Known::Open(unknown),
        }
    })
}

fn above_outside(scope: &Scope<'_>, rating: &Q<Pressure>) -> Known<f64> {
    if rating.is_absolute() {
        home_pressure(scope).map(|outside| rating.si() - outside)
    } else {
        Known::Is(rating.si())
    }
}

fn flame_arrester(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    scope.tract().path(scope).map(|path| {
        let arrests = |at: usize| path.get(at).is_some_and(|spot| spot.kind == PartKind::FlameArrester);
        let begins = path.iter().filter(|spot| path.before(spot.index).is_empty());
        let every = begins.flat_map(|begin| path.ends().map(move |end| (begin.index, end.index)));
        let mut ways = every.filter(|(begin, end)| begin == end || path.is_ahead(*begin, *end)).peekable();
        let some = ways.peek().is_some();
        Datum::Bool(some && ways.all(|(begin, end)| path.every_way_passes(begin, end, arrests)))
    })
}

fn emission_relevant_changes(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    let mut changes = 0;
    let mut unknown = tract.unknown_kinds(scope);
    for part in &scope.build().parts.list {
        let changed = match part.known_kind() {
            Some(PartKind::Breather) => tract.leads_to(part, AIR, scope),
            Some(PartKind::PurgeValve) => {
                tract.connections(part, scope).map(|connections| connections.found.is_empty())
            }
            _ => continue,
        };
        match changed {
            Known::Is(true) => changes += 1,
            Known::Open(missing) => unknown = unknown.join(missing),
            _ => {}
        }
    }
    let top = &scope.build().top;
    let unchanged = |field: &crate::text::Route, words: &str| {
        scope.note(Read::Default { field: field.clone(), words: words.into() });
        Known::Is(false)
    };
    let more_boost = "the boost is taken as the one it was built with, as `as-built` gives none";
    let other_metering = "the metering is taken as the one it was built with, as `as-built` gives none";
    let compared = match top.as_built.state(scope) {
        State::Given(built) => {
            let boost = match built.boost.state(scope) {
                State::Absent => unchanged(built.boost.route(), more_boost),
                _ => built.boost.get(scope).map(|built| built.si()).zip(boost_target_max(scope)).map(
                    // A millibar more is no more.
                    |(built, now)| now > built + 100.0,
                ),
            };
            let metering = match built.metering.state(scope) {
                State::Absent => unchanged(built.metering.route(), other_metering),
                _ => {
                    let built = built.metering.get(scope).map(|metering| *metering);
                    built.zip(tract.metering(scope)).map(|(built, now): (Metering, Metering)| built != now)
                }
            };
            [boost, metering]
        }
        State::Faulty => [Known::missing(top.as_built.route()), Known::Is(false)],
        State::Absent | State::SaidNone => {
            let boost = unchanged(&top.as_built.route().key("boost"), more_boost);
            [boost, unchanged(&top.as_built.route().key("metering"), other_metering)]
        }
    };
    for changed in compared {
        match changed {
            Known::Is(true) => changes += 1,
            Known::Open(missing) => unknown = unknown.join(missing),
            _ => {}
        }
    }
    at_least(scope, changes, unknown)
}

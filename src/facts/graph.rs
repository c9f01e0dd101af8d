//! Facts from the description and the tract's graph alone.

use super::registry::{Group, Make, Row};
use super::scope::{Scope, Sites};
use crate::build::Area;
use crate::build::engine::Engine;
use crate::build::parts::{Body, Part, ReliefPurpose, ReliefValve};
use crate::build::scalars::AIR;
use crate::known::{Datum, Kind, Known, Missing, Num, State};
use crate::text::Dim;
use crate::tract::{Connection, Subject, SubjectKind};

const BUILD: &[SubjectKind] = &[SubjectKind::Build];
const PART: &[SubjectKind] = &[SubjectKind::Part];
const VALVE: &[SubjectKind] = &[SubjectKind::ReliefValve];
const COMPRESSOR: &[SubjectKind] = &[SubjectKind::Compressor];
const CONSUMER: &[SubjectKind] = &[SubjectKind::Consumer];

/// A plain row of the graph.
pub(super) const fn row(
    name: &'static str,
    kind: Kind,
    on: &'static [SubjectKind],
    meaning: &'static str,
    make: fn(&Scope<'_>, &Subject) -> Known<Datum>,
) -> Row {
    Row { name, kind, meaning, group: Group::Graph, on, make: Make::Plain(make) }
}

const LENGTH: Kind = Kind::Number(Dim::LENGTH);
const SHARE: Kind = Kind::Number(Dim::ONE);

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row("use", Kind::Word, BUILD, "where the build is to work, as described", |scope, _| {
        scope.build().top.use_.get(scope).map(|word| Datum::word(word.word()))
    }),
    row("fuel", Kind::Word, BUILD, "the fuel, as described", |scope, _| {
        engine_word(scope, |engine| engine.fuel.get(scope).map(|word| Datum::word(word.word())))
    }),
    row("ignition", Kind::Word, BUILD, "spark or compression, as described", |scope, _| {
        engine_word(scope, |engine| engine.ignition.get(scope).map(|word| Datum::word(word.word())))
    }),
    row(
        "metering",
        Kind::Word,
        BUILD,
        "how the engine knows its air: as described, else inferred from the parts",
        |scope, _| scope.tract().metering(scope).map(|word| Datum::word(word.word())),
    ),
    row(
        "path_connected",
        Kind::Bool,
        BUILD,
        "whether the air path runs from the site to the engine without a gap, through every part that something sits on",
        path_connected,
    ),
    row(
        "path_order_faults",
        Kind::Number(Dim::ONE),
        BUILD,
        "how many entries of the air path stand where they cannot: a filter behind a compressor, a cooler ahead of it, a part twice",
        |scope, _| {
            scope.tract().path_order_faults(scope).map(|faults| Datum::Number(Num::pure(faults.len() as f64)))
        },
    ),
    row("in_tract", Kind::Bool, PART, "whether the part is on the air path", |scope, subject| {
        scope.tract().is_on_path(&subject.name, scope).map(Datum::Bool)
    }),
    row(
        "attached",
        Kind::Bool,
        PART,
        "whether a tap, a hose or a discharge reaches the part, or it sits in a hose",
        |scope, subject| {
            with_part(scope, subject, |part| scope.tract().is_attached(part, scope).map(Datum::Bool))
        },
    ),
    row(
        "purpose",
        Kind::Word,
        VALVE,
        "what the relief valve is for: tip-out, ceiling or bypass",
        |scope, subject| {
            with_valve(scope, subject, |valve, _| {
                let words = "the valve is taken as one that opens at tip-out (throttle shut at boost)";
                let purpose = valve.purpose.get_or(scope, ReliefPurpose::TipOut, words);
                purpose.map(|purpose| Datum::word(purpose.word()))
            })
        },
    ),
    row(
        "actuation",
        Kind::Word,
        VALVE,
        "what moves the relief valve: pneumatic or electric",
        |scope, subject| {
            with_valve(scope, subject, |valve, _| {
                valve.actuation.get(scope).map(|word| Datum::word(word.word()))
            })
        },
    ),
    row(
        "distance_from_compressor_outlet",
        LENGTH,
        VALVE,
        "length along the tract from the compressor's outlet to the valve's tap; parts without a length leave a least one",
        |scope, subject| {
            with_part(scope, subject, |part| {
                let distance = scope.tract().distance_from_compressor(part, scope);
                distance.map(|metres| Datum::Number(Num::new(metres, Dim::LENGTH)))
            })
        },
    ),
    row("host_bore", LENGTH, VALVE, "bore of the part that carries the valve's tap", |scope, subject| {
        with_part(scope, subject, |part| {
            scope.tract().host_of(part, scope).and_then(|host| match &host.duct {
                Some(duct) => {
                    duct.bore.get(scope).map(|bore| Datum::Number(Num::new(bore.si(), Dim::LENGTH)))
                }
                None => Known::not_applicable("the part that carries the tap has no bore"),
            })
        })
    }),
    row(
        "tap_region",
        Kind::Word,
        VALVE,
        "region of the tract that the valve's tap is in",
        |scope, subject| {
            with_part(scope, subject, |part| {
                scope.tract().tap_region(part, scope).map(|region| Datum::word(region.word()))
            })
        },
    ),
    row(
        "vent_share",
        SHARE,
        VALVE,
        "share of the discharge at full lift that goes to the open air",
        |scope, subject| share(scope, subject, |to| to == AIR),
    ),
    row(
        "return_share",
        SHARE,
        VALVE,
        "share of the discharge at full lift that is led back",
        |scope, subject| share(scope, subject, |to| to != AIR),
    ),
    row(
        "air_meter_ahead_of_tap",
        Kind::Bool,
        VALVE,
        "whether an air meter that the engine goes by lies ahead of the valve's tap",
        air_meter_ahead_of_tap,
    ),
    row(
        "return_upstream_of_air_meter",
        Kind::Bool,
        VALVE,
        "whether returned air comes back ahead of the air meter",
        |scope, subject| {
            with_part(scope, subject, |part| {
                scope.tract().returns_ahead_of_meter(part, scope).map(Datum::Bool)
            })
        },
    ),
    row(
        "signal_connected",
        Kind::Bool,
        VALVE,
        "whether a hose brings the valve a signal",
        |scope, subject| {
            with_part(scope, subject, |part| {
                scope
                    .tract()
                    .signal_sources(part, scope)
                    .map(|sources| Datum::Bool(!sources.found.is_empty()))
            })
        },
    ),
    row("signal_region", Kind::Word, VALVE, "region that the valve's signal is taken from", signal_region),
    row(
        "throttle_downstream",
        Kind::Bool,
        COMPRESSOR,
        "whether a part behind the compressor can shut",
        |scope, subject| {
            with_part(scope, subject, |part| {
                scope.tract().shutting_behind(part, scope).map(|spots| Datum::Bool(!spots.is_empty()))
            })
        },
    ),
    row(
        "relief_before_throttle",
        Kind::Bool,
        COMPRESSOR,
        "whether every way from the compressor to the first part that can shut leads past a relief valve for tip-out (of a supercharger: or its bypass)",
        relief_before_throttle,
    ),
    row(
        "relief_hears_throttle",
        Kind::Bool,
        COMPRESSOR,
        "whether some relief valve for tip-out is told of the throttle's shutting: by electricity, or by a signal from behind it",
        relief_hears_throttle,
    ),
    row(
        "sees_boost",
        Kind::Bool,
        CONSUMER,
        "whether the consumer hangs on a stretch that stands above site pressure at full throttle",
        |scope, subject| over_connections(scope, subject, Connected::SeesBoost),
    ),
    row(
        "passes_backwards",
        Kind::Bool,
        CONSUMER,
        "whether air can run back into the consumer: no check valve between, or one the wrong way round",
        |scope, subject| over_connections(scope, subject, Connected::PassesBackwards),
    ),
];

fn path_connected(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    tract.path_gaps(scope).and_then(|gaps| {
        if !gaps.is_empty() {
            return Known::Is(Datum::Bool(false));
        }
        // What sits on a part that cannot be made out may sit on one that the path leaves out.
        let lost = tract.taps().into_iter().filter(|tap| tap.host.is_none());
        let unknown = lost.fold(tract.unknown_kinds(scope), |all, tap| all.join(Missing::field(&tap.route)));
        if unknown.is_nothing() { Known::Is(Datum::Bool(true)) } else { Known::Open(unknown) }
    })
}

fn engine_word(scope: &Scope<'_>, pick: impl FnOnce(&Engine) -> Known<Datum>) -> Known<Datum> {
    match scope.build().top.engine.get(scope) {
        Known::Is(engine) => pick(engine),
        other => other.and_then(|_| Known::missing(scope.build().top.engine.route())),
    }
}

pub(super) fn with_part<'b>(
    scope: &Scope<'b>,
    subject: &Subject,
    make: impl FnOnce(&'b Part) -> Known<Datum>,
) -> Known<Datum> {
    match scope.tract().part_of(subject) {
        Some(part) => make(part),
        None => Known::missing(&subject.route),
    }
}

fn with_valve<'b>(
    scope: &Scope<'b>,
    subject: &Subject,
    make: impl FnOnce(&'b ReliefValve, &'b Part) -> Known<Datum>,
) -> Known<Datum> {
    with_part(scope, subject, |part| match &part.body {
        Body::ReliefValve(valve) => make(valve, part),
        _ => Known::missing(&part.route),
    })
}

fn share(scope: &Scope<'_>, subject: &Subject, wanted: impl Fn(&str) -> bool) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let share = scope.tract().discharge_share(part, wanted, scope);
        share.map(|share| Datum::Number(Num::pure(share)))
    })
}

fn air_meter_ahead_of_tap(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let tract = scope.tract();
        let meters = tract.air_meters(scope);
        if let Known::NotApplicable(_) = meters {
            // Without a meter that counts, none lies ahead: that is an answer, not a question that does not arise.
            return Known::Is(Datum::Bool(false));
        }
        let host = tract.host_of(part, scope).map(|host| host.name.clone());
        meters.zip(host).and_then(|(_, host)| tract.is_metered_ahead(&host, scope)).map(Datum::Bool)
    })
}

fn signal_region(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let tract = scope.tract();
        tract.signal_sources(part, scope).and_then(|sources| {
            if sources.found.is_empty() {
                return Known::not_applicable("no hose brings it a signal");
            }
            // With several hoses the one that does not come from behind the throttle spoils the signal.
            let regions = sources.found.iter().map(|(_, source)| tract.region_of(source, scope));
            let spoils = regions
                .filter_map(|region| region.exact().copied())
                .find(|region| !region.behind_the_throttle());
            if let Some(region) = spoils {
                return Known::Is(Datum::word(region.word()));
            }
            sources.each(|(_, source)| tract.region_of(source, scope)).and_then(|regions| {
                regions.first().map_or_else(
                    || Known::not_applicable("no signal"),
                    |region| Known::Is(Datum::word(region.word())),
                )
            })
        })
    })
}

fn relief_hears_throttle(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let valves = scope.tract().subjects(SubjectKind::ReliefValve);
    let mut unknown = Missing::default();
    let mut deaf = false;
    for valve in &valves {
        let Some(part) = scope.tract().part_of(valve) else { continue };
        let Body::ReliefValve(fields) = &part.body else { continue };
        // What is said to be for something else hears nothing of it; what is not said is taken as above.
        if matches!(fields.purpose.state(scope), State::Given(purpose) if *purpose != ReliefPurpose::TipOut) {
            continue;
        }
        match scope.fact(valve, "signal_region", Sites::All) {
            Known::Is(Datum::Word(region)) if !matches!(&*region, "manifold" | "runner") => deaf = true,
            Known::Open(missing) => unknown = unknown.join(missing),
            _ => return Known::Is(Datum::Bool(true)),
        }
    }
    if unknown.is_nothing() { Known::Is(Datum::Bool(!deaf)) } else { Known::Open(unknown) }
}

fn relief_before_throttle(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |compressor| {
        let tract = scope.tract();
        let mut unknown = tract.unknown_kinds(scope);
        let mut hosts: Vec<&str> = Vec::new();
        for part in &scope.build().parts.list {
            let Body::ReliefValve(valve) = &part.body else { continue };
            let words = "the valve is taken as one that opens at tip-out (throttle shut at boost)";
            let purpose = valve.purpose.get_or(scope, ReliefPurpose::TipOut, words);
            // The bypass of an engine-driven machine is open whenever the throttle is shut.
            let serves = |purpose| match purpose {
                ReliefPurpose::TipOut => true,
                ReliefPurpose::Bypass => matches!(compressor.body, Body::Supercharger(_)),
                ReliefPurpose::Ceiling => false,
            };
            if matches!(purpose, Known::Is(purpose) if !serves(purpose)) {
                continue;
            }
            match purpose.zip(tract.host_of(part, scope)) {
                Known::Is((_, host)) => hosts.push(&host.name),
                Known::Open(missing) => unknown = unknown.join(missing),
                _ => {}
            }
        }
        match tract.every_way_passes(compressor, |spot| hosts.contains(&&*spot.part.name), scope) {
            Known::Is(true) => return Known::Is(Datum::Bool(true)),
            Known::Is(false) => {}
            other => return other.map(Datum::Bool),
        }
        if unknown != Missing::default() {
            return Known::Open(unknown);
        }
        scope.build().claims(Area::AirPath, scope).map(|()| Datum::Bool(false))
    })
}

/// What is asked of a consumer's connections.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Connected {
    SeesBoost,
    PassesBackwards,
}

/// Whether any connection of a consumer answers yes; only those that see boost can pass it back.
fn over_connections(scope: &Scope<'_>, subject: &Subject, asked: Connected) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let tract = scope.tract();
        tract.connections(part, scope).and_then(|connections| {
            let answer = connections.any(|connection| {
                let boosted = tract.region_of(connection.other(), scope).map(|region| region.sees_boost());
                match (asked, connection) {
                    (Connected::PassesBackwards, Connection::Hose(span, _))
                        if boosted != Known::Is(false) =>
                    {
                        tract.passes_towards(span, &part.name, scope)
                    }
                    _ => boosted,
                }
            });
            answer.map(Datum::Bool)
        })
    })
}

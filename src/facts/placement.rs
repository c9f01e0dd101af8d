//! Facts on where things sit, which way valves are turned, and what sensors serve.

use super::graph::{row, with_part};
use super::registry::Row;
use super::scope::Scope;
use crate::build::engine::FuelEntry;
use crate::build::parts::{Body, Part, PartKind, ReadsAs, SensorPurpose, TemperaturePurpose};
use crate::build::scalars::{AIR, Destination, PartName};
use crate::known::{Datum, Kind, Known, Num, State};
use crate::text::Dim;
use crate::tract::{Region, Subject, SubjectKind};

const BUILD: &[SubjectKind] = &[SubjectKind::Build];
const PART: &[SubjectKind] = &[SubjectKind::Part];
const VALVE: &[SubjectKind] = &[SubjectKind::ReliefValve];
const REFERENCED: &[SubjectKind] = &[SubjectKind::ReferencedPart];
const TEMPERATURE: &[SubjectKind] = &[SubjectKind::TemperatureSensor];
const CHECK: &[SubjectKind] = &[SubjectKind::CheckValve];
const ACTUATOR: &[SubjectKind] = &[SubjectKind::Actuator];
const METER: &[SubjectKind] = &[SubjectKind::AirMeter];
const BREATHER: &[SubjectKind] = &[SubjectKind::Breather];
const SHARE: Kind = Kind::Number(Dim::ONE);

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row(
        "share_sum",
        SHARE,
        VALVE,
        "sum of the shares of all discharge ports at full lift",
        |scope, subject| {
            with_part(scope, subject, |part| {
                let ports = scope.tract().discharge(part, scope);
                ports.and_then(|ports| match ports {
                    [] | [_] => Known::not_applicable("with one discharge all of it goes there"),
                    _ => {
                        let sum = scope.tract().discharge_share(part, |_| true, scope);
                        sum.map(|sum| Datum::Number(Num::pure(sum)))
                    }
                })
            })
        },
    ),
    row(
        "return_region",
        Kind::Word,
        VALVE,
        "region that the discharge is led back to; of several the one that is not the suction side",
        return_region,
    ),
    row(
        "carries_fuel",
        Kind::Bool,
        PART,
        "whether fuel has joined the air at the part, or at the part that carries its tap",
        |scope, subject| with_part(scope, subject, |part| carries_fuel(scope, part)),
    ),
    row(
        "reference_region",
        Kind::Word,
        REFERENCED,
        "region of the tract whose pressure the part feels, by its tap or its hose",
        |scope, subject| {
            with_part(scope, subject, |part| {
                felt_region(scope, part).map(|region| Datum::word(region.word()))
            })
        },
    ),
    row(
        "needed_region",
        Kind::Word,
        REFERENCED,
        "region whose pressure the part has to feel, by what it serves",
        needed_region,
    ),
    row(
        "purpose_is_density",
        Kind::Bool,
        REFERENCED,
        "whether the reading serves the density of the charge",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::PressureSensor(sensor) => {
                    sensor.purpose.get(scope).map(|purpose| Datum::Bool(*purpose == SensorPurpose::Density))
                }
                _ => Known::not_applicable("it is no sensor"),
            })
        },
    ),
    row(
        "reads_as",
        Kind::Word,
        REFERENCED,
        "what the sensor reads against: absolute or gauge",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::PressureSensor(sensor) => {
                    sensor.reads_as.get(scope).map(|reads: &ReadsAs| Datum::word(reads.word()))
                }
                _ => Known::not_applicable("it is no sensor"),
            })
        },
    ),
    row(
        "serves_density",
        Kind::Bool,
        TEMPERATURE,
        "whether the temperature sensor serves the density of the charge",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::TemperatureSensor(sensor) => sensor
                    .purpose
                    .get(scope)
                    .map(|purpose| Datum::Bool(*purpose == TemperaturePurpose::Density)),
                _ => Known::missing(&part.route),
            })
        },
    ),
    row(
        "upstream_of_last_cooler",
        Kind::Bool,
        TEMPERATURE,
        "whether a charge-air cooler lies behind the place where the sensor sits",
        upstream_of_last_cooler,
    ),
    row(
        "passes_against_need",
        Kind::Bool,
        CHECK,
        "whether the check valve lets air pass into the consumer that it should shield",
        passes_against_need,
    ),
    row(
        "signal_one_way",
        Kind::Bool,
        VALVE,
        "whether a check valve in the signal hose lets pressure pass one way only",
        signal_one_way,
    ),
    row(
        "actuator_signal_region",
        Kind::Word,
        ACTUATOR,
        "region that the actuator's signal is taken from",
        |scope, subject| {
            with_part(scope, subject, |part| {
                felt_region(scope, part).map(|region| Datum::word(region.word()))
            })
        },
    ),
    row(
        "throttle_after_compressor",
        Kind::Bool,
        BUILD,
        "whether a part that can shut lies behind a compressor",
        |scope, _| {
            let tract = scope.tract();
            tract.path(scope).map(|path| {
                let compressors = path.iter().filter(|spot| spot.compresses());
                let shut = compressors.flat_map(|spot| path.first_shutting_behind(spot.index)).next();
                Datum::Bool(shut.is_some())
            })
        },
    ),
    row(
        "enters_upstream_of_air_meter",
        Kind::Bool,
        BREATHER,
        "whether the breather's gas enters the tract ahead of an air meter that the engine goes by",
        enters_upstream_of_air_meter,
    ),
    row(
        "bore_error_share",
        SHARE,
        METER,
        "how much too little the meter reads because its bore is not the one it was calibrated in: (bore/calibrated bore)^2 - 1",
        bore_error_share,
    ),
];

/// The region whose pressure a part feels: by its own tap, else by its hose. Of several the first counts, and nothing
/// does while a further hose may lead elsewhere.
fn felt_region(scope: &Scope<'_>, part: &Part) -> Known<Region> {
    let tract = scope.tract();
    let Some(part) = scope.build().parts.named(&part.name) else { return Known::missing(&part.route) };
    if part.common.tap.is_given(scope) {
        return tract.tap_region(part, scope);
    }
    tract.connections(part, scope).and_then(|connections| {
        connections.each(|connection| tract.region_of(connection.other(), scope)).and_then(|regions| {
            match regions.first() {
                Some(region) => Known::Is(*region),
                None => Known::not_applicable("it hangs on nothing"),
            }
        })
    })
}

fn return_region(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let tract = scope.tract();
        tract.discharge(part, scope).and_then(|ports| {
            let targets = ports.iter().map(|port| port.to.get(scope).map(|Destination(to)| to.clone()));
            targets.collect::<Known<Vec<_>>>().and_then(|targets| {
                let regions = targets.iter().filter(|to| &***to != AIR).map(|to| tract.region_of(to, scope));
                regions.collect::<Known<Vec<_>>>().and_then(|regions| {
                    let off = regions.iter().find(|region| **region != Region::Suction).or(regions.first());
                    match off {
                        Some(region) => Known::Is(Datum::word(region.word())),
                        None => Known::not_applicable("nothing is led back"),
                    }
                })
            })
        })
    })
}

/// Whether fuel has joined the air where a part sits.
fn carries_fuel(scope: &Scope<'_>, part: &Part) -> Known<Datum> {
    let tract = scope.tract();
    let Some(part) = scope.build().parts.named(&part.name) else { return Known::missing(&part.route) };
    let place = match tract.is_on_path(&part.name, scope) {
        Known::Is(true) => Known::Is(part.name.clone()),
        Known::Is(false) => match part.common.tap.state(scope) {
            State::Absent => return Known::not_applicable("it does not sit on the air path"),
            _ => tract.host_of(part, scope).map(|host| host.name.clone()),
        },
        other => other.and_then(|_| Known::missing(scope.build().top.air_path.route())),
    };
    let engine = scope.build().top.engine.get(scope);
    let entry = engine.and_then(|engine| engine.fuel_enters.get(scope).map(|entry| *entry));
    place.zip(tract.path(scope)).zip(entry).and_then(|((name, path), entry)| {
        let Some(spot) = path.spot(&name) else { return Known::missing(scope.build().top.air_path.route()) };
        let behind = |wanted: &dyn Fn(usize) -> bool| {
            wanted(spot.index) || path.all_ahead(spot.index).into_iter().any(wanted)
        };
        let carburettor = |at: usize| path.get(at).is_some_and(|spot| spot.kind == PartKind::Carburettor);
        let wheel = |at: usize| path.get(at).is_some_and(|spot| spot.compresses());
        let carries = match entry {
            FuelEntry::AheadOfCompressor => behind(&wheel) || behind(&carburettor),
            FuelEntry::Manifold => {
                behind(&carburettor)
                    || path.region(spot.index).is_some_and(|region| region.behind_the_throttle())
            }
            FuelEntry::Port | FuelEntry::Cylinder => behind(&carburettor),
        };
        Known::Is(Datum::Bool(carries))
    })
}

fn needed_region(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| match &part.body {
        Body::PressureSensor(sensor) => sensor.purpose.get(scope).and_then(|purpose| match purpose {
            SensorPurpose::Density => behind_the_throttle(scope).map(|region| Datum::word(region.word())),
            SensorPurpose::BoostControl => Known::Is(Datum::word(Region::Charge.word())),
            _ => Known::not_applicable("a display may show the pressure of any place"),
        }),
        _ => scope.tract().region_of(&part.name, scope).map(|region| Datum::word(region.word())),
    })
}

/// The region that the cylinders draw from: the runners, where each has a throttle of its own and nothing common behind.
fn behind_the_throttle(scope: &Scope<'_>) -> Known<Region> {
    scope.tract().path(scope).map(|path| {
        let ends_in = |wanted| path.ends().any(|end| path.region(end.index) == Some(wanted));
        // A throttle stands in the region ahead of it: of a path that ends at one, what lies behind is not described.
        if ends_in(Region::Runner) { Region::Runner } else { Region::Manifold }
    })
}

fn upstream_of_last_cooler(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let tract = scope.tract();
        tract.host_of(part, scope).zip(tract.path(scope)).and_then(|(host, path)| {
            let Some(spot) = path.spot(&host.name) else {
                return Known::missing(scope.build().top.air_path.route());
            };
            let behind = path.all_behind(spot.index);
            let cools = |at: &usize| path.get(*at).is_some_and(|spot| spot.kind == PartKind::ChargeAirCooler);
            Known::Is(Datum::Bool(behind.iter().any(cools)))
        })
    })
}

fn passes_against_need(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let Body::CheckValve(valve) = &part.body else { return Known::missing(&part.route) };
        valve.flows.get(scope).and_then(|flows| {
            flows.from.get(scope).zip(flows.to.get(scope)).and_then(|(PartName(from), PartName(to))| {
                let draws = |name: &str| {
                    let kind = scope.build().parts.named(name).and_then(Part::known_kind);
                    kind.is_some_and(|kind| {
                        SubjectKind::Consumer.part_kinds().is_some_and(|kinds| kinds.contains(&kind))
                    })
                };
                match (draws(from), draws(to)) {
                    (true, _) => Known::Is(Datum::Bool(false)),
                    (false, true) => Known::Is(Datum::Bool(true)),
                    (false, false) => Known::not_applicable("no consumer is at either side of it"),
                }
            })
        })
    })
}

fn signal_one_way(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let tract = scope.tract();
        tract.signal_sources(part, scope).and_then(|sources| {
            if sources.found.is_empty() {
                return Known::not_applicable("no hose brings it a signal");
            }
            let stops = sources.any(|(span, source)| {
                let ways = [&*part.name, &**source].map(|into| tract.passes_towards(span, into, scope));
                if ways.contains(&Known::Is(false)) {
                    return Known::Is(true);
                }
                let [out, back] = ways;
                out.zip(back).map(|_| false)
            });
            stops.map(Datum::Bool)
        })
    })
}

fn enters_upstream_of_air_meter(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let tract = scope.tract();
        tract.air_meters(scope).zip(tract.path(scope)).and_then(|(meters, path)| {
            tract.connections(part, scope).and_then(|connections| {
                let ahead = |name: &str| {
                    path.spot(name).is_some_and(|spot| {
                        meters.iter().any(|meter| spot.index == *meter || path.is_ahead(spot.index, *meter))
                    })
                };
                connections.any(|connection| Known::Is(ahead(connection.other()))).map(Datum::Bool)
            })
        })
    })
}

fn bore_error_share(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let (Body::AirMeter(meter), Some(duct)) = (&part.body, &part.duct) else {
            return Known::missing(&part.route);
        };
        duct.bore
            .get(scope)
            .zip(meter.calibrated_bore.get(scope))
            .map(|(bore, calibrated)| Datum::Number(Num::pure((bore.si() / calibrated.si()).powi(2) - 1.0)))
    })
}

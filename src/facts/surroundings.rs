//! Facts on what lies around the parts: the exhaust, what their walls meet, where liquids run.

use super::graph::{row, with_part};
use super::guards::{at_least, home_pressure};
use super::registry::Row;
use super::scope::Scope;
use crate::build::engine::{Engine, Fuel};
use crate::build::parts::{Body, CalibratedIn, NearExhaust, Oil, Part, PartKind, Sprayed};
use crate::build::scalars::{AIR, List, Text};
use crate::known::{Datum, Field, Kind, Known, Missing, Num, Read, Reads, State};
use crate::text::{Dim, Route, Step, find};
use crate::tract::{Side, Subject, SubjectKind};

const PART: &[SubjectKind] = &[SubjectKind::Part];
const OPENING: &[SubjectKind] = &[SubjectKind::Opening];
const METER: &[SubjectKind] = &[SubjectKind::AirMeter];
const NOZZLE: &[SubjectKind] = &[SubjectKind::InjectionNozzle];
const TURBOCHARGER: &[SubjectKind] = &[SubjectKind::Turbocharger];
const LENGTH: Kind = Kind::Number(Dim::LENGTH);
const COUNT: Kind = Kind::Number(Dim::ONE);

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row(
        "beside_exhaust",
        Kind::Bool,
        PART,
        "whether the part may lie near the exhaust: it says how near, or it is joined to a turbocharger, whose turbine glows",
        beside_exhaust,
    ),
    row(
        "exhaust_gap",
        LENGTH,
        &[SubjectKind::Part, SubjectKind::Opening],
        "clear distance to the exhaust, as described",
        |scope, subject| {
            near_exhaust(scope, subject, |near| {
                near.gap.get(scope).map(|gap| Datum::Number(Num::new(gap.si(), Dim::LENGTH)))
            })
        },
    ),
    row(
        "shielded",
        Kind::Bool,
        PART,
        "whether a shield stands between the part and the exhaust",
        |scope, subject| {
            near_exhaust(scope, subject, |near| {
                let bare = crate::build::scalars::Flag(false);
                near.shielded
                    .get_or(scope, bare, "no shield, as none is described")
                    .map(|flag| Datum::Bool(flag.0))
            })
        },
    ),
    row(
        "emits_vapour",
        Kind::Bool,
        OPENING,
        "whether oil or fuel vapour leaves by the opening: it is that of a breather or a purge, or a vent of charge that a breather feeds",
        emits_vapour,
    ),
    row(
        "medium_conflicts",
        COUNT,
        PART,
        "how many of the media that reach the part (oil mist, fuel, alcohol) its material does not stand",
        medium_conflicts,
    ),
    row("bore", LENGTH, METER, "bore of the meter's housing", |scope, subject| {
        with_part(scope, subject, |part| match &part.duct {
            Some(duct) => duct.bore.get(scope).map(|bore| Datum::Number(Num::new(bore.si(), Dim::LENGTH))),
            None => Known::missing(&part.route),
        })
    }),
    row(
        "calibrated_in",
        Kind::Word,
        METER,
        "what the meter was calibrated in: its own housing or a plain pipe",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::AirMeter(meter) => {
                    meter.calibrated_in.get(scope).map(|place: &CalibratedIn| Datum::word(place.word()))
                }
                _ => Known::missing(&part.route),
            })
        },
    ),
    row(
        "straight_upstream",
        LENGTH,
        METER,
        "straight length of one bore ahead of the meter, back to the next bend, step or other part",
        |scope, subject| straight(scope, subject, Side::Upstream),
    ),
    row(
        "straight_downstream",
        LENGTH,
        METER,
        "straight length of one bore behind the meter, to the next bend, step or other part",
        |scope, subject| straight(scope, subject, Side::Downstream),
    ),
    row(
        "parts_wetted",
        COUNT,
        NOZZLE,
        "how many parts behind the nozzle its spray should not meet: coolers, air meters, temperature sensors, relief valves",
        parts_wetted,
    ),
    row(
        "stop_valve",
        Kind::Bool,
        NOZZLE,
        "whether a valve at the nozzle holds the liquid back",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::InjectionNozzle(nozzle) => nozzle.stop_valve.get(scope).map(|flag| Datum::Bool(flag.0)),
                _ => Known::missing(&part.route),
            })
        },
    ),
    row(
        "siphon_head",
        Kind::Number(Dim::PRESSURE),
        NOZZLE,
        "what pushes the liquid out of the nozzle when it is off: the weight of the liquid between tank and nozzle, and the depression at the nozzle with the throttle shut",
        siphon_head,
    ),
    row(
        "drain_slope",
        Kind::Number(Dim::ONE),
        TURBOCHARGER,
        "least slope of the oil drain anywhere on its way, below the level",
        |scope, subject| {
            with_oil(scope, subject, |oil| {
                oil.drain_slope.get(scope).map(|slope| Datum::Number(Num::pure(slope.si())))
            })
        },
    ),
    row(
        "drain_bore",
        LENGTH,
        TURBOCHARGER,
        "inside diameter of the oil drain at its narrowest",
        |scope, subject| {
            with_oil(scope, subject, |oil| {
                oil.drain_bore.get(scope).map(|bore| Datum::Number(Num::new(bore.si(), Dim::LENGTH)))
            })
        },
    ),
    row(
        "oil_is_pumped_off",
        Kind::Bool,
        TURBOCHARGER,
        "whether a pump draws the oil off",
        |scope, subject| {
            with_oil(scope, subject, |oil| {
                let none = crate::build::scalars::Flag(false);
                let words = "the oil is taken to run off by its own weight, as no pump is described";
                oil.scavenge_pump.get_or(scope, none, words).map(|flag| Datum::Bool(flag.0))
            })
        },
    ),
];

fn with_oil(scope: &Scope<'_>, subject: &Subject, make: impl FnOnce(&Oil) -> Known<Datum>) -> Known<Datum> {
    with_part(scope, subject, |part| match &part.body {
        Body::Turbocharger(turbocharger) => turbocharger.oil.get(scope).and_then(make),
        _ => Known::missing(&part.route),
    })
}

fn straight(scope: &Scope<'_>, subject: &Subject, side: Side) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let straight = scope.tract().straight_length(part, side, scope);
        straight.map(|metres| Datum::Number(Num::new(metres, Dim::LENGTH)))
    })
}

fn beside_exhaust(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        if !matches!(part.common.near_exhaust.state(scope), State::Absent) {
            return Known::Is(Datum::Bool(true));
        }
        // What is no part of the path has no neighbour on it, and a turbocharger is made to be hot.
        if part.known_kind().is_some_and(|kind| !kind.on_path() || kind == PartKind::Turbocharger) {
            return Known::Is(Datum::Bool(false));
        }
        scope.tract().path(scope).map(|path| {
            let hot = |at: &usize| path.get(*at).is_some_and(|spot| spot.kind == PartKind::Turbocharger);
            let joined = path
                .spot(&part.name)
                .is_some_and(|spot| path.before(spot.index).iter().chain(path.behind(spot.index)).any(hot));
            Datum::Bool(joined)
        })
    })
}

/// The distance to the exhaust of a part, or of the opening of a hose or a relief valve.
fn near_exhaust(
    scope: &Scope<'_>,
    subject: &Subject,
    make: impl FnOnce(&NearExhaust) -> Known<Datum>,
) -> Known<Datum> {
    if subject.kind != SubjectKind::Opening {
        return with_part(scope, subject, |part| part.common.near_exhaust.get(scope).and_then(make));
    }
    let field: Option<&Field<NearExhaust>> = match subject.route.steps() {
        [Step::Key(table), Step::Key(name), ..] if &**table == "hoses" => {
            match scope.build().top.hoses.state(scope) {
                State::Given(hoses) => {
                    hoses.named(name).and_then(|hose| hose.fields.as_ref()).map(|fields| &fields.near_exhaust)
                }
                _ => None,
            }
        }
        [.., Step::Index(port)] => scope.tract().part_of(subject).and_then(|part| match &part.body {
            Body::ReliefValve(valve) => match valve.discharge.state(scope) {
                State::Given(List(ports)) => ports.get(*port).map(|port| &port.near_exhaust),
                _ => None,
            },
            _ => None,
        }),
        _ => return Known::not_applicable("nothing leaves by it"),
    };
    field.map_or_else(|| Known::missing(&subject.route), |field| field.get(scope).and_then(make))
}

/// Whether oil from the crankcase has come into the tract at a part of the path or ahead of it.
fn oiled_by_breather(scope: &Scope<'_>, name: &str) -> Known<bool> {
    let tract = scope.tract();
    let mut unknown = tract.unknown_kinds(scope);
    tract.path(scope).and_then(|path| {
        let Some(spot) = path.spot(name) else { return Known::missing(scope.build().top.air_path.route()) };
        for breather in &scope.build().parts.list {
            if breather.known_kind() != Some(PartKind::Breather) {
                continue;
            }
            let enters = tract.connections(breather, scope).and_then(|connections| {
                connections.any(|connection| {
                    let into = path.spot(connection.other());
                    Known::Is(into.is_some_and(|into| {
                        into.index == spot.index || path.is_ahead(into.index, spot.index)
                    }))
                })
            });
            match enters {
                Known::Is(true) => return Known::Is(true),
                Known::Open(missing) => unknown = unknown.join(missing),
                _ => {}
            }
        }
        if unknown.is_nothing() { Known::Is(false) } else { Known::Open(unknown) }
    })
}

/// What an opening lacks where it is not said whether it leads to the open air at all.
pub(super) fn not_said_to_open(scope: &Scope<'_>, subject: &Subject) -> Option<Missing> {
    let end = match subject.route.steps() {
        [.., Step::Index(_)] => subject.route.key("to"),
        _ => subject.route.clone(),
    };
    scope.note(Read::Field(end.clone()));
    let written = find(&scope.build().root, &end).and_then(|found| found.node.as_text());
    (written != Some(AIR)).then(|| Missing::field(&end))
}

fn emits_vapour(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    if let Some(missing) = not_said_to_open(scope, subject) {
        return Known::Open(missing);
    }
    match subject.route.steps() {
        [Step::Key(table), ..] if &**table == "hoses" => {
            let mut unknown = tract.unknown_kinds(scope);
            for part in &scope.build().parts.list {
                let kinds = [PartKind::Breather, PartKind::PurgeValve, PartKind::CatchTank];
                if !part.known_kind().is_some_and(|kind| kinds.contains(&kind)) {
                    continue;
                }
                let (ways, more) = tract.hoses_at(&part.name, scope);
                if ways.iter().any(|way| &*way.ends[1] == AIR && way.far == subject.route) {
                    return Known::Is(Datum::Bool(true));
                }
                unknown = unknown.join(more);
            }
            if unknown.is_nothing() { Known::Is(Datum::Bool(false)) } else { Known::Open(unknown) }
        }
        [.., Step::Index(_)] => with_part(scope, subject, |valve| {
            tract.host_of(valve, scope).and_then(|host| oiled_by_breather(scope, &host.name)).map(Datum::Bool)
        }),
        _ => Known::not_applicable("nothing leaves by it"),
    }
}

/// What reaches the inside of a part and may attack it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Medium {
    OilMist,
    Fuel,
    Alcohol,
}

const ALL_MEDIA: &[Medium] = &[Medium::OilMist, Medium::Fuel, Medium::Alcohol];

/// Materials by the words that a text may use, each with the media that it does not stand for long. Common practice,
/// no source; swelling in oil by type: ASTM D2000 (class letters A to K), values from secondary copies.
const MATERIALS: &[(&[&str], &[Medium])] = &[
    (&["natural rubber"], &[Medium::OilMist, Medium::Fuel]),
    (&["ethylene-propylene", "ethylene-propylene rubber"], &[Medium::OilMist, Medium::Fuel]),
    (&["styrene-butadiene", "butyl"], &[Medium::OilMist, Medium::Fuel]),
    (&["silicone"], &[Medium::Fuel]),
    (&["fluorosilicone", "fluoroelastomer", "fluoro-lined silicone", "fluoro-lined"], &[]),
    (&["nitrile", "hydrogenated nitrile", "chloroprene", "ethylene-acrylic", "polyacrylate"], &[]),
    (&["polyamide", "glass-filled polyamide"], &[Medium::Alcohol]),
    (&["aluminium", "cast aluminium", "steel", "stainless steel", "titanium", "copper", "brass"], &[]),
    (&["carbon fibre", "polypropylene", "polytetrafluoroethylene"], &[]),
];

/// Kinds that are nothing but a wall round the air: of them it is asked what they are made of.
const LINES: &[PartKind] = &[PartKind::Pipe, PartKind::Coupler];

fn medium_conflicts(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let material = &part.common.material;
        let is_line = part.known_kind().is_some_and(|kind| LINES.contains(&kind));
        let word = match material.state(scope) {
            State::Given(Text(word)) => word.trim().to_lowercase(),
            State::Faulty => return Known::missing(material.route()),
            _ if is_line => return Known::missing(material.route()),
            _ => return Known::not_applicable("it does not say what it is made of"),
        };
        let Some((_, attacked_by)) = MATERIALS.iter().find(|(words, _)| words.contains(&&*word)) else {
            let words = format!(
                "what `{}` stands is not in the table of materials",
                crate::text::fault::quoted(&word)
            );
            return Known::Open(Missing::field(material.route()).join(Missing::hindrance(words)));
        };
        if attacked_by.is_empty() {
            return at_least(scope, 0, Missing::default());
        }
        if !scope.tract().is_on_path(&part.name, scope).exact().copied().unwrap_or(true) {
            return Known::not_applicable("no charge runs through it");
        }
        let mut conflicts = 0;
        let mut unknown = Missing::default();
        for medium in ALL_MEDIA.iter().filter(|medium| attacked_by.contains(medium)) {
            match reaches(scope, part, subject, *medium) {
                Known::Is(true) => conflicts += 1,
                Known::Open(missing) => unknown = unknown.join(missing),
                _ => {}
            }
        }
        at_least(scope, conflicts, unknown)
    })
}

/// Whether a medium is in the air at a part.
fn reaches(scope: &Scope<'_>, part: &Part, subject: &Subject, medium: Medium) -> Known<bool> {
    let with_fuel = |fuels: fn(&Fuel) -> bool| {
        let fuel =
            scope.build().top.engine.get(scope).and_then(|engine: &Engine| engine.fuel.get(scope).map(fuels));
        match fuel {
            Known::Is(false) => Known::Is(false),
            fuel => fuel.and_then(|_| {
                let carried = scope.fact(
                    &Subject { kind: SubjectKind::Part, ..subject.clone() },
                    "carries_fuel",
                    super::scope::Sites::All,
                );
                carried.map(|datum| datum == Datum::Bool(true))
            }),
        }
    };
    match medium {
        Medium::OilMist => oil_mist(scope, &part.name),
        Medium::Fuel => with_fuel(|fuel| !matches!(fuel, Fuel::NaturalGas)),
        Medium::Alcohol => {
            let fuel = with_fuel(|fuel| matches!(fuel, Fuel::Ethanol | Fuel::E85 | Fuel::Methanol));
            if fuel == Known::Is(true) {
                return fuel;
            }
            match (fuel, alcohol_sprayed(scope, &part.name)) {
                (_, Known::Is(true)) => Known::Is(true),
                (Known::Open(one), Known::Open(other)) => Known::Open(one.join(other)),
                (Known::Open(one), _) | (_, Known::Open(one)) => Known::Open(one),
                _ => Known::Is(false),
            }
        }
    }
}

/// Oil mist: behind a breather's entry, behind a compressor, whose seals always let a trace by, and where air is led back.
fn oil_mist(scope: &Scope<'_>, name: &str) -> Known<bool> {
    let tract = scope.tract();
    tract.path(scope).and_then(|path| {
        let Some(spot) = path.spot(name) else { return Known::missing(scope.build().top.air_path.route()) };
        let wheel = |at: &usize| path.get(*at).is_some_and(|spot| spot.compresses());
        if path.all_ahead(spot.index).iter().any(wheel) {
            return Known::Is(true);
        }
        let mut unknown = Missing::default();
        for valve in &scope.build().parts.list {
            match tract.discharge(valve, scope) {
                Known::Is(ports) => {
                    for port in ports {
                        match port.to.get(scope) {
                            Known::Is(to) => {
                                let back = path.spot(&to.0);
                                if back.is_some_and(|back| {
                                    back.index == spot.index || path.is_ahead(back.index, spot.index)
                                }) {
                                    return Known::Is(true);
                                }
                            }
                            Known::Open(missing) => unknown = unknown.join(missing),
                            _ => {}
                        }
                    }
                }
                Known::Open(missing) => unknown = unknown.join(missing),
                _ => {}
            }
        }
        match oiled_by_breather(scope, name) {
            Known::Is(false) if !unknown.is_nothing() => Known::Open(unknown),
            Known::Open(missing) => Known::Open(missing.join(unknown)),
            known => known,
        }
    })
}

fn alcohol_sprayed(scope: &Scope<'_>, name: &str) -> Known<bool> {
    let tract = scope.tract();
    let mut unknown = tract.unknown_kinds(scope);
    tract.path(scope).and_then(|path| {
        let Some(spot) = path.spot(name) else { return Known::missing(scope.build().top.air_path.route()) };
        for part in &scope.build().parts.list {
            let Body::InjectionNozzle(nozzle) = &part.body else { continue };
            let sprays = nozzle.sprays.get(scope).map(|sprayed| *sprayed != Sprayed::Water);
            if sprays == Known::Is(false) {
                continue;
            }
            let host = tract.host_of(part, scope).map(|host| {
                path.spot(&host.name)
                    .is_some_and(|host| host.index == spot.index || path.is_ahead(host.index, spot.index))
            });
            match sprays.zip(host) {
                Known::Is((_, true)) => return Known::Is(true),
                Known::Open(missing) => unknown = unknown.join(missing),
                _ => {}
            }
        }
        if unknown.is_nothing() { Known::Is(false) } else { Known::Open(unknown) }
    })
}

fn parts_wetted(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    with_part(scope, subject, |nozzle| {
        tract.host_of(nozzle, scope).zip(tract.path(scope)).and_then(|(host, path)| {
            let Some(spot) = path.spot(&host.name) else {
                return Known::missing(scope.build().top.air_path.route());
            };
            let dry = |kind| matches!(kind, PartKind::ChargeAirCooler | PartKind::AirMeter);
            let behind = path.all_behind(spot.index);
            let mut wetted = usize::from(dry(spot.kind));
            wetted += behind.iter().filter_map(|at| path.get(*at)).filter(|spot| dry(spot.kind)).count();
            let mut unknown = tract.unknown_kinds(scope);
            for part in &scope.build().parts.list {
                if !matches!(part.body, Body::TemperatureSensor(_) | Body::ReliefValve(_)) {
                    continue;
                }
                let sits = tract.host_of(part, scope).and_then(|other| {
                    if other.name == host.name {
                        return place(scope, nozzle)
                            .zip(place(scope, part))
                            .map(|(spray, sits)| sits >= spray);
                    }
                    Known::Is(path.spot(&other.name).is_some_and(|other| behind.contains(&other.index)))
                });
                match sits {
                    Known::Is(true) => wetted += 1,
                    Known::Open(missing) => unknown = unknown.join(missing),
                    _ => {}
                }
            }
            at_least(scope, wetted, unknown)
        })
    })
}

/// Distance of a part's tap from the upstream end of what carries it, m.
fn place(scope: &Scope<'_>, part: &Part) -> Known<f64> {
    part.common.tap.get(scope).and_then(|tap| tap.at.get(scope).map(|at| at.si()))
}

/// Weight of a cubic metre of water, N: 1000 kg/m3 times the standard acceleration of free fall (ISO 80000-3).
const WATER_WEIGHT: f64 = 1000.0 * 9.806_65;

fn siphon_head(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    with_part(scope, subject, |part| {
        let Body::InjectionNozzle(nozzle) = &part.body else { return Known::missing(&part.route) };
        let weight = nozzle.heights.get(scope).and_then(|heights| {
            let (tank, outlet) = (heights.tank.get(scope), heights.nozzle.get(scope));
            tank.zip(outlet).map(|(tank, outlet)| WATER_WEIGHT * (tank.si() - outlet.si()))
        });
        let depression = tract.tap_region(part, scope).and_then(|region| {
            if region.behind_the_throttle() { throttled_depression(scope) } else { Known::Is(0.0) }
        });
        let head = |pascals: f64| Datum::Number(Num::new(pascals, Dim::PRESSURE));
        weight.zip(depression).map(|(weight, depression)| head(weight + depression))
    })
}

/// How far the manifold lies below the air outside with the throttle shut, Pa: the deeper of idle and overrun.
fn throttled_depression(scope: &Scope<'_>) -> Known<f64> {
    let engine = scope.build().top.engine.get(scope);
    let shut = engine.and_then(|engine: &Engine| {
        let idle = engine.idle.get(scope).and_then(|idle| idle.manifold_pressure.get(scope));
        let overrun = engine.overrun.get(scope).and_then(|overrun| overrun.manifold_pressure.get(scope));
        match (idle, overrun) {
            (Known::Is(idle), Known::Is(overrun)) => Known::Is(vec![idle, overrun]),
            (Known::Is(one), _) | (_, Known::Is(one)) => Known::Is(vec![one]),
            (Known::Open(one), Known::Open(_)) => Known::Open(one),
            _ => Known::missing(&Route::root().key("engine").key("idle").key("manifold-pressure")),
        }
    });
    shut.zip(home_pressure(scope)).map(|(shut, outside)| {
        let deepest = shut.iter().map(|pressure| pressure.absolute(outside)).fold(f64::INFINITY, f64::min);
        outside - deepest
    })
}

//! Facts on pressures inside and outside of parts, and what they stand: ratings, couplers, soft pipes, sensors, seals.

use super::flow::length_with_arcs;
use super::graph::{row, with_part};
use super::heat::material;
use super::points::{at_place, datum, num, over_points, over_sites, over_stations, place_of};
use super::registry::{Fold, Row, Series};
use super::scope::Scope;
use super::steady::worst;
use crate::build::hoses::{CouplerFields, JointFields, NamedList};
use crate::build::parts::{Body, OilSeal, PartKind, Reinforcement, ServoSupply};
use crate::build::scalars::{Length, Pressure, Q};
use crate::known::{Datum, Field, Kind, Known, Missing, Num, Read, Reads, Setting, State};
use crate::model::SiteState;
use crate::physics::strength::{
    collapse_held, collapse_long, end_thrust, pressure_at_hoop_stress, thermal_growth,
};
use crate::text::Dim;
use crate::tract::{Region, Subject, SubjectKind};

const PART: &[SubjectKind] = &[SubjectKind::Part];
const PIPE: &[SubjectKind] = &[SubjectKind::Pipe];
const JOINT: &[SubjectKind] = &[SubjectKind::Joint];
const SENSOR: &[SubjectKind] = &[SubjectKind::PressureSensor];
const SERVO: &[SubjectKind] = &[SubjectKind::BrakeServo];
const TURBOCHARGER: &[SubjectKind] = &[SubjectKind::Turbocharger];
const PRESSURE: Kind = Kind::Number(Dim::PRESSURE);
const FORCE: Kind = Kind::Number(Dim::FORCE);

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row(
        "meets_tract_air",
        Kind::Bool,
        PART,
        "whether the part lies on the air path or is tapped into a part of it",
        |scope, subject| {
            with_part(scope, subject, |part| match place_of(scope, part) {
                Known::NotApplicable(_) => Known::Is(Datum::Bool(false)),
                other => other.map(|_| Datum::Bool(true)),
            })
        },
    ),
    row(
        "meets_boost",
        Kind::Bool,
        PART,
        "whether boost reaches the part on the air path, or the place of its tap",
        |scope, subject| {
            with_part(scope, subject, |part| {
                let region = place_of(scope, part).and_then(|place| scope.tract().region_of(&place, scope));
                match region {
                    Known::NotApplicable(_) => Known::Is(Datum::Bool(false)),
                    other => other.map(|region| Datum::Bool(region.sees_boost())),
                }
            })
        },
    ),
    worst(
        "pressure_max_gauge",
        Dim::PRESSURE,
        PART,
        "highest steady pressure inside the part, or where its tap sits, above the air outside, over all points and sites; the peak at tip-out is not in it",
        Fold::Max,
        pressure_max_gauge,
    ),
    row(
        "pressure_rating",
        PRESSURE,
        PART,
        "highest pressure above the air outside that the part stands: as described, else from wall and material at a third of the proof stress",
        pressure_rating,
    ),
    worst(
        "end_thrust_max",
        Dim::FORCE,
        JOINT,
        "force with which the highest steady pressure pushes the pipe's end out of its coupler: pressure above the outside times the coupler's bore area",
        Fold::Max,
        thrust,
    ),
    worst(
        "pipe_growth_max",
        Dim::LENGTH,
        JOINT,
        "by how much the pipes on both sides of a coupler grow at most as the air in them warms them from the temperature at which they were fitted, were all of it to come to this joint; points left of the surge line are passed over",
        Fold::Max,
        growth,
    ),
    row("retention", FORCE, JOINT, "force at which the coupler slides off, as described", retention),
    worst(
        "depression_max",
        Dim::PRESSURE,
        PIPE,
        "largest depression inside the pipe below the air outside, at full throttle, and with a shut flap ahead of it at the overrun's manifold pressure",
        Fold::Max,
        depression,
    ),
    row(
        "collapse_pressure",
        PRESSURE,
        PIPE,
        "depression at which the pipe folds flat: the larger of the long tube's and that of a tube held at its ends or wire turns",
        collapse,
    ),
    worst(
        "sensed_pressure_max",
        Dim::PRESSURE,
        SENSOR,
        "highest steady pressure that the sensor has to tell, on the scale of its full scale, over all points and sites",
        Fold::Max,
        sensed,
    ),
    row(
        "full_scale",
        PRESSURE,
        SENSOR,
        "highest pressure that the sensor can tell, absolute or gauge as it reads",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::PressureSensor(sensor) => {
                    sensor.full_scale.get(scope).and_then(|scale| datum(scale.si(), Dim::PRESSURE))
                }
                _ => Known::missing(&subject.route),
            })
        },
    ),
    worst(
        "depression_idle",
        Dim::PRESSURE,
        SERVO,
        "depression that the manifold gives the servo at idle: outside pressure less manifold pressure; the smallest over the sites",
        Fold::Min,
        |scope, _| over_sites(scope, |site| depression_at_idle(scope, site)),
    ),
    row(
        "servo_supply",
        Kind::Word,
        SERVO,
        "what supplies the servo: the tract unless said",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::BrakeServo(servo) => {
                    let words = "the servo is taken to be supplied by the vacuum of the tract";
                    let supply = servo.supply.get_or(scope, ServoSupply::Tract, words);
                    supply.map(|supply| Datum::word(supply.word()))
                }
                _ => Known::missing(&subject.route),
            })
        },
    ),
    row(
        "shuts_ahead",
        Kind::Bool,
        TURBOCHARGER,
        "whether a throttle, carburettor or shut-off valve lies ahead of the compressor",
        |scope, subject| {
            scope.tract().path(scope).and_then(|path| match path.spot(&subject.name) {
                Some(spot) => {
                    let ahead = path.all_ahead(spot.index);
                    let shuts = ahead
                        .iter()
                        .filter_map(|at| path.get(*at))
                        .any(|other| other.shuts() || other.kind == PartKind::AirShutOffValve);
                    Known::Is(Datum::Bool(shuts))
                }
                None => Known::missing(scope.build().top.air_path.route()),
            })
        },
    ),
    row(
        "oil_seal",
        Kind::Word,
        TURBOCHARGER,
        "the seal behind the compressor wheel, as described",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::Turbocharger(turbocharger) => turbocharger
                    .oil
                    .get(scope)
                    .and_then(|oil| oil.seal.get(scope).map(|seal: &OilSeal| Datum::word(seal.word()))),
                _ => Known::missing(&subject.route),
            })
        },
    ),
    worst(
        "inlet_depression_shut_max",
        Dim::PRESSURE,
        TURBOCHARGER,
        "depression ahead of the compressor with what lies ahead of it shut: outside pressure less manifold pressure at idle or on overrun, the lower of those that are given; the largest over the sites",
        Fold::Max,
        |scope, _| over_sites(scope, |site| depression_when_shut(scope, site)),
    ),
];

fn pressure_max_gauge(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let region = place_of(scope, part).and_then(|place| scope.tract().region_of(&place, scope));
    match region {
        Known::Is(region) if !region.sees_boost() => {
            vec![Known::not_applicable("no boost reaches it")]
        }
        Known::Is(_) => at_place(scope, subject, |here| {
            Some(here.num(here.station.highest_pressure() - here.site.pressure, Dim::PRESSURE))
        }),
        other => vec![other.and_then(|_| Known::missing(&subject.route))],
    }
}

/// Share of the proof stress that is allowed in a wall without a stated rating.
const WALL_SHARE: f64 = 1.0 / 3.0;

fn pressure_rating(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let field = &part.common.pressure_rating;
        match field.state(scope) {
            State::Given(rating) if rating.is_absolute() => {
                // Above the air at home; at another site the difference is part of the rating's own margin.
                let steady = scope.steady();
                let home = steady.sites.first().map(|site| site.state.as_ref().map(|state| state.pressure));
                return home
                    .unwrap_or_else(|| Known::missing(scope.build().top.site.route()))
                    .and_then(|outside| datum(rating.si() - outside, Dim::PRESSURE));
            }
            State::Absent => {}
            _ => return field.get(scope).and_then(|rating| datum(rating.si(), Dim::PRESSURE)),
        }
        let Some(duct) = &part.duct else { return Known::missing(field.route()) };
        if !matches!(duct.wall.state(scope), State::Given(_)) {
            return Known::missing(field.route());
        }
        let size = duct.bore.get(scope).zip(duct.wall.get(scope));
        size.zip(material(scope, part, field.route())).and_then(|((bore, wall), material)| {
            let of_wall = material
                .proof_stress
                .and_then(|stress| pressure_at_hoop_stress(WALL_SHARE * stress, bore.si(), wall.si()));
            let Some(rating) = of_wall else { return Known::missing(field.route()) };
            let words = format!("from its wall of {} at a third of the proof stress", material.name);
            scope.note(Read::Default { field: field.route().clone(), words: words.into() });
            datum(rating, Dim::PRESSURE)
        })
    })
}

/// The coupler of a joint; does not apply where a flange or nothing soft holds it.
fn coupler<'b>(scope: &Scope<'b>, subject: &Subject) -> Known<&'b CouplerFields> {
    let joints = &scope.build().top.joints;
    let described = joints.get(scope).and_then(|NamedList(list)| {
        let one = list.iter().find(|one| one.route == subject.route);
        one.and_then(|one| one.fields.as_ref()).map_or_else(|| Known::missing(&subject.route), Known::Is)
    });
    match described {
        Known::Is(JointFields { coupler, flange }) => match coupler.state(scope) {
            State::Given(coupler) => Known::Is(coupler),
            _ if flange.is_given(scope) => Known::not_applicable("a flange holds it"),
            State::SaidNone => Known::not_applicable("it has no coupler"),
            _ => Known::missing(coupler.route()),
        },
        // What is not described differs from the house's usual in nothing; no coupler of it can be judged.
        Known::Open(_) if matches!(joints.state(scope), State::Faulty) => Known::missing(joints.route()),
        _ => Known::not_applicable("no coupler is described"),
    }
}

fn thrust(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(joint) = scope.tract().joints().into_iter().find(|joint| joint.route == subject.route) else {
        return vec![Known::missing(&subject.route)];
    };
    let bore = coupler(scope, subject).and_then(|coupler| match coupler.tied.state(scope) {
        State::Given(crate::build::scalars::Flag(true)) => {
            Known::not_applicable("a tie takes the thrust from pipe to pipe")
        }
        _ => coupler.bore.get(scope).map(|bore| bore.si()),
    });
    let bore = match bore {
        Known::Is(bore) => bore,
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    over_stations(scope, &joint.upstream, |here| {
        let gauge = here.station.outlet.pressure - here.site.pressure;
        let force = end_thrust(gauge.max(0.0), bore);
        Some(force.map_or_else(|| Known::missing(&subject.route), |force| here.num(force, Dim::FORCE)))
    })
}

/// A pipe beside a joint: its name, and by how much it grows per kelvin, m/K. None of what gives way or is held where it
/// stands.
fn grows<'b>(scope: &Scope<'b>, name: &str) -> Known<Option<(&'b str, f64)>> {
    let Some(part) = scope.build().parts.named(name) else {
        return Known::missing(scope.build().top.air_path.route());
    };
    part.kind.get(scope).and_then(|kind| {
        if !matches!(kind, PartKind::Pipe | PartKind::Cone) {
            return Known::Is(None);
        }
        material(scope, part, part.common.material.route()).and_then(|material| {
            let Some(expansion) = material.expansion else { return Known::Is(None) };
            let words = format!("how {} grows as it warms ({})", material.name, expansion.source);
            scope.note(Read::Default { field: part.common.material.route().clone(), words: words.into() });
            length_with_arcs(scope, part).and_then(|length| {
                thermal_growth(length, expansion.coefficient, 1.0).map_or_else(
                    || Known::missing(&part.route),
                    |growth| Known::Is(Some((&*part.name, growth))),
                )
            })
        })
    })
}

fn growth(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(joint) = scope.tract().joints().into_iter().find(|joint| joint.route == subject.route) else {
        return vec![Known::missing(&subject.route)];
    };
    let pipes = coupler(scope, subject)
        .and_then(|_| grows(scope, &joint.upstream).zip(grows(scope, &joint.downstream)))
        .map(|(one, other)| [one, other].into_iter().flatten().collect::<Vec<_>>());
    let pipes = match pipes {
        Known::Is(pipes) if pipes.is_empty() => {
            return vec![Known::not_applicable("no stiff pipe ends in it")];
        }
        Known::Is(pipes) => pipes,
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    let fitted = scope.setting(Setting::FittingTemperature).v;
    over_points(scope, |_, _, solution| {
        if solution.is_left_of_surge() {
            return Some(Known::not_applicable("the point lies left of the surge line"));
        }
        let mut growth = 0.0;
        for (name, per_kelvin) in &pipes {
            let station = solution.stations.iter().find(|station| &*station.part == *name)?;
            growth += per_kelvin * (station.highest_temperature() - fitted);
        }
        let error = solution.relative_error() * growth.abs();
        Some(Known::Is(Num::new(growth, Dim::LENGTH).with_error(error)))
    })
}

fn retention(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    coupler(scope, subject)
        .and_then(|coupler| coupler.pull_off_force.get(scope).and_then(|force| datum(force.si(), Dim::FORCE)))
}

/// Absolute manifold pressure of a field of idle or overrun at a site.
fn manifold_pressure(scope: &Scope<'_>, site: &SiteState, field: &Field<Q<Pressure>>) -> Known<f64> {
    field.get(scope).map(|pressure| pressure.absolute(site.pressure))
}

fn depression_at_idle(scope: &Scope<'_>, site: &SiteState) -> Known<crate::known::Num> {
    scope.build().top.engine.get(scope).and_then(|engine| engine.idle.get(scope)).and_then(|idle| {
        manifold_pressure(scope, site, &idle.manifold_pressure)
            .and_then(|pressure| num(site.pressure - pressure, Dim::PRESSURE))
    })
}

fn depression_when_shut(scope: &Scope<'_>, site: &SiteState) -> Known<crate::known::Num> {
    scope.build().top.engine.get(scope).and_then(|engine| {
        let idle =
            engine.idle.get(scope).and_then(|idle| manifold_pressure(scope, site, &idle.manifold_pressure));
        let overrun = engine
            .overrun
            .get(scope)
            .and_then(|overrun| manifold_pressure(scope, site, &overrun.manifold_pressure));
        let lowest = match (idle, overrun) {
            (Known::Is(idle), Known::Is(overrun)) => Known::Is(idle.min(overrun)),
            (Known::Is(one), _) | (_, Known::Is(one)) => Known::Is(one),
            (idle, overrun) => idle.zip(overrun).map(|(idle, _)| idle),
        };
        lowest.and_then(|pressure| num(site.pressure - pressure, Dim::PRESSURE))
    })
}

fn depression(scope: &Scope<'_>, subject: &Subject) -> Series {
    let place = scope.tract().path(scope).and_then(|path| match path.spot(&subject.name) {
        Some(spot) => {
            let region = path.region(spot.index);
            let below = matches!(region, Some(Region::Suction | Region::ThrottledSuction));
            let ahead = path.all_ahead(spot.index);
            let shut = ahead
                .iter()
                .filter_map(|at| path.get(*at))
                .any(|other| other.shuts() || other.kind == PartKind::AirShutOffValve);
            if below { Known::Is(shut) } else { Known::not_applicable("boost holds it open from inside") }
        }
        None => Known::not_applicable("it is not on the air path"),
    });
    let shut = match place {
        Known::Is(shut) => shut,
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    let mut series = over_stations(scope, &subject.name, |here| {
        let low = here.station.inlet.pressure.min(here.station.outlet.pressure);
        Some(here.num(here.site.pressure - low, Dim::PRESSURE))
    });
    if shut {
        series.extend(over_sites(scope, |site| depression_when_shut(scope, site)));
    }
    series
}

/// Distance of wire turns where it is not given, m.
const USUAL_PITCH: f64 = 0.015;

fn collapse(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let (Body::Pipe(pipe), Some(duct)) = (&part.body, &part.duct) else {
            return Known::missing(&subject.route);
        };
        let stiffness = match pipe.modulus.state(scope) {
            State::Absent => material(scope, part, pipe.modulus.route())
                .map(|material| (material.modulus, material.poisson)),
            // Poisson's number of rubber; the modulus counts in first power, this one hardly.
            _ => pipe.modulus.get(scope).map(|modulus| (modulus.si(), 0.49)),
        };
        let wired = match pipe.reinforcement.state(scope) {
            State::Given(kind) => Known::Is(*kind == Reinforcement::Wire),
            State::Faulty => Known::missing(pipe.reinforcement.route()),
            State::Absent | State::SaidNone => Known::Is(false),
        };
        let span = wired.and_then(|wired| match wired {
            true => pitch(scope, &pipe.wire_pitch),
            false => duct.length.get(scope).map(|length| length.si()),
        });
        let size = duct.bore.get(scope).zip(duct.wall.get(scope));
        size.zip(stiffness).zip(span).and_then(|(((bore, wall), (modulus, poisson)), span)| {
            let diameter = bore.si() + wall.si();
            let long = collapse_long(modulus, poisson, diameter, wall.si());
            let Some(long) = long else { return Known::missing(duct.wall.route()) };
            // Where the formula has no value the turns stand too close for the wall to fold.
            let held = collapse_held(modulus, poisson, diameter, wall.si(), span).unwrap_or(f64::INFINITY);
            datum(long.max(held), Dim::PRESSURE)
        })
    })
}

fn pitch(scope: &Scope<'_>, field: &Field<Q<Length>>) -> Known<f64> {
    match field.state(scope) {
        State::Absent => {
            let words = "wire turns 15 mm apart, as their distance is not given (common practice, no source)";
            scope.note(Read::Default { field: field.route().clone(), words: words.into() });
            Known::Is(USUAL_PITCH)
        }
        _ => field.get(scope).map(|pitch| pitch.si()),
    }
}

fn sensed(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let Body::PressureSensor(sensor) = &part.body else { return vec![Known::missing(&subject.route)] };
    if !part.common.tap.is_given(scope) {
        let words = "what a hose brings to a sensor is not followed yet";
        return vec![Known::Open(Missing::hindrance(words).join(Missing::field(part.common.tap.route())))];
    }
    let absolute = match sensor.full_scale.get(scope) {
        Known::Is(scale) => scale.is_absolute(),
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    at_place(scope, subject, |here| {
        let outside = if absolute { 0.0 } else { here.site.pressure };
        Some(here.num(here.station.highest_pressure() - outside, Dim::PRESSURE))
    })
}

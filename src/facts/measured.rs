//! Facts on measurements: what was measured, and what is computed at the same point.

use super::points::{datum, place_of};
use super::registry::{Group, Make, Row};
use super::scope::Scope;
use crate::build::scalars::{List, PartName, Text};
use crate::build::{MeasuredQuantity, MeasuredValue, Measurement};
use crate::known::{Datum, Kind, Known, Missing, Num, State};
use crate::model::{HOME, Outcome, Point, SiteState, Solution, Station};
use crate::text::{Dim, Quantity, Reference, Route, format_in};
use crate::tract::{Subject, SubjectKind};

const MEASUREMENT: &[SubjectKind] = &[SubjectKind::Measurement];

/// A row over the operating points.
const fn row(
    name: &'static str,
    kind: Kind,
    meaning: &'static str,
    make: fn(&Scope<'_>, &Subject) -> Known<Datum>,
) -> Row {
    Row { name, kind, meaning, group: Group::Steady, on: MEASUREMENT, make: Make::Plain(make) }
}

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row(
        "measured_kind",
        Kind::Word,
        "what sort of quantity was measured: pressure (a loss too), flow or temperature",
        |scope, subject| {
            let measurement = measurement(scope, subject);
            measurement
                .and_then(|one| one.quantity.get(scope).map(|quantity| Datum::word(kind_of(*quantity))))
        },
    ),
    row("measured", Kind::Word, "the measured value, as written", |scope, subject| {
        let measurement = measurement(scope, subject);
        measurement.and_then(|one| one.value.get(scope).map(|MeasuredValue(text)| Datum::word(text)))
    }),
    row(
        "computed",
        Kind::Word,
        "what is computed of the same quantity at the same part, site and engine speed, in the unit of the measured value",
        |scope, subject| {
            compared(scope, subject).and_then(|compared| {
                let words = compared.computed_words();
                words.map_or_else(|| Known::missing(&subject.route), |words| Known::Is(Datum::word(words)))
            })
        },
    ),
    row(
        "disagreement",
        Kind::Number(Dim::ONE),
        "how far a measured pressure or flow lies from what is computed, as a share of what is computed; pressures absolute",
        |scope, subject| {
            share(scope, subject, |one| {
                let share = (one.measured - one.computed).abs() / one.computed.abs();
                Num::pure(share).with_error(one.relative_error * (one.measured / one.computed).abs())
            })
        },
    ),
    row(
        "measurement_tolerance",
        Kind::Number(Dim::ONE),
        "tolerance of a measured pressure or flow, as a share of what is computed; 0 where none is written",
        |scope, subject| share(scope, subject, |one| Num::pure(one.tolerance / one.computed.abs())),
    ),
    row(
        "temperature_disagreement",
        Kind::Number(Dim::TEMPERATURE),
        "how far a measured temperature lies from what is computed",
        |scope, subject| temperature(scope, subject, |one| (one.measured - one.computed).abs()),
    ),
    row(
        "temperature_tolerance",
        Kind::Number(Dim::TEMPERATURE),
        "tolerance of a measured temperature; 0 where none is written",
        |scope, subject| temperature(scope, subject, |one| one.tolerance),
    ),
];

fn kind_of(quantity: MeasuredQuantity) -> &'static str {
    match quantity {
        MeasuredQuantity::PressureLoss | MeasuredQuantity::PressureIn | MeasuredQuantity::PressureOut => {
            "pressure"
        }
        MeasuredQuantity::MassFlow => "flow",
        MeasuredQuantity::TemperatureIn | MeasuredQuantity::TemperatureOut => "temperature",
    }
}

/// A measured value beside the computed one, in SI units, pressures absolute.
struct Compared {
    quantity: MeasuredQuantity,
    written: Quantity,
    measured: f64,
    computed: f64,
    tolerance: f64,
    relative_error: f64,
    outside: f64,
}

impl Compared {
    /// The computed value in the unit and on the scale of the measured one.
    fn computed_words(&self) -> Option<String> {
        let Quantity { unit, reference, .. } = &self.written;
        let (value, scale) = match (self.quantity, reference) {
            (MeasuredQuantity::PressureLoss, _) => (self.computed, ""),
            (_, Reference::Gauge) => (self.computed - self.outside, " gauge"),
            (_, Reference::Absolute) => (self.computed, " abs"),
            _ => (self.computed, ""),
        };
        // Three digits that count, of which none stands ahead of the point where the number is small.
        let shown = unit.from_si(value).abs();
        let digits = (0..6).find(|digits| shown >= 10f64.powi(2 - digits)).unwrap_or(6);
        Some(format_in(value, unit.dim, unit.symbol, usize::try_from(digits).ok()?)? + scale)
    }
}

fn measurement<'b>(scope: &Scope<'b>, subject: &Subject) -> Known<&'b Measurement> {
    let field = &scope.build().top.measurements;
    let State::Given(List(list)) = field.state(scope) else { return Known::missing(field.route()) };
    let at = list.iter().enumerate().find(|(at, _)| field.route().index(*at) == subject.route);
    at.map_or_else(|| Known::missing(&subject.route), |(_, one)| Known::Is(one))
}

/// The part of the air path at which a measurement was taken.
pub(super) fn measured_part(scope: &Scope<'_>, subject: &Subject) -> Known<Route> {
    let part = measurement(scope, subject).and_then(|one| one.part.get(scope).map(|PartName(name)| name));
    part.and_then(|name| match scope.build().parts.named(name) {
        Some(part) => place_of(scope, part).and_then(|place| match scope.build().parts.named(&place) {
            Some(part) => Known::Is(part.route.clone()),
            None => Known::missing(&subject.route),
        }),
        None => Known::missing(&subject.route.key("part")),
    })
}

fn compared(scope: &Scope<'_>, subject: &Subject) -> Known<Compared> {
    measurement(scope, subject).and_then(|one| {
        let given = one.quantity.get(scope).zip(one.read_value(scope));
        let place = one.part.get(scope).and_then(|PartName(name)| {
            let Some(part) = scope.build().parts.named(name) else { return Known::missing(one.part.route()) };
            match place_of(scope, part) {
                Known::NotApplicable(_) => Known::Open(Missing::hindrance(format!(
                    "{name} has no place on the air path, so that nothing is computed of it"
                ))),
                known => known,
            }
        });
        let home = || Text(HOME.into());
        let site = one.site.get_or(scope, home(), "the measurement is taken as one at the build's own site");
        let asked = given.zip(place).zip(site).zip(one.engine_speed.get(scope));
        asked.and_then(|((((quantity, written), place), Text(site)), speed)| {
            let steady = scope.steady();
            let Some(site) = steady.sites.iter().find(|other| other.name == site) else {
                return Known::missing(one.site.route());
            };
            let solved = site.state.as_ref().zip(site.points.as_ref());
            solved.and_then(|(state, points)| {
                solution_at(points, speed.si()).and_then(|solution| {
                    let Some(station) = solution.stations.iter().find(|station| station.part == place) else {
                        return Known::missing(one.part.route());
                    };
                    compare(*quantity, &written, state, solution, station)
                })
            })
        })
    })
}

/// Two engine speeds are one if they differ by less than this, rev/s.
const SAME_SPEED: f64 = 1e-4;

/// The point at an engine speed; where one stands there off boost and one boosted, the boosted one. Between points
/// nothing is computed, and a line drawn there would be a guess.
fn solution_at(points: &[Point], speed: f64) -> Known<&Solution> {
    let here = points.iter().filter(|point| (point.speed - speed).abs() < SAME_SPEED);
    let rpm = |speed: f64| format!("{:.0} rpm", speed * 60.0);
    match here.min_by_key(|point| point.off_boost).map(|point| &point.outcome) {
        Some(Outcome::Solved(solution)) => Known::Is(solution),
        Some(Outcome::NoSolution) => Known::Open(Missing::hindrance(format!(
            "no flow satisfies engine, losses and map at {}",
            rpm(speed)
        ))),
        Some(Outcome::Open(missing)) => Known::Open(missing.clone()),
        None => {
            let nearest = points
                .iter()
                .map(|point| point.speed)
                .min_by(|a, b| (a - speed).abs().total_cmp(&(b - speed).abs()));
            let nearest =
                nearest.map_or_else(String::new, |at| format!("; the nearest stands at {}", rpm(at)));
            Known::Open(Missing::hindrance(format!("no operating point stands at {}{nearest}", rpm(speed))))
        }
    }
}

fn compresses(station: &Station) -> bool {
    SubjectKind::Compressor.part_kinds().is_some_and(|kinds| kinds.contains(&station.kind))
}

fn compare(
    quantity: MeasuredQuantity,
    written: &Quantity,
    site: &SiteState,
    solution: &Solution,
    station: &Station,
) -> Known<Compared> {
    let computed = match quantity {
        MeasuredQuantity::PressureLoss if compresses(station) => {
            return Known::not_applicable(
                "a compressor loses no pressure; measure ahead of it and behind it",
            );
        }
        MeasuredQuantity::PressureLoss => station.loss(),
        MeasuredQuantity::PressureIn => station.inlet.pressure,
        MeasuredQuantity::PressureOut => station.outlet.pressure,
        MeasuredQuantity::MassFlow => station.flow,
        MeasuredQuantity::TemperatureIn => station.inlet.temperature,
        MeasuredQuantity::TemperatureOut => station.outlet.temperature,
    };
    if computed == 0.0 {
        return Known::Open(Missing::hindrance("nothing is computed that it could be a share of"));
    }
    let scale = if written.reference == Reference::Gauge { site.pressure } else { 0.0 };
    // A loss may be called gauge, and stays a difference.
    let measured = match quantity {
        MeasuredQuantity::PressureLoss => written.si,
        _ => written.si + scale,
    };
    Known::Is(Compared {
        quantity,
        written: written.clone(),
        measured,
        computed,
        tolerance: written.tolerance.unwrap_or(0.0),
        relative_error: solution.relative_error(),
        outside: site.pressure,
    })
}

fn share(scope: &Scope<'_>, subject: &Subject, pick: impl Fn(&Compared) -> Num) -> Known<Datum> {
    compared(scope, subject).and_then(|compared| match kind_of(compared.quantity) {
        "temperature" => Known::not_applicable("temperatures are compared in kelvins"),
        _ => Known::Is(Datum::Number(pick(&compared))),
    })
}

fn temperature(scope: &Scope<'_>, subject: &Subject, pick: impl Fn(&Compared) -> f64) -> Known<Datum> {
    compared(scope, subject).and_then(|compared| match kind_of(compared.quantity) {
        "temperature" => datum(pick(&compared), Dim::TEMPERATURE),
        _ => Known::not_applicable("it is no temperature"),
    })
}

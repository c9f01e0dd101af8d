//! Facts on whether the description is sound enough to compute with, and complete where it claims to be.

use super::graph::{row, with_part};
use super::registry::Row;
use super::scope::Scope;
use crate::build::Area;
use crate::build::engine::Metering;
use crate::build::parts::{Body, Nozzle, Part, PartKind, TemperaturePurpose};
use crate::build::scalars::PartName;
use crate::known::{Datum, Kind, Known, Missing, Num, Read, Reads, State};
use crate::physics::map::{Map, MapPoint};
use crate::text::{Dim, Measure, Node, Route, Value, find, read_quantity};
use crate::tract::{Subject, SubjectKind};

const BUILD: &[SubjectKind] = &[SubjectKind::Build];
const PART: &[SubjectKind] = &[SubjectKind::Part];
const COMPRESSOR: &[SubjectKind] = &[SubjectKind::Compressor];
const TAP: &[SubjectKind] = &[SubjectKind::Tap];
const COUNT: Kind = Kind::Number(Dim::ONE);
const LENGTH: Kind = Kind::Number(Dim::LENGTH);
const SPEED: Kind = Kind::Number(Dim::FREQUENCY);

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row(
        "map_reference_known",
        Kind::Bool,
        COMPRESSOR,
        "whether the state that the compressor map is corrected to is said, temperature and pressure, by its file or by the build",
        map_reference_known,
    ),
    row(
        "map_faults",
        COUNT,
        COMPRESSOR,
        "what is wrong with the compressor map: flow that does not rise, ratio that does not fall, lines that cross, too few places",
        map_faults,
    ),
    row(
        "tap_at",
        LENGTH,
        TAP,
        "distance of the tap from the upstream end of the part that carries it",
        |scope, subject| match host_length(scope, subject) {
            Known::NotApplicable(reason) => Known::NotApplicable(reason),
            _ => length(scope, &subject.route.key("at")),
        },
    ),
    row("host_length", LENGTH, TAP, "length of the part that carries the tap", host_length),
    row(
        "table_gap_speed",
        SPEED,
        BUILD,
        "span of engine speed between the lowest boosted speed and the rev limit that the tables of boost and volumetric efficiency leave out",
        table_gap_speed,
    ),
    row(
        "implausible_fields",
        COUNT,
        PART,
        "how many of the part's fields lie outside their usual range, which the schema gives",
        implausible_fields,
    ),
    row(
        "filter_upstream",
        Kind::Bool,
        COMPRESSOR,
        "whether an air filter lies ahead of the compressor on every way to it",
        filter_upstream,
    ),
    row(
        "boost_limiting_parts",
        COUNT,
        &[SubjectKind::Turbocharger],
        "what keeps the turbine from driving without limit: a wastegate, a variable nozzle",
        boost_limiting_parts,
    ),
    row(
        "charge_temperature_sensors",
        COUNT,
        BUILD,
        "how many temperature sensors serve the density of the charge",
        charge_temperature_sensors,
    ),
    row("breather_paths", COUNT, BUILD, "how many breathers lead out of the crankcase", breather_paths),
    row(
        "air_counted",
        Kind::Word,
        BUILD,
        "how the engine knows its air; `none` when nothing that is described tells it",
        |scope, _| {
            match scope.tract().metering(scope) {
                Known::Is(metering) => Known::Is(Datum::word(metering.word())),
                // Neither said nor to be inferred: with the signals claimed complete that is an answer.
                Known::Open(missing) => match scope.build().claims(Area::Signals, scope) {
                    Known::Is(()) => Known::Is(Datum::word(Metering::None.word())),
                    _ => Known::Open(missing),
                },
                other => other.map(|metering| Datum::word(metering.word())),
            }
        },
    ),
];

fn count(number: usize) -> Datum {
    Datum::Number(Num::pure(number as f64))
}

fn map_reference_known(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let compressor = match &part.body {
            Body::Turbocharger(turbocharger) => turbocharger.compressor.get(scope),
            _ => return Known::not_applicable("only a turbocharger's map is looked at so far"),
        };
        compressor.and_then(|compressor| {
            let table = match compressor.map.state(scope) {
                State::Given(file) => &file.table,
                State::Faulty => return Known::missing(compressor.map.route()),
                State::Absent | State::SaidNone => return Known::not_applicable("no map is given"),
            };
            let temperature =
                table.reference_temperature.is_some() || compressor.reference_temperature.is_given(scope);
            let pressure =
                table.reference_pressure.is_some() || compressor.reference_pressure.is_given(scope);
            Known::Is(Datum::Bool(temperature && pressure))
        })
    })
}

fn map_faults(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let Body::Turbocharger(turbocharger) = &part.body else {
            return Known::not_applicable("only a turbocharger's map is looked at so far");
        };
        turbocharger.compressor.get(scope).and_then(|compressor| {
            if matches!(compressor.map.state(scope), State::Absent | State::SaidNone) {
                return Known::not_applicable("no map is given");
            }
            compressor.map.get(scope).map(|file| {
                let points: Vec<MapPoint> = file
                    .table
                    .rows
                    .iter()
                    .map(|row| MapPoint {
                        speed: row.speed,
                        flow: row.flow,
                        pressure_ratio: row.ratio,
                        efficiency: row.efficiency,
                    })
                    .collect();
                count(Map::new(&points).err().map_or(0, |faults| faults.len()))
            })
        })
    })
}

/// A length written at a route, recorded.
fn length(scope: &Scope<'_>, at: &Route) -> Known<Datum> {
    scope.note(Read::Field(at.clone()));
    let written = find(&scope.build().root, at).and_then(|found| found.node.as_text());
    match written.and_then(|text| read_quantity(text, Measure::Length).ok()) {
        Some(quantity) => Known::Is(Datum::Number(Num::new(quantity.si, Dim::LENGTH))),
        None => Known::missing(at),
    }
}

fn host_length(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let tap = scope.tract().taps().into_iter().find(|tap| tap.route == subject.route);
    let host = tap.and_then(|tap| tap.host).and_then(|host| scope.build().parts.named(&host));
    let Some(host) = host else { return Known::missing(&subject.route) };
    match &host.duct {
        Some(duct) => match duct.length.state(scope) {
            // A chamber has no length to be off.
            State::Absent if duct.bore.state(scope) == &State::Absent => {
                Known::not_applicable("the part that carries it has no length")
            }
            _ => duct.length.get(scope).map(|length| Datum::Number(Num::new(length.si(), Dim::LENGTH))),
        },
        None => Known::not_applicable("the part that carries it has no length"),
    }
}

fn table_gap_speed(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let top = &scope.build().top;
    top.engine.get(scope).zip(top.boost.get(scope)).and_then(|(engine, boost)| {
        let efficiency = engine.volumetric_efficiency.get(scope);
        efficiency.zip(engine.rev_limit.get(scope)).and_then(|(efficiency, limit)| {
            let (Some(first), Some(last)) = (boost.entries.first(), boost.entries.last()) else {
                return Known::missing(top.boost.route());
            };
            let (Some(low), Some(high)) = (efficiency.entries.first(), efficiency.entries.last()) else {
                return Known::missing(engine.volumetric_efficiency.route());
            };
            let short_below = (low.x - first.x).max(0.0);
            let short_above = (limit.si() - last.x.min(high.x)).max(0.0);
            let gap = short_below + short_above;
            // Speeds that differ by rounding alone meet.
            let gap = if gap < 1e-9 * limit.si() { 0.0 } else { gap };
            Known::Is(Datum::Number(Num::new(gap, Dim::FREQUENCY)))
        })
    })
}

fn implausible_fields(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    scope.note(Read::Field(subject.route.clone()));
    let found = find(&scope.build().root, &subject.route);
    let Some(found) = found else { return Known::missing(&subject.route) };
    with_part(scope, subject, |part| {
        // Without its kind nobody can say what its fields are.
        part.kind.get(scope).and_then(|_| {
            let mut outside = 0;
            look_through(scope, found.node, &subject.route, &mut outside);
            Known::Is(count(outside))
        })
    })
}

/// Counts the quantities below a node that lie outside their usual range.
fn look_through(scope: &Scope<'_>, node: &Node, at: &Route, outside: &mut usize) {
    match &node.value {
        Value::Map(map) => {
            for entry in map.iter() {
                look_through(scope, &entry.value, &at.key(&entry.key.text), outside);
            }
        }
        Value::List(items) => {
            for (i, item) in items.iter().enumerate() {
                look_through(scope, item, &at.index(i), outside);
            }
        }
        Value::Scalar(scalar) => {
            let Some(shape) = scope.build().shape(at) else { return };
            let (Some(measure), Some((low, high))) = (shape.measure, shape.usual) else { return };
            let limits = read_quantity(low, measure).ok().zip(read_quantity(high, measure).ok());
            let value = read_quantity(&scalar.text, measure).ok();
            if let (Some((low, high)), Some(value)) = (limits, value) {
                // Gauge and absolute pressures are not compared: the range is wide enough to do without.
                let comparable = low.reference == value.reference;
                if comparable && (value.si < low.si || value.si > high.si) {
                    *outside += 1;
                }
            }
        }
    }
}

fn filter_upstream(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let tract = scope.tract();
    tract.path(scope).and_then(|path| {
        let Some(spot) = path.spot(&subject.name) else {
            return Known::missing(scope.build().top.air_path.route());
        };
        let is_filter = |at: usize| path.get(at).is_some_and(|spot| spot.kind == PartKind::AirFilter);
        let begins = path.iter().filter(|start| path.before(start.index).is_empty());
        let unfiltered = begins
            .filter(|start| start.index == spot.index || path.is_ahead(start.index, spot.index))
            .any(|start| !path.every_way_passes(start.index, spot.index, is_filter));
        Known::Is(Datum::Bool(!unfiltered))
    })
}

fn boost_limiting_parts(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let Body::Turbocharger(turbocharger) = &part.body else { return Known::missing(&part.route) };
        let gate = match turbocharger.wastegate.state(scope) {
            State::Given(PartName(_)) => return Known::Is(count(1)),
            State::SaidNone => Known::Is(()),
            State::Faulty => Known::missing(turbocharger.wastegate.route()),
            State::Absent => scope.build().claims(Area::Turbine, scope),
        };
        let nozzle = match turbocharger.turbine.state(scope) {
            State::Given(turbine) => match turbine.nozzle.state(scope) {
                State::Given(Nozzle::Variable) => return Known::Is(count(1)),
                State::Given(_) => Known::Is(()),
                _ => scope.build().claims(Area::Turbine, scope),
            },
            State::Faulty => Known::missing(turbocharger.turbine.route()),
            // A gate that is said to be none leaves only the nozzle, and a fixed one is the usual kind.
            _ => scope.build().claims(Area::Turbine, scope),
        };
        match gate.zip(nozzle) {
            Known::Is(_) => Known::Is(count(0)),
            Known::Open(missing) => Known::Open(missing.join(Missing::field(turbocharger.wastegate.route()))),
            other => other.map(|_| count(0)),
        }
    })
}

fn parts_of(scope: &Scope<'_>, wanted: impl Fn(&Part) -> bool) -> usize {
    scope.build().parts.list.iter().filter(|part| wanted(part)).count()
}

/// A count of parts; none at all is known only where the area is claimed and every kind can be read.
fn counted(scope: &Scope<'_>, number: usize, area: Area) -> Known<Datum> {
    if number > 0 {
        return Known::Is(count(number));
    }
    let unknown = scope.tract().unknown_kinds(scope);
    if !unknown.is_nothing() {
        return Known::Open(unknown);
    }
    scope.build().claims(area, scope).map(|()| count(0))
}

fn charge_temperature_sensors(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let serves = |part: &Part| match &part.body {
        Body::TemperatureSensor(sensor) => {
            matches!(sensor.purpose.state(scope), State::Given(TemperaturePurpose::Density))
        }
        _ => false,
    };
    counted(scope, parts_of(scope, serves), Area::Signals)
}

fn breather_paths(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    counted(scope, parts_of(scope, |part| part.known_kind() == Some(PartKind::Breather)), Area::Crankcase)
}

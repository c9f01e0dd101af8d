//! The series of a tip-out run as CSV and JSON: SI units, shortest digits that read back the same.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::model::{Moment, Surging, TipOut, TipOutResults, Wheel};

/// A column: its name with the unit, and its value.
type Column = (String, Box<dyn Fn(&Moment) -> f64>);

fn columns(run: &TipOut) -> Vec<Column> {
    fn column(name: &str, value: impl Fn(&Moment) -> f64 + 'static) -> Column {
        (name.to_owned(), Box::new(value))
    }
    let mut all = vec![
        column("time [s]", |m| m.time),
        column("compressor-flow [kg/s]", |m| m.wheel.flow),
        column("surge-flow [kg/s]", |m| m.wheel.surge_flow),
        column("flow-over-surge-flow", |m| m.wheel.share),
        column("compressor-inlet-pressure [Pa]", |m| m.wheel.p1),
        column("compressor-outlet-pressure [Pa]", |m| m.wheel.p2),
        column("compressor-outlet-temperature [K]", |m| m.wheel.t2),
        column("pressure-ahead-of-throttle [Pa]", |m| m.p_throttle),
        column("manifold-pressure [Pa]", |m| m.p_manifold),
        column("throttle-flow [kg/s]", |m| m.throttle_flow),
        column("engine-flow [kg/s]", |m| m.engine_flow),
        column("filter-flow [kg/s]", |m| m.mouth_flow),
        column("air-meter-reading [kg/s]", |m| m.reading.unwrap_or(f64::NAN)),
        column("rotor-speed [rad/s]", |m| m.wheel.speed),
    ];
    for (i, wheel) in run.results.others.iter().enumerate() {
        let name = &wheel.name;
        let at = move |m: &Moment, pick: fn(&Wheel) -> f64| m.others.get(i).map_or(f64::NAN, pick);
        all.push(column(&format!("{name}: flow [kg/s]"), move |m| at(m, |wheel| wheel.flow)));
        all.push(column(&format!("{name}: surge-flow [kg/s]"), move |m| at(m, |wheel| wheel.surge_flow)));
        all.push(column(&format!("{name}: outlet-pressure [Pa]"), move |m| at(m, |wheel| wheel.p2)));
        all.push(column(&format!("{name}: rotor-speed [rad/s]"), move |m| at(m, |wheel| wheel.speed)));
    }
    for (i, name) in run.valves.iter().enumerate() {
        let at = |values: &[f64], i: usize| values.get(i).copied().unwrap_or(f64::NAN);
        all.push(column(&format!("{name}: lift [m]"), move |m| at(&m.lifts, i)));
        all.push(column(&format!("{name}: signal-pressure [Pa]"), move |m| at(&m.signals, i)));
        all.push(column(&format!("{name}: flow [kg/s]"), move |m| at(&m.relieved, i)));
    }
    all.extend([
        column("contents [kg]", |m| m.contents.0),
        column("contents [J]", |m| m.contents.1),
        column("net-inflow-since-start [kg]", |m| m.sums.mass_in),
        column("net-enthalpy-since-start [J]", |m| m.sums.enthalpy_in),
        column("compressor-work-since-start [J]", |m| m.sums.work),
        column("heat-given-off-since-start [J]", |m| m.sums.heat_out),
        column("piston-work-since-start [J]", |m| m.sums.piston_work),
        column("engine-air-since-start [kg]", |m| m.drawn),
        column("reversed-through-compressor-since-start [kg]", |m| m.wheel.reversed),
    ]);
    all
}

/// The series as CSV.
pub fn csv(run: &TipOut) -> String {
    let columns = columns(run);
    let quoted = |name: &str| {
        if name.contains([',', '"', '\n']) {
            format!("\"{}\"", name.replace('"', "\"\""))
        } else {
            name.to_owned()
        }
    };
    let mut out = columns.iter().map(|(name, _)| quoted(name)).collect::<Vec<_>>().join(",");
    out.push('\n');
    for moment in &run.series {
        for (i, (_, value)) in columns.iter().enumerate() {
            let value = value(moment);
            let comma = if i == 0 { "" } else { "," };
            let _ = if value.is_nan() { write!(out, "{comma}") } else { write!(out, "{comma}{value:?}") };
        }
        out.push('\n');
    }
    out
}

fn compressor(wheel: &Surging) -> Value {
    json!({
        "name": &*wheel.name,
        "surge-line-crossed": wheel.crosses,
        "lowest-flow-over-surge-flow": wheel.margin,
        "lowest-flow-at": wheel.margin_at,
        "marginal": wheel.is_marginal(),
        "cycles": wheel.cycles.iter().map(|cycle| json!({
            "time": cycle.time, "swing": cycle.swing, "reversed": cycle.deep,
        })).collect::<Vec<_>>(),
        "frequency": wheel.frequency,
        "reversed-mass": wheel.reversed,
        "blown-back-by-another": wheel.blown_back,
        "rotor-speed": [wheel.speeds.0, wheel.speeds.1],
        "displaces": wheel.displaces,
        "engine-driven": wheel.driven,
        "highest-pressure-behind": wheel.peak.0,
        "highest-pressure-at": wheel.peak.1,
    })
}

fn results(r: &TipOutResults) -> Value {
    json!({
        "compressors": r.compressors().map(compressor).collect::<Vec<_>>(),
        "peak-pressure-ahead-of-throttle": r.peak,
        "start-boost": r.boost,
        "charge-at-end-of-gear-change": r.at_gear_change,
        "valves": r.valves.iter().map(|valve| json!({
            "name": &*valve.name,
            "opens": valve.opens,
            "half-open": valve.half_open,
            "greatest-lift": valve.most_lift,
            "reopenings": valve.reopenings,
            "shuts": valve.shuts,
            "let-out": valve.masses.iter().map(|(to, mass)| json!({ "to": &**to, "mass": mass })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "metering": r.metering.as_ref().map(|m| json!({
            "window": m.window,
            "engine-air": m.drawn,
            "vented-metered-air": m.vented,
            "relieved-air": m.relieved,
            "reported-air": m.reported,
            "back-over-meter": m.back,
            "lambda-over-asked": m.lambda(),
        })),
    })
}

/// The run as JSON, the results of the same run without relief valves beside it. SI units.
pub fn json(run: &TipOut, bare: Option<&TipOut>) -> String {
    let columns = columns(run);
    let names: Vec<&str> = columns.iter().map(|(name, _)| name.as_str()).collect();
    let rows: Vec<Vec<Option<f64>>> = run
        .series
        .iter()
        .map(|moment| {
            columns.iter().map(|(_, value)| Some(value(moment)).filter(|v| v.is_finite())).collect()
        })
        .collect();
    let texts = |list: &[std::sync::Arc<str>]| list.iter().map(|one| one.to_string()).collect::<Vec<_>>();
    let value = json!({
        "format": 1,
        "site": &*run.demand.site,
        "start": run.demand.start.word(),
        "engine-speed": run.engine_speed,
        "throttle-shut": run.closing,
        "throttle-opens-again": run.reopens,
        "results": results(&run.results),
        "without-relief-valve": bare.map(|bare| results(&bare.results)),
        "warnings": texts(&run.warnings),
        "chosen": texts(&run.closures),
        "series": { "columns": names, "rows": rows },
    });
    let mut out = serde_json::to_string_pretty(&value).unwrap_or_default();
    out.push('\n');
    out
}

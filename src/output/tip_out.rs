//! A tip-out run for a person: events in words and numbers, a small picture, what rests on choices.

use std::fmt::Write as _;

use crate::model::{Moment, TipOut, TipOutResults, ValveResults};

use super::safe_text::one_line;

/// A pressure of a result, kPa.
fn kpa(pascal: f64) -> String {
    format!("{:.0} kPa", pascal / 1e3)
}

fn ms(seconds: f64) -> String {
    format!("{:.0} ms", seconds * 1e3)
}

fn rpm(radians: f64) -> String {
    format!("{:.0} rpm", radians * 30.0 / std::f64::consts::PI)
}

/// The run in words, the same run without relief valves beside it where it was made.
pub fn told(run: &TipOut, bare: Option<&TipOut>, width: usize) -> String {
    let mut out = String::new();
    let site = one_line(&run.demand.site);
    let _ = writeln!(
        out,
        "Tip-out (throttle shut at boost) from {}: {:.0} rpm, {} boost, site {site}",
        run.demand.start.word(),
        run.engine_speed * 60.0,
        kpa(run.results.boost),
    );
    let fitted = if run.valves.is_empty() {
        "no relief valve".to_owned()
    } else {
        let names: Vec<String> = run.valves.iter().map(|name| one_line(name)).collect();
        format!("with {}", names.join(", "))
    };
    let _ = writeln!(out, "\n{fitted}");
    for line in events(run) {
        let _ = writeln!(out, "  {line}");
    }
    if let Some(bare) = bare.filter(|_| !run.valves.is_empty()) {
        let _ = writeln!(out, "\nthe same without a relief valve");
        for line in events(bare) {
            let _ = writeln!(out, "  {line}");
        }
    }
    out.push('\n');
    out.push_str(&picture(&run.series, run.results.boost, width));
    if !run.warnings.is_empty() {
        out.push_str("\nto be known\n");
        for warning in &run.warnings {
            let _ = writeln!(out, "  {}", one_line(warning));
        }
    }
    out.push_str("\nwhat was chosen where nothing decides\n");
    for closure in &run.closures {
        let _ = writeln!(out, "  {}", one_line(closure));
    }
    out
}

/// What happened, in order of time where it has one.
fn events(run: &TipOut) -> Vec<String> {
    let r = &run.results;
    let mut timed: Vec<(f64, String)> = vec![(run.closing, format!("plate shut {}", ms(run.closing)))];
    for valve in &r.valves {
        timed.extend(valve_events(valve));
    }
    match r.crosses {
        Some(at) => timed.push((at, format!("the flow falls below that of the surge line {}", ms(at)))),
        None => timed
            .push((r.margin_at, format!("lowest flow {:.2} of surge flow at {}", r.margin, ms(r.margin_at)))),
    }
    timed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut lines: Vec<String> = timed.into_iter().map(|(_, line)| line).collect();
    lines.push(surge(r));
    lines.push(format!("highest pressure ahead of the throttle {} abs", kpa(r.peak)));
    lines.push(format!("rotor from {} to {} after 1.2 s", rpm(r.speeds.0), rpm(r.speeds.1)));
    if let Some(p) = r.at_gear_change {
        lines.push(format!("charge {} above the site when the gear-change ends", kpa(p)));
    }
    for valve in &r.valves {
        for (to, mass) in &valve.masses {
            lines.push(format!("{:.1} g let out to {}", mass * 1e3, one_line(to)));
        }
    }
    if let Some(metering) = &r.metering {
        lines.push(format!(
            "in {} the engine takes {:.1} g; of the metered air {:.1} g is vented: lambda at {:.2} of what was asked for",
            ms(metering.window),
            metering.drawn * 1e3,
            metering.vented * 1e3,
            metering.lambda()
        ));
        if metering.back > 1e-6 {
            lines.push(format!("{:.1} g run back over the air meter", metering.back * 1e3));
        }
    }
    lines
}

fn valve_events(valve: &ValveResults) -> Vec<(f64, String)> {
    let name = one_line(&valve.name);
    let Some(opens) = valve.opens else {
        return vec![(f64::MAX, format!("{name} stays shut"))];
    };
    let mut lines = vec![(opens, format!("{name} off its seat {}", ms(opens)))];
    if let Some(half) = valve.half_open {
        lines.push((half, format!("{name} half open {}", ms(half))));
    }
    if let Some(shuts) = valve.shuts {
        let again = if valve.reopenings > 0 {
            format!(" after {} reopenings", valve.reopenings)
        } else {
            String::new()
        };
        lines.push((shuts, format!("{name} shut again {}{again}", ms(shuts))));
    }
    lines
}

fn surge(r: &TipOutResults) -> String {
    let marginal = if r.is_marginal() { " (marginal: small changes decide it)" } else { "" };
    match r.cycles.as_slice() {
        [] if r.crosses.is_none() => format!("no surge{marginal}"),
        [] => format!("no surge cycle{marginal}; lowest flow {:.2} of surge flow", r.margin),
        cycles => {
            let swings: Vec<String> =
                cycles.iter().take(3).map(|cycle| format!("{:.0}", cycle.swing / 1e3)).collect();
            let deep = cycles.iter().filter(|cycle| cycle.deep).count();
            let frequency = r.frequency.map_or_else(String::new, |f| format!(", {f:.1} Hz"));
            let times = if cycles.len() == 1 { "once" } else { "times" };
            let count = if cycles.len() == 1 { String::new() } else { format!("{} ", cycles.len()) };
            let more = if cycles.len() > 3 { " ..." } else { "" };
            format!(
                "surges {count}{times}{frequency}, {deep} with the flow reversed; swings {}{more} kPa; {:.1} g run back through the wheel{marginal}",
                swings.join(", "),
                r.reversed * 1e3
            )
        }
    }
}

/// Rows of the picture.
const ROWS: usize = 8;
/// How much of a run is drawn, s.
const DRAWN: f64 = 0.6;

/// Flow over surge flow, and charge and manifold pressure, over time.
pub fn picture(series: &[Moment], boost: f64, width: usize) -> String {
    let columns = width.clamp(40, 80) - 12;
    let mut out = String::new();
    let share = |m: &Moment| m.share;
    out.push_str(&plot(series, columns, "flow / surge flow", (-1.0, 3.0), &[(share, '•')], Some(1.0)));
    let top = 2.0 * boost.max(1.0);
    let site = series.first().map_or(1e5, |m| m.p_throttle) - boost;
    let _ = site;
    let high = series.iter().map(|m| m.p2).fold(0.0, f64::max).max(top) / 1e3;
    let charge = |m: &Moment| m.p_throttle / 1e3;
    let manifold = |m: &Moment| m.p_manifold / 1e3;
    out.push_str(&plot(
        series,
        columns,
        "kPa abs: • ahead of the throttle, ∘ manifold",
        (0.0, high),
        &[(charge, '•'), (manifold, '∘')],
        None,
    ));
    out
}

type Curve = (fn(&Moment) -> f64, char);

fn plot(
    series: &[Moment],
    columns: usize,
    title: &str,
    (low, high): (f64, f64),
    curves: &[Curve],
    level: Option<f64>,
) -> String {
    let mut cells = vec![vec![' '; columns]; ROWS];
    let row_of = |value: f64| {
        let share = ((value - low) / (high - low)).clamp(0.0, 1.0);
        ROWS - 1 - ((share * ROWS as f64) as usize).min(ROWS - 1)
    };
    if let Some(row) = level.and_then(|level| cells.get_mut(row_of(level))) {
        row.fill('·');
    }
    for (curve, sign) in curves {
        for m in series.iter().filter(|m| m.time <= DRAWN) {
            let column = ((m.time / DRAWN * columns as f64) as usize).min(columns - 1);
            if let Some(cell) = cells.get_mut(row_of(curve(m))).and_then(|row| row.get_mut(column)) {
                *cell = *sign;
            }
        }
    }
    let mut out = format!("{title}\n");
    for (i, row) in cells.iter().enumerate() {
        let label = match i {
            0 => format!("{high:>8.1}"),
            _ if i == ROWS - 1 => format!("{low:>8.1}"),
            _ => " ".repeat(8),
        };
        let line: String = row.iter().collect();
        let _ = writeln!(out, "{label} │{}", line.trim_end());
    }
    let _ = writeln!(out, "{:>8} └{}", "", "─".repeat(columns));
    let _ =
        writeln!(out, "{:>10}0{:>width$}", "", format!("{} ms", (DRAWN * 1e3) as u32), width = columns - 1);
    out
}

//! A tip-out run for a person: events in words and numbers, a small picture, what rests on choices.

use std::fmt::Write as _;

use crate::model::{Moment, Surging, TipOut, ValveResults};

use super::safe_text::one_line;
use super::terminal::{CAUTIONS, wrap};

/// A pressure of a result, kPa.
fn kpa(pascal: f64) -> String {
    format!("{:.0} kPa", pascal / 1e3)
}

fn ms(seconds: f64) -> String {
    format!("{:.0} ms", seconds * 1e3)
}

fn rpm(radians: f64) -> String {
    // A rotor's speed to the nearest hundred is as much as the map bears.
    format!("{:.0} rpm", (radians * 0.3 / std::f64::consts::PI).round() * 100.0)
}

/// The run in words, the same run without relief valves beside it where it was made. `name` is the build's; `back` is how long
/// boost stays away once the throttle is open again, s, where it is known.
pub fn told(name: &str, run: &TipOut, bare: Option<&TipOut>, back: Option<f64>, width: usize) -> String {
    let mut out = String::new();
    let site = one_line(&run.demand.site);
    let head = format!(
        "{}: tip-out (throttle shut at boost) from {}, {:.0} rpm, {} boost, site {site}",
        one_line(name),
        run.demand.start.word(),
        run.engine_speed * 60.0,
        kpa(run.results.boost),
    );
    wrap(&mut out, &head, width);
    let fitted = if run.valves.is_empty() {
        "no relief valve".to_owned()
    } else {
        let names: Vec<String> = run.valves.iter().map(|name| one_line(name)).collect();
        format!("with {}", names.join(", "))
    };
    let _ = writeln!(out, "\n{fitted}");
    for line in events(run) {
        wrap(&mut out, &format!("  {line}"), width);
    }
    if let Some(bare) = bare.filter(|_| !run.valves.is_empty()) {
        let _ = writeln!(out, "\nthe same without a relief valve");
        for line in events(bare) {
            wrap(&mut out, &format!("  {line}"), width);
        }
    }
    if let Some(back) = back {
        let words = "after the throttle opens nine tenths of the boost are back: the worst over starts at boost and sites, with the \
                     wastegate shut, at the engine speed of before the change";
        out.push('\n');
        wrap(&mut out, &format!("at the latest {} {words}", ms(back)), width);
    }
    out.push('\n');
    out.push_str(&picture(&run.series, run.results.boost, width));
    if !run.warnings.is_empty() {
        out.push_str("\nto be known\n");
        for warning in &run.warnings {
            wrap(&mut out, &format!("  {}", one_line(warning)), width);
        }
    }
    out.push_str("\nwhat was chosen where nothing decides\n");
    for closure in &run.closures {
        wrap(&mut out, &format!("  {}", one_line(closure)), width);
    }
    out.push('\n');
    wrap(&mut out, CAUTIONS, width);
    out
}

/// What happened, in order of time where it has one.
fn events(run: &TipOut) -> Vec<String> {
    let r = &run.results;
    let mut timed: Vec<(f64, String)> = vec![(run.closing, format!("plate shut {}", ms(run.closing)))];
    if let Some(at) = run.reopens {
        timed.push((at, format!("throttle begins to open again {}", ms(at))));
    }
    for valve in &r.valves {
        timed.extend(valve_events(valve));
    }
    for wheel in r.compressors().filter(|wheel| wheel.driven) {
        let (peak, at) = wheel.peak;
        let name = one_line(&wheel.name);
        timed.push((at, format!("highest pressure behind {name} {} abs at {}", kpa(peak), ms(at))));
    }
    for wheel in r.compressors().filter(|wheel| !wheel.displaces) {
        let whose = whose(run, wheel);
        timed.push(match wheel.crosses {
            Some(at) => (at, format!("the flow{whose} falls below that of the surge line {}", ms(at))),
            None => (
                wheel.margin_at,
                format!("lowest flow{whose} {:.2} of surge flow at {}", wheel.margin, ms(wheel.margin_at)),
            ),
        });
    }
    timed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut lines: Vec<String> = timed.into_iter().map(|(_, line)| line).collect();
    lines.extend(r.compressors().map(|wheel| format!("{}{}", own(run, wheel), surge(wheel))));
    for wheel in r.compressors().filter(|wheel| wheel.blown_back > 1e-4) {
        lines.push(format!(
            "{}{:.1} g of it while another compressor sends air forward",
            own(run, wheel),
            wheel.blown_back * 1e3
        ));
    }
    lines.push(format!("highest pressure ahead of the throttle {} abs", kpa(r.peak)));
    lines.extend(r.compressors().map(|wheel| {
        let (before, after) = wheel.speeds;
        if wheel.driven && before == after {
            return format!("{}rotor held at {} by the engine", own(run, wheel), rpm(before));
        }
        format!("{}rotor from {} to {} after 1.2 s", own(run, wheel), rpm(before), rpm(after))
    }));
    if let Some(p) = r.at_gear_change {
        lines.push(format!("charge {} above the site when the gear-change ends", kpa(p)));
    }
    if let Some(last) = run.series.last().filter(|_| run.reopens.is_some()) {
        lines.push(format!("manifold {} abs at {}", kpa(last.p_manifold), ms(last.time)));
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

/// Whose flow it is, where there are several compressors.
fn whose(run: &TipOut, wheel: &Surging) -> String {
    if run.results.others.is_empty() { String::new() } else { format!(" through {}", one_line(&wheel.name)) }
}

/// The name ahead of what is told of a compressor, where there are several.
fn own(run: &TipOut, wheel: &Surging) -> String {
    if run.results.others.is_empty() { String::new() } else { format!("{}: ", one_line(&wheel.name)) }
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

fn surge(r: &Surging) -> String {
    if r.displaces {
        return "displaces its air: no surge line, and nothing runs back".to_owned();
    }
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
    let share = |m: &Moment| m.wheel.share;
    let beside = |m: &Moment| m.others.first().map_or(f64::NAN, |wheel| wheel.share);
    let several = series.first().is_some_and(|m| !m.others.is_empty());
    let (title, curves): (_, &[Curve]) = if several {
        ("flow / surge flow: • first, ∘ second compressor", &[(share, '•'), (beside, '∘')])
    } else {
        ("flow / surge flow", &[(share, '•')])
    };
    let surges = |m: &Moment| !m.wheel.share.is_nan() || m.others.iter().any(|other| !other.share.is_nan());
    if series.iter().any(surges) {
        out.push_str(&plot(series, columns, title, (-1.0, 3.0), curves, Some(1.0)));
    }
    let top = 2.0 * boost.max(1.0);
    let high = series.iter().map(|m| m.wheel.p2).fold(0.0, f64::max).max(top) / 1e3;
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
        for m in series.iter().filter(|m| m.time <= DRAWN && !curve(m).is_nan()) {
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

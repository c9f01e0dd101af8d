//! The numbers that pass: samples over the usual range, then each edge between a passing and a failing neighbour.

use super::Interval;
use super::bench::{Bench, Trial};
use crate::text::{Change, Measure, Quantity, Reference, Unit};

/// How many values are tried over the usual range before edges are looked for.
const SAMPLES: usize = 24;
/// Halvings or better that an edge gets at most.
const STEPS: usize = 60;
/// How near an edge is found, as a share of the value.
const NEARNESS: f64 = 1e-9;
/// The same where each value tried costs runs over time: what is told has three digits.
const SAMPLES_OF_RUNS: usize = 12;
const NEARNESS_OF_RUNS: f64 = 1e-3;

/// One search over one number.
pub(super) struct Line<'a, 'c> {
    pub(super) bench: &'a Bench<'a, 'c>,
    /// The range that is searched, in SI units.
    pub(super) range: Interval,
    /// The value now; it is tried too.
    pub(super) now: Option<f64>,
    /// The change that puts a number, in SI units, in its place.
    pub(super) change: &'a dyn Fn(f64) -> Change,
}

/// One value tried.
#[derive(Clone, Copy)]
pub(super) struct Tried {
    pub(super) x: f64,
    pub(super) trial: Trial,
}

impl Line<'_, '_> {
    fn try_at(&self, x: f64) -> Tried {
        Tried { x, trial: self.bench.trial(&(self.change)(x)) }
    }

    /// All passing ranges, rising.
    pub(super) fn passing(&self) -> Vec<Interval> {
        let Interval { low, high } = self.range;
        let samples = if self.bench.runs { SAMPLES_OF_RUNS } else { SAMPLES };
        let step = (high - low) / samples as f64;
        let mut at: Vec<f64> = (0..samples).map(|i| low + step * i as f64).chain([high]).collect();
        at.extend(self.now);
        at.sort_by(f64::total_cmp);
        at.dedup();
        let tried: Vec<Tried> = at.into_iter().map(|x| self.try_at(x)).collect();
        let mut passing: Vec<Interval> = Vec::new();
        let mut open: Option<f64> = None;
        for pair in tried.windows(2) {
            let &[a, b] = pair else { continue };
            match (a.trial.passes, b.trial.passes) {
                (true, true) => open = open.or(Some(a.x)),
                (true, false) => {
                    let edge = self.edge(a, b);
                    passing.push(Interval { low: open.take().unwrap_or(a.x), high: edge });
                }
                (false, true) => open = Some(self.edge(b, a)),
                (false, false) => {}
            }
        }
        if let (Some(low), Some(last)) = (open, tried.last()) {
            passing.push(Interval { low, high: last.x });
        }
        passing
    }

    /// The value nearest to the failing one that still passes: by the margin where it is a number on both sides, else
    /// by halving.
    pub(super) fn edge(&self, passes: Tried, fails: Tried) -> f64 {
        let nearness = if self.bench.runs { NEARNESS_OF_RUNS } else { NEARNESS };
        let tolerance = nearness * passes.x.abs().max(fails.x.abs());
        let (mut good, mut bad) = (passes, fails);
        for _ in 0..STEPS {
            if (good.x - bad.x).abs() <= tolerance {
                break;
            }
            let width = bad.x - good.x;
            if let (Some(g), Some(b)) = (good.trial.margin, bad.trial.margin)
                && g > b
            {
                let share = (g / (g - b)).clamp(1e-3, 1.0 - 1e-3);
                // A step that hugs one end is stretched a little past the root, so that both ends close in.
                for x in [good.x + width * share, good.x + width * (share + 1e-4).min(0.999_9)] {
                    if (x - good.x) * (x - bad.x) >= 0.0 {
                        continue;
                    }
                    let tried = self.try_at(x);
                    if tried.trial.passes { good = tried } else { bad = tried }
                }
            }
            if (good.x - bad.x).abs() > 0.5 * width.abs() {
                let tried = self.try_at(0.5 * (good.x + bad.x));
                if tried.trial.passes { good = tried } else { bad = tried }
            }
        }
        good.x
    }
}

/// How a number is written: its unit, and for a pressure what it is counted from.
pub(super) struct Told {
    unit: &'static Unit,
    suffix: &'static str,
    measure: Measure,
}

impl Told {
    /// In a unit, counted as another quantity of the same field is.
    pub(super) fn like(unit: &'static Unit, other: &Quantity, measure: Measure) -> Told {
        let suffix = match other.reference {
            Reference::Gauge => " gauge",
            Reference::Absolute => " abs",
            Reference::None | Reference::Difference => "",
        };
        Told { unit, suffix, measure }
    }

    /// The number in full, for searching.
    pub(super) fn exact(&self, si: f64) -> String {
        format!("{:?} {}{}", self.unit.from_si(si), self.unit.symbol, self.suffix)
    }

    /// The number as a person would write it.
    pub(super) fn write(&self, si: f64) -> String {
        let short = short(self.unit.from_si(si));
        if self.measure.takes_bare_number() && self.unit.symbol == "1" {
            short
        } else {
            format!("{short} {}{}", self.unit.symbol, self.suffix)
        }
    }
}

/// A number with at most six digits after the point, without noughts at its end.
fn short(number: f64) -> String {
    let text = format!("{number:.6}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if matches!(short, "-0" | "") { "0".to_owned() } else { short.to_owned() }
}

/// The value nearest to an end of an interval that has few digits in a unit and lies in the interval: three digits
/// where they do.
pub(super) fn round_into(interval: Interval, from_low: bool, unit: &Unit) -> f64 {
    let edge = if from_low { interval.low } else { interval.high };
    let number = unit.from_si(edge);
    let (one, other) = (unit.from_si(interval.low), unit.from_si(interval.high));
    let (low, high) = (one.min(other), one.max(other));
    if number == 0.0 {
        return edge;
    }
    let rising = (other >= one) == from_low;
    // The place of the first digit of a finite number lies within ±400.
    let first = number.abs().log10().floor() as i32;
    for digits in 2..=9 {
        let scale = 10_f64.powi(digits - first);
        let scaled = number * scale;
        let rounded = if rising { scaled.ceil() } else { scaled.floor() } / scale;
        if rounded >= low && rounded <= high {
            return unit.to_si(rounded);
        }
    }
    edge
}

/// An end that lies so near to a number of few digits, as a share of itself, is told as that number.
const TOLD_AS: f64 = 1e-6;

/// An interval in words, its ends rounded into it: `24 to 31 N`.
pub(super) fn interval_words(interval: Interval, unit: &Unit) -> String {
    let end = |from_low| {
        let edge = unit.from_si(if from_low { interval.low } else { interval.high });
        let plain: f64 = format!("{edge:.2e}").parse().unwrap_or(edge);
        let is_plain = (plain - edge).abs() <= TOLD_AS * edge.abs();
        short(if is_plain { plain } else { unit.from_si(round_into(interval, from_low, unit)) })
    };
    let (low, high) = (end(true), end(false));
    let (low, high) =
        if unit.from_si(interval.low) <= unit.from_si(interval.high) { (low, high) } else { (high, low) };
    let symbol = if unit.symbol == "1" { String::new() } else { format!(" {}", unit.symbol) };
    if low == high { format!("{low}{symbol}") } else { format!("{low} to {high}{symbol}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::unit;

    #[test]
    fn a_value_is_rounded_to_the_side_that_passes() {
        let mm = unit("mm").expect("a unit");
        let interval = Interval { low: 0.306_000_1, high: 0.9 };
        let low = round_into(interval, true, mm);
        assert!((low - 0.307).abs() < 1e-12, "{low}");
        let narrow = Interval { low: 0.306_01, high: 0.306_04 };
        let within = round_into(narrow, true, mm);
        assert!(narrow.low <= within && within <= narrow.high, "{within}");
        assert_eq!(interval_words(Interval { low: 0.024_01, high: 0.031_09 }, mm), "24.1 to 31 mm");
        assert_eq!(interval_words(Interval { low: 0.0, high: 0.0 }, mm), "0 mm");
        assert_eq!(
            interval_words(Interval { low: 0.25, high: 0.5 }, unit("1").expect("a unit")),
            "0.25 to 0.5"
        );
    }
}

//! Which of two numbers is the greater, when either may lie between bounds.

use std::fmt::Display;

use super::evaluate::Verdict;
use super::range::Range;
use super::tree::{Relation, Step};
use crate::known::{Missing, Num, Truth};

/// Two numbers compared: decided if everything they may be lies on one side.
pub(super) fn ordered(relation: Relation, texts: [&Step; 2], a: Range, b: Range) -> Verdict {
    let decided = match relation {
        Relation::Less => below(&a, &b, false),
        Relation::AtMost => below(&a, &b, true),
        Relation::More => below(&b, &a, false),
        Relation::AtLeast => below(&b, &a, true),
        Relation::Is | Relation::OneOf => equal(&a, &b),
        Relation::IsNot => equal(&a, &b).map(|(is, at_limit)| (!is, at_limit)),
    };
    match decided {
        Some((holds, at_limit)) => Verdict { truth: holds.into(), at_limit },
        None => {
            let mut missing = Missing::default();
            for (text, range) in texts.into_iter().zip([a, b]) {
                if range.missing == Missing::default() && !range.is_exact() {
                    missing = missing.join(Missing::hindrance(straddling(text, &range)));
                }
                missing = missing.join(range.missing);
            }
            Verdict::firm(Truth::Open(missing))
        }
    }
}

/// Whether `a < b` (or `a <= b`), and whether that would turn within the solver's own error.
fn below(a: &Range, b: &Range, or_equal: bool) -> Option<(bool, bool)> {
    if a.high.v < b.low.v || (or_equal && a.high.v == b.low.v) {
        Some((true, within_error(&a.high, &b.low)))
    } else if a.low.v > b.high.v || (!or_equal && a.low.v == b.high.v) {
        Some((false, within_error(&a.low, &b.high)))
    } else {
        None
    }
}

/// Whether two numbers are the same, and whether that would turn within the solver's own error.
fn equal(a: &Range, b: &Range) -> Option<(bool, bool)> {
    if a.is_exact() && b.is_exact() {
        Some((a.low.v == b.low.v, within_error(&a.low, &b.low)))
    } else if a.high.v < b.low.v {
        Some((false, within_error(&a.high, &b.low)))
    } else if b.high.v < a.low.v {
        Some((false, within_error(&b.high, &a.low)))
    } else {
        None
    }
}

fn within_error(a: &Num, b: &Num) -> bool {
    let error = a.err + b.err;
    error > 0.0 && (a.v - b.v).abs() <= error
}

/// How far a value is known, for a reader.
fn straddling(text: &dyn Display, range: &Range) -> String {
    let Range { low, high, .. } = range;
    match (low.v.is_finite(), high.v.is_finite()) {
        (true, true) => format!("`{text}` is known only to lie between {} and {}", in_si(low), in_si(high)),
        (true, false) => format!("`{text}` is known only to be at least {}", in_si(low)),
        (false, true) => format!("`{text}` is known only to be at most {}", in_si(high)),
        (false, false) => format!("`{text}` is not known"),
    }
}

/// A number in SI with four figures.
fn in_si(num: &Num) -> String {
    let digits = if num.v == 0.0 || !num.v.is_finite() {
        0
    } else {
        // Between 0 and 12, so that the conversion is exact.
        (3.0 - num.v.abs().log10().floor()).clamp(0.0, 12.0) as usize
    };
    let text = format!("{:.digits$}", num.v);
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if num.dim.is_one() { text.to_owned() } else { format!("{text} {}", num.dim) }
}

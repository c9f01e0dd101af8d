//! Comparisons as they were made, to show a number beside its limit.

use std::sync::Arc;

use super::range::{Gap, Range, both};
use super::tree::Relation;
use crate::known::{Datum, Known, Num, Truth};

/// One side of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Side {
    /// As the rule writes it.
    pub text: Arc<str>,
    /// What it came to.
    pub value: Known<Datum>,
}

/// A comparison that was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The left side.
    pub left: Side,
    /// How the sides stand if it holds.
    pub relation: Relation,
    /// The right side; for `in` the list, as text without a value.
    pub right: Side,
    /// Whether it holds.
    pub truth: Truth,
    /// Whether that would turn within the solver's own error.
    pub at_limit: bool,
    /// Whether its holding speaks for the whole condition, as it does but for one under a `!`.
    pub speaks_for: bool,
}

impl Comparison {
    /// How far the two numbers stand apart, in their unit: above nought on the side that speaks against the condition
    /// (for a `fails-when`, the good side), below nought on the other. Does not apply where numbers are not ordered.
    pub fn margin(&self) -> Known<Num> {
        if !self.relation.orders() {
            return Known::not_applicable("only numbers that are ordered have a margin");
        }
        let side = |side: &Side| match &side.value {
            Known::Is(Datum::Number(num)) => Ok(Range::exact(num.clone())),
            Known::Between(Datum::Number(low), Datum::Number(high)) => {
                Ok(Range::between(low.clone(), high.clone()))
            }
            Known::Open(missing) => Err(Gap::Open(missing.clone())),
            Known::NotApplicable(reason) => Err(Gap::NotApplicable(reason.clone())),
            Known::Is(_) | Known::Between(..) => Err(Gap::hindrance("not a number")),
        };
        let (left, right) = match both(side(&self.left), side(&self.right)) {
            Ok(sides) => sides,
            Err(gap) => return gap.into_known(),
        };
        let holds_below = matches!(self.relation, Relation::Less | Relation::AtMost);
        let margin = if holds_below == self.speaks_for {
            left.plus(right.negative())
        } else {
            right.plus(left.negative())
        };
        margin.into_known()
    }
}

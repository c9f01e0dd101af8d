//! Numbers that may lie between bounds, with the solver's error beside them, and arithmetic over them.

use crate::known::{Known, Missing, Num, Reason};
use crate::text::Dim;

/// Why there is no value.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Gap {
    Open(Missing),
    NotApplicable(Reason),
}

impl Gap {
    pub(super) fn hindrance(words: impl AsRef<str>) -> Self {
        Self::Open(Missing::hindrance(words))
    }

    /// What is missing weighs more than a reason not to apply, and is joined.
    pub(super) fn join(self, other: Self) -> Self {
        match (self, other) {
            (Self::Open(a), Self::Open(b)) => Self::Open(a.join(b)),
            (Self::NotApplicable(_), Self::Open(open)) => Self::Open(open),
            (first, _) => first,
        }
    }

    pub(super) fn into_known<T>(self) -> Known<T> {
        match self {
            Self::Open(missing) => Known::Open(missing),
            Self::NotApplicable(reason) => Known::NotApplicable(reason),
        }
    }
}

/// Both values, or what stands in the way of either.
pub(super) fn both<A, B>(a: Result<A, Gap>, b: Result<B, Gap>) -> Result<(A, B), Gap> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (Err(a), Err(b)) => Err(a.join(b)),
        (Err(gap), Ok(_)) | (Ok(_), Err(gap)) => Err(gap),
    }
}

/// A number between two bounds, both included; they are the same where it is known.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Range {
    pub(super) low: Num,
    pub(super) high: Num,
    /// What would bring the bounds together, where that is known.
    pub(super) missing: Missing,
}

/// The numerical error where a product of an infinite bound and nought would be none.
fn error(value: f64) -> f64 {
    if value.is_nan() { 0.0 } else { value }
}

fn number(v: f64, err: f64, dim: Dim, a: &Num, b: &Num) -> Num {
    let at = a.at.clone().or_else(|| b.at.clone());
    Num { v, dim, err: error(err), at }
}

fn plus(a: &Num, b: &Num) -> Num {
    // The number nought as written takes the other's dimension.
    let dim = if a.dim.is_one() { b.dim } else { a.dim };
    number(a.v + b.v, a.err + b.err, dim, a, b)
}

fn negative(a: &Num) -> Num {
    Num { v: -a.v, ..a.clone() }
}

/// A bound of nought times an infinite bound is nought: the infinite one only says that there is no bound.
fn times(a: &Num, b: &Num, dim: Dim) -> Num {
    let v = if a.v == 0.0 || b.v == 0.0 { 0.0 } else { a.v * b.v };
    let err = error(a.v.abs() * b.err) + error(b.v.abs() * a.err) + a.err * b.err;
    number(v, err, dim, a, b)
}

/// To first order in the errors.
fn over(a: &Num, b: &Num, dim: Dim) -> Num {
    let v = a.v / b.v;
    number(v, error(a.err / b.v.abs()) + error((v / b.v).abs() * b.err), dim, a, b)
}

impl Range {
    pub(super) fn exact(num: Num) -> Self {
        Self { low: num.clone(), high: num, missing: Missing::default() }
    }

    pub(super) fn between(low: Num, high: Num) -> Self {
        if low.v <= high.v {
            Self { low, high, missing: Missing::default() }
        } else {
            Self { low: high, high: low, missing: Missing::default() }
        }
    }

    pub(super) fn is_exact(&self) -> bool {
        self.low.v == self.high.v
    }

    /// The range, unless it is no number at all.
    pub(super) fn checked(self, what: &dyn std::fmt::Display) -> Result<Self, Gap> {
        if self.low.v.is_nan() || self.high.v.is_nan() {
            Err(Gap::hindrance(format!("`{what}` comes to no number")))
        } else {
            Ok(self)
        }
    }

    pub(super) fn plus(self, other: Self) -> Self {
        Self {
            low: plus(&self.low, &other.low),
            high: plus(&self.high, &other.high),
            missing: self.missing.join(other.missing),
        }
    }

    pub(super) fn negative(self) -> Self {
        Self { low: negative(&self.high), high: negative(&self.low), missing: self.missing }
    }

    pub(super) fn abs(self) -> Self {
        if self.low.v >= 0.0 {
            return self;
        }
        if self.high.v <= 0.0 {
            return self.negative();
        }
        let far = if -self.low.v > self.high.v { negative(&self.low) } else { self.high };
        Self { low: Num { v: 0.0, ..far.clone() }, high: far, missing: self.missing }
    }

    pub(super) fn times(self, other: Self) -> Self {
        let dim = self.low.dim.checked_mul(other.low.dim).unwrap_or(Dim::ONE);
        self.corners(other, |a, b| times(a, b, dim))
    }

    /// The quotient, unless the divisor may be nought.
    pub(super) fn over(self, other: Self, what: &dyn std::fmt::Display) -> Result<Self, Gap> {
        if other.low.v <= 0.0 && other.high.v >= 0.0 {
            let may = if other.is_exact() { "is" } else { "may be" };
            let words = format!("the divisor of `{what}` {may} nought");
            return Err(Gap::Open(Missing::hindrance(words).join(self.missing).join(other.missing)));
        }
        let dim = self.low.dim.checked_div(other.low.dim).unwrap_or(Dim::ONE);
        self.corners(other, |a, b| over(a, b, dim)).checked(what)
    }

    /// The hull of what `f` makes of the bounds, for an `f` that is monotone in each argument. A corner that is no
    /// number (an infinite bound over another) lies within the hull of the rest.
    fn corners(self, other: Self, f: impl Fn(&Num, &Num) -> Num) -> Self {
        let first = f(&self.low, &other.low);
        let rest = [f(&self.low, &other.high), f(&self.high, &other.low), f(&self.high, &other.high)];
        let mut hull = Self { low: first.clone(), high: first, missing: self.missing.join(other.missing) };
        for corner in rest {
            if hull.low.v.is_nan() || corner.v < hull.low.v {
                hull.low = corner.clone();
            }
            if hull.high.v.is_nan() || corner.v > hull.high.v {
                hull.high = corner;
            }
        }
        hull
    }

    pub(super) fn least(self, other: Self) -> Self {
        // Nought as written takes the other's dimension.
        let dim = if self.low.dim.is_one() { other.low.dim } else { self.low.dim };
        let lesser = |a: Num, b: Num| Num { dim, ..if b.v < a.v { b } else { a } };
        Self {
            low: lesser(self.low, other.low),
            high: lesser(self.high, other.high),
            missing: self.missing.join(other.missing),
        }
    }

    pub(super) fn greatest(self, other: Self) -> Self {
        self.negative().least(other.negative()).negative()
    }

    /// As a value to show.
    pub(super) fn into_known(self) -> Known<Num> {
        if self.is_exact() {
            Known::Is(self.low)
        } else if self.low.v.is_infinite() && self.high.v.is_infinite() && self.missing != Missing::default()
        {
            Known::Open(self.missing)
        } else {
            Known::Between(self.low, self.high)
        }
    }
}

impl TryFrom<Known<Num>> for Range {
    type Error = Gap;

    fn try_from(known: Known<Num>) -> Result<Self, Gap> {
        match known {
            Known::Is(num) => Ok(Self::exact(num)),
            Known::Between(low, high) => Ok(Self::between(low, high)),
            Known::Open(missing) => Err(Gap::Open(missing)),
            Known::NotApplicable(reason) => Err(Gap::NotApplicable(reason)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(low: f64, high: f64) -> Range {
        Range::between(Num::pure(low), Num::pure(high))
    }

    fn bounds(range: &Range) -> (f64, f64) {
        (range.low.v, range.high.v)
    }

    #[test]
    fn a_difference_takes_the_far_ends() {
        let difference = range(1.0, 2.0).plus(range(3.0, 5.0).negative());
        assert_eq!(bounds(&difference), (-4.0, -1.0));
    }

    #[test]
    fn a_product_over_a_change_of_sign_takes_the_hull() {
        assert_eq!(bounds(&range(-2.0, 3.0).times(range(-5.0, 1.0))), (-15.0, 10.0));
    }

    #[test]
    fn no_bound_stays_no_bound() {
        let open_above = range(2.0, f64::INFINITY);
        assert_eq!(bounds(&open_above.clone().times(range(0.0, 3.0))), (0.0, f64::INFINITY));
        let quotient =
            range(1.0, f64::INFINITY).over(open_above, &"a / b").expect("the divisor is above nought");
        assert_eq!(bounds(&quotient), (0.0, f64::INFINITY));
    }

    #[test]
    fn a_divisor_that_may_be_nought_leaves_it_open() {
        for divisor in [range(0.0, 0.0), range(-1.0, 1.0), range(0.0, 2.0)] {
            assert!(matches!(range(1.0, 1.0).over(divisor, &"a / b"), Err(Gap::Open(_))));
        }
    }

    #[test]
    fn the_size_of_a_range_about_nought_begins_at_nought() {
        assert_eq!(bounds(&range(-3.0, 2.0).abs()), (0.0, 3.0));
        assert_eq!(bounds(&range(-3.0, -2.0).abs()), (2.0, 3.0));
    }

    #[test]
    fn errors_add_in_sums_and_scale_in_products_and_quotients() {
        let a = || Range::exact(Num::pure(4.0).with_error(0.1));
        let b = || Range::exact(Num::pure(2.0).with_error(0.2));
        let close = |num: &Num, err: f64| assert!((num.err - err).abs() < 1e-12, "{} against {err}", num.err);
        close(&a().plus(b()).low, 0.3);
        close(&a().plus(b().negative()).low, 0.3);
        close(&a().times(b()).low, 4.0 * 0.2 + 2.0 * 0.1 + 0.02);
        close(&a().over(b(), &"a / b").expect("two is not nought").low, 0.1 / 2.0 + 2.0 / 2.0 * 0.2);
    }

    #[test]
    fn the_lesser_of_two_ranges_is_taken_end_by_end() {
        assert_eq!(bounds(&range(1.0, 9.0).least(range(2.0, 3.0))), (1.0, 3.0));
        assert_eq!(bounds(&range(1.0, 9.0).greatest(range(2.0, 3.0))), (2.0, 9.0));
    }
}

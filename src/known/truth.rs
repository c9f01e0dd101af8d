//! Truth of a condition when values may be unknown or may not apply.

use super::{Missing, Reason};

/// The four answers a condition can have.
#[derive(Clone, Debug, PartialEq)]
pub enum Truth {
    /// It holds.
    Yes,
    /// It does not hold.
    No,
    /// Not decided; with what would decide it.
    Open(Missing),
    /// The question does not arise; with why.
    NotApplicable(Reason),
}

impl Truth {
    /// Any no gives no; else what is unknown is joined; else a does-not-apply; else yes.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::No, _) | (_, Self::No) => Self::No,
            (Self::Open(a), Self::Open(b)) => Self::Open(a.join(b)),
            (Self::Open(a), _) | (_, Self::Open(a)) => Self::Open(a),
            (Self::NotApplicable(r), _) | (_, Self::NotApplicable(r)) => Self::NotApplicable(r),
            (Self::Yes, Self::Yes) => Self::Yes,
        }
    }

    /// The dual of [`Truth::and`]: any yes gives yes; else unknown; else does-not-apply; else no.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        self.not().and(other.not()).not()
    }

    /// Swaps yes and no; unknown stays unknown and does-not-apply stays so.
    #[must_use]
    #[allow(
        clippy::should_implement_trait,
        reason = "three-valued `not` reads beside `and` and `or`, and takes no operator"
    )]
    pub fn not(self) -> Self {
        match self {
            Self::Yes => Self::No,
            Self::No => Self::Yes,
            other => other,
        }
    }
}

impl From<bool> for Truth {
    fn from(value: bool) -> Self {
        if value { Self::Yes } else { Self::No }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::Route;

    fn open(text: &str) -> Truth {
        let route: Route = text.parse().expect("a test's own route");
        Truth::Open(Missing::field(&route))
    }

    fn never() -> Truth {
        Truth::NotApplicable(Reason::new("why"))
    }

    #[test]
    fn a_no_decides_whatever_else_is_unknown() {
        for other in [Truth::Yes, Truth::No, open("a"), never()] {
            assert_eq!(Truth::No.and(other.clone()), Truth::No);
            assert_eq!(other.clone().and(Truth::No), Truth::No);
            assert_eq!(Truth::Yes.or(other.clone()), Truth::Yes);
            assert_eq!(other.or(Truth::Yes), Truth::Yes);
        }
    }

    #[test]
    fn unknown_joins_and_outweighs_does_not_apply() {
        assert_eq!(open("a").and(never()), open("a"));
        assert_eq!(never().or(open("a")), open("a"));
        let Truth::Open(missing) = open("a").and(open("b")) else { panic!("must stay open") };
        assert_eq!(missing.fields.len(), 2);
    }

    #[test]
    fn does_not_apply_survives_yes_and_no_alike() {
        assert_eq!(Truth::Yes.and(never()), never());
        assert_eq!(Truth::No.or(never()), never());
        assert_eq!(never().not(), never());
    }
}

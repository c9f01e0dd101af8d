//! What is known of a value: itself, bounds, what would have to be described first, or that it does not apply.

use std::collections::BTreeSet;
use std::fmt;
use std::sync::Arc;

use crate::text::Route;

/// Why a value does not apply, as a clause a person reads ("nothing downstream can shut").
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reason(pub Arc<str>);

impl Reason {
    /// A reason from its words.
    pub fn new(words: impl AsRef<str>) -> Self {
        Self(Arc::from(words.as_ref()))
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What would have to be supplied before a value can be known.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Missing {
    /// Fields of the description that would supply it.
    pub fields: BTreeSet<Route>,
    /// Facts that are registered but whose computation does not exist yet.
    pub not_built: BTreeSet<&'static str>,
    /// What stands in the way when no field does (a value known only between bounds, an unsolvable point).
    pub hindrances: BTreeSet<Arc<str>>,
}

impl Missing {
    /// One field that is not given.
    pub fn field(route: &Route) -> Self {
        Self { fields: BTreeSet::from([route.clone()]), ..Self::default() }
    }

    /// A fact that is registered but not built yet.
    pub fn not_built(fact: &'static str) -> Self {
        Self { not_built: BTreeSet::from([fact]), ..Self::default() }
    }

    /// A hindrance that no field would lift.
    pub fn hindrance(words: impl AsRef<str>) -> Self {
        Self { hindrances: BTreeSet::from([Arc::from(words.as_ref())]), ..Self::default() }
    }

    /// Whether nothing is missing.
    pub fn is_nothing(&self) -> bool {
        self.fields.is_empty() && self.not_built.is_empty() && self.hindrances.is_empty()
    }

    /// Both together: neither is dispensable.
    #[must_use]
    pub fn join(mut self, other: Self) -> Self {
        self.fields.extend(other.fields);
        self.not_built.extend(other.not_built);
        self.hindrances.extend(other.hindrances);
        self
    }
}

/// A value with how far it is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Known<T> {
    /// The value itself.
    Is(T),
    /// It lies between two bounds, both included; a bound may be infinite.
    Between(T, T),
    /// Not known; with what would decide it.
    Open(Missing),
    /// The question does not arise.
    NotApplicable(Reason),
}

impl<T> Known<T> {
    /// Open for want of one field.
    pub fn missing(route: &Route) -> Self {
        Self::Open(Missing::field(route))
    }

    /// Does not apply, with the reason's words.
    pub fn not_applicable(words: impl AsRef<str>) -> Self {
        Self::NotApplicable(Reason::new(words))
    }

    /// Applies a rising function to the value or to both bounds.
    pub fn map<U>(self, f: impl Fn(T) -> U) -> Known<U> {
        match self {
            Self::Is(v) => Known::Is(f(v)),
            Self::Between(low, high) => Known::Between(f(low), f(high)),
            Self::Open(missing) => Known::Open(missing),
            Self::NotApplicable(reason) => Known::NotApplicable(reason),
        }
    }

    /// Goes on with an exact value; bounds are carried as not decided, since `f` need not be monotone.
    pub fn and_then<U>(self, f: impl FnOnce(T) -> Known<U>) -> Known<U> {
        match self {
            Self::Is(v) => f(v),
            Self::Between(..) => Known::Open(Missing::hindrance("known only between bounds")),
            Self::Open(missing) => Known::Open(missing),
            Self::NotApplicable(reason) => Known::NotApplicable(reason),
        }
    }

    /// Two values together. What either misses is joined; a missing field weighs more than a reason not to apply.
    pub fn zip<U>(self, other: Known<U>) -> Known<(T, U)>
    where
        T: Clone,
        U: Clone,
    {
        match (self, other) {
            (Self::Open(a), Known::Open(b)) => Known::Open(a.join(b)),
            (Self::Open(a), _) => Known::Open(a),
            (_, Known::Open(b)) => Known::Open(b),
            (Self::NotApplicable(r), _) => Known::NotApplicable(r),
            (_, Known::NotApplicable(r)) => Known::NotApplicable(r),
            (Self::Is(a), Known::Is(b)) => Known::Is((a, b)),
            (Self::Is(a), Known::Between(b0, b1)) => Known::Between((a.clone(), b0), (a, b1)),
            (Self::Between(a0, a1), Known::Is(b)) => Known::Between((a0, b.clone()), (a1, b)),
            (Self::Between(a0, a1), Known::Between(b0, b1)) => Known::Between((a0, b0), (a1, b1)),
        }
    }

    /// The same over references.
    pub fn as_ref(&self) -> Known<&T> {
        match self {
            Self::Is(v) => Known::Is(v),
            Self::Between(low, high) => Known::Between(low, high),
            Self::Open(missing) => Known::Open(missing.clone()),
            Self::NotApplicable(reason) => Known::NotApplicable(reason.clone()),
        }
    }

    /// The exact value, if it is known exactly.
    pub fn exact(&self) -> Option<&T> {
        match self {
            Self::Is(v) => Some(v),
            _ => None,
        }
    }

    /// What is missing, if anything is.
    pub fn what_is_missing(&self) -> Option<&Missing> {
        match self {
            Self::Open(missing) => Some(missing),
            _ => None,
        }
    }
}

/// Gathers many values into one: all of them, or everything that any of them misses.
impl<T> FromIterator<Known<T>> for Known<Vec<T>> {
    fn from_iter<I: IntoIterator<Item = Known<T>>>(iter: I) -> Self {
        let mut values = Vec::new();
        let mut missing: Option<Missing> = None;
        let mut reason = None;
        for item in iter {
            match item {
                Known::Is(v) => values.push(v),
                Known::Between(..) => {
                    let new = Missing::hindrance("known only between bounds");
                    missing = Some(missing.unwrap_or_default().join(new));
                }
                Known::Open(m) => missing = Some(missing.unwrap_or_default().join(m)),
                Known::NotApplicable(r) => reason = reason.or(Some(r)),
            }
        }
        match (missing, reason) {
            (Some(missing), _) => Known::Open(missing),
            (None, Some(reason)) => Known::NotApplicable(reason),
            (None, None) => Known::Is(values),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn route(text: &str) -> Route {
        text.parse().expect("a test's own route")
    }

    #[test]
    fn what_both_sides_miss_is_joined() {
        let a: Known<f64> = Known::missing(&route("parts.a.bore"));
        let b: Known<f64> = Known::missing(&route("parts.b.bore"));
        let joined = a.zip(b);
        assert_eq!(joined.what_is_missing().map(|m| m.fields.len()), Some(2));
    }

    #[test]
    fn a_missing_field_outweighs_a_reason_not_to_apply() {
        let a: Known<f64> = Known::not_applicable("no throttle");
        let b: Known<f64> = Known::missing(&route("air-path"));
        assert!(a.zip(b).what_is_missing().is_some());
    }

    #[test]
    fn bounds_are_carried_through_a_rising_function() {
        let v = Known::Between(1.0, 2.0).map(|x: f64| x * 3.0);
        assert_eq!(v, Known::Between(3.0, 6.0));
    }
}

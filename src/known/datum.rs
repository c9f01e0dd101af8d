//! What a fact's value is made of: numbers with unit and error, booleans, words.

use std::fmt;
use std::sync::Arc;

use crate::text::Dim;

/// The circumstances at which a worst case was found.
#[derive(Clone, Debug, PartialEq)]
pub struct At {
    /// Name of the site; the build's own is called `home`.
    pub site: Arc<str>,
    /// Whether that is the build's own site.
    pub home: bool,
    /// Engine speed in revolutions per second, where the value belongs to an operating point.
    pub speed: Option<f64>,
}

/// A number in SI units with its dimension.
#[derive(Clone, Debug, PartialEq)]
pub struct Num {
    /// Value in SI units; may be infinite as a bound, never NaN.
    pub v: f64,
    /// Dimension.
    pub dim: Dim,
    /// Numerical error of the solver that made it, in SI units, zero or above.
    pub err: f64,
    /// Where it is worst, for worst cases.
    pub at: Option<At>,
}

impl Num {
    /// An exact number.
    pub fn new(v: f64, dim: Dim) -> Self {
        Self { v, dim, err: 0.0, at: None }
    }

    /// A pure number.
    pub fn pure(v: f64) -> Self {
        Self::new(v, Dim::ONE)
    }

    /// The same number, worst at the given circumstances.
    #[must_use]
    pub fn at(mut self, at: At) -> Self {
        self.at = Some(at);
        self
    }

    /// The same number with the solver's error beside it.
    #[must_use]
    pub fn with_error(mut self, err: f64) -> Self {
        self.err = err;
        self
    }
}

/// Kind of a value in the rule language; booleans and words count as dimensions of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A number of this dimension; pure numbers have the dimension 1.
    Number(Dim),
    /// Yes or no.
    Bool,
    /// One word out of a few.
    Word,
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(dim) if *dim == Dim::ONE => f.write_str("a pure number"),
            Self::Number(dim) => write!(f, "a number in {dim}"),
            Self::Bool => f.write_str("yes or no"),
            Self::Word => f.write_str("a word"),
        }
    }
}

/// A fact's value.
#[derive(Clone, Debug, PartialEq)]
pub enum Datum {
    /// A number.
    Number(Num),
    /// Yes or no.
    Bool(bool),
    /// One word out of a few.
    Word(Arc<str>),
}

impl Datum {
    /// Its kind, dimension included.
    pub fn kind(&self) -> Kind {
        match self {
            Self::Number(n) => Kind::Number(n.dim),
            Self::Bool(_) => Kind::Bool,
            Self::Word(_) => Kind::Word,
        }
    }

    /// A word.
    pub fn word(text: impl AsRef<str>) -> Self {
        Self::Word(Arc::from(text.as_ref()))
    }

    /// The number, if it is one.
    pub fn as_number(&self) -> Option<&Num> {
        match self {
            Self::Number(n) => Some(n),
            _ => None,
        }
    }
}

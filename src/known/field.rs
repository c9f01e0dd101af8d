//! A field of the description: its value if it has one, and where it stands or would stand.

use super::{Known, Read, Reads};
use crate::text::Route;

/// How a field was found in the text.
#[derive(Clone, Debug, PartialEq)]
pub enum State<T> {
    /// It is written and could be read.
    Given(T),
    /// It is not written.
    Absent,
    /// It is said to be `none`: known to be absent.
    SaidNone,
    /// It is written but could not be read; a fault says why.
    Faulty,
}

/// A field of the description. It can only be looked at through a reader that records the look.
#[derive(Clone, Debug, PartialEq)]
pub struct Field<T> {
    route: Route,
    state: State<T>,
}

impl<T> Field<T> {
    /// A field as the reader found it.
    pub fn new(route: Route, state: State<T>) -> Self {
        Self { route, state }
    }

    /// Where it stands, or would stand.
    pub fn route(&self) -> &Route {
        &self.route
    }

    /// Whether something readable is written there, recorded like any look.
    pub fn is_given(&self, reads: &dyn Reads) -> bool {
        reads.note(Read::Field(self.route.clone()));
        matches!(self.state, State::Given(_))
    }

    /// How it was found, recorded; for questions that turn on absence or `none`.
    pub fn state(&self, reads: &dyn Reads) -> &State<T> {
        reads.note(Read::Field(self.route.clone()));
        &self.state
    }

    /// The value, recorded: open when it is absent or faulty, does not apply when it is said to be `none`.
    pub fn get(&self, reads: &dyn Reads) -> Known<&T> {
        reads.note(Read::Field(self.route.clone()));
        match &self.state {
            State::Given(value) => Known::Is(value),
            State::Absent | State::Faulty => Known::missing(&self.route),
            State::SaidNone => Known::not_applicable(format!("{} is said to be none", self.route)),
        }
    }

    /// The value, or a default that stands in when the field is absent; the default is recorded so that a result can
    /// name it. A faulty field is never defaulted.
    pub fn get_or(&self, reads: &dyn Reads, default: T, words: &str) -> Known<T>
    where
        T: Clone,
    {
        match self.state(reads) {
            State::Absent => {
                reads.note(Read::Default { field: self.route.clone(), words: words.into() });
                Known::Is(default)
            }
            _ => self.get(reads).map(Clone::clone),
        }
    }
}

//! The one door between computation and description.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Missing, Num, Setting};
use crate::text::{Route, Span};

/// One thing that a computation looked at.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Read {
    /// A field, whether it was there or not.
    Field(Route),
    /// A default that stood in for an absent field.
    Default {
        /// The absent field.
        field: Route,
        /// What stood in, in words ("25 degC, as no reference state is given").
        words: Arc<str>,
    },
    /// A named setting.
    Setting(Setting),
    /// What a value that is known only between bounds lacks to be known exactly.
    Lacking(Missing),
}

/// What everything above the description reads it through; each look is recorded.
pub trait Reads {
    /// Records one look.
    fn note(&self, read: Read);
    /// The value of a setting, recorded.
    fn setting(&self, setting: Setting) -> Num;
}

/// Which file decided a limit, a setting or a level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Decider {
    /// The rule's own file, or of a setting the program.
    Rule,
    /// The house file.
    House,
    /// The build.
    Build,
}

impl Decider {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rule => "rule",
            Self::House => "house",
            Self::Build => "build",
        }
    }
}

/// A value that a build or a house puts in the place of a setting's default, with its reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Overridden {
    /// The value in SI units.
    pub value: Num,
    /// The value as written.
    pub written: Arc<str>,
    /// Why, in its author's words.
    pub because: Arc<str>,
    /// Who put it there.
    pub by: Decider,
    /// Whether no build may change it.
    pub locked: bool,
    /// Where it is written.
    pub route: Route,
    /// The place of its name there.
    pub span: Span,
}

/// Changed settings, by setting.
pub type Overrides = BTreeMap<Setting, Overridden>;

/// A reader that records nothing: for the reader's own checks and for tests.
#[derive(Clone, Copy, Debug, Default)]
pub struct Unrecorded;

impl Reads for Unrecorded {
    fn note(&self, _: Read) {}

    fn setting(&self, setting: Setting) -> Num {
        setting.default_value()
    }
}

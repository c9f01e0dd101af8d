//! The one door between computation and description.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Missing, Num, Setting};
use crate::text::Route;

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

/// A value that a build or a house puts in the place of a setting's default, with its reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Overridden {
    /// The value in SI units.
    pub value: Num,
    /// Why, in its author's words.
    pub because: Arc<str>,
    /// Where it is written.
    pub route: Route,
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

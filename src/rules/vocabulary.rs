//! The two doors through which rules meet facts: what may be named, and what it is worth.

use std::sync::Arc;

use crate::known::{Datum, Decider, Kind, Known, Num};
use crate::text::{Dim, Route};
use crate::tract::SubjectKind;

/// What may be named in a rule. It is asked while a rule is loaded, so that a misspelt name is refused there and not
/// met on the road.
///
/// Names of facts and settings are given as expressions write them, with underscores; links as routes write them,
/// with hyphens.
pub trait Vocabulary: Sync {
    /// The kind of a fact, if a subject of this kind has it.
    fn fact(&self, on: SubjectKind, name: &str) -> Option<Kind>;
    /// All facts that a subject of this kind has.
    fn facts(&self, on: SubjectKind) -> Vec<&'static str>;
    /// The kind of a setting, if there is one of this name.
    fn setting(&self, name: &str) -> Option<Kind>;
    /// All settings.
    fn settings(&self) -> Vec<&'static str>;
    /// Whether a subject of this kind has a link of this name: a way to another place of the description that follows
    /// from how the tract hangs together ("host": the part that carries the tap).
    fn link(&self, on: SubjectKind, name: &str) -> bool;
    /// All links of a subject of this kind.
    fn links(&self, on: SubjectKind) -> Vec<&'static str>;
    /// Whether a place can exist below a subject of this kind, or below the place one of its links leads to, as the
    /// types of the description say.
    fn route_ok(&self, on: SubjectKind, link: Option<&str>, below: &Route) -> bool;
    /// The dimension of the field at such a place, where its type says it.
    fn route_dim(&self, _on: SubjectKind, _link: Option<&str>, _below: &Route) -> Option<Dim> {
        None
    }
}

/// Whose fact is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Whose {
    /// That of the subject that the rule is asked of: `it.…`.
    It,
    /// That of the whole build: `build.…`.
    Build,
}

impl Whose {
    /// The word before the dot.
    pub fn word(self) -> &'static str {
        match self {
            Self::It => "it",
            Self::Build => "build",
        }
    }

    /// The kind of subject meant in a rule that is bound to `for_each`.
    pub fn kind(self, for_each: SubjectKind) -> SubjectKind {
        match self {
            Self::It => for_each,
            Self::Build => SubjectKind::Build,
        }
    }
}

/// What stands in the place of a rule's limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Override {
    /// The value.
    pub num: Num,
    /// The value as written.
    pub written: Arc<str>,
    /// Who put it there.
    pub by: Decider,
    /// Why.
    pub because: Arc<str>,
}

/// The values while one rule judges one subject.
pub trait Values {
    /// The value of a fact.
    fn fact(&self, whose: Whose, name: &str) -> Known<Datum>;
    /// The value of a setting.
    fn setting(&self, name: &str) -> Known<Datum>;
    /// What the house or the build puts in the place of this rule's limit, by the limit's name as the rule file
    /// writes it.
    fn limit_override(&self, limit: &str) -> Option<Override>;
}

//! What a rule comes to for one subject.

use std::sync::Arc;

use super::expression::Comparison;
use super::vocabulary::Override;
use crate::known::{Known, Missing, Num, Reason};

/// The answer of one rule for one subject, before silencing and acceptance.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// The fault is there.
    Fail,
    /// The condition holds, and a person has to judge it.
    Review,
    /// The fault is not there.
    Pass,
    /// Not decided; with what would decide it.
    Open(Missing),
    /// The question does not arise; with why.
    NotApplicable(Reason),
}

impl Outcome {
    /// The word that the cases of a rule use for it.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Fail => "fail",
            Self::Review => "review",
            Self::Pass => "pass",
            Self::Open(_) => "open",
            Self::NotApplicable(_) => "not-applicable",
        }
    }
}

/// A limit as it stood while a subject was judged.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitUsed {
    /// Its name as the rule file writes it.
    pub name: Arc<str>,
    /// Its value.
    pub value: Known<Num>,
    /// The key that picked the value, for a limit by key.
    pub key: Option<Arc<str>>,
    /// The rule's own value, where the house or the build has put another in its place.
    pub instead_of: Option<Known<Num>>,
    /// What they put there.
    pub changed: Option<Override>,
}

/// An outcome with what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// The outcome.
    pub outcome: Outcome,
    /// Whether the rule of thumb spoke because the computation could not.
    pub fallback_spoke: bool,
    /// Whether the outcome would turn within the solver's own error.
    pub at_limit: bool,
    /// The comparisons that were made on the way to the outcome, in the order written: those of `fails-when`, or of
    /// `fallback` where it spoke, or of `applies-when` where that shut the question out. Of an open result they are
    /// all that were tried.
    pub comparisons: Vec<Comparison>,
    /// The limits of the rule that those comparisons read.
    pub limits: Vec<LimitUsed>,
}

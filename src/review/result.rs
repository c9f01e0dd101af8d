//! One rule's answer for one subject, placed in the text.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::cures::FoundCure;
use crate::known::{At, Missing};
use crate::rules::{Judgement, Outcome, Role, Rule};
use crate::text::{Route, Span};
use crate::tract::Subject;

/// A place in the text with what a finding says there.
#[derive(Clone, Debug)]
pub struct PlacedMark {
    /// The route that is meant.
    pub route: Route,
    /// The bytes to mark.
    pub span: Span,
    /// Whether the route is written; else the nearest thing above it is marked.
    pub given: bool,
    /// Where the marked thing is defined, when an alias brought it.
    pub defined_at: Option<Span>,
    /// What it says.
    pub says: String,
    /// Main place, or one that takes part.
    pub role: Role,
}

/// What a result counts as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// A finding.
    Fail,
    /// A person has to judge.
    Review,
    /// Checked, and right.
    Pass,
    /// Not decided.
    Open,
    /// The question does not arise.
    NotApplicable,
    /// Not shown, since a rule that says more of the same subject has failed.
    Silenced,
}

impl Verdict {
    /// What people read.
    pub fn words(self) -> &'static str {
        match self {
            Self::Fail => "a finding",
            Self::Review => "for a person to judge",
            Self::Pass => "passed",
            Self::Open => "undecided",
            Self::NotApplicable => "does not apply",
            Self::Silenced => "silenced",
        }
    }

    /// Its word in machine-read output.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fail => "fail",
            Self::Review => "review",
            Self::Pass => "pass",
            Self::Open => "open",
            Self::NotApplicable => "notApplicable",
            Self::Silenced => "silenced",
        }
    }
}

/// One rule's answer for one subject.
#[derive(Clone, Debug)]
pub struct RuleResult {
    /// The rule.
    pub rule: Arc<Rule>,
    /// The subject.
    pub subject: Subject,
    /// What it came to, and on what it rests.
    pub judgement: Judgement,
    /// The rule that silences it.
    pub silenced_by: Option<Arc<str>>,
    /// Places, the main one first; of findings, reviews and open results.
    pub marks: Vec<PlacedMark>,
    /// The circumstances of the worst case that decided.
    pub worst_at: Option<At>,
    /// Of a finding at another site: whether it passes at home.
    pub passes_at_home: Option<bool>,
    /// Defaults that stood in for absent fields.
    pub defaults: BTreeMap<Route, Arc<str>>,
    /// What is missing, of an open result.
    pub missing: Missing,
    /// Cures that were found.
    pub cures: Vec<FoundCure>,
    /// Whether no cure was searched, as there are too many findings.
    pub cure_left_out: bool,
}

impl RuleResult {
    /// What it counts as.
    pub fn verdict(&self) -> Verdict {
        if self.silenced_by.is_some() {
            return Verdict::Silenced;
        }
        match self.judgement.outcome {
            Outcome::Fail => Verdict::Fail,
            Outcome::Review => Verdict::Review,
            Outcome::Pass => Verdict::Pass,
            Outcome::Open(_) => Verdict::Open,
            Outcome::NotApplicable(_) => Verdict::NotApplicable,
        }
    }

    /// The place it is filed under: its main mark, else its subject.
    pub fn main_route(&self) -> &Route {
        self.marks.first().map_or(&self.subject.route, |mark| &mark.route)
    }

    /// The level's word, none for anything but a finding.
    pub fn level_word(&self) -> &'static str {
        if self.verdict() == Verdict::Fail { self.rule.level.word() } else { "none" }
    }
}

//! One rule's answer for one subject, placed in the text.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::accept::Acceptance;
use super::cures::FoundCure;
use crate::known::{At, Missing, Overrides};
use crate::rules::{Judgement, Level, Outcome, Role, Rule};
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
    /// Whether it names values, all of which are known: then an open result tells them too.
    pub known: bool,
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
    /// What an outcome counts as by itself.
    pub fn of(outcome: &Outcome) -> Self {
        match outcome {
            Outcome::Fail => Self::Fail,
            Outcome::Review => Self::Review,
            Outcome::Pass => Self::Pass,
            Outcome::Open(_) => Self::Open,
            Outcome::NotApplicable(_) => Self::NotApplicable,
        }
    }

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

    /// The same in one word or two.
    pub fn short(self) -> &'static str {
        match self {
            Self::NotApplicable => "not applicable",
            other => other.word(),
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

/// That the house gives a rule another level.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LevelChange {
    /// The level in the rule's own file.
    pub own: Level,
    /// Why.
    pub because: Arc<str>,
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
    /// Whose results the rule's `silences` reaches: the subject's, and of a relief valve those of the compressors whose
    /// air it lets out. Empty where the rule silences nothing.
    pub speaks_for: Vec<Route>,
    /// The rule that silences it.
    pub silenced_by: Option<Arc<str>>,
    /// That it is accepted, of a finding or of what a person has to judge.
    pub accepted: Option<Acceptance>,
    /// The rule's level, where the house has changed it.
    pub level_change: Option<LevelChange>,
    /// Settings on the way to it that house or build have changed.
    pub settings: Overrides,
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
    /// How many changed builds were looked at in the search for them.
    pub tried: usize,
    /// Whether no cure was searched, as there are too many findings.
    pub cure_left_out: bool,
}

impl RuleResult {
    /// What it counts as.
    pub fn verdict(&self) -> Verdict {
        if self.silenced_by.is_some() {
            return Verdict::Silenced;
        }
        Verdict::of(&self.judgement.outcome)
    }

    /// Whether it is a finding that nobody has accepted.
    pub fn speaks(&self) -> bool {
        self.verdict() == Verdict::Fail && self.accepted.is_none()
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

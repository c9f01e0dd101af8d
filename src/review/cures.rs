//! Cures: what a rule names is changed, what passes is found, and the nearest of it is proved by reviewing the changed
//! build with all rules.

mod bench;
mod cap;
mod number;
mod reach;
mod set;
mod together;
mod vary;

use std::collections::BTreeMap;
use std::sync::Arc;

use super::result::{RuleResult, Verdict};
use super::run::Reviewer;
use super::values::SubjectValues;
use crate::build::files::Files;
use crate::facts::{Scope, Sites};
use crate::known::Known;
use crate::rules::{Cure, RouteExpr, Rule};
use crate::text::{Change, Measure, Route, Unit};
use bench::Bench;
pub use reach::{Reach, Reaches, reaches};
pub use together::{CannotVary, Ending, MOST_NUMBERS, MOST_REVIEWS, Puller, Together, Varied};

/// A range of values, in SI units, that passes; it may be one value wide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lowest value.
    pub low: f64,
    /// Highest value.
    pub high: f64,
}

/// What a change would do to another result.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Upset {
    /// The rule.
    pub rule: Arc<str>,
    /// The subject.
    pub subject: Route,
    /// What it came to before; `None` when it is new.
    pub before: Option<Verdict>,
    /// What it comes to then; `None` when it is gone.
    pub after: Option<Verdict>,
}

impl Upset {
    /// Whether it is for the worse: a finding, or a question for a person or for want of data, that was not shown
    /// before.
    pub fn is_worse(&self) -> bool {
        let weight = |verdict: Option<Verdict>| match verdict {
            None | Some(Verdict::Pass | Verdict::NotApplicable | Verdict::Silenced) => 0,
            Some(Verdict::Open) => 1,
            Some(Verdict::Review) => 2,
            Some(Verdict::Fail) => 3,
        };
        // A question that comes up with a new subject is no worse than the silence before it.
        let new_question = self.before.is_none() && self.after == Some(Verdict::Open);
        !new_question && weight(self.after) > weight(self.before)
    }
}

/// What reviewing the changed build showed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proof {
    /// Whether the finding is gone, and the description has no fault that it had not before.
    pub passes: bool,
    /// Everything else that changes.
    pub upsets: Vec<Upset>,
}

impl Proof {
    /// Whether the finding goes and nothing else gets worse.
    pub fn is_clean(&self) -> bool {
        self.passes && !self.upsets.iter().any(Upset::is_worse)
    }
}

/// The number that a cure found.
#[derive(Clone, Debug)]
pub struct FoundNumber {
    /// Its measure.
    pub measure: Measure,
    /// The unit that it is told in.
    pub unit: &'static Unit,
    /// The value now, if it is given; of a table the largest of the entries that are cut.
    pub now: Option<f64>,
    /// The nearest value that passes, rounded to the safe side.
    pub to: f64,
    /// All ranges that pass within the usual range, rising.
    pub passing: Vec<Interval>,
}

impl FoundNumber {
    /// The ranges that pass, in words: `24 to 31 N or 40 to 44 N`. Each is rounded into itself.
    pub fn ranges(&self) -> String {
        let ranges = self.passing.iter().map(|interval| number::interval_words(*interval, self.unit));
        ranges.collect::<Vec<_>>().join(" or ")
    }
}

/// A cure that was found.
#[derive(Clone, Debug)]
pub struct FoundCure {
    /// The field, or the table.
    pub route: Route,
    /// What is changed.
    pub change: Change,
    /// What is put there, as it would be written.
    pub written: String,
    /// The number, where it is one that was looked for.
    pub number: Option<FoundNumber>,
    /// In words.
    pub says: String,
    /// Whether it takes another part, so that the text alone must not be changed.
    pub another_part: bool,
    /// What reviewing the changed build showed.
    pub proof: Proof,
}

/// Results by rule and subject, for comparing.
pub type Verdicts = BTreeMap<(Arc<str>, Route), (Verdict, &'static str)>;

/// What every result counts as, by rule and subject.
pub fn verdicts(results: &[RuleResult]) -> Verdicts {
    results
        .iter()
        .map(|result| {
            ((result.rule.id.clone(), result.subject.route.clone()), (result.verdict(), result.level_word()))
        })
        .collect()
}

/// What differs between two reviews, but for one result.
pub(super) fn upsets(before: &Verdicts, after: &Verdicts, but: Option<&(Arc<str>, Route)>) -> Vec<Upset> {
    let keys = before.keys().chain(after.keys().filter(|key| !before.contains_key(*key)));
    keys.filter(|key| Some(*key) != but && before.get(*key) != after.get(*key))
        .map(|key| Upset {
            rule: key.0.clone(),
            subject: key.1.clone(),
            before: before.get(key).map(|(verdict, _)| *verdict),
            after: after.get(key).map(|(verdict, _)| *verdict),
        })
        .collect()
}

/// What differs between a review of a build and one of another state of it.
pub fn differences(before: &[RuleResult], after: &[RuleResult]) -> Vec<Upset> {
    upsets(&verdicts(before), &verdicts(after), None)
}

/// Searches all cures that the rule of a finding names, and says how many changed builds were looked at. `before` are the
/// results of all rules.
pub fn search(
    reviewer: &Reviewer<'_>,
    scope: &Scope<'_>,
    files: &Files,
    result: &RuleResult,
    before: &Verdicts,
) -> (Vec<FoundCure>, usize) {
    let rule = result.rule.clone();
    let values = SubjectValues::new(scope, &result.subject, &rule.id, Sites::All);
    let mut bench = Bench::new(reviewer, files, result, before, &values);
    let mut found = Vec::new();
    for cure in &rule.cures {
        bench.also.clear();
        bench.narrow(matches!(cure, Cure::Vary { .. }));
        let first = search_one(&bench, cure);
        bench.also = first.as_ref().map(|first| woken(reviewer, result, first)).unwrap_or_default();
        let further = if bench.also.is_empty() { None } else { search_one(&bench, cure) };
        found.extend(first.into_iter().chain(further));
    }
    (found, bench.tried.get())
}

fn search_one(bench: &Bench<'_, '_>, cure: &Cure) -> Option<FoundCure> {
    match cure {
        Cure::Vary { route, says, another_part } => {
            let found = vary::search(bench, &place(route, bench)?, says)?;
            Some(FoundCure { another_part: *another_part, ..found })
        }
        Cure::Set { route, among, says } => set::search(bench, &place(route, bench)?, among, says),
        Cure::Cap { route, below, says } => cap::search(bench, &place(route, bench)?, below, says),
    }
}

/// The rules that this one silenced and that find their fault once it is silent: a further cure may content them too. Those that
/// read a run over time are left to the proof, which tells them: each value tried would cost seconds.
fn woken(reviewer: &Reviewer<'_>, result: &RuleResult, cure: &FoundCure) -> Vec<Arc<Rule>> {
    let wakes = |upset: &&Upset| {
        upset.is_worse()
            && result.speaks_for.contains(&upset.subject)
            && result.rule.silences.contains(&upset.rule)
    };
    let woken = cure.proof.upsets.iter().filter(wakes).filter_map(|upset| reviewer.rule(&upset.rule));
    woken.filter(|rule| !bench::needs_run(rule)).collect()
}

fn place(route: &RouteExpr, bench: &Bench<'_, '_>) -> Option<Route> {
    let follow = |whose, link: &str| bench.values.follow(whose, link);
    match route.resolve(&bench.result.subject.route, follow) {
        Known::Is(route) => Some(route),
        _ => None,
    }
}

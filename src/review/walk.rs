//! A rule walked through with the numbers of one build: what it asks, what that is made of, how it comes out, and how far
//! the description stands from another answer.

use std::sync::Arc;

use super::cures::{self, Reaches, reaches};
use super::result::{RuleResult, Verdict};
use super::run::{Reviewer, ask};
use super::trace::{Seen, Trace, trace_of};
use super::values::SubjectValues;
use crate::build::files::Files;
use crate::facts::{Companion, Scope, Sites, find};
use crate::known::{Datum, Known};
use crate::rules::{Expression, LimitValue, Outcome, Rule, Values, Whose};
use crate::text::{FileId, Node};
use crate::tract::Subject;

/// So many subjects are walked through in full where none is asked for by name.
const MOST_IN_FULL: usize = 4;

/// What a name of the rule stands for.
#[derive(Clone, Debug)]
pub struct NamedValue {
    /// Whose quantity it is.
    pub whose: Whose,
    /// Its name as expressions write it.
    pub name: Arc<str>,
    /// What it came to.
    pub value: Known<Datum>,
    /// What it means.
    pub meaning: &'static str,
}

/// One subject.
#[derive(Clone, Debug)]
pub struct Walked {
    /// What the rule came to, with cures where it found its fault.
    pub result: RuleResult,
    /// The facts that its conditions name, in their order.
    pub facts: Vec<NamedValue>,
    /// Their derivations, and how far numbers may go; none of a subject that is only named with its outcome.
    pub full: Option<InFull>,
}

/// What is told of a subject that is walked through in full.
#[derive(Clone, Debug)]
pub struct InFull {
    /// The derivations of the facts.
    pub traces: Vec<Trace>,
    /// Facts that the rule names in its texts only.
    pub beside: Vec<NamedValue>,
    /// The numbers that turn the answer soonest.
    pub reaches: Reaches,
}

/// A rule over one build.
#[derive(Clone, Debug)]
pub struct Walk {
    /// The rule.
    pub rule: Arc<Rule>,
    /// Its subjects; those in full first.
    pub subjects: Vec<Walked>,
    /// All that the rule is asked of in this build, those not walked through too.
    pub all: Vec<Subject>,
    /// Whether a review asks it; else it is a draft, withdrawn, or off in the house.
    pub asked: bool,
    /// How many faults the text holds.
    pub faults: usize,
}

impl Reviewer<'_> {
    /// Walks a rule through a build; of the named subjects only, if any is named: by name or by route.
    pub fn walk(
        &self,
        file: FileId,
        root: &Arc<Node>,
        files: &Files,
        rule: &Arc<Rule>,
        named: &[String],
    ) -> Walk {
        let build = self.read(file, root, files);
        let scope = Scope::new(&build);
        let all = self.results_of_all_rules(&scope);
        let before = cures::verdicts(&all);
        let mut results: Vec<RuleResult> =
            all.into_iter().filter(|result| result.rule.id == rule.id).collect();
        let subjects = scope.tract().subjects(rule.for_each);
        let asked = !results.is_empty() || subjects.is_empty();
        if !asked {
            results = subjects.iter().cloned().map(|subject| ask(rule, subject, &scope)).collect();
        }
        if !named.is_empty() {
            results.retain(|result| named.iter().any(|name| is_called(&result.subject, name)));
        }
        let in_full = chosen(&results, !named.is_empty());
        // Facts that one subject's derivation has shown are named alone in the next one's.
        let mut seen = Seen::new();
        let mut walked: Vec<Walked> = Vec::new();
        for (at, mut result) in results.into_iter().enumerate() {
            let values = SubjectValues::new(&scope, &result.subject, &rule.id, Sites::All);
            let names = condition_names(rule, &result);
            let facts: Vec<NamedValue> = names.iter().map(|name| named_value(&values, name)).collect();
            if !in_full.contains(&at) {
                walked.push(Walked { result, facts, full: None });
                continue;
            }
            let traces = names.iter().flat_map(|(whose, name)| {
                let subject = if *whose == Whose::It { result.subject.clone() } else { scope.whole_build() };
                let row = find(subject.kind, name).map_or(&**name, |(row, _)| row.name);
                trace_of(&scope, &subject, row, &mut seen)
            });
            let traces = traces.collect();
            let beside = beside(rule, &result.subject, &names);
            let beside = beside.iter().map(|name| named_value(&values, name)).collect();
            let mut far = Reaches::default();
            if result.speaks() {
                (result.cures, result.tried) = cures::search(self, &scope, files, &result, &before);
            }
            let decided = matches!(result.verdict(), Verdict::Pass | Verdict::Fail | Verdict::Silenced);
            if decided && result.cures.is_empty() {
                let (_, trail) = scope.recorded(|| rule.judge(&values));
                far = reaches(self, &scope, files, &result, &trail);
            }
            walked.push(Walked { result, facts, full: Some(InFull { traces, beside, reaches: far }) });
        }
        walked.sort_by_key(|one| one.full.is_none());
        Walk { rule: rule.clone(), subjects: walked, all: subjects, asked, faults: build.faults.len() }
    }
}

/// Whether a subject goes by a name: its own, or its route.
fn is_called(subject: &Subject, name: &str) -> bool {
    *subject.name == *name || subject.route.to_string() == name
}

/// The results that are walked through in full: all that were named; else the findings and what is open, then the one that
/// is nearest to its limit, and all where they are few.
fn chosen(results: &[RuleResult], named: bool) -> Vec<usize> {
    let weight = |result: &RuleResult| match result.verdict() {
        Verdict::Fail => 0,
        Verdict::Review => 1,
        Verdict::Silenced => 2,
        Verdict::Open => 3,
        Verdict::Pass => 4,
        Verdict::NotApplicable => 5,
    };
    let near = |result: &RuleResult| {
        let margins =
            result.judgement.comparisons.iter().filter_map(|comparison| match comparison.margin() {
                Known::Is(margin) => Some(margin.v.abs()),
                _ => None,
            });
        margins.fold(f64::INFINITY, f64::min)
    };
    let mut order: Vec<usize> = (0..results.len()).collect();
    order.sort_by(|a, b| match (results.get(*a), results.get(*b)) {
        (Some(a), Some(b)) => weight(a).cmp(&weight(b)).then(near(a).total_cmp(&near(b))),
        _ => a.cmp(b),
    });
    let tell = |at: &usize| results.get(*at).is_some_and(|result| weight(result) < 4);
    let telling = order.iter().filter(|at| tell(at)).count();
    let count = match results.len() {
        all if named || all <= 2 => all,
        _ => telling.clamp(1, MOST_IN_FULL),
    };
    order.truncate(count);
    order
}

type FactName = (Whose, Arc<str>);

/// The facts that the conditions name that were looked at on the way to the outcome, in the order written.
fn condition_names(rule: &Rule, result: &RuleResult) -> Vec<FactName> {
    let asks = rule.applies_when.iter();
    let shut_out = result.verdict() == Verdict::NotApplicable && rule.applies_when.is_some();
    let fails = (!shut_out).then_some(&rule.fails_when);
    let judgement = &result.judgement;
    let tried = judgement.fallback_spoke || matches!(judgement.outcome, Outcome::Open(_));
    let thumb = rule.fallback.iter().filter(|_| tried);
    let by_key = rule.limits.iter().filter_map(|limit| match &limit.value {
        LimitValue::ByKey { by, .. } => Some(by),
        LimitValue::One(_) => None,
    });
    let mut names: Vec<FactName> = Vec::new();
    for expression in asks.chain(fails).chain(thumb).chain(by_key.filter(|_| !shut_out)) {
        for name in in_order(expression) {
            if !names.contains(&name) {
                names.push(name);
            }
        }
    }
    names
}

fn in_order(expression: &Expression) -> Vec<FactName> {
    let mut names: Vec<FactName> = expression.facts().into_iter().collect();
    let place = |(whose, name): &FactName| expression.text().find(&format!("{}.{name}", whose.word()));
    names.sort_by_key(place);
    names
}

/// The facts that the rule names in its texts only; not the circumstances of a worst case, which stand beside its number.
fn beside(rule: &Rule, subject: &Subject, but: &[FactName]) -> Vec<FactName> {
    let itself = |(whose, name): &FactName| {
        let kind = if *whose == Whose::It { subject.kind } else { crate::tract::SubjectKind::Build };
        find(kind, name).is_some_and(|(_, companion)| companion == Companion::Itself)
    };
    rule.facts().into_iter().filter(|name| !but.contains(name)).filter(itself).collect()
}

fn named_value(values: &SubjectValues<'_, '_>, (whose, name): &FactName) -> NamedValue {
    let kind = if *whose == Whose::It { values.subject.kind } else { crate::tract::SubjectKind::Build };
    let meaning = find(kind, name).map_or("", |(row, _)| row.meaning);
    NamedValue { whose: *whose, name: name.clone(), value: values.fact(*whose, name), meaning }
}

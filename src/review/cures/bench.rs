//! Trying a change: the changed build, the rule's own answer there, and the answers of all rules.

use std::cell::{Cell, RefCell};
use std::sync::Arc;

use super::{Proof, Verdicts, upsets, verdicts};
use crate::build::Build;
use crate::build::files::Files;
use crate::facts::{Group, Scope, Sites, find as find_fact};
use crate::known::{Datum, Known, Num};
use crate::model::Start;
use crate::review::result::{RuleResult, Verdict};
use crate::review::run::{Reviewer, all_worst, ask};
use crate::review::values::SubjectValues;
use crate::rules::{Expression, Outcome, Rule, Template, Whose};
use crate::text::{Change, Dim, find};
use crate::tract::SubjectKind;

/// What a search works on.
pub(super) struct Bench<'a, 'c> {
    pub(super) reviewer: &'a Reviewer<'c>,
    pub(super) build: &'a Build,
    pub(super) files: &'a Files,
    /// The finding.
    pub(super) result: &'a RuleResult,
    /// All results as they are.
    pub(super) before: &'a Verdicts,
    /// The finding's values as they are.
    pub(super) values: &'a SubjectValues<'a, 'a>,
    /// Rules that have to pass for the same subject as well.
    pub(super) also: Vec<Arc<Rule>>,
    /// How many changed builds were looked at.
    pub(super) tried: Cell<usize>,
    /// Whether the rule reads runs over time, which cost much.
    pub(super) runs: bool,
    /// The starts from which these runs are made while a value is looked for, the worst first found; all, where empty. A
    /// rule over the worst of all starts that fails over some fails over all.
    pub(super) starts: RefCell<Vec<(Arc<str>, Start)>>,
}

/// Whether a changed build passes, and by how much where that is one number.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Trial {
    pub(super) passes: bool,
    pub(super) margin: Option<f64>,
}

impl<'a, 'c> Bench<'a, 'c> {
    /// Nothing is tried yet; runs are made from all starts.
    pub(super) fn new(
        reviewer: &'a Reviewer<'c>,
        files: &'a Files,
        result: &'a RuleResult,
        before: &'a Verdicts,
        values: &'a SubjectValues<'a, 'a>,
    ) -> Self {
        Self {
            reviewer,
            build: values.scope.build(),
            files,
            result,
            before,
            values,
            also: Vec::new(),
            tried: Cell::new(0),
            runs: needs_run(&result.rule),
            starts: RefCell::default(),
        }
    }

    /// Looks from here on at the starts alone at which the numbers of the finding are worst, where it is one of runs; or at all.
    pub(super) fn narrow(&self, to_the_worst: bool) {
        let worst = self.runs && to_the_worst;
        *self.starts.borrow_mut() =
            if worst { starts_of(self.result, self.values.scope) } else { Vec::new() };
    }

    fn changed(&self, change: &Change) -> Option<Build> {
        let root = change.apply(&self.build.root).ok()?;
        self.tried.set(self.tried.get() + 1);
        Some(self.reviewer.read(self.build.file, &root, self.files))
    }

    /// Looks at the finding's subject in a changed build.
    fn look<T>(&self, change: &Change, look: impl FnOnce(&Scope<'_>, &RuleResult) -> T) -> Option<T> {
        self.look_from(&self.starts.borrow(), change, look)
    }

    fn look_from<T>(
        &self,
        starts: &[(Arc<str>, Start)],
        change: &Change,
        look: impl FnOnce(&Scope<'_>, &RuleResult) -> T,
    ) -> Option<T> {
        let build = self.changed(change)?;
        let scope = self.values.scope.fork(&build, change).from_starts(starts);
        let subjects = scope.tract().subjects(self.result.rule.for_each);
        let subject = subjects.into_iter().find(|subject| *subject == self.result.subject)?;
        let result = ask(&self.result.rule, subject, &scope);
        Some(look(&scope, &result))
    }

    /// What the rule itself says of a changed build.
    pub(super) fn trial(&self, change: &Change) -> Trial {
        let trial = self.look(change, |scope, result| {
            let judgement = &result.judgement;
            let margin = match (&judgement.outcome, judgement.comparisons.as_slice()) {
                (Outcome::Pass | Outcome::Fail, [only]) if self.also.is_empty() => match only.margin() {
                    Known::Is(margin) => Some(margin.v),
                    _ => None,
                },
                _ => None,
            };
            let passes = |rule| ask(rule, result.subject.clone(), scope).judgement.outcome == Outcome::Pass;
            Trial { passes: judgement.outcome == Outcome::Pass && self.also.iter().all(passes), margin }
        });
        trial.unwrap_or_default()
    }

    /// Of a changed build that passes from the starts looked at: those from which it fails all the same.
    pub(super) fn starts_missed(&self, change: &Change) -> Vec<(Arc<str>, Start)> {
        if self.starts.borrow().is_empty() {
            return Vec::new();
        }
        let missed = self.look_from(&[], change, |scope, result| {
            let fails = result.judgement.outcome != Outcome::Pass;
            if fails { starts_of(result, scope) } else { Vec::new() }
        });
        missed.unwrap_or_default()
    }

    /// Looks at these starts as well from now on; whether any of them is new.
    pub(super) fn look_at(&self, missed: Vec<(Arc<str>, Start)>) -> bool {
        let mut starts = self.starts.borrow_mut();
        let before = starts.len();
        for start in missed {
            if !starts.contains(&start) {
                starts.push(start);
            }
        }
        starts.len() > before
    }

    /// The number that an expression of the rule is worth in a changed build, in SI units.
    pub(super) fn number(&self, change: &Change, expression: &Expression) -> Option<f64> {
        let rule = &self.result.rule;
        self.look(change, |scope, result| {
            let values = SubjectValues::new(scope, &result.subject, &rule.id, Sites::All);
            match rule.value(expression, &values) {
                Known::Is(Datum::Number(number)) => Some(number.v),
                _ => None,
            }
        })?
    }

    /// Reviews a changed build with all rules.
    pub(super) fn prove(&self, change: &Change) -> Option<Proof> {
        let build = self.changed(change)?;
        let after = verdicts(&self.reviewer.results_of_all_rules(&self.values.scope.fork(&build, change)));
        let own = (self.result.rule.id.clone(), self.result.subject.route.clone());
        let passes = after.get(&own).is_some_and(|(verdict, _)| *verdict == Verdict::Pass)
            && build.faults.len() <= self.build.faults.len();
        let upsets = upsets(self.before, &after, Some(&own));
        Some(Proof { passes, upsets })
    }

    /// The words of a cure that goes so far, to such a value.
    pub(super) fn say(&self, says: &Template, by: f64, to: f64, dim: Dim) -> String {
        self.result.rule.say_cure(says, self.values, &Num::new(by, dim), &Num::new(to, dim))
    }

    /// The text that stands at a route as it is.
    pub(super) fn text_at(&self, route: &crate::text::Route) -> Option<&str> {
        find(&self.build.root, route)?.node.as_text()
    }
}

/// The starts at which the numbers of a result are worst.
fn starts_of(result: &RuleResult, scope: &Scope<'_>) -> Vec<(Arc<str>, Start)> {
    all_worst(&result.judgement).flat_map(|at| scope.starts_at(&at)).collect()
}

/// Whether a rule reads a run over time.
pub(super) fn needs_run(rule: &Rule) -> bool {
    rule.facts().iter().any(|(whose, name)| {
        let kind = if *whose == Whose::It { rule.for_each } else { SubjectKind::Build };
        find_fact(kind, name).is_some_and(|(row, _)| row.group == Group::TipOut)
    })
}

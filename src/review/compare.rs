//! Two reviews beside each other: what came, went, moved, or was hidden because a field was taken away.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::result::{RuleResult, Verdict};
use super::run::Review;
use crate::known::{Datum, Known, Num};
use crate::text::Route;

/// How one result differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Difference {
    /// A finding that was not there.
    Came,
    /// A finding that is no more: the rule passes, or no longer applies.
    Went,
    /// A finding that can no longer be decided, or whose subject can no longer be made out: hidden, not mended.
    Hidden,
    /// A finding in both whose number has moved.
    Moved,
    /// Any other change of what a result counts as.
    Turned,
}

impl Difference {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Came => "came",
            Self::Went => "went",
            Self::Hidden => "hidden",
            Self::Moved => "moved",
            Self::Turned => "turned",
        }
    }
}

/// One result that differs.
#[derive(Clone, Debug)]
pub struct Changed {
    /// How.
    pub difference: Difference,
    /// The rule.
    pub rule: Arc<str>,
    /// What it is about.
    pub title: Arc<str>,
    /// The subject's route.
    pub subject: Route,
    /// What it counted as; `None` when the subject was not there.
    pub before: Option<Verdict>,
    /// What it counts as; `None` when the subject is not there.
    pub after: Option<Verdict>,
    /// The number that decided before and after, where both have one.
    pub numbers: Option<(Num, Num)>,
    /// Fields that the new result lacks.
    pub lacks: Vec<Route>,
}

/// What differs between two reviews, the gravest first, then by rule and subject.
pub fn compare(old: &Review, new: &Review) -> Vec<Changed> {
    let (old, new) = (by_identity(&old.results), by_identity(&new.results));
    let keys: std::collections::BTreeSet<_> = old.keys().chain(new.keys()).cloned().collect();
    let mut changed: Vec<Changed> = keys
        .into_iter()
        .filter_map(|key| {
            let (before, after) = (old.get(&key).copied(), new.get(&key).copied());
            changed(before, after)
        })
        .collect();
    changed.sort_by(|a, b| (a.difference, &a.rule, &a.subject).cmp(&(b.difference, &b.rule, &b.subject)));
    changed
}

type Identity = (Arc<str>, Route);

fn by_identity(results: &[RuleResult]) -> BTreeMap<Identity, &RuleResult> {
    results.iter().map(|result| ((result.rule.id.clone(), result.subject.route.clone()), result)).collect()
}

fn changed(before: Option<&RuleResult>, after: Option<&RuleResult>) -> Option<Changed> {
    let any = after.or(before)?;
    let (was, is) = (before.map(RuleResult::verdict), after.map(RuleResult::verdict));
    let numbers = before.and_then(number).zip(after.and_then(number));
    let difference = match (was, is) {
        (Some(Verdict::Fail), Some(Verdict::Fail)) => {
            let (old, new) = numbers.as_ref()?;
            // What differs by no more than the solver's own error has not moved.
            if (old.v - new.v).abs() <= old.err + new.err + 1e-9 * old.v.abs() {
                return None;
            }
            Difference::Moved
        }
        (_, Some(Verdict::Fail)) => Difference::Came,
        (Some(Verdict::Fail), Some(Verdict::Pass | Verdict::NotApplicable)) => Difference::Went,
        (Some(Verdict::Fail), _) => Difference::Hidden,
        (Some(was), Some(is)) if was != is => Difference::Turned,
        (Some(_), Some(_)) => return None,
        // A subject that came or went without a finding is no news of its own.
        _ => return None,
    };
    Some(Changed {
        difference,
        rule: any.rule.id.clone(),
        title: any.rule.title.clone(),
        subject: any.subject.route.clone(),
        before: was,
        after: is,
        numbers,
        lacks: after.map_or_else(Vec::new, |result| result.missing.fields.iter().cloned().collect()),
    })
}

/// The number that decided a result: the first that a comparison has on its left.
fn number(result: &RuleResult) -> Option<Num> {
    result.judgement.comparisons.iter().find_map(|comparison| match &comparison.left.value {
        Known::Is(Datum::Number(number)) => Some(number.clone()),
        _ => None,
    })
}

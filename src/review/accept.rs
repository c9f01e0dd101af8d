//! Accepted findings: which entries hold, what they are put to, and which of them are stale.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::house::House;
use super::notice::{Notice, NoticeKind};
use super::policy::no_rule;
use super::result::RuleResult;
use crate::build::Build;
use crate::build::accepted::{Accepted, Where};
use crate::rules::{Catalogue, Outcome};
use crate::text::{Fault, FaultKind, Route, nearest, quoted};

/// That a finding is accepted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Acceptance {
    /// Why.
    pub because: Arc<str>,
    /// By whom.
    pub by: Arc<str>,
    /// The last day on which it holds.
    pub until: Option<Arc<str>>,
}

/// What is looked at to say whether entries hold.
pub(super) struct Terms<'a> {
    pub catalogue: &'a Catalogue,
    pub house: Option<&'a House>,
    /// The day that the caller gives as today's.
    pub today: Option<&'a str>,
    /// The entries of the build as it stood before, where only those count.
    pub before: Option<&'a [Accepted]>,
}

/// The keys under which named things stand that findings may be on.
const TABLES: [&str; 3] = ["parts", "hoses", "joints"];

impl Terms<'_> {
    /// The entries of a build that hold.
    pub fn holding<'b>(&self, build: &'b Build) -> Vec<&'b Accepted> {
        build.accepted.iter().filter(|entry| self.holds(entry)).collect()
    }

    fn holds(&self, entry: &Accepted) -> bool {
        self.catalogue.find(&entry.rule).is_some()
            && self.may(entry)
            && !self.is_expired(entry)
            && !self.is_new(entry)
    }

    fn may(&self, entry: &Accepted) -> bool {
        self.house.is_none_or(|house| house.may_accept(&entry.by))
    }

    fn is_expired(&self, entry: &Accepted) -> bool {
        matches!((&entry.until, self.today), (Some(until), Some(today)) if **until < *today)
    }

    fn is_new(&self, entry: &Accepted) -> bool {
        self.before.is_some_and(|before| !before.iter().any(|old| old.same(entry)))
    }

    /// Entries that name no rule, or whose author may not accept.
    pub fn faults(&self, build: &Build) -> Vec<Fault> {
        let mut faults = Vec::new();
        for entry in &build.accepted {
            if self.catalogue.find(&entry.rule).is_none() {
                faults.push(no_rule(&entry.rule, entry.spans.rule, self.catalogue));
            }
            let names = self.house.and_then(|house| house.who_may_accept.as_deref());
            if let Some(names) = names.filter(|_| !self.may(entry)) {
                let message = format!("{} may not accept findings here", quoted(&entry.by));
                let fault = Fault::new(FaultKind::DanglingName, entry.spans.by, message);
                let list: Vec<&str> = names.iter().map(|name| &**name).collect();
                faults.push(match nearest(&entry.by, list.iter().copied()) {
                    Some(near) => fault.with_help(format!("did you mean `{near}`?")),
                    None if list.is_empty() => fault.with_help("the house says that nobody may"),
                    None => fault.with_help(format!("the house names {}", list.join(", "))),
                });
            }
        }
        faults
    }

    /// What is to be said of the entries of a build that was reviewed; of entries whose rule was not asked nothing.
    pub fn notices(&self, build: &Build, results: &[RuleResult], asked: &BTreeSet<Arc<str>>) -> Vec<Notice> {
        let mut notices = Vec::new();
        for entry in &build.accepted {
            let rule = &entry.rule;
            if let (true, Some(until)) = (self.is_expired(entry), &entry.until) {
                let message = format!(
                    "the finding of {rule} was accepted until {until} by {}, and counts again",
                    entry.by
                );
                notices.push(Notice::new(NoticeKind::AcceptedExpired, entry.spans.until, message));
            } else if self.is_new(entry) {
                let message = format!(
                    "this entry for {rule} does not stand in the other checkout, and does not hold in this check"
                );
                notices.push(Notice::new(NoticeKind::AcceptedNew, entry.spans.rule, message));
            } else if self.holds(entry) && asked.contains(rule) {
                notices.extend(stale(entry, results));
            }
        }
        let dated = build.accepted.iter().find(|entry| entry.until.is_some());
        if let (Some(first), None) = (dated, self.today) {
            let message = "no day was given with --today, so that no accepted finding expires in this check";
            notices.push(Notice::new(NoticeKind::AcceptedUndated, first.spans.until, message));
        }
        notices
    }
}

/// What is to be said of an entry that accepts nothing.
fn stale(entry: &Accepted, results: &[RuleResult]) -> Option<Notice> {
    let mut there =
        results.iter().filter(|one| one.rule.id == entry.rule && is_on(one, &entry.on)).peekable();
    let message = if there.peek().is_none() {
        format!("this accepts a finding on something that {} is not asked of here", entry.rule)
    } else if there.any(is_acceptable) {
        return None;
    } else {
        format!("this accepts a finding of {} that is not there any more; take the entry out", entry.rule)
    };
    Some(Notice::new(NoticeKind::AcceptedStale, entry.spans.on, message))
}

fn is_acceptable(result: &RuleResult) -> bool {
    matches!(result.judgement.outcome, Outcome::Fail | Outcome::Review)
}

/// Whether a result is on what an entry names.
fn is_on(result: &RuleResult, on: &Where) -> bool {
    let subject = &result.subject.route;
    match on {
        Where::Place(route) => subject == route || result.main_route() == route,
        Where::Part(name) => {
            // A finding on the whole build belongs to the part that it marks first.
            let whose = if subject.is_root() { result.main_route() } else { subject };
            TABLES.iter().any(|table| whose.starts_with(&Route::root().key(table).key(name)))
        }
    }
}

/// Marks the findings that are accepted.
pub(super) fn apply(results: &mut [RuleResult], holding: &[&Accepted]) {
    for result in results.iter_mut().filter(|result| is_acceptable(result)) {
        let entry = holding.iter().find(|entry| entry.rule == result.rule.id && is_on(result, &entry.on));
        result.accepted = entry.map(|entry| Acceptance {
            because: entry.because.clone(),
            by: entry.by.clone(),
            until: entry.until.clone(),
        });
    }
}

//! The closing count, which must add up, and the list of what to measure next.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::result::{RuleResult, Verdict};
use crate::build::files::Files;
use crate::text::{Fault, Node, Route, Span, find};

/// How many results came out which way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Rules times subjects.
    pub results: usize,
    /// Findings, the accepted ones among them.
    pub fail: usize,
    /// Accepted findings.
    pub accepted: usize,
    /// For a person to judge, what a person has judged and accepted among it.
    pub review: usize,
    /// Of that, what is accepted.
    pub judged: usize,
    /// Checked and right.
    pub pass: usize,
    /// Not decided.
    pub open: usize,
    /// The question does not arise.
    pub not_applicable: usize,
    /// Silenced by a graver finding.
    pub silenced: usize,
    /// Rules that found nothing to look at; not among the results.
    pub rules_without_subject: usize,
    /// Rules that are switched off or left out; not among the results.
    pub rules_switched_off: usize,
}

impl Tally {
    /// Counts results.
    pub fn of(results: &[RuleResult], rules_without_subject: usize, rules_switched_off: usize) -> Self {
        let mut tally =
            Self { results: results.len(), rules_without_subject, rules_switched_off, ..Self::default() };
        for result in results {
            match result.verdict() {
                Verdict::Fail if result.accepted.is_some() => tally.accepted += 1,
                Verdict::Review if result.accepted.is_some() => tally.judged += 1,
                _ => {}
            }
            *match result.verdict() {
                Verdict::Fail => &mut tally.fail,
                Verdict::Review => &mut tally.review,
                Verdict::Pass => &mut tally.pass,
                Verdict::Open => &mut tally.open,
                Verdict::NotApplicable => &mut tally.not_applicable,
                Verdict::Silenced => &mut tally.silenced,
            } += 1;
        }
        tally
    }

    /// Whether every result was counted once.
    pub fn adds_up(&self) -> bool {
        self.results == self.fail + self.review + self.pass + self.open + self.not_applicable + self.silenced
    }
}

/// A field that is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The field.
    pub field: Route,
    /// Results that it would settle by itself.
    pub settles: usize,
    /// Results that it would help to settle.
    pub helps: usize,
    /// The rules that wait for it, by id.
    pub rules: BTreeSet<Arc<str>>,
}

/// The fields that open results wait for, the one that settles most first. What stands in the text and is faulty is not asked
/// for: its fault says what to do.
pub fn asking_list(results: &[RuleResult], text: (&Arc<Node>, &Files), faults: &[Fault]) -> Vec<Asked> {
    let mut asked: BTreeMap<Route, Asked> = BTreeMap::new();
    for result in results.iter().filter(|result| result.verdict() == Verdict::Open) {
        let missing = &result.missing;
        let alone = missing.fields.len() == 1 && missing.not_built.is_empty();
        for field in missing.fields.iter().filter(|field| !is_faulty(field, text, faults)) {
            let entry = asked.entry(field.clone()).or_insert_with(|| Asked {
                field: field.clone(),
                settles: 0,
                helps: 0,
                rules: BTreeSet::new(),
            });
            entry.settles += usize::from(alone);
            entry.helps += 1;
            entry.rules.insert(result.rule.id.clone());
        }
    }
    let mut list: Vec<Asked> = asked.into_values().collect();
    // Stable: equal ones stay in the order of their routes.
    list.sort_by_key(|asked| std::cmp::Reverse((asked.settles, asked.helps)));
    list
}

/// Whether something stands at a place of the text, and is faulty: a fault lies in it, in a table as a whole, or in the file that
/// it names.
fn is_faulty(field: &Route, (root, files): (&Arc<Node>, &Files), faults: &[Fault]) -> bool {
    let Some(found) = find(root, field) else { return false };
    let table = found.node.as_map().is_some();
    let meets = |own: Span, fault: Span| {
        let overlap = own.file == fault.file && own.start < fault.end && fault.start < own.end;
        if table { own == fault } else { overlap }
    };
    // What stands in for the value of an unknown alias; its fault is one of the text, told before the build is read.
    if found.node.used_at == Some(found.node.span) {
        return true;
    }
    let sources = files.sources();
    let named = found.node.as_text().map(|text| files.shown(text));
    faults.iter().any(|fault| {
        let file = sources.find(fault.span.file).filter(|_| fault.span.file != found.node.span.file);
        meets(found.node.span, fault.span) || file.is_some_and(|file| named.as_deref() == Some(file.name()))
    })
}

//! Cures in words and as text diffs.

use std::sync::Arc;

use super::safe_text::{one_line, visible};
use super::terminal::{CAUTIONS, place_words, wrap};
use crate::review::{FoundCure, Proof, RuleResult, Upset, Verdict};
use crate::text::{CannotEdit, Edits, Sources, WhyNot};

/// The edits of one text that make a cure.
#[derive(Clone, Debug)]
pub struct TextEdits {
    /// The path of the text below the root of the builds.
    pub path: String,
    /// The name under which it is shown.
    pub name: String,
    /// The text as it stands.
    pub text: Arc<str>,
    /// The edits.
    pub edits: Edits,
}

/// Another build that uses the shared part that a cure would change.
#[derive(Clone, Debug)]
pub struct User {
    /// Its path below the root of the builds.
    pub name: String,
    /// What changes in its review.
    pub changes: Vec<Upset>,
    /// Whether it would hold more faults than before.
    pub breaks: bool,
}

impl User {
    /// Whether the change makes anything worse there.
    pub fn is_upset(&self) -> bool {
        self.breaks || self.changes.iter().any(Upset::is_worse)
    }
}

/// A cure, and how it would be written.
#[derive(Clone, Debug)]
pub struct Offer {
    /// The cure.
    pub cure: FoundCure,
    /// The edits that make it, or why it cannot be written.
    pub edits: Result<TextEdits, CannotEdit>,
    /// The other builds that share what it changes.
    pub users: Vec<User>,
}

/// A finding with the cures that were found.
#[derive(Clone, Debug)]
pub struct Offered {
    /// The finding.
    pub finding: RuleResult,
    /// Its cures.
    pub offers: Vec<Offer>,
}

/// A cure that was written into the text.
#[derive(Clone, Debug)]
pub struct Written {
    /// The finding.
    pub finding: RuleResult,
    /// The cure, with the edits of this step.
    pub offer: Offer,
}

/// A cure in one paragraph, as a finding shows it.
pub fn words(cure: &FoundCure) -> String {
    let ranges = match &cure.number {
        Some(number) if number.passing.len() > 1 => format!("; what passes is {}", number.ranges()),
        _ => String::new(),
    };
    format!(
        "cure: {} ({}: {}{ranges}; {})",
        one_line(&cure.says),
        one_line(&cure.route.to_string()),
        one_line(&cure.written),
        proof_words(&cure.proof)
    )
}

fn proof_words(proof: &Proof) -> String {
    if !proof.passes {
        return "reviewed again: does not pass after all".to_owned();
    }
    match effects(&proof.upsets) {
        (None, None) => "checked: passes, nothing else changes".to_owned(),
        (None, Some(other)) => format!("checked: passes; this changes too: {other}"),
        (Some(worse), None) => format!("checked: passes, but it upsets {worse}"),
        (Some(worse), Some(other)) => {
            format!("checked: passes, but it upsets {worse}; this changes too: {other}")
        }
    }
}

/// What becomes worse, and what changes otherwise, where there is any.
fn effects(upsets: &[Upset]) -> (Option<String>, Option<String>) {
    let (worse, other): (Vec<&Upset>, Vec<&Upset>) = upsets.iter().partition(|upset| upset.is_worse());
    let list = |upsets: Vec<&Upset>| {
        let words: Vec<_> = upsets.into_iter().map(upset_words).collect();
        (!words.is_empty()).then(|| words.join(", "))
    };
    (list(worse), list(other))
}

fn upset_words(upset: &Upset) -> String {
    let word = |verdict: Option<Verdict>| match verdict {
        None => "not asked",
        Some(Verdict::Fail) => "a finding",
        Some(Verdict::Review) => "to be judged",
        Some(Verdict::Pass) => "passed",
        Some(Verdict::Open) => "undecided",
        Some(Verdict::NotApplicable) => "not applicable",
        Some(Verdict::Silenced) => "silenced",
    };
    let subject = one_line(&upset.subject.to_string());
    let of = if subject.is_empty() { String::new() } else { format!(" of {subject}") };
    format!("{}{of} ({} before, {} then)", upset.rule, word(upset.before), word(upset.after))
}

/// Each finding with its cures as text diffs.
pub fn offered(all: &[Offered], sources: &Sources, width: usize) -> String {
    let mut out = String::new();
    if all.is_empty() {
        wrap(&mut out, "No finding: there is nothing to cure.", width);
        return out;
    }
    for one in all {
        heading(&mut out, &one.finding, width);
        for offer in &one.offers {
            wrap(&mut out, &format!("  {}", words(&offer.cure)), width);
            match &offer.edits {
                Ok(edits) => diff(&mut out, edits),
                Err(cannot) => wrap(&mut out, &cannot_words(cannot, sources), width),
            }
            users_words(&mut out, offer, width);
        }
        none_words(&mut out, one, width);
        out.push('\n');
    }
    wrap(&mut out, CAUTIONS, width);
    out
}

/// What reviewing a changed build showed, and the change as a text diff.
pub(super) fn written_as(out: &mut String, offer: &Offer, sources: &Sources, width: usize) {
    wrap(out, &format!("  {}", proof_words(&offer.cure.proof)), width);
    match &offer.edits {
        Ok(edits) => diff(out, edits),
        Err(cannot) => wrap(out, &cannot_words(cannot, sources), width),
    }
    users_words(out, offer, width);
}

/// What was written, and what was left with the reason.
pub fn written(name: &str, done: &[Written], left: &[Offered], sources: &Sources, width: usize) -> String {
    let mut out = String::new();
    for one in done {
        heading(&mut out, &one.finding, width);
        wrap(&mut out, &format!("  {}", words(&one.offer.cure)), width);
        if let Ok(edits) = &one.offer.edits {
            diff(&mut out, edits);
        }
        users_words(&mut out, &one.offer, width);
        out.push('\n');
    }
    for one in left {
        heading(&mut out, &one.finding, width);
        for offer in &one.offers {
            wrap(&mut out, &format!("  not written: {}", words(&offer.cure)), width);
            if let Err(cannot) = &offer.edits {
                wrap(&mut out, &cannot_words(cannot, sources), width);
            } else if offer.cure.another_part {
                wrap(
                    &mut out,
                    "  it takes another part: write its own figures down once it is chosen",
                    width,
                );
            }
            users_words(&mut out, offer, width);
        }
        none_words(&mut out, one, width);
        out.push('\n');
    }
    let name = one_line(name);
    let count = match done.len() {
        0 => format!("{name}: nothing was written."),
        1 => format!("{name}: 1 cure was written."),
        many => format!("{name}: {many} cures were written."),
    };
    let rest = match left.len() {
        0 => "No finding is left.".to_owned(),
        1 => "1 finding is left.".to_owned(),
        many => format!("{many} findings are left."),
    };
    wrap(&mut out, &format!("{count} {rest}"), width);
    out.push('\n');
    wrap(&mut out, CAUTIONS, width);
    out
}

fn diff(out: &mut String, edits: &TextEdits) {
    out.push_str(&visible(&edits.edits.diff(&one_line(&edits.name), &edits.text)));
}

/// Who else uses what a cure changes, and what becomes of them.
fn users_words(out: &mut String, offer: &Offer, width: usize) {
    let shared = matches!(&offer.edits, Err(CannotEdit { why: WhyNot::Shared(_), .. }));
    for user in &offer.users {
        let then = match effects(&user.changes) {
            _ if user.breaks => "it could not be read any more".to_owned(),
            (None, None) => "nothing changes there".to_owned(),
            (None, Some(other)) => format!("this changes {other}"),
            (Some(worse), None) => format!("this upsets {worse}"),
            (Some(worse), Some(other)) => format!("this upsets {worse}; this changes too: {other}"),
        };
        wrap(out, &format!("  shared with {}: reviewed again, {then}", one_line(&user.name)), width);
    }
    if shared {
        let alone = if offer.users.is_empty() { "no other build below the root uses it; " } else { "" };
        wrap(out, &format!("  {alone}`--in-library` changes it where it is defined"), width);
    }
}

pub(super) fn heading(out: &mut String, finding: &RuleResult, width: usize) {
    let rule = &finding.rule;
    let (level, name) = (rule.level.word(), one_line(&finding.subject.name));
    wrap(out, &format!("{level} {} ({name}): {}", rule.id, one_line(&rule.title)), width);
}

/// Says so where no cure was found.
fn none_words(out: &mut String, one: &Offered, width: usize) {
    if !one.offers.is_empty() {
        return;
    }
    let rule = &one.finding.rule;
    let why = if rule.cures.is_empty() {
        "no cure: the rule names nothing that a changed value would put right"
    } else {
        "no cure: nothing that the rule may change makes it pass"
    };
    let advice = rule.advice.as_ref().map_or(String::new(), |advice| format!(". {}", one_line(advice)));
    wrap(out, &format!("  {why}{advice}"), width);
}

fn cannot_words(cannot: &CannotEdit, sources: &Sources) -> String {
    let at = match cannot.why {
        WhyNot::Shared(defined) => format!(" ({})", place_words(defined, sources)),
        _ => String::new(),
    };
    format!("  it cannot be written: {}{at}", one_line(&cannot.to_string()))
}

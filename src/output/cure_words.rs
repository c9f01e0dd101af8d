//! Cures in words and as text diffs.

use super::safe_text::{one_line, visible};
use super::terminal::{CAUTIONS, place_words, wrap};
use crate::review::{FoundCure, Proof, RuleResult, Upset, Verdict};
use crate::text::{CannotEdit, Edits, Sources, WhyNot};

/// A cure, and how it would be written.
#[derive(Clone, Debug)]
pub struct Offer {
    /// The cure.
    pub cure: FoundCure,
    /// Its edits of the text, or why it cannot be written.
    pub edits: Result<Edits, CannotEdit>,
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
    /// The cure.
    pub cure: FoundCure,
    /// The text diff of this step.
    pub diff: String,
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
    let (worse, other): (Vec<&Upset>, Vec<&Upset>) = proof.upsets.iter().partition(|upset| upset.is_worse());
    let list =
        |upsets: &[&Upset]| upsets.iter().map(|upset| upset_words(upset)).collect::<Vec<_>>().join(", ");
    match (worse.is_empty(), other.is_empty()) {
        (true, true) => "checked: passes, nothing else changes".to_owned(),
        (true, false) => format!("checked: passes; this changes too: {}", list(&other)),
        (false, true) => format!("checked: passes, but it upsets {}", list(&worse)),
        (false, false) => {
            format!("checked: passes, but it upsets {}; this changes too: {}", list(&worse), list(&other))
        }
    }
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
pub fn offered(name: &str, text: &str, all: &[Offered], sources: &Sources, width: usize) -> String {
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
                Ok(edits) => out.push_str(&visible(&edits.diff(&one_line(name), text))),
                Err(cannot) => wrap(&mut out, &cannot_words(cannot, sources), width),
            }
        }
        none_words(&mut out, one, width);
        out.push('\n');
    }
    wrap(&mut out, CAUTIONS, width);
    out
}

/// What was written, and what was left with the reason.
pub fn written(name: &str, done: &[Written], left: &[Offered], sources: &Sources, width: usize) -> String {
    let mut out = String::new();
    for one in done {
        heading(&mut out, &one.finding, width);
        wrap(&mut out, &format!("  {}", words(&one.cure)), width);
        out.push_str(&visible(&one.diff));
        out.push('\n');
    }
    for one in left {
        heading(&mut out, &one.finding, width);
        for offer in &one.offers {
            wrap(&mut out, &format!("  not written: {}", words(&offer.cure)), width);
            if let Err(cannot) = &offer.edits {
                wrap(&mut out, &cannot_words(cannot, sources), width);
            }
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

fn heading(out: &mut String, finding: &RuleResult, width: usize) {
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

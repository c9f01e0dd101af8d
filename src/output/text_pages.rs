//! Pages of plain text about rules and facts: teaching text, the catalogue, the registry.

use super::safe_text::one_line;
use super::terminal::{plain_number, wrap};
use crate::facts;
use crate::review::{Changed, Policy, Verdict};
use crate::rules::{Expect, LimitValue, Rule, RuleKind, Status};

/// The teaching text of a rule.
pub fn explain(rule: &Rule, width: usize) -> String {
    let mut out = teaching(rule, width);
    if !rule.cases.is_empty() {
        heading(&mut out, "Cases");
        for case in &rule.cases {
            indented(&mut out, &format!("{}: {}", one_line(&case.name), expect_words(case.expect)), width);
        }
    }
    out
}

/// The same without its cases.
pub fn teaching(rule: &Rule, width: usize) -> String {
    let mut out = String::new();
    let kind = match rule.kind {
        RuleKind::Fail => rule.level.word(),
        RuleKind::Review => "for a person to judge",
    };
    wrap(&mut out, &format!("{} - {}", rule.id, rule.title), width);
    wrap(&mut out, &format!("{kind}; family {}; asked of each {}", rule.family, rule.for_each.word()), width);
    out.push('\n');
    heading(&mut out, "Why");
    paragraphs(&mut out, &rule.why, width);
    heading(&mut out, "When it fails");
    indented(&mut out, rule.fails_when.text(), width);
    if let Some(applies) = &rule.applies_when {
        indented(
            &mut out,
            &format!("asked only when {}; else {}", applies.text(), rule.does_not_apply),
            width,
        );
    }
    if let Some(fallback) = &rule.fallback {
        indented(
            &mut out,
            &format!("rule of thumb, where that cannot be computed: {}", fallback.text()),
            width,
        );
    }
    if !rule.limits.is_empty() {
        heading(&mut out, "Limits");
        for limit in &rule.limits {
            let value = match &limit.value {
                LimitValue::One(written) => written.text.to_string(),
                LimitValue::ByKey { values, .. } => values
                    .iter()
                    .map(|(key, written)| format!("{key} {}", written.text))
                    .collect::<Vec<_>>()
                    .join(", "),
            };
            indented(&mut out, &format!("{}: {value} ({})", limit.name, one_line(&limit.source)), width);
        }
    }
    if let Some(advice) = &rule.advice {
        heading(&mut out, "What to do");
        paragraphs(&mut out, advice, width);
    }
    list(&mut out, "Sources", &rule.sources, width);
    list(&mut out, "Cautions", &rule.cautions, width);
    out
}

pub(super) fn expect_words(expect: Expect) -> &'static str {
    match expect {
        Expect::Fail => "fails",
        Expect::Pass => "passes",
        Expect::Open => "is undecided",
        Expect::NotApplicable => "does not apply",
        Expect::Review => "is for a person to judge",
        Expect::Silenced => "is silenced by a graver finding",
    }
}

pub(super) fn heading(out: &mut String, words: &str) {
    if !out.ends_with("\n\n") {
        out.push('\n');
    }
    out.push_str(words);
    out.push('\n');
}

pub(super) fn indented(out: &mut String, words: &str, width: usize) {
    wrap(out, &format!("  {words}"), width);
}

fn paragraphs(out: &mut String, text: &str, width: usize) {
    for (i, paragraph) in text.trim().split("\n\n").enumerate() {
        if i > 0 {
            out.push('\n');
        }
        indented(out, &one_line(paragraph), width);
    }
}

fn list(out: &mut String, title: &str, items: &[std::sync::Arc<str>], width: usize) {
    if !items.is_empty() {
        heading(out, title);
        for item in items {
            indented(out, &one_line(item), width);
        }
    }
}

/// The catalogue: one line a rule, by family.
pub fn rules(policy: &Policy, width: usize) -> String {
    let mut out = String::new();
    let mut family = "";
    for rule in policy.catalogue.rules() {
        if family != &*rule.family {
            family = &rule.family;
            heading(&mut out, family);
        }
        let off = policy.house.as_ref().is_some_and(|house| house.is_off(&rule.id));
        let level = match (rule.status, rule.kind) {
            (Status::InForce, _) if off => "off",
            (Status::InForce, RuleKind::Review) => "review",
            (Status::InForce, RuleKind::Fail) => rule.level.word(),
            (Status::Draft, _) => "draft",
            (Status::Withdrawn, _) => "withdrawn",
        };
        let title = one_line(&rule.title);
        let line = format!("  {level:<9}{:<42}{title}", rule.id);
        if line.chars().count() <= width {
            out.push_str(&line);
            out.push('\n');
        } else {
            out.push_str(&format!("  {level:<9}{}\n", rule.id));
            wrap(&mut out, &format!("             {title}"), width);
        }
    }
    out.trim_start().to_owned()
}

/// What differs between two reviews, for a person.
pub fn comparison(changes: &[Changed], width: usize) -> String {
    let mut out = String::new();
    if changes.is_empty() {
        out.push_str("Nothing differs: the same results from the same rules.\n");
    }
    // Results of one rule that differ in the same way stand together.
    let mut told: Vec<(String, Vec<String>, String)> = Vec::new();
    for change in changes {
        let word = |verdict: Option<Verdict>| verdict.map_or("not there", Verdict::words);
        let numbers = match &change.numbers {
            Some((old, new)) => format!(" ({} before, {} now)", plain_number(old), plain_number(new)),
            None => String::new(),
        };
        let mut turned = format!("before: {}; now: {}", word(change.before), word(change.after));
        if !change.lacks.is_empty() {
            let lacks: Vec<_> = change.lacks.iter().map(|route| one_line(&route.to_string())).collect();
            turned.push_str(&format!(", for want of {}", lacks.join(", ")));
        }
        let what = format!("{} {}", change.difference.word(), change.rule);
        let rest = format!("{}{numbers}\n{turned}", one_line(&change.title));
        let subject = if change.subject.is_root() {
            "the build".to_owned()
        } else {
            one_line(&change.subject.to_string())
        };
        match told.iter_mut().find(|(other, _, words)| *other == what && *words == rest) {
            Some((_, subjects, _)) => subjects.push(subject),
            None => told.push((what, vec![subject], rest)),
        }
    }
    for (what, subjects, rest) in told {
        wrap(&mut out, &format!("{what}, {}", subjects.join(", ")), width);
        for line in rest.lines() {
            indented(&mut out, &format!("  {line}"), width);
        }
    }
    out
}

/// The registry of facts, for those who write rules.
pub fn facts(width: usize) -> String {
    let mut out = String::new();
    for row in facts::rows() {
        let on: Vec<_> = row.on.iter().map(|kind| kind.word()).collect();
        let made = match row.make {
            facts::Make::NotBuilt => "; not computed yet",
            facts::Make::Worst(..) => "; worst case, with _speed and _site beside it",
            facts::Make::Plain(_) => "",
        };
        let line = format!("{} ({}, on {}; {}{made})", row.name, row.kind, on.join(", "), row.group.word());
        wrap(&mut out, &line, width);
        wrap(&mut out, &format!("    {}", row.meaning), width);
    }
    out
}

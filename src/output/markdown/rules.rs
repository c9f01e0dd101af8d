//! The catalogue: an index, and a page a rule.

use std::sync::Arc;

use super::{Links, Page, escape, facts, fenced, heading, paragraphs, table};
use crate::output::terminal::CAUTIONS;
use crate::output::text_pages::expect_words;
use crate::review::{BuildVocabulary, Policy};
use crate::rules::{LimitValue, Rule, RuleKind};

/// Where the index stands.
pub const INDEX: &str = "index.md";

/// The index, a page a rule in force, and the page of facts, as files that link to each other.
pub fn pages(policy: &Policy) -> Vec<Page> {
    let index = Page { path: INDEX.to_owned(), text: index(policy, Links::Files) };
    let facts = Page { path: facts::PATH.to_owned(), text: facts::page() };
    let each = in_force(policy).map(|rule| Page { path: path(rule), text: page(policy, rule, Links::Files) });
    [index, facts].into_iter().chain(each).collect()
}

/// The index and all rules in force as one document.
pub fn document(policy: &Policy) -> String {
    let pages = in_force(policy).map(|rule| page(policy, rule, Links::Within));
    std::iter::once(index(policy, Links::Within)).chain(pages).collect::<Vec<_>>().join("\n")
}

fn in_force(policy: &Policy) -> impl Iterator<Item = &Arc<Rule>> {
    policy.catalogue.rules().iter().filter(|rule| rule.is_in_force())
}

fn path(rule: &Rule) -> String {
    format!("{}/{}.md", rule.family, rule.id)
}

fn index(policy: &Policy, links: Links) -> String {
    let mut out = String::new();
    heading(&mut out, 1, "Rules");
    let count = in_force(policy).count();
    paragraphs(
        &mut out,
        &format!(
            "{count} rules in force, by family. A finding is an error, a warning or a note; what no computation settles is for a person to \
             judge."
        ),
    );
    if links == Links::Files {
        out.push_str(&format!("[The facts that rules read]({})\n\n", facts::PATH));
    }
    let mut families: Vec<&str> = in_force(policy).map(|rule| &*rule.family).collect();
    families.dedup();
    for family in families {
        heading(&mut out, 2, family);
        let own = in_force(policy).filter(|rule| &*rule.family == family);
        let rows = own.map(|rule| {
            let to = match links {
                Links::Within => format!("#{}", rule.id),
                Links::Files => path(rule),
            };
            let named = format!("[{}]({to})", escape(&rule.id));
            vec![named, level(policy, rule).to_owned(), escape(rule.for_each.word()), escape(&rule.title)]
        });
        table(&mut out, &["rule", "level", "asked of each", "what is wrong"], &rows.collect::<Vec<_>>());
    }
    let resting = policy.catalogue.rules().iter().filter(|rule| !rule.is_in_force());
    let resting: Vec<String> = resting.map(|rule| escape(&rule.id)).collect();
    if !resting.is_empty() {
        paragraphs(&mut out, "Not in force, and asked of no build:");
        out.push_str(&format!("{}\n\n", resting.join(", ")));
    }
    paragraphs(&mut out, CAUTIONS);
    out
}

fn level(policy: &Policy, rule: &Rule) -> &'static str {
    let off = policy.house.as_ref().is_some_and(|house| house.is_off(&rule.id));
    match rule.kind {
        _ if off => "off",
        RuleKind::Review => "review",
        RuleKind::Fail => rule.level.word(),
    }
}

/// What a person reads of one rule.
fn page(policy: &Policy, rule: &Rule, links: Links) -> String {
    let whole = policy.catalogue.whole(&rule.id, &BuildVocabulary);
    let whole = whole.as_ref().unwrap_or(rule);
    // In one document a rule stands below the heading of all of them.
    let depth = if links == Links::Within { 2 } else { 1 };
    let mut out = String::new();
    if links == Links::Within {
        out.push_str(&format!("<a id=\"{}\"></a>\n\n", rule.id));
    }
    heading(&mut out, depth, &rule.title);
    let facts = [
        ("rule", escape(&rule.id)),
        ("family", escape(&rule.family)),
        ("level", level(policy, rule).to_owned()),
        ("asked of each", escape(rule.for_each.word())),
    ];
    for (what, words) in facts {
        out.push_str(&format!("- {what}: {words}\n"));
    }
    out.push('\n');
    if links == Links::Files {
        out.push_str(&format!("[All rules](../{INDEX})\n"));
    }
    condition(&mut out, rule, depth + 1);
    limits(&mut out, rule, depth + 1);
    heading(&mut out, depth + 1, "Why");
    paragraphs(&mut out, &whole.why);
    if let Some(advice) = &whole.advice {
        heading(&mut out, depth + 1, "What to do");
        paragraphs(&mut out, advice);
    }
    list(&mut out, depth + 1, "Cautions", &whole.cautions);
    list(&mut out, depth + 1, "Sources", &whole.sources);
    silenced(&mut out, policy, rule, links, depth + 1);
    let read = rule.facts();
    if !read.is_empty() {
        heading(&mut out, depth + 1, "Facts that it reads");
        for (whose, name) in &read {
            let link = (links == Links::Files).then_some("../");
            out.push_str(&facts::entry(whose.kind(rule.for_each), whose.word(), name, link));
        }
        out.push('\n');
    }
    if !whole.cases.is_empty() {
        heading(&mut out, depth + 1, "Cases");
        let cases =
            whole.cases.iter().map(|case| vec![escape(&case.name), expect_words(case.expect).to_owned()]);
        table(&mut out, &["case", "what it comes to"], &cases.collect::<Vec<_>>());
    }
    out.truncate(out.trim_end().len());
    out.push('\n');
    out
}

fn condition(out: &mut String, rule: &Rule, depth: usize) {
    heading(out, depth, "When it fails");
    out.push_str(&fenced(rule.fails_when.text()));
    if let Some(applies) = &rule.applies_when {
        out.push_str(&format!(
            "\nAsked only where this holds (else: {}):\n\n",
            escape(&rule.does_not_apply.0)
        ));
        out.push_str(&fenced(applies.text()));
    }
    if let Some(fallback) = &rule.fallback {
        out.push_str("\nRule of thumb, where that cannot be computed:\n\n");
        out.push_str(&fenced(fallback.text()));
    }
}

fn limits(out: &mut String, rule: &Rule, depth: usize) {
    if rule.limits.is_empty() {
        return;
    }
    heading(out, depth, "Limits");
    let rows = rule.limits.iter().map(|limit| {
        let value = match &limit.value {
            LimitValue::One(written) => escape(&written.text),
            LimitValue::ByKey { by, values } => {
                let each =
                    values.iter().map(|(key, written)| format!("{} {}", escape(key), escape(&written.text)));
                format!("by {}: {}", escape(by.text()), each.collect::<Vec<_>>().join(", "))
            }
        };
        vec![escape(&limit.name), value, escape(&limit.source)]
    });
    table(out, &["limit", "value", "source"], &rows.collect::<Vec<_>>());
}

fn list(out: &mut String, depth: usize, title: &str, items: &[Arc<str>]) {
    if items.is_empty() {
        return;
    }
    heading(out, depth, title);
    for item in items {
        out.push_str(&format!("- {}\n", escape(item)));
    }
    out.push('\n');
}

fn silenced(out: &mut String, policy: &Policy, rule: &Rule, links: Links, depth: usize) {
    if rule.silences.is_empty() {
        return;
    }
    heading(out, depth, "Rules that it silences");
    for id in &rule.silences {
        let target = policy.catalogue.find(id).filter(|rule| rule.is_in_force());
        let words = match (target, links) {
            (Some(target), Links::Files) => format!("[{}](../{})", escape(id), path(target)),
            (Some(_), Links::Within) => format!("[{}](#{id})", escape(id)),
            (None, _) => escape(id),
        };
        out.push_str(&format!("- {words}\n"));
    }
    out.push('\n');
}

//! Promise: a misspelt fact, and a fact of another dimension or kind, are refused when a rule is loaded, at the place of
//! the name, with the nearest name or with both kinds. Tried mechanically on every name in every expression of every
//! rule: in its conditions, its limits by key, its places, its cures and its texts.

mod common;

use std::fmt::Display;
use std::ops::Range;
use std::sync::Arc;

use common::tree;
use tractwright::facts;
use tractwright::known::Kind;
use tractwright::review::BuildVocabulary;
use tractwright::rules::{Catalogue, Rule, embedded_files};
use tractwright::text::{Fault, Node, Value};
use tractwright::tract::SubjectKind;

/// A fact's or a limit's name in a rule file, with the expression that it stands in.
struct Use<'t> {
    path: &'t str,
    text: &'t str,
    /// `it`, `build` or `limits`.
    root: &'t str,
    /// The name behind the dot.
    name: &'t str,
    /// Its bytes in the file, root and dot included.
    span: Range<usize>,
    /// The bytes of the expression in the file.
    expression: Range<usize>,
}

/// The bytes of all expressions of a rule file.
fn expressions(node: &Node, key: &str, text: &str, found: &mut Vec<Range<usize>>) {
    match &node.value {
        Value::Scalar(_) => {
            let (start, end) = (node.span.start, node.span.end);
            match key {
                "applies-when" | "fails-when" | "fallback" | "by" | "entry-for" | "below" => {
                    found.push(start..end);
                }
                "says" => {
                    let pieces = text[start..end].match_indices("{{").map(|(at, _)| start + at + 2);
                    let closed = |from: usize| from + text[from..].find("}}").expect("a piece is closed");
                    found.extend(pieces.map(|from| from..closed(from)));
                }
                _ => {}
            }
        }
        Value::List(list) => list.iter().for_each(|entry| expressions(entry, key, text, found)),
        Value::Map(map) => {
            for entry in map {
                expressions(&entry.value, &entry.key.text, text, found);
            }
        }
    }
}

fn is_of_a_name(letter: char) -> bool {
    letter.is_alphanumeric() || letter == '_' || letter == '.'
}

/// All names in the expressions of all rules.
fn uses(files: &[(String, String)]) -> Vec<Use<'_>> {
    let mut found = Vec::new();
    for (path, text) in files {
        let root: Arc<Node> = tree(path, text);
        let mut all = Vec::new();
        expressions(&root, "", text, &mut all);
        for expression in all {
            let mut at = expression.start;
            for word in text[expression.clone()].split(|letter| !is_of_a_name(letter)) {
                if let Some((root @ ("it" | "build" | "limits"), name)) = word.split_once('.') {
                    let (span, expression) = (at..at + word.len(), expression.clone());
                    found.push(Use { path, text, root, name, span, expression });
                }
                // What stands between words in an expression is ASCII; a slice would panic otherwise.
                at += word.len() + 1;
            }
        }
    }
    found
}

impl Use<'_> {
    /// What the name is a fact of; nothing for a limit.
    fn on(&self) -> Option<SubjectKind> {
        let line = self.text.lines().find_map(|line| line.strip_prefix("for-each: ")).expect("for-each");
        match self.root {
            "it" => SubjectKind::from_word(line.trim()),
            "build" => Some(SubjectKind::Build),
            _ => None,
        }
    }

    /// The kind of a fact of the same subject.
    fn kind(&self, name: &str) -> Kind {
        let (row, companion) = facts::find(self.on().expect("a fact"), name).expect("a fact of the subject");
        facts::kind(row, companion)
    }

    /// The faults of the rule file, loaded by itself, with another name in the place of this one.
    fn with(&self, name: &str) -> Vec<Fault> {
        let mut text = self.text.to_owned();
        text.replace_range(self.span.clone(), &format!("{}.{name}", self.root));
        let (_, faulty) = Catalogue::load([(self.path.to_owned(), text)], &BuildVocabulary);
        faulty.into_iter().flat_map(|file| file.faults).collect()
    }

    /// The other side of the comparison that the name stands in, if it stands in one.
    fn compared_with(&self) -> Option<&str> {
        let expression = &self.text[self.expression.clone()];
        let at = self.span.start - self.expression.start;
        let joints = ["&&", "||"];
        let from =
            joints.iter().filter_map(|joint| expression[..at].rfind(joint)).max().map_or(0, |at| at + 2);
        let to = joints.iter().filter_map(|joint| expression[at..].find(joint)).min();
        let to = to.map_or(expression.len(), |further| at + further);
        let signs = ["<=", ">=", "==", "!=", "<", ">", " in "];
        signs.iter().find_map(|sign| {
            let left = from..from + expression[from..to].find(sign)?;
            let right = left.end + sign.len()..to;
            Some(&expression[if left.contains(&at) { right } else { left }])
        })
    }

    /// Whether a fault lies in the expression and covers what now stands in the place of the name.
    fn is_marked_by(&self, fault: &Fault, instead: &str) -> bool {
        let name = self.span.start..self.span.start + self.root.len() + 1 + instead.len();
        let marked = fault.span.start..fault.span.end;
        self.expression.start <= marked.start && marked.start <= name.start && name.end <= marked.end
    }

    fn told(&self, instead: impl Display, faults: &[Fault]) -> String {
        format!("{}: `{instead}` for `{}.{}`: {faults:?}", self.path, self.root, self.name)
    }
}

#[test]
fn a_misspelt_name_is_refused_at_its_place_with_the_nearest_name() {
    let files: Vec<_> = embedded_files().collect();
    let mut wrong = Vec::new();
    let mut tried = 0;
    for name in uses(&files) {
        let mut misspelt = name.name.to_owned();
        misspelt.remove(misspelt.len() / 2);
        let faults = name.with(&misspelt);
        let end = name.span.end - 1;
        let here = |fault: &&Fault| (fault.span.start, fault.span.end) == (name.span.start, end);
        let right = format!("{}.{}", name.root, name.name);
        let told = faults.iter().find(here).is_some_and(|fault| {
            let help = fault.help.as_deref().unwrap_or_default();
            fault.message.contains(&misspelt) && (fault.message.contains(&right) || help.contains(&right))
        });
        if !told {
            wrong.push(name.told(&misspelt, &faults));
        }
        tried += 1;
    }
    println!("{tried} names were misspelt");
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(tried >= 50, "only {tried} names were tried");
}

/// Whether a fault names a kind; of a number that is out of place it is enough to say that it is one.
fn names_kind(fault: &Fault, kind: Kind, loosely: bool) -> bool {
    let number = matches!(kind, Kind::Number(_)) && loosely;
    let loose = number && (fault.message.contains("a number") || fault.message.contains("with 0"));
    fault.message.contains(&kind.to_string()) || loose
}

#[test]
fn a_compared_fact_of_another_dimension_or_kind_is_refused_with_both() {
    let files: Vec<_> = embedded_files().collect();
    let mut wrong = Vec::new();
    let (mut dimensions, mut kinds) = (0, 0);
    for name in uses(&files) {
        let (Some(on), Some(other_side)) = (name.on(), name.compared_with()) else { continue };
        let own = name.kind(name.name);
        // Nought is of any dimension.
        let with_nought = other_side.trim_matches(['"', ' ', ')']) == "0";
        for instead in facts::names(on) {
            let new = name.kind(instead);
            let both_numbers = matches!((own, new), (Kind::Number(_), Kind::Number(_)));
            if new == own || (both_numbers && with_nought) {
                continue;
            }
            let faults = name.with(instead);
            let told = faults.iter().any(|fault| {
                let loosely = !both_numbers;
                name.is_marked_by(fault, instead)
                    && names_kind(fault, own, loosely)
                    && names_kind(fault, new, loosely)
            });
            if !told {
                wrong.push(name.told(instead, &faults));
            }
            *(if both_numbers { &mut dimensions } else { &mut kinds }) += 1;
        }
    }
    println!("{dimensions} facts of another dimension and {kinds} of another kind were tried");
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(dimensions >= 10, "only {dimensions} of another dimension were tried");
    assert!(kinds >= 100, "only {kinds} of another kind were tried");
}

#[test]
fn a_fact_that_is_no_condition_is_refused_where_one_is_due() {
    let files: Vec<_> = embedded_files().collect();
    let mut wrong = Vec::new();
    let mut tried = 0;
    for name in uses(&files) {
        let Some(on) = name.on().filter(|_| name.compared_with().is_none()) else { continue };
        if name.kind(name.name) != Kind::Bool {
            continue;
        }
        for instead in facts::names(on).into_iter().filter(|instead| name.kind(instead) != Kind::Bool) {
            let faults = name.with(instead);
            let new = name.kind(instead);
            let told = |fault: &Fault| {
                let message = &fault.message;
                name.is_marked_by(fault, instead)
                    && message.contains("a condition")
                    && message.contains(&new.to_string())
            };
            if !faults.iter().any(told) {
                wrong.push(name.told(instead, &faults));
            }
            tried += 1;
        }
    }
    println!("{tried} facts stood where a condition is due");
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(tried >= 30, "only {tried} facts were tried");
}

#[test]
fn a_rule_lowered_when_the_program_is_built_is_that_of_its_text_without_the_cases() {
    let (brief, faulty) = Catalogue::embedded(&BuildVocabulary);
    let (whole, _) = Catalogue::load(embedded_files(), &BuildVocabulary);
    assert!(faulty.is_empty() && brief.rules().len() > 80 && brief.rules().len() == whole.rules().len());
    for (brief, whole) in brief.rules().iter().zip(whole.rules()) {
        assert!(brief.cases.is_empty() && !whole.cases.is_empty(), "{}", whole.id);
        let mut same = Rule::clone(whole);
        same.cases.clear();
        assert_eq!(format!("{same:#?}"), format!("{brief:#?}"));
    }
}

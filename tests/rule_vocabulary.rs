//! Promise: a misspelt fact, and a fact of another dimension or kind, are refused when a rule is loaded, at the place of
//! the name, with the nearest name or with both dimensions. Tried mechanically on every fact in every rule's conditions.

mod common;

use tractwright::facts;
use tractwright::known::Kind;
use tractwright::review::BuildVocabulary;
use tractwright::rules::{Catalogue, embedded_files};
use tractwright::text::Fault;
use tractwright::tract::SubjectKind;

/// The conditions of a rule file: where each begins in the text, and its words.
fn conditions(text: &str) -> Vec<(usize, &str)> {
    let keys = ["applies-when: \"", "fails-when: \"", "fallback: \""];
    keys.iter()
        .filter_map(|key| {
            let start = text.find(&format!("\n{key}"))? + 1 + key.len();
            let end = start + text[start..].find('"')?;
            Some((start, &text[start..end]))
        })
        .collect()
}

/// The facts of a condition: where each name begins in the text, whose it is, and the name.
fn names(start: usize, condition: &str) -> Vec<(usize, &str, &str)> {
    let mut found = Vec::new();
    for whose in ["it", "build"] {
        for (at, _) in condition.match_indices(&format!("{whose}.")) {
            let before = condition[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '.') {
                continue;
            }
            let from = at + whose.len() + 1;
            let length = condition[from..].find(|c: char| !(c.is_alphanumeric() || c == '_'));
            let to = length.map_or(condition.len(), |length| from + length);
            found.push((start + from, whose, &condition[from..to]));
        }
    }
    found
}

/// The faults of one rule file whose text is changed, loaded among all the others.
fn load(path: &str, text: String) -> Vec<Fault> {
    let files =
        embedded_files().map(|(other, own)| if other == path { (other, text.clone()) } else { (other, own) });
    let (_, faulty) = Catalogue::load(files, &BuildVocabulary);
    faulty.into_iter().filter(|file| &*file.path == path).flat_map(|file| file.faults).collect()
}

fn for_each(text: &str) -> SubjectKind {
    let line = text.lines().find_map(|line| line.strip_prefix("for-each: ")).expect("for-each");
    SubjectKind::from_word(line.trim()).expect("a kind of subject")
}

fn spoken(faults: &[Fault]) -> String {
    let words =
        faults.iter().map(|fault| format!("{} {}", fault.message, fault.help.as_deref().unwrap_or("")));
    words.collect::<Vec<_>>().join("; ")
}

#[test]
fn a_misspelt_fact_is_refused_at_its_place_with_the_nearest_name() {
    let mut tried = 0;
    for (path, text) in embedded_files() {
        for (start, condition) in conditions(&text) {
            for (at, _, name) in names(start, condition) {
                let middle = name.len() / 2;
                let mut misspelt = name.to_owned();
                misspelt.remove(middle);
                let mut changed = text.clone();
                changed.replace_range(at..at + name.len(), &misspelt);
                let faults = load(&path, changed);
                let here = faults.iter().find(|fault| fault.span.start <= at && at < fault.span.end);
                let fault =
                    here.unwrap_or_else(|| panic!("{path}: `{misspelt}` is not refused at its place"));
                assert!(spoken(std::slice::from_ref(fault)).contains(name), "{path}: {fault:?}");
                tried += 1;
            }
        }
    }
    assert!(tried >= 20, "only {tried} names were tried");
}

#[test]
fn a_fact_of_another_dimension_is_refused_with_both() {
    let mut tried = 0;
    for (path, text) in embedded_files() {
        for (start, condition) in conditions(&text) {
            for (at, whose, name) in names(start, condition) {
                let on = if whose == "it" { for_each(&text) } else { SubjectKind::Build };
                let (row, companion) = facts::find(on, name).expect("a fact that the rule loads with");
                let Kind::Number(dim) = facts::kind(row, companion) else { continue };
                // A fact in another dimension, from whichever subject of the build has one.
                let other = facts::rows().find(|other| {
                    matches!(other.kind, Kind::Number(d) if d != dim)
                        && other.on.iter().any(|kind| on.lineage().contains(kind))
                });
                let Some(other) = other else { continue };
                // Nought has any dimension.
                let rest = condition[at - start + name.len()..].trim_start_matches([' ', '<', '>', '=']);
                if rest.starts_with('0') {
                    continue;
                }
                let mut changed = text.clone();
                changed.replace_range(at..at + name.len(), other.name);
                let faults = load(&path, changed);
                let Kind::Number(new) = other.kind else { continue };
                let words = spoken(&faults);
                assert!(!faults.is_empty(), "{path}: `{}` in place of `{name}` is let through", other.name);
                assert!(words.contains(&Kind::Number(new).to_string()), "{path}: {words}");
                tried += 1;
            }
        }
    }
    assert!(tried >= 4, "only {tried} swaps were tried");
}

#[test]
fn a_fact_of_another_kind_is_refused() {
    let mut tried = 0;
    for (path, text) in embedded_files() {
        for (start, condition) in conditions(&text) {
            for (at, whose, name) in names(start, condition) {
                let on = if whose == "it" { for_each(&text) } else { SubjectKind::Build };
                let (row, companion) = facts::find(on, name).expect("a fact that the rule loads with");
                let kind = facts::kind(row, companion);
                let same = |a: Kind, b: Kind| std::mem::discriminant(&a) == std::mem::discriminant(&b);
                let others = facts::names(on).into_iter().filter_map(|name| facts::find(on, name));
                let Some((other, _)) = others.into_iter().find(|(other, _)| !same(other.kind, kind)) else {
                    continue;
                };
                let mut changed = text.clone();
                changed.replace_range(at..at + name.len(), other.name);
                assert!(!load(&path, changed).is_empty(), "{path}: `{}` in place of `{name}`", other.name);
                tried += 1;
            }
        }
    }
    assert!(tried >= 15, "only {tried} swaps were tried");
}

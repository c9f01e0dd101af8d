//! Promise: the cases of a rule hold it in place. Each mutant of each rule breaks at least one of its cases or is refused at
//! load: a comparison flipped, a conjunct dropped, a limit taken ten times or a tenth of what it is, a fact swapped for
//! another of the same kind.
//!
//! Survivors are listed with the reason why no build can tell them apart; none may be added for a rule of the first rank
//! without one.

mod common;

use common::cases::outcome;
use rayon::prelude::*;
use tractwright::facts;
use tractwright::review::BuildVocabulary;
use tractwright::review::cases::expected;
use tractwright::rules::{Catalogue, embedded_files};
use tractwright::tract::SubjectKind;

/// Mutants that no case can catch: rule, what is mutated, why.
const SURVIVORS: &[(&str, &str, &str)] = &[
    ("air-unmeasured", "air_counted -> metering", CLAIMED),
    ("part-without-place", "in_tract -> meets_tract_air", ATTACHED),
    ("duct-too-fast", "in_tract -> meets_tract_air", LED),
    ("inlet-icing", "wetted_by_fuel -> carries_fuel", BESIDE),
    ("turbine-cannot-drive", "balance_failures -> power_short_max", SHORT),
];

const ATTACHED: &str =
    "what meets the tract's air and is not on the path is attached, so that the two come to the same";
const LED: &str = "what meets the tract's air and is not on the path has no bore that air is led through";
const BESIDE: &str =
    "a throttle that carries fuel and is not wetted has a carburettor beside it, of which the rule speaks";
const SHORT: &str =
    "a turbine falls short at some point just where the power that it lacks there is not nothing";
const CLAIMED: &str = "the two differ only where nothing tells the air, and there the other is undecided";

struct Mutant {
    what: String,
    text: String,
}

/// The conditions of a rule file: key, where its words begin, the words.
fn conditions(text: &str) -> Vec<(&'static str, usize, String)> {
    ["applies-when", "fails-when", "fallback"]
        .into_iter()
        .filter_map(|key| {
            let sign = format!("\n{key}: \"");
            let start = text.find(&sign)? + sign.len();
            let end = start + text[start..].find('"')?;
            Some((key, start, text[start..end].to_owned()))
        })
        .collect()
}

fn with(text: &str, start: usize, old: &str, new: &str) -> String {
    let mut changed = text.to_owned();
    changed.replace_range(start..start + old.len(), new);
    changed
}

fn mutants(text: &str) -> Vec<Mutant> {
    let mut all = Vec::new();
    let word = text.lines().find_map(|line| line.strip_prefix("for-each: ")).expect("for-each").trim();
    let it = SubjectKind::from_word(word).expect("a kind of subject");
    for (key, start, condition) in conditions(text) {
        let mut push = |what: String, new: String| {
            all.push(Mutant { what: format!("{key}: {what}"), text: with(text, start, &condition, &new) });
        };
        for (from, to) in [
            (" < ", " > "),
            (" > ", " < "),
            (" >= ", " < "),
            (" <= ", " > "),
            (" == ", " != "),
            (" != ", " == "),
        ] {
            for (at, _) in condition.match_indices(from) {
                push(format!("flip{from}at {at}"), with(&condition, at, from, to));
            }
        }
        let conjuncts: Vec<&str> = condition.split(" && ").collect();
        if conjuncts.len() > 1 && !condition.contains('(') {
            for left_out in 0..conjuncts.len() {
                let rest: Vec<&str> = conjuncts
                    .iter()
                    .enumerate()
                    .filter(|(i, _)| *i != left_out)
                    .map(|(_, one)| *one)
                    .collect();
                push(format!("drop {}", conjuncts[left_out]), rest.join(" && "));
            }
        }
        for (whose, on) in [("it.", it), ("build.", SubjectKind::Build)] {
            for (at, _) in condition.match_indices(whose) {
                let from = at + whose.len();
                let end = condition[from..].find(|c: char| !(c.is_alphanumeric() || c == '_'));
                let name = &condition[from..end.map_or(condition.len(), |end| from + end)];
                let Some((row, companion)) = facts::find(on, name) else { continue };
                let kind = facts::kind(row, companion);
                for other in facts::names(on) {
                    let same = facts::find(on, other)
                        .is_some_and(|(row, companion)| facts::kind(row, companion) == kind);
                    if other != name && same {
                        push(format!("{name} -> {other}"), with(&condition, from, name, other));
                    }
                }
            }
        }
    }
    all.extend(limit_mutants(text));
    all
}

/// Each number behind `value:` or in a list of `values:`, ten times and a tenth.
fn limit_mutants(text: &str) -> Vec<Mutant> {
    let Some(start) = text.find("\nlimits:") else { return Vec::new() };
    let end = start + 1 + text[start + 1..].find("\nfails-when").expect("a condition behind the limits");
    let mut all = Vec::new();
    for sign in ["value: ", "{ petrol: ", ", diesel: ", "{ housing: ", ", pipe: "] {
        for (at, _) in text[start..end].match_indices(sign) {
            let from = start + at + sign.len();
            let length =
                text[from..].find(|c: char| !(c.is_ascii_digit() || c == '.')).expect("a unit behind it");
            let written = &text[from..from + length];
            let number: f64 = written.parse().expect("a number");
            if number == 0.0 {
                continue;
            }
            for factor in [0.1, 10.0] {
                let new = format!("{}", number * factor);
                all.push(Mutant {
                    what: format!("limit {written} x {factor}"),
                    text: with(text, from, written, &new),
                });
            }
        }
    }
    all
}

/// A rule file without the list of what the rule silences: that bears on other rules' cases, and names rules that are not
/// loaded beside a mutant.
fn without_silences(text: &str) -> String {
    let mut within = false;
    let kept = text.lines().filter(|line| {
        within = line.starts_with("silences:") || (within && line.starts_with("  - "));
        !within
    });
    kept.fold(String::new(), |text, line| text + line + "\n")
}

#[test]
fn each_mutant_breaks_a_case() {
    let all: Vec<(String, Mutant)> = embedded_files()
        // A draft is asked of no build, and its cases are still to come.
        .filter(|(_, text)| !text.contains("\nstatus: draft"))
        .flat_map(|(path, text)| mutants(&text).into_iter().map(move |mutant| (path.clone(), mutant)))
        .collect();
    let tried = all.len();
    let base = Catalogue::embedded(&BuildVocabulary).0;
    let survives = |(path, mutant): &(String, Mutant)| {
        let (alone, faulty) =
            Catalogue::load([(path.clone(), without_silences(&mutant.text))], &BuildVocabulary);
        if !faulty.is_empty() {
            return None;
        }
        let rule = alone.rules().first().expect("the mutant");
        let caught = rule.cases.iter().any(|case| outcome(&base, rule, case) != Some(expected(case.expect)));
        let listed = SURVIVORS.iter().any(|(id, what, _)| *id == &*rule.id && mutant.what.contains(what));
        (!caught && !listed).then(|| format!("{}, {}", rule.id, mutant.what))
    };
    let survivors: Vec<String> = all.par_iter().filter_map(survives).collect();
    assert!(survivors.is_empty(), "{survivors:#?}");
    assert!(tried >= 60, "only {tried} mutants were made");
    println!("{tried} mutants");
}

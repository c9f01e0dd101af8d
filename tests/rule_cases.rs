//! Promise: each case of each rule comes out as its file says; every rule has a case that fails (or is to be judged) and
//! one that does not; and a rule whose condition is negated breaks at least one of its cases.
//!
//! A case's outcome is the gravest over its rule's subjects: fail, review, open, pass, not-applicable.

mod common;

use common::cases::outcome;
use common::{catalogue, loaded};
use tractwright::review::cases::expected;
use tractwright::rules::{Expect, embedded_files};

#[test]
fn each_case_comes_out_as_written() {
    let catalogue = catalogue();
    let mut wrong = Vec::new();
    let mut tried = 0;
    for rule in catalogue.rules() {
        for case in &rule.cases {
            tried += 1;
            let came = outcome(&catalogue, rule, case);
            if came != Some(expected(case.expect)) {
                wrong.push(format!(
                    "{}, {}: expected {:?}, came to {came:?}",
                    rule.id, case.name, case.expect
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(tried >= 60, "only {tried} cases were found");
}

#[test]
fn every_rule_has_a_case_on_either_side() {
    for rule in catalogue().rules() {
        let has = |wanted: &[Expect]| rule.cases.iter().any(|case| wanted.contains(&case.expect));
        assert!(has(&[Expect::Fail, Expect::Review]), "{} has no failing case", rule.id);
        assert!(has(&[Expect::Pass, Expect::NotApplicable]), "{} has no case that does not fail", rule.id);
    }
}

#[test]
fn a_negated_rule_breaks_one_of_its_cases() {
    let mut tried = 0;
    for (path, text) in embedded_files() {
        let Some(line) = text.lines().find(|line| line.starts_with("fails-when: \"")) else {
            panic!("{path} has its condition in another form");
        };
        let condition = line.trim_start_matches("fails-when: \"").trim_end_matches('"');
        let mutant = text.replace(line, &format!("fails-when: \"!({condition})\""));
        let others = embedded_files().filter(|(other, _)| *other != path);
        let catalogue = loaded(others.chain([(path.clone(), mutant)]));
        let rule = catalogue.rules().iter().find(|rule| *rule.origin.path == *path).expect("the mutant");
        let broken =
            rule.cases.iter().any(|case| outcome(&catalogue, rule, case) != Some(expected(case.expect)));
        assert!(broken, "no case notices that {path} is negated");
        tried += 1;
    }
    assert!(tried >= 12);
}

#[test]
fn every_rule_teaches() {
    let catalogue = catalogue();
    let order: Vec<_> = catalogue.rules().iter().map(|rule| (&rule.family, &rule.id)).collect();
    assert!(order.is_sorted());
    for rule in catalogue.rules() {
        assert!(rule.why.split_whitespace().count() > 60, "{} hardly says why", rule.id);
        assert!(!rule.title.ends_with('.'), "{}", rule.id);
        assert!(
            rule.limits.iter().all(|limit| !limit.source.is_empty()),
            "{} has a limit without a source",
            rule.id
        );
    }
}

//! Promise: each case of each rule comes out as its file says; every rule has a case that fails (or is to be judged) and
//! one that does not; and a rule whose condition is negated breaks at least one of its cases.
//!
//! A case's outcome is the gravest over its rule's subjects: fail, review, open, pass, not-applicable.

mod common;

use common::{Example, STARTER, catalogue, loaded};
use tractwright::review::{RuleResult, Verdict};
use tractwright::rules::{Case, Catalogue, Expect, Rule, embedded_files};

fn graver(results: &[RuleResult], rule: &Rule, expect: Expect) -> Option<Verdict> {
    let own = results.iter().filter(|result| result.rule.id == rule.id).map(RuleResult::verdict);
    if expect == Expect::Silenced {
        return own.into_iter().find(|verdict| *verdict == Verdict::Silenced);
    }
    // The verdicts' own order puts the gravest first, but for pass, which open outweighs.
    let weight = |verdict: &Verdict| match verdict {
        Verdict::Fail => 0,
        Verdict::Review => 1,
        Verdict::Open => 2,
        Verdict::Pass => 3,
        Verdict::NotApplicable => 4,
        Verdict::Silenced => 5,
    };
    own.min_by_key(weight)
}

fn expected(expect: Expect) -> Verdict {
    match expect {
        Expect::Pass => Verdict::Pass,
        Expect::Fail => Verdict::Fail,
        Expect::Open => Verdict::Open,
        Expect::NotApplicable => Verdict::NotApplicable,
        Expect::Review => Verdict::Review,
        Expect::Silenced => Verdict::Silenced,
    }
}

/// What a case comes to.
fn outcome(catalogue: &Catalogue, rule: &Rule, case: &Case) -> Option<Verdict> {
    let base = case.base.as_deref().unwrap_or(STARTER);
    let example = Example::read(base);
    let example = match case.map_flow {
        None => example,
        Some(factor) => Example::written(base, &example.text, Some(factor)),
    };
    let root = example.changed(&case.change);
    // Before silencing, unless the case is about that: the rule alone.
    let alone = [&*rule.id];
    let rules: &[&str] = if case.expect == Expect::Silenced { &[] } else { &alone };
    let review = example.review_with(catalogue, &root, rules);
    graver(&review.results, rule, case.expect)
}

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

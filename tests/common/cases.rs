//! The cases of a rule, run.
//!
//! A case's outcome is the gravest over its rule's subjects: fail, review, open, pass, not-applicable.

use tractwright::review::{RuleResult, Verdict};
use tractwright::rules::{Case, Catalogue, Expect, Rule};

use super::{Example, STARTER};

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

/// The verdict that a case expects.
pub fn expected(expect: Expect) -> Verdict {
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
pub fn outcome(catalogue: &Catalogue, rule: &Rule, case: &Case) -> Option<Verdict> {
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

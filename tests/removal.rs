//! Promise: taking away any one scalar at a fixed key never turns a finding or an open question into a pass in silence.
//!
//! Over all examples, and over the cases of the rules that come to a finding or stay open, each scalar under a key that
//! is the name of a field is taken away, one at a time. Entries of lists, of tables over engine speed and of tables by
//! name (parts, hoses, joints) are not fields. A result may turn to pass only if it names the default that stood in.
//! Where a part's kind is taken away its results may vanish: then the text has a fault, which says so. What counts is
//! the outcome before other rules silence it.

mod common;

use std::collections::BTreeMap;
use std::sync::Arc;

use common::{Example, STARTER, catalogue, loaded, yaml_names};
use rayon::prelude::*;
use tractwright::review::Review;
use tractwright::rules::{Case, Catalogue, Expect, Outcome};
use tractwright::text::{Change, Node, Op, Route, Value, scalar};

/// The routes of all scalars at fixed keys.
fn scalars(node: &Arc<Node>, at: &Route, found: &mut Vec<Route>) {
    match &node.value {
        Value::Scalar(_) => {}
        Value::List(items) => {
            for (i, item) in items.iter().enumerate() {
                scalars(item, &at.index(i), found);
            }
        }
        Value::Map(map) => {
            for entry in map.iter() {
                let below = at.key(&entry.key.text);
                let speed = entry.key.text.ends_with("rpm");
                if entry.value.as_scalar().is_some() && !speed && !is_named(&below) {
                    found.push(below.clone());
                }
                scalars(&entry.value, &below, found);
            }
        }
    }
}

/// Whether a route is an entry of a table by name: the name is the writer's, not a field's.
fn is_named(route: &Route) -> bool {
    let parent = route.parent().map(|parent| parent.to_string());
    matches!(parent.as_deref(), Some("parts" | "hoses" | "joints"))
}

/// Outcomes by rule and subject, each with the fields that defaults stood in for.
type Outcomes = BTreeMap<(String, String), (Outcome, Vec<Route>)>;

fn outcomes(review: &Review) -> Outcomes {
    let results = review.results.iter().map(|result| {
        let identity = (result.rule.id.to_string(), result.subject.route.to_string());
        (identity, (result.judgement.outcome.clone(), result.defaults.keys().cloned().collect()))
    });
    results.collect()
}

/// What came of taking scalars away from one build.
#[derive(Default)]
struct Tried {
    removals: usize,
    /// Removals times results that were a finding or open before.
    at_stake: usize,
    /// Results of rules about what is written that passed when it was taken away.
    mended: usize,
    named_their_default: usize,
    vanished_with_a_fault: usize,
    wrong: Vec<String>,
}

impl Tried {
    fn join(mut self, other: Self) -> Self {
        self.removals += other.removals;
        self.at_stake += other.at_stake;
        self.named_their_default += other.named_their_default;
        self.mended += other.mended;
        self.vanished_with_a_fault += other.vanished_with_a_fault;
        self.wrong.extend(other.wrong);
        self
    }
}

/// Takes each scalar of a tree away that is wanted, and looks at what the rules (all, if none is named) then say.
fn take_each(
    catalogue: &Catalogue,
    example: &Example,
    root: &Arc<Node>,
    rules: &[&str],
    what: &str,
    wanted: impl Fn(&Route) -> bool,
) -> Tried {
    let mut before = outcomes(&example.review_with(catalogue, root, rules));
    before.retain(|_, (outcome, _)| matches!(outcome, Outcome::Fail | Outcome::Review | Outcome::Open(_)));
    let mut tried = Tried::default();
    if before.is_empty() {
        return tried;
    }
    let mut routes = Vec::new();
    scalars(root, &Route::root(), &mut routes);
    for route in routes.into_iter().filter(wanted) {
        tried.removals += 1;
        let change = Change(vec![Op::Remove(route.clone())]);
        let without = change.apply(root).unwrap_or_else(|cannot| panic!("{what}: {cannot}"));
        let review = example.review_with(catalogue, &without, rules);
        let after = outcomes(&review);
        for ((rule, subject), (was, _)) in &before {
            tried.at_stake += 1;
            match after.get(&(rule.clone(), subject.clone())) {
                Some((Outcome::Pass, defaults)) => {
                    let named = |field: &Route| field.starts_with(&route) || route.starts_with(field);
                    if defaults.iter().any(named) {
                        tried.named_their_default += 1;
                    } else if OF_WHAT_IS_WRITTEN.contains(&rule.as_str()) {
                        tried.mended += 1;
                    } else {
                        let was = was.word();
                        tried.wrong.push(format!(
                            "{what} without {route}: {rule} of {subject} was {was} and passes"
                        ));
                    }
                }
                Some(_) => {}
                None if review.faults.is_empty() => {
                    tried
                        .wrong
                        .push(format!("{what} without {route}: {rule} of {subject} is gone in silence"));
                }
                None => tried.vanished_with_a_fault += 1,
            }
        }
    }
    tried
}

/// Rules about what is written at all: a value that cannot be right. Taking it away is the mend that they ask for, and every
/// rule that needs the value is open from then on.
const OF_WHAT_IS_WRITTEN: &[&str] = &["value-outside-usual-range"];

/// Nothing is wrong, and no fewer removals and results at stake than these were tried.
fn settle(tried: &Tried, removals: usize, at_stake: usize) {
    println!(
        "{} removals with {} results at stake; {} passed and named their default, {} were mended, {} vanished with a fault",
        tried.removals, tried.at_stake, tried.named_their_default, tried.mended, tried.vanished_with_a_fault
    );
    assert!(tried.wrong.is_empty(), "{:#?}", tried.wrong);
    assert!(tried.removals >= removals, "only {} removals were tried", tried.removals);
    assert!(tried.at_stake >= at_stake, "only {} results were at stake", tried.at_stake);
    assert!(tried.vanished_with_a_fault > 0, "no part's kind was taken away");
}

#[test]
fn a_missing_scalar_never_makes_a_result_of_the_examples_pass() {
    let catalogue = catalogue();
    let names = yaml_names("examples");
    let each = names.par_iter().map(|name| {
        let example = Example::read(name);
        // These are the starter but for their relief valve: the rest is tried in the starter's other twins.
        let valve_only = name == "lesson" || name.starts_with("relief-");
        let of_valve = |route: &Route| {
            let route = route.to_string();
            ["parts.relief", "parts.second-relief", "hoses."].iter().any(|start| route.starts_with(start))
        };
        take_each(&catalogue, &example, &example.root, &[], name, |route| !valve_only || of_valve(route))
    });
    settle(&each.reduce(Tried::default, Tried::join), 400, 1500);
}

#[test]
fn a_missing_scalar_never_makes_a_case_of_a_rule_pass() {
    let catalogue = catalogue();
    let at_stake = [Expect::Fail, Expect::Review, Expect::Open];
    // An example as it stands is tried above.
    let changed = |case: &Case| !case.change.0.is_empty() || case.map_flow.is_some();
    let cases: Vec<_> = catalogue
        .rules()
        .iter()
        .flat_map(|rule| rule.cases.iter().map(move |case| (rule, case)))
        .filter(|(_, case)| at_stake.contains(&case.expect) && changed(case))
        .collect();
    let each = cases.par_iter().map(|(rule, case)| {
        let base = case.base.as_deref().unwrap_or(STARTER);
        let example = match case.map_flow {
            None => Example::read(base),
            Some(factor) => Example::written(base, &Example::read(base).text, Some(factor)),
        };
        let root = example.changed(&case.change);
        let what = format!("{}, case \"{}\"", rule.id, case.name);
        take_each(&catalogue, &example, &root, &[&*rule.id], &what, |_| true)
    });
    settle(&each.reduce(Tried::default, Tried::join), 3000, 3000);
}

/// A rule of the test's own: it fails on a word, and the default of that word would let it pass.
const TURNS_ON_A_DEFAULT: &str = r#"
id: not-for-tip-out
family: made
status: in-force
kind: fail
level: note
title: A valve for something else
for-each: relief-valve
fails-when: "it.purpose != 'tip-out'"
places: [ { at: it, says: here } ]
why: Made for a test.
"#;

#[test]
fn a_result_that_turns_names_the_default_that_stood_in() {
    let path = "made/not-for-tip-out.yaml".to_owned();
    let catalogue = loaded([(path, TURNS_ON_A_DEFAULT.to_owned())]);
    let example = Example::read(STARTER);
    let purpose: Route = "parts.relief.purpose".parse().expect("a route");
    let root = example.changed(&Change::set(purpose, scalar("ceiling")));
    let tried = take_each(&catalogue, &example, &root, &[], STARTER, |_| true);
    assert_eq!((tried.named_their_default, tried.wrong.len()), (1, 0), "{:#?}", tried.wrong);
}

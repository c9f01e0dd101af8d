//! Promise: taking away any one scalar at a fixed key never turns a finding or an open question into a pass in silence.
//!
//! Over all examples, each scalar under a key that is the name of a field is taken away, one at a time. Entries of lists,
//! of tables over engine speed and of tables by name (parts, hoses, joints) are not fields. A result may turn to pass only
//! if it names the default that stood in. Where a part's kind is taken away its results may vanish: then the text has a
//! fault, which says so.

mod common;

use std::collections::BTreeMap;
use std::sync::Arc;

use common::{Example, catalogue, yaml_names};
use tractwright::review::{Review, Verdict};
use tractwright::text::{Change, Node, Op, Route, Value};

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

type Verdicts = BTreeMap<(String, String), (Verdict, Vec<Route>)>;

fn verdicts(review: &Review) -> Verdicts {
    let results = review.results.iter().map(|result| {
        let identity = (result.rule.id.to_string(), result.subject.route.to_string());
        (identity, (result.verdict(), result.defaults.keys().cloned().collect()))
    });
    results.collect()
}

#[test]
fn a_missing_scalar_never_makes_anything_pass() {
    let catalogue = catalogue();
    let mut tried = 0;
    let mut turned_with_a_default = 0;
    let mut wrong = Vec::new();
    for name in yaml_names("examples") {
        let example = Example::read(&name);
        let before = verdicts(&example.review(&catalogue, &example.root));
        let mut routes = Vec::new();
        scalars(&example.root, &Route::root(), &mut routes);
        for route in routes {
            tried += 1;
            let root = example.changed(&Change(vec![Op::Remove(route.clone())]));
            let review = example.review(&catalogue, &root);
            let after = verdicts(&review);
            for ((rule, subject), (verdict, _)) in &before {
                if !matches!(verdict, Verdict::Fail | Verdict::Open) {
                    continue;
                }
                match after.get(&(rule.clone(), subject.clone())) {
                    Some((Verdict::Pass | Verdict::NotApplicable, defaults)) => {
                        let named = |field: &Route| field.starts_with(&route) || route.starts_with(field);
                        if defaults.iter().any(named) {
                            turned_with_a_default += 1;
                        } else if after[&(rule.clone(), subject.clone())].0 == Verdict::Pass {
                            wrong.push(format!("{name} without {route}: {rule} of {subject} passes"));
                        }
                    }
                    Some(_) => {}
                    None if review.faults.is_empty() => {
                        wrong.push(format!("{name} without {route}: {rule} of {subject} is gone in silence"));
                    }
                    None => {}
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(tried > 300, "only {tried} removals were tried");
    println!("{tried} removals; {turned_with_a_default} results turned, each naming its default");
}

//! Promise: what a search takes over from the build as it is, is what it would compute anew.
//!
//! Each scalar of the examples is changed, one at a time: numbers a little, names to another part's. A scope that is
//! forked for the change must give every fact of every subject as a fresh scope does.

mod common;

use std::rc::Rc;
use std::sync::Arc;

use common::{BUILD_FILE, Example, yaml_names};
use rayon::prelude::*;
use tractwright::build::Build;
use tractwright::facts::{Group, Ran, Row, Scope, Sites, find, names};
use tractwright::known::Known;
use tractwright::text::{Change, Node, Route, Value, scalar};
use tractwright::tract::SubjectKind;

fn scalars(node: &Arc<Node>, at: &Route, found: &mut Vec<(Route, String)>) {
    match &node.value {
        Value::Scalar(text) => found.push((at.clone(), text.text.to_string())),
        Value::List(items) => {
            items.iter().enumerate().for_each(|(i, item)| scalars(item, &at.index(i), found));
        }
        Value::Map(map) => {
            map.iter().for_each(|entry| scalars(&entry.value, &at.key(&entry.key.text), found));
        }
    }
}

/// Another value of the same sort: a number some 7 % larger, the name of another part, or that there is none.
fn other(text: &str, parts: &[String]) -> String {
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    if let Ok(number) = text[..end].parse::<f64>() {
        return format!("{}{}", number * 1.07, &text[end..]);
    }
    match parts.iter().position(|part| part == text) {
        Some(at) => parts[(at + 1) % parts.len()].clone(),
        None => "none".to_owned(),
    }
}

fn looks_at_runs(row: &Row) -> bool {
    row.group == Group::TipOut
}

fn facts(scope: &Scope<'_>) -> Vec<(String, String)> {
    let mut all = Vec::new();
    for kind in SubjectKind::ALL {
        for subject in scope.tract().subjects(*kind) {
            // Runs of a tip-out are taken over by the same test of what was looked at, and cost seconds each.
            let of_run = |name: &str| find(*kind, name).is_some_and(|(row, _)| looks_at_runs(row));
            for name in names(*kind).into_iter().filter(|name| !of_run(name)) {
                let value = scope.fact(&subject, name, Sites::All);
                all.push((format!("{} {name}", subject.route), format!("{value:?}")));
            }
        }
    }
    all
}

#[test]
fn a_forked_scope_gives_what_a_fresh_one_gives() {
    let counts: Vec<(usize, usize)> = yaml_names("examples")
        .into_par_iter()
        .map(|name| {
            let example = Example::read(&name);
            let build = Build::read(BUILD_FILE, &example.root, &example.files);
            let base = Scope::new(&build);
            let solved = base.steady();
            let parts: Vec<String> =
                example.root.get("parts").and_then(|parts| parts.as_map()).map_or_else(Vec::new, |parts| {
                    parts.iter().map(|entry| entry.key.text.to_string()).collect()
                });
            let mut all = Vec::new();
            scalars(&example.root, &Route::root(), &mut all);
            let mut kept = 0;
            // The starter and its twins wholly, of the other engines every eighth scalar.
            let step = if name.starts_with("hill-climb") { 1 } else { 8 };
            for (route, text) in all.iter().step_by(step) {
                let change = Change::set(route.clone(), scalar(&other(text, &parts)));
                let Ok(root) = change.apply(&example.root) else { continue };
                let changed = Build::read(BUILD_FILE, &root, &example.files);
                let fork = base.fork(&changed, &change);
                if !Rc::ptr_eq(&fork.steady(), &solved) {
                    // Nothing was taken over: it is a fresh scope by itself.
                    continue;
                }
                kept += 1;
                assert_eq!(facts(&fork), facts(&Scope::new(&changed)), "{name}: {route}");
            }
            (kept, all.len().div_ceil(step))
        })
        .collect();
    let (kept, all) = counts.iter().fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    assert!(kept * 4 > all && kept < all, "{kept} of {all} keep the solve");
}

/// A change that no run looks at leaves them all; one of the valve's spring leaves those without valves.
#[test]
fn runs_are_taken_over_where_nothing_was_changed_that_they_looked_at() {
    let example = Example::read("coupe");
    let build = Build::read(BUILD_FILE, &example.root, &example.files);
    let base = Scope::new(&build);
    let (fitted, bare) = (base.tip_outs(true), base.tip_outs(false));
    assert!(fitted.iter().chain(&bare).all(|run| run.exact().is_some()));
    let same = |a: &[Rc<Known<Ran>>], b: &[Rc<Known<Ran>>]| a.iter().zip(b).all(|(a, b)| Rc::ptr_eq(a, b));
    for (route, value, both) in [("title", "Another", true), ("parts.relief.spring.preload", "19 N", false)] {
        let change = Change::set(route.parse().expect("a route"), scalar(value));
        let changed =
            Build::read(BUILD_FILE, &change.apply(&example.root).expect("it can be made"), &example.files);
        let fork = base.fork(&changed, &change);
        assert_eq!(same(&fork.tip_outs(true), &fitted), both, "{route}");
        assert!(same(&fork.tip_outs(false), &bare), "{route}");
    }
}

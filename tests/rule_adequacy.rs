//! Promise: each rule in force can find fault with something, and no two rules are one under two names. (That the sound examples are
//! left in peace is seen in `planted.rs`.)
//!
//! Each field of each sound example is said otherwise, over its usual range or its words, one at a time: put otherwise, put in
//! where it is left out, taken away. Which rules then find fault, and which of them always together, is the score in
//! `tests/README.md`, with the faulty examples counted in. What no change of one field trips, and what always trips
//! together, stands below with its reason. What costs runs of a tip-out is tried on few fields.

mod adequacy;
mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use adequacy::{Mutation, Seen, Walk};
use common::{BUILD_FILE, Example, Planted, STARTER, catalogue, project, text_of, yaml_names};
use rayon::prelude::*;
use tractwright::build::schema::build_schema;
use tractwright::facts::{self, Group};
use tractwright::review::{Options, Review, Reviewer};
use tractwright::rules::{Catalogue, Outcome, Rule};
use tractwright::text::{Change, Node, Op, Route};

/// Rules that nothing in the walk trips, and why.
const UNTRIPPED: &[(&str, &str)] = &[
    (
        "injection-nozzle-siphons",
        "no sound example has an injection nozzle, and a new one has to be told its place, its heights and its valve at once",
    ),
    (
        "injection-runs-on-after-tip-out",
        "no sound example has an injection nozzle, and a new one has to be told its trigger and its flow at once",
    ),
    ("slow-recovery", "no sound example describes both a change of gear and the turbine"),
    (
        "twin-blows-back-on-tip-out",
        "the walk makes no run of the one sound example with two compressors side by side",
    ),
    (
        "vapour-outlet-near-hot",
        "takes an outlet of vapour to the open air and something hot beside it at once",
    ),
    (
        "vent-share-outside-window",
        "takes a relief valve that lets one part out and leads another back, beside an air meter",
    ),
];

/// Rules that trip on the same occasions, and why both are wanted.
const TOGETHER: &[(&str, &str, &str)] = &[];

/// So often at least two rules have to trip together to count as one.
const OFTEN: usize = 3;

/// The trees that cost runs of a tip-out are changed in these fields only.
const OF_TIP_OUT: &[&str] = &[
    "parts.relief",
    "hoses.relief-signal",
    "parts.throttle.closing",
    "engine.overrun",
    "parts.air-meter.knows-direction",
];

/// On which occasions each rule found fault.
type Trips = BTreeMap<Arc<str>, BTreeSet<String>>;

/// Rule and subject of what is found, whether or not another rule silences it.
fn found(review: &Review) -> BTreeSet<(Arc<str>, String)> {
    let faults = review
        .results
        .iter()
        .filter(|result| matches!(result.judgement.outcome, Outcome::Fail | Outcome::Review));
    faults.map(|result| (result.rule.id.clone(), result.subject.route.to_string())).collect()
}

/// Whether a rule reads what only a run of a tip-out tells.
fn reads_a_run(rule: &Rule) -> bool {
    rule.facts().iter().any(|(whose, name)| {
        facts::find(whose.kind(rule.for_each), name).is_some_and(|(row, _)| row.group == Group::TipOut)
    })
}

/// Reviews each changed tree with these rules, and tells what is found that the tree as it was does not show.
fn tried(
    catalogue: &Catalogue,
    name: &str,
    map_flow: Option<f64>,
    before: &Change,
    mutations: &[Mutation],
    options: &Options,
) -> Trips {
    let read = || {
        let example = Example::read(name);
        match map_flow {
            None => example,
            Some(_) => Example::written(name, &example.text, map_flow),
        }
    };
    let review = |example: &Example, root: &Arc<Node>| {
        found(&Reviewer::new(catalogue, options.clone()).review(BUILD_FILE, root, &example.files))
    };
    let whole = Example::read(name);
    let sound = review(&whole, &whole.changed(before));
    let each = mutations.par_chunks(64).map(|chunk| {
        let example = read();
        let root = example.changed(before);
        let mut trips = Trips::new();
        for mutation in chunk {
            let Ok(changed) = mutation.change.apply(&root) else { continue };
            for (rule, _) in review(&example, &changed).difference(&sound) {
                trips.entry(rule.clone()).or_default().insert(format!("{name}, {}", mutation.what));
            }
        }
        trips
    });
    each.reduce(Trips::new, joined)
}

fn joined(mut all: Trips, more: Trips) -> Trips {
    for (rule, occasions) in more {
        all.entry(rule).or_default().extend(occasions);
    }
    all
}

/// The examples that faults are planted in.
fn sound() -> Vec<String> {
    let planted = yaml_names("tests/planted").into_iter().map(|name| Planted::read(&name).base);
    planted.collect::<BTreeSet<_>>().into_iter().collect()
}

/// All occasions on which rules find fault.
fn trips(catalogue: &Catalogue) -> Trips {
    let schema = serde_json::to_value(build_schema()).expect("JSON");
    let of_runs = catalogue.rules().iter().filter(|rule| reads_a_run(rule));
    let without: Vec<String> = of_runs.map(|rule| rule.id.to_string()).collect();
    let cheap = Options { without: without.clone(), ..Options::default() };
    let dear = Options { rules: without, ..Options::default() };
    let as_it_is = || {
        vec![Mutation { what: "as it stands".to_owned(), route: Route::root(), change: Change::default() }]
    };
    let begun = std::time::Instant::now();
    let mut all = Trips::new();
    let (mut count, mut seen) = (0, Seen::default());
    for name in sound() {
        let example = Example::read(&name);
        let mut mutations = Walk::through(&schema, &example.root, &mut seen);
        if name == STARTER {
            mutations.extend(Walk::adding(&schema, &example.root, &mut Seen::default()));
        }
        count += mutations.len();
        let none = Change::default();
        all = joined(all, tried(catalogue, &name, None, &none, &mutations, &cheap));
        for factor in [0.5, 2.0] {
            all = joined(all, tried(catalogue, &name, Some(factor), &none, &as_it_is(), &cheap));
        }
        println!("{name}: {count} changes so far, {:.0} s", begun.elapsed().as_secs_f64());
        if name == STARTER {
            let few: Vec<Mutation> = mutations
                .into_iter()
                .filter(|mutation| {
                    OF_TIP_OUT.iter().any(|field| mutation.route.to_string().starts_with(field))
                })
                .collect();
            let at_home = Change(vec![Op::Remove("site.other-sites".parse().expect("a route"))]);
            all = joined(all, tried(catalogue, &name, None, &at_home, &few, &dear));
        }
    }
    for name in yaml_names("tests/planted") {
        let example = Example::read(&name);
        for (rule, _) in found(&example.review(catalogue, &example.root)) {
            all.entry(rule).or_default().insert(name.clone());
        }
    }
    println!("{count} changes in {:.0} s", begun.elapsed().as_secs_f64());
    all
}

/// The part of `tests/README.md` that this test writes.
fn score(catalogue: &Catalogue, trips: &Trips) -> (String, Vec<String>) {
    let mut wrong = Vec::new();
    let rules: Vec<&Arc<Rule>> = catalogue.rules().iter().filter(|rule| rule.is_in_force()).collect();
    let untripped: Vec<&str> =
        rules.iter().map(|rule| &*rule.id).filter(|id| !trips.contains_key(*id)).collect();
    let mut text = format!(
        "{} of the {} rules in force find fault with something in the walk or in a faulty example.\n",
        rules.len() - untripped.len(),
        rules.len()
    );
    text += "\n### Rules that nothing trips\n\n";
    for id in &untripped {
        match UNTRIPPED.iter().find(|(named, _)| named == id) {
            Some((_, why)) => text += &format!("- `{id}`: {why}; its own cases trip it\n"),
            None => wrong.push(format!("nothing trips {id}")),
        }
    }
    if untripped.is_empty() {
        text += "None.\n";
    }
    let stale = UNTRIPPED.iter().filter(|(id, _)| !untripped.contains(id));
    wrong.extend(stale.map(|(id, _)| format!("{id} is tripped: take it off the list")));
    text += "\n### Rules that always trip together\n\n";
    let mut pairs = Vec::new();
    let often: Vec<_> = trips.iter().filter(|(_, occasions)| occasions.len() >= OFTEN).collect();
    for (index, (one, occasions)) in often.iter().enumerate() {
        for (other, others) in &often[index + 1..] {
            if occasions == others {
                pairs.push((&***one, &***other));
            }
        }
    }
    for (one, other) in &pairs {
        match TOGETHER.iter().find(|(a, b, _)| (a, b) == (one, other)) {
            Some((_, _, why)) => text += &format!("- `{one}` and `{other}`: {why}\n"),
            None => wrong.push(format!("{one} and {other} always trip together: {:?}", trips[*one])),
        }
    }
    if pairs.is_empty() {
        text += "None.\n";
    }
    let stale = TOGETHER.iter().filter(|(a, b, _)| !pairs.contains(&(*a, *b)));
    wrong.extend(
        stale.map(|(a, b, _)| format!("{a} and {b} do not always trip together: take them off the list")),
    );
    (text, wrong)
}

const FILE: &str = "tests/README.md";
const BEGIN: &str = "<!-- The score begins; tests/rule_adequacy.rs writes it. -->\n";
const END: &str = "<!-- The score ends. -->\n";

#[test]
fn each_rule_can_find_fault_and_none_stands_for_another() {
    let catalogue = catalogue();
    let trips = trips(&catalogue);
    let (score, wrong) = score(&catalogue, &trips);
    assert!(wrong.is_empty(), "{wrong:#?}");
    let text = text_of(FILE);
    let (before, rest) = text.split_once(BEGIN).expect("the score begins");
    let (_, after) = rest.split_once(END).expect("the score ends");
    let new = format!("{before}{BEGIN}{score}{END}{after}");
    if std::env::var_os("TRACTWRIGHT_WRITE_SCORE").is_some() {
        std::fs::write(project(FILE), &new).expect("the score can be written");
    }
    assert_eq!(
        text_of(FILE),
        new,
        "renew it by TRACTWRIGHT_WRITE_SCORE=1 cargo test --test rule_adequacy, and read what changed"
    );
}

/// The score itself sees a rule that nothing trips, and two that are one.
#[test]
fn a_rule_too_few_or_too_many_is_told() {
    let catalogue = catalogue();
    let occasions: BTreeSet<String> = ["a", "b", "c"].map(str::to_owned).into();
    let in_force = catalogue.rules().iter().filter(|rule| rule.is_in_force());
    let mut trips: Trips = in_force.map(|rule| (rule.id.clone(), [rule.id.to_string()].into())).collect();
    for (id, _) in UNTRIPPED {
        trips.remove(*id);
    }
    assert_eq!(score(&catalogue, &trips).1, [] as [String; 0]);
    trips.insert("bore-step".into(), occasions.clone());
    trips.insert("throttle-small".into(), occasions);
    trips.remove("duct-too-fast");
    let wrong = score(&catalogue, &trips).1;
    assert_eq!(wrong.len(), 2, "{wrong:?}");
    assert_eq!(wrong[0], "nothing trips duct-too-fast");
    assert!(wrong[1].starts_with("bore-step and throttle-small always trip together"), "{wrong:?}");
}

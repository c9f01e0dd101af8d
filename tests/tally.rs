//! Promise: the tally adds up, and its subjects are those of the raw YAML, counted by code of its own.
//!
//! The count here knows nothing of the program: it reads the examples and the rule files with another YAML reader. Beside
//! the examples stand builds made for it, with several of a kind and with none, and a made rule for every kind of subject.

mod common;

use std::collections::{BTreeMap, BTreeSet};

use common::{Example, catalogue, loaded, text_of, yaml_names};
use serde_yaml::Value;
use tractwright::rules::{Catalogue, embedded_files};
use tractwright::tract::SubjectKind;

/// Builds made for counting: several of most kinds, things said to be `none`, and next to nothing at all.
const MADE: [(&str, &str); 4] = [
    (
        "several",
        "
format: 1
parts:
  filter: { kind: air-filter }
  first-pipe: { kind: pipe }
  front-meter: { kind: air-meter }
  rear-meter: { kind: air-meter }
  blower: { kind: supercharger }
  turbo: { kind: turbocharger }
  twin: { kind: turbocharger }
  cooler: { kind: charge-air-cooler }
  last-pipe: { kind: pipe }
  throttle: { kind: throttle }
  carburettor: { kind: carburettor }
  relief: { kind: relief-valve, tap: { part: last-pipe } }
  spare-relief: { kind: relief-valve }
  lost-relief: none
  servo: { kind: brake-servo }
  breather: { kind: breather }
  purge: { kind: purge-valve }
  idle-air: { kind: idle-air-valve }
  check: { kind: check-valve }
air-path: [ filter, first-pipe, front-meter, blower, turbo, cooler, last-pipe, throttle ]
hoses:
  signal: { from: last-pipe, to: relief }
  vacuum: { from: servo, to: last-pipe, through: [ check ] }
  lost: none
",
    ),
    (
        "branches",
        "
format: 1
parts:
  low: { kind: turbocharger }
  left: { kind: turbocharger }
  right: { kind: turbocharger }
  pipe: { kind: pipe }
  one: { kind: throttle }
  two: { kind: throttle }
  relief:
    kind: relief-valve
    tap: { part: pipe, at: 10 mm }
    discharge: [ { to: air, share: 30 % }, { to: low, share: 70 % } ]
  idle-air: { kind: idle-air-valve, from: air, to: pipe }
  carburettor: { kind: carburettor, float-vent: { part: pipe } }
  sensor: { kind: pressure-sensor, tap: { part: pipe } }
  nozzle: { kind: injection-nozzle, trigger: { part: pipe } }
  breather: { kind: breather }
air-path:
  - low
  - parallel: { left: [ left ], right: [ right ] }
  - pipe
  - parallel: { a: [ one ], b: [ two, carburettor ] }
hoses:
  gas: { from: breather, to: air }
  signal: { from: { part: pipe, at: 20 mm }, to: relief }
  other: { from: { hose: signal, at: 30 mm }, to: sensor }
measurements: [ { part: pipe, quantity: pressure-loss, value: 1 kPa } ]
",
    ),
    ("no-parts", "format: 1\nair-path: [ ]\n"),
    ("one-part", "format: 1\nparts: { turbo: { kind: turbocharger } }\nair-path: [ turbo ]\n"),
];

fn kinds(build: &Value) -> Vec<String> {
    let parts = build.get("parts").and_then(Value::as_mapping);
    let kind = |part: &Value| part.get("kind").and_then(Value::as_str).map(str::to_owned);
    parts.into_iter().flatten().filter_map(|(_, part)| kind(part)).collect()
}

/// Every way through a path, as the names on it.
fn ways(path: &Value) -> Vec<Vec<String>> {
    let mut all = vec![Vec::new()];
    for element in path.as_sequence().into_iter().flatten() {
        let ends: Vec<Vec<String>> = match element["parallel"].as_mapping() {
            Some(branches) => branches.iter().flat_map(|(_, branch)| ways(branch)).collect(),
            None => vec![vec![element.as_str().expect("a name").to_owned()]],
        };
        let longer = |way: &Vec<String>| ends.iter().map(|end| [way.clone(), end.clone()].concat()).collect();
        all = all.iter().flat_map(|way| -> Vec<Vec<String>> { longer(way) }).collect();
    }
    all
}

/// How many stretches of a path run in branches.
fn forks(path: &Value) -> usize {
    let forks_of = |element: &Value| match element["parallel"].as_mapping() {
        Some(branches) => 1 + branches.iter().map(|(_, branch)| forks(branch)).sum::<usize>(),
        None => 0,
    };
    path.as_sequence().into_iter().flatten().map(forks_of).sum()
}

/// How many subjects of a kind the raw text has.
fn subjects(build: &Value, for_each: &str) -> usize {
    let kinds = kinds(build);
    let of = |wanted: &[&str]| kinds.iter().filter(|kind| wanted.contains(&kind.as_str())).count();
    // What is said to be `none` is not there.
    let there = |thing: &Value| thing.as_str() != Some("none");
    let named = |key: &str| build.get(key).and_then(Value::as_mapping).into_iter().flatten();
    let length = |key: &str| named(key).filter(|(_, thing)| there(thing)).count();
    let parts = || named("parts").map(|(_, part)| part);
    let tables = |key: &'static str| parts().filter(move |part| part[key].is_mapping()).count();
    let ports = || parts().filter_map(|part| part["discharge"].as_sequence()).flatten();
    let hoses = || named("hoses").map(|(_, hose)| hose).filter(|hose| there(hose));
    let hose_ends = || hoses().flat_map(|hose| [&hose["from"], &hose["to"]]);
    let path = build.get("air-path").unwrap_or(&Value::Null);
    match for_each {
        "referenced-part" => of(&["pressure-sensor"]) + tables("float-vent"),
        "tap" => {
            let returns = ports().filter(|port| port["to"].as_str().is_some_and(|to| to != "air")).count();
            let placed = hose_ends().filter(|end| end.get("part").is_some()).count();
            tables("tap") + tables("float-vent") + tables("trigger") + returns + placed
        }
        "opening" => {
            // Where it is not said what something leads to, it may be the air.
            let open = |value: &Value| value.is_null() || value.as_str() == Some("air");
            let own = parts().filter(|part| part["kind"].as_str() == Some("idle-air-valve"));
            let own = own.filter(|part| open(&part["from"])).count();
            let vents = ports().filter(|port| open(&port["to"])).count();
            vents + own + hose_ends().filter(|end| open(end)).count()
        }
        "measurement" => build.get("measurements").and_then(Value::as_sequence).map_or(0, Vec::len),
        "parallel" => forks(path),
        "series" => {
            let compresses = |name: &String| {
                let kind = build["parts"][name.as_str()]["kind"].as_str();
                kind.is_some_and(|kind| ["turbocharger", "supercharger"].contains(&kind))
            };
            let stages = |way: Vec<String>| way.into_iter().filter(compresses).collect::<Vec<_>>();
            let of_ways = ways(path).into_iter().map(stages).filter(|stages| stages.len() > 1);
            of_ways.map(|stages| stages[0].clone()).collect::<BTreeSet<_>>().len()
        }
        "joint" => {
            let pairs = ways(path).into_iter().flat_map(|way| {
                way.windows(2).map(|pair| (pair[0].clone(), pair[1].clone())).collect::<Vec<_>>()
            });
            pairs.collect::<BTreeSet<_>>().len()
        }
        "build" => 1,
        "part" => length("parts"),
        "compressor" => of(&["turbocharger", "supercharger"]),
        "consumer" => of(&["brake-servo", "breather", "purge-valve", "idle-air-valve"]),
        "throttle" => of(&["throttle", "carburettor"]),
        "hose" => length("hoses"),
        kind => of(&[kind]),
    }
}

/// The rules in force of these files and what they are asked of, by id.
fn rules(files: &[(String, String)]) -> BTreeMap<String, String> {
    let read = files.iter().map(|(path, text)| {
        let rule: Value = serde_yaml::from_str(text).unwrap_or_else(|error| panic!("{path}: {error}"));
        let word = |key: &str| rule[key].as_str().expect("a word").to_owned();
        (word("id"), word("for-each"), word("status"))
    });
    read.filter(|(_, _, status)| status == "in-force").map(|(id, for_each, _)| (id, for_each)).collect()
}

/// A rule for every kind of subject.
fn made_rules() -> Vec<(String, String)> {
    let made = SubjectKind::ALL.iter().map(|kind| {
        let word = kind.word();
        let text = format!(
            "
id: of-each-{word}
family: made
status: in-force
kind: fail
level: note
title: Made for counting
for-each: {word}
fails-when: \"false\"
places: [ {{ at: it, says: here }} ]
why: Made for a test.
"
        );
        (format!("made/of-each-{word}.yaml"), text)
    });
    made.collect()
}

/// Everything that a review of a text counts otherwise than the raw text has it, and the results counted.
fn miscounted(
    catalogue: &Catalogue,
    rules: &BTreeMap<String, String>,
    name: &str,
    text: &str,
) -> (Vec<String>, usize) {
    let raw: Value = serde_yaml::from_str(text).unwrap_or_else(|error| panic!("{name}: {error}"));
    let example = Example::written(name, text, None);
    let review = example.review(catalogue, &example.root);
    let mut wrong = Vec::new();
    let mut compare = |what: &str, counted: usize, there: usize| {
        if counted != there {
            wrong.push(format!("{name}: {what}: {counted} are counted and {there} are there"));
        }
    };
    let mut total = 0;
    for (id, for_each) in rules {
        let results = review.results.iter().filter(|result| *result.rule.id == **id).count();
        compare(id, results, subjects(&raw, for_each));
        total += subjects(&raw, for_each);
    }
    let tally = review.tally;
    let without = rules.values().filter(|for_each| subjects(&raw, for_each) == 0).count();
    compare("all results", tally.results, total);
    compare("rules without subject", tally.rules_without_subject, without);
    compare("named as without subject", review.unasked.len(), without);
    let sum = tally.fail + tally.review + tally.pass + tally.open + tally.not_applicable + tally.silenced;
    compare("sum of all verdicts", sum, total);
    assert_eq!(tally.adds_up(), sum == tally.results, "{name}");
    (wrong, total)
}

fn texts() -> Vec<(String, String)> {
    let examples = yaml_names("examples").into_iter().map(|name| {
        let text = text_of(&format!("examples/{name}.yaml"));
        (name, text)
    });
    let made = MADE.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned()));
    examples.chain(made).collect()
}

#[test]
fn the_tally_counts_the_subjects_of_the_raw_text() {
    let files: Vec<_> = embedded_files().collect();
    let mut counted = 0;
    for (files, what) in [(files, "the program's rules"), (made_rules(), "a rule a kind of subject")] {
        let rules = rules(&files);
        let catalogue = loaded(files);
        for (name, text) in texts() {
            let (wrong, results) = miscounted(&catalogue, &rules, &name, &text);
            assert!(wrong.is_empty(), "{what}: {wrong:#?}");
            counted += results;
        }
    }
    assert!(counted >= 300, "only {counted} results were counted");
}

/// The count sees one subject too few.
#[test]
fn a_wrong_tally_is_noticed() {
    let files = made_rules();
    let mut rules = rules(&files);
    rules.insert("of-each-hose".to_owned(), "consumer".to_owned());
    let (wrong, _) = miscounted(&loaded(files), &rules, MADE[0].0, MADE[0].1);
    assert_eq!(wrong.len(), 3, "the rule, all results and the sum: {wrong:#?}");
}

#[test]
fn each_verdict_is_counted_under_its_own_name() {
    let catalogue = catalogue();
    for name in yaml_names("examples") {
        let example = Example::read(&name);
        let review = example.review(&catalogue, &example.root);
        let count =
            |word: &str| review.results.iter().filter(|result| result.verdict().word() == word).count();
        let tally = review.tally;
        let counted =
            [tally.fail, tally.review, tally.pass, tally.open, tally.not_applicable, tally.silenced];
        let words = ["fail", "review", "pass", "open", "notApplicable", "silenced"];
        assert_eq!(counted.to_vec(), words.map(count).to_vec(), "{name}");
    }
}

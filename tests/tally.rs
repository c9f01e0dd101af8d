//! Promise: the tally adds up, and its subjects are those of the raw YAML, counted by code of its own.
//!
//! The count here knows nothing of the program: it reads the examples and the rule files with another YAML reader.

mod common;

use std::collections::BTreeMap;

use common::{Example, catalogue, text_of, yaml_names};
use serde_yaml::Value;
use tractwright::rules::embedded_files;

fn kinds(build: &Value) -> Vec<String> {
    let parts = build.get("parts").and_then(Value::as_mapping);
    let kind = |part: &Value| part.get("kind").and_then(Value::as_str).map(str::to_owned);
    parts.into_iter().flatten().filter_map(|(_, part)| kind(part)).collect()
}

/// How many subjects of a kind the raw text has.
fn subjects(build: &Value, for_each: &str) -> usize {
    let kinds = kinds(build);
    let of = |wanted: &[&str]| kinds.iter().filter(|kind| wanted.contains(&kind.as_str())).count();
    let length = |key: &str| build.get(key).and_then(Value::as_mapping).map_or(0, |table| table.len());
    match for_each {
        "build" => 1,
        "part" => length("parts"),
        "compressor" => of(&["turbocharger", "supercharger"]),
        "consumer" => of(&["brake-servo", "breather", "purge-valve", "idle-air-valve"]),
        "throttle" => of(&["throttle", "carburettor"]),
        "hose" => length("hoses"),
        kind => of(&[kind]),
    }
}

/// The rules in force and what they are asked of, by id.
fn rules() -> BTreeMap<String, String> {
    let read = embedded_files().map(|(path, text)| {
        let rule: Value = serde_yaml::from_str(&text).unwrap_or_else(|error| panic!("{path}: {error}"));
        let word = |key: &str| rule[key].as_str().expect("a word").to_owned();
        (word("id"), word("for-each"), word("status"))
    });
    read.filter(|(_, _, status)| status == "in-force").map(|(id, for_each, _)| (id, for_each)).collect()
}

#[test]
fn the_tally_counts_the_subjects_of_the_raw_text() {
    let catalogue = catalogue();
    let rules = rules();
    let mut counted = 0;
    for name in yaml_names("examples") {
        let raw: Value = serde_yaml::from_str(&text_of(&format!("examples/{name}.yaml"))).expect("YAML");
        let example = Example::read(&name);
        let review = example.review(&catalogue, &example.root);
        assert!(review.tally.adds_up(), "{name}: {:?}", review.tally);
        let mut total = 0;
        for (id, for_each) in &rules {
            let results = review.results.iter().filter(|result| *result.rule.id == **id).count();
            assert_eq!(results, subjects(&raw, for_each), "{name}: {id} is asked of each {for_each}");
            total += results;
        }
        assert_eq!(review.tally.results, total, "{name}");
        let without = rules.values().filter(|for_each| subjects(&raw, for_each) == 0).count();
        assert_eq!(review.tally.rules_without_subject, without, "{name}");
        counted += total;
    }
    assert!(counted > 100, "only {counted} results were counted");
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

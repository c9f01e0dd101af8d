//! Promise: the schemas in `schemas/` are those of the types; they are valid; the examples fit the build's schema, every
//! rule file fits the rule's, and what `review --format json` writes fits the review's.
//!
//! JSON Schema draft 2020-12, checked by an independent validator.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

const SCHEMAS: [(&str, &str); 7] = [
    ("build", "build.schema.json"),
    ("library", "library.schema.json"),
    ("rule", "rule.schema.json"),
    ("house", "house.schema.json"),
    ("review", "review-1.schema.json"),
    ("steady", "steady-1.schema.json"),
    ("joints", "joints-1.schema.json"),
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn run(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_tractwright"))
        .args(arguments)
        .current_dir(root())
        .output()
        .expect("the program runs");
    String::from_utf8(output.stdout).expect("its output is text")
}

fn schema(name: &str) -> Value {
    let text = fs::read_to_string(root().join("schemas").join(name)).expect("the schema is there");
    serde_json::from_str(&text).expect("it is JSON")
}

fn yaml_files(below: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(below).expect("a directory") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            yaml_files(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "yaml") {
            found.push(path);
        }
    }
}

fn as_json(path: &Path) -> Value {
    let text = fs::read_to_string(path).expect("a file");
    let value: serde_yaml::Value = serde_yaml::from_str(&text).expect("YAML");
    serde_json::to_value(value).expect("YAML of string keys is JSON")
}

fn assert_fits(schema: &Value, instance: &Value, what: &str) {
    let validator = jsonschema::validator_for(schema).expect("a valid schema");
    let errors: Vec<String> = validator
        .iter_errors(instance)
        .map(|error| format!("{} at {}", error, error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{what}: {errors:#?}");
}

/// Set `TRACTWRIGHT_WRITE_SCHEMAS` to write them anew.
#[test]
fn the_schemas_are_those_of_the_types() {
    for (name, file) in SCHEMAS {
        let printed = run(&["schema", name]);
        let path = root().join("schemas").join(file);
        if std::env::var_os("TRACTWRIGHT_WRITE_SCHEMAS").is_some() {
            fs::write(&path, &printed).expect("written");
        }
        let kept = fs::read_to_string(&path).unwrap_or_default();
        assert!(kept == printed, "schemas/{file} is not what `tractwright schema {name}` prints");
    }
}

#[test]
fn the_schemas_are_valid_themselves() {
    for (_, file) in SCHEMAS {
        let schema = schema(file);
        assert!(jsonschema::meta::is_valid(&schema), "{file} breaks its meta-schema");
    }
}

#[test]
fn every_example_fits_the_schema_of_a_build() {
    let schema = schema("build.schema.json");
    let mut files = Vec::new();
    yaml_files(&root().join("examples"), &mut files);
    files.retain(|file| !file.starts_with(root().join("examples/house")));
    yaml_files(&root().join("examples/house/builds"), &mut files);
    assert!(files.len() >= 5);
    for file in files {
        assert_fits(&schema, &as_json(&file), &file.display().to_string());
    }
}

#[test]
fn the_house_of_the_examples_fits_the_schema_of_a_house() {
    let schema = schema("house.schema.json");
    let house = as_json(&root().join("examples/house/tractwright.yaml"));
    assert_fits(&schema, &house, "the house");
    let validator = jsonschema::validator_for(&schema).expect("a valid schema");
    let wrong = [
        ("/levels/breather-nowhere/level", Value::from("eror")),
        ("/settings/pipe-roughness", Value::from("0.003 mm")),
        ("/materials/silicone/modulus", Value::from("5 mm")),
        ("/who-may-accept", Value::from("B. Example")),
    ];
    for (at, value) in wrong {
        let mut house = house.clone();
        *house.pointer_mut(at).expect("the house has it") = value;
        assert!(!validator.is_valid(&house), "{at}");
    }
}

#[test]
fn a_wrong_build_does_not_fit() {
    let schema = schema("build.schema.json");
    let validator = jsonschema::validator_for(&schema).expect("a valid schema");
    let sound = as_json(&root().join("examples/hill-climb.yaml"));
    let wrong = [
        ("/engine/displacement", Value::from(1998)),
        ("/engine/displacement", Value::from("1998 rpm")),
        ("/engine/fuel", Value::from("petrl")),
        ("/parts/relief/seat", Value::from("34 N")),
        ("/parts/filter/kind", Value::from("air-filtre")),
    ];
    for (at, value) in wrong {
        let mut build = sound.clone();
        *build.pointer_mut(at).expect("the example has it") = value;
        assert!(!validator.is_valid(&build), "{at}");
    }
}

#[test]
fn every_rule_file_fits_the_schema_of_a_rule() {
    let schema = schema("rule.schema.json");
    let mut files = Vec::new();
    yaml_files(&root().join("rules"), &mut files);
    yaml_files(&root().join("examples/house/rules"), &mut files);
    assert!(files.len() >= 12);
    for file in files {
        assert_fits(&schema, &as_json(&file), &file.display().to_string());
    }
}

#[test]
fn what_review_writes_fits_the_schema_of_a_review() {
    let schema = schema("review-1.schema.json");
    for example in
        ["hill-climb", "hill-climb-a", "hill-climb-b", "hill-climb-half", "house/builds/club-hatchback"]
    {
        let printed = run(&["review", &format!("examples/{example}.yaml"), "--format", "json"]);
        let document: Value = serde_json::from_str(&printed).expect("JSON");
        assert_fits(&schema, &document, example);
    }
}

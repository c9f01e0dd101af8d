//! Promise: exit status and options do what they say, and what a person reads is what the snapshots hold.

mod running;

use std::fs;
use std::process::Stdio;

use running::{Ran, program, project, run};
use serde_json::Value;

fn here(arguments: &[&str]) -> Ran {
    run(project(), arguments)
}

fn status(arguments: &[&str]) -> Option<i32> {
    here(arguments).status
}

#[test]
fn the_exit_status_tells_sound_faulty_and_unable_apart() {
    assert_eq!(status(&["review", "examples/hill-climb.yaml"]), Some(0));
    assert_eq!(status(&["review", "examples/hill-climb-b.yaml"]), Some(1));
    assert_eq!(status(&["review", "examples/none.yaml"]), Some(2));
    assert_eq!(status(&["review", "rules"]), Some(2), "zero builds");
    assert_eq!(
        status(&["review", "tests/planted/hill-climb-a.yaml"]),
        Some(2),
        "a named file that is no build"
    );
    assert_eq!(status(&["review"]), Some(2), "wrong usage");
    assert_eq!(status(&["reviw", "examples"]), Some(2), "wrong usage");
}

#[test]
fn fail_on_moves_the_threshold() {
    let warned = [
        "review",
        "examples/hill-climb.yaml",
        "--rule",
        "relief-valve-near-compressor-outlet",
        "--change",
        "parts.relief.tap={ part: hot-pipe, at: 60 mm }",
    ];
    let with = |fail_on: &str| status(&[&warned[..], &["--fail-on", fail_on]].concat());
    assert_eq!(status(&warned), Some(0));
    assert_eq!(with("warning"), Some(1));
    assert_eq!(with("note"), Some(1));
    assert_eq!(with("open"), Some(0));
    let half = |fail_on: &str| status(&["review", "examples/hill-climb-half.yaml", "--fail-on", fail_on]);
    assert_eq!((half("error"), half("open"), half("warning,open")), (Some(0), Some(1), Some(1)));
    let road = [
        "review",
        "examples/hill-climb.yaml",
        "--change",
        "use=road",
        "--change",
        "parts.relief.discharge[0].share=90 %",
    ];
    assert_eq!(status(&[&road[..], &["--fail-on", "review"]].concat()), Some(0));
    let vented =
        ["--change", "engine.metering=speed-density", "--change", "parts.relief.discharge[0].to=air"];
    assert_eq!(status(&[&road[..], &vented[..], &["--fail-on", "review"]].concat()), Some(1));
}

#[test]
fn a_file_that_cannot_be_read_does_not_stop_the_others() {
    let ran = here(&["review", "examples/none.yaml", "examples/hill-climb-b.yaml"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("examples/none.yaml: there is no such file"), "{}", ran.err);
    assert!(ran.out.contains("2 errors, 1 warning"), "{}", ran.out);
}

#[test]
fn one_rule_alone_and_a_rule_that_is_not_there() {
    let ran = here(&["review", "examples/hill-climb-b.yaml", "--rule", "full-vent-with-air-meter"]);
    assert_eq!(ran.status, Some(1));
    assert!(ran.out.contains("1 result = 0 passed + 1 finding"), "{}", ran.out);
    let ran = here(&["review", "examples/hill-climb-b.yaml", "--rule", "full-vent-with-air-metre"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("did you mean `full-vent-with-air-meter`?"), "{}", ran.err);
}

#[test]
fn what_if_changes_what_is_reviewed_and_nothing_else() {
    let before = fs::read(project().join("examples/hill-climb-b.yaml")).expect("the example");
    let ran = here(&["review", "examples/hill-climb-b.yaml", "--change", "parts.relief.tap.at=307mm"]);
    assert!(!ran.out.contains("relief-valve-near-compressor-outlet"), "{}", ran.out);
    assert_eq!(fs::read(project().join("examples/hill-climb-b.yaml")).expect("the example"), before);
    for change in ["parts.relief.tap.at", "parts.relief..at=1 mm", "=1", "title.x=1"] {
        let ran = here(&["review", "examples/hill-climb-b.yaml", "--change", change]);
        assert_eq!(ran.status, Some(2), "{change}: {}", ran.out);
        assert!(ran.err.contains("--change"), "{change}: {}", ran.err);
    }
    let ran = here(&["review", "examples/hill-climb.yaml", "--change", "parts.relief=none"]);
    assert!(ran.out.contains("throttled-charge-without-relief-valve"), "{}", ran.out);
}

#[test]
fn cures_can_be_left_out() {
    let with = here(&["review", "examples/hill-climb-b.yaml"]);
    let without = here(&["review", "examples/hill-climb-b.yaml", "--no-cures"]);
    assert!(with.out.contains("checked: passes"), "{}", with.out);
    assert!(!without.out.contains("checked: passes"), "{}", without.out);
}

#[test]
fn json_says_its_version_first() {
    let ran = here(&["review", "examples", "--no-cures", "--format", "json"]);
    assert!(ran.out.starts_with("{\n  \"format\": \"tractwright-review-1\""), "{}", &ran.out[..80]);
    let document: Value = serde_json::from_str(&ran.out).expect("JSON");
    assert!(document["builds"].as_array().expect("builds").len() >= 4);
}

#[test]
fn a_reader_that_goes_away_is_no_panic() {
    let runs: [&[&str]; 4] = [
        &["rules", "facts"],
        &["schema", "build"],
        &["review", "examples/house", "--no-cures"],
        &["review", "examples/house", "--no-cures", "--format", "json"],
    ];
    for arguments in runs {
        let mut child = program(project())
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it starts");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{arguments:?}");
        assert!(output.status.code().is_some(), "{arguments:?} was ended by a signal");
    }
}

#[test]
fn a_directory_without_builds_says_what_it_holds() {
    let ran = here(&["review", "rules"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.out.contains("which are no builds: "), "{}", ran.out);
    assert!(ran.err.contains("no build was found"), "{}", ran.err);
    let empty = tempfile::tempdir().expect("a folder");
    let ran = run(empty.path(), &["review", "."]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("no build was found"), "{}", ran.err);
}

#[test]
fn a_named_file_that_is_no_build_does_not_stop_the_others() {
    let ran = here(&["review", "tests/planted/hill-climb-a.yaml", "examples/hill-climb.yaml"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.out.contains("this is not a build description"), "{}", ran.out);
    assert!(ran.out.contains("No finding."), "{}", ran.out);
}

#[test]
fn a_build_found_twice_is_reviewed_once() {
    let (folder, build) = ("examples/house", "examples/house/builds/club-hatchback.yaml");
    let once = here(&["review", folder, "--no-cures", "--format", "json"]);
    let twice = here(&["review", build, folder, "--no-cures", "--format", "json"]);
    assert!(once.out.contains("club-hatchback") && once == twice);
}

#[test]
fn each_rule_is_listed_and_explained() {
    let ran = here(&["rules"]);
    assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""));
    let levels = ["error", "warning", "note", "review"];
    let ids: Vec<&str> = ran
        .out
        .lines()
        .filter_map(|line| {
            let mut words = line.split_whitespace();
            words.next().filter(|level| levels.contains(level)).and_then(|_| words.next())
        })
        .collect();
    assert!(ids.len() >= 12, "{}", ran.out);
    for id in ids {
        let ran = here(&["explain", id]);
        assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""), "{id}");
        assert!(ran.out.starts_with(id), "{}", ran.out);
        for heading in ["\nWhy\n", "\nWhen it fails\n", "\nCases\n"] {
            assert!(ran.out.contains(heading), "{id} lacks{heading}");
        }
    }
    let ran = here(&["explain", "charge-to-hot"]);
    assert_eq!((ran.status, ran.out.as_str()), (Some(2), ""));
    assert!(ran.err.contains("did you mean `charge-too-hot`?"), "{}", ran.err);
}

#[test]
fn facts_are_listed() {
    let ran = here(&["rules", "facts"]);
    assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""));
    assert!(ran.out.contains("distance_from_compressor_outlet"), "{}", ran.out);
}

#[test]
fn each_schema_is_json_and_names_its_draft() {
    for of in ["build", "rule", "review"] {
        let ran = here(&["schema", of]);
        assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""), "{of}");
        let schema: Value = serde_json::from_str(&ran.out).expect("JSON");
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema", "{of}");
        assert_eq!(schema["type"], "object", "{of}");
    }
    assert_eq!(status(&["schema"]), Some(2));
    assert_eq!(status(&["schema", "bild"]), Some(2));
}

#[test]
fn what_a_person_reads() {
    let runs: [(&str, &[&str]); 9] = [
        ("faulty_80", &["review", "examples/hill-climb-b.yaml", "--width", "80"]),
        ("faulty_120", &["review", "examples/hill-climb-b.yaml", "--width", "120"]),
        ("matching_100", &["review", "examples/hill-climb-a.yaml", "--width", "100"]),
        ("hoses_100", &["review", "examples/hill-climb-hoses.yaml", "--width", "100"]),
        ("half_80", &["review", "examples/hill-climb-half.yaml", "--width", "80"]),
        ("sound_120", &["review", "examples/hill-climb.yaml", "--width", "120"]),
        ("faults_100", &["review", "tests/data/ten-faults.yaml", "--width", "100"]),
        ("explain_80", &["explain", "relief-valve-near-compressor-outlet", "--width", "80"]),
        ("rules_100", &["rules", "--width", "100"]),
    ];
    for (name, arguments) in runs {
        let ran = here(arguments);
        assert_eq!(ran.err, "", "{name}");
        insta::assert_snapshot!(name, ran.out);
        let width: usize = arguments.last().expect("a width").parse().expect("a number");
        let widest = ran.out.lines().map(|line| line.chars().count()).max().unwrap_or(0);
        assert!(widest <= width, "{name}: a line of {widest} columns");
    }
}

#[test]
fn colour_only_where_it_is_wanted() {
    let plain = here(&["review", "examples/hill-climb-b.yaml", "--width", "90"]);
    let colour = here(&["review", "examples/hill-climb-b.yaml", "--width", "90", "--colour", "always"]);
    assert!(!plain.out.contains('\u{1b}'));
    assert!(colour.out.contains("\u{1b}["));
    let mut bare = String::new();
    let mut rest = colour.out.as_str();
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        bare.push_str(before);
        rest = after.split_once('m').map_or("", |(_, after)| after);
    }
    bare.push_str(rest);
    assert_eq!(bare, plain.out, "colour changes nothing but the colour");
}

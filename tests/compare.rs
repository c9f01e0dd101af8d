//! Promise: `compare` tells what came, went, moved and was hidden between two builds, and taking a field away is never
//! told as a cure. `starter` writes a build that reviews without a finding, and overwrites nothing.

use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn tractwright() -> Command {
    let mut command = Command::cargo_bin("tractwright").expect("the program");
    command.current_dir(root()).args(["--width", "90"]);
    command
}

/// What comparing two texts prints, and the exit status.
fn compare(old: &str, new: &str) -> (String, Option<i32>) {
    let folder = tempfile::tempdir().expect("a folder");
    fs::create_dir(folder.path().join("maps")).expect("a folder");
    fs::copy(root().join("examples/maps/invented-a.csv"), folder.path().join("maps/invented-a.csv"))
        .expect("the map");
    let (a, b) = (folder.path().join("old.yaml"), folder.path().join("new.yaml"));
    fs::write(&a, old).expect("written");
    fs::write(&b, new).expect("written");
    let output = tractwright().arg("compare").args([a, b]).output().expect("it runs");
    (String::from_utf8(output.stdout).expect("text"), output.status.code())
}

fn example(name: &str) -> String {
    fs::read_to_string(root().join(format!("examples/{name}.yaml"))).expect("an example")
}

#[test]
fn what_came_and_went_is_told() {
    let (told, status) = compare(&example("hill-climb"), &example("hill-climb-b"));
    insta::assert_snapshot!("came", told);
    assert_eq!(status, Some(1));
    let (told, status) = compare(&example("hill-climb-b"), &example("hill-climb"));
    assert!(told.contains("went full-vent-with-air-meter"), "{told}");
    assert_eq!(status, Some(0));
}

#[test]
fn a_finding_that_moves_is_told_with_both_numbers() {
    let old = example("hill-climb-b");
    let new = old.replace("tap: { part: hot-pipe, at: 60 mm }", "tap: { part: hot-pipe, at: 90 mm }");
    assert_ne!(old, new);
    let (told, _) = compare(&old, &new);
    assert!(told.contains("moved relief-valve-near-compressor-outlet"), "{told}");
    assert!(told.contains("60 mm before, 90 mm now"), "{told}");
}

#[test]
fn taking_a_field_away_hides_and_does_not_cure() {
    let old = example("hill-climb-b");
    let new = old.replace("tap: { part: hot-pipe, at: 60 mm }", "tap: { part: hot-pipe }");
    assert_ne!(old, new);
    let (told, status) = compare(&old, &new);
    assert!(told.contains("hidden relief-valve-near-compressor-outlet"), "{told}");
    assert_eq!(status, Some(1));
}

#[test]
fn nothing_differs_from_itself() {
    let (told, status) = compare(&example("hill-climb-a"), &example("hill-climb-a"));
    assert!(told.starts_with("Nothing differs"), "{told}");
    assert_eq!(status, Some(0));
}

#[test]
fn the_starter_is_sound_and_overwrites_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("mine/build.yaml");
    tractwright().arg("starter").arg(&file).assert().success();
    tractwright().args(["review", "--fail-on", "note,open"]).arg(&file).assert().success();
    fs::write(&file, "kept").expect("written");
    tractwright().arg("starter").arg(&file).assert().code(2);
    assert_eq!(fs::read_to_string(&file).expect("text"), "kept");
}

//! Running the program as a person or a script would, with what came of it.

#![allow(dead_code, reason = "each test file uses a part of it")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;
use tempfile::TempDir;

/// What came of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ran {
    /// Exit status; none when a signal ended it.
    pub status: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("the program writes UTF-8");
        Self { status: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
    }
}

/// The directory that holds the project.
pub fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The program, to be run in a directory.
pub fn program(directory: &Path) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("tractwright"));
    command.current_dir(directory).env_remove("NO_COLOR").env_remove("RAYON_NUM_THREADS");
    command
}

/// Runs the program with arguments in a directory.
pub fn run(directory: &Path, arguments: &[&str]) -> Ran {
    program(directory).args(arguments).output().expect("the program starts").into()
}

/// The build of the example house, below its root.
pub const CLUB: &str = "builds/club-hatchback.yaml";

/// A folder that holds what the example house holds.
pub fn example_house() -> TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    copy(&project().join("examples/house"), folder.path());
    folder
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder") {
        let path = entry.expect("an entry").path();
        let target = to.join(path.file_name().expect("a name"));
        if path.is_dir() {
            copy(&path, &target);
        } else {
            fs::copy(&path, &target).expect("a copy");
        }
    }
}

/// A folder with a build, `build.yaml`, the map of the examples beside it, and a mark of its root.
pub fn bench(build: &str) -> TempDir {
    let bench = tempfile::tempdir().expect("a folder");
    write(bench.path(), "tractwright.yaml", "format: 1\n");
    write(bench.path(), "build.yaml", build);
    let map = "maps/invented-a.csv";
    let read = fs::read_to_string(project().join("examples").join(map)).expect("the map");
    write(bench.path(), map, &read);
    bench
}

/// Writes a file below a folder.
pub fn write(folder: &Path, below: &str, text: &str) {
    let path = folder.join(below);
    fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
    fs::write(path, text).expect("written");
}

/// Puts something in the place of what stands in a file once.
pub fn replace(folder: &Path, below: &str, from: &str, to: &str) {
    let text = fs::read_to_string(folder.join(below)).expect("a file");
    assert_eq!(text.matches(from).count(), 1, "{from} stands once in {below}");
    write(folder, below, &text.replace(from, to));
}

/// The JSON of a review, without cures.
pub fn reviewed(folder: &Path, arguments: &[&str]) -> (Option<i32>, Value) {
    let ran = run(folder, &[&["review", "--no-cures", "--format", "json"], arguments].concat());
    let document = serde_json::from_str(&ran.out).unwrap_or_else(|_| panic!("{}{}", ran.out, ran.err));
    (ran.status, document)
}

/// The results of a rule in the only build of a review.
pub fn results<'v>(document: &'v Value, rule: &str) -> Vec<&'v Value> {
    let all = document["builds"][0]["results"].as_array().expect("results");
    all.iter().filter(|result| result["rule"] == rule).collect()
}

/// The notices of a kind in the only build of a review.
pub fn notices<'v>(document: &'v Value, kind: &str) -> Vec<&'v Value> {
    let all = document["builds"][0]["notices"].as_array().expect("notices");
    all.iter().filter(|notice| notice["kind"] == kind).collect()
}

/// The rules whose results a notice says are hidden, each with what the result would be.
pub fn hidden(notice: &Value) -> Vec<(&str, &str)> {
    let list = notice["hides"].as_array().expect("a list");
    list.iter()
        .map(|one| (one["rule"].as_str().expect("text"), one["kind"].as_str().expect("text")))
        .collect()
}

//! Promise: what the README shows is what the program prints, its commands exist, and `.ci/run` calls its test command.

use std::fs;
use std::path::PathBuf;
use std::process::Command;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn readme() -> String {
    fs::read_to_string(root().join("README.md")).expect("the README")
}

/// The bodies of fenced blocks of a language.
fn blocks(text: &str, language: &str) -> Vec<String> {
    let fence = format!("```{language}\n");
    text.split(&fence).skip(1).filter_map(|rest| rest.split("```").next().map(str::to_owned)).collect()
}

#[test]
fn every_shown_run_is_what_the_program_prints() {
    let shown = blocks(&readme(), "console");
    assert!(!shown.is_empty());
    for block in shown {
        let (command, output) = block.split_once('\n').expect("a command and its output");
        let words: Vec<&str> =
            command.strip_prefix("$ tractwright ").expect("a run of the program").split(' ').collect();
        let printed = Command::new(env!("CARGO_BIN_EXE_tractwright"))
            .args(words)
            .current_dir(root())
            .output()
            .expect("the program runs");
        assert_eq!(String::from_utf8_lossy(&printed.stdout), output, "of {command}");
    }
}

#[test]
fn continuous_integration_runs_the_readmes_test_command() {
    let commands = blocks(&readme(), "sh").concat();
    assert!(commands.contains("cargo run --release -- review examples/hill-climb-b.yaml"));
    assert!(commands.contains("cargo test "));
    let ci = fs::read_to_string(root().join(".ci/run")).expect(".ci/run");
    assert!(ci.lines().any(|line| line.trim() == "cargo test"));
}

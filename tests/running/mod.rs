//! Running the program as a person or a script would, with what came of it.

#![allow(dead_code, reason = "each test file uses a part of it")]

use std::path::Path;
use std::process::{Command, Output};

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

//! `starter`: writes the commented starter build and its map, to begin from.

use std::fs::OpenOptions;
use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use super::shared::Answer;
use crate::build::files::{LoadFault, Loader, plain_error};
use crate::output::safe_text::one_line;

/// The starter, which is also the sound example.
pub(super) const STARTER: &str = include_str!("../../examples/hill-climb.yaml");
/// The map that it names, under the name by which it names it.
const MAP: (&str, &str) = ("maps/invented-a.csv", include_str!("../../examples/maps/invented-a.csv"));

/// Writes a commented build to begin from.
#[derive(Args)]
pub struct Starter {
    /// The file to write; standard output when none is named.
    file: Option<PathBuf>,
}

impl Starter {
    /// Runs it. No file is ever overwritten.
    pub fn run(self) -> Answer {
        let Some(file) = self.file else { return Answer::fine(STARTER.to_owned()) };
        let map = file.parent().unwrap_or(Path::new("")).join(MAP.0);
        let mut said = String::new();
        for (path, text) in [(&file, STARTER), (&map, MAP.1)] {
            if let Err(why) = write_new(path, text) {
                return Answer::failed(format!("{}: {why}", one_line(&path.to_string_lossy())));
            }
            said.push_str(&format!("wrote {}\n", one_line(&path.to_string_lossy())));
        }
        said.push_str(&format!("next: tractwright review {}\n", one_line(&file.to_string_lossy())));
        Answer::fine(said)
    }
}

/// The files that the starter names.
pub(super) struct StarterFiles;

impl Loader for StarterFiles {
    fn load(&self, relative: &str) -> Result<Vec<u8>, LoadFault> {
        if relative == MAP.0 {
            Ok(MAP.1.as_bytes().to_vec())
        } else {
            Err(LoadFault("there is no such file beside the starter".to_owned()))
        }
    }

    fn shown(&self, relative: &str) -> String {
        relative.to_owned()
    }
}

/// Writes a file that is not there yet, and the directories above it.
///
/// # Errors
/// Why it was not written, in a clause.
pub(super) fn write_new(path: &Path, text: &str) -> Result<(), String> {
    let write = || {
        if let Some(directory) = path.parent().filter(|directory| !directory.as_os_str().is_empty()) {
            std::fs::create_dir_all(directory)?;
        }
        OpenOptions::new().write(true).create_new(true).open(path)?.write_all(text.as_bytes())
    };
    write().map_err(|error: std::io::Error| match error.kind() {
        std::io::ErrorKind::AlreadyExists => "it is there already and is left as it is".to_owned(),
        _ => plain_error(&error),
    })
}

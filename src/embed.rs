//! Build script: embeds the rule files, each as it is written and lowered for a quick start.
//!
//! Lowered is its content as JSON without the cases, in the order of the file: what a review needs of a rule. The text is
//! there for everything else. A file that is not YAML is embedded without, so that the program tells what is wrong.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo:rerun-if-changed=rules");
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").ok_or(io::ErrorKind::NotFound)?).join("rules");
    let mut files = Vec::new();
    gather(&root, &mut files)?;
    files.sort();
    let mut table = "&[\n".to_owned();
    for file in files {
        let text = fs::read_to_string(&file)?;
        let below = file.strip_prefix(&root).unwrap_or(&file).to_string_lossy().replace('\\', "/");
        let lowered = lower(&text).unwrap_or_default();
        let _ = writeln!(table, "({below:?}, {text:?}, {lowered:?}),");
    }
    table.push(']');
    let out = PathBuf::from(env::var_os("OUT_DIR").ok_or(io::ErrorKind::NotFound)?);
    fs::write(out.join("rules.rs"), table)
}

fn gather(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            gather(&path, files)?;
        } else if path.extension().is_some_and(|ending| ending == "yaml") {
            files.push(path);
        }
    }
    Ok(())
}

fn lower(text: &str) -> Option<String> {
    let mut rule: serde_json::Map<String, serde_json::Value> = serde_yaml::from_str(text).ok()?;
    rule.shift_remove("cases");
    serde_json::to_string(&rule).ok()
}

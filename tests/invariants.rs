//! Promise: the shape of the code holds: rooms know only those before them, no file of `src` names a rule, nothing is
//! left unfinished, core types know no format, no two commands use each other, and each test file is told of.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// The rooms in their order; `physics` stands aside, before all that use it.
const ROOMS: [&str; 11] =
    ["text", "known", "physics", "build", "tract", "model", "facts", "rules", "review", "output", "commands"];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn files(below: &Path, extension: &str, found: &mut BTreeMap<PathBuf, String>) {
    for entry in fs::read_dir(below).expect("a directory") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files(&path, extension, found);
        } else if path.extension().is_some_and(|e| e == extension) {
            let text = fs::read_to_string(&path).expect("text");
            found.insert(path, text);
        }
    }
}

fn sources() -> BTreeMap<PathBuf, String> {
    let mut found = BTreeMap::new();
    files(&root().join("src"), "rs", &mut found);
    assert!(found.len() > 40);
    found
}

fn room_of(path: &Path) -> Option<usize> {
    let below = path.strip_prefix(root().join("src")).expect("below src");
    let first = below.components().next()?.as_os_str().to_str()?.trim_end_matches(".rs").to_owned();
    ROOMS.iter().position(|room| *room == first)
}

/// The rooms that a text names after `crate::`.
fn named_rooms(text: &str) -> impl Iterator<Item = usize> + '_ {
    text.split("crate::").skip(1).filter_map(|rest| {
        let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        ROOMS.iter().position(|room| *room == name)
    })
}

#[test]
fn a_room_knows_only_those_before_it() {
    let mut looked_at = 0;
    for (path, text) in sources() {
        let Some(own) = room_of(&path) else { continue };
        for named in named_rooms(&text) {
            looked_at += 1;
            assert!(named <= own, "{} names {}", path.display(), ROOMS[named]);
        }
    }
    assert!(looked_at > 100);
}

#[test]
fn physics_knows_nothing_but_itself() {
    for (path, text) in sources() {
        if room_of(&path).is_some_and(|room| ROOMS[room] == "physics") {
            assert!(named_rooms(&text).all(|named| ROOMS[named] == "physics"), "{}", path.display());
        }
    }
}

#[test]
fn no_source_names_a_rule() {
    let mut rules = BTreeMap::new();
    files(&root().join("rules"), "yaml", &mut rules);
    assert!(rules.len() >= 12);
    let ids: Vec<String> = rules
        .keys()
        .map(|path| path.file_stem().expect("a name").to_str().expect("text").to_owned())
        .collect();
    for (path, text) in sources() {
        // Tests beside the code may name one.
        let code = text.split("#[cfg(test)]").next().unwrap_or(&text);
        for id in &ids {
            assert!(!code.contains(id.as_str()), "{} names the rule {id}", path.display());
        }
    }
}

#[test]
fn only_the_rim_knows_formats_and_only_commands_print() {
    for (path, text) in sources() {
        let Some(room) = room_of(&path).map(|room| ROOMS[room]) else { continue };
        let code = text.split("#[cfg(test)]").next().unwrap_or(&text);
        if !matches!(room, "output" | "commands") {
            assert!(!code.contains("Serialize"), "{} serialises", path.display());
        }
        if room != "commands" {
            for word in ["println!", "print!(", "eprintln!", "std::process", "std::env"] {
                assert!(!code.contains(word), "{} has {word}", path.display());
            }
        }
    }
}

#[test]
fn only_locate_turns_routes_into_bytes() {
    for (path, text) in sources() {
        let in_text = room_of(&path).is_some_and(|room| ROOMS[room] == "text");
        if !in_text {
            assert!(!text.contains("byte_of_utf16"), "{}", path.display());
        }
    }
}

#[test]
fn nothing_is_left_unfinished_and_nothing_is_unsafe() {
    let library = fs::read_to_string(root().join("src/lib.rs")).expect("text");
    assert!(library.contains("#![forbid(unsafe_code)]"));
    for (path, text) in sources() {
        for word in ["todo!(", "unimplemented!(", "FIXME", "dbg!("] {
            assert!(!text.contains(word), "{} has {word}", path.display());
        }
        for (line, words) in text.lines().enumerate() {
            if words.trim_start().starts_with("#[allow") || words.trim_start().starts_with("#![allow") {
                let reasoned = text.lines().skip(line).take(3).any(|near| near.contains("reason ="));
                assert!(reasoned, "{}:{} allows without a reason", path.display(), line + 1);
            }
        }
    }
}

#[test]
fn no_two_files_of_commands_use_each_other_in_a_circle() {
    let folder = root().join("src/commands");
    let mut left: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (path, text) in sources() {
        if path.parent() != Some(&folder) {
            continue;
        }
        let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
        let word =
            |rest: &str| rest.split(|c: char| !(c.is_alphanumeric() || c == '_')).next().map(str::to_owned);
        left.insert(name, text.split("super::").skip(1).filter_map(word).collect());
    }
    assert!(left.values().filter(|used| !used.is_empty()).count() > 10);
    while let Some(free) = left
        .iter()
        .find(|(_, used)| !used.iter().any(|name| left.contains_key(name)))
        .map(|(name, _)| name.clone())
    {
        left.remove(&free);
    }
    assert!(left.is_empty(), "in a circle, or above one: {:?}", left.keys().collect::<Vec<_>>());
}

#[test]
fn what_each_test_file_promises_is_told() {
    let readme = fs::read_to_string(root().join("tests/README.md")).expect("text");
    let developers = fs::read_to_string(root().join("DEVELOPERS.md")).expect("text");
    for entry in fs::read_dir(root().join("tests")).expect("a directory") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        if name.ends_with(".rs") {
            assert!(readme.contains(&format!("`{name}`")), "tests/README.md does not tell of {name}");
            assert!(developers.contains(&format!("`tests/{name}`")), "DEVELOPERS.md does not tell of {name}");
        }
    }
}

//! Promise: hostile text ends in a clear fault, or in an ordinary review where it does no harm; never in a panic, within
//! 1 GiB of address space and well within 20 seconds; and it can steer neither a terminal nor a reader of the output.

mod running;

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::Command;

use proptest::prelude::*;
use running::{Ran, project};

/// Runs `review` on a path in a directory, held to 1 GiB and 20 seconds.
fn guarded(directory: &Path, path: &str) -> Ran {
    let program = assert_cmd::cargo::cargo_bin!("tractwright");
    let output = Command::new("sh")
        .args(["-c", "ulimit -v 1048576; exec timeout 20 \"$0\" review --width 100 \"$1\""])
        .arg(program)
        .arg(path)
        .current_dir(directory)
        .env("RAYON_NUM_THREADS", "1")
        .output()
        .expect("sh and timeout are there");
    output.into()
}

/// No panic, no broken-off run, nothing that steers.
fn assert_harmless(ran: &Ran, what: &str) {
    assert!(matches!(ran.status, Some(0..=2)), "{what}: {:?} {}", ran.status, ran.err);
    assert!(!ran.err.contains("panicked") && !ran.err.contains("overflow"), "{what}: {}", ran.err);
    let all = format!("{}{}", ran.out, ran.err);
    let steers = |c: char| (c.is_control() && c != '\n') || ('\u{202a}'..='\u{202e}').contains(&c);
    assert!(!all.chars().any(steers), "{what} lets through what steers");
    assert!(!all.lines().any(|line| line.trim_start().starts_with("::")), "{what} forges a command");
}

/// Reviews one hostile text; the run must say a fault that holds the word.
fn refused(text: &[u8], word: &str) {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("x.yaml"), text).expect("written");
    let ran = guarded(folder.path(), "x.yaml");
    assert_harmless(&ran, word);
    assert_eq!(ran.status, Some(2), "{word}: {}", ran.out);
    let said = format!("{}{}", ran.out, ran.err);
    assert!(said.contains(word), "`{word}` is not said: {said}");
}

const HEAD: &str = "format: 1\nengine: { cycle: four-stroke }\n";

#[test]
fn nested_aliases() {
    let mut text = format!("{HEAD}a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n");
    for i in 1..12 {
        let before = format!("*a{}", i - 1);
        text.push_str(&format!("a{i}: &a{i} [{}]\n", [before.as_str(); 10].join(", ")));
    }
    refused(text.as_bytes(), "too-many-nodes");
}

#[test]
fn ten_thousand_levels() {
    refused(format!("{HEAD}x: {}", "[".repeat(10_000)).as_bytes(), "too-deep");
    refused(format!("{HEAD}x: {}", "{a: ".repeat(10_000)).as_bytes(), "too-deep");
    refused("- ".repeat(10_000).as_bytes(), "too-deep");
    refused("? ".repeat(10_000).as_bytes(), "fault");
}

#[test]
fn bytes_that_are_no_text() {
    refused(b"format: 1\nengine: {}\ntitle: a\0b\n", "not-text");
    refused(b"format: 1\nengine: {}\ntitle: \xff\xfe\n", "not-text");
    refused(b"format: 1\nengine: {}\ntitle: \"\x1b[31m\"\n", "not-text");
}

#[test]
fn sixty_megabytes() {
    let mut text = HEAD.to_owned();
    text.push_str(&"# nothing but a comment\n".repeat(60 * 1024 * 1024 / 24));
    refused(text.as_bytes(), "too-large");
}

#[test]
fn numbers_that_are_none() {
    for number in ["1e999 m", "nan m", "inf m", "-1e999 m", "0x7fffffffffffffffffffff m", "1e-999999 m"] {
        let text = format!("{HEAD}site: {{ altitude: {number} }}\n");
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join("x.yaml"), text).expect("written");
        let ran = guarded(folder.path(), "x.yaml");
        assert_harmless(&ran, number);
        assert_eq!(ran.status, Some(2), "{number}: {}", ran.out);
    }
}

#[test]
fn many_and_long_keys() {
    let keys: String = (0..50_000).map(|i| format!("k{i}: 1\n")).collect();
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("x.yaml"), format!("{HEAD}{keys}")).expect("written");
    let ran = guarded(folder.path(), "x.yaml");
    assert_harmless(&ran, "many keys");
    assert_eq!(ran.status, Some(2));
    refused(format!("{HEAD}{}: 1\n", "k".repeat(1_000_000)).as_bytes(), "fault");
}

/// A build whose compressor names a map.
fn with_map(folder: &Path, map: &str) -> Ran {
    let text = format!("{HEAD}parts:\n  t: {{ kind: turbocharger, compressor: {{ map: \"{map}\" }} }}\n");
    fs::write(folder.join("x.yaml"), text).expect("written");
    guarded(folder, "x.yaml")
}

#[test]
fn maps_outside_the_root() {
    let outside = tempfile::tempdir().expect("a folder");
    fs::write(outside.path().join("secret.csv"), "secret,data\n").expect("written");
    let folder = tempfile::tempdir().expect("a folder");
    symlink(outside.path().join("secret.csv"), folder.path().join("link.csv")).expect("a link");
    symlink(outside.path(), folder.path().join("linked")).expect("a link");
    let absolute = outside.path().join("secret.csv").display().to_string();
    for map in [
        "../../etc/passwd",
        "/etc/passwd",
        &absolute,
        "link.csv",
        "linked/secret.csv",
        "a/../../../etc/passwd",
    ] {
        let ran = with_map(folder.path(), map);
        assert_harmless(&ran, map);
        assert_eq!(ran.status, Some(2), "{map}");
        let said = format!("{}{}", ran.out, ran.err);
        assert!(said.contains("cannot be read"), "{map}: {said}");
        assert!(!said.contains("secret,data") && !said.contains("root:"), "{map} is read");
    }
}

#[test]
fn maps_that_are_no_files() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::create_dir(folder.path().join("folder.csv")).expect("a folder");
    let made = Command::new("mkfifo").arg(folder.path().join("pipe.csv")).status().expect("mkfifo");
    assert!(made.success());
    for map in ["folder.csv", "pipe.csv", "none.csv", "", "a\\0b"] {
        let ran = with_map(folder.path(), map);
        assert_harmless(&ran, map);
        assert_eq!(ran.status, Some(2), "{map}: {}", ran.out);
    }
}

#[test]
fn maps_that_are_hostile() {
    let folder = tempfile::tempdir().expect("a folder");
    let header = "corrected-speed [rpm],corrected-flow [kg/s],pressure-ratio,efficiency\n";
    let texts = [
        ("wide", format!("{}\n", "a,".repeat(1_000_000))),
        ("long", format!("{header}{}", "50000,0.1,1.5,0.7\n".repeat(200_000))),
        ("quote", format!("{header}\"{}", "1,".repeat(100_000))),
        ("numbers", format!("{header}1e308,1e308,1e308,0.5\n1e-308,nan,inf,-1\n")),
        ("large", "x".repeat(5 << 20)),
    ];
    for (name, text) in texts {
        fs::write(folder.path().join("m.csv"), text).expect("written");
        assert_harmless(&with_map(folder.path(), "m.csv"), name);
    }
}

#[test]
fn a_link_out_of_the_root_is_no_build() {
    let outside = tempfile::tempdir().expect("a folder");
    fs::write(outside.path().join("secret.yaml"), format!("{HEAD}title: secret\n")).expect("written");
    let folder = tempfile::tempdir().expect("a folder");
    symlink(outside.path().join("secret.yaml"), folder.path().join("x.yaml")).expect("a link");
    for path in ["x.yaml", "."] {
        let ran = guarded(folder.path(), path);
        assert_harmless(&ran, path);
        assert_eq!(ran.status, Some(2), "{path}");
        assert!(!ran.out.contains("secret"), "{path} is read");
    }
}

#[test]
fn text_that_would_steer_is_shown_as_marks() {
    let title = "::error::forged \u{202e}turned\u{2066}";
    let text = format!(
        "{HEAD}title: \"{title}\"\nparts:\n  \"::error \u{202e}x\": {{ kind: pipe, bore: \"::error::1\" }}\n"
    );
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("x.yaml"), &text).expect("written");
    let ran = guarded(folder.path(), "x.yaml");
    assert_harmless(&ran, "steering text");
    fs::rename(folder.path().join("x.yaml"), folder.path().join("::error \u{202e}x.yaml")).expect("renamed");
    assert_harmless(&guarded(folder.path(), "."), "a steering file name");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn no_text_in_any_field_steers(words in any::<String>()) {
        let quoted = words.replace('\\', "\\\\").replace('"', "\\\"");
        let text = format!("{HEAD}title: \"{quoted}\"\nuse: \"{quoted}\"\nparts: {{ \"{quoted}\": {{ kind: \"{quoted}\" }} }}\n");
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join("x.yaml"), text).expect("written");
        assert_harmless(&guarded(folder.path(), "x.yaml"), &words);
    }
}

#[test]
fn the_guard_itself_works() {
    // The sound example passes under the same guard.
    let ran = guarded(project(), "examples/hill-climb.yaml");
    assert_harmless(&ran, "the sound example");
    assert_eq!(ran.status, Some(0), "{}", ran.err);
}

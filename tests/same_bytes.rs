//! Promise: the same bytes out for the same bytes in: for 1, 2 and 8 threads, any order of arguments, any current
//! directory, any environment, and run after run.

mod running;

use running::{program, project};

const BUILDS: [&str; 4] = [
    "examples/hill-climb-a.yaml",
    "examples/hill-climb-b.yaml",
    "examples/hill-climb-half.yaml",
    "examples/hill-climb.yaml",
];

fn output(threads: &str, arguments: &[&str], format: &str) -> Vec<u8> {
    let output = program(project())
        .env("RAYON_NUM_THREADS", threads)
        .args(["review", "--width", "100", "--format", format])
        .args(arguments)
        .output()
        .expect("it runs");
    assert!(!output.stdout.is_empty());
    output.stdout
}

#[test]
fn threads_and_order_change_no_byte() {
    // The cures are the same in both formats, and cost most of a review.
    for (format, cures) in [("terminal", &["--no-cures"][..]), ("json", &[])] {
        let output = |threads: &str, builds: &[&str]| output(threads, &[builds, cures].concat(), format);
        let first = output("1", &BUILDS);
        for threads in ["2", "8"] {
            assert!(output(threads, &BUILDS) == first, "{format}, {threads} threads");
        }
        let mut turned = BUILDS;
        turned.reverse();
        assert!(output("2", &turned) == first, "{format}, turned round");
        let twice = [&BUILDS[..], &BUILDS[..]].concat();
        assert!(output("2", &twice) == first, "{format}, each named twice");
    }
}

#[test]
fn a_directory_gives_the_same_as_its_files() {
    let mut files: Vec<String> = std::fs::read_dir(project().join("examples"))
        .expect("the examples")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .filter(|name| name.ends_with(".yaml"))
        .map(|name| format!("examples/{name}"))
        .collect();
    // A file that the house below names as a build.
    files.push("examples/house/builds/club-hatchback.yaml".to_owned());
    files.sort();
    // What cures there are is the other tests' matter, and takes a minute.
    let files: Vec<&str> = files.iter().map(String::as_str).chain(["--no-cures"]).collect();
    assert!(output("2", &["examples", "--no-cures"], "json") == output("1", &files, "json"));
}

#[test]
fn the_current_directory_changes_no_byte() {
    let path = project().join("examples/hill-climb-b.yaml");
    let elsewhere = tempfile::tempdir().expect("a folder");
    for (format, cures) in [("terminal", &["--no-cures"][..]), ("json", &[])] {
        let from = |directory: &std::path::Path| {
            let output =
                program(directory).args(["review", "--format", format]).args(cures).arg(&path).output();
            output.expect("it runs").stdout
        };
        let first = from(project());
        assert!(!first.is_empty());
        for directory in [elsewhere.path(), &project().join("examples"), std::path::Path::new("/")] {
            assert!(from(directory) == first, "{format}, from {}", directory.display());
        }
    }
}

#[test]
fn the_environment_changes_no_byte() {
    let review = |environment: &[(&str, &str)]| {
        let output = program(project())
            .envs(environment.iter().copied())
            .args(["review", "--width", "100", "examples/hill-climb-b.yaml"])
            .output()
            .expect("it runs");
        (output.stdout, output.stderr)
    };
    let first = review(&[]);
    assert!(!first.0.is_empty());
    let place = [
        ("LANG", "tr_TR.UTF-8"),
        ("LC_ALL", "de_DE.UTF-8"),
        ("TZ", "Pacific/Auckland"),
        ("HOME", "/nowhere"),
    ];
    let look = [
        ("COLUMNS", "60"),
        ("FORCE_COLOR", "1"),
        ("CLICOLOR_FORCE", "1"),
        ("CI", "true"),
        ("RUST_BACKTRACE", "1"),
    ];
    let plain = [("TERM", "dumb"), ("NO_COLOR", "1"), ("NO_GRAPHICS", "1"), ("LC_ALL", "C")];
    for environment in [&place[..], &look, &plain] {
        assert!(review(environment) == first, "{environment:?}");
    }
}

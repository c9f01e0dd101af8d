//! Promise: `cure --write` makes only the smallest edits: comments, aliases and line ends stay as they were, what it cannot
//! write it leaves and says why, and a second run changes nothing.

mod running;

use std::fs;
use std::path::Path;

use running::{Ran, bench, project, run};
use tempfile::TempDir;

fn example(name: &str) -> String {
    fs::read_to_string(project().join(format!("examples/{name}.yaml"))).expect("the example")
}

fn cure(bench: &TempDir, more: &[&str]) -> Ran {
    run(bench.path(), &[&["cure", "build.yaml", "--width", "100"], more].concat())
}

fn build_of(bench: &Path) -> String {
    fs::read_to_string(bench.join("build.yaml")).expect("the build")
}

fn replaced(text: &str, pairs: &[(&str, &str)]) -> String {
    pairs.iter().fold(text.to_owned(), |text, (old, new)| {
        assert_eq!(text.matches(old).count(), 1, "{old}");
        text.replace(old, new)
    })
}

/// The faulty example with aliases round the faults, quotes, a byte order mark, and the line ends of another system.
fn aliased() -> String {
    let text = replaced(
        &example("hill-climb-b"),
        &[
            (
                "{ to: air, share: 100 %, bore: 32 mm }",
                "{ to: 'air', share: &all 100 %, bore: 32 mm } # of this share",
            ),
            (
                "  hot-pipe:\n    kind: pipe\n",
                "  hot-pipe:\n    kind: pipe # that is a pipe\n\n    # its bore\n",
            ),
            ("relief-signal: { from: cold-pipe,", "relief-signal: {from: \"cold-pipe\" ,"),
            ("use: competition ", "use: &use competition "),
        ],
    );
    format!(
        "\u{feff}{}",
        text.replace("    temperature-rating: 200 degC\n", "    temperature-rating: 200 degC # as sold\n")
            .replace('\n', "\r\n")
    )
}

#[test]
fn only_what_cures_is_changed_and_a_second_run_changes_nothing() {
    let before = aliased();
    let bench = bench(&before);
    let ran = cure(&bench, &["--write"]);
    assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""), "{}", ran.out);
    let after = build_of(bench.path());
    let wanted = replaced(
        &before,
        &[
            ("tap: { part: hot-pipe, at: 60 mm }", "tap: { part: hot-pipe, at: 307 mm }"),
            ("{ to: 'air',", "{ to: 'inlet-pipe',"),
        ],
    );
    assert_eq!(after, wanted);
    assert!(ran.out.contains("2 cures were written. 1 finding is left."), "{}", ran.out);
    insta::assert_snapshot!("written", ran.out);
    let again = cure(&bench, &["--write"]);
    assert_eq!(build_of(bench.path()), wanted);
    // With the signal put right as well it would be seen that on the hot pipe the valve is too far from the throttle still: a
    // cure that brings another finding is for a person to choose.
    assert!(again.out.contains("build.yaml: nothing was written. 1 finding is left."), "{}", again.out);
    let left: Vec<_> = fs::read_dir(bench.path()).expect("a directory").collect();
    assert_eq!(left.len(), 3, "nothing is left beside it: {left:?}");
}

#[test]
fn without_write_nothing_is_changed_and_each_cure_is_shown() {
    for (name, example_name) in
        [("shown_a", "hill-climb-a"), ("shown_hoses", "hill-climb-hoses"), ("shown_sound", "hill-climb")]
    {
        let text = example(example_name);
        let bench = bench(&text);
        let ran = cure(&bench, &[]);
        assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""));
        insta::assert_snapshot!(name, ran.out);
        assert_eq!(build_of(bench.path()), text);
    }
}

#[test]
fn one_rule_alone_is_cured() {
    let bench = bench(&example("hill-climb-b"));
    let ran = cure(&bench, &["--rule", "full-vent-with-air-meter", "--write"]);
    assert!(ran.out.contains("1 cure was written. No finding is left."), "{}", ran.out);
    assert_eq!(
        build_of(bench.path()),
        replaced(&example("hill-climb-b"), &[("{ to: air,", "{ to: inlet-pipe,")])
    );
    let ran = cure(&bench, &["--rule", "full-vent"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("there is no rule"), "{}", ran.err);
}

#[test]
fn what_would_upset_another_rule_or_another_place_is_left_with_the_reason() {
    let text = example("hill-climb-a");
    let bench = self::bench(&text);
    let ran = cure(&bench, &["--write"]);
    insta::assert_snapshot!("left_as_it_upsets", ran.out);
    assert_eq!(build_of(bench.path()), replaced(&text, &[("effectiveness: 73 %", "effectiveness: 78.5 %")]));

    let text = replaced(
        &example("hill-climb"),
        &[
            ("tap: { part: cold-pipe, at: 250 mm }", "tap: &spot { part: hot-pipe, at: 60 mm }"),
            ("tap: { part: manifold }", "tap: *spot"),
        ],
    );
    let bench = self::bench(&text);
    let ran = cure(&bench, &["--write"]);
    assert_eq!(build_of(bench.path()), text);
    insta::assert_snapshot!("left_as_it_is_shared", ran.out);
}

/// The library with the valve of the sound example, tapped too near to the compressor; and the example without it.
fn with_library(own: &str) -> (TempDir, String, String) {
    let text = example("hill-climb");
    let start = text.find("  relief:  ").expect("the valve");
    let end = text.find("  boost-sensor:").expect("the part behind it");
    let valve = replaced(&text[start..end], &[("{ part: cold-pipe, at: 250 mm }", NEAR)]);
    let library = format!("format: 1\nparts:\n{}", valve.replacen("  relief:  ", "  valve-34:", 1));
    let build = format!("{}{own}{}parts-from: [ valves.yaml ]\n", &text[..start], &text[end..]);
    let bench = bench(&build);
    fs::write(bench.path().join("valves.yaml"), &library).expect("a file");
    (bench, build, library)
}

const NEAR: &str = "{ part: hot-pipe, at: 60 mm }";

#[test]
fn a_part_of_a_library_is_left_and_what_a_build_says_of_it_itself_is_written() {
    let run_with = |own: &str| {
        let (bench, build, library) = with_library(own);
        fs::write(bench.path().join("other.yaml"), &build).expect("a file");
        let ran = cure(&bench, &["--write"]);
        assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""));
        assert_eq!(fs::read_to_string(bench.path().join("valves.yaml")).expect("the library"), library);
        (build, build_of(bench.path()), ran.out)
    };
    let (before, after, out) = run_with("  relief: { like: valve-34 }\n");
    assert_eq!(after, before);
    insta::assert_snapshot!("left_as_a_library_has_it", out);
    let (before, after, out) = run_with(&format!("  relief: {{ like: valve-34, tap: {NEAR} }} # its own\n"));
    assert_eq!(after, replaced(&before, &[(NEAR, "{ part: hot-pipe, at: 307 mm }")]));
    assert!(out.contains("1 cure was written. 1 finding is left."), "{out}");
}

#[test]
fn in_the_library_only_where_asked_and_where_it_upsets_no_other_build() {
    let (bench, build, library) = with_library("  relief: { like: valve-34 }\n");
    // One other that the change helps too, one that says its own place, and one whose pipe is too short for it.
    let other = |name: &str, pairs: &[(&str, &str)]| {
        fs::write(bench.path().join(name), replaced(&build, pairs)).expect("a file");
    };
    other("alike.yaml", &[("Hill-climb hatchback, autumn refit", "Its sister")]);
    other("own.yaml", &[("{ like: valve-34 }", "{ like: valve-34, tap: { part: cold-pipe, at: 250 mm } }")]);
    let ran = cure(&bench, &["--write", "--in-library"]);
    assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""));
    assert_eq!(build_of(bench.path()), build);
    let written = || fs::read_to_string(bench.path().join("valves.yaml")).expect("the library");
    assert_eq!(written(), replaced(&library, &[(NEAR, "{ part: hot-pipe, at: 307 mm }")]));
    insta::assert_snapshot!("written_in_the_library", ran.out);
    let again = cure(&bench, &["--write", "--in-library"]);
    assert!(again.out.contains("build.yaml: nothing was written. 1 finding is left."), "{}", again.out);

    fs::write(bench.path().join("valves.yaml"), &library).expect("a file");
    let pipe = build.find("  hot-pipe:").expect("the pipe");
    let length = build[pipe..].find("length: 700 mm").expect("its length") + pipe;
    let short = format!("{}length: 200 mm{}", &build[..length], &build[length + "length: 700 mm".len()..]);
    fs::write(bench.path().join("short.yaml"), short).expect("a file");
    let ran = cure(&bench, &["--write", "--in-library"]);
    assert_eq!(ran.status, Some(0));
    assert_eq!(written(), library);
    insta::assert_snapshot!("left_as_it_upsets_another_build", ran.out);
}

#[test]
fn a_text_that_was_not_read_wholly_is_not_written() {
    for (old, new) in
        [("  idle: {", "  idel: {"), ("air-path: [", "air-path: ["), ("title:", "title: a\ntitle:")]
    {
        let sound = example("hill-climb-b");
        let text = replaced(&sound, &[(old, new)]);
        let bench = bench(&text);
        let ran = cure(&bench, &["--write"]);
        if text == sound {
            assert_eq!(ran.status, Some(0));
            continue;
        }
        assert_eq!(ran.status, Some(2), "{}", ran.out);
        assert!(ran.err.contains("`tractwright review` shows"), "{}", ran.err);
        assert_eq!(build_of(bench.path()), text);
    }
    let bench = bench("parts: 1\n");
    let ran = cure(&bench, &["--write"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("this is not a build description"), "{}", ran.err);
    assert!(run(bench.path(), &["cure", "none.yaml"]).err.contains("there is no such file"));
}

#[cfg(unix)]
#[test]
fn permissions_stay_and_links_are_refused() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let text = example("hill-climb-b");
    let bench = bench(&text);
    let path = bench.path().join("build.yaml");
    fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).expect("permissions");
    symlink("build.yaml", bench.path().join("link.yaml")).expect("a link");
    let ran = run(bench.path(), &["cure", "link.yaml", "--write"]);
    assert_eq!((ran.status, ran.out.as_str()), (Some(2), ""));
    assert!(ran.err.contains("nothing was written: it is a link"), "{}", ran.err);
    let elsewhere = self::bench(&text);
    symlink(elsewhere.path(), bench.path().join("out")).expect("a link");
    let ran = run(bench.path(), &["cure", "out/build.yaml", "--write"]);
    assert!(
        ran.err.contains("nothing was written: a link leads out of the root of the builds"),
        "{}",
        ran.err
    );
    assert_eq!((build_of(bench.path()), build_of(elsewhere.path())), (text.clone(), text.clone()));
    fs::set_permissions(&path, fs::Permissions::from_mode(0o440)).expect("permissions");
    let ran = cure(&bench, &["--write"]);
    assert!(ran.err.contains("nothing was written: it may only be read"), "{}", ran.err);
    fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).expect("permissions");
    assert_eq!(cure(&bench, &["--write"]).status, Some(0));
    assert_eq!(fs::metadata(&path).expect("the build").permissions().mode() & 0o777, 0o640);
    assert_ne!(build_of(bench.path()), text);
}

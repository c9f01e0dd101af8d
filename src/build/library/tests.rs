use std::collections::BTreeMap;

use super::*;
use crate::build::Build;
use crate::build::files::{LoadFault, Loader};
use crate::known::{Known, Unrecorded};
use crate::text::{Change, Limits, Part as Marked, mark, parse};

/// Files that are texts.
struct Texts(BTreeMap<&'static str, &'static str>);

impl Loader for Texts {
    fn load(&self, relative: &str) -> Result<Vec<u8>, LoadFault> {
        let text = self.0.get(relative).ok_or_else(|| LoadFault("there is no such file".to_owned()))?;
        Ok(text.as_bytes().to_vec())
    }

    fn shown(&self, relative: &str) -> String {
        relative.trim_start_matches("./").to_owned()
    }
}

const PIPES: &str = "format: 1
title: Pipes of the house
parts:
  charge-pipe: { kind: pipe, bore: 60 mm, length: 900 mm, material: aluminium }
  tapped-valve: { kind: relief-valve, tap: { part: charge-pipe, at: 100 mm } }
  unused: { kind: pipe, bore: 40 mm }
";

const MAP: &str = "# reference-temperature: 298.15 K
# reference-pressure: 101.325 kPa abs
corrected-speed [rpm],corrected-flow [kg/s],pressure-ratio,efficiency
50000,0.04,1.2,0.7
50000,0.06,1.1,0.7
";

fn files() -> Files {
    let texts = [
        ("pipes.yaml", PIPES),
        ("more.yaml", "format: 1\nparts:\n  charge-pipe: { kind: pipe }\n"),
        (
            "lib/turbos.yaml",
            "format: 1\nparts:\n  turbo-a: { kind: turbocharger, compressor: { map: maps/a.csv } }\n",
        ),
        ("lib/maps/a.csv", MAP),
        ("build.yaml", "format: 1\nparts-from: [ build.yaml ]\nparts: {}\nair-path: []\n"),
        ("broken.yaml", "format: 1\nparts: { a: { kind: pipe, bore: 51 }, b: [\n"),
        ("faulty.yaml", "format: 1\nparts:\n  faulty: { kind: pipe, bore: 51 }\n"),
        ("like.yaml", "format: 1\nparts:\n  again: { like: charge-pipe }\n"),
        ("old.yaml", "parts: { a: { kind: pipe } }\n"),
        ("text.yaml", "words\n"),
        ("empty.yaml", ""),
    ];
    Files::new(Box::new(Texts(texts.into_iter().collect())), Limits::default())
}

fn read(text: &str, files: &Files) -> Build {
    let file = files.add("the build", text);
    let parsed = parse(file, text, files.limits());
    assert_eq!(parsed.faults, []);
    Build::read(file, &parsed.root.expect("a tree"), files)
}

/// The faults of a build: message, and the texts of all its places.
fn faults(text: &str) -> Vec<(String, Vec<String>)> {
    let files = files();
    let build = read(text, &files);
    let sources = files.sources();
    let place = |span: Span| sources.get(span.file).slice(span).to_owned();
    let told = build.faults.iter().map(|fault| {
        let places = std::iter::once(fault.span).chain(fault.also.iter().map(|(span, _)| *span));
        (fault.message.clone(), places.map(place).collect())
    });
    told.collect()
}

fn length(build: &Build, name: &str) -> Option<f64> {
    let duct = build.parts.named(name)?.duct.as_ref()?;
    match duct.length.get(&Unrecorded) {
        Known::Is(length) => Some(length.si()),
        _ => None,
    }
}

#[test]
fn what_is_named_is_taken_up_with_what_it_names_and_nothing_else() {
    let files = files();
    let build = read(
        "format: 1\nparts-from: [ pipes.yaml ]\nhoses: { a: { from: tapped-valve, to: air } }\n",
        &files,
    );
    assert_eq!(build.faults, []);
    let names: Vec<&str> = build.parts.list.iter().map(|part| &*part.name).collect();
    assert_eq!(names, ["tapped-valve", "charge-pipe"]);
}

#[test]
fn marks_lead_to_the_use_and_to_the_definition() {
    let files = files();
    let text = "format: 1\nparts-from: [ pipes.yaml ]\nair-path: [ charge-pipe ]\n";
    let build = read(text, &files);
    let found = mark(&build.root, &"parts.charge-pipe.bore".parse().expect("a route"), Marked::Value);
    let sources = files.sources();
    assert_eq!(sources.get(found.span.file).slice(found.span), "charge-pipe");
    assert_eq!(found.span.file, build.file);
    let defined = found.defined_at.expect("defined elsewhere");
    assert_eq!(
        (sources.get(defined.file).name(), sources.get(defined.file).slice(defined)),
        ("pipes.yaml", "60 mm")
    );
}

#[test]
fn like_takes_a_part_and_changes_what_is_written_beside_it() {
    let files = files();
    let text = "format: 1
parts-from: [ pipes.yaml ]
parts:
  cold-pipe: { like: charge-pipe, length: 800 mm, material: none, wall: 2 mm }
  charge-pipe: { like: charge-pipe, length: 500 mm }
air-path: [ cold-pipe, charge-pipe ]
";
    let build = read(text, &files);
    assert_eq!(build.faults, []);
    assert_eq!((length(&build, "cold-pipe"), length(&build, "charge-pipe")), (Some(0.8), Some(0.5)));
    let cold = build.parts.named("cold-pipe").expect("there");
    assert!(matches!(cold.common.material.get(&Unrecorded), Known::NotApplicable(_)));
    let sources = files.sources();
    let told = |route: &str| {
        let found = mark(&build.root, &route.parse().expect("a route"), Marked::Value);
        (sources.get(found.span.file).slice(found.span).to_owned(), found.defined_at.is_some())
    };
    assert_eq!(told("parts.cold-pipe.bore"), ("charge-pipe".to_owned(), true));
    assert_eq!(told("parts.cold-pipe.length"), ("800 mm".to_owned(), false));
    // What was brought in can be changed like anything else, and is not brought in twice.
    let change = Change::parse_assignment("parts.cold-pipe.bore=55mm").expect("a change");
    let again = Build::read(build.file, &change.apply(&build.root).expect("it can be made"), &files);
    assert_eq!(again.faults, []);
    assert_eq!(length(&again, "cold-pipe"), Some(0.8));
}

#[test]
fn a_library_names_its_files_from_where_it_lies() {
    let files = files();
    let build = read("format: 1\nparts-from: [ lib/turbos.yaml ]\nair-path: [ turbo-a ]\n", &files);
    assert_eq!(build.faults, []);
}

#[test]
fn one_name_for_two_parts_is_told_at_both() {
    let own = faults("format: 1\nparts-from: [ pipes.yaml ]\nparts: { charge-pipe: { kind: pipe } }\n");
    let both = vec!["charge-pipe".to_owned(), "charge-pipe".to_owned()];
    assert_eq!(own, [("a library has a part called `charge-pipe` too".to_owned(), both)]);
    let shared = faults("format: 1\nparts-from: [ pipes.yaml, more.yaml ]\nair-path: []\n");
    let all = ["charge-pipe", "charge-pipe", "more.yaml"].map(str::to_owned).to_vec();
    assert_eq!(shared, [("two libraries have a part called `charge-pipe`".to_owned(), all)]);
    assert_eq!(faults("format: 1\nparts-from: [ pipes.yaml ]\nparts: { charge-pipe: none }\n"), []);
}

#[test]
fn what_is_no_library_is_told() {
    let one = |text: &str| {
        let mut told = faults(text);
        assert_eq!(told.len(), 1, "{told:?}");
        told.remove(0).0
    };
    let naming = |name: &str| one(&format!("format: 1\nparts-from: [ {name} ]\nair-path: []\n"));
    assert_eq!(naming("old.yaml"), "the library does not say its format");
    assert_eq!(naming("text.yaml"), "this is not a library of parts");
    assert_eq!(naming("empty.yaml"), "the library is empty");
    assert_eq!(
        naming("like.yaml"),
        "a library's part is described in full: `like` stands in builds alone".to_owned()
    );
    assert!(naming("missing.yaml").contains("there is no such file"));
    assert!(naming("[ a ]").contains("a list stands here"));
    assert_eq!(naming("pipes.yaml, ./pipes.yaml"), "the library `./pipes.yaml` is named twice");
    assert_eq!(
        one("format: 1\nparts-from: pipes.yaml\nair-path: []\n"),
        "a list of files is wanted, but text stands here"
    );
    assert_eq!(one("format: 1\nparts: { a: { like: b } }\n"), "no library has a part called `b`");
    let kind = "format: 1\nparts-from: [ pipes.yaml ]\nparts: { a: { like: charge-pipe, kind: pipe } }\n";
    assert_eq!(one(kind), "the kind comes with the library's part");
}

#[test]
fn a_build_is_no_library() {
    let told = faults("format: 1\nparts-from: [ build.yaml ]\nair-path: []\n");
    let keys: Vec<&str> = told.iter().filter_map(|(_, places)| places.first()).map(|key| &**key).collect();
    assert_eq!(keys, ["parts-from", "air-path"]);
}

#[test]
fn a_fault_in_a_shared_part_stands_where_it_is_defined_and_where_it_is_used() {
    let told = faults("format: 1\nparts-from: [ faulty.yaml ]\nparts: { a: { like: faulty } }\n");
    assert_eq!(told, [("`51` has no unit".to_owned(), vec!["51".to_owned(), "faulty".to_owned()])]);
    assert!(faults("format: 1\nparts-from: [ broken.yaml ]\nair-path: []\n").len() == 1);
}

#[test]
fn libraries_bring_in_no_more_than_a_text_may_hold() {
    let texts = [("pipes.yaml", PIPES)].into_iter().collect();
    let files = Files::new(Box::new(Texts(texts)), Limits { nodes: 200, ..Limits::default() });
    let copies: String = (0..60).map(|i| format!("  p{i}: {{ like: charge-pipe }}\n")).collect();
    let text = format!("format: 1\nparts-from: [ pipes.yaml ]\nparts:\n{copies}");
    let file = files.add("the build", &text);
    let root = parse(file, &text, &Limits::default()).root.expect("a tree");
    let told: Vec<_> = Build::read(file, &root, &files).faults.into_iter().map(|fault| fault.kind).collect();
    assert!(told.contains(&FaultKind::TooManyNodes));
    assert_eq!(told.iter().filter(|kind| **kind == FaultKind::TooManyNodes).count(), 1);
}

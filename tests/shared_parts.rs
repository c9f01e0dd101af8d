//! Promise: a finding on a shared part marks the place that uses it and names the one that defines it; a library among
//! the files of a directory is not taken for a build; nothing is read from outside the root.

use std::fs;

mod running;
use running::run;

const BUILD: &str = "format: 1
use: road
describes: [ air-path, signals ]
parts-from: [ ../library/valves.yaml ]
parts:
  relief: { like: vented-valve, tap: { part: cold-pipe, at: 800 mm } }
  turbo: { kind: turbocharger }
  manifold: { kind: inlet-manifold }
air-path: [ turbo, cold-pipe, manifold ]
hoses: { signal: { from: manifold, to: relief } }
";

const LIBRARY: &str = "format: 1
title: Valves and pipes of the house
parts:
  cold-pipe: { kind: pipe, bore: 60 mm, length: 900 mm }
  vented-valve:
    kind: relief-valve
    purpose: tip-out
    actuation: pneumatic
    discharge: [ { to: air, share: 100 % } ]
";

fn directory(library: &str) -> tempfile::TempDir {
    let root = tempfile::tempdir().expect("a directory");
    let write = |below: &str, text: &str| {
        let path = root.path().join(below);
        fs::create_dir_all(path.parent().expect("a parent")).expect("made");
        fs::write(path, text).expect("written");
    };
    write("tractwright.yaml", "format: 1\n");
    write("builds/van.yaml", BUILD);
    write("library/valves.yaml", library);
    root
}

#[test]
fn a_finding_names_use_and_definition() {
    let root = directory(LIBRARY);
    let ran = run(root.path(), &["review", "--no-cures", "builds/van.yaml"]);
    assert_eq!(ran.err, "");
    assert!(ran.out.contains("builds/van.yaml:6:"), "{}", ran.out);
    let defined = "parts.relief.discharge is defined at library/valves.yaml:9:16";
    assert!(ran.out.contains(defined), "{}", ran.out);
    let json = run(root.path(), &["review", "--no-cures", "--format", "json", "builds/van.yaml"]);
    let document: serde_json::Value = serde_json::from_str(&json.out).expect("JSON");
    let mark = &document["builds"][0]["results"]
        .as_array()
        .expect("results")
        .iter()
        .find(|result| result["rule"] == "vent-may-break-noise-law")
        .expect("the rule spoke")["marks"][0];
    assert_eq!((&mark["place"]["line"], &mark["place"]["column"]), (&6.into(), &19.into()));
    assert_eq!(mark["defined-at"]["file"], "library/valves.yaml");
}

#[test]
fn a_library_in_a_directory_is_no_build() {
    let root = directory(LIBRARY);
    let ran = run(root.path(), &["review", "--no-cures", "."]);
    assert_eq!(ran.err, "");
    assert!(!ran.out.contains("library/valves.yaml ("), "{}", ran.out);
    assert!(ran.out.contains("which are no builds"), "{}", ran.out);
}

#[test]
fn what_if_reaches_a_shared_part() {
    let root = directory(LIBRARY);
    let change = "parts.relief.discharge[0].to=cold-pipe";
    let ran = run(root.path(), &["review", "--no-cures", "--change", change, "builds/van.yaml"]);
    assert!(!ran.out.contains("is heard on the road"), "{}", ran.out);
}

#[test]
fn nothing_is_read_from_outside_the_root() {
    let root = directory(LIBRARY);
    let outside = BUILD.replace("../library/valves.yaml", "../../valves.yaml");
    fs::write(root.path().join("builds/van.yaml"), outside).expect("written");
    let ran = run(root.path(), &["review", "--no-cures", "builds/van.yaml"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.out.contains("outside the root"), "{}", ran.out);
}

//! Promise: a text with ten mistakes gives ten faults in one run, each at its own place and none of them twice, and
//! the file beside it is reviewed as if it were alone.

use serde_json::Value;

mod running;
use running::{project, run};

/// The text with the mistakes.
const FAULTY: &str = "tests/data/ten-faults.yaml";
/// The map that it names, with a mistake of its own.
const MAP: &str = "tests/data/ten-faults-map.csv";
/// A sound text with findings.
const NEIGHBOUR: &str = "examples/hill-climb-b.yaml";

/// File, line, column, kind and a word of the message of each mistake, in the order of the text.
const MISTAKES: [(&str, u64, u64, &str, &str); 10] = [
    (FAULTY, 7, 13, "wrong-unit", "degC"),
    (FAULTY, 8, 20, "missing-unit", "30"),
    (FAULTY, 9, 22, "bad-number", "forty"),
    (FAULTY, 14, 3, "unknown-key", "metring"),
    (FAULTY, 24, 5, "duplicate-key", "bore"),
    (FAULTY, 25, 13, "wrong-kind", "list"),
    (FAULTY, 28, 11, "out-of-range", "-60 mm"),
    (FAULTY, 30, 15, "unknown-anchor", "house-metal"),
    (FAULTY, 36, 37, "dangling-name", "cold-pip"),
    (MAP, 4, 23, "map", "corrected-flo"),
];

fn reviewed(arguments: &[&str]) -> (Option<i32>, Vec<Value>) {
    let ran = run(project(), &[&["review", "--format", "json"], arguments].concat());
    assert_eq!(ran.err, "");
    let document: Value = serde_json::from_str(&ran.out).expect("the output is JSON");
    (ran.status, document["builds"].as_array().expect("there are builds").clone())
}

fn entry<'a>(builds: &'a [Value], file: &str) -> &'a Value {
    builds.iter().find(|build| build["file"] == file).expect("the file has an entry")
}

#[test]
fn ten_mistakes_give_ten_faults_each_at_its_place() {
    let (status, builds) = reviewed(&[FAULTY, NEIGHBOUR]);
    assert_eq!(status, Some(2));
    let faults = entry(&builds, FAULTY)["faults"].as_array().expect("there are faults");
    let found: Vec<_> = faults
        .iter()
        .map(|fault| {
            let place = &fault["place"];
            let number = |key: &str| place[key].as_u64().expect("a place has numbers");
            let text = |value: &Value| value.as_str().expect("this is text").to_owned();
            (text(&place["file"]), number("line"), number("column"), text(&fault["kind"]))
        })
        .collect();
    let expected: Vec<_> = MISTAKES
        .iter()
        .map(|(file, line, column, kind, _)| ((*file).to_owned(), *line, *column, (*kind).to_owned()))
        .collect();
    assert_eq!(found, expected, "{faults:#?}");
    for (fault, (.., word)) in faults.iter().zip(MISTAKES) {
        let message = fault["message"].as_str().expect("a fault has a message");
        assert!(message.contains(word), "`{message}` does not name `{word}`");
    }
}

/// What is written and faulty is told as a fault, and not asked for as if it were missing; what is missing is asked for.
#[test]
fn what_is_faulty_is_not_asked_for() {
    let (_, builds) = reviewed(&[FAULTY]);
    let asking = entry(&builds, FAULTY)["asking"].as_array().expect("a list");
    let asked: Vec<&str> = asking.iter().map(|one| one["field"].as_str().expect("text")).collect();
    for faulty in [
        "site.altitude",
        "site.air-temperature",
        "site.relative-humidity",
        "parts.hot-pipe.length",
        "parts.cold-pipe.bore",
        "parts.cold-pipe.material",
        "parts.turbo.compressor.map",
        "air-path",
    ] {
        assert!(!asked.contains(&faulty), "{faulty}: {asked:?}");
    }
    for missing in ["engine.ignition", "parts.cold-pipe.wall"] {
        assert!(asked.contains(&missing), "{missing}: {asked:?}");
    }
}

#[test]
fn a_fault_points_at_the_other_place_that_takes_part() {
    let (_, builds) = reviewed(&[FAULTY]);
    let faults = entry(&builds, FAULTY)["faults"].as_array().expect("there are faults");
    let also = |kind: &str| {
        let fault = faults.iter().find(|fault| fault["kind"] == kind).expect("there is such a fault");
        let place = &fault["also"][0]["place"];
        (place["file"].clone(), place["line"].clone(), place["column"].clone())
    };
    assert_eq!(also("duplicate-key"), (FAULTY.into(), 23.into(), 5.into()));
    assert_eq!(also("map"), (FAULTY.into(), 20.into(), 24.into()));
}

#[test]
fn the_file_beside_it_is_reviewed_as_if_alone() {
    let (_, both) = reviewed(&[FAULTY, NEIGHBOUR]);
    let (status, alone) = reviewed(&[NEIGHBOUR]);
    assert_eq!(status, Some(1));
    let findings = |build: &Value| build["tally"]["fail"].as_u64().expect("a tally counts");
    assert!(findings(entry(&alone, NEIGHBOUR)) > 0);
    assert_eq!(entry(&both, NEIGHBOUR), entry(&alone, NEIGHBOUR));
}

#[test]
fn a_person_is_told_all_ten() {
    let ran = run(project(), &["review", "--width", "200", "--colour", "never", FAULTY]);
    assert_eq!(ran.status, Some(2));
    for (file, line, column, kind, _) in MISTAKES {
        let place = format!("{file}:{line}:{column}");
        assert!(ran.out.contains(&place), "{kind} at {place} is not told:\n{}", ran.out);
    }
}

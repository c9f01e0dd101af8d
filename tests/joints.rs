//! Promise: `joints` lists each pair of neighbours of the air path once, says what the description says of it and
//! nothing else, and asks for the rest.

mod running;

use std::collections::BTreeMap;

use proptest::prelude::*;
use running::{Ran, project, run, write};
use serde_json::Value;

fn joints(arguments: &[&str]) -> Ran {
    let ran = run(project(), &[&["joints"], arguments].concat());
    assert_eq!((ran.status, &*ran.err), (Some(0), ""), "{arguments:?}");
    ran
}

#[test]
fn what_a_person_reads() {
    for example in ["hill-climb", "sand-rail"] {
        for width in ["80", "120"] {
            let ran = joints(&[&format!("examples/{example}.yaml"), "--width", width]);
            let columns = width.parse().expect("a number");
            for line in ran.out.lines() {
                assert!(line.chars().count() <= columns, "{line}");
            }
            insta::assert_snapshot!(format!("{example}_{width}"), ran.out);
        }
    }
}

fn rows(text: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader.deserialize().map(|row| row.expect("a row as long as the header")).collect()
}

fn example(name: &str) -> serde_yaml::Value {
    let text = std::fs::read_to_string(project().join(format!("examples/{name}.yaml"))).expect("an example");
    serde_yaml::from_str(&text).expect("YAML")
}

/// What the text of the example says, without its unit mm; nothing where it says nothing.
fn written(value: &serde_yaml::Value) -> String {
    match value.as_str() {
        Some(text) => text.strip_suffix(" mm").unwrap_or(text).to_owned(),
        None => String::new(),
    }
}

#[test]
fn the_table_holds_what_the_text_says() {
    let build = example("hill-climb");
    let rows = rows(&joints(&["examples/hill-climb.yaml", "--format", "csv"]).out);
    let of = |route: &str| rows.iter().find(|row| row["route"] == route).unwrap_or_else(|| panic!("{route}"));
    let columns =
        [("bore [mm]", "bore"), ("gap [mm]", "gap"), ("overlap [mm]", "overlap"), ("material", "material")];
    for joint in ["turbo", "hot-pipe", "cooler", "cold-pipe"] {
        let row = of(&format!("joints.{joint}"));
        let coupler = &build["joints"][joint]["coupler"];
        for (column, key) in columns {
            assert_eq!(row[column], written(&coupler[key]), "{joint}: {column}");
        }
        assert_eq!((&*row["clamps [1]"], &*row["clamp"]), ("2", ""));
        assert!(row["to-measure"].contains(&format!("joints.{joint}.coupler.clamp")));
    }
    for part in ["meter-pipe", "air-meter", "inlet-pipe", "hot-pipe", "cold-pipe", "throttle"] {
        let bore = written(&build["parts"][part]["bore"]);
        assert!(!bore.is_empty());
        assert_eq!(of(&format!("joints.{part}"))["from-bore [mm]"], bore, "{part}");
        let behind = rows.iter().find(|row| row["item"] == "joint" && row["to"] == part).expect("a joint");
        assert_eq!(behind["to-bore [mm]"], bore, "{part}");
    }
    let reduced = of("joints.cold-pipe");
    let told =
        ["step [mm]", "reducer", "reducer-from [mm]", "reducer-to [mm]"].map(|column| &*reduced[column]);
    assert_eq!(told, ["5", "needed", "60", "65"]);
    assert_eq!(of("joints.throttle")["joined-by"], "bolted flange");
    assert_eq!(of("joints.hot-pipe")["from-outside [mm]"], "55", "51 mm and twice 2 mm");
    let hoses = build["hoses"].as_mapping().expect("a table");
    for (name, hose) in hoses {
        let row = of(&format!("hoses.{}", name.as_str().expect("a name")));
        for (column, key) in [
            ("from", "from"),
            ("to", "to"),
            ("length [mm]", "length"),
            ("bore [mm]", "bore"),
            ("material", "material"),
        ] {
            assert_eq!(row[column], written(&hose[key]), "{name:?}: {column}");
        }
    }
    assert_eq!(rows.iter().filter(|row| row["item"] == "hose").count(), hoses.len());
}

/// The highest of a column of the operating points at a part.
fn highest(
    points: &[BTreeMap<String, String>],
    part: &str,
    of: impl Fn(&BTreeMap<String, String>) -> f64,
) -> f64 {
    points.iter().filter(|row| row["part"] == part).map(of).fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn temperatures_are_the_highest_of_the_operating_points() {
    let path = "examples/sand-rail.yaml";
    let points = rows(&run(project(), &["steady", path, "--format", "csv"]).out);
    for row in rows(&joints(&[path, "--format", "csv"]).out).iter().filter(|row| row["item"] == "joint") {
        let number =
            |row: &BTreeMap<String, String>, column: &str| row[column].parse::<f64>().expect("a number");
        let warmest = highest(&points, &row["from"], |point| number(point, "temperature-out [K]"));
        assert!((number(row, "temperature [degC]") - (warmest - 273.15)).abs() < 1e-3, "{row:?}");
        let pressure = highest(&points, &row["from"], |point| number(point, "pressure-out [Pa]"));
        // One site: its own air by ISO 2533 at 50 m.
        let outside = 101_325.0 * (1.0 - 0.0065 * 50.0 / 288.15_f64).powf(5.255_88);
        let told = 1e3 * number(row, "pressure [kPa above the air outside]");
        assert!((told - (pressure - outside)).abs() < 5.0, "{told} {}", pressure - outside);
        assert_eq!(row["pressure-complete"], "true");
    }
}

#[test]
fn what_is_not_described_is_asked_for_and_counted_as_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = "format: 1
parts:
  a: { kind: pipe, bore: 50 mm, length: 300 mm }
  b: { kind: coupler, length: 80 mm }
  c: { kind: cone, bore: 51 mm, outlet-bore: 60 mm, length: 80 mm }
  d: { kind: pipe, bore: 60.9 mm, length: 300 mm }
  e: { kind: pipe, bore: 62 mm, length: 300 mm }
  servo: { kind: brake-servo }
air-path: [ a, b, c, d, e ]
joints:
  c: { coupler: { bore: 60 mm, clamp: none, bead: none } }
  d: { coupler: {} }
hoses:
  one: { from: d, to: servo, length: 1 m, restrictors: [ { bore: 2 mm }, { at: 20 mm } ] }
  two: { from: { hose: one, at: 400 mm } }
";
    write(folder.path(), "build.yaml", text);
    let ran = run(folder.path(), &["joints", "build.yaml", "--format", "json"]);
    assert_eq!((ran.status, &*ran.err), (Some(0), ""));
    let list: Value = serde_json::from_str(&ran.out).expect("JSON");
    let joint = |at: usize| &list["joints"][at];
    let told = |at: usize| ["joined-by", "clamps", "reducer"].map(|key| joint(at)[key].clone());
    assert_eq!(told(0), [Value::from("soft-part"), 1.into(), "unknown".into()]);
    assert_eq!(told(2), [Value::from("coupler"), 0.into(), "not-needed".into()], "0.9 mm is no step");
    assert_eq!(told(3), [Value::from("coupler"), 2.into(), "needed".into()], "1.1 mm is one");
    assert_eq!(joint(3)["reducer-bores"][1]["value"], 0.062);
    assert_eq!(joint(2)["coupler"]["bead"], "none");
    assert_eq!(joint(2)["coupler"]["gap"], Value::Null);
    assert_eq!(
        (&joint(2)["pressure"]["value"], &joint(2)["pressure"]["complete"]),
        (&Value::Null, &false.into())
    );
    let one = &list["hoses"][0];
    assert_eq!(
        (&one["restrictors"][0]["value"], &one["restrictors"][1]),
        (&Value::from(0.002), &Value::Null)
    );
    assert_eq!(
        (&one["tees"][0]["hose"], &one["tees"][0]["at"]["value"]),
        (&Value::from("two"), &Value::from(0.4))
    );
    assert_eq!(
        (&list["hoses"][1]["from"], &list["hoses"][1]["to"]),
        (&Value::from("tee in one"), &Value::Null)
    );
    let asked: Vec<&str> = list["to-measure"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|one| one["route"].as_str())
        .collect();
    let wanted = [
        "parts.b.bore",
        "joints.a",
        "joints.c.coupler.gap",
        "joints.d.coupler.bore",
        "hoses.one.bore",
        "hoses.one.restrictors[1].bore",
        "hoses.two.to",
    ];
    for route in wanted {
        assert!(asked.contains(&route), "{route} is not among {asked:?}");
    }
    for route in ["joints.c.coupler.clamp", "joints.c.coupler.bead", "joints.c.coupler.bore", "parts.c.bore"]
    {
        assert!(!asked.contains(&route), "{route}");
    }
}

#[test]
fn the_document_fits_its_schema() {
    let schema = std::fs::read_to_string(project().join("schemas/joints-1.schema.json")).expect("the schema");
    let schema: Value = serde_json::from_str(&schema).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a valid schema");
    for name in ["hill-climb", "sand-rail", "hill-climb-half", "coupe-a", "puller"] {
        let ran = joints(&[&format!("examples/{name}.yaml"), "--format", "json"]);
        let document: Value = serde_json::from_str(&ran.out).expect("JSON");
        let errors: Vec<String> = validator.iter_errors(&document).map(|error| error.to_string()).collect();
        assert!(errors.is_empty(), "{name}: {errors:?}");
    }
}

#[test]
fn a_faulty_text_is_told_and_a_file_that_is_none_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    write(
        folder.path(),
        "build.yaml",
        "format: 1\nparts: { a: { kind: pipe, bore: 50 } }\nair-path: [ a ]\n",
    );
    let ran = run(folder.path(), &["joints", "build.yaml"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("1 faults"), "{}", ran.err);
    assert_eq!(run(folder.path(), &["joints", "none.yaml"]).status, Some(2));
    write(folder.path(), "other.yaml", "a: b\n");
    assert_eq!(run(folder.path(), &["joints", "other.yaml"]).status, Some(2));
}

/// A path of parts and branches: each number says how many parts stand in a row, lists are branches.
#[derive(Clone, Debug)]
enum Layout {
    Row(usize),
    Fork(Vec<usize>),
}

fn layouts() -> impl Strategy<Value = Vec<Layout>> {
    let one = prop_oneof![
        (1..4usize).prop_map(Layout::Row),
        prop::collection::vec(1..3usize, 2..4).prop_map(Layout::Fork)
    ];
    prop::collection::vec(one, 1..5)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn each_pair_of_neighbours_occurs_exactly_once(layouts in layouts()) {
        let mut parts = Vec::new();
        let mut path = Vec::new();
        let mut wanted = Vec::new();
        let mut last: Vec<String> = Vec::new();
        for layout in &layouts {
            let lengths: Vec<usize> = match layout {
                Layout::Row(count) => vec![*count],
                Layout::Fork(branches) => branches.clone(),
            };
            let (mut ends, mut written) = (Vec::new(), Vec::new());
            for length in lengths {
                let mut before = last.clone();
                let mut names = Vec::new();
                for _ in 0..length {
                    let name = format!("p{}", parts.len());
                    wanted.extend(before.iter().map(|one| format!("{one} {name}")));
                    parts.push(format!("  {name}: {{ kind: pipe, bore: 50 mm, length: 100 mm }}\n"));
                    before = vec![name.clone()];
                    names.push(name);
                }
                ends.extend(before);
                written.push(names.join(", "));
            }
            last = ends;
            path.push(match layout {
                Layout::Row(_) => written.concat(),
                Layout::Fork(_) => {
                    let branches = written.iter().enumerate().map(|(at, names)| format!("b{at}: [ {names} ]"));
                    format!("{{ parallel: {{ {} }} }}", branches.collect::<Vec<_>>().join(", "))
                }
            });
        }
        let folder = tempfile::tempdir().expect("a folder");
        let text = format!("format: 1\nparts:\n{}air-path: [ {} ]\n", parts.concat(), path.join(", "));
        write(folder.path(), "build.yaml", &text);
        let ran = run(folder.path(), &["joints", "build.yaml", "--format", "csv"]);
        let mut found: Vec<String> =
            rows(&ran.out).iter().map(|row| format!("{} {}", row["from"], row["to"])).collect();
        found.sort();
        wanted.sort();
        prop_assert_eq!(found, wanted, "{}{}", text, ran.err);
    }
}

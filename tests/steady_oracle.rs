//! Promise: every steady operating point of the starter agrees within 0.3 % with a solve written independently in
//! Python from the equations alone (`tests/oracles/steady.py`, kept output `tests/oracles/hill-climb.steady.json`), and the
//! shipped compressor map is what its generator makes.
//!
//! The program and the oracle share no code. Pressures, flows and temperatures, each part's loss, efficiency and the
//! surge margin are compared one by one, so that two errors cannot cancel. Losses below 30 Pa are compared to 0.1 Pa.

use std::fs;
use std::path::PathBuf;
use std::process::Command;

use serde_json::Value;
use tractwright::build::Build;
use tractwright::build::files::{DiskLoader, Files};
use tractwright::known::{Known, Unrecorded};
use tractwright::model::{Outcome, Steady};
use tractwright::text::{FileId, Limits, parse};
use tractwright::tract::Tract;

const TOLERANCE: f64 = 0.003;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn kept() -> Value {
    let text =
        fs::read_to_string(root().join("tests/oracles/hill-climb.steady.json")).expect("the kept output");
    serde_json::from_str(&text).expect("JSON")
}

fn near(ours: f64, theirs: f64, what: &str) {
    assert!((ours - theirs).abs() <= TOLERANCE * theirs.abs(), "{what}: {ours} against {theirs}");
}

#[test]
fn every_point_of_the_starter_agrees_with_the_independent_solve() {
    let loader = DiskLoader::new(&root(), "examples".as_ref(), 1 << 20).expect("the project's folder");
    let files = Files::new(Box::new(loader), Limits::default());
    let text = fs::read_to_string(root().join("examples/hill-climb.yaml")).expect("the starter");
    let tree = parse(FileId(0), &text, files.limits()).root.expect("a tree");
    let build = Build::read(FileId(0), &tree, &files);
    let Known::Is(path) = Tract::new(&build).path(&Unrecorded) else { panic!("the path is not known") };
    let steady = Steady::solve(&build, &Unrecorded);
    let oracle = kept();
    let mut compared = 0;
    for site in &steady.sites {
        let theirs = oracle
            .as_array()
            .expect("sites")
            .iter()
            .find(|theirs| theirs["site"] == *site.name)
            .unwrap_or_else(|| panic!("the oracle has no site {}", site.name));
        let Known::Is(points) = &site.points else { panic!("{} is not solved", site.name) };
        for point in points {
            let Outcome::Solved(ours) = &point.outcome else { panic!("a point is not solved") };
            let rpm = point.speed * 60.0;
            let status = if point.off_boost { "off-boost" } else { "boosted" };
            let found = theirs["points"].as_array().expect("points").iter().find(|theirs| {
                let off = theirs["on_boost"] == false;
                (theirs["engine_speed"].as_f64().expect("a speed") - rpm).abs() < 0.5
                    && off == point.off_boost
            });
            let theirs = found.unwrap_or_else(|| panic!("the oracle has no point {rpm} rpm {status}"));
            let what = |name: &str| format!("{} {rpm:.0} rpm {status}: {name}", site.name);
            let number = |name: &str| theirs[name].as_f64();
            let pairs = [
                ("mass_flow", ours.flow),
                ("p1", ours.p1),
                ("T1", ours.t1),
                ("p2", ours.p2),
                ("T2", ours.t2),
                ("pressure_ratio", ours.ratio()),
                ("corrected_flow", ours.corrected_flow),
                ("p_manifold", ours.p_manifold),
                ("T_manifold", ours.t_manifold),
            ];
            for (name, value) in pairs {
                // Off boost the oracle has no corrected flow, as the map is not looked at.
                let Some(theirs) = number(name) else {
                    assert!(point.off_boost, "the oracle lacks {name}");
                    continue;
                };
                near(value, theirs, &what(name));
                compared += 1;
            }
            if let (Some(margin), Some(working)) = (ours.surge_margin(), &ours.working) {
                let theirs_margin = number("surge_margin_flow").expect("a margin");
                assert!(
                    (margin - theirs_margin).abs() < 0.003,
                    "{}: {margin} {theirs_margin}",
                    what("margin")
                );
                near(working.efficiency, number("efficiency").expect("an efficiency"), &what("efficiency"));
                compared += 2;
            }
            for (spot, loss) in path.iter().zip(&ours.losses) {
                let name = &spot.part.name;
                let Some(theirs) = theirs["losses"][&**name].as_f64() else { continue };
                let slack = (TOLERANCE * theirs).abs().max(0.1);
                assert!((loss - theirs).abs() <= slack, "{}: {loss} against {theirs}", what(name));
                compared += 1;
            }
        }
    }
    assert!(compared > 1000, "only {compared} numbers were compared");
}

/// Runs an oracle script when there is a Python; says so when there is none. `.ci/run` sees to it that there is.
fn python(arguments: &[&str]) -> Option<std::process::Output> {
    match Command::new("python3").args(arguments).current_dir(root()).output() {
        Ok(output) => Some(output),
        Err(_) => {
            println!("skipped: no python3 is installed, so the oracle scripts are not run again");
            assert!(std::env::var_os("CI").is_none(), "on CI the oracles must run");
            None
        }
    }
}

#[test]
fn the_kept_output_is_what_the_oracle_prints_and_the_map_what_its_generator_makes() {
    if let Some(output) = python(&["tests/oracles/invented_map.py", "--check"]) {
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    }
    if let Some(output) = python(&["tests/oracles/steady.py", "examples/hill-climb.yaml"]) {
        let fresh: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        same(&fresh, &kept(), "");
    }
}

/// The same tree, numbers to 9 digits: Python versions differ in the last ones.
fn same(a: &Value, b: &Value, at: &str) {
    match (a, b) {
        (Value::Object(a), Value::Object(b)) => {
            assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>(), "{at}");
            for (key, value) in a {
                same(value, &b[key], &format!("{at}.{key}"));
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            assert_eq!(a.len(), b.len(), "{at}");
            for (i, (a, b)) in a.iter().zip(b).enumerate() {
                same(a, b, &format!("{at}[{i}]"));
            }
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().expect("a number"), b.as_f64().expect("a number"));
            assert!((a - b).abs() <= 1e-9 * a.abs().max(b.abs()), "{at}: {a} {b}");
        }
        _ => assert_eq!(a, b, "{at}"),
    }
}

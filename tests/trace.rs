//! Promise: any number can be traced: from the fact through every other fact to the fields, settings, defaults, equations and
//! sources that it rests on; and each field it names was really read, since changing it changes the number.

mod running;

use running::{project, run};
use serde_json::Value;

fn traces(arguments: &[&str]) -> Vec<Value> {
    let fixed = ["review", "examples/hill-climb.yaml", "--no-cures", "--format", "json"];
    let ran = run(project(), &[&fixed[..], arguments].concat());
    assert_eq!(ran.status, Some(0), "{}", ran.err);
    let document: Value = serde_json::from_str(&ran.out).expect("JSON");
    document["builds"][0]["traces"].as_array().expect("traces").clone()
}

/// Every step of a derivation.
fn steps<'a>(trace: &'a Value, found: &mut Vec<&'a Value>) {
    found.push(trace);
    for below in trace["below"].as_array().expect("a list") {
        steps(below, found);
    }
}

#[test]
fn a_distance_is_traced_to_its_lengths() {
    let traces = traces(&["--trace", "distance_from_compressor_outlet"]);
    assert_eq!(traces.len(), 1);
    let fields = traces[0]["fields"].as_array().expect("fields");
    let routes: Vec<&str> = fields.iter().map(|field| field["route"].as_str().expect("text")).collect();
    for wanted in ["parts.hot-pipe.length", "parts.cooler.length", "parts.relief.tap.at"] {
        assert!(routes.contains(&wanted), "{routes:?}");
    }
    let at = fields.iter().find(|field| field["route"] == "parts.relief.tap.at").expect("it is there");
    assert_eq!(at["written"], "250 mm");
}

#[test]
fn a_margin_is_traced_through_the_solve_to_equations_and_settings() {
    let traces = traces(&["--trace", "surge_margin_flow_min"]);
    let mut all = Vec::new();
    steps(&traces[0], &mut all);
    let solve = all.iter().find(|step| step["fact"] == "steady operating points").expect("the solve");
    assert!(solve["source"].as_str().expect("text").contains("Heywood"));
    let has = |list: &str, key: &str, wanted: &str| {
        solve[list].as_array().expect("a list").iter().any(|entry| entry[key] == wanted)
    };
    assert!(has("fields", "route", "engine.displacement"));
    assert!(has("settings", "name", "throttle-discharge-coefficient"));
    assert!(has("defaults", "field", "parts.filter.loss.at"));
}

#[test]
fn what_a_trace_names_moves_the_number() {
    let margin = |change: &[&str]| {
        let traces = traces(&[&["--trace", "surge_margin_flow_min"][..], change].concat());
        traces[0]["value"]["number"]["value"].as_f64().expect("a number")
    };
    let before = margin(&[]);
    for change in [
        "engine.displacement=1990 cm3",
        "parts.cooler.effectiveness=81 %",
        "parts.cold-pipe.bore=58 mm",
        "site.altitude=1500 m",
    ] {
        assert_ne!(margin(&["--change", change]), before, "{change}");
    }
    // Nothing of the steady solve reads the relief valve.
    assert_eq!(margin(&["--change", "parts.relief.seat=33 mm"]), before);
}

#[test]
fn what_a_person_reads() {
    let arguments = [
        "review",
        "examples/hill-climb-b.yaml",
        "--no-cures",
        "--trace",
        "distance_from_compressor_outlet",
        "--width",
        "90",
    ];
    insta::assert_snapshot!(run(project(), &arguments).out);
}

#[test]
fn a_fact_that_is_not_there_is_refused_with_the_nearest() {
    let ran = run(project(), &["review", "examples/hill-climb.yaml", "--trace", "vent_shar"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("did you mean `vent_share`?"), "{}", ran.err);
}

//! Promise: `explain RULE --build FILE` walks a rule through the numbers of a build: the number that decides is what a closed
//! form over the build's fields gives, the comparison is put in numbers, and what it says of a field turns the answer there.

mod running;

use std::fs;

use running::{Ran, bench, project, run};

/// Specific gas constant of dry air in J/(kg K).
const AIR: f64 = 287.05;
const KELVIN: f64 = 273.15;

fn explain(arguments: &[&str]) -> String {
    explain_in(project(), arguments)
}

fn explain_in(directory: &std::path::Path, arguments: &[&str]) -> String {
    let Ran { status, out, err } = run(directory, &[&["explain"], arguments].concat());
    assert_eq!((status, err.as_str()), (Some(0), ""), "{out}");
    out
}

/// What stands behind the teaching text.
fn numbers(out: &str) -> &str {
    out.get(out.find("With the numbers").expect("the numbers")..).expect("the rest")
}

/// The number that stands behind some words, in the unit that it is told in.
fn number_after(out: &str, words: &str) -> f64 {
    let even = out.split_whitespace().collect::<Vec<_>>().join(" ");
    let at = even.find(words).unwrap_or_else(|| panic!("no {words} in {out}")) + words.len();
    let rest = even.get(at..).expect("a rest");
    let number =
        rest.split(' ').find(|word| !word.is_empty()).expect("a number").trim_end_matches([':', ',']);
    number.parse().unwrap_or_else(|_| panic!("{number} behind {words}"))
}

fn near(told: f64, worked: f64, share: f64) {
    assert!((told - worked).abs() <= share * worked.abs(), "told {told}, worked {worked}");
}

fn text_of(below: &str) -> String {
    fs::read_to_string(project().join(below)).expect("a file")
}

/// Pressure of the standard atmosphere in Pa (ISO 2533) at an altitude in m.
fn site_pressure(altitude: f64) -> f64 {
    101_325.0 * (1.0 - 0.0065 * altitude / 288.15).powf(9.80665 / (0.0065 * AIR))
}

/// Temperature in the manifold in K: compression of so many times from T1 at an efficiency, then the cooler.
fn manifold_temperature(t1: f64, ratio: f64, efficiency: f64, effectiveness: f64) -> f64 {
    let t2 = t1 * (1.0 + (ratio.powf(0.2857) - 1.0) / efficiency);
    t2 - effectiveness * (t2 - t1)
}

fn disc(bore: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * bore * bore
}

/// Flow of the map's surge line in kg/s at a pressure ratio, between the first points of its speed lines.
fn surge_flow(ratio: f64) -> f64 {
    let map = text_of("examples/maps/invented-a.csv");
    let rows = map.lines().filter(|line| line.starts_with(|first: char| first.is_ascii_digit()));
    let rows =
        rows.map(|line| line.split(',').map(|cell| cell.parse().expect("a number")).collect::<Vec<f64>>());
    let mut firsts: Vec<Vec<f64>> = Vec::new();
    for row in rows {
        if firsts.last().is_none_or(|last| last[0] != row[0]) {
            firsts.push(row);
        }
    }
    let around =
        firsts.windows(2).find(|pair| pair[0][2] <= ratio && ratio <= pair[1][2]).expect("on the map");
    let share = (ratio - around[0][2]) / (around[1][2] - around[0][2]);
    around[0][1] + share * (around[1][1] - around[0][1])
}

#[test]
fn a_distance_is_walked_through() {
    let rule = "relief-valve-near-compressor-outlet";
    let out = explain(&[rule, "--build", "examples/hill-climb-a.yaml", "--width", "80"]);
    // Hot pipe, cooler, and the tap's own place; six bores of the cold pipe.
    let (distance, wanted) = (700.0 + 600.0 + 250.0, 6.0 * 60.0);
    near(number_after(&out, "distance_from_compressor_outlet of relief ="), distance, 1e-9);
    near(number_after(&out, "6 × 60 mm ="), wanted, 1e-9);
    near(number_after(&out, "in hand:"), distance - wanted, 1e-9);
    insta::assert_snapshot!("distance_passes_80", out);
    let out = explain(&[rule, "--build", "examples/hill-climb-b.yaml", "--width", "120"]);
    assert!(out.contains("60 mm < 6 × 51 mm = 306 mm: holds, so the rule fails."), "{out}");
    insta::assert_snapshot!("distance_fails_120", numbers(&out));
}

#[test]
fn a_balance_of_forces_is_walked_through() {
    let bench = bench(&text_of("examples/lesson.yaml"));
    let rule = "relief-valve-open-at-idle";
    let arguments = [rule, "--build", "build.yaml", "--width", "100"];
    let out = explain_in(bench.path(), &arguments);
    // In the valley, at 300 m: what the site's pressure does on the piston, less idle's, less the spring.
    let piston = disc(0.031);
    let force = (site_pressure(300.0) - 34_000.0) * piston - 42.0;
    near(number_after(&out, "opening_force_idle of relief ="), force, 2e-3);
    near(number_after(&out, "lacking:"), force + 2.0, 2e-3);
    insta::assert_snapshot!("force_fails_100", numbers(&out));
    // With a spring that holds, what is in hand is told, and lies where the closed form has it.
    let text = text_of("examples/lesson.yaml").replace("preload: 42 N", "preload: 60 N");
    fs::write(bench.path().join("build.yaml"), text).expect("written");
    let out = explain_in(bench.path(), &arguments);
    near(number_after(&out, "parts.relief.spring.preload: 60 N, may fall to"), force + 42.0 + 2.0, 2e-3);
    let widest = 2.0 * (58.0 / (site_pressure(300.0) - 34_000.0) / std::f64::consts::PI).sqrt();
    near(number_after(&out, "parts.relief.piston: 31 mm, may rise to"), 1e3 * widest, 2e-3);
    insta::assert_snapshot!("force_passes_100", numbers(&out));
}

#[test]
fn a_surge_margin_is_walked_through() {
    let out =
        explain(&["points-left-of-surge-line", "--build", "examples/hill-climb-a.yaml", "--width", "100"]);
    // The valley at 2000 rpm: 1.10 bar above the site, 82 % of 1998 cm3, every second turn.
    let (pressure, t1) = (site_pressure(300.0), 35.0 + KELVIN);
    let manifold = pressure + 110_000.0;
    let t = manifold_temperature(t1, manifold / pressure, 0.64, 0.73);
    let flow = 0.82 * 1.998e-3 * (2000.0 / 60.0) / 2.0 * manifold / (AIR * t);
    // As the map's reference state has it.
    let corrected = flow * (t1 / 298.15).sqrt() / (pressure / 101_325.0);
    near(number_after(&out, "surge_point_flow ="), corrected, 0.02);
    let surge = surge_flow(number_after(&out, "surge_point_ratio ="));
    near(number_after(&out, "surge_point_surge_flow ="), surge, 0.01);
    let margin = (corrected - surge) / corrected;
    near(number_after(&out, "surge_margin_flow_min of turbo ="), margin, 0.05);
    insta::assert_snapshot!("surge_fails_100", numbers(&out));
}

#[test]
fn a_sensors_range_is_walked_through() {
    let out = explain(&["sensor-range-short", "--build", "examples/coupe-a.yaml", "--width", "100"]);
    // 0.90 bar above a site at 300 m, a tenth more, against 200 kPa.
    let highest = 1e-3 * site_pressure(300.0) + 90.0;
    near(number_after(&out, "sensed_pressure_max of boost-sensor ="), highest, 1e-3);
    near(number_after(&out, "× (1 + 0.1) ="), 1.1 * highest, 1e-3);
    near(number_after(&out, "lacking:"), 1.1 * highest - 200.0, 0.02);
    insta::assert_snapshot!("sensor_fails_100", numbers(&out));
}

#[test]
fn a_step_in_bore_is_walked_through() {
    let text = text_of("examples/hill-climb.yaml");
    let text = text
        .replace("    bore: 60 mm\n    length: 900 mm", "    bore: 45 mm\n    length: 900 mm")
        .replace(
            "  throttle:\n    kind",
            "  wide-pipe: { kind: pipe, bore: 90 mm, length: 300 mm }\n  throttle:\n    kind",
        )
        .replace("cold-pipe, throttle, manifold ]", "cold-pipe, wide-pipe, throttle, manifold ]");
    let bench = bench(&text);
    let arguments = ["bore-step", "--build", "build.yaml", "--subject", "cold-pipe", "--width", "100"];
    let out = explain_in(bench.path(), &arguments);
    // Borda and Carnot at 7000 rpm in the valley: the engine's volume of charge a second through the 45 mm.
    let pressure = site_pressure(300.0);
    let t = manifold_temperature(35.0 + KELVIN, (pressure + 95_000.0) / pressure, 0.7, 0.82);
    let density = (pressure + 95_000.0) / (AIR * t);
    let speed = 0.91 * 1.998e-3 * (7000.0 / 60.0) / 2.0 / disc(0.045);
    let loss = (1.0 - (45.0_f64 / 90.0).powi(2)).powi(2) * density * speed * speed / 2.0;
    near(number_after(&out, "step_loss_max of cold-pipe ="), 1e-3 * loss, 0.05);
    insta::assert_snapshot!("step_fails_100", numbers(&out));
}

#[test]
fn what_is_asked_for_in_vain_is_said() {
    let arguments = ["explain", "bore-step", "--build", "examples/hill-climb.yaml", "--subject", "cold-pip"];
    let ran = run(project(), &arguments);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("did you mean `cold-pipe`?"), "{}", ran.err);
    let ran = run(project(), &["explain", "bore-step", "--build", "examples/none.yaml"]);
    assert_eq!(ran.status, Some(2));
    // What the rule has nothing to look at, and what it cannot decide, is said and is no failure.
    let out = explain(&["cooler-coolant-short", "--build", "examples/hill-climb-half.yaml"]);
    assert!(numbers(&out).contains("undecided") || numbers(&out).contains("does not apply"), "{out}");
    let out = explain(&["relief-valve-too-small", "--build", "examples/hill-climb-half.yaml"]);
    assert!(numbers(&out).contains("cannot be decided: needs"), "{out}");
}

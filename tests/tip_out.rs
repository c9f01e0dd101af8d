//! Promise: the tip-out run (throttle shut at boost) of the starter comes out in kind as an independent calculation of
//! the same build did; mass and energy are kept; coarser and finer runs agree; what makes a relief valve slower or
//! smaller never helps.

mod common;

use std::sync::Arc;

use common::Example;
use tractwright::build::Build;
use tractwright::known::{Known, Unrecorded};
use tractwright::model::{Demand, Precision, Start, Steady, TipOut, tip_out};
use tractwright::output::tip_out_series;
use tractwright::text::Change;

/// A run of the starter with changes, as in `parts.relief.spring.preload=40N`.
fn run(changes: &[&str], start: Start, valves: bool, precision: Precision) -> TipOut {
    let example = Example::read(common::STARTER);
    let mut root = example.root.clone();
    for text in changes {
        root = Change::parse_assignment(text).expect("a change").apply(&root).expect("it can be made");
    }
    let build = Build::read(common::BUILD_FILE, &root, &example.files);
    let steady = Steady::solve(&build, &Unrecorded);
    let demand = Demand { site: Arc::from("home"), start, valves };
    match tip_out(&build, &steady, &demand, precision, &Unrecorded) {
        Known::Is(run) => run,
        other => panic!("{changes:?}: {other:?}"),
    }
}

fn usual(changes: &[&str], start: Start) -> TipOut {
    run(changes, start, true, Precision::default())
}

/// The table was made by an independent calculation of this build with another invented map of the same surge line.
#[test]
fn the_starter_without_its_valve_surges_from_every_start() {
    for (start, cycles, first, crosses) in
        [(Start::HighestBoost, 14, 60e3, 0.076), (Start::LightBoost, 19, 16e3, 0.124)]
    {
        let r = run(&[], start, false, Precision::default()).results;
        assert!(r.cycles.len().abs_diff(cycles) <= 4, "{start:?}: {} cycles", r.cycles.len());
        let swing = r.cycles[0].swing;
        assert!((swing / first - 1.0).abs() < 0.25, "{start:?}: {swing}");
        assert!((r.crosses.expect("it crosses") - crosses).abs() < 0.010, "{start:?}: {:?}", r.crosses);
        assert!(r.cycles.iter().all(|cycle| cycle.deep), "{start:?}");
    }
    // The strongest first, then dying away; the rotor is slowed and never turned back.
    let run = run(&[], Start::HighestSpeed, false, Precision::default());
    let swings: Vec<f64> = run.results.cycles.iter().map(|cycle| cycle.swing).collect();
    assert!(swings.len() > 10 && swings[1..].iter().all(|swing| *swing < swings[0]), "{swings:?}");
    assert!(swings[swings.len() - 1] < 0.5 * swings[0]);
    assert!(run.series.iter().all(|moment| moment.speed > 0.0));
    assert!(run.results.speeds.1 < run.results.speeds.0);
}

#[test]
fn the_starter_with_its_valve_does_not_surge_and_a_stiff_one_does() {
    let boost = usual(&[], Start::HighestBoost).results;
    assert!(boost.cycles.is_empty() && (boost.margin - 1.27).abs() < 0.15, "{}", boost.margin);
    let speed = usual(&[], Start::HighestSpeed).results;
    assert!(speed.cycles.is_empty() && (speed.margin - 1.95).abs() < 0.15, "{}", speed.margin);
    let light = usual(&[], Start::LightBoost).results;
    assert!(light.cycles.len() <= 1 && light.largest_swing() < 20e3, "{:?}", light.cycles);
    let marginal = usual(&["parts.relief.spring.preload=40N"], Start::HighestBoost).results;
    assert!(marginal.cycles.is_empty() && marginal.is_marginal(), "{}", marginal.margin);
    let stiff = usual(&["parts.relief.spring.preload=50N"], Start::HighestBoost).results;
    assert!(
        stiff.cycles.len() == 1 && (stiff.largest_swing() / 63e3 - 1.0).abs() < 0.25,
        "{:?}",
        stiff.cycles
    );
    // A long thin hose: off its seat in time, half open too late.
    let late =
        usual(&["hoses.relief-signal.length=1.5m", "hoses.relief-signal.bore=2mm"], Start::HighestBoost);
    let valve = &late.results.valves[0];
    assert!(late.results.cycles.first().is_some_and(|cycle| cycle.deep), "{:?}", late.results);
    assert!(valve.half_open.expect("it opens") > 0.12, "{valve:?}");
}

/// Column of a CSV by name.
fn column(csv: &str, name: &str) -> Vec<f64> {
    let mut lines = csv.lines();
    let at = lines.next().unwrap().split(',').position(|head| head == name).expect(name);
    lines.map(|line| line.split(',').nth(at).unwrap().parse().unwrap_or(f64::NAN)).collect()
}

#[test]
fn mass_and_energy_are_kept() {
    for (start, valves) in [(Start::HighestBoost, true), (Start::HighestSpeed, false)] {
        let csv = tip_out_series::csv(&run(&[], start, valves, Precision::default()));
        let get = |name: &str| column(&csv, name);
        let (mass, energy) = (get("contents [kg]"), get("contents [J]"));
        let (came, enthalpy) = (get("net-inflow-since-start [kg]"), get("net-enthalpy-since-start [J]"));
        let (work, heat) = (get("compressor-work-since-start [J]"), get("heat-given-off-since-start [J]"));
        let piston = get("piston-work-since-start [J]");
        let last = mass.len() - 1;
        let lost = mass[last] - mass[0] - came[last];
        assert!(lost.abs() < 1e-9 * mass[0], "{lost} kg");
        let lost = energy[last] - energy[0] - enthalpy[last] - work[last] + heat[last] - piston[last];
        assert!(lost.abs() < 1e-9 * energy[0], "{lost} J");
        // The sums are those of the flows, integrated here.
        let (time, mouth) = (get("time [s]"), get("filter-flow [kg/s]"));
        let engine = get("engine-flow [kg/s]");
        let integral: f64 = (0..last)
            .map(|i| 0.5 * (time[i + 1] - time[i]) * (mouth[i] - engine[i] + mouth[i + 1] - engine[i + 1]))
            .sum();
        assert!((integral - came[last]).abs() < 2e-4, "{integral} {}", came[last]);
    }
}

#[test]
fn finer_runs_agree() {
    let usual = Precision::default();
    let (coarse, tight, short) = (
        run(&[], Start::HighestBoost, false, usual).results,
        run(&[], Start::HighestBoost, false, Precision { tolerance: 1e-8, steps: 1_000_000, ..usual })
            .results,
        run(&[], Start::HighestBoost, false, Precision { cell: 0.1, steps: 1_000_000, ..usual }).results,
    );
    for (name, other) in [("tolerance 1e-8", &tight), ("cells of 0.1 m", &short)] {
        println!(
            "{name}: crosses {:?} against {:?}; swing {} against {}; cycles {} against {}; frequency {:?} against {:?}",
            other.crosses,
            coarse.crosses,
            other.cycles[0].swing,
            coarse.cycles[0].swing,
            other.cycles.len(),
            coarse.cycles.len(),
            other.frequency,
            coarse.frequency
        );
        assert!((other.crosses.unwrap() - coarse.crosses.unwrap()).abs() < 1e-3, "{name}");
        assert!((other.cycles[0].swing / coarse.cycles[0].swing - 1.0).abs() < 0.05, "{name}");
        assert!((other.peak / coarse.peak - 1.0).abs() < 0.01, "{name}");
    }
}

/// Common practice, no source: stiffer, later, smaller never helps. Each beside the starter, that differs in one field.
#[test]
fn what_slows_or_narrows_a_valve_never_helps() {
    let right = usual(&[], Start::HighestBoost).results.margin;
    for change in [
        "parts.relief.spring.preload=34N",
        "hoses.relief-signal.length=800mm",
        "hoses.relief-signal.bore=4mm",
        "parts.relief.seat=30mm",
        "hoses.relief-signal.from=cold-pipe",
        "parts.throttle.closing.time=60ms",
    ] {
        let margin = usual(&[change], Start::HighestBoost).results.margin;
        assert!(margin <= right + 0.02, "{change}: {margin} against {right}");
    }
}

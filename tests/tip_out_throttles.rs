//! Promise: throttles side by side, one to each cylinder, shut together: the run is that of one plate with the sum of their areas
//! and of what lies behind them as one volume.

mod common;
mod running;

use common::runs::{self, Wanted};
use common::{Example, STARTER};
use running::{project, run as program};
use tractwright::known::Known;
use tractwright::model::{Start, TipOut};

fn wanted(valves: bool) -> Wanted {
    Wanted::at_home(Start::HighestBoost, valves)
}

fn made(changes: &[&str], valves: bool) -> TipOut {
    runs::made(STARTER, changes, &wanted(valves))
}

const PARTS: [&str; 9] = [
    "parts.box={ kind: plenum, volume: 2.5 L }",
    "parts.throttle.bore=40 mm",
    "parts.throttle-2={ kind: throttle, bore: 40 mm, shaft: 8 mm }",
    "parts.throttle-3={ kind: throttle, bore: 40 mm, shaft: 8 mm }",
    "parts.throttle-4={ kind: throttle, bore: 40 mm, shaft: 8 mm }",
    "parts.runner={ kind: pipe, bore: 40 mm, length: 200 mm }",
    "parts.runner-2={ kind: pipe, bore: 40 mm, length: 200 mm }",
    "parts.runner-3={ kind: pipe, bore: 40 mm, length: 200 mm }",
    "parts.runner-4={ kind: pipe, bore: 40 mm, length: 200 mm }",
];
const EACH: &str = "air-path=[ filter, meter-pipe, air-meter, inlet-pipe, turbo, hot-pipe, cooler, cold-pipe, box, { parallel: { one: [ throttle, runner ], two: [ throttle-2, runner-2 ], three: [ throttle-3, runner-3 ], four: [ throttle-4, runner-4 ] } } ]";
const SIGNAL: [&str; 4] = [
    "parts.manifold=none",
    "hoses.relief-signal.from=runner",
    "hoses.purge-hose=none",
    "parts.boost-sensor=none",
];

fn four(more: &[&'static str]) -> Vec<&'static str> {
    PARTS.iter().chain(&[EACH]).chain(&SIGNAL).chain(more).copied().collect()
}

/// In closed form: four plates of 40 mm with shafts of 8 mm open as one of the same area and shaft-blocked share, and four runners
/// hold as much as one chamber; so that the one throttle with these sizes, and a manifold of that volume, makes the same run.
#[test]
fn four_plates_are_one_with_their_areas() {
    let four = made(&four(&[]), true);
    // Bore 80 mm less a shaft of 16 mm: four times the area of 40 mm less 8 mm.
    let one = made(
        &[
            "parts.box={ kind: plenum, volume: 2.5 L }",
            "parts.throttle.bore=80 mm",
            "parts.throttle.shaft=16 mm",
            "parts.manifold.volume=1.0053 L",
            "air-path=[ filter, meter-pipe, air-meter, inlet-pipe, turbo, hot-pipe, cooler, cold-pipe, box, throttle, manifold ]",
        ],
        true,
    );
    let (a, b) = (&four.results, &one.results);

    assert!((a.peak / b.peak - 1.0).abs() < 0.01, "{} {}", a.peak, b.peak);
    assert!((a.compressor.margin - b.compressor.margin).abs() < 0.03);
    let opens = |run: &TipOut| run.results.valves[0].opens.expect("it opens");
    assert!((opens(&four) - opens(&one)).abs() < 2e-3, "{} {}", opens(&four), opens(&one));
    // A manifold that falls by 3 kPa each millisecond.
    for (m, n) in four.series.iter().zip(&one.series).filter(|(m, _)| m.time < 0.2) {
        assert!(
            (m.p_manifold - n.p_manifold).abs() < 4e3,
            "{} at {}: {}",
            m.p_manifold,
            m.time,
            n.p_manifold
        );
    }
}

/// Common practice, no source: with little behind the plates their pressure falls sooner, and a relief valve that hears it opens sooner.
#[test]
fn less_behind_the_plates_opens_the_valve_sooner() {
    let opens = |changes: &[&str]| made(changes, true).results.valves[0].opens.expect("it opens");
    let longer = four(&[
        "parts.runner.length=800 mm",
        "parts.runner-2.length=800 mm",
        "parts.runner-3.length=800 mm",
        "parts.runner-4.length=800 mm",
    ]);
    let (short, long) = (opens(&four(&[])), opens(&longer));
    assert!(short < long - 1e-3, "{short} {long}");
}

#[test]
fn mass_and_energy_are_kept() {
    let run = made(&four(&[]), false);
    runs::kept(&run);
    // What the network holds at the start is what these volumes hold: runners 1.005 L among them.
    assert!(run.warnings.is_empty(), "{:?}", run.warnings);
}

/// Plates whose branches hold a compressor each are another matter.
#[test]
fn a_compressor_and_a_plate_in_each_branch_stay_open() {
    let path = "air-path=[ filter, meter-pipe, air-meter, inlet-pipe, { parallel: { one: [ turbo, hot-pipe, throttle ], two: [ turbo-2, hot-pipe-2, throttle-2 ] } }, manifold ]";
    let other = [
        "parts.throttle-2={ kind: throttle, bore: 40 mm, shaft: 8 mm }",
        "parts.turbo-2={ kind: turbocharger, compressor: { map: maps/invented-a.csv, inducer: 45.5 mm, exducer: 61.5 mm }, rotor-inertia: 5.0e-5 kg m2 }",
        "parts.hot-pipe-2={ kind: pipe, bore: 51 mm, length: 700 mm }",
        "boost={ 5000 rpm: 0.1 bar, 7000 rpm: 0.2 bar }",
        path,
    ];
    let made = runs::run(&Example::read(STARTER), &other, &wanted(false));
    assert!(matches!(&made, Known::Open(missing) if !missing.not_built.is_empty()), "{made:?}");
}

#[test]
fn what_a_person_reads() {
    let changes = four(&[]);
    let mut arguments = vec!["tip-out", "examples/hill-climb.yaml"];
    for change in &changes {
        arguments.extend(["--change", change]);
    }
    let ran = program(project(), &arguments);
    assert_eq!((ran.status, &*ran.err), (Some(0), ""));
    insta::assert_snapshot!("four", ran.out);
}

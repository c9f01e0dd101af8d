//! Promise: a gear-change is followed to its end: the engine slows as the next gear has it, and the throttle opens again.

mod common;
mod running;

use common::runs::{self, Wanted};
use common::{Example, STARTER};
use running::{project, run as program};
use tractwright::known::Known;
use tractwright::model::{Moment, Start, TipOut};

fn wanted(valves: bool, reopens: bool) -> Wanted {
    Wanted { reopens, ..Wanted::at_home(Start::HighestBoost, valves) }
}

fn made(changes: &[&str], valves: bool, reopens: bool) -> TipOut {
    runs::made(STARTER, changes, &wanted(valves, reopens))
}

fn at(run: &TipOut, time: f64) -> &Moment {
    run.series.iter().find(|m| m.time >= time).expect("it runs so long")
}

const SLOWS: &str = "gear-change.speed-to=74 %";

/// In closed form: two engines that breathe the same density, one at 74 % of the other's speed, take 74 % of its flow.
#[test]
fn a_slower_engine_takes_less_of_the_same_air() {
    let (held, slows) = (made(&[], true, false), made(&[SLOWS], true, false));
    // What an ideal throttled cycle with residual gas takes at a pressure; compression ratio 9.5, the site at 83.5 kPa.
    let takes = |m: &Moment| m.p_manifold * (9.5 - (83.5e3 / m.p_manifold).powf(1.0 / 1.3)) / 8.5;
    for (time, speed) in [(0.175, 0.87), (0.35, 0.74), (0.9, 0.74)] {
        let (a, b) = (at(&held, time), at(&slows, time));
        let flows = b.engine_flow / a.engine_flow;
        let wanted = speed * takes(b) / takes(a);
        assert!((flows / wanted - 1.0).abs() < 0.02, "{time}: {flows}, wanted {wanted}");
    }
    // With the plate at its stop and choked, the slower engine leaves more in the manifold.
    assert!(at(&slows, 0.9).p_manifold > 1.15 * at(&held, 0.9).p_manifold);
}

/// In closed form: a wheel that the engine turns follows it, straight down to what the next gear makes of it.
#[test]
fn a_driven_wheel_slows_with_the_engine() {
    let driven = [
        SLOWS,
        "parts.turbo={ kind: supercharger, drive-ratio: 20, compressor: { map: maps/invented-a.csv, inducer: 45.5 mm, exducer: 61.5 mm } }",
        "boost={ 5000 rpm: 0.40 bar, 7000 rpm: 0.95 bar }",
    ];
    let run = made(&driven, true, false);
    let start = run.results.compressor.speeds.0;
    let end = run.results.compressor.speeds.1 / start;
    assert!((end - 0.74).abs() < 1e-4, "{end}");
    for m in &run.series {
        let wanted = 1.0 - 0.26 * (m.time / 0.35).min(1.0);
        assert!((m.wheel.speed / start - wanted).abs() < 1e-4, "{}: {}", m.time, m.wheel.speed / start);
    }
}

/// Until the gear-change ends nothing differs; then the plate goes back as it came, and the manifold fills from the charge.
#[test]
fn the_throttle_opens_again_as_it_shut() {
    let (shut, opens) = (made(&[], true, false), made(&[], true, true));
    assert!(shut.reopens.is_none() && opens.reopens.is_some_and(|time| (time - 0.35).abs() < 1e-12));
    for (a, b) in shut.series.iter().zip(&opens.series).take_while(|(a, _)| a.time < 0.3) {
        assert_eq!((a.time, a.p_manifold, a.wheel.flow), (b.time, b.p_manifold, b.wheel.flow));
    }
    let left = |run: &TipOut| run.results.at_gear_change.expect("it ends within the run");
    assert!((left(&shut) - left(&opens)).abs() < 50.0);
    // Wide open 90 ms later less what its stop saved: the manifold stands at what is ahead of the plate, less its loss.
    let wide = at(&opens, 0.35 + 0.09);
    assert!(wide.p_manifold > 0.95 * wide.p_throttle && at(&shut, 0.44).p_manifold < 0.5 * wide.p_manifold);
    assert!(at(&opens, 0.349).p_manifold < 0.5 * wide.p_manifold);
}

/// Common practice, no source: the longer a change of gear takes, the less is left of charge and rotor speed at its end.
#[test]
fn a_longer_change_leaves_less() {
    let left = |time: &str| {
        let results = made(&[time], true, true).results;
        (results.at_gear_change.unwrap(), results.speed_at_gear_change.unwrap())
    };
    let (short, usual, long) =
        (left("gear-change.time=200 ms"), left("gear-change.time=350 ms"), left("gear-change.time=700 ms"));
    assert!(short.0 > usual.0 && usual.0 > long.0, "{short:?} {usual:?} {long:?}");
    assert!(short.1 > usual.1 && usual.1 > long.1, "{short:?} {usual:?} {long:?}");
}

#[test]
fn mass_and_energy_are_kept() {
    runs::kept(&made(&[SLOWS], true, true));
}

#[test]
fn without_a_gear_change_there_is_none() {
    let none = runs::run(&Example::read(STARTER), &["gear-change=none"], &wanted(true, true));
    assert!(matches!(none, Known::NotApplicable(_) | Known::Open(_)), "{none:?}");
}

#[test]
fn what_a_person_reads() {
    let turbine = "parts.turbo.turbine={ flow-capacity: 0.11 kg/s, efficiency: 68 %, nozzle: fixed }";
    let arguments = [
        "tip-out",
        "examples/hill-climb.yaml",
        "--gear-change",
        "--change",
        SLOWS,
        "--change",
        turbine,
        "--change",
        "exhaust={ temperature: 880 degC }",
    ];
    let ran = program(project(), &arguments);
    assert_eq!((ran.status, &*ran.err), (Some(0), ""));
    insta::assert_snapshot!("gear_change", ran.out);
}

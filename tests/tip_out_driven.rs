//! Promise: machines that the engine drives go on delivering when the throttle shuts: one that displaces its air to the pressure
//! at which the ways round it pass what it delivers, a wheel over its surge line and on and on, as nothing slows it.

mod common;
mod running;

use std::sync::Arc;

use common::Example;
use common::runs::{self, Wanted, column, kept};
use running::{project, run as program};
use tractwright::known::Known;
use tractwright::model::{Start, TipOut};
use tractwright::output::tip_out_series;

fn made(example: &str, changes: &[&str], start: Start, valves: bool) -> TipOut {
    runs::made(example, changes, &Wanted::at_home(start, valves))
}

/// The launch with its throttle behind the blower and the bypass between the two.
const BEHIND: [&str; 3] = [
    "air-path=[ arrester, inlet-pipe, blower, cooler, cold-pipe, throttle, manifold ]",
    "parts.cooler.volume=4 L",
    "parts.bypass.lift=20 mm",
];

fn behind(more: &[&'static str]) -> Vec<&'static str> {
    BEHIND.iter().chain(more).copied().collect()
}

/// In closed form: the pressure behind the blower comes to where two orifices in series, port and pipe behind it, pass what
/// the blower displaces less what the shut plate lets to the engine.
#[test]
fn the_pressure_behind_a_blower_is_that_at_which_its_bypass_passes_what_it_displaces() {
    let run = made("launch", &behind(&[]), Start::HighestSpeed, true);
    let csv = tip_out_series::csv(&run);
    let last = |name: &str| *column(&csv, name).last().unwrap();
    let (p1, p2) = (last("compressor-inlet-pressure [Pa]"), last("pressure-ahead-of-throttle [Pa]"));
    let delivered = last("compressor-flow [kg/s]");
    let (engine, round) = (last("engine-flow [kg/s]"), last("bypass: flow [kg/s]"));
    // The drive makes some 4 % more than is wanted at the start, which goes round it beside the bypass.
    let beside = (delivered - engine - round) / delivered;
    assert!((0.02..0.06).contains(&beside), "{delivered} {engine} {round}");
    // It displaces 1.8 L, 2.1 times in a turn of the engine, of which 88 % arrive, at 5000 rpm, from air that what comes back has
    // warmed: the flow tells the density.
    let density = delivered / (1.8e-3 * 2.1 * 0.88 * 5000.0 / 60.0);
    let cold = p1 / (287.6 * 291.15);
    assert!(density < cold && density > 0.8 * cold, "{density} against {cold} kg/m3 of cold air");
    // Port 45 mm with a discharge coefficient of 0.7 and the mouth of a return of 45 mm; the charge leaves the cooler at 22 to
    // 60 degC: subsonic, isentropic.
    let seat = std::f64::consts::FRAC_PI_4 * 0.045 * 0.045;
    let own = 0.7 * seat;
    let effective = own / (1.0 + (own / seat).powi(2)).sqrt();
    let ratio: f64 = p1 / p2;
    let psi = (7.0 * (ratio.powf(2.0 / 1.4) - ratio.powf(2.4 / 1.4))).sqrt();
    let flow = |t: f64| effective * p2 / (287.6 * t).sqrt() * psi;
    assert!(flow(333.15) < round && round < flow(295.15), "{round}: {} to {}", flow(333.15), flow(295.15));
}

/// Common practice, no source: the narrower the way round a blower, the higher what stands behind it; without one it rises
/// until something gives.
#[test]
fn a_narrower_bypass_makes_a_higher_peak() {
    let peak = |changes: &[&'static str], valves| {
        let run = made("launch", &behind(changes), Start::HighestSpeed, valves);
        assert!(run.results.compressor.displaces && run.results.compressor.cycles.is_empty());
        (run.results.peak, run.warnings)
    };
    let (wide, fine) = peak(&[], true);
    let narrow =
        ["parts.bypass.seat=30 mm", "parts.bypass.piston=30 mm", "parts.bypass.discharge[0].bore=30 mm"];
    let (narrow, _) = peak(&narrow, true);
    let (none, rises) = peak(&[], false);
    assert!(
        wide < 1.1 * (101_325.0 + 45e3) && narrow > 1.1 * wide && none > 3.0 * narrow,
        "{wide} {narrow} {none}"
    );
    let told = |warnings: &[Arc<str>]| warnings.iter().any(|one| one.contains("something gives first"));
    assert!(told(&rises) && !told(&fine), "{rises:?} {fine:?}");
}

/// A valve that limits the boost, the outside behind its piston, takes part as well.
#[test]
fn a_valve_that_limits_the_boost_holds_the_peak_without_a_bypass() {
    let ceiling = behind(&[
        "parts.bypass.purpose=ceiling",
        "hoses.bypass-signal=none",
        "parts.bypass.spring.preload=120 N",
    ]);
    let run = made("launch", &ceiling, Start::HighestSpeed, true);
    // 120 N on 45 mm are 75 kPa over the outside; 20 mm of a spring of 1 N/mm add an eighth of that.
    let opens = 101_325.0 + 120.0 / (std::f64::consts::FRAC_PI_4 * 0.045 * 0.045);
    assert!(run.valves.len() == 1 && run.results.valves[0].opens.is_some());
    assert!(
        run.results.peak > opens && run.results.peak < 1.3 * opens,
        "{} against {opens}",
        run.results.peak
    );
}

/// With the throttle ahead of the blower nothing is shut in: the pressure behind it only falls, and the manifold's is what its
/// displacement makes of the little that comes.
#[test]
fn a_throttle_ahead_of_the_blower_leaves_nothing_shut_in() {
    let run = made("launch", &["parts.cooler.volume=4 L"], Start::HighestSpeed, true);
    let wheel = &run.results.compressor;
    let first = run.series.first().unwrap();
    assert!(wheel.peak.0 < 1.01 * first.wheel.p2 && wheel.speeds.0 == wheel.speeds.1);
    let last = run.series.last().unwrap();
    assert!(last.p_manifold < 0.5 * first.p_manifold, "{} of {}", last.p_manifold, first.p_manifold);
    // Both displace: what of the blower's flow the engine takes is what it took before.
    let share = |m: &tractwright::model::Moment| m.engine_flow / m.wheel.flow;
    assert!((share(last) / share(first) - 1.0).abs() < 0.05, "{} {}", share(first), share(last));
    assert!(last.wheel.p1 < 0.4 * last.p_throttle);
}

/// A compressor that blows straight into the cooler: what it has warmed comes hot to it, so that the run starts where the steady
/// point is.
#[test]
fn a_cooler_right_behind_a_compressor_cools_what_the_compressor_has_warmed() {
    let near = "air-path=[ filter, meter-pipe, air-meter, inlet-pipe, turbo, cooler, cold-pipe, throttle, manifold ]";
    let run = made("hill-climb", &[near], Start::HighestSpeed, true);
    assert!(run.warnings.is_empty(), "{:?}", run.warnings);
}

const CENTRIFUGAL: [&str; 2] = [
    "parts.turbo={ kind: supercharger, drive-ratio: 20, compressor: { map: maps/invented-a.csv, inducer: 45.5 mm, exducer: 61.5 mm } }",
    "boost={ 5000 rpm: 0.40 bar, 7000 rpm: 0.95 bar }",
];

/// Common practice, no source: without a relief valve a wheel that the engine turns surges like a turbocharger's, but nothing
/// slows it, so that the strokes do not die away; with one it does not surge.
#[test]
fn a_driven_wheel_surges_and_goes_on_surging_without_a_valve() {
    let bare = made("hill-climb", &CENTRIFUGAL, Start::HighestSpeed, false);
    let wheel = &bare.results.compressor;
    assert!(wheel.driven && !wheel.displaces && wheel.speeds.0 == wheel.speeds.1);
    assert!((wheel.speeds.0 / (20.0 * 7000.0 / 60.0 * std::f64::consts::TAU) - 1.0).abs() < 1e-12);
    let cycles = &wheel.cycles;
    assert!(cycles.len() > 6 && cycles.iter().all(|cycle| cycle.deep), "{cycles:?}");
    // The last of all is seen to the end of the run alone.
    let kept = cycles[cycles.len() - 2].swing / cycles[2].swing;
    let turbo = made("hill-climb", &[], Start::HighestSpeed, false).results.compressor.cycles;
    let died = turbo[turbo.len() - 2].swing / turbo[2].swing;
    assert!(kept > 0.9 && died < 0.8, "{kept} and {died}");
    let with = made("hill-climb", &CENTRIFUGAL, Start::HighestSpeed, true);
    assert!(with.results.compressor.cycles.is_empty(), "{:?}", with.results.compressor);
}

#[test]
fn mass_and_energy_are_kept() {
    let cases = [
        made("launch", &behind(&[]), Start::HighestSpeed, true),
        made("launch", &behind(&["parts.blower.drive-ratio=2.6"]), Start::HighestBoost, false),
        made("hill-climb", &CENTRIFUGAL, Start::HighestSpeed, false),
    ];
    for run in cases {
        let work = column(&kept(&run), "compressor-work-since-start [J]");
        assert!(work.last().is_some_and(|work| *work > 0.0));
    }
}

#[test]
fn what_a_person_reads() {
    let changes = behind(&["parts.blower.drive-ratio=2.4"]);
    let mut arguments = vec!["tip-out", "examples/launch.yaml", "--start", "highest-speed"];
    for change in &changes {
        arguments.extend(["--change", change]);
    }
    let ran = program(project(), &arguments);
    assert_eq!((ran.status, &*ran.err), (Some(0), ""));
    insta::assert_snapshot!("blower", ran.out);
}

/// A wheel that draws through a throttle right behind the filter has no trapped charge to surge on: nothing is made up about it.
#[test]
fn a_turbocharger_that_draws_through_stays_open() {
    let wanted = Wanted::at_home(Start::HighestBoost, false);
    let drawn = runs::run(&Example::read("vintage"), &["parts.turbo.rotor-inertia=5.0e-5 kg m2"], &wanted);
    assert!(matches!(&drawn, Known::Open(missing) if !missing.hindrances.is_empty()), "{drawn:?}");
}

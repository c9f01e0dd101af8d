//! Promise: the tip-out run (throttle shut at boost) of the starter comes out in kind as an independent calculation of
//! the same build did; mass and energy are kept; coarser and finer runs agree; what makes a relief valve slower or
//! smaller never helps.

mod common;

use common::runs::{Wanted, column, kept, made, run_under};
use common::{Example, STARTER};
use tractwright::known::{Known, Num, Read, Reads, Setting, Unrecorded};
use tractwright::model::{Precision, Start, TipOut};

/// A run of the starter at home with changes, as in `parts.relief.spring.preload=40N`.
fn run(changes: &[&str], start: Start, valves: bool, precision: Precision) -> TipOut {
    made(STARTER, changes, &Wanted { precision, ..Wanted::at_home(start, valves) })
}

fn run_at(site: &'static str, changes: &[&str], start: Start, valves: bool) -> TipOut {
    made(STARTER, changes, &Wanted { site, ..Wanted::at_home(start, valves) })
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
        let r = run(&[], start, false, Precision::default()).results.compressor;
        assert!(r.cycles.len().abs_diff(cycles) <= 4, "{start:?}: {} cycles", r.cycles.len());
        let swing = r.cycles[0].swing;
        assert!((swing / first - 1.0).abs() < 0.25, "{start:?}: {swing}");
        assert!((r.crosses.expect("it crosses") - crosses).abs() < 0.010, "{start:?}: {:?}", r.crosses);
        assert!(r.cycles.iter().all(|cycle| cycle.deep), "{start:?}");
    }
    // The strongest first, then dying away; the rotor is slowed and never turned back.
    let run = run(&[], Start::HighestSpeed, false, Precision::default());
    let swings: Vec<f64> = run.results.compressor.cycles.iter().map(|cycle| cycle.swing).collect();
    assert!(swings.len() > 10 && swings[1..].iter().all(|swing| *swing < swings[0]), "{swings:?}");
    assert!(swings[swings.len() - 1] < 0.5 * swings[0]);
    assert!(run.series.iter().all(|moment| moment.wheel.speed > 0.0));
    assert!(run.results.compressor.speeds.1 < run.results.compressor.speeds.0);
}

#[test]
fn the_starter_with_its_valve_does_not_surge_and_a_stiff_one_does() {
    let boost = usual(&[], Start::HighestBoost).results.compressor;
    assert!(boost.cycles.is_empty() && (boost.margin - 1.27).abs() < 0.15, "{}", boost.margin);
    let speed = usual(&[], Start::HighestSpeed).results.compressor;
    assert!(speed.cycles.is_empty() && (speed.margin - 1.95).abs() < 0.15, "{}", speed.margin);
    let light = usual(&[], Start::LightBoost).results.compressor;
    assert!(light.cycles.len() <= 1 && light.largest_swing() < 20e3, "{:?}", light.cycles);
    let marginal = usual(&["parts.relief.spring.preload=40N"], Start::HighestBoost).results.compressor;
    assert!(marginal.cycles.is_empty() && marginal.is_marginal(), "{}", marginal.margin);
    let stiff = usual(&["parts.relief.spring.preload=50N"], Start::HighestBoost).results.compressor;
    assert!(
        stiff.cycles.len() == 1 && (stiff.largest_swing() / 63e3 - 1.0).abs() < 0.25,
        "{:?}",
        stiff.cycles
    );
    // A long thin hose: off its seat in time, half open too late.
    let late =
        usual(&["hoses.relief-signal.length=1.5m", "hoses.relief-signal.bore=2mm"], Start::HighestBoost);
    let valve = &late.results.valves[0];
    assert!(late.results.compressor.cycles.first().is_some_and(|cycle| cycle.deep), "{:?}", late.results);
    assert!(valve.half_open.expect("it opens") > 0.12, "{valve:?}");
}

/// The other rows of that table: the valley at 300 m, home at 1600 m, the summit at 2400 m; stiffer springs and smaller seats.
#[test]
fn the_starter_at_other_sites_and_with_other_valves() {
    let at = |site, changes: &[&str], start| run_at(site, changes, start, true);
    for (site, margin) in [("valley", 1.25), ("home", 1.27), ("summit", 1.33)] {
        let boost = at(site, &[], Start::HighestBoost).results.compressor;
        assert!(boost.cycles.is_empty() && (boost.margin - margin).abs() < 0.15, "{site}: {}", boost.margin);
        let speed = at(site, &[], Start::HighestSpeed).results.compressor;
        assert!(speed.cycles.is_empty() && (speed.margin - 1.95).abs() < 0.15, "{site}: {}", speed.margin);
        let light = at(site, &[], Start::LightBoost).results.compressor;
        // Told, and no harm.
        assert!(light.cycles.len() <= 1 && light.largest_swing() < 20e3, "{site}: {:?}", light.cycles);
        let stiffer = at(site, &["parts.relief.spring.preload=40N"], Start::HighestBoost).results.compressor;
        assert!(stiffer.cycles.is_empty() && stiffer.is_marginal(), "{site}: {}", stiffer.margin);
    }
    // At the summit the other map left this marginal; this one surges once there as well.
    for site in ["valley", "home", "summit"] {
        let stiff = at(site, &["parts.relief.spring.preload=50N"], Start::HighestBoost).results.compressor;
        assert_eq!(stiff.cycles.len(), 1, "{site}: {stiff:?}");
    }
    let small = ["parts.relief.spring.preload=55N", "parts.relief.seat=28mm"];
    assert_eq!(at("home", &small, Start::HighestBoost).results.compressor.cycles.len(), 1);
    let late = [
        "parts.relief.spring.preload=75N",
        "hoses.relief-signal.length=1.9m",
        "hoses.relief-signal.bore=3mm",
    ];
    let late = at("home", &late, Start::HighestBoost).results;
    let wheel = &late.compressor;
    assert!((wheel.crosses.expect("it crosses") - 0.077).abs() < 0.010, "{:?}", wheel.crosses);
    assert!((late.valves[0].opens.expect("it opens") - 0.158).abs() < 0.010, "{:?}", late.valves[0]);
    assert!((wheel.cycles[0].swing / 76e3 - 1.0).abs() < 0.25, "{:?}", wheel.cycles);
    assert!(wheel.cycles.len().abs_diff(9) <= 4, "{} cycles", wheel.cycles.len());
}

#[test]
fn mass_and_energy_are_kept() {
    for (start, valves) in [(Start::HighestBoost, true), (Start::HighestSpeed, false)] {
        let csv = kept(&run(&[], start, valves, Precision::default()));
        let get = |name: &str| column(&csv, name);
        let came = get("net-inflow-since-start [kg]");
        let last = came.len() - 1;
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
            other.compressor.crosses,
            coarse.compressor.crosses,
            other.compressor.cycles[0].swing,
            coarse.compressor.cycles[0].swing,
            other.compressor.cycles.len(),
            coarse.compressor.cycles.len(),
            other.compressor.frequency,
            coarse.compressor.frequency
        );
        assert!(
            (other.compressor.crosses.unwrap() - coarse.compressor.crosses.unwrap()).abs() < 1e-3,
            "{name}"
        );
        assert!(
            (other.compressor.cycles[0].swing / coarse.compressor.cycles[0].swing - 1.0).abs() < 0.05,
            "{name}"
        );
        assert!((other.peak / coarse.peak - 1.0).abs() < 0.01, "{name}");
    }
}

/// Common practice, no source: stiffer, later, smaller never helps. Each beside the starter, that differs in one field.
#[test]
fn what_slows_or_narrows_a_valve_never_helps() {
    let right = usual(&[], Start::HighestBoost).results.compressor.margin;
    for change in [
        "parts.relief.spring.preload=34N",
        "hoses.relief-signal.length=800mm",
        "hoses.relief-signal.bore=4mm",
        "parts.relief.seat=30mm",
        "hoses.relief-signal.from=cold-pipe",
        "parts.throttle.closing.time=60ms",
    ] {
        let margin = usual(&[change], Start::HighestBoost).results.compressor.margin;
        assert!(margin <= right + 0.02, "{change}: {margin} against {right}");
    }
}

/// A port that opens late does not act before: where it leads makes no difference to when the valve comes off its seat, and all
/// the difference to what goes there later.
#[test]
fn where_a_late_port_leads_matters_only_once_it_opens() {
    let led = |to: &str| {
        let ports = format!(
            "parts.relief.discharge=[ {{ to: inlet-pipe, at: 200 mm, share: 60 %, bore: 32 mm }}, {{ to: {to}, share: 40 %, bore: 32 mm, opens-from: 5 mm, full-at: 9 mm }} ]"
        );
        usual(&[&ports], Start::HighestBoost).results.valves.remove(0)
    };
    let (out, back) = (led("air"), led("hot-pipe"));
    let opens = |valve: &tractwright::model::ValveResults| valve.opens.expect("it opens");
    assert!((opens(&out) - opens(&back)).abs() < 1e-9, "{} {}", opens(&out), opens(&back));
    assert!(out.masses[1].1 > 1e-3 && back.masses[1].1 < 0.5 * out.masses[1].1, "{out:?} {back:?}");
}

/// Two hoses one behind the other. In closed form what sits behind the narrow one empties through it, with the time constant of its
/// resistance times that volume: the chamber alone where the narrow hose sits at the valve, the chamber and the wide hose's own air
/// where it sits at the manifold.
#[test]
fn of_two_hoses_the_narrow_one_is_worse_at_the_source() {
    let joined = |near: &str, far: &str| {
        let changes = [
            "parts.joint={ kind: catch-tank }".to_owned(),
            format!("hoses.relief-signal={near}"),
            format!("hoses.relief-end={far}"),
        ];
        usual(&changes.each_ref().map(|text| &**text), Start::HighestBoost).results.valves.remove(0)
    };
    let half = |valve: &tractwright::model::ValveResults| valve.half_open.expect("it opens");
    let narrow_first = joined(
        "{ from: manifold, to: joint, length: 300 mm, bore: 4 mm }",
        "{ from: joint, to: relief, length: 900 mm, bore: 7 mm }",
    );
    let narrow_last = joined(
        "{ from: manifold, to: joint, length: 900 mm, bore: 7 mm }",
        "{ from: joint, to: relief, length: 300 mm, bore: 4 mm }",
    );
    // The order of the text, and which end a hose names first, say nothing.
    let turned = joined(
        "{ from: relief, to: joint, length: 900 mm, bore: 7 mm }",
        "{ from: joint, to: manifold, length: 300 mm, bore: 4 mm }",
    );
    let usual = half(&usual(&[], Start::HighestBoost).results.valves[0]);
    let (first, last) = (half(&narrow_first) - usual, half(&narrow_last) - usual);
    // Wide hose 35 cm3, chamber 22 cm3: 2.6 times as much; the fall of the manifold itself is spread over time, and waves come on top.
    assert!(first > 1.3 * last && last > 0.0, "{first} {last}");
    assert!((half(&turned) - half(&narrow_first)).abs() < 1e-9);
}

/// A restrictor in the signal hose, at either end and however narrow: each run comes to its end, and the narrower the later the valve
/// opens. In closed form a chamber empties through a choked orifice in a time that goes as one over its area.
#[test]
fn a_narrower_restrictor_opens_the_valve_later() {
    for at in ["", ", at: 220 mm"] {
        let opens = |bore: f64| {
            let change = format!("hoses.relief-signal.restrictors=[ {{ bore: {bore} mm{at} }} ]");
            usual(&[&change], Start::HighestBoost).results.valves.remove(0).opens.unwrap_or(f64::INFINITY)
        };
        let times: Vec<f64> = [4.0, 3.0, 2.05, 1.95, 1.5, 1.0, 0.7, 0.5, 0.3].map(opens).to_vec();
        // At the border between loss and orifice the two may differ by a hair.
        assert!(times.windows(2).all(|pair| pair[0] < pair[1] + 2e-4 || pair[1].is_infinite()), "{times:?}");
        assert!(times[5] > times[0] + 2e-3 && times[7] > times[5] + 5e-3, "{times:?}");
    }
    // Close behind one another, narrow and wide: the second counts as well.
    let half = |restrictors: &str| {
        let change = format!("hoses.relief-signal.restrictors=[ {restrictors} ]");
        usual(&[&change], Start::HighestBoost).results.valves.remove(0).half_open.expect("it opens")
    };
    let alone = half("{ bore: 1.9 mm, at: 110 mm }");
    for second in ["1.95", "2.1"] {
        let both = half(&format!("{{ bore: 1.9 mm, at: 110 mm }}, {{ bore: {second} mm, at: 112 mm }}"));
        assert!(both > alone + 1e-3, "{second}: {both} {alone}");
    }
}

/// A valve that gives no discharge coefficient has that of the settings, in the run as in the statics.
#[test]
fn a_setting_stands_in_for_a_coefficient_that_is_not_given() {
    struct Narrow;
    impl Reads for Narrow {
        fn note(&self, _: Read) {}

        fn setting(&self, setting: Setting) -> Num {
            let usual = setting.default_value();
            if setting == Setting::ValveDischargeCoefficient { Num { v: 0.35, ..usual } } else { usual }
        }
    }
    let wanted = Wanted::at_home(Start::HighestBoost, true);
    let let_out = |flow: &str, reads: &dyn Reads| {
        let change = format!("parts.relief.flow={{ {flow} }}");
        match run_under(&Example::read(STARTER), &[change], &wanted, reads) {
            Known::Is(run) => run.results.valves[0].masses[0].1,
            other => panic!("{flow}: {other:?}"),
        }
    };
    let not_given = "critical-back-pressure-ratio: 0.5";
    assert_eq!(let_out(not_given, &Narrow), let_out("discharge-coefficient: 0.35", &Unrecorded));
    assert_eq!(let_out(not_given, &Unrecorded), let_out("discharge-coefficient: 0.7", &Narrow));
    assert!(let_out(not_given, &Narrow) < 0.95 * let_out(not_given, &Unrecorded));
}

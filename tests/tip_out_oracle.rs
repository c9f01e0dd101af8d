//! Promise: the tip-out run of the starter (throttle shut at boost) agrees with an independent program within 2 % (swings
//! within 3 %): the time to the surge line, when and how far each cycle swings, the pressure ahead of the throttle, the
//! valve's opening and the least distance from surge.
//!
//! The independent program is `tests/oracles/tip_out.py`: the same equations written again with numpy and SciPy, the gas by
//! NASA polynomials, the solve by LSODA. Where its packages are not installed the comparison is
//! skipped with a reason, unless TRACTWRIGHT_ORACLES says `required`, as `.ci/run` does.

mod common;

use common::runs::{Wanted, made};
use serde_json::Value;
use tractwright::model::{Start, TipOut};

const TOLERANCE: f64 = 0.02;
/// Added for swings, since in them waves meet that differ in phase.
const OF_SWINGS: f64 = 0.01;
/// Cycles that are compared: later ones are small, and hang on all those before.
const CYCLES: usize = 8;
/// Moments of a run are told to so much, s: the spacing of the oracle's own.
const TICK: f64 = 1e-4;

fn run(start: Start, valves: bool) -> TipOut {
    made::<&str>(common::STARTER, &[], &Wanted::at_home(start, valves))
}

/// The oracle's run of the starter; `None` where it cannot run.
fn oracle(options: &[&str]) -> Option<Value> {
    let build = ["examples/hill-climb.yaml", "--rtol", "1e-5"];
    let mut runs = common::oracle::answer("numpy scipy", "tip_out.py", &[&build, options].concat())?;
    Some(runs[0].take())
}

/// What is compared, one beside the other.
struct Compared {
    misses: Vec<String>,
    count: usize,
}

impl Compared {
    fn new() -> Self {
        Self { misses: Vec::new(), count: 0 }
    }

    /// Within the tolerance, and `slack` beside it.
    fn near(&mut self, name: &str, ours: f64, theirs: &Value, slack: f64) {
        let theirs = theirs.as_f64().unwrap_or_else(|| panic!("{name} is no number: {theirs}"));
        self.count += 1;
        if (ours - theirs).abs() > TOLERANCE * theirs.abs() + slack {
            self.misses.push(format!("{name}: {ours} against {theirs}"));
        }
    }

    fn all_near(&self, least: usize) {
        assert!(self.misses.is_empty(), "{:#?}", self.misses);
        assert!(self.count >= least, "only {} numbers", self.count);
    }
}

/// Compares a run without a valve: the crossing, the cycles that the oracle saw up to a count, peak and reversed mass.
fn compare_surge(run: &TipOut, theirs: &Value, cycles: usize) -> Compared {
    let (r, mut compared) = (&run.results, Compared::new());
    compared.near("crossing", r.compressor.crosses.expect("it crosses"), &theirs["time_to_surge_line"], 0.0);
    compared.near("peak", r.peak, &theirs["peak_ahead_of_throttle"], 0.0);
    assert_eq!(theirs["deep"], true);
    assert!(r.compressor.cycles.len() >= cycles, "{} cycles", r.compressor.cycles.len());
    for (i, cycle) in r.compressor.cycles.iter().take(cycles).enumerate() {
        assert!(cycle.deep, "cycle {i}");
        compared.near(&format!("time of cycle {i}"), cycle.time, &theirs["lows"][i], TICK);
        let slack = OF_SWINGS * cycle.swing;
        compared.near(&format!("swing of cycle {i}"), cycle.swing, &theirs["swings"][i], slack);
    }
    compared
}

const RPM: f64 = 30.0 / std::f64::consts::PI;

#[test]
fn surge_without_a_valve_is_that_of_the_independent_run() {
    let Some(theirs) = oracle(&["--start", "highest-boost", "--valve", "without"]) else { return };
    let run = run(Start::HighestBoost, false);
    let r = &run.results;
    let mut compared = compare_surge(&run, &theirs, CYCLES);
    let count = theirs["cycles"].as_u64().expect("a count") as usize;
    assert!(
        r.compressor.cycles.len().abs_diff(count) <= 1,
        "{} cycles against {count}",
        r.compressor.cycles.len()
    );
    compared.near("frequency", r.compressor.frequency.expect("it cycles"), &theirs["frequency_mean"], 0.0);
    compared.near("reversed mass", r.compressor.reversed, &theirs["reversed_mass"], 0.0);
    compared.near("rotor at the start", r.compressor.speeds.0 * RPM, &theirs["rotor_speed_start"], 0.0);
    compared.near("rotor at the end", r.compressor.speeds.1 * RPM, &theirs["rotor_speed_end"], 0.0);
    let end = run.series.last().expect("a series").p_manifold;
    compared.near("manifold at the end", end, &theirs["manifold_end"], 0.0);
    compared.all_near(20);
}

#[test]
fn the_valve_opens_as_in_the_independent_run() {
    let Some(theirs) = oracle(&["--start", "highest-boost", "--valve", "with"]) else { return };
    let run = run(Start::HighestBoost, true);
    let (r, mut compared) = (&run.results, Compared::new());
    let valve = &r.valves[0];
    assert_eq!((r.compressor.crosses, r.compressor.cycles.len()), (None, 0));
    assert_eq!((theirs["time_to_surge_line"].as_f64(), theirs["cycles"].as_u64()), (None, Some(0)));
    compared.near("margin", r.compressor.margin, &theirs["margin"], 0.0);
    compared.near("opening", valve.opens.expect("it opens"), &theirs["valve_opens"], TICK);
    compared.near("half open", valve.half_open.expect("it opens"), &theirs["valve_half_open"], TICK);
    compared.near("greatest lift", valve.most_lift, &theirs["peak_lift"], 0.0);
    compared.near("relieved", valve.masses[0].1, &theirs["relieved_mass"], 0.0);
    compared.near("peak", r.peak, &theirs["peak_ahead_of_throttle"], 0.0);
    compared.near("rotor at the end", r.compressor.speeds.1 * RPM, &theirs["rotor_speed_end"], 0.0);
    let end = run.series.last().expect("a series").p_manifold;
    compared.near("manifold at the end", end, &theirs["manifold_end"], 0.0);
    compared.all_near(8);
}

/// Shut from the highest speed the tract holds most, and the first swing is the largest of all starts.
#[test]
fn the_largest_swing_is_that_of_the_independent_run() {
    let options = ["--start", "highest-speed", "--valve", "without", "--seconds", "0.45"];
    let Some(theirs) = oracle(&options) else { return };
    let run = run(Start::HighestSpeed, false);
    let largest = theirs["swings"][0].as_f64().expect("a swing");
    assert!(largest > 100e3, "{largest}");
    compare_surge(&run, &theirs, 4).all_near(10);
}

//! Makes one tip-out run of the starter many times over, and prints what it reports and what it costs: one side of `race/race.py`.
//!
//! `tip_out_runs START with|without RELATIVE-TOLERANCE COUNT` prints one `name value` a line: times in ms, pressures in kPa, flows over
//! the surge flow, frequency in Hz; a name without a value is that of a thing that does not happen. Each run is all that stands between a
//! described build with its steady points and the results: laying out, settling at the start, the run, reading the results off.

use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use tractwright::build::Build;
use tractwright::build::files::{DiskLoader, Files};
use tractwright::known::{Known, Unrecorded};
use tractwright::model::{Demand, Precision, Start, Steady, TipOut, tip_out};
use tractwright::text::{FileId, Limits, parse};

const TEXT: &str = include_str!("../../../../examples/hill-climb.yaml");

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [start, valve, tolerance, count] = &words[..] else {
        panic!("tip_out_runs START with|without RELATIVE-TOLERANCE COUNT");
    };
    let start = Start::named(start).expect("a start");
    let (tolerance, count): (f64, usize) =
        (tolerance.parse().expect("a tolerance"), count.parse().expect("a count"));
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let loader = DiskLoader::new(&root, Path::new("examples"), 1 << 22).expect("the project's folder");
    let files = Files::new(Box::new(loader), Limits::default());
    let tree = parse(FileId(0), TEXT, files.limits()).root.expect("a tree");
    let build = Build::read(FileId(0), &tree, &files);
    let steady = Steady::solve(&build, &Unrecorded);
    let demand = Demand { site: Arc::from("home"), start, valves: valve == "with" };
    let precision = Precision { tolerance, steps: 100_000_000, ..Precision::default() };
    let make = || match tip_out(&build, &steady, &demand, precision, &Unrecorded) {
        Known::Is(run) => run,
        other => panic!("{other:?}"),
    };
    let mut milliseconds: Vec<f64> = Vec::with_capacity(count);
    let mut run = make();
    for _ in 0..count {
        let began = Instant::now();
        run = make();
        milliseconds.push(began.elapsed().as_secs_f64() * 1e3);
    }
    tell(&run);
    milliseconds.sort_by(f64::total_cmp);
    if let (Some(least), Some(median)) = (milliseconds.first(), milliseconds.get(count / 2)) {
        println!("least-time {least}");
        println!("median-time {median}");
        println!("mean-time {}", milliseconds.iter().sum::<f64>() / count as f64);
    }
}

fn tell(run: &TipOut) {
    let (results, wheel) = (&run.results, &run.results.compressor);
    let valve = results.valves.first();
    let say = |name: &str, value: Option<f64>| {
        println!("{name} {}", value.map_or(String::new(), |value| format!("{value:.12e}")));
    };
    let milliseconds = |time: f64| 1e3 * time;
    say("crossing", wheel.crosses.map(milliseconds));
    say("opening", valve.and_then(|valve| valve.opens).map(milliseconds));
    say("half-open", valve.and_then(|valve| valve.half_open).map(milliseconds));
    say("peak", Some(1e-3 * results.peak));
    say("first-swing", wheel.cycles.first().map(|cycle| 1e-3 * cycle.swing));
    say("margin", Some(wheel.margin));
    say("frequency", wheel.frequency);
    say("relieved", valve.map(|valve| 1e3 * valve.masses.iter().map(|(_, mass)| mass).sum::<f64>()));
    say("reversed", Some(1e3 * wheel.reversed));
    println!("cycles {}", wheel.cycles.len());
    println!("steps {}", run.steps);
}

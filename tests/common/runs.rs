//! Tip-out runs of examples with changes, and what the series that they write must keep.

use std::sync::Arc;

use tractwright::build::Build;
use tractwright::known::{Known, Reads, Unrecorded};
use tractwright::model::{Demand, Precision, Start, Steady, TipOut, tip_in, tip_out};
use tractwright::output::tip_out_series;
use tractwright::text::Change;

use super::{BUILD_FILE, Example};

/// A run that is wanted: at home and with the program's own precision, unless changed.
pub struct Wanted {
    pub site: &'static str,
    pub start: Start,
    pub valves: bool,
    pub precision: Precision,
    /// Whether the throttle opens again at the end of the gear-change.
    pub reopens: bool,
}

impl Wanted {
    pub fn at_home(start: Start, valves: bool) -> Self {
        Self { site: "home", start, valves, precision: Precision::default(), reopens: false }
    }
}

/// What comes of a run of an example with changes, as in `parts.relief.spring.preload=40N`.
pub fn run<T: AsRef<str>>(example: &Example, changes: &[T], wanted: &Wanted) -> Known<TipOut> {
    run_under(example, changes, wanted, &Unrecorded)
}

/// The same under other settings.
pub fn run_under<T: AsRef<str>>(
    example: &Example,
    changes: &[T],
    wanted: &Wanted,
    reads: &dyn Reads,
) -> Known<TipOut> {
    let mut root = example.root.clone();
    for text in changes {
        let change = Change::parse_assignment(text.as_ref()).expect("a change");
        root = change.apply(&root).expect("it can be made");
    }
    let build = Build::read(BUILD_FILE, &root, &example.files);
    let steady = Steady::solve(&build, reads);
    let demand = Demand { site: Arc::from(wanted.site), start: wanted.start, valves: wanted.valves };
    let make = if wanted.reopens { tip_in } else { tip_out };
    make(&build, &steady, &demand, wanted.precision, reads)
}

/// The run itself, which has to come to something.
pub fn made<T: AsRef<str>>(example: &str, changes: &[T], wanted: &Wanted) -> TipOut {
    match run(&Example::read(example), changes, wanted) {
        Known::Is(run) => run,
        other => panic!("{:?}: {other:?}", changes.iter().map(AsRef::as_ref).collect::<Vec<_>>()),
    }
}

/// A column of a series by its head; what is no number there is none here.
pub fn column(csv: &str, name: &str) -> Vec<f64> {
    let mut lines = csv.lines();
    let at = lines.next().unwrap().split(',').position(|head| head == name).expect(name);
    lines.map(|line| line.split(',').nth(at).unwrap().parse().unwrap_or(f64::NAN)).collect()
}

/// Mass and energy of the series that a run writes: the contents at both ends against what came and went, to 1e-9. Gives the
/// series.
pub fn kept(run: &TipOut) -> String {
    let csv = tip_out_series::csv(run);
    let ends = |name: &str| {
        let all = column(&csv, name);
        (all[0], *all.last().expect("a series has moments"))
    };
    let last = |name: &str| ends(name).1;
    let (mass, energy) = (ends("contents [kg]"), ends("contents [J]"));
    let work = last("compressor-work-since-start [J]");
    let lost = mass.1 - mass.0 - last("net-inflow-since-start [kg]");
    assert!(lost.abs() < 1e-9 * mass.0.max(mass.1), "{lost} kg");
    let lost = energy.1 - energy.0 - last("net-enthalpy-since-start [J]") - work
        + last("heat-given-off-since-start [J]")
        - last("piston-work-since-start [J]");
    assert!(lost.abs() < 1e-9 * energy.1.max(work), "{lost} J");
    csv
}

//! One run: settled, let go, watched, told.

use std::sync::Arc;

use crate::build::Build;
use crate::known::{Known, Missing, Reads, State};
use crate::model::{Steady, sites};
use crate::physics::network::{Ended, Equations, Opening, Simulation};
use crate::tract::Tract;

use super::lay::{Laid, Layout};
use super::outcome::{Moment, Results, Watch, results};
use super::starts::{Start, starting_point};
use super::valves::Fitted;
use super::{Closures, DURATION, Precision};

/// Time over which the network settles with the rotor's speed held, s.
const SETTLING: f64 = 0.2;
/// Shift of the flow while settling that is told.
const SHIFT_TOLD: f64 = 0.005;
/// Spacing of the series, s.
const SPACING: f64 = 1e-3;

/// Which run is wanted.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Demand {
    /// The site's name.
    pub site: Arc<str>,
    /// From where.
    pub start: Start,
    /// Whether relief valves are fitted.
    pub valves: bool,
}

/// A run that was made.
#[derive(Clone, Debug)]
pub struct TipOut {
    /// Which one.
    pub demand: Demand,
    /// Whether the site is the build's own.
    pub home: bool,
    /// Engine speed, revolutions per second.
    pub engine_speed: f64,
    /// Time that the throttle takes, s.
    pub closing: f64,
    /// What came out.
    pub results: Results,
    /// The series, about a millisecond apart.
    pub series: Vec<Moment>,
    /// Names of the relief valves, in the order of the series' lifts.
    pub valves: Vec<Arc<str>>,
    /// What was chosen where nothing decides.
    pub closures: Closures,
    /// What a reader should know of how far to trust it.
    pub warnings: Vec<Arc<str>>,
    /// Steps that it took.
    pub steps: usize,
}

/// Makes a run.
pub fn tip_out(
    build: &Build,
    steady: &Steady,
    demand: &Demand,
    precision: Precision,
    reads: &dyn Reads,
) -> Known<TipOut> {
    let tract = Tract::new(build);
    let states = sites(build, reads);
    let Some((_, site)) = states.iter().find(|(name, _)| *name == demand.site) else {
        return Known::Open(Missing::hindrance(format!("there is no site {}", demand.site)));
    };
    let Some(at_site) = steady.sites.iter().find(|site| site.name == demand.site) else {
        return Known::Open(Missing::hindrance(format!("there is no site {}", demand.site)));
    };
    let path = tract.path(reads);
    site.clone().zip(path).and_then(|(site, path)| {
        if path.forks() {
            return Known::Open(Missing::not_built("tip-out of parallel branches"));
        }
        starting_point(at_site, site.pressure, demand.start).and_then(|(speed, solution)| {
            let layout = Layout {
                tract: &tract,
                path: &path,
                site: &site,
                start: demand.start,
                speed,
                solution: &solution,
                precision,
                reads,
            };
            layout.lay().and_then(|mut laid| {
                let fitted = if demand.valves {
                    layout.tip_out_valves().and_then(|parts| {
                        parts.into_iter().map(|part| layout.fit(&mut laid, part)).collect::<Known<Vec<_>>>()
                    })
                } else {
                    Known::Is(Vec::new())
                };
                match fitted {
                    Known::Is(fitted) => {
                        let gear = gear_change(build, reads);
                        run(&layout, laid, &fitted, demand, at_site.home, gear)
                    }
                    other => other.and_then(|_| Known::Open(Missing::default())),
                }
            })
        })
    })
}

/// How long a gear-change keeps the throttle shut, s.
fn gear_change(build: &Build, reads: &dyn Reads) -> Option<f64> {
    match build.top.gear_change.state(reads) {
        State::Given(change) => match change.time.state(reads) {
            State::Given(time) => Some(time.si()),
            _ => None,
        },
        _ => None,
    }
}

fn run(
    layout: &Layout<'_, '_>,
    mut laid: Laid,
    fitted: &[Fitted],
    demand: &Demand,
    home: bool,
    gear: Option<f64>,
) -> Known<TipOut> {
    let mut simulation =
        Simulation::new(laid.network.clone(), -SETTLING, layout.precision.tolerance, layout.precision.steps);
    match simulation.run(0.0, &mut |_, _, _| true) {
        Ended::InTime | Ended::Stopped => {}
        ended => return broken(ended, "while it settles at the steady point", layout),
    }
    let flow_before = layout.solution.flow;
    simulation.change(|equations, time, y| {
        equations.start_tallies(time, y);
        equations.release_rotors(time, y);
        for orifice in equations.network_mut().orifices_mut() {
            if let Opening::Plate(plate) = &mut orifice.opening {
                plate.from = 0.0;
            }
        }
    });
    let mut warnings: Vec<Arc<str>> = Vec::new();
    {
        let (equations, ..) = simulation.now();
        let shift = equations.duct_flow(laid.compressor) / flow_before - 1.0;
        if shift.abs() > SHIFT_TOLD {
            let words = format!("settled {:+.1} % away from the steady flow", 100.0 * shift);
            warnings.push(words.into());
        }
    }
    let watch = Watch { laid: &laid, fitted };
    let mut moments: Vec<Moment> = Vec::with_capacity(4096);
    let mut series: Vec<Moment> = Vec::with_capacity((DURATION / SPACING) as usize + 2);
    let ended = {
        let (equations, time, y) = simulation.now();
        let first = watch.moment(equations, time, y);
        series.push(first.clone());
        moments.push(first);
        let mut observe = |equations: &mut Equations, time: f64, y: &[f64]| {
            let moment = watch.moment(equations, time, y);
            if series.last().is_none_or(|last| time >= last.time + SPACING || time >= DURATION) {
                series.push(moment.clone());
            }
            moments.push(moment);
            true
        };
        simulation.run(DURATION, &mut observe)
    };
    if ended != Ended::InTime {
        return broken(ended, "after the throttle began to shut", layout);
    }
    let results =
        results(&moments, layout.solution, layout.site.pressure, fitted, gear, laid.meter.is_some());
    let mut closures = std::mem::take(&mut laid.closures);
    if !fitted.is_empty() {
        closures.extend(
            [
                "valves meet seat and stop without a bounce; the force of the flow on their plates is neglected",
                "a port and its return pipe count as two orifices in series",
                "the air of a signal hose is drawn to the temperature of the outside",
            ]
            .map(Arc::from),
        );
    }
    Known::Is(TipOut {
        demand: demand.clone(),
        home,
        engine_speed: layout.speed,
        closing: laid.closing,
        results,
        series,
        valves: fitted.iter().map(|one| one.name.clone()).collect(),
        closures,
        warnings,
        steps: simulation.steps(),
    })
}

fn broken(ended: Ended, when: &str, layout: &Layout<'_, '_>) -> Known<TipOut> {
    let words = match ended {
        Ended::TooManySteps => {
            format!("the tip-out from {} takes too many steps {when}", layout.start.word())
        }
        _ => format!("the tip-out from {} has no solution {when}", layout.start.word()),
    };
    Known::Open(Missing::hindrance(words))
}

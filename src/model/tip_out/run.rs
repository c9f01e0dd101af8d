//! One run: brought to rest, let go, watched, told.

use std::sync::Arc;

use crate::build::Build;
use crate::known::{Known, Missing, Reads, State};
use crate::model::{Steady, sites};
use crate::physics::network::{Ended, Equations, Opening, Simulation};
use crate::tract::Tract;

use super::laid::Laid;
use super::lay::Layout;
use super::memory::{Key, Memory};
use super::outcome::{Moment, Results, Watch, has_cycled, results, wheel};
use super::starts::{Start, starting_point};
use super::triggers::Felt;
use super::valves::Fitted;
use super::{Closures, DURATION, Precision, SPACING};

/// Time over which a network whose state of rest is not found at once settles, s, in how many pieces; and the change of flow over a
/// piece that counts as none: two such pieces in a row end the settling.
const SETTLING: f64 = 0.2;
const SETTLING_PIECES: u32 = 10;
const QUIET: f64 = 1e-4;
/// Shift of the flow on the way to rest that is told.
const SHIFT_TOLD: f64 = 0.005;
/// Share of what a machine delivers beyond the engine's need that is told.
const SURPLUS_TOLD: f64 = 0.03;
/// From how many times the pressure at the start on the pressure behind an engine-driven machine is remarked on.
const RISE_TOLD: f64 = 2.0;
/// How often a run that ends with the first cycle is looked at, s.
const LOOKED_EVERY: f64 = 0.03;
/// Spacing of the moments that results are read off, s: a fortieth of the shortest wave that the cells carry.
const LOOKED_AT: f64 = 1e-4;

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
    /// When it opens again, s, where it does.
    pub reopens: Option<f64>,
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

/// A run that is set up: all that goes into it, read and laid out. It reads nothing more, so that it can be made anywhere, and
/// one that was made before under the same numbers is not made again.
pub struct Prepared {
    start: Start,
    numbers: Numbers,
}

/// All that a run follows from.
#[derive(Debug)]
struct Numbers {
    laid: Laid,
    fitted: Vec<Fitted>,
    felt: Vec<Felt>,
    precision: Precision,
    /// Engine speed, revolutions per second.
    engine_speed: f64,
    /// Flow through the compressors at the start, summed, kg/s.
    flow: f64,
    /// Flow into the engine at the start, kg/s.
    engine_flow: f64,
    /// Boost at the start, Pa above the site's pressure, Pa.
    boost: f64,
    site_pressure: f64,
    gear: Option<f64>,
}

/// What came of runs of this process.
static RESULTS: Memory<Result<Results, Broken>> = Memory::new();
/// Which runs of this process surged.
static SURGES: Memory<Result<bool, Broken>> = Memory::new();

/// How and where a run broke off.
#[derive(Clone, Copy, Debug)]
struct Broken(Ended, &'static str);

/// Results, warnings, and steps that they took.
type Whole = (Results, Vec<Arc<str>>, usize);

impl Prepared {
    /// Reads the build and lays it out for a demand; gives with it whether the site is the build's own.
    pub fn of(
        build: &Build,
        steady: &Steady,
        demand: &Demand,
        precision: Precision,
        reads: &dyn Reads,
    ) -> Known<(Self, bool)> {
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
                            parts.into_iter().map(|part| layout.fit(&mut laid, part)).collect()
                        })
                    } else {
                        Known::Is(Vec::new())
                    };
                    fitted.and_then(|fitted: Vec<Fitted>| {
                        let numbers = Numbers {
                            engine_flow: solution.flow,
                            flow: solution.flow * laid.compressors().map(|one| one.share).sum::<f64>()
                                + laid.compressors().map(|one| one.surplus).sum::<f64>(),
                            felt: layout.triggers(&laid),
                            laid,
                            fitted,
                            precision,
                            engine_speed: speed,
                            boost: solution.p_manifold - site.pressure,
                            site_pressure: site.pressure,
                            gear: gear_change(build, reads),
                        };
                        Known::Is((Self { start: demand.start, numbers }, at_site.home))
                    })
                })
            })
        })
    }

    /// Engine speed at the start, revolutions per second.
    pub fn engine_speed(&self) -> f64 {
        self.numbers.engine_speed
    }

    /// What comes of the run; made once in a process for the same numbers, whatever start they belong to.
    pub fn results(&self) -> Known<Results> {
        let key = Key::of(&self.numbers);
        self.told(RESULTS.get(key, || self.numbers.run(&mut |_| {}).map(|(results, ..)| results)))
    }

    /// Whether the compressor surges: whether there is a cycle that counts. The run ends with the first.
    pub fn surges(&self) -> Known<bool> {
        let key = Key::of(&self.numbers);
        let whole = RESULTS
            .known(key)
            .map(|made| made.map(|results| results.compressors().any(|one| !one.cycles.is_empty())));
        self.told(whole.unwrap_or_else(|| SURGES.get(key, || self.numbers.surges())))
    }

    fn whole(&self, observe: &mut dyn FnMut(&Moment)) -> Known<Whole> {
        self.told(self.numbers.run(observe))
    }

    fn told<T>(&self, made: Result<T, Broken>) -> Known<T> {
        let start = self.start.word();
        match made {
            Ok(made) => Known::Is(made),
            Err(Broken(Ended::TooManySteps, when)) => Known::Open(Missing::hindrance(format!(
                "the tip-out from {start} takes too many steps {when}"
            ))),
            Err(Broken(_, when)) => {
                Known::Open(Missing::hindrance(format!("the tip-out from {start} has no solution {when}")))
            }
        }
    }
}

impl Numbers {
    fn surges(&self) -> Result<bool, Broken> {
        let (mut simulation, _) = self.settled().map_err(|ended| Broken(ended, SETTLES))?;
        let watch = Watch { laid: &self.laid, fitted: &self.fitted, felt: &self.felt };
        let (mut moments, mut next, mut found) = (Vec::with_capacity(4096), LOOKED_EVERY, false);
        let ended = simulation.run(DURATION, &mut |equations, time, y| {
            moments.push(watch.moment(equations, time, y));
            if time >= next {
                next += LOOKED_EVERY;
                found = has_cycled(&moments, self.boost, time);
            }
            !found
        });
        match ended {
            Ended::Stopped => Ok(true),
            Ended::InTime => Ok(has_cycled(&moments, self.boost, f64::INFINITY)),
            ended => Err(Broken(ended, SHUTS)),
        }
    }

    fn through_compressors(&self, simulation: &mut Simulation) -> f64 {
        let (equations, ..) = simulation.now();
        self.laid.compressors().map(|one| one.way.flow(equations)).sum()
    }

    /// Lets a network settle in time: where its state of rest is not found at once, as where a valve opens on the way to it.
    fn settle(&self, simulation: &mut Simulation) -> Result<(), Ended> {
        let (mut before, mut quiet) = (self.flow, 0);
        for piece in 1..=SETTLING_PIECES {
            let until = -SETTLING * f64::from(SETTLING_PIECES - piece) / f64::from(SETTLING_PIECES);
            match simulation.run(until, &mut |_, _, _| true) {
                Ended::InTime | Ended::Stopped => {}
                ended => return Err(ended),
            }
            let flow = self.through_compressors(simulation);
            quiet = if (flow / before - 1.0).abs() < QUIET { quiet + 1 } else { 0 };
            before = flow;
            if quiet == 2 {
                break;
            }
        }
        Ok(())
    }

    /// The network at rest at the steady point and let go, and what a reader should know of how it came there.
    fn settled(&self) -> Result<(Simulation, Vec<Arc<str>>), Ended> {
        let Precision { tolerance, steps, .. } = self.precision;
        let mut simulation = Simulation::new(self.laid.network.clone(), -SETTLING, tolerance, steps);
        simulation.watch_every(f64::INFINITY);
        if !simulation.come_to_rest() {
            self.settle(&mut simulation)?;
        }
        simulation.set_time(0.0);
        simulation.watch_every(LOOKED_AT);
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
        let shift = self.through_compressors(&mut simulation) / self.flow - 1.0;
        if shift.abs() > SHIFT_TOLD {
            let words = format!("the flow at rest lies {:+.1} % off that of the steady point", 100.0 * shift);
            warnings.push(words.into());
        }
        for one in self.laid.compressors() {
            let share = one.surplus / self.engine_flow;
            if share > SURPLUS_TOLD {
                let words = "more than the engine takes at the start: so much is let round it all along";
                warnings.push(format!("{} delivers {:.0} % {words}", one.name, 100.0 * share).into());
            }
        }
        Ok((simulation, warnings))
    }

    /// Makes the run: results, warnings, steps. The observer sees each moment.
    fn run(&self, observe: &mut dyn FnMut(&Moment)) -> Result<Whole, Broken> {
        let (mut simulation, mut warnings) = self.settled().map_err(|ended| Broken(ended, SETTLES))?;
        let watch = Watch { laid: &self.laid, fitted: &self.fitted, felt: &self.felt };
        let mut moments: Vec<Moment> = Vec::with_capacity(4096);
        let ended = {
            let (equations, time, y) = simulation.now();
            let first = watch.moment(equations, time, y);
            observe(&first);
            moments.push(first);
            simulation.run(DURATION, &mut |equations: &mut Equations, time: f64, y: &[f64]| {
                let moment = watch.moment(equations, time, y);
                observe(&moment);
                moments.push(moment);
                true
            })
        };
        if ended != Ended::InTime {
            return Err(Broken(ended, SHUTS));
        }
        let results = results(&moments, &watch, self.boost, self.site_pressure, self.gear);
        for (number, (one, did)) in self.laid.compressors().zip(results.compressors()).enumerate() {
            let times = moments.first().map_or(1.0, |first| did.peak.0 / wheel(first, number).p2);
            if one.driven && times > RISE_TOLD {
                let words =
                    "that at the start: no way that is described lets out enough, and something gives first";
                warnings.push(
                    format!("the pressure behind {} rises to {times:.1} times {words}", one.name).into(),
                );
            }
        }
        Ok((results, warnings, simulation.steps()))
    }
}

/// Where a run breaks off.
const SETTLES: &str = "while it comes to rest at the steady point";
const SHUTS: &str = "after the throttle began to shut";

/// Makes a run with its series.
pub fn tip_out(
    build: &Build,
    steady: &Steady,
    demand: &Demand,
    precision: Precision,
    reads: &dyn Reads,
) -> Known<TipOut> {
    Prepared::of(build, steady, demand, precision, reads)
        .and_then(|(prepared, home)| prepared.told_whole(demand, home, None))
}

/// Makes a run in which the throttle opens again when the described gear-change ends, at the pace at which it shut; meanwhile it
/// stays where the gear-change leaves it.
pub fn tip_in(
    build: &Build,
    steady: &Steady,
    demand: &Demand,
    precision: Precision,
    reads: &dyn Reads,
) -> Known<TipOut> {
    let change = match build.top.gear_change.state(reads) {
        State::Absent => Known::not_applicable("no gear-change is described"),
        _ => build.top.gear_change.get(reads).and_then(|change| {
            let to = match change.throttle_to.state(reads) {
                State::Given(to) => Some(to.si()),
                _ => None,
            };
            change.time.get(reads).map(|time| (time.si(), to))
        }),
    };
    change.and_then(|(time, to)| {
        if time >= DURATION {
            return Known::Open(Missing::hindrance(
                "the change of gear takes longer than the run of the tip-out",
            ));
        }
        Prepared::of(build, steady, demand, precision, reads).and_then(|(mut prepared, home)| {
            for orifice in prepared.numbers.laid.network.orifices_mut() {
                if let Opening::Plate(plate) = &mut orifice.opening {
                    plate.again = time;
                    plate.to = to.unwrap_or(plate.to);
                }
            }
            prepared.told_whole(demand, home, Some(time))
        })
    })
}

impl Prepared {
    /// Makes the run with its series.
    fn told_whole(self, demand: &Demand, home: bool, reopens: Option<f64>) -> Known<TipOut> {
        let mut series: Vec<Moment> = Vec::with_capacity((DURATION / SPACING) as usize + 2);
        let made = self.whole(&mut |moment| {
            let due = |last: &Moment| moment.time >= last.time + SPACING || moment.time >= DURATION;
            if series.last().is_none_or(due) {
                series.push(moment.clone());
            }
        });
        made.and_then(|(results, warnings, steps)| {
            let Numbers { laid, fitted, engine_speed, .. } = self.numbers;
            let mut closures = laid.closures;
            if reopens.is_some() {
                closures.push("the throttle opens again at the pace at which it shut, and the wastegate stays as it stood: with the gate shut boost comes back sooner (choice)".into());
            }
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
                engine_speed,
                closing: laid.closing,
                reopens,
                results,
                series,
                valves: fitted.iter().map(|one| one.name.clone()).collect(),
                closures,
                warnings,
                steps,
            })
        })
    }
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

//! The static balance of relief valves: what pressures do to them at idle, at full throttle, and when the throttle is shut.

mod shut;
mod stations;
mod valve;

pub use shut::{ShutDemand, StartKind};
pub use valve::{
    Opening, Port, Stage, Valve, effective_area, is_electric, not_by_pressures, pipe_area, pipe_bore,
    vent_lift,
};

pub(super) use self::valve::{friction, usual_coefficient};

use self::stations::{Stations, Unsaid};
use super::machine::Machine;
use super::result::{Outcome, SiteSteady, Solution};
use super::site::{SiteState, sites};
use super::steady::Steady;
use crate::build::Build;
use crate::build::engine::Metering;
use crate::build::parts::Part;
use crate::known::{At, Known, Missing, Reads};
use crate::physics::relief_valve::Pressures;
use crate::tract::Tract;

/// A value at a site, and perhaps a speed.
#[derive(Clone, Debug)]
pub struct Placed<T> {
    /// Where.
    pub at: At,
    /// The value.
    pub value: T,
}

/// The statics of one valve of a build.
pub struct Statics<'b, 's> {
    tract: Tract<'b>,
    steady: &'s Steady,
    valve: &'b Part,
    unsaid: Unsaid,
}

impl<'b, 's> Statics<'b, 's> {
    /// Over the steady points of a build.
    pub fn new(tract: Tract<'b>, steady: &'s Steady, valve: &'b Part) -> Self {
        Self { tract, steady, valve, unsaid: Unsaid::Missing }
    }

    /// The same with what is not said of the valve's places taken as usual, and named.
    #[must_use]
    pub fn as_usual(self) -> Self {
        Self { unsaid: Unsaid::Usual, ..self }
    }

    fn stations(&self, reads: &dyn Reads) -> Known<Stations> {
        Stations::set_up(self.tract, self.valve, self.unsaid, reads)
    }

    /// Pressures on a valve with the engine idling, or on overrun, at each site: charge and discharge at the site's pressure,
    /// the signal at that of the manifold.
    pub fn throttled(
        build: &Build,
        manifold: &Known<f64>,
        reads: &dyn Reads,
    ) -> Vec<Known<Placed<Pressures>>> {
        let sites = sites(build, reads).into_iter().enumerate();
        sites
            .map(|(i, (site, state))| {
                state.zip(manifold.clone()).map(|(state, signal)| Placed {
                    at: At { site: site.clone(), home: i == 0, speed: None },
                    value: Pressures { charge: state.pressure, discharge: state.pressure, signal },
                })
            })
            .collect()
    }

    /// Bore and length of each pipe that leads air back, m.
    pub fn returns(valve: &Part, reads: &dyn Reads) -> Known<Vec<(f64, f64)>> {
        valve::ports(valve, reads).and_then(|ports| {
            let back = ports.into_iter().filter(|port| !port.vents());
            back.map(|port| port.bore.map(|bore| (bore, port.length))).collect()
        })
    }

    /// Whether air that the valve lets in at idle would count: the engine doses its fuel, or holds its idle, by an air meter.
    pub fn idle_air_counts(tract: &Tract<'b>, reads: &dyn Reads) -> Known<bool> {
        tract.metering(reads).map(|metering| metering == Metering::AirMeter)
    }

    /// Pressures on the valve at each steady point, of a solve of the same build.
    pub fn full_throttle(&self, reads: &dyn Reads) -> Vec<Known<Placed<Pressures>>> {
        let set_up = self.hearing(reads);
        self.each_site(set_up, reads, |stations, site, state| {
            let points = site.points.exact().map(Vec::as_slice).unwrap_or_default();
            let of_points = points.iter().map(|point| {
                let at = At { site: site.name.clone(), home: site.home, speed: Some(point.speed) };
                match &point.outcome {
                    Outcome::Solved(solution) => match stations.pressures(solution, state) {
                        Some(value) => Known::Is(Placed { at, value }),
                        None => Known::Open(Missing::hindrance("a pipe at the valve is choked")),
                    },
                    Outcome::NoSolution => no_solution(&at),
                    Outcome::Open(missing) => Known::Open(missing.clone()),
                }
            });
            of_points.collect()
        })
    }

    /// The places that matter to a valve that listens to a signal.
    fn hearing(&self, reads: &dyn Reads) -> Known<Stations> {
        self.stations(reads).and_then(|stations| stations.hears().map(|()| stations.clone()))
    }

    /// Whether the valve listens to one signal; not what it hears.
    pub fn hears(&self, reads: &dyn Reads) -> Known<()> {
        self.stations(reads).and_then(|stations| stations.hears())
    }

    /// What shutting the throttle asks of the valve, for each start at each site.
    pub fn demands(&self, reads: &dyn Reads) -> Vec<Known<Placed<ShutDemand>>> {
        let compressor = self.tract.compressors(reads).and_then(|found| match found.as_slice() {
            [only] => Machine::set_up(only, reads),
            [] => Known::not_applicable("no compressor is on the air path"),
            _ => Known::Open(Missing::not_built("static pressures of several compressors")),
        });
        let engine = shut::ShutEngine::set_up(&self.tract, self.tract.build(), reads);
        let set_up = self.stations(reads).zip(compressor.zip(engine));
        self.each_site(set_up, reads, |(stations, (machine, engine)), site, state| {
            let starts = shut::starts(self.tract.build(), site, reads);
            let of_starts = starts.into_iter().map(|start| match start {
                Known::Is(start) => shut::demand(&start, stations, machine, engine, state),
                Known::Open(missing) => Known::Open(missing),
                Known::NotApplicable(reason) => Known::NotApplicable(reason),
                Known::Between(..) => Known::Open(Missing::default()),
            });
            of_starts.collect()
        })
    }

    /// What the way from outside to the valve's tap sets against little air at each site, as 2 ρ Δp/ṁ² in 1/m4, ρ the density
    /// outside: from the lowest speed off boost that is solved. The leak past an effective area A is then A times its root
    /// of the flow that takes the metered way, as both drop the same pressure.
    pub fn way_to_tap(&self, reads: &dyn Reads) -> Vec<Known<Placed<f64>>> {
        self.each_site(self.stations(reads), reads, |stations, site, state| {
            let points = site.points.exact().map(Vec::as_slice).unwrap_or_default();
            let of_point = |solution: &Solution| {
                let lost = (state.pressure - stations.tap_pressure(solution)?).max(0.0);
                let density = state.pressure / (state.gas.r() * state.temperature);
                Some(2.0 * density * lost / (solution.flow * solution.flow))
            };
            let lowest =
                points.iter().filter(|point| point.off_boost).find_map(|point| match &point.outcome {
                    Outcome::Solved(solution) => Some((point.speed, of_point(solution)?)),
                    _ => None,
                });
            vec![match lowest {
                Some((speed, value)) => Known::Is(Placed {
                    at: At { site: site.name.clone(), home: site.home, speed: Some(speed) },
                    value,
                }),
                None => Known::not_applicable("no point off boost tells what air loses on its way"),
            }]
        })
    }

    /// The discharge ports of the valve.
    pub fn ports(valve: &Part, reads: &dyn Reads) -> Known<Vec<Port>> {
        valve::ports(valve, reads)
    }

    /// Runs over the sites of the solve, each with its air; what hinders the whole, or a site, stands in its place.
    fn each_site<S: Clone, T>(
        &self,
        set_up: Known<S>,
        reads: &dyn Reads,
        run: impl Fn(&S, &SiteSteady, &SiteState) -> Vec<Known<T>>,
    ) -> Vec<Known<T>> {
        let set_up = match set_up {
            Known::Is(set_up) => set_up,
            Known::Open(missing) => return vec![Known::Open(missing)],
            Known::NotApplicable(reason) => return vec![Known::NotApplicable(reason)],
            Known::Between(..) => return vec![Known::Open(Missing::default())],
        };
        let states = sites(self.tract.build(), reads).into_iter().map(|(_, state)| state);
        let each =
            self.steady.sites.iter().zip(states).flat_map(|(site, state)| match (&site.points, state) {
                (Known::Is(_), Known::Is(state)) => run(&set_up, site, &state),
                (Known::NotApplicable(reason), _) => vec![Known::NotApplicable(reason.clone())],
                (Known::Open(missing), _) => vec![Known::Open(missing.clone())],
                (_, Known::Open(missing)) => vec![Known::Open(missing)],
                _ => vec![Known::Open(Missing::default())],
            });
        each.collect()
    }
}

fn no_solution<T>(at: &At) -> Known<T> {
    let speed = at.speed.unwrap_or_default() * 60.0;
    let site = &at.site;
    Known::Open(Missing::hindrance(format!(
        "no flow satisfies engine, losses and map at {speed:.0} rpm ({site})"
    )))
}

/// The boosted points of a site that are solved, with their speeds.
fn boosted(site: &SiteSteady) -> Vec<(f64, &Solution)> {
    let points = site.points.exact().map(Vec::as_slice).unwrap_or_default();
    let solved = points.iter().filter(|point| !point.off_boost).filter_map(|point| match &point.outcome {
        Outcome::Solved(solution) => Some((point.speed, &**solution)),
        _ => None,
    });
    solved.collect()
}

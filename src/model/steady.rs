//! The steady operating points: full throttle, each engine speed, each site; and the part-throttle points described.

use std::sync::Arc;

use super::machine::Machine;
use super::network::{Leg, Slot, legs, slots};
use super::result::{Outcome, PartThrottlePoint, Point, SiteSteady, Solution};
use super::site::{SiteState, sites};
use super::solver::{Demand, Fuel, Setup, Solved, Swallows};
use super::turbine::{TurbineSide, fuel_data};
use crate::build::Build;
use crate::build::engine::{self as described, BoostHeld, BoostTable, Engine, FuelEntry, PartThrottle};
use crate::build::parts::PartKind;
use crate::build::scalars::{List, Ratio};
use crate::build::tables::SpeedTable;
use crate::known::{Known, Missing, Read, Reads, Setting, State};
use crate::physics::engine::Cycle;
use crate::physics::fuel::FuelData;
use crate::physics::numeric::find_root;
use crate::tract::{Path, Tract};

/// Steady points at all sites.
#[derive(Clone, Debug)]
pub struct Steady {
    /// One set a site, the build's own first.
    pub sites: Vec<SiteSteady>,
}

/// What the points need of the build apart from the path.
#[derive(Clone, Debug)]
struct EngineSetup {
    swallows: Swallows,
    efficiency: SpeedTable<Ratio>,
    boost: BoostTable,
    held: BoostHeld,
    rev_limit: Option<f64>,
    fuel: Option<(FuelData, f64)>,
}

/// The compressors of the path, by their places in it.
type Machines<'b> = Vec<(usize, Arc<Machine<'b>>)>;

impl Steady {
    /// Solves all points of a build. Whatever is missing is told by site.
    pub fn solve(build: &Build, reads: &dyn Reads) -> Self {
        let tract = Tract::new(build);
        let path = tract.path(reads);
        let engine = set_up_engine(build, reads);
        let machines = path.clone().and_then(|path| machines(&path, reads));
        let states = sites(build, reads);
        let home_pressure = states.first().and_then(|(_, state)| state.exact()).map(|state| state.pressure);
        let part_throttle = match build.top.engine.state(reads) {
            State::Given(engine) => Some(&engine.part_throttle),
            _ => None,
        };
        let solved = states.into_iter().enumerate().map(|(i, (name, state))| {
            let described = engine.clone().zip(machines.clone());
            let both = state.clone().zip(described).and_then(|(site, (engine, machines))| {
                path.clone().and_then(|path| {
                    set_up(&path, &site, &engine, &machines, reads).map(|setup| {
                        let staged = setup.ahead.iter().any(|leg| leg.machines(&setup.slots) > 0);
                        let turbines = build.top.engine.get(reads).and_then(|described| {
                            TurbineSide::set_up(build, described, &site, &machines, staged, reads)
                        });
                        let run = Run {
                            setup: &setup,
                            engine: &engine,
                            path: &path,
                            home_pressure,
                            turbines: turbines.exact(),
                        };
                        let points = run.points(reads);
                        let part = match part_throttle.map(|field| field.state(reads)) {
                            Some(State::Given(List(entries))) => run.part_throttle(entries, reads),
                            Some(State::Faulty) => Known::Open(Missing::hindrance("part-throttle is faulty")),
                            _ => Known::Is(Vec::new()),
                        };
                        (points, part, turbines.map(|_| ()))
                    })
                })
            });
            let none = both.clone().map(|_| ());
            let (points, part_throttle, turbines) = match both {
                Known::Is((points, part, turbines)) => (Known::Is(points), part, turbines),
                _ => (none.clone().map(|()| Vec::new()), none.clone().map(|()| Vec::new()), none),
            };
            SiteSteady { name, home: i == 0, state, points, part_throttle, turbines }
        });
        Self { sites: solved.collect() }
    }
}

fn set_up_engine(build: &Build, reads: &dyn Reads) -> Known<EngineSetup> {
    let top = &build.top;
    let held = top.boost_held.get_or(
        reads,
        BoostHeld::Gauge,
        "the control is taken to hold boost above the site's pressure",
    );
    top.engine.get(reads).map(Clone::clone).zip(top.boost.get(reads).map(Clone::clone)).zip(held).and_then(
        |((engine, boost), held): ((Engine, BoostTable), BoostHeld)| {
            let cycle = engine.cycle.get(reads).map(|cycle| match cycle {
                described::Cycle::FourStroke => Cycle::FourStroke,
                described::Cycle::TwoStroke => Cycle::TwoStroke,
            });
            let efficiency = engine.volumetric_efficiency.get(reads).map(Clone::clone);
            let rev_limit = match engine.rev_limit.state(reads) {
                State::Given(limit) => Some(limit.si()),
                _ => None,
            };
            let displacement = engine.displacement.get(reads).map(|volume| volume.si());
            let fuel = drawn_through(&engine, reads);
            cycle.zip(displacement).zip(efficiency).zip(fuel).map(
                |(((cycle, displacement), efficiency), fuel)| EngineSetup {
                    swallows: Swallows { cycle, displacement },
                    efficiency,
                    boost: boost.clone(),
                    held,
                    rev_limit,
                    fuel,
                },
            )
        },
    )
}

/// The fuel that the compressor draws in with the air, and its mass to a mass of air; `None` when it enters behind.
fn drawn_through(engine: &Engine, reads: &dyn Reads) -> Known<Option<(FuelData, f64)>> {
    match engine.fuel_enters.state(reads) {
        State::Given(FuelEntry::AheadOfCompressor) => {}
        State::Faulty => return Known::missing(engine.fuel_enters.route()),
        State::Absent => {
            let words = "fuel that joins the air behind the compressor, as nothing is said of it";
            reads.note(Read::Default { field: engine.fuel_enters.route().clone(), words: words.into() });
            return Known::Is(None);
        }
        _ => return Known::Is(None),
    }
    let lambda = reads.setting(Setting::DrawnThroughLambda).v;
    engine.fuel.get(reads).and_then(|fuel| {
        let Some(data) = fuel_data(*fuel) else {
            return Known::Open(
                Missing::hindrance("diesel fuel does not evaporate ahead of a compressor")
                    .join(Missing::field(engine.fuel_enters.route())),
            );
        };
        data.ratio(lambda)
            .map_or_else(|| Known::missing(engine.fuel.route()), |ratio| Known::Is(Some((data, ratio))))
    })
}

fn machines<'b>(path: &Path<'b>, reads: &dyn Reads) -> Known<Machines<'b>> {
    let spots: Vec<_> = path.iter().filter(|spot| spot.compresses()).collect();
    if spots.is_empty() {
        return Known::not_applicable("no compressor is on the air path");
    }
    spots
        .into_iter()
        .map(|spot| Machine::set_up(spot, reads).map(|machine| (spot.index, Arc::new(machine.clone()))))
        .collect()
}

fn set_up<'a, 'b>(
    path: &Path<'b>,
    site: &'a SiteState,
    engine: &EngineSetup,
    machines: &Machines<'b>,
    reads: &dyn Reads,
) -> Known<Setup<'a, 'b>> {
    slots(path, machines, site, reads).and_then(|slots| {
        let mut forks = 0;
        let all = legs(path.legs(), &slots, &mut forks);
        let mut counts = vec![0; forks];
        count_branches(&all, &mut counts);
        let Some(at) = all.iter().rposition(|leg| leg.machines(&slots) > 0) else {
            return Known::not_applicable("no compressor is on the air path");
        };
        if all.iter().any(lacks_a_machine) {
            return Known::Open(Missing::not_built(
                "operating points of a compressor with an open way round it",
            ));
        }
        let mut rest = all.into_iter();
        let ahead: Vec<Leg> = rest.by_ref().take(at).collect();
        let Some(last) = rest.next() else { return Known::not_applicable("no compressor") };
        note_stages(&ahead, &slots, reads);
        let fuel = engine.fuel.and_then(|(data, ratio)| {
            let (at_once, _) = data.evaporate(&site.gas, ratio, site.temperature, site.pressure)?;
            Some(Fuel { data, ratio, at_once, behind: fuel_enters_behind(path) })
        });
        if engine.fuel.is_some() && fuel.is_none() {
            return Known::Open(Missing::hindrance("no state of the fuel ahead of the compressor was found"));
        }
        Known::Is(Setup {
            site,
            air: Arc::new(site.gas),
            slots,
            ahead,
            last,
            behind: rest.collect(),
            forks: counts,
            engine: engine.swallows.clone(),
            fuel,
        })
    })
}

fn count_branches(legs: &[Leg], counts: &mut [usize]) {
    for leg in legs {
        if let Leg::Fork(fork) = leg {
            if let Some(count) = counts.get_mut(fork.number) {
                *count = fork.branches.len();
            }
            fork.branches.iter().for_each(|branch| count_branches(branch, counts));
        }
    }
}

/// Whether some but not all branches of a fork hold a compressor.
fn lacks_a_machine(leg: &Leg) -> bool {
    let Leg::Fork(fork) = leg else { return false };
    let some = fork.machines.iter().any(|count| *count > 0);
    (some && fork.machines.contains(&0)) || fork.branches.iter().flatten().any(lacks_a_machine)
}

/// The place behind which fuel enters ahead of a compressor: the first carburettor that has one behind it.
fn fuel_enters_behind(path: &Path<'_>) -> Option<usize> {
    let carburettor = path.iter().find(|spot| spot.kind == PartKind::Carburettor)?;
    let behind = path.all_behind(carburettor.index);
    let compresses = |at: &usize| path.get(*at).is_some_and(|spot| spot.compresses());
    behind.iter().any(compresses).then_some(carburettor.index)
}

/// Says of each stage ahead of the last that its ratio was chosen, where it holds no boost of its own.
fn note_stages(ahead: &[Leg], slots: &[Slot<'_>], reads: &dyn Reads) {
    use crate::build::parts::Body;
    for leg in ahead {
        let Leg::Slot(index) = leg else { continue };
        let Some(Slot::Machine(machine)) = slots.get(*index) else { continue };
        if let (None, Body::Turbocharger(part)) = (&machine.outlet_boost, &machine.part.body) {
            let words = "all stages make the same pressure ratio, as no boost between them is given";
            reads.note(Read::Default { field: part.outlet_boost.route().clone(), words: words.into() });
        }
    }
}

/// Engine speeds of the points: the tables' keys, every multiple of the spacing between, and the first boosted speed
/// on both sides.
fn speeds(engine: &EngineSetup, spacing: f64) -> Vec<(f64, bool)> {
    let keys = engine.efficiency.entries.iter().map(|entry| entry.x);
    let mut all: Vec<f64> = keys.chain(engine.boost.entries.iter().map(|entry| entry.x)).collect();
    all.extend(engine.rev_limit);
    all.sort_by(f64::total_cmp);
    let (Some(&low), Some(&high)) = (all.first(), all.last()) else { return Vec::new() };
    let high = engine.rev_limit.map_or(high, |limit| high.min(limit));
    let steps = ((high - low) / spacing).ceil();
    if spacing > 0.0 && steps < 1000.0 {
        let mut count = (low / spacing).ceil();
        while count * spacing < high {
            all.push(count * spacing);
            count += 1.0;
        }
    }
    all.sort_by(f64::total_cmp);
    all.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    all.retain(|speed| *speed <= high + 1e-6);
    let first = engine.boost.entries.first().map_or(f64::INFINITY, |entry| entry.x);
    let both = all.iter().flat_map(|&speed| {
        let off = (speed <= first + 1e-6).then_some((speed, true));
        let on = (speed >= first - 1e-6).then_some((speed, false));
        [off, on].into_iter().flatten()
    });
    both.collect()
}

/// The points of one site.
struct Run<'s, 'a, 'b> {
    setup: &'s Setup<'a, 'b>,
    engine: &'s EngineSetup,
    path: &'s Path<'b>,
    home_pressure: Option<f64>,
    turbines: Option<&'s TurbineSide>,
}

/// Share of the volumetric efficiency to which its correction for exhaust pressure is closed in on, and the passes taken.
const CORRECTED_TO: f64 = 1e-10;
const PASSES: usize = 30;

/// Steps by which the largest boost that has a solution is closed in on: to a 65 536th of the wanted one.
const HALVINGS: u32 = 16;

impl Run<'_, '_, '_> {
    fn points(&self, reads: &dyn Reads) -> Vec<Point> {
        let spacing = reads.setting(Setting::OperatingPointSpacing).v;
        let mut guess = None;
        let each = speeds(self.engine, spacing).into_iter().map(|(speed, off_boost)| {
            let mut point = Point {
                speed,
                off_boost,
                outcome: Outcome::NoSolution,
                largest_boost: None,
                drive_boost: None,
            };
            let Some(efficiency) = self.engine.efficiency.at(speed) else {
                let words = "the volumetric efficiency is not given at this speed";
                point.outcome = Outcome::Open(Missing::hindrance(words));
                return point;
            };
            if off_boost {
                if let Some(solved) = self.setup.off_boost(speed, efficiency) {
                    point.outcome = self.outcome(&solved, speed);
                }
                return point;
            }
            match self.boosted_pressure(speed) {
                Ok(p) => {
                    guess = self.boosted(&mut point, efficiency, p, guess);
                }
                Err(missing) => point.outcome = Outcome::Open(missing),
            }
            point
        });
        each.collect()
    }

    /// Solves a boosted point into `point`; gives the temperature found, a guess for the next.
    fn boosted(&self, point: &mut Point, efficiency: f64, p: f64, guess: Option<f64>) -> Option<f64> {
        let (setup, speed) = (self.setup, point.speed);
        let demand = Demand::Engine(efficiency);
        let solve = |p: f64| setup.boosted_from(&setup.behind, speed, demand, p, guess);
        let found = solve(p);
        let site = setup.site.pressure;
        if let Some(solved) = &found {
            if solved.least_surplus().is_finite() {
                point.drive_boost = self.drive_boost(speed, demand, p);
            }
            if solved.delivers() {
                point.outcome = self.outcome(solved, speed);
                let guess = self.last_temperature(solved);
                if let (Some(side), Outcome::Solved(solution)) = (self.turbines, &point.outcome) {
                    let again = |efficiency: f64| {
                        let demand = Demand::Engine(efficiency);
                        let solved = setup.boosted_from(&setup.behind, speed, demand, p, guess)?;
                        Solution::of(setup, &solved, speed).filter(|_| solved.delivers())
                    };
                    let corrected = with_turbines(side, solution, efficiency, again);
                    point.outcome = corrected.map_or(Outcome::NoSolution, |s| Outcome::Solved(Box::new(s)));
                }
                return guess;
            }
        }
        let passes = |boost: f64| solve(site + boost).is_some_and(|solved| solved.delivers());
        let (mut low, mut high) = (0.0, p - site);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if passes(middle) { low = middle } else { high = middle }
        }
        point.largest_boost = (low > 0.0).then_some(low);
        None
    }

    /// Boost above the site's pressure at which an engine-driven machine delivers just what the path takes on.
    fn drive_boost(&self, speed: f64, demand: Demand, wanted: f64) -> Option<f64> {
        let setup = self.setup;
        let site = setup.site.pressure;
        let surplus = |p: f64| {
            setup.boosted(&setup.behind, speed, demand, p).map_or(-1.0, |solved| solved.least_surplus())
        };
        let mut high = wanted;
        while surplus(high) > 0.0 {
            high = site + 1.5 * (high - site).max(0.1 * site);
            if high > 20.0 * site {
                return None;
            }
        }
        find_root(site * 1.000_1, high, 1.0, surplus).ok().map(|root| root.x - site)
    }

    fn last_temperature(&self, solved: &Solved) -> Option<f64> {
        let first = self.setup.behind.first()?;
        match first {
            Leg::Slot(index) => Some(solved.notes.get(*index)?.as_ref()?.inlet.t),
            Leg::Fork(_) => None,
        }
    }

    fn boosted_pressure(&self, speed: f64) -> Result<f64, Missing> {
        let missing = || Missing::hindrance("the boost is not given at this speed");
        let boost = self.engine.boost.at(speed).ok_or_else(missing)?;
        match self.engine.held {
            BoostHeld::Gauge => Ok(self.setup.site.pressure + boost),
            BoostHeld::Absolute => self
                .home_pressure
                .map(|home| home + boost)
                .ok_or_else(|| Missing::hindrance("the pressure of the home site is not known")),
        }
    }

    fn outcome(&self, solved: &Solved, speed: f64) -> Outcome {
        Solution::of(self.setup, solved, speed)
            .map_or(Outcome::NoSolution, |solution| Outcome::Solved(Box::new(solution)))
    }

    /// Points with the throttle behind the compressors part shut: a stated boost ahead of it, a stated share of the flow
    /// at full throttle.
    fn part_throttle(&self, entries: &[PartThrottle], reads: &dyn Reads) -> Known<Vec<PartThrottlePoint>> {
        let shuts = |leg: &Leg| match leg {
            Leg::Slot(index) => self.path.get(*index).is_some_and(|spot| spot.shuts()),
            Leg::Fork(fork) => {
                let first = |branch: &Vec<Leg>| match branch.first() {
                    Some(Leg::Slot(index)) => self.path.get(*index).is_some_and(|spot| spot.shuts()),
                    _ => false,
                };
                fork.branches.iter().all(first)
            }
        };
        let Some(throttle) = self.setup.behind.iter().position(shuts) else {
            return Known::not_applicable("no throttle lies behind the compressors");
        };
        let charge = self.setup.behind.get(..throttle).unwrap_or_default();
        let points = entries.iter().map(|entry| {
            let figures = entry.engine_speed.get(reads).zip(entry.boost.get(reads));
            figures.zip(entry.flow_share.get(reads)).map(|((speed, boost), share)| {
                let (speed, boost, share) = (speed.si(), boost.si(), share.si());
                let outcome = self.part_throttled(charge, speed, boost, share);
                PartThrottlePoint { speed, boost, flow_share: share, outcome }
            })
        });
        points.collect()
    }

    fn part_throttled(&self, charge: &[Leg], speed: f64, boost: f64, share: f64) -> Outcome {
        let Some(efficiency) = self.engine.efficiency.at(speed) else {
            let words = "the volumetric efficiency is not given at this speed";
            return Outcome::Open(Missing::hindrance(words));
        };
        let first = self.engine.boost.entries.first().map_or(f64::INFINITY, |entry| entry.x);
        let full = if speed < first {
            self.setup.off_boost(speed, efficiency)
        } else {
            match self.boosted_pressure(speed) {
                Ok(p) => self.setup.boosted(&self.setup.behind, speed, Demand::Engine(efficiency), p),
                Err(missing) => return Outcome::Open(missing),
            }
        };
        let Some(full) = full else {
            let words = "the flow at full throttle at this speed has no solution";
            return Outcome::Open(Missing::hindrance(words));
        };
        let demand = Demand::Air(full.air * share);
        let solved = self.setup.boosted(charge, speed, demand, self.setup.site.pressure + boost);
        solved.map_or(Outcome::NoSolution, |solved| self.outcome(&solved, speed))
    }
}

/// A solution with its turbines: the volumetric efficiency follows the exhaust's pressure, which follows the flow. Each pass
/// takes the efficiency that the last one's pressure means; an eighth or less of a change is left after each.
fn with_turbines(
    side: &TurbineSide,
    first: &Solution,
    efficiency: f64,
    again: impl Fn(f64) -> Option<Solution>,
) -> Option<Solution> {
    let mut solution = first.clone();
    let mut factor = 1.0;
    for _ in 0..PASSES {
        let Some(points) = side.points(&solution) else { return Some(solution) };
        let next = side.factor(&points, solution.p_manifold)?;
        solution.turbines = points;
        if (next - factor).abs() < CORRECTED_TO {
            break;
        }
        factor = next;
        let turbines = std::mem::take(&mut solution.turbines);
        solution = again(efficiency * factor)?;
        // Should the passes end here, those of the last one stand: they differ by less than what is left of the change.
        solution.turbines = turbines;
    }
    Some(solution)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::files::{DiskLoader, Files};
    use crate::known::Unrecorded;
    use crate::text::{FileId, Limits, parse};

    /// The solver's bracket begins at a guess; whatever the guess, the point is the same.
    #[test]
    fn any_start_leads_to_the_same_point() {
        for (folder, name) in [
            ("examples", "hill-climb.yaml"),
            ("tests/data/steady", "twin.yaml"),
            ("tests/data/steady", "two-stage.yaml"),
        ] {
            let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
            let loader = DiskLoader::new(root, folder.as_ref(), 1 << 20).unwrap();
            let files = Files::new(Box::new(loader), Limits::default());
            let text = std::fs::read_to_string(root.join(folder).join(name)).unwrap();
            let tree = parse(FileId(0), &text, files.limits()).root.unwrap();
            let build = Build::read(FileId(0), &tree, &files);
            let reads = &Unrecorded;
            let Known::Is(path) = Tract::new(&build).path(reads) else { panic!("no path") };
            let Known::Is(engine) = set_up_engine(&build, reads) else { panic!("no engine") };
            let Known::Is(machines) = machines(&path, reads) else { panic!("no machines") };
            let (_, Known::Is(site)) = sites(&build, reads).swap_remove(0) else { panic!("no site") };
            let Known::Is(setup) = set_up(&path, &site, &engine, &machines, reads) else {
                panic!("no set-up")
            };
            for speed in [4500.0 / 60.0, 6000.0 / 60.0] {
                let demand = Demand::Engine(engine.efficiency.at(speed).unwrap());
                let p = site.pressure + engine.boost.at(speed).unwrap();
                let solve = |guess| setup.boosted_from(&setup.behind, speed, demand, p, guess).unwrap();
                let plain = solve(None);
                for guess in [site.temperature + 1.0, 330.0, 360.0, 395.0, 450.0, 900.0] {
                    let other = solve(Some(guess));
                    assert!((other.flow / plain.flow - 1.0).abs() < 1e-8, "{name} {guess}");
                    assert!((other.end.t - plain.end.t).abs() < 1e-6, "{name} {guess}");
                }
            }
        }
    }
}

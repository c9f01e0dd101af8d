//! Solving one operating point: engine, losses, coolers and compressors together.
//!
//! One unknown, the temperature behind the last compression. From it the charge temperature, the flow, the losses and the
//! ratios follow outright, and the compressors give it back. What comes back falls as what goes in rises, so that a bracket
//! always closes on it. What lies within (equal ratios of stages, shares of branches, an effectiveness that changes with
//! the flow) settles by iterations that contract by a factor of ten or more each.

use std::sync::Arc;

use super::elements::Effect;
use super::machine::Machine;
use super::network::{FuelEntry, Leg, Note, Phase, Slot, State, Task, Walk};
use super::site::SiteState;
use crate::physics::engine::{self, Cycle};
use crate::physics::fuel::FuelData;
use crate::physics::gas::Gas;
use crate::physics::numeric::{Root, find_root, secant_root};

/// The engine as the points need it.
#[derive(Clone, Debug)]
pub(super) struct Swallows {
    /// Its cycle.
    pub cycle: Cycle,
    /// Swept volume, m3.
    pub displacement: f64,
}

/// Fuel that joins the air ahead of a compressor.
#[derive(Clone, Debug)]
pub(super) struct Fuel {
    /// Its properties.
    pub data: FuelData,
    /// Mass to a mass of air.
    pub ratio: f64,
    /// Mass to a mass of air that evaporates where it enters.
    pub at_once: f64,
    /// The place behind which it enters; right ahead of the first compressor when `None`.
    pub behind: Option<usize>,
}

/// One path, set up for a site.
pub(super) struct Setup<'a, 'b> {
    /// The site.
    pub site: &'a SiteState,
    /// Its air.
    pub air: Arc<Gas>,
    /// Every place of the path.
    pub slots: Vec<Slot<'b>>,
    /// The stretch ahead of the last compression.
    pub ahead: Vec<Leg>,
    /// The last compression: a compressor, or a fork with one in each branch.
    pub last: Leg,
    /// The stretch behind it.
    pub behind: Vec<Leg>,
    /// How many forks there are, with the number of their branches.
    pub forks: Vec<usize>,
    /// The engine.
    pub engine: Swallows,
    /// Fuel that joins ahead of a compressor.
    pub fuel: Option<Fuel>,
}

/// What is asked for at the end of the charge side.
#[derive(Clone, Copy, Debug)]
pub(super) enum Demand {
    /// The engine's own appetite, with its volumetric efficiency.
    Engine(f64),
    /// A flow of air at the site, kg/s.
    Air(f64),
}

/// What the walk at a solution leaves.
pub(super) struct Solved {
    /// At each place of the path.
    pub notes: Vec<Option<Note>>,
    /// The air's phases.
    pub phases: [Phase; 3],
    /// Air as taken in at the site, kg/s.
    pub air: f64,
    /// Flow into the engine, kg/s.
    pub flow: f64,
    /// Pressure and temperature at the end.
    pub end: State,
    /// Error that the solver leaves in any temperature, K.
    pub error: f64,
}

impl Solved {
    /// Whether every engine-driven machine delivers what the path takes on.
    pub fn delivers(&self) -> bool {
        self.least_surplus() >= -1e-9
    }

    /// Smallest surplus of an engine-driven machine over the path's flow, as a share of it; infinite without one.
    pub fn least_surplus(&self) -> f64 {
        let each = self.notes.iter().flatten().filter_map(|note| Some(note.run?.delivers? / note.flow - 1.0));
        each.fold(f64::INFINITY, f64::min)
    }
}

/// Iterations in which what lies within an evaluation must settle.
const MOST_ROUNDS: usize = 100;
/// How near, relative.
const SETTLED: f64 = 1e-13;

impl<'b> Setup<'_, 'b> {
    fn walk(&self, speed: f64) -> Walk<'_, 'b> {
        let plain = Phase { gas: self.air.clone(), mass: 1.0 };
        let entry = self
            .fuel
            .as_ref()
            .map(|fuel| FuelEntry { behind: fuel.behind, heat: fuel.at_once * fuel.data.latent });
        let mixed = self.fuel.as_ref().and_then(|fuel| self.mixed(fuel, fuel.at_once));
        let mixed = mixed.unwrap_or_else(|| plain.clone());
        Walk {
            slots: &self.slots,
            site_pressure: self.site.pressure,
            speed,
            phases: [plain, mixed.clone(), mixed],
            fuel: entry,
            notes: vec![None; self.slots.len()],
            shares: self.forks.iter().map(|count| vec![1.0 / *count as f64; *count]).collect(),
        }
    }

    fn mixed(&self, fuel: &Fuel, vapour: f64) -> Option<Phase> {
        Some(Phase { gas: Arc::new(fuel.data.mixed(&self.air, vapour)?), mass: 1.0 + vapour })
    }

    fn at_site(&self) -> State {
        State { p: self.site.pressure, t: self.site.temperature, phase: 0 }
    }

    /// Sets the last phase for a temperature and a pressure behind the last compression: of the fuel that came as liquid
    /// as much evaporates as saturation leaves room for.
    fn evaporate_rest(&self, walk: &mut Walk<'_, '_>, t: f64, p: f64) -> Option<()> {
        let Some(fuel) = &self.fuel else { return Some(()) };
        let most = fuel.data.most_vapour(t, p, self.air.r())?;
        let vapour = most.clamp(fuel.at_once, fuel.ratio);
        if vapour != walk.phases[2].mass - 1.0 {
            walk.phases[2] = self.mixed(fuel, vapour)?;
        }
        Some(())
    }

    /// Temperature behind the last compression once the rest of the fuel has evaporated.
    fn cooled_by_rest(&self, walk: &Walk<'_, '_>, t: f64) -> Option<f64> {
        let Some(fuel) = &self.fuel else { return Some(t) };
        let [_, first, last] = &walk.phases;
        let rest = last.mass - first.mass;
        if rest == 0.0 {
            return Some(t);
        }
        first.gas.temperature_from_h(first.gas.h(t) - rest * fuel.data.latent / first.mass)
    }

    /// Air that the engine asks for at a charge temperature, kg/s as taken in at the site.
    fn engine_air(&self, walk: &Walk<'_, '_>, efficiency: f64, p: f64, t: f64) -> Option<f64> {
        let phase = &walk.phases[2];
        let Swallows { cycle, displacement } = self.engine;
        let flow = engine::mixture_flow(efficiency, displacement, walk.speed, p, t, phase.gas.r(), cycle)?;
        Some(flow / phase.mass)
    }

    /// The charge side backwards from the pressure at its end, for a temperature at its start: flow of air, pressure at
    /// the start, state at the end.
    fn charge_side(
        &self,
        walk: &mut Walk<'_, '_>,
        legs: &[Leg],
        demand: Demand,
        end: f64,
        start: f64,
    ) -> Option<(f64, f64, State)> {
        let entry = State { p: f64::NAN, t: start, phase: 2 };
        let mut air = match demand {
            Demand::Air(air) => air,
            Demand::Engine(efficiency) => self.engine_air(walk, efficiency, end, start)?,
        };
        for _ in 0..MOST_ROUNDS {
            let last = walk.temperatures(legs, entry, air)?;
            let wanted = match demand {
                Demand::Air(air) => air,
                Demand::Engine(efficiency) => self.engine_air(walk, efficiency, end, last.t)?,
            };
            let moved = (wanted / air - 1.0).abs();
            air = wanted;
            if moved > SETTLED && legs.iter().any(|leg| varies(leg, &self.slots)) {
                continue;
            }
            let (p, moved) = walk.backward(legs, end, air)?;
            if moved <= 1e-11 || !legs.iter().any(|leg| cools_in_a_fork(leg, &self.slots)) {
                return Some((air, p, State { p: end, ..last }));
            }
        }
        None
    }

    /// Everything that follows from an assumed temperature behind the last compression; gives that which comes back.
    fn assume(
        &self,
        walk: &mut Walk<'_, '_>,
        legs: &[Leg],
        demand: Demand,
        end: f64,
        assumed: f64,
    ) -> Option<(f64, f64, State)> {
        self.evaporate_rest(walk, assumed, end)?;
        let (air, p2, last) = self.charge_side(walk, legs, demand, end, assumed)?;
        let stages: usize = self.ahead.iter().map(|leg| leg.machines(&self.slots)).sum();
        let own = self.last.machines(&self.slots).max(1) as f64;
        // Unless a stage holds a boost of its own, all make one ratio.
        let mut each = (p2 / self.site.pressure).max(1.0).powf(1.0 / (own + stages as f64));
        for _ in 0..MOST_ROUNDS {
            let inlet = walk.forward(&self.ahead, self.at_site(), air, Task::Stage(each))?;
            if stages > 0 && self.shares_ratio(walk.speed) {
                let wanted = (p2 / inlet.p).powf(1.0 / own);
                let moved = (wanted / each).ln();
                if moved.abs() > SETTLED {
                    each *= (moved * own / (own + stages as f64)).exp();
                    continue;
                }
            }
            let outlet = match &self.last {
                Leg::Slot(index) => {
                    let Slot::Machine(machine) = self.slots.get(*index)? else { return None };
                    walk.compress(*index, machine, inlet, air, p2 / inlet.p)?
                }
                Leg::Fork(fork) => walk.fork(fork, inlet, air, None, Some(p2))?,
            };
            return Some((self.cooled_by_rest(walk, outlet.t)?, air, last));
        }
        None
    }

    /// Whether any stage ahead of the last takes its ratio from the others.
    fn shares_ratio(&self, speed: f64) -> bool {
        self.ahead.iter().any(|leg| match leg {
            Leg::Slot(index) => match self.slots.get(*index) {
                Some(Slot::Machine(machine)) => !holds_own(machine, speed),
                _ => false,
            },
            Leg::Fork(_) => leg.machines(&self.slots) > 0,
        })
    }

    /// The point at which the pressure at the end of the charge side is `end`; `None` if there is none.
    pub fn boosted(&self, legs: &[Leg], speed: f64, demand: Demand, end: f64) -> Option<Solved> {
        self.boosted_from(legs, speed, demand, end, None)
    }

    /// The same with a guess of the temperature behind the last compression.
    pub fn boosted_from(
        &self,
        legs: &[Leg],
        speed: f64,
        demand: Demand,
        end: f64,
        guess: Option<f64>,
    ) -> Option<Solved> {
        let mut walk = self.walk(speed);
        // Cold air is dense: what cannot pass at this temperature may pass at a higher one.
        let too_dense = 1e3;
        let mut residual = |t2: f64| match self.assume(&mut walk, legs, demand, end, t2) {
            Some((back, ..)) => back - t2,
            None => too_dense,
        };
        let root = match guess.and_then(|guess| self.near(guess, &mut residual)) {
            Some(root) => root,
            None => {
                let (low, high) = self.bracket(&mut residual);
                find_root(low, high, 1e-7, residual).ok()?
            }
        };
        let (back, air, last) = self.assume(&mut walk, legs, demand, end, root.x)?;
        // At a root the two temperatures agree; at a mere jump from cannot-pass to can they do not.
        if (back - root.x).abs() >= 1e-3 {
            return None;
        }
        let flow = air * walk.phases[2].mass;
        let Walk { notes, phases, .. } = walk;
        Some(Solved { notes, phases, air, flow, end: last, error: root.error_bound.max(1e-9) })
    }

    /// The root near a guess, where secants find it.
    fn near(&self, guess: f64, residual: &mut impl FnMut(f64) -> f64) -> Option<Root> {
        let lowest = self.coldest();
        let root = secant_root(guess.max(lowest), 1e-7, residual)?;
        (root.x > lowest).then_some(root)
    }

    /// Two temperatures between which the residual changes its sign.
    fn bracket(&self, residual: &mut impl FnMut(f64) -> f64) -> (f64, f64) {
        let lowest = self.coldest();
        let mut high = lowest + 50.0;
        while residual(high) > 0.0 && high < lowest + 1200.0 {
            high += 0.5 * (high - lowest);
        }
        (lowest, high)
    }

    /// A temperature that no air behind the last compression is colder than, K.
    fn coldest(&self) -> f64 {
        let coolants = self.slots.iter().filter_map(|slot| match slot {
            Slot::Element(element) => match &element.effect {
                Effect::Cooler { cooling, .. } => Some(cooling.coolant),
                _ => None,
            },
            Slot::Machine(_) => None,
        });
        let coldest = coolants.fold(self.site.temperature, f64::min);
        // Evaporation stops at saturation long before.
        let cooled = self.fuel.as_ref().is_some_and(|fuel| fuel.data.latent > 0.0);
        if cooled { (coldest - 100.0).max(150.0) } else { coldest }
    }

    /// Off boost air only passes through the compressors: the one unknown is the flow.
    pub fn off_boost(&self, speed: f64, efficiency: f64) -> Option<Solved> {
        let mut walk = self.walk(speed);
        let site = self.site.pressure;
        self.evaporate_rest(&mut walk, self.site.temperature, site)?;
        let most = self.engine_air(&walk, efficiency, site, self.coldest())?;
        // A flow that the losses do not let through is one too many, not a failure.
        let root = {
            let mut residual = |air: f64| match self.pass(&mut walk, air) {
                Some(end) => {
                    let wanted = self.engine_air(&walk, efficiency, end.p, end.t);
                    wanted.map_or(f64::NAN, |wanted| wanted - air)
                }
                None => -air,
            };
            find_root(most * 1e-6, most * 1.000_001, most * 1e-11, &mut residual).ok()?
        };
        let end = self.pass(&mut walk, root.x)?;
        let flow = root.x * walk.phases[2].mass;
        let error = root.error_bound / root.x * end.t;
        let Walk { notes, phases, .. } = walk;
        Some(Solved { notes, phases, air: root.x, flow, end, error })
    }

    fn pass(&self, walk: &mut Walk<'_, '_>, air: f64) -> Option<State> {
        let ahead = walk.forward(&self.ahead, self.at_site(), air, Task::Pass)?;
        let joined = walk.forward(std::slice::from_ref(&self.last), ahead, air, Task::Pass)?;
        let (t, phase) = match self.fuel {
            Some(_) => (self.cooled_by_rest(walk, joined.t)?, 2),
            None => (joined.t, joined.phase),
        };
        walk.forward(&self.behind, State { t, phase, ..joined }, air, Task::Pass)
    }
}

fn holds_own(machine: &Machine<'_>, speed: f64) -> bool {
    machine.outlet_boost.as_ref().is_some_and(|table| table.at(speed).is_some())
}

/// Whether a stretch holds a cooler whose effectiveness changes with the flow.
fn varies(leg: &Leg, slots: &[Slot<'_>]) -> bool {
    any_cooler(leg, slots, &|cooling_varies| cooling_varies)
}

/// Whether a cooler lies in a branch, so that shares of flow move temperatures.
fn cools_in_a_fork(leg: &Leg, slots: &[Slot<'_>]) -> bool {
    matches!(leg, Leg::Fork(_)) && any_cooler(leg, slots, &|_| true)
}

fn any_cooler(leg: &Leg, slots: &[Slot<'_>], wanted: &impl Fn(bool) -> bool) -> bool {
    match leg {
        Leg::Slot(index) => match slots.get(*index) {
            Some(Slot::Element(element)) => match &element.effect {
                Effect::Cooler { cooling, .. } => wanted(cooling.varies()),
                _ => false,
            },
            _ => false,
        },
        Leg::Fork(fork) => fork.branches.iter().flatten().any(|leg| any_cooler(leg, slots, wanted)),
    }
}

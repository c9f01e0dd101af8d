//! The path as the solver walks it: pressures and temperatures along stretches, shares of flow in branches.

use std::sync::Arc;

use super::effects::Ahead;
use super::elements::{Effect, Element, Flow};
use super::machine::{Inlet, Machine, Run};
use super::site::SiteState;
use crate::known::{Known, Reads};
use crate::physics::compressor;
use crate::physics::gas::Gas;
use crate::tract;
use crate::tract::{Path, Spot};

/// One place of the path, set up.
#[derive(Clone, Debug)]
pub(super) enum Slot<'b> {
    /// A part that loses pressure.
    Element(Element<'b>),
    /// A compressor.
    Machine(Arc<Machine<'b>>),
}

/// One stretch of the path.
#[derive(Clone, Debug)]
pub(super) enum Leg {
    /// The slot of this index.
    Slot(usize),
    /// Branches side by side.
    Fork(Fork),
}

/// Branches side by side.
#[derive(Clone, Debug)]
pub(super) struct Fork {
    /// Its number among the forks.
    pub number: usize,
    /// The branches.
    pub branches: Vec<Vec<Leg>>,
    /// Machines one behind the other in each branch.
    pub machines: Vec<usize>,
}

impl Leg {
    /// Machines one behind the other in it, in the branch that has most.
    pub fn machines(&self, slots: &[Slot<'_>]) -> usize {
        match self {
            Self::Slot(index) => usize::from(matches!(slots.get(*index), Some(Slot::Machine(_)))),
            Self::Fork(fork) => fork.machines.iter().copied().max().unwrap_or(0),
        }
    }
}

/// Sets up every place of a path. Machines do not depend on the site and come set up.
pub(super) fn slots<'b>(
    path: &Path<'b>,
    machines: &[(usize, Arc<Machine<'b>>)],
    site: &SiteState,
    reads: &dyn Reads,
) -> Known<Vec<Slot<'b>>> {
    let slot = |spot: &Spot<'b>| match machines.iter().find(|(index, _)| *index == spot.index) {
        Some((_, machine)) => Known::Is(Slot::Machine(machine.clone())),
        None => Element::set_up(spot, &Ahead::of(path, spot.index), site, reads).map(Slot::Element),
    };
    path.iter().map(slot).collect()
}

/// The stretches of a path, forks numbered.
pub(super) fn legs(from: &[tract::Leg], slots: &[Slot<'_>], forks: &mut usize) -> Vec<Leg> {
    from.iter()
        .map(|leg| match leg {
            tract::Leg::Spot(index) => Leg::Slot(*index),
            tract::Leg::Fork(branches) => {
                let number = *forks;
                *forks += 1;
                let branches: Vec<Vec<Leg>> =
                    branches.iter().map(|branch| legs(branch, slots, forks)).collect();
                let count = |branch: &Vec<Leg>| branch.iter().map(|leg| leg.machines(slots)).sum();
                let machines = branches.iter().map(count).collect();
                Leg::Fork(Fork { number, branches, machines })
            }
        })
        .collect()
}

/// Air as it changes on its way: its gas, and how much of it there is to each kg that came in at the site.
#[derive(Clone, Debug)]
pub(super) struct Phase {
    /// The gas.
    pub gas: Arc<Gas>,
    /// Mass of gas to a mass of air at the site.
    pub mass: f64,
}

/// Total state of the air at a place.
#[derive(Clone, Copy, Debug)]
pub(super) struct State {
    /// Pressure, Pa.
    pub p: f64,
    /// Temperature, K.
    pub t: f64,
    /// Which of the phases it is in: 0 as at the site, 1 with the fuel that evaporated where it entered, 2 with all that
    /// evaporates.
    pub phase: usize,
}

/// What a walk leaves written at each place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Note {
    /// Mass flow, kg/s.
    pub flow: f64,
    /// State at the inlet.
    pub inlet: State,
    /// State at the outlet.
    pub outlet: State,
    /// How a machine works; none where air only passes through it.
    pub run: Option<Run>,
}

/// Where fuel enters ahead of a compressor.
#[derive(Clone, Copy, Debug)]
pub(super) struct FuelEntry {
    /// Behind this place of the path.
    pub behind: Option<usize>,
    /// Heat taken up by what evaporates there, J to a kg of air.
    pub heat: f64,
}

/// What the compressors of a stretch are asked for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Task {
    /// Air only passes through them.
    Pass,
    /// Each makes this ratio.
    Ratio(f64),
    /// Each stage makes this ratio, unless it holds a boost of its own.
    Stage(f64),
}

/// What turbochargers side by side are together asked for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Asked {
    /// The pressure in which they end, Pa.
    Outlet(f64),
    /// The geometric mean of their pressure ratios.
    Ratio(f64),
}

/// Iterations in which shares of flow must settle.
const MOST_ROUNDS: usize = 200;
/// How near shares of flow must come.
const SETTLED: f64 = 1e-12;

/// A walk along the path at one operating point.
pub(super) struct Walk<'a, 'b> {
    /// The places.
    pub slots: &'a [Slot<'b>],
    /// Pressure at the site, Pa.
    pub site_pressure: f64,
    /// Engine speed, rev/s.
    pub speed: f64,
    /// The air's phases.
    pub phases: [Phase; 3],
    /// Where fuel enters, if it does ahead of a compressor.
    pub fuel: Option<FuelEntry>,
    /// What was last found at each place.
    pub notes: Vec<Option<Note>>,
    /// Shares of the flow in the branches of each fork.
    pub shares: Vec<Vec<f64>>,
}

impl Walk<'_, '_> {
    fn phase(&self, of: usize) -> Option<&Phase> {
        self.phases.get(of)
    }

    /// State at the end of a stretch from that at its start, with `air` kg/s as taken in at the site.
    pub fn forward(&mut self, legs: &[Leg], start: State, air: f64, task: Task) -> Option<State> {
        let mut state = start;
        for leg in legs {
            state = match leg {
                Leg::Slot(index) => self.step(*index, state, air, task)?,
                Leg::Fork(fork) => {
                    let ratio = match task {
                        Task::Pass => None,
                        Task::Ratio(each) | Task::Stage(each) => {
                            Some(each.powi(fork.machines.iter().copied().max()? as i32))
                        }
                    };
                    self.fork(fork, state, air, ratio, None)?
                }
            };
        }
        Some(state)
    }

    /// One place of the path, forwards.
    fn step(&mut self, index: usize, state: State, air: f64, task: Task) -> Option<State> {
        let (slot, mut state) = (self.slots.get(index)?, state);
        if let Slot::Machine(machine) = slot {
            let machine = machine.clone();
            let inlet = self.fuelled(state)?;
            return match task {
                Task::Pass => self.write(index, air, inlet, inlet, None),
                Task::Ratio(ratio) => self.compress(index, &machine, inlet, air, ratio),
                Task::Stage(ratio) => {
                    let held = machine.outlet_boost.as_ref().and_then(|table| table.at(self.speed));
                    let ratio = held.map_or(ratio, |boost| (self.site_pressure + boost) / inlet.p);
                    self.compress(index, &machine, inlet, air, ratio)
                }
            };
        }
        let Slot::Element(element) = slot else { return None };
        state.t += element.warming;
        let phase = self.phases.get(state.phase)?;
        let flow = air * phase.mass;
        let mut out = state;
        if let Effect::Cooler { cooling, .. } = &element.effect {
            let effectiveness = cooling.effectiveness(flow, phase.gas.cp(state.t))?;
            out.t = crate::physics::cooler::outlet_temperature(state.t, cooling.coolant, effectiveness)?;
        }
        let mean = Flow { mass: flow, temperature: 0.5 * (state.t + out.t) };
        out.p = element.outlet_pressure(mean, state.p, &phase.gas)?;
        self.write(index, air, state, out, None)?;
        if self.fuel.is_some_and(|fuel| fuel.behind == Some(index)) {
            return self.fuelled(out);
        }
        Some(out)
    }

    /// The state once fuel has entered and evaporated as far as it does there.
    fn fuelled(&self, state: State) -> Option<State> {
        let Some(fuel) = self.fuel.filter(|_| state.phase == 0) else { return Some(state) };
        let air = &self.phase(0)?.gas;
        Some(State { t: air.temperature_from_h(air.h(state.t) - fuel.heat)?, phase: 1, ..state })
    }

    /// A compressor at a ratio.
    pub fn compress(
        &mut self,
        index: usize,
        machine: &Machine<'_>,
        inlet: State,
        air: f64,
        ratio: f64,
    ) -> Option<State> {
        let inlet = self.fuelled(inlet)?;
        let phase = self.phases.get(inlet.phase)?;
        let at = Inlet { flow: air * phase.mass, pressure: inlet.p, temperature: inlet.t, r: phase.gas.r() };
        let run = machine.run(at, ratio, self.speed)?;
        let outlet = compressor::compress(&phase.gas, inlet.t, ratio, run.working.efficiency)?;
        let out = State { p: inlet.p * ratio, t: outlet.temperature, ..inlet };
        self.write(index, air, inlet, out, Some(run))
    }

    fn write(
        &mut self,
        index: usize,
        air: f64,
        inlet: State,
        outlet: State,
        run: Option<Run>,
    ) -> Option<State> {
        let flow = air * self.phase(inlet.phase)?.mass;
        *self.notes.get_mut(index)? = Some(Note { flow, inlet, outlet, run });
        Some(outlet)
    }

    /// A fork walked forwards: the shares at which all branches end in one pressure. With `ratio` the machines of each
    /// branch make it together; with `outlet` they make the one that leads to this pressure, the same in each branch.
    ///
    /// Of each branch K = ((R p_in)² − p_out²)/ṁ² hardly changes with the flow, so that one set of K gives the next
    /// shares outright. Gives the joined state. Turbochargers, one in each branch, share by [`Self::side_by_side`].
    pub fn fork(
        &mut self,
        fork: &Fork,
        start: State,
        air: f64,
        ratio: Option<f64>,
        outlet: Option<f64>,
    ) -> Option<State> {
        let asked = match (ratio, outlet) {
            (Some(ratio), _) => Some(Asked::Ratio(ratio)),
            (None, outlet) => outlet.map(Asked::Outlet),
        };
        if let Some((asked, machines)) = asked.and_then(|asked| Some((asked, self.driven_alike(fork)?))) {
            let (ends, flows) = self.side_by_side(fork, &machines, start, air, asked)?;
            return self.join(&ends, &flows);
        }
        let mut flows: Vec<f64> = self.shares.get(fork.number)?.iter().map(|share| share * air).collect();
        let mut ratio = match (ratio, outlet) {
            (Some(ratio), _) => ratio,
            (None, Some(outlet)) => outlet / start.p * 1.01,
            (None, None) => 1.0,
        };
        let passes = outlet.is_none() && ratio == 1.0;
        let mut resistances = vec![f64::NAN; flows.len()];
        for _ in 0..MOST_ROUNDS {
            let mut ends = Vec::with_capacity(flows.len());
            for (i, branch) in fork.branches.iter().enumerate() {
                let flow = *flows.get(i)?;
                let machines = *fork.machines.get(i)?;
                let task = match machines {
                    0 => Task::Pass,
                    _ if passes => Task::Pass,
                    count => Task::Ratio(ratio.powf(1.0 / count as f64)),
                };
                let made = if machines == 0 { start.p } else { ratio * start.p };
                let end = self.forward(branch, start, flow, task);
                let resistance = resistances.get_mut(i)?;
                *resistance = match end {
                    Some(end) => (made * made - end.p * end.p) / (flow * flow),
                    // It cannot pass so much: four times what is known of it, or all the pressure there is.
                    None if resistance.is_nan() => made * made / (flow * flow),
                    None => *resistance * 4.0,
                };
                ends.push(end);
            }
            let next = settle(&resistances, air, start.p)?;
            let moved = largest_change(&next.flows, &flows, air);
            let wanted = outlet.map_or(ratio, |outlet| (outlet * outlet + next.drop).sqrt() / start.p);
            let ratio_moved = (wanted / ratio - 1.0).abs();
            let near = nearness(start.p, next.drop);
            if moved < near && ratio_moved < near {
                let ends: Option<Vec<State>> = ends.into_iter().collect();
                let state = self.join(&ends?, &flows)?;
                self.remember(fork.number, &flows, air)?;
                return Some(state);
            }
            flows = next.flows;
            ratio = wanted;
        }
        None
    }

    /// The state where branches join: one pressure, and the temperature of the mean enthalpy.
    fn join(&self, ends: &[State], flows: &[f64]) -> Option<State> {
        let first = ends.first()?;
        let total: f64 = flows.iter().sum();
        let gas = &self.phase(first.phase)?.gas;
        let same = ends.iter().all(|end| (end.t - first.t).abs() < 1e-12 * first.t);
        let t = if same {
            first.t
        } else {
            let h: f64 = ends.iter().zip(flows).map(|(end, flow)| flow * gas.h(end.t)).sum();
            gas.temperature_from_h(h / total)?
        };
        let p = ends.iter().zip(flows).map(|(end, flow)| end.p * flow).sum::<f64>() / total;
        Some(State { p, t, phase: first.phase })
    }

    fn remember(&mut self, fork: usize, flows: &[f64], air: f64) -> Option<()> {
        *self.shares.get_mut(fork)? = flows.iter().map(|flow| flow / air).collect();
        Some(())
    }

    /// Temperature at the end of a stretch without machines, from that at its start; a state's pressure is not looked at.
    /// Branches share the flow as last found.
    pub fn temperatures(&mut self, legs: &[Leg], start: State, air: f64) -> Option<State> {
        let mut state = start;
        for leg in legs {
            state = match leg {
                Leg::Slot(index) => {
                    let Slot::Element(element) = self.slots.get(*index)? else { return None };
                    let mut out = state;
                    if let Effect::Cooler { cooling, .. } = &element.effect {
                        let phase = self.phases.get(state.phase)?;
                        let effectiveness = cooling.effectiveness(air * phase.mass, phase.gas.cp(state.t))?;
                        out.t = crate::physics::cooler::outlet_temperature(
                            state.t,
                            cooling.coolant,
                            effectiveness,
                        )?;
                    }
                    self.write(*index, air, state, out, None)?
                }
                Leg::Fork(fork) => {
                    let flows: Vec<f64> =
                        self.shares.get(fork.number)?.iter().map(|share| share * air).collect();
                    let mut ends = Vec::with_capacity(flows.len());
                    for (branch, flow) in fork.branches.iter().zip(&flows) {
                        ends.push(self.temperatures(branch, state, *flow)?);
                    }
                    self.join(&ends, &flows)?
                }
            };
        }
        Some(state)
    }

    /// Pressure at the start of a stretch without machines, from that at its end; temperatures as last noted. Gives also
    /// by how much any share of a branch moved.
    pub fn backward(&mut self, legs: &[Leg], end: f64, air: f64) -> Option<(f64, f64)> {
        let (mut p, mut moved) = (end, 0.0_f64);
        for leg in legs.iter().rev() {
            p = match leg {
                Leg::Slot(index) => {
                    let Slot::Element(element) = self.slots.get(*index)? else { return None };
                    let note = (*self.notes.get(*index)?)?;
                    let phase = self.phases.get(note.inlet.phase)?;
                    let mean =
                        Flow { mass: air * phase.mass, temperature: 0.5 * (note.inlet.t + note.outlet.t) };
                    let before = element.inlet_pressure(mean, p, &phase.gas)?;
                    let inlet = State { p: before, ..note.inlet };
                    let outlet = State { p, ..note.outlet };
                    self.write(*index, air, inlet, outlet, None)?;
                    before
                }
                Leg::Fork(fork) => {
                    let (before, change) = self.fork_backward(fork, p, air)?;
                    moved = moved.max(change);
                    before
                }
            };
        }
        Some((p, moved))
    }

    fn fork_backward(&mut self, fork: &Fork, end: f64, air: f64) -> Option<(f64, f64)> {
        let first: Vec<f64> = self.shares.get(fork.number)?.iter().map(|share| share * air).collect();
        let mut flows = first.clone();
        let mut resistances = vec![f64::NAN; flows.len()];
        for _ in 0..MOST_ROUNDS {
            let mut starts = 0.0;
            for (i, branch) in fork.branches.iter().enumerate() {
                let flow = *flows.get(i)?;
                let start = self.backward(branch, end, flow);
                let resistance = resistances.get_mut(i)?;
                *resistance = match start {
                    Some((p, _)) => (p * p - end * end) / (flow * flow),
                    None if resistance.is_nan() => end * end / (flow * flow),
                    None => *resistance * 4.0,
                };
                starts += start.map_or(f64::NAN, |(p, _)| p) * flow / air;
            }
            let next = settle(&resistances, air, end)?;
            let moved = largest_change(&next.flows, &flows, air);
            if moved < nearness(end, next.drop) {
                self.remember(fork.number, &flows, air)?;
                return Some((finite(starts)?, largest_change(&flows, &first, air)));
            }
            flows = next.flows;
        }
        None
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// Flows that branches take of a whole, and the common difference of squared pressures.
struct Settled {
    flows: Vec<f64>,
    drop: f64,
}

/// Each branch takes a flow in proportion to 1/√K. One that loses next to nothing counts as a resistance too small to
/// matter, so that branches without loss share evenly.
fn settle(resistances: &[f64], air: f64, p: f64) -> Option<Settled> {
    let least = 1e-10 * p * p / (air * air);
    let ease: Vec<f64> = resistances.iter().map(|k| k.max(least).sqrt().recip()).collect();
    let total: f64 = ease.iter().sum();
    let root = finite(air / total).filter(|root| *root > 0.0)?;
    Some(Settled { flows: ease.iter().map(|ease| ease * root).collect(), drop: root * root })
}

/// How near shares must come: where next to nothing is lost, no nearer than the rounding of the pressures lets them.
fn nearness(p: f64, drop: f64) -> f64 {
    (4.0 * f64::EPSILON * p * p / drop).max(SETTLED)
}

fn largest_change(one: &[f64], other: &[f64], whole: f64) -> f64 {
    one.iter().zip(other).map(|(a, b)| (a - b).abs() / whole).fold(0.0, f64::max)
}

//! Turbochargers side by side: how they share the air between them.
//!
//! That their branches end in one pressure leaves one number open for each branch but the first: how hard each is driven.
//! Taken here (choice): all take up the same power, as the exhaust of both banks is alike and their gates stand alike. A
//! branch with the poorer inlet then has to make the higher ratio, and for the same power passes less air.

use super::network::{Asked, Fork, Leg, Note, Slot, State, Task, Walk};

/// Iterations in which flows and ratios must settle.
const MOST_ROUNDS: usize = 200;
/// How near they must come, relative.
const SETTLED: f64 = 1e-12;
/// Smallest change of a flow from which the slope of the power is read, relative: below it rounding weighs.
const TELLS_A_SLOPE: f64 = 1e-7;

/// One branch as far as it is found.
struct Branch {
    /// Place of its machine in the path.
    machine: usize,
    /// Natural logarithm of its flow in kg/s.
    flow: f64,
    /// Pressure ratio of its machine.
    ratio: f64,
    /// Natural logarithm of the power taken up, W; not a number before the first round.
    power: f64,
    /// Natural logarithm of the flow at which that power was found.
    flow_before: f64,
    /// Change of the power's logarithm with the flow's.
    slope: f64,
}

impl Walk<'_, '_> {
    /// The places of the machines, one of each branch, where all are driven by exhaust; `None` for any other fork.
    pub fn driven_alike(&self, fork: &Fork) -> Option<Vec<usize>> {
        fork.branches.iter().map(|branch| self.only_turbocharger(branch)).collect()
    }

    fn only_turbocharger(&self, branch: &[Leg]) -> Option<usize> {
        let mut found = None;
        for leg in branch {
            match leg {
                Leg::Fork(fork) if fork.machines.iter().any(|count| *count > 0) => return None,
                Leg::Fork(_) => {}
                Leg::Slot(index) => match self.slots.get(*index)? {
                    Slot::Machine(machine) if machine.drive.is_none() && found.is_none() => {
                        found = Some(*index);
                    }
                    Slot::Machine(_) => return None,
                    Slot::Element(_) => {}
                },
            }
        }
        found
    }

    /// Walks the branches of a fork with a turbocharger in each, at `machines`, to the flows and ratios at which they end
    /// in one pressure and all machines take up the same power. Gives the state at the end of each, and the flows in kg/s
    /// of air; `None` where there are none.
    ///
    /// The ratio of a branch follows from the pressure it missed last; the flows are Newton's in the logarithms, with
    /// the slope of each power over its flow from the last two rounds.
    pub fn side_by_side(
        &mut self,
        fork: &Fork,
        machines: &[usize],
        start: State,
        air: f64,
        asked: Asked,
    ) -> Option<(Vec<State>, Vec<f64>)> {
        let (mut outlet, first) = match asked {
            Asked::Outlet(outlet) => (outlet, outlet / start.p),
            Asked::Ratio(ratio) => (ratio * start.p, ratio),
        };
        let shares = self.shares.get(fork.number)?;
        let mut branches: Vec<Branch> = machines
            .iter()
            .zip(shares)
            .map(|(&machine, share)| {
                let flow = (share * air).ln();
                let slope = 1.0;
                Branch { machine, flow, ratio: first, power: f64::NAN, flow_before: flow, slope }
            })
            .collect();
        for _ in 0..MOST_ROUNDS {
            let mut ends = Vec::with_capacity(branches.len());
            let mut moved = 0.0_f64;
            for (legs, branch) in fork.branches.iter().zip(&mut branches) {
                let Some(end) = self.forward(legs, start, branch.flow.exp(), Task::Ratio(branch.ratio))
                else {
                    // It cannot pass so much: the others must take it.
                    branch.flow -= 0.3;
                    moved = f64::INFINITY;
                    continue;
                };
                let Some(power) = self.power(branch.machine) else {
                    // A machine that takes up nothing has too little to lift.
                    branch.ratio *= 1.1;
                    moved = f64::INFINITY;
                    continue;
                };
                branch.learn(power.ln());
                let missed = outlet / end.p;
                moved = moved.max((missed - 1.0).abs());
                branch.ratio *= missed;
                ends.push(end);
            }
            if let Asked::Ratio(wanted) = asked {
                let logs: f64 = branches.iter().map(|branch| branch.ratio.ln()).sum();
                outlet *= wanted / (logs / branches.len() as f64).exp();
            }
            moved = moved.max(share(&mut branches, air)?);
            if moved < SETTLED {
                let flows: Vec<f64> = branches.iter().map(|branch| branch.flow.exp()).collect();
                *self.shares.get_mut(fork.number)? = flows.iter().map(|flow| flow / air).collect();
                return Some((ends, flows));
            }
        }
        None
    }

    /// Power that a machine took up when it was last walked over, W.
    fn power(&self, machine: usize) -> Option<f64> {
        let Note { flow, inlet, outlet, .. } = (*self.notes.get(machine)?)?;
        let gas = &self.phases.get(inlet.phase)?.gas;
        let power = flow * (gas.h(outlet.t) - gas.h(inlet.t));
        (power > 0.0).then_some(power)
    }
}

impl Branch {
    fn learn(&mut self, power: f64) {
        let step = self.flow - self.flow_before;
        if step.abs() > TELLS_A_SLOPE && self.power.is_finite() {
            // Flat or falling power would throw the next flow out of bounds.
            self.slope = ((power - self.power) / step).clamp(0.5, 20.0);
        }
        self.power = power;
        self.flow_before = self.flow;
    }
}

/// Sets the flows at which all branches take up the same power, as their slopes say, and together the whole; gives the
/// largest relative change of one.
fn share(branches: &mut [Branch], air: f64) -> Option<f64> {
    let known = |branch: &Branch| branch.power.is_finite();
    if !branches.iter().all(known) {
        return Some(f64::INFINITY);
    }
    let weight = |branch: &Branch| branch.flow.exp() / branch.slope;
    let weights: f64 = branches.iter().map(weight).sum();
    let total: f64 = branches.iter().map(|branch| branch.flow.exp()).sum();
    let meant: f64 = branches.iter().map(|branch| weight(branch) * branch.power).sum();
    let power = (air - total + meant) / weights;
    let wanted: Vec<f64> = branches
        .iter()
        .map(|branch| branch.flow + ((power - branch.power) / branch.slope).clamp(-0.3, 0.3))
        .collect();
    let whole: f64 = wanted.iter().map(|flow| flow.exp()).sum();
    let mut moved = 0.0_f64;
    for (branch, wanted) in branches.iter_mut().zip(wanted) {
        let flow = wanted + (air / whole).ln();
        moved = moved.max((flow - branch.flow).abs());
        branch.flow = flow;
    }
    branches.iter().all(|branch| branch.flow.is_finite()).then_some(moved)
}

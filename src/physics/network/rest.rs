//! The state of rest of a network: pressures, temperatures and flows that no longer change.
//!
//! Newton's method on the slopes, each step shortened as one of implicit Euler over a time that grows. What rest does not decide,
//! the temperature of air that nothing moves, is that of the start. Running sums are left out.
//!
//! Source: pseudo-transient continuation, Kelley & Keyes, SIAM J. Numer. Anal. 35 (1998) 508 (page from memory).

use nalgebra::{DMatrix, DVector};

use super::super::integrator::System;
use super::equations::Equations;
use super::{Node, Wall};

/// Times of the implicit steps: the first, s, the growth from each to the next (whatever is left to change: the source ties it to
/// that), the longest, s.
const FIRST: f64 = 3e-3;
const GROWTH: f64 = 10.0;
const LONGEST: f64 = 10.0;
/// Steps at most, and states at most: the work of a step grows with their cube, and beyond some hundreds settling in time is quicker.
const STEPS: usize = 25;
const STATES: usize = 250;
/// A step is shortened to one that moves no state by more than so many of its scales.
const FARTHEST: f64 = 1.0;
/// What counts as no more change, in scales of the states.
const AT_REST: f64 = 1e-9;
/// Part of its scale by which a state is moved for the slope of the slopes.
const NUDGE: f64 = 1e-6;
/// Share of its air that has to go through a volume within a second for the air to count as moved.
const MOVED: f64 = 1e-6;

/// Moves the state `y` to the one near it at which nothing changes at a `time`, s, with the valves as they stand.
/// `None`, with a state of no use, where none is found.
pub(super) fn come_to_rest(equations: &mut Equations, time: f64, y: &mut [f64]) -> Option<()> {
    let scales: Vec<f64> = (0..y.len()).map_while(|i| equations.scale(i)).collect();
    let moving = scales.len();
    if moving > STATES {
        return None;
    }
    let (mut slopes, mut nudged) = (vec![0.0; y.len()], vec![0.0; y.len()]);
    let mut over = FIRST;
    for _ in 0..STEPS {
        equations.slopes(time, y, &mut slopes);
        let mut matrix = DMatrix::<f64>::zeros(moving, moving);
        for (j, scale) in scales.iter().enumerate() {
            let kept = y[j];
            y[j] += NUDGE * scale;
            equations.slopes(time, y, &mut nudged);
            y[j] = kept;
            for (i, of) in scales.iter().enumerate() {
                matrix[(i, j)] = (slopes[i] - nudged[i]) / (NUDGE * of);
            }
            matrix[(j, j)] += 1.0 / over;
        }
        let wanted = DVector::from_iterator(moving, scales.iter().zip(&slopes).map(|(of, slope)| slope / of));
        let step = matrix.lu().solve(&wanted)?;
        let farthest = step.amax();
        if !step.iter().all(|part| part.is_finite()) {
            return None;
        }
        let part = (FARTHEST / farthest).min(1.0);
        for ((y, scale), step) in y.iter_mut().zip(&scales).zip(step.iter()) {
            *y += part * scale * step;
        }
        if farthest < AT_REST {
            equations.warm_as_at_start(time, y);
            return Some(());
        }
        over = (over * GROWTH).min(LONGEST);
    }
    None
}

impl Equations {
    /// Gives the air that nothing moves the temperature of the start, at the pressure that it has.
    fn warm_as_at_start(&mut self, time: f64, y: &mut [f64]) {
        self.look(time, y);
        let mut through = vec![0.0; self.net.nodes.len()];
        let ducts = self.net.ducts.iter().map(|duct| (duct.from, duct.to)).zip(&self.duct_flows);
        let orifices = self.net.orifices.iter().map(|one| (one.from, one.to)).zip(&self.orifice_flows);
        let pumps = self.net.pumps.iter().map(|pump| (pump.from, pump.to)).zip(&self.pump_flows);
        for ((from, to), flow) in ducts.chain(orifices).chain(pumps) {
            through[from.0] += flow.abs();
            through[to.0] += flow.abs();
        }
        for (engine, flow) in self.net.engines.iter().zip(&self.engine_flows) {
            through[engine.from.0] += flow.abs();
        }
        for (i, node) in self.net.nodes.iter().enumerate() {
            let Node::Volume { t, wall: Wall::Adiabatic, .. } = *node else { continue };
            let place = self.layout.nodes[i];
            if through[i] < MOVED * y[place] {
                y[place] *= self.t[i] / t;
                y[place + 1] = y[place] * self.net.gas.u(t);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::network::contact::Body;
    use crate::physics::network::{
        Ended, Isentropic, Network, NodeId, Opening, Orifice, SimpleGas, Simulation, Valve,
    };
    use crate::physics::relief_valve::Balance;
    use std::sync::Arc;

    /// A supply, a volume, an orifice, a volume, a duct to the outside; a dead end hangs on the first volume.
    fn chain() -> (Equations, Vec<f64>) {
        let mut network = Network::new(SimpleGas::perfect(287.05, 1.4));
        let (supply, outside) = (network.reservoir(2e5, 320.0), network.reservoir(1e5, 290.0));
        let first = network.volume(1e-3, 1.7e5, 300.0);
        let second = network.volume(2e-3, 1.2e5, 300.0);
        let dead = network.volume(1e-4, 1.5e5, 310.0);
        network.plain_duct(supply, first, 100.0, 2e5, 0.1);
        network.plain_duct(second, outside, 100.0, 1e5, 0.1);
        network.plain_duct(first, dead, 200.0, 1e6, 0.0);
        network.orifice(Orifice {
            from: first,
            to: second,
            law: Arc::new(Isentropic { coefficient: 0.9 }),
            opening: Opening::Fixed(5e-4),
        });
        Equations::new(network)
    }

    #[test]
    fn nothing_changes_any_more_and_a_dead_end_keeps_its_warmth() {
        let (mut equations, mut y) = chain();
        come_to_rest(&mut equations, 0.0, &mut y).expect("a state of rest");
        let mut slopes = vec![0.0; y.len()];
        equations.slopes(0.0, &y, &mut slopes);
        for (i, slope) in slopes.iter().enumerate() {
            let Some(scale) = equations.scale(i) else { continue };
            // Within a second it would move by a millionth of its scale.
            assert!((slope / scale).abs() < 1e-6, "{i}: {slope} of {scale}");
        }
        let (flows, t) = (equations.duct_flows.clone(), equations.t.clone());
        assert!((flows[0] / flows[1] - 1.0).abs() < 1e-9 && flows[0] > 0.01, "{flows:?}");
        assert!(flows[2].abs() < 1e-9 && (equations.p[2] - equations.p[4]).abs() < 1e-3);
        let wanted = [320.0, 320.0, 310.0];
        assert!(t[2..].iter().zip(wanted).all(|(t, wanted)| (t - wanted).abs() < 1e-6), "{t:?}");
    }

    #[test]
    fn the_network_settles_there_in_time_as_well() {
        let (mut equations, mut y) = chain();
        come_to_rest(&mut equations, 0.0, &mut y).expect("a state of rest");
        let at_rest = (equations.duct_flows.clone(), equations.p.clone());
        let (settling, _) = chain();
        let mut simulation = Simulation::new(settling.net, 0.0, 1e-6, 1_000_000);
        assert_eq!(simulation.run(3.0, &mut |_, _, _| true), Ended::InTime);
        let (settled, ..) = simulation.now();
        for (a, b) in at_rest.0.iter().zip(&settled.duct_flows).take(2) {
            assert!((a / b - 1.0).abs() < 1e-5, "{a} {b}");
        }
        for (a, b) in at_rest.1.iter().zip(&settled.p) {
            assert!((a / b - 1.0).abs() < 1e-5, "{a} {b}");
        }
    }

    /// A seated valve whose spring the charge overcomes once the network is at rest has no place in a state of rest.
    #[test]
    fn a_valve_that_would_leave_its_seat_forbids_it() {
        for (preload, rests) in [(100.0, true), (10.0, false)] {
            let (equations, _) = chain();
            let mut network = equations.net;
            let (inlet, signal) = (NodeId(2), NodeId(1));
            network.valve(Valve {
                inlet,
                signal,
                discharge: vec![(signal, 1.0)],
                stages: Vec::new(),
                balance: Balance { seat_area: 5e-4, piston_area: 5e-4, preload, rate: 2000.0 },
                body: Body::Sprung { mass: 0.05, damping: 2.0, friction: 1.0, stroke: 8e-3 },
            });
            let mut simulation = Simulation::new(network, 0.0, 1e-4, 100_000);
            assert_eq!(simulation.come_to_rest(), rests, "{preload} N");
        }
    }

    #[test]
    fn where_there_is_none_it_says_so() {
        let (mut equations, mut y) = chain();
        y[0] = f64::NAN;
        assert!(come_to_rest(&mut equations, 0.0, &mut y).is_none());
        // So many states that the search would take longer than the run.
        let mut network = Network::new(SimpleGas::perfect(287.05, 1.4));
        let mut last = network.reservoir(2e5, 300.0);
        for _ in 0..100 {
            let next = network.volume(1e-3, 2e5, 300.0);
            network.plain_duct(last, next, 100.0, 1e5, 0.0);
            last = next;
        }
        let (mut equations, mut y) = Equations::new(network);
        assert!(come_to_rest(&mut equations, 0.0, &mut y).is_none());
    }
}

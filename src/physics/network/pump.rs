//! A machine that displaces its air.

use super::{Cooling, NodeId, RotorId, SimpleGas};

/// A machine that displaces its air: each turn passes on the same volume of what stands ahead of it, whatever stands behind.
/// It has no inertance and no surge line, and nothing runs back through it (choice: its gaps leak as its volumetric
/// efficiency says, at any pressure ratio).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pump {
    /// Where it draws from.
    pub from: NodeId,
    /// Where it delivers to.
    pub to: NodeId,
    /// Volume delivered in one radian, m3, at the state ahead of it; positive.
    pub volume: f64,
    /// Isentropic efficiency, above 0 up to 1.
    pub efficiency: f64,
    /// The rotor that turns it.
    pub rotor: RotorId,
    /// Loss coefficients of what lies between it and the nodes ahead of and behind it, Pa kg/m3 per (kg/s)²; zero or above.
    pub losses: (f64, f64),
    /// Cooling of what it delivers.
    pub cooling: Option<Cooling>,
}

/// The states between which it works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Between {
    /// Rotor speed, rad/s.
    pub speed: f64,
    /// Pressures ahead and behind, Pa.
    pub p: (f64, f64),
    /// Temperatures ahead and behind, K.
    pub t: (f64, f64),
}

impl Pump {
    /// Flow, kg/s: what it displaces at the density that the loss ahead of it leaves, in closed form.
    #[must_use]
    pub fn flow(&self, state: &Between, gas: &SimpleGas) -> f64 {
        let rt = gas.r * state.t.0;
        let swept = self.volume * state.speed.max(0.0) / rt;
        // ṁ = swept (p − C ṁ²/ρ), ρ = p/RT.
        2.0 * swept * state.p.0 / (1.0 + (1.0 + 4.0 * swept * swept * self.losses.0 * rt).sqrt())
    }

    /// Work on each kg, J/kg, at a flow: isentropic over efficiency, between the pressures at its own flanges. Where it
    /// delivers into less than it draws from, the work is none (choice: what drops through it is lost).
    #[must_use]
    pub fn work(&self, flow: f64, state: &Between, gas: &SimpleGas) -> f64 {
        let lost = |c: f64, p: f64, t: f64| c * flow * flow * gas.r * t / p;
        let ahead = state.p.0 - lost(self.losses.0, state.p.0, state.t.0);
        let behind = state.p.1 + lost(self.losses.1, state.p.1, state.t.1);
        let cp = gas.cp(state.t.0);
        (cp * state.t.0 * ((behind / ahead).powf(gas.r / cp) - 1.0) / self.efficiency).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::network::Network;

    fn pump(losses: (f64, f64)) -> Pump {
        let mut network = Network::new(SimpleGas::perfect(287.05, 1.4));
        let (from, to) = (network.reservoir(1e5, 300.0), network.reservoir(1e5, 300.0));
        let rotor = network.rotor(crate::physics::network::Rotor {
            inertia: 1.0,
            speed: 100.0,
            held: true,
            torque: 0.0,
            lag: 1.0,
            follows: None,
            geared: None,
        });
        Pump { from, to, volume: 1e-4, efficiency: 0.6, rotor, losses, cooling: None }
    }

    #[test]
    fn the_flow_is_that_of_the_density_behind_the_loss() {
        let gas = SimpleGas::perfect(287.05, 1.4);
        let state = Between { speed: 800.0, p: (1e5, 1.5e5), t: (300.0, 340.0) };
        let free = pump((0.0, 0.0)).flow(&state, &gas);
        assert!((free - 1e-4 * 800.0 * 1e5 / (287.05 * 300.0)).abs() < 1e-12);
        let c = 3e5;
        let flow = pump((c, 0.0)).flow(&state, &gas);
        let left = 1e5 - c * flow * flow * 287.05 * 300.0 / 1e5;
        assert!((flow - 1e-4 * 800.0 * left / (287.05 * 300.0)).abs() < 1e-12 && flow < 0.99 * free);
    }

    #[test]
    fn the_work_is_isentropic_over_efficiency_and_never_negative() {
        let gas = SimpleGas::perfect(287.05, 1.4);
        let state = Between { speed: 800.0, p: (1e5, 2e5), t: (300.0, 300.0) };
        let wanted = 1004.675 * 300.0 * (2.0_f64.powf(1.0 / 3.5) - 1.0) / 0.6;
        assert!((pump((0.0, 0.0)).work(0.1, &state, &gas) / wanted - 1.0).abs() < 1e-6);
        assert!(pump((1e4, 1e4)).work(0.1, &state, &gas) > wanted);
        assert_eq!(pump((0.0, 0.0)).work(0.1, &Between { p: (1e5, 0.5e5), ..state }, &gas), 0.0);
    }
}

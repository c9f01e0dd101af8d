//! The slopes of a network's states: what flows between its nodes, and what that does to them.

use super::super::integrator::System;
use super::contact::{Body, Mode};
use super::equations::{Equations, Sums};
use super::{Loss, Node, Tally, Wall};

impl System for Equations {
    fn slopes(&mut self, time: f64, y: &[f64], dy: &mut [f64]) {
        self.look(time, y);
        self.mass_rates.fill(0.0);
        self.energy_rates.fill(0.0);
        self.torques.fill(0.0);
        let mut over_bounds = Sums::default();
        self.through_ducts(y, dy, &mut over_bounds);
        self.through_orifices();
        self.through_pumps(y, &mut over_bounds);
        self.through_engines(&mut over_bounds);
        self.in_nodes(y, dy, &mut over_bounds);
        self.of_valves(y, dy);
        self.of_rotors(time, y, dy);
        self.of_tallies(y, dy);
        let Sums { mass_in, enthalpy_in, work, heat_out, piston_work } = over_bounds;
        let sums = self.layout.sums;
        dy[sums..sums + 5].copy_from_slice(&[mass_in, enthalpy_in, work, heat_out, piston_work]);
    }

    fn scale(&self, i: usize) -> Option<f64> {
        self.scales.get(i).copied().flatten()
    }
}

impl Equations {
    fn through_ducts(&mut self, y: &[f64], dy: &mut [f64], over_bounds: &mut Sums) {
        for i in 0..self.net.ducts.len() {
            let duct = &self.net.ducts[i];
            let flow = self.duct_flows[i];
            let (from, to, cooling) = (duct.from.0, duct.to.0, duct.cooling);
            let stage = self.stage(duct, flow, y);
            let (loss, inertance) = self.loss(i, duct, y);
            let head = stage.as_ref().map_or(self.p[from], |(stage, _)| stage.outlet);
            dy[self.layout.ducts[i]] = (head - self.p[to] - loss) / inertance;
            if let Loss::Hose(hose) = duct.loss {
                self.wall_rates(i, &hose, y, dy);
            }
            let up = if flow >= 0.0 { from } else { to };
            let enthalpy = self.net.gas.h(self.t[up]);
            let leaves = flow * enthalpy;
            let arrives = match cooling {
                Some(cooling) if flow > 0.0 => {
                    // What a compressor has warmed comes hot to the cooler; its work is added below.
                    let gas = &self.net.gas;
                    let gained = stage.as_ref().map_or(0.0, |(stage, _)| stage.work);
                    let hot = if gained == 0.0 { self.t[up] } else { gas.t_of_h(enthalpy + gained) };
                    let cooled = gas.h(hot - cooling.effectiveness * (hot - cooling.coolant)) - gained;
                    over_bounds.heat_out += flow * (enthalpy - cooled);
                    flow * cooled
                }
                _ => leaves,
            };
            self.mass_rates[from] -= flow;
            self.mass_rates[to] += flow;
            self.energy_rates[from] -= leaves;
            self.energy_rates[to] += arrives;
            if let Some((stage, rotor)) = stage {
                let power = flow.abs() * stage.work;
                over_bounds.work += power;
                self.torques[rotor.0] += power / y[self.layout.rotors[rotor.0]].max(1.0);
                self.energy_rates[if flow >= 0.0 { to } else { from }] += power;
            }
        }
    }

    fn through_orifices(&mut self) {
        for i in 0..self.net.orifices.len() {
            let flow = self.orifice_flows[i];
            let (from, to) = (self.net.orifices[i].from.0, self.net.orifices[i].to.0);
            let carried = flow * self.net.gas.h(self.t[if flow >= 0.0 { from } else { to }]);
            self.mass_rates[from] -= flow;
            self.mass_rates[to] += flow;
            self.energy_rates[from] -= carried;
            self.energy_rates[to] += carried;
        }
    }

    fn through_pumps(&mut self, y: &[f64], over_bounds: &mut Sums) {
        let gas = self.net.gas;
        for i in 0..self.net.pumps.len() {
            let (pump, flow) = (self.net.pumps[i], self.pump_flows[i]);
            let state = self.between(&pump, y);
            let power = flow * pump.work(flow, &state, &gas);
            let (from, to) = (pump.from.0, pump.to.0);
            let drawn = flow * gas.h(state.t.0);
            let mut delivered = drawn + power;
            if let Some(cooling) = pump.cooling.filter(|_| flow > 0.0) {
                let hot = gas.t_of_h(delivered / flow);
                let cooled = flow * gas.h(hot - cooling.effectiveness * (hot - cooling.coolant));
                over_bounds.heat_out += delivered - cooled;
                delivered = cooled;
            }
            over_bounds.work += power;
            self.torques[pump.rotor.0] += power / state.speed.max(1.0);
            self.mass_rates[from] -= flow;
            self.mass_rates[to] += flow;
            self.energy_rates[from] -= drawn;
            self.energy_rates[to] += delivered;
        }
    }

    fn through_engines(&mut self, over_bounds: &mut Sums) {
        for (i, engine) in self.net.engines.iter().enumerate() {
            let (flow, from) = (self.engine_flows[i], engine.from.0);
            let enthalpy = flow * self.net.gas.h(self.t[from]);
            self.mass_rates[from] -= flow;
            self.energy_rates[from] -= enthalpy;
            over_bounds.mass_in -= flow;
            over_bounds.enthalpy_in -= enthalpy;
        }
    }

    /// What all flows together do to the nodes.
    fn in_nodes(&self, y: &[f64], dy: &mut [f64], over_bounds: &mut Sums) {
        for (i, node) in self.net.nodes.iter().enumerate() {
            match *node {
                Node::Reservoir { .. } => {
                    over_bounds.mass_in -= self.mass_rates[i];
                    over_bounds.enthalpy_in -= self.energy_rates[i];
                }
                Node::Volume { t, wall, piston, .. } => {
                    let place = self.layout.nodes[i];
                    dy[place] = self.mass_rates[i];
                    let squeezed = piston.map_or(0.0, |valve| {
                        let velocity = match self.modes[valve.0] {
                            Mode::Free { .. } => y[self.layout.valves[valve.0] + 1],
                            Mode::Seated | Mode::Held | Mode::AtStop => 0.0,
                        };
                        self.p[i] * self.net.valves[valve.0].balance.piston_area * velocity
                    });
                    over_bounds.piston_work += squeezed;
                    let gains = self.energy_rates[i] + squeezed;
                    let taken = match wall {
                        Wall::Adiabatic => 0.0,
                        Wall::Conducting { t, conductance } => conductance * (self.t[i] - t),
                        Wall::Isothermal => gains - self.net.gas.u(t) * self.mass_rates[i],
                    };
                    over_bounds.heat_out += taken;
                    if wall != Wall::Isothermal {
                        dy[place + 1] = gains - taken;
                    }
                }
            }
        }
    }

    fn of_valves(&self, y: &[f64], dy: &mut [f64]) {
        for (i, valve) in self.net.valves.iter().enumerate() {
            let place = self.layout.valves[i];
            (dy[place], dy[place + 1]) = match (&valve.body, self.modes[i]) {
                (Body::Sprung { mass, damping, friction, .. }, Mode::Free { opening }) => {
                    let against = if opening { *friction } else { -friction };
                    let force = self.force(i, y) - damping * y[place + 1] - against;
                    (y[place + 1], force / mass)
                }
                _ => (0.0, 0.0),
            };
        }
    }

    fn of_rotors(&self, time: f64, y: &[f64], dy: &mut [f64]) {
        for (i, rotor) in self.net.rotors.iter().enumerate() {
            let place = self.layout.rotors[i];
            let share = y[place + 1];
            let wanted =
                rotor.follows.map_or(0.0, |(engine, at_start)| self.engine_flows[engine.0] / at_start);
            (dy[place], dy[place + 1]) = if rotor.held {
                (0.0, 0.0)
            } else if let Some(engine) = rotor.geared {
                let engine = &self.net.engines[engine.0];
                (if time < engine.until { rotor.speed * engine.pace } else { 0.0 }, 0.0)
            } else {
                let drive = rotor.torque * share * share;
                ((drive - self.torques[i]) / rotor.inertia, (wanted - share) / rotor.lag)
            };
        }
    }

    fn of_tallies(&self, y: &[f64], dy: &mut [f64]) {
        for (i, tally) in self.net.tallies.iter().enumerate() {
            let place = self.layout.tallies + i;
            let read = |flow: f64, directed: bool| if directed { flow } else { flow.abs() };
            dy[place] = match *tally {
                Tally::Through(duct) => self.duct_flows[duct.0],
                Tally::Back(duct) => (-self.duct_flows[duct.0]).max(0.0),
                Tally::Passed(orifice) => self.orifice_flows[orifice.0],
                Tally::Drawn(engine) => self.engine_flows[engine.0],
                Tally::Reading { duct, lag, directed } => {
                    (read(self.duct_flows[duct.0], directed) - y[place]) / lag
                }
                Tally::Metered { duct, directed } => read(self.duct_flows[duct.0], directed),
            };
        }
    }
}

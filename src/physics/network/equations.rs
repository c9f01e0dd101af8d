//! The equations of change of a network: one state vector, no allocation once it stands. What flows and what acts in a state;
//! the slopes that follow stand in `slopes`.

use super::super::integrator::System;
use super::super::loss::smooth_hose_factor;
use super::contact::{Actuated, Body, Mode, at_rest};
use super::passages::{StageFlow, StageState};
use super::pump::Between;
use super::{Duct, Hose, Loss, Network, Node, NodeId, Opening, Pump, RotorId, Tally, ValveId, Wall};

/// Terms of the memory of laminar friction at a wall, exp(−n νt/R²) with weight m: the two slow ones
/// of three. The fastest (m 40, n 8000) has none at the frequencies of a hose and only adds to the
/// mass that moves.
///
/// Source: Zielke, J. Basic Eng. 90 (1968) 109; Trikha, J. Fluids Eng. 97 (1975) 97.
const WALL_TERMS: [(f64, f64); 2] = [(1.0, 26.4), (8.1, 200.0)];
/// What the fastest term adds to the inertance, as a share: 4 m/n.
const WALL_MASS: f64 = 4.0 * 40.0 / 8000.0;
/// How fast what flows beyond the flow at which a hose chokes dies away, 1/s: some six times faster than the waves of usual cells, so
/// that steps need not be much shorter than waves ask for. The excess stays within some hundredths, in cells of some 30 mm some tenths.
const CHOKED: f64 = 5e4;

/// Places of the states of each thing in the vector.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    /// Mass of a volume, then its energy unless isothermal; unused for a reservoir.
    pub nodes: Vec<usize>,
    /// Flow; behind it the wall terms of a hose.
    pub ducts: Vec<usize>,
    /// Lift, velocity.
    pub valves: Vec<usize>,
    /// Speed, then y of the torque.
    pub rotors: Vec<usize>,
    /// Mass in, enthalpy in, work of compressors, heat out, work of pistons.
    pub sums: usize,
    pub tallies: usize,
    length: usize,
}

/// Running sums over the bounds of a network since the start.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sums {
    /// Mass from the outside less mass to it and to engines, kg.
    pub mass_in: f64,
    /// Enthalpy that came with it, J.
    pub enthalpy_in: f64,
    /// Work of compressors on the gas, J.
    pub work: f64,
    /// Heat to coolers and to walls of isothermal volumes, J.
    pub heat_out: f64,
    /// Work of valve pistons on the gas, J.
    pub piston_work: f64,
}

/// The network with its modes and its working memory.
#[derive(Debug, Clone)]
pub struct Equations {
    pub(super) net: Network,
    pub(super) layout: Layout,
    pub(super) scales: Vec<Option<f64>>,
    pub(super) modes: Vec<Mode>,
    /// Pressure, temperature and density of the nodes.
    pub(super) p: Vec<f64>,
    pub(super) t: Vec<f64>,
    rho: Vec<f64>,
    lifts: Vec<f64>,
    pub(super) duct_flows: Vec<f64>,
    pub(super) orifice_flows: Vec<f64>,
    pub(super) engine_flows: Vec<f64>,
    pub(super) pump_flows: Vec<f64>,
    pub(super) mass_rates: Vec<f64>,
    pub(super) energy_rates: Vec<f64>,
    pub(super) torques: Vec<f64>,
}

impl Equations {
    /// Sets up; gives the equations and the state at the start.
    pub fn new(net: Network) -> (Self, Vec<f64>) {
        let mut y = Vec::new();
        let mut scales = Vec::new();
        let mut add = |value: f64, scale: Option<f64>| {
            y.push(value);
            scales.push(scale);
            y.len() - 1
        };
        let mut nodes = Vec::with_capacity(net.nodes.len());
        for node in &net.nodes {
            nodes.push(match *node {
                Node::Reservoir { .. } => usize::MAX,
                Node::Volume { volume, p, t, wall, .. } => {
                    let mass = p * volume / (net.gas.r * t);
                    let place = add(mass, Some(0.1 * mass));
                    if wall != Wall::Isothermal {
                        let energy = mass * net.gas.u(t);
                        add(energy, Some(0.1 * energy));
                    }
                    place
                }
            });
        }
        let largest = net.ducts.iter().map(|duct| duct.flow.abs()).fold(1e-3, f64::max);
        let ducts = net
            .ducts
            .iter()
            .map(|duct| {
                let hose = matches!(duct.loss, Loss::Hose(_));
                // Beside the main flow a hose's is small: its own scale is what chokes it.
                let scale = if let Loss::Hose(hose) = duct.loss {
                    20.0 * super::super::flow::bore_area(hose.bore)
                } else {
                    0.1 * largest
                };
                let place = add(duct.flow, Some(scale));
                if hose {
                    for _ in WALL_TERMS {
                        add(0.0, Some(10.0 * scale));
                    }
                }
                place
            })
            .collect();
        let mut modes = Vec::with_capacity(net.valves.len());
        let valves = net
            .valves
            .iter()
            .map(|valve| {
                modes.push(Mode::Seated);
                let stroke = valve.body.stroke();
                let place = add(0.0, Some(0.1 * stroke));
                add(0.0, Some(20.0 * stroke));
                place
            })
            .collect();
        let rotors = net
            .rotors
            .iter()
            .map(|rotor| {
                let place = add(rotor.speed, Some(rotor.speed));
                add(1.0, Some(1.0));
                place
            })
            .collect();
        let sums = add(0.0, None);
        for _ in 1..5 {
            add(0.0, None);
        }
        let mut tallies = sums + 5;
        for (i, _) in net.tallies.iter().enumerate() {
            let place = add(0.0, None);
            if i == 0 {
                tallies = place;
            }
        }
        let length = y.len();
        let layout = Layout { nodes, ducts, valves, rotors, sums, tallies, length };
        let at_start = |node: &Node| match *node {
            Node::Reservoir { p, t } | Node::Volume { p, t, .. } => (p, t),
        };
        let (p, t): (Vec<f64>, Vec<f64>) = net.nodes.iter().map(at_start).unzip();
        let rho = p.iter().zip(&t).map(|(p, t)| p / (net.gas.r * t)).collect();
        let equations = Self {
            modes,
            lifts: vec![0.0; net.valves.len()],
            duct_flows: vec![0.0; net.ducts.len()],
            orifice_flows: vec![0.0; net.orifices.len()],
            engine_flows: vec![0.0; net.engines.len()],
            pump_flows: vec![0.0; net.pumps.len()],
            mass_rates: vec![0.0; net.nodes.len()],
            energy_rates: vec![0.0; net.nodes.len()],
            torques: vec![0.0; net.rotors.len()],
            p,
            t,
            rho,
            layout,
            scales,
            net,
        };
        (equations, y)
    }

    /// Works out pressures, temperatures, lifts and flows of a state.
    pub fn look(&mut self, time: f64, y: &[f64]) {
        let gas = self.net.gas;
        for (i, valve) in self.net.valves.iter().enumerate() {
            self.lifts[i] = match &valve.body {
                Body::Sprung { stroke, .. } => y[self.layout.valves[i]].clamp(0.0, *stroke),
                Body::Actuated(actuated) => actuated.lift(time),
            };
        }
        for (i, node) in self.net.nodes.iter().enumerate() {
            let Node::Volume { volume, t, wall, piston, .. } = *node else { continue };
            (self.p[i], self.t[i], self.rho[i]) =
                self.volume_state((i, volume, t, wall, piston), |place| y[place]);
        }
        for (i, _) in self.net.ducts.iter().enumerate() {
            self.duct_flows[i] = y[self.layout.ducts[i]];
        }
        for (i, orifice) in self.net.orifices.iter().enumerate() {
            let area = match orifice.opening {
                Opening::Fixed(area) => area,
                Opening::Plate(plate) => plate.area(time),
                Opening::Port { valve, port } => port.area(self.lifts[valve.0]),
            };
            let (a, b) = (orifice.from.0, orifice.to.0);
            self.orifice_flows[i] = if area <= 0.0 {
                0.0
            } else if self.p[a] >= self.p[b] {
                orifice.law.flow(time, area, self.p[a], self.t[a], self.p[b], &gas)
            } else {
                -orifice.law.flow(time, area, self.p[b], self.t[b], self.p[a], &gas)
            };
        }
        for (i, engine) in self.net.engines.iter().enumerate() {
            let p = self.p[engine.from.0];
            let factor =
                super::super::engine::throttled_factor(p, engine.site_pressure, engine.compression_ratio)
                    .unwrap_or(f64::NAN);
            self.engine_flows[i] = engine.swept * engine.speed(time) * self.rho[engine.from.0] * factor;
        }
        for i in 0..self.net.pumps.len() {
            let pump = self.net.pumps[i];
            self.pump_flows[i] = pump.flow(&self.between(&pump, y), &gas);
        }
    }

    /// The states between which a displacing machine works; pressures and temperatures looked up first.
    pub(super) fn between(&self, pump: &Pump, y: &[f64]) -> Between {
        let (from, to) = (pump.from.0, pump.to.0);
        Between {
            speed: y[self.layout.rotors[pump.rotor.0]],
            p: (self.p[from], self.p[to]),
            t: (self.t[from], self.t[to]),
        }
    }

    /// Pressure, temperature and density of a volume (its number, size, starting temperature, wall and piston) from the states
    /// that it needs.
    fn volume_state(
        &self,
        (i, volume, t, wall, piston): (usize, f64, f64, Wall, Option<ValveId>),
        y: impl Fn(usize) -> f64,
    ) -> (f64, f64, f64) {
        let gas = &self.net.gas;
        let place = self.layout.nodes[i];
        let mass = y(place);
        let taken = piston.map_or(0.0, |valve| {
            self.net.valves[valve.0].balance.piston_area * y(self.layout.valves[valve.0])
        });
        let t = if wall == Wall::Isothermal { t } else { gas.t_of_u(y(place + 1) / mass) };
        // What cannot be makes the step fail instead of the run: NaN is refused by the step control.
        let rho = if mass > 0.0 && t > 1.0 { mass / (volume - taken) } else { f64::NAN };
        (rho * gas.r * t, t, rho)
    }

    /// Pressure of a node from the states that it needs.
    fn pressure_from(&self, node: NodeId, y: impl Fn(usize) -> f64) -> f64 {
        match self.net.nodes[node.0] {
            Node::Reservoir { p, .. } => p,
            Node::Volume { volume, t, wall, piston, .. } => {
                self.volume_state((node.0, volume, t, wall, piston), y).0
            }
        }
    }

    /// What the compressor in a duct does now, and the rotor that it sits on; [`Self::look`] first.
    pub(super) fn stage(&self, duct: &Duct, flow: f64, y: &[f64]) -> Option<(StageFlow, RotorId)> {
        let stage = duct.stage.as_ref()?;
        let state = StageState {
            flow,
            speed: y[self.layout.rotors[stage.rotor.0]],
            p1: self.p[duct.from.0],
            t1: self.t[duct.from.0],
            rho2: self.rho[duct.to.0],
        };
        Some((stage.characteristic.at(&state, &self.net.gas), stage.rotor))
    }

    /// Net force on a sprung valve, opening positive, friction and damping left out; [`Self::look`] first.
    pub(super) fn force(&self, valve: usize, y: &[f64]) -> f64 {
        self.force_under(valve, y[self.layout.valves[valve]], |node| self.p[node.0])
    }

    fn force_under(&self, valve: usize, lift: f64, p: impl Fn(NodeId) -> f64) -> f64 {
        let one = &self.net.valves[valve];
        let pressures = super::super::relief_valve::Pressures {
            charge: p(one.inlet),
            discharge: one.behind(lift, &p),
            signal: p(one.signal),
        };
        one.balance.opening_force(pressures, lift)
    }

    /// Loss of a duct, Pa, in the direction of its flow, and its inertance.
    pub(super) fn loss(&self, i: usize, duct: &Duct, y: &[f64]) -> (f64, f64) {
        let flow = y[self.layout.ducts[i]];
        let up = if flow >= 0.0 { duct.from.0 } else { duct.to.0 };
        let (p, t, rho) = (self.p[up], self.t[up], self.rho[up]);
        match duct.loss {
            Loss::Quadratic(c) => (c * flow * flow.abs() / rho, duct.inertance),
            Loss::Hose(hose) => {
                let area = super::super::flow::bore_area(hose.bore);
                let reynolds = 4.0 * flow.abs()
                    / (std::f64::consts::PI
                        * hose.bore
                        * super::super::gas::viscosity(t).unwrap_or(f64::NAN));
                // 64/Re times flow squared is linear in the flow, down to none.
                let factor_flow = if reynolds < 1e-3 {
                    64.0 * 1e3 * flow.abs() * reynolds
                } else {
                    smooth_hose_factor(reynolds).unwrap_or(f64::NAN) * flow.abs()
                };
                let k_flow = factor_flow * hose.length / hose.bore + hose.k * flow.abs();
                let steady = k_flow * flow / (2.0 * rho * area * area);
                let radius = 0.5 * hose.bore;
                let rate = hose.viscosity / (radius * radius);
                let memory: f64 = (0..WALL_TERMS.len()).map(|k| y[self.layout.ducts[i] + 1 + k]).sum();
                let unsteady = 4.0 * rate * hose.length / area * memory;
                // No more than isothermal choking passes: M = 1/√γ at the end of the hose.
                let speed = (std::f64::consts::E * self.net.gas.r * t).sqrt();
                let excess = (flow.abs() / (p * area) * speed - 1.0).max(0.0);
                let choked = CHOKED * hose.length / speed * p * excess * flow.signum();
                (steady + unsteady + choked, duct.inertance * (1.0 + WALL_MASS))
            }
        }
    }

    /// Slopes of the memory of friction at a hose's wall.
    pub(super) fn wall_rates(&self, i: usize, hose: &Hose, y: &[f64], dy: &mut [f64]) {
        let place = self.layout.ducts[i];
        let rate = hose.viscosity / (0.25 * hose.bore * hose.bore);
        for (k, (m, n)) in WALL_TERMS.iter().enumerate() {
            dy[place + 1 + k] = m * dy[place] - n * rate * y[place + 1 + k];
        }
    }

    // ---- what an observer sees; `look` first ----

    /// Pressure of a node, Pa.
    #[must_use]
    pub fn pressure(&self, node: super::NodeId) -> f64 {
        self.p[node.0]
    }

    /// Temperature of a node, K.
    #[must_use]
    pub fn temperature(&self, node: super::NodeId) -> f64 {
        self.t[node.0]
    }

    /// Flow of a duct, kg/s.
    #[must_use]
    pub fn duct_flow(&self, duct: super::DuctId) -> f64 {
        self.duct_flows[duct.0]
    }

    /// Flow of an orifice, kg/s.
    #[must_use]
    pub fn orifice_flow(&self, orifice: super::OrificeId) -> f64 {
        self.orifice_flows[orifice.0]
    }

    /// Flow into an engine, kg/s.
    #[must_use]
    pub fn engine_flow(&self, engine: super::EngineId) -> f64 {
        self.engine_flows[engine.0]
    }

    /// Flow of a machine that displaces its air, kg/s.
    #[must_use]
    pub fn pump_flow(&self, pump: super::PumpId) -> f64 {
        self.pump_flows[pump.0]
    }

    /// Lift of a valve, m; never beyond its stop.
    #[must_use]
    pub fn lift(&self, valve: super::ValveId) -> f64 {
        self.lifts[valve.0]
    }

    /// Speed of a rotor, rad/s.
    #[must_use]
    pub fn rotor_speed(&self, rotor: super::RotorId, y: &[f64]) -> f64 {
        y[self.layout.rotors[rotor.0]]
    }

    /// A running sum or reading.
    #[must_use]
    pub fn tally(&self, tally: super::TallyId, y: &[f64]) -> f64 {
        y[self.layout.tallies + tally.0]
    }

    /// Flow on the surge line of the compressor in a duct, kg/s, at its present speed and inlet.
    #[must_use]
    pub fn surge_flow(&self, duct: super::DuctId, y: &[f64]) -> Option<f64> {
        let one = &self.net.ducts[duct.0];
        let stage = one.stage.as_ref()?;
        let speed = y[self.layout.rotors[stage.rotor.0]];
        Some(stage.characteristic.surge_flow(speed, self.p[one.from.0], self.t[one.from.0]))
    }

    /// Mass and internal energy in all volumes, kg and J.
    #[must_use]
    pub fn contents(&self, y: &[f64]) -> (f64, f64) {
        let (mut mass, mut energy) = (0.0, 0.0);
        for (i, node) in self.net.nodes.iter().enumerate() {
            let Node::Volume { t, wall, .. } = *node else { continue };
            let place = self.layout.nodes[i];
            mass += y[place];
            energy += if wall == Wall::Isothermal { y[place] * self.net.gas.u(t) } else { y[place + 1] };
        }
        (mass, energy)
    }

    /// Sums over the bounds since the start.
    #[must_use]
    pub fn sums(&self, y: &[f64]) -> Sums {
        let s = &y[self.layout.sums..self.layout.sums + 5];
        Sums { mass_in: s[0], enthalpy_in: s[1], work: s[2], heat_out: s[3], piston_work: s[4] }
    }

    /// Torque that the compressors on a rotor take, N m.
    #[must_use]
    pub fn torque(&self, rotor: super::RotorId) -> f64 {
        self.torques[rotor.0]
    }

    /// The network, to change what moves in it between runs.
    pub fn network_mut(&mut self) -> &mut Network {
        &mut self.net
    }

    /// The network.
    #[must_use]
    pub fn network(&self) -> &Network {
        &self.net
    }

    // ---- events of sprung valves and of commands ----

    /// How many things can happen to each valve.
    pub(super) const EVENTS: usize = 2;

    /// What happens when a value falls below zero: of a seated valve, that the pull passes friction;
    /// of a free one, that it comes to an end or turns. It asks for no more states than it needs, since it is asked at
    /// many places of each step.
    pub(super) fn event_values(&self, valve: usize, y: impl Fn(usize) -> f64) -> [f64; Self::EVENTS] {
        let one = &self.net.valves[valve];
        let place = self.layout.valves[valve];
        let never = [1.0; Self::EVENTS];
        let force = || self.force_under(valve, y(place), |node| self.pressure_from(node, &y));
        match &one.body {
            Body::Sprung { friction, stroke, .. } => {
                let pull = super::contact::LEAST_PULL;
                match self.modes[valve] {
                    Mode::Seated => [friction + pull - force(), 1.0],
                    Mode::AtStop => [force() + friction + pull, 1.0],
                    Mode::Held => {
                        let force = force();
                        [friction + pull - force, force + friction + pull]
                    }
                    Mode::Free { opening } => {
                        let (x, velocity) = (y(place), y(place + 1));
                        let end = if velocity >= 0.0 { stroke - x } else { x };
                        let turned = if opening { velocity } else { -velocity };
                        [end, if *friction > 0.0 { turned } else { 1.0 }]
                    }
                }
            }
            Body::Actuated(Actuated { on_difference: Some((difference, _)), opens, .. })
                if opens.is_infinite() =>
            {
                let p = |node| self.pressure_from(node, &y);
                [difference - (p(one.inlet) - p(one.signal)), 1.0]
            }
            Body::Actuated(_) => never,
        }
    }

    /// Carries out an event at a time; the state is that of the event.
    pub(super) fn happen(&mut self, valve: usize, event: usize, time: f64, y: &mut [f64]) {
        let place = self.layout.valves[valve];
        self.look(time, y);
        let force = self.force(valve, y);
        match &mut self.net.valves[valve].body {
            Body::Sprung { friction, stroke, .. } => {
                let (friction, stroke) = (*friction, *stroke);
                self.modes[valve] = match self.modes[valve] {
                    Mode::Seated => Mode::Free { opening: true },
                    Mode::AtStop => Mode::Free { opening: false },
                    Mode::Held => Mode::Free { opening: event == 0 },
                    Mode::Free { .. } => {
                        if event == 0 {
                            let half = 0.5 * stroke;
                            y[place] = if y[place] > half { stroke } else { 0.0 };
                        }
                        y[place + 1] = 0.0;
                        at_rest(y[place], force, friction, stroke)
                    }
                };
            }
            Body::Actuated(actuated) => {
                if let Some((_, delay)) = actuated.on_difference {
                    actuated.opens = time + delay;
                }
            }
        }
    }
}

impl Body {
    /// Stroke, m.
    #[must_use]
    pub fn stroke(&self) -> f64 {
        match self {
            Self::Sprung { stroke, .. } => *stroke,
            Self::Actuated(actuated) => actuated.stroke,
        }
    }
}

impl Equations {
    /// Length of the state.
    #[must_use]
    pub fn length(&self) -> usize {
        self.layout.length
    }

    /// Sets the running sums and readings of a state back to zero; readings to their flows.
    pub fn start_tallies(&mut self, time: f64, y: &mut [f64]) {
        self.look(time, y);
        y[self.layout.sums..].fill(0.0);
        for (i, tally) in self.net.tallies.iter().enumerate() {
            if let Tally::Reading { duct, directed, .. } = *tally {
                let flow = self.duct_flows[duct.0];
                y[self.layout.tallies + i] = if directed { flow } else { flow.abs() };
            }
        }
    }

    /// Lets rotors go at their present speed, their turbines' torque that of their compressors.
    pub fn release_rotors(&mut self, time: f64, y: &[f64]) {
        let mut slopes = vec![0.0; y.len()];
        self.slopes(time, y, &mut slopes);
        for (i, rotor) in self.net.rotors.iter_mut().enumerate() {
            rotor.held = false;
            rotor.torque = self.torques[i];
            if let Some((engine, at_start)) = &mut rotor.follows {
                *at_start = self.engine_flows[engine.0];
            }
        }
    }
}

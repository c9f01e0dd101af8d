//! A network of volumes, inertances and restrictions, with compressors, relief valves and rotors:
//! what the air in a tract does from moment to moment.
//!
//! **Volumes** hold mass and internal energy, p = mRT/V; what flows carries the enthalpy of where
//! it comes from; the head of velocity is neglected in them. **Ducts** have inertance: dṁ/dt = (p_u
//! − p_d − loss)/ΣL/A. **Orifices** pass their flow at once. A long pipe is cut into volumes and
//! ducts, so that waves travel. Mass, and energy with the work and heat that pass the bounds, are
//! kept to rounding, since every flow leaves one account for another.
//!
//! In nondimensional form, with one volume, one compressor at held speed and one throttle, this is
//! Greitzer's model (J. Eng. Power 98 (1976) 190 and 199); several volumes: Fink, Cumpsty &
//! Greitzer, J. Turbomach. 114 (1992) 321.

mod contact;
mod equations;
mod hose_line;
mod passages;
mod pump;
mod rest;
mod simulate;
mod slopes;

use std::sync::Arc;

pub use contact::{Actuated, Body, Mode};
pub use equations::{Equations, Sums};
pub use hose_line::HoseLine;
pub use passages::{Characteristic, Isentropic, Rated, Restriction, StageFlow, StageState, ThinPlate};
pub use pump::{Between, Pump};
pub use simulate::{Ended, Simulation};

use super::relief_valve::Balance;

/// A gas with a heat capacity that rises straight with temperature: cp = `cp0` + `cp_slope` T, so
/// that temperature follows from energy in closed form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimpleGas {
    /// Specific gas constant, J/(kg K).
    pub r: f64,
    /// Heat capacity at constant pressure, extrapolated to 0 K, J/(kg K).
    pub cp0: f64,
    /// Its rise, J/(kg K²); zero or above.
    pub cp_slope: f64,
}

impl SimpleGas {
    /// The straight line through a gas's heat capacity at 260 and 460 K: within 0.1 % between.
    #[must_use]
    pub fn of(gas: &super::gas::Gas) -> Self {
        let (low, high) = (260.0, 460.0);
        let cp_slope = ((gas.cp(high) - gas.cp(low)) / (high - low)).max(0.0);
        Self { r: gas.r(), cp0: gas.cp(low) - cp_slope * low, cp_slope }
    }

    /// A gas of constant `gamma` (above 1) and gas constant `r`.
    #[must_use]
    pub fn perfect(r: f64, gamma: f64) -> Self {
        Self { r, cp0: gamma * r / (gamma - 1.0), cp_slope: 0.0 }
    }

    /// Specific enthalpy, J/kg, zero at 0 K by extrapolation.
    #[must_use]
    pub fn h(&self, t: f64) -> f64 {
        (self.cp0 + 0.5 * self.cp_slope * t) * t
    }

    /// Specific internal energy, J/kg: h − RT.
    #[must_use]
    pub fn u(&self, t: f64) -> f64 {
        self.h(t) - self.r * t
    }

    /// Temperature, K, of a specific internal energy.
    #[must_use]
    pub fn t_of_u(&self, u: f64) -> f64 {
        let cv0 = self.cp0 - self.r;
        2.0 * u / (cv0 + (cv0 * cv0 + 2.0 * self.cp_slope * u).max(0.0).sqrt())
    }

    /// Temperature, K, of a specific enthalpy, J/kg.
    #[must_use]
    pub fn t_of_h(&self, h: f64) -> f64 {
        2.0 * h / (self.cp0 + (self.cp0 * self.cp0 + 2.0 * self.cp_slope * h).max(0.0).sqrt())
    }

    /// Heat capacity at constant pressure, J/(kg K).
    #[must_use]
    pub fn cp(&self, t: f64) -> f64 {
        self.cp0 + self.cp_slope * t
    }

    /// Ratio of heat capacities.
    #[must_use]
    pub fn gamma(&self, t: f64) -> f64 {
        let cp = self.cp(t);
        cp / (cp - self.r)
    }
}

/// A volume or a reservoir, by its number in the network.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub(super) usize);
/// A duct, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct DuctId(pub(super) usize);
/// An orifice, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct OrificeId(pub(super) usize);
/// An engine, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct EngineId(pub(super) usize);
/// A valve, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ValveId(pub(super) usize);
/// A rotor, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct RotorId(pub(super) usize);
/// A machine that displaces its air, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PumpId(pub(super) usize);
/// A running sum, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct TallyId(pub(super) usize);

/// What a node is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Node {
    /// A volume, m3, of gas at a starting pressure, Pa, and temperature, K.
    Volume {
        /// Volume, m3.
        volume: f64,
        /// Pressure at the start, Pa.
        p: f64,
        /// Temperature at the start, K.
        t: f64,
        /// What its wall does to its heat.
        wall: Wall,
        /// A valve whose piston takes volume away as it opens.
        piston: Option<ValveId>,
    },
    /// The outside: held pressure, Pa, and temperature, K.
    Reservoir {
        /// Pressure, Pa.
        p: f64,
        /// Temperature, K.
        t: f64,
    },
}

/// What the wall of a volume does to the heat of its gas.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wall {
    /// Nothing.
    Adiabatic,
    /// It keeps the gas at its starting temperature.
    Isothermal,
    /// It takes heat in proportion to the difference of temperature.
    Conducting {
        /// Temperature of the wall, K.
        t: f64,
        /// Heat flow for each kelvin, W/K.
        conductance: f64,
    },
}

/// Pressure loss of a duct.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Loss {
    /// C ṁ|ṁ|/ρ with ρ of where the flow comes from; C in Pa kg/m3 per (kg/s)².
    Quadratic(f64),
    /// A smooth hose.
    Hose(Hose),
}

/// A stretch of smooth hose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hose {
    /// Bore, m.
    pub bore: f64,
    /// Length, m.
    pub length: f64,
    /// Sum of the loss coefficients of entry, exit and restrictors on the bore.
    pub k: f64,
    /// Kinematic viscosity for the layer at the wall, m2/s.
    pub viscosity: f64,
}

/// Cooling on the way through a duct.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cooling {
    /// Effectiveness, 0 to 1, of forward flow.
    pub effectiveness: f64,
    /// Temperature of the coolant, K.
    pub coolant: f64,
}

/// A compressor in a duct.
#[derive(Debug, Clone)]
pub struct Stage {
    /// How it works.
    pub characteristic: Arc<dyn Characteristic>,
    /// The rotor it sits on.
    pub rotor: RotorId,
}

/// A duct with inertance.
#[derive(Debug, Clone)]
pub struct Duct {
    /// Where forward flow comes from.
    pub from: NodeId,
    /// Where it goes.
    pub to: NodeId,
    /// ΣL/A, 1/m; positive.
    pub inertance: f64,
    /// Loss.
    pub loss: Loss,
    /// Flow at the start, kg/s.
    pub flow: f64,
    /// A compressor at its head.
    pub stage: Option<Stage>,
    /// Cooling of forward flow.
    pub cooling: Option<Cooling>,
}

/// What sets the area of an orifice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Opening {
    /// It stays, m2.
    Fixed(f64),
    /// A throttle's plate.
    Plate(Plate),
    /// A port of a relief valve.
    Port {
        /// The valve.
        valve: ValveId,
        /// The port's area over lift.
        port: Port,
    },
}

/// A throttle's plate over time: the angle falls evenly, area = closed + (open − closed)(1 − cos α)
/// with α from 90° at wide open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plate {
    /// Area wide open, m2.
    pub open: f64,
    /// Area with the plate at its stop, m2.
    pub closed: f64,
    /// When it begins to close, s.
    pub from: f64,
    /// Time from open to shut, s.
    pub time: f64,
    /// Share of the travel at which it stays.
    pub to: f64,
    /// When it begins to open again, s, at the same pace; infinite if never.
    pub again: f64,
}

impl Plate {
    /// Share of the travel that is left open at a time.
    #[must_use]
    pub fn travel(&self, t: f64) -> f64 {
        let moved = |since: f64| ((t - since) / self.time).max(0.0);
        let shut = (1.0 - moved(self.from)).max(self.to);
        if t <= self.again {
            shut
        } else {
            ((1.0 - moved(self.from) + moved(self.again)).max(self.to + moved(self.again))).min(1.0)
        }
    }

    /// Area at a time, m2.
    #[must_use]
    pub fn area(&self, t: f64) -> f64 {
        let angle = self.travel(t) * std::f64::consts::FRAC_PI_2;
        self.closed + (self.open - self.closed) * (1.0 - angle.cos())
    }
}

/// Area of a relief valve's port over its lift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Port {
    /// Bore of the seat, m.
    pub seat: f64,
    /// Share of the curtain that leads to this port.
    pub share: f64,
    /// Lift at which it begins to open, m.
    pub from: f64,
    /// Lift at which it is fully open, m; at or below `from` the curtain alone sets its area.
    pub full: f64,
    /// Effective area of what lies behind it, m2, in series; infinite if nothing does.
    pub behind: f64,
    /// Discharge coefficient that the orifice's law multiplies the area with, for the series.
    pub coefficient: f64,
}

impl Valve {
    /// Pressure on the discharge side of the ring, Pa, at a lift, m, from those behind the ports: by their shares, or of ports that
    /// open one after the other by the areas that are open. At a lift at which none is, by how fast the first of them open.
    #[must_use]
    pub fn behind(&self, lift: f64, p: impl Fn(NodeId) -> f64) -> f64 {
        if self.stages.is_empty() {
            return self.discharge.iter().map(|(node, share)| share * p(*node)).sum();
        }
        let mixed = |weight: &dyn Fn(&Port) -> f64| {
            let all = self.discharge.iter().zip(&self.stages);
            all.fold((0.0, 0.0), |(sum, whole), ((node, _), port)| {
                let weight = weight(port);
                (if weight > 0.0 { sum + weight * p(*node) } else { sum }, whole + weight)
            })
        };
        let (sum, whole) = mixed(&|port| port.open(lift));
        if whole > 0.0 {
            return sum / whole;
        }
        let opening = self.stages.iter().filter(|port| port.pace() > 0.0).map(Port::opens_from);
        let first = opening.fold(f64::INFINITY, f64::min);
        let (sum, whole) = mixed(&|port| if port.opens_from() <= first { port.pace() } else { 0.0 });
        if whole > 0.0 {
            return sum / whole;
        }
        self.discharge.iter().map(|(node, share)| share * p(*node)).sum()
    }
}

impl Port {
    /// Lift at which it begins to open, m.
    #[must_use]
    pub fn opens_from(&self) -> f64 {
        if self.is_staged() { self.from } else { 0.0 }
    }

    /// Whether it opens over a stretch of the lift of its own.
    #[must_use]
    pub fn is_staged(&self) -> bool {
        self.full > self.from
    }

    /// Area that opens with each metre of lift where it begins to, m.
    fn pace(&self) -> f64 {
        let seat = super::flow::bore_area(self.seat);
        let whole =
            if self.is_staged() { seat / (self.full - self.from) } else { std::f64::consts::PI * self.seat };
        whole * self.share
    }

    /// Its own geometric area, m2, at a lift, m.
    #[must_use]
    pub fn open(&self, lift: f64) -> f64 {
        let seat = super::flow::bore_area(self.seat);
        let curtain = if self.is_staged() {
            seat * ((lift - self.from) / (self.full - self.from)).clamp(0.0, 1.0)
        } else {
            (std::f64::consts::PI * self.seat * lift.max(0.0)).min(seat)
        };
        curtain * self.share
    }

    /// Geometric area, m2, that stands for port and what lies behind it, at a lift, m.
    #[must_use]
    pub fn area(&self, lift: f64) -> f64 {
        let own = self.open(lift);
        if own <= 0.0 || self.behind.is_infinite() {
            return own;
        }
        // Two nozzles in series with the velocity between them lost.
        let effective = self.coefficient * own;
        own / (1.0 + (effective / self.behind).powi(2)).sqrt()
    }
}

/// A restriction without inertance.
#[derive(Debug, Clone)]
pub struct Orifice {
    /// One side; flow to the other counts as forward.
    pub from: NodeId,
    /// The other side.
    pub to: NodeId,
    /// How it flows.
    pub law: Arc<dyn Restriction>,
    /// Its area.
    pub opening: Opening,
}

/// An engine that draws from a node: ṁ = `swept` ρ f, f 1 from `site_pressure` up, else that of the
/// ideal throttled cycle with residual gas.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Engine {
    /// Where it draws from.
    pub from: NodeId,
    /// Volume swept, volumetric efficiency included, m3/s, at the start.
    pub swept: f64,
    /// Pressure of the outside, Pa.
    pub site_pressure: f64,
    /// Compression ratio, above 1.
    pub compression_ratio: f64,
    /// Relative rise of its speed in a second from time nought on (negative: it slows down).
    pub pace: f64,
    /// Until when it changes, s; held from there. Infinite: to the end.
    pub until: f64,
}

impl Engine {
    /// Its speed at a time, s, over that at the start.
    #[must_use]
    pub fn speed(&self, t: f64) -> f64 {
        (1.0 + self.pace * t.max(0.0).min(self.until)).max(0.0)
    }
}

/// What drives a rotor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rotor {
    /// Moment of inertia, kg m2; positive.
    pub inertia: f64,
    /// Speed at the start, rad/s.
    pub speed: f64,
    /// Whether the speed is held.
    pub held: bool,
    /// Turbine torque at the start, N m: it goes with y², y following the engine's relative flow.
    pub torque: f64,
    /// Lag of y, s.
    pub lag: f64,
    /// The engine whose flow y follows, with its flow at the start, kg/s; none: y decays.
    pub follows: Option<(EngineId, f64)>,
    /// The engine that turns it through gear or belt, once it is let go: its speed is that engine's times what it was at the
    /// start, whatever torque that takes. None: it turns freely.
    pub geared: Option<EngineId>,
}

/// A relief valve.
#[derive(Debug, Clone, PartialEq)]
pub struct Valve {
    /// Where the charge acts on the seat.
    pub inlet: NodeId,
    /// Where the signal acts on the piston.
    pub signal: NodeId,
    /// Where it lets go, with shares that sum to 1: their pressures act on the ring.
    pub discharge: Vec<(NodeId, f64)>,
    /// The port to each of them, where ports open one after the other: the pressures behind them then act by the areas that
    /// are open. Empty where all open alike.
    pub stages: Vec<Port>,
    /// Areas and spring.
    pub balance: Balance,
    /// How it moves.
    pub body: Body,
}

/// A running sum or a lagged reading beside the network; nothing depends on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tally {
    /// Mass through a duct, kg, forward less backward.
    Through(DuctId),
    /// Mass that went backward through a duct, kg.
    Back(DuctId),
    /// Mass through an orifice, kg.
    Passed(OrificeId),
    /// Mass taken by an engine, kg.
    Drawn(EngineId),
    /// Reading of a flow sensor in a duct, kg/s, with its lag, s; `directed` sensors read backward
    /// flow as negative, others as positive.
    Reading {
        /// The duct.
        duct: DuctId,
        /// Lag, s.
        lag: f64,
        /// Whether it knows direction.
        directed: bool,
    },
    /// Mass that such a sensor reports, kg, the lag left out.
    Metered {
        /// The duct.
        duct: DuctId,
        /// Whether it knows direction.
        directed: bool,
    },
}

/// The network.
#[derive(Debug, Clone)]
pub struct Network {
    gas: SimpleGas,
    nodes: Vec<Node>,
    ducts: Vec<Duct>,
    orifices: Vec<Orifice>,
    engines: Vec<Engine>,
    valves: Vec<Valve>,
    rotors: Vec<Rotor>,
    pumps: Vec<Pump>,
    tallies: Vec<Tally>,
}

impl Network {
    /// A network without anything, of one gas.
    #[must_use]
    pub fn new(gas: SimpleGas) -> Self {
        Self {
            gas,
            nodes: Vec::new(),
            ducts: Vec::new(),
            orifices: Vec::new(),
            engines: Vec::new(),
            valves: Vec::new(),
            rotors: Vec::new(),
            pumps: Vec::new(),
            tallies: Vec::new(),
        }
    }

    /// Its gas.
    #[must_use]
    pub fn gas(&self) -> &SimpleGas {
        &self.gas
    }

    /// Adds the outside at a pressure, Pa, and temperature, K.
    pub fn reservoir(&mut self, p: f64, t: f64) -> NodeId {
        self.node(Node::Reservoir { p, t })
    }

    /// Adds a volume, m3, at a starting pressure, Pa, and temperature, K.
    pub fn volume(&mut self, volume: f64, p: f64, t: f64) -> NodeId {
        self.node(Node::Volume { volume, p, t, wall: Wall::Adiabatic, piston: None })
    }

    /// Adds a node.
    pub fn node(&mut self, node: Node) -> NodeId {
        self.nodes.push(node);
        NodeId(self.nodes.len() - 1)
    }

    /// Adds a duct.
    pub fn duct(&mut self, duct: Duct) -> DuctId {
        self.ducts.push(duct);
        DuctId(self.ducts.len() - 1)
    }

    /// Adds a plain duct: inertance ΣL/A, 1/m, loss coefficient C, flow at the start, kg/s.
    pub fn plain_duct(
        &mut self,
        from: NodeId,
        to: NodeId,
        inertance: f64,
        coefficient: f64,
        flow: f64,
    ) -> DuctId {
        let loss = Loss::Quadratic(coefficient);
        self.duct(Duct { from, to, inertance, loss, flow, stage: None, cooling: None })
    }

    /// Adds an orifice.
    pub fn orifice(&mut self, orifice: Orifice) -> OrificeId {
        self.orifices.push(orifice);
        OrificeId(self.orifices.len() - 1)
    }

    /// Adds an engine.
    pub fn engine(&mut self, engine: Engine) -> EngineId {
        self.engines.push(engine);
        EngineId(self.engines.len() - 1)
    }

    /// Adds a rotor.
    pub fn rotor(&mut self, rotor: Rotor) -> RotorId {
        self.rotors.push(rotor);
        RotorId(self.rotors.len() - 1)
    }

    /// Adds a machine that displaces its air.
    pub fn pump(&mut self, pump: Pump) -> PumpId {
        self.pumps.push(pump);
        PumpId(self.pumps.len() - 1)
    }

    /// Adds a valve; its ports are orifices of their own.
    pub fn valve(&mut self, valve: Valve) -> ValveId {
        self.valves.push(valve);
        ValveId(self.valves.len() - 1)
    }

    /// Adds a running sum.
    pub fn tally(&mut self, tally: Tally) -> TallyId {
        self.tallies.push(tally);
        TallyId(self.tallies.len() - 1)
    }

    /// The duct of a number, to set its loss or flow once the network stands.
    pub fn duct_mut(&mut self, duct: DuctId) -> Option<&mut Duct> {
        self.ducts.get_mut(duct.0)
    }

    /// The displacing machine of a number, to set its losses once the network stands.
    pub fn pump_mut(&mut self, pump: PumpId) -> Option<&mut Pump> {
        self.pumps.get_mut(pump.0)
    }

    /// The node of a number.
    #[must_use]
    pub fn node_at(&self, node: NodeId) -> Option<&Node> {
        self.nodes.get(node.0)
    }

    /// The same node, to change it.
    pub fn node_mut(&mut self, node: NodeId) -> Option<&mut Node> {
        self.nodes.get_mut(node.0)
    }

    /// Joins a valve's piston to the volume behind it.
    pub fn set_piston(&mut self, node: NodeId, valve: ValveId) {
        if let Some(Node::Volume { piston, .. }) = self.nodes.get_mut(node.0) {
            *piston = Some(valve);
        }
    }

    /// Rotors held at their speeds, or let go; and torques that balance them as they stand.
    pub fn rotors_mut(&mut self) -> &mut [Rotor] {
        &mut self.rotors
    }

    /// Orifices, to set a throttle's motion.
    pub fn orifices_mut(&mut self) -> &mut [Orifice] {
        &mut self.orifices
    }

    /// Valves, to set what opens them.
    pub fn valves_mut(&mut self) -> &mut [Valve] {
        &mut self.valves
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(share: f64, from: f64, full: f64) -> Port {
        Port { seat: 0.030, share, from, full, behind: f64::INFINITY, coefficient: 0.7 }
    }

    /// In closed form: the ring feels what stands behind the ports that are open, by their areas.
    #[test]
    fn a_port_that_is_still_shut_does_not_act_on_the_ring() {
        let mut network = Network::new(SimpleGas::perfect(287.05, 1.4));
        let (low, high) = (network.reservoir(1e5, 300.0), network.reservoir(2e5, 300.0));
        let p = |node: NodeId| if node == low { 1e5 } else { 2e5 };
        let valve = |stages: Vec<Port>| Valve {
            inlet: high,
            signal: low,
            discharge: vec![(low, 0.7), (high, 0.3)],
            stages,
            balance: Balance { seat_area: 1.0, piston_area: 1.0, preload: 0.0, rate: 0.0 },
            body: Body::Sprung { mass: 1.0, damping: 0.0, friction: 0.0, stroke: 8e-3 },
        };
        assert!((valve(Vec::new()).behind(0.0, p) - 1.3e5).abs() < 1e-6);
        let late = valve(vec![port(0.7, 0.0, 0.0), port(0.3, 4e-3, 8e-3)]);
        for lift in [-1e-6, 0.0, 2e-3, 4e-3] {
            assert!((late.behind(lift, p) - 1e5).abs() < 1e-6, "{lift}");
        }
        // At 6 mm of a seat of 30 mm the curtain is 0.8 of the seat, the late port half open.
        let wanted = 1e5 + 1e5 * 0.3 * 0.5 / (0.3 * 0.5 + 0.7 * 0.8);
        assert!((late.behind(6e-3, p) - wanted).abs() < 1e-6);
        assert!((late.behind(8e-3, p) - 1.3e5).abs() < 1e-6);
        // Both staged and both still shut: the first to open, with no jump where it does.
        let both = valve(vec![port(0.7, 3e-3, 8e-3), port(0.3, 1e-3, 2e-3)]);
        assert!((both.behind(0.0, p) - 2e5).abs() < 1e-6 && (both.behind(1.001e-3, p) - 2e5).abs() < 1e-6);
        let alike = valve(vec![port(0.7, 1e-3, 8e-3), port(0.3, 1e-3, 2e-3)]);
        assert!((alike.behind(0.0, p) - alike.behind(1.0001e-3, p)).abs() < 1.0);
        // A port with no share opens nothing; where none has one the ring feels the mean by shares of the air.
        let idle = valve(vec![port(0.0, 0.0, 0.0), port(0.3, 4e-3, 8e-3)]);
        assert!((idle.behind(0.0, p) - 2e5).abs() < 1e-6);
        let none = valve(vec![port(0.0, 0.0, 0.0), port(0.0, 4e-3, 8e-3)]);
        assert!((none.behind(0.0, p) - 1.3e5).abs() < 1e-6);
    }
}

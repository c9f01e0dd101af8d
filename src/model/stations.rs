//! The air at each part of a solved point: what goes in, what comes out, how a compressor works there.

use std::sync::Arc;

use super::machine::{Behaviour, Machine, Working};
use super::site::SiteState;
use crate::build::parts::{Part, PartKind};
use crate::known::{Reads, State};
use crate::physics::flow::static_state;
use crate::physics::gas::Gas;

/// The air in one part at a solved point. Pressures and temperatures are total, pressures absolute.
#[derive(Clone, Debug)]
pub struct Station {
    /// The part's name.
    pub part: Arc<str>,
    /// Its kind.
    pub kind: PartKind,
    /// Mass flow through it, kg/s.
    pub flow: f64,
    /// The air that goes in.
    pub inlet: Air,
    /// The air that comes out.
    pub outlet: Air,
    /// Velocity and Mach number where the part is narrowest, m/s and 1; none where it has no bore, and where the bore
    /// cannot pass the flow.
    pub speed: Option<(f64, f64)>,
    /// How a compressor works here; none off boost and of other parts.
    pub compressor: Option<Running>,
}

/// A state of the air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Total pressure, Pa.
    pub pressure: f64,
    /// Total temperature, K.
    pub temperature: f64,
    /// Specific enthalpy, J/kg, zero at 298.15 K.
    pub enthalpy: f64,
}

impl Air {
    /// A state of a gas.
    pub fn new(gas: &Gas, pressure: f64, temperature: f64) -> Self {
        Self { pressure, temperature, enthalpy: gas.h(temperature) }
    }
}

/// How a compressor works at a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Running {
    /// Corrected flow, kg/s.
    pub corrected_flow: f64,
    /// How it works.
    pub working: Working,
    /// Corrected flow at the choke end of its speed line, kg/s, if a map tells it.
    pub choke_flow: Option<f64>,
    /// Speed of the rotor, rev/s, if a map tells it.
    pub rotor_speed: Option<f64>,
    /// Corrected speed over that of the map's top line.
    pub top_line_share: Option<f64>,
}

impl Running {
    /// How a machine runs at a corrected flow with inlet temperature `t1` K.
    pub(super) fn new(machine: &Machine<'_>, corrected_flow: f64, t1: f64, working: Working) -> Self {
        let map = match &machine.behaviour {
            Behaviour::Map(map) => Some(map),
            Behaviour::Line(_) => None,
        };
        let speed = working.speed;
        Self {
            corrected_flow,
            working,
            choke_flow: map.zip(speed).and_then(|(map, speed)| map.choke_flow_at_speed(speed)),
            rotor_speed: speed.and_then(|speed| machine.reference.actual_speed(speed, t1)),
            top_line_share: map.zip(speed).map(|(map, speed)| speed / map.top_speed()),
        }
    }

    /// Distance to the surge line at constant pressure ratio, as a share of the flow.
    pub fn surge_margin(&self) -> Option<f64> {
        crate::physics::compressor::surge_margin_at_ratio(self.corrected_flow, self.working.surge_flow?)
    }

    /// Flow over the choke flow of its speed.
    pub fn choke_share(&self) -> Option<f64> {
        Some(self.corrected_flow / self.choke_flow?)
    }
}

impl Station {
    /// A station of a part that the air passes in its bore.
    pub(super) fn new(
        part: &Part,
        kind: PartKind,
        site: &SiteState,
        flow: f64,
        [inlet, outlet]: [(f64, f64); 2],
        reads: &dyn Reads,
    ) -> Self {
        let [inlet, outlet] =
            [inlet, outlet].map(|(pressure, temperature)| Air::new(&site.gas, pressure, temperature));
        let bore = part.duct.as_ref().and_then(|duct| match duct.bore.state(reads) {
            State::Given(bore) => Some(bore.si()),
            _ => None,
        });
        // The thinner end is the faster one.
        let thin = if inlet.pressure / inlet.temperature < outlet.pressure / outlet.temperature {
            inlet
        } else {
            outlet
        };
        let speed = bore
            .and_then(|bore| static_state(&site.gas, thin.pressure, thin.temperature, flow, bore))
            .map(|state| (state.velocity, state.mach));
        Self { part: part.name.clone(), kind, flow, inlet, outlet, speed, compressor: None }
    }

    /// Total pressure lost between inlet and outlet, Pa; negative over a compressor at work.
    pub fn loss(&self) -> f64 {
        self.inlet.pressure - self.outlet.pressure
    }

    /// Power that the part puts into the air, W: of a compressor its work, of a cooler the heat with a minus sign.
    pub fn power(&self) -> f64 {
        self.flow * (self.outlet.enthalpy - self.inlet.enthalpy)
    }

    /// Pressure ratio, outlet over inlet.
    pub fn ratio(&self) -> f64 {
        self.outlet.pressure / self.inlet.pressure
    }

    /// The higher of both pressures, Pa.
    pub fn highest_pressure(&self) -> f64 {
        self.inlet.pressure.max(self.outlet.pressure)
    }

    /// The higher of both temperatures, K.
    pub fn highest_temperature(&self) -> f64 {
        self.inlet.temperature.max(self.outlet.temperature)
    }
}

//! The air at each part of a solved point: what goes in, what comes out, how a compressor works there.

use std::sync::Arc;

use super::machine::Working;
use super::result::{FAST, MachinePoint};
use crate::build::parts::{Part, PartKind};
use crate::physics::flow::{StaticState, static_state};
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
    /// Bore, m: of a cone the narrower end; none where it has none.
    pub bore: Option<f64>,
    /// The gas in it.
    pub gas: Arc<Gas>,
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
    /// Flow over the choke flow of its speed, if a map tells it.
    pub choke_share: Option<f64>,
    /// Speed of the rotor, rev/s, if a map or the drive tells it.
    pub rotor_speed: Option<f64>,
    /// That speed over the stated limit, or over the map's top line where none is stated; both corrected alike.
    pub speed_share: Option<f64>,
    /// Distance to the surge line at constant pressure ratio, as a share of the flow.
    pub surge_margin: Option<f64>,
    /// Whether such a machine can surge.
    pub surges: bool,
}

impl Running {
    /// How a compressor runs; none off boost.
    pub(super) fn of(machine: &MachinePoint) -> Option<Self> {
        Some(Self {
            corrected_flow: machine.corrected_flow,
            working: machine.working?,
            choke_share: machine.choke_share,
            rotor_speed: machine.rotor_speed,
            speed_share: machine.speed_share,
            surge_margin: machine.surge_margin(),
            surges: machine.surges(),
        })
    }
}

impl Running {
    /// Corrected flow at the choke end of its speed line, kg/s, if a map tells it.
    pub fn choke_flow(&self) -> Option<f64> {
        Some(self.corrected_flow / self.choke_share?)
    }
}

impl Station {
    /// A station of a part that the air passes in its bore; `None` of a part without a kind, which no path is solved with.
    pub(super) fn new(
        part: &Part,
        gas: Arc<Gas>,
        flow: f64,
        [inlet, outlet]: [Air; 2],
        bore: Option<f64>,
    ) -> Option<Self> {
        // The thinner end is the faster one.
        let thin = if inlet.pressure / inlet.temperature < outlet.pressure / outlet.temperature {
            inlet
        } else {
            outlet
        };
        let speed = bore
            .and_then(|bore| static_state(&gas, thin.pressure, thin.temperature, flow, bore))
            .map(|state| (state.velocity, state.mach));
        let kind = part.known_kind()?;
        let part = part.name.clone();
        Some(Self { part, kind, flow, inlet, outlet, bore, gas, speed, compressor: None })
    }

    /// Static state at its outlet; `None` without a bore, and where the bore is choked.
    pub fn static_out(&self) -> Option<StaticState> {
        let Air { pressure, temperature, .. } = self.outlet;
        static_state(&self.gas, pressure, temperature, self.flow, self.bore?)
    }

    /// Whether its loss is reckoned with less care than elsewhere: above Mach 0.3 the density changes by more than 5 % along
    /// the stream, which the loss of a mean density leaves out (White, Fluid Mechanics, ch. 9).
    pub fn is_fast(&self) -> bool {
        self.speed.is_some_and(|(_, mach)| mach > FAST)
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

//! How compressors and restrictions pass air: laws that a network asks at every moment.

use std::fmt::Debug;

use super::super::flow::{LINEAR_BAND, Nozzle, SonicRating};
use super::SimpleGas;

/// The state on both sides of a compressor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StageState {
    /// Mass flow, kg/s; negative backward.
    pub flow: f64,
    /// Rotor speed, rad/s.
    pub speed: f64,
    /// Pressure ahead, Pa.
    pub p1: f64,
    /// Temperature ahead, K.
    pub t1: f64,
    /// Density behind, kg/m3.
    pub rho2: f64,
}

/// What a compressor does at a state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StageFlow {
    /// Pressure that it would hold behind it at this flow, Pa.
    pub outlet: f64,
    /// Work on each kg, J/kg, in reverse too.
    pub work: f64,
}

/// How a compressor works, forward and in reverse. No lag.
pub trait Characteristic: Debug + Send + Sync {
    /// Outlet pressure and work at a state.
    fn at(&self, state: &StageState, gas: &SimpleGas) -> StageFlow;

    /// Flow on the surge line at the rotor's speed and this inlet, kg/s.
    fn surge_flow(&self, speed: f64, p1: f64, t1: f64) -> f64;
}

/// How a restriction flows.
pub trait Restriction: Debug + Send + Sync {
    /// Mass flow, kg/s, from a supply at `p` Pa, `t` K to a lower pressure `back` Pa through `area`
    /// m2 at a `time`, s. Must be continuous and zero at equal pressures.
    fn flow(&self, time: f64, area: f64, p: f64, t: f64, back: f64, gas: &SimpleGas) -> f64;
}

/// An isentropic nozzle with a discharge coefficient, linear close to equal pressures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Isentropic {
    /// Discharge coefficient.
    pub coefficient: f64,
}

impl Restriction for Isentropic {
    fn flow(&self, _: f64, area: f64, p: f64, t: f64, back: f64, gas: &SimpleGas) -> f64 {
        let nozzle = Nozzle { area, discharge_coefficient: self.coefficient, gamma: gas.gamma(t), r: gas.r };
        nozzle.smooth_flow(p, t, back).unwrap_or(f64::NAN)
    }
}

/// A component rated by ISO 6358 at its full area; at another it is scaled by the area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rated {
    /// The rating.
    pub rating: SonicRating,
    /// Area for which it stands, m2.
    pub full_area: f64,
}

impl Restriction for Rated {
    fn flow(&self, _: f64, area: f64, p: f64, t: f64, back: f64, _: &SimpleGas) -> f64 {
        let share = area / self.full_area;
        let edge = p * (1.0 - LINEAR_BAND);
        let at = |back: f64| self.rating.flow(p, t, back).unwrap_or(f64::NAN);
        // As the nozzle's, linear where the law has no slope.
        share * if back > edge { at(edge) * (p - back) / (p - edge) } else { at(back) }
    }
}

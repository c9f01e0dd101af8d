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

/// A sharp-edged hole in a thin plate: a coefficient, and an expansibility ε = 1 − 0.351 (1 − r^(1/κ)) at the pressure ratio r,
/// linear close to equal pressures.
///
/// The standard has ε from r 0.75 up and for holes small beside what they sit in. It is carried on to r 0.15, below which the
/// flow is held (choice): a sharp edge has no throat that chokes, and 0.6 grows to some 0.8 of an ideal nozzle's flow.
///
/// Source: ISO 5167-2:2003, eq. 5.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThinPlate {
    /// Flow over √(2ρΔp) times area, where the pressure falls little.
    pub coefficient: f64,
}

/// Pressure ratio below which a thin plate's flow is held: there the flow of the law is largest.
const HELD: f64 = 0.15;

impl Restriction for ThinPlate {
    fn flow(&self, _: f64, area: f64, p: f64, t: f64, back: f64, gas: &SimpleGas) -> f64 {
        let at = |ratio: f64| {
            let expansibility = 1.0 - 0.351 * (1.0 - ratio.powf(1.0 / gas.gamma(t)));
            self.coefficient * expansibility * area * p * (2.0 * (1.0 - ratio) / (gas.r * t)).sqrt()
        };
        let (ratio, edge) = ((back / p).max(HELD), 1.0 - LINEAR_BAND);
        if ratio > edge { at(edge) * (1.0 - ratio) / LINEAR_BAND } else { at(ratio) }
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Of the ideal nozzle's flow 0.6 at little fall and some 0.8 at 0.3, as of sharp edges (Perry, Trans. ASME 71 (1949) 757, from
    /// memory: 0.60 to 0.84).
    #[test]
    fn a_thin_plate_passes_more_of_an_ideal_flow_the_further_the_pressure_falls() {
        let gas = SimpleGas::perfect(287.05, 1.4);
        let (plate, ideal) = (ThinPlate { coefficient: 0.6 }, Isentropic { coefficient: 1.0 });
        let flow = |law: &dyn Restriction, ratio: f64| law.flow(0.0, 1e-6, 2e5, 300.0, ratio * 2e5, &gas);
        let share = |ratio: f64| flow(&plate, ratio) / flow(&ideal, ratio);
        assert!((share(0.998) - 0.6).abs() < 1e-3, "{}", share(0.998));
        assert!((0.76..0.84).contains(&share(0.3)), "{}", share(0.3));
        assert_eq!(flow(&plate, 1.0), 0.0);
        let ratios = (0..=1000).map(|i| 1.0 - f64::from(i) / 1000.0);
        let flows: Vec<f64> = ratios.map(|ratio| flow(&plate, ratio)).collect();
        assert!(flows.windows(2).all(|pair| pair[1] >= pair[0] * (1.0 - 1e-4)), "it never falls");
    }
}

//! One-dimensional compressible flow: isentropic relations, nozzles, static state in a bore, Fanno
//! ducts, ISO 6358.
//!
//! γ is the local ratio of heat capacities, held over each small change of state.

use std::f64::consts::PI;

use super::gas::{Gas, viscosity};
use super::numeric::find_root;
use super::{all_positive, finite};

/// Area of a round bore of the given diameter, m2.
#[must_use]
pub fn bore_area(bore: f64) -> f64 {
    PI / 4.0 * bore * bore
}

/// Bore, m, of the circle of the given area, m2. `None` if the area is negative or not finite.
#[must_use]
pub fn bore_of_area(area: f64) -> Option<f64> {
    (area >= 0.0 && area.is_finite()).then(|| (4.0 * area / PI).sqrt())
}

fn gas_like(gamma: f64) -> bool {
    gamma.is_finite() && gamma > 1.0
}

/// Static over total temperature, 1/(1 + (γ − 1)/2 M²). Source: NACA Report 1135 (1953), eq. 43.
/// `None` unless M ≥ 0 and γ > 1.
#[must_use]
pub fn temperature_ratio(mach: f64, gamma: f64) -> Option<f64> {
    (mach >= 0.0 && mach.is_finite() && gas_like(gamma))
        .then(|| 1.0 / (1.0 + 0.5 * (gamma - 1.0) * mach * mach))
}

/// Static over total pressure at a Mach number. Source: NACA Report 1135, eq. 44. `None` unless M ≥
/// 0 and γ > 1.
#[must_use]
pub fn pressure_ratio(mach: f64, gamma: f64) -> Option<f64> {
    Some(temperature_ratio(mach, gamma)?.powf(gamma / (gamma - 1.0)))
}

/// Static over total density at a Mach number. Source: NACA Report 1135, eq. 45. `None` unless M ≥
/// 0 and γ > 1.
#[must_use]
pub fn density_ratio(mach: f64, gamma: f64) -> Option<f64> {
    Some(temperature_ratio(mach, gamma)?.powf(1.0 / (gamma - 1.0)))
}

/// Area over throat area A/A* at a Mach number. Source: NACA Report 1135, eq. 80. `None` unless M >
/// 0 and γ > 1.
#[must_use]
pub fn area_ratio(mach: f64, gamma: f64) -> Option<f64> {
    let t = temperature_ratio(mach, gamma)?;
    all_positive(&[mach])
        .then(|| (2.0 / ((gamma + 1.0) * t)).powf(0.5 * (gamma + 1.0) / (gamma - 1.0)) / mach)
}

/// Pressure ratio of throat to supply below which a nozzle is choked: (2/(γ + 1))^(γ/(γ − 1)).
/// `None` unless γ > 1.
#[must_use]
pub fn critical_pressure_ratio(gamma: f64) -> Option<f64> {
    pressure_ratio(1.0, gamma)
}

/// Choked mass flow factor ṁ√T0/(A p0), s √K/m: √(γ/R) (2/(γ + 1))^((γ + 1)/(2(γ − 1))).
/// Source: Shapiro, Compressible Fluid Flow vol. 1 (1953), ch. 4. `None` unless γ > 1 and R > 0.
#[must_use]
pub fn choked_flow_factor(gamma: f64, r: f64) -> Option<f64> {
    (gas_like(gamma) && all_positive(&[r]))
        .then(|| (gamma / r).sqrt() * (2.0 / (gamma + 1.0)).powf(0.5 * (gamma + 1.0) / (gamma - 1.0)))
}

/// A restriction taken as an isentropic nozzle with a discharge coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nozzle {
    /// Area of the throat, m2.
    pub area: f64,
    /// Discharge coefficient: true flow over isentropic flow through `area`.
    pub discharge_coefficient: f64,
    /// Ratio of heat capacities of the gas.
    pub gamma: f64,
    /// Specific gas constant, J/(kg K).
    pub r: f64,
}

/// Share of the pressure over which [`Nozzle::smooth_flow`] is linear: within 0.1 % of pressure
/// ratio 1.
pub const LINEAR_BAND: f64 = 1e-3;

impl Nozzle {
    /// Mass flow, kg/s, from total `p0` Pa and `t0` K to `back` Pa; no less than zero, choked at
    /// the critical ratio.
    ///
    /// Source: Saint-Venant & Wantzel 1839; White, Fluid Mechanics, ch. 9; ISO 9300 for critical
    /// flow. `None` unless pressures and temperature are positive, 0 < `back` ≤ `p0`, area and
    /// coefficient not negative.
    #[must_use]
    pub fn flow(&self, p0: f64, t0: f64, back: f64) -> Option<f64> {
        self.usable(p0, t0, back).then(|| self.isentropic(p0, t0, back / p0)).and_then(finite)
    }

    /// As [`Nozzle::flow`], but linear in the pressure difference within [`LINEAR_BAND`] of ratio
    /// 1, where the square root has no slope: for integration over time.
    #[must_use]
    pub fn smooth_flow(&self, p0: f64, t0: f64, back: f64) -> Option<f64> {
        if !self.usable(p0, t0, back) {
            return None;
        }
        let ratio = back / p0;
        let edge = 1.0 - LINEAR_BAND;
        finite(if ratio > edge {
            self.isentropic(p0, t0, edge) * (1.0 - ratio) / LINEAR_BAND
        } else {
            self.isentropic(p0, t0, ratio)
        })
    }

    fn usable(&self, p0: f64, t0: f64, back: f64) -> bool {
        gas_like(self.gamma)
            && all_positive(&[self.r, p0, t0, back])
            && back <= p0
            && self.area >= 0.0
            && self.discharge_coefficient >= 0.0
    }

    fn isentropic(&self, p0: f64, t0: f64, ratio: f64) -> f64 {
        let k = self.gamma;
        // No γ has a critical ratio above exp(-1/2).
        let ratio = if ratio > 0.61 { ratio } else { ratio.max((2.0 / (k + 1.0)).powf(k / (k - 1.0))) };
        let expanded = ratio.powf(1.0 / k);
        let root = expanded * (expanded - ratio);
        self.discharge_coefficient * self.area * p0 / (self.r * t0).sqrt()
            * (2.0 * k / (k - 1.0) * root.max(0.0)).sqrt()
    }
}

/// State of a stream in a bore, from its total state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StaticState {
    /// Static pressure, Pa.
    pub pressure: f64,
    /// Static temperature, K.
    pub temperature: f64,
    /// Density, kg/m3.
    pub density: f64,
    /// Mean velocity, m/s, with the sign of the flow.
    pub velocity: f64,
    /// Mach number, not negative.
    pub mach: f64,
}

/// Static state in a bore of `bore` m carrying `flow` kg/s of `gas` at total pressure `p0` Pa and
/// total temperature `t0` K: the subsonic root of ṁ√(R T0)/(A p0) = √γ M (1 + (γ − 1)/2 M²)^(−(γ +
/// 1)/(2(γ − 1))).
///
/// Source: Shapiro, Compressible Fluid Flow vol. 1, ch. 4. A flow of either sign is taken. `None`
/// if the bore cannot pass the flow (choked) or an input is not positive.
#[must_use]
pub fn static_state(gas: &Gas, p0: f64, t0: f64, flow: f64, bore: f64) -> Option<StaticState> {
    if !all_positive(&[p0, t0, bore]) || !flow.is_finite() {
        return None;
    }
    let gamma = gas.gamma(t0);
    let mach = subsonic_mach(flow.abs() * (gas.r() * t0).sqrt() / (bore_area(bore) * p0), gamma)?;
    let temperature = t0 * temperature_ratio(mach, gamma)?;
    let pressure = p0 * pressure_ratio(mach, gamma)?;
    Some(StaticState {
        pressure,
        temperature,
        density: gas.density(pressure, temperature)?,
        velocity: flow.signum() * mach * (gamma * gas.r() * temperature).sqrt(),
        mach,
    })
}

/// Subsonic Mach number at which ṁ√(R T0)/(A p0) has the value `function`. `None` if none reaches
/// it.
fn subsonic_mach(function: f64, gamma: f64) -> Option<f64> {
    if !(function >= 0.0 && gas_like(gamma)) {
        return None;
    }
    let exponent = -0.5 * (gamma + 1.0) / (gamma - 1.0);
    let flow = |m: f64| gamma.sqrt() * m * (1.0 + 0.5 * (gamma - 1.0) * m * m).powf(exponent);
    if function > flow(1.0) {
        return None;
    }
    find_root(0.0, 1.0, 1e-13, |m| flow(m) - function).ok().map(|root| root.x)
}

/// Reynolds number 4ṁ/(π D μ) of `flow` kg/s of air at `t` K in a bore of `bore` m, Sutherland
/// viscosity. `None` unless bore and temperature are positive.
#[must_use]
pub fn reynolds(flow: f64, bore: f64, t: f64) -> Option<f64> {
    all_positive(&[bore]).then_some(())?;
    finite(4.0 * flow.abs() / (PI * bore * viscosity(t)?))
}

/// Fanno parameter f L*/D (Darcy f) from a Mach number to sonic: (1 − M²)/(γM²) + (γ + 1)/(2γ)
/// ln((γ + 1)M²/(2 + (γ − 1)M²)). Source: Shapiro 1953; White, Fluid Mechanics, eq. 9.66. `None`
/// unless M > 0 and γ > 1.
#[must_use]
pub fn fanno_parameter(mach: f64, gamma: f64) -> Option<f64> {
    (all_positive(&[mach]) && gas_like(gamma)).then(|| {
        let square = mach * mach;
        (1.0 - square) / (gamma * square)
            + (gamma + 1.0) / (2.0 * gamma) * ((gamma + 1.0) * square / (2.0 + (gamma - 1.0) * square)).ln()
    })
}

/// Static pressure over that at the sonic end of the same Fanno duct, p/p*. Source: as
/// [`fanno_parameter`].
#[must_use]
pub fn fanno_pressure(mach: f64, gamma: f64) -> Option<f64> {
    let t = temperature_ratio(mach, gamma)?;
    all_positive(&[mach]).then(|| (0.5 * (gamma + 1.0) * t).sqrt() / mach)
}

/// Mach number at the end of an adiabatic duct entered at `inlet` (subsonic), with Darcy factor
/// times length over bore `friction` = f L/D. `None` if the duct chokes or an input is out of
/// range.
#[must_use]
pub fn fanno_outlet_mach(inlet: f64, friction: f64, gamma: f64) -> Option<f64> {
    let left = fanno_parameter(inlet, gamma)? - friction;
    if inlet > 1.0 || friction < 0.0 || left.is_nan() || left < 0.0 {
        return None;
    }
    find_root(inlet, 1.0, 1e-13, |mach| fanno_parameter(mach, gamma).unwrap_or(f64::NAN) - left)
        .ok()
        .map(|root| root.x)
}

/// Density of the reference atmosphere of ISO 6358 (20 degC, 100 kPa, 65 % humidity), kg/m3.
pub const REFERENCE_DENSITY: f64 = 1.185;
/// Temperature of the reference atmosphere of ISO 6358, K.
pub const REFERENCE_TEMPERATURE: f64 = 293.15;

/// A pneumatic component rated by ISO 6358-1:2013.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SonicRating {
    /// Sonic conductance C, m3/(s Pa).
    pub conductance: f64,
    /// Critical back-pressure ratio b, 0 to below 1.
    pub critical_ratio: f64,
    /// Subsonic index m; 0.5 if not measured.
    pub subsonic_index: f64,
}

impl SonicRating {
    /// Mass flow, kg/s, from `p1` Pa and `t1` K to `p2` Pa: C ρ0 p1 √(T0/T1), times (1 − ((r −
    /// b)/(1 − b))²)^m above b. `None` unless 0 < p2 ≤ p1, t1 > 0, C ≥ 0, 0 ≤ b < 1, m > 0.
    #[must_use]
    pub fn flow(&self, p1: f64, t1: f64, p2: f64) -> Option<f64> {
        let b = self.critical_ratio;
        let rated =
            self.conductance >= 0.0 && (0.0..1.0).contains(&b) && all_positive(&[self.subsonic_index]);
        if !rated || !all_positive(&[p1, t1, p2]) || p2 > p1 {
            return None;
        }
        let choked = self.conductance * REFERENCE_DENSITY * p1 * (REFERENCE_TEMPERATURE / t1).sqrt();
        let over = ((p2 / p1 - b) / (1.0 - b)).max(0.0);
        finite(choked * (1.0 - over * over).max(0.0).powf(self.subsonic_index))
    }
}

/// Sonic conductance C, m3/(s Pa), of a nozzle of effective area `area` m2 (area times discharge
/// coefficient) for air with the given γ and R. Source: ISO 6358-1:2013 with the isentropic nozzle.
#[must_use]
pub fn sonic_conductance(area: f64, gamma: f64, r: f64) -> Option<f64> {
    let factor = choked_flow_factor(gamma, r)?;
    (area >= 0.0 && area.is_finite())
        .then(|| area * factor / (REFERENCE_DENSITY * REFERENCE_TEMPERATURE.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn static_state_carries_the_flow_it_was_given() {
        let air = Gas::dry_air();
        for flow in [0.0, 1e-4, 0.1, 0.25, -0.2] {
            let state = static_state(&air, 1.5e5, 320.0, flow, 0.05).unwrap();
            assert!((state.density * state.velocity * bore_area(0.05) - flow).abs() < 1e-9);
            // Energy: total enthalpy is kept, but for the change of cp over the step.
            let total = air.h(state.temperature) + 0.5 * state.velocity * state.velocity;
            assert!((total - air.h(320.0)).abs() < 60.0, "{}", total - air.h(320.0));
        }
    }

    #[test]
    fn a_bore_too_small_is_choked() {
        let air = Gas::dry_air();
        let limit = choked_flow_factor(air.gamma(320.0), air.r()).unwrap() * bore_area(0.02) * 1.5e5
            / 320.0_f64.sqrt();
        assert!(static_state(&air, 1.5e5, 320.0, limit * 0.999, 0.02).is_some());
        assert_eq!(static_state(&air, 1.5e5, 320.0, limit * 1.001, 0.02), None);
        assert_eq!(static_state(&air, 1.5e5, f64::NAN, 0.1, 0.02), None);
    }

    #[test]
    fn smooth_flow_is_continuous_and_zero_at_equal_pressures() {
        let nozzle = Nozzle { area: 1e-4, discharge_coefficient: 0.7, gamma: 1.4, r: 287.05 };
        assert_eq!(nozzle.smooth_flow(1e5, 300.0, 1e5), Some(0.0));
        assert_eq!(nozzle.flow(1e5, 300.0, 1e5), Some(0.0));
        let edge = 1e5 * (1.0 - LINEAR_BAND);
        let (inside, outside) = (
            nozzle.smooth_flow(1e5, 300.0, edge + 1e-6).unwrap(),
            nozzle.flow(1e5, 300.0, edge - 1e-6).unwrap(),
        );
        assert!((inside / outside - 1.0).abs() < 1e-6);
        assert_eq!(nozzle.flow(1e5, 300.0, 1.1e5), None);
        assert_eq!(nozzle.flow(1e5, 300.0, 0.0), None);
    }

    #[test]
    fn a_long_duct_chokes() {
        assert_eq!(fanno_outlet_mach(0.3, 6.0, 1.4), None);
        assert!((fanno_outlet_mach(0.3, 0.0, 1.4).unwrap() - 0.3).abs() < 1e-9);
        assert_eq!(fanno_outlet_mach(f64::NAN, 0.1, 1.4), None);
    }

    #[test]
    fn conductance_and_nozzle_agree_when_choked() {
        let rating = SonicRating {
            conductance: sonic_conductance(1e-5, 1.4, 287.05).unwrap(),
            critical_ratio: 0.528,
            subsonic_index: 0.5,
        };
        let nozzle = Nozzle { area: 1e-5, discharge_coefficient: 1.0, gamma: 1.4, r: 287.05 };
        let (a, b) = (rating.flow(3e5, 340.0, 1e5).unwrap(), nozzle.flow(3e5, 340.0, 1e5).unwrap());
        assert!((a / b - 1.0).abs() < 1e-12);
        assert_eq!(rating.flow(3e5, 340.0, 4e5), None);
    }
}

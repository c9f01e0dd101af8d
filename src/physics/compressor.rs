//! A radial compressor stage: work, similarity, slip, characteristic left of the surge line,
//! margins.

use super::gas::Gas;
use super::{all_positive, finite};

/// Outlet of a compression.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compression {
    /// Outlet temperature, K.
    pub temperature: f64,
    /// Specific work, J/kg.
    pub work: f64,
    /// Outlet temperature of the isentropic compression, K.
    pub isentropic_temperature: f64,
}

/// Outlet of a compression of `gas` from `t1` K by `ratio` with isentropic `efficiency` (above 0,
/// to 1), by enthalpy: h2 = h1 + (h2s − h1)/η. `None` out of range.
///
/// Source: definition of isentropic efficiency; cp varies with temperature.
#[must_use]
pub fn compress(gas: &Gas, t1: f64, ratio: f64, efficiency: f64) -> Option<Compression> {
    if !(efficiency > 0.0 && efficiency <= 1.0) {
        return None;
    }
    let isentropic_temperature = gas.isentropic_temperature(t1, ratio)?;
    let work = (gas.h(isentropic_temperature) - gas.h(t1)) / efficiency;
    Some(Compression { temperature: gas.temperature_from_h(gas.h(t1) + work)?, work, isentropic_temperature })
}

/// Isentropic efficiency from measured total states: (h(T2s) − h(T1))/(h(T2) − h(T1)). `None`
/// unless T2 is above T1 and the inputs are positive. Heat taken up from outside (a hot turbine)
/// makes it too low.
#[must_use]
pub fn efficiency_from_states(gas: &Gas, t1: f64, t2: f64, ratio: f64) -> Option<f64> {
    let ideal = gas.h(gas.isentropic_temperature(t1, ratio)?) - gas.h(t1);
    (t2 > t1).then(|| ideal / (gas.h(t2) - gas.h(t1))).and_then(finite)
}

/// Inlet state a map's flows and speeds are corrected to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReferenceState {
    /// Pressure, Pa.
    pub pressure: f64,
    /// Temperature, K.
    pub temperature: f64,
}

impl ReferenceState {
    fn usable(&self, p1: f64, t1: f64) -> bool {
        all_positive(&[self.pressure, self.temperature, p1, t1])
    }

    /// Corrected flow, kg/s, of `flow` kg/s at inlet `p1` Pa, `t1` K: ṁ √(T1/T_ref)/(p1/p_ref).
    ///
    /// Source: similarity as in SAE J1826 and ISO 5389; Cohen, Rogers & Saravanamuttoo, Gas Turbine
    /// Theory, ch. 4. `None` unless all states are positive.
    #[must_use]
    pub fn corrected_flow(&self, flow: f64, p1: f64, t1: f64) -> Option<f64> {
        self.usable(p1, t1)
            .then(|| flow * (t1 / self.temperature).sqrt() * self.pressure / p1)
            .and_then(finite)
    }

    /// Flow, kg/s, at inlet `p1` Pa, `t1` K of a corrected flow: the inverse of
    /// [`Self::corrected_flow`].
    #[must_use]
    pub fn actual_flow(&self, corrected: f64, p1: f64, t1: f64) -> Option<f64> {
        self.usable(p1, t1)
            .then(|| corrected * (self.temperature / t1).sqrt() * p1 / self.pressure)
            .and_then(finite)
    }

    /// Corrected speed of `speed` at inlet temperature `t1` K: N/√(T1/T_ref), in the unit given.
    #[must_use]
    pub fn corrected_speed(&self, speed: f64, t1: f64) -> Option<f64> {
        self.usable(1.0, t1).then(|| speed * (self.temperature / t1).sqrt()).and_then(finite)
    }

    /// Speed at inlet temperature `t1` K of a corrected speed: the inverse of
    /// [`Self::corrected_speed`].
    #[must_use]
    pub fn actual_speed(&self, corrected: f64, t1: f64) -> Option<f64> {
        self.usable(1.0, t1).then(|| corrected * (t1 / self.temperature).sqrt()).and_then(finite)
    }

    /// The flow, kg/s, that is corrected to `other` what `corrected` is corrected to this state.
    #[must_use]
    pub fn carry_flow(&self, corrected: f64, other: &Self) -> Option<f64> {
        other.corrected_flow(corrected, self.pressure, self.temperature)
    }

    /// The speed corrected to `other` of a speed corrected to this state.
    #[must_use]
    pub fn carry_speed(&self, corrected: f64, other: &Self) -> Option<f64> {
        other.corrected_speed(corrected, self.temperature)
    }
}

/// Slip factor of a wheel with straight radial vanes at the rim, 1 − 0.63 π/Z. `None` below 3
/// vanes.
///
/// Source: Stanitz, Trans. ASME 74 (1952) 473.
#[must_use]
pub fn slip_stanitz(vanes: u32) -> Option<f64> {
    (vanes >= 3).then(|| 1.0 - 0.63 * std::f64::consts::PI / f64::from(vanes))
}

/// Slip factor, 1 − √(cos β)/Z^0.7, β the angle of the vanes at the rim from radial, degrees (0 to
/// below 90).
///
/// Source: Wiesner, J. Eng. Power 89 (1967) 558. `None` out of range.
#[must_use]
pub fn slip_wiesner(vanes: u32, backsweep: f64) -> Option<f64> {
    (vanes >= 3 && (0.0..90.0).contains(&backsweep))
        .then(|| 1.0 - backsweep.to_radians().cos().sqrt() / f64::from(vanes).powf(0.7))
}

/// Specific work, J/kg, of a wheel with straight radial vanes and no swirl ahead: ψ σ U².
///
/// `power_input_factor` ψ (disc friction), `slip` σ, `tip_speed` U m/s. Source: Cohen, Rogers &
/// Saravanamuttoo, ch. 4.
#[must_use]
pub fn wheel_work(tip_speed: f64, slip: f64, power_input_factor: f64) -> Option<f64> {
    finite(power_input_factor * slip * tip_speed * tip_speed)
}

/// Pressure ratio from specific work with constant cp and γ: (1 + η w/(cp T1))^(γ/(γ − 1)). `None`
/// if not a number.
#[must_use]
pub fn ratio_from_work(work: f64, efficiency: f64, t1: f64, cp: f64, gamma: f64) -> Option<f64> {
    (all_positive(&[t1, cp]) && gamma > 1.0)
        .then(|| (1.0 + efficiency * work / (cp * t1)).powf(gamma / (gamma - 1.0)))
        .and_then(finite)
}

/// Root mean square radius of the inducer, m: √((r_hub² + r_tip²)/2).
#[must_use]
pub fn mean_inducer_radius(hub: f64, tip: f64) -> Option<f64> {
    (hub >= 0.0 && tip > hub && tip.is_finite()).then(|| ((hub * hub + tip * tip) / 2.0).sqrt())
}

/// Pressure ratio at no flow: the gas turns with the wheel from `inducer` to `tip` radius (m) at
/// `omega` rad/s, [1 + (r2² − r1²) ω²/(2 cp T1)]^(γ/(γ − 1)). `None` out of range.
///
/// Source: radial equilibrium; Gravdahl & Egeland, IEEE Trans. Control Syst. Technol. 7 (1999) 567,
/// with r1 the root mean square radius of the inducer ([`mean_inducer_radius`]).
#[must_use]
pub fn zero_flow_ratio(inducer: f64, tip: f64, omega: f64, t1: f64, cp: f64, gamma: f64) -> Option<f64> {
    if !(inducer >= 0.0 && tip >= inducer && omega.is_finite()) {
        return None;
    }
    ratio_from_work((tip * tip - inducer * inducer) * omega * omega / 2.0, 1.0, t1, cp, gamma)
}

/// Moore and Greitzer's cubic, a compressor characteristic from no flow through its peak, in
/// coefficients of flow and pressure rise: ψ0 + H (1 + 3/2 (Φ/W − 1) − 1/2 (Φ/W − 1)³).
///
/// Source: Moore & Greitzer, J. Eng. Gas Turb. Power 108 (1986) 68.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CubicCharacteristic {
    /// Value at no flow, ψ0.
    pub shut_off: f64,
    /// Half of the rise from no flow to the peak, H.
    pub half_height: f64,
    /// Half of the flow coefficient at the peak, W; positive.
    pub half_width: f64,
}

impl CubicCharacteristic {
    /// Pressure rise coefficient at flow coefficient `flow`.
    #[must_use]
    pub fn at(&self, flow: f64) -> f64 {
        let z = flow / self.half_width - 1.0;
        self.shut_off + self.half_height * (1.0 + 1.5 * z - 0.5 * z * z * z)
    }

    /// Slope of the pressure rise coefficient over the flow coefficient.
    #[must_use]
    pub fn slope(&self, flow: f64) -> f64 {
        let z = flow / self.half_width - 1.0;
        1.5 * self.half_height / self.half_width * (1.0 - z * z)
    }
}

/// Pressure ratio between no flow and the surge point, `share` = ṁ/ṁ_s (held to 0 to 1): PR0 +
/// (PR_s − PR0)(3z² − 2z³), the cubic of [`CubicCharacteristic`] through both points with level
/// ends.
#[must_use]
pub fn ratio_left_of_surge(zero_flow: f64, at_surge: f64, share: f64) -> f64 {
    let z = share.clamp(0.0, 1.0);
    zero_flow + (at_surge - zero_flow) * z * z * (3.0 - 2.0 * z)
}

/// Outlet pressure, Pa, with reverse flow: p1 PR0 + ξ ṁ²/(2 ρ2 A1²).
///
/// `resistance` is ξ on the dynamic pressure of density `rho2` kg/m3 in the inducer area `area` m2.
/// (choice: 30 is usual here, 10 to 60 plausible; no published value known to us.) `None` unless
/// density and area are positive.
#[must_use]
pub fn reverse_flow_pressure(
    p1: f64,
    zero_flow: f64,
    flow: f64,
    resistance: f64,
    rho2: f64,
    area: f64,
) -> Option<f64> {
    all_positive(&[rho2, area])
        .then(|| p1 * zero_flow + resistance * flow * flow / (2.0 * rho2 * area * area))
        .and_then(finite)
}

/// Distance to surge at constant pressure ratio: (ṁ − ṁ_s)/ṁ. `None` unless the flow is positive.
#[must_use]
pub fn surge_margin_at_ratio(flow: f64, surge_flow: f64) -> Option<f64> {
    all_positive(&[flow]).then(|| (flow - surge_flow) / flow).and_then(finite)
}

/// Distance to surge at constant corrected flow: (PR_s − PR)/(PR − 1). `None` unless the ratio is
/// above 1.
#[must_use]
pub fn surge_margin_at_flow(ratio: f64, surge_ratio: f64) -> Option<f64> {
    (ratio > 1.0).then(|| (surge_ratio - ratio) / (ratio - 1.0)).and_then(finite)
}

/// Distance to surge at constant speed: (PR_s/ṁ_s)/(PR/ṁ) − 1. `None` unless all are positive.
#[must_use]
pub fn surge_margin_at_speed(flow: f64, ratio: f64, surge_flow: f64, surge_ratio: f64) -> Option<f64> {
    all_positive(&[flow, ratio, surge_flow, surge_ratio])
        .then(|| surge_ratio / surge_flow * flow / ratio - 1.0)
        .and_then(finite)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ISO: ReferenceState = ReferenceState { pressure: 101_325.0, temperature: 288.15 };

    #[test]
    fn correction_is_undone_by_its_inverse() {
        let corrected = ISO.corrected_flow(0.2, 9e4, 310.0).unwrap();
        assert!((ISO.actual_flow(corrected, 9e4, 310.0).unwrap() - 0.2).abs() < 1e-15);
        let speed = ISO.corrected_speed(1.2e4, 310.0).unwrap();
        assert!((ISO.actual_speed(speed, 310.0).unwrap() - 1.2e4).abs() < 1e-9);
        let other = ReferenceState { pressure: 1e5, temperature: 298.15 };
        // One physical state corrected two ways.
        let (a, b) =
            (ISO.corrected_flow(0.2, 9e4, 310.0).unwrap(), other.corrected_flow(0.2, 9e4, 310.0).unwrap());
        assert!((ISO.carry_flow(a, &other).unwrap() - b).abs() < 1e-15);
        assert_eq!(ISO.corrected_flow(0.2, 0.0, 310.0), None);
    }

    #[test]
    fn efficiency_undoes_compress() {
        let air = Gas::dry_air();
        let outlet = compress(&air, 295.0, 2.4, 0.71).unwrap();
        let efficiency = efficiency_from_states(&air, 295.0, outlet.temperature, 2.4).unwrap();
        assert!((efficiency - 0.71).abs() < 1e-10);
        assert_eq!(compress(&air, 295.0, 2.4, 0.0), None);
        assert_eq!(efficiency_from_states(&air, 295.0, 295.0, 2.4), None);
    }

    #[test]
    fn the_blend_to_no_flow_meets_its_ends_and_is_moore_and_greitzers() {
        assert_eq!(ratio_left_of_surge(1.4, 2.0, 0.0), 1.4);
        assert_eq!(ratio_left_of_surge(1.4, 2.0, 1.0), 2.0);
        let cubic = CubicCharacteristic { shut_off: 1.4, half_height: 0.3, half_width: 0.5 };
        assert!((ratio_left_of_surge(1.4, 2.0, 0.3) - cubic.at(0.3)).abs() < 1e-12);
        assert!(cubic.slope(1.0).abs() < 1e-12 && cubic.slope(0.0).abs() < 1e-12);
    }

    #[test]
    fn margins_vanish_on_the_surge_line() {
        assert_eq!(surge_margin_at_ratio(0.1, 0.1), Some(0.0));
        assert_eq!(surge_margin_at_flow(2.0, 2.0), Some(0.0));
        assert!(surge_margin_at_speed(0.1, 2.0, 0.1, 2.0).unwrap().abs() < 1e-12);
        assert_eq!(surge_margin_at_ratio(0.0, 0.1), None);
        assert_eq!(surge_margin_at_flow(1.0, 2.0), None);
    }

    #[test]
    fn out_of_range_gives_none() {
        assert_eq!(zero_flow_ratio(0.03, 0.02, 1e4, 300.0, 1005.0, 1.4), None);
        assert_eq!(slip_stanitz(0), None);
        assert_eq!(slip_wiesner(10, 95.0), None);
        assert_eq!(mean_inducer_radius(0.02, 0.01), None);
        assert_eq!(reverse_flow_pressure(1e5, 1.3, -0.1, 30.0, 0.0, 1e-3), None);
    }
}

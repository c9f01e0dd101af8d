//! What an engine takes in.

use super::{all_positive, finite};

/// Revolutions of the crankshaft for one filling of the cylinders.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cycle {
    /// One filling in two revolutions.
    FourStroke,
    /// One filling in each revolution.
    TwoStroke,
}

impl Cycle {
    /// Revolutions for each filling.
    #[must_use]
    pub fn revolutions(self) -> f64 {
        match self {
            Self::FourStroke => 2.0,
            Self::TwoStroke => 1.0,
        }
    }
}

/// Mass flow of mixture into an engine, kg/s: ηv V_d N/n p/(R T).
///
/// `efficiency` volumetric, `displacement` m3, `speed` revolutions per second, manifold `p` Pa and `t` K, `r`
/// J/(kg K) of the mixture. Source: Heywood, Internal Combustion Engine Fundamentals (1988), eq.
/// 2.27. `None` unless all are positive.
#[must_use]
pub fn mixture_flow(
    efficiency: f64,
    displacement: f64,
    speed: f64,
    p: f64,
    t: f64,
    r: f64,
    cycle: Cycle,
) -> Option<f64> {
    all_positive(&[efficiency, displacement, speed, p, t, r])
        .then(|| efficiency * displacement * speed / cycle.revolutions() * p / (r * t))
        .and_then(finite)
}

/// Volumetric efficiency that a mixture flow means: the inverse of [`mixture_flow`].
#[must_use]
pub fn volumetric_efficiency(
    flow: f64,
    displacement: f64,
    speed: f64,
    p: f64,
    t: f64,
    r: f64,
    cycle: Cycle,
) -> Option<f64> {
    finite(flow / mixture_flow(1.0, displacement, speed, p, t, r, cycle)?)
}

/// Factor on volumetric efficiency for exhaust pressure: 1 − (p_e/p_i − 1)/(γ (r − 1)), not below
/// zero.
///
/// `exhaust`, `intake` Pa, `compression_ratio` above 1, `gamma` of the residual gas. Source: ideal
/// cycle; Taylor, The Internal-Combustion Engine in Theory and Practice, vol. 1, ch. 6 (from
/// memory). `None` out of range.
#[must_use]
pub fn exhaust_pressure_factor(exhaust: f64, intake: f64, compression_ratio: f64, gamma: f64) -> Option<f64> {
    (all_positive(&[exhaust, intake]) && compression_ratio > 1.0 && gamma > 1.0)
        .then(|| (1.0 - (exhaust / intake - 1.0) / (gamma * (compression_ratio - 1.0))).max(0.0))
        .and_then(finite)
}

/// Factor on volumetric efficiency of a throttled engine with residual gas: 1 from site pressure
/// up, else (r − (p_site/p_man)^(1/1.3))/(r − 1), not below zero.
///
/// Source: ideal four-stroke cycle with residual gas; Heywood 1988, ch. 5. `None` unless pressures
/// are positive and r > 1.
#[must_use]
pub fn throttled_factor(manifold: f64, site: f64, compression_ratio: f64) -> Option<f64> {
    if !(all_positive(&[manifold, site]) && compression_ratio > 1.0 && compression_ratio.is_finite()) {
        return None;
    }
    if manifold >= site {
        return Some(1.0);
    }
    let residual = (site / manifold).powf(1.0 / 1.3);
    Some(((compression_ratio - residual) / (compression_ratio - 1.0)).max(0.0))
}

/// Pressure, Pa, and temperature, K, at the end of a compression stroke: p r^n and T r^(n − 1).
///
/// `p` Pa and `t` K at its beginning, `ratio` of compression above 1, `exponent` n above 1. Source: polytropic change of an
/// ideal gas. `None` out of range.
#[must_use]
pub fn compressed(p: f64, t: f64, ratio: f64, exponent: f64) -> Option<(f64, f64)> {
    (all_positive(&[p, t, ratio, exponent]) && ratio > 1.0 && exponent > 1.0)
        .then(|| (p * ratio.powf(exponent), t * ratio.powf(exponent - 1.0)))
}

/// Delay, s, until a mixture of petrol and air lights itself: 17.68 ms (ON/100)^3.402 (p/1 atm)^−1.7 exp(3800 K/T).
///
/// `octane` number ON, fitted from 80 to 100 and carried on from 60 to 130; `p` Pa and `t` K of the mixture. It ranks states of one
/// engine better than it foretells knock. Source: Douaud & Eyzat, Four-Octane-Number Method for Predicting the
/// Anti-Knock Behavior of Fuels and Engines, SAE 780080 (1978), from memory. `None` out of range.
#[must_use]
pub fn self_ignition_delay(octane: f64, p: f64, t: f64) -> Option<f64> {
    ((60.0..=130.0).contains(&octane) && all_positive(&[p, t]))
        .then(|| 17.68e-3 * (octane / 100.0).powf(3.402) * (p / 101_325.0).powf(-1.7) * (3800.0 / t).exp())
        .and_then(finite)
}

/// Stoichiometric mass of air to a mass of fuel C_c H_h O_o:
/// (c + h/4 − o/2)(31.998 + 3.773 · 28.16)/(12.011 c + 1.008 h + 15.999 o).
///
/// Source: Heywood 1988, eq. 3.6 and table D.4 (air as O2 with 3.773 of atmospheric nitrogen).
/// `None` unless the fuel needs air.
#[must_use]
pub fn stoichiometric_ratio(carbon: f64, hydrogen: f64, oxygen: f64) -> Option<f64> {
    if !(carbon >= 0.0 && hydrogen >= 0.0 && oxygen >= 0.0) {
        return None;
    }
    let air = (carbon + hydrogen / 4.0 - oxygen / 2.0) * (31.998 + 3.773 * 28.16);
    finite(air / (12.011 * carbon + 1.008 * hydrogen + 15.999 * oxygen)).filter(|ratio| *ratio > 0.0)
}

/// Stoichiometric ratio of a blend of fuels, each given as share of volume, density kg/m3 and own
/// ratio: mean by mass. `None` if shares or densities are negative, or all are zero.
#[must_use]
pub fn blend_ratio(parts: &[(f64, f64, f64)]) -> Option<f64> {
    if parts.iter().any(|(volume, density, _)| !(*volume >= 0.0 && *density >= 0.0)) {
        return None;
    }
    let mass: f64 = parts.iter().map(|(volume, density, _)| volume * density).sum();
    let air: f64 = parts.iter().map(|(volume, density, ratio)| volume * density * ratio).sum();
    finite(air / mass)
}

/// Density of the charge, kg/m3: p/(RT). `None` unless all are positive.
#[must_use]
pub fn charge_density(p: f64, t: f64, r: f64) -> Option<f64> {
    all_positive(&[p, t, r]).then(|| p / (r * t)).and_then(finite)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn efficiency_undoes_flow() {
        let flow = mixture_flow(0.93, 2e-3, 4000.0, 1.8e5, 320.0, 287.0, Cycle::FourStroke).unwrap();
        let efficiency =
            volumetric_efficiency(flow, 2e-3, 4000.0, 1.8e5, 320.0, 287.0, Cycle::FourStroke).unwrap();
        assert!((efficiency - 0.93).abs() < 1e-12);
        assert_eq!(mixture_flow(0.93, 0.0, 4000.0, 1.8e5, 320.0, 287.0, Cycle::FourStroke), None);
    }

    #[test]
    fn factors_are_one_without_cause_and_never_negative() {
        assert_eq!(exhaust_pressure_factor(1e5, 1e5, 10.0, 1.3), Some(1.0));
        assert!(exhaust_pressure_factor(2e5, 1e5, 10.0, 1.3).unwrap() < 1.0);
        assert_eq!(throttled_factor(1.2e5, 1e5, 10.0), Some(1.0));
        assert!((throttled_factor(0.999_999_9e5, 1e5, 10.0).unwrap() - 1.0).abs() < 1e-6);
        assert_eq!(throttled_factor(2e3, 1e5, 10.0), Some(0.0));
        assert_eq!(throttled_factor(2e3, 1e5, 1.0), None);
    }

    #[test]
    fn what_does_not_burn_has_no_ratio() {
        assert_eq!(stoichiometric_ratio(1.0, 0.0, 2.0), None, "carbon dioxide");
        assert_eq!(stoichiometric_ratio(0.0, 0.0, 0.0), None);
        assert_eq!(blend_ratio(&[]), None);
    }

    #[test]
    fn a_charge_lights_itself_when_a_hand_says() {
        // 95 octane at 40 atm and 900 K: 17.68 ms x 0.8399 x 1.891e-3 x 68.2 = 1.914 ms.
        let delay = self_ignition_delay(95.0, 40.0 * 101_325.0, 900.0).unwrap();
        assert!((delay / 1.914e-3 - 1.0).abs() < 1e-3, "{delay}");
        assert_eq!(self_ignition_delay(0.0, 4e6, 900.0), None);
        // A tenth of the volume: 10^1.3 times the pressure, 10^0.3 the temperature.
        let (p, t) = compressed(1e5, 300.0, 10.0, 1.3).unwrap();
        assert!((p / 19.953e5 - 1.0).abs() < 1e-4 && (t / 598.58 - 1.0).abs() < 1e-4, "{p} {t}");
        assert_eq!(compressed(1e5, 300.0, 1.0, 1.3), None);
    }
}

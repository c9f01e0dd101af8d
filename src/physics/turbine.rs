//! A turbine, as far as it drives a compressor: power, swallowing capacity, the gate round it.
//!
//! Exhaust is a gas of constant properties ([`CP`], [`GAMMA`]), the values handbooks use for products of combustion:
//! Cohen, Rogers & Saravanamuttoo, Gas Turbine Theory, ch. 2. Pressures are absolute, ahead total, behind static.

use super::flow::{Nozzle, choked_flow_factor};
use super::numeric::find_root;
use super::{all_positive, finite};

/// Specific heat capacity of exhaust at constant pressure, J/(kg K).
pub const CP: f64 = 1148.0;
/// Ratio of the heat capacities of exhaust.
pub const GAMMA: f64 = 1.333;
/// Specific gas constant of exhaust, J/(kg K).
pub const R: f64 = CP * (GAMMA - 1.0) / GAMMA;

/// Share of its temperature that a gas would give up over an expansion without loss: 1 − π^(−(γ−1)/γ).
fn ideal_share(ratio: f64) -> f64 {
    -((-(GAMMA - 1.0) / GAMMA) * ratio.ln()).exp_m1()
}

/// Fall of temperature over a turbine, K: η T3 (1 − π^(−(γ−1)/γ)).
///
/// `t3` K ahead, `ratio` the expansion ratio, at least 1, `efficiency` 0 to 1. Source: Cohen, Rogers & Saravanamuttoo, ch.
/// 2. `None` out of range.
#[must_use]
pub fn temperature_drop(t3: f64, ratio: f64, efficiency: f64) -> Option<f64> {
    (all_positive(&[t3, efficiency]) && ratio >= 1.0 && efficiency <= 1.0)
        .then(|| efficiency * t3 * ideal_share(ratio))
        .and_then(finite)
}

/// Expansion ratio at which a flow gives a power: [1 − P/(ṁ cp T3 η)]^(−γ/(γ−1)).
///
/// `power` W, `flow` kg/s, `t3` K; `efficiency` that of the turbine times that of the bearings. Source: Watson & Janota,
/// Turbocharging the Internal Combustion Engine (1982), ch. 2. `None` where no expansion gives it, or out of range.
#[must_use]
pub fn ratio_for_power(power: f64, flow: f64, t3: f64, efficiency: f64) -> Option<f64> {
    if !(power >= 0.0 && all_positive(&[flow, t3, efficiency])) {
        return None;
    }
    let share = power / (flow * CP * t3 * efficiency);
    (share < 1.0).then(|| (1.0 - share).powf(-GAMMA / (GAMMA - 1.0))).and_then(finite)
}

/// How near a pressure ahead of a turbine is found, as a share of the pressure behind: well below what the passes over the
/// engine's filling ask for, which would not settle otherwise.
const NEARNESS: f64 = 1e-11;

/// What a turbine swallows, taken as one nozzle that chokes (choice: its two rows of blades choke at a larger expansion
/// ratio than one nozzle does).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Capacity {
    nozzle: Nozzle,
}

impl Capacity {
    /// From the flow, kg/s, that it swallows choked from `pressure` Pa and `temperature` K. `None` unless positive.
    #[must_use]
    pub fn new(flow: f64, pressure: f64, temperature: f64) -> Option<Self> {
        if !all_positive(&[flow, pressure, temperature]) {
            return None;
        }
        let area = flow * temperature.sqrt() / (pressure * choked_flow_factor(GAMMA, R)?);
        Some(Self { nozzle: Nozzle { area, discharge_coefficient: 1.0, gamma: GAMMA, r: R } })
    }

    /// Flow, kg/s, from `p3` Pa and `t3` K to `p4` Pa; `None` out of range.
    #[must_use]
    pub fn flow(&self, p3: f64, t3: f64, p4: f64) -> Option<f64> {
        self.nozzle.flow(p3, t3, p4)
    }

    /// Pressure ahead, Pa, that drives a flow through; `None` out of range.
    #[must_use]
    pub fn pressure_for(&self, flow: f64, t3: f64, p4: f64) -> Option<f64> {
        if !(flow >= 0.0 && all_positive(&[t3, p4])) {
            return None;
        }
        // Choked it is proportional to the flow; whatever the flow, twice the pressure behind chokes it.
        let choked = flow * t3.sqrt() / (self.nozzle.area * choked_flow_factor(GAMMA, R)?);
        let high = choked.max(2.0 * p4);
        find_root(p4, high, NEARNESS * p4, |p3| self.flow(p3, t3, p4).unwrap_or(f64::NAN) - flow)
            .ok()
            .map(|root| root.x)
    }
}

/// How a turbine stands at a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    /// Pressure ahead of it, Pa.
    pub p3: f64,
    /// Flow through it, kg/s; the rest of the exhaust goes round it.
    pub flow: f64,
    /// Power that it gives, W: what is asked for, or the most there is.
    pub power: f64,
}

/// A fixed turbine that gives a power from a part of an exhaust flow; where all of it gives less, what all of it gives.
///
/// `power` W, `exhaust` kg/s, `t3` K, `p4` Pa behind. Equations as in [`ratio_for_power`] and [`Capacity::flow`]; both grow
/// with the pressure ahead. `None` out of range.
#[must_use]
pub fn balance(
    capacity: &Capacity,
    efficiency: f64,
    power: f64,
    exhaust: f64,
    t3: f64,
    p4: f64,
) -> Option<Balance> {
    let at = |p3: f64| -> Option<Balance> {
        let flow = capacity.flow(p3, t3, p4)?;
        Some(Balance { p3, flow, power: flow * CP * temperature_drop(t3, p3 / p4, efficiency)? })
    };
    let most = at(capacity.pressure_for(exhaust, t3, p4)?)?;
    if most.power <= power {
        return Some(Balance { flow: exhaust, ..most });
    }
    let short = |p3: f64| at(p3).map_or(f64::NAN, |balance| balance.power) - power;
    at(find_root(p4, most.p3, NEARNESS * p4, short).ok()?.x)
}

/// Pieces into which the way of a rotor is cut.
const PIECES: u32 = 200;

/// Time, s, that a rotor takes from one speed to another: ∫ E'(n)/P(n) dn by Simpson's rule, n its speed over any unit.
///
/// `at` gives at a speed what has to be stored for each unit of it, J (of a rotor alone J n times the unit's square), and the power left
/// over for it, W. Source: Newton's second law, as in Watson & Janota, Turbocharging the Internal Combustion Engine (1982), on
/// the response of turbochargers. `None` where nothing is left over, or out of range.
#[must_use]
pub fn run_up(from: f64, to: f64, at: impl Fn(f64) -> Option<(f64, f64)>) -> Option<f64> {
    let width = (to - from) / f64::from(PIECES);
    let mut sum = 0.0;
    for i in 0..=PIECES {
        let (stored, left) = at(from + f64::from(i) * width)?;
        if left <= 0.0 {
            return None;
        }
        let weight = match i {
            0 | PIECES => 1.0,
            odd if odd % 2 == 1 => 4.0,
            _ => 2.0,
        };
        sum += weight * stored / left;
    }
    (width >= 0.0).then(|| sum * width / 3.0).and_then(finite)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn capacity() -> Capacity {
        Capacity::new(0.16, 101_325.0, 288.15).unwrap()
    }

    #[test]
    fn choked_it_swallows_what_it_is_said_to() {
        let flow = capacity().flow(101_325.0, 288.15, 20_000.0).unwrap();
        assert!((flow - 0.16).abs() < 1e-12);
        for flow in [0.01, 0.08, 0.2] {
            let p3 = capacity().pressure_for(flow, 1000.0, 1e5).unwrap();
            assert!((capacity().flow(p3, 1000.0, 1e5).unwrap() / flow - 1.0).abs() < 1e-4, "{flow}");
        }
    }

    /// A rotor alone under one power: J (ω2² − ω1²)/(2 P).
    #[test]
    fn a_rotor_runs_up_as_its_energy_says() {
        let time = run_up(4000.0, 12_000.0, |speed| Some((5e-5 * speed, 8e3))).unwrap();
        let exact = 5e-5 * (12_000.0_f64.powi(2) - 4000.0_f64.powi(2)) / (2.0 * 8e3);
        assert!((time / exact - 1.0).abs() < 1e-12, "{time}");
        assert_eq!(run_up(1.0, 2.0, |speed| Some((1.0, 1.5 - speed))), None, "it comes to rest on the way");
    }

    #[test]
    fn power_and_ratio_are_each_others_inverse() {
        let ratio = ratio_for_power(18_000.0, 0.2, 1150.0, 0.65).unwrap();
        let power = 0.2 * CP * temperature_drop(1150.0, ratio, 0.65).unwrap();
        assert!((power / 18_000.0 - 1.0).abs() < 1e-12);
        assert_eq!(ratio_for_power(1e6, 0.2, 1150.0, 0.65), None, "more than the gas holds");
    }

    #[test]
    fn what_goes_round_grows_as_less_power_is_asked_for() {
        let mut last = 1.0;
        for power in [25e3, 15e3, 8e3, 2e3] {
            let found = balance(&capacity(), 0.65, power, 0.2, 1100.0, 1.05e5).unwrap();
            assert!((found.power / power - 1.0).abs() < 1e-4, "{power}: {}", found.power);
            let share = found.flow / 0.2;
            assert!(share < last);
            last = share;
        }
        let most = balance(&capacity(), 0.65, 1e6, 0.2, 1100.0, 1.05e5).unwrap();
        assert_eq!(most.flow, 0.2);
        assert!(most.power < 1e6);
    }
}

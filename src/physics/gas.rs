//! Thermally perfect gas mixtures: heat capacity varies with temperature, p = ρRT holds.

use super::species::{Coefficients, enthalpy, entropy, heat_capacity};
use super::{all_positive, finite};

pub use super::species::{Species, UNIVERSAL_GAS_CONSTANT};

/// Temperature at which [`Gas::h`] is zero, K.
pub const ENTHALPY_DATUM: f64 = 298.15;

/// Lowest temperature of the polynomials, K. Below it cp is held.
pub const LOWEST_TEMPERATURE: f64 = 200.0;
/// Highest temperature of the polynomials, K. Above it cp is held.
pub const HIGHEST_TEMPERATURE: f64 = 6000.0;
/// Where the two sets of polynomials meet, K.
const RANGE_LIMIT: f64 = 1000.0;

/// Composition of dry air by amount of substance: U.S. Standard Atmosphere 1976, table 3, with 400
/// ppm of CO2 (the value at which CIPM-2007 gives its density of air).
const DRY_AIR: [(Species, f64); 4] = [
    (Species::Nitrogen, 0.780_84),
    (Species::Oxygen, 0.209_46),
    (Species::Argon, 0.009_34),
    (Species::CarbonDioxide, 0.000_4),
];

/// A vapour by its molar mass and a cubic of its heat capacity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vapour {
    /// Molar mass, kg/mol.
    pub molar_mass: f64,
    /// Coefficients a to d of cp = a + b T + c T² + d T³, J/(mol K).
    pub heat_capacity: [f64; 4],
}

/// A mixture of gases with its polynomials combined once, so that properties cost one evaluation.
///
/// Valid from 200 to 6000 K; outside, cp is held at the value of the nearer end, so that every
/// property stays monotone and finite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    r: f64,
    low: Coefficients,
    high: Coefficients,
}

impl Gas {
    /// Mixture of the given mass shares, which are scaled to sum to 1.
    ///
    /// `None` if a share is negative or not finite, or all are zero.
    #[must_use]
    pub fn mixture(mass_shares: &[(Species, f64)]) -> Option<Self> {
        let total: f64 = mass_shares.iter().map(|(_, share)| share).sum();
        let all_valid = mass_shares.iter().all(|(_, share)| share.is_finite() && *share >= 0.0);
        (all_valid && all_positive(&[total])).then(|| Self::combine(mass_shares, total))
    }

    /// Dry air: N2 0.78084, O2 0.20946, Ar 0.00934, CO2 0.0004 by amount; R = 287.05 J/(kg K).
    #[must_use]
    pub fn dry_air() -> Self {
        let shares = DRY_AIR.map(|(species, amount)| (species, amount * species.molar_mass()));
        let total = shares.iter().map(|(_, share)| share).sum();
        Self::combine(&shares, total)
    }

    /// Dry air with `humidity_ratio` kg of water vapour to each kg of dry air. `None` if negative
    /// or not finite.
    #[must_use]
    pub fn moist_air(humidity_ratio: f64) -> Option<Self> {
        let dry = DRY_AIR.map(|(species, amount)| (species, amount * species.molar_mass()));
        let dry_mass: f64 = dry.iter().map(|(_, share)| share).sum();
        let mut shares = dry.to_vec();
        shares.push((Species::Water, humidity_ratio * dry_mass));
        Self::mixture(&shares)
    }

    fn combine(mass_shares: &[(Species, f64)], total: f64) -> Self {
        let mut gas = Self { r: 0.0, low: [0.0; 9], high: [0.0; 9] };
        for &(species, share) in mass_shares {
            let r = share / total * UNIVERSAL_GAS_CONSTANT / species.molar_mass();
            gas.r += r;
            for (sum, a) in gas.low.iter_mut().zip(species.low()) {
                *sum += r * a;
            }
            for (sum, a) in gas.high.iter_mut().zip(species.high()) {
                *sum += r * a;
            }
        }
        gas.close();
        gas
    }

    /// This gas with `share` kg of a vapour to each kg of it. `None` if the share is negative or not finite, or the
    /// molar mass is not positive.
    #[must_use]
    pub fn with_vapour(&self, vapour: &Vapour, share: f64) -> Option<Self> {
        if !(share >= 0.0 && share.is_finite() && all_positive(&[vapour.molar_mass])) {
            return None;
        }
        let [a, b, c, d] = vapour.heat_capacity.map(|term| term / UNIVERSAL_GAS_CONSTANT);
        let r = UNIVERSAL_GAS_CONSTANT / vapour.molar_mass;
        let own: Coefficients = [0.0, 0.0, a, b, c, d, 0.0, 0.0, 0.0].map(|term| r * term);
        let mix = |air: &Coefficients| -> Coefficients {
            std::array::from_fn(|i| {
                let (air, own) = (air.get(i).unwrap_or(&0.0), own.get(i).unwrap_or(&0.0));
                (air + share * own) / (1.0 + share)
            })
        };
        let mut gas =
            Self { r: (self.r + share * r) / (1.0 + share), low: mix(&self.low), high: mix(&self.high) };
        gas.close();
        Some(gas)
    }

    /// Sets the datum of enthalpy, and closes what the published sets leave open where they meet, at 1000 K to about six
    /// digits, so that h and s0 are continuous.
    fn close(&mut self) {
        self.low[7] -= enthalpy(&self.low, ENTHALPY_DATUM);
        self.high[7] += enthalpy(&self.low, RANGE_LIMIT) - enthalpy(&self.high, RANGE_LIMIT);
        self.high[8] += entropy(&self.low, RANGE_LIMIT) - entropy(&self.high, RANGE_LIMIT);
    }

    /// Specific gas constant R, J/(kg K).
    #[must_use]
    pub fn r(&self) -> f64 {
        self.r
    }

    fn set(&self, t: f64) -> &Coefficients {
        if t <= RANGE_LIMIT { &self.low } else { &self.high }
    }

    /// Specific heat capacity at constant pressure, J/(kg K), at `t` K (held outside 200 to 6000
    /// K).
    ///
    /// Source: polynomials of NASA/TP-2002-211556.
    #[must_use]
    pub fn cp(&self, t: f64) -> f64 {
        let held = t.clamp(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE);
        heat_capacity(self.set(held), held)
    }

    /// Specific enthalpy, J/kg, at `t` K; zero at 298.15 K (heats of formation left out).
    #[must_use]
    pub fn h(&self, t: f64) -> f64 {
        let held = t.clamp(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE);
        let inside = enthalpy(self.set(held), held);
        if held == t { inside } else { inside + self.cp(held) * (t - held) }
    }

    /// Temperature part of the specific entropy, J/(kg K), at `t` K: s = s0(T) − R ln p. Only
    /// differences count. `None` unless `t` is positive.
    #[must_use]
    pub fn s0(&self, t: f64) -> Option<f64> {
        if !all_positive(&[t]) {
            return None;
        }
        let held = t.clamp(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE);
        let inside = entropy(self.set(held), held);
        finite(inside + self.cp(held) * (t / held).ln())
    }

    /// Ratio of heat capacities cp/(cp − R) at `t` K.
    #[must_use]
    pub fn gamma(&self, t: f64) -> f64 {
        let cp = self.cp(t);
        cp / (cp - self.r)
    }

    /// Speed of sound √(γRT), m/s, at `t` K. `None` unless `t` is positive.
    #[must_use]
    pub fn sound_speed(&self, t: f64) -> Option<f64> {
        all_positive(&[t]).then(|| (self.gamma(t) * self.r * t).sqrt())
    }

    /// Density p/(RT), kg/m3, at `p` Pa and `t` K. `None` unless both are positive.
    #[must_use]
    pub fn density(&self, p: f64, t: f64) -> Option<f64> {
        all_positive(&[p, t]).then(|| p / (self.r * t)).and_then(finite)
    }

    /// Temperature, K, of the specific enthalpy `h` J/kg (datum as [`Gas::h`]). `None` if it would
    /// not be positive.
    #[must_use]
    pub fn temperature_from_h(&self, h: f64) -> Option<f64> {
        let start = ENTHALPY_DATUM + finite(h)? / self.cp(ENTHALPY_DATUM);
        newton(start.max(1.0), |t| (self.h(t) - h, self.cp(t)))
    }

    /// Temperature, K, after an isentropic change from `t1` K by the pressure ratio `ratio` =
    /// p2/p1: s0(T2) = s0(T1) + R ln(p2/p1). `None` unless both are positive.
    #[must_use]
    pub fn isentropic_temperature(&self, t1: f64, ratio: f64) -> Option<f64> {
        if !all_positive(&[t1, ratio]) {
            return None;
        }
        let target = self.s0(t1)? + self.r * ratio.ln();
        let start = t1 * ratio.powf(self.r / self.cp(t1));
        newton(start, |t| (self.s0(t).unwrap_or(f64::NAN) - target, self.cp(t) / t))
    }

    /// Pressure ratio p2/p1 of an isentropic change from `t1` to `t2` K: exp((s0(T2) − s0(T1))/R).
    /// `None` unless both are positive.
    #[must_use]
    pub fn isentropic_ratio(&self, t1: f64, t2: f64) -> Option<f64> {
        finite(((self.s0(t2)? - self.s0(t1)?) / self.r).exp())
    }
}

/// Dynamic viscosity of air, Pa s, at `t` K by Sutherland's law, 1.458e-6 T^1.5/(T + 110.4). `None`
/// unless positive.
///
/// Source: U.S. Standard Atmosphere 1976, eq. 51. Within 1 % of measured tables below 500 K, 2 %
/// low at 600 K. Humidity changes it by less than 1 % at the humidities of a site and is left out.
#[must_use]
pub fn viscosity(t: f64) -> Option<f64> {
    all_positive(&[t]).then(|| 1.458e-6 * t * t.sqrt() / (t + 110.4))
}

/// Newton's method on a smooth rising function of a positive unknown, each step kept within a
/// factor of two.
///
/// `function` gives value and slope. `None` if it does not settle on a positive finite number.
fn newton(start: f64, function: impl Fn(f64) -> (f64, f64)) -> Option<f64> {
    let mut t = start;
    for _ in 0..60 {
        let (value, slope) = function(t);
        let next = (t - value / slope).clamp(t / 2.0, t * 2.0);
        if !next.is_finite() {
            return None;
        }
        if (next - t).abs() <= 1e-12 * t {
            return Some(next);
        }
        t = next;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn enthalpy_is_zero_at_its_datum_and_rises_by_cp() {
        let air = Gas::dry_air();
        assert!(air.h(ENTHALPY_DATUM).abs() < 1e-6);
        for t in [150.0, 250.0, 600.0, 999.0, 1001.0, 3000.0, 7000.0] {
            let slope = (air.h(t + 0.01) - air.h(t - 0.01)) / 0.02;
            assert!((slope - air.cp(t)).abs() < 1e-3, "{t}: {slope} {}", air.cp(t));
        }
    }

    #[test]
    fn enthalpy_and_entropy_have_no_jump_where_the_ranges_meet() {
        let air = Gas::dry_air();
        let (below, above) = (RANGE_LIMIT, RANGE_LIMIT + 1e-9);
        assert!((air.h(above) - air.h(below)).abs() < 1e-4);
        assert!((air.s0(above).unwrap() - air.s0(below).unwrap()).abs() < 1e-7);
    }

    #[test]
    fn inverses_return_to_their_start() {
        let gas = Gas::moist_air(0.02).unwrap();
        for t in [120.0, 200.0, 298.15, 350.0, 999.9999, 1000.1, 2500.0] {
            assert!((gas.temperature_from_h(gas.h(t)).unwrap() - t).abs() < 1e-8 * t);
            for ratio in [0.2, 1.0, 3.5] {
                let there = gas.isentropic_temperature(t, ratio).unwrap();
                assert!((gas.isentropic_ratio(t, there).unwrap() - ratio).abs() < 1e-9 * ratio);
            }
        }
    }

    #[test]
    fn entropy_slope_is_cp_over_t() {
        let air = Gas::dry_air();
        for t in [150.0, 300.0, 998.0, 1500.0] {
            let slope = (air.s0(t + 0.01).unwrap() - air.s0(t - 0.01).unwrap()) / 0.02;
            assert!((slope - air.cp(t) / t).abs() < 1e-5);
        }
    }

    #[test]
    fn impossible_inputs_give_none() {
        let air = Gas::dry_air();
        assert_eq!(air.sound_speed(-1.0), None);
        assert_eq!(air.density(1e5, 0.0), None);
        assert_eq!(air.density(f64::NAN, 300.0), None);
        assert_eq!(air.s0(0.0), None);
        assert_eq!(air.isentropic_temperature(300.0, 0.0), None);
        assert_eq!(air.temperature_from_h(-1e9), None);
        assert_eq!(air.temperature_from_h(f64::NAN), None);
        assert_eq!(viscosity(-5.0), None);
        assert_eq!(Gas::moist_air(-0.1), None);
        assert_eq!(Gas::moist_air(f64::NAN), None);
        assert_eq!(Gas::mixture(&[]), None);
    }

    #[test]
    fn humidity_raises_the_gas_constant_as_the_sum_of_parts() {
        let w = 0.0129;
        let expected =
            (Gas::dry_air().r() + w * UNIVERSAL_GAS_CONSTANT / Species::Water.molar_mass()) / (1.0 + w);
        assert!((Gas::moist_air(w).unwrap().r() - expected).abs() < 1e-9);
    }
}

//! Fuel vapour in the air: how much there is, what it does to the gas, how far it cools by evaporating.

use super::gas::{Gas, UNIVERSAL_GAS_CONSTANT, Vapour};
use super::numeric::find_root;
use super::{all_positive, finite};

/// A fuel as the mixture ahead of an engine knows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FuelData {
    /// Its vapour: molar mass and heat capacity.
    pub vapour: Vapour,
    /// Stoichiometric mass of air to a mass of fuel.
    pub stoichiometric: f64,
    /// Heat of evaporation, J/kg; zero of a fuel that comes as gas.
    pub latent: f64,
    /// Antoine's A, B, C of its saturation pressure: log10(p/bar) = A − B/(T + C), T in K.
    pub antoine: Option<(f64, f64, f64)>,
}

/// Heat capacities: cubic polynomials of Reid, Prausnitz & Poling, The Properties of Gases and Liquids, 4th ed. (1987),
/// appendix A, in J/(mol K). Stoichiometric ratios and heats of evaporation: Heywood 1988, table D.4. Saturation
/// pressures: Antoine's equation as in the NIST Chemistry WebBook. All from memory; tests hold them to an independent
/// library of properties.
const METHANOL_CP: [f64; 4] = [21.15, 7.092e-2, 2.587e-5, -2.852e-8];
const ETHANOL_CP: [f64; 4] = [9.014, 0.2141, -8.390e-5, 1.373e-9];
const ISO_OCTANE_CP: [f64; 4] = [-7.461, 0.7779, -4.287e-4, 9.173e-8];
const PROPANE_CP: [f64; 4] = [-4.224, 0.3063, -1.586e-4, 3.215e-8];
const METHANE_CP: [f64; 4] = [19.25, 5.213e-2, 1.197e-5, -1.132e-8];

impl FuelData {
    /// Petrol; its vapour as that of iso-octane.
    pub const PETROL: Self = Self {
        vapour: Vapour { molar_mass: 114.23e-3, heat_capacity: ISO_OCTANE_CP },
        stoichiometric: 14.6,
        latent: 305e3,
        antoine: Some((3.936_79, 1257.84, -52.415)),
    };
    /// Methanol.
    pub const METHANOL: Self = Self {
        vapour: Vapour { molar_mass: 32.042e-3, heat_capacity: METHANOL_CP },
        stoichiometric: 6.47,
        latent: 1103e3,
        antoine: Some((5.204_09, 1581.341, -33.50)),
    };
    /// Ethanol.
    pub const ETHANOL: Self = Self {
        vapour: Vapour { molar_mass: 46.069e-3, heat_capacity: ETHANOL_CP },
        stoichiometric: 9.00,
        latent: 840e3,
        antoine: Some((5.246_77, 1598.673, -46.424)),
    };
    /// Petrol with 85 % of ethanol by volume: ratio and heat by mass, vapour as that of ethanol.
    pub const E85: Self = Self {
        vapour: Vapour { molar_mass: 46.069e-3, heat_capacity: ETHANOL_CP },
        stoichiometric: 9.80,
        latent: 764e3,
        antoine: Some((5.246_77, 1598.673, -46.424)),
    };
    /// Liquefied petroleum gas, taken as propane that comes as gas.
    pub const LPG: Self = Self {
        vapour: Vapour { molar_mass: 44.096e-3, heat_capacity: PROPANE_CP },
        stoichiometric: 15.67,
        latent: 0.0,
        antoine: None,
    };
    /// Natural gas, taken as methane.
    pub const NATURAL_GAS: Self = Self {
        vapour: Vapour { molar_mass: 16.043e-3, heat_capacity: METHANE_CP },
        stoichiometric: 17.23,
        latent: 0.0,
        antoine: None,
    };

    /// Fuel to a kg of air at an excess-air ratio: 1/(λ L). `None` unless λ is positive.
    #[must_use]
    pub fn ratio(&self, lambda: f64) -> Option<f64> {
        all_positive(&[lambda]).then(|| (lambda * self.stoichiometric).recip()).and_then(finite)
    }

    /// Air (or air with vapour already in it) with `vapour` kg of this fuel's vapour to each kg of it. `None` if
    /// negative or not finite.
    #[must_use]
    pub fn mixed(&self, air: &Gas, vapour: f64) -> Option<Gas> {
        air.with_vapour(&self.vapour, vapour)
    }

    /// Saturation pressure, Pa, at `t` K; `None` of a fuel that comes as gas or where Antoine's equation has no value.
    #[must_use]
    pub fn saturation_pressure(&self, t: f64) -> Option<f64> {
        let (a, b, c) = self.antoine?;
        (t + c > 0.0).then(|| 1e5 * 10.0_f64.powf(a - b / (t + c))).and_then(finite)
    }

    /// Most vapour, kg to a kg of air of gas constant `r`, that air at `t` K and `p` Pa holds; infinite of a fuel that
    /// comes as gas, and where it boils. `None` unless state and `r` are positive.
    #[must_use]
    pub fn most_vapour(&self, t: f64, p: f64, r: f64) -> Option<f64> {
        if !all_positive(&[t, p, r]) {
            return None;
        }
        if self.antoine.is_none() {
            return Some(f64::INFINITY);
        }
        // Far below freezing nothing evaporates.
        let vapour = self.saturation_pressure(t).unwrap_or(0.0);
        if vapour >= p {
            return Some(f64::INFINITY);
        }
        Some(r * self.vapour.molar_mass / UNIVERSAL_GAS_CONSTANT * vapour / (p - vapour))
    }

    /// Evaporation of up to `liquid` kg to each kg of air at `t` K and `p` Pa, adiabatic: what evaporates, and the
    /// temperature then.
    ///
    /// Balance: cp (T − T') = x L, x no more than the liquid and no more than saturation at T' leaves room for. The
    /// heat held by the liquid that stays is left out. `None` if an input is out of range.
    #[must_use]
    pub fn evaporate(&self, air: &Gas, liquid: f64, t: f64, p: f64) -> Option<(f64, f64)> {
        if !(liquid >= 0.0 && liquid.is_finite() && all_positive(&[t, p])) {
            return None;
        }
        let cooled = |x: f64| air.temperature_from_h(air.h(t) - x * self.latent);
        let room = |x: f64| Some(self.most_vapour(cooled(x)?, p, air.r())? - x);
        if room(liquid).is_some_and(|room| room >= 0.0) {
            return Some((liquid, cooled(liquid)?));
        }
        // More room than liquid at the start (none has evaporated), less at the end.
        let bounded = |x: f64| room(x).unwrap_or(-1.0).min(1e3);
        let x = find_root(0.0, liquid, 1e-12, bounded).ok()?.x;
        Some((x, cooled(x)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn petrol_evaporates_whole_and_cools_by_its_heat() {
        let air = Gas::dry_air();
        let (x, t) = FuelData::PETROL.evaporate(&air, 0.07, 300.0, 1e5).unwrap();
        assert_eq!(x, 0.07);
        assert!((air.h(300.0) - air.h(t) - 0.07 * 305e3).abs() < 1e-3);
    }

    #[test]
    fn methanol_stops_at_saturation() {
        let air = Gas::dry_air();
        let fuel = FuelData::METHANOL;
        let (x, t) = fuel.evaporate(&air, 0.17, 300.0, 1e5).unwrap();
        assert!(x > 0.01 && x < 0.06, "{x}");
        let most = fuel.most_vapour(t, 1e5, air.r()).unwrap();
        assert!((most - x).abs() < 1e-9, "{most} {x}");
    }

    #[test]
    fn gas_mixes_without_cooling() {
        let air = Gas::dry_air();
        let (x, t) = FuelData::NATURAL_GAS.evaporate(&air, 0.06, 300.0, 1e5).unwrap();
        assert_eq!(x, 0.06);
        assert!((t - 300.0).abs() < 1e-9);
        let gas = FuelData::NATURAL_GAS.mixed(&air, x).unwrap();
        let expected = (air.r() + x * UNIVERSAL_GAS_CONSTANT / 16.043e-3) / (1.0 + x);
        assert!((gas.r() - expected).abs() < 1e-9);
    }

    #[test]
    fn enthalpy_and_entropy_of_a_mixture_keep_to_its_heat_capacity() {
        let gas = FuelData::PETROL.mixed(&Gas::dry_air(), 0.07).unwrap();
        for t in [250.0, 320.0, 999.0] {
            let slope = (gas.h(t + 0.01) - gas.h(t - 0.01)) / 0.02;
            assert!((slope - gas.cp(t)).abs() < 1e-3);
            let slope = (gas.s0(t + 0.01).unwrap() - gas.s0(t - 0.01).unwrap()) / 0.02;
            assert!((slope - gas.cp(t) / t).abs() < 1e-5);
        }
        assert!(gas.h(super::super::gas::ENTHALPY_DATUM).abs() < 1e-6);
    }

    #[test]
    fn impossible_inputs_give_none() {
        let air = Gas::dry_air();
        assert_eq!(FuelData::PETROL.evaporate(&air, -0.1, 300.0, 1e5), None);
        assert_eq!(FuelData::PETROL.ratio(0.0), None);
        assert_eq!(FuelData::PETROL.mixed(&air, f64::NAN), None);
        assert_eq!(FuelData::PETROL.most_vapour(0.0, 1e5, 287.0), None);
    }
}

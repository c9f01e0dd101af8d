//! Thermodynamic functions of the gases that make up air and burnt charge.
//!
//! Nine-coefficient polynomials of McBride, Zehe & Gordon, "NASA Glenn Coefficients for Calculating
//! Thermodynamic Properties of Individual Species", NASA/TP-2002-211556; one set for 200 to 1000 K,
//! one for 1000 to 6000 K. The coefficients are from memory; the tests hold them to each other at
//! 1000 K and to published tables of air.
//!
//! cp/R = a0 T^-2 + a1 T^-1 + a2 + a3 T + a4 T^2 + a5 T^3 + a6 T^4, with a7 and a8 the constants of
//! integration of enthalpy and entropy.

/// Universal gas constant, J/(mol K) (exact since the SI of 2019).
pub const UNIVERSAL_GAS_CONSTANT: f64 = 8.314_462_618_153_24;

/// Coefficients of one temperature range.
pub type Coefficients = [f64; 9];

/// A gas that a mixture can hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Species {
    /// N2
    Nitrogen,
    /// O2
    Oxygen,
    /// Ar
    Argon,
    /// CO2
    CarbonDioxide,
    /// H2O as vapour
    Water,
}

impl Species {
    /// Molar mass in kg/mol (IUPAC standard atomic weights).
    #[must_use]
    pub fn molar_mass(self) -> f64 {
        match self {
            Self::Nitrogen => 28.0134e-3,
            Self::Oxygen => 31.9988e-3,
            Self::Argon => 39.948e-3,
            Self::CarbonDioxide => 44.0095e-3,
            Self::Water => 18.015_28e-3,
        }
    }

    /// Coefficients for 200 to 1000 K.
    pub(super) fn low(self) -> Coefficients {
        match self {
            Self::Nitrogen => [
                2.210_371_497e4,
                -3.818_461_820e2,
                6.082_738_360,
                -8.530_914_410e-3,
                1.384_646_189e-5,
                -9.625_793_620e-9,
                2.519_705_809e-12,
                7.108_460_860e2,
                -1.076_003_744e1,
            ],
            Self::Oxygen => [
                -3.425_563_420e4,
                4.847_000_970e2,
                1.119_010_961,
                4.293_889_240e-3,
                -6.836_300_520e-7,
                -2.023_372_700e-9,
                1.039_040_018e-12,
                -3.391_454_870e3,
                1.849_699_470e1,
            ],
            Self::Argon => ARGON,
            Self::CarbonDioxide => [
                4.943_650_540e4,
                -6.264_116_010e2,
                5.301_725_240,
                2.503_813_816e-3,
                -2.127_308_728e-7,
                -7.689_988_780e-10,
                2.849_677_801e-13,
                -4.528_198_460e4,
                -7.048_279_440,
            ],
            Self::Water => [
                -3.947_960_830e4,
                5.755_731_020e2,
                9.317_826_530e-1,
                7.222_712_860e-3,
                -7.342_557_370e-6,
                4.955_043_490e-9,
                -1.336_933_246e-12,
                -3.303_974_310e4,
                1.724_205_775e1,
            ],
        }
    }

    /// Coefficients for 1000 to 6000 K.
    pub(super) fn high(self) -> Coefficients {
        match self {
            Self::Nitrogen => [
                5.877_124_060e5,
                -2.239_249_073e3,
                6.066_949_220,
                -6.139_685_500e-4,
                1.491_806_679e-7,
                -1.923_105_485e-11,
                1.061_954_386e-15,
                1.283_210_415e4,
                -1.586_640_027e1,
            ],
            Self::Oxygen => [
                -1.037_939_022e6,
                2.344_830_282e3,
                1.819_732_036,
                1.267_847_582e-3,
                -2.188_067_988e-7,
                2.053_719_572e-11,
                -8.193_467_050e-16,
                -1.689_010_929e4,
                1.738_716_506e1,
            ],
            Self::Argon => ARGON,
            Self::CarbonDioxide => [
                1.176_962_419e5,
                -1.788_791_477e3,
                8.291_523_190,
                -9.223_156_780e-5,
                4.863_676_880e-9,
                -1.891_053_312e-12,
                6.330_036_590e-16,
                -3.908_350_590e4,
                -2.652_669_281e1,
            ],
            Self::Water => [
                1.034_972_096e6,
                -2.412_698_562e3,
                4.646_110_780,
                2.291_998_307e-3,
                -6.836_830_480e-7,
                9.426_468_930e-11,
                -4.822_380_530e-15,
                -1.384_286_509e4,
                -7.978_148_510,
            ],
        }
    }
}

/// A gas of single atoms: cp = 5/2 R. Above 1000 K the published set differs from it by parts in
/// 10^5 only.
const ARGON: Coefficients = [0.0, 0.0, 2.5, 0.0, 0.0, 0.0, 0.0, -7.453_75e2, 4.379_674_91];

/// cp of a coefficient set at `t` K, in units of the factor the coefficients carry.
pub(super) fn heat_capacity(a: &Coefficients, t: f64) -> f64 {
    (a[0] / t + a[1]) / t + a[2] + t * (a[3] + t * (a[4] + t * (a[5] + t * a[6])))
}

/// Integral of cp over temperature, with the constant of integration.
pub(super) fn enthalpy(a: &Coefficients, t: f64) -> f64 {
    -a[0] / t
        + a[1] * t.ln()
        + a[7]
        + t * (a[2] + t * (a[3] / 2.0 + t * (a[4] / 3.0 + t * (a[5] / 4.0 + t * a[6] / 5.0))))
}

/// Integral of cp/T over temperature, with the constant of integration.
pub(super) fn entropy(a: &Coefficients, t: f64) -> f64 {
    (-a[0] / (2.0 * t) - a[1]) / t
        + a[2] * t.ln()
        + a[8]
        + t * (a[3] + t * (a[4] / 2.0 + t * (a[5] / 3.0 + t * a[6] / 4.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Species; 5] =
        [Species::Nitrogen, Species::Oxygen, Species::Argon, Species::CarbonDioxide, Species::Water];

    // The two sets were fitted to agree at 1000 K: a wrong digit in any coefficient shows here.
    #[test]
    fn the_two_ranges_meet_at_1000_k() {
        for species in ALL {
            let (low, high) = (species.low(), species.high());
            for (name, function) in
                [("cp", heat_capacity as fn(&Coefficients, f64) -> f64), ("h", enthalpy), ("s", entropy)]
            {
                let (a, b) = (function(&low, 1000.0), function(&high, 1000.0));
                assert!((a - b).abs() <= 2e-6 * a.abs().max(1.0), "{species:?} {name}: {a} {b}");
            }
        }
    }

    // Heats of formation at 298.15 K, CODATA Key Values for Thermodynamics (1989), from memory:
    // kJ/mol.
    #[test]
    fn enthalpy_at_298_k_is_the_heat_of_formation() {
        for (species, expected) in [
            (Species::Nitrogen, 0.0),
            (Species::Oxygen, 0.0),
            (Species::Argon, 0.0),
            (Species::CarbonDioxide, -393.51),
            (Species::Water, -241.826),
        ] {
            let h = enthalpy(&species.low(), 298.15) * UNIVERSAL_GAS_CONSTANT / 1e3;
            assert!((h - expected).abs() < 0.01, "{species:?}: {h}");
        }
    }

    // Entropies at 298.15 K and 1 bar, CODATA Key Values (1989), from memory: J/(mol K).
    #[test]
    fn entropy_at_298_k_is_the_published_one() {
        for (species, expected) in [
            (Species::Nitrogen, 191.609),
            (Species::Oxygen, 205.152),
            (Species::Argon, 154.846),
            (Species::CarbonDioxide, 213.785),
            (Species::Water, 188.835),
        ] {
            let s = entropy(&species.low(), 298.15) * UNIVERSAL_GAS_CONSTANT;
            assert!((s - expected).abs() < 0.02, "{species:?}: {s}");
        }
    }
}

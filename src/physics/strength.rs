//! Strength of thin round walls: pressure from inside and outside, thrust on the ends, and what common materials stand.

use super::all_positive;
use super::flow::bore_area;

/// Force, N, with which pressure pushes a pipe's end out of its coupler: p π D²/4, `pressure` Pa above the outside,
/// `bore` m of the coupler, on which it acts.
///
/// Source: statics. `None` unless the pressure is a number and the bore is positive.
#[must_use]
pub fn end_thrust(pressure: f64, bore: f64) -> Option<f64> {
    (pressure.is_finite() && bore > 0.0).then(|| pressure * bore_area(bore))
}

/// Hoop stress, Pa, in a thin wall of `wall` m round a bore of `bore` m with `pressure` Pa inside above the outside:
/// p D/(2 t), D over the middle of the wall.
///
/// Source: Barlow; Timoshenko, Strength of Materials (wall up to about a tenth of the bore). `None` unless all are positive.
#[must_use]
pub fn hoop_stress(pressure: f64, bore: f64, wall: f64) -> Option<f64> {
    all_positive(&[pressure, bore, wall]).then(|| pressure * (bore + wall) / (2.0 * wall))
}

/// Pressure inside, Pa above the outside, at which the hoop stress of [`hoop_stress`] reaches `stress` Pa: 2 t σ/D.
#[must_use]
pub fn pressure_at_hoop_stress(stress: f64, bore: f64, wall: f64) -> Option<f64> {
    all_positive(&[stress, bore, wall]).then(|| 2.0 * wall * stress / (bore + wall))
}

/// Pressure outside, Pa above the inside, at which a long thin tube folds flat: 2E/(1 − ν²) (t/D)³, D over the middle of
/// the wall.
///
/// Source: Bryan 1889; Saunders & Windenberg, Strength of Thin Cylindrical Shells Under External Pressure, Trans. ASME
/// 53 (1931). `None` unless all are positive and ν is below 1.
#[must_use]
pub fn collapse_long(modulus: f64, poisson: f64, diameter: f64, wall: f64) -> Option<f64> {
    let usable = all_positive(&[modulus, diameter, wall]) && (0.0..1.0).contains(&poisson);
    usable.then(|| 2.0 * modulus / (1.0 - poisson * poisson) * (wall / diameter).powi(3))
}

/// The same of a tube held round at ends or rings `span` m apart:
/// 2.42 E (t/D)^2.5/((1 − ν²)^0.75 (L/D − 0.45 √(t/D))).
///
/// Source: Windenberg & Trilling, Collapse by Instability of Thin Cylindrical Shells Under External Pressure, Trans.
/// ASME 56 (1934), from memory. `None` out of range, and where the rings stand so close that the formula has no value:
/// such a tube does not fold.
#[must_use]
pub fn collapse_held(modulus: f64, poisson: f64, diameter: f64, wall: f64, span: f64) -> Option<f64> {
    let slender = wall / diameter;
    let length = span / diameter - 0.45 * slender.sqrt();
    let usable = all_positive(&[modulus, diameter, wall, span, length]) && (0.0..1.0).contains(&poisson);
    usable.then(|| 2.42 * modulus * slender.powf(2.5) / ((1.0 - poisson * poisson).powf(0.75) * length))
}

/// By how much a straight piece of `length` m grows, m, when it warms by `rise` K: α L ΔT, `expansion` α per kelvin.
/// Negative where it cools.
///
/// Source: definition of the mean coefficient of linear expansion. Those of [`MATERIALS`] hold near room temperature; of
/// metals they rise by some 5 % up to 200 degC. `None` unless length and coefficient are positive and the rise is a number.
#[must_use]
pub fn thermal_growth(length: f64, expansion: f64, rise: f64) -> Option<f64> {
    (rise.is_finite() && all_positive(&[length, expansion])).then_some(expansion * length * rise)
}

/// What a material stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Material {
    /// Its word in descriptions.
    pub name: &'static str,
    /// Highest temperature in lasting use, K.
    pub temperature: f64,
    /// Modulus of elasticity, Pa; of rubbers that of the wall with its fabric, warm.
    pub modulus: f64,
    /// Poisson's number.
    pub poisson: f64,
    /// Proof stress warm, Pa; none of rubbers, whose plies carry the load.
    pub proof_stress: Option<f64>,
    /// Where the temperature comes from.
    pub source: &'static str,
    /// Linear expansion; none of rubbers, which give way instead of pushing.
    pub expansion: Option<Expansion>,
}

/// How a material grows with its temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expansion {
    /// Coefficient of linear expansion, 1/K.
    pub coefficient: f64,
    /// Where it comes from.
    pub source: &'static str,
}

const ASTM: &str = "ageing temperature of its type letter, ASTM D2000 / SAE J200 (secondary copies)";
const HOSE: &str = "SAE J20, from memory";
const CUSTOM: &str = "common practice, no source";
const CRC: &str = "CRC Handbook of Chemistry and Physics, pure metal at 25 degC";
const CRC_FROM_MEMORY: &str = "CRC Handbook of Chemistry and Physics, at 25 degC, from memory";
const FROM_MEMORY: &str = "usual alloys near room temperature, from memory";
const ICE: f64 = 273.15;

const fn rubber(name: &'static str, celsius: f64, source: &'static str) -> Material {
    Material {
        name,
        temperature: ICE + celsius,
        modulus: 5e6,
        poisson: 0.49,
        proof_stress: None,
        source,
        expansion: None,
    }
}

const fn solid(
    name: &'static str,
    celsius: f64,
    modulus: f64,
    proof_stress: f64,
    expansion: (f64, &'static str),
) -> Material {
    let (coefficient, of_expansion) = expansion;
    Material {
        name,
        temperature: ICE + celsius,
        modulus,
        poisson: 0.33,
        proof_stress: Some(proof_stress),
        source: CUSTOM,
        expansion: Some(Expansion { coefficient, source: of_expansion }),
    }
}

/// Common materials. Moduli and proof stresses: common practice, no source.
pub static MATERIALS: &[Material] = &[
    rubber("natural", 70.0, ASTM),
    rubber("chloroprene", 100.0, ASTM),
    rubber("nitrile", 100.0, ASTM),
    rubber("ethylene-propylene", 125.0, ASTM),
    rubber("polyacrylate", 150.0, ASTM),
    rubber("silicone", 175.0, HOSE),
    rubber("fluoro-lined", 175.0, HOSE),
    rubber("fluoro", 200.0, ASTM),
    solid(
        "polyamide",
        150.0,
        3e9,
        40e6,
        (30e-6, "glass-filled, along its fibres: common practice, no source"),
    ),
    solid("aluminium", 150.0, 70e9, 80e6, (23.1e-6, CRC)),
    solid("stainless-steel", 600.0, 190e9, 150e6, (17.3e-6, FROM_MEMORY)),
    solid("steel", 400.0, 200e9, 150e6, (11.7e-6, FROM_MEMORY)),
    solid("cast-iron", 500.0, 110e9, 100e6, (10.5e-6, FROM_MEMORY)),
    solid("titanium", 400.0, 110e9, 200e6, (8.6e-6, CRC_FROM_MEMORY)),
];

/// The material of a word.
#[must_use]
pub fn material(name: &str) -> Option<&'static Material> {
    MATERIALS.iter().find(|material| material.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thrust_and_hoop_stress_are_what_a_hand_works_out() {
        // 1.5 bar on 63 mm: 467.6 N.
        assert!((end_thrust(1.5e5, 0.063).unwrap() - 467.6).abs() < 0.1);
        assert!((hoop_stress(2e5, 0.058, 0.002).unwrap() - 3e6).abs() < 1e-6);
        assert!((pressure_at_hoop_stress(3e6, 0.058, 0.002).unwrap() - 2e5).abs() < 1e-6);
    }

    /// On a bend of 90 degrees without flow the thrusts of both ends come to 2 p A sin 45° (structure-03).
    #[test]
    fn thrust_on_a_bend_structure_03() {
        let end = end_thrust(1.5e5, 0.060).unwrap();
        let resultant = 2.0 * end * std::f64::consts::FRAC_PI_4.sin();
        assert!((resultant / 599.789 - 1.0).abs() < 1e-6, "{resultant}");
    }

    #[test]
    fn a_long_tube_of_steel_folds_where_the_formula_says() {
        // E 207 GPa, nu 0.3, t/D 0.02: 2 x 207e9/0.91 x 8e-6 = 3.64 MPa.
        let found = collapse_long(207e9, 0.3, 0.1, 0.002).unwrap();
        assert!((found / 3.639_56e6 - 1.0).abs() < 1e-4, "{found}");
    }

    #[test]
    fn rings_help_the_more_the_closer_they_stand() {
        let at = |span| collapse_held(5e6, 0.49, 0.081, 0.005, span).unwrap();
        assert!(at(0.015) > at(0.03) && at(0.03) > at(0.3));
        assert!(collapse_held(5e6, 0.49, 0.081, 0.005, 0.001).is_none());
        // Saunders & Windenberg's long tube is the weaker bound once rings are close.
        assert!(at(0.03) > collapse_long(5e6, 0.49, 0.081, 0.005).unwrap());
    }
}

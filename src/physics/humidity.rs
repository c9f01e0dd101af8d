//! Water vapour in air.

use super::gas::{Gas, Species};
use super::{all_positive, finite};

/// 0 degC in K.
const FREEZING: f64 = 273.15;

/// Ratio of the molar masses of water and dry air, 0.622.
fn molar_mass_ratio() -> f64 {
    Species::Water.molar_mass() * Gas::dry_air().r() / super::gas::UNIVERSAL_GAS_CONSTANT
}

/// Saturation vapour pressure, Pa, at `t` K: over ice below 0 degC, over water above.
///
/// Over water by IAPWS R7-97(2012) IF97 eq. 30 ([`saturation_pressure_if97`]), which holds at the
/// temperatures behind a charge-air cooler, where the Magnus form does not; over ice by the Magnus
/// form of WMO-No. 8 (2008), annex 4.B. The two meet within 0.01 % at 0 degC. Valid from 208.15 to
/// 647.096 K, else `None`.
#[must_use]
pub fn saturation_pressure(t: f64) -> Option<f64> {
    if t < FREEZING { saturation_pressure_magnus(t) } else { saturation_pressure_if97(t) }
}

/// Saturation vapour pressure, Pa, at `t` K by the Magnus form.
///
/// Over water 611.2 Pa · exp(17.62 θ/(243.12 + θ)), −45 to 60 degC; over ice 611.2 Pa · exp(22.46
/// θ/(272.62 + θ)), below 0 degC, stated for −65 to 0 degC; θ in degC. Source: WMO-No. 8 (CIMO
/// Guide) 2008, annex 4.B; Sonntag 1990. Within 0.4 % of IAPWS over water. `None` outside −65 to 60
/// degC.
#[must_use]
pub fn saturation_pressure_magnus(t: f64) -> Option<f64> {
    let celsius = t - FREEZING;
    if !(-65.0..=60.0).contains(&celsius) {
        return None;
    }
    let (factor, offset) = if celsius < 0.0 { (22.46, 272.62) } else { (17.62, 243.12) };
    Some(611.2 * (factor * celsius / (offset + celsius)).exp())
}

/// Saturation pressure of water, Pa, at `t` K by the quadratic of IF97. Valid 273.15 to 647.096 K,
/// else `None`.
///
/// Source: IAPWS R7-97(2012), eq. 30, coefficients of table 34 from memory, held to its
/// verification value.
#[must_use]
pub fn saturation_pressure_if97(t: f64) -> Option<f64> {
    if !(FREEZING..=647.096).contains(&t) {
        return None;
    }
    let v = t - 0.238_555_575_678_49 / (t - 0.650_175_348_447_98e3);
    let a = v * v + 0.116_705_214_527_67e4 * v - 0.724_213_167_032_06e6;
    let b = -0.170_738_469_400_92e2 * v * v + 0.120_208_247_024_70e5 * v - 0.323_255_503_223_33e7;
    let c = 0.149_151_086_135_30e2 * v * v - 0.482_326_573_615_91e4 * v + 0.405_113_405_420_57e6;
    finite(1e6 * (2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt())).powi(4))
}

/// Humidity ratio, kg of vapour to a kg of dry air, of air with vapour pressure `vapour` Pa at `p`
/// Pa: 0.622 e/(p − e). `None` unless 0 ≤ e < p.
///
/// Source: ASHRAE Handbook Fundamentals, ch. 1, eq. 20; the enhancement factor (0.4 %) is left out.
#[must_use]
pub fn humidity_ratio_from_vapour_pressure(vapour: f64, p: f64) -> Option<f64> {
    (vapour >= 0.0 && vapour < p && p.is_finite()).then(|| molar_mass_ratio() * vapour / (p - vapour))
}

/// Humidity ratio, kg/kg, from relative humidity (0 to 1) at `t` K and `p` Pa. `None` outside those
/// ranges, or where the vapour alone would exceed `p`.
#[must_use]
pub fn humidity_ratio(relative_humidity: f64, t: f64, p: f64) -> Option<f64> {
    if !(0.0..=1.0).contains(&relative_humidity) {
        return None;
    }
    humidity_ratio_from_vapour_pressure(relative_humidity * saturation_pressure(t)?, p)
}

/// Humidity ratio, kg/kg, of saturated air at `t` K and `p` Pa; `None` where water boils or outside
/// the range of [`saturation_pressure`].
#[must_use]
pub fn saturation_humidity_ratio(t: f64, p: f64) -> Option<f64> {
    humidity_ratio(1.0, t, p)
}

/// Humidity ratio, kg/kg, from dry-bulb `t` K, wet-bulb `wet_bulb` K (above freezing, not above dry
/// bulb) at `p` Pa.
///
/// Energy balance of the wet bulb: W = ((2501 − 2.326 t*) Ws* − 1.006 (t − t*))/(2501 + 1.86 t −
/// 4.186 t*), degC. Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 33. `None` out of range
/// or where the result is negative.
#[must_use]
pub fn humidity_ratio_from_wet_bulb(t: f64, wet_bulb: f64, p: f64) -> Option<f64> {
    if wet_bulb < FREEZING || wet_bulb > t {
        return None;
    }
    let saturated = saturation_humidity_ratio(wet_bulb, p)?;
    let (dry, wet) = (t - FREEZING, wet_bulb - FREEZING);
    let w = ((2501.0 - 2.326 * wet) * saturated - 1.006 * (dry - wet)) / (2501.0 + 1.86 * dry - 4.186 * wet);
    finite(w).filter(|w| *w >= 0.0)
}

/// Dew point, K, of air with `w` kg/kg of water at `p` Pa: where saturation holds just that much (over ice below 0 degC).
/// `None` for dry air, and outside 208.15 to 373.15 K.
#[must_use]
pub fn dew_point(w: f64, p: f64) -> Option<f64> {
    let excess = |t: f64| saturation_humidity_ratio(t, p).map_or(f64::MAX, |saturated| saturated - w);
    if !(w > 0.0 && p > 0.0) {
        return None;
    }
    super::numeric::find_root(208.15, 373.15, 1e-6, excess).ok().map(|root| root.x)
}

/// Relative humidity (0 to 1; above 1 when more vapour is held than saturation allows) of air of
/// humidity ratio `w` at `t` K and `p` Pa. `None` if an input is out of range.
#[must_use]
pub fn relative_humidity(w: f64, t: f64, p: f64) -> Option<f64> {
    if !(w >= 0.0 && w.is_finite() && all_positive(&[p])) {
        return None;
    }
    finite(p * w / (molar_mass_ratio() + w) / saturation_pressure(t)?)
}

/// Density of moist air, kg/m3, from relative humidity (0 to 1) at `t` K and `p` Pa as an ideal
/// mixture.
///
/// Some 0.04 % below CIPM-2007 (Picard et al., Metrologia 45 (2008) 149), which adds
/// compressibility.
#[must_use]
pub fn moist_density(relative_humidity: f64, t: f64, p: f64) -> Option<f64> {
    Gas::moist_air(humidity_ratio(relative_humidity, t, p)?)?.density(p, t)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_meet_at_freezing() {
        let ice = saturation_pressure(FREEZING - 1e-9).unwrap();
        let water = saturation_pressure(FREEZING).unwrap();
        assert!((ice / water - 1.0).abs() < 1e-4);
    }

    #[test]
    fn relative_humidity_undoes_humidity_ratio() {
        for (rh, t, p) in [(0.0, 300.0, 1e5), (0.5, 268.0, 9e4), (1.0, 340.0, 2e5)] {
            let w = humidity_ratio(rh, t, p).unwrap();
            assert!((relative_humidity(w, t, p).unwrap() - rh).abs() < 1e-12);
        }
    }

    #[test]
    fn out_of_range_gives_none() {
        assert_eq!(humidity_ratio(1.2, 300.0, 1e5), None);
        assert_eq!(humidity_ratio(f64::NAN, 300.0, 1e5), None);
        assert_eq!(humidity_ratio(1.0, 380.0, 1e5), None, "water boils at 373 K and 1 bar");
        assert_eq!(saturation_pressure(100.0), None);
        assert_eq!(saturation_pressure(700.0), None);
        assert_eq!(saturation_pressure(f64::NAN), None);
        assert_eq!(humidity_ratio_from_wet_bulb(290.0, 300.0, 1e5), None);
        assert_eq!(relative_humidity(-0.1, 300.0, 1e5), None);
    }
}

//! Standard atmosphere, layer from 5 km below to 11 km above the sea.
//!
//! Source: ISO 2533:1975; the same numbers as U.S. Standard Atmosphere 1976.

/// Pressure at sea level, Pa.
pub const SEA_LEVEL_PRESSURE: f64 = 101_325.0;
/// Temperature at sea level, K.
pub const SEA_LEVEL_TEMPERATURE: f64 = 288.15;
/// Fall of temperature with geopotential altitude, K/m.
const LAPSE: f64 = 0.0065;
/// Standard acceleration of free fall, m/s2.
const FREE_FALL: f64 = 9.806_65;
/// Gas constant of air in the standard, J/(kg K).
const GAS_CONSTANT: f64 = 287.052_87;
/// Nominal radius of the earth in the standard, m.
const EARTH_RADIUS: f64 = 6_356_766.0;

/// Geopotential altitude, m, of a geometric altitude (height above the sea), m: r z/(r + z).
/// `None` outside −5 000 to 11 000 m.
#[must_use]
pub fn geopotential_altitude(geometric: f64) -> Option<f64> {
    (-5_000.0..=11_000.0).contains(&geometric).then(|| EARTH_RADIUS * geometric / (EARTH_RADIUS + geometric))
}

/// Standard temperature, K, at a geometric altitude in m. `None` outside −5 000 to 11 000 m.
#[must_use]
pub fn standard_temperature(geometric: f64) -> Option<f64> {
    Some(SEA_LEVEL_TEMPERATURE - LAPSE * geopotential_altitude(geometric)?)
}

/// Standard pressure, Pa, at a geometric altitude in m. `None` outside −5 000 to 11 000 m.
#[must_use]
pub fn standard_pressure(geometric: f64) -> Option<f64> {
    standard_pressure_at_geopotential(geopotential_altitude(geometric)?)
}

/// Standard pressure, Pa, at a geopotential altitude in m: p0 (1 − L H/T0)^(g/(L R)). `None`
/// outside −5 005 to 11 000 m.
#[must_use]
pub fn standard_pressure_at_geopotential(geopotential: f64) -> Option<f64> {
    (-5_005.0..=11_000.0).contains(&geopotential).then(|| {
        let ratio = 1.0 - LAPSE * geopotential / SEA_LEVEL_TEMPERATURE;
        SEA_LEVEL_PRESSURE * ratio.powf(FREE_FALL / (LAPSE * GAS_CONSTANT))
    })
}

/// Standard density, kg/m3, at a geometric altitude in m: p/(RT) with the R of the standard.
/// `None` outside −5 000 to 11 000 m.
#[must_use]
pub fn standard_density(geometric: f64) -> Option<f64> {
    Some(standard_pressure(geometric)? / (GAS_CONSTANT * standard_temperature(geometric)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outside_the_layer_gives_none() {
        assert_eq!(standard_pressure(11_500.0), None);
        assert_eq!(standard_temperature(-6_000.0), None);
        assert_eq!(standard_pressure(f64::NAN), None);
        assert_eq!(standard_density(f64::INFINITY), None);
    }

    #[test]
    fn pressure_falls_with_altitude() {
        let mut last = f64::INFINITY;
        for step in -5..=11 {
            let p = standard_pressure(f64::from(step) * 1000.0).unwrap();
            assert!(p < last);
            last = p;
        }
    }
}

//! The compressor stage.

use tractwright::physics::compressor::{self, CubicCharacteristic, ReferenceState};
use tractwright::physics::gas::Gas;

use super::{celsius, near, near_percent};

// Çengel & Boles, Thermodynamics (6th ed.), examples 7-14 and 7-15 (printed).
#[test]
fn map_01_02() {
    let outlet = compressor::compress(&Gas::dry_air(), celsius(12.0), 8.0, 0.80).unwrap();
    near_percent(outlet.temperature, 569.5, 0.2);
    near_percent(0.2 * outlet.work / 1e3, 58.0, 0.3);
}

// Cohen, Rogers & Saravanamuttoo, Gas Turbine Theory, example 4.1 (printed, with rounded steps).
#[test]
fn map_03_to_05() {
    let tip_speed = std::f64::consts::PI * 0.5 * 290.0;
    let work = compressor::wheel_work(tip_speed, 0.9, 1.04).unwrap();
    near_percent(work / 1005.0, 193.0, 0.5);
    near_percent(compressor::ratio_from_work(work, 0.78, 295.0, 1005.0, 1.4), 4.23, 0.3);
    near_percent(9.0 * work / 1e3, 1746.0, 0.3);
}

// Isentropic efficiency by enthalpy, NASA polynomials.
#[test]
fn map_06_07() {
    let air = Gas::dry_air();
    for (t1, ratio, efficiency, t2, work) in
        [(300.0, 2.2, 0.74, 401.965, 102.884), (303.15, 1.6, 0.70, 365.219, 62.524)]
    {
        let outlet = compressor::compress(&air, t1, ratio, efficiency).unwrap();
        near_percent(outlet.temperature, t2, 0.05);
        near_percent(outlet.work / 1e3, work, 0.1);
    }
}

// Stanitz, Trans. ASME 74 (1952) 473; Wiesner, J. Eng. Power 89 (1967) 558 (printed).
#[test]
fn map_08_09() {
    near_percent(compressor::slip_stanitz(19), 0.896, 0.2);
    near_percent(compressor::slip_wiesner(20, 0.0), 0.877, 0.2);
}

const AT_25_DEGREES: ReferenceState = ReferenceState { pressure: 100e3, temperature: 298.15 };
const STANDARD_DAY: ReferenceState = ReferenceState { pressure: 101_325.0, temperature: 288.15 };

// Similarity as in SAE J1826, ISO 5389, ASME PTC 10; Cohen et al., ch. 4.
#[test]
fn map_10_11() {
    near_percent(AT_25_DEGREES.corrected_flow(0.18, 82_300.0, 303.15), 0.220_538_314, 1e-4);
    near_percent(STANDARD_DAY.corrected_flow(0.18, 82_300.0, 303.15), 0.227_304_878, 1e-4);
}

// Carried from 545 °R and 28.4 inHg; factors of NIST SP 811 (2008), app. B.
#[test]
fn map_12() {
    let original = ReferenceState { pressure: 28.4 * 3386.389, temperature: 545.0 / 1.8 };
    near_percent(original.carry_flow(28.0 * 0.453_592_37 / 60.0, &AT_25_DEGREES), 0.221_800_2, 0.001);
}

// N/√(T/T_ref).
#[test]
fn map_13() {
    near_percent(AT_25_DEGREES.corrected_speed(120_000.0, 303.15), 119_006.276_4, 1e-4);
}

// Gravdahl & Egeland, IEEE Trans. Control Syst. Technol. 7 (1999) 567; radial equilibrium.
#[test]
fn map_14_15() {
    for (speed, ratio) in [(120_000.0, 1.681_423), (80_000.0, 1.271_910)] {
        let omega = speed * std::f64::consts::PI / 30.0;
        near_percent(compressor::zero_flow_ratio(0.017, 0.030, omega, 300.0, 1004.7, 1.4), ratio, 0.001);
    }
}

// Definitions.
#[test]
fn map_16() {
    near_percent(compressor::surge_margin_at_ratio(0.18, 0.12), 1.0 / 3.0, 1e-7);
    near_percent(compressor::surge_margin_at_flow(2.2, 2.45), 0.208_333_333, 1e-6);
}

// NASA Glenn HECC open data archive, vaned stage, readings 3849, 3818, 3308 (seen in a stored copy;
// NASA used real moist air).
#[test]
fn map_17_to_19() {
    let air = Gas::dry_air();
    for (t1, t2, ratio, efficiency) in [
        (277.568, 370.963, 2.368_20, 0.828_52),
        (278.048, 431.688, 3.788_59, 0.833_88),
        (276.524, 465.166, 4.830_18, 0.827_08),
    ] {
        near_percent(compressor::efficiency_from_states(&air, t1, t2, ratio), efficiency, 0.3);
    }
}

// The same archive, reading 3308; NASA's figure carries a humidity correction of 0.1 %.
#[test]
fn map_20() {
    near_percent(STANDARD_DAY.corrected_flow(3.536_362, 74_617.8, 276.5242), 4.708_95, 0.2);
}

// Moore & Greitzer, J. Eng. Gas Turb. Power 108 (1986) 68.
#[test]
fn map_21() {
    let cubic = CubicCharacteristic { shut_off: 0.3, half_height: 0.18, half_width: 0.25 };
    near(cubic.at(0.5), 0.66, 1e-9);
    near(cubic.at(0.0), 0.3, 1e-9);
    near(cubic.at(0.4), 0.622_56, 1e-9);
    near(cubic.slope(0.4), 0.6912, 1e-9);
}

//! Gas, humidity, atmosphere, compressible flow.

use tractwright::physics::flow::{self, Nozzle, SonicRating};
use tractwright::physics::gas::{Gas, viscosity};
use tractwright::physics::{atmosphere, humidity};

use super::{celsius, near, near_percent};

// ISO 2533:1975, U.S. Standard Atmosphere 1976 table I (printed; 1600 m computed), geometric
// altitude.
#[test]
fn gas_01_03_to_05_07_08_10() {
    for (altitude, pressure) in [
        (0.0, 101_325.0),
        (500.0, 95_461.0),
        (1000.0, 89_876.0),
        (1600.0, 83_527.674_305),
        (2000.0, 79_501.0),
        (3000.0, 70_121.0),
        (4500.0, 57_753.0),
    ] {
        near_percent(atmosphere::standard_pressure(altitude), pressure, 0.02);
    }
}

// ISO 2533:1975, U.S. Standard Atmosphere 1976 table I (printed; 1600 m computed).
#[test]
fn gas_02_06_09() {
    for (altitude, temperature, density) in
        [(0.0, 288.15, 1.225), (1600.0, 277.752_617, 1.047_64), (3000.0, 268.659, 0.909_25)]
    {
        near_percent(atmosphere::standard_temperature(altitude), temperature, 0.001);
        near_percent(atmosphere::standard_density(altitude), density, 0.002);
    }
}

// ISO 2533:1975, layer from 0 to 11 km, geopotential altitude.
#[test]
fn gas_11() {
    near_percent(atmosphere::standard_pressure_at_geopotential(1600.0), 83_523.526_605, 0.001);
}

// IAPWS-95 steam tables, SR1-86(1992) (printed).
#[test]
fn gas_12_to_15() {
    for (degrees, pressure) in [(0.01, 611.657), (20.0, 2339.3), (30.0, 4247.0), (40.0, 7384.9)] {
        near_percent(humidity::saturation_pressure(celsius(degrees)), pressure, 0.05);
    }
}

// IAPWS R7-97(2012) IF97, table 35, verification value (printed).
#[test]
fn gas_16() {
    near_percent(humidity::saturation_pressure_if97(300.0), 3_536.589_41, 1e-5);
}

// WMO-No. 8 (CIMO Guide) 2008, annex 4.B; Sonntag 1990.
#[test]
fn gas_17() {
    near_percent(humidity::saturation_pressure_magnus(celsius(30.0)), 4_233.723_915_9, 1e-4);
    near_percent(humidity::saturation_pressure_magnus(celsius(20.0)), 2332.60, 1e-3);
    near_percent(humidity::saturation_pressure_magnus(celsius(40.0)), 7367.46, 1e-3);
}

// ASHRAE Handbook Fundamentals, ch. 1, table 3: over ice (printed).
#[test]
fn gas_18() {
    near_percent(humidity::saturation_pressure(celsius(-20.0)), 103.24, 0.1);
}

// Picard, Davis, Gläser & Fujii, Metrologia 45 (2008) 149 (CIPM-2007).
#[test]
fn gas_19_to_21() {
    for (degrees, pressure, relative, density) in [
        (20.0, 101_325.0, 0.5, 1.199_313_9),
        (30.0, 83_500.0, 0.4, 0.952_408_2),
        (15.0, 101_325.0, 0.0, 1.225_521_3),
    ] {
        near_percent(humidity::moist_density(relative, celsius(degrees), pressure), density, 0.05);
    }
}

// ASHRAE Handbook Fundamentals 2017, ch. 1, worked example 1 (printed, chart readings).
#[test]
fn gas_22_23() {
    let (t, p) = (celsius(40.0), 101_325.0);
    let ratio = humidity::humidity_ratio_from_wet_bulb(t, celsius(20.0), p);
    near(ratio, 0.0065, 1e-4);
    near(ratio.and_then(|w| humidity::relative_humidity(w, t, p)).map(|rh| rh * 100.0), 14.0, 0.5);
}

// ASHRAE Handbook Fundamentals, ch. 1, eqs. 20 and 22; gas constant of the mixture from its parts.
#[test]
fn gas_24() {
    let ratio = humidity::humidity_ratio(0.4, celsius(30.0), 83_500.0);
    near_percent(ratio, 0.012_913_18, 0.6);
    near(ratio.and_then(Gas::moist_air).map(|gas| gas.r()), 289.277, 0.03);
}

// Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table A.4 (printed); γ and speed of
// sound from NASA polynomials.
#[test]
fn gas_25_to_31() {
    let air = Gas::dry_air();
    for (t, cp, gamma, sound) in [
        (250.0, 1006.0, 1.400_96, 317.07),
        (300.0, 1007.0, 1.399_90, 347.20),
        (400.0, 1014.0, 1.394_75, 400.17),
        (600.0, 1051.0, 1.375_98, 486.80),
        (800.0, 1099.0, 1.353_67, 557.54),
        (1000.0, 1141.0, 1.336_25, 619.32),
        (1200.0, 1175.0, 1.324_56, 675.46),
    ] {
        near_percent(air.cp(t), cp, 0.4);
        near_percent(air.gamma(t), gamma, 0.1);
        near_percent(air.sound_speed(t), sound, 0.05);
    }
}

// Keenan & Kaye's air table as in Çengel & Boles, Thermodynamics, table A-17 (printed).
#[test]
fn gas_32_to_36() {
    let air = Gas::dry_air();
    for (t, kilojoules) in
        [(250.0, -50.14), (400.0, 100.79), (600.0, 306.83), (1000.0, 745.85), (1200.0, 977.6)]
    {
        near_percent((air.h(t) - air.h(300.0)) / 1e3, kilojoules, 0.3);
    }
}

// The same table, relative pressures (printed).
#[test]
fn gas_37_38() {
    let air = Gas::dry_air();
    near_percent(air.isentropic_ratio(300.0, 400.0), 2.746_03, 0.4);
    near_percent(air.isentropic_ratio(300.0, 600.0), 11.746, 0.4);
}

// U.S. Standard Atmosphere 1976, eq. 51 (printed).
#[test]
fn gas_39() {
    near_percent(viscosity(288.15), 1.7894e-5, 0.01);
}

// Incropera & DeWitt, table A.4 (printed); Sutherland's law departs from it by up to 1.4 %.
#[test]
fn gas_40_to_42() {
    near_percent(viscosity(300.0), 1.846e-5, 2.0);
    near_percent(viscosity(400.0), 2.301e-5, 2.0);
    near_percent(viscosity(600.0), 3.058e-5, 2.0);
}

// U.S. Standard Atmosphere 1976 (printed) with γ 1.4; γ of the polynomials is 1.40025 here, hence
// 0.1 %.
#[test]
fn gas_43() {
    near_percent(Gas::dry_air().sound_speed(288.15), 340.294, 0.1);
}

// NACA Report 1135 (1953), tables I and II; White, Fluid Mechanics, table B.1 (printed).
#[test]
fn gas_44_to_48() {
    for (mach, pressure, temperature, density, area) in [
        (0.3, 0.9395, 0.9823, 0.9564, 2.0351),
        (0.5, 0.8430, 0.9524, 0.8852, 1.3398),
        (0.8, 0.6560, 0.8865, 0.7400, 1.0382),
        (1.0, 0.5283, 0.8333, 0.6339, 1.0000),
        (2.0, 0.1278, 0.5556, 0.2300, 1.6875),
    ] {
        near(flow::pressure_ratio(mach, 1.4), pressure, 6e-5);
        near(flow::temperature_ratio(mach, 1.4), temperature, 6e-5);
        near(flow::density_ratio(mach, 1.4), density, 6e-5);
        near(flow::area_ratio(mach, 1.4), area, 6e-5);
    }
}

// NACA Report 1135, critical ratio (printed).
#[test]
fn gas_49_50() {
    near_percent(flow::critical_pressure_ratio(1.4), 0.528_282, 0.02);
    near_percent(flow::critical_pressure_ratio(1.33), 0.5404, 0.02);
}

// Shapiro 1953, vol. 1, ch. 4; White, eq. 9.46 (printed; its last digits follow R).
#[test]
fn gas_51() {
    near_percent(flow::choked_flow_factor(1.4, 287.05), 0.040_418, 0.02);
}

// Saint-Venant & Wantzel 1839; White, ch. 9; ISO 9300 for the critical nozzle.
#[test]
fn gas_52_53() {
    let nozzle = |bore, discharge_coefficient| Nozzle {
        area: flow::bore_area(bore),
        discharge_coefficient,
        gamma: 1.4,
        r: 287.05,
    };
    near_percent(nozzle(0.025, 1.0).flow(200e3, 300.0, 150e3), 0.202_454, 0.001);
    near_percent(nozzle(0.028, 0.7).flow(250e3, 330.0, 100e3), 0.239_733, 0.001);
}

// Shapiro 1953; White, table B.3; John & Keith, Gas Dynamics, Fanno table (printed).
#[test]
fn gas_54_to_58() {
    for (mach, parameter, pressure) in [
        (0.1, 66.9216, 10.9435),
        (0.2, 14.5333, 5.4554),
        (0.3, 5.2993, 3.6191),
        (0.5, 1.0691, 2.1381),
        (0.8, 0.0723, 1.2893),
    ] {
        near(flow::fanno_parameter(mach, 1.4), parameter, 1e-4);
        near(flow::fanno_pressure(mach, 1.4), pressure, 6e-5);
    }
}

// The same relations, solved for the outlet.
#[test]
fn gas_59() {
    let outlet = flow::fanno_outlet_mach(0.2, 0.018 * 200.0, 1.4);
    near_percent(outlet, 0.225_445, 0.01);
    let ratio = flow::fanno_pressure(outlet.unwrap(), 1.4).unwrap() / flow::fanno_pressure(0.2, 1.4).unwrap();
    near(ratio, 0.886_18, 1e-5);
}

// ISO 6358-1:2013.
#[test]
fn gas_60_61() {
    let rating = SonicRating { conductance: 3.2e-7, critical_ratio: 0.3, subsonic_index: 0.5 };
    near_percent(rating.flow(220e3, 293.15, 60e3), 0.083_424, 0.001);
    near_percent(rating.flow(220e3, 333.15, 180e3), 0.052_613, 0.001);
}

// ISO 6358 with an isentropic nozzle of 1 mm².
#[test]
fn gas_62() {
    near_percent(flow::sonic_conductance(1e-6, 1.4, 287.05), 1.991_95e-9, 0.1);
}

/// Ideal-gas heat capacity of fuel vapours, J/(mol K): reference equations of state of methane, propane, methanol, ethanol and
/// octane, computed once with an independent library of properties. The cubics of Reid, Prausnitz & Poling (1987) are good
/// to 2 %; octane stands for petrol.
#[test]
fn fuel_vapour_heat_capacity() {
    use tractwright::physics::fuel::FuelData;
    let cases = [
        (FuelData::NATURAL_GAS, 35.778, 40.608),
        (FuelData::LPG, 73.698, 93.613),
        (FuelData::METHANOL, 44.138, 51.591),
        (FuelData::ETHANOL, 65.488, 81.221),
        (FuelData::PETROL, 189.95, 239.69),
    ];
    for (fuel, at_300, at_400) in cases {
        // In a mixture: what the vapour adds.
        let air = Gas::dry_air();
        let mixed = fuel.mixed(&air, 1.0).expect("a mixture");
        for (t, expected) in [(300.0, at_300), (400.0, at_400)] {
            let own = (2.0 * mixed.cp(t) - air.cp(t)) * fuel.vapour.molar_mass;
            near_percent(own, expected, 2.0);
        }
    }
}

/// Saturation pressure of alcohols, Pa: as above.
#[test]
fn fuel_saturation_pressure() {
    use tractwright::physics::fuel::FuelData;
    for (fuel, t, expected) in [
        (FuelData::METHANOL, 280.0, 6176.9),
        (FuelData::METHANOL, 320.0, 48_494.0),
        (FuelData::ETHANOL, 280.0, 2559.7),
        (FuelData::ETHANOL, 320.0, 25_238.0),
    ] {
        near_percent(fuel.saturation_pressure(t), expected, 2.0);
    }
}

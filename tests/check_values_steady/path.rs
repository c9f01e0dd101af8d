//! Engine, losses, cooler, relief valve.

use tractwright::physics::compressor;
use tractwright::physics::cooler::{self, Arrangement};
use tractwright::physics::engine::{self, Cycle};
use tractwright::physics::flow::{Nozzle, bore_area};
use tractwright::physics::gas::Gas;
use tractwright::physics::loss;
use tractwright::physics::relief_valve::{self, Balance, Pressures};
use tractwright::physics::strength;
use tractwright::physics::turbine;

use super::{near, near_percent};

// Heywood, Internal Combustion Engine Fundamentals (1988), eq. 2.27.
#[test]
fn engine_01_to_03() {
    for (efficiency, displacement, speed, p, t, expected) in [
        (0.97, 0.001_998, 6000.0, 191_325.0, 323.0, 0.199_963),
        (0.82, 0.001_998, 2000.0, 101_325.0, 300.0, 0.032_128_9),
        (0.95, 0.004, 5000.0, 99_000.0, 298.15, 0.183_153),
    ] {
        let flow =
            engine::mixture_flow(efficiency, displacement, speed / 60.0, p, t, 287.05, Cycle::FourStroke);
        near_percent(flow, expected, 0.001);
    }
}

// The same with one filling in each revolution.
#[test]
fn engine_04() {
    let flow = engine::mixture_flow(0.9, 500e-6, 100.0, 150e3, 320.0, 287.05, Cycle::TwoStroke);
    near_percent(flow, 0.073_484_6, 0.001);
}

// Heywood 1988, table D.4 and eq. 3.6 (printed).
#[test]
fn engine_05_to_11() {
    for (carbon, hydrogen, oxygen, expected, percent) in [
        (8.0, 18.0, 0.0, 15.13, 0.3),
        (1.0, 1.87, 0.0, 14.6, 0.5),
        (1.0, 1.8, 0.0, 14.5, 0.5),
        (1.0, 4.0, 1.0, 6.47, 0.5),
        (2.0, 6.0, 1.0, 9.0, 0.3),
        (1.0, 4.0, 0.0, 17.23, 0.3),
    ] {
        near_percent(engine::stoichiometric_ratio(carbon, hydrogen, oxygen), expected, percent);
    }
}

// Mean by mass of Heywood's values; 9.8 is widely printed.
#[test]
fn engine_12() {
    near_percent(engine::blend_ratio(&[(0.85, 789.0, 9.0), (0.15, 745.0, 14.6)]), 9.8, 2.0);
}

// Ideal gas.
#[test]
fn engine_13() {
    near_percent(engine::charge_density(200e3, 323.0, 287.05), 2.1571, 0.001);
}

// Colebrook 1939; Moody 1944.
#[test]
fn losses_01_02_06_07() {
    for (reynolds, roughness, factor) in [
        (1e5, 1e-4, 0.018_513_9),
        (1e6, 1e-3, 0.019_943_5),
        (5e4, 1e-3, 0.024_020_8),
        (2e5, 2.5e-5, 0.015_840_0),
    ] {
        near_percent(loss::darcy_factor(reynolds, roughness), factor, 0.01);
    }
}

// White, Fluid Mechanics, table of smooth pipes (printed).
#[test]
fn losses_03_to_05() {
    near_percent(loss::darcy_factor(1e4, 0.0), 0.0309, 0.6);
    near_percent(loss::darcy_factor(1e5, 0.0), 0.0180, 0.6);
    near_percent(loss::darcy_factor(1e6, 0.0), 0.0116, 0.6);
}

// Hagen–Poiseuille.
#[test]
fn losses_08() {
    near_percent(loss::darcy_factor(1000.0, 1e-4), 0.064, 1e-7);
}

// Blasius 1913.
#[test]
fn losses_09() {
    near_percent(loss::blasius_factor(1e4), 0.031_64, 1e-4);
}

// Haaland, J. Fluids Eng. 105 (1983) 89.
#[test]
fn losses_10() {
    near_percent(loss::haaland_factor(1e5, 1e-4), 0.018_265_1, 3e-4);
}

// Borda–Carnot; White, eq. 6.80.
#[test]
fn losses_11_to_13() {
    near_percent(loss::enlargement_k(0.051, 0.060), 0.077_006_2, 0.01);
    near_percent(loss::enlargement_k(0.050, 0.070_710_7), 0.25, 0.01);
    near_percent(loss::enlargement_k(0.060, 0.300), 0.9216, 0.01);
}

// Band of published correlations: Weisbach 1855, White, Rennels & Hudson (2012); they disagree by
// up to 1.9.
#[test]
fn losses_14_to_16() {
    for (share, middle, half_width) in
        [(0.4_f64, 0.3353, 0.0909), (0.6, 0.2151, 0.0564), (0.8, 0.0776, 0.0263)]
    {
        near(loss::contraction_k(share.sqrt(), 1.0), middle, half_width);
    }
}

// Flow of Fluids, TP-410 (2009), p. A-30; Idelchik, diagram 3-1 (printed).
#[test]
fn losses_17_to_20() {
    near(loss::entry_k(0.0), 0.50, 0.08);
    near(loss::entry_k(0.02), 0.28, 0.015);
    near(loss::entry_k(0.06), 0.15, 0.015);
    near(loss::entry_k(0.15), 0.04, 0.015);
}

// Flow of Fluids, TP-410; Idelchik (printed).
#[test]
fn losses_21() {
    near(loss::EXIT_K, 1.0, 1e-9);
}

// Flow of Fluids, TP-410 (2009), p. A-30, as K/f_T (printed).
#[test]
fn losses_22_to_25() {
    for (radius, ratio) in [(1.0, 20.0), (1.5, 14.0), (2.0, 12.0), (3.0, 12.0)] {
        near_percent(loss::bend_k(radius, 90.0, 0.019).map(|k| k / 0.019), ratio, 2.0);
    }
}

// Darcy–Weisbach with Colebrook and Sutherland's viscosity.
#[test]
fn losses_26_27() {
    for (bore, length, p, t, expected) in
        [(0.06, 0.9, 200e3, 320.0, 221.76), (0.051, 0.7, 205e3, 400.0, 475.245)]
    {
        let pipe = loss::pipe_loss(0.18, bore, length, loss::DRAWN_TUBING_ROUGHNESS, p / (287.05 * t), t);
        near_percent(pipe.map(|pipe| pipe.loss), expected, 0.2);
    }
}

// Similarity of incompressible loss.
#[test]
fn losses_28() {
    let density = |p: f64, t: f64| p / (287.05 * t);
    let coefficient = loss::coefficient_from_reference(7000.0, 0.2, density(100e3, 300.0));
    near_percent(
        coefficient.and_then(|c| loss::loss_from_coefficient(c, 0.235, density(190e3, 390.0))),
        6612.467,
        1e-4,
    );
}

// Equal loss in parallel branches.
#[test]
fn losses_29() {
    let branches =
        [loss::coefficient_from_k(3.0, 0.060).unwrap(), loss::coefficient_from_k(5.0, 0.050).unwrap()];
    near_percent(loss::parallel_shares(&branches).map(|shares| shares[0]), 0.650_231, 1e-4);
}

// Kays & London, Compact Heat Exchangers, 3rd ed. (1984), ch. 2; Incropera & DeWitt, table 11.3
// (worked example 11.3 printed).
#[test]
fn cooler_01_to_13() {
    use Arrangement::{Counterflow, CrossBothUnmixed, CrossLargerMixed, CrossSmallerMixed, Parallel};
    for (arrangement, ntu, capacity_ratio, expected, percent) in [
        (Counterflow, 1.0, 0.5, 0.564_733, 0.1),
        (Counterflow, 2.0, 0.5, 0.7746, 0.1),
        (Counterflow, 2.0, 1.0, 0.666_667, 0.1),
        (Parallel, 1.0, 0.5, 0.517_913, 0.1),
        (Parallel, 3.0, 1.0, 0.498_761, 0.1),
        (CrossBothUnmixed, 1.0, 1.0, 0.476, 0.1),
        (CrossBothUnmixed, 1.0, 0.5, 0.547_49, 0.1),
        (CrossBothUnmixed, 2.0, 0.5, 0.732_409, 0.1),
        (CrossBothUnmixed, 3.0, 0.2, 0.901_573, 0.1),
        (CrossLargerMixed, 2.0, 0.5, 0.702_013, 0.1),
        (CrossSmallerMixed, 2.0, 0.5, 0.717_546, 0.1),
        (CrossBothUnmixed, 1.2, 0.0, 0.698_806, 0.1),
        (CrossBothUnmixed, 2.1, 0.45, 0.75, 1.5),
    ] {
        near_percent(cooler::effectiveness(arrangement, ntu, capacity_ratio), expected, percent);
    }
}

// The exact series, solved for the number of transfer units.
#[test]
fn cooler_14() {
    near_percent(cooler::ntu_from_effectiveness(Arrangement::CrossBothUnmixed, 0.72, 0.3), 1.581_891, 0.1);
}

// Definition of effectiveness; heat from the polynomials.
#[test]
fn cooler_15() {
    let outlet = cooler::outlet_temperature(400.0, 303.15, 0.72);
    near_percent(outlet, 330.268, 1e-4);
    let air = Gas::dry_air();
    near_percent(outlet.map(|t| 0.2 * (air.h(400.0) - air.h(t)) / 1e3), 14.089, 0.1);
}

// Rao, Mechanical Vibrations, ch. 2 (the second with a third of the spring's mass: Rayleigh's
// method).
#[test]
fn valve_01_02() {
    near_percent(relief_valve::natural_frequency(2600.0, 0.048, 0.0), 37.041_297, 1e-4);
    near_percent(relief_valve::natural_frequency(2600.0, 0.048, 0.018), 34.922_870, 1e-4);
}

// Balance of forces.
#[test]
fn valve_03_to_05() {
    let valve = Balance::from_bores(0.028, 0.031, 55.0, 2600.0);
    for (charge, discharge, signal, lift, force) in [
        (191e3, 100e3, 186e3, 0.0, -63.876_570),
        (191e3, 100e3, 40e3, 0.009, 22.919_504_7),
        (83.5e3, 83.5e3, 34e3, 0.0, -17.639_002_1),
    ] {
        let pressures = Pressures { charge, discharge, signal };
        near_percent(valve.opening_force(pressures, lift), force, 1e-4);
    }
}

// Balance of forces at idle.
#[test]
fn valve_06() {
    let valve = Balance::from_bores(0.028, 0.031, 0.0, 2600.0);
    let idle = Pressures { charge: 83.5e3, discharge: 83.5e3, signal: 34e3 };
    near_percent(valve.preload_at_balance(idle, 0.0), 37.360_998, 1e-4);
}

// Undamped answer to a step of force: Rao, ch. 4.
#[test]
fn valve_07() {
    near_percent(relief_valve::time_to_lift(60.0, 2600.0, 0.048, 0.009).map(|t| t * 1e3), 3.930_335, 0.001);
}

// π D x = π D²/4.
#[test]
fn valve_08() {
    near_percent(relief_valve::full_area_lift(0.028) * 1e3, 7.0, 1e-7);
}

// Newton's law of restitution.
#[test]
fn valve_09() {
    near_percent(relief_valve::rebound_speed(2.0, 0.4), 0.8, 1e-7);
}

/// Cones by Flow of Fluids, TP-410 (2009), p. A-26; computed once with an independent library of fluid dynamics.
#[test]
fn cones() {
    let angle =
        |wide: f64, narrow: f64, length: f64| 2.0 * (0.5 * (wide - narrow) / length).atan().to_degrees();
    let cases = [
        (0.050, 0.060, 0.08, 0.015_142_1, 0.015_248_0),
        (0.070, 0.076, 0.15, 0.001_195_83, 0.002_426_11),
        (0.050, 0.080, 0.03, 0.371_338, 0.203_757),
    ];
    for (narrow, wide, length, widening, narrowing) in cases {
        let angle = angle(wide, narrow, length);
        near_percent(loss::widening_cone_k(narrow, wide, angle), widening, 0.01);
        near_percent(loss::narrowing_cone_k(narrow, wide, angle), narrowing, 0.01);
    }
}

/// A venturi's lasting loss is 5 to 20 % of its pressure difference: ISO 5167-4:2003, 5.9 (from memory).
#[test]
fn a_venturi_gives_most_of_its_pressure_back() {
    for (throat, bore) in [(0.030, 0.045), (0.036, 0.045)] {
        let beta: f64 = throat / bore;
        let share = loss::venturi_k(throat, bore).expect("a K") / (1.0 - beta.powi(4));
        assert!((0.05..=0.2 + 1e-12).contains(&share), "{share}");
    }
}

// Cohen, Rogers & Saravanamuttoo, Gas Turbine Theory, example 2.1 (printed 164.7 K, 264.8 K, 304 kJ/kg).
#[test]
fn turbine_01_to_04() {
    // The compressor's rise, read backwards: the work of that rise makes the ratio of 4.
    let rise = 164.666;
    near_percent(compressor::ratio_from_work(1005.0 * rise, 0.85, 288.0, 1005.0, 1.4), 4.0, 0.2);
    let drop = turbine::temperature_drop(1100.0, 3.654, 0.87);
    near_percent(drop, 264.8, 0.3);
    near_percent(drop.map(|drop| turbine::CP * drop), 304_000.0, 0.3);
    // What a turbine gives for that work through bearings of 0.99: 1.005 x 164.666 / 0.99.
    let ratio = turbine::ratio_for_power(1005.0 * rise, 1.0, 1100.0, 0.87 * 0.99);
    near_percent(
        ratio.and_then(|ratio| turbine::temperature_drop(1100.0, ratio, 0.87)).map(|drop| turbine::CP * drop),
        167_161.0,
        0.2,
    );
}

// Watson & Janota, Turbocharging the Internal Combustion Engine (1982), ch. 2; Heywood 1988, section 6.8.
#[test]
fn turbine_05_06() {
    for (flow, t1, ratio, efficiency, air_to_fuel, t3, turbine_efficiency, mechanical, expansion) in [
        (0.18, 300.0, 2.2_f64, 0.74, 12.5, 1150.0, 0.68, 0.96, 1.598_69),
        (0.1, 300.0, 1.6, 0.7, 14.7, 1050.0, 0.65, 0.95, 1.383_35),
    ] {
        let power = flow * 1005.0 * t1 * (ratio.powf(0.4 / 1.4) - 1.0) / efficiency;
        let exhaust = flow * (1.0 + 1.0 / air_to_fuel);
        near_percent(
            turbine::ratio_for_power(power, exhaust, t3, turbine_efficiency * mechanical),
            expansion,
            0.001,
        );
    }
}

// Saint-Venant & Wantzel, choked.
#[test]
fn turbine_07() {
    let gate = Nozzle { area: bore_area(0.026), discharge_coefficient: 0.7, gamma: 1.33, r: 288.0 };
    near_percent(gate.flow(230e3, 1150.0, 100e3), 0.099_906_2, 0.001);
}

// End thrust by statics; hoop stress by Barlow over the middle of the wall; the long tube by Timoshenko & Gere, Theory of
// Elastic Stability. Growth with the coefficient of aluminium from the CRC Handbook of Chemistry and Physics, at 25 degC.
#[test]
fn structure_01_02_04_05_06() {
    near_percent(strength::end_thrust(150e3, 0.051), 306.423, 0.0001);
    near_percent(strength::end_thrust(110e3, 0.063), 342.897, 0.0001);
    near_percent(strength::hoop_stress(150e3, 0.060, 0.005), 0.975e6, 0.0001);
    near_percent(strength::collapse_long(4e6, 0.48, 0.075, 0.005), 3_080.0, 0.01);
    let aluminium = strength::material("aluminium").and_then(|material| material.expansion).unwrap();
    near_percent(strength::thermal_growth(0.9, aluminium.coefficient, 80.0), 1.6632e-3, 0.0001);
}

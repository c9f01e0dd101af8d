//! The table of units. Factors to SI follow NIST SP 811 (2008), appendix B.8, and are from memory; where a unit is
//! defined exactly the factor is worked out from its definition.

use super::Measure::{self as M};
use super::{Dim, Unit};
use std::f64::consts::{PI, TAU};

// Definitions that are exact.
const INCH: f64 = 0.0254;
const FOOT: f64 = 12.0 * INCH;
const POUND: f64 = 0.453_592_37;
const OUNCE: f64 = POUND / 16.0;
/// Standard acceleration of free fall.
const GRAVITY: f64 = 9.806_65;
const POUND_FORCE: f64 = POUND * GRAVITY;
const MINUTE: f64 = 60.0;
const HOUR: f64 = 3600.0;
const LITRE: f64 = 1e-3;
const CUBIC_INCH: f64 = INCH * INCH * INCH;
const CUBIC_FOOT: f64 = FOOT * FOOT * FOOT;
const PSI: f64 = POUND_FORCE / (INCH * INCH);
/// 550 foot pounds-force a second.
const HORSEPOWER: f64 = 550.0 * FOOT * POUND_FORCE;
/// The ice point in kelvin.
const ICE_POINT: f64 = 273.15;
/// The zero of the Fahrenheit scale in kelvin.
const FAHRENHEIT_ZERO: f64 = ICE_POINT - 32.0 / 1.8;

/// A unit whose zero is zero.
const fn of(
    symbol: &'static str,
    aliases: &'static [&'static str],
    dim: Dim,
    factor: f64,
    measures: &'static [M],
) -> Unit {
    scale(symbol, aliases, dim, factor, 0.0, measures)
}

/// A unit with a zero of its own.
const fn scale(
    symbol: &'static str,
    aliases: &'static [&'static str],
    dim: Dim,
    factor: f64,
    offset: f64,
    measures: &'static [M],
) -> Unit {
    Unit { symbol, aliases, dim, factor, offset, measures }
}

const LENGTHS: &[M] = &[M::Length];
const AREAS: &[M] = &[M::Area];
const VOLUMES: &[M] = &[M::Volume];
const MASSES: &[M] = &[M::Mass];
const MASS_FLOWS: &[M] = &[M::MassFlow];
const VOLUME_FLOWS: &[M] = &[M::VolumeFlow];
const TIMES: &[M] = &[M::Time];
const SPEEDS: &[M] = &[M::Speed];
const ACCELERATIONS: &[M] = &[M::Acceleration];
const PRESSURES: &[M] = &[M::Pressure, M::PressureDifference];
const PRESSURES_AND_STRESSES: &[M] = &[M::Pressure, M::PressureDifference, M::Stress];
const TEMPERATURES: &[M] = &[M::Temperature, M::TemperatureDifference];
const ANGLES: &[M] = &[M::Angle];
const FORCES: &[M] = &[M::Force];
const SPRING_RATES: &[M] = &[M::SpringRate];
const INERTIAS: &[M] = &[M::Inertia];
const TORQUES: &[M] = &[M::Torque];
const MULTIPLES: &[M] = &[M::Multiple];
const POWERS: &[M] = &[M::Power];
const ENERGIES: &[M] = &[M::Energy];
const DENSITIES: &[M] = &[M::Density];
const CONDUCTANCES: &[M] = &[M::Conductance];
const SPECIFIC_HEATS: &[M] = &[M::SpecificHeat];
const SPECIFIC_ENERGIES: &[M] = &[M::SpecificEnergy];
const VISCOSITIES: &[M] = &[M::Viscosity];
const CONSUMPTIONS: &[M] = &[M::FuelConsumption];

/// Every unit known.
pub static TABLE: &[Unit] = &[
    of("mm", &["millimetre", "millimetres"], Dim::LENGTH, 1e-3, LENGTHS),
    of("cm", &["centimetre", "centimetres"], Dim::LENGTH, 1e-2, LENGTHS),
    of("m", &["metre", "metres"], Dim::LENGTH, 1.0, LENGTHS),
    of("km", &["kilometre", "kilometres"], Dim::LENGTH, 1e3, LENGTHS),
    of("um", &["µm", "μm", "micron", "microns"], Dim::LENGTH, 1e-6, LENGTHS),
    of("in", &["inch", "inches"], Dim::LENGTH, INCH, LENGTHS),
    of("thou", &["mil"], Dim::LENGTH, INCH / 1000.0, LENGTHS),
    of("ft", &["foot", "feet"], Dim::LENGTH, FOOT, LENGTHS),
    of("mm2", &["sq mm"], Dim::AREA, 1e-6, AREAS),
    of("cm2", &["sq cm"], Dim::AREA, 1e-4, AREAS),
    of("m2", &["sq m"], Dim::AREA, 1.0, AREAS),
    of("in2", &["sq in"], Dim::AREA, INCH * INCH, AREAS),
    of("ft2", &["sq ft"], Dim::AREA, FOOT * FOOT, AREAS),
    of("cm3", &["cc", "ccm"], Dim::VOLUME, 1e-6, VOLUMES),
    of("mL", &["ml"], Dim::VOLUME, 1e-6, VOLUMES),
    of("L", &["l", "dm3", "litre", "litres"], Dim::VOLUME, LITRE, VOLUMES),
    of("m3", &[], Dim::VOLUME, 1.0, VOLUMES),
    of("mm3", &[], Dim::VOLUME, 1e-9, VOLUMES),
    of("in3", &["ci", "cu in", "cid"], Dim::VOLUME, CUBIC_INCH, VOLUMES),
    of("ft3", &["cu ft"], Dim::VOLUME, CUBIC_FOOT, VOLUMES),
    of("mg", &[], Dim::MASS, 1e-6, MASSES),
    of("g", &["gram", "grams"], Dim::MASS, 1e-3, MASSES),
    of("kg", &[], Dim::MASS, 1.0, MASSES),
    of("lb", &["lbs", "lbm", "pound", "pounds"], Dim::MASS, POUND, MASSES),
    of("oz", &["ounce", "ounces"], Dim::MASS, OUNCE, MASSES),
    of("kg/s", &[], Dim::MASS_FLOW, 1.0, MASS_FLOWS),
    of("g/s", &[], Dim::MASS_FLOW, 1e-3, MASS_FLOWS),
    of("kg/min", &[], Dim::MASS_FLOW, 1.0 / MINUTE, MASS_FLOWS),
    of("kg/h", &["kg/hr"], Dim::MASS_FLOW, 1.0 / HOUR, MASS_FLOWS),
    of("lb/s", &["lbs/s"], Dim::MASS_FLOW, POUND, MASS_FLOWS),
    of("lb/min", &["lbs/min", "lbm/min"], Dim::MASS_FLOW, POUND / MINUTE, MASS_FLOWS),
    of("lb/h", &["lb/hr", "lbs/h", "lbs/hr"], Dim::MASS_FLOW, POUND / HOUR, MASS_FLOWS),
    of("m3/s", &[], Dim::VOLUME_FLOW, 1.0, VOLUME_FLOWS),
    of("m3/h", &["m3/hr"], Dim::VOLUME_FLOW, 1.0 / HOUR, VOLUME_FLOWS),
    of("L/s", &["l/s", "dm3/s"], Dim::VOLUME_FLOW, LITRE, VOLUME_FLOWS),
    of("L/min", &["l/min", "lpm"], Dim::VOLUME_FLOW, LITRE / MINUTE, VOLUME_FLOWS),
    of("L/h", &["l/h", "L/hr", "l/hr"], Dim::VOLUME_FLOW, LITRE / HOUR, VOLUME_FLOWS),
    of("cm3/min", &["cc/min"], Dim::VOLUME_FLOW, 1e-6 / MINUTE, VOLUME_FLOWS),
    of("cfm", &["ft3/min"], Dim::VOLUME_FLOW, CUBIC_FOOT / MINUTE, VOLUME_FLOWS),
    of("s", &["sec", "second", "seconds"], Dim::TIME, 1.0, TIMES),
    of("ms", &["millisecond", "milliseconds"], Dim::TIME, 1e-3, TIMES),
    of("us", &["µs", "μs"], Dim::TIME, 1e-6, TIMES),
    of("min", &["minute", "minutes"], Dim::TIME, MINUTE, TIMES),
    of("h", &["hr", "hour", "hours"], Dim::TIME, HOUR, TIMES),
    of("Hz", &["hertz"], Dim::FREQUENCY, 1.0, &[M::Frequency, M::RotationalSpeed]),
    of("kHz", &[], Dim::FREQUENCY, 1e3, &[M::Frequency]),
    of("1/s", &["s-1", "rev/s", "/s"], Dim::FREQUENCY, 1.0, &[M::Frequency, M::RotationalSpeed]),
    of(
        "rpm",
        &["rev/min", "r/min", "1/min", "min-1", "/min"],
        Dim::FREQUENCY,
        1.0 / MINUTE,
        &[M::RotationalSpeed],
    ),
    of("rad/s", &[], Dim::FREQUENCY, 1.0 / TAU, &[M::RotationalSpeed]),
    of("m/s", &[], Dim::SPEED, 1.0, SPEEDS),
    of("km/h", &["kph"], Dim::SPEED, 1000.0 / HOUR, SPEEDS),
    of("mph", &[], Dim::SPEED, 5280.0 * FOOT / HOUR, SPEEDS),
    of("ft/s", &[], Dim::SPEED, FOOT, SPEEDS),
    of("m/s2", &[], Dim::ACCELERATION, 1.0, ACCELERATIONS),
    of("ft/s2", &[], Dim::ACCELERATION, FOOT, ACCELERATIONS),
    of("Pa", &["pascal"], Dim::PRESSURE, 1.0, PRESSURES_AND_STRESSES),
    of("hPa", &[], Dim::PRESSURE, 1e2, PRESSURES),
    of("kPa", &[], Dim::PRESSURE, 1e3, PRESSURES_AND_STRESSES),
    of("MPa", &["N/mm2"], Dim::PRESSURE, 1e6, PRESSURES_AND_STRESSES),
    of("GPa", &[], Dim::PRESSURE, 1e9, &[M::Stress]),
    of("bar", &[], Dim::PRESSURE, 1e5, PRESSURES_AND_STRESSES),
    of("mbar", &["millibar"], Dim::PRESSURE, 1e2, PRESSURES),
    of("psi", &["lbf/in2", "lb/in2"], Dim::PRESSURE, PSI, PRESSURES_AND_STRESSES),
    of("kgf/cm2", &["kg/cm2"], Dim::PRESSURE, GRAVITY * 1e4, PRESSURES),
    of("atm", &[], Dim::PRESSURE, 101_325.0, PRESSURES),
    // Columns of mercury and water are the conventional ones: 13 595.1 and 1000 kg/m3 at standard gravity.
    of("inHg", &["in Hg"], Dim::PRESSURE, 13_595.1 * GRAVITY * INCH, PRESSURES),
    of("mmHg", &["mm Hg"], Dim::PRESSURE, 13.595_1 * GRAVITY, PRESSURES),
    of("inH2O", &["in H2O"], Dim::PRESSURE, 1000.0 * GRAVITY * INCH, PRESSURES),
    of("mmH2O", &["mm H2O"], Dim::PRESSURE, GRAVITY, PRESSURES),
    of("K", &["kelvin"], Dim::TEMPERATURE, 1.0, TEMPERATURES),
    scale("degC", &["C", "deg C", "celsius", "Celsius"], Dim::TEMPERATURE, 1.0, ICE_POINT, TEMPERATURES),
    scale(
        "degF",
        &["F", "deg F", "fahrenheit", "Fahrenheit"],
        Dim::TEMPERATURE,
        1.0 / 1.8,
        FAHRENHEIT_ZERO,
        TEMPERATURES,
    ),
    of("rad", &["radian", "radians"], Dim::ONE, 1.0, ANGLES),
    of("deg", &["degree", "degrees"], Dim::ONE, PI / 180.0, ANGLES),
    of("N", &["newton", "newtons"], Dim::FORCE, 1.0, FORCES),
    of("kN", &[], Dim::FORCE, 1e3, FORCES),
    of("lbf", &[], Dim::FORCE, POUND_FORCE, FORCES),
    of("kgf", &["kp"], Dim::FORCE, GRAVITY, FORCES),
    of("ozf", &[], Dim::FORCE, POUND_FORCE / 16.0, FORCES),
    of("N/m", &[], Dim::SPRING_RATE, 1.0, SPRING_RATES),
    of("N/mm", &[], Dim::SPRING_RATE, 1e3, SPRING_RATES),
    of("N/cm", &[], Dim::SPRING_RATE, 1e2, SPRING_RATES),
    of("kN/m", &[], Dim::SPRING_RATE, 1e3, SPRING_RATES),
    of("lbf/in", &["lb/in", "lbs/in"], Dim::SPRING_RATE, POUND_FORCE / INCH, SPRING_RATES),
    of("kgf/mm", &["kg/mm"], Dim::SPRING_RATE, GRAVITY * 1e3, SPRING_RATES),
    of("kg m2", &["kgm2"], Dim::INERTIA, 1.0, INERTIAS),
    of("kg mm2", &["kgmm2"], Dim::INERTIA, 1e-6, INERTIAS),
    of("kg cm2", &["kgcm2"], Dim::INERTIA, 1e-4, INERTIAS),
    of("g cm2", &["gcm2"], Dim::INERTIA, 1e-7, INERTIAS),
    of("g mm2", &["gmm2"], Dim::INERTIA, 1e-9, INERTIAS),
    of("lb in2", &[], Dim::INERTIA, POUND * INCH * INCH, INERTIAS),
    of("lb ft2", &[], Dim::INERTIA, POUND * FOOT * FOOT, INERTIAS),
    of("N m", &["Nm"], Dim::ENERGY, 1.0, TORQUES),
    of("N mm", &["Nmm"], Dim::ENERGY, 1e-3, TORQUES),
    of("N cm", &["Ncm"], Dim::ENERGY, 1e-2, TORQUES),
    of("lbf ft", &["lb ft", "ft lbf", "ft lb"], Dim::ENERGY, POUND_FORCE * FOOT, TORQUES),
    of("lbf in", &["lb in", "in lbf", "in lb"], Dim::ENERGY, POUND_FORCE * INCH, TORQUES),
    of("1", &[], Dim::ONE, 1.0, &[M::Ratio, M::Count, M::Multiple]),
    of("%", &["percent", "per cent"], Dim::ONE, 1e-2, &[M::Ratio]),
    of("diameters", &["diameter"], Dim::ONE, 1.0, MULTIPLES),
    of("bores", &["bore"], Dim::ONE, 1.0, MULTIPLES),
    of("cycles", &["cycle"], Dim::ONE, 1.0, MULTIPLES),
    of("times", &["x"], Dim::ONE, 1.0, MULTIPLES),
    of("W", &["watt", "watts"], Dim::POWER, 1.0, POWERS),
    of("kW", &[], Dim::POWER, 1e3, POWERS),
    of("hp", &["bhp"], Dim::POWER, HORSEPOWER, POWERS),
    // Metric horsepower: 75 m kgf a second.
    of("PS", &[], Dim::POWER, 75.0 * GRAVITY, POWERS),
    of("J", &["joule", "joules"], Dim::ENERGY, 1.0, ENERGIES),
    of("kJ", &[], Dim::ENERGY, 1e3, ENERGIES),
    of("MJ", &[], Dim::ENERGY, 1e6, ENERGIES),
    of("kW h", &["kWh"], Dim::ENERGY, 1e3 * HOUR, ENERGIES),
    of("kg/m3", &[], Dim::DENSITY, 1.0, DENSITIES),
    of("g/cm3", &["kg/L", "kg/l", "g/cc"], Dim::DENSITY, 1e3, DENSITIES),
    of("lb/ft3", &[], Dim::DENSITY, POUND / CUBIC_FOOT, DENSITIES),
    of("m3/(s Pa)", &["m3/s/Pa"], Dim::CONDUCTANCE, 1.0, CONDUCTANCES),
    of(
        "dm3/(s bar)",
        &["L/(s bar)", "l/(s bar)", "dm3/s/bar", "L/s/bar", "l/s/bar"],
        Dim::CONDUCTANCE,
        LITRE / 1e5,
        CONDUCTANCES,
    ),
    of("J/(kg K)", &["J/kg/K"], Dim::SPECIFIC_HEAT, 1.0, SPECIFIC_HEATS),
    of("kJ/(kg K)", &["kJ/kg/K"], Dim::SPECIFIC_HEAT, 1e3, SPECIFIC_HEATS),
    of("J/kg", &[], Dim::SPECIFIC_ENERGY, 1.0, SPECIFIC_ENERGIES),
    of("kJ/kg", &[], Dim::SPECIFIC_ENERGY, 1e3, SPECIFIC_ENERGIES),
    of("MJ/kg", &[], Dim::SPECIFIC_ENERGY, 1e6, SPECIFIC_ENERGIES),
    of("Pa s", &[], Dim::VISCOSITY, 1.0, VISCOSITIES),
    of("mPa s", &["cP"], Dim::VISCOSITY, 1e-3, VISCOSITIES),
    of("N s/m", &["Ns/m"], Dim::MASS_FLOW, 1.0, &[M::Damping]),
    of("g/(kW h)", &["g/kWh", "g/kW/h", "g/(kWh)"], Dim::MASS_PER_ENERGY, 1e-6 / HOUR, CONSUMPTIONS),
    of(
        "lb/(hp h)",
        &["lb/hp/h", "lb/(hp hr)", "lb/hp/hr"],
        Dim::MASS_PER_ENERGY,
        POUND / (HORSEPOWER * HOUR),
        CONSUMPTIONS,
    ),
];

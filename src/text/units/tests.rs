use super::*;
use std::collections::HashMap;

/// Factors as NIST SP 811 (2008), appendix B.8, lists them, to the digits given there; from memory.
const LISTED: &[(&str, f64)] = &[
    ("in", 2.54e-2),
    ("ft", 3.048e-1),
    ("thou", 2.54e-5),
    ("in2", 6.4516e-4),
    ("ft2", 9.290_304e-2),
    ("in3", 1.638_706e-5),
    ("ft3", 2.831_685e-2),
    ("L", 1e-3),
    ("lb", 4.535_924e-1),
    ("oz", 2.834_952e-2),
    ("lb/s", 4.535_924e-1),
    ("lb/min", 7.559_873e-3),
    ("lb/h", 1.259_979e-4),
    ("cfm", 4.719_474e-4),
    ("rpm", 1.0 / 60.0),
    ("mph", 4.4704e-1),
    ("km/h", 2.777_778e-1),
    ("ft/s2", 3.048e-1),
    ("psi", 6.894_757e3),
    ("atm", 1.013_25e5),
    ("bar", 1e5),
    ("mbar", 1e2),
    ("inHg", 3.386_389e3),
    ("mmHg", 1.333_224e2),
    ("inH2O", 2.490_889e2),
    ("mmH2O", 9.806_65),
    ("kgf/cm2", 9.806_65e4),
    ("deg", 1.745_329e-2),
    ("lbf", 4.448_222),
    ("kgf", 9.806_65),
    ("ozf", 2.780_139e-1),
    ("lbf/in", 1.751_268e2),
    ("kgf/mm", 9.806_65e3),
    ("lb ft2", 4.214_011e-2),
    ("lb in2", 2.926_397e-4),
    ("lbf ft", 1.355_818),
    ("lbf in", 1.129_848e-1),
    ("hp", 7.456_999e2),
    ("PS", 7.354_988e2),
    ("kW h", 3.6e6),
    ("lb/ft3", 1.601_846e1),
    ("g/cm3", 1e3),
    ("lb/(hp h)", 1.689_659e-7),
    ("mPa s", 1e-3),
];

#[test]
fn factors_are_those_of_the_listing() {
    for (name, listed) in LISTED {
        let factor = unit(name).expect(name).factor;
        assert!((factor / listed - 1.0).abs() < 4e-7, "{name}: {factor} is not {listed}");
    }
}

#[test]
fn prefixes_are_powers_of_ten_of_their_unit() {
    for (prefixed, plain, power) in [
        ("um", "m", -6),
        ("mm", "m", -3),
        ("cm", "m", -2),
        ("km", "m", 3),
        ("mm2", "m2", -6),
        ("cm2", "m2", -4),
        ("mm3", "m3", -9),
        ("cm3", "m3", -6),
        ("mL", "m3", -6),
        ("mg", "kg", -6),
        ("g", "kg", -3),
        ("g/s", "kg/s", -3),
        ("L/s", "m3/s", -3),
        ("ms", "s", -3),
        ("us", "s", -6),
        ("kHz", "Hz", 3),
        ("hPa", "Pa", 2),
        ("kPa", "Pa", 3),
        ("MPa", "Pa", 6),
        ("GPa", "Pa", 9),
        ("kN", "N", 3),
        ("N/mm", "N/m", 3),
        ("N/cm", "N/m", 2),
        ("kN/m", "N/m", 3),
        ("kg cm2", "kg m2", -4),
        ("kg mm2", "kg m2", -6),
        ("g cm2", "kg m2", -7),
        ("g mm2", "kg m2", -9),
        ("N mm", "N m", -3),
        ("N cm", "N m", -2),
        ("kW", "W", 3),
        ("kJ", "J", 3),
        ("MJ", "J", 6),
        ("kJ/(kg K)", "J/(kg K)", 3),
        ("kJ/kg", "J/kg", 3),
        ("MJ/kg", "J/kg", 6),
        ("dm3/(s bar)", "m3/(s Pa)", -8),
        ("%", "1", -2),
    ] {
        let (prefixed, plain) = (unit(prefixed).expect(prefixed), unit(plain).expect(plain));
        let ratio = prefixed.factor / plain.factor / 10f64.powi(power);
        assert!((ratio - 1.0).abs() < 1e-12, "{}", prefixed.symbol);
        assert_eq!((prefixed.dim, plain.factor), (plain.dim, 1.0));
    }
}

#[test]
fn times_and_turns_are_as_counted() {
    let si = |number, name| unit(name).expect("known").to_si(number);
    assert_eq!((si(1.0, "min"), si(1.0, "h")), (60.0, 3600.0));
    assert!((si(6000.0, "rpm") - 100.0).abs() < 1e-12);
    assert!((si(200.0 * std::f64::consts::PI, "rad/s") - 100.0).abs() < 1e-12);
    assert!((si(60.0, "kg/min") - 1.0).abs() < 1e-12 && (si(3600.0, "kg/h") - 1.0).abs() < 1e-12);
    assert!((si(60_000.0, "L/min") - 1.0).abs() < 1e-9 && (si(3.6e6, "L/h") - 1.0).abs() < 1e-9);
    assert!((si(3600.0, "m3/h") - 1.0).abs() < 1e-12 && (si(6e7, "cc/min") - 1.0).abs() < 1e-9);
    assert!((si(3.6e9, "g/(kW h)") - 1.0).abs() < 1e-9);
}

#[test]
fn temperatures_have_their_zero() {
    for (name, number, kelvin) in [
        ("degC", 0.0, 273.15),
        ("degC", 100.0, 373.15),
        ("degF", 32.0, 273.15),
        ("degF", 212.0, 373.15),
        ("degF", -459.67, 0.0),
        ("K", 300.0, 300.0),
    ] {
        let unit = unit(name).expect(name);
        assert!((unit.to_si(number) - kelvin).abs() < 1e-9, "{number} {name}");
        assert!((unit.from_si(kelvin) - number).abs() < 1e-9, "{number} {name}");
    }
    assert!((unit("degF").expect("known").difference_to_si(18.0) - 10.0).abs() < 1e-12);
}

#[test]
fn other_spellings_are_understood() {
    for (written, symbol) in [
        ("cm³", "cm3"),
        ("cm^3", "cm3"),
        ("cc", "cm3"),
        ("kg·m²", "kg m2"),
        ("kg*m^2", "kg m2"),
        ("kg.m2", "kg m2"),
        ("kg  m2", "kg m2"),
        ("°C", "degC"),
        ("° C", "degC"),
        ("deg C", "degC"),
        ("℃", "degC"),
        ("C", "degC"),
        ("°F", "degF"),
        ("°", "deg"),
        ("\"", "in"),
        ("in.", "in"),
        ("µm", "um"),
        ("min⁻¹", "rpm"),
        ("s-1", "1/s"),
        ("N·mm", "N mm"),
        ("N/mm²", "MPa"),
        ("N / mm", "N/mm"),
        ("lb/in", "lbf/in"),
        ("dm³/(s·bar)", "dm3/(s bar)"),
        ("l/min", "L/min"),
        ("inch", "in"),
    ] {
        assert_eq!(unit(written).map(|unit| unit.symbol), Some(symbol), "{written}");
    }
    for unknown in ["", " ", "mmm", "KPA", "mPa", "Mm", "PSI", "gauge", "kPa abs", &"m".repeat(1000)] {
        assert!(unit(unknown).is_none(), "{unknown}");
    }
    assert_eq!(unit_but_for_capitals("KPA").map(|unit| unit.symbol), Some("kPa"));
    assert_eq!(unit_but_for_capitals("Kg").map(|unit| unit.symbol), Some("kg"));
    // Megapascal and nothing else, but `mg` and `MG` would be one too many.
    assert_eq!(unit_but_for_capitals("mpa").map(|unit| unit.symbol), Some("MPa"));
    assert!(unit_but_for_capitals("MS").is_some() && unit_but_for_capitals("xyz").is_none());
}

#[test]
fn the_table_is_sound() {
    let mut seen: HashMap<String, &str> = HashMap::new();
    for unit in TABLE {
        for name in std::iter::once(&unit.symbol).chain(unit.aliases) {
            let other = seen.insert((*name).to_owned(), unit.symbol);
            assert_eq!(other, None, "{name} is written twice");
            assert_eq!(super::unit(name).map(|found| found.symbol), Some(unit.symbol));
        }
        assert!(unit.factor > 0.0 && unit.factor.is_finite());
        assert!(!unit.measures.is_empty());
        for measure in unit.measures {
            assert_eq!(measure.dim(), unit.dim, "{} for {measure:?}", unit.symbol);
        }
    }
    for measure in Measure::ALL {
        assert!(measure.units().count() > 0);
        for usual in measure.usual_units() {
            let fits = super::unit(usual).is_some_and(|unit| unit.fits(*measure));
            assert!(fits, "{usual} for {measure:?}");
        }
        let has_base = measure.units().any(|unit| unit.factor == 1.0 && unit.offset == 0.0);
        assert!(has_base || *measure == Measure::FuelConsumption, "{measure:?}");
    }
}

#[test]
fn dimensions_are_shown_as_their_si_unit() {
    let of = Dim::new;
    for (dim, shown) in [
        (Dim::ONE, "1"),
        (Dim::LENGTH, "m"),
        (Dim::VOLUME, "m3"),
        (Dim::MASS_FLOW, "kg/s"),
        (Dim::FREQUENCY, "1/s"),
        (Dim::PRESSURE, "Pa"),
        (Dim::FORCE, "N"),
        (Dim::SPRING_RATE, "N/m"),
        (Dim::INERTIA, "kg m2"),
        (Dim::POWER, "W"),
        (Dim::CONDUCTANCE, "m3/(s Pa)"),
        (Dim::MASS_PER_ENERGY, "s2/m2"),
        (of(-1, 0, -1, 0), "1/(m s)"),
        (of(0, 1, -1, -1), "kg/(s K)"),
    ] {
        assert_eq!(dim.to_string(), shown);
    }
}

#[test]
fn dimensions_multiply_and_never_overflow() {
    assert_eq!(Dim::PRESSURE.checked_mul(Dim::AREA), Some(Dim::FORCE));
    assert_eq!(Dim::FORCE.checked_div(Dim::LENGTH), Some(Dim::SPRING_RATE));
    assert_eq!(Dim::LENGTH.checked_pow(3), Some(Dim::VOLUME));
    assert_eq!(Dim::TIME.checked_pow(-1), Some(Dim::FREQUENCY));
    assert_eq!(Dim::LENGTH.checked_pow(127).and_then(|dim| dim.checked_mul(Dim::LENGTH)), None);
    assert_eq!(Dim::AREA.checked_pow(100), None);
    assert!(Dim::LENGTH.checked_div(Dim::LENGTH).is_some_and(Dim::is_one));
}

use super::*;
use proptest::prelude::*;

fn si(text: &str, measure: Measure) -> f64 {
    read(text, measure).si
}

fn read(text: &str, measure: Measure) -> Quantity {
    read_quantity(text, measure).unwrap_or_else(|fault| panic!("{text}: {fault}"))
}

/// Kind, message and help of what is wrong.
fn fault(text: &str, measure: Measure) -> (FaultKind, String, String) {
    let fault = read_quantity(text, measure).expect_err(text);
    (fault.kind, fault.message, fault.help.unwrap_or_default())
}

#[test]
fn quantities_of_the_workshop() {
    use Measure as M;
    for (text, measure, value) in [
        ("246 mm", M::Length, 0.246),
        ("2.5\"", M::Length, 0.0635),
        ("1.5e1 cm", M::Length, 0.15),
        ("5.0e-5 kg m2", M::Inertia, 5e-5),
        ("48N", M::Force, 48.0),
        ("+1600 m", M::Length, 1600.0),
        ("-10 degC", M::Temperature, 263.15),
        ("\u{2212}10 °C", M::Temperature, 263.15),
        ("10 degC", M::TemperatureDifference, 10.0),
        ("18 degF", M::TemperatureDifference, 10.0),
        ("6000 rpm", M::RotationalSpeed, 100.0),
        ("40 %", M::Ratio, 0.4),
        ("40%", M::Ratio, 0.4),
        ("0.4", M::Ratio, 0.4),
        (".4", M::Ratio, 0.4),
        ("4", M::Count, 4.0),
        ("6 diameters", M::Multiple, 6.0),
        ("6", M::Multiple, 6.0),
        ("0.3 bar", M::PressureDifference, 3e4),
        ("200 GPa", M::Stress, 2e11),
        ("  5 L  ", M::Volume, 5e-3),
        ("3 1/s", M::RotationalSpeed, 3.0),
        ("2 dm3/(s bar)", M::Conductance, 2e-8),
    ] {
        let got = si(text, measure);
        assert!((got - value).abs() <= 1e-12 * value.abs(), "{text}: {got}");
    }
}

#[test]
fn pressures_say_what_they_are_counted_from() {
    use Reference as R;
    for (text, value, reference) in [
        ("83.5 kPa abs", 83.5e3, R::Absolute),
        ("83.5 kPa absolute", 83.5e3, R::Absolute),
        ("83.5kPa(abs)", 83.5e3, R::Absolute),
        ("3 bar gauge", 3e5, R::Gauge),
        ("3 barg", 3e5, R::Gauge),
        ("3 bar(g)", 3e5, R::Gauge),
        ("3 bara", 3e5, R::Absolute),
        ("-0.5 bar gauge", -5e4, R::Gauge),
    ] {
        let quantity = read(text, Measure::Pressure);
        assert_eq!((quantity.si, quantity.reference), (value, reference), "{text}");
    }
    assert!((si("18 psi gauge", Measure::Pressure) - 124_105.6).abs() < 0.1);
    assert!((si("18 psig", Measure::Pressure) - 124_105.6).abs() < 0.1);
    assert_eq!(
        fault("83.5 kPa", Measure::Pressure),
        (
            FaultKind::MissingUnit,
            "`83.5 kPa` does not say what the pressure is counted from".to_owned(),
            "write `83.5 kPa abs` above vacuum, or `83.5 kPa gauge` above the surroundings".to_owned(),
        )
    );
    assert_eq!(read("7 kPa", Measure::PressureDifference).reference, R::Difference);
    assert_eq!(read("7 kPa gauge", Measure::PressureDifference).reference, R::Gauge);
    assert_eq!(fault("7 kPa abs", Measure::PressureDifference).0, FaultKind::WrongUnit);
    assert_eq!(fault("7 mm abs", Measure::Length).0, FaultKind::WrongUnit);
    assert_eq!(fault("-1 kPa abs", Measure::Pressure).0, FaultKind::OutOfRange);
    assert_eq!(read("7 mm", Measure::Length).reference, R::None);
}

#[test]
fn tolerances_are_kept() {
    use Measure as M;
    for (text, measure, half) in [
        ("63.5 mm ± 0.5 mm", M::Length, 0.5e-3),
        ("63.5 mm +/- 0.5 mm", M::Length, 0.5e-3),
        ("63.5mm±0.05cm", M::Length, 0.5e-3),
        ("50 mm ± 2 %", M::Length, 1e-3),
        ("0.72 ± 5 %", M::Ratio, 0.036),
        ("0.72 ± 0.02", M::Ratio, 0.02),
        ("40 % ± 5 %", M::Ratio, 0.05),
        ("30 degC ± 2 K", M::Temperature, 2.0),
        ("30 degC ± 1.8 degF", M::Temperature, 1.0),
        ("300 K ± 1 %", M::Temperature, 3.0),
        ("100 kPa abs ± 1 kPa", M::Pressure, 1e3),
        ("100 kPa ± 1 kPa abs", M::Pressure, 1e3),
        ("-50 kPa gauge ± 10 %", M::Pressure, 5e3),
    ] {
        let quantity = read(text, measure);
        let got = quantity.tolerance.expect(text);
        assert!((got - half).abs() < 1e-12 * half.max(1.0), "{text}: {got}");
        assert_eq!(quantity.range(), (quantity.si - got, quantity.si + got));
        assert_eq!(&*quantity.written, text);
    }
    assert_eq!(read("5 mm", M::Length).tolerance, None);
    assert_eq!(
        fault("63.5 mm ± 0.5", M::Length),
        (
            FaultKind::MissingUnit,
            "the tolerance `0.5` has no unit".to_owned(),
            "write `± 0.5 mm`, or a share in %".to_owned(),
        )
    );
    for (text, measure, kind) in [
        ("30 degC ± 5 %", M::Temperature, FaultKind::WrongUnit),
        ("5 mm ± 1 kg", M::Length, FaultKind::WrongUnit),
        ("5 mm ± -1 mm", M::Length, FaultKind::OutOfRange),
        ("5 mm ±", M::Length, FaultKind::BadNumber),
        ("± 5 mm", M::Length, FaultKind::BadNumber),
        ("40 % ± 0.05", M::Ratio, FaultKind::MissingUnit),
    ] {
        assert_eq!(fault(text, measure).0, kind, "{text}");
    }
}

#[test]
fn faults_say_what_to_write() {
    use FaultKind as K;
    use Measure as M;
    let lengths = "a length is given in mm, cm, m, in, thou or ft";
    for (text, measure, kind, message, help) in [
        (
            "246",
            M::Length,
            K::MissingUnit,
            "`246` has no unit",
            format!("write `246 mm` if that is meant; {lengths}"),
        ),
        ("3 kPa", M::Length, K::WrongUnit, "`kPa` is no unit of a length", lengths.into()),
        (
            "3 mn",
            M::Length,
            K::WrongUnit,
            "`mn` is not a unit known here",
            format!("did you mean `3 mm`? {lengths}"),
        ),
        ("3 furlongs", M::Length, K::WrongUnit, "`furlongs` is not a unit known here", lengths.into()),
        (
            "30 Mm",
            M::Length,
            K::WrongUnit,
            "`Mm` is not a unit known here",
            format!("did you mean `30 mm`? {lengths}"),
        ),
        (
            "3 cm",
            M::Count,
            K::WrongUnit,
            "`cm` is no unit of a whole number",
            "a whole number has no unit".into(),
        ),
        (
            "3 m3",
            M::Ratio,
            K::WrongUnit,
            "`m3` is no unit of a share or ratio",
            "a share or ratio is given in % or as a plain number".into(),
        ),
        ("2.5", M::Count, K::OutOfRange, "`2.5` is not a whole number", String::new()),
        ("-2", M::Count, K::OutOfRange, "`-2` is less than nothing", String::new()),
        ("-300 degC", M::Temperature, K::OutOfRange, "`-300 degC` is below absolute zero", String::new()),
        (
            "1,5 mm",
            M::Length,
            K::BadNumber,
            "`1,5 mm` has a comma in its number",
            "write a decimal with a point, as `1.5`, and thousands without a comma".into(),
        ),
        (
            "1 000 mm",
            M::Length,
            K::BadNumber,
            "`1 000 mm` has a gap in its number",
            "write the digits together".into(),
        ),
        (
            "1_000 mm",
            M::Length,
            K::BadNumber,
            "`1_000 mm` has an underscore in its number",
            "write the digits together".into(),
        ),
        (
            "1/2 in",
            M::Length,
            K::BadNumber,
            "`1/2 in` is a fraction",
            "write it as a decimal, as `0.5`".into(),
        ),
        (
            "5-6 mm",
            M::Length,
            K::BadNumber,
            "`5-6 mm` is a range",
            "write the middle and half the width, as `5.5 mm ± 0.5 mm`".into(),
        ),
        (
            "1.2.3 mm",
            M::Length,
            K::BadNumber,
            "`1.2.3 mm` has a second point in its number",
            "write a decimal as `1.5`".into(),
        ),
        ("1e999 mm", M::Length, K::BadNumber, "`1e999 mm` is too large a number", String::new()),
        ("1e-999 mm", M::Length, K::BadNumber, "`1e-999 mm` is too small a number", String::new()),
        ("1e308 km", M::Length, K::BadNumber, "`1e308 km` is too large a number", String::new()),
        ("nan mm", M::Length, K::BadNumber, "`nan mm` is not a number that can be measured", String::new()),
        ("-.inf", M::Ratio, K::BadNumber, "`-.inf` is not a number that can be measured", String::new()),
        ("yes", M::Ratio, K::BadNumber, "`yes` does not begin with a number", String::new()),
        ("", M::Ratio, K::BadNumber, "no number is written", String::new()),
        (".", M::Ratio, K::BadNumber, "`.` does not begin with a number", String::new()),
        (
            "0x10",
            M::Ratio,
            K::WrongUnit,
            "`x10` is not a unit known here",
            "a share or ratio is given in % or as a plain number".into(),
        ),
    ] {
        assert_eq!(fault(text, measure), (kind, message.to_owned(), help), "{text}");
    }
    assert_eq!(fault(&"9".repeat(1 << 20), M::Length).0, K::BadNumber);
    assert!(fault(&"9 m".repeat(40), M::Length).1.len() < 200);
}

#[test]
fn any_quantity_brings_its_dimension() {
    for (text, value, dim, symbol) in [
        ("6 diameters", 6.0, Dim::ONE, "diameters"),
        ("20 kPa", 2e4, Dim::PRESSURE, "kPa"),
        ("60 degC", 333.15, Dim::TEMPERATURE, "degC"),
        ("10 %", 0.1, Dim::ONE, "%"),
        ("0.3 s", 0.3, Dim::TIME, "s"),
        ("5", 5.0, Dim::ONE, "1"),
    ] {
        let (si, got, unit) = read_any_quantity(text).expect(text);
        assert!((si - value).abs() < 1e-9, "{text}");
        assert_eq!((got, unit.symbol), (dim, symbol), "{text}");
    }
    let help = |text: &str| read_any_quantity(text).expect_err(text).help;
    assert_eq!(help("3 KPA").as_deref(), Some("did you mean `3 kPa`?"));
    assert_eq!(help("3 diametres").as_deref(), Some("did you mean `3 diameters`?"));
    assert_eq!(help("3 bar gauge").as_deref(), Some("write `3 bar` alone"));
    assert!(read_any_quantity("3 mm ± 1 mm").is_err() && read_any_quantity("mm").is_err());
}

#[test]
fn values_are_written_in_a_unit() {
    let length = |si, unit, digits| format_in(si, Dim::LENGTH, unit, digits);
    assert_eq!(length(0.246, "mm", 0).as_deref(), Some("246 mm"));
    assert_eq!(length(0.2464, "mm", 1).as_deref(), Some("246.4 mm"));
    assert_eq!(length(-0.246, "cm", 1).as_deref(), Some("-24.6 cm"));
    assert_eq!(length(-0.0001, "mm", 0).as_deref(), Some("0 mm"));
    assert_eq!(length(-0.0, "mm", 2).as_deref(), Some("0.00 mm"));
    assert_eq!(length(1e-9, "mm", 0).as_deref(), Some("0 mm"));
    assert_eq!(format_in(0.4, Dim::ONE, "%", 0).as_deref(), Some("40 %"));
    assert_eq!(format_in(2.2857, Dim::ONE, "1", 2).as_deref(), Some("2.29"));
    assert_eq!(format_in(303.15, Dim::TEMPERATURE, "°C", 0).as_deref(), Some("30 degC"));
    assert_eq!(length(0.2, "kPa", 0), None);
    assert_eq!(length(0.2, "furlong", 0), None);
    assert_eq!(length(f64::NAN, "mm", 0), None);
    assert_eq!(length(f64::INFINITY, "mm", 0), None);
    assert!(length(1e300, "mm", usize::MAX).is_some_and(|text| text.len() < 330));
}

fn measure() -> impl Strategy<Value = Measure> {
    prop::sample::select(Measure::ALL)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(2000) })]

    #[test]
    fn every_unit_reads_back_in_every_spelling(
        measure in measure(),
        which in any::<prop::sample::Index>(),
        spelling in any::<prop::sample::Index>(),
        mantissa in 1u32..100_000,
        power in -6i32..6,
        gap in prop::bool::ANY,
    ) {
        let units: Vec<&Unit> = measure.units().collect();
        let unit = *which.get(&units);
        let names: Vec<&str> = std::iter::once(unit.symbol).chain(unit.aliases.iter().copied()).collect();
        let name = spelling.get(&names);
        let number = match measure {
            Measure::Count => f64::from(mantissa),
            _ => f64::from(mantissa) * 10f64.powi(power),
        };
        let reference = if measure == Measure::Pressure { " abs" } else { "" };
        // A name that begins with a digit or stroke stands apart from the number.
        let gap = if gap || !name.starts_with(char::is_alphabetic) { " " } else { "" };
        let text = format!("{number}{gap}{name}{reference}");
        let quantity = read_quantity(&text, measure);
        let quantity = quantity.map_err(|fault| TestCaseError::fail(format!("{text}: {fault}")))?;
        let expected = match measure {
            Measure::TemperatureDifference => unit.difference_to_si(number),
            _ => unit.to_si(number),
        };
        prop_assert_eq!((quantity.si, quantity.unit.symbol), (expected, unit.symbol));
        // And back: what is written in the unit reads as the same value.
        if measure != Measure::TemperatureDifference {
            let written = format_in(quantity.si, unit.dim, unit.symbol, 12).expect("fits");
            let again = read_quantity(&format!("{written}{reference}"), measure).expect("reads");
            let slack = 1e-9 * quantity.si.abs() + 1e-11 * unit.factor;
            prop_assert!((again.si - quantity.si).abs() <= slack, "{} {}", text, written);
        }
    }

    #[test]
    fn nothing_that_is_read_panics_or_is_infinite(text in "[0-9a-zA-Zé°±%.,/+() e-]{0,16}", measure in measure()) {
        if let Ok(quantity) = read_quantity(&text, measure) {
            prop_assert!(quantity.si.is_finite());
            prop_assert!(quantity.tolerance.is_none_or(|half| half.is_finite() && half >= 0.0));
        }
        if let Ok((si, dim, unit)) = read_any_quantity(&text) {
            prop_assert!(si.is_finite() && unit.dim == dim);
        }
    }

    #[test]
    fn no_zero_is_written_with_a_minus(si in -1.0f64..1.0, digits in 0usize..4) {
        let text = format_in(si, Dim::LENGTH, "m", digits).expect("finite");
        let number: f64 = text.trim_end_matches(" m").parse().expect("a number");
        prop_assert!(!(number == 0.0 && text.starts_with('-')));
        prop_assert!((number - si).abs() <= 0.5 * 10f64.powi(-i32::try_from(digits).expect("small")) + 1e-12);
    }
}

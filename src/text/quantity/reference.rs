//! What a pressure is counted from, in words.

use super::fitting::given_in;
use super::{QuantityFault, Reference};
use crate::text::fault::{FaultKind, quoted};
use crate::text::units::Measure;

/// Words for a reference, after a unit.
const REFERENCES: [(&str, Reference); 8] = [
    (" absolute", Reference::Absolute),
    (" abs", Reference::Absolute),
    ("(abs)", Reference::Absolute),
    ("(a)", Reference::Absolute),
    (" gauge", Reference::Gauge),
    ("(gauge)", Reference::Gauge),
    ("(g)", Reference::Gauge),
    (" gage", Reference::Gauge),
];

/// Units of pressure that the trade writes together with their reference.
const JOINED: [(&str, Reference); 8] = [
    ("psia", Reference::Absolute),
    ("psig", Reference::Gauge),
    ("bara", Reference::Absolute),
    ("barg", Reference::Gauge),
    ("mbara", Reference::Absolute),
    ("mbarg", Reference::Gauge),
    ("kPaa", Reference::Absolute),
    ("kPag", Reference::Gauge),
];

/// Takes the reference off the value, or off the tolerance, whichever carries it.
pub(super) fn take_reference<'a>(
    main: &'a str,
    tolerance: Option<&'a str>,
) -> (&'a str, Option<&'a str>, Option<Reference>) {
    if let Some((main, reference)) = strip_reference(main) {
        return (main, tolerance, Some(reference));
    }
    match tolerance.and_then(strip_reference) {
        Some((tolerance, reference)) => (main, Some(tolerance), Some(reference)),
        None => (main, tolerance, None),
    }
}

fn strip_reference(text: &str) -> Option<(&str, Reference)> {
    for (word, reference) in REFERENCES {
        if let Some(rest) = text.strip_suffix(word) {
            return Some((rest.trim_end(), reference));
        }
    }
    let name = text.trim_start_matches(|part: char| !part.is_ascii_alphabetic());
    let (_, reference) = JOINED.iter().find(|(joined, _)| *joined == name)?;
    // All of them end in one ASCII letter for the reference.
    Some((text.get(..text.len() - 1)?, *reference))
}

/// The reference that a quantity of this measure has.
pub(super) fn due_reference(
    given: Option<Reference>,
    measure: Measure,
    written: &str,
) -> Result<Reference, QuantityFault> {
    match (measure, given) {
        (Measure::Pressure, Some(reference)) => Ok(reference),
        (Measure::Pressure, None) => Err(QuantityFault::new(
            FaultKind::MissingUnit,
            format!("{} does not say what the pressure is counted from", quoted(written)),
        )
        .help(format!(
            "write {} above vacuum, or {} above the surroundings",
            quoted(&format!("{written} abs")),
            quoted(&format!("{written} gauge"))
        ))),
        (Measure::PressureDifference, None) => Ok(Reference::Difference),
        (Measure::PressureDifference, Some(Reference::Absolute)) => {
            Err(QuantityFault::new(FaultKind::WrongUnit, "a pressure difference is not counted from vacuum")
                .help("give the difference, without `abs`"))
        }
        (Measure::PressureDifference, Some(reference)) => Ok(reference),
        (_, None) => Ok(Reference::None),
        (_, Some(_)) => Err(QuantityFault::new(
            FaultKind::WrongUnit,
            format!("{} has no reference such as gauge or absolute", measure.word()),
        )
        .help(given_in(measure))),
    }
}

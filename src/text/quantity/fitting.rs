//! The unit of a quantity: known, and fit for what is measured.

use super::QuantityFault;
use crate::text::fault::{FaultKind, nearest, quoted};
use crate::text::units::{Measure, TABLE, Unit, unit, unit_but_for_capitals};

/// The unit of this text; that of a pure number if there is no text.
pub(super) fn known_unit(text: &str) -> Option<&'static Unit> {
    unit(if text.is_empty() { "1" } else { text })
}

pub(super) fn fitting_unit(
    text: &str,
    written: &str,
    measure: Measure,
) -> Result<&'static Unit, QuantityFault> {
    match known_unit(text) {
        Some(unit) if unit.fits(measure) => Ok(unit),
        Some(_) if text.is_empty() => {
            let example = measure.usual_units().first().copied().unwrap_or_default();
            Err(QuantityFault::new(FaultKind::MissingUnit, format!("{} has no unit", quoted(written))).help(
                format!(
                    "write {} if that is meant; {}",
                    quoted(&format!("{written} {example}")),
                    given_in(measure)
                ),
            ))
        }
        Some(unit) => Err(QuantityFault::new(
            FaultKind::WrongUnit,
            format!("{} is no unit of {}", quoted(unit.symbol), measure.word()),
        )
        .help(given_in(measure))),
        None => Err(unknown_unit(text, written, Some(measure))),
    }
}

/// "a length is given in mm, cm or m"
pub(super) fn given_in(measure: Measure) -> String {
    let units = measure.usual_units();
    let word = measure.word();
    match units {
        ["1"] => format!("{word} has no unit"),
        [one] => format!("{word} is given in {one}"),
        [first @ .., last] => {
            let plain = |unit: &str| {
                if unit == "1" { "as a plain number".to_owned() } else { unit.to_owned() }
            };
            let first: Vec<String> = first.iter().map(|unit| plain(unit)).collect();
            format!("{word} is given in {} or {}", first.join(", "), plain(last))
        }
        [] => String::new(),
    }
}

pub(super) fn unknown_unit(text: &str, written: &str, measure: Option<Measure>) -> QuantityFault {
    let fault =
        QuantityFault::new(FaultKind::WrongUnit, format!("{} is not a unit known here", quoted(text)));
    let fits = |unit: &&Unit| measure.is_none_or(|measure| unit.fits(measure));
    let meant = unit_but_for_capitals(text)
        .filter(fits)
        .map(|unit| unit.symbol)
        .or_else(|| nearest(text, TABLE.iter().filter(fits).map(|unit| unit.symbol)));
    let number = written.strip_suffix(text).unwrap_or_default().trim_end();
    let suggestion = meant.map(|symbol| format!("did you mean {}?", quoted(&format!("{number} {symbol}"))));
    match (suggestion, measure.map(given_in)) {
        (Some(one), Some(two)) => fault.help(format!("{one} {two}")),
        (Some(one), None) | (None, Some(one)) => fault.help(one),
        (None, None) => fault,
    }
}

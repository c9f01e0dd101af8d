//! Quantities as text: `246 mm`, `63.5 mm ± 0.5 mm`, `83.5 kPa abs`, `0.72 ± 5 %`.

mod fitting;
mod number;
mod reference;

use super::fault::{FaultKind, quoted};
use super::units::{Dim, Measure, Unit, unit};
use fitting::{fitting_unit, known_unit, unknown_unit};
use number::split_number;
use reference::{due_reference, take_reference};
use std::fmt;
use std::sync::Arc;

/// What a pressure is counted from.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Reference {
    /// Not a pressure.
    None,
    /// From the pressure of the surroundings.
    Gauge,
    /// From vacuum.
    Absolute,
    /// From another pressure of the air's way.
    Difference,
}

/// A quantity that was read.
#[derive(Clone, PartialEq, Debug)]
pub struct Quantity {
    /// Its value in SI base and derived units (see [`Measure`] for rotational speed); a temperature in kelvin.
    pub si: f64,
    /// For a pressure, what it is counted from.
    pub reference: Reference,
    /// Half the width of its tolerance, in the same SI unit.
    pub tolerance: Option<f64>,
    /// The unit it was written in.
    pub unit: &'static Unit,
    /// The text it was written as.
    pub written: Arc<str>,
}

/// Why text is not the quantity that is due.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct QuantityFault {
    /// Its kind.
    pub kind: FaultKind,
    /// One short sentence without a full stop.
    pub message: String,
    /// What to write instead, if it can be said.
    pub help: Option<String>,
}

/// Reads a quantity of the measure that is due: a number, its unit, for a pressure its reference (`gauge` or `abs`),
/// and perhaps a tolerance after `±` (or `+/-`) in a unit or in per cent.
///
/// A tolerance in per cent is a share of the value; that of a value in per cent is in percentage points (`40 % ± 5 %`
/// is 35 % to 45 %). A pressure difference may be called `gauge`, which says that it is above the surroundings.
///
/// # Errors
/// [`FaultKind::BadNumber`], [`FaultKind::MissingUnit`] (or reference), [`FaultKind::WrongUnit`], or
/// [`FaultKind::OutOfRange`] for less than absolute zero, less than vacuum, or a negative tolerance.
pub fn read_quantity(text: &str, measure: Measure) -> Result<Quantity, QuantityFault> {
    let text = bounded(text)?;
    let (main, tolerance) = split_tolerance(text);
    let (main, tolerance, reference) = take_reference(main, tolerance);
    let (number, unit_text) = split_number(main, text)?;
    let unit = fitting_unit(unit_text, main, measure)?;
    let reference = due_reference(reference, measure, text)?;
    let si = finite(
        match measure {
            Measure::TemperatureDifference => unit.difference_to_si(number),
            _ => unit.to_si(number),
        },
        main,
    )?;
    check_range(si, measure, reference, main)?;
    let tolerance = tolerance.map(|tolerance| read_tolerance(tolerance, si, unit, measure)).transpose()?;
    Ok(Quantity { si, reference, tolerance, unit, written: Arc::from(text) })
}

/// Reads a quantity of any measure, without tolerance or reference: its value in SI, its dimension and its unit. A
/// temperature is read as one, not as a difference; write differences in K. A bare number is a pure number.
///
/// # Errors
/// [`FaultKind::BadNumber`] or [`FaultKind::WrongUnit`].
pub fn read_any_quantity(text: &str) -> Result<(f64, Dim, &'static Unit), QuantityFault> {
    let text = bounded(text)?;
    if split_tolerance(text).1.is_some() {
        return Err(QuantityFault::new(FaultKind::BadNumber, "no tolerance can stand here"));
    }
    if let (main, _, Some(_)) = take_reference(text, None) {
        return Err(QuantityFault::new(FaultKind::WrongUnit, "no reference can stand here")
            .help(format!("write {} alone", quoted(main.trim_end()))));
    }
    let (number, unit_text) = split_number(text, text)?;
    let unit = match known_unit(unit_text) {
        Some(unit) => unit,
        None => return Err(unknown_unit(unit_text, text, None)),
    };
    Ok((finite(unit.to_si(number), text)?, unit.dim, unit))
}

/// A value in SI as text in a unit, with so many digits after the point (at most 12): `246 mm`. A pure number has no
/// unit after it. Nothing if the unit is not known or of another dimension, or the value is not finite. Per cent and
/// degrees follow from the unit asked for; a temperature difference is asked for in K.
pub fn format_in(si: f64, dim: Dim, name: &str, digits: usize) -> Option<String> {
    let unit = unit(name)?;
    let number = unit.from_si(si);
    if unit.dim != dim || !number.is_finite() {
        return None;
    }
    let mut text = format!("{number:.*}", digits.min(MOST_DIGITS));
    if text.starts_with('-') && !text.contains(|digit| ('1'..='9').contains(&digit)) {
        text.remove(0);
    }
    if unit.symbol != "1" {
        text.push(' ');
        text.push_str(unit.symbol);
    }
    Some(text)
}

/// The most digits after the point that are written.
const MOST_DIGITS: usize = 12;

/// A quantity is not written in more bytes than this.
const LONGEST: usize = 120;

impl QuantityFault {
    fn new(kind: FaultKind, message: impl Into<String>) -> QuantityFault {
        QuantityFault { kind, message: message.into(), help: None }
    }

    fn help(mut self, help: impl Into<String>) -> QuantityFault {
        self.help = Some(help.into());
        self
    }
}

impl fmt::Display for QuantityFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        match &self.help {
            Some(help) => write!(f, "; {help}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for QuantityFault {}

impl Quantity {
    /// The least and the greatest value that the tolerance allows, in SI.
    pub fn range(&self) -> (f64, f64) {
        let half = self.tolerance.unwrap_or(0.0);
        (self.si - half, self.si + half)
    }
}

fn bounded(text: &str) -> Result<&str, QuantityFault> {
    let text = text.trim();
    if text.is_empty() {
        return Err(QuantityFault::new(FaultKind::BadNumber, "no number is written"));
    }
    if text.len() > LONGEST {
        return Err(QuantityFault::new(
            FaultKind::BadNumber,
            format!("{} is too long to be a quantity", quoted(text)),
        ));
    }
    Ok(text)
}

fn finite(si: f64, written: &str) -> Result<f64, QuantityFault> {
    if si.is_finite() {
        return Ok(si);
    }
    Err(QuantityFault::new(FaultKind::BadNumber, format!("{} is too large a number", quoted(written))))
}

fn check_range(si: f64, measure: Measure, reference: Reference, written: &str) -> Result<(), QuantityFault> {
    let out =
        |says: &str| Err(QuantityFault::new(FaultKind::OutOfRange, format!("{} {says}", quoted(written))));
    match measure {
        Measure::Temperature if si < 0.0 => out("is below absolute zero"),
        Measure::Pressure if reference == Reference::Absolute && si < 0.0 => out("is less than vacuum"),
        Measure::Count if si < 0.0 => out("is less than nothing"),
        Measure::Count if si.fract() != 0.0 => out("is not a whole number"),
        _ => Ok(()),
    }
}

/// What stands before and after the sign of a tolerance.
fn split_tolerance(text: &str) -> (&str, Option<&str>) {
    ["±", "+/-", "+-"]
        .iter()
        .find_map(|sign| text.split_once(sign))
        .map_or((text, None), |(main, tolerance)| (main.trim(), Some(tolerance.trim())))
}

/// Half the width of a tolerance, in SI.
fn read_tolerance(text: &str, si: f64, unit: &'static Unit, measure: Measure) -> Result<f64, QuantityFault> {
    let (number, unit_text) = split_number(text, text)?;
    if unit_text.is_empty() && unit.symbol != "1" {
        return Err(QuantityFault::new(
            FaultKind::MissingUnit,
            format!("the tolerance {} has no unit", quoted(text)),
        )
        .help(format!("write `± {text} {}`, or a share in %", unit.symbol)));
    }
    let is_share = unit.symbol != "%" && known_unit(unit_text).is_some_and(|own| own.symbol == "%");
    if is_share && unit.offset != 0.0 {
        return Err(QuantityFault::new(
            FaultKind::WrongUnit,
            format!("a share of a temperature in {} means nothing", unit.symbol),
        )
        .help("give the tolerance in K"));
    }
    let half = if is_share {
        si.abs() * number / 100.0
    } else {
        fitting_unit(unit_text, text, measure)?.difference_to_si(number)
    };
    if half < 0.0 {
        return Err(QuantityFault::new(
            FaultKind::OutOfRange,
            format!("the tolerance {} is negative", quoted(text)),
        ));
    }
    finite(half, text)
}

#[cfg(test)]
mod tests;

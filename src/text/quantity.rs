//! Quantities as text: `246 mm`, `63.5 mm ± 0.5 mm`, `83.5 kPa abs`, `0.72 ± 5 %`.

use super::fault::{FaultKind, nearest, quoted};
use super::units::{Dim, Measure, TABLE, Unit, unit, unit_but_for_capitals};
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
    let tolerance = tolerance
        .map(|tolerance| read_tolerance(tolerance, si, unit, measure))
        .transpose()?;
    Ok(Quantity {
        si,
        reference,
        tolerance,
        unit,
        written: Arc::from(text),
    })
}

/// Reads a quantity of any measure, without tolerance or reference: its value in SI, its dimension and its unit. A
/// temperature is read as one, not as a difference; write differences in K. A bare number is a pure number.
///
/// # Errors
/// [`FaultKind::BadNumber`] or [`FaultKind::WrongUnit`].
pub fn read_any_quantity(text: &str) -> Result<(f64, Dim, &'static Unit), QuantityFault> {
    let text = bounded(text)?;
    if split_tolerance(text).1.is_some() {
        return Err(QuantityFault::new(
            FaultKind::BadNumber,
            "no tolerance can stand here",
        ));
    }
    if let (main, _, Some(_)) = take_reference(text, None) {
        return Err(
            QuantityFault::new(FaultKind::WrongUnit, "no reference can stand here")
                .help(format!("write {} alone", quoted(main.trim_end()))),
        );
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
        QuantityFault {
            kind,
            message: message.into(),
            help: None,
        }
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
        return Err(QuantityFault::new(
            FaultKind::BadNumber,
            "no number is written",
        ));
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
    Err(QuantityFault::new(
        FaultKind::BadNumber,
        format!("{} is too large a number", quoted(written)),
    ))
}

/// What stands before and after the sign of a tolerance.
fn split_tolerance(text: &str) -> (&str, Option<&str>) {
    ["±", "+/-", "+-"]
        .iter()
        .find_map(|sign| text.split_once(sign))
        .map_or((text, None), |(main, tolerance)| {
            (main.trim(), Some(tolerance.trim()))
        })
}

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
fn take_reference<'a>(
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

/// The number that `part` begins with, and the text of its unit. `whole` is what a message repeats.
fn split_number<'a>(part: &'a str, whole: &str) -> Result<(f64, &'a str), QuantityFault> {
    let bad =
        |says: &str| QuantityFault::new(FaultKind::BadNumber, format!("{} {says}", quoted(whole)));
    let (digits, rest) = number_front(part);
    if digits.is_empty() {
        let word = part
            .trim_start_matches(['.', '-', '+'])
            .to_ascii_lowercase();
        let is_word = ["nan", "inf"].iter().any(|bad| word.starts_with(bad));
        return Err(if is_word {
            bad("is not a number that can be measured")
        } else {
            bad("does not begin with a number")
        });
    }
    let rest = rest.trim_start();
    if known_unit(rest).is_none()
        && let Some((says, help)) = not_a_number(rest)
    {
        return Err(bad(says).help(help));
    }
    let plain = digits.replace('\u{2212}', "-");
    let number: f64 = plain.parse().map_err(|_| bad("is not a number"))?;
    if !number.is_finite() {
        return Err(bad("is too large a number"));
    }
    let mantissa = plain.split(['e', 'E']).next().unwrap_or_default();
    if number == 0.0 && mantissa.contains(|digit| ('1'..='9').contains(&digit)) {
        return Err(bad("is too small a number"));
    }
    Ok((number, rest))
}

/// What stands after the digits, where a unit should, when it shows that the number was meant in another way.
fn not_a_number(rest: &str) -> Option<(&'static str, &'static str)> {
    let mut characters = rest.chars();
    let first = characters.next()?;
    let digit_follows = characters
        .as_str()
        .trim_start()
        .starts_with(|next: char| next.is_ascii_digit());
    match first {
        ',' => Some((
            "has a comma in its number",
            "write a decimal with a point, as `1.5`, and thousands without a comma",
        )),
        '_' => Some((
            "has an underscore in its number",
            "write the digits together",
        )),
        '0'..='9' => Some(("has a gap in its number", "write the digits together")),
        '/' if digit_follows => Some(("is a fraction", "write it as a decimal, as `0.5`")),
        '-' | '–' | '…' if digit_follows => Some((
            "is a range",
            "write the middle and half the width, as `5.5 mm ± 0.5 mm`",
        )),
        '.' => Some((
            "has a second point in its number",
            "write a decimal as `1.5`",
        )),
        _ => None,
    }
}

/// The front of the text that is a decimal number, perhaps with an exponent; empty if there is no digit.
fn number_front(text: &str) -> (&str, &str) {
    let after = |rest: &'_ str| text.len() - rest.len();
    let skip_digits =
        |rest: &'_ str| -> usize { rest.bytes().take_while(u8::is_ascii_digit).count() };
    let unsigned = text.strip_prefix(['+', '-', '\u{2212}']).unwrap_or(text);
    let mut at = after(unsigned);
    let whole = skip_digits(unsigned);
    at += whole;
    let mut fraction = 0;
    if let Some(decimals) = text.get(at..).and_then(|rest| rest.strip_prefix('.')) {
        fraction = skip_digits(decimals);
        if whole + fraction > 0 {
            at += 1 + fraction;
        }
    }
    if whole + fraction == 0 {
        return ("", text);
    }
    if let Some(exponent) = text
        .get(at..)
        .and_then(|rest| rest.strip_prefix(['e', 'E']))
    {
        let unsigned = exponent.strip_prefix(['+', '-']).unwrap_or(exponent);
        let digits = skip_digits(unsigned);
        if digits > 0 {
            at = after(unsigned) + digits;
        }
    }
    text.split_at_checked(at).unwrap_or(("", text))
}

/// The unit of this text; that of a pure number if there is no text.
fn known_unit(text: &str) -> Option<&'static Unit> {
    unit(if text.is_empty() { "1" } else { text })
}

fn fitting_unit(
    text: &str,
    written: &str,
    measure: Measure,
) -> Result<&'static Unit, QuantityFault> {
    match known_unit(text) {
        Some(unit) if unit.fits(measure) => Ok(unit),
        Some(_) if text.is_empty() => {
            let example = measure.usual_units().first().copied().unwrap_or_default();
            Err(QuantityFault::new(
                FaultKind::MissingUnit,
                format!("{} has no unit", quoted(written)),
            )
            .help(format!(
                "write {} if that is meant; {}",
                quoted(&format!("{written} {example}")),
                given_in(measure)
            )))
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
fn given_in(measure: Measure) -> String {
    let units = measure.usual_units();
    let word = measure.word();
    match units {
        ["1"] => format!("{word} has no unit"),
        [one] => format!("{word} is given in {one}"),
        [first @ .., last] => {
            let plain = |unit: &str| {
                if unit == "1" {
                    "as a plain number".to_owned()
                } else {
                    unit.to_owned()
                }
            };
            let first: Vec<String> = first.iter().map(|unit| plain(unit)).collect();
            format!("{word} is given in {} or {}", first.join(", "), plain(last))
        }
        [] => String::new(),
    }
}

fn unknown_unit(text: &str, written: &str, measure: Option<Measure>) -> QuantityFault {
    let fault = QuantityFault::new(
        FaultKind::WrongUnit,
        format!("{} is not a unit known here", quoted(text)),
    );
    let fits = |unit: &&Unit| measure.is_none_or(|measure| unit.fits(measure));
    let meant = unit_but_for_capitals(text)
        .filter(fits)
        .map(|unit| unit.symbol)
        .or_else(|| nearest(text, TABLE.iter().filter(fits).map(|unit| unit.symbol)));
    let number = written.strip_suffix(text).unwrap_or_default().trim_end();
    let suggestion =
        meant.map(|symbol| format!("did you mean {}?", quoted(&format!("{number} {symbol}"))));
    match (suggestion, measure.map(given_in)) {
        (Some(one), Some(two)) => fault.help(format!("{one} {two}")),
        (Some(one), None) | (None, Some(one)) => fault.help(one),
        (None, None) => fault,
    }
}

/// The reference that a quantity of this measure has.
fn due_reference(
    given: Option<Reference>,
    measure: Measure,
    written: &str,
) -> Result<Reference, QuantityFault> {
    match (measure, given) {
        (Measure::Pressure, Some(reference)) => Ok(reference),
        (Measure::Pressure, None) => Err(QuantityFault::new(
            FaultKind::MissingUnit,
            format!(
                "{} does not say what the pressure is counted from",
                quoted(written)
            ),
        )
        .help(format!(
            "write {} above vacuum, or {} above the surroundings",
            quoted(&format!("{written} abs")),
            quoted(&format!("{written} gauge"))
        ))),
        (Measure::PressureDifference, None) => Ok(Reference::Difference),
        (Measure::PressureDifference, Some(Reference::Absolute)) => Err(QuantityFault::new(
            FaultKind::WrongUnit,
            "a pressure difference is not counted from vacuum",
        )
        .help("give the difference, without `abs`")),
        (Measure::PressureDifference, Some(reference)) => Ok(reference),
        (_, None) => Ok(Reference::None),
        (_, Some(_)) => Err(QuantityFault::new(
            FaultKind::WrongUnit,
            format!(
                "{} has no reference such as gauge or absolute",
                measure.word()
            ),
        )
        .help(given_in(measure))),
    }
}

fn check_range(
    si: f64,
    measure: Measure,
    reference: Reference,
    written: &str,
) -> Result<(), QuantityFault> {
    let out = |says: &str| {
        Err(QuantityFault::new(
            FaultKind::OutOfRange,
            format!("{} {says}", quoted(written)),
        ))
    };
    match measure {
        Measure::Temperature if si < 0.0 => out("is below absolute zero"),
        Measure::Pressure if reference == Reference::Absolute && si < 0.0 => {
            out("is less than vacuum")
        }
        Measure::Count if si < 0.0 => out("is less than nothing"),
        Measure::Count if si.fract() != 0.0 => out("is not a whole number"),
        _ => Ok(()),
    }
}

/// Half the width of a tolerance, in SI.
fn read_tolerance(
    text: &str,
    si: f64,
    unit: &'static Unit,
    measure: Measure,
) -> Result<f64, QuantityFault> {
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

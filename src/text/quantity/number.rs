//! The number at the front of a quantity.

use super::QuantityFault;
use super::fitting::known_unit;
use crate::text::fault::{FaultKind, quoted};

/// The number that `part` begins with, and the text of its unit. `whole` is what a message repeats.
pub(super) fn split_number<'a>(part: &'a str, whole: &str) -> Result<(f64, &'a str), QuantityFault> {
    let bad = |says: &str| QuantityFault::new(FaultKind::BadNumber, format!("{} {says}", quoted(whole)));
    let (digits, rest) = number_front(part);
    if digits.is_empty() {
        let word = part.trim_start_matches(['.', '-', '+']).to_ascii_lowercase();
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
    let digit_follows = characters.as_str().trim_start().starts_with(|next: char| next.is_ascii_digit());
    match first {
        ',' => Some((
            "has a comma in its number",
            "write a decimal with a point, as `1.5`, and thousands without a comma",
        )),
        '_' => Some(("has an underscore in its number", "write the digits together")),
        '0'..='9' => Some(("has a gap in its number", "write the digits together")),
        '/' if digit_follows => Some(("is a fraction", "write it as a decimal, as `0.5`")),
        '-' | '–' | '…' if digit_follows => {
            Some(("is a range", "write the middle and half the width, as `5.5 mm ± 0.5 mm`"))
        }
        '.' => Some(("has a second point in its number", "write a decimal as `1.5`")),
        _ => None,
    }
}

/// The front of the text that is a decimal number, perhaps with an exponent; empty if there is no digit.
fn number_front(text: &str) -> (&str, &str) {
    let after = |rest: &'_ str| text.len() - rest.len();
    let skip_digits = |rest: &'_ str| -> usize { rest.bytes().take_while(u8::is_ascii_digit).count() };
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
    if let Some(exponent) = text.get(at..).and_then(|rest| rest.strip_prefix(['e', 'E'])) {
        let unsigned = exponent.strip_prefix(['+', '-']).unwrap_or(exponent);
        let digits = skip_digits(unsigned);
        if digits > 0 {
            at = after(unsigned) + digits;
        }
    }
    text.split_at_checked(at).unwrap_or(("", text))
}

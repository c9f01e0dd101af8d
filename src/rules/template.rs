//! Text with numbers in it: `{{ it.distance | mm 0 }} from the outlet`.
//!
//! Between double braces stands an expression, and for a number, after `|`, the unit and how many digits after the
//! point. A pure number needs only the digits. Conditions read "yes" or "no". What is known between bounds reads so
//! ("at least 1.30 m"), and what is not known reads "not known".

use std::sync::Arc;

use super::expression::{Expression, Names, Scene, Wrong};
use crate::known::{Datum, Kind, Known, Num};
use crate::text::{self, FaultKind, Unit};

/// A text that was read and whose expressions were checked.
#[derive(Clone, Debug)]
pub struct Template {
    source: Arc<str>,
    pieces: Vec<Piece>,
}

#[derive(Clone, Debug)]
enum Piece {
    Words(Arc<str>),
    Value { value: Expression, format: Option<Format> },
}

/// How a number is written.
#[derive(Clone, Copy, Debug)]
struct Format {
    unit: &'static Unit,
    digits: usize,
}

/// The most digits after the point.
const MOST_DIGITS: usize = 9;

impl Template {
    /// Reads a text, or says all that is wrong with it, each thing on the bytes of the text.
    pub fn read(source: &str, names: Names<'_>) -> Result<Self, Vec<Wrong>> {
        let mut pieces = Vec::new();
        let mut wrongs = Vec::new();
        let mut at = 0;
        while let Some(rest) = source.get(at..).filter(|rest| !rest.is_empty()) {
            let Some(opening) = rest.find("{{") else {
                pieces.push(Piece::Words(rest.into()));
                break;
            };
            if let Some(words) = rest.get(..opening).filter(|words| !words.is_empty()) {
                pieces.push(Piece::Words(words.into()));
            }
            let inside = at + opening + 2;
            let Some(length) = source.get(inside..).and_then(|rest| rest.find("}}")) else {
                let message = "`{{` is never closed by `}}`";
                wrongs.push(Wrong::new(FaultKind::Syntax, at + opening..inside, message));
                break;
            };
            match read_value(source.get(inside..inside + length).unwrap_or_default(), names) {
                Ok(piece) => pieces.push(piece),
                Err(more) => wrongs.extend(more.into_iter().map(|wrong| wrong.moved(inside))),
            }
            at = inside + length + 2;
        }
        if wrongs.is_empty() { Ok(Self { source: source.into(), pieces }) } else { Err(wrongs) }
    }

    /// The text as the rule file writes it.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The expressions in it, in order.
    pub fn expressions(&self) -> impl Iterator<Item = &Expression> {
        self.pieces.iter().filter_map(|piece| match piece {
            Piece::Words(_) => None,
            Piece::Value { value, .. } => Some(value),
        })
    }

    /// Whether it names facts, and each of its values is known.
    pub fn is_known(&self, scene: &Scene<'_>) -> bool {
        let of_facts = self.expressions().any(|value| !value.facts().is_empty());
        of_facts && self.is_told(scene)
    }

    /// Whether nothing that it tells is unknown or does not apply.
    pub fn is_told(&self, scene: &Scene<'_>) -> bool {
        self.expressions().all(|value| matches!(value.value(scene), Known::Is(_)))
    }

    /// The text with its values.
    pub fn render(&self, scene: &Scene<'_>) -> String {
        let mut rendered = String::new();
        for piece in &self.pieces {
            match piece {
                Piece::Words(words) => rendered.push_str(words),
                Piece::Value { value, format } => rendered.push_str(&shown(&value.value(scene), *format)),
            }
        }
        rendered
    }
}

/// ` expression | unit digits `
fn read_value(inside: &str, names: Names<'_>) -> Result<Piece, Vec<Wrong>> {
    let bar = format_bar(inside);
    let written = inside.get(..bar.unwrap_or(inside.len())).unwrap_or_default();
    let start = written.len() - written.trim_start().len();
    let value = Expression::read(written.trim(), names)
        .map_err(|wrongs| wrongs.into_iter().map(|wrong| wrong.moved(start)).collect::<Vec<_>>())?;
    let Some(bar) = bar else {
        return match value.kind() {
            Some(Kind::Bool | Kind::Word) => Ok(Piece::Value { value, format: None }),
            Some(Kind::Number(_)) | None => Err(vec![
                Wrong::new(
                    FaultKind::MissingUnit,
                    start..start + value.text().len(),
                    "a number here needs its unit and digits",
                )
                .with_help(format!("write them after `|`, as `{{{{ {value} | mm 0 }}}}`")),
            ]),
        };
    };
    let format_text = inside.get(bar + 1..).unwrap_or_default();
    let from = bar + 1 + (format_text.len() - format_text.trim_start().len());
    let format_text = format_text.trim();
    let wrong = |kind, message: String| vec![Wrong::new(kind, from..from + format_text.len(), message)];
    let format = read_format(format_text).map_err(|(kind, message)| wrong(kind, message))?;
    match value.kind() {
        Some(Kind::Number(dim)) if dim != format.unit.dim => {
            let message = format!(
                "`{}` is a unit of {}, and `{value}` is {}",
                format.unit.symbol,
                Kind::Number(format.unit.dim),
                Kind::Number(dim)
            );
            Err(wrong(FaultKind::WrongUnit, message))
        }
        Some(kind @ (Kind::Bool | Kind::Word)) => {
            Err(wrong(FaultKind::WrongUnit, format!("`{value}` is {kind} and takes no unit")))
        }
        _ if value.text() == super::cure::BY && format.unit.offset != 0.0 => {
            let message = format!(
                "a change is no temperature on a scale: `{}` does not fit, `K` does",
                format.unit.symbol
            );
            Err(wrong(FaultKind::WrongUnit, message))
        }
        _ => Ok(Piece::Value { value, format: Some(format) }),
    }
}

/// Where the last single bar outside quotes stands.
fn format_bar(inside: &str) -> Option<usize> {
    let bytes = inside.as_bytes();
    let mut quote = None;
    let mut bar = None;
    for (at, &byte) in bytes.iter().enumerate() {
        match (quote, byte) {
            (Some(open), _) if open == byte => quote = None,
            (None, b'\'' | b'"') => quote = Some(byte),
            (None, b'|') => {
                let beside = [at.checked_sub(1), at.checked_add(1)];
                let doubled = beside.into_iter().flatten().any(|other| bytes.get(other) == Some(&b'|'));
                if !doubled {
                    bar = Some(at);
                }
            }
            _ => {}
        }
    }
    bar
}

/// `unit digits`, or the digits of a pure number alone.
fn read_format(written: &str) -> Result<Format, (FaultKind, String)> {
    let (unit_name, digits) = written.rsplit_once(char::is_whitespace).unwrap_or(("1", written));
    let digits = digits.parse().ok().filter(|digits| *digits <= MOST_DIGITS);
    let Some(digits) = digits else {
        let message =
            format!("after the unit stands how many digits follow the point, 0 to {MOST_DIGITS}, as `mm 0`");
        return Err((FaultKind::BadNumber, message));
    };
    match text::unit(unit_name.trim()) {
        Some(unit) => Ok(Format { unit, digits }),
        None => Err((FaultKind::WrongUnit, format!("`{}` is not a unit that is known", unit_name.trim()))),
    }
}

/// A value as words.
fn shown(value: &Known<Datum>, format: Option<Format>) -> String {
    const NOT_KNOWN: &str = "not known";
    match value {
        Known::Is(Datum::Bool(truth)) => if *truth { "yes" } else { "no" }.to_owned(),
        Known::Is(Datum::Word(word)) => word.to_string(),
        Known::Is(Datum::Number(num)) => written(num, format).unwrap_or_else(|| NOT_KNOWN.to_owned()),
        Known::Between(Datum::Number(low), Datum::Number(high)) => {
            match (written(low, format), written(high, format)) {
                (Some(low), Some(high)) => format!("between {low} and {high}"),
                (Some(low), None) => format!("at least {low}"),
                (None, Some(high)) => format!("at most {high}"),
                (None, None) => NOT_KNOWN.to_owned(),
            }
        }
        Known::Between(..) | Known::Open(_) => NOT_KNOWN.to_owned(),
        Known::NotApplicable(_) => "not applicable".to_owned(),
    }
}

/// A number in its unit, or in SI where that does not fit; nothing if it is not finite.
fn written(num: &Num, format: Option<Format>) -> Option<String> {
    if !num.v.is_finite() {
        return None;
    }
    let in_unit =
        format.and_then(|format| text::format_in(num.v, num.dim, format.unit.symbol, format.digits));
    Some(in_unit.unwrap_or_else(|| format!("{} {}", num.v, num.dim)))
}

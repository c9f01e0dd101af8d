//! From YAML text to a tree, within limits.

use super::fault::{Fault, FaultKind};
use super::span::{FileId, Span};
use super::tree::Node;
use std::sync::Arc;

mod builder;
mod frame;
mod places;
mod syntax;

/// What a text may cost to read.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Limits {
    /// The most bytes.
    pub bytes: usize,
    /// How deep tables and lists may be nested.
    pub depth: usize,
    /// The most nodes, those that aliases repeat counted each time.
    pub nodes: usize,
    /// The most faults that are listed; then reading stops.
    pub faults: usize,
}

impl Default for Limits {
    /// 4 MiB, 64 deep, 200 000 nodes, 1000 faults.
    fn default() -> Limits {
        Limits { bytes: 4 << 20, depth: 64, nodes: 200_000, faults: 1000 }
    }
}

/// What came of reading a text.
#[derive(Clone, Debug)]
pub struct Parsed {
    /// The tree, as far as it could be read; nothing if the text says nothing.
    pub root: Option<Arc<Node>>,
    /// What is wrong, in the order of the text. If there is anything, the tree is not to be relied on.
    pub faults: Vec<Fault>,
}

/// The text that bytes hold, if it is text within the limits: UTF-8 without characters that YAML does not allow (of
/// the control characters only tab, line feed, carriage return and next line). A byte order mark is let through, and
/// stays in the text.
///
/// # Errors
/// [`FaultKind::TooLarge`], or [`FaultKind::NotText`] at the first bad byte.
pub fn check_bytes<'a>(file: FileId, bytes: &'a [u8], limits: &Limits) -> Result<&'a str, Fault> {
    check_size(file, bytes.len(), limits)?;
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        let (line, column) = line_col(bytes, at);
        let byte = bytes.get(at).copied().unwrap_or_default();
        Fault::new(
            FaultKind::NotText,
            Span::new(file, at, at + 1),
            format!("byte {byte:#04x} at line {line}, column {column} is not UTF-8 text"),
        )
        .with_help(if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
            "this looks like UTF-16: save the file as UTF-8"
        } else {
            "save the file as UTF-8"
        })
    })?;
    check_characters(file, text)?;
    Ok(text)
}

fn check_size(file: FileId, size: usize, limits: &Limits) -> Result<(), Fault> {
    if size <= limits.bytes {
        return Ok(());
    }
    Err(Fault::new(
        FaultKind::TooLarge,
        Span::new(file, 0, 1),
        format!("the text is {size} bytes long, and at most {} are read", limits.bytes),
    ))
}

/// Refuses the control characters that YAML does not allow (YAML 1.2.2, section 5.1).
fn check_characters(file: FileId, text: &str) -> Result<(), Fault> {
    let allowed = |character: char| matches!(character, '\t' | '\n' | '\r' | '\u{85}');
    let Some((at, character)) =
        text.char_indices().find(|(_, character)| character.is_control() && !allowed(*character))
    else {
        return Ok(());
    };
    let (line, column) = line_col(text.as_bytes(), at);
    Err(Fault::new(
        FaultKind::NotText,
        Span::new(file, at, at + character.len_utf8()),
        format!(
            "control character U+{:04X} at line {line}, column {column} does not belong in text",
            u32::from(character)
        ),
    )
    .with_help("take it out, or write it as an escape inside double quotes"))
}

/// Line and column (in characters) of a byte, from 1, in bytes that are text up to there.
fn line_col(bytes: &[u8], at: usize) -> (usize, usize) {
    let before = String::from_utf8_lossy(bytes.get(..at).unwrap_or_default());
    let line = before.matches('\n').count() + 1;
    let last = before.rsplit('\n').next().unwrap_or_default();
    (line, last.trim_start_matches('\u{feff}').chars().count() + 1)
}

/// Reads the one document of a text into a tree. Everything wrong with it is told, up to the first fault of syntax,
/// at which reading has to stop; what was read by then is kept.
///
/// Read is YAML 1.2 without directives, tags, merge keys, and keys other than text.
pub fn parse(file: FileId, text: &str, limits: &Limits) -> Parsed {
    let checked = check_size(file, text.len(), limits).and_then(|()| check_characters(file, text));
    match checked {
        Ok(()) => builder::build(file, text, limits),
        Err(fault) => Parsed { root: None, faults: vec![fault] },
    }
}

#[cfg(test)]
mod tests;

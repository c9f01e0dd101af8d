//! Faults of syntax in plain words, and places of the parser's made fit to be shown.

use crate::text::fault::{Fault, FaultKind};
use crate::text::span::{FileId, Span};
use granit_parser::{ErrorKind, ScanError};

/// A span of the text that is never empty: an empty one becomes the sign that stands there, or the last before it.
pub(super) fn fit(file: FileId, text: &str, start: usize, end: usize) -> Span {
    let boundary = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let (start, end) = (boundary(start), boundary(end));
    if start < end {
        return Span::new(file, start, end);
    }
    let is_sign = |character: &char| !character.is_whitespace() && *character != '\u{feff}';
    let (before, after) = text.split_at(start);
    if let Some(sign @ (':' | '-' | '?')) = after.chars().next() {
        return Span::new(file, start, start + sign.len_utf8());
    }
    if let Some((at, sign)) = before.char_indices().rev().find(|(_, sign)| is_sign(sign)) {
        return Span::new(file, at, at + sign.len_utf8());
    }
    let (at, sign) = after
        .char_indices()
        .find(|(_, sign)| is_sign(sign))
        .or_else(|| after.char_indices().next())
        .map_or((0, None), |(at, sign)| (at, Some(sign)));
    Span::new(
        file,
        start + at,
        start + at + sign.map_or(0, char::len_utf8),
    )
}

/// Nested too deep.
pub(super) fn too_deep(span: Span, depth: usize) -> Fault {
    Fault::new(
        FaultKind::TooDeep,
        span,
        format!("tables and lists are nested more than {depth} deep here"),
    )
}

/// The fault for what the parser stopped at.
pub(super) fn fault(file: FileId, text: &str, error: &ScanError) -> Fault {
    use ErrorKind as E;
    let at = error.marker().byte_offset().unwrap_or(text.len());
    let message = format!("{:?} | {}", error.kind(), error.info());
    Fault::new(FaultKind::Syntax, fit(file, text, at, at), message)
}

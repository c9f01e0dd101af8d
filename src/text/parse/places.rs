//! Places of the parser's made fit to be shown.

use crate::text::span::{FileId, Span};

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
    Span::new(file, start + at, start + at + sign.map_or(0, char::len_utf8))
}

/// The sign, if it is the next thing from a byte on that is neither blank nor comment.
pub(super) fn next_sign(file: FileId, text: &str, from: usize, sign: char) -> Option<Span> {
    let mut rest = text.get(from..)?.trim_start();
    while rest.starts_with('#') {
        rest = rest.find(['\n', '\r']).and_then(|end| rest.get(end..))?.trim_start();
    }
    let at = text.len() - rest.len();
    rest.starts_with(sign).then(|| Span::new(file, at, at + sign.len_utf8()))
}

/// Where the dash before the first entry of a block list stands: the event of some lists comes after it.
pub(super) fn at_dash(text: &str, start: usize) -> usize {
    let before = text.get(..start).unwrap_or_default().trim_end();
    let on_dash = text.get(start..).is_some_and(|text| text.starts_with('-'));
    if before.ends_with('-') && !on_dash { before.len() - 1 } else { start }
}

/// Where the `|` or `>` stands that announces a block of text; the event gives only the text.
pub(super) fn block_header(text: &str, start: usize) -> Option<usize> {
    let before = text.get(..start)?.trim_end();
    let line = before.rfind(['\n', '\r']).map_or(0, |end| end + 1);
    let is_header = |at: usize| {
        let follows = before.get(at + 1..).unwrap_or_default();
        let follows = follows.trim_start_matches(|sign: char| matches!(sign, '0'..='9' | '+' | '-'));
        let rest = follows.trim_start();
        rest.is_empty() || (rest.starts_with('#') && rest.len() < follows.len())
    };
    before.get(line..)?.match_indices(['|', '>']).map(|(at, _)| line + at).find(|at| is_header(*at))
}

/// The span without blanks and line breaks at its end, which blocks of text carry.
pub(super) fn trimmed(text: &str, span: Span) -> Span {
    let length = span.slice(text).map_or(span.len(), |text| text.trim_end().len());
    if length == 0 {
        return span;
    }
    Span::new(span.file, span.start, span.start + length)
}

//! The complaints of the deserialiser in our words, at a place.

use std::sync::Arc;

use crate::text::{Fault, FaultKind, FileId, Node, Span, nearest};

/// Its one complaint as a fault.
pub(super) fn fault(error: &serde_yaml::Error, file: FileId, text: &str, root: &Arc<Node>) -> Fault {
    let whole = error.to_string();
    let place = error.location().map(|location| (location.line(), location.column()));
    let at = place.map_or(root.span.start, |(line, column)| byte_at(text, line, column));
    // "at line 3 column 5" is said by the mark.
    let said = match whole.rfind(" at line ") {
        Some(end) => whole.get(..end).unwrap_or(&whole),
        None => &whole,
    };
    let (path, said) = match said.split_once(": ") {
        Some((path, rest)) if !path.contains(' ') => (path, rest),
        _ => ("", said),
    };
    let name = between_ticks(said);
    let span = Span::new(file, at, token_end(text, at));
    let words: Vec<&str> = said.split_once(", expected ").map(|(_, list)| ticked(list)).unwrap_or_default();
    let (kind, message) = if said.starts_with("unknown field") {
        (FaultKind::UnknownKey, format!("`{name}` is not a key of a rule file here"))
    } else if said.starts_with("unknown variant") {
        (FaultKind::UnknownWord, format!("`{name}` is none of the words that may stand here"))
    } else if said.starts_with("missing field") {
        let of = if path.is_empty() { "the rule".to_owned() } else { format!("`{path}`") };
        (FaultKind::Missing, format!("{of} lacks `{name}`"))
    } else {
        (FaultKind::WrongKind, plain(said))
    };
    let fault = Fault::new(kind, span, message);
    match nearest(name, words.iter().copied()) {
        Some(near) => fault.with_help(format!("did you mean `{near}`?")),
        None if !words.is_empty() => fault.with_help(format!("there are {}", words.join(", "))),
        None => fault,
    }
}

/// The byte at a line and column, both from 1, the column in characters; the end of the text if there is none.
fn byte_at(text: &str, line: usize, column: usize) -> usize {
    let before: usize = text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let rest = text.get(before..).unwrap_or_default();
    before + rest.char_indices().nth(column.saturating_sub(1)).map_or(rest.len(), |(at, _)| at)
}

/// "invalid type: sequence, expected a string" without the deserialiser's own words for things.
fn plain(said: &str) -> String {
    const WORDS: [(&str, &str); 8] = [
        ("invalid type: ", ""),
        ("invalid value: ", ""),
        ("sequence", "a list"),
        ("a map", "a table"),
        ("map", "a table"),
        ("unit value", "nothing"),
        ("a string", "text"),
        (", expected ", " stands where this is due: "),
    ];
    let mut text = said.to_owned();
    for (theirs, ours) in WORDS {
        text = text.replace(theirs, ours);
    }
    text
}

/// Where the word, or else the character, that begins at a byte ends.
fn token_end(text: &str, at: usize) -> usize {
    let rest = text.get(at..).unwrap_or_default();
    let word =
        rest.find(|c: char| !(c.is_alphanumeric() || matches!(c, '-' | '_' | '.'))).unwrap_or(rest.len());
    at + if word > 0 { word } else { rest.chars().next().map_or(0, char::len_utf8) }
}

fn between_ticks(said: &str) -> &str {
    said.split('`').nth(1).unwrap_or_default()
}

/// All words between ticks.
fn ticked(list: &str) -> Vec<&str> {
    list.split('`').skip(1).step_by(2).collect()
}

//! Values and keys as YAML on one line.

use crate::text::tree::{Node, Scalar, Value, reads_as_null};
use std::fmt::Write;

/// Where a value is to stand, as far as that decides how it is written.
#[derive(Clone, Copy, Default)]
pub(super) struct Setting {
    /// Inside brackets, where commas and brackets need quotes.
    pub(super) brackets: bool,
    /// The quotes of what stood there.
    pub(super) quotes: Option<char>,
}

/// A value.
pub(super) fn value(node: &Node, setting: Setting) -> String {
    let inside = Setting { brackets: true, quotes: None };
    match &node.value {
        Value::Scalar(text) => scalar(text, setting),
        Value::List(list) if list.is_empty() => "[]".to_owned(),
        Value::List(list) => {
            let entries: Vec<String> = list.iter().map(|entry| value(entry, inside)).collect();
            format!("[ {} ]", entries.join(", "))
        }
        Value::Map(map) if map.is_empty() => "{}".to_owned(),
        Value::Map(map) => {
            let entries: Vec<String> = map
                .iter()
                .map(|entry| format!("{}: {}", key(&entry.key.text), value(&entry.value, inside)))
                .collect();
            format!("{{ {} }}", entries.join(", "))
        }
    }
}

/// A key.
pub(super) fn key(text: &str) -> String {
    if stands_plain(text, true) && text != "<<" { text.to_owned() } else { quoted(text, '"') }
}

fn scalar(scalar: &Scalar, setting: Setting) -> String {
    let text = &*scalar.text;
    if scalar.is_null() {
        return if text.is_empty() { "null" } else { text }.to_owned();
    }
    let plain = scalar.plain && stands_plain(text, setting.brackets);
    match setting.quotes {
        None if plain => text.to_owned(),
        // To those who read the tree this word says something else inside quotes.
        Some(_) if plain && text == "none" => text.to_owned(),
        quotes => quoted(text, quotes.unwrap_or('"')),
    }
}

/// Whether text without quotes reads back as itself. Some that would is put in quotes all the same.
fn stands_plain(text: &str, brackets: bool) -> bool {
    let odd = |sign: char| sign.is_control() || matches!(sign, '\u{2028}' | '\u{2029}' | '\u{feff}');
    let starts_well = match text.strip_prefix('-') {
        // A number below nothing.
        Some(rest) => rest.starts_with(|sign: char| sign.is_ascii_digit()),
        None => !text.starts_with([
            '?', ':', ',', '[', ']', '{', '}', '#', '&', '*', '!', '|', '>', '\'', '"', '%', '@', '`',
        ]),
    };
    starts_well
        && !reads_as_null(text)
        && text.trim() == text
        && !text.starts_with("...")
        && !text.ends_with(':')
        && !text.contains(": ")
        && !text.contains(" #")
        && !text.contains(odd)
        && !(brackets && text.contains([',', '[', ']', '{', '}']))
}

/// Text in quotes; in double ones where it holds what single ones cannot.
fn quoted(text: &str, quotes: char) -> String {
    let escaped = |sign: char| sign.is_control() || matches!(sign, '\u{2028}' | '\u{2029}' | '\u{feff}');
    if quotes == '\'' && !text.contains(escaped) {
        return format!("'{}'", text.replace('\'', "''"));
    }
    let mut out = String::from("\"");
    for sign in text.chars() {
        match sign {
            '"' | '\\' => out.extend(['\\', sign]),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            _ if escaped(sign) => {
                // Writing to a string cannot fail.
                let _ = write!(out, "\\u{:04x}", u32::from(sign));
            }
            _ => out.push(sign),
        }
    }
    out.push('"');
    out
}

//! Where in a text a value changes, and where a new entry goes.

use super::page::Page;
use super::write::{self, Setting};
use crate::text::tree::{Key, Node, Value};
use std::ops::Range;

/// Bytes of a text with what is to stand there.
pub(super) type Patch = (Range<usize>, String);

/// Patches that do not overlap, or what hinders.
pub(super) type Patches = Result<Vec<Patch>, &'static str>;

/// An entry of a table or list, or the root.
#[derive(Clone, Copy)]
pub(super) struct Spot<'a> {
    pub(super) key: Option<&'a Key>,
    pub(super) node: &'a Node,
    /// Whether the table or list that holds it is in brackets.
    pub(super) brackets: bool,
}

/// A value in the place of what stands there.
pub(super) fn replace(page: Page<'_>, spot: Spot<'_>, new: &Node) -> Patches {
    let Spot { key, node, brackets } = spot;
    let plainly = write::value(new, Setting { brackets, quotes: None });
    let (start, end) = (node.span.start, node.span.end);
    if let Some(alias) = node.used_at {
        return Ok(vec![(alias.start..alias.end, plainly)]);
    }
    let written = page.between(start, end);
    match &node.value {
        Value::Scalar(scalar) if scalar.plain && scalar.text.is_empty() => {
            if matches!(written, ":" | "-") {
                return Ok(vec![(end..end, format!(" {plainly}"))]);
            }
            match key {
                Some(key) if brackets => Ok(vec![(key.span.end..key.span.end, format!(": {plainly}"))]),
                _ => Err("the value is left out in a way that leaves no place for one"),
            }
        }
        Value::Scalar(scalar) => {
            let quotes = written.chars().next().filter(|sign| matches!(sign, '"' | '\''));
            if quotes.is_none() && !scalar.plain {
                let header = page.between(start, page.line_end(start));
                if header.contains('#') {
                    return Err("a comment stands behind the sign that begins the block of text");
                }
            }
            let quotes = quotes.filter(|_| !scalar.plain);
            Ok(vec![(start..end, write::value(new, Setting { brackets, quotes }))])
        }
        Value::List(_) | Value::Map(_) => match key {
            Some(key) if !node.flow => replace_block(page, key, start..end, &plainly),
            _ => Ok(vec![(start..end, plainly)]),
        },
    }
}

/// A value behind the key, and the lines of the block below gone.
fn replace_block(page: Page<'_>, key: &Key, block: Range<usize>, new: &str) -> Patches {
    let colon = page.skip_blanks(key.span.end);
    if !page.between(colon, block.start).starts_with(':') || !page.ends_line(colon + 1) {
        return Err("something stands between the key and the entries below it");
    }
    if !page.begins_line(block.start) || !page.ends_line(block.end) {
        return Err("the entries do not stand on lines of their own");
    }
    Ok(vec![
        (colon + 1..colon + 1, format!(" {new}")),
        (page.line_start(block.start)..page.next_line(block.end), String::new()),
    ])
}

/// A new entry behind the last of a table, or of a list if it has no key.
pub(super) fn insert(page: Page<'_>, holder: &Node, key: Option<&str>, new: &Node) -> Patches {
    let setting = Setting { brackets: holder.flow, quotes: None };
    let value = write::value(new, setting);
    let entry = match key {
        Some(key) => format!("{}: {value}", write::key(key)),
        None => value,
    };
    if holder.flow {
        insert_in_brackets(page, holder, &entry)
    } else {
        let sign = if key.is_some() { "" } else { "- " };
        insert_below(page, holder, &format!("{sign}{entry}"))
    }
}

fn insert_in_brackets(page: Page<'_>, holder: &Node, entry: &str) -> Patches {
    if let Some(last) = ends(holder).last() {
        return Ok(vec![(*last..*last, format!(", {entry}"))]);
    }
    let (start, end) = (holder.span.start + 1, holder.span.end.saturating_sub(1));
    if page.between(start, end).trim().is_empty() {
        Ok(vec![(start..end, format!(" {entry} "))])
    } else {
        // A comment stands between the brackets.
        Ok(vec![(start..start, format!(" {entry}"))])
    }
}

fn insert_below(page: Page<'_>, holder: &Node, entry: &str) -> Patches {
    let end = holder.span.end;
    if !page.ends_line(end) {
        return Err("something stands behind the last entry");
    }
    let indent = " ".repeat(page.column(holder.span.start));
    let line_break = page.line_break(end);
    if ends_in_kept_blanks(page, holder) {
        let line = page.skip_blank_lines(page.next_line(end));
        return Ok(vec![(line..line, format!("{indent}{entry}{line_break}"))]);
    }
    let end = page.line_end(end);
    Ok(vec![(end..end, format!("{line_break}{indent}{entry}"))])
}

/// Whether the last thing in it is a block of text to which the blank lines behind it belong.
fn ends_in_kept_blanks(page: Page<'_>, node: &Node) -> bool {
    if node.used_at.is_some() {
        return false;
    }
    match &node.value {
        Value::Scalar(scalar) => {
            let header = page.between(node.span.start, page.line_end(node.span.start));
            let header = header.split('#').next().unwrap_or_default();
            !scalar.plain && header.starts_with(['|', '>']) && header.contains('+')
        }
        Value::List(list) => list.last().is_some_and(|last| ends_in_kept_blanks(page, last)),
        Value::Map(map) => map.entries().last().is_some_and(|last| ends_in_kept_blanks(page, &last.value)),
    }
}

/// Where each entry of a table or list ends.
pub(super) fn ends(holder: &Node) -> Vec<usize> {
    match &holder.value {
        Value::Scalar(_) => Vec::new(),
        Value::List(list) => list.iter().map(|entry| entry.place().end).collect(),
        Value::Map(map) => map.iter().map(|entry| entry.key.span.end.max(entry.value.place().end)).collect(),
    }
}

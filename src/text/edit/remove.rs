//! Taking an entry out of its table or list.

use super::layout::{Patch, Patches, ends};
use super::page::Page;
use crate::text::tree::{Node, Value};

/// Takes out the entry of a number; there are others beside it.
pub(super) fn remove(page: Page<'_>, holder: &Node, number: usize) -> Patches {
    if holder.flow {
        return remove_in_brackets(page, holder, number);
    }
    let (starts, ends) = match &holder.value {
        Value::Map(map) => (map.iter().map(|entry| entry.key.span.start).collect(), ends(holder)),
        _ => dashes(page, holder)?,
    };
    let (Some(start), Some(end)) = (starts.get(number), ends.get(number)) else {
        return Err("the entry cannot be found");
    };
    remove_lines(page, *start, *end, starts.get(number + 1).copied())
}

/// Takes out whole lines, or what shares its line with the dash of a list.
fn remove_lines(page: Page<'_>, start: usize, end: usize, next: Option<usize>) -> Patches {
    if !page.ends_line(end) {
        return Err("something stands behind the entry");
    }
    if page.begins_line(start) {
        return Ok(vec![(page.line_start(start)..page.next_line(end), String::new())]);
    }
    let before = page.between(page.line_start(start), start).trim_end();
    let (true, Some(next)) = (before.ends_with('-'), next) else {
        return Err("something stands ahead of the entry on its line");
    };
    if page.next_line(end) == page.line_start(next) {
        return Ok(vec![(start..next, String::new())]);
    }
    // Comments stand between: the dash keeps its line, and the next entry its own.
    let dash = page.line_start(start) + before.len();
    Ok(vec![(dash..page.line_end(end), String::new())])
}

/// The dashes of a block list, and where the entry behind each ends.
fn dashes(page: Page<'_>, list: &Node) -> Result<(Vec<usize>, Vec<usize>), &'static str> {
    let lost = "the dashes of the list cannot be told apart";
    let entries = list.as_list().unwrap_or_default();
    let column = page.column(list.span.start);
    let is_dash = |at: usize| {
        let mut signs = page.between(at, page.text.len()).chars();
        signs.next() == Some('-') && signs.next().is_none_or(char::is_whitespace)
    };
    let mut dashes = vec![list.span.start];
    let mut line = page.next_line(list.span.start);
    while line < list.span.end {
        let indent = page.between(line, page.line_end(line));
        let indent = indent.len() - indent.trim_start_matches(' ').len();
        if indent == column && is_dash(line + indent) {
            dashes.push(line + indent);
        }
        line = page.next_line(line);
    }
    if dashes.len() != entries.len() || !is_dash(list.span.start) {
        return Err(lost);
    }
    let ends = dashes.iter().zip(entries).enumerate().map(|(number, (dash, entry))| {
        let place = entry.place();
        let next = dashes.get(number + 1).copied().unwrap_or(usize::MAX);
        // What is left out has no place of its own.
        if place.start > *dash && place.end <= next { place.end } else { dash + 1 }
    });
    let ends = ends.collect();
    Ok((dashes, ends))
}

fn remove_in_brackets(page: Page<'_>, holder: &Node, number: usize) -> Patches {
    let lost = "the commas between the entries cannot be told apart";
    let ends = ends(holder);
    // The comma behind each entry, and where each entry begins, an anchor included.
    let mut commas = Vec::new();
    let mut starts = vec![page.skip_blanks(holder.span.start + 1)];
    for end in &ends {
        let comma = page.skip_blanks(*end);
        let comma = page.between(comma, holder.span.end).starts_with(',').then_some(comma);
        starts.extend(comma.map(|comma| page.skip_blanks(comma + 1)));
        commas.push(comma);
    }
    let inner = commas.len().saturating_sub(1);
    if commas.iter().take(inner).any(Option::is_none) {
        return Err(lost);
    }
    let (Some(&start), Some(&end)) = (starts.get(number), ends.get(number)) else {
        return Err(lost);
    };
    let comma = commas.get(number).copied().flatten();
    let before = number.checked_sub(1);
    let before = before.and_then(|before| Some((*ends.get(before)?, commas.get(before).copied()??)));
    let gone = comma.map_or(end, |comma| comma + 1);
    let none = String::new;
    if page.begins_line(start) && page.ends_line(gone) {
        let mut patches: Vec<Patch> = vec![(page.line_start(start)..page.next_line(gone), none())];
        if let (None, Some((_, comma))) = (comma, before) {
            patches.insert(0, (comma..comma + 1, none()));
        }
        return Ok(patches);
    }
    if number < inner {
        let next = starts.get(number + 1).copied().ok_or(lost)?;
        if !page.between(gone, next).contains('#') {
            return Ok(vec![(start..next, none())]);
        }
        // Its own comment goes with it, comments on further lines stay.
        let from = start - trailing_blanks(page.between(0, start));
        let to = if page.ends_line(gone) { page.line_end(gone) } else { gone };
        return Ok(vec![(from..to, none())]);
    }
    match before {
        Some((before, comma)) if page.between(before, start).contains('#') => {
            Ok(vec![(comma..comma + 1, none()), (start..end, none())])
        }
        Some((before, _)) => Ok(vec![(before..end, none())]),
        None => Err(lost),
    }
}

fn trailing_blanks(text: &str) -> usize {
    text.len() - text.trim_end_matches([' ', '\t']).len()
}

//! Edits as a unified diff.

use super::Edits;
use std::fmt::Write;
use std::ops::Range;

/// Lines shown on each side of a change.
const CONTEXT: usize = 3;

/// Lines of the old text with the lines that take their place.
struct Block<'a> {
    old: Range<usize>,
    new: Vec<String>,
    gone: Vec<&'a str>,
}

pub(super) fn unified(edits: &Edits, name: &str, text: &str) -> String {
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let blocks = blocks(edits, text, &lines);
    if blocks.is_empty() {
        return String::new();
    }
    let mut out = format!("--- {name}\n+++ {name}\n");
    // How many lines more there are by now in the new text than in the old.
    let mut grown: isize = 0;
    let mut rest = blocks.as_slice();
    while let Some(first) = rest.first() {
        let near = |pair: &[Block<'_>]| matches!(pair, [a, b] if b.old.start - a.old.end <= 2 * CONTEXT);
        let count = 1 + rest.windows(2).take_while(|pair| near(pair)).count();
        let (hunk, further) = rest.split_at(count);
        let last = hunk.last().unwrap_or(first);
        let start = first.old.start.saturating_sub(CONTEXT);
        let end = (last.old.end + CONTEXT).min(lines.len());
        let growth: isize = hunk.iter().map(|block| signed(block.new.len()) - signed(block.gone.len())).sum();
        let old_count = end - start;
        let new_count = signed(old_count) + growth;
        let new_start = signed(start) + grown;
        // Writing to a string cannot fail.
        let _ = writeln!(
            out,
            "@@ -{} +{} @@",
            place(signed(start), signed(old_count)),
            place(new_start, new_count)
        );
        let mut at = start;
        for block in hunk {
            show(&mut out, ' ', lines.get(at..block.old.start).unwrap_or_default());
            show(&mut out, '-', &block.gone);
            show(&mut out, '+', &block.new);
            at = block.old.end;
        }
        show(&mut out, ' ', lines.get(at..end).unwrap_or_default());
        grown += growth;
        rest = further;
    }
    out
}

/// First line, counted from 1, and number of lines; of no lines the one before them.
fn place(start: isize, count: isize) -> String {
    format!("{},{count}", if count == 0 { start } else { start + 1 })
}

fn signed(count: usize) -> isize {
    isize::try_from(count).unwrap_or(isize::MAX)
}

fn show(out: &mut String, sign: char, lines: &[impl AsRef<str>]) {
    for line in lines {
        let line = line.as_ref();
        out.push(sign);
        out.push_str(line);
        if !line.ends_with('\n') {
            out.push_str("\n\\ No newline at end of file\n");
        }
    }
}

/// The changed lines. Edits of the same lines are taken together.
fn blocks<'a>(edits: &Edits, text: &str, lines: &[&'a str]) -> Vec<Block<'a>> {
    let ends = lines.iter().scan(0, |at, line| {
        *at += line.len();
        Some(*at)
    });
    // Behind the last line break begins a line, though nothing stands on it.
    let starts: Vec<usize> = [0].into_iter().chain(ends).collect();
    let begun = if text.is_empty() || text.ends_with('\n') { starts.len() } else { lines.len() };
    let starts = starts.get(..begun).unwrap_or_default();
    let line_of = |byte: usize| starts.partition_point(|start| *start <= byte).saturating_sub(1);
    let start_of = |line: usize| starts.get(line).copied().unwrap_or(text.len());
    let mut blocks = Vec::new();
    let mut rest = edits.list();
    while let Some(edit) = rest.first() {
        let first = line_of(edit.span.start);
        let mut end = first;
        let mut new = String::new();
        let mut at = start_of(first);
        let mut taken = 0;
        for edit in rest {
            if taken > 0 && line_of(edit.span.start) >= end {
                break;
            }
            new.push_str(text.get(at..edit.span.start).unwrap_or_default());
            new.push_str(&edit.text);
            at = edit.span.end;
            end = end.max((line_of(at) + 1).min(lines.len()));
            taken += 1;
        }
        rest = rest.get(taken..).unwrap_or_default();
        new.push_str(text.get(at..start_of(end)).unwrap_or_default());
        let new: Vec<&str> = new.split_inclusive('\n').collect();
        let old = lines.get(first..end).unwrap_or_default();
        let before = old.iter().zip(&new).take_while(|(one, two)| one == two).count();
        let most = old.len().min(new.len()) - before;
        let after =
            old.iter().rev().zip(new.iter().rev()).take(most).take_while(|(one, two)| one == two).count();
        blocks.push(Block {
            old: first + before..end - after,
            gone: old.get(before..old.len() - after).unwrap_or_default().to_vec(),
            new: new
                .get(before..new.len() - after)
                .unwrap_or_default()
                .iter()
                .map(|line| (*line).to_owned())
                .collect(),
        });
    }
    blocks
}

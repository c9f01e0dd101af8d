//! The texts of a run, with their names and lines.

use super::span::{FileId, Span};
use std::sync::{Arc, LazyLock, OnceLock};

/// The mark that some editors put at the start of a UTF-8 file.
const BYTE_ORDER_MARK: char = '\u{feff}';

/// One text with the name to show for it.
#[derive(Debug)]
pub struct Source {
    name: String,
    text: Arc<str>,
    /// Found when a line is asked for: most texts of a run are never shown.
    line_starts: OnceLock<Vec<usize>>,
}

impl Source {
    /// Keeps a text under a name. A line ends with a line feed, a carriage return or both.
    pub fn new(name: impl Into<String>, text: impl Into<Arc<str>>) -> Source {
        Source { name: name.into().replace('\\', "/"), text: text.into(), line_starts: OnceLock::new() }
    }

    fn line_starts(&self) -> &[usize] {
        self.line_starts.get_or_init(|| {
            let bytes = self.text.as_bytes();
            let mut starts = vec![0];
            for (at, byte) in bytes.iter().enumerate() {
                let ends_line = *byte == b'\n' || (*byte == b'\r' && bytes.get(at + 1) != Some(&b'\n'));
                if ends_line {
                    starts.push(at + 1);
                }
            }
            starts
        })
    }

    /// The path as shown, with forward slashes.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The whole text, shared.
    pub fn shared_text(&self) -> Arc<str> {
        Arc::clone(&self.text)
    }

    /// The text a span covers; empty if the span does not fit this text.
    pub fn slice(&self, span: Span) -> &str {
        span.slice(&self.text).unwrap_or_default()
    }

    /// How many lines there are; at least one.
    pub fn line_count(&self) -> usize {
        self.line_starts().len()
    }

    /// The line of this number, counted from 1, without its line break.
    pub fn line(&self, number: usize) -> Option<&str> {
        let start = *self.line_starts().get(number.checked_sub(1)?)?;
        let end = self.line_starts().get(number).copied().unwrap_or(self.text.len());
        Some(self.text.get(start..end)?.trim_end_matches(['\r', '\n']))
    }

    /// All lines in order, without their line breaks.
    pub fn lines(&self) -> impl Iterator<Item = &str> {
        (1..=self.line_count()).filter_map(|number| self.line(number))
    }

    /// Line and column of a byte, both counted from 1, the column in characters. A byte inside a character counts
    /// as the character; one past the end as the end.
    pub fn line_col(&self, byte: usize) -> (usize, usize) {
        let (line, before) = self.before_on_line(byte);
        (line, before.chars().count() + 1)
    }

    /// Line and column of a byte as editors count them: both from 0, the column in UTF-16 code units.
    pub fn utf16_position(&self, byte: usize) -> (usize, usize) {
        let (line, before) = self.before_on_line(byte);
        (line - 1, before.chars().map(char::len_utf16).sum())
    }

    /// The byte at a line and column as editors count them (see [`Source::utf16_position`]); past the end of a line
    /// or of the text it is that end.
    pub fn byte_of_utf16(&self, line: usize, column: usize) -> usize {
        let Some(start) = self.line_starts().get(line).copied() else {
            return self.text.len();
        };
        let whole = self.line(line + 1).unwrap_or_default();
        let (skipped, shown) = split_order_mark(line + 1, whole);
        let mut units = 0;
        let within = shown
            .char_indices()
            .find(|(_, character)| {
                units += character.len_utf16();
                units > column
            })
            .map_or(shown.len(), |(at, _)| at);
        start + skipped + within
    }

    /// The line a byte is on, and the shown text before it on that line.
    fn before_on_line(&self, byte: usize) -> (usize, &str) {
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte -= 1;
        }
        let line = self.line_starts().partition_point(|start| *start <= byte);
        let start =
            line.checked_sub(1).and_then(|index| self.line_starts().get(index)).copied().unwrap_or_default();
        let before = self.text.get(start..byte).unwrap_or_default();
        (line.max(1), split_order_mark(line, before).1)
    }
}

/// Takes the byte order mark, which nobody sees, off the first line: how many bytes it took, and the rest.
fn split_order_mark(line: usize, text: &str) -> (usize, &str) {
    match text.strip_prefix(BYTE_ORDER_MARK) {
        Some(rest) if line == 1 => (BYTE_ORDER_MARK.len_utf8(), rest),
        _ => (0, text),
    }
}

/// All texts of a run. Cloning shares them.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    all: Vec<Arc<Source>>,
}

/// What stands for a file that was never read.
static NOTHING: LazyLock<Source> = LazyLock::new(|| Source::new("", ""));

impl Sources {
    /// No texts yet.
    pub fn new() -> Sources {
        Sources::default()
    }

    /// Takes in a text and gives the id that spans in it carry.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<Arc<str>>) -> FileId {
        self.add_source(Arc::new(Source::new(name, text)))
    }

    /// Takes in a text that is already kept elsewhere.
    pub fn add_source(&mut self, source: Arc<Source>) -> FileId {
        let id = u32::try_from(self.all.len()).map_or(FileId::NOWHERE, FileId);
        self.all.push(source);
        id
    }

    /// The text of this id; an empty text without a name for an id that was not given out here.
    pub fn get(&self, file: FileId) -> &Source {
        self.find(file).map_or(&NOTHING, |source| source)
    }

    /// The text of this id, or nothing if it was not given out here.
    pub fn find(&self, file: FileId) -> Option<&Arc<Source>> {
        self.all.get(usize::try_from(file.0).ok()?)
    }

    /// All texts with their ids, in the order they were added.
    pub fn iter(&self) -> impl Iterator<Item = (FileId, &Arc<Source>)> {
        (0u32..).map(FileId).zip(&self.all)
    }
}

#[cfg(test)]
mod tests;

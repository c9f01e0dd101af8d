//! Lines, columns and what stands between the entries of a text.

const BYTE_ORDER_MARK: char = '\u{feff}';

/// A text, looked at by its lines.
#[derive(Clone, Copy)]
pub(super) struct Page<'a> {
    pub(super) text: &'a str,
}

impl<'a> Page<'a> {
    fn from(self, at: usize) -> &'a str {
        self.text.get(at..).unwrap_or_default()
    }

    pub(super) fn between(self, start: usize, end: usize) -> &'a str {
        self.text.get(start..end).unwrap_or_default()
    }

    /// Where the line of a byte begins, behind a byte order mark.
    pub(super) fn line_start(self, at: usize) -> usize {
        let before = self.between(0, at);
        match before.rfind(['\n', '\r']) {
            Some(end) => end + 1,
            None if before.starts_with(BYTE_ORDER_MARK) => BYTE_ORDER_MARK.len_utf8(),
            None => 0,
        }
    }

    /// Where the line of a byte ends, its break not counted.
    pub(super) fn line_end(self, at: usize) -> usize {
        self.from(at).find(['\n', '\r']).map_or(self.text.len(), |length| at + length)
    }

    /// Where the next line begins; the end of the text if there is none.
    pub(super) fn next_line(self, at: usize) -> usize {
        let end = self.line_end(at);
        end + line_break(self.from(end)).len()
    }

    /// The break at the end of a byte's line, or that which the text begins with.
    pub(super) fn line_break(self, at: usize) -> &'a str {
        [self.line_end(at), self.line_end(0)]
            .into_iter()
            .map(|end| line_break(self.from(end)))
            .find(|found| !found.is_empty())
            .unwrap_or("\n")
    }

    /// How many characters stand before a byte on its line.
    pub(super) fn column(self, at: usize) -> usize {
        self.between(self.line_start(at), at).chars().count()
    }

    /// Whether only blanks stand before a byte on its line.
    pub(super) fn begins_line(self, at: usize) -> bool {
        is_blank(self.between(self.line_start(at), at))
    }

    /// Whether nothing but blanks and a comment stands between a byte and the end of its line.
    pub(super) fn ends_line(self, at: usize) -> bool {
        let rest = self.between(at, self.line_end(at)).trim_start();
        rest.is_empty() || rest.starts_with('#')
    }

    /// The first byte from here on that is part of neither blanks, line breaks nor comments.
    pub(super) fn skip_blanks(self, mut at: usize) -> usize {
        loop {
            let rest = self.from(at);
            let blanks = rest.len() - rest.trim_start().len();
            at += blanks;
            if !self.from(at).starts_with('#') {
                return at;
            }
            at = self.line_end(at);
        }
    }

    /// The start of the first line from here on that is not blank.
    pub(super) fn skip_blank_lines(self, mut line: usize) -> usize {
        while line < self.text.len() && is_blank(self.between(line, self.line_end(line))) {
            line = self.next_line(line);
        }
        line
    }
}

pub(super) fn is_blank(text: &str) -> bool {
    text.chars().all(|sign| matches!(sign, ' ' | '\t'))
}

/// The line break that a text begins with; empty if it begins with none.
fn line_break(text: &str) -> &str {
    let length = if text.starts_with("\r\n") { 2 } else { usize::from(text.starts_with(['\n', '\r'])) };
    text.get(..length).unwrap_or_default()
}

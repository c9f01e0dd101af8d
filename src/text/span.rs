//! Places in text: a file and a range of its bytes.

/// Which of the texts read in this run; [`super::Sources`] gives them out in order.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct FileId(pub u32);

impl FileId {
    /// Text that belongs to no file, such as a value given on the command line.
    pub const NOWHERE: FileId = FileId(u32::MAX);
}

/// A range of bytes `start..end` of one file; both lie on character boundaries of its text.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// The first byte.
    pub start: usize,
    /// The byte after the last.
    pub end: usize,
}

impl Span {
    /// The bytes `start..end` of `file`; an end before the start is taken as the start.
    pub fn new(file: FileId, start: usize, end: usize) -> Span {
        Span { file, start, end: end.max(start) }
    }

    /// The smallest span that holds both; `self` if they lie in different files.
    pub fn join(self, other: Span) -> Span {
        if self.file == other.file {
            Span::new(self.file, self.start.min(other.start), self.end.max(other.end))
        } else {
            self
        }
    }

    /// Length in bytes.
    pub fn len(self) -> usize {
        self.end.saturating_sub(self.start)
    }

    /// Whether it holds no byte.
    pub fn is_empty(self) -> bool {
        self.len() == 0
    }

    /// The text it covers, if it lies within `text` on character boundaries.
    pub fn slice(self, text: &str) -> Option<&str> {
        text.get(self.start..self.end)
    }
}

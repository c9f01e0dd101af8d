//! A text in the making: what is left of the original, and what was put in, in order.

use super::{Edit, Edits};
use crate::text::span::{FileId, Span};
use std::ops::Range;

enum Piece {
    /// Bytes of the original.
    Kept(Range<usize>),
    New(String),
}

impl Piece {
    fn len(&self) -> usize {
        match self {
            Piece::Kept(range) => range.len(),
            Piece::New(text) => text.len(),
        }
    }

    /// A part of it, by bytes from its start.
    fn part(&self, part: Range<usize>) -> Piece {
        match self {
            Piece::Kept(range) => Piece::Kept(range.start + part.start..range.start + part.end),
            Piece::New(text) => Piece::New(text.get(part).unwrap_or_default().to_owned()),
        }
    }
}

pub(super) struct Pieces(Vec<Piece>);

impl Pieces {
    /// The whole of an original of this length.
    pub(super) fn whole(length: usize) -> Pieces {
        Pieces(vec![Piece::Kept(0..length)])
    }

    /// Puts text in the place of bytes of the text as it stands now.
    pub(super) fn replace(&mut self, gone: &Range<usize>, text: &str) {
        let mut new = Some(Piece::New(text.to_owned()));
        let mut pieces = Vec::with_capacity(self.0.len() + 2);
        let mut start = 0;
        for piece in &self.0 {
            let end = start + piece.len();
            if start < gone.start {
                pieces.push(piece.part(0..gone.start.min(end) - start));
            }
            if end >= gone.start {
                pieces.extend(new.take());
            }
            if end > gone.end {
                pieces.push(piece.part(gone.end.max(start) - start..end - start));
            }
            start = end;
        }
        pieces.extend(new);
        pieces.retain(|piece| piece.len() > 0);
        self.0 = pieces;
    }

    /// What became of the original, as edits of it.
    pub(super) fn edits(&self, file: FileId, original: &str) -> Edits {
        let mut edits = Vec::new();
        let mut at = 0;
        let mut new = String::new();
        let end = Piece::Kept(original.len()..original.len());
        for piece in self.0.iter().chain([&end]) {
            match piece {
                Piece::New(text) => new.push_str(text),
                Piece::Kept(range) => {
                    edits.extend(smallest(file, original, at..range.start, std::mem::take(&mut new)));
                    at = range.end;
                }
            }
        }
        Edits(edits)
    }
}

/// The edit without what old and new text have in common at their ends; nothing if they are the same.
fn smallest(file: FileId, original: &str, gone: Range<usize>, new: String) -> Option<Edit> {
    let old = original.get(gone.clone()).unwrap_or_default();
    let same = |(one, two): &(char, char)| one == two;
    let length = |(one, _): (char, char)| one.len_utf8();
    let before: usize = old.chars().zip(new.chars()).take_while(same).map(length).sum();
    let (old, new) = (old.get(before..).unwrap_or_default(), new.get(before..).unwrap_or_default());
    let after: usize = old.chars().rev().zip(new.chars().rev()).take_while(same).map(length).sum();
    let (start, end) = (gone.start + before, gone.end - after);
    let text = new.get(..new.len() - after).unwrap_or_default().to_owned();
    (start < end || !text.is_empty()).then(|| Edit { span: Span::new(file, start, end), text })
}

//! The lines of a text that a drawing shows: only those that hold a mark, cut to the width, numbered as in the text.

use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};

use super::safe_text::{one_line, visible};
use crate::text::{Source, Span};

/// Columns that the frame takes beside a line: number, bar and blanks.
const GUTTER: usize = 10;
/// What stands in for the cut end of a line.
const CUT: char = '…';

/// One line of the excerpt.
#[derive(Debug)]
struct Line {
    /// Number in the text, from 0.
    number: usize,
    /// Bytes of the text that are shown.
    shown: std::ops::Range<usize>,
    /// Columns of the text ahead of them.
    ahead: usize,
    /// Where they begin in the excerpt.
    start: usize,
    /// Where the line begins and ends in the excerpt, marks of cutting included.
    whole: std::ops::Range<usize>,
}

/// An excerpt of a text.
#[derive(Debug)]
pub struct Excerpt {
    name: String,
    text: String,
    lines: Vec<Line>,
}

impl Excerpt {
    /// The lines on which the spans begin, each cut to `width` columns so that the marks stay in sight: that of the first
    /// span with those that follow on it first, the others in order.
    pub fn new(source: &Source, spans: &[Span], width: usize) -> Self {
        let room = width.saturating_sub(GUTTER).max(30);
        let mut numbers: Vec<usize> = spans.iter().map(|span| source.line_col(span.start).0).collect();
        numbers.sort_unstable();
        numbers.dedup();
        let main = spans.first().map(|span| source.line_col(span.start).0);
        if let Some(main) = main.and_then(|main| numbers.iter().position(|number| *number == main)) {
            let follows = |pair: &[usize]| {
                pair.windows(2).all(|two| two.first().zip(two.last()).is_some_and(|(a, b)| a + 1 == *b))
            };
            let from = (0..=main).find(|from| numbers.get(*from..=main).is_some_and(follows)).unwrap_or(main);
            let to = (main..numbers.len())
                .rev()
                .find(|to| numbers.get(main..=*to).is_some_and(follows))
                .unwrap_or(main);
            if let Some(ahead) = numbers.get_mut(..=to) {
                ahead.rotate_left(from);
            }
        }
        let mut excerpt = Self { name: one_line(source.name()), text: String::new(), lines: Vec::new() };
        for number in numbers {
            let Some(line) = source.line(number) else { continue };
            let offset = line_offset(source, line);
            let marks = spans.iter().filter(|span| source.line_col(span.start).0 == number);
            let first = marks.clone().map(|span| span.start).min().unwrap_or(offset);
            let last = marks.map(|span| span.end).max().unwrap_or(offset);
            excerpt.add(number - 1, line, offset, first - offset, (last - offset).min(line.len()), room);
        }
        excerpt
    }

    fn add(&mut self, number: usize, line: &str, offset: usize, first: usize, last: usize, room: usize) {
        let shown_whole = visible(line);
        let columns = |text: &str| text.chars().count();
        // The window begins at the line's start, or a little ahead of a mark that would else fall off its end.
        let from = if shown_whole.get(..last).map_or(0, columns) < room {
            0
        } else {
            step_back(&shown_whole, first, 12)
        };
        let mut to = from;
        let budget = room.saturating_sub(usize::from(from > 0) + 1);
        for (count, (at, letter)) in shown_whole.get(from..).unwrap_or("").char_indices().enumerate() {
            if count == budget {
                break;
            }
            to = from + at + letter.len_utf8();
        }
        let begin = self.text.len();
        if from > 0 {
            self.text.push(CUT);
        }
        let start = self.text.len();
        self.text.push_str(shown_whole.get(from..to).unwrap_or("").trim_end());
        let kept = self.text.len() - start;
        if to < shown_whole.trim_end().len() {
            self.text.push(CUT);
        }
        let end = self.text.len();
        self.text.push('\n');
        let shown = offset + from..offset + from + kept.max(1);
        let ahead = shown_whole.get(..from).map_or(0, columns);
        self.lines.push(Line { number, shown, ahead, start, whole: begin..end });
    }

    /// A span of the text as one of the excerpt; at least one byte, on the line it begins on.
    pub fn place(&self, span: Span) -> SourceSpan {
        let line =
            self.lines.iter().find(|line| line.shown.start <= span.start && span.start < line.shown.end);
        let Some(line) = line.or(self.lines.first()) else { return SourceSpan::new(0.into(), 0) };
        let start = line.start + span.start.saturating_sub(line.shown.start);
        let start = start.min(line.whole.end.saturating_sub(1).max(line.start));
        let end = line.start + span.end.saturating_sub(line.shown.start);
        let end = end.clamp(start + 1, line.whole.end.max(start + 1));
        SourceSpan::new(start.into(), end - start)
    }

    /// The column, from 0, at which a span is shown.
    pub fn column(&self, span: Span) -> usize {
        let place = self.place(span);
        let line = self
            .lines
            .iter()
            .find(|line| line.whole.start <= place.offset() && place.offset() <= line.whole.end);
        line.and_then(|line| self.text.get(line.whole.start..place.offset()))
            .map_or(0, |text| text.chars().count())
    }
}

fn line_offset(source: &Source, line: &str) -> usize {
    line.as_ptr() as usize - source.text().as_ptr() as usize
}

/// The byte some characters ahead of a byte.
fn step_back(text: &str, byte: usize, characters: usize) -> usize {
    let before = text.get(..byte).unwrap_or(text);
    before.char_indices().rev().nth(characters).map_or(0, |(at, _)| at)
}

impl SourceCode for Excerpt {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        lines_before: usize,
        lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let last = span.offset() + span.len().saturating_sub(1);
        let covers = |line: &Line| line.whole.start <= last && span.offset() <= line.whole.end;
        let mut covered = self.lines.iter().filter(|line| covers(line));
        let first = covered.next().ok_or(MietteError::OutOfBounds)?;
        let end = covered.next_back().unwrap_or(first);
        // Lines that do not follow on each other in the text are never shown as one piece.
        if end.number < first.number
            || end.number - first.number > self.lines.iter().filter(|line| covers(line)).count()
        {
            return Err(MietteError::OutOfBounds);
        }
        let range = first.whole.start..end.whole.end;
        let data = self.text.as_bytes().get(range.clone()).ok_or(MietteError::OutOfBounds)?;
        // Asked for without lines around, the place itself is wanted, for the line that names it.
        let column = match (lines_before, lines_after) {
            (0, 0) => {
                first.ahead + self.text.get(first.start..span.offset()).map_or(0, |text| text.chars().count())
            }
            _ => 0,
        };
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            data,
            SourceSpan::new(range.start.into(), range.len()),
            first.number,
            column,
            end.number - first.number + 1,
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::FileId;

    fn span(start: usize, end: usize) -> Span {
        Span::new(FileId(0), start, end)
    }

    #[test]
    fn far_lines_are_shown_apart_and_numbered_as_in_the_text() {
        let text = "a: 1\nb: 2\nc: 3\nd: 4\n";
        let excerpt = Excerpt::new(&Source::new("x", text), &[span(0, 1), span(15, 16)], 80);
        assert_eq!(excerpt.text, "a: 1\nd: 4\n");
        let contents = excerpt.read_span(&excerpt.place(span(15, 16)), 0, 0).expect("in range");
        assert_eq!((contents.line(), contents.line_count()), (3, 1));
    }

    #[test]
    fn a_mark_far_to_the_right_stays_in_sight() {
        let text = format!("{}target{}", "x".repeat(200), "y".repeat(200));
        let excerpt = Excerpt::new(&Source::new("x", text.as_str()), &[span(200, 206)], 60);
        let place = excerpt.place(span(200, 206));
        assert_eq!(&excerpt.text[place.offset()..place.offset() + place.len()], "target");
        assert!(excerpt.text.chars().count() <= 60);
    }
}

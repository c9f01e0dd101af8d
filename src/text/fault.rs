//! What is wrong with a text, and where.

use super::span::Span;
use std::cmp::Ordering;

/// The kinds of fault, as machine-read output names them.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum FaultKind {
    /// Bytes that are not text: not UTF-8, or characters that text must not hold.
    NotText,
    /// A file above the limit of bytes.
    TooLarge,
    /// Tables and lists nested above the limit.
    TooDeep,
    /// More nodes than the limit, those that aliases repeat counted each time.
    TooManyNodes,
    /// Not well-formed YAML, or a feature of YAML that is not read here.
    Syntax,
    /// A key given twice in one table.
    DuplicateKey,
    /// An alias without the anchor it names.
    UnknownAnchor,
    /// A merge key `<<`, which is not read.
    MergeKey,
    /// A key that means nothing here.
    UnknownKey,
    /// A list where text was due, and the like.
    WrongKind,
    /// A number without the unit it needs, or a pressure without its reference.
    MissingUnit,
    /// A unit that does not fit, or none that is known.
    WrongUnit,
    /// Not a number, or not one that can be kept.
    BadNumber,
    /// A number outside its possible range.
    OutOfRange,
    /// A name that refers to nothing.
    DanglingName,
    /// A word that is none of the words that may stand here.
    UnknownWord,
    /// Something required that is not given.
    Missing,
    /// A file that cannot be read.
    File,
    /// Something wrong in a map.
    Map,
    /// Things in an order that cannot be.
    Order,
    /// Anything else.
    Other,
}

impl FaultKind {
    /// The word for it in machine-read output.
    pub fn word(self) -> &'static str {
        match self {
            FaultKind::NotText => "not-text",
            FaultKind::TooLarge => "too-large",
            FaultKind::TooDeep => "too-deep",
            FaultKind::TooManyNodes => "too-many-nodes",
            FaultKind::Syntax => "syntax",
            FaultKind::DuplicateKey => "duplicate-key",
            FaultKind::UnknownAnchor => "unknown-anchor",
            FaultKind::MergeKey => "merge-key",
            FaultKind::UnknownKey => "unknown-key",
            FaultKind::WrongKind => "wrong-kind",
            FaultKind::MissingUnit => "missing-unit",
            FaultKind::WrongUnit => "wrong-unit",
            FaultKind::BadNumber => "bad-number",
            FaultKind::OutOfRange => "out-of-range",
            FaultKind::DanglingName => "dangling-name",
            FaultKind::UnknownWord => "unknown-word",
            FaultKind::Missing => "missing",
            FaultKind::File => "file",
            FaultKind::Map => "map",
            FaultKind::Order => "order",
            FaultKind::Other => "other",
        }
    }
}

/// One thing wrong, at its place. Faults sort by place, then by kind and message.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Fault {
    /// Its kind.
    pub kind: FaultKind,
    /// The main place.
    pub span: Span,
    /// One short sentence without a full stop.
    pub message: String,
    /// What to do about it, if something can be said.
    pub help: Option<String>,
    /// Further places, each with what it has to do with it.
    pub also: Vec<(Span, String)>,
}

impl Fault {
    /// A fault with nothing but its message.
    pub fn new(kind: FaultKind, span: Span, message: impl Into<String>) -> Fault {
        Fault { kind, span, message: message.into(), help: None, also: Vec::new() }
    }

    /// The same with a help.
    #[must_use]
    pub fn with_help(mut self, help: impl Into<String>) -> Fault {
        self.help = Some(help.into());
        self
    }

    /// The same with a further place.
    #[must_use]
    pub fn with_also(mut self, span: Span, says: impl Into<String>) -> Fault {
        self.also.push((span, says.into()));
        self
    }
}

impl Ord for Fault {
    fn cmp(&self, other: &Fault) -> Ordering {
        let place = |fault: &Fault| (fault.span.file, fault.span.start, fault.span.end, fault.kind);
        place(self)
            .cmp(&place(other))
            .then_with(|| self.message.cmp(&other.message))
            .then_with(|| self.help.cmp(&other.help))
            .then_with(|| self.also.cmp(&other.also))
    }
}

impl PartialOrd for Fault {
    fn partial_cmp(&self, other: &Fault) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Above this many characters a word is compared with nothing: the comparison costs the product of the lengths.
const LONGEST_WORD: usize = 64;

/// At most this many words are compared with: a stranger's text can hold very many.
const MOST_CANDIDATES: usize = 1000;

/// The word among `among` that was probably meant by `word`, if one is near enough: by optimal string alignment
/// distance, at most one slip in every three characters and never more than three; capitals and underscores for
/// hyphens do not count. Of equally near words it is the first. Only the first thousand are looked at.
pub fn nearest<'a>(word: &str, among: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let length = word.chars().take(LONGEST_WORD + 1).count();
    if length == 0 || length > LONGEST_WORD {
        return None;
    }
    let plain = even_out(word);
    let allowed = (length / 3).clamp(1, 3);
    let mut best: Option<(usize, &str)> = None;
    for candidate in among.into_iter().take(MOST_CANDIDATES) {
        let other_length = candidate.chars().take(length + allowed + 1).count();
        if other_length.abs_diff(length) > allowed {
            continue;
        }
        let distance = strsim::osa_distance(&plain, &even_out(candidate));
        // A word of one or two letters has nothing in common with another that differs in one of them.
        let near = distance <= allowed && distance < length.min(other_length).max(1);
        if near && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Lower case, with hyphens for underscores and spaces.
fn even_out(word: &str) -> String {
    word.to_lowercase().replace(['_', ' '], "-")
}

/// The most characters of a stranger's text that a message repeats.
const LONGEST_QUOTE: usize = 48;

/// A stranger's text as a message may repeat it: cut to a readable length, with control characters as escapes.
pub fn quoted(text: &str) -> String {
    let mut shown = String::from("`");
    for (count, character) in text.chars().enumerate() {
        if count == LONGEST_QUOTE {
            shown.push('…');
            break;
        }
        if character.is_control() {
            shown.extend(character.escape_default());
        } else {
            shown.push(character);
        }
    }
    shown.push('`');
    shown
}

#[cfg(test)]
mod tests;

//! The tokens of an expression, read one at a time, so that the first thing wrong from the left is what is told.

use std::ops::Range;

use super::Wrong;
use crate::text::FaultKind;
use crate::text::fault::quoted;

/// A token and the bytes it stands on.
#[derive(Clone, Debug)]
pub(super) struct Token<'a> {
    pub(super) is: Is<'a>,
    pub(super) span: Range<usize>,
}

/// What a token is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Is<'a> {
    /// A root, a field, a function, or a name without a dot.
    Name(&'a str),
    /// A number without a point and an exponent, as written: in tens, or in sixteens behind `0x`.
    Whole(&'a str),
    /// Any other number, as written.
    Decimal(&'a str),
    /// A word without its quotes.
    Word(&'a str),
    /// `true` or `false`.
    Truth(bool),
    /// An operator, a bracket, a dot or a comma.
    Mark(&'static str),
    /// Nothing more.
    End,
}

/// The marks there are, the longer before those they begin with. A part of them has no meaning in the rule language, and
/// the parser says so.
const MARKS: [&str; 24] = [
    "&&", "||", "<=", ">=", "==", "!=", "<", ">", "!", "+", "-", "*", "/", "%", "(", ")", "[", "]", "{", "}",
    ".", ",", "?", ":",
];

/// What stands between tokens without a meaning.
const BLANKS: [char; 5] = [' ', '\t', '\r', '\n', '\u{c}'];

/// Reads an expression's text token by token.
pub(super) struct Lexer<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Lexer<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Self { text, at: 0 }
    }

    /// The next token; after the last, always the end.
    pub(super) fn next(&mut self) -> Result<Token<'a>, Wrong> {
        self.at += run(self.rest(), |character| BLANKS.contains(&character));
        let (is, length) = self.read(self.rest())?;
        let span = self.at..self.at + length;
        self.at = span.end;
        Ok(Token { is, span })
    }

    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or_default()
    }

    /// The token that a text begins with and its length in bytes.
    fn read(&self, rest: &'a str) -> Result<(Is<'a>, usize), Wrong> {
        let Some(first) = rest.chars().next() else { return Ok((Is::End, 0)) };
        if rest.starts_with("//") {
            return Err(self.wrong(2, "an expression holds no comment"));
        }
        if first == '\\' {
            return Err(self.wrong(1, "an expression holds no backslash"));
        }
        if let Some(number) = self.number(rest)? {
            return Ok(number);
        }
        let name = if first.is_ascii_digit() { 0 } else { run(rest, in_name) };
        let (name, after) = rest.split_at_checked(name).unwrap_or((rest, ""));
        if after.starts_with(['\'', '"']) {
            match name {
                "" | "r" | "R" => return self.word(name.len(), after),
                "b" | "B" | "br" | "bR" | "Br" | "BR" => {
                    return Err(self.wrong(name.len() + 1, "words are written without a `b`"));
                }
                _ => {}
            }
        }
        let is = match name {
            "" => {
                let mark = MARKS.into_iter().find(|mark| rest.starts_with(mark));
                let mark = mark.ok_or_else(|| not_understood(self.at..self.at + first.len_utf8(), rest))?;
                return Ok((Is::Mark(mark), mark.len()));
            }
            "in" => Is::Mark("in"),
            "true" => Is::Truth(true),
            "false" => Is::Truth(false),
            "null" => return Err(self.wrong(name.len(), "`null` is not part of the rule language")),
            name => Is::Name(name),
        };
        Ok((is, name.len()))
    }

    /// The number that a text begins with, if it does.
    fn number(&self, rest: &'a str) -> Result<Option<(Is<'a>, usize)>, Wrong> {
        let digits = |at: usize| run(after(rest, at), |character| character.is_ascii_digit());
        let mut end = digits(0);
        let mut whole = true;
        let sixteens =
            rest.strip_prefix("0x").map_or(0, |hex| run(hex, |character| character.is_ascii_hexdigit()));
        if sixteens > 0 {
            end = 2 + sixteens;
        } else {
            if after(rest, end).starts_with('.') && digits(end + 1) > 0 {
                end += 1 + digits(end + 1);
                whole = false;
            }
            if end > 0 && after(rest, end).starts_with(['e', 'E']) {
                let figures = end + 1 + usize::from(after(rest, end + 1).starts_with(['+', '-']));
                if digits(figures) > 0 {
                    end = figures + digits(figures);
                    whole = false;
                }
            }
        }
        if end == 0 {
            return Ok(None);
        }
        if whole && after(rest, end).starts_with(['u', 'U']) {
            return Err(self.wrong(end + 1, "numbers are written without a `u`"));
        }
        let number = rest.get(..end).unwrap_or_default();
        Ok(Some((if whole { Is::Whole(number) } else { Is::Decimal(number) }, end)))
    }

    /// The word whose opening quote a text begins with, this many bytes behind the token's begin.
    fn word(&self, before: usize, quoted: &'a str) -> Result<(Is<'a>, usize), Wrong> {
        if quoted.starts_with("'''") || quoted.starts_with("\"\"\"") {
            return Err(self.wrong(before + 3, "a word stands in single quotes"));
        }
        let mark = if quoted.starts_with('\'') { '\'' } else { '"' };
        let inner = after(quoted, 1);
        let length = run(inner, |character| character != mark && !['\\', '\n', '\r'].contains(&character));
        let end = after(inner, length);
        if end.starts_with(mark) {
            return Ok((Is::Word(inner.get(..length).unwrap_or_default()), before + length + 2));
        }
        let quote = self.at + before;
        if end.starts_with('\\') {
            let at = quote + 1 + length;
            return Err(Wrong::new(FaultKind::Syntax, at..at + 1, "an expression holds no backslash"));
        }
        Err(Wrong::new(FaultKind::Syntax, quote..quote + 1, "the quote that opens here is not closed"))
    }

    /// Something wrong with the next so many bytes.
    fn wrong(&self, length: usize, message: &str) -> Wrong {
        Wrong::new(FaultKind::Syntax, self.at..self.at + length, message)
    }
}

/// What cannot stand where it stands; the text begins with it.
pub(super) fn not_understood(span: Range<usize>, text: &str) -> Wrong {
    let message = match text.get(..span.len()) {
        None | Some("") => "the expression ends too early".to_owned(),
        Some(token) => format!("{} is not understood here", quoted(token)),
    };
    syntax(span, message)
}

/// A slip of syntax, with an example of what is due.
pub(super) fn syntax(span: Range<usize>, message: impl Into<String>) -> Wrong {
    Wrong::new(FaultKind::Syntax, span, message).with_help(
        "expressions are written as `it.distance < limits.least * it.bore && it.purpose == 'tip-out'`",
    )
}

/// How many bytes of a text are of characters that fit, from its begin.
fn run(text: &str, fits: impl Fn(char) -> bool) -> usize {
    text.find(|character| !fits(character)).unwrap_or(text.len())
}

fn after(text: &str, at: usize) -> &str {
    text.get(at..).unwrap_or_default()
}

fn in_name(character: char) -> bool {
    character.is_ascii_alphanumeric() || character == '_'
}

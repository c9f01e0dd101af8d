//! Names of places in a tree: `parts.relief.discharge[0].share`.

use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

/// One step of a route.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Step {
    /// Into the entry of a table with this key, or the entry of a list whose `name` it is.
    Key(Arc<str>),
    /// Into the entry of a list, counted from 0.
    Index(usize),
}

/// The way from the root of a tree to a place in it. Cloning is cheap. Routes sort step by step.
///
/// As text the steps are joined by dots; an index stands in brackets; a key that is empty or holds a dot, blank,
/// bracket, quote, equals sign, backslash or control character stands in double quotes, with backslash escapes.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Route(Arc<[Step]>);

/// Why text is not a route.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct RouteFault {
    /// The byte of the text at which it goes wrong.
    pub at: usize,
    /// What is wrong.
    pub message: String,
}

impl Route {
    /// The most steps that text may name: as deep as a tree may be.
    pub const MOST_STEPS: usize = 64;

    /// The root of the tree.
    pub fn root() -> Route {
        Route(Arc::from([]))
    }

    /// One step further, into a table (or a list of named entries).
    #[must_use]
    pub fn key(&self, key: &str) -> Route {
        self.step(Step::Key(Arc::from(key)))
    }

    /// One step further, into a list.
    #[must_use]
    pub fn index(&self, index: usize) -> Route {
        self.step(Step::Index(index))
    }

    /// One step further.
    #[must_use]
    pub fn step(&self, step: Step) -> Route {
        self.0.iter().cloned().chain([step]).collect()
    }

    /// One step back; nothing at the root.
    pub fn parent(&self) -> Option<Route> {
        let (_, before) = self.0.split_last()?;
        Some(Route(Arc::from(before)))
    }

    /// The last step; nothing at the root.
    pub fn last(&self) -> Option<&Step> {
        self.0.last()
    }

    /// The last step's key, if it is one.
    pub fn last_key(&self) -> Option<&str> {
        match self.last()? {
            Step::Key(key) => Some(key),
            Step::Index(_) => None,
        }
    }

    /// The steps from the root.
    pub fn steps(&self) -> &[Step] {
        &self.0
    }

    /// Whether it names the root.
    pub fn is_root(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether the other route leads to the same place or to one on the way to it.
    pub fn starts_with(&self, other: &Route) -> bool {
        self.0.starts_with(&other.0)
    }

    /// This route and then the other.
    #[must_use]
    pub fn join(&self, other: &Route) -> Route {
        self.0.iter().chain(other.0.iter()).cloned().collect()
    }
}

impl FromIterator<Step> for Route {
    fn from_iter<I: IntoIterator<Item = Step>>(steps: I) -> Route {
        Route(steps.into_iter().collect())
    }
}

impl fmt::Display for Route {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, step) in self.0.iter().enumerate() {
            match step {
                Step::Index(index) => write!(f, "[{index}]")?,
                Step::Key(key) => {
                    if at > 0 {
                        f.write_str(".")?;
                    }
                    write_key(f, key)?;
                }
            }
        }
        Ok(())
    }
}

/// Whether a character of a key asks for quotes round it.
fn asks_for_quotes(character: char) -> bool {
    matches!(character, '.' | '[' | ']' | '"' | '\'' | '\\' | '=')
        || character.is_whitespace()
        || character.is_control()
}

fn write_key(f: &mut fmt::Formatter<'_>, key: &str) -> fmt::Result {
    if !key.is_empty() && !key.chars().any(asks_for_quotes) {
        return f.write_str(key);
    }
    f.write_str("\"")?;
    for character in key.chars() {
        match character {
            '"' | '\\' => write!(f, "\\{character}")?,
            '\n' => f.write_str("\\n")?,
            '\r' => f.write_str("\\r")?,
            '\t' => f.write_str("\\t")?,
            _ if character.is_control() => write!(f, "\\u{{{:x}}}", u32::from(character))?,
            _ => write!(f, "{character}")?,
        }
    }
    f.write_str("\"")
}

impl fmt::Display for RouteFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for RouteFault {}

impl FromStr for Route {
    type Err = RouteFault;

    fn from_str(text: &str) -> Result<Route, RouteFault> {
        let (route, rest) = Route::read_front(text)?;
        if rest < text.len() {
            return Err(fault_at(text, rest, "is not part of a route"));
        }
        Ok(route)
    }
}

impl Route {
    /// Reads the route that `text` begins with, up to its end or an equals sign outside quotes: the route, and the
    /// byte it ends at.
    pub(super) fn read_front(text: &str) -> Result<(Route, usize), RouteFault> {
        let mut reader = Reader { text, at: 0 };
        let mut steps = Vec::new();
        loop {
            match reader.peek() {
                None | Some('=') => break,
                Some('[') => steps.push(reader.index()?),
                Some('.') if !steps.is_empty() => {
                    reader.take();
                    steps.push(reader.key()?);
                }
                Some(_) if steps.is_empty() => steps.push(reader.key()?),
                Some(_) => return Err(fault_at(text, reader.at, "should be a dot or a bracket")),
            }
            if steps.len() > Route::MOST_STEPS {
                return Err(RouteFault {
                    at: reader.at,
                    message: format!("a route has at most {} steps", Route::MOST_STEPS),
                });
            }
        }
        Ok((steps.into_iter().collect(), reader.at))
    }
}

/// A fault about the character at a byte of the text.
fn fault_at(text: &str, at: usize, says: &str) -> RouteFault {
    let message = match text.get(at..).and_then(|rest| rest.chars().next()) {
        Some(character) => format!("`{}` {says}", character.escape_debug()),
        None => format!("the end {says}"),
    };
    RouteFault { at, message }
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
}

impl Reader<'_> {
    fn peek(&self) -> Option<char> {
        self.text.get(self.at..)?.chars().next()
    }

    fn take(&mut self) -> Option<char> {
        let character = self.peek()?;
        self.at += character.len_utf8();
        Some(character)
    }

    /// `[12]`
    fn index(&mut self) -> Result<Step, RouteFault> {
        self.take();
        let start = self.at;
        while self.peek().is_some_and(|character| character.is_ascii_digit()) {
            self.take();
        }
        let digits = self.text.get(start..self.at).unwrap_or_default();
        if self.peek() != Some(']') {
            return Err(fault_at(self.text, self.at, "stands where a number in brackets, as `[0]`, should"));
        }
        let index = digits.parse().map_err(|_| RouteFault {
            at: start,
            message: "the brackets of a list entry hold its number, as `[0]`".into(),
        })?;
        self.take();
        Ok(Step::Index(index))
    }

    /// `key` or `"a key"`
    fn key(&mut self) -> Result<Step, RouteFault> {
        if self.peek() == Some('"') {
            return self.quoted_key();
        }
        let start = self.at;
        while self.peek().is_some_and(|character| !asks_for_quotes(character)) {
            self.take();
        }
        let key = self.text.get(start..self.at).unwrap_or_default();
        if key.is_empty() {
            return Err(fault_at(self.text, self.at, "stands where a key should"));
        }
        Ok(Step::Key(Arc::from(key)))
    }

    fn quoted_key(&mut self) -> Result<Step, RouteFault> {
        let start = self.at;
        self.take();
        let mut key = String::new();
        loop {
            let at = self.at;
            match self.take() {
                None => {
                    return Err(RouteFault { at: start, message: "the quote is not closed".into() });
                }
                Some('"') => return Ok(Step::Key(Arc::from(key))),
                Some('\\') => match self.escape() {
                    Some(character) => key.push(character),
                    None => return Err(fault_at(self.text, at, "begins no escape known here")),
                },
                Some(character) => key.push(character),
            }
        }
    }

    fn escape(&mut self) -> Option<char> {
        match self.take()? {
            character @ ('"' | '\\') => Some(character),
            'n' => Some('\n'),
            'r' => Some('\r'),
            't' => Some('\t'),
            'u' => {
                let rest = self.text.get(self.at..)?.strip_prefix('{')?;
                let digits = rest.get(..rest.find('}')?)?;
                self.at += digits.len() + 2;
                char::from_u32(u32::from_str_radix(digits, 16).ok()?)
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests;

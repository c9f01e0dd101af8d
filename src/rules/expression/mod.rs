//! Expressions of the rule language: a subset of CEL (Common Expression Language, an open standard).
//!
//! What there is: `!`, `&&`, `||`; `<`, `<=`, `>`, `>=`, `==`, `!=`; `in ['a', 'b']`; `+`, `-`, `*`, `/`; `abs`, `min`,
//! `max`; numbers, words in quotes, `true` and `false`; and the names `it.…`, `build.…`, `limits.…` and `settings.…`.
//!
//! Each name has a kind: a number of a dimension, a condition, or a word. Numbers are compared, added and put beside
//! each other only if their dimensions are the same. A number as written is a pure number, but for `0`, which is
//! nought of any dimension. Words and conditions have no order.
//!
//! Evaluation never guesses. A comparison is decided only if everything that its sides may be lies on one side; an
//! unknown fact, a bound that straddles the limit and a division by nought leave it open.

mod comparison;
mod evaluate;
mod kinds;
mod lex;
mod operator;
mod order;
mod parse;
mod put_in;
mod range;
mod tree;

use std::collections::BTreeSet;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

pub use comparison::{Comparison, Side};
pub use evaluate::{Scene, Verdict};
pub use kinds::Names;
pub use put_in::put_in;
pub use tree::Relation;

use super::vocabulary::Whose;
use crate::known::{Datum, Kind, Known};
use crate::text::FaultKind;
use tree::{Name, Step, Term};

/// The most bytes of an expression's text.
pub const LONGEST: usize = 1024;

/// Something wrong in an expression, on these bytes of its text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wrong {
    /// Its kind.
    pub kind: FaultKind,
    /// The bytes of the expression's text.
    pub span: Range<usize>,
    /// One short sentence without a full stop.
    pub message: String,
    /// What to do about it, if something can be said.
    pub help: Option<String>,
}

impl Wrong {
    pub(super) fn new(kind: FaultKind, span: Range<usize>, message: impl Into<String>) -> Self {
        Self { kind, span, message: message.into(), help: None }
    }

    pub(super) fn with_help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The same, with its place counted in a text in which the expression begins at this byte.
    #[must_use]
    pub fn moved(mut self, by: usize) -> Self {
        self.span = self.span.start + by..self.span.end + by;
        self
    }
}

/// An expression that was read and whose kinds were checked.
#[derive(Clone, Debug)]
pub struct Expression {
    text: Arc<str>,
    root: Step,
    kind: Option<Kind>,
}

impl Expression {
    /// Reads an expression and checks its names and kinds, or says all that is wrong with it.
    pub fn read(text: &str, names: Names<'_>) -> Result<Self, Vec<Wrong>> {
        let root = parse::parse(text).map_err(|wrong| vec![wrong])?;
        let mut wrongs = Vec::new();
        let kind = match kinds::check(&root, names, &mut wrongs) {
            kinds::Found::Kind(kind) => Some(kind),
            kinds::Found::Zero => Some(Kind::Number(crate::text::Dim::ONE)),
            kinds::Found::Anything => None,
        };
        if wrongs.is_empty() { Ok(Self { text: text.into(), root, kind }) } else { Err(wrongs) }
    }

    /// The same, for what must be a condition.
    pub fn read_condition(text: &str, names: Names<'_>) -> Result<Self, Vec<Wrong>> {
        Self::read_due(text, names, "a condition is due here", |kind| kind == Kind::Bool)
    }

    /// The same, for what must be a word.
    pub fn read_word(text: &str, names: Names<'_>) -> Result<Self, Vec<Wrong>> {
        Self::read_due(text, names, "a word is due here", |kind| kind == Kind::Word)
    }

    /// The same, for what must be a number.
    pub fn read_number(text: &str, names: Names<'_>) -> Result<Self, Vec<Wrong>> {
        Self::read_due(text, names, "a number is due here", |kind| matches!(kind, Kind::Number(_)))
    }

    fn read_due(
        text: &str,
        names: Names<'_>,
        due: &str,
        fits: impl Fn(Kind) -> bool,
    ) -> Result<Self, Vec<Wrong>> {
        let read = Self::read(text, names)?;
        match read.kind {
            Some(kind) if !fits(kind) => {
                let message = format!("{due}, and this is {kind}");
                Err(vec![Wrong::new(FaultKind::WrongKind, 0..text.len(), message)])
            }
            _ => Ok(read),
        }
    }

    /// Its text as written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Its kind; nothing if that is known only when a text is made, as of `by` in a cure.
    pub fn kind(&self) -> Option<Kind> {
        self.kind
    }

    /// The facts it names, in order.
    pub fn facts(&self) -> BTreeSet<(Whose, Arc<str>)> {
        let mut facts = BTreeSet::new();
        self.each_name(&mut |name| {
            if let Name::Fact(whose, fact) = name {
                facts.insert((*whose, Arc::clone(fact)));
            }
        });
        facts
    }

    /// The limits it names, as the file writes them or with underscores for hyphens.
    pub fn names_limit(&self, limit: &str) -> bool {
        let mut named = false;
        self.each_name(&mut |name| {
            named |= matches!(name, Name::Limit(own) if kinds::is_underscored(limit, own));
        });
        named
    }

    /// The fact it is, if it is nothing else.
    pub fn as_fact(&self) -> Option<(Whose, &str)> {
        match &self.root.term {
            Term::Name(Name::Fact(whose, fact)) => Some((*whose, fact)),
            _ => None,
        }
    }

    /// Whether the condition holds.
    pub fn decide(&self, scene: &Scene<'_>) -> Verdict {
        evaluate::decide(&self.root, scene)
    }

    /// Its value, whatever its kind.
    pub fn value(&self, scene: &Scene<'_>) -> Known<Datum> {
        evaluate::value(&self.root, scene)
    }

    fn each_name(&self, look: &mut dyn FnMut(&Name)) {
        fn walk(step: &Step, look: &mut dyn FnMut(&Name)) {
            if let Term::Name(name) = &step.term {
                look(name);
            }
            for part in step.parts() {
                walk(part, look);
            }
        }
        walk(&self.root, look);
    }
}

/// The expression with even blanks.
impl fmt::Display for Expression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.root)
    }
}

#[cfg(test)]
mod oracle;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod tree_oracle;

//! The lowered form of an expression: only what the rule language has.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use crate::rules::vocabulary::Whose;

/// A piece of an expression and the bytes of the expression's text that it stands on.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Step {
    pub(super) term: Term,
    pub(super) span: Range<usize>,
}

/// The pieces there are.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Term {
    Number(f64),
    Word(Arc<str>),
    Bool(bool),
    Name(Name),
    Not(Box<Step>),
    All(Vec<Step>),
    Any(Vec<Step>),
    Compare(Relation, Box<Step>, Box<Step>),
    OneOf(Box<Step>, Vec<Arc<str>>),
    Negative(Box<Step>),
    Sum(Sign, Box<Step>, Box<Step>),
    Product(Power, Box<Step>, Box<Step>),
    Abs(Box<Step>),
    Extreme(End, Vec<Step>),
}

/// What a name stands for.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Name {
    Fact(Whose, Arc<str>),
    Limit(Arc<str>),
    Setting(Arc<str>),
    /// A name without a dot, known only where a text is given one.
    Bare(Arc<str>),
}

/// How the two sides of a comparison stand to each other when it holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Relation {
    /// `<`
    Less,
    /// `<=`
    AtMost,
    /// `>`
    More,
    /// `>=`
    AtLeast,
    /// `==`
    Is,
    /// `!=`
    IsNot,
    /// `in [ … ]`
    OneOf,
}

impl Relation {
    /// Its sign in an expression.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Less => "<",
            Self::AtMost => "<=",
            Self::More => ">",
            Self::AtLeast => ">=",
            Self::Is => "==",
            Self::IsNot => "!=",
            Self::OneOf => "in",
        }
    }

    /// Whether it orders its sides, which only numbers have an order for.
    pub fn orders(self) -> bool {
        matches!(self, Self::Less | Self::AtMost | Self::More | Self::AtLeast)
    }
}

/// Plus or minus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sign {
    Plus,
    Minus,
}

/// Times or divided by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Power {
    Times,
    Over,
}

/// The least or the greatest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    Least,
    Greatest,
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Fact(whose, name) => write!(f, "{}.{name}", whose.word()),
            Self::Limit(name) => write!(f, "limits.{name}"),
            Self::Setting(name) => write!(f, "settings.{name}"),
            Self::Bare(name) => f.write_str(name),
        }
    }
}

/// How tightly a piece holds together, loosest first; a piece inside a tighter one gets brackets.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Hold {
    Any,
    All,
    Compare,
    Sum,
    Product,
    Prefix,
    Whole,
}

impl Hold {
    /// The next that is tighter.
    pub(super) fn tighter(self) -> Self {
        match self {
            Self::Any => Self::All,
            Self::All => Self::Compare,
            Self::Compare => Self::Sum,
            Self::Sum => Self::Product,
            Self::Product => Self::Prefix,
            Self::Prefix | Self::Whole => Self::Whole,
        }
    }
}

impl Step {
    /// The pieces directly inside this one.
    pub(super) fn parts(&self) -> Vec<&Step> {
        match &self.term {
            Term::Number(_) | Term::Word(_) | Term::Bool(_) | Term::Name(_) => Vec::new(),
            Term::Not(one) | Term::OneOf(one, _) | Term::Negative(one) | Term::Abs(one) => {
                vec![one]
            }
            Term::Compare(_, left, right) | Term::Sum(_, left, right) | Term::Product(_, left, right) => {
                vec![left, right]
            }
            Term::All(parts) | Term::Any(parts) | Term::Extreme(_, parts) => parts.iter().collect(),
        }
    }

    /// Whether it is the number zero as written, which has every dimension.
    pub(super) fn is_zero(&self) -> bool {
        matches!(self.term, Term::Number(number) if number == 0.0)
    }

    fn hold(&self) -> Hold {
        match &self.term {
            Term::Any(_) => Hold::Any,
            Term::All(_) => Hold::All,
            Term::Compare(..) | Term::OneOf(..) => Hold::Compare,
            Term::Sum(..) => Hold::Sum,
            Term::Product(..) => Hold::Product,
            Term::Not(_) | Term::Negative(_) => Hold::Prefix,
            Term::Number(_)
            | Term::Word(_)
            | Term::Bool(_)
            | Term::Name(_)
            | Term::Abs(_)
            | Term::Extreme(..) => Hold::Whole,
        }
    }

    fn write(&self, f: &mut fmt::Formatter<'_>, within: Hold) -> fmt::Result {
        if self.hold() < within { write!(f, "({self})") } else { write!(f, "{self}") }
    }
}

fn write_list(f: &mut fmt::Formatter<'_>, parts: &[Step], between: &str, within: Hold) -> fmt::Result {
    for (at, part) in parts.iter().enumerate() {
        if at > 0 {
            f.write_str(between)?;
        }
        part.write(f, within)?;
    }
    Ok(())
}

/// The expression as text, with even blanks and no brackets that are not needed.
impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.term {
            Term::Number(number) => write!(f, "{number}"),
            Term::Word(word) => write!(f, "'{word}'"),
            Term::Bool(truth) => write!(f, "{truth}"),
            Term::Name(name) => write!(f, "{name}"),
            Term::Not(inner) => {
                f.write_str("!")?;
                inner.write(f, Hold::Whole)
            }
            Term::Negative(inner) => {
                f.write_str("-")?;
                inner.write(f, Hold::Whole)
            }
            Term::All(parts) => write_list(f, parts, " && ", Hold::Compare),
            Term::Any(parts) => write_list(f, parts, " || ", Hold::All),
            Term::Compare(relation, left, right) => {
                left.write(f, Hold::Sum)?;
                write!(f, " {} ", relation.sign())?;
                right.write(f, Hold::Sum)
            }
            Term::OneOf(left, words) => {
                left.write(f, Hold::Sum)?;
                write!(f, " in {}", words_as_text(words))
            }
            Term::Sum(sign, left, right) => {
                left.write(f, Hold::Sum)?;
                f.write_str(if *sign == Sign::Plus { " + " } else { " - " })?;
                right.write(f, Hold::Product)
            }
            Term::Product(power, left, right) => {
                left.write(f, Hold::Product)?;
                f.write_str(if *power == Power::Times { " * " } else { " / " })?;
                right.write(f, Hold::Prefix)
            }
            Term::Abs(inner) => write!(f, "abs({inner})"),
            Term::Extreme(end, parts) => {
                f.write_str(if *end == End::Least { "min(" } else { "max(" })?;
                write_list(f, parts, ", ", Hold::Any)?;
                f.write_str(")")
            }
        }
    }
}

/// A list of words as an expression writes it.
pub(super) fn words_as_text(words: &[Arc<str>]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("'{word}'")).collect();
    format!("[{}]", quoted.join(", "))
}

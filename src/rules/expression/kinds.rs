//! Kinds and dimensions, checked when a rule is loaded: what is misspelt, and what cannot be compared, is refused
//! before any build is looked at.

use super::Wrong;
use super::tree::{Name, Power, Relation, Step, Term};
use crate::known::Kind;
use crate::rules::vocabulary::{Vocabulary, Whose};
use crate::text::{Dim, FaultKind, nearest};
use crate::tract::SubjectKind;

/// What may be named in an expression, and of what kind it is.
#[derive(Clone, Copy)]
pub struct Names<'a> {
    /// Facts, settings and links.
    pub vocabulary: &'a dyn Vocabulary,
    /// What `it` is.
    pub for_each: SubjectKind,
    /// The rule's limits, by their names as the file writes them, with their dimension where it is known.
    pub limits: &'a [(&'a str, Option<Dim>)],
    /// Names without a dot, with their dimension where it is known.
    pub bare: &'a [(&'a str, Option<Dim>)],
}

/// What is known of a piece's kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Found {
    /// This kind.
    Kind(Kind),
    /// The number zero as written: it is nought of any dimension.
    Zero,
    /// Nothing: a fault was reported already, or it will be known only when the text is made.
    Anything,
}

impl Found {
    fn number(dim: Dim) -> Self {
        Self::Kind(Kind::Number(dim))
    }

    const CONDITION: Self = Self::Kind(Kind::Bool);
}

/// Finds the kind of a piece, and everything wrong inside it.
pub(super) fn check(step: &Step, names: Names<'_>, wrongs: &mut Vec<Wrong>) -> Found {
    match &step.term {
        Term::Number(_) if step.is_zero() => Found::Zero,
        Term::Number(_) => Found::number(Dim::ONE),
        Term::Word(_) => Found::Kind(Kind::Word),
        Term::Bool(_) => Found::CONDITION,
        Term::Name(name) => named(step, name, names, wrongs),
        Term::Not(inner) => {
            condition(inner, names, wrongs);
            Found::CONDITION
        }
        Term::All(parts) | Term::Any(parts) => {
            for part in parts {
                condition(part, names, wrongs);
            }
            Found::CONDITION
        }
        Term::Compare(relation, left, right) => {
            comparison(step, *relation, [left, right], names, wrongs);
            Found::CONDITION
        }
        Term::OneOf(left, _) => {
            let found = check(left, names, wrongs);
            if !matches!(found, Found::Anything | Found::Kind(Kind::Word)) {
                wrongs.push(wrong_kind(left, found, "a word is due before `in`"));
            }
            Found::CONDITION
        }
        Term::Negative(inner) | Term::Abs(inner) => number(inner, names, wrongs),
        Term::Sum(_, left, right) => {
            let found = [number(left, names, wrongs), number(right, names, wrongs)];
            same_dimension(step, found, "added to or taken from", wrongs)
        }
        Term::Product(power, left, right) => {
            let found = [number(left, names, wrongs), number(right, names, wrongs)];
            product(step, *power, found, wrongs)
        }
        Term::Extreme(_, parts) => {
            let mut all = Found::Zero;
            for part in parts {
                let found = number(part, names, wrongs);
                all = same_dimension(step, [all, found], "put beside", wrongs);
            }
            all
        }
    }
}

/// A piece that must be a condition.
pub(super) fn condition(step: &Step, names: Names<'_>, wrongs: &mut Vec<Wrong>) {
    let found = check(step, names, wrongs);
    if !matches!(found, Found::Anything | Found::Kind(Kind::Bool)) {
        wrongs.push(wrong_kind(step, found, "a condition is due here"));
    }
}

/// A piece that must be a number.
fn number(step: &Step, names: Names<'_>, wrongs: &mut Vec<Wrong>) -> Found {
    let found = check(step, names, wrongs);
    match found {
        Found::Kind(Kind::Bool | Kind::Word) => {
            wrongs.push(wrong_kind(step, found, "a number is due here"));
            Found::Anything
        }
        number => number,
    }
}

fn wrong_kind(step: &Step, found: Found, due: &str) -> Wrong {
    let is = match found {
        Found::Kind(kind) => kind.to_string(),
        Found::Zero | Found::Anything => "a number".to_owned(),
    };
    Wrong::new(FaultKind::WrongKind, step.span.clone(), format!("{due}, and `{step}` is {is}"))
}

fn comparison(
    step: &Step,
    relation: Relation,
    [left, right]: [&Step; 2],
    names: Names<'_>,
    wrongs: &mut Vec<Wrong>,
) {
    let found = [check(left, names, wrongs), check(right, names, wrongs)];
    match found {
        [Found::Anything, _] | [_, Found::Anything] => {}
        [Found::Kind(Kind::Bool), Found::Kind(Kind::Bool)]
        | [Found::Kind(Kind::Word), Found::Kind(Kind::Word)] => {
            if relation.orders() {
                let message = format!(
                    "`{}` orders numbers only; words and conditions take `==` or `!=`",
                    relation.sign()
                );
                wrongs.push(Wrong::new(FaultKind::WrongKind, step.span.clone(), message));
            }
        }
        [Found::Kind(one), Found::Kind(two)] if !is_number(one) || !is_number(two) => {
            let message = format!("`{left}` is {one} and `{right}` is {two}: they cannot be compared");
            wrongs.push(Wrong::new(FaultKind::WrongKind, step.span.clone(), message));
        }
        [Found::Kind(kind), Found::Zero] | [Found::Zero, Found::Kind(kind)] if !is_number(kind) => {
            let message = format!("{kind} cannot be compared with 0");
            wrongs.push(Wrong::new(FaultKind::WrongKind, step.span.clone(), message));
        }
        numbers => {
            same_dimension(step, numbers, "compared with", wrongs);
        }
    }
}

fn is_number(kind: Kind) -> bool {
    matches!(kind, Kind::Number(_))
}

/// Two numbers that must have one dimension: that one.
fn same_dimension(step: &Step, found: [Found; 2], done: &str, wrongs: &mut Vec<Wrong>) -> Found {
    match found {
        [Found::Anything, other] | [other, Found::Anything] if other == Found::Zero => Found::Anything,
        [Found::Anything, other] | [other, Found::Anything] => other,
        [Found::Zero, other] | [other, Found::Zero] => other,
        [Found::Kind(one), Found::Kind(two)] if one == two => Found::Kind(one),
        [Found::Kind(one), Found::Kind(two)] => {
            let message = format!("{one} cannot be {done} {two}");
            wrongs.push(Wrong::new(FaultKind::WrongUnit, step.span.clone(), message));
            Found::Anything
        }
    }
}

fn product(step: &Step, power: Power, found: [Found; 2], wrongs: &mut Vec<Wrong>) -> Found {
    let dims = found.map(|found| match found {
        Found::Kind(Kind::Number(dim)) => Some(dim),
        Found::Zero => Some(Dim::ONE),
        Found::Kind(Kind::Bool | Kind::Word) | Found::Anything => None,
    });
    let [Some(left), Some(right)] = dims else {
        return Found::Anything;
    };
    if power == Power::Times && found.contains(&Found::Zero) {
        return Found::Zero;
    }
    let dim = match power {
        Power::Times => left.checked_mul(right),
        Power::Over => left.checked_div(right),
    };
    match dim {
        Some(dim) => Found::number(dim),
        None => {
            let message = "the powers of the dimension grow past what can be kept";
            wrongs.push(Wrong::new(FaultKind::WrongUnit, step.span.clone(), message));
            Found::Anything
        }
    }
}

/// The kind of a name, or a fault with the nearest name there is.
fn named(step: &Step, name: &Name, names: Names<'_>, wrongs: &mut Vec<Wrong>) -> Found {
    let vocabulary = names.vocabulary;
    let (found, what, prefix, among): (_, _, _, Vec<String>) = match name {
        Name::Fact(whose, fact) => {
            let on = whose.kind(names.for_each);
            if let Some(kind) = vocabulary.fact(on, fact) {
                return Found::Kind(kind);
            }
            let what = format!("a {} has no fact `{fact}`", on.word());
            (&**fact, what, whose.word(), owned(&vocabulary.facts(on)))
        }
        Name::Limit(limit) => {
            let known = names.limits.iter().find(|(name, _)| is_underscored(name, limit));
            if let Some((_, dim)) = known {
                return dim.map_or(Found::Anything, Found::number);
            }
            let among = names.limits.iter().map(|(name, _)| name.replace('-', "_")).collect();
            (&**limit, format!("the rule has no limit `{limit}`"), "limits", among)
        }
        Name::Setting(setting) => {
            if let Some(kind) = vocabulary.setting(setting) {
                return Found::Kind(kind);
            }
            let what = format!("there is no setting `{setting}`");
            (&**setting, what, "settings", owned(&vocabulary.settings()))
        }
        Name::Bare(bare) => {
            let known = names.bare.iter().find(|(name, _)| *name == &**bare);
            if let Some((_, dim)) = known {
                return dim.map_or(Found::Anything, Found::number);
            }
            wrongs.push(unknown_bare(step, bare, names));
            return Found::Anything;
        }
    };
    let mut wrong = Wrong::new(FaultKind::DanglingName, step.span.clone(), what);
    if let Some(near) = nearest(found, among.iter().map(String::as_str)) {
        wrong = wrong.with_help(format!("did you mean `{prefix}.{near}`?"));
    } else if let Name::Fact(Whose::It, fact) = name
        && vocabulary.fact(SubjectKind::Build, fact).is_some()
    {
        wrong = wrong.with_help(format!("it is a fact of the build: `build.{fact}`"));
    }
    wrongs.push(wrong);
    Found::Anything
}

fn unknown_bare(step: &Step, bare: &str, names: Names<'_>) -> Wrong {
    let message = format!("`{bare}` is not a name that is known here");
    let help = match nearest(bare, names.bare.iter().map(|(name, _)| *name)) {
        Some(near) => format!("did you mean `{near}`?"),
        None => {
            "a name is written as `it.host_bore`, with underscores; a word stands in quotes, as `'tip-out'`"
                .to_owned()
        }
    };
    Wrong::new(FaultKind::DanglingName, step.span.clone(), message).with_help(help)
}

/// Whether an expression's name is that of a file, hyphens for underscores.
pub(super) fn is_underscored(in_file: &str, in_expression: &str) -> bool {
    in_file.len() == in_expression.len()
        && in_file.bytes().zip(in_expression.bytes()).all(|(a, b)| a == b || (a == b'-' && b == b'_'))
}

fn owned(names: &[&'static str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

//! What an expression comes to, over values that may be unknown.

use std::cell::RefCell;
use std::sync::Arc;

use super::comparison::{Comparison, Side};
use super::order::ordered;
use super::range::{Gap, Range, both};
use super::tree::{End, Name, Power, Relation, Sign, Step, Term, words_as_text};
use crate::known::{Datum, Known, Missing, Num, Truth};
use crate::rules::judgement::LimitUsed;
use crate::rules::limit::Limit;
use crate::rules::vocabulary::Values;

/// Whether a condition holds, and how firmly.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// Whether it holds.
    pub truth: Truth,
    /// Whether that would turn within the solver's own error.
    pub at_limit: bool,
}

impl Verdict {
    pub(super) fn firm(truth: Truth) -> Self {
        Self { truth, at_limit: false }
    }

    fn not(self) -> Self {
        Self { truth: self.truth.not(), at_limit: self.at_limit }
    }
}

impl From<Gap> for Truth {
    fn from(gap: Gap) -> Self {
        match gap {
            Gap::Open(missing) => Self::Open(missing),
            Gap::NotApplicable(reason) => Self::NotApplicable(reason),
        }
    }
}

/// What an expression is evaluated over, and what is noted on the way.
pub struct Scene<'a> {
    values: &'a dyn Values,
    limits: &'a [Limit],
    bare: &'a [(&'a str, Num)],
    comparisons: RefCell<Vec<Comparison>>,
    used: RefCell<Vec<LimitUsed>>,
}

impl<'a> Scene<'a> {
    /// The facts and settings of one subject, and one rule's limits.
    pub fn new(values: &'a dyn Values, limits: &'a [Limit]) -> Self {
        Self::with_bare(values, limits, &[])
    }

    /// The same, with names that have no dot.
    pub fn with_bare(values: &'a dyn Values, limits: &'a [Limit], bare: &'a [(&'a str, Num)]) -> Self {
        Self { values, limits, bare, comparisons: RefCell::default(), used: RefCell::default() }
    }

    /// The comparisons made since this was asked last.
    pub fn take_comparisons(&self) -> Vec<Comparison> {
        self.comparisons.take()
    }

    /// The limits read so far.
    pub fn take_limits(&self) -> Vec<LimitUsed> {
        self.used.take()
    }

    pub(in crate::rules) fn values(&self) -> &'a dyn Values {
        self.values
    }

    fn named(&self, name: &Name) -> Known<Datum> {
        match name {
            Name::Fact(whose, fact) => self.values.fact(*whose, fact),
            Name::Setting(setting) => self.values.setting(setting),
            Name::Limit(limit) => self.limit(limit).map(Datum::Number),
            Name::Bare(bare) => match self.bare.iter().find(|(name, _)| *name == &**bare) {
                Some((_, num)) => Known::Is(Datum::Number(num.clone())),
                None => Known::Open(Missing::hindrance(format!("`{bare}` has no value here"))),
            },
        }
    }

    fn limit(&self, name: &str) -> Known<Num> {
        let Some(limit) = self.limits.iter().find(|limit| limit.is_called(name)) else {
            return Known::Open(Missing::hindrance(format!("there is no limit `{name}`")));
        };
        let noted =
            self.used.borrow().iter().find(|used| used.name == limit.name).map(|used| used.value.clone());
        noted.unwrap_or_else(|| {
            let used = limit.used(self);
            let value = used.value.clone();
            self.used.borrow_mut().push(used);
            value
        })
    }

    fn note(&self, comparison: Comparison) {
        self.comparisons.borrow_mut().push(comparison);
    }
}

/// What a piece comes to.
enum Worth {
    Number(Range),
    Word(Arc<str>),
    Condition(Verdict),
    Gap(Gap),
}

impl Worth {
    fn number(result: Result<Range, Gap>) -> Self {
        result.map_or_else(Self::Gap, Self::Number)
    }

    fn shown(&self) -> Known<Datum> {
        match self {
            Self::Number(range) => range.clone().into_known().map(Datum::Number),
            Self::Word(word) => Known::Is(Datum::Word(Arc::clone(word))),
            Self::Condition(verdict) => match &verdict.truth {
                Truth::Yes => Known::Is(Datum::Bool(true)),
                Truth::No => Known::Is(Datum::Bool(false)),
                Truth::Open(missing) => Known::Open(missing.clone()),
                Truth::NotApplicable(reason) => Known::NotApplicable(reason.clone()),
            },
            Self::Gap(gap) => gap.clone().into_known(),
        }
    }
}

/// Whether a condition holds.
pub(super) fn decide(step: &Step, scene: &Scene<'_>) -> Verdict {
    condition(step, scene, true)
}

/// The value of an expression of any kind.
pub(super) fn value(step: &Step, scene: &Scene<'_>) -> Known<Datum> {
    worth(step, scene, true).shown()
}

fn condition(step: &Step, scene: &Scene<'_>, speaks_for: bool) -> Verdict {
    match worth(step, scene, speaks_for) {
        Worth::Condition(verdict) => verdict,
        Worth::Gap(gap) => Verdict::firm(gap.into()),
        Worth::Number(_) | Worth::Word(_) => {
            Verdict::firm(Gap::hindrance(format!("`{step}` is no condition")).into())
        }
    }
}

fn number(step: &Step, scene: &Scene<'_>) -> Result<Range, Gap> {
    match worth(step, scene, true) {
        Worth::Number(range) => range.checked(step),
        Worth::Gap(gap) => Err(gap),
        Worth::Word(_) | Worth::Condition(_) => Err(Gap::hindrance(format!("`{step}` is no number"))),
    }
}

fn worth(step: &Step, scene: &Scene<'_>, speaks_for: bool) -> Worth {
    match &step.term {
        Term::Number(number) => Worth::Number(Range::exact(Num::pure(*number))),
        Term::Word(word) => Worth::Word(Arc::clone(word)),
        Term::Bool(truth) => Worth::Condition(Verdict::firm((*truth).into())),
        Term::Name(name) => named(step, scene.named(name)),
        Term::Not(inner) => Worth::Condition(condition(inner, scene, !speaks_for).not()),
        Term::All(parts) => {
            let verdicts = parts.iter().map(|part| condition(part, scene, speaks_for));
            Worth::Condition(all(verdicts))
        }
        Term::Any(parts) => {
            let verdicts = parts.iter().map(|part| condition(part, scene, speaks_for).not());
            Worth::Condition(all(verdicts).not())
        }
        Term::Compare(relation, left, right) => {
            Worth::Condition(compare(*relation, left, right, scene, speaks_for))
        }
        Term::OneOf(left, words) => Worth::Condition(one_of(left, words, scene, speaks_for)),
        Term::Negative(inner) => Worth::number(number(inner, scene).map(Range::negative)),
        Term::Abs(inner) => Worth::number(number(inner, scene).map(Range::abs)),
        Term::Sum(sign, left, right) => Worth::number(pair(left, right, scene).and_then(|(left, right)| {
            let right = if *sign == Sign::Minus { right.negative() } else { right };
            left.plus(right).checked(step)
        })),
        Term::Product(power, left, right) => {
            Worth::number(pair(left, right, scene).and_then(|(left, right)| match power {
                Power::Times => left.times(right).checked(step),
                Power::Over => left.over(right, step),
            }))
        }
        Term::Extreme(end, parts) => Worth::number(extreme(*end, parts, scene)),
    }
}

fn pair(left: &Step, right: &Step, scene: &Scene<'_>) -> Result<(Range, Range), Gap> {
    both(number(left, scene), number(right, scene))
}

/// The value of a name.
fn named(step: &Step, value: Known<Datum>) -> Worth {
    match value {
        Known::Is(Datum::Number(num)) => Worth::number(Range::exact(num).checked(step)),
        Known::Is(Datum::Word(word)) => Worth::Word(word),
        Known::Is(Datum::Bool(truth)) => Worth::Condition(Verdict::firm(truth.into())),
        Known::Between(Datum::Number(low), Datum::Number(high)) => {
            Worth::number(Range::between(low, high).checked(step))
        }
        Known::Between(..) => Worth::Gap(Gap::hindrance(format!("`{step}` is not settled"))),
        Known::Open(missing) => Worth::Gap(Gap::Open(missing)),
        Known::NotApplicable(reason) => Worth::Gap(Gap::NotApplicable(reason)),
    }
}

/// All of them: once one is firmly no the rest is not asked, so that what is cheap and settles it can stand first.
fn all(verdicts: impl Iterator<Item = Verdict>) -> Verdict {
    let mut together = Verdict::firm(Truth::Yes);
    for verdict in verdicts {
        let at_limit = match (&together.truth, &verdict.truth) {
            // One firm no makes it firm.
            (Truth::No, Truth::No) => together.at_limit && verdict.at_limit,
            (Truth::No, _) => together.at_limit,
            (_, Truth::No) => verdict.at_limit,
            // One shaky yes makes it shaky.
            _ => together.at_limit || verdict.at_limit,
        };
        together = Verdict { truth: together.truth.and(verdict.truth), at_limit };
        if together == Verdict::firm(Truth::No) {
            break;
        }
    }
    let decided = matches!(together.truth, Truth::Yes | Truth::No);
    Verdict { at_limit: together.at_limit && decided, ..together }
}

/// The least or the greatest, passing over what does not apply unless nothing applies. Of an unknown one it is known
/// that it can only take the least further down and the greatest further up.
fn extreme(end: End, parts: &[Step], scene: &Scene<'_>) -> Result<Range, Gap> {
    let mut known: Option<Range> = None;
    let mut missing: Option<Missing> = None;
    let mut reason = None;
    for part in parts {
        match number(part, scene) {
            Ok(range) => {
                known = Some(match (known, end) {
                    (None, _) => range,
                    (Some(other), End::Least) => other.least(range),
                    (Some(other), End::Greatest) => other.greatest(range),
                });
            }
            Err(Gap::Open(more)) => missing = Some(missing.unwrap_or_default().join(more)),
            Err(Gap::NotApplicable(why)) => reason = reason.or(Some(why)),
        }
    }
    match (known, missing, reason) {
        (Some(range), None, _) => Ok(range),
        (Some(mut range), Some(missing), _) => {
            let (bound, unbounded) = match end {
                End::Least => (&mut range.low, f64::NEG_INFINITY),
                End::Greatest => (&mut range.high, f64::INFINITY),
            };
            *bound = Num::new(unbounded, bound.dim);
            range.missing = range.missing.join(missing);
            Ok(range)
        }
        (None, Some(missing), _) => Err(Gap::Open(missing)),
        (None, None, Some(reason)) => Err(Gap::NotApplicable(reason)),
        (None, None, None) => Err(Gap::hindrance("there is nothing to take an extreme of")),
    }
}

fn compare(relation: Relation, left: &Step, right: &Step, scene: &Scene<'_>, speaks_for: bool) -> Verdict {
    let sides = [worth(left, scene, speaks_for), worth(right, scene, speaks_for)];
    let shown = [&sides[0], &sides[1]].map(Worth::shown);
    let verdict = match sides {
        [Worth::Gap(a), Worth::Gap(b)] => Verdict::firm(a.join(b).into()),
        [Worth::Gap(gap), _] | [_, Worth::Gap(gap)] => Verdict::firm(gap.into()),
        [Worth::Number(a), Worth::Number(b)] => ordered(relation, [left, right], a, b),
        [Worth::Word(a), Worth::Word(b)] => same(relation, Verdict::firm((a == b).into())),
        [Worth::Condition(a), Worth::Condition(b)] => same(relation, alike(a, b)),
        _ => Verdict::firm(Gap::hindrance(format!("`{left}` and `{right}` are not of one kind")).into()),
    };
    let [left_value, right_value] = shown;
    scene.note(Comparison {
        left: Side { text: left.to_string().into(), value: left_value },
        relation,
        right: Side { text: right.to_string().into(), value: right_value },
        truth: verdict.truth.clone(),
        at_limit: verdict.at_limit,
        speaks_for,
    });
    verdict
}

fn one_of(left: &Step, words: &[Arc<str>], scene: &Scene<'_>, speaks_for: bool) -> Verdict {
    let value = worth(left, scene, speaks_for);
    let shown = value.shown();
    let truth: Truth = match value {
        Worth::Word(word) => words.contains(&word).into(),
        Worth::Gap(gap) => gap.into(),
        Worth::Number(_) | Worth::Condition(_) => Gap::hindrance(format!("`{left}` is no word")).into(),
    };
    scene.note(Comparison {
        left: Side { text: left.to_string().into(), value: shown },
        relation: Relation::OneOf,
        right: Side {
            text: words_as_text(words).into(),
            value: Known::not_applicable("a list has no value of its own"),
        },
        truth: truth.clone(),
        at_limit: false,
        speaks_for,
    });
    Verdict::firm(truth)
}

/// `==` as it is, `!=` turned round.
fn same(relation: Relation, equal: Verdict) -> Verdict {
    if relation == Relation::IsNot { equal.not() } else { equal }
}

/// Whether two conditions are both so or both not so.
fn alike(a: Verdict, b: Verdict) -> Verdict {
    let at_limit = a.at_limit || b.at_limit;
    let truth = match (a.truth, b.truth) {
        (Truth::Yes, other) | (other, Truth::Yes) => other,
        (Truth::No, other) | (other, Truth::No) => other.not(),
        (one, other) => one.and(other),
    };
    let decided = matches!(truth, Truth::Yes | Truth::No);
    Verdict { truth, at_limit: at_limit && decided }
}

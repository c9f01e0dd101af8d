//! What operators make of their sides.

use std::ops::Range;

use super::Wrong;
use super::lex::Is;
use super::tree::{Hold, Power, Relation, Sign, Step, Term};
use crate::text::FaultKind;

/// The most pieces that may stand inside one another.
const DEEPEST: usize = 32;

/// What stands between two sides; `in` has only one, and is none of them.
#[derive(Clone, Copy)]
pub(super) enum Operator {
    Any,
    All,
    Compare(Relation),
    Sum(Sign),
    Product(Power),
}

impl Operator {
    /// The operator that a token is.
    pub(super) fn of(is: Is<'_>) -> Option<Self> {
        let Is::Mark(mark) = is else { return None };
        Some(match mark {
            "||" => Self::Any,
            "&&" => Self::All,
            "<" => Self::Compare(Relation::Less),
            "<=" => Self::Compare(Relation::AtMost),
            ">" => Self::Compare(Relation::More),
            ">=" => Self::Compare(Relation::AtLeast),
            "==" => Self::Compare(Relation::Is),
            "!=" => Self::Compare(Relation::IsNot),
            "+" => Self::Sum(Sign::Plus),
            "-" => Self::Sum(Sign::Minus),
            "*" => Self::Product(Power::Times),
            "/" => Self::Product(Power::Over),
            _ => return None,
        })
    }

    /// How tightly it holds its sides together.
    pub(super) fn hold(self) -> Hold {
        match self {
            Self::Any => Hold::Any,
            Self::All => Hold::All,
            Self::Compare(_) => Hold::Compare,
            Self::Sum(_) => Hold::Sum,
            Self::Product(_) => Hold::Product,
        }
    }
}

/// A step and how many steps stand inside one another in it.
pub(super) struct Piece {
    pub(super) step: Step,
    pub(super) height: usize,
}

impl Piece {
    /// A step that holds no other.
    pub(super) fn leaf(term: Term, span: Range<usize>) -> Self {
        Self { step: Step { term, span }, height: 0 }
    }

    /// A step made of others, of which the deepest holds so many inside one another; the token it is known by is marked
    /// if that is too many.
    pub(super) fn of(
        term: Term,
        span: Range<usize>,
        inner: usize,
        token: Range<usize>,
    ) -> Result<Self, Wrong> {
        let height = inner + 1;
        if height > DEEPEST {
            let message = format!("an expression holds at most {DEEPEST} steps inside one another");
            return Err(Wrong::new(FaultKind::TooDeep, token, message));
        }
        Ok(Self { step: Step { term, span }, height })
    }

    /// Two sides and the operator between them.
    pub(super) fn joined(
        operator: Operator,
        left: Self,
        right: Self,
        token: Range<usize>,
    ) -> Result<Self, Wrong> {
        let span = left.step.span.start..right.step.span.end;
        let inner = left.height.max(right.height);
        let pair = |left: Self, right: Self| (Box::new(left.step), Box::new(right.step));
        let (term, inner) = match operator {
            Operator::Any => {
                let (parts, inner) = Self::chain(true, [left, right]);
                (Term::Any(parts), inner)
            }
            Operator::All => {
                let (parts, inner) = Self::chain(false, [left, right]);
                (Term::All(parts), inner)
            }
            Operator::Compare(relation) => {
                let (left, right) = pair(left, right);
                (Term::Compare(relation, left, right), inner)
            }
            Operator::Sum(sign) => {
                let (left, right) = pair(left, right);
                (Term::Sum(sign, left, right), inner)
            }
            Operator::Product(power) => {
                let (left, right) = pair(left, right);
                (Term::Product(power, left, right), inner)
            }
        };
        Self::of(term, span, inner, token)
    }

    /// The operands of a chain of `||` or of `&&` and the deepest of them: such a chain is one step, whatever brackets
    /// a part of it stands in.
    fn chain(any: bool, sides: [Self; 2]) -> (Vec<Step>, usize) {
        let mut all = Vec::new();
        let mut inner = 0;
        for Self { step: Step { term, span }, height } in sides {
            match (term, any) {
                (Term::Any(parts), true) | (Term::All(parts), false) => {
                    all.extend(parts);
                    inner = inner.max(height.saturating_sub(1));
                }
                (term, _) => {
                    all.push(Step { term, span });
                    inner = inner.max(height);
                }
            }
        }
        (all, inner)
    }
}

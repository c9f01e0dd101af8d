//! Limits: the named thresholds of a rule, each with its source.

use std::sync::Arc;

use super::expression::{Expression, Scene};
use super::judgement::LimitUsed;
use crate::known::{Datum, Known, Missing, Num};
use crate::text::Dim;

/// A limit.
#[derive(Clone, Debug)]
pub struct Limit {
    /// Its name as the rule file writes it.
    pub name: Arc<str>,
    /// Where its value comes from.
    pub source: Arc<str>,
    /// Its value.
    pub value: LimitValue,
}

/// The value of a limit as the rule file gives it.
#[derive(Clone, Debug)]
pub enum LimitValue {
    /// One for all.
    One(Written),
    /// By a word: of a key that is not listed the limit is not known.
    ByKey {
        /// What gives the key.
        by: Expression,
        /// The values, in the order written.
        values: Vec<(Arc<str>, Written)>,
    },
}

/// A quantity with the words it was written in.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// Its value.
    pub num: Num,
    /// As written: `6 diameters`.
    pub text: Arc<str>,
}

impl Limit {
    /// Its dimension; all values of a limit by key have the same.
    pub fn dim(&self) -> Dim {
        match &self.value {
            LimitValue::One(written) => written.num.dim,
            LimitValue::ByKey { values, .. } => {
                values.first().map_or(Dim::ONE, |(_, written)| written.num.dim)
            }
        }
    }

    /// The value as the rule file writes it; of a limit by key the one of that key.
    pub fn written(&self, key: Option<&str>) -> Option<&str> {
        match &self.value {
            LimitValue::One(written) => Some(&written.text),
            LimitValue::ByKey { values, .. } => {
                let of_key = values.iter().find(|(name, _)| Some(&**name) == key);
                of_key.map(|(_, written)| &*written.text)
            }
        }
    }

    /// Whether an expression means it by this name, underscores for hyphens.
    pub fn is_called(&self, in_expression: &str) -> bool {
        in_expression.replace('_', "-") == self.name.replace('_', "-")
    }

    /// Its value over a subject, with what the house or the build puts in its place.
    pub(super) fn used(&self, scene: &Scene<'_>) -> LimitUsed {
        let (own, key) = self.own(scene);
        let Some(changed) = scene.values().limit_override(&self.name) else {
            return LimitUsed {
                name: Arc::clone(&self.name),
                value: own,
                key,
                instead_of: None,
                changed: None,
            };
        };
        let value = if changed.num.dim == self.dim() {
            Known::Is(changed.num.clone())
        } else {
            let words = format!(
                "limit `{}` is {} here and was changed to a value in {}",
                self.name,
                crate::known::Kind::Number(self.dim()),
                changed.num.dim
            );
            Known::Open(Missing::hindrance(words))
        };
        LimitUsed { name: Arc::clone(&self.name), value, key, instead_of: Some(own), changed: Some(changed) }
    }

    /// The rule's own value, and the key that picked it.
    fn own(&self, scene: &Scene<'_>) -> (Known<Num>, Option<Arc<str>>) {
        let (by, values) = match &self.value {
            LimitValue::One(written) => return (Known::Is(written.num.clone()), None),
            LimitValue::ByKey { by, values } => (by, values),
        };
        let key = match by.value(scene) {
            Known::Is(Datum::Word(key)) => key,
            Known::Open(missing) => return (Known::Open(missing), None),
            Known::NotApplicable(reason) => return (Known::NotApplicable(reason), None),
            Known::Is(_) | Known::Between(..) => {
                let words = format!("`{by}` is not settled, which picks limit `{}`", self.name);
                return (Known::Open(Missing::hindrance(words)), None);
            }
        };
        let value = match values.iter().find(|(word, _)| *word == key) {
            Some((_, written)) => Known::Is(written.num.clone()),
            None => {
                let words = format!("limit `{}` has no value for `{key}`", self.name);
                Known::Open(Missing::hindrance(words))
            }
        };
        (value, Some(key))
    }
}

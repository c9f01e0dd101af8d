//! What may be changed to make a rule pass, as the rule names it; the search for it lives elsewhere.

use std::sync::Arc;

use super::expression::Expression;
use super::place::RouteExpr;
use super::template::Template;

/// A kind of change that may cure a finding.
#[derive(Clone, Debug)]
pub enum Cure {
    /// A number, over its usual range.
    Vary {
        /// Which field.
        route: RouteExpr,
        /// The words; `by` is the change and `to` the new value.
        says: Template,
        /// Whether it takes another part, so that the text alone must not be changed.
        another_part: bool,
    },
    /// One of several words.
    Set {
        /// Which field.
        route: RouteExpr,
        /// The words it may become.
        among: Among,
        /// The words.
        says: Template,
    },
    /// A table, cut at a value below some engine speed.
    Cap {
        /// Which table.
        route: RouteExpr,
        /// The engine speed below which its entries are cut.
        below: Expression,
        /// The words; `to` is the value it is cut at.
        says: Template,
    },
}

impl Cure {
    /// The field that is changed.
    pub fn route(&self) -> &RouteExpr {
        match self {
            Self::Vary { route, .. } | Self::Set { route, .. } | Self::Cap { route, .. } => route,
        }
    }

    /// The words of it.
    pub fn says(&self) -> &Template {
        match self {
            Self::Vary { says, .. } | Self::Set { says, .. } | Self::Cap { says, .. } => says,
        }
    }
}

/// What a field may be set to.
#[derive(Clone, Debug, PartialEq)]
pub enum Among {
    /// These words.
    Words(Vec<Arc<str>>),
    /// The names of the parts in a region of the tract.
    PartsInRegion(Arc<str>),
}

/// The name of the change in a cure's words: how much further the field goes.
pub(super) const BY: &str = "by";
/// The name of the new value in a cure's words.
pub(super) const TO: &str = "to";

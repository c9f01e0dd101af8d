//! Places of the description that a rule points at, written relative to its subject.

use std::sync::Arc;

use super::expression::Expression;
use super::template::Template;
use super::vocabulary::Whose;
use crate::known::Known;
use crate::text::{Dim, Node, Part, Route, read_any_quantity};

/// A place relative to a subject: `it.tap.at`, `build.boost`, or along a link, `it.signal-hose.from`.
#[derive(Clone, Debug, PartialEq)]
pub struct RouteExpr {
    /// Where it sets out from.
    pub from: Whose,
    /// The link it follows first, if any.
    pub link: Option<Arc<str>>,
    /// The way on from there.
    pub below: Route,
}

impl RouteExpr {
    /// The place itself. `it` is the subject's route; `follow` says where a link leads.
    pub fn resolve(
        &self,
        it: &Route,
        follow: impl FnOnce(Whose, &str) -> Known<Route>,
    ) -> Known<Route> {
        let start = match (&self.link, self.from) {
            (Some(link), from) => follow(from, link),
            (None, Whose::It) => Known::Is(it.clone()),
            (None, Whose::Build) => Known::Is(Route::root()),
        };
        start.map(|route| route.join(&self.below))
    }
}

/// Which part a place plays in a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The place that the finding is filed under.
    Main,
    /// A place that takes part.
    Also,
}

/// A place that a finding marks, with what it says there.
#[derive(Clone, Debug)]
pub struct Place {
    /// Where.
    pub at: RouteExpr,
    /// What of the entry is marked.
    pub part: Part,
    /// The fact whose worst engine speed picks the entry within the table at `at`.
    pub entry_for: Option<Expression>,
    /// The words there.
    pub says: Template,
    /// Main place or one that takes part.
    pub role: Role,
}

/// The key of the entry of a table by engine speed that lies nearest to a speed, in revolutions per second; of two as
/// near the slower. Nothing if the table has no key that is a speed.
pub fn entry_at(table: &Node, speed: f64) -> Option<Arc<str>> {
    let mut nearest: Option<(f64, Arc<str>)> = None;
    for entry in table.as_map()? {
        let Ok((key, Dim::FREQUENCY, _)) = read_any_quantity(&entry.key.text) else {
            continue;
        };
        let distance = (key - speed).abs();
        if nearest.as_ref().is_none_or(|(least, _)| distance < *least) {
            nearest = Some((distance, Arc::clone(&entry.key.text)));
        }
    }
    nearest.map(|(_, key)| key)
}

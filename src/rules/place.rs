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
    pub fn resolve(&self, it: &Route, follow: impl FnOnce(Whose, &str) -> Known<Route>) -> Known<Route> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{FileId, Limits, parse};

    fn table(text: &str) -> Arc<Node> {
        parse(FileId(0), text, &Limits::default()).root.expect("a test's own table")
    }

    #[test]
    fn the_nearest_entry_is_taken_and_of_two_the_slower() {
        let boost = table("{ 3000 rpm: 0.3 bar, 4000 rpm: 1 bar, 7000 rpm: 1 bar, note: none }");
        let at = |rpm: f64| entry_at(&boost, rpm / 60.0);
        assert_eq!(at(1000.0).as_deref(), Some("3000 rpm"));
        assert_eq!(at(3499.0).as_deref(), Some("3000 rpm"));
        assert_eq!(at(3500.0).as_deref(), Some("3000 rpm"));
        assert_eq!(at(3501.0).as_deref(), Some("4000 rpm"));
        assert_eq!(at(9000.0).as_deref(), Some("7000 rpm"));
        assert_eq!(entry_at(&table("{ a: b }"), 1.0), None);
        assert_eq!(entry_at(&table("text"), 1.0), None);
    }

    #[test]
    fn a_place_is_found_from_the_subject_the_build_or_along_a_link() {
        let it: Route = "parts.relief".parse().expect("a test's own route");
        let follow = |_: Whose, link: &str| match link {
            "host" => Known::Is("parts.cold-pipe".parse().expect("a test's own route")),
            _ => Known::not_applicable("it has none"),
        };
        let place = |from, link: Option<&str>, below: &str| {
            let below = below.parse().expect("a test's own route");
            RouteExpr { from, link: link.map(Arc::from), below }
                .resolve(&it, follow)
                .map(|route| route.to_string())
        };
        assert_eq!(place(Whose::It, None, "tap.at"), Known::Is("parts.relief.tap.at".to_owned()));
        assert_eq!(place(Whose::Build, None, "boost"), Known::Is("boost".to_owned()));
        assert_eq!(place(Whose::It, Some("host"), "bore"), Known::Is("parts.cold-pipe.bore".to_owned()));
        assert!(matches!(place(Whose::It, Some("hose"), "from"), Known::NotApplicable(_)));
    }
}

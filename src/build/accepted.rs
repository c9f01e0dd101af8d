//! Findings that a build accepts: each with a reason and a name, and perhaps a last day.

use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::changed::words_of;
use super::describe::{Described, Reading, described};
use super::scalars::{Date, Text};
use crate::known::{Field, State, Unrecorded};
use crate::text::{FaultKind, Node, Part, Route, Span, mark};

/// The key under which they stand.
pub const ACCEPTED: &str = "accepted";
/// More than these are no list of exceptions any more.
const MOST_ENTRIES: usize = 400;

described! {
    /// A finding that is known and put up with. It still counts as a finding, but does not make a check fail.
    pub struct AcceptedEntry ("an accepted finding") {
        /// The rule.
        rule = "rule": Text,
        /// The part, or hose or joint, whose finding it is, by name: anything that the rule finds on it is accepted.
        part = "part": Text,
        /// Or the route of the very place, as the finding names it: `parts.relief.tap`.
        place = "place": Text,
        /// Why it is put up with.
        because = "because": Text,
        /// Who accepts it.
        by = "by": Text,
        /// The last day on which it holds, as in 2027-03-31.
        until = "until": Date,
    }
}

/// What no entry may lack; nor may it be said to be none.
const DUE: [&str; 3] = ["rule", "because", "by"];

/// What an entry accepts findings on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Where {
    /// A part, hose or joint of this name.
    Part(Arc<str>),
    /// A route.
    Place(Route),
}

/// An accepted finding, wholly read.
#[derive(Clone, Debug)]
pub struct Accepted {
    /// The rule.
    pub rule: Arc<str>,
    /// On what.
    pub on: Where,
    /// Why.
    pub because: Arc<str>,
    /// Who accepts it.
    pub by: Arc<str>,
    /// The last day on which it holds.
    pub until: Option<Arc<str>>,
    /// Where it is written.
    pub route: Route,
    /// The places of the rule, of part or place, of the name, and of the day.
    pub spans: Spans,
}

/// The places of an entry's values.
#[derive(Clone, Copy, Debug)]
pub struct Spans {
    /// Of the rule.
    pub rule: Span,
    /// Of the part or place.
    pub on: Span,
    /// Of the name.
    pub by: Span,
    /// Of the last day; of the entry where none is given.
    pub until: Span,
}

impl Accepted {
    /// Whether another entry says the very same, wherever it stands.
    pub fn same(&self, other: &Self) -> bool {
        let all = |one: &Self| {
            (one.rule.clone(), one.on.clone(), one.because.clone(), one.by.clone(), one.until.clone())
        };
        all(self) == all(other)
    }
}

/// The entries of a build; one that is not wholly in order is told and left out, so that its finding counts.
pub fn read(root: &Arc<Node>, reading: &mut Reading<'_>) -> Vec<Accepted> {
    let at = Route::root().key(ACCEPTED);
    let Some(node) = root.get(ACCEPTED) else { return Vec::new() };
    let Some(list) = node.as_list() else {
        let message = format!("`{ACCEPTED}` is a list, but {} stands here", node.kind_word());
        let help = Some("write it as [ { rule: …, part: …, because: \"…\", by: \"…\" } ]".to_owned());
        reading.fault(FaultKind::WrongKind, node, message, help);
        return Vec::new();
    };
    if list.len() > MOST_ENTRIES {
        let message = format!("{} entries stand here, and at most {MOST_ENTRIES} are read", list.len());
        reading.fault(FaultKind::TooLarge, node, message, None);
        return Vec::new();
    }
    let entries = list.iter().enumerate();
    entries.filter_map(|(i, node)| entry(root, node, at.index(i), reading)).collect()
}

fn entry(root: &Arc<Node>, node: &Arc<Node>, route: Route, reading: &mut Reading<'_>) -> Option<Accepted> {
    let before = reading.faults.len();
    let entry = AcceptedEntry::read(node, &route, reading)?;
    let given = |field: &Field<Text>| !matches!(field.state(&Unrecorded), State::Absent);
    for (key, field) in DUE.into_iter().zip([&entry.rule, &entry.because, &entry.by]) {
        if !given(field) || (words_of(field).is_none() && reading.faults.len() == before) {
            let message = format!("an accepted finding lacks its `{key}`");
            let help = Some("rule, part or place, because and by are all due".to_owned());
            let place =
                if given(field) { mark(root, &route.key(key), Part::Value).span } else { node.place() };
            reading.fault_at(FaultKind::Missing, place, message, help);
        }
    }
    if given(&entry.part) == given(&entry.place) {
        let message = "an accepted finding has either a `part` or a `place`";
        reading.fault_at(FaultKind::Missing, node.place(), message, None);
    }
    let span = |key: &str| mark(root, &route.key(key), Part::Value).span;
    let on = match (words_of(&entry.part), words_of(&entry.place)) {
        (Some(part), None) => Where::Part(part),
        (None, Some(place)) => match place.parse() {
            Ok(place) => Where::Place(place),
            Err(wrong) => {
                reading.fault_at(FaultKind::Syntax, span("place"), format!("{wrong}"), None);
                return None;
            }
        },
        _ => return None,
    };
    let until = match entry.until.state(&Unrecorded) {
        State::Given(Date(day)) => Some(day.clone()),
        _ => None,
    };
    if reading.faults.len() > before {
        return None;
    }
    let on_key = if matches!(on, Where::Part(_)) { "part" } else { "place" };
    Some(Accepted {
        rule: words_of(&entry.rule)?,
        on,
        because: words_of(&entry.because)?,
        by: words_of(&entry.by)?,
        until,
        spans: Spans { rule: span("rule"), on: span(on_key), by: span("by"), until: span("until") },
        route,
    })
}

/// The schema of the list.
pub fn schema(generator: &mut SchemaGenerator) -> Schema {
    let mut entry = AcceptedEntry::json_schema(generator);
    entry.insert("required".to_owned(), serde_json::json!(DUE));
    if let Some(properties) = entry.get_mut("properties") {
        for key in DUE {
            if let Some(property) = properties.get_mut(key).and_then(|property| property.as_object_mut()) {
                property.insert("not".to_owned(), serde_json::json!({ "const": "none" }));
            }
        }
    }
    entry
        .insert("oneOf".to_owned(), serde_json::json!([{ "required": ["part"] }, { "required": ["place"] }]));
    json_schema!({
        "type": "array",
        "description": "Findings that are known and put up with, each with a reason and a name. They still count as findings, and do not make a check fail.",
        "items": entry.as_value(),
        "maxItems": MOST_ENTRIES,
    })
}

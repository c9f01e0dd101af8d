//! Settings and limits that a house or a build changes, each with its reason.

use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, described};
use super::scalars::{Flag, Text};
use crate::known::{Decider, Field, Num, Overridden, Overrides, SETTINGS, Setting, State, Unrecorded};
use crate::text::{Dim, FaultKind, Node, Route, Span, nearest, read_any_quantity};

described! {
    /// A changed setting or limit.
    pub struct Changed ("a changed value") {
        /// The value that is to hold.
        value = "value": Text,
        /// Why.
        because = "because": Text,
    }

    /// A setting or limit that the house changes.
    pub struct ChangedByHouse ("a changed value") {
        /// The value that is to hold.
        value = "value": Text,
        /// Why.
        because = "because": Text,
        /// Whether no build may change it again.
        lock = "lock": Flag,
    }
}

/// A changed value as a build or a house writes it.
pub trait Change: Described {
    /// Who writes it so.
    const BY: Decider;
    /// The value and the reason.
    fn value_and_reason(&self) -> (&Field<Text>, &Field<Text>);
    /// Whether no build may change it again.
    fn is_locked(&self) -> bool {
        false
    }
}

impl Change for Changed {
    const BY: Decider = Decider::Build;

    fn value_and_reason(&self) -> (&Field<Text>, &Field<Text>) {
        (&self.value, &self.because)
    }
}

impl Change for ChangedByHouse {
    const BY: Decider = Decider::House;

    fn value_and_reason(&self) -> (&Field<Text>, &Field<Text>) {
        (&self.value, &self.because)
    }

    fn is_locked(&self) -> bool {
        matches!(self.lock.state(&Unrecorded), State::Given(Flag(true)))
    }
}

/// A rule's limit that the build or the house changes.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangedLimit {
    /// The rule.
    pub rule: Arc<str>,
    /// The limit's name.
    pub limit: Arc<str>,
    /// The value in SI units.
    pub value: f64,
    /// Its dimension.
    pub dim: Dim,
    /// The value as written.
    pub written: Arc<str>,
    /// Why, in the author's words.
    pub because: Arc<str>,
    /// Who changes it.
    pub by: Decider,
    /// Whether no build may change it.
    pub locked: bool,
    /// Where it is written.
    pub route: Route,
    /// Its place.
    pub span: Span,
}

/// The text of a field that has to hold words, where it does.
pub fn words_of(field: &Field<Text>) -> Option<Arc<str>> {
    match field.state(&Unrecorded) {
        State::Given(Text(text)) if !text.trim().is_empty() => Some(text.clone()),
        _ => None,
    }
}

/// One entry of a table of changed values, read as far as it can be.
struct Entry {
    name: Arc<str>,
    key: Span,
    route: Route,
    written: Arc<str>,
    because: Arc<str>,
    value: f64,
    dim: Dim,
    locked: bool,
}

fn read_entries<C: Change>(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Vec<Entry> {
    let Some(map) = node.as_map() else {
        let message = format!("`{at}` is a table by name, but {} stands here", node.kind_word());
        reading.fault(FaultKind::WrongKind, node, message, None);
        return Vec::new();
    };
    let mut entries = Vec::new();
    for entry in map.iter() {
        let route = at.key(&entry.key.text);
        let Some(changed) = C::read(&entry.value, &route, reading) else { continue };
        let (value, because) = changed.value_and_reason();
        let (Some(written), Some(because)) = (words_of(value), words_of(because)) else {
            let help = Some("write { value: …, because: \"…\" }".to_owned());
            let message = format!("`{}` is changed without a value or without its reason", entry.key.text);
            reading.fault_at(FaultKind::Missing, entry.key.span, message, help);
            continue;
        };
        match read_any_quantity(&written) {
            Ok((value, dim, _)) => entries.push(Entry {
                name: entry.key.text.clone(),
                key: entry.key.span,
                route,
                written,
                because,
                value,
                dim,
                locked: changed.is_locked(),
            }),
            Err(fault) => {
                let value = entry.value.get("value").unwrap_or(&entry.value);
                reading.fault(fault.kind, value, fault.message, fault.help);
            }
        }
    }
    entries
}

/// The settings that a text changes under `settings`.
pub fn read_settings<C: Change>(root: &Node, at: &Route, reading: &mut Reading<'_>) -> Overrides {
    let mut settings = Overrides::new();
    let Some(node) = root.get("settings") else { return settings };
    for entry in read_entries::<C>(node, &at.key("settings"), reading) {
        let Some(row) = Setting::named(&entry.name) else {
            let names = SETTINGS.iter().map(|row| row.name);
            let help = nearest(&entry.name, names).map(|name| format!("did you mean `{name}`?"));
            let message = format!("`{}` is not a setting", entry.name);
            reading.fault_at(FaultKind::UnknownKey, entry.key, message, help);
            continue;
        };
        if row.dim != entry.dim {
            let message =
                format!("`{}` is in {}, but `{}` is in {}", row.name, row.dim, entry.written, entry.dim);
            let help = Some(format!("its default is {}", row.written));
            reading.fault_at(FaultKind::WrongUnit, entry.key, message, help);
            continue;
        }
        let changed = Overridden {
            value: Num::new(entry.value, entry.dim),
            written: entry.written,
            because: entry.because,
            by: C::BY,
            locked: entry.locked,
            route: entry.route,
            span: entry.key,
        };
        settings.insert(row.setting, changed);
    }
    settings
}

/// The limits that a text changes under `limits`, by rule. Whether there are such rules is not looked at here.
pub fn read_limits<C: Change>(root: &Node, at: &Route, reading: &mut Reading<'_>) -> Vec<ChangedLimit> {
    let mut limits = Vec::new();
    let at = at.key("limits");
    let Some(node) = root.get("limits") else { return limits };
    let Some(map) = node.as_map() else {
        let message = format!("`limits` is a table by rule, but {} stands here", node.kind_word());
        reading.fault(FaultKind::WrongKind, node, message, None);
        return limits;
    };
    for rule in map.iter() {
        for entry in read_entries::<C>(&rule.value, &at.key(&rule.key.text), reading) {
            limits.push(ChangedLimit {
                rule: rule.key.text.clone(),
                limit: entry.name,
                value: entry.value,
                dim: entry.dim,
                written: entry.written,
                because: entry.because,
                by: C::BY,
                locked: entry.locked,
                route: entry.route,
                span: entry.key,
            });
        }
    }
    limits
}

/// The schemas of `settings` and `limits`; `who` changes them.
pub fn properties<C: Change + JsonSchema>(
    who: &str,
    generator: &mut SchemaGenerator,
) -> Vec<(&'static str, Schema)> {
    let mut changed = C::json_schema(generator);
    changed.insert("required".to_owned(), serde_json::json!(["value", "because"]));
    let changed = changed.as_value();
    let settings = json_schema!({
        "type": "object",
        "description": format!("Settings that {who} changes, each with its reason."),
        "additionalProperties": changed,
    });
    let limits = json_schema!({
        "type": "object",
        "description": format!("Limits of rules that {who} changes, by rule and limit, each with its reason."),
        "additionalProperties": { "type": "object", "additionalProperties": changed },
    });
    vec![("settings", settings), ("limits", limits)]
}

//! From routes to bytes: the only place where that is done.

use super::route::{Route, Step};
use super::span::Span;
use super::tree::{Entry, Key, Node, Value};
use std::sync::Arc;

/// What a route leads to.
#[derive(Clone, Copy, Debug)]
pub struct Found<'a> {
    /// The value.
    pub node: &'a Arc<Node>,
    /// The key it stands under; nothing at the root and in lists.
    pub key: Option<&'a Key>,
    /// The outermost alias on the way, the value's own included.
    pub used_at: Option<Span>,
}

/// Which part of an entry to mark.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Part {
    /// Its key.
    Key,
    /// Its value.
    Value,
    /// Key and value.
    Whole,
}

/// A place to show a reader.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Mark {
    /// The bytes to mark; never empty.
    pub span: Span,
    /// Whether the route exists. If not, this is the key of the nearest place on the way that does.
    pub given: bool,
    /// When an alias (or another file) brought the value, `span` is that alias, and this is where the marked thing
    /// is defined.
    pub defined_at: Option<Span>,
}

/// What a route leads to, or nothing. A key as a step into a list finds the entry whose `name` it is.
pub fn find<'a>(root: &'a Arc<Node>, route: &Route) -> Option<Found<'a>> {
    let (found, taken) = walk(root, route);
    (taken == route.steps().len()).then_some(found)
}

/// The place to mark for a route. It always exists: where the route ends early, so does the mark. A value that spans
/// lines is marked by its key alone, or by its first key or entry where it has none.
pub fn mark(root: &Arc<Node>, route: &Route, part: Part) -> Mark {
    let (found, taken) = walk(root, route);
    let given = taken == route.steps().len();
    let part = if given { part } else { Part::Key };
    place(&found, part, given)
}

/// The entry of a list whose `name` this is: its number, and it.
pub(super) fn named<'a>(list: &'a [Arc<Node>], name: &str) -> Option<(usize, &'a Arc<Node>)> {
    list.iter().enumerate().find(|(_, entry)| entry.get("name").and_then(|name| name.as_text()) == Some(name))
}

/// One step on, if there is one.
fn step<'a>(node: &'a Node, step: &Step) -> Option<(Option<&'a Key>, &'a Arc<Node>)> {
    match (&node.value, step) {
        (Value::Map(map), Step::Key(key)) => {
            let Entry { key, value } = map.get(key)?;
            Some((Some(key), value))
        }
        (Value::List(list), Step::Index(index)) => Some((None, list.get(*index)?)),
        (Value::List(list), Step::Key(name)) => Some((None, named(list, name)?.1)),
        _ => None,
    }
}

/// As far along a route as there is something, and how many steps that is.
fn walk<'a>(root: &'a Arc<Node>, route: &Route) -> (Found<'a>, usize) {
    let mut found = Found { node: root, key: None, used_at: root.used_at };
    for (taken, next) in route.steps().iter().enumerate() {
        let Some((key, node)) = step(found.node, next) else {
            return (found, taken);
        };
        found = Found { node, key, used_at: found.used_at.or(node.used_at) };
    }
    (found, route.steps().len())
}

/// The mark for what was found. Where an alias on the way (not the value's own, for a key) brought the thing, the
/// alias is marked.
fn place(found: &Found<'_>, part: Part, given: bool) -> Mark {
    let Found { node, key, used_at } = *found;
    let own = |span| Mark { span, given, defined_at: None };
    let at_definition = match (part, key) {
        (Part::Value, _) if node.one_line => node.span,
        (Part::Whole, Some(key)) if node.one_line => key.span.join(node.span),
        (_, Some(key)) => key.span,
        (_, None) => definition_head(node),
    };
    let Some(used_at) = used_at else {
        return own(at_definition);
    };
    // `a: *b`: the key stands before its own alias, in the same text.
    match key {
        Some(key) if node.used_at == Some(used_at) && stands_before(key.span, used_at) => {
            if part == Part::Key {
                return own(key.span);
            }
            Mark {
                span: if part == Part::Whole { key.span.join(used_at) } else { used_at },
                given,
                defined_at: Some(definition_head(node)),
            }
        }
        _ => Mark { span: used_at, given, defined_at: Some(at_definition) },
    }
}

/// Whether a key and an alias stand in one text in this order.
fn stands_before(key: Span, alias: Span) -> bool {
    key.file == alias.file && key.end <= alias.start
}

/// What to mark of a value without a key: the alias that brought it, all of it if it lies on one line, else its first
/// key or entry.
pub(super) fn head(node: &Node) -> Span {
    node.used_at.unwrap_or_else(|| definition_head(node))
}

/// The same where the value is defined.
fn definition_head(node: &Node) -> Span {
    let first = match &node.value {
        Value::Map(map) => map.entries().first().map(|entry| entry.key.span),
        Value::List(list) => list.first().map(|entry| head(entry)),
        Value::Scalar(_) => None,
    };
    first.filter(|_| !node.one_line).unwrap_or(node.span)
}

#[cfg(test)]
mod tests;

//! Changing a tree: edits at routes, without touching what they leave alone.

use super::fault::quoted;
use super::locate::{head, named};
use super::parse::{Limits, parse};
use super::route::{Route, RouteFault, Step};
use super::span::{FileId, Span};
use super::tree::{Entry, Key, Map, Node, Scalar, Value, reads_as_null};
use std::fmt;
use std::sync::Arc;

/// One edit.
#[derive(Clone, Debug)]
pub enum Op {
    /// Puts a value at a route, in place of what stands there or as a new entry. Tables that are missing on the way
    /// are made; an index as large as the list is long appends.
    Set(Route, Arc<Node>),
    /// Takes away what stands at a route.
    Remove(Route),
}

impl Op {
    /// The place it changes.
    pub fn route(&self) -> &Route {
        match self {
            Op::Set(route, _) | Op::Remove(route) => route,
        }
    }
}

/// Edits, made one after another.
#[derive(Clone, Debug, Default)]
pub struct Change(pub Vec<Op>);

/// Why a change cannot be made.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct CannotChange {
    /// The edit's route.
    pub route: Route,
    /// The reason, a short clause.
    pub why: String,
}

impl fmt::Display for CannotChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "cannot change `{}`: {}", self.route, self.why)
    }
}

impl std::error::Error for CannotChange {}

/// How deep a changed tree may be: as deep as one that is read.
const DEEPEST: usize = Route::MOST_STEPS;

/// Text as a value, to put into a tree. It is text even where plain YAML would read nothing.
pub fn scalar(text: &str) -> Arc<Node> {
    let scalar = Scalar { text: Arc::from(text), plain: !reads_as_null(text) };
    let nowhere = Span::new(FileId::NOWHERE, 0, 0);
    Arc::new(made(Value::Scalar(scalar), nowhere))
}

impl Change {
    /// One edit that puts a value at a route.
    pub fn set(route: Route, value: Arc<Node>) -> Change {
        Change(vec![Op::Set(route, value)])
    }

    /// One edit that takes away what stands at a route.
    pub fn remove(route: Route) -> Change {
        Change(vec![Op::Remove(route)])
    }

    /// Reads `route=value`, as `parts.relief.spring.preload=48N`. The value is YAML on one line: text, or a list or
    /// table in brackets.
    ///
    /// # Errors
    /// Says at which byte of the text it goes wrong.
    pub fn parse_assignment(text: &str) -> Result<Change, RouteFault> {
        let (route, end) = Route::read_front(text)?;
        if route.is_root() {
            return Err(RouteFault {
                at: 0,
                message: "the place to change stands before `=`, as in `site.altitude=1600 m`".into(),
            });
        }
        let Some(value) = text.get(end..).and_then(|rest| rest.strip_prefix('=')) else {
            return Err(RouteFault {
                at: end,
                message: "the new value is missing: write `=` and the value after the place".into(),
            });
        };
        let parsed = parse(FileId::NOWHERE, value, &Limits::default());
        if let Some(fault) = parsed.faults.first() {
            return Err(RouteFault { at: end + 1 + fault.span.start, message: fault.message.clone() });
        }
        match parsed.root {
            Some(node) => Ok(Change::set(route, node)),
            None => Err(RouteFault { at: end, message: "no value stands after `=`".into() }),
        }
    }

    /// The tree with the edits made one after another. The tree given stays as it was, and what is not on the way to
    /// an edit is shared. New nodes take the place in the text of what they stand for: of the value they replace, or
    /// of the key of the nearest table that was there; so marks in the changed tree point into the text as written.
    ///
    /// # Errors
    /// The first edit that cannot be made.
    pub fn apply(&self, root: &Arc<Node>) -> Result<Arc<Node>, CannotChange> {
        let mut root = Arc::clone(root);
        for op in &self.0 {
            let (route, new) = match op {
                Op::Set(route, node) => (route, Some(node)),
                Op::Remove(route) => (route, None),
            };
            let edited = deep_enough(route, new).and_then(|()| edit(&root, route.steps(), new, head(&root)));
            root = match edited {
                Ok(Some(node)) => node,
                Ok(None) => return Err(cannot(route, "the whole cannot be taken away".into())),
                Err(why) => return Err(cannot(route, why)),
            };
        }
        Ok(root)
    }
}

fn cannot(route: &Route, why: String) -> CannotChange {
    CannotChange { route: route.clone(), why }
}

fn deep_enough(route: &Route, new: Option<&Arc<Node>>) -> Result<(), String> {
    let height = new.map_or(0, |node| height(node));
    if route.steps().len() + height > DEEPEST {
        return Err(format!("tables and lists may be nested at most {DEEPEST} deep"));
    }
    Ok(())
}

/// How many lists and tables deep a node is.
fn height(node: &Node) -> usize {
    match &node.value {
        Value::Scalar(_) => 0,
        Value::List(list) => 1 + list.iter().map(|entry| height(entry)).max().unwrap_or(0),
        Value::Map(map) => 1 + map.iter().map(|entry| height(&entry.value)).max().unwrap_or(0),
    }
}

/// The place in the text of a node that is there, if it can be marked as a whole.
fn site(node: &Node) -> Option<Span> {
    (node.one_line || node.used_at.is_some()).then(|| node.place())
}

/// A new node.
fn made(value: Value, site: Span) -> Node {
    Node { span: site, value, used_at: None, flow: false, one_line: true }
}

/// A node, and all in it, moved to a place in the text.
fn moved(node: &Node, site: Span) -> Arc<Node> {
    let value = match &node.value {
        Value::Scalar(scalar) => Value::Scalar(scalar.clone()),
        Value::List(list) => Value::List(list.iter().map(|entry| moved(entry, site)).collect()),
        Value::Map(map) => Value::Map(Map::new(
            map.iter()
                .map(|entry| Entry {
                    key: Key { text: Arc::clone(&entry.key.text), span: site },
                    value: moved(&entry.value, site),
                })
                .collect(),
        )),
    };
    Arc::new(Node { flow: node.flow, ..made(value, site) })
}

/// A node with the edit made below it: `new` put at the end of the steps, or what is there taken away if it is
/// nothing. `Ok(None)` means that the node itself goes. `near` is the place that new entries take.
fn edit(
    node: &Arc<Node>,
    steps: &[Step],
    new: Option<&Arc<Node>>,
    near: Span,
) -> Result<Option<Arc<Node>>, String> {
    let Some((step, rest)) = steps.split_first() else {
        return Ok(new.map(|new| moved(new, site(node).unwrap_or(near))));
    };
    let value = match (&node.value, step) {
        (Value::Map(map), Step::Key(key)) => Value::Map(edit_map(map, key, rest, new, near)?),
        (Value::List(list), step) => Value::List(edit_list(list, step, rest, new, near)?),
        (Value::Scalar(scalar), _) if scalar.is_null() && new.is_some() => {
            return Ok(Some(create(steps, new, near)?));
        }
        (_, Step::Key(key)) => {
            return Err(format!("{} has no entry {}", node.kind_word(), quoted(key)));
        }
        (_, Step::Index(_)) => return Err(format!("{} has no numbered entries", node.kind_word())),
    };
    Ok(Some(Arc::new(Node { value, ..(**node).clone() })))
}

fn edit_map(map: &Map, key: &str, rest: &[Step], new: Option<&Arc<Node>>, near: Span) -> Result<Map, String> {
    let Some((at, entry)) = map.position(key).and_then(|at| Some((at, map.entries().get(at)?))) else {
        let key = Key { text: Arc::from(key), span: near };
        let value = create(rest, new, near)?;
        return Ok(map.with_entry(Entry { key, value }));
    };
    Ok(match edit(&entry.value, rest, new, entry.key.span)? {
        Some(value) => map.with_value_at(at, value),
        None => map.without(at),
    })
}

fn edit_list(
    list: &[Arc<Node>],
    step: &Step,
    rest: &[Step],
    new: Option<&Arc<Node>>,
    near: Span,
) -> Result<Vec<Arc<Node>>, String> {
    let mut list = list.to_vec();
    let at = match step {
        Step::Index(index) => *index,
        Step::Key(name) => {
            named(&list, name).ok_or_else(|| format!("no entry of the list has the name {}", quoted(name)))?.0
        }
    };
    let count = list.len();
    let Some(entry) = list.get_mut(at) else {
        if at > count || new.is_none() {
            return Err(format!("the list has {count} entries, so none of the number {at}"));
        }
        list.push(create(rest, new, near)?);
        return Ok(list);
    };
    match edit(entry, rest, new, head(entry))? {
        Some(value) => *entry = value,
        None => {
            list.remove(at);
        }
    }
    Ok(list)
}

/// The new value inside the tables and lists that the steps ask for.
pub(super) fn create(steps: &[Step], new: Option<&Arc<Node>>, near: Span) -> Result<Arc<Node>, String> {
    let Some((step, rest)) = steps.split_first() else {
        return match new {
            Some(new) => Ok(moved(new, near)),
            None => Err("there is nothing to take away".into()),
        };
    };
    let value = match step {
        Step::Key(key) => Value::Map(Map::new(vec![Entry {
            key: Key { text: Arc::clone(key), span: near },
            value: create(rest, new, near)?,
        }])),
        Step::Index(0) => Value::List(vec![create(rest, new, near)?]),
        Step::Index(index) => {
            return Err(format!("the list would be new, so it has no entry {index} yet"));
        }
    };
    Ok(Arc::new(made(value, near)))
}

#[cfg(test)]
mod tests;

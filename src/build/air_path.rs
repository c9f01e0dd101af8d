//! The order of the parts that the air flows through: a list, in which a stretch may run in parallel branches.

use std::borrow::Cow;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, Shape};
use super::scalars::PartName;
use crate::text::{FaultKind, Node, Route, Step};

/// The key of a stretch that runs in branches.
const PARALLEL: &str = "parallel";
/// Branches within branches go at most this deep.
const DEEPEST: usize = 4;

/// The air path, from the site to the engine.
#[derive(Clone, Debug, PartialEq)]
pub struct AirPath(pub Vec<PathElement>);

/// One element of the air path.
#[derive(Clone, Debug, PartialEq)]
pub enum PathElement {
    /// A part.
    Part {
        /// Its name.
        name: Arc<str>,
        /// Where the name is written.
        route: Route,
    },
    /// Branches side by side, which part behind the element before and join ahead of the one behind.
    Fork {
        /// Where `parallel` is written.
        route: Route,
        /// The branches, at least two.
        branches: Vec<PathBranch>,
    },
}

/// One branch of a fork.
#[derive(Clone, Debug, PartialEq)]
pub struct PathBranch {
    /// Its name.
    pub name: Arc<str>,
    /// Where it is written.
    pub route: Route,
    /// Its elements, at least one.
    pub elements: Vec<PathElement>,
}

impl JsonSchema for AirPath {
    fn schema_name() -> Cow<'static, str> {
        "AirPath".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let part = generator.subschema_for::<PartName>();
        let branch = generator.subschema_for::<Self>();
        json_schema!({
            "type": "array",
            "description": "Names of parts in the order of the air's way. Where it runs in branches: `parallel: { left: [ … ], right: [ … ] }`.",
            "items": { "anyOf": [
                part,
                {
                    "type": "object",
                    "description": "Branches side by side, each under a name of its own.",
                    "properties": { PARALLEL: {
                        "type": "object",
                        "minProperties": 2,
                        "additionalProperties": { "allOf": [branch], "minItems": 1 },
                    } },
                    "required": [PARALLEL],
                    "additionalProperties": false,
                },
            ] },
        })
    }
}

impl Described for AirPath {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        elements(node, at, 0, reading).map(Self)
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        let here = Shape { measure: None, usual };
        match steps {
            [] | [Step::Index(_)] => Some(here),
            [Step::Index(_), Step::Key(parallel), rest @ ..] if &**parallel == PARALLEL => {
                match rest.split_first() {
                    None => Some(here),
                    Some((Step::Key(_), below)) => Self::shape(below, usual),
                    Some((Step::Index(_), _)) => None,
                }
            }
            _ => None,
        }
    }
}

fn elements(
    node: &Arc<Node>,
    at: &Route,
    depth: usize,
    reading: &mut Reading<'_>,
) -> Option<Vec<PathElement>> {
    let Some(list) = node.as_list() else {
        let message = format!("a list of parts is wanted, but {} stands here", node.kind_word());
        reading.fault(FaultKind::WrongKind, node, message, Some("write it as [ …, … ]".to_owned()));
        return None;
    };
    // All are read before any is found wanting, so that every fault is told.
    let read: Vec<_> =
        list.iter().enumerate().map(|(i, item)| element(item, &at.index(i), depth, reading)).collect();
    read.into_iter().collect()
}

fn element(node: &Arc<Node>, at: &Route, depth: usize, reading: &mut Reading<'_>) -> Option<PathElement> {
    let Some(map) = node.as_map() else {
        let PartName(name) = PartName::read(node, at, reading)?;
        return Some(PathElement::Part { name, route: at.clone() });
    };
    let help = || Some("write `parallel: { left: [ … ], right: [ … ] }`".to_owned());
    let mut sound = true;
    for entry in map.iter().filter(|entry| &*entry.key.text != PARALLEL) {
        let message = format!("`{}` is not a key of an element of the air path", entry.key.text);
        reading.fault_at(FaultKind::UnknownKey, entry.key.span, message, help());
        sound = false;
    }
    let Some(fork) = map.get(PARALLEL) else {
        if sound {
            reading.fault(
                FaultKind::Missing,
                node,
                "an element of the air path is a part or `parallel`",
                help(),
            );
        }
        return None;
    };
    if depth == DEEPEST {
        let message = format!("branches lie at most {DEEPEST} deep within branches");
        reading.fault_at(FaultKind::TooDeep, fork.key.span, message, None);
        return None;
    }
    let Some(named) = fork.value.as_map().filter(|named| named.len() >= 2) else {
        reading.fault(
            FaultKind::WrongKind,
            &fork.value,
            "at least two branches by name are wanted here",
            help(),
        );
        return None;
    };
    let route = at.key(PARALLEL);
    let mut branches = Vec::with_capacity(named.len());
    for branch in named {
        let at = route.key(&branch.key.text);
        match elements(&branch.value, &at, depth + 1, reading) {
            Some(elements) if elements.is_empty() => {
                reading.fault(
                    FaultKind::Missing,
                    &branch.value,
                    "a branch leads through at least one part",
                    None,
                );
                sound = false;
            }
            Some(elements) => {
                branches.push(PathBranch { name: branch.key.text.clone(), route: at, elements })
            }
            None => sound = false,
        }
    }
    sound.then_some(PathElement::Fork { route, branches })
}

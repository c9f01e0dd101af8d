//! Small-bore hoses, and the joints between neighbours of the air path.

use std::borrow::Cow;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, Shape, described, words};
use super::scalars::{Force, Length, List, PartName, Q, Text};
use crate::text::{FaultKind, Node, Route, Step};

/// An end of a hose: the name of a part, or a place on it.
#[derive(Clone, Debug)]
pub enum End {
    /// The part alone.
    Named(PartName),
    /// A place on a part.
    Placed(super::parts::Tap),
}

impl JsonSchema for End {
    fn schema_name() -> Cow<'static, str> {
        "HoseEnd".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let name = generator.subschema_for::<PartName>();
        let tap = generator.subschema_for::<super::parts::Tap>();
        json_schema!({ "anyOf": [name, tap] })
    }
}

impl Described for End {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        if node.as_map().is_some() {
            return super::parts::Tap::read(node, at, reading).map(Self::Placed);
        }
        PartName::read(node, at, reading).map(Self::Named)
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        if steps.is_empty() {
            Some(Shape { measure: None, usual })
        } else {
            super::parts::Tap::shape(steps, usual)
        }
    }
}

described! {
    /// A small-bore hose, for a pressure signal or a consumer's air.
    pub struct HoseFields ("a hose") {
        /// The part that one end sits on.
        from = "from": End,
        /// The part that the other end sits on.
        to = "to": End,
        /// Length.
        length = "length": Q<Length> ["20 mm", "6 m"],
        /// Inside diameter.
        bore = "bore": Q<Length> ["1 mm", "40 mm"],
        /// What it is made of.
        material = "material": Text,
        /// Check valves that the hose passes through, in order.
        through = "through": List<PartName>,
    }

    /// How two neighbours of the air path are joined.
    pub struct JointFields ("a joint") {
        /// A soft coupler over both ends.
        coupler = "coupler": CouplerFields,
        /// A flange.
        flange = "flange": Flange,
    }

    /// A soft coupler over two pipe ends.
    pub struct CouplerFields ("a coupler") {
        /// Inside diameter.
        bore = "bore": Q<Length> ["15 mm", "200 mm"],
        /// Bare stretch between the pipe ends.
        gap = "gap": Q<Length> ["0 mm", "100 mm"],
        /// Overlap on each side.
        overlap = "overlap": Q<Length> ["5 mm", "100 mm"],
        /// What it is made of.
        material = "material": Text,
        /// The bead on the pipe ends.
        bead = "bead": Bead,
        /// The force at which it slides off.
        pull_off_force = "pull-off-force": Q<Force> ["20 N", "20000 N"],
    }
}

words! {
    /// How a flange is held.
    pub enum Flange ("the flange") {
        /// By bolts.
        Bolted = "bolted",
        /// By a weld.
        Welded = "welded",
    }

    /// The bead on a pipe's end.
    pub enum Bead ("the bead") {
        /// Rolled.
        Rolled = "rolled",
        /// Welded on.
        Welded = "welded",
        /// None.
        None = "none",
    }
}

/// A thing under a name of its own, with its place.
#[derive(Clone, Debug)]
pub struct Named<T> {
    /// Its name.
    pub name: Arc<str>,
    /// Where it stands.
    pub route: Route,
    /// Its fields; `None` when it is no table.
    pub fields: Option<T>,
}

/// Things under names of their own.
#[derive(Clone, Debug)]
pub struct NamedList<T>(pub Vec<Named<T>>);

impl<T> NamedList<T> {
    /// The thing of a name.
    pub fn named(&self, name: &str) -> Option<&Named<T>> {
        self.0.iter().find(|thing| &*thing.name == name)
    }
}

impl<T: Described> JsonSchema for NamedList<T> {
    fn schema_name() -> Cow<'static, str> {
        format!("{}ByName", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let values = generator.subschema_for::<T>();
        json_schema!({ "type": "object", "additionalProperties": { "anyOf": [values, { "const": "none" }] } })
    }
}

impl<T: Described> Described for NamedList<T> {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        let Some(map) = node.as_map() else {
            let message = format!("a table of names is wanted, but {} stands here", node.kind_word());
            reading.fault(FaultKind::WrongKind, node, message, None);
            return None;
        };
        let mut list = Vec::with_capacity(map.len());
        for entry in map.iter().filter(|entry| !super::describe::says_none(&entry.value)) {
            let route = at.key(&entry.key.text);
            let fields = T::read(&entry.value, &route, reading);
            list.push(Named { name: entry.key.text.clone(), route, fields });
        }
        Some(Self(list))
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        match steps.split_first() {
            None => Some(Shape { measure: None, usual }),
            Some((Step::Key(_), rest)) => T::shape(rest, usual),
            Some(_) => None,
        }
    }
}

/// Checks that joints are named after parts.
pub fn check_joint_names(map: &crate::text::Map, at: &Route, reading: &mut Reading<'_>) {
    for entry in map.iter() {
        reading.references.push(super::describe::Reference {
            route: at.key(&entry.key.text),
            span: entry.key.span,
            name: entry.key.text.clone(),
        });
    }
}

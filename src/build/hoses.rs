//! Small-bore hoses, and the joints between neighbours of the air path.

use std::borrow::Cow;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, Reference, Shape, described, words};
use super::parts::{NearExhaust, Tap};
use super::scalars::{Destination, Flag, Force, HoseName, Length, List, PartName, Q, Text};
use crate::text::{FaultKind, Map, Node, Route, Step};

/// An end of a hose: a part or the open air, a place on a part, or a tee in another hose.
#[derive(Clone, Debug)]
pub enum End {
    /// The part alone, or `air`.
    Named(Destination),
    /// A place on a part.
    Placed(Tap),
    /// A tee in another hose.
    Teed(Tee),
}

impl JsonSchema for End {
    fn schema_name() -> Cow<'static, str> {
        "HoseEnd".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let name = generator.subschema_for::<Destination>();
        let tap = generator.subschema_for::<Tap>();
        let tee = generator.subschema_for::<Tee>();
        json_schema!({ "anyOf": [name, tap, tee] })
    }
}

impl Described for End {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        if node.as_map().is_none() {
            return Destination::read(node, at, reading).map(Self::Named);
        }
        if node.get("hose").is_some() {
            return Tee::read(node, at, reading).map(Self::Teed);
        }
        Tap::read(node, at, reading).map(Self::Placed)
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        if steps.is_empty() {
            return Some(Shape { measure: None, usual });
        }
        Tap::shape(steps, usual).or_else(|| Tee::shape(steps, usual))
    }
}

/// A part that sits in a hose: its name alone, or with its place.
#[derive(Clone, Debug)]
pub enum Inline {
    /// The part alone.
    Named(PartName),
    /// The part and its place.
    Placed(InlinePlace),
}

impl JsonSchema for Inline {
    fn schema_name() -> Cow<'static, str> {
        "PartInHose".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let name = generator.subschema_for::<PartName>();
        let place = generator.subschema_for::<InlinePlace>();
        json_schema!({ "anyOf": [name, place] })
    }
}

impl Described for Inline {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        if node.as_map().is_some() {
            return InlinePlace::read(node, at, reading).map(Self::Placed);
        }
        PartName::read(node, at, reading).map(Self::Named)
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        if steps.is_empty() { Some(Shape { measure: None, usual }) } else { InlinePlace::shape(steps, usual) }
    }
}

described! {
    /// A small-bore hose, for a pressure signal or a consumer's air.
    pub struct HoseFields ("a hose") {
        /// Where one end sits: a part, a place on it as in `{ part: cold-pipe, at: 250 mm }`, a tee in another hose as
        /// in `{ hose: servo-hose, at: 100 mm }`, or `air`.
        from = "from": End,
        /// Where the other end sits, in the same ways.
        to = "to": End,
        /// Length.
        length = "length": Q<Length> ["20 mm", "6 m"],
        /// Inside diameter.
        bore = "bore": Q<Length> ["1 mm", "40 mm"],
        /// What it is made of.
        material = "material": Text,
        /// Check valves that the hose passes through, in order from its `from`. Where something tees off the hose, each
        /// says its place too, as in `{ part: servo-check, at: 300 mm }`.
        through = "through": List<Inline>,
        /// Restrictors in the hose, in order from its `from`.
        restrictors = "restrictors": List<Restrictor>,
        /// Where it ends in the open air: how near that end lies to the exhaust.
        near_exhaust = "near-exhaust": NearExhaust,
    }

    /// A tee in another hose.
    pub struct Tee ("a tee") {
        /// The hose that it sits in.
        hose = "hose": HoseName,
        /// Distance from that hose's `from`.
        at = "at": Q<Length> ["0 mm", "6 m"],
    }

    /// A part and its place in a hose.
    pub struct InlinePlace ("a place in a hose") {
        /// The part.
        part = "part": PartName,
        /// Distance from the hose's `from`.
        at = "at": Q<Length> ["0 mm", "6 m"],
    }

    /// A restrictor in a hose.
    pub struct Restrictor ("a restrictor") {
        /// Inside diameter.
        bore = "bore": Q<Length> ["0.2 mm", "20 mm"],
        /// Distance from the hose's `from`.
        at = "at": Q<Length> ["0 mm", "6 m"],
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
        /// Straight, or with a hump that takes up movement.
        form = "form": CouplerForm,
        /// The bead on the pipe ends.
        bead = "bead": Bead,
        /// Height of the bead over the pipe.
        bead_height = "bead-height": Q<Length> ["0.3 mm", "8 mm"],
        /// The clamps that hold it.
        clamp = "clamp": Clamp,
        /// Whether a tie from pipe to pipe takes the thrust.
        tied = "tied": Flag,
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
        /// By a band with a V-shaped section.
        VBand = "v-band",
    }

    /// The form of a coupler.
    pub enum CouplerForm ("the form") {
        /// Straight.
        Straight = "straight",
        /// With a hump.
        Hump = "hump",
    }

    /// What holds a coupler.
    pub enum Clamp ("the clamp") {
        /// A band drawn tight by a worm.
        WormDrive = "worm-drive",
        /// A band drawn tight by a bolt.
        TBolt = "t-bolt",
        /// A band held tight by a spring.
        Spring = "spring",
        /// A band crimped tight.
        Crimped = "crimped",
        /// Nothing.
        None = "none",
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

/// What stands between the names of a joint where the path forks.
pub const JOINT_SIGN: &str = " > ";

/// Checks that joints are named after parts: the upstream one alone, or both as in `plenum > throttle-1`.
pub fn check_joint_names(map: &Map, at: &Route, reading: &mut Reading<'_>) {
    for entry in map {
        let name = &entry.key.text;
        let mut refer = |part: &str| {
            let part: Arc<str> = Arc::from(part);
            reading.references.push(Reference::part(&at.key(name), entry.key.span, &part));
        };
        match name.split_once(JOINT_SIGN) {
            Some((upstream, downstream)) => {
                refer(upstream);
                refer(downstream);
            }
            None => refer(name),
        }
    }
}

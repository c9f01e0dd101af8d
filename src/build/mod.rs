//! The description of a build, typed: one definition gives its reading, its schema and the shapes of its routes.

pub mod accepted;
pub mod air_path;
pub mod changed;
pub mod describe;
pub mod engine;
pub mod files;
pub mod hoses;
pub mod library;
pub mod map_file;
mod measured;
pub mod parts;
pub mod scalars;
pub mod schema;
mod sense;
pub mod site;
pub mod tables;

use std::collections::BTreeSet;
use std::sync::Arc;

use schemars::{Schema, SchemaGenerator, json_schema};

use accepted::Accepted;
use air_path::AirPath;
use changed::{Changed, ChangedLimit};
use describe::{Described, Reading, Reference, Referred, Shape, Table, described, table_schema, words};
use engine::{AsBuilt, BoostHeld, BoostTable, Control, Engine, Exhaust, GearChange};
use files::Files;
use hoses::{HoseFields, JointFields, NamedList};
use parts::Parts;
use scalars::{Count, List, Text};
use site::Site;

pub use measured::{MeasuredQuantity, MeasuredValue, Measurement};

use crate::known::{Field, Known, Overrides, Reads, State};
use crate::text::{Fault, FaultKind, FileId, Node, Route, Step, nearest};

words! {
    /// Where the build is to work.
    pub enum Use ("the use") {
        /// On public roads.
        Road = "road",
        /// In competition.
        Competition = "competition",
        /// Off the road.
        OffRoad = "off-road",
        /// In a boat.
        Marine = "marine",
        /// Standing still.
        Stationary = "stationary",
        /// In flight.
        Airborne = "airborne",
    }

    /// An area of the description that can be claimed complete.
    pub enum Area ("an area") {
        /// The parts that the air flows through, and the relief valves.
        AirPath = "air-path",
        /// Hoses, sensors and what they serve.
        Signals = "signals",
        /// The joints.
        Joints = "joints",
        /// The turbine side.
        Turbine = "turbine",
        /// The crankcase and its breathing.
        Crankcase = "crankcase",
        /// The control.
        Control = "control",
        /// The fuel system.
        Fuel = "fuel",
        /// The oil.
        Oil = "oil",
    }
}

described! {
    /// A written description of a turbocharged engine's air path.
    pub struct Top ("a build") {
        /// Version of this format.
        format = "format": Count,
        /// What the build is, in a line.
        title = "title": Text,
        /// Where it is to work.
        use_ = "use": Use,
        /// The rulebook that a person has held the build against, with edition or date: the regulations of a contest, the
        /// rules of a class of boats, of plant or of aircraft.
        rulebook = "rulebook": Text,
        /// Areas that are claimed complete (else only the air path is): what such an area lacks is known to be absent.
        describes = "describes": List<Area>,
        /// The conditions it works in.
        site = "site": Site,
        /// The engine.
        engine = "engine": Engine,
        /// What the boost control keeps at other sites.
        boost_held = "boost-held": BoostHeld,
        /// Wanted manifold pressure above site pressure, full throttle, over engine speed; off boost below the first.
        boost = "boost": BoostTable ["0 bar", "6 bar"],
        /// A change of gear with the throttle shut.
        gear_change = "gear-change": GearChange,
        /// The exhaust.
        exhaust = "exhaust": Exhaust,
        /// What guards the boost.
        control = "control": Control,
        /// What the engine was approved or sold with, as far as it was changed.
        as_built = "as-built": AsBuilt,
        /// The parts that the air flows through, in order. Where the way runs in branches side by side (twin compressors,
        /// individual throttles), an element is `parallel: { left: [ … ], right: [ … ] }`. Two compressors in
        /// series are simply both in the list; so is a throttle or carburettor ahead of the compressor.
        air_path = "air-path": AirPath,
        /// Small-bore hoses.
        hoses = "hoses": NamedList<HoseFields>,
        /// Joints between neighbours of the air path, by the upstream part's name; where the path forks behind it, by
        /// both, as in `plenum > throttle-1`.
        joints = "joints": NamedList<JointFields>,
        /// What was measured after fitting.
        measurements = "measurements": List<Measurement>,
    }
}

/// A build as read: what could be read, and all faults.
#[derive(Clone, Debug)]
pub struct Build {
    /// Its file.
    pub file: FileId,
    /// The tree that it was read from, with the parts of its libraries in it.
    pub root: Arc<Node>,
    /// The fields of its top level.
    pub top: Top,
    /// Its parts.
    pub parts: Parts,
    /// Whether `parts` is a table that could be read.
    pub parts_given: Field<()>,
    /// Settings that it changes.
    pub settings: Overrides,
    /// Limits that it changes.
    pub limits: Vec<ChangedLimit>,
    /// Findings that it accepts.
    pub accepted: Vec<Accepted>,
    /// All faults, by place.
    pub faults: Vec<Fault>,
    /// Text that no kind reads yet.
    pub unread: Vec<Route>,
}

impl Build {
    /// Reads a build from its tree. Never stops at the first fault: what could be read is there, faulty fields are
    /// unknown, and every fault is told.
    pub fn read(file: FileId, root: &Arc<Node>, files: &Files) -> Self {
        let library::Expanded { root, faults } = library::expand(root, files);
        let root = &root;
        let mut reading = Reading { faults, ..Reading::new(files) };
        let at = Route::root();
        let empty = crate::text::Map::default();
        let mut table =
            Table::of(root, &at, "a build", &mut reading).unwrap_or_else(|| Table::over(&empty, &at));
        let top = Top::from_table(&mut table, &mut reading);
        check_format(&top, root, &mut reading);
        for key in ["parts", "settings", "limits", accepted::ACCEPTED] {
            table.leave(key);
        }
        let (parts, parts_given) = read_parts(root, &at, &mut reading);
        let settings = changed::read_settings::<Changed>(root, &at, &mut reading);
        let limits = changed::read_limits::<Changed>(root, &at, &mut reading);
        let accepted = accepted::read(root, &mut reading);
        if let Some(map) = root.get("joints").and_then(|node| node.as_map()) {
            hoses::check_joint_names(map, &at.key("joints"), &mut reading);
        }
        // Its files were opened, and its parts brought in, before anything was read.
        table.leave(library::PARTS_FROM);
        table.refuse_unknown_keys(&mut reading);
        check_references(&top, &parts, &mut reading);
        sense::check(&top, root, &mut reading);
        measured::check(&top.measurements, root, &mut reading);
        let Reading { mut faults, unread, .. } = reading;
        faults.sort();
        faults.dedup();
        Self { file, root: root.clone(), top, parts, parts_given, settings, limits, accepted, faults, unread }
    }

    /// Whether an area is claimed complete: yes, or open with the field that would claim it.
    pub fn claims(&self, area: Area, reads: &dyn Reads) -> Known<()> {
        let only_the_path = List(vec![Area::AirPath]);
        let words = "only the air path is taken as complete, as `describes` is not given";
        match self.top.describes.get_or(reads, only_the_path, words) {
            Known::Is(List(areas)) if areas.contains(&area) => Known::Is(()),
            Known::Open(missing) => Known::Open(missing),
            _ => Known::missing(self.top.describes.route()),
        }
    }

    /// The shape of what may stand at a route; `None` when no such route can exist.
    pub fn shape(&self, route: &Route) -> Option<Shape> {
        match route.steps().split_first() {
            Some((Step::Key(key), rest)) if &**key == "parts" => self.parts.shape(rest),
            Some((Step::Key(key), [] | [Step::Index(_)])) if &**key == library::PARTS_FROM => {
                Some(Shape::OTHER)
            }
            _ => Top::shape(route.steps(), None),
        }
    }

    /// The schema of a build.
    pub fn schema(generator: &mut SchemaGenerator) -> Schema {
        let mut properties = Top::properties(generator);
        properties.push(("parts", Parts::schema(generator)));
        for (key, own) in &mut properties {
            if *key == "format" {
                own.insert("const".to_owned(), 1.into());
            }
        }
        properties.extend(changed::properties::<Changed>("this build", generator));
        properties.push((accepted::ACCEPTED, accepted::schema(generator)));
        properties.push((
            library::PARTS_FROM,
            json_schema!({
                "description": "Libraries of shared parts, each a file with `format` and `parts`, relative to this one. A part is taken up by naming it, or as `NAME: { like: ITS-NAME, … }` with what differs.",
                "anyOf": [
                    { "type": "array", "items": { "type": "string", "minLength": 1 }, "maxItems": 64 },
                    { "const": "none" },
                ],
            }),
        ));
        let mut schema =
            table_schema("A written description of a turbocharged engine's air path.", properties);
        schema.insert("required".to_owned(), serde_json::json!(["format"]));
        schema
    }
}

/// Whether a tree is a build: a table with a `format` and at least parts, an engine or an air path, and no library.
pub fn is_build(root: &Node) -> bool {
    !library::is_library(root)
        && root.get("format").is_some()
        && ["parts", "engine", "air-path"].iter().any(|key| root.get(key).is_some())
}

fn check_format(top: &Top, root: &Arc<Node>, reading: &mut Reading<'_>) {
    match top.format.state(&crate::known::Unrecorded) {
        State::Given(Count(1)) | State::Faulty => {}
        State::Given(Count(other)) => {
            let message = format!("format {other} is not known; this program reads format 1");
            let span = root.get("format").map_or(root.span, |node| node.span);
            reading.fault_at(FaultKind::Other, span, message, None);
        }
        State::Absent | State::SaidNone => {
            let span = crate::text::mark(root, &Route::root().key("format"), crate::text::Part::Key).span;
            let help = Some("write `format: 1` at the top".to_owned());
            reading.fault_at(FaultKind::Missing, span, "the build does not say its format", help);
        }
    }
}

fn read_parts(root: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> (Parts, Field<()>) {
    let route = at.key("parts");
    let Some(node) = root.get("parts") else {
        return (Parts::default(), Field::new(route, State::Absent));
    };
    match node.as_map() {
        Some(map) => (Parts::read(map, &route, reading), Field::new(route, State::Given(()))),
        None => {
            let message =
                format!("`parts` is a table of parts by name, but {} stands here", node.kind_word());
            reading.fault(FaultKind::WrongKind, node, message, None);
            (Parts::default(), Field::new(route, State::Faulty))
        }
    }
}

/// A message lists no more names than this.
const MOST_NAMES: usize = 12;

fn check_references(top: &Top, parts: &Parts, reading: &mut Reading<'_>) {
    let hoses: Vec<Arc<str>> = match top.hoses.state(&crate::known::Unrecorded) {
        State::Given(NamedList(list)) => list.iter().map(|hose| hose.name.clone()).collect(),
        _ => Vec::new(),
    };
    let references: Vec<Reference> = std::mem::take(&mut reading.references);
    let known_parts: BTreeSet<&str> =
        parts.list.iter().map(|part| &*part.name).chain(parts.said_none.iter().map(|name| &**name)).collect();
    for reference in references {
        if reading.has_enough() {
            return;
        }
        if reference.to == Referred::Part && known_parts.contains(&*reference.name) {
            continue;
        }
        let part_names = || parts.list.iter().map(|part| &*part.name);
        let (known, names, what): (bool, Vec<&str>, _) = match reference.to {
            Referred::Part => {
                let known =
                    parts.named(&reference.name).is_some() || parts.said_none.contains(&reference.name);
                (known, part_names().collect(), "part")
            }
            Referred::Hose => {
                (hoses.contains(&reference.name), hoses.iter().map(|name| &**name).collect(), "hose")
            }
        };
        if known {
            continue;
        }
        let help = match nearest(&reference.name, names.iter().copied()) {
            Some(name) => format!("did you mean `{name}`?"),
            None => {
                let more = if names.len() > MOST_NAMES { ", …" } else { "" };
                let some: Vec<&str> = names.into_iter().take(MOST_NAMES).collect();
                format!("{what}s: {}{more}", some.join(", "))
            }
        };
        let message = format!("no {what} is called {}", crate::text::fault::quoted(&reference.name));
        reading.fault_at(FaultKind::DanglingName, reference.span, message, Some(help));
    }
}

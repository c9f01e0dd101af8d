//! Parts: their kinds, what every part may carry, and what each kind carries.

mod attached;
mod path;

use std::sync::Arc;

pub use attached::*;
pub use path::*;

use super::describe::{Described, Reading, Shape, Table, described, says_none, table_schema, words};
use super::scalars::{Flag, Length, Pressure, Q, Temperature, Text};
use crate::known::{Field, State};
use crate::text::{FaultKind, Map, Node, Route, Span, Step, nearest};

described! {
    /// What every part may carry.
    pub struct Common ("a part") {
        /// Highest pressure inside that it stands.
        pressure_rating = "pressure-rating": Q<Pressure> ["0.1 bar gauge", "40 bar gauge"],
        /// Highest temperature that it stands.
        temperature_rating = "temperature-rating": Q<Temperature> ["40 degC", "1100 degC"],
        /// What it is made of.
        material = "material": Text,
        /// What it is fixed to.
        mounted_on = "mounted-on": MountedOn,
        /// How near it lies to the exhaust.
        near_exhaust = "near-exhaust": NearExhaust,
        /// Where it sits on another part.
        tap = "tap": Tap,
    }

    /// How near a part lies to the exhaust.
    pub struct NearExhaust ("the distance to the exhaust") {
        /// Clear distance.
        gap = "gap": Q<Length> ["0 mm", "2 m"],
        /// Whether a shield stands between.
        shielded = "shielded": Flag,
    }
}

words! {
    /// What a part is fixed to.
    pub enum MountedOn ("what a part is mounted on") {
        /// The engine, rocking with it.
        Engine = "engine",
        /// The body.
        Body = "body",
    }
}

/// Defines the kinds of part: word, what it is, whether it lies on the air path, and the table of its own fields.
macro_rules! kinds {
    ($( $(#[doc = $doc:literal])* $kind:ident = $word:literal $path:tt $(: $body:ident)?, )*) => {
        /// Kinds of part.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum PartKind {
            $( $(#[doc = $doc])* $kind, )*
        }

        impl PartKind {
            /// All kinds.
            pub const ALL: &'static [Self] = &[$(Self::$kind),*];

            /// Its word.
            pub fn word(self) -> &'static str {
                match self { $( Self::$kind => $word, )* }
            }

            /// The kind of a word.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $( $word => Some(Self::$kind), )* _ => None }
            }

            /// Whether parts of this kind lie on the air path.
            pub fn on_path(self) -> bool {
                match self { $( Self::$kind => kinds!(@path $path), )* }
            }

            /// Whether the fields of this kind are read beyond the common ones.
            pub fn is_read(self) -> bool {
                match self { $( Self::$kind => kinds!(@read $($body)?), )* }
            }

            fn doc(self) -> &'static str {
                match self { $( Self::$kind => concat!($($doc),*), )* }
            }

            fn properties(self, generator: &mut schemars::SchemaGenerator) -> Vec<(&'static str, schemars::Schema)> {
                match self { $( Self::$kind => kinds!(@properties generator $($body)?), )* }
            }

            fn body_shape(self, steps: &[Step]) -> Option<Shape> {
                match self { $( Self::$kind => kinds!(@shape steps $($body)?), )* }
            }

            fn read_body(self, table: &mut Table<'_>, reading: &mut Reading<'_>) -> Body {
                match self { $( Self::$kind => kinds!(@body table reading $($body)?), )* }
            }
        }

        kinds!(@bodies [] $( $($body)? )*);
    };
    (@path path) => { true };
    (@path attached) => { false };
    (@read) => { false };
    (@read $body:ident) => { true };
    (@properties $generator:ident) => { Vec::new() };
    (@properties $generator:ident none) => { Vec::new() };
    (@properties $generator:ident $body:ident) => { $body::properties($generator) };
    (@shape $steps:ident) => { None };
    (@shape $steps:ident none) => { None };
    (@shape $steps:ident $body:ident) => { $body::shape($steps, None) };
    (@body $table:ident $reading:ident) => { Body::Plain };
    (@body $table:ident $reading:ident none) => { Body::Plain };
    (@body $table:ident $reading:ident $body:ident) => { Body::$body($body::from_table($table, $reading)) };
    (@bodies [$($done:ident)*]) => {
        /// The fields of a part's own kind.
        #[derive(Clone, Debug)]
        pub enum Body {
            /// No fields of its own, or none that are read yet.
            Plain,
            $( #[doc = concat!("`", stringify!($done), "`.")] $done($done), )*
        }
    };
    (@bodies [$($done:ident)*] none $($rest:ident)*) => { kinds!(@bodies [$($done)*] $($rest)*); };
    (@bodies [$($done:ident)*] $body:ident $($rest:ident)*) => { kinds!(@bodies [$($done)* $body] $($rest)*); };
}

kinds! {
    /// Filters the air at the tract's beginning.
    AirFilter = "air-filter" path: none,
    /// Senses the mass flow of the air, by a hot element or otherwise.
    AirMeter = "air-meter" path: AirMeter,
    /// Leads air from one part to the next.
    Pipe = "pipe" path: Pipe,
    /// Joins two bores.
    Cone = "cone" path,
    /// A chamber on the air path.
    Plenum = "plenum" path,
    /// A soft piece between two pipe ends, long enough to matter.
    Coupler = "coupler" path,
    /// Compressor and turbine on one shaft.
    Turbocharger = "turbocharger" path: Turbocharger,
    /// A compressor driven by the engine.
    Supercharger = "supercharger" path,
    /// Cools the charge behind the compressor.
    ChargeAirCooler = "charge-air-cooler" path: ChargeAirCooler,
    /// The plate that the pedal moves.
    Throttle = "throttle" path: Throttle,
    /// Meters fuel into the air and carries a throttle.
    Carburettor = "carburettor" path,
    /// Shares the charge among the cylinders.
    InletManifold = "inlet-manifold" path: none,
    /// Lets charge out at tip-out (throttle shut at boost). The trade also says blow-off, dump, diverter, recirculation or bypass valve.
    ReliefValve = "relief-valve" attached: ReliefValve,
    /// Leads exhaust round the turbine.
    Wastegate = "wastegate" attached,
    /// Moves a wastegate.
    Actuator = "actuator" attached,
    /// Trims the pressure that an actuator feels.
    BoostSolenoid = "boost-solenoid" attached,
    /// Senses a pressure.
    PressureSensor = "pressure-sensor" attached: PressureSensor,
    /// Senses a temperature.
    TemperatureSensor = "temperature-sensor" attached,
    /// Lets air pass one way.
    CheckValve = "check-valve" attached: CheckValve,
    /// Lets crankcase gas out.
    Breather = "breather" attached,
    /// Lets fuel vapour from its canister into the engine.
    PurgeValve = "purge-valve" attached: none,
    /// Feeds air round the throttle at idle.
    IdleAirValve = "idle-air-valve" attached,
    /// Helps the brake pedal by depression.
    BrakeServo = "brake-servo" attached: none,
    /// Sprays water or alcohol into the charge.
    InjectionNozzle = "injection-nozzle" attached,
    /// Stops a flame from running back out of the inlet.
    FlameArrester = "flame-arrester" path,
    /// Shuts the air off in an emergency.
    AirShutOffValve = "air-shut-off-valve" path,
    /// Catches oil from the crankcase gas.
    CatchTank = "catch-tank" attached,
}

/// Words of the trade for things that have another word here.
const SYNONYMS: &[(&str, &str)] = &[
    ("blow-off-valve", "relief-valve"),
    ("dump-valve", "relief-valve"),
    ("diverter-valve", "relief-valve"),
    ("recirculation-valve", "relief-valve"),
    ("bypass-valve", "relief-valve"),
    ("pop-off-valve", "relief-valve"),
    ("intercooler", "charge-air-cooler"),
    ("aftercooler", "charge-air-cooler"),
    ("mass-air-flow-sensor", "air-meter"),
    ("air-flow-meter", "air-meter"),
    ("turbo", "turbocharger"),
    ("blower", "supercharger"),
    ("throttle-body", "throttle"),
    ("plenum-chamber", "plenum"),
    ("one-way-valve", "check-valve"),
    ("non-return-valve", "check-valve"),
    ("carburetor", "carburettor"),
    ("hose", "pipe"),
];

/// A described part.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its name.
    pub name: Arc<str>,
    /// Where it stands.
    pub route: Route,
    /// Its kind; unknown when the word is missing or wrong.
    pub kind: Field<PartKind>,
    /// What every part may carry.
    pub common: Common,
    /// Size and loss, for kinds that lie on the air path and for parts of unknown kind.
    pub duct: Option<Duct>,
    /// The fields of its own kind.
    pub body: Body,
}

/// All parts by name, in the order of the text, and the names said to be `none`.
#[derive(Clone, Debug, Default)]
pub struct Parts {
    /// The parts.
    pub list: Vec<Part>,
    /// Names that are said to be `none`.
    pub said_none: Vec<Arc<str>>,
}

impl Parts {
    /// The part of a name.
    pub fn named(&self, name: &str) -> Option<&Part> {
        self.list.iter().find(|part| &*part.name == name)
    }

    /// Reads `parts`.
    pub fn read(map: &Map, at: &Route, reading: &mut Reading<'_>) -> Self {
        let mut parts = Self::default();
        for entry in map.iter() {
            let route = at.key(&entry.key.text);
            if says_none(&entry.value) {
                parts.said_none.push(entry.key.text.clone());
            } else {
                parts.list.push(Part::read(&entry.key.text, entry.key.span, &entry.value, &route, reading));
            }
        }
        parts
    }

    /// The schema of `parts`.
    pub fn schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        let kinds: Vec<_> = PartKind::ALL.iter().map(|kind| part_schema(*kind, generator)).collect();
        schemars::json_schema!({
            "type": "object",
            "description": "The parts, each under a name of its own.",
            "additionalProperties": { "anyOf": [{ "const": "none" }, { "type": "object", "required": ["kind"], "oneOf": kinds }] },
        })
    }

    /// The shape of a route below `parts`.
    pub fn shape(&self, steps: &[Step]) -> Option<Shape> {
        let Some((Step::Key(name), rest)) = steps.split_first() else { return Some(Shape::OTHER) };
        if rest.is_empty() || matches!(rest, [Step::Key(key)] if &**key == "kind") {
            return Some(Shape::OTHER);
        }
        let kind = self.named(name).and_then(Part::known_kind);
        part_shape(kind, rest)
    }
}

/// The shape of a route below a part of a kind.
pub fn part_shape(kind: Option<PartKind>, steps: &[Step]) -> Option<Shape> {
    let own = kind.and_then(|kind| kind.body_shape(steps));
    let duct = || kind.is_none_or(PartKind::on_path).then(|| Duct::shape(steps, None)).flatten();
    own.or_else(|| Common::shape(steps, None)).or_else(duct)
}

fn part_schema(kind: PartKind, generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
    let kind_schema = schemars::json_schema!({ "const": kind.word(), "description": kind.doc().trim() });
    let mut properties = vec![("kind", kind_schema)];
    properties.extend(kind.properties(generator));
    if kind.on_path() {
        properties.extend(Duct::properties(generator));
    }
    properties.extend(Common::properties(generator));
    let mut schema = table_schema(kind.doc(), properties);
    if !kind.is_read() {
        schema.insert("additionalProperties".to_owned(), true.into());
    }
    schema
}

impl Part {
    fn read(name: &Arc<str>, key: Span, node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Self {
        let kind_route = at.key("kind");
        let kind_field = |state| Field::new(kind_route.clone(), state);
        let empty_map = Map::default();
        let Some(mut table) = Table::of(node, at, "a part", reading) else {
            let mut table = Table::over(&empty_map, at);
            return Self::assemble(name, at, kind_field(State::Faulty), &mut table, reading);
        };
        table.leave("kind");
        let kind = match node.as_map().and_then(|map| map.get("kind")) {
            None => {
                let help =
                    Some("write `kind: …`; the schema and `tractwright starter` show the kinds".to_owned());
                reading.fault_at(
                    FaultKind::Missing,
                    key,
                    format!("the part `{name}` does not say its kind"),
                    help,
                );
                State::Absent
            }
            Some(entry) => match read_kind(&entry.value, reading) {
                Some(kind) => State::Given(kind),
                None => State::Faulty,
            },
        };
        let part = Self::assemble(name, at, kind_field(kind), &mut table, reading);
        match part.known_kind() {
            Some(kind) if kind.is_read() => table.refuse_unknown_keys(reading),
            _ => table.keep_unknown_keys(reading),
        }
        part
    }

    fn assemble(
        name: &Arc<str>,
        at: &Route,
        kind: Field<PartKind>,
        table: &mut Table<'_>,
        reading: &mut Reading<'_>,
    ) -> Self {
        let known = match kind.state(&crate::known::Unrecorded) {
            State::Given(kind) => Some(*kind),
            _ => None,
        };
        let common = Common::from_table(table, reading);
        let on_path = known.is_none_or(PartKind::on_path);
        let duct = on_path.then(|| Duct::from_table(table, reading));
        let body = match known {
            Some(kind) => kind.read_body(table, reading),
            None => Body::Plain,
        };
        Self { name: name.clone(), route: at.clone(), kind, common, duct, body }
    }

    /// Its kind, if the text could be read; for the reader's own use, unrecorded.
    pub fn known_kind(&self) -> Option<PartKind> {
        match self.kind.state(&crate::known::Unrecorded) {
            State::Given(kind) => Some(*kind),
            _ => None,
        }
    }
}

fn read_kind(node: &Arc<Node>, reading: &mut Reading<'_>) -> Option<PartKind> {
    let Some(scalar) = node.as_scalar() else {
        let message = format!("a kind is one word, but {} stands here", node.kind_word());
        reading.fault(FaultKind::WrongKind, node, message, None);
        return None;
    };
    if let Some(kind) = PartKind::from_word(&scalar.text) {
        return Some(kind);
    }
    let word = scalar.text.to_lowercase().replace([' ', '_'], "-");
    let synonym =
        SYNONYMS.iter().find(|(other, _)| *other == word || other.strip_suffix("-valve") == Some(&word));
    let meant = match synonym {
        Some((_, meant)) => Some(*meant),
        None => nearest(&word, PartKind::ALL.iter().map(|kind| kind.word())),
    };
    let help = match meant {
        Some(word) => format!("did you mean `{word}`?"),
        None => {
            let all: Vec<_> = PartKind::ALL.iter().map(|kind| kind.word()).collect();
            format!("kinds: {}", all.join(", "))
        }
    };
    reading.fault(
        FaultKind::UnknownWord,
        node,
        format!("`{}` is not a kind of part", scalar.text),
        Some(help),
    );
    None
}

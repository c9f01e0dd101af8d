//! The small types that fields are made of: quantities, counts, names, lists, tables over engine speed.

use std::borrow::Cow;
use std::marker::PhantomData;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, Reference, Shape};
use crate::text::{FaultKind, Measure, Node, Quantity, Reference as Against, Route, Step, read_quantity};

/// What a quantity measures, as a type.
pub trait Measured: Clone + std::fmt::Debug + PartialEq + Send + Sync + 'static {
    /// The measure.
    const MEASURE: Measure;
    /// Its name in the schema.
    const NAME: &'static str;
}

macro_rules! measures {
    ($($name:ident),*) => {$(
        #[doc = concat!("Marks a quantity as `", stringify!($name), "`.")]
        #[derive(Clone, Debug, PartialEq)]
        pub struct $name;

        impl Measured for $name {
            const MEASURE: Measure = Measure::$name;
            const NAME: &'static str = stringify!($name);
        }
    )*};
}

measures!(
    Length,
    Area,
    Volume,
    Mass,
    MassFlow,
    Time,
    RotationalSpeed,
    Pressure,
    PressureDifference,
    Temperature,
    Angle,
    Force,
    SpringRate,
    Inertia,
    Ratio
);

/// A quantity of one measure: value in SI units, unit as written, tolerance where one is given.
#[derive(Clone, Debug, PartialEq)]
pub struct Q<M> {
    quantity: Quantity,
    measure: PhantomData<M>,
}

impl<M: Measured> Q<M> {
    /// The value in SI units; a pressure or temperature is on the scale it was written on, see [`Q::absolute`].
    pub fn si(&self) -> f64 {
        self.quantity.si
    }

    /// The quantity as read, with unit and tolerance.
    pub fn quantity(&self) -> &Quantity {
        &self.quantity
    }
}

impl Q<Pressure> {
    /// The absolute pressure in pascals, given the pressure of the surroundings.
    pub fn absolute(&self, site_pressure: f64) -> f64 {
        match self.quantity.reference {
            Against::Gauge => self.quantity.si + site_pressure,
            _ => self.quantity.si,
        }
    }

    /// Whether it was written as an absolute pressure.
    pub fn is_absolute(&self) -> bool {
        self.quantity.reference == Against::Absolute
    }
}

impl<M: Measured> JsonSchema for Q<M> {
    fn schema_name() -> Cow<'static, str> {
        M::NAME.into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        super::schema::quantity_schema(M::MEASURE)
    }
}

impl<M: Measured> Described for Q<M> {
    fn read(node: &Arc<Node>, _: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        let Some(scalar) = node.as_scalar() else {
            let message = format!(
                "{} is one value with its unit, but {} stands here",
                M::MEASURE.word(),
                node.kind_word()
            );
            reading.fault(FaultKind::WrongKind, node, message, None);
            return None;
        };
        match read_quantity(&scalar.text, M::MEASURE) {
            Ok(quantity) => Some(Self { quantity, measure: PhantomData }),
            Err(fault) => {
                reading.fault(fault.kind, node, fault.message, fault.help);
                None
            }
        }
    }

    fn check(&self, node: &Arc<Node>, usual: Option<(&str, &str)>, reading: &mut Reading<'_>) -> bool {
        let Some((low, _)) = usual else { return true };
        let Ok(least) = read_quantity(low, M::MEASURE) else { return true };
        let possible = match least.si {
            low if low > 0.0 => self.si() > 0.0,
            0.0 => self.si() >= 0.0,
            _ => true,
        };
        if !possible {
            let written = crate::text::fault::quoted(&self.quantity.written);
            let least = if least.si > 0.0 { "above 0" } else { "0 or more" };
            let help = Some(format!("{} here is {least}; usual is {low} and up", M::MEASURE.word()));
            reading.fault(FaultKind::OutOfRange, node, format!("{written} cannot be"), help);
        }
        possible
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        steps.is_empty().then_some(Shape { measure: Some(M::MEASURE), usual })
    }
}

/// Defines a scalar type that is read from its text by a function.
macro_rules! text_scalar {
    ($(#[doc = $doc:literal])* $name:ident($inner:ty), $schema:tt, $read:expr) => {
        $(#[doc = $doc])*
        #[derive(Clone, Debug, PartialEq)]
        pub struct $name(pub $inner);

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!($schema)
            }
        }

        impl Described for $name {
            fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
                let read: fn(&Arc<Node>, &Route, &mut Reading<'_>) -> Option<$inner> = $read;
                read(node, at, reading).map(Self)
            }

            fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
                steps.is_empty().then_some(Shape { measure: None, usual })
            }
        }
    };
}

/// The text of a scalar, or a fault that says what is wanted.
pub fn text_of(node: &Arc<Node>, what: &str, reading: &mut Reading<'_>) -> Option<Arc<str>> {
    if let Some(scalar) = node.as_scalar() {
        return Some(scalar.text.clone());
    }
    reading.fault(
        FaultKind::WrongKind,
        node,
        format!("{what} is wanted, but {} stands here", node.kind_word()),
        None,
    );
    None
}

text_scalar!(
    /// Free text.
    Text(Arc<str>),
    { "type": ["string", "number", "boolean"] },
    |node, _, reading| text_of(node, "text", reading)
);

text_scalar!(
    /// A whole number above 0.
    Count(u32),
    { "type": "integer", "minimum": 1, "maximum": 64 },
    |node, _, reading| {
        let text = text_of(node, "a whole number", reading)?;
        match text.parse::<u32>() {
            Ok(count @ 1..=64) => Some(count),
            _ => {
                let message = format!("`{text}` is not a whole number from 1 to 64");
                reading.fault(FaultKind::BadNumber, node, message, None);
                None
            }
        }
    }
);

text_scalar!(
    /// The words `true` or `false`.
    Flag(bool),
    { "type": "boolean" },
    |node, _, reading| {
        let word = super::describe::word_of(node, "a yes-or-no field", &["true", "false"], reading)?;
        Some(&*word == "true")
    }
);

text_scalar!(
    /// The name of a part.
    PartName(Arc<str>),
    { "type": "string", "minLength": 1 },
    |node, at, reading| {
        let name = text_of(node, "the name of a part", reading)?;
        let span = node.used_at.unwrap_or(node.span);
        reading.references.push(Reference { route: at.clone(), span, name: name.clone() });
        Some(name)
    }
);

text_scalar!(
    /// Where a discharge port leads: `air`, or the name of a part.
    Destination(Arc<str>),
    { "type": "string", "minLength": 1 },
    |node, at, reading| {
        let name = text_of(node, "`air` or the name of a part", reading)?;
        if &*name != AIR {
            let span = node.used_at.unwrap_or(node.span);
            reading.references.push(Reference { route: at.clone(), span, name: name.clone() });
        }
        Some(name)
    }
);

/// The destination that is the open air.
pub const AIR: &str = "air";

/// A list; an entry that cannot be read makes the list unreadable, so that nothing is judged on half of it.
#[derive(Clone, Debug, PartialEq)]
pub struct List<T>(pub Vec<T>);

impl<T: Described> JsonSchema for List<T> {
    fn schema_name() -> Cow<'static, str> {
        format!("List of {}", T::schema_name()).into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let items = generator.subschema_for::<T>();
        json_schema!({ "type": "array", "items": items })
    }
}

impl<T: Described> Described for List<T> {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        let Some(list) = node.as_list() else {
            let message = format!("a list is wanted, but {} stands here", node.kind_word());
            reading.fault(FaultKind::WrongKind, node, message, Some("write it as [ …, … ]".to_owned()));
            return None;
        };
        let read: Vec<Option<T>> =
            list.iter().enumerate().map(|(i, item)| T::read(item, &at.index(i), reading)).collect();
        read.into_iter().collect::<Option<Vec<T>>>().map(Self)
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        match steps.split_first() {
            None => Some(Shape { measure: None, usual }),
            Some((_, rest)) => T::shape(rest, usual),
        }
    }
}

/// One entry of a table over engine speed.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeedEntry<M> {
    /// Engine speed in revolutions per second.
    pub speed: f64,
    /// The key as written.
    pub key: Arc<str>,
    /// The value.
    pub value: Q<M>,
}

/// A table over engine speed, straight lines between its entries.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeedTable<M> {
    /// Its entries, by rising speed.
    pub entries: Vec<SpeedEntry<M>>,
}

impl<M: Measured> SpeedTable<M> {
    /// The value at a speed in revolutions per second, `None` outside the table. Its ends hold for speeds that differ
    /// from them by rounding alone.
    pub fn at(&self, speed: f64) -> Option<f64> {
        let ends = [self.entries.first(), self.entries.last()];
        if let Some(end) =
            ends.into_iter().flatten().find(|end| (end.speed - speed).abs() < 1e-9 * speed.abs())
        {
            return Some(end.value.si());
        }
        let above = self.entries.iter().position(|entry| entry.speed >= speed)?;
        let high = self.entries.get(above)?;
        if high.speed == speed {
            return Some(high.value.si());
        }
        let low = self.entries.get(above.checked_sub(1)?)?;
        let share = (speed - low.speed) / (high.speed - low.speed);
        Some(low.value.si() + share * (high.value.si() - low.value.si()))
    }
}

impl<M: Measured> JsonSchema for SpeedTable<M> {
    fn schema_name() -> Cow<'static, str> {
        format!("{}OverEngineSpeed", M::NAME).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let values = generator.subschema_for::<Q<M>>();
        let keys = super::schema::quantity_schema(Measure::RotationalSpeed);
        json_schema!({
            "type": "object",
            "description": "Values over engine speed, as in `4000 rpm: …`; straight lines between them.",
            "propertyNames": keys,
            "additionalProperties": values,
            "minProperties": 1,
        })
    }
}

impl<M: Measured> Described for SpeedTable<M> {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        let Some(map) = node.as_map().filter(|map| !map.is_empty()) else {
            let message =
                format!("a table over engine speed is wanted, but {} stands here", node.kind_word());
            reading.fault(
                FaultKind::WrongKind,
                node,
                message,
                Some("write lines such as `4000 rpm: …`".to_owned()),
            );
            return None;
        };
        let mut entries: Vec<SpeedEntry<M>> = Vec::with_capacity(map.len());
        let mut sound = true;
        for entry in map.iter() {
            let key = &entry.key;
            let speed = match read_quantity(&key.text, Measure::RotationalSpeed) {
                Ok(quantity) => quantity.si,
                Err(fault) => {
                    reading.fault_at(fault.kind, key.span, fault.message, fault.help);
                    sound = false;
                    continue;
                }
            };
            if entries.iter().any(|other| other.speed == speed) {
                let message = format!("the speed {} is given twice", crate::text::fault::quoted(&key.text));
                reading.fault_at(FaultKind::DuplicateKey, key.span, message, None);
                sound = false;
                continue;
            }
            match Q::<M>::read(&entry.value, &at.key(&key.text), reading) {
                Some(value) => entries.push(SpeedEntry { speed, key: key.text.clone(), value }),
                None => sound = false,
            }
        }
        entries.sort_by(|a, b| a.speed.total_cmp(&b.speed));
        sound.then_some(Self { entries })
    }

    fn check(&self, node: &Arc<Node>, usual: Option<(&str, &str)>, reading: &mut Reading<'_>) -> bool {
        let mut sound = true;
        for entry in &self.entries {
            let node = node.get(&entry.key).unwrap_or(node);
            sound &= entry.value.check(node, usual, reading);
        }
        sound
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        match steps {
            [] => Some(Shape { measure: None, usual }),
            [Step::Key(key)] if read_quantity(key, Measure::RotationalSpeed).is_ok() => {
                Some(Shape { measure: Some(M::MEASURE), usual })
            }
            _ => None,
        }
    }
}

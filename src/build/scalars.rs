//! The small types that fields are made of: quantities, counts, names, lists.

use std::borrow::Cow;
use std::marker::PhantomData;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, Reference, Referred, Shape};
use crate::text::fault::quoted;
use crate::text::{FaultKind, Measure, Node, Quantity, Reference as Against, Route, Step, read_quantity};

/// What a quantity measures, as a type.
pub trait Measured: Clone + std::fmt::Debug + PartialEq + Send + Sync + 'static {
    /// The measure.
    const MEASURE: Measure;
    /// Its name in the schema.
    const NAME: &'static str;
}

macro_rules! measured {
    ($($name:ident),* $(,)?) => {$(
        #[doc = concat!("Marks a quantity as `", stringify!($name), "`.")]
        #[derive(Clone, Debug, PartialEq)]
        pub struct $name;

        impl Measured for $name {
            const MEASURE: Measure = Measure::$name;
            const NAME: &'static str = stringify!($name);
        }
    )*};
}

measured!(
    Length,
    Area,
    Volume,
    Mass,
    MassFlow,
    VolumeFlow,
    Time,
    RotationalSpeed,
    Pressure,
    PressureDifference,
    Temperature,
    TemperatureDifference,
    Angle,
    Force,
    SpringRate,
    Inertia,
    Damping,
    Stress,
    Conductance,
    Ratio,
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
        // A name of its own: tables and words of the description may be called as their measure is.
        format!("{}Quantity", M::NAME).into()
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
        let Some((low, high)) = usual else { return true };
        let Ok(least) = read_quantity(low, M::MEASURE) else { return true };
        if super::describe::is_of_shares(high) && self.si() > 1.0 {
            let written = crate::text::fault::quoted(&self.quantity.written);
            let help = Some(format!("a share is at most 100 %; usual here is up to {high}"));
            reading.fault(FaultKind::OutOfRange, node, format!("{written} cannot be"), help);
            return false;
        }
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
    if let Some(scalar) = node.as_scalar().filter(|scalar| !scalar.is_null()) {
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
    /// An octane number.
    Octane(f64),
    { "type": "number", "minimum": 0, "maximum": 150 },
    |node, _, reading| {
        let text = text_of(node, "an octane number", reading)?;
        match text.parse::<f64>() {
            Ok(number) if (0.0..=150.0).contains(&number) => Some(number),
            _ => {
                let message = format!("{} is not an octane number", quoted(&text));
                reading.fault(FaultKind::BadNumber, node, message, Some("write a number alone, as `95`".to_owned()));
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
    /// A day of the calendar, as in 2027-03-31 (ISO 8601). Such texts stand in the order of the days.
    Date(Arc<str>),
    { "type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$" },
    |node, _, reading| {
        let text = text_of(node, "a day", reading)?;
        if is_day(&text) {
            return Some(text);
        }
        let help = Some("write year, month and day, as in 2027-03-31".to_owned());
        reading.fault(FaultKind::BadNumber, node, format!("{} is not a day of the calendar", quoted(&text)), help);
        None
    }
);

/// Whether a text is a day of the calendar in the form of ISO 8601, `2027-03-31`.
pub fn is_day(text: &str) -> bool {
    let figures = |part: &str, count| {
        (part.len() == count && part.bytes().all(|b| b.is_ascii_digit()))
            .then(|| part.parse::<u32>().ok())
            .flatten()
    };
    let mut parts = text.split('-');
    let (Some(year), Some(month), Some(day), None) = (parts.next(), parts.next(), parts.next(), parts.next())
    else {
        return false;
    };
    let (Some(year), Some(month), Some(day)) = (figures(year, 4), figures(month, 2), figures(day, 2)) else {
        return false;
    };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => 0,
    };
    (1..=days).contains(&day)
}

text_scalar!(
    /// The name of a part.
    PartName(Arc<str>),
    { "type": "string", "minLength": 1 },
    |node, at, reading| {
        let name = text_of(node, "the name of a part", reading)?;
        let span = node.used_at.unwrap_or(node.span);
        reading.references.push(Reference::part(at, span, &name));
        Some(name)
    }
);

text_scalar!(
    /// The name of a hose.
    HoseName(Arc<str>),
    { "type": "string", "minLength": 1 },
    |node, at, reading| {
        let name = text_of(node, "the name of a hose", reading)?;
        let span = node.used_at.unwrap_or(node.span);
        reading.references.push(Reference { to: Referred::Hose, ..Reference::part(at, span, &name) });
        Some(name)
    }
);

text_scalar!(
    /// The open air, as `air`, or the name of a part.
    Destination(Arc<str>),
    { "type": "string", "minLength": 1 },
    |node, at, reading| {
        let name = text_of(node, "`air` or the name of a part", reading)?;
        if &*name != AIR {
            let span = node.used_at.unwrap_or(node.span);
            reading.references.push(Reference::part(at, span, &name));
        }
        Some(name)
    }
);

/// The destination that is the open air.
pub const AIR: &str = "air";

/// No list of a description needs more entries; sites, the dearest, are solved one by one.
const MOST_ITEMS: usize = 48;

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
        if list.len() > MOST_ITEMS {
            let message = format!("{} entries stand here, and at most {MOST_ITEMS} are read", list.len());
            reading.fault(FaultKind::TooLarge, node, message, None);
            return None;
        }
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

#[cfg(test)]
mod tests {
    use super::is_day;

    #[test]
    fn only_days_of_the_calendar_are_days() {
        for day in ["2027-03-31", "2024-02-29", "2000-02-29", "1999-12-01"] {
            assert!(is_day(day), "{day}");
        }
        for none in [
            "2027-02-29",
            "1900-02-29",
            "2027-13-01",
            "2027-00-10",
            "2027-04-31",
            "2027-3-31",
            "31-03-2027",
            "+027-03-31",
            "2027-03-31-",
            "",
        ] {
            assert!(!is_day(none), "{none}");
        }
    }
}

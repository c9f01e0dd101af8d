//! Tables of the description: values over engine speed or over flow.

use std::borrow::Cow;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, Shape};
use super::scalars::{MassFlow, Measured, Q, RotationalSpeed};
use crate::text::{FaultKind, Node, Route, Step, read_quantity};

/// What the keys of a table measure.
pub trait Axis: Measured {
    /// What it is called, as in "a table over engine speed".
    const WORDS: &'static str;
    /// A key as one writes it.
    const EXAMPLE: &'static str;
}

impl Axis for RotationalSpeed {
    const WORDS: &'static str = "engine speed";
    const EXAMPLE: &'static str = "4000 rpm";
}

impl Axis for MassFlow {
    const WORDS: &'static str = "flow";
    const EXAMPLE: &'static str = "0.10 kg/s";
}

/// One entry of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct TableEntry<M> {
    /// Where it stands on the axis, in SI units: engine speed in revolutions per second, flow in kg/s.
    pub x: f64,
    /// The key as written.
    pub key: Arc<str>,
    /// The value.
    pub value: Q<M>,
}

/// A curve needs few places; more than these are a slip or an attack.
const MOST_ENTRIES: usize = 200;

/// A table, straight lines between its entries.
#[derive(Clone, Debug, PartialEq)]
pub struct TableOver<K, M> {
    /// Its entries, by rising key.
    pub entries: Vec<TableEntry<M>>,
    axis: std::marker::PhantomData<K>,
}

/// Values over engine speed.
pub type SpeedTable<M> = TableOver<RotationalSpeed, M>;
/// Values over flow.
pub type FlowTable<M> = TableOver<MassFlow, M>;

impl<K, M: Measured> TableOver<K, M> {
    /// The value at a place of the axis in SI units, `None` outside the table. Its ends hold for places that differ
    /// from them by rounding alone.
    pub fn at(&self, x: f64) -> Option<f64> {
        let ends = [self.entries.first(), self.entries.last()];
        if let Some(end) = ends.into_iter().flatten().find(|end| (end.x - x).abs() < 1e-9 * x.abs()) {
            return Some(end.value.si());
        }
        let above = self.entries.iter().position(|entry| entry.x >= x)?;
        let high = self.entries.get(above)?;
        if high.x == x {
            return Some(high.value.si());
        }
        let low = self.entries.get(above.checked_sub(1)?)?;
        let share = (x - low.x) / (high.x - low.x);
        Some(low.value.si() + share * (high.value.si() - low.value.si()))
    }
}

impl<K: Axis, M: Measured> JsonSchema for TableOver<K, M> {
    fn schema_name() -> Cow<'static, str> {
        format!("{}Over{}", M::NAME, K::NAME).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let values = generator.subschema_for::<Q<M>>();
        let keys = super::schema::quantity_schema(K::MEASURE);
        let words = K::WORDS;
        let example = K::EXAMPLE;
        json_schema!({
            "type": "object",
            "description": format!("Values over {words}, as in `{example}: …`; straight lines between them."),
            "propertyNames": keys,
            "additionalProperties": values,
            "minProperties": 1,
        })
    }
}

impl<K: Axis, M: Measured> Described for TableOver<K, M> {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        let Some(map) = node.as_map().filter(|map| !map.is_empty()) else {
            let message =
                format!("a table over {} is wanted, but {} stands here", K::WORDS, node.kind_word());
            reading.fault(
                FaultKind::WrongKind,
                node,
                message,
                Some(format!("write lines such as `{}: …`", K::EXAMPLE)),
            );
            return None;
        };
        if map.len() > MOST_ENTRIES {
            let message = format!("{} entries stand here, and at most {MOST_ENTRIES} are read", map.len());
            reading.fault(FaultKind::TooLarge, node, message, None);
            return None;
        }
        let mut entries: Vec<TableEntry<M>> = Vec::with_capacity(map.len());
        let mut sound = true;
        for entry in map.iter() {
            let key = &entry.key;
            let x = match read_quantity(&key.text, K::MEASURE) {
                Ok(quantity) => quantity.si,
                Err(fault) => {
                    reading.fault_at(fault.kind, key.span, fault.message, fault.help);
                    sound = false;
                    continue;
                }
            };
            if x < 0.0 {
                let message = format!("{} cannot be", crate::text::fault::quoted(&key.text));
                reading.fault_at(FaultKind::OutOfRange, key.span, message, None);
                sound = false;
                continue;
            }
            if entries.iter().any(|other| other.x == x) {
                let message =
                    format!("the {} {} is given twice", K::WORDS, crate::text::fault::quoted(&key.text));
                reading.fault_at(FaultKind::DuplicateKey, key.span, message, None);
                sound = false;
                continue;
            }
            match Q::<M>::read(&entry.value, &at.key(&key.text), reading) {
                Some(value) => entries.push(TableEntry { x, key: key.text.clone(), value }),
                None => sound = false,
            }
        }
        entries.sort_by(|a, b| a.x.total_cmp(&b.x));
        sound.then_some(Self { entries, axis: std::marker::PhantomData })
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
            [Step::Key(key)] if read_quantity(key, K::MEASURE).is_ok() => {
                Some(Shape { measure: Some(M::MEASURE), usual })
            }
            _ => None,
        }
    }
}

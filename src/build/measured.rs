//! What was measured after fitting.

use std::borrow::Cow;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, Shape, described, words};
use super::scalars::{List, PartName, Q, RotationalSpeed, Text, text_of};
use super::schema::quantity_schema;
use crate::known::{Field, Known, Reads, State, Unrecorded};
use crate::text::{Measure, Node, Part, Quantity, QuantityFault, Route, Step, mark, read_quantity};

described! {
    /// A measured value, taken at full throttle.
    pub struct Measurement ("a measurement") {
        /// The part at which it was taken; of a sensor, the air is that of the part that carries it.
        part = "part": PartName,
        /// What was measured.
        quantity = "quantity": MeasuredQuantity,
        /// The engine speed at which it was taken; that of an operating point, else nothing is there to compare with.
        engine_speed = "engine-speed": Q<RotationalSpeed>,
        /// The value, with its tolerance where it is known, as in `4.2 kPa ± 0.2 kPa`.
        value = "value": MeasuredValue,
        /// The name of the site at which it was taken, `home` for the build's own.
        site = "site": Text,
    }
}

words! {
    /// What was measured. Pressures and temperatures are taken as total ones.
    pub enum MeasuredQuantity ("what was measured") {
        /// The pressure ahead of the part less that behind it.
        PressureLoss = "pressure-loss",
        /// The pressure ahead of the part.
        PressureIn = "pressure-in",
        /// The pressure behind the part.
        PressureOut = "pressure-out",
        /// The mass flow through the part.
        MassFlow = "mass-flow",
        /// The temperature ahead of the part.
        TemperatureIn = "temperature-in",
        /// The temperature behind the part.
        TemperatureOut = "temperature-out",
    }
}

/// A measured value as written; which units fit it follows from what was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredValue(pub Arc<str>);

/// What can be measured.
const MEASURES: [Measure; 4] =
    [Measure::PressureDifference, Measure::Pressure, Measure::MassFlow, Measure::Temperature];

impl JsonSchema for MeasuredValue {
    fn schema_name() -> Cow<'static, str> {
        "MeasuredValue".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let each = MEASURES.map(quantity_schema);
        json_schema!({ "anyOf": each })
    }
}

impl Described for MeasuredValue {
    fn read(node: &Arc<Node>, _: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        text_of(node, "a measured value with its unit", reading).map(Self)
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        steps.is_empty().then_some(Shape { measure: None, usual })
    }
}

impl MeasuredQuantity {
    /// What its value measures.
    pub fn measure(self) -> Measure {
        match self {
            Self::PressureLoss => Measure::PressureDifference,
            Self::PressureIn | Self::PressureOut => Measure::Pressure,
            Self::MassFlow => Measure::MassFlow,
            Self::TemperatureIn | Self::TemperatureOut => Measure::Temperature,
        }
    }
}

impl Measurement {
    /// The value, read as what was measured; open where either is not given or they do not fit each other.
    pub fn read_value(&self, reads: &dyn Reads) -> Known<Quantity> {
        self.quantity.get(reads).zip(self.value.get(reads)).and_then(|(quantity, MeasuredValue(text))| {
            let read = read_quantity(text, quantity.measure());
            read.map_or_else(|_| Known::missing(self.value.route()), Known::Is)
        })
    }

    fn fault(&self) -> Option<QuantityFault> {
        let given = (self.quantity.state(&Unrecorded), self.value.state(&Unrecorded));
        let (State::Given(quantity), State::Given(MeasuredValue(text))) = given else { return None };
        read_quantity(text, quantity.measure()).err()
    }
}

/// Tells the values that are none of what was measured: their field alone cannot say which units fit.
pub(super) fn check(field: &Field<List<Measurement>>, root: &Arc<Node>, reading: &mut Reading<'_>) {
    let State::Given(List(measurements)) = field.state(&Unrecorded) else { return };
    for measurement in measurements {
        if let Some(QuantityFault { kind, message, help }) = measurement.fault() {
            let span = mark(root, measurement.value.route(), Part::Value).span;
            reading.fault_at(kind, span, message, help);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Build;
    use super::super::files::{DiskLoader, Files};
    use crate::text::{Limits, parse};

    fn faults(measurement: &str) -> Vec<String> {
        let here = std::path::Path::new(".");
        let files =
            Files::new(Box::new(DiskLoader::new(here, here, 1 << 20).expect("here")), Limits::default());
        let text = format!(
            "format: 1\nparts: {{ a: {{ kind: pipe }} }}\nmeasurements: [ {{ part: a, {measurement} }} ]"
        );
        let file = files.add("build.yaml", &text);
        let root = parse(file, &text, files.limits()).root.expect("a tree");
        Build::read(file, &root, &files).faults.into_iter().map(|fault| fault.message).collect()
    }

    #[test]
    fn a_value_fits_what_was_measured() {
        for fine in [
            "quantity: pressure-loss, value: 4.2 kPa ± 5 %",
            "quantity: pressure-out, value: 0.9 bar gauge",
            "quantity: mass-flow, value: 25 lb/min",
            "quantity: temperature-in, value: 120 degC",
            "quantity: mass-flow",
            "value: 4.2 kPa",
        ] {
            assert_eq!(faults(fine), [] as [String; 0], "{fine}");
        }
        assert_eq!(faults("quantity: mass-flow, value: 4.2 kPa"), ["`kPa` is no unit of a mass flow"]);
        assert_eq!(faults("quantity: pressure-in, value: 98 kPa").len(), 1, "gauge or absolute");
        assert_eq!(faults("quantity: pressure, value: 98 kPa abs").len(), 1, "no such quantity");
    }
}

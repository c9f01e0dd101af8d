//! Compressor maps as text: CSV with units in the header, reference state in comment lines.

use std::borrow::Cow;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::describe::{Described, Reading, Shape};
use super::files::MapOutcome;
use super::scalars::{MassFlow, Q, Ratio, text_of};
use crate::text::{
    Fault, FaultKind, FileId, Measure, Node, Route, Span, Step, Unit, nearest, read_quantity, unit,
};

/// One line of a map's file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MapRow {
    /// Corrected rotor speed in revolutions per second.
    pub speed: f64,
    /// Corrected flow in kg/s.
    pub flow: f64,
    /// Pressure ratio.
    pub ratio: f64,
    /// Isentropic efficiency, if the file has that column.
    pub efficiency: Option<f64>,
    /// Where the line stands.
    pub span: Span,
}

/// A map as its file has it.
#[derive(Clone, Debug)]
pub struct CompressorTable {
    /// Its file.
    pub file: FileId,
    /// Its lines.
    pub rows: Vec<MapRow>,
    /// Temperature, in kelvin, to which flow and speed are corrected, if the file says it.
    pub reference_temperature: Option<f64>,
    /// Absolute pressure, in pascals, to which flow is corrected, if the file says it.
    pub reference_pressure: Option<f64>,
    /// What is wrong in the text.
    pub faults: Vec<Fault>,
}

impl CompressorTable {
    /// A table of nothing but one fault.
    pub fn unreadable(file: FileId, fault: Fault) -> Self {
        Self {
            file,
            rows: Vec::new(),
            reference_temperature: None,
            reference_pressure: None,
            faults: vec![fault],
        }
    }
}

const COLUMNS: [(&str, Measure); 4] = [
    ("corrected-speed", Measure::RotationalSpeed),
    ("corrected-flow", Measure::MassFlow),
    ("pressure-ratio", Measure::Ratio),
    ("efficiency", Measure::Ratio),
];

/// A map has few columns; what stands behind these is not looked at.
const MOST_COLUMNS: usize = 16;

/// So many faulty lines are told of one map.
const MOST_FAULTS: usize = 50;

/// Which column of the file holds what, and in which unit.
struct Layout {
    columns: [Option<(usize, Option<&'static Unit>)>; 4],
}

/// Reads a map's text; every fault is kept in the table.
pub fn read(file: FileId, text: &str) -> CompressorTable {
    let mut table = CompressorTable {
        file,
        rows: Vec::new(),
        reference_temperature: None,
        reference_pressure: None,
        faults: Vec::new(),
    };
    read_comments(text, &mut table);
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut layout: Option<Layout> = None;
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(_) => {
                let span = line_span(file, text, 0, true);
                table.faults.push(Fault::new(
                    FaultKind::Map,
                    span,
                    "the text is not a table of comma-separated values",
                ));
                break;
            }
        };
        let start = record.position().map_or(0, |position| usize::try_from(position.byte()).unwrap_or(0));
        let span = line_span(file, text, start, true);
        match &layout {
            None => match read_header(&record, span, text, &mut table.faults) {
                Some(read) => layout = Some(read),
                None => return table,
            },
            Some(_) if table.faults.len() >= MOST_FAULTS => break,
            Some(layout) => {
                if let Some(row) = read_row(&record, layout, span, &mut table.faults) {
                    table.rows.push(row);
                }
            }
        }
    }
    if layout.is_none() {
        table.faults.push(Fault::new(
            FaultKind::Map,
            line_span(file, text, 0, true),
            "the map's file has no header line",
        ));
    }
    table
}

fn read_comments(text: &str, table: &mut CompressorTable) {
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let span = line_span(table.file, text, start, false);
        start += line.len();
        let Some((key, value)) = line.trim().strip_prefix('#').and_then(|rest| rest.split_once(':')) else {
            continue;
        };
        let (measure, target) = match key.trim() {
            "reference-temperature" => (Measure::Temperature, &mut table.reference_temperature),
            "reference-pressure" => (Measure::Pressure, &mut table.reference_pressure),
            _ => continue,
        };
        match read_quantity(value.trim(), measure) {
            Ok(quantity) => *target = Some(quantity.si),
            Err(fault) => table.faults.push(Fault {
                kind: fault.kind,
                span,
                message: fault.message,
                help: fault.help,
                also: Vec::new(),
            }),
        }
    }
}

fn read_header(
    record: &csv::StringRecord,
    span: Span,
    text: &str,
    faults: &mut Vec<Fault>,
) -> Option<Layout> {
    let mut layout = Layout { columns: [None; 4] };
    let names = COLUMNS.map(|(name, _)| name);
    for (index, cell) in record.iter().enumerate().take(MOST_COLUMNS) {
        let (name, bracket) = match cell.split_once('[') {
            Some((name, rest)) => (name.trim(), Some(rest.trim_end_matches(']').trim())),
            None => (cell, None),
        };
        let at = cell_span(span, text, cell);
        let known = COLUMNS.iter().zip(layout.columns.iter_mut()).find(|((known, _), _)| *known == name);
        let Some(((_, measure), slot)) = known else {
            let help = match nearest(name, names) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("columns: {}", names.join(", ")),
            };
            faults.push(
                Fault::new(FaultKind::Map, at, format!("`{name}` is not a column of a map")).with_help(help),
            );
            continue;
        };
        let column_unit = bracket.and_then(unit);
        let fits = match (column_unit, bracket) {
            (Some(column_unit), _) => column_unit.fits(*measure),
            (None, Some(_)) => false,
            (None, None) => measure.takes_bare_number(),
        };
        if fits {
            *slot = Some((index, column_unit));
        } else {
            let message = format!("the column `{name}` needs a unit that fits {}", measure.word());
            let help = format!(
                "write `{name} [{}]`; units: {}",
                measure.usual_units()[0],
                measure.usual_units().join(", ")
            );
            faults.push(Fault::new(FaultKind::Map, at, message).with_help(help));
        }
    }
    let missing: Vec<_> = names
        .iter()
        .zip(&layout.columns)
        .take(3)
        .filter(|(_, slot)| slot.is_none())
        .map(|(name, _)| *name)
        .collect();
    if !missing.is_empty() {
        if faults.is_empty() {
            let message = format!("the map has no column {}", missing.join(", "));
            faults.push(Fault::new(FaultKind::Map, span, message));
        }
        return None;
    }
    Some(layout)
}

fn read_row(
    record: &csv::StringRecord,
    layout: &Layout,
    span: Span,
    faults: &mut Vec<Fault>,
) -> Option<MapRow> {
    let mut values = [None; 4];
    for ((slot, value), (name, _)) in layout.columns.iter().zip(values.iter_mut()).zip(COLUMNS) {
        let Some((index, column_unit)) = slot else { continue };
        let cell = record.get(*index).unwrap_or("");
        match cell.parse::<f64>() {
            Ok(number) if number.is_finite() => {
                *value = Some(column_unit.map_or(number, |unit| unit.to_si(number)))
            }
            _ => {
                let shown =
                    if cell.is_empty() { "nothing".to_owned() } else { crate::text::fault::quoted(cell) };
                let message = format!("{shown} stands in the column `{name}`, where a number is wanted");
                faults.push(Fault::new(FaultKind::Map, span, message));
                return None;
            }
        }
    }
    let [speed, flow, ratio, efficiency] = values;
    Some(MapRow { speed: speed?, flow: flow?, ratio: ratio?, efficiency, span })
}

/// The first line of a text from a byte on that is not blank, and no comment if those are to be skipped, without its end.
fn line_span(file: FileId, text: &str, byte: usize, skip_comments: bool) -> Span {
    let mut start = byte.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    // A record's place is where the search for it began: ahead of blank lines and comments.
    for line in text.get(start..).unwrap_or("").split_inclusive('\n') {
        let shown = line.trim_end_matches(['\n', '\r']);
        let passed_over = shown.is_empty() || (skip_comments && shown.starts_with('#'));
        if !passed_over {
            return Span::new(file, start, start + shown.len());
        }
        start += line.len();
    }
    let end = text.len().max(1);
    Span::new(file, end - 1, end)
}

/// A cell within its line, or the whole line when it cannot be found.
fn cell_span(line: Span, text: &str, cell: &str) -> Span {
    let found = line.slice(text).and_then(|whole| whole.find(cell)).filter(|_| !cell.is_empty());
    match found {
        Some(offset) => Span::new(line.file, line.start + offset, line.start + offset + cell.len()),
        None => line,
    }
}

/// A map named by a build: the file's name as written, and what was read from it.
#[derive(Clone, Debug)]
pub struct MapFile {
    /// The name as written.
    pub name: Arc<str>,
    /// What the file holds.
    pub table: Arc<CompressorTable>,
}

impl JsonSchema for MapFile {
    fn schema_name() -> Cow<'static, str> {
        "MapFile".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "description": "A CSV file, relative to the build.", "minLength": 1 })
    }
}

impl Described for MapFile {
    fn read(node: &Arc<Node>, _: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        let name = text_of(node, "the name of a CSV file", reading)?;
        match reading.files.map(&name) {
            MapOutcome::NoFile(fault) => {
                let message =
                    format!("the map {} cannot be read: {}", crate::text::fault::quoted(&name), fault.0);
                reading.fault(FaultKind::File, node, message, None);
                None
            }
            MapOutcome::Read(table) if table.faults.is_empty() => Some(Self { name, table }),
            MapOutcome::Read(table) => {
                let used = node.used_at.unwrap_or(node.span);
                for fault in &table.faults {
                    reading.faults.push(fault.clone().with_also(used, "named here"));
                }
                None
            }
        }
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        steps.is_empty().then_some(Shape { measure: None, usual })
    }
}

/// A surge line alone: pairs of corrected flow and pressure ratio, by rising flow.
#[derive(Clone, Debug, PartialEq)]
pub struct SurgeLine(pub Vec<(f64, f64)>);

impl JsonSchema for SurgeLine {
    fn schema_name() -> Cow<'static, str> {
        "SurgeLine".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let flow = generator.subschema_for::<Q<MassFlow>>();
        let ratio = generator.subschema_for::<Q<Ratio>>();
        json_schema!({
            "type": "array",
            "minItems": 2,
            "items": { "type": "array", "prefixItems": [flow, ratio], "minItems": 2, "maxItems": 2 },
        })
    }
}

impl Described for SurgeLine {
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self> {
        let Some(list) = node.as_list().filter(|list| list.len() >= 2) else {
            let message = "a surge line is a list of at least two pairs [flow, ratio]";
            reading.fault(FaultKind::WrongKind, node, message, None);
            return None;
        };
        let mut pairs: Vec<(f64, f64)> = Vec::with_capacity(list.len());
        let mut sound = true;
        for (i, item) in list.iter().enumerate() {
            let at = at.index(i);
            let pair = match item.as_list() {
                Some([flow, ratio]) => Q::<MassFlow>::read(flow, &at.index(0), reading)
                    .zip(Q::<Ratio>::read(ratio, &at.index(1), reading))
                    .map(|(flow, ratio)| (flow.si(), ratio.si())),
                _ => {
                    reading.fault(FaultKind::WrongKind, item, "a pair [flow, ratio] is wanted here", None);
                    None
                }
            };
            match pair {
                Some(pair) if pairs.last().is_none_or(|last| last.0 < pair.0 && last.1 < pair.1) => {
                    pairs.push(pair)
                }
                Some(_) => {
                    let message = "flow and ratio of a surge line rise from pair to pair";
                    reading.fault(FaultKind::Order, item, message, None);
                    sound = false;
                }
                None => sound = false,
            }
        }
        sound.then_some(Self(pairs))
    }

    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape> {
        steps.is_empty().then_some(Shape { measure: None, usual })
    }
}

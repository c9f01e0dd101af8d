//! The list as comma-separated rows: one a joint or hose, units in the header.

use super::{
    CouplerLine, Highest, HoseEnd, HoseLine, Join, JointLine, JointList, Reducer, Said, ToSay, celsius,
    millimetres,
};
use crate::output::safe_text::one_line;

/// A column: its header, its cell for a joint, its cell for a hose.
struct Column(&'static str, fn(&JointLine) -> String, fn(&HoseLine) -> String);

/// The columns behind the build's path. What does not apply to a row, or is not described, is left empty; the last
/// column names what is not.
static COLUMNS: &[Column] = &[
    Column("item", |_| "joint".to_owned(), |_| "hose".to_owned()),
    Column("route", |joint| joint.route.to_string(), |hose| hose.route.to_string()),
    Column("from", |joint| joint.upstream.to_string(), |hose| end(&hose.ends[0])),
    Column("to", |joint| joint.downstream.to_string(), |hose| end(&hose.ends[1])),
    Column("from-bore [mm]", |joint| mm(joint.bores[0]), nothing),
    Column("to-bore [mm]", |joint| mm(joint.bores[1]), nothing),
    Column("step [mm]", |joint| mm(joint.step()), nothing),
    Column("from-outside [mm]", |joint| mm(joint.outsides[0]), nothing),
    Column("to-outside [mm]", |joint| mm(joint.outsides[1]), nothing),
    Column("joined-by", joined_by, nothing),
    Column("bore [mm]", |joint| size(joint, |coupler| &coupler.bore), |hose| said_mm(&hose.bore)),
    Column("length [mm]", |_| String::new(), |hose| said_mm(&hose.length)),
    Column("gap [mm]", |joint| size(joint, |coupler| &coupler.gap), nothing),
    Column("overlap [mm]", |joint| size(joint, |coupler| &coupler.overlap), nothing),
    Column("material", |joint| word(joint, |coupler| words(&coupler.material)), |hose| words(&hose.material)),
    Column("form", |joint| word(joint, |coupler| words(&coupler.form)), nothing),
    Column("bead", |joint| word(joint, |coupler| words(&coupler.bead)), nothing),
    Column("clamp", |joint| word(joint, |coupler| words(&coupler.clamp)), nothing),
    Column("clamps [1]", |joint| joint.clamps().map_or_else(String::new, |count| count.to_string()), nothing),
    Column("tied", |joint| word(joint, |coupler| words(&coupler.tied)), nothing),
    Column("reducer", |joint| joint.reducer().word().to_owned(), nothing),
    Column("reducer-from [mm]", |joint| mm(reduced(joint).map(|(from, _)| from)), nothing),
    Column("reducer-to [mm]", |joint| mm(reduced(joint).map(|(_, to)| to)), nothing),
    Column("pressure [kPa above the air outside]", |joint| peak(&joint.pressure, |p| p / 1e3), nothing),
    Column("pressure-complete", |joint| joint.pressure.complete.to_string(), nothing),
    Column("depression [kPa below the air outside]", |joint| peak(&joint.depression, |p| p / 1e3), nothing),
    Column("temperature [degC]", |joint| peak(&joint.temperature, celsius), nothing),
    Column("temperature-complete", |joint| joint.temperature.complete.to_string(), nothing),
    Column("restrictors [mm]", |_| String::new(), restrictors),
    Column("through", |_| String::new(), |hose| hose.through.join("; ")),
    Column("tees [mm]", |_| String::new(), tees),
    Column("to-measure", |joint| routes(&joint.to_say), |hose| routes(&hose.to_say)),
];

/// The list of a build under its path.
pub fn table(path: &str, list: &JointList) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let header = std::iter::once("build".to_owned()).chain(COLUMNS.iter().map(|column| column.0.to_owned()));
    let mut rows: Vec<Vec<String>> = vec![header.collect()];
    let row =
        |cells: &mut dyn Iterator<Item = String>| std::iter::once(path.to_owned()).chain(cells).collect();
    rows.extend(list.joints.iter().map(|joint| row(&mut COLUMNS.iter().map(|column| column.1(joint)))));
    rows.extend(list.hoses.iter().map(|hose| row(&mut COLUMNS.iter().map(|column| column.2(hose)))));
    for row in rows {
        // Writing to memory does not fail, and all rows are as long as the header.
        let _ = writer.write_record(row.iter().map(|cell| plain(cell)));
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

fn nothing(_: &HoseLine) -> String {
    String::new()
}

fn end(end: &Said<HoseEnd>) -> String {
    end.given().map_or_else(String::new, HoseEnd::words)
}

fn mm(length: Option<f64>) -> String {
    length.map_or_else(String::new, |length| millimetres(length).to_string())
}

fn said_mm(length: &Said<f64>) -> String {
    mm(length.given().copied())
}

fn words<T: ToString>(said: &Said<T>) -> String {
    match said {
        Said::Is(word) => word.to_string(),
        Said::None => "none".to_owned(),
        Said::Open => String::new(),
    }
}

fn coupler(joint: &JointLine) -> Option<&CouplerLine> {
    match &joint.join {
        Join::Coupler(coupler) => Some(coupler),
        _ => None,
    }
}

fn size(joint: &JointLine, pick: fn(&CouplerLine) -> &Said<f64>) -> String {
    coupler(joint).map_or_else(String::new, |coupler| said_mm(pick(coupler)))
}

fn word(joint: &JointLine, pick: fn(&CouplerLine) -> String) -> String {
    coupler(joint).map_or_else(String::new, pick)
}

fn joined_by(joint: &JointLine) -> String {
    match &joint.join {
        Join::Flange(flange) => format!("{} flange", flange.word()),
        other => other.word().to_owned(),
    }
}

fn reduced(joint: &JointLine) -> Option<(f64, f64)> {
    match joint.reducer() {
        Reducer::Needed(from, to) => Some((from, to)),
        _ => None,
    }
}

fn peak(highest: &Highest, unit: fn(f64) -> f64) -> String {
    highest.value.as_ref().map_or_else(String::new, |peak| format!("{:.3}", unit(peak.value)))
}

fn restrictors(hose: &HoseLine) -> String {
    let each = hose.restrictors.iter().map(|bore| bore.map_or_else(|| "?".to_owned(), |bore| mm(Some(bore))));
    each.collect::<Vec<_>>().join("; ")
}

fn tees(hose: &HoseLine) -> String {
    let each = hose.tees.iter().map(|(name, at)| match at {
        Some(at) => format!("{name} at {}", millimetres(*at)),
        None => format!("{name} at ?"),
    });
    each.collect::<Vec<_>>().join("; ")
}

fn routes(all: &[ToSay]) -> String {
    all.iter().map(|one| one.route.to_string()).collect::<Vec<_>>().join("; ")
}

/// Text that no spreadsheet takes for a formula, on one line. Numbers keep their sign.
fn plain(cell: &str) -> String {
    let cell = one_line(cell);
    let harmless = cell.parse::<f64>().is_ok() || !cell.starts_with(['=', '+', '-', '@']);
    if harmless { cell } else { format!("'{cell}") }
}

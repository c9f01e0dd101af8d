//! The list as JSON: our own format, versioned in its first field, every number with its SI unit.

use schemars::{JsonSchema, Schema};
use serde::Serialize;

use super::{CouplerLine, Highest, HoseEnd, HoseLine, Join, JointLine, JointList, Reducer, Said, ToSay};
use crate::output::json::{NumberEntry, si_number};
use crate::output::steady::rpm;
use crate::text::Dim;

/// The version of this format.
pub const FORMAT: &str = "tractwright-joints-1";

/// The joints and hoses of a build.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct JointsDocument {
    /// Name and version of the format.
    pub format: &'static str,
    /// Version of the program.
    pub program: &'static str,
    /// Path of the file.
    pub file: String,
    /// Title of the build, where it has one.
    pub title: Option<String>,
    /// Each pair of neighbours of the air path once.
    pub joints: Vec<JointEntry>,
    /// The hoses in the order of the text.
    pub hoses: Vec<HoseEntry>,
    /// What to measure or write down before ordering, each place once.
    pub to_measure: Vec<ToMeasureEntry>,
}

/// A joint.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct JointEntry {
    /// Where it is described, or would be.
    pub route: String,
    /// The part ahead of it.
    pub upstream: String,
    /// The part behind it.
    pub downstream: String,
    /// Inside diameter of the upstream part's outlet; null where it is not given.
    pub upstream_bore: Option<NumberEntry>,
    /// Inside diameter of the downstream part's inlet.
    pub downstream_bore: Option<NumberEntry>,
    /// Downstream less upstream bore.
    pub step: Option<NumberEntry>,
    /// Outside diameter of the upstream part, where its wall is given.
    pub upstream_outside: Option<NumberEntry>,
    /// Outside diameter of the downstream part.
    pub downstream_outside: Option<NumberEntry>,
    /// coupler, soft-part (a neighbour is the soft piece), flange or not-described.
    pub joined_by: &'static str,
    /// How a flange is held.
    pub flange: Option<&'static str>,
    /// The coupler, where one joins the two.
    pub coupler: Option<CouplerEntry>,
    /// How many clamps it takes; null where nothing is described.
    pub clamps: Option<usize>,
    /// needed, not-needed, unknown (a bore is not given) or flanged.
    pub reducer: &'static str,
    /// Both bores of the reducer that is needed, the upstream one first.
    pub reducer_bores: Option<[NumberEntry; 2]>,
    /// Highest total pressure above the air outside, over steady points at full throttle and sites.
    pub pressure: HighestEntry,
    /// Deepest total pressure below the air outside; negative where it never falls below.
    pub depression: HighestEntry,
    /// Highest total temperature.
    pub temperature: HighestEntry,
    /// What to measure or write down of it.
    pub to_measure: Vec<ToMeasureEntry>,
}

/// A coupler. Null is not described; the word `none` is said to be none.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct CouplerEntry {
    /// Inside diameter.
    pub bore: Option<NumberEntry>,
    /// Bare stretch between the pipe ends.
    pub gap: Option<NumberEntry>,
    /// Overlap on each side.
    pub overlap: Option<NumberEntry>,
    /// What it is made of.
    pub material: Option<String>,
    /// straight or hump.
    pub form: Option<String>,
    /// The bead on the pipe ends.
    pub bead: Option<String>,
    /// The kind of clamp.
    pub clamp: Option<String>,
    /// Whether a tie takes the thrust.
    pub tied: Option<bool>,
}

/// The highest of a quantity.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct HighestEntry {
    /// The value; null where nothing is computed.
    pub value: Option<NumberEntry>,
    /// At which site.
    pub site: Option<String>,
    /// At which engine speed.
    pub engine_speed: Option<NumberEntry>,
    /// Whether every point is computed; else it may be higher.
    pub complete: bool,
}

/// A hose.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct HoseEntry {
    /// Where it is described.
    pub route: String,
    /// What one end sits on: a part, `air`, or a tee in another hose; null where it is not given.
    pub from: Option<String>,
    /// What the other end sits on.
    pub to: Option<String>,
    /// Length.
    pub length: Option<NumberEntry>,
    /// Inside diameter.
    pub bore: Option<NumberEntry>,
    /// What it is made of.
    pub material: Option<String>,
    /// Bores of its restrictors; null for one without.
    pub restrictors: Vec<Option<NumberEntry>>,
    /// Parts that sit in it.
    pub through: Vec<String>,
    /// Hoses that tee off it.
    pub tees: Vec<TeeEntry>,
    /// What to measure or write down of it.
    pub to_measure: Vec<ToMeasureEntry>,
}

/// A tee in a hose.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct TeeEntry {
    /// The hose that tees off.
    pub hose: String,
    /// Distance from the `from` of the hose that carries it.
    pub at: Option<NumberEntry>,
}

/// What to measure or write down.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct ToMeasureEntry {
    /// Where it would stand.
    pub route: String,
    /// What it is.
    pub what: String,
}

/// The list of a build as one document, ending in a line end.
pub fn document(path: &str, title: Option<&str>, list: &JointList) -> String {
    let document = JointsDocument {
        format: FORMAT,
        program: env!("CARGO_PKG_VERSION"),
        file: path.to_owned(),
        title: title.map(str::to_owned),
        joints: list.joints.iter().map(joint_entry).collect(),
        hoses: list.hoses.iter().map(hose_entry).collect(),
        to_measure: list.to_say().into_iter().map(to_measure).collect(),
    };
    // A value of plain strings, numbers and lists always serialises.
    let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
    text.push('\n');
    text
}

/// The JSON Schema of the document.
pub fn schema() -> Schema {
    schemars::generate::SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<JointsDocument>()
}

fn metres(length: f64) -> NumberEntry {
    // The digits that adding and taking away leave are no part of what was measured.
    si_number((length * 1e9).round() / 1e9, Dim::LENGTH)
}

fn joint_entry(joint: &JointLine) -> JointEntry {
    let [upstream, downstream] = joint.bores;
    let [outside_up, outside_down] = joint.outsides;
    let reducer = joint.reducer();
    JointEntry {
        route: joint.route.to_string(),
        upstream: joint.upstream.to_string(),
        downstream: joint.downstream.to_string(),
        upstream_bore: upstream.map(metres),
        downstream_bore: downstream.map(metres),
        step: joint.step().map(metres),
        upstream_outside: outside_up.map(metres),
        downstream_outside: outside_down.map(metres),
        joined_by: joint.join.word(),
        flange: match &joint.join {
            Join::Flange(flange) => Some(flange.word()),
            _ => None,
        },
        coupler: match &joint.join {
            Join::Coupler(coupler) => Some(coupler_entry(coupler)),
            _ => None,
        },
        clamps: joint.clamps(),
        reducer: reducer.word(),
        reducer_bores: match reducer {
            Reducer::Needed(from, to) => Some([metres(from), metres(to)]),
            _ => None,
        },
        pressure: highest(&joint.pressure, Dim::PRESSURE),
        depression: highest(&joint.depression, Dim::PRESSURE),
        temperature: highest(&joint.temperature, Dim::TEMPERATURE),
        to_measure: joint.to_say.iter().map(to_measure).collect(),
    }
}

fn coupler_entry(coupler: &CouplerLine) -> CouplerEntry {
    CouplerEntry {
        bore: said_metres(&coupler.bore),
        gap: said_metres(&coupler.gap),
        overlap: said_metres(&coupler.overlap),
        material: words(&coupler.material),
        form: words(&coupler.form),
        bead: words(&coupler.bead),
        clamp: words(&coupler.clamp),
        tied: match coupler.tied {
            Said::Is(tied) => Some(tied),
            Said::None => Some(false),
            Said::Open => None,
        },
    }
}

fn hose_entry(hose: &HoseLine) -> HoseEntry {
    let end = |end: &Said<HoseEnd>| end.given().map(HoseEnd::words);
    let [from, to] = &hose.ends;
    let tee = |(hose, at): &(std::sync::Arc<str>, Option<f64>)| TeeEntry {
        hose: hose.to_string(),
        at: at.map(metres),
    };
    HoseEntry {
        route: hose.route.to_string(),
        from: end(from),
        to: end(to),
        length: said_metres(&hose.length),
        bore: said_metres(&hose.bore),
        material: words(&hose.material),
        restrictors: hose.restrictors.iter().map(|bore| bore.map(metres)).collect(),
        through: hose.through.iter().map(ToString::to_string).collect(),
        tees: hose.tees.iter().map(tee).collect(),
        to_measure: hose.to_say.iter().map(to_measure).collect(),
    }
}

fn highest(highest: &Highest, dim: Dim) -> HighestEntry {
    let peak = highest.value.as_ref();
    let speed = |speed: f64| NumberEntry { value: Some(rpm(speed)), unit: "rpm".to_owned() };
    HighestEntry {
        value: peak.map(|peak| si_number(peak.value, dim)),
        site: peak.map(|peak| peak.site.to_string()),
        engine_speed: peak.map(|peak| speed(peak.speed)),
        complete: highest.complete,
    }
}

fn said_metres(length: &Said<f64>) -> Option<NumberEntry> {
    length.given().copied().map(metres)
}

fn words<T: ToString>(said: &Said<T>) -> Option<String> {
    match said {
        Said::Is(word) => Some(word.to_string()),
        Said::None => Some("none".to_owned()),
        Said::Open => None,
    }
}

fn to_measure(one: &ToSay) -> ToMeasureEntry {
    ToMeasureEntry { route: one.route.to_string(), what: one.what.clone() }
}

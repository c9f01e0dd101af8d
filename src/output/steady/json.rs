//! The points as JSON: our own format, versioned in its first field, every number with its unit.

use std::collections::BTreeMap;

use schemars::{JsonSchema, Schema};
use serde::Serialize;

use super::columns::QUANTITIES;
use super::{Points, marks, rpm, station_marks};
use crate::known::{Known, Missing};
use crate::model::{Outcome, Point, SiteState, SiteSteady, Station};
use crate::output::json::{NumberEntry, si_number};
use crate::text::Dim;

/// The version of this format.
pub const FORMAT: &str = "tractwright-steady-1";

/// The operating points of builds.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SteadyDocument {
    /// Name and version of the format.
    pub format: &'static str,
    /// Version of the program.
    pub program: &'static str,
    /// What the quantities of a station are.
    pub quantities: BTreeMap<&'static str, &'static str>,
    /// One entry a build.
    pub builds: Vec<SteadyBuild>,
}

/// The operating points of one build.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SteadyBuild {
    /// Path of the file.
    pub file: String,
    /// Title of the build, where it has one.
    pub title: Option<String>,
    /// Its sites, its own first.
    pub sites: Vec<SteadySite>,
}

/// The operating points at one site.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SteadySite {
    /// Its name.
    pub name: String,
    /// Whether it is the build's own.
    pub home: bool,
    /// The air outside, where it is known.
    pub air: Option<SteadyAir>,
    /// What is missing before any point can be solved.
    pub lacks: Vec<String>,
    /// The points by rising engine speed; the first boosted speed stands twice, off boost and boosted.
    pub points: Vec<SteadyPoint>,
}

/// The air outside.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SteadyAir {
    /// Absolute pressure.
    pub pressure: NumberEntry,
    /// Temperature.
    pub temperature: NumberEntry,
    /// Water per dry air, by mass.
    pub humidity_ratio: NumberEntry,
}

/// One operating point at full throttle.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SteadyPoint {
    /// Engine speed.
    pub engine_speed: NumberEntry,
    /// Whether boost is asked for at it.
    pub boosted: bool,
    /// What is to be said about it: off-boost, left-of-surge, beyond-choke, above-top-line, below-lowest-line,
    /// no-solution, open.
    pub marks: Vec<&'static str>,
    /// What is missing for this point alone.
    pub lacks: Vec<String>,
    /// The parts of the air path in its order; none where the point is not solved.
    pub stations: Vec<SteadyStation>,
}

/// The air at one part.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SteadyStation {
    /// The part's name.
    pub part: String,
    /// Its kind.
    pub kind: &'static str,
    /// What is to be said about a compressor here.
    pub marks: Vec<&'static str>,
    /// Its quantities by name; those of the CSV's header. What does not exist here is left out.
    pub quantities: BTreeMap<&'static str, NumberEntry>,
}

/// All builds as one document, ending in a line end.
pub fn document(builds: &[Points<'_>]) -> String {
    let document = SteadyDocument {
        format: FORMAT,
        program: env!("CARGO_PKG_VERSION"),
        quantities: QUANTITIES.iter().map(|quantity| (quantity.name, quantity.meaning)).collect(),
        builds: builds
            .iter()
            .map(|build| SteadyBuild {
                file: build.path.to_owned(),
                title: build.title.map(str::to_owned),
                sites: build.sites.iter().map(|(site, points)| site_entry(site, points)).collect(),
            })
            .collect(),
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
        .into_root_schema_for::<SteadyDocument>()
}

fn site_entry(site: &SiteSteady, points: &[&Point]) -> SteadySite {
    SteadySite {
        name: site.name.to_string(),
        home: site.home,
        air: site.state.exact().map(air_entry),
        lacks: match &site.points {
            Known::Open(missing) => lacks(missing),
            Known::NotApplicable(reason) => vec![reason.to_string()],
            Known::Is(_) | Known::Between(..) => Vec::new(),
        },
        points: points.iter().map(|point| point_entry(point)).collect(),
    }
}

fn air_entry(state: &SiteState) -> SteadyAir {
    SteadyAir {
        pressure: si_number(state.pressure, Dim::PRESSURE),
        temperature: si_number(state.temperature, Dim::TEMPERATURE),
        humidity_ratio: si_number(state.humidity_ratio, Dim::ONE),
    }
}

fn point_entry(point: &Point) -> SteadyPoint {
    let (stations, lacks) = match &point.outcome {
        Outcome::Solved(solution) => (solution.stations.iter().map(station_entry).collect(), Vec::new()),
        Outcome::NoSolution => (Vec::new(), Vec::new()),
        Outcome::Open(missing) => (Vec::new(), lacks(missing)),
    };
    SteadyPoint {
        engine_speed: NumberEntry { value: Some(rpm(point.speed)), unit: "rpm".to_owned() },
        boosted: !point.off_boost,
        marks: marks(point).into_iter().map(super::Mark::word).collect(),
        lacks,
        stations,
    }
}

fn station_entry(station: &Station) -> SteadyStation {
    let quantities = QUANTITIES.iter().filter_map(|quantity| {
        let value = (quantity.of)(station)?;
        Some((
            quantity.name,
            NumberEntry { value: value.is_finite().then_some(value), unit: quantity.unit() },
        ))
    });
    SteadyStation {
        part: station.part.to_string(),
        kind: station.kind.word(),
        marks: station_marks(station).into_iter().map(super::Mark::word).collect(),
        quantities: quantities.collect(),
    }
}

/// What is missing, a line each.
pub fn lacks(missing: &Missing) -> Vec<String> {
    let fields = missing.fields.iter().map(ToString::to_string);
    let built = missing.not_built.iter().map(|what| format!("this version does not compute {what}"));
    fields.chain(built).chain(missing.hindrances.iter().map(ToString::to_string)).collect()
}

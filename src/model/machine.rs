//! The compressor of the path, with its map or its surge line alone.

use crate::build::map_file::MapFile;
use crate::build::parts::{Body, Compressor, Part};
use crate::known::{Known, Missing, Read, Reads, Setting, State};
use crate::physics::compressor::ReferenceState;
use crate::physics::map::{Across, Along, Map, MapPoint, SurgeLine};
use crate::tract::Spot;

/// What is known of how the compressor behaves.
#[derive(Clone, Debug)]
enum Behaviour {
    /// A whole map.
    Map(Map),
    /// The surge line alone.
    Line(SurgeLine),
}

/// A compressor, set up.
#[derive(Clone, Debug)]
pub struct Machine<'b> {
    /// The part it belongs to.
    pub part: &'b Part,
    /// The state to which its flows and speeds are corrected.
    pub reference: ReferenceState,
    behaviour: Behaviour,
    efficiency_without_map: f64,
}

/// How it works at one flow and pressure ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Working {
    /// Isentropic efficiency.
    pub efficiency: f64,
    /// Corrected speed in revolutions per second, if a map tells it.
    pub speed: Option<f64>,
    /// Corrected flow of the surge line at this ratio, kg/s; none above the line's end.
    pub surge_flow: Option<f64>,
    /// Where along the speed line it lies. Left of the surge line efficiency is held, and the temperature is an estimate.
    pub along: Along,
    /// Where across the speed lines it lies.
    pub across: Across,
}

impl<'b> Machine<'b> {
    /// Sets up the compressor of a part.
    pub fn set_up(spot: &Spot<'b>, reads: &dyn Reads) -> Known<Self> {
        let Body::Turbocharger(turbocharger) = &spot.part.body else {
            return Known::Open(Missing::not_built("operating points of an engine-driven supercharger"));
        };
        turbocharger.compressor.get(reads).and_then(|compressor| {
            let behaviour = match compressor.map.state(reads) {
                State::Absent | State::SaidNone => line(compressor, reads),
                _ => compressor.map.get(reads).and_then(|file| map(file, compressor)),
            };
            let stated = file_reference(compressor, reads);
            let t = stated
                .1
                .map_or_else(|| compressor.reference_temperature.get(reads).map(|t| t.si()), Known::Is);
            let p =
                stated.0.map_or_else(|| compressor.reference_pressure.get(reads).map(|p| p.si()), Known::Is);
            let efficiency_without_map = match behaviour {
                Known::Is(Behaviour::Line(_)) => {
                    let value = reads.setting(Setting::EfficiencyWithoutMap).v;
                    let words = format!("an efficiency of {:.0} %, as there is no map", 100.0 * value);
                    reads.note(Read::Default { field: compressor.map.route().clone(), words: words.into() });
                    value
                }
                _ => 1.0,
            };
            behaviour.zip(p.zip(t)).map(|(behaviour, (pressure, temperature))| Self {
                part: spot.part,
                reference: ReferenceState { pressure, temperature },
                behaviour: behaviour.clone(),
                efficiency_without_map,
            })
        })
    }

    /// Its map; none where the surge line alone is known.
    pub fn map(&self) -> Option<&Map> {
        match &self.behaviour {
            Behaviour::Map(map) => Some(map),
            Behaviour::Line(_) => None,
        }
    }

    /// How it works at a corrected flow and a pressure ratio; `None` where it cannot.
    pub fn at(&self, flow: f64, ratio: f64) -> Option<Working> {
        match &self.behaviour {
            Behaviour::Map(map) => {
                let found = map.find(flow, ratio)?;
                Some(Working {
                    efficiency: found.efficiency?,
                    speed: Some(found.speed),
                    surge_flow: map.surge_at_ratio(ratio).map(|crossing| crossing.flow),
                    along: found.along,
                    across: found.across,
                })
            }
            Behaviour::Line(line) => {
                let surge_flow = line.at_ratio(ratio).map(|crossing| crossing.flow);
                let left = surge_flow.is_some_and(|surge| flow < surge);
                Some(Working {
                    efficiency: self.efficiency_without_map,
                    speed: None,
                    surge_flow,
                    along: if left { Along::LeftOfSurge } else { Along::OnLine },
                    across: Across::BetweenLines,
                })
            }
        }
    }
}

fn file_reference(compressor: &Compressor, reads: &dyn Reads) -> (Option<f64>, Option<f64>) {
    match compressor.map.state(reads) {
        State::Given(MapFile { table, .. }) => (table.reference_pressure, table.reference_temperature),
        _ => (None, None),
    }
}

fn map(file: &MapFile, compressor: &Compressor) -> Known<Behaviour> {
    let points: Vec<MapPoint> = file
        .table
        .rows
        .iter()
        .map(|row| MapPoint {
            speed: row.speed,
            flow: row.flow,
            pressure_ratio: row.ratio,
            efficiency: row.efficiency,
        })
        .collect();
    let lacking =
        |words: &str| Known::Open(Missing::hindrance(words).join(Missing::field(compressor.map.route())));
    match Map::new(&points) {
        Ok(map) if map.has_efficiency() => Known::Is(Behaviour::Map(map)),
        Ok(_) => lacking("the compressor map has no efficiency column"),
        Err(_) => lacking("the compressor map is ill-formed"),
    }
}

fn line(compressor: &Compressor, reads: &dyn Reads) -> Known<Behaviour> {
    if let State::Absent = compressor.surge_line.state(reads) {
        return Known::missing(compressor.map.route());
    }
    compressor.surge_line.get(reads).and_then(|pairs| match SurgeLine::new(&pairs.0) {
        Ok(line) => Known::Is(Behaviour::Line(line)),
        Err(_) => Known::missing(compressor.surge_line.route()),
    })
}

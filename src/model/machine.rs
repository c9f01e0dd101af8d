//! The compressors of the path: by a map, by the surge line alone, or by displacement; driven by exhaust or engine.

use std::sync::Arc;

use crate::build::map_file::MapFile;
use crate::build::parts::{Body, Compressor, Part, Supercharger};
use crate::build::scalars::PressureDifference;
use crate::build::tables::SpeedTable;
use crate::known::{Known, Missing, Read, Reads, Setting, State};
use crate::physics::compressor::ReferenceState;
use crate::physics::map::{Across, Along, Map, MapPoint, MapState, SurgeLine};
use crate::physics::numeric::find_root;
use crate::tract::Spot;

/// Fastest speed, over the map's top line, that a wheel is taken to reach at all (choice): what would ask for more has no
/// solution. Beyond the top line itself a state is told as such.
const FASTEST: f64 = 1.5;

/// What is known of how a compressor behaves.
#[derive(Clone, Debug)]
pub enum Behaviour {
    /// A whole map.
    Map(Map),
    /// The surge line alone.
    Line(SurgeLine),
    /// A machine that displaces its air, which has no surge line.
    Displacement(Displacement),
}

impl Behaviour {
    /// Corrected flow of the surge line at a ratio, kg/s; none above the line's end and where there is no line.
    pub fn surge_flow(&self, ratio: f64) -> Option<f64> {
        match self {
            Self::Map(map) => map.surge_at_ratio(ratio).map(|crossing| crossing.flow),
            Self::Line(line) => line.at_ratio(ratio).map(|crossing| crossing.flow),
            Self::Displacement(_) => None,
        }
    }

    /// Pressure ratio of the surge line at a corrected flow, kg/s; none right of the line's end and where there is none.
    pub fn surge_ratio(&self, flow: f64) -> Option<f64> {
        match self {
            Self::Map(map) => map.surge_at_flow(flow).map(|crossing| crossing.pressure_ratio),
            Self::Line(line) => line.at_flow(flow).map(|crossing| crossing.pressure_ratio),
            Self::Displacement(_) => None,
        }
    }

    /// The map, where there is one.
    pub fn map(&self) -> Option<&Map> {
        match self {
            Self::Map(map) => Some(map),
            Self::Line(_) | Self::Displacement(_) => None,
        }
    }

    /// Whether it can surge.
    pub fn surges(&self) -> bool {
        !matches!(self, Self::Displacement(_))
    }
}

/// A machine that displaces its air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Displacement {
    /// Volume displaced in one turn, m3.
    pub volume: f64,
    /// Share of it that is delivered, at the inlet's density.
    pub volumetric_efficiency: f64,
    /// Isentropic efficiency.
    pub efficiency: f64,
}

/// A compressor, set up.
#[derive(Clone, Debug)]
pub struct Machine<'b> {
    /// The part it belongs to.
    pub part: &'b Part,
    /// The state to which its flows and speeds are corrected.
    pub reference: ReferenceState,
    /// How it behaves.
    pub behaviour: Arc<Behaviour>,
    /// Turns of the rotor for one of the engine, of an engine-driven one.
    pub drive: Option<f64>,
    /// Highest speed of the rotor, rev/s, where one is stated.
    pub speed_limit: Option<f64>,
    /// Boost above the site's pressure that it holds at its own outlet, over engine speed, where it is said.
    pub outlet_boost: Option<SpeedTable<PressureDifference>>,
    efficiency_without_map: f64,
}

/// State of the air at a machine's inlet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inlet {
    /// Flow that the path takes on, kg/s.
    pub flow: f64,
    /// Pressure, Pa.
    pub pressure: f64,
    /// Temperature, K.
    pub temperature: f64,
    /// Specific gas constant, J/(kg K).
    pub r: f64,
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

/// How a machine works in the path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// How it works.
    pub working: Working,
    /// Corrected flow through it, kg/s: what the path takes on, or of an engine-driven one what it delivers.
    pub corrected_flow: f64,
    /// Flow that an engine-driven one delivers, kg/s; what is above the path's must go round it.
    pub delivers: Option<f64>,
}

impl<'b> Machine<'b> {
    /// Sets up the compressor of a part.
    pub fn set_up(spot: &Spot<'b>, reads: &dyn Reads) -> Known<Self> {
        match &spot.part.body {
            Body::Turbocharger(turbocharger) => {
                let outlet_boost = match turbocharger.outlet_boost.state(reads) {
                    State::Absent | State::SaidNone => Known::Is(None),
                    _ => turbocharger.outlet_boost.get(reads).map(|table| Some(table.clone())),
                };
                let wheel = turbocharger
                    .compressor
                    .get(reads)
                    .and_then(|compressor| by_wheel(spot, compressor, reads));
                wheel.zip(outlet_boost).map(|(wheel, outlet_boost)| Self { outlet_boost, ..wheel })
            }
            Body::Supercharger(supercharger) => {
                let machine = if supercharger.displacement.is_given(reads) {
                    by_displacement(spot, supercharger, reads)
                } else if supercharger.compressor.is_given(reads) {
                    supercharger
                        .compressor
                        .get(reads)
                        .and_then(|compressor| by_wheel(spot, compressor, reads))
                } else {
                    let wanted = [supercharger.displacement.route(), supercharger.compressor.route()];
                    Known::Open(Missing::field(wanted[0]).join(Missing::field(wanted[1])))
                };
                let ratio = supercharger.drive_ratio.get(reads).map(|ratio| ratio.si());
                machine.zip(ratio).map(|(machine, ratio)| Self { drive: Some(ratio), ..machine })
            }
            _ => Known::missing(&spot.part.route),
        }
    }

    /// The surge line's corrected flow and ratio at a corrected speed; `None` where there is no map.
    pub fn surge_at_speed(&self, speed: f64) -> Option<(f64, f64)> {
        let state = self.map()?.surge_at_speed(speed)?;
        Some((state.flow, state.pressure_ratio))
    }

    /// Its map; none where the surge line alone is known.
    pub fn map(&self) -> Option<&Map> {
        self.behaviour.map()
    }

    /// How it works at a corrected flow and a pressure ratio; `None` where it cannot. Of one that displaces its air
    /// flow and ratio say nothing but its efficiency.
    pub fn at(&self, flow: f64, ratio: f64) -> Option<Working> {
        let found = self.place(flow, ratio)?;
        Some(Working { surge_flow: self.behaviour.surge_flow(ratio), ..found })
    }

    /// As [`Self::at`], without the surge flow of a map, which costs as much as all the rest.
    fn place(&self, flow: f64, ratio: f64) -> Option<Working> {
        match &*self.behaviour {
            Behaviour::Map(map) => {
                let found = map.find(flow, ratio).filter(|found| found.speed <= FASTEST * map.top_speed())?;
                working(found)
            }
            Behaviour::Line(line) => {
                let surge_flow = line.at_ratio(ratio).map(|crossing| crossing.flow);
                let left = surge_flow.is_some_and(|surge| flow < surge);
                let along = if left { Along::LeftOfSurge } else { Along::OnLine };
                Some(plain(self.efficiency_without_map, surge_flow, along))
            }
            Behaviour::Displacement(machine) => Some(plain(machine.efficiency, None, Along::OnLine)),
        }
    }

    /// How it works in the path at a pressure ratio and an engine speed, rev/s; `None` where it cannot. The surge flow of
    /// a map is left out.
    ///
    /// A turbocharger runs as fast as the ratio asks for. An engine-driven machine runs as its drive says: one with a
    /// map at the flow that this speed gives at the ratio, one that displaces its air at what it displaces. Where that
    /// is less than the path takes on, the machine is taken to pass the path's flow all the same, and `delivers` tells
    /// that it cannot.
    pub fn run(&self, inlet: Inlet, ratio: f64, engine_speed: f64) -> Option<Run> {
        let corrected = self.reference.corrected_flow(inlet.flow, inlet.pressure, inlet.temperature)?;
        let Some(drive) = self.drive else {
            return Some(Run {
                working: self.place(corrected, ratio)?,
                corrected_flow: corrected,
                delivers: None,
            });
        };
        let speed = drive * engine_speed;
        match &*self.behaviour {
            Behaviour::Displacement(machine) => {
                let density = inlet.pressure / (inlet.r * inlet.temperature);
                let delivers = machine.volume * machine.volumetric_efficiency * speed * density;
                let flow = delivers.max(inlet.flow);
                let corrected = self.reference.corrected_flow(flow, inlet.pressure, inlet.temperature)?;
                Some(Run {
                    working: self.place(corrected, ratio)?,
                    corrected_flow: corrected,
                    delivers: Some(delivers),
                })
            }
            Behaviour::Map(map) => {
                let own = self.reference.corrected_speed(speed, inlet.temperature)?;
                match flow_at(map, own, ratio) {
                    Some(state) if state.flow >= corrected => Some(Run {
                        working: working(state)?,
                        corrected_flow: state.flow,
                        delivers: self.reference.actual_flow(state.flow, inlet.pressure, inlet.temperature),
                    }),
                    // The drive is too slow for this ratio at this flow.
                    other => Some(Run {
                        working: self.place(corrected, ratio)?,
                        corrected_flow: corrected,
                        delivers: other.map_or(Some(0.0), |state| {
                            self.reference.actual_flow(state.flow, inlet.pressure, inlet.temperature)
                        }),
                    }),
                }
            }
            // A surge line alone does not tell what a speed gives.
            Behaviour::Line(_) => Some(Run {
                working: self.place(corrected, ratio)?,
                corrected_flow: corrected,
                delivers: None,
            }),
        }
    }
}

/// Where a speed line has a ratio, right of its surge point; `None` above the surge point's ratio and far beyond choke.
fn flow_at(map: &Map, speed: f64, ratio: f64) -> Option<MapState> {
    let (surge, choke) = (map.surge_at_speed(speed)?, map.choke_at_speed(speed)?);
    if ratio > surge.pressure_ratio {
        return None;
    }
    let excess = |flow: f64| map.at(speed, flow).map_or(f64::NAN, |state| state.pressure_ratio - ratio);
    let end = choke.flow + 2.0 * (choke.flow - surge.flow);
    let root = find_root(surge.flow, end, 1e-12 * end, excess).ok()?;
    map.at(speed, root.x)
}

fn working(found: MapState) -> Option<Working> {
    Some(Working {
        efficiency: found.efficiency?,
        speed: Some(found.speed),
        surge_flow: None,
        along: found.along,
        across: found.across,
    })
}

fn plain(efficiency: f64, surge_flow: Option<f64>, along: Along) -> Working {
    Working { efficiency, speed: None, surge_flow, along, across: Across::BetweenLines }
}

fn by_wheel<'b>(spot: &Spot<'b>, compressor: &Compressor, reads: &dyn Reads) -> Known<Machine<'b>> {
    let behaviour = match compressor.map.state(reads) {
        State::Absent | State::SaidNone => line(compressor, reads),
        _ => compressor.map.get(reads).and_then(|file| map(file, compressor)),
    };
    let stated = file_reference(compressor, reads);
    let t = stated.1.map_or_else(|| compressor.reference_temperature.get(reads).map(|t| t.si()), Known::Is);
    let p = stated.0.map_or_else(|| compressor.reference_pressure.get(reads).map(|p| p.si()), Known::Is);
    let efficiency_without_map = match behaviour {
        Known::Is(Behaviour::Line(_)) => {
            let value = reads.setting(Setting::EfficiencyWithoutMap).v;
            let words = format!("an efficiency of {:.0} %, as there is no map", 100.0 * value);
            reads.note(Read::Default { field: compressor.map.route().clone(), words: words.into() });
            value
        }
        _ => 1.0,
    };
    let speed_limit = match compressor.speed_limit.state(reads) {
        State::Given(limit) => Some(limit.si()),
        _ => None,
    };
    behaviour.zip(p.zip(t)).map(|(behaviour, (pressure, temperature))| Machine {
        part: spot.part,
        reference: ReferenceState { pressure, temperature },
        behaviour: Arc::new(behaviour),
        drive: None,
        speed_limit,
        outlet_boost: None,
        efficiency_without_map,
    })
}

fn by_displacement<'b>(spot: &Spot<'b>, machine: &Supercharger, reads: &dyn Reads) -> Known<Machine<'b>> {
    let volume = machine.displacement.get(reads).map(|volume| volume.si());
    let shares = machine.volumetric_efficiency.get(reads).zip(machine.isentropic_efficiency.get(reads));
    let speed_limit = match machine.speed_limit.state(reads) {
        State::Given(limit) => Some(limit.si()),
        _ => None,
    };
    volume.zip(shares).map(|(volume, (filled, efficiency))| Machine {
        part: spot.part,
        // Its flow is not corrected to anything a map would say; the rating state of engines tells it.
        reference: ReferenceState {
            pressure: Setting::LossReferencePressure.default_value().v,
            temperature: Setting::LossReferenceTemperature.default_value().v,
        },
        behaviour: Arc::new(Behaviour::Displacement(Displacement {
            volume,
            volumetric_efficiency: filled.si(),
            efficiency: efficiency.si(),
        })),
        drive: None,
        speed_limit,
        outlet_boost: None,
        efficiency_without_map: 1.0,
    })
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

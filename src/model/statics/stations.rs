//! Pressures at places of the path at a steady point.

use std::sync::Arc;

use super::valve::{Port, ports};
use crate::build::parts::{Body, Part, PartKind};
use crate::known::{Known, Missing, Read, Reads, State};
use crate::model::result::Solution;
use crate::model::site::SiteState;
use crate::physics::flow::static_state;
use crate::physics::relief_valve::Pressures;
use crate::text::Route;
use crate::tract::{Path, Spot, Tract};

/// A place on the path.
#[derive(Clone, Debug)]
struct Place {
    /// The part.
    part: Arc<str>,
    /// How far along it, from 0 to 1.
    along: f64,
    /// Bore there, m; none where the air stands still, or where it is not known.
    bore: Option<f64>,
}

/// What is taken of places that the description leaves out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unsaid {
    /// Nothing: they are missing.
    Missing,
    /// A tap close ahead of what shuts, a signal from the end of the path.
    Usual,
}

/// The places that matter to a valve.
#[derive(Clone)]
pub(super) struct Stations {
    tap: Place,
    signal: Known<Place>,
    ports: Vec<(Port, Option<Place>)>,
}

impl Stations {
    /// Finds them.
    pub fn set_up(tract: Tract<'_>, valve: &Part, unsaid: Unsaid, reads: &dyn Reads) -> Known<Self> {
        let usual = |field: &Route, words: &str| {
            reads.note(Read::Default { field: field.clone(), words: words.into() });
        };
        tract.path(reads).and_then(|path| {
            let tap_unsaid = matches!(valve.common.tap.state(reads), State::Absent);
            let host = match ahead_of_what_shuts(&path).filter(|_| tap_unsaid && unsaid == Unsaid::Usual) {
                Some(spot) => {
                    usual(valve.common.tap.route(), "a tap close ahead of what shuts, as none is given");
                    Known::Is(spot.part)
                }
                None => tract.host_of(valve, reads),
            };
            let tap = host.and_then(|host| {
                let at = valve.common.tap.get(reads).and_then(|tap| tap.at.get(reads).map(|at| at.si()));
                on_path(&path, &host.name, tract, reads).map(|place| Place {
                    along: along(host, at.exact().copied(), reads).unwrap_or(0.5),
                    ..place
                })
            });
            let signal = tract.signal_sources(valve, reads).and_then(|ways| match ways.found.as_slice() {
                [] if unsaid == Unsaid::Usual => {
                    usual(&valve.route, "a signal from the manifold, as no hose brings one");
                    let last = path.iter().last().map(|spot| spot.part.name.clone());
                    last.map_or_else(
                        || Known::missing(&valve.route),
                        |last| on_path(&path, &last, tract, reads),
                    )
                }
                [] => Known::not_applicable("it has no signal"),
                [(_, source)] => on_path(&path, source, tract, reads),
                _ => Known::Open(Missing::hindrance("its signal comes from several places")),
            });
            let ports = ports_or_open_air(valve, reads).and_then(|ports| {
                let with_places = ports.into_iter().map(|port| {
                    let to = if port.vents() {
                        Known::Is(None)
                    } else {
                        on_path(&path, &port.to, tract, reads).map(Some)
                    };
                    to.map(|to| (port.clone(), to))
                });
                with_places.collect::<Known<Vec<_>>>()
            });
            tap.zip(ports).map(|(tap, ports)| Self { tap, signal: signal.clone(), ports })
        })
    }

    /// What the valve listens to; where it listens to nothing, why its forces are not asked for.
    pub fn hears(&self) -> Known<()> {
        self.signal.clone().map(|_| ())
    }

    /// Static pressures at the shut valve at a point; `None` where a bore cannot pass the flow, or where it has no signal.
    pub fn pressures(&self, solution: &Solution, site: &SiteState) -> Option<Pressures> {
        // Where all ports open late none of them is nearer to the plate than the others.
        let late = self.ports.iter().all(|(port, _)| port.share_when_shut() == 0.0);
        let share = |port: &Port| if late { port.share } else { port.share_when_shut() };
        Some(Pressures {
            charge: still(&self.tap, solution)?,
            discharge: self.behind(solution, site, share)?,
            signal: still(self.signal.exact()?, solution)?,
        })
    }

    /// Pressure on the discharge side at full lift: that of each destination by its share.
    pub fn discharge(&self, solution: &Solution, site: &SiteState) -> Option<f64> {
        self.behind(solution, site, |port| port.share)
    }

    fn behind(&self, solution: &Solution, site: &SiteState, share: impl Fn(&Port) -> f64) -> Option<f64> {
        let mut sum = 0.0;
        let mut shares = 0.0;
        for (port, place) in &self.ports {
            let pressure = match place {
                Some(place) => still(place, solution)?,
                None => site.pressure,
            };
            sum += share(port) * pressure;
            shares += share(port);
        }
        Some(if shares > 0.0 { sum / shares } else { site.pressure })
    }

    /// Total pressure of the charge at the valve's tap, Pa.
    pub fn tap_pressure(&self, solution: &Solution) -> Option<f64> {
        let station = solution.part(&self.tap.part)?;
        let (from, to) = (station.inlet.pressure, station.outlet.pressure);
        Some(from + self.tap.along * (to - from))
    }

    /// Total temperature of the charge at the valve's tap, K.
    pub fn tap_temperature(&self, solution: &Solution) -> Option<f64> {
        let station = solution.part(&self.tap.part)?;
        let (from, to) = (station.inlet.temperature, station.outlet.temperature);
        Some(from + self.tap.along * (to - from))
    }
}

/// The part right ahead of the first that can shut behind the last compressor.
fn ahead_of_what_shuts<'b>(path: &Path<'b>) -> Option<Spot<'b>> {
    let last = path.iter().rfind(|spot| spot.compresses())?;
    let shuts = path.first_shutting_behind(last.index).into_iter().next()?;
    path.before(shuts.index).first().and_then(|&at| path.get(at)).copied()
}

/// The ports of a valve; where none are described it is taken to vent, which matters little to what it has to pass.
fn ports_or_open_air(valve: &Part, reads: &dyn Reads) -> Known<Vec<Port>> {
    match &valve.body {
        Body::ReliefValve(fields) if matches!(fields.discharge.state(reads), State::Absent) => {
            let words = "the pressure outside behind the relief valve, as it is not said where its air goes";
            reads.note(Read::Default { field: fields.discharge.route().clone(), words: words.into() });
            Known::Is(Vec::new())
        }
        _ => ports(valve, reads),
    }
}

/// Static pressure at a place.
fn still(place: &Place, solution: &Solution) -> Option<f64> {
    let station = solution.part(&place.part)?;
    let between = |from: f64, to: f64| from + place.along * (to - from);
    let pressure = between(station.inlet.pressure, station.outlet.pressure);
    let temperature = between(station.inlet.temperature, station.outlet.temperature);
    match place.bore {
        Some(bore) => {
            static_state(&station.gas, pressure, temperature, station.flow, bore).map(|state| state.pressure)
        }
        None => Some(pressure),
    }
}

/// A place at the end of a part of the path.
fn on_path(path: &Path<'_>, name: &str, tract: Tract<'_>, reads: &dyn Reads) -> Known<Place> {
    match path.spot(name) {
        Some(spot) => Known::Is(Place { part: spot.part.name.clone(), along: 1.0, bore: bore(spot, reads) }),
        None => Known::missing(tract.build().top.air_path.route()),
    }
}

/// Bore of a part in which the air moves.
fn bore(spot: &Spot<'_>, reads: &dyn Reads) -> Option<f64> {
    let moves = matches!(spot.kind, PartKind::Pipe | PartKind::AirMeter | PartKind::Cone | PartKind::Coupler);
    let duct = spot.part.duct.as_ref().filter(|_| moves)?;
    duct.bore.get(reads).exact().map(|bore| bore.si())
}

/// How far along a part a distance lies.
fn along(host: &Part, at: Option<f64>, reads: &dyn Reads) -> Option<f64> {
    let length = host.duct.as_ref()?.length.get(reads).exact()?.si();
    (length > 0.0).then_some(())?;
    Some((at? / length).clamp(0.0, 1.0))
}

//! Pressures at places of the path at a steady point.

use super::valve::{Port, ports};
use crate::build::parts::{Part, PartKind};
use crate::known::{Known, Missing, Reads};
use crate::model::result::Solution;
use crate::model::site::SiteState;
use crate::physics::flow::static_state;
use crate::physics::relief_valve::Pressures;
use crate::tract::{Path, Spot, Tract};

/// A place on the path.
#[derive(Clone, Debug)]
struct Station {
    /// Its index on the path.
    index: usize,
    /// How far along its part, from 0 to 1.
    along: f64,
    /// Bore there, m; none where the air stands still, or where it is not known.
    bore: Option<f64>,
}

/// The places that matter to a valve.
#[derive(Clone)]
pub(super) struct Stations<'b> {
    path: Path<'b>,
    compressor: usize,
    tap: Station,
    signal: Station,
    ports: Vec<(Port, Option<Station>)>,
}

/// Total pressure and temperature of a stream.
#[derive(Clone, Copy, Debug)]
pub(super) struct Total {
    /// Pa.
    pub pressure: f64,
    /// K.
    pub temperature: f64,
}

impl<'b> Stations<'b> {
    /// Finds them. A path that forks, and more than one compressor, are not built.
    pub fn set_up(tract: Tract<'b>, valve: &'b Part, reads: &dyn Reads) -> Known<Self> {
        let path = tract.path(reads).and_then(|path| {
            if path.forks() {
                return Known::Open(Missing::not_built("static pressures of parallel branches"));
            }
            Known::Is(path)
        });
        path.zip(tract.compressors(reads)).and_then(|(path, compressors)| {
            let [compressor] = compressors.as_slice() else {
                return if compressors.is_empty() {
                    Known::not_applicable("no compressor is on the air path")
                } else {
                    Known::Open(Missing::not_built("static pressures of several compressors"))
                };
            };
            let tap = tract.host_of(valve, reads).and_then(|host| {
                let at = valve.common.tap.get(reads).and_then(|tap| tap.at.get(reads).map(|at| at.si()));
                on_path(&path, &host.name, tract, reads).and_then(|mut station| {
                    station.along = along(host, at.exact().copied(), reads).unwrap_or(0.5);
                    Known::Is(station)
                })
            });
            let signal =
                tract.signal_sources(valve, reads).and_then(|sources| match sources.found.as_slice() {
                    _ if !sources.unknown.is_nothing() => Known::Open(sources.unknown.clone()),
                    [] => Known::not_applicable("it has no signal"),
                    [(_, source)] => on_path(&path, source, tract, reads),
                    _ => Known::Open(Missing::hindrance("its signal comes from several places")),
                });
            let ports = ports(valve, reads).and_then(|ports| {
                ports
                    .into_iter()
                    .map(|port| {
                        let to = if port.vents() {
                            Known::Is(None)
                        } else {
                            on_path(&path, &port.to, tract, reads).map(Some)
                        };
                        to.map(|to| (port.clone(), to))
                    })
                    .collect::<Known<Vec<_>>>()
            });
            tap.zip(signal).zip(ports).map(|((tap, signal), ports)| Self {
                path: path.clone(),
                compressor: compressor.index,
                tap,
                signal,
                ports,
            })
        })
    }

    /// Static pressures at the valve at a point; `None` where a bore cannot pass the flow.
    pub fn pressures(&self, solution: &Solution, site: &SiteState) -> Option<Pressures> {
        let discharge = self.discharge(solution, site)?;
        Some(Pressures {
            charge: self.still(&self.tap, solution, site)?,
            discharge,
            signal: self.still(&self.signal, solution, site)?,
        })
    }

    /// Pressure on the discharge side: that of each destination by its share.
    pub fn discharge(&self, solution: &Solution, site: &SiteState) -> Option<f64> {
        let mut sum = 0.0;
        let mut shares = 0.0;
        for (port, station) in &self.ports {
            let pressure = match station {
                Some(station) => self.still(station, solution, site)?,
                None => site.pressure,
            };
            sum += port.share * pressure;
            shares += port.share;
        }
        Some(if shares > 0.0 { sum / shares } else { site.pressure })
    }

    /// The charge at the valve's tap.
    pub fn at_tap(&self, solution: &Solution, site: &SiteState) -> Total {
        self.total(&self.tap, solution, site)
    }

    fn total(&self, station: &Station, solution: &Solution, site: &SiteState) -> Total {
        let loss = |i: usize| solution.losses.get(i).copied().unwrap_or(0.0);
        let behind = station.index > self.compressor;
        let (start, first) = if behind { (solution.p2, self.compressor + 1) } else { (site.pressure, 0) };
        let before: f64 = (first..station.index).map(loss).sum();
        let coolers = self.path.iter().filter(|spot| spot.kind == PartKind::ChargeAirCooler);
        let cooled = coolers.clone().any(|spot| spot.index < station.index && spot.index > self.compressor);
        let temperature = match (behind, cooled) {
            (false, _) => solution.t1,
            (true, true) => solution.t_manifold,
            (true, false) => solution.t2,
        };
        Total { pressure: start - before - station.along * loss(station.index), temperature }
    }

    /// Static pressure at a station.
    fn still(&self, station: &Station, solution: &Solution, site: &SiteState) -> Option<f64> {
        let total = self.total(station, solution, site);
        match station.bore {
            Some(bore) => static_state(&site.gas, total.pressure, total.temperature, solution.flow, bore)
                .map(|state| state.pressure),
            None => Some(total.pressure),
        }
    }
}

/// A station at the end of a part of the path.
fn on_path<'b>(path: &Path<'b>, name: &str, tract: Tract<'b>, reads: &dyn Reads) -> Known<Station> {
    match path.spot(name) {
        Some(spot) => Known::Is(Station { index: spot.index, along: 1.0, bore: bore(spot, reads) }),
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

//! What the tip-out run needs of each part, read for one site and start: sizes, wheels, throttle, engine.

use std::sync::Arc;

use crate::build::engine::Engine as EngineFields;
use crate::build::parts::{Body, Compressor, CooledBy, PartKind, Supercharger};
use crate::build::scalars::Ratio;
use crate::build::tables::SpeedTable;
use crate::known::{Known, Missing, Read, Reads, State};
use crate::model::{Behaviour, Machine, SiteState, Solution};
use crate::physics::engine::{Cycle as Strokes, throttled_factor};
use crate::physics::extended_map::{ExtendedMap, REVERSE_RESISTANCE};
use crate::physics::flow::{Nozzle, bore_area};
use crate::physics::network::Cooling;
use crate::tract::{Path, Spot, Tract};

use super::Precision;
use super::starts::Start;

/// Closed area of a throttle of which nothing tells it, as a share of its bore's (choice).
const CLOSED_SHARE: f64 = 0.004;
/// Inertance that stands for the passages of a compressor, in rim diameters of length over the inducer's area (choice).
const WHEEL_LENGTHS: f64 = 3.0;
/// Why a map does not serve.
const CARRIED_ON: &str = "the compressor map cannot be carried on past its lines";
/// Compression ratio of an engine that does not say it.
pub(super) const USUAL_COMPRESSION: f64 = 10.0;

/// The described tract, read for one site and start.
pub(super) struct Layout<'a, 'b> {
    pub tract: &'a Tract<'b>,
    pub path: &'a Path<'b>,
    pub site: &'a SiteState,
    pub start: Start,
    /// Engine speed, revolutions per second.
    pub speed: f64,
    pub solution: &'a Solution,
    pub precision: Precision,
    pub reads: &'a dyn Reads,
}

/// What a part is in the network.
#[derive(Clone)]
pub(super) enum Piece {
    /// The compressor of this place among the path's.
    Compressor(usize),
    /// The throttle.
    Throttle,
    /// A loss without size.
    Narrow,
    /// A pipe: bore and length.
    Pipe { bore: f64, length: f64 },
    /// One volume with the length of its way.
    Vessel { volume: f64, length: f64, cooling: Option<Cooling> },
}

impl<'b> Layout<'_, 'b> {
    /// The wheels, in the order of the path.
    pub(super) fn wheels(&self) -> Known<Vec<Wheel>> {
        let all: Known<Vec<Wheel>> =
            self.path.iter().filter(|spot| spot.compresses()).map(|spot| self.wheel(spot)).collect();
        all.and_then(|all| {
            if all.is_empty() {
                Known::not_applicable("no compressor is on the air path")
            } else {
                Known::Is(all)
            }
        })
    }

    fn wheel(&self, spot: &Spot<'b>) -> Known<Wheel> {
        let fields = match &spot.part.body {
            Body::Turbocharger(fields) => fields,
            Body::Supercharger(fields) => return self.driven(spot, fields),
            _ => return Known::missing(spot.route),
        };
        let sizes = fields.compressor.get(self.reads).and_then(|compressor| self.sizes(compressor));
        let inertia = fields.rotor_inertia.get(self.reads).map(|inertia| inertia.si());
        let machine = Machine::set_up(spot, self.reads);
        let point = self.solution.machines.iter().find(|point| point.index == spot.index);
        let speed = point.and_then(|point| Some((point.working?.speed?, point.t1)));
        let speed = match speed {
            Some(speed) => Known::Is(speed),
            None => fields.compressor.get(self.reads).and_then(|c| Known::missing(c.map.route())),
        };
        sizes.zip(inertia).zip(machine.zip(speed)).and_then(
            |(((inducer, rim), inertia), (machine, (speed, t1)))| {
                let map = machine.map().cloned();
                let extended = map.and_then(|map| {
                    ExtendedMap::new(map, machine.reference, inducer, rim, REVERSE_RESISTANCE)
                });
                match (extended, machine.reference.actual_speed(speed, t1)) {
                    (Some(map), Some(speed)) => Known::Is(Wheel {
                        name: spot.part.name.as_ref().into(),
                        spot: spot.index,
                        works: Works::Wheel {
                            inertance: WHEEL_LENGTHS * rim / map.inducer_area(),
                            map: Arc::new(map),
                        },
                        inertia: Some(inertia),
                        speed: speed * std::f64::consts::TAU,
                        surplus: 0.0,
                    }),
                    _ => Known::Open(Missing::hindrance(CARRIED_ON)),
                }
            },
        )
    }

    /// Diameters of a wheel's inducer and rim, m.
    fn sizes(&self, compressor: &Compressor) -> Known<(f64, f64)> {
        let inducer = compressor.inducer.get(self.reads).map(|d| d.si());
        inducer.zip(compressor.exducer.get(self.reads).map(|d| d.si())).and_then(|(inducer, rim)| {
            if inducer <= rim {
                Known::Is((inducer, rim))
            } else {
                Known::missing(compressor.exducer.route())
            }
        })
    }

    /// A machine that the engine drives.
    fn driven(&self, spot: &Spot<'b>, fields: &Supercharger) -> Known<Wheel> {
        Machine::set_up(spot, self.reads).and_then(|machine| {
            let drive = machine.drive.unwrap_or(1.0);
            let works = match &*machine.behaviour {
                Behaviour::Displacement(displaces) => Known::Is(Works::Displaces {
                    volume: displaces.volume * displaces.volumetric_efficiency / std::f64::consts::TAU,
                    efficiency: displaces.efficiency,
                }),
                Behaviour::Map(map) => {
                    let sizes =
                        fields.compressor.get(self.reads).and_then(|compressor| self.sizes(compressor));
                    sizes.and_then(|(inducer, rim)| {
                        let carried_on = ExtendedMap::new(
                            map.clone(),
                            machine.reference,
                            inducer,
                            rim,
                            REVERSE_RESISTANCE,
                        );
                        carried_on.map_or_else(
                            || Known::Open(Missing::hindrance(CARRIED_ON)),
                            |map| {
                                let inertance = WHEEL_LENGTHS * rim / map.inducer_area();
                                Known::Is(Works::Wheel { map: Arc::new(map), inertance })
                            },
                        )
                    })
                }
                Behaviour::Line(_) => fields
                    .compressor
                    .get(self.reads)
                    .and_then(|compressor| Known::missing(compressor.map.route())),
            };
            let point = self.solution.machines.iter().find(|point| point.index == spot.index);
            let surplus = point.and_then(|point| Some(point.delivers? - point.flow));
            works.map(|works| Wheel {
                name: spot.part.name.as_ref().into(),
                spot: spot.index,
                works: works.clone(),
                inertia: None,
                speed: drive * self.speed * std::f64::consts::TAU,
                surplus: surplus.unwrap_or(0.0).max(0.0),
            })
        })
    }

    /// Whether an engine-driven machine compresses anywhere on the path.
    pub(super) fn has_driven(&self) -> bool {
        self.path.iter().any(|spot| spot.kind == PartKind::Supercharger)
    }

    pub(super) fn noted(&self, field: &crate::text::Route, words: &str) {
        self.reads.note(Read::Default { field: field.clone(), words: words.into() });
    }

    /// What a part is in the network.
    pub(super) fn piece(&self, spot: &Spot<'b>) -> Known<Piece> {
        if spot.compresses() {
            let ahead = self.path.iter().filter(|other| other.compresses() && other.index < spot.index);
            return Known::Is(Piece::Compressor(ahead.count()));
        }
        if spot.shuts() {
            return Known::Is(Piece::Throttle);
        }
        let part = spot.part;
        let Some(duct) = &part.duct else { return Known::Is(Piece::Narrow) };
        let volume = match duct.volume.state(self.reads) {
            State::Given(volume) => Some(volume.si()),
            _ => None,
        };
        let length = match duct.length.state(self.reads) {
            State::Given(length) => Some(length.si()).filter(|length| *length > 0.0),
            _ => None,
        };
        let vessel = |volume: f64, cooling| {
            let length = length.unwrap_or_else(|| volume.cbrt());
            Piece::Vessel { volume, length, cooling }
        };
        match spot.kind {
            PartKind::ChargeAirCooler => {
                let volume = duct.volume.get(self.reads).map(|volume| volume.si());
                volume.zip(self.cooling(spot)).map(|(volume, cooling)| vessel(volume, Some(cooling)))
            }
            PartKind::InletManifold => duct.volume.get(self.reads).map(|volume| vessel(volume.si(), None)),
            PartKind::Pipe | PartKind::Cone | PartKind::Coupler => {
                let size = duct.bore.get(self.reads).zip(duct.length.get(self.reads));
                size.and_then(|(bore, length)| {
                    let arcs = match &part.body {
                        Body::Pipe(pipe) => pipe.arcs(self.reads),
                        _ => Known::Is(0.0),
                    };
                    let (bore, length) = (bore.si(), length.si());
                    arcs.map(|arcs| pipe_piece(bore, length + arcs))
                })
            }
            _ => Known::Is(match (volume, duct.bore.state(self.reads), length) {
                (Some(volume), ..) => vessel(volume, None),
                (None, State::Given(bore), Some(length)) => pipe_piece(bore.si(), length),
                _ => Piece::Narrow,
            }),
        }
    }

    /// What a cooler did at the start, as an effectiveness: kept through the run.
    fn cooling(&self, spot: &Spot<'b>) -> Known<Cooling> {
        let Body::ChargeAirCooler(cooler) = &spot.part.body else {
            return Known::not_applicable("no cooler");
        };
        let coolant = match cooler.coolant_temperature.state(self.reads) {
            State::Given(t) => Known::Is(t.si()),
            _ => match cooler.cooled_by.get(self.reads) {
                Known::Is(CooledBy::Water) => Known::missing(cooler.coolant_temperature.route()),
                _ => Known::Is(self.site.temperature),
            },
        };
        let Some(station) = self.solution.stations.get(spot.index) else {
            return Known::missing(spot.route);
        };
        coolant.map(|coolant| {
            let (before, behind) = (station.inlet.temperature, station.outlet.temperature);
            let hot = before - coolant;
            let effectiveness = if hot.abs() > 1.0 { (before - behind) / hot } else { 0.0 };
            Cooling { effectiveness: effectiveness.clamp(0.0, 1.0), coolant }
        })
    }

    /// What shuts: of several throttles side by side all together, as one plate that shuts like the first.
    pub(super) fn throttle(&self) -> Known<Closes> {
        let mut spots = self.path.iter().filter(|spot| spot.shuts());
        let Some(first) = spots.next() else {
            return Known::not_applicable("nothing on the air path shuts");
        };
        let beside = |spot: &&Spot<'b>| {
            !self.path.is_ahead(first.index, spot.index) && !self.path.is_ahead(spot.index, first.index)
        };
        let others: Known<Vec<(f64, f64)>> = spots.filter(beside).map(|spot| self.plate(spot)).collect();
        self.plate(first).zip(others).zip(self.closing(first)).and_then(
            |(((open, bore), others), (time, to))| {
                if time <= 0.0 {
                    return Known::missing(first.route);
                }
                let (more_open, more_bore) =
                    others.iter().fold((0.0, 0.0), |sum, other| (sum.0 + other.0, sum.1 + other.1));
                Known::Is(Closes { open: open + more_open, bore_area: bore + more_bore, time, to })
            },
        )
    }

    /// Time that a plate takes, s, and the share of its travel at which it stays.
    fn closing(&self, spot: &Spot<'b>) -> Known<(f64, f64)> {
        let field = match &spot.part.body {
            Body::Throttle(throttle) => &throttle.closing,
            Body::Carburettor(carburettor) => &carburettor.closing,
            _ => return Known::not_applicable("nothing on the air path shuts"),
        };
        field.get(self.reads).and_then(|closing| {
            let to = match closing.to.state(self.reads) {
                State::Absent => {
                    self.noted(closing.to.route(), "the plate shuts to its stop");
                    Known::Is(0.0)
                }
                _ => closing.to.get(self.reads).map(|to| to.si()),
            };
            closing.time.get(self.reads).map(|time| time.si()).zip(to)
        })
    }

    /// Areas of a bore with its plate wide open and without it, m2.
    fn plate(&self, spot: &Spot<'b>) -> Known<(f64, f64)> {
        let shaft = match &spot.part.body {
            Body::Throttle(throttle) => &throttle.shaft,
            Body::Carburettor(carburettor) => &carburettor.shaft,
            _ => return Known::not_applicable("nothing on the air path shuts"),
        };
        let Some(duct) = &spot.part.duct else { return Known::missing(spot.route) };
        duct.bore.get(self.reads).zip(shaft.get(self.reads)).and_then(|(bore, shaft)| {
            let (bore, shaft) = (bore.si(), shaft.si());
            let open = bore_area(bore) - shaft * bore;
            if open > 0.0 { Known::Is((open, bore_area(bore))) } else { Known::missing(duct.bore.route()) }
        })
    }

    /// Relative change of the engine's speed in a second over a gear-change, and how long that takes, s; none where it is not said.
    pub(super) fn falls(&self) -> Option<(f64, f64)> {
        let State::Given(change) = self.tract.build().top.gear_change.state(self.reads) else { return None };
        let State::Given(to) = change.speed_to.state(self.reads) else { return None };
        let State::Given(time) = change.time.state(self.reads) else { return None };
        Some(((to.si() - 1.0) / time.si(), time.si())).filter(|_| time.si() > 0.0)
    }

    pub(super) fn engine(&self) -> Known<EngineFields> {
        self.tract.build().top.engine.get(self.reads).map(Clone::clone)
    }

    /// Area of the plate at its stop: what idle needs, else a share of the bore.
    pub(super) fn closed_area(
        &self,
        engine: &EngineFields,
        closes: &Closes,
        compression: f64,
        coefficient: f64,
    ) -> (f64, String) {
        let idle = match engine.idle.state(self.reads) {
            State::Given(idle) => idle.speed.get(self.reads).zip(idle.manifold_pressure.get(self.reads)),
            _ => Known::missing(engine.idle.route()),
        };
        let filled = engine
            .displacement
            .get(self.reads)
            .zip(engine.cycle.get(self.reads))
            .zip(engine.volumetric_efficiency.get(self.reads));
        let from_idle = match (idle, filled) {
            (Known::Is((speed, p)), Known::Is(((displacement, cycle), efficiency))) => {
                let strokes = match cycle {
                    crate::build::engine::Cycle::FourStroke => Strokes::FourStroke,
                    crate::build::engine::Cycle::TwoStroke => Strokes::TwoStroke,
                };
                let (p, t) = (p.absolute(self.site.pressure), self.site.temperature);
                let swept =
                    nearest(efficiency, speed.si()) * displacement.si() * speed.si() / strokes.revolutions();
                let factor = throttled_factor(p, self.site.pressure, compression);
                let nozzle = Nozzle {
                    area: 1.0,
                    discharge_coefficient: coefficient,
                    gamma: self.site.gas.gamma(t),
                    r: self.site.gas.r(),
                };
                let through = nozzle.flow(self.site.pressure, t, p);
                factor.zip(through).map(|(f, through)| swept * p / (self.site.gas.r() * t) * f / through)
            }
            _ => None,
        };
        match from_idle.filter(|area| *area > 0.0 && *area < 0.5 * closes.open) {
            Some(area) => (area, "the shut plate passes what the engine needs at idle".to_owned()),
            None => (
                CLOSED_SHARE * closes.bore_area,
                format!(
                    "the shut plate leaves {:.1} % of its bore open, as no idle figures tell it (choice)",
                    100.0 * CLOSED_SHARE
                ),
            ),
        }
    }

    pub(super) fn knows_direction(&self, spot: usize) -> bool {
        let Some(Body::AirMeter(meter)) = self.path.get(spot).map(|spot| &spot.part.body) else {
            return false;
        };
        matches!(meter.knows_direction.state(self.reads), State::Given(flag) if flag.0)
    }
}

/// What a compressor does with its air.
#[derive(Clone)]
pub(super) enum Works {
    /// A wheel with a map, and the inertance of its passages.
    Wheel { map: Arc<ExtendedMap>, inertance: f64 },
    /// It displaces so much in one radian, m3; isentropic efficiency.
    Displaces { volume: f64, efficiency: f64 },
}

/// A compressor's rotor.
#[derive(Clone)]
pub(super) struct Wheel {
    /// Its part's name.
    pub name: Arc<str>,
    pub spot: usize,
    pub works: Works,
    /// None of one that the engine drives: its speed is the engine's.
    pub inertia: Option<f64>,
    /// rad/s.
    pub speed: f64,
    /// What an engine-driven one delivers at the start above what the path takes on, kg/s.
    pub surplus: f64,
}

/// The throttle.
#[derive(Clone)]
pub(super) struct Closes {
    pub open: f64,
    pub bore_area: f64,
    pub time: f64,
    pub to: f64,
}

fn pipe_piece(bore: f64, length: f64) -> Piece {
    if length > 0.0 && bore > 0.0 { Piece::Pipe { bore, length } } else { Piece::Narrow }
}

/// Volumetric efficiency at an engine speed, held at the table's ends.
fn nearest(table: &SpeedTable<Ratio>, speed: f64) -> f64 {
    let ends = table.entries.first().zip(table.entries.last());
    table
        .at(speed)
        .or_else(|| {
            ends.map(|(first, last)| if speed < first.x { first.value.si() } else { last.value.si() })
        })
        .unwrap_or(0.8)
}

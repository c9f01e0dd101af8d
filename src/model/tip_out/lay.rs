//! The tract laid out as a network: volumes, inertances, losses, the compressor, the throttle, the engine.

use std::sync::Arc;

use crate::build::engine::Engine as EngineFields;
use crate::build::parts::{Body, CooledBy, Part, PartKind};
use crate::build::scalars::{List, Ratio};
use crate::build::tables::SpeedTable;
use crate::known::{Field, Known, Missing, Read, Reads, Setting, State};
use crate::model::{Machine, SiteState, Solution};
use crate::physics::engine::{Cycle as Strokes, throttled_factor};
use crate::physics::extended_map::{ExtendedMap, REVERSE_RESISTANCE};
use crate::physics::flow::{Nozzle, bore_area};
use crate::physics::network::{
    Cooling, Duct, DuctId, Engine, EngineId, Isentropic, Loss, Network, NodeId, Opening, Orifice, OrificeId,
    Plate, Rotor, RotorId, SimpleGas, Stage, Tally, TallyId,
};
use crate::tract::{Path, Spot, Tract};

use super::starts::Start;
use super::{Closures, Precision};

/// Closed area of a throttle of which nothing tells it, as a share of its bore's (choice).
const CLOSED_SHARE: f64 = 0.004;
/// Inertance that stands for the passages of a compressor, in rim diameters of length over the inducer's area (choice).
const WHEEL_LENGTHS: f64 = 3.0;
/// Lag of an air meter's reading, s: common practice, no source.
const METER_LAG: f64 = 0.020;
/// Compression ratio of an engine that does not say it.
const USUAL_COMPRESSION: f64 = 10.0;

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

/// A part's node with the distance of the node's middle from the part's upstream end.
#[derive(Debug)]
pub(super) struct Placed {
    spot: usize,
    at: f64,
    node: NodeId,
}

/// The network with what is watched of it.
#[derive(Debug)]
pub(super) struct Laid {
    pub network: Network,
    pub site: NodeId,
    pub compressor: DuctId,
    pub rotor: RotorId,
    /// Ahead of the compressor.
    pub inlet: NodeId,
    /// Behind the compressor.
    pub outlet: NodeId,
    pub ahead_of_throttle: NodeId,
    pub manifold: NodeId,
    pub throttle: OrificeId,
    pub engine: EngineId,
    pub mouth: DuctId,
    pub meter: Option<Meter>,
    pub reversed: TallyId,
    pub drawn: TallyId,
    pub nodes: Vec<Placed>,
    pub closures: Closures,
    /// Time from open to shut, s.
    pub closing: f64,
}

/// The air meter's place in the network.
#[derive(Clone, Copy, Debug)]
pub(super) struct Meter {
    pub reading: TallyId,
    pub metered: TallyId,
    pub back: TallyId,
    /// Place of its spot on the path.
    pub spot: usize,
    /// Whether it knows which way the air goes.
    pub directed: bool,
}

impl Laid {
    /// How many nodes a part has.
    pub fn nodes_of(&self, spot: usize) -> usize {
        self.nodes.iter().filter(|placed| placed.spot == spot).count()
    }

    /// The node in the middle of a part that has several.
    pub fn middle_of(&self, spot: usize) -> Option<NodeId> {
        let of_part: Vec<NodeId> =
            self.nodes.iter().filter(|placed| placed.spot == spot).map(|placed| placed.node).collect();
        if of_part.len() > 1 { of_part.get(of_part.len() / 2).copied() } else { None }
    }

    /// The node of a part nearest to a distance from its upstream end.
    pub fn node_of(&self, spot: usize, at: f64) -> Option<NodeId> {
        let of_part = self.nodes.iter().filter(|placed| placed.spot == spot);
        of_part.min_by(|a, b| (a.at - at).abs().total_cmp(&(b.at - at).abs())).map(|placed| placed.node)
    }
}

/// What a part is in the network.
#[derive(Clone)]
enum Piece {
    /// A loss without size.
    Narrow,
    /// A pipe: bore and length.
    Pipe { bore: f64, length: f64 },
    /// One volume with the length of its way.
    Vessel { volume: f64, length: f64, cooling: Option<Cooling> },
}

/// The chain as far as it is laid.
struct Chain {
    node: NodeId,
    /// Inertance and loss coefficient that wait for the next node.
    inertance: f64,
    loss: f64,
    cooling: Option<Cooling>,
    stage: Option<Stage>,
    /// The last duct laid.
    last: Option<DuctId>,
    compressor: Option<DuctId>,
    p: f64,
    t: f64,
}

impl<'b> Layout<'_, 'b> {
    /// Lays the tract without its relief valves.
    pub fn lay(&self) -> Known<Laid> {
        let machine = self.machine();
        let pieces: Known<Vec<Option<Piece>>> = self.path.iter().map(|spot| self.piece(spot)).collect();
        let throttle = self.throttle();
        let engine = self.engine();
        machine.zip(pieces).zip(throttle.zip(engine)).and_then(|((machine, pieces), (throttle, engine))| {
            self.assemble(&machine, &pieces, &throttle, &engine)
        })
    }

    fn compressor_spot(&self) -> Known<&Spot<'b>> {
        let mut all = self.path.iter().filter(|spot| spot.compresses());
        match (all.next(), all.next()) {
            (Some(spot), None) => Known::Is(spot),
            (None, _) => Known::not_applicable("no compressor is on the air path"),
            (Some(_), Some(_)) => Known::Open(Missing::not_built("tip-out of several compressors")),
        }
    }

    fn machine(&self) -> Known<Wheel> {
        self.compressor_spot().and_then(|spot| {
            let Body::Turbocharger(fields) = &spot.part.body else {
                return Known::Open(Missing::not_built("tip-out of an engine-driven supercharger"));
            };
            let sizes = fields.compressor.get(self.reads).and_then(|compressor| {
                let inducer = compressor.inducer.get(self.reads).map(|d| d.si());
                inducer.zip(compressor.exducer.get(self.reads).map(|d| d.si())).and_then(|(inducer, rim)| {
                    if inducer <= rim {
                        Known::Is((inducer, rim))
                    } else {
                        Known::missing(compressor.exducer.route())
                    }
                })
            });
            let inertia = fields.rotor_inertia.get(self.reads).map(|inertia| inertia.si());
            let machine = Machine::set_up(spot, self.reads);
            let speed = match self.solution.working.and_then(|working| working.speed) {
                Some(speed) => Known::Is(speed),
                None => fields.compressor.get(self.reads).and_then(|c| Known::missing(c.map.route())),
            };
            sizes.zip(inertia).zip(machine.zip(speed)).and_then(
                |(((inducer, rim), inertia), (machine, speed))| {
                    let map = machine.map().cloned();
                    let extended = map.and_then(|map| {
                        ExtendedMap::new(map, machine.reference, inducer, rim, REVERSE_RESISTANCE)
                    });
                    let actual = machine.reference.actual_speed(speed, self.solution.t1);
                    match (extended, actual) {
                        (Some(map), Some(speed)) => Known::Is(Wheel {
                            inertance: WHEEL_LENGTHS * rim / map.inducer_area(),
                            map: Arc::new(map),
                            inertia,
                            speed: speed * std::f64::consts::TAU,
                        }),
                        _ => Known::Open(Missing::hindrance(
                            "the compressor map cannot be carried on past its lines",
                        )),
                    }
                },
            )
        })
    }

    fn noted(&self, field: &crate::text::Route, words: &str) {
        self.reads.note(Read::Default { field: field.clone(), words: words.into() });
    }

    /// What a part is; `None` for the compressor and the throttle.
    fn piece(&self, spot: &Spot<'b>) -> Known<Option<Piece>> {
        if spot.compresses() || spot.shuts() {
            return Known::Is(None);
        }
        let part = spot.part;
        let Some(duct) = &part.duct else { return Known::Is(Some(Piece::Narrow)) };
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
                volume.zip(self.cooling(part)).map(|(volume, cooling)| Some(vessel(volume, Some(cooling))))
            }
            PartKind::InletManifold => {
                duct.volume.get(self.reads).map(|volume| Some(vessel(volume.si(), None)))
            }
            PartKind::Pipe | PartKind::Cone | PartKind::Coupler => {
                let size = duct.bore.get(self.reads).zip(duct.length.get(self.reads));
                size.and_then(|(bore, length)| {
                    let arcs = match &part.body {
                        Body::Pipe(pipe) => self.arcs(&pipe.bends),
                        _ => Known::Is(0.0),
                    };
                    let (bore, length) = (bore.si(), length.si());
                    arcs.map(|arcs| Some(pipe_piece(bore, length + arcs)))
                })
            }
            _ => Known::Is(Some(match (volume, duct.bore.state(self.reads), length) {
                (Some(volume), ..) => vessel(volume, None),
                (None, State::Given(bore), Some(length)) => pipe_piece(bore.si(), length),
                _ => Piece::Narrow,
            })),
        }
    }

    /// Length of the arcs of bends, which a pipe's length leaves out.
    fn arcs(&self, bends: &Field<List<crate::build::parts::Bend>>) -> Known<f64> {
        let State::Given(List(bends)) = bends.state(self.reads) else { return Known::Is(0.0) };
        let each = bends.iter().map(|bend| {
            bend.angle.get(self.reads).zip(bend.radius.get(self.reads)).map(|(a, r)| a.si() * r.si())
        });
        each.collect::<Known<Vec<f64>>>().map(|arcs| arcs.iter().sum())
    }

    /// What the cooler did at the start, as an effectiveness: kept through the run.
    fn cooling(&self, part: &Part) -> Known<Cooling> {
        let Body::ChargeAirCooler(cooler) = &part.body else { return Known::not_applicable("no cooler") };
        let coolers = self.path.iter().filter(|spot| spot.kind == PartKind::ChargeAirCooler).count();
        if coolers > 1 {
            return Known::Open(Missing::not_built("tip-out with several coolers"));
        }
        let coolant = match cooler.coolant_temperature.state(self.reads) {
            State::Given(t) => Known::Is(t.si()),
            _ => match cooler.cooled_by.get(self.reads) {
                Known::Is(CooledBy::Water) => Known::missing(cooler.coolant_temperature.route()),
                _ => Known::Is(self.site.temperature),
            },
        };
        coolant.map(|coolant| {
            let s = self.solution;
            let hot = s.t2 - coolant;
            let effectiveness = if hot.abs() > 1.0 { (s.t2 - s.t_manifold) / hot } else { 0.0 };
            Cooling { effectiveness: effectiveness.clamp(0.0, 1.0), coolant }
        })
    }

    fn throttle(&self) -> Known<Closes> {
        let Some(spot) = self.path.iter().find(|spot| spot.shuts()) else {
            return Known::not_applicable("nothing on the air path shuts");
        };
        let fields = match &spot.part.body {
            Body::Throttle(throttle) => (&throttle.shaft, &throttle.closing),
            Body::Carburettor(carburettor) => (&carburettor.shaft, &carburettor.closing),
            _ => return Known::not_applicable("nothing on the air path shuts"),
        };
        let Some(duct) = &spot.part.duct else { return Known::missing(spot.route) };
        let closing = fields.1.get(self.reads).and_then(|closing| {
            let to = match closing.to.state(self.reads) {
                State::Absent => {
                    self.noted(closing.to.route(), "the plate shuts to its stop");
                    Known::Is(0.0)
                }
                _ => closing.to.get(self.reads).map(|to| to.si()),
            };
            closing.time.get(self.reads).map(|time| time.si()).zip(to)
        });
        let sizes = duct.bore.get(self.reads).zip(fields.0.get(self.reads));
        sizes.zip(closing).and_then(|((bore, shaft), (time, to))| {
            let (bore, shaft) = (bore.si(), shaft.si());
            let open = bore_area(bore) - shaft * bore;
            if !(open > 0.0 && time > 0.0) {
                return Known::missing(duct.bore.route());
            }
            Known::Is(Closes { open, bore_area: bore_area(bore), time, to })
        })
    }

    fn engine(&self) -> Known<EngineFields> {
        self.tract.build().top.engine.get(self.reads).map(Clone::clone)
    }

    /// Area of the plate at its stop: what idle needs, else a share of the bore.
    fn closed_area(
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

    fn assemble(
        &self,
        wheel: &Wheel,
        pieces: &[Option<Piece>],
        closes: &Closes,
        engine: &EngineFields,
    ) -> Known<Laid> {
        let s = self.solution;
        let coefficient = self.reads.setting(Setting::ThrottleDischargeCoefficient).v;
        let compression = match engine.compression_ratio.state(self.reads) {
            State::Given(ratio) if ratio.si() > 1.0 => ratio.si(),
            _ => {
                self.noted(engine.compression_ratio.route(), "a compression ratio of 10");
                USUAL_COMPRESSION
            }
        };
        let (closed, closed_words) = self.closed_area(engine, closes, compression, coefficient);
        let mut network = Network::new(SimpleGas::of(&self.site.gas));
        let site = network.reservoir(self.site.pressure, self.site.temperature);
        let rotor = network.rotor(Rotor {
            inertia: wheel.inertia,
            speed: wheel.speed,
            held: true,
            torque: 0.0,
            lag: 2.0 / self.speed,
            follows: None,
        });
        let mut chain = Chain {
            node: site,
            inertance: 0.0,
            loss: 0.0,
            cooling: None,
            stage: None,
            last: None,
            compressor: None,
            p: self.site.pressure,
            t: self.site.temperature,
        };
        let mut nodes = Vec::new();
        let mut first_behind = None;
        let (mut throttle, mut ahead, mut mouth, mut meter_duct) = (None, None, None, None);
        let mut inlet = site;
        let meters = match self.tract.air_meters(self.reads) {
            Known::Is(meters) => meters,
            _ => Vec::new(),
        };
        for ((spot, piece), loss) in self.path.iter().zip(pieces).zip(&s.losses) {
            // The coefficient that gives this part its steady loss.
            let rho = (chain.p - 0.5 * loss) / (self.site.gas.r() * chain.t);
            let c = if spot.compresses() || spot.shuts() {
                0.0
            } else {
                (loss * rho / (s.flow * s.flow)).max(0.0)
            };
            let after = chain.p - loss;
            match piece {
                None if spot.compresses() => {
                    chain.inertance += wheel.inertance;
                    inlet = chain.node;
                    chain.stage = Some(Stage { characteristic: wheel.map.clone(), rotor });
                    (chain.p, chain.t) = (s.p2, s.t2);
                    nodes.push(Placed { spot: spot.index, at: 0.0, node: chain.node });
                    continue;
                }
                None => {
                    if chain.stage.is_some() {
                        return Known::Open(Missing::hindrance(
                            "nothing with a volume lies between compressor and throttle",
                        ));
                    }
                    // Half a cell's loss waits: the duct before bears it; its inertance has no stream to hold.
                    if let Some(duct) = chain.last.and_then(|id| network.duct_mut(id))
                        && let Loss::Quadratic(c) = &mut duct.loss
                    {
                        *c += chain.loss;
                    }
                    (chain.inertance, chain.loss) = (0.0, 0.0);
                    ahead = Some(chain.node);
                    nodes.push(Placed { spot: spot.index, at: 0.0, node: chain.node });
                    chain.p = after;
                    throttle = Some(spot.index);
                    continue;
                }
                Some(piece) => {
                    let first = network_nodes(piece, self.precision.cell);
                    let (count, volume, inertance, length) = first;
                    if count == 0 {
                        chain.loss += c;
                        chain.p = after;
                        continue;
                    }
                    let share = 1.0 / count as f64;
                    for i in 0..count {
                        let p = chain.p - loss * share;
                        let cooling = match piece {
                            Piece::Vessel { cooling, .. } => *cooling,
                            _ => None,
                        };
                        if cooling.is_some() {
                            chain.t = s.t_manifold;
                        }
                        chain.inertance += 0.5 * inertance * share;
                        chain.loss += 0.5 * c * share;
                        chain.cooling = cooling;
                        let node = network.volume(volume * share, p, chain.t);
                        // The first node behind the plate is joined by the plate's own orifice.
                        if throttle.is_none() || ahead != Some(chain.node) {
                            let duct = lay_duct(&mut network, &mut chain, node, s.flow);
                            mouth = mouth.or(Some(duct));
                            if meters.contains(&spot.index) && meter_duct.is_none() {
                                meter_duct = Some((duct, spot.index));
                            }
                        } else {
                            chain.node = node;
                        }
                        if chain.compressor.is_some() && first_behind.is_none() {
                            first_behind = Some(node);
                        }
                        chain.inertance = 0.5 * inertance * share;
                        chain.loss = 0.5 * c * share;
                        nodes.push(Placed { spot: spot.index, at: (i as f64 + 0.5) * share * length, node });
                        chain.p = p;
                    }
                    chain.p = after;
                }
            }
        }
        let (Some(compressor), Some(outlet), Some(ahead), Some(mouth)) =
            (chain.compressor, first_behind, ahead, mouth)
        else {
            return Known::Open(Missing::hindrance(
                "the air path has no pipe or vessel on one side of the compressor or behind the throttle",
            ));
        };
        let first_after = throttle.and_then(|at| nodes.iter().find(|placed| placed.spot > at));
        let Some(manifold) = first_after.map(|placed| placed.node) else {
            return Known::Open(Missing::hindrance("no manifold lies behind the throttle"));
        };
        let end = chain.node;
        let closing = closes.time * self.start.closing_factor();
        let plate = Plate {
            open: closes.open,
            closed,
            from: f64::INFINITY,
            time: closing,
            to: closes.to,
            again: f64::INFINITY,
        };
        let throttle = network.orifice(Orifice {
            from: ahead,
            to: manifold,
            law: Arc::new(Isentropic { coefficient }),
            opening: Opening::Plate(plate),
        });
        let engine = network.engine(Engine {
            from: end,
            swept: s.flow * self.site.gas.r() * s.t_manifold / s.p_manifold,
            site_pressure: self.site.pressure,
            compression_ratio: compression,
            pace: 0.0,
        });
        if let Some(rotor) = network.rotors_mut().first_mut() {
            rotor.follows = Some((engine, s.flow));
        }
        let meter = meter_duct.map(|(duct, spot)| {
            let directed = self.knows_direction(spot);
            Meter {
                reading: network.tally(Tally::Reading { duct, lag: METER_LAG, directed }),
                metered: network.tally(Tally::Metered { duct, directed }),
                back: network.tally(Tally::Back(duct)),
                spot,
                directed,
            }
        });
        let reversed = network.tally(Tally::Back(compressor));
        let drawn = network.tally(Tally::Drawn(engine));
        let mut closures: Closures = [
            "left of the surge line the map is carried on by Moore and Greitzer's cubic, to the ratio that the wheel holds at no flow",
            "reverse flow meets 30 heads of its speed in the inducer (choice; 10 to 60 plausible, some 15 % of frequency and swing)",
            "the compressor's passages count as three rim diameters of the inducer's area (choice)",
            "the turbine's torque follows the engine's flow squared, with a lag of one working cycle (choice, as long as no turbine is described)",
            "engine speed and effectiveness of the cooler are held",
            "velocity heads in volumes are neglected; losses keep their steady coefficients",
            "air that ran back through the wheel, hot, mixes over one cell of the inlet pipe (choice; frequency and the later swings rest on it, some 25 %)",
        ]
        .into_iter()
        .map(Arc::from)
        .collect();
        closures.push(closed_words.into());
        Known::Is(Laid {
            network,
            site,
            compressor,
            rotor,
            inlet,
            outlet,
            ahead_of_throttle: ahead,
            manifold,
            throttle,
            engine,
            mouth,
            meter,
            reversed,
            drawn,
            nodes,
            closures,
            closing,
        })
    }

    fn knows_direction(&self, spot: usize) -> bool {
        let Some(Body::AirMeter(meter)) = self.path.get(spot).map(|spot| &spot.part.body) else {
            return false;
        };
        matches!(meter.knows_direction.state(self.reads), State::Given(flag) if flag.0)
    }
}

/// The compressor's wheel.
#[derive(Clone)]
struct Wheel {
    map: Arc<ExtendedMap>,
    inertance: f64,
    inertia: f64,
    /// rad/s.
    speed: f64,
}

/// The throttle.
#[derive(Clone)]
struct Closes {
    open: f64,
    bore_area: f64,
    time: f64,
    to: f64,
}

fn pipe_piece(bore: f64, length: f64) -> Piece {
    if length > 0.0 && bore > 0.0 { Piece::Pipe { bore, length } } else { Piece::Narrow }
}

/// How many nodes a piece has; its volume, inertance and length.
fn network_nodes(piece: &Piece, cell: f64) -> (usize, f64, f64, f64) {
    match piece {
        Piece::Narrow => (0, 0.0, 0.0, 0.0),
        Piece::Pipe { bore, length } => {
            let area = bore_area(*bore);
            let count = ((length / cell).ceil() as usize).clamp(1, 200);
            (count, area * length, length / area, *length)
        }
        Piece::Vessel { volume, length, .. } => (1, *volume, length * length / volume, *length),
    }
}

/// Lays the duct that waits, up to a new node.
fn lay_duct(network: &mut Network, chain: &mut Chain, to: NodeId, flow: f64) -> DuctId {
    let stage = chain.stage.take();
    let compresses = stage.is_some();
    let duct = network.duct(Duct {
        from: chain.node,
        to,
        inertance: chain.inertance.max(1.0),
        loss: Loss::Quadratic(chain.loss),
        flow,
        stage,
        cooling: chain.cooling.take(),
    });
    if compresses {
        chain.compressor = Some(duct);
    }
    chain.last = Some(duct);
    chain.node = to;
    duct
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

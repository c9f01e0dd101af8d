//! The tract laid out as a network: cells of pipes, vessels, wheels and the throttle, along branches and one behind the other.

use std::sync::Arc;

use crate::build::engine::Engine as EngineFields;
use crate::known::{Known, Missing, Setting, State};
use crate::physics::flow::bore_area;
use crate::physics::network::{
    Cooling, Duct, DuctId, Engine, EngineId, Isentropic, Loss, Network, NodeId, Opening, Orifice, OrificeId,
    Plate, Rotor, RotorId, SimpleGas, Stage, Tally, TallyId,
};
use crate::tract::Leg;

use super::Closures;
use super::lay::{Closes, Layout, Piece, USUAL_COMPRESSION, Wheel};

/// Lag of an air meter's reading, s: common practice, no source.
const METER_LAG: f64 = 0.020;

/// A part's node with the distance of the node's middle from the part's upstream end.
#[derive(Debug)]
pub(super) struct Placed {
    spot: usize,
    at: f64,
    node: NodeId,
}

/// A compressor in the network.
#[derive(Debug)]
pub(super) struct Compressing {
    /// Its part's name.
    pub name: Arc<str>,
    pub spot: usize,
    pub duct: DuctId,
    pub rotor: RotorId,
    /// Ahead of it.
    pub inlet: NodeId,
    /// Behind it.
    pub outlet: NodeId,
    pub reversed: TallyId,
    /// Its share of the flow of the path.
    pub share: f64,
}

/// The network with what is watched of it.
#[derive(Debug)]
pub(super) struct Laid {
    pub network: Network,
    pub site: NodeId,
    /// The first compressor of the path, and the others.
    pub compressor: Compressing,
    pub others: Vec<Compressing>,
    pub ahead_of_throttle: NodeId,
    pub manifold: NodeId,
    pub throttle: OrificeId,
    pub engine: EngineId,
    pub mouths: Vec<DuctId>,
    pub meter: Option<Meter>,
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
    /// All compressors, in the order of the path.
    pub fn compressors(&self) -> impl Iterator<Item = &Compressing> {
        std::iter::once(&self.compressor).chain(&self.others)
    }

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

    /// The node of a part nearest to a distance from its upstream end; of a compressor the one behind it.
    pub fn node_of(&self, spot: usize, at: f64) -> Option<NodeId> {
        if let Some(compressor) = self.compressors().find(|compressor| compressor.spot == spot) {
            return Some(compressor.outlet);
        }
        let of_part = self.nodes.iter().filter(|placed| placed.spot == spot);
        of_part.min_by(|a, b| (a.at - at).abs().total_cmp(&(b.at - at).abs())).map(|placed| placed.node)
    }
}

/// A stream that waits for the next node: where it comes from, and what it has met since.
#[derive(Clone)]
struct Feed {
    node: NodeId,
    /// Inertance and loss coefficient on its own flow.
    inertance: f64,
    loss: f64,
    /// Its flow at the start, kg/s.
    flow: f64,
    stage: Option<(Stage, usize)>,
    /// The duct that leads to its node.
    last: Option<DuctId>,
}

/// A stretch as far as it is laid: one stream, or those of branches that have just joined.
#[derive(Clone)]
struct Chain {
    feeds: Vec<Feed>,
    /// Flow at the start of all streams together, kg/s.
    flow: f64,
    /// Whether the throttle is what leads to the next node.
    behind_plate: bool,
}

impl Chain {
    /// Inertance and loss coefficient of a part that all streams pass together: each bears what its share of the flow makes
    /// of them.
    fn passes(&mut self, inertance: f64, loss: f64) {
        for feed in &mut self.feeds {
            let weight = self.flow / feed.flow;
            feed.inertance += inertance * weight;
            feed.loss += loss * weight * weight;
        }
    }
}

/// A wheel that was laid, its duct still to come.
struct Turning {
    rotor: RotorId,
    inlet: NodeId,
    laid: Option<(DuctId, NodeId)>,
}

/// What is being laid.
struct Laying<'a, 'l, 'b> {
    layout: &'a Layout<'l, 'b>,
    wheels: &'a [Wheel],
    pieces: &'a [Piece],
    meters: Vec<usize>,
    network: Network,
    site: NodeId,
    nodes: Vec<Placed>,
    turning: Vec<Option<Turning>>,
    mouths: Vec<DuctId>,
    metering: Option<(DuctId, usize)>,
    /// The node ahead of the throttle, and the throttle's spot.
    ahead: Option<(NodeId, usize)>,
}

/// Why a tract cannot be laid out.
fn cannot(words: &str) -> Missing {
    Missing::hindrance(words)
}

impl Laying<'_, '_, '_> {
    fn stretch(&mut self, legs: &[Leg], mut chain: Chain, in_branch: bool) -> Result<Chain, Missing> {
        for leg in legs {
            chain = match leg {
                Leg::Spot(spot) => self.part(*spot, chain, in_branch)?,
                Leg::Fork(branches) => self.fork(branches, &chain)?,
            };
        }
        Ok(chain)
    }

    fn fork(&mut self, branches: &[Vec<Leg>], chain: &Chain) -> Result<Chain, Missing> {
        if chain.behind_plate || chain.feeds.iter().any(|feed| feed.stage.is_some()) {
            return Err(cannot(
                "nothing with a volume lies between a compressor or the throttle and where the path forks",
            ));
        }
        let mut joined = Chain { feeds: Vec::new(), flow: chain.flow, behind_plate: false };
        for branch in branches {
            let first = branch.iter().find_map(first_spot);
            let flow = first
                .and_then(|spot| self.layout.solution.stations.get(spot))
                .map(|station| station.flow)
                .filter(|flow| *flow > 0.0)
                .ok_or_else(|| cannot("no air goes through one of the branches"))?;
            let mut own = Chain { flow, ..chain.clone() };
            let weight = chain.flow / flow;
            for feed in &mut own.feeds {
                // What all bear together weighs on each stream as its share of the flow makes of it.
                feed.inertance *= weight;
                feed.loss *= weight * weight;
                feed.flow /= weight;
            }
            joined.feeds.extend(self.stretch(branch, own, true)?.feeds);
        }
        Ok(joined)
    }

    fn part(&mut self, spot: usize, mut chain: Chain, in_branch: bool) -> Result<Chain, Missing> {
        let solution = self.layout.solution;
        let (Some(piece), Some(station)) = (self.pieces.get(spot), solution.stations.get(spot)) else {
            return Err(cannot("the path and its operating point differ"));
        };
        let loss = (station.inlet.pressure - station.outlet.pressure).max(0.0);
        // The coefficient that gives this part its steady loss.
        let rho =
            (station.inlet.pressure - 0.5 * loss) / (self.layout.site.gas.r() * station.inlet.temperature);
        let c = loss * rho / (chain.flow * chain.flow);
        match piece {
            Piece::Compressor(number) => {
                let (Some(wheel), [feed]) = (self.wheels.get(*number), &mut chain.feeds[..]) else {
                    return Err(cannot("branches join right ahead of a compressor, with no volume between"));
                };
                if feed.stage.is_some() {
                    return Err(cannot("nothing with a volume lies between two compressors"));
                }
                let rotor = self.network.rotor(Rotor {
                    inertia: wheel.inertia,
                    speed: wheel.speed,
                    held: true,
                    torque: 0.0,
                    lag: 2.0 / self.layout.speed,
                    follows: None,
                });
                feed.inertance += wheel.inertance;
                feed.stage = Some((Stage { characteristic: wheel.map.clone(), rotor }, *number));
                if let Some(turning) = self.turning.get_mut(*number) {
                    *turning = Some(Turning { rotor, inlet: feed.node, laid: None });
                }
                self.nodes.push(Placed { spot, at: 0.0, node: feed.node });
            }
            Piece::Throttle => {
                if in_branch {
                    return Err(Missing::not_built("tip-out with a throttle in each branch"));
                }
                let [feed] = &mut chain.feeds[..] else {
                    return Err(cannot("branches join right ahead of the throttle, with no volume between"));
                };
                if feed.stage.is_some() {
                    return Err(cannot("nothing with a volume lies between compressor and throttle"));
                }
                // Half a cell's loss waits: the duct before bears it; its inertance has no stream to hold.
                if let Some(duct) = feed.last.and_then(|id| self.network.duct_mut(id))
                    && let Loss::Quadratic(coefficient) = &mut duct.loss
                {
                    *coefficient += feed.loss;
                }
                (feed.inertance, feed.loss) = (0.0, 0.0);
                self.ahead = Some((feed.node, spot));
                self.nodes.push(Placed { spot, at: 0.0, node: feed.node });
                chain.behind_plate = true;
            }
            Piece::Narrow => chain.passes(0.0, c),
            Piece::Pipe { .. } | Piece::Vessel { .. } => {
                let (count, volume, inertance, length) = network_nodes(piece, self.layout.precision.cell);
                let share = 1.0 / count as f64;
                let cooling = match piece {
                    Piece::Vessel { cooling, .. } => *cooling,
                    _ => None,
                };
                let t =
                    if cooling.is_some() { station.outlet.temperature } else { station.inlet.temperature };
                for i in 0..count {
                    let p = station.inlet.pressure - loss * share * (i + 1) as f64;
                    chain.passes(0.5 * inertance * share, 0.5 * c * share);
                    let node = self.network.volume(volume * share, p, t);
                    self.lead(&mut chain, node, cooling, spot);
                    chain.passes(0.5 * inertance * share, 0.5 * c * share);
                    self.nodes.push(Placed { spot, at: (i as f64 + 0.5) * share * length, node });
                }
            }
        }
        Ok(chain)
    }

    /// Lays the ducts of all streams that wait, up to a new node.
    fn lead(&mut self, chain: &mut Chain, to: NodeId, cooling: Option<Cooling>, spot: usize) {
        // The first node behind the plate is joined by the plate's own orifice.
        let feeds = std::mem::take(&mut chain.feeds);
        let mut last = None;
        if !std::mem::take(&mut chain.behind_plate) {
            for feed in feeds {
                let (stage, number) = feed.stage.unzip();
                let duct = self.network.duct(Duct {
                    from: feed.node,
                    to,
                    inertance: feed.inertance.max(1.0),
                    loss: Loss::Quadratic(feed.loss),
                    flow: feed.flow,
                    stage,
                    cooling,
                });
                if let Some(Some(turning)) = number.and_then(|number| self.turning.get_mut(number)) {
                    turning.laid = Some((duct, to));
                }
                if feed.node == self.site {
                    self.mouths.push(duct);
                }
                if self.metering.is_none() && self.meters.contains(&spot) {
                    self.metering = Some((duct, spot));
                }
                last = Some(duct);
            }
        }
        chain.feeds = vec![Feed { node: to, inertance: 0.0, loss: 0.0, flow: chain.flow, stage: None, last }];
    }
}

impl Layout<'_, '_> {
    /// Lays the tract without its relief valves.
    pub fn lay(&self) -> Known<Laid> {
        let wheels = self.wheels();
        let pieces: Known<Vec<Piece>> = self.path.iter().map(|spot| self.piece(spot)).collect();
        let throttle = self.throttle();
        let engine = self.engine();
        wheels.zip(pieces).zip(throttle.zip(engine)).and_then(|((wheels, pieces), (throttle, engine))| {
            self.assemble(&wheels, &pieces, &throttle, &engine)
        })
    }

    fn assemble(
        &self,
        wheels: &[Wheel],
        pieces: &[Piece],
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
        let meters = match self.tract.air_meters(self.reads) {
            Known::Is(meters) => meters,
            _ => Vec::new(),
        };
        if meters.len() > 1 && self.path.forks() {
            return Known::Open(Missing::not_built("tip-out with several air meters"));
        }
        let mut laying = Laying {
            layout: self,
            wheels,
            pieces,
            meters,
            network,
            site,
            nodes: Vec::new(),
            turning: wheels.iter().map(|_| None).collect(),
            mouths: Vec::new(),
            metering: None,
            ahead: None,
        };
        let feed = Feed { node: site, inertance: 0.0, loss: 0.0, flow: s.flow, stage: None, last: None };
        let start = Chain { feeds: vec![feed], flow: s.flow, behind_plate: false };
        let end = match laying.stretch(self.path.legs(), start, false) {
            Ok(end) => end,
            Err(missing) => return Known::Open(missing),
        };
        let Laying { mut network, nodes, turning, mouths, metering, ahead, .. } = laying;
        let no_room = || {
            Known::Open(cannot(
                "the air path has no pipe or vessel on one side of the compressor or behind the throttle",
            ))
        };
        let laid = wheels.iter().zip(turning).map(|(wheel, turning)| {
            let Turning { rotor, inlet, laid } = turning?;
            let (duct, outlet) = laid?;
            let reversed = network.tally(Tally::Back(duct));
            let flow = s.stations.get(wheel.spot).map_or(s.flow, |station| station.flow);
            let (name, spot) = (wheel.name.clone(), wheel.spot);
            Some(Compressing { name, spot, duct, rotor, inlet, outlet, reversed, share: flow / s.flow })
        });
        let Some(compressors) = laid.collect::<Option<Vec<_>>>() else { return no_room() };
        let mut compressors = compressors.into_iter();
        let (Some(compressor), Some((ahead, plate)), false, [end]) =
            (compressors.next(), ahead, mouths.is_empty(), &end.feeds[..])
        else {
            return no_room();
        };
        let behind = nodes.iter().find(|placed| placed.spot > plate);
        let Some(manifold) = behind.map(|placed| placed.node) else {
            return Known::Open(cannot("no manifold lies behind the throttle"));
        };
        let closing = closes.time * self.start.closing_factor();
        let throttle = network.orifice(Orifice {
            from: ahead,
            to: manifold,
            law: Arc::new(Isentropic { coefficient }),
            opening: Opening::Plate(Plate {
                open: closes.open,
                closed,
                from: f64::INFINITY,
                time: closing,
                to: closes.to,
                again: f64::INFINITY,
            }),
        });
        let engine = network.engine(Engine {
            from: end.node,
            swept: s.flow * self.site.gas.r() * s.t_manifold / s.p_manifold,
            site_pressure: self.site.pressure,
            compression_ratio: compression,
            pace: 0.0,
        });
        for rotor in network.rotors_mut() {
            rotor.follows = Some((engine, s.flow));
        }
        let meter = metering.map(|(duct, spot)| {
            let directed = self.knows_direction(spot);
            Meter {
                reading: network.tally(Tally::Reading { duct, lag: METER_LAG, directed }),
                metered: network.tally(Tally::Metered { duct, directed }),
                back: network.tally(Tally::Back(duct)),
                spot,
                directed,
            }
        });
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
        if self.path.forks() {
            closures.push("where branches fork or join without a chamber the air of both mixes in the next cell, and no loss is counted (choice)".into());
        }
        closures.push(closed_words.into());
        Known::Is(Laid {
            network,
            site,
            compressor,
            others: compressors.collect(),
            ahead_of_throttle: ahead,
            manifold,
            throttle,
            engine,
            mouths,
            meter,
            drawn,
            nodes,
            closures,
            closing,
        })
    }
}

fn first_spot(leg: &Leg) -> Option<usize> {
    match leg {
        Leg::Spot(spot) => Some(*spot),
        Leg::Fork(branches) => branches.iter().flatten().find_map(first_spot),
    }
}

/// How many nodes a piece has; its volume, inertance and length.
fn network_nodes(piece: &Piece, cell: f64) -> (usize, f64, f64, f64) {
    match piece {
        Piece::Narrow | Piece::Compressor(_) | Piece::Throttle => (0, 0.0, 0.0, 0.0),
        Piece::Pipe { bore, length } => {
            let area = bore_area(*bore);
            let count = ((length / cell).ceil() as usize).clamp(1, 200);
            (count, area * length, length / area, *length)
        }
        Piece::Vessel { volume, length, .. } => (1, *volume, length * length / volume, *length),
    }
}

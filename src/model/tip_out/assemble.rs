//! The tract laid out as a network: cells of pipes, vessels, wheels and the throttle, along branches and one behind the other.

use std::sync::Arc;

use crate::build::engine::Engine as EngineFields;
use crate::known::{Known, Missing, Setting, State};
use crate::model::Air;
use crate::physics::flow::bore_area;
use crate::physics::network::{
    Cooling, Duct, DuctId, Engine, EngineId, Equations, Isentropic, Loss, Network, Node, NodeId, Opening,
    Orifice, OrificeId, Plate, Pump, PumpId, Restriction, Rotor, RotorId, SimpleGas, Stage, Tally, TallyId,
};
use crate::tract::Leg;

use super::Closures;
use super::lay::{Closes, Layout, Piece, USUAL_COMPRESSION, Wheel, Works};

/// Lag of an air meter's reading, s: common practice, no source.
const METER_LAG: f64 = 0.020;

/// Length of the throttle's own bore that stands ahead of a throttle which draws straight from the filter, m (choice).
const BELL: f64 = 0.2;

/// What leads from one node to the next.
#[derive(Clone, Copy, Debug)]
pub(super) enum Way {
    /// A duct, with or without a wheel at its head.
    Duct(DuctId),
    /// A machine that displaces its air.
    Pump(PumpId),
}

impl Way {
    /// Its flow, kg/s.
    pub fn flow(self, equations: &Equations) -> f64 {
        match self {
            Self::Duct(duct) => equations.duct_flow(duct),
            Self::Pump(pump) => equations.pump_flow(pump),
        }
    }

    /// Flow on the surge line of a wheel in it, kg/s; none where nothing surges.
    pub fn surge_flow(self, equations: &Equations, y: &[f64]) -> Option<f64> {
        match self {
            Self::Duct(duct) => equations.surge_flow(duct, y),
            Self::Pump(_) => None,
        }
    }
}

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
    pub way: Way,
    pub rotor: RotorId,
    /// Ahead of it.
    pub inlet: NodeId,
    /// Behind it.
    pub outlet: NodeId,
    /// What ran backward through it; nothing does through one that displaces its air.
    pub reversed: Option<TallyId>,
    /// Whether the engine drives it.
    pub driven: bool,
    /// What it delivers at the start above what the path takes on, kg/s.
    pub surplus: f64,
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
    /// Right behind the throttle.
    pub behind_throttle: NodeId,
    pub manifold: NodeId,
    pub throttle: OrificeId,
    pub engine: EngineId,
    pub mouths: Vec<Way>,
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
    stage: Option<(Head, usize)>,
    /// What leads to its node.
    last: Option<Way>,
}

/// A compressor at the head of what leads to the next node.
#[derive(Clone)]
enum Head {
    Stage(Stage),
    /// Volume in one radian, efficiency, rotor, and the loss coefficient of what lies ahead of it.
    Pump {
        volume: f64,
        efficiency: f64,
        rotor: RotorId,
        ahead: f64,
    },
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

/// The spots of a branch, and the place of the throttle among them.
type Plated = (Vec<usize>, usize);

/// A wheel that was laid, its duct still to come.
struct Turning {
    rotor: RotorId,
    inlet: NodeId,
    laid: Option<(Way, NodeId)>,
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
    mouths: Vec<Way>,
    metering: Option<(DuctId, usize)>,
    /// The node ahead of the throttle, and the throttle's spot.
    ahead: Option<(NodeId, usize)>,
    /// The node right behind it.
    behind: Option<NodeId>,
    /// Whether the throttle draws straight from the filter.
    bell: bool,
    /// Whether several throttles count as one.
    plates_together: bool,
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
        if let Some(plates) = self.plates(branches) {
            return self.side_by_side(&plates?, chain.clone());
        }
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

    /// The branches of a fork with one throttle in each; none where no branch has one.
    fn plates(&self, branches: &[Vec<Leg>]) -> Option<Result<Vec<Plated>, Missing>> {
        let is = |spot: &usize, wanted: fn(&Piece) -> bool| self.pieces.get(*spot).is_some_and(wanted);
        let plate = |piece: &Piece| matches!(piece, Piece::Throttle);
        let shuts = |leg: &Leg| matches!(leg, Leg::Spot(spot) if is(spot, plate));
        if !branches.iter().flatten().any(shuts) {
            return None;
        }
        let each = branches.iter().map(|branch| {
            let spots: Option<Vec<usize>> =
                branch.iter().map(|leg| if let Leg::Spot(spot) = leg { Some(*spot) } else { None }).collect();
            let spots = spots?;
            let plates: Vec<usize> = (0..spots.len()).filter(|at| is(&spots[*at], plate)).collect();
            let plain = spots.iter().all(|spot| {
                !is(spot, |piece| {
                    matches!(piece, Piece::Compressor(_) | Piece::Vessel { cooling: Some(_), .. })
                })
            });
            match plates[..] {
                [at] if plain => Some((spots, at)),
                _ => None,
            }
        });
        let each: Option<Vec<Plated>> = each.collect();
        Some(each.ok_or_else(|| {
            Missing::not_built(
                "tip-out with throttles in branches that hold none, or more than a plate, pipes and chambers",
            )
        }))
    }

    /// Throttles side by side as one plate: what lies ahead of them counts as one volume, and what lies behind as another.
    fn side_by_side(&mut self, branches: &[Plated], chain: Chain) -> Result<Chain, Missing> {
        let ahead: Vec<&[usize]> = branches.iter().map(|(spots, at)| &spots[..*at]).collect();
        let behind: Vec<&[usize]> = branches.iter().map(|(spots, at)| &spots[at + 1..]).collect();
        let mut chain = self.merged(&ahead, chain)?;
        for (number, (spots, at)) in branches.iter().enumerate() {
            if number == 0 {
                chain = self.part(spots[*at], chain, false)?;
            } else if let Some((node, _)) = self.ahead {
                self.nodes.push(Placed { spot: spots[*at], at: 0.0, node });
            }
        }
        self.plates_together = true;
        self.merged(&behind, chain)
    }

    /// Stretches side by side, of pipes and chambers alone, as one volume.
    fn merged(&mut self, stretches: &[&[usize]], mut chain: Chain) -> Result<Chain, Missing> {
        let solution = self.layout.solution;
        let (mut volume, mut conductance) = (0.0, 0.0);
        let (mut loss, mut state) = (0.0_f64, None);
        for stretch in stretches {
            let mut inertance = 0.0;
            let mut own_loss = 0.0;
            for spot in *stretch {
                let (Some(piece), Some(station)) = (self.pieces.get(*spot), solution.stations.get(*spot))
                else {
                    return Err(cannot("the path and its operating point differ"));
                };
                let (_, of_piece, along, _) = network_nodes(piece, self.layout.precision.cell);
                volume += of_piece;
                inertance += along;
                own_loss += (station.inlet.pressure - station.outlet.pressure).max(0.0);
                state = state.or(Some(station.inlet));
            }
            conductance += if inertance > 0.0 { 1.0 / inertance } else { f64::INFINITY };
            loss = loss.max(own_loss);
        }
        // All streams fall by the same pressure.
        let Some(inlet) = state else { return Ok(chain) };
        let rho = (inlet.pressure - 0.5 * loss) / (self.layout.site.gas.r() * inlet.temperature);
        let (inertance, c) = (1.0 / conductance, loss * rho / (chain.flow * chain.flow));
        if volume <= 0.0 {
            chain.passes(inertance, c);
            return Ok(chain);
        }
        chain.passes(0.5 * inertance, 0.5 * c);
        let node = self.network.volume(volume, inlet.pressure - loss, inlet.temperature);
        let spots: Vec<usize> = stretches.iter().flat_map(|stretch| stretch.iter().copied()).collect();
        self.lead(&mut chain, node, None, spots[0])?;
        chain.passes(0.5 * inertance, 0.5 * c);
        self.nodes.extend(spots.into_iter().map(|spot| Placed { spot, at: 0.0, node }));
        Ok(chain)
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
                    inertia: wheel.inertia.unwrap_or(1.0),
                    speed: wheel.speed,
                    held: true,
                    torque: 0.0,
                    lag: 2.0 / self.layout.speed,
                    follows: None,
                    geared: None,
                });
                let head = match &wheel.works {
                    Works::Wheel { map, inertance } => {
                        feed.inertance += inertance;
                        Head::Stage(Stage { characteristic: map.clone(), rotor })
                    }
                    Works::Displaces { volume, efficiency } => Head::Pump {
                        volume: *volume,
                        efficiency: *efficiency,
                        rotor,
                        ahead: std::mem::take(&mut feed.loss),
                    },
                };
                feed.stage = Some((head, *number));
                if let Some(turning) = self.turning.get_mut(*number) {
                    *turning = Some(Turning { rotor, inlet: feed.node, laid: None });
                }
                self.nodes.push(Placed { spot, at: 0.0, node: feed.node });
            }
            Piece::Throttle => {
                if in_branch {
                    return Err(Missing::not_built("tip-out with a throttle in each branch"));
                }
                // A wheel that draws through a throttle is left alone: what it does in the vacuum is no surge on a trapped charge.
                let displace = self.wheels.iter().all(|wheel| matches!(wheel.works, Works::Displaces { .. }));
                let at_the_site =
                    matches!(&chain.feeds[..], [feed] if feed.node == self.site && feed.stage.is_none());
                if displace && at_the_site {
                    self.bell(&mut chain, spot, station.inlet)?;
                }
                let [feed] = &mut chain.feeds[..] else {
                    return Err(cannot("branches join right ahead of the throttle, with no volume between"));
                };
                if feed.stage.is_some() {
                    return Err(cannot("nothing with a volume lies between compressor and throttle"));
                }
                // Half a cell's loss waits: the duct before bears it; its inertance has no stream to hold.
                match feed.last {
                    Some(Way::Duct(id)) => {
                        if let Some(Loss::Quadratic(coefficient)) =
                            self.network.duct_mut(id).map(|duct| &mut duct.loss)
                        {
                            *coefficient += feed.loss;
                        }
                    }
                    Some(Way::Pump(id)) => {
                        if let Some(pump) = self.network.pump_mut(id) {
                            pump.losses.1 += feed.loss;
                        }
                    }
                    None => {}
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
                    self.lead(&mut chain, node, cooling, spot)?;
                    chain.passes(0.5 * inertance * share, 0.5 * c * share);
                    self.nodes.push(Placed { spot, at: (i as f64 + 0.5) * share * length, node });
                }
            }
        }
        Ok(chain)
    }

    /// A stretch of its own bore ahead of a throttle that draws straight from the filter: what the plate throttles has to stand
    /// somewhere.
    fn bell(&mut self, chain: &mut Chain, spot: usize, inlet: Air) -> Result<(), Missing> {
        let bore = self.layout.path.get(spot).and_then(|spot| spot.part.duct.as_ref());
        let Some(State::Given(bore)) = bore.map(|duct| duct.bore.state(self.layout.reads)) else {
            return Ok(());
        };
        let area = bore_area(bore.si());
        let node = self.network.volume(area * BELL, inlet.pressure, inlet.temperature);
        chain.passes(BELL / area, 0.0);
        self.bell = true;
        self.lead(chain, node, None, spot)
    }

    /// Lays what leads all streams that wait up to a new node.
    fn lead(
        &mut self,
        chain: &mut Chain,
        to: NodeId,
        cooling: Option<Cooling>,
        spot: usize,
    ) -> Result<(), Missing> {
        // The first node behind the plate is joined by the plate's own orifice.
        let feeds = std::mem::take(&mut chain.feeds);
        let mut last = None;
        if std::mem::take(&mut chain.behind_plate) {
            self.behind = Some(to);
        } else {
            for feed in feeds {
                let (head, number) = feed.stage.unzip();
                let way = if let Some(Head::Pump { volume, efficiency, rotor, ahead }) = head {
                    let losses = (ahead, feed.loss);
                    let from = feed.node;
                    Way::Pump(self.network.pump(Pump {
                        from,
                        to,
                        volume,
                        efficiency,
                        rotor,
                        losses,
                        cooling,
                    }))
                } else {
                    let stage = head.and_then(|head| match head {
                        Head::Stage(stage) => Some(stage),
                        Head::Pump { .. } => None,
                    });
                    Way::Duct(self.network.duct(Duct {
                        from: feed.node,
                        to,
                        inertance: feed.inertance.max(1.0),
                        loss: Loss::Quadratic(feed.loss),
                        flow: feed.flow,
                        stage,
                        cooling,
                    }))
                };
                if let Some(Some(turning)) = number.and_then(|number| self.turning.get_mut(number)) {
                    turning.laid = Some((way, to));
                }
                if feed.node == self.site {
                    self.mouths.push(way);
                }
                if self.metering.is_none() && self.meters.contains(&spot) {
                    let Way::Duct(duct) = way else {
                        return Err(cannot(
                            "the air meter sits right behind a machine that displaces its air",
                        ));
                    };
                    self.metering = Some((duct, spot));
                }
                last = Some(way);
            }
        }
        chain.feeds = vec![Feed { node: to, inertance: 0.0, loss: 0.0, flow: chain.flow, stage: None, last }];
        Ok(())
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
            behind: None,
            bell: false,
            plates_together: false,
        };
        let feed = Feed { node: site, inertance: 0.0, loss: 0.0, flow: s.flow, stage: None, last: None };
        let start = Chain { feeds: vec![feed], flow: s.flow, behind_plate: false };
        let end = match laying.stretch(self.path.legs(), start, false) {
            Ok(end) => end,
            Err(missing) => return Known::Open(missing),
        };
        let laying_choices = (laying.bell, laying.plates_together);
        let Laying { mut network, nodes, turning, mouths, metering, ahead, behind, .. } = laying;
        let (bell, together) = laying_choices;
        let no_room = || {
            Known::Open(cannot(
                "the air path has no pipe or vessel on one side of the compressor or behind the throttle",
            ))
        };
        let laid = wheels.iter().zip(turning).map(|(wheel, turning)| {
            let Turning { rotor, inlet, laid } = turning?;
            let (way, outlet) = laid?;
            let reversed = match way {
                Way::Duct(duct) => Some(network.tally(Tally::Back(duct))),
                Way::Pump(_) => None,
            };
            let flow = s.stations.get(wheel.spot).map_or(s.flow, |station| station.flow);
            let (name, spot, driven) = (wheel.name.clone(), wheel.spot, wheel.inertia.is_none());
            let share = flow / s.flow;
            let surplus = goes_round(&mut network, (inlet, outlet), wheel.surplus);
            Some(Compressing { name, spot, way, rotor, inlet, outlet, reversed, driven, surplus, share })
        });
        let Some(compressors) = laid.collect::<Option<Vec<_>>>() else { return no_room() };
        let compressors_surplus = compressors.iter().any(|one| one.surplus > 0.0);
        let mut compressors = compressors.into_iter();
        let (Some(compressor), Some((ahead, plate)), false, [end]) =
            (compressors.next(), ahead, mouths.is_empty(), &end.feeds[..])
        else {
            return no_room();
        };
        let Some(behind) = behind else {
            return Known::Open(cannot("no manifold lies behind the throttle"));
        };
        // Behind a throttle ahead of a compressor stands what the compressor draws from.
        let draws_through = wheels.iter().any(|wheel| wheel.spot > plate);
        let manifold = if draws_through { end.node } else { behind };
        let closing = closes.time * self.start.closing_factor();
        let throttle = network.orifice(Orifice {
            from: ahead,
            to: behind,
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
        let (pace, until) = self.falls().unwrap_or((0.0, f64::INFINITY));
        let engine = network.engine(Engine {
            from: end.node,
            swept: s.flow * self.site.gas.r() * s.t_manifold / s.p_manifold,
            site_pressure: self.site.pressure,
            compression_ratio: compression,
            pace,
            until,
        });
        for (rotor, wheel) in network.rotors_mut().iter_mut().zip(wheels) {
            if wheel.inertia.is_some() {
                rotor.follows = Some((engine, s.flow));
            } else {
                rotor.geared = Some(engine);
            }
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
        let mut closures = closures(wheels, [bell, together, pace != 0.0]);
        if compressors_surplus {
            closures.push("what a machine delivers above what the engine takes at the start goes round it, through an opening that stays (choice)".into());
        }
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
            behind_throttle: behind,
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

/// What was chosen for the machines of a path.
fn closures(wheels: &[Wheel], [bell, together, falls]: [bool; 3]) -> Closures {
    let wheel = wheels.iter().any(|one| matches!(one.works, Works::Wheel { .. }));
    let displaces = wheels.iter().any(|one| matches!(one.works, Works::Displaces { .. }));
    let turbine = wheels.iter().any(|one| one.inertia.is_some());
    let driven = wheels.iter().any(|one| one.inertia.is_none());
    [
        (wheel, "left of the surge line the map is carried on by Moore and Greitzer's cubic, to the ratio that the wheel holds at no flow"),
        (wheel, "reverse flow meets 30 heads of its speed in the inducer (choice; 10 to 60 plausible, some 15 % of frequency and swing)"),
        (wheel, "the compressor's passages count as three rim diameters of the inducer's area (choice)"),
        (turbine, "the turbine's torque follows the engine's flow squared, with a lag of one working cycle (choice, as long as no turbine is described)"),
        (driven, "the engine drives the machine at its own speed, whatever torque that takes; belt and coupling hold"),
        (displaces, "a machine that displaces its air delivers its share of the displacement at any pressure ratio, and nothing runs back through it (choice)"),
        (!falls, "engine speed and effectiveness of the cooler are held"),
        (falls, "engine speed falls evenly over the gear-change to what the next gear makes of it, and stays there (choice); its filling and the effectiveness of the cooler are held"),
        (true, "velocity heads in volumes are neglected; losses keep their steady coefficients"),
        (wheel, "air that ran back through the wheel, hot, mixes over one cell of the inlet pipe (choice; frequency and the later swings rest on it, some 25 %)"),
        (bell, "a throttle that draws straight from the filter has 0.2 m of its own bore ahead of it (choice)"),
        (together, "throttles side by side shut alike, as one plate with the sum of their areas; what lies behind them counts as one volume (choice)"),
    ]
    .into_iter()
    .filter(|(holds, _)| *holds)
    .map(|(_, words)| Arc::from(words))
    .collect()
}

/// Lets a flow, kg/s, that a machine delivers in excess at the start round it, from its outlet back to its inlet; gives the
/// flow that goes so.
fn goes_round(network: &mut Network, (inlet, outlet): (NodeId, NodeId), surplus: f64) -> f64 {
    let state = |node: NodeId| match network.node_at(node) {
        Some(Node::Volume { p, t, .. } | Node::Reservoir { p, t }) => Some((*p, *t)),
        None => None,
    };
    let (Some((back, _)), Some((p, t))) = (state(inlet), state(outlet)) else { return 0.0 };
    let law = Isentropic { coefficient: 1.0 };
    let each = law.flow(0.0, 1.0, p, t, back, network.gas());
    if !(surplus > 0.0 && p > back && each > 0.0) {
        return 0.0;
    }
    let opening = Opening::Fixed(surplus / each);
    network.orifice(Orifice { from: outlet, to: inlet, law: Arc::new(law), opening });
    surplus
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

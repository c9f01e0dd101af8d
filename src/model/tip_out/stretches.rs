//! A path laid piece by piece: cells of pipes, vessels, wheels and the throttle, along branches and one behind the other.

use crate::known::{Missing, State};
use crate::model::Air;
use crate::physics::flow::bore_area;
use crate::physics::network::{Cooling, Duct, DuctId, Loss, Network, NodeId, Pump, Rotor, RotorId, Stage};
use crate::tract::Leg;

use super::laid::{Placed, Way};
use super::lay::{Layout, Piece, Wheel, Works};

/// Length of the throttle's own bore that stands ahead of a throttle which draws straight from the filter, m (choice).
const BELL: f64 = 0.2;

/// A stream that waits for the next node: where it comes from, and what it has met since.
#[derive(Clone)]
pub(super) struct Feed {
    pub node: NodeId,
    /// Inertance and loss coefficient on its own flow.
    pub inertance: f64,
    pub loss: f64,
    /// Its flow at the start, kg/s.
    pub flow: f64,
    pub stage: Option<(Head, usize)>,
    /// What leads to its node.
    pub last: Option<Way>,
}

/// A compressor at the head of what leads to the next node.
#[derive(Clone)]
pub(super) enum Head {
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
pub(super) struct Chain {
    pub feeds: Vec<Feed>,
    /// Flow at the start of all streams together, kg/s.
    pub flow: f64,
    /// Whether the throttle is what leads to the next node.
    pub behind_plate: bool,
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
pub(super) struct Turning {
    pub rotor: RotorId,
    pub inlet: NodeId,
    pub laid: Option<(Way, NodeId)>,
}

/// What is being laid.
pub(super) struct Laying<'a, 'l, 'b> {
    pub layout: &'a Layout<'l, 'b>,
    pub wheels: &'a [Wheel],
    pub pieces: &'a [Piece],
    pub meters: Vec<usize>,
    pub network: Network,
    pub site: NodeId,
    pub nodes: Vec<Placed>,
    pub turning: Vec<Option<Turning>>,
    pub mouths: Vec<Way>,
    pub metering: Option<(DuctId, usize)>,
    /// The node ahead of the throttle, and the throttle's spot.
    pub ahead: Option<(NodeId, usize)>,
    /// The node right behind it.
    pub behind: Option<NodeId>,
    /// Whether the throttle draws straight from the filter.
    pub bell: bool,
    /// Whether several throttles count as one.
    pub plates_together: bool,
}

/// Why a tract cannot be laid out.
pub(super) fn cannot(words: &str) -> Missing {
    Missing::hindrance(words)
}

impl Laying<'_, '_, '_> {
    /// Lays a stretch of the path behind what is laid already.
    pub fn stretch(&mut self, legs: &[Leg], mut chain: Chain, in_branch: bool) -> Result<Chain, Missing> {
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

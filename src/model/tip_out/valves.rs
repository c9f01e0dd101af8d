//! Relief valves that open on tip-out, joined to the network with their signal hoses and ports.

use std::sync::Arc;

use crate::build::hoses::{End, HoseFields};
use crate::build::parts::{
    Actuation, Body as PartBody, Discharge, Part, PartKind, ReliefCommand, ReliefPurpose, ReliefValve,
};
use crate::build::scalars::{AIR, Destination, PartName};
use crate::known::{Field, Known, Missing, State};
use crate::physics::flow::{SonicRating, bore_area};
use crate::physics::network::{
    Actuated, Body, Isentropic, NodeId, Opening, Orifice, Port, Rated, Restriction, Tally, TallyId, Valve,
    ValveId,
};
use crate::physics::relief_valve::Balance;

use super::laid::Laid;
use super::lay::Layout;
use crate::model::signal_line::{self, HoseSize};
use crate::model::statics::{friction, usual_coefficient};

/// Room above the piston at full lift, m: its chamber's volume where none is given (choice).
const ROOM: f64 = 0.020;

/// Volume, m3, of the chamber behind a piston of an area, m2, with a lift, m, where it is not given.
pub fn usual_chamber(area: f64, lift: f64) -> f64 {
    area * (lift + ROOM)
}
/// Damping ratio of a valve's mass on its spring where no damping is given (choice).
const DAMPING_RATIO: f64 = 0.2;
/// Time that an electric valve takes over its stroke (choice).
const ELECTRIC_TRAVEL: f64 = 0.010;
/// Fall of the manifold below the charge at which a valve that watches it is commanded, Pa (choice).
const COMMANDING_FALL: f64 = 10e3;
/// Darcy factor of a return pipe (choice), for its series with the port.
const RETURN_FACTOR: f64 = 0.02;

/// A valve in the network.
#[derive(Clone, Debug)]
pub(super) struct Fitted {
    pub name: Arc<str>,
    pub valve: ValveId,
    pub signal: NodeId,
    /// Stroke to the stop, m.
    pub stroke: f64,
    /// Ports with where they lead.
    pub ports: Vec<FittedPort>,
    /// Whether what it lets out has passed an air meter.
    pub metered: bool,
}

/// A port in the network.
#[derive(Clone, Debug)]
pub(super) struct FittedPort {
    pub to: Arc<str>,
    /// Whether it leads to the open air.
    pub to_air: bool,
    pub orifice: crate::physics::network::OrificeId,
    pub passed: TallyId,
}

/// A valve as described.
#[derive(Clone)]
struct Described {
    balance: Balance,
    body: Body,
    seat: f64,
    law: Arc<dyn Restriction>,
    coefficient: f64,
    chamber: f64,
}

impl<'b> Layout<'_, 'b> {
    /// The relief valves that have a part in a tip-out: those for it, and, where an engine-driven machine goes on delivering,
    /// all that its charge can find a way through.
    pub fn tip_out_valves(&self) -> Known<Vec<&'b Part>> {
        let driven = self.has_driven();
        let mut found = Vec::new();
        for part in &self.tract.build().parts.list {
            let PartBody::ReliefValve(valve) = &part.body else { continue };
            match valve.purpose_or_usual(self.reads) {
                Known::Is(ReliefPurpose::TipOut) => found.push(part),
                Known::Is(ReliefPurpose::Bypass | ReliefPurpose::Ceiling) if driven => found.push(part),
                Known::Is(_) => {}
                other => return other.and_then(|_| Known::Is(Vec::new())),
            }
        }
        let unknown = self.tract.unknown_kinds(self.reads);
        if unknown.is_nothing() { Known::Is(found) } else { Known::Open(unknown) }
    }

    /// Joins a valve to the network.
    pub fn fit(&self, laid: &mut Laid, part: &'b Part) -> Known<Fitted> {
        let PartBody::ReliefValve(fields) = &part.body else {
            return Known::not_applicable("no relief valve");
        };
        let described = self.describe(fields);
        let inlet = self.tap_node(laid, part);
        let ports = self.tract.discharge(part, self.reads);
        described.zip(inlet).zip(ports).and_then(|((described, (inlet, host)), ports)| {
            let ports: Known<Vec<PlacedPort>> =
                ports.iter().map(|port| self.port(laid, port, ports.len() == 1)).collect();
            ports.and_then(|ports| {
                let signal = match fields.actuation.state(self.reads) {
                    State::Given(Actuation::Electric) => Known::Is(laid.manifold),
                    _ if self.open_behind(part, fields) => Known::Is(laid.site),
                    _ => self.signal(laid, part, &described),
                };
                signal.and_then(|signal| {
                    let metered = laid
                        .meter
                        .is_some_and(|meter| self.path.is_ahead(meter.spot, host) || meter.spot == host);
                    Known::Is(join(laid, part, &described, (inlet, signal), &ports, metered))
                })
            })
        })
    }

    /// Whether the outside stands behind its piston: of one that limits the boost, and has no signal.
    fn open_behind(&self, part: &'b Part, fields: &ReliefValve) -> bool {
        let limits = matches!(fields.purpose.state(self.reads), State::Given(ReliefPurpose::Ceiling));
        let sources = self.tract.signal_sources(part, self.reads);
        limits && sources.exact().is_some_and(|sources| sources.found.is_empty())
    }

    fn describe(&self, fields: &ReliefValve) -> Known<Described> {
        let lift = fields.lift.get(self.reads).map(|lift| lift.si());
        let seat = fields.seat.get(self.reads).map(|seat| seat.si());
        let electric = matches!(fields.actuation.state(self.reads), State::Given(Actuation::Electric));
        let (balance, body) = if electric {
            let balance = seat.clone().map(|seat| Balance::from_bores(seat, seat, 0.0, 0.0));
            (balance, self.actuated(fields))
        } else {
            (self.balance(fields), self.sprung(fields))
        };
        let law = seat.clone().and_then(|seat| self.law(fields, seat));
        balance.zip(body).zip(law.zip(seat.zip(lift))).map(
            |((balance, body), ((law, coefficient), (seat, lift)))| {
                let chamber = match fields.chamber.state(self.reads) {
                    State::Given(volume) => volume.si(),
                    _ => {
                        if !electric {
                            self.noted(fields.chamber.route(), "a chamber 20 mm deeper than the lift");
                        }
                        usual_chamber(balance.piston_area, lift)
                    }
                };
                // Some air is left above the piston at its stop.
                let chamber = chamber.max(1.1 * balance.piston_area * lift);
                Described { balance, body: body.clone(), seat, law: law.clone(), coefficient, chamber }
            },
        )
    }

    fn balance(&self, fields: &ReliefValve) -> Known<Balance> {
        let spring = fields.spring.get(self.reads).and_then(|spring| {
            spring.rate.get(self.reads).map(|r| r.si()).zip(spring.preload.get(self.reads).map(|p| p.si()))
        });
        let areas = match fields.areas.state(self.reads) {
            State::Given(areas) => {
                areas.inlet.get(self.reads).map(|a| a.si()).zip(areas.signal.get(self.reads).map(|a| a.si()))
            }
            _ => {
                let area = |bore: f64| bore_area(bore);
                let seat = fields.seat.get(self.reads).map(|seat| area(seat.si()));
                seat.zip(fields.piston.get(self.reads).map(|piston| area(piston.si())))
            }
        };
        spring.zip(areas).map(|((rate, preload), (seat_area, piston_area))| Balance {
            seat_area,
            piston_area,
            preload,
            rate,
        })
    }

    fn sprung(&self, fields: &ReliefValve) -> Known<Body> {
        let mass = fields.moving_mass.get(self.reads).map(|mass| mass.si());
        let lift = fields.lift.get(self.reads).map(|lift| lift.si());
        let rate =
            fields.spring.get(self.reads).and_then(|spring| spring.rate.get(self.reads).map(|r| r.si()));
        let friction = friction(fields, self.reads);
        mass.zip(lift).zip(rate).zip(friction).map(|(((mass, stroke), rate), friction)| {
            let damping = match fields.damping.state(self.reads) {
                State::Given(damping) => damping.si(),
                _ => {
                    self.noted(fields.damping.route(), "damping of a fifth of the critical");
                    2.0 * DAMPING_RATIO * (rate.max(0.0) * mass).sqrt()
                }
            };
            Body::Sprung { mass, damping, friction, stroke }
        })
    }

    fn actuated(&self, fields: &ReliefValve) -> Known<Body> {
        let lift = fields.lift.get(self.reads).map(|lift| lift.si());
        let delay = fields.delay.get(self.reads).map(|delay| delay.si());
        lift.zip(delay).map(|(stroke, delay)| {
            let command = match fields.command.state(self.reads) {
                State::Given(command) => *command,
                _ => {
                    self.noted(fields.command.route(), "the throttle's closing commands it");
                    ReliefCommand::ThrottleClosing
                }
            };
            let (opens, on_difference) = match command {
                ReliefCommand::ThrottleClosing | ReliefCommand::PedalSwitch => (delay, None),
                ReliefCommand::PressureDifference => (f64::INFINITY, Some((COMMANDING_FALL, delay))),
            };
            Body::Actuated(Actuated {
                stroke,
                travel: ELECTRIC_TRAVEL,
                opens,
                shuts: f64::INFINITY,
                on_difference,
            })
        })
    }

    /// How it flows, and the discharge coefficient on its geometric area.
    fn law(&self, fields: &ReliefValve, seat: f64) -> Known<(Arc<dyn Restriction>, f64)> {
        let usual = |coefficient: f64| -> (Arc<dyn Restriction>, f64) {
            (Arc::new(Isentropic { coefficient }), coefficient)
        };
        if let State::Absent | State::SaidNone = fields.flow.state(self.reads) {
            return Known::Is(usual(usual_coefficient(&fields.flow, self.reads)));
        }
        fields.flow.get(self.reads).and_then(|flow| {
            if let State::Given(conductance) = flow.sonic_conductance.state(self.reads) {
                return flow.critical_back_pressure_ratio.get(self.reads).map(|b| {
                    let rating = SonicRating {
                        conductance: conductance.si(),
                        critical_ratio: b.si(),
                        subsonic_index: 0.5,
                    };
                    let full_area = bore_area(seat);
                    let law: Arc<dyn Restriction> = Arc::new(Rated { rating, full_area });
                    // Of the choked nozzle that passes as much.
                    let ideal = crate::physics::flow::sonic_conductance(full_area, 1.4, 287.05);
                    (law, conductance.si() / ideal.unwrap_or(f64::INFINITY))
                });
            }
            match flow.discharge_coefficient.state(self.reads) {
                State::Absent | State::SaidNone => {
                    Known::Is(usual(usual_coefficient(&fields.flow, self.reads)))
                }
                _ => flow.discharge_coefficient.get(self.reads).map(|c| usual(c.si())),
            }
        })
    }

    /// Node of a place on a part, and the part's spot.
    pub(super) fn place(
        &self,
        laid: &Laid,
        name: &str,
        at: &Field<crate::build::scalars::Q<crate::build::scalars::Length>>,
        missing: &crate::text::Route,
    ) -> Known<(NodeId, usize)> {
        let Some(spot) = self.path.spot(name) else { return Known::missing(missing) };
        let distance = match at.state(self.reads) {
            State::Given(at) => Known::Is(at.si()),
            State::Absent if laid.is_one_node(spot.index) => Known::Is(0.0),
            _ => Known::missing(at.route()),
        };
        distance.and_then(|distance| self.node_at(laid, spot.index, distance, missing))
    }

    /// Where a port's pipe joins the path: at its place, else half-way along the part, since that matters little to the air.
    fn joins(&self, laid: &Laid, name: &str, port: &Discharge) -> Known<NodeId> {
        let half_way = self.path.spot(name).and_then(|spot| laid.middle_of(spot.index));
        match (port.at.state(self.reads), half_way) {
            (State::Absent, Some(node)) => {
                self.noted(port.at.route(), "what is led back is taken to join half-way along the part");
                Known::Is(node)
            }
            _ => self.place(laid, name, &port.at, port.to.route()).map(|(node, _)| node),
        }
    }

    fn node_at(
        &self,
        laid: &Laid,
        spot: usize,
        distance: f64,
        missing: &crate::text::Route,
    ) -> Known<(NodeId, usize)> {
        laid.node_of(spot, distance).map_or_else(|| Known::missing(missing), |node| Known::Is((node, spot)))
    }

    fn tap_node(&self, laid: &Laid, part: &'b Part) -> Known<(NodeId, usize)> {
        part.common.tap.get(self.reads).and_then(|tap| {
            tap.part
                .get(self.reads)
                .and_then(|PartName(name)| self.place(laid, name, &tap.at, tap.part.route()))
        })
    }

    fn port(&self, laid: &Laid, port: &Discharge, alone: bool) -> Known<PlacedPort> {
        let share = match port.share.state(self.reads) {
            State::Absent if alone => Known::Is(1.0),
            _ => port.share.get(self.reads).map(|share| share.si()),
        };
        let to = port.to.get(self.reads).and_then(|Destination(name)| {
            if &**name == AIR {
                return Known::Is((name.clone(), laid.site));
            }
            self.joins(laid, name, port).map(|node| (name.clone(), node))
        });
        let number = |field: &Field<crate::build::scalars::Q<crate::build::scalars::Length>>| match field
            .state(self.reads)
        {
            State::Given(value) => Some(value.si()),
            _ => None,
        };
        let behind = match (number(&port.bore), number(&port.length)) {
            (None, _) => {
                self.noted(port.bore.route(), "nothing narrow behind the port, as no bore is given");
                f64::INFINITY
            }
            (Some(bore), length) => {
                if length.is_none() {
                    let words = "no length of the pipe behind the port, as none is given";
                    self.noted(port.length.route(), words);
                }
                bore_area(bore) / (1.0 + RETURN_FACTOR * length.unwrap_or(0.0) / bore).sqrt()
            }
        };
        let from = number(&port.opens_from).unwrap_or(0.0);
        let full = number(&port.full_at).unwrap_or(0.0);
        share.zip(to).map(|(share, (to, node))| PlacedPort {
            to: to.clone(),
            node,
            share,
            behind,
            from,
            full,
        })
    }

    /// The chamber behind the piston with its hose.
    fn signal(&self, laid: &mut Laid, part: &'b Part, described: &Described) -> Known<NodeId> {
        self.tract.signal_sources(part, self.reads).and_then(|sources| {
            let [(span, far)] = sources.found.as_slice() else {
                let words = if sources.found.is_empty() {
                    "the relief valve has no signal"
                } else {
                    "the relief valve's signal comes from several places"
                };
                return Known::Open(Missing::hindrance(words));
            };
            let source = if &**far == AIR {
                Known::Is(laid.site)
            } else {
                self.signal_source(
                    laid,
                    far,
                    &span.far,
                    span.hoses().last().and_then(|hose| hose.fields.as_ref()),
                )
            };
            let passes = |into: &str| self.tract.passes_towards(span, into, self.reads);
            let free = passes(&span.ends[0]).zip(passes(&span.ends[1]));
            let sizes: Known<Vec<HoseSize>> = span
                .hoses()
                .iter()
                // The way was followed from the valve.
                .rev()
                .filter_map(|hose| hose.fields.as_ref())
                .map(|hose| HoseSize::of(hose, self.reads))
                .collect();
            source.zip(free).zip(sizes).and_then(|((source, free), sizes)| {
                if free != (true, true) {
                    return Known::Open(Missing::hindrance(
                        "a check valve sits in the relief valve's signal",
                    ));
                }
                let s = self.solution;
                let p = match laid.network.node_at(source) {
                    Some(
                        crate::physics::network::Node::Volume { p, .. }
                        | crate::physics::network::Node::Reservoir { p, .. },
                    ) => *p,
                    None => s.p_manifold,
                };
                let chamber = laid.network.volume(described.chamber, p, self.site.temperature);
                let ends = (source, chamber);
                if signal_line::lay(&mut laid.network, &sizes, ends, p, self.site).is_none() {
                    return Known::Open(Missing::hindrance(
                        "the signal hose has a restrictor wider than itself",
                    ));
                }
                Known::Is(chamber)
            })
        })
    }

    fn signal_source(
        &self,
        laid: &Laid,
        far: &str,
        route: &crate::text::Route,
        hose: Option<&HoseFields>,
    ) -> Known<NodeId> {
        let Some(spot) = self.path.spot(far) else { return Known::missing(route) };
        let placed = hose.into_iter().flat_map(|hose| [&hose.from, &hose.to]).find_map(|end| match end.state(self.reads) {
            State::Given(End::Placed(tap)) if matches!(tap.part.state(self.reads), State::Given(PartName(name)) if **name == *far) => {
                Some(tap)
            }
            _ => None,
        });
        match placed {
            Some(tap) => self.place(laid, far, &tap.at, route).map(|(node, _)| node),
            // Where on a long pipe the hose sits changes little: its downstream end stands for it.
            None if spot.kind == PartKind::Throttle => Known::Is(laid.behind_throttle),
            None => self.node_at(laid, spot.index, f64::MAX, route).map(|(node, _)| node),
        }
    }
}

/// A port with its node.
#[derive(Clone)]
struct PlacedPort {
    to: Arc<str>,
    node: NodeId,
    share: f64,
    behind: f64,
    from: f64,
    full: f64,
}

impl Laid {
    fn is_one_node(&self, spot: usize) -> bool {
        self.nodes_of(spot) <= 1
    }
}

fn join(
    laid: &mut Laid,
    part: &Part,
    described: &Described,
    (inlet, signal): (NodeId, NodeId),
    ports: &[PlacedPort],
    metered: bool,
) -> Fitted {
    let total: f64 = ports.iter().map(|port| port.share).sum();
    let discharge = ports.iter().map(|port| (port.node, port.share / total.max(1e-9))).collect();
    let electric = matches!(described.body, Body::Actuated(_));
    let openings: Vec<Port> = ports
        .iter()
        .map(|port| Port {
            seat: described.seat,
            share: port.share,
            from: port.from,
            full: port.full,
            behind: port.behind,
            coefficient: described.coefficient,
        })
        .collect();
    let staged = openings.iter().any(Port::is_staged);
    let valve = laid.network.valve(Valve {
        inlet,
        signal,
        discharge,
        stages: if staged { openings.clone() } else { Vec::new() },
        balance: described.balance,
        body: described.body.clone(),
    });
    if !electric {
        laid.network.set_piston(signal, valve);
    }
    let fitted = ports
        .iter()
        .zip(openings)
        .map(|(port, opening)| {
            let orifice = laid.network.orifice(Orifice {
                from: inlet,
                to: port.node,
                law: described.law.clone(),
                opening: Opening::Port { valve, port: opening },
            });
            FittedPort {
                to: port.to.clone(),
                to_air: &*port.to == AIR,
                orifice,
                passed: laid.network.tally(Tally::Passed(orifice)),
            }
        })
        .collect();
    Fitted { name: part.name.clone(), valve, signal, stroke: described.body.stroke(), ports: fitted, metered }
}

//! The tract laid out as a network: the path from the filter to the engine, and what is counted along it.

use std::sync::Arc;

use crate::build::engine::Engine as EngineFields;
use crate::known::{Known, Missing, Setting, State};
use crate::physics::network::{
    Engine, Isentropic, Network, Node, NodeId, Opening, Orifice, Plate, Restriction, SimpleGas, Tally,
};

use super::laid::{Compressing, Laid, Meter, Way};
use super::lay::{Closes, Layout, Piece, USUAL_COMPRESSION, Wheel, Works};
use super::stretches::{Chain, Feed, Laying, Turning, cannot};
use super::{Closures, METER_LAG};

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

//! A relief valve as its statics need it: areas, spring, stroke, openings.

use crate::build::parts::{Actuation, Body, Discharge, Part, ReliefValve, ValveFlow};
use crate::build::scalars::{AIR, Destination, Length, List, Q};
use crate::known::{Field, Known, Read, Reads, Setting, State};
use crate::physics::flow::{Nozzle, sonic_conductance};
use crate::physics::loss::{self, darcy_factor};
use crate::physics::numeric::find_root;
use crate::physics::relief_valve::{ActingAreas, flow_area, full_area_lift, lift_for_area};

/// A relief valve that pressures and a spring move.
#[derive(Clone, Copy, Debug)]
pub struct Valve {
    /// The areas that pressures act on.
    pub areas: ActingAreas,
    /// Force of the spring when shut, N.
    pub preload: f64,
    /// Spring rate, N/m.
    pub rate: f64,
    /// Friction against whichever way it moves, N.
    pub friction: f64,
}

/// A discharge port.
#[derive(Clone, Debug)]
pub struct Port {
    /// `air`, or the part that the air is led back to.
    pub to: std::sync::Arc<str>,
    /// Its share at full lift.
    pub share: f64,
    /// Bore, m.
    pub bore: Known<f64>,
    /// Length of the pipe behind it, m.
    pub length: f64,
    /// The lifts between which it opens, where it is staged.
    pub stage: Option<Stage>,
}

/// The lifts, m, at which a staged port begins to open and is fully open; its area grows evenly between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stage {
    /// Where it begins.
    pub from: f64,
    /// Where it is fully open.
    pub full: f64,
}

impl Stage {
    /// Of a port; none where the curtain alone sets the area.
    fn of(port: &Discharge, reads: &dyn Reads) -> Option<Self> {
        let (from, full) = (&port.opens_from, &port.full_at);
        let lift = |field: &Field<Q<Length>>, other: &Field<Q<Length>>, words: &str| match (
            field.state(reads),
            other.state(reads),
        ) {
            (State::Given(lift), _) => lift.si(),
            (State::Absent, State::Given(_)) => {
                reads.note(Read::Default { field: field.route().clone(), words: words.into() });
                0.0
            }
            _ => 0.0,
        };
        let (from, full) = (
            lift(from, full, "the port is taken to open from the seat on"),
            lift(full, from, "the port is taken to open with the lift alone, as its full lift is not given"),
        );
        (full > from).then_some(Self { from, full })
    }

    /// Share of the port that is open.
    fn open(&self, lift: f64) -> f64 {
        ((lift - self.from) / (self.full - self.from)).clamp(0.0, 1.0)
    }
}

impl Valve {
    /// From the description. Electric ones do not apply.
    pub fn set_up(part: &Part, reads: &dyn Reads) -> Known<Self> {
        let preload = match &part.body {
            Body::ReliefValve(fields) if is_electric(fields, reads) => return not_by_pressures(),
            Body::ReliefValve(fields) => {
                fields.spring.get(reads).and_then(|spring| spring.preload.get(reads).map(|force| force.si()))
            }
            _ => Known::not_applicable("it is no relief valve"),
        };
        Self::set_up_without_preload(part, reads)
            .zip(preload)
            .map(|(valve, preload)| Self { preload, ..valve })
    }

    /// The same with a spring of no preload, for what preload it needs.
    pub fn set_up_without_preload(part: &Part, reads: &dyn Reads) -> Known<Self> {
        let Body::ReliefValve(fields) = &part.body else {
            return Known::not_applicable("it is no relief valve");
        };
        if is_electric(fields, reads) {
            return not_by_pressures();
        }
        let rate = fields.spring.get(reads).and_then(|spring| spring.rate.get(reads).map(|rate| rate.si()));
        acting_areas(fields, reads)
            .zip(rate)
            .zip(friction(fields, reads))
            .map(|((areas, rate), friction)| Self { areas, preload: 0.0, rate, friction })
    }

    /// The areas alone.
    pub fn acting_areas(part: &Part, reads: &dyn Reads) -> Known<ActingAreas> {
        match &part.body {
            Body::ReliefValve(fields) if is_electric(fields, reads) => not_by_pressures(),
            Body::ReliefValve(fields) => acting_areas(fields, reads),
            _ => Known::not_applicable("it is no relief valve"),
        }
    }
}

/// Friction of a valve against whichever way it moves, N; none, and said so, unless given.
pub(in crate::model) fn friction(fields: &ReliefValve, reads: &dyn Reads) -> Known<f64> {
    match fields.friction.state(reads) {
        State::Absent => {
            let words = "no friction of the valve, as none is given";
            reads.note(Read::Default { field: fields.friction.route().clone(), words: words.into() });
            Known::Is(0.0)
        }
        State::SaidNone => Known::Is(0.0),
        _ => fields.friction.get(reads).map(|friction| friction.si()),
    }
}

/// Whether it is said that a coil or a motor moves it.
pub fn is_electric(fields: &ReliefValve, reads: &dyn Reads) -> bool {
    matches!(fields.actuation.state(reads), State::Given(Actuation::Electric))
}

/// Why a spring and a balance of pressures are not asked of an electric valve.
pub fn not_by_pressures<T>() -> Known<T> {
    Known::not_applicable("an electric valve is not moved by pressures and a spring")
}

fn acting_areas(fields: &ReliefValve, reads: &dyn Reads) -> Known<ActingAreas> {
    if !matches!(fields.areas.state(reads), State::Absent) {
        return fields.areas.get(reads).and_then(|areas| {
            let inlet = areas.inlet.get(reads).map(|area| area.si());
            let outlet = areas.outlet.get(reads).map(|area| area.si());
            let signal = areas.signal.get(reads).map(|area| area.si());
            inlet.zip(outlet).zip(signal).map(|((inlet, outlet), signal)| ActingAreas {
                inlet,
                outlet,
                signal,
            })
        });
    }
    let bore = |field: &Field<Q<Length>>| field.get(reads).map(Q::si);
    bore(&fields.seat).zip(bore(&fields.piston)).map(|(seat, piston)| ActingAreas::of_bores(seat, piston))
}

/// The discharge ports of a valve.
pub(super) fn ports(part: &Part, reads: &dyn Reads) -> Known<Vec<Port>> {
    let Body::ReliefValve(fields) = &part.body else {
        return Known::not_applicable("it is no relief valve");
    };
    fields.discharge.get(reads).and_then(|List(ports)| {
        let alone = ports.len() == 1;
        ports
            .iter()
            .map(|port| {
                let share = if alone && !port.share.is_given(reads) {
                    Known::Is(1.0)
                } else {
                    port.share.get(reads).map(|share| share.si())
                };
                port.to.get(reads).zip(share).map(|(Destination(to), share)| Port {
                    to: to.clone(),
                    share,
                    bore: port.bore.get(reads).map(|bore| bore.si()),
                    length: length(port, reads),
                    stage: Stage::of(port, reads),
                })
            })
            .collect()
    })
}

/// Length of the pipe behind a port, m.
fn length(port: &Discharge, reads: &dyn Reads) -> f64 {
    match port.length.state(reads) {
        State::Given(length) => length.si(),
        _ => {
            let words = "no length of the pipe behind the port, as none is given";
            reads.note(Read::Default { field: port.length.route().clone(), words: words.into() });
            0.0
        }
    }
}

/// How a valve lets air pass.
#[derive(Clone, Debug)]
pub struct Opening {
    /// Diameter of the seat, m.
    pub seat: f64,
    /// Stroke to the stop, m.
    pub lift: f64,
    /// Effective area at full lift, m2.
    pub effective: f64,
    /// Effective over geometric area.
    coefficient: f64,
    /// Share and stage of each port, where any of them is staged.
    ports: Vec<(f64, Option<Stage>)>,
}

impl Opening {
    /// From the description: by ISO 6358 where the conductance is given, else by a discharge coefficient on the smaller
    /// of curtain and seat.
    pub fn set_up(part: &Part, reads: &dyn Reads) -> Known<Self> {
        let Body::ReliefValve(fields) = &part.body else {
            return Known::not_applicable("it is no relief valve");
        };
        let seat = fields.seat.get(reads).map(|seat| seat.si());
        let lift = fields.lift.get(reads).map(|lift| lift.si());
        let staged = staged_ports(part, fields, reads);
        seat.zip(lift).zip(staged).and_then(|((seat, lift), ports)| {
            let geometric = area_at(seat, lift, &ports);
            effective_area(&fields.flow, geometric, reads).map(|effective| Self {
                seat,
                lift,
                effective,
                coefficient: if geometric > 0.0 { effective / geometric } else { 0.0 },
                ports: ports.clone(),
            })
        })
    }

    /// Lift, m, at which it passes an effective area, m2; `None` if it never does.
    pub fn lift_for(&self, effective: f64) -> Option<f64> {
        if self.coefficient <= 0.0 {
            return None;
        }
        let geometric = effective / self.coefficient;
        if self.ports.is_empty() {
            return lift_for_area(self.seat, geometric).filter(|lift| *lift <= self.lift);
        }
        let short = |lift: f64| area_at(self.seat, lift, &self.ports) - geometric;
        find_root(0.0, self.lift, 1e-9, short).ok().map(|root| root.x)
    }

    /// Effective area, m2, of its ports that lead to the open air at a lift, m, of the stop's lift beyond it; each in a row
    /// with its pipe, where the bore is known.
    pub fn towards_air(&self, ports: &[Port], lift: f64, roughness: f64) -> f64 {
        let lift = lift.clamp(0.0, self.lift);
        let each = ports.iter().filter(|port| port.vents()).map(|port| {
            let own = self.coefficient * area_at(self.seat, lift, &[(port.share, port.stage)]);
            let pipe = port.bore.exact().and_then(|bore| pipe_area(*bore, port.length, roughness));
            pipe.map_or(own, |pipe| own * pipe / own.hypot(pipe))
        });
        each.sum()
    }

    /// Lift, m, beyond which more gives no more area.
    pub fn useful_lift(&self) -> f64 {
        let plain = self.ports.is_empty() || self.ports.iter().any(|(_, stage)| stage.is_none());
        let least = if plain { full_area_lift(self.seat) } else { 0.0 };
        self.ports.iter().filter_map(|(_, stage)| Some(stage.as_ref()?.full)).fold(least, f64::max)
    }
}

/// Share and stage of each port of a valve of which any is staged; none of another, whose curtain serves all alike.
fn staged_ports(part: &Part, fields: &ReliefValve, reads: &dyn Reads) -> Known<Vec<(f64, Option<Stage>)>> {
    let State::Given(List(written)) = fields.discharge.state(reads) else { return Known::Is(Vec::new()) };
    if !written.iter().any(|port| Stage::of(port, reads).is_some()) {
        return Known::Is(Vec::new());
    }
    ports(part, reads).map(|ports| ports.iter().map(|port| (port.share, port.stage)).collect())
}

/// Geometric area, m2, at a lift, m: the curtain, never above the seat; of staged ports each its share of the seat, as far as
/// it is open.
fn area_at(seat: f64, lift: f64, ports: &[(f64, Option<Stage>)]) -> f64 {
    let curtain = flow_area(seat, lift).unwrap_or_default();
    if ports.is_empty() {
        return curtain;
    }
    let whole = flow_area(seat, full_area_lift(seat)).unwrap_or_default();
    let each =
        ports.iter().map(|(share, stage)| share * stage.map_or(curtain, |stage| whole * stage.open(lift)));
    each.sum()
}

/// Lift, m, at which a valve begins to let air out into the open, or in from there: 0 unless each of its vents is staged.
pub fn vent_lift(part: &Part, reads: &dyn Reads) -> Known<f64> {
    let Body::ReliefValve(fields) = &part.body else {
        return Known::not_applicable("it is no relief valve");
    };
    let State::Given(List(written)) = fields.discharge.state(reads) else { return Known::Is(0.0) };
    if !written.iter().any(|port| Stage::of(port, reads).is_some()) {
        return Known::Is(0.0);
    }
    let vents = written.iter().map(|port| {
        let vents = port.to.get(reads).map(|Destination(to)| &**to == AIR);
        vents.map(|vents| vents.then(|| Stage::of(port, reads).map_or(0.0, |stage| stage.from)))
    });
    vents.collect::<Known<Vec<Option<f64>>>>().map(|lifts| {
        let least = lifts.iter().flatten().copied().fold(f64::INFINITY, f64::min);
        if least.is_finite() { least } else { 0.0 }
    })
}

/// Dry air, to which ISO 6358 refers.
const GAMMA: f64 = 1.4;
const R: f64 = 287.05;

/// Discharge coefficient of a valve that gives none: the setting, and that is told.
pub fn usual_coefficient(flow: &Field<ValveFlow>, reads: &dyn Reads) -> f64 {
    let words = "the usual discharge coefficient, as none is given";
    reads.note(Read::Default { field: flow.route().clone(), words: words.into() });
    reads.setting(Setting::ValveDischargeCoefficient).v
}

/// Effective area of a valve, m2, that opens a geometric one, m2: by ISO 6358, or by a discharge coefficient.
pub fn effective_area(flow: &Field<ValveFlow>, geometric: f64, reads: &dyn Reads) -> Known<f64> {
    let usual = || Known::Is(usual_coefficient(flow, reads) * geometric);
    match flow.state(reads) {
        State::Absent | State::SaidNone => usual(),
        _ => flow.get(reads).and_then(|flow| match flow.sonic_conductance.state(reads) {
            State::Given(conductance) => {
                let ideal = sonic_conductance(1.0, GAMMA, R).unwrap_or(f64::INFINITY);
                Known::Is(conductance.si() / ideal)
            }
            _ if flow.discharge_coefficient.is_given(reads) => {
                flow.discharge_coefficient.get(reads).map(|coefficient| coefficient.si() * geometric)
            }
            _ => usual(),
        }),
    }
}

/// Flow through an effective area of 1 m2, kg/s.
pub(super) fn flux(p0: f64, t0: f64, back: f64, gamma: f64, r: f64) -> Option<f64> {
    Nozzle { area: 1.0, discharge_coefficient: 1.0, gamma, r }.flow(p0, t0, back.min(p0))
}

/// Reynolds number at which a return pipe's friction is taken: tens of grams a second in a bore of some 30 mm.
const RETURN_REYNOLDS: f64 = 1e5;

/// Effective area of the pipe behind a port, m2: a bore with entry 0.5, exit 1.0 (Borda-Carnot into still air) and friction
/// along it.
pub fn pipe_area(bore: f64, length: f64, roughness: f64) -> Option<f64> {
    let friction = darcy_factor(RETURN_REYNOLDS, roughness / bore)? * length / bore;
    loss::effective_area(0.5 + 1.0 + friction, bore)
}

/// Bore of a return pipe of this length, m, that has an effective area; `None` where no bore up to 200 mm has.
pub fn pipe_bore(effective: f64, length: f64, roughness: f64) -> Option<f64> {
    let miss = |bore: f64| pipe_area(bore, length, roughness).map_or(f64::NAN, |area| area - effective);
    find_root(1e-3, 0.2, 1e-9, miss).ok().map(|root| root.x)
}

impl Port {
    /// Share of the air behind a shut valve that stands in this port: of staged ports the plate stands before those that
    /// open later.
    pub fn share_when_shut(&self) -> f64 {
        if self.stage.is_some_and(|stage| stage.from > 0.0) { 0.0 } else { self.share }
    }

    /// Whether it leads to the open air.
    pub fn vents(&self) -> bool {
        &*self.to == AIR
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn opening(ports: Vec<(f64, Option<Stage>)>) -> Opening {
        let effective = 0.7 * area_at(0.034, 0.009, &ports);
        Opening { seat: 0.034, lift: 0.009, effective, coefficient: 0.7, ports }
    }

    #[test]
    fn a_staged_port_opens_late_and_evenly() {
        let stage = Stage { from: 0.004, full: 0.008 };
        let staged = opening(vec![(0.7, None), (0.3, Some(stage))]);
        let seat = flow_area(0.034, 1.0).unwrap();
        let curtain = |lift: f64| flow_area(0.034, lift).unwrap();
        assert!((area_at(0.034, 0.003, &staged.ports) - 0.7 * curtain(0.003)).abs() < 1e-15);
        let half = 0.7 * curtain(0.006) + 0.15 * seat;
        assert!((area_at(0.034, 0.006, &staged.ports) - half).abs() < 1e-15);
        assert!((staged.effective - 0.7 * seat).abs() < 1e-12, "all of it is open at full lift");
        for lift in [0.002, 0.005, 0.007] {
            let effective = 0.7 * area_at(0.034, lift, &staged.ports);
            assert!((staged.lift_for(effective).unwrap() - lift).abs() < 1e-7);
        }
        assert_eq!(staged.lift_for(seat), None, "more than the seat with its coefficient passes");
        assert!((staged.useful_lift() - 0.0085).abs() < 1e-12);
    }

    #[test]
    fn without_stages_the_curtain_serves() {
        let plain = opening(Vec::new());
        assert!((plain.lift_for(0.7 * flow_area(0.034, 0.005).unwrap()).unwrap() - 0.005).abs() < 1e-12);
        assert!((plain.useful_lift() - 0.0085).abs() < 1e-12);
    }
}

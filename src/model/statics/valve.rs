//! A relief valve as its statics need it: areas, spring, stroke, openings.

use crate::build::parts::{Actuation, Body, Discharge, Part, ReliefValve, ValveFlow};
use crate::build::scalars::{AIR, Destination, List};
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
}

impl Valve {
    /// From the description. Electric ones do not apply.
    pub fn set_up(part: &Part, reads: &dyn Reads) -> Known<Self> {
        let preload = match &part.body {
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
        if let State::Given(Actuation::Electric) = fields.actuation.state(reads) {
            return Known::not_applicable("an electric valve is not moved by pressures and a spring");
        }
        let rate = fields.spring.get(reads).and_then(|spring| spring.rate.get(reads).map(|rate| rate.si()));
        let friction = match fields.friction.state(reads) {
            State::Absent => {
                let words = "no friction of the valve, as none is given";
                reads.note(Read::Default { field: fields.friction.route().clone(), words: words.into() });
                Known::Is(0.0)
            }
            _ => fields.friction.get(reads).map(|friction| friction.si()),
        };
        acting_areas(fields, reads).zip(rate).zip(friction).map(|((areas, rate), friction)| Self {
            areas,
            preload: 0.0,
            rate,
            friction,
        })
    }

    /// The areas alone.
    pub fn acting_areas(part: &Part, reads: &dyn Reads) -> Known<ActingAreas> {
        match &part.body {
            Body::ReliefValve(fields) => acting_areas(fields, reads),
            _ => Known::not_applicable("it is no relief valve"),
        }
    }
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
    let bore = |field: &crate::known::Field<_>| field.get(reads).map(crate::build::scalars::Q::si);
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
#[derive(Clone, Copy, Debug)]
pub struct Opening {
    /// Diameter of the seat, m.
    pub seat: f64,
    /// Stroke to the stop, m.
    pub lift: f64,
    /// Effective area at full lift, m2.
    pub effective: f64,
    /// Effective over geometric area.
    coefficient: f64,
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
        seat.zip(lift).and_then(|(seat, lift)| {
            let geometric = flow_area(seat, lift).unwrap_or_default();
            effective_area(&fields.flow, geometric, reads).map(|effective| Self {
                seat,
                lift,
                effective,
                coefficient: if geometric > 0.0 { effective / geometric } else { 0.0 },
            })
        })
    }

    /// Lift, m, at which it passes an effective area, m2; `None` if it never does.
    pub fn lift_for(&self, effective: f64) -> Option<f64> {
        let lift = lift_for_area(self.seat, effective / self.coefficient)?;
        (self.coefficient > 0.0 && lift <= self.lift).then_some(lift)
    }

    /// Lift, m, beyond which more gives no more area.
    pub fn useful_lift(&self) -> f64 {
        full_area_lift(self.seat)
    }
}

/// Dry air, to which ISO 6358 refers.
const GAMMA: f64 = 1.4;
const R: f64 = 287.05;

/// Effective area of a valve, m2, that opens a geometric one, m2: by ISO 6358, or by a discharge coefficient.
pub fn effective_area(flow: &Field<ValveFlow>, geometric: f64, reads: &dyn Reads) -> Known<f64> {
    let setting = |words: &str| {
        let value = reads.setting(Setting::ValveDischargeCoefficient).v;
        reads.note(Read::Default { field: flow.route().clone(), words: words.into() });
        Known::Is(value * geometric)
    };
    match flow.state(reads) {
        State::Absent | State::SaidNone => setting("the usual discharge coefficient, as none is given"),
        _ => flow.get(reads).and_then(|flow| match flow.sonic_conductance.state(reads) {
            State::Given(conductance) => {
                let ideal = sonic_conductance(1.0, GAMMA, R).unwrap_or(f64::INFINITY);
                Known::Is(conductance.si() / ideal)
            }
            _ if flow.discharge_coefficient.is_given(reads) => {
                flow.discharge_coefficient.get(reads).map(|coefficient| coefficient.si() * geometric)
            }
            _ => setting("the usual discharge coefficient, as none is given"),
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
    /// Whether it leads to the open air.
    pub fn vents(&self) -> bool {
        &*self.to == AIR
    }
}

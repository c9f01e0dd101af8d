//! The turbine side: exhaust that drives the compressors, the gates round the turbines, the pressure the engine exhausts to.
//!
//! Turbines of parallel branches share the exhaust as their compressors share the air; of stages the one of the last
//! compressor comes first in the exhaust. What goes through a gate is mixed again behind its turbine.

use std::sync::Arc;

use super::effects;
use super::machine::Machine;
use super::result::{MachinePoint, Solution};
use super::site::SiteState;
use super::statics::effective_area;
use crate::build::Build;
use crate::build::engine::{self as described, Engine, Fuel, FuelEntry, Ignition};
use crate::build::parts::{Body, Nozzle, Turbocharger};
use crate::known::{Known, Read, Reads, Setting, State};
use crate::physics::engine::exhaust_pressure_factor;
use crate::physics::flow;
use crate::physics::fuel::FuelData;
use crate::physics::relief_valve::flow_area;
use crate::physics::turbine::{self, Capacity};

/// Stoichiometric mass of air to a mass of diesel fuel: Heywood 1988, table D.4 (from memory).
const DIESEL_RATIO: f64 = 14.5;

/// The data of a fuel's vapour; none of diesel fuel, which does not evaporate ahead of an engine.
pub(super) fn fuel_data(fuel: Fuel) -> Option<FuelData> {
    Some(match fuel {
        Fuel::Petrol => FuelData::PETROL,
        Fuel::Ethanol => FuelData::ETHANOL,
        Fuel::E85 => FuelData::E85,
        Fuel::Methanol => FuelData::METHANOL,
        Fuel::Lpg => FuelData::LPG,
        Fuel::NaturalGas => FuelData::NATURAL_GAS,
        Fuel::Diesel => return None,
    })
}

/// One turbine, set up.
#[derive(Clone, Debug)]
struct Set {
    /// Place of its compressor in the path.
    index: usize,
    efficiency: f64,
    drives: Drives,
    /// Effective area of its wastegate at full stroke, m2.
    gate: Known<f64>,
}

/// How a turbine meets the exhaust.
#[derive(Clone, Debug)]
enum Drives {
    /// It swallows what its nozzle lets through.
    Fixed(Capacity),
    /// Its nozzle is set so that all of the exhaust gives the power; open it swallows no more than this, where it is said.
    Variable(Option<Capacity>),
}

/// The turbine side of a build at a site.
#[derive(Clone, Debug)]
pub(super) struct TurbineSide {
    t3: f64,
    /// Fuel to a mass of air.
    fuel: f64,
    /// C of what lies behind the turbines, 1/m4.
    behind: f64,
    site: f64,
    /// In the order of the path.
    sets: Vec<Set>,
    /// Whether the compressors are stages, one behind the other.
    staged: bool,
    compression_ratio: f64,
    /// How much of the ideal correction of the volumetric efficiency is made; 0 where none is known.
    weight: f64,
}

/// One turbine at a point.
#[derive(Clone, Debug)]
pub struct TurbinePoint {
    /// The turbocharger's name.
    pub name: Arc<str>,
    /// Pressure ahead of the turbine, Pa.
    pub p3: f64,
    /// Pressure behind it, Pa.
    pub p4: f64,
    /// Temperature ahead of it, K.
    pub t3: f64,
    /// Exhaust that comes to it, kg/s.
    pub exhaust: f64,
    /// What goes through it, kg/s.
    pub flow: f64,
    /// Power that the compressor takes up, W.
    pub asked: f64,
    /// Power that the turbine gives with the exhaust there is, W; no more than asked for.
    pub power: f64,
    /// Most that the wastegate passes at this pressure, kg/s.
    pub gate: Known<f64>,
    /// What it swallows, where its nozzle is fixed, and its efficiency.
    fixed: Option<(Capacity, f64)>,
}

impl TurbinePoint {
    /// Whether the turbine gives what the compressor takes up.
    pub fn is_balanced(&self) -> bool {
        self.power >= self.asked * (1.0 - 1e-6)
    }

    /// Share of the compressor's power that is lacking; nothing where it is balanced.
    pub fn short(&self) -> f64 {
        if self.is_balanced() { 0.0 } else { 1.0 - self.power / self.asked }
    }

    /// Power, W, that it gives with its gate shut while so large a share of this point's exhaust comes at the same temperature. `None`
    /// of a nozzle that is set, and where an equation has no value.
    pub fn power_with_gate_shut(&self, share: f64) -> Option<f64> {
        let (capacity, efficiency) = self.fixed?;
        let flow = share * self.exhaust;
        let p3 = capacity.pressure_for(flow, self.t3, self.p4)?;
        Some(flow * turbine::CP * turbine::temperature_drop(self.t3, p3 / self.p4, efficiency)?)
    }

    /// Share of the exhaust that has to go round the turbine.
    pub fn share_round(&self) -> f64 {
        (1.0 - self.flow / self.exhaust).max(0.0)
    }
}

impl TurbineSide {
    /// From the description; `staged` says whether the compressors lie one behind the other. Missing are the fields that a turbine lacks.
    pub fn set_up(
        build: &Build,
        engine: &Engine,
        site: &SiteState,
        machines: &[(usize, Arc<Machine<'_>>)],
        staged: bool,
        reads: &dyn Reads,
    ) -> Known<Self> {
        let turbos = machines.iter().filter_map(|(index, machine)| match &machine.part.body {
            Body::Turbocharger(turbocharger) => Some((*index, turbocharger)),
            _ => None,
        });
        let sets: Vec<Known<Set>> =
            turbos.map(|(index, turbocharger)| set(build, index, turbocharger, reads)).collect();
        if sets.is_empty() {
            return Known::not_applicable("no turbine drives a compressor");
        }
        let sets: Known<Vec<Set>> = sets.into_iter().collect();
        let t3 =
            build.top.exhaust.get(reads).and_then(|exhaust| exhaust.temperature.get(reads).map(|t| t.si()));
        let fuel = fuel_share(engine, reads);
        t3.zip(sets).zip(fuel).and_then(|((t3, sets), fuel)| {
            behind(build, site, reads).map(|behind| Self {
                t3,
                fuel,
                behind,
                site: site.pressure,
                sets: sets.clone(),
                staged,
                compression_ratio: compression_ratio(engine, reads),
                weight: weight(engine, reads),
            })
        })
    }

    /// The turbines at a solved point; `None` where an equation has no value.
    pub fn points(&self, solution: &Solution) -> Option<Vec<TurbinePoint>> {
        let of = |set: &Set| solution.machines.iter().find(|machine| machine.index == set.index);
        let machines: Vec<(&Set, &MachinePoint)> =
            self.sets.iter().map(|set| Some((set, of(set)?))).collect::<Option<_>>()?;
        let whole = solution.air * (1.0 + self.fuel);
        let asked: f64 = machines.iter().map(|(_, machine)| machine.power).sum();
        let cooled = |power: f64| self.t3 - power / (whole * turbine::CP);
        let last = (cooled(asked) > 0.0).then(|| {
            // p4^2 - p_site^2 = 2 C m^2 R T, as of any other loss.
            (self.site * self.site + 2.0 * self.behind * whole * whole * turbine::R * cooled(asked)).sqrt()
        })?;
        let mut points = Vec::with_capacity(machines.len());
        if self.staged {
            let (mut p4, mut left) = (last, asked);
            // The stage of the first compressor has the coolest exhaust and the open air behind it.
            for (set, machine) in &machines {
                left -= machine.power;
                let point = set.point(machine, whole, cooled(left), p4)?;
                p4 = point.p3;
                points.push(point);
            }
        } else {
            let air: f64 = machines.iter().map(|(_, machine)| machine.flow).sum();
            for (set, machine) in &machines {
                points.push(set.point(machine, whole * machine.flow / air, self.t3, last)?);
            }
        }
        Some(points)
    }

    /// Factor on the volumetric efficiency for the pressure the engine exhausts to.
    pub fn factor(&self, points: &[TurbinePoint], manifold: f64) -> Option<f64> {
        if self.weight == 0.0 {
            return Some(1.0);
        }
        let pressure = if self.staged {
            points.last()?.p3
        } else {
            let exhaust: f64 = points.iter().map(|point| point.exhaust).sum();
            points.iter().map(|point| point.p3 * point.exhaust).sum::<f64>() / exhaust
        };
        let ideal = exhaust_pressure_factor(pressure, manifold, self.compression_ratio, turbine::GAMMA)?;
        Some(1.0 + self.weight * (ideal - 1.0))
    }
}

impl Set {
    fn point(&self, machine: &MachinePoint, exhaust: f64, t3: f64, p4: f64) -> Option<TurbinePoint> {
        let asked = machine.power.max(0.0);
        let (p3, flow, power) = match &self.drives {
            Drives::Fixed(capacity) => {
                let balance = turbine::balance(capacity, self.efficiency, asked, exhaust, t3, p4)?;
                (balance.p3, balance.flow, balance.power)
            }
            Drives::Variable(open) => {
                let least = match open {
                    Some(capacity) => capacity.pressure_for(exhaust, t3, p4)?,
                    None => p4,
                };
                match turbine::ratio_for_power(asked, exhaust, t3, self.efficiency) {
                    Some(ratio) => ((ratio * p4).max(least), exhaust, asked),
                    None => (least, exhaust, 0.0),
                }
            }
        };
        let gate = self.gate.clone().and_then(|area| {
            let nozzle =
                flow::Nozzle { area, discharge_coefficient: 1.0, gamma: turbine::GAMMA, r: turbine::R };
            nozzle.flow(p3, t3, p4).map_or_else(|| Known::not_applicable("no pressure drives it"), Known::Is)
        });
        let fixed = match self.drives {
            Drives::Fixed(capacity) => Some((capacity, self.efficiency)),
            Drives::Variable(_) => None,
        };
        Some(TurbinePoint {
            name: machine.name.clone(),
            p3,
            p4,
            t3,
            exhaust,
            flow,
            asked,
            power,
            gate,
            fixed,
        })
    }
}

fn set(build: &Build, index: usize, turbocharger: &Turbocharger, reads: &dyn Reads) -> Known<Set> {
    turbocharger.turbine.get(reads).and_then(|turbine| {
        let variable = match turbine.nozzle.state(reads) {
            State::Given(nozzle) => *nozzle == Nozzle::Variable,
            State::Faulty => return Known::missing(turbine.nozzle.route()),
            State::Absent | State::SaidNone => false,
        };
        let capacity = if variable && !turbine.flow_capacity.is_given(reads) {
            Known::Is(None)
        } else {
            turbine.flow_capacity.get(reads).and_then(|flow| {
                let t = match turbine.reference_temperature.state(reads) {
                    State::Absent => Known::Is(288.15),
                    _ => turbine.reference_temperature.get(reads).map(|t| t.si()),
                };
                let p = match turbine.reference_pressure.state(reads) {
                    State::Absent => Known::Is(101_325.0),
                    _ => turbine.reference_pressure.get(reads).map(|p| p.absolute(0.0)),
                };
                t.zip(p).and_then(|(t, p)| match Capacity::new(flow.si(), p, t) {
                    Some(capacity) => Known::Is(Some(capacity)),
                    None => Known::missing(turbine.flow_capacity.route()),
                })
            })
        };
        let gate = gate(build, turbocharger, reads);
        turbine.efficiency.get(reads).zip(capacity).map(|(efficiency, capacity)| Set {
            index,
            efficiency: efficiency.si(),
            drives: match capacity {
                Some(capacity) if !variable => Drives::Fixed(capacity),
                capacity => Drives::Variable(capacity),
            },
            gate: gate.clone(),
        })
    })
}

/// Effective area of a turbocharger's wastegate at full stroke, m2; none has no area.
fn gate(build: &Build, turbocharger: &Turbocharger, reads: &dyn Reads) -> Known<f64> {
    let name = match turbocharger.wastegate.state(reads) {
        State::SaidNone => return Known::Is(0.0),
        _ => turbocharger.wastegate.get(reads),
    };
    name.and_then(|name| {
        let part = build.parts.named(&name.0);
        let Some(Body::Wastegate(gate)) = part.map(|part| &part.body) else {
            return Known::missing(turbocharger.wastegate.route());
        };
        let size = gate.seat.get(reads).zip(gate.lift.get(reads));
        size.and_then(|(seat, lift)| {
            let geometric = flow_area(seat.si(), lift.si()).unwrap_or_default();
            effective_area(&gate.flow, geometric, reads)
        })
    })
}

/// Fuel to a mass of air at full throttle.
fn fuel_share(engine: &Engine, reads: &dyn Reads) -> Known<f64> {
    let drawn = matches!(engine.fuel_enters.state(reads), State::Given(FuelEntry::AheadOfCompressor));
    engine.fuel.get(reads).zip(engine.ignition.get(reads)).and_then(|(fuel, ignition)| {
        let lambda = reads.setting(match ignition {
            Ignition::Spark if drawn => Setting::DrawnThroughLambda,
            Ignition::Spark => Setting::FullThrottleLambdaSpark,
            Ignition::Compression => Setting::FullThrottleLambdaCompression,
        });
        let stoichiometric = fuel_data(*fuel).map_or(DIESEL_RATIO, |data| data.stoichiometric);
        Known::Is(1.0 / (lambda.v * stoichiometric))
    })
}

/// C of the exhaust behind the turbines, 1/m4.
fn behind(build: &Build, site: &SiteState, reads: &dyn Reads) -> Known<f64> {
    build.top.exhaust.get(reads).and_then(|exhaust| match exhaust.loss.state(reads) {
        State::Absent => {
            let words = "the turbine blows into the open air without loss, as none is given";
            reads.note(Read::Default { field: exhaust.loss.route().clone(), words: words.into() });
            Known::Is(0.0)
        }
        State::SaidNone => Known::Is(0.0),
        _ => exhaust.loss.get(reads).and_then(|loss| effects::coefficient(loss, site, reads)),
    })
}

fn compression_ratio(engine: &Engine, reads: &dyn Reads) -> f64 {
    match engine.compression_ratio.state(reads) {
        State::Given(ratio) => ratio.si(),
        _ => reads.setting(Setting::CompressionRatio).v,
    }
}

/// The ideal correction is that of a cylinder that keeps residual gas, filled once in two turns.
fn weight(engine: &Engine, reads: &dyn Reads) -> f64 {
    match engine.cycle.state(reads) {
        State::Given(described::Cycle::FourStroke) => {
            let words = "taken as that at an exhaust pressure equal to the manifold's, and corrected for the pressure ahead of the turbine";
            reads.note(Read::Default {
                field: engine.volumetric_efficiency.route().clone(),
                words: words.into(),
            });
            reads.setting(Setting::ExhaustPressureCorrection).v
        }
        _ => 0.0,
    }
}

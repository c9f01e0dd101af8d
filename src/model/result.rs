//! What a solved operating point says.

use std::sync::Arc;

use super::elements::Effect;
use super::machine::{Behaviour, Working};
use super::network::{Leg, Note, Slot, State};
use super::site::SiteState;
use super::solver::{Setup, Solved};
use super::stations::{Air, Running, Station};
use super::turbine::TurbinePoint;
use crate::known::{Known, Missing};
use crate::physics::compressor::{self, ReferenceState};
use crate::physics::cooler;
use crate::physics::gas::Gas;
use crate::physics::map::Along;

/// Steady points at one site.
#[derive(Clone, Debug)]
pub struct SiteSteady {
    /// Its name.
    pub name: Arc<str>,
    /// Whether it is the build's own.
    pub home: bool,
    /// The air outside, or what is missing of it.
    pub state: Known<SiteState>,
    /// The points by rising speed, or what is missing for any of them.
    pub points: Known<Vec<Point>>,
    /// The part-throttle points in the order of the text; empty when none is described.
    pub part_throttle: Known<Vec<PartThrottlePoint>>,
    /// Whether the turbine side is known, and what it lacks.
    pub turbines: Known<()>,
}

/// One operating point.
#[derive(Clone, Debug)]
pub struct Point {
    /// Engine speed in revolutions per second.
    pub speed: f64,
    /// Whether it is off boost: below the first entry of the boost table.
    pub off_boost: bool,
    /// What came out.
    pub outcome: Outcome,
    /// Where there is no solution: the largest boost above the site's pressure that has one, Pa; none if none has.
    pub largest_boost: Option<f64>,
    /// Boost above the site's pressure that an engine-driven compressor makes of itself, with nothing led round it, Pa.
    pub drive_boost: Option<f64>,
}

/// A point at boost with the throttle part shut.
#[derive(Clone, Debug)]
pub struct PartThrottlePoint {
    /// Engine speed in revolutions per second.
    pub speed: f64,
    /// Boost ahead of the throttle above the site's pressure, Pa.
    pub boost: f64,
    /// Flow as a share of that at full throttle.
    pub flow_share: f64,
    /// What came out. Its manifold pressure and temperature are those ahead of the throttle.
    pub outcome: Outcome,
}

/// What came out at a point.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// Solved.
    Solved(Box<Solution>),
    /// No flow satisfies engine, losses and map together.
    NoSolution,
    /// Something is missing for this point alone.
    Open(Missing),
}

/// A solved point. Pressures are total and absolute. `p1` to `t2` and `working` are the compressor's where there is one;
/// of several the inlet is the first one's and the outlet that of the last compression. [`Solution::machines`] tells each.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Mass flow of the mixture into the engine, kg/s: moist air, and fuel vapour where it enters ahead of a compressor.
    pub flow: f64,
    /// Pressure at the compressor's inlet, Pa.
    pub p1: f64,
    /// Temperature at the compressor's inlet, K.
    pub t1: f64,
    /// Pressure at its outlet, Pa.
    pub p2: f64,
    /// Temperature at its outlet, K, once what is left of the fuel has evaporated.
    pub t2: f64,
    /// Pressure in the manifold, Pa.
    pub p_manifold: f64,
    /// Temperature in the manifold, K.
    pub t_manifold: f64,
    /// Corrected flow, kg/s.
    pub corrected_flow: f64,
    /// How the compressor works; none off boost.
    pub working: Option<Working>,
    /// Loss of each part of the path, in its order, Pa; 0 for the compressor.
    pub losses: Vec<f64>,
    /// Error that the solver leaves in any temperature, K.
    pub error: f64,
    /// The air at each part of the path, in its order.
    pub stations: Vec<Station>,
    /// Each compressor, in the order of the path.
    pub machines: Vec<MachinePoint>,
    /// Each cooler, in the order of the path.
    pub coolers: Vec<CoolerPoint>,
    /// Moist air taken in at the site, kg/s.
    pub air: f64,
    /// Engine speed, rev/s.
    pub engine_speed: f64,
    /// Each turbine, in the order of the path; none off boost and where the turbine side is not known.
    pub turbines: Vec<TurbinePoint>,
}

/// Mach number above which a loss at one density is remarked on.
pub const FAST: f64 = 0.3;

/// One compressor at a point. Pressures and temperatures are total.
#[derive(Clone, Debug)]
pub struct MachinePoint {
    /// Its place in the path.
    pub index: usize,
    /// Its part's name.
    pub name: Arc<str>,
    /// Flow of the path through it, kg/s.
    pub flow: f64,
    /// Flow that an engine-driven one delivers, kg/s; what is above `flow` goes round it.
    pub delivers: Option<f64>,
    /// Pressure at its inlet, Pa.
    pub p1: f64,
    /// Temperature at its inlet, K.
    pub t1: f64,
    /// Pressure at its outlet, Pa.
    pub p2: f64,
    /// Temperature at its outlet, K.
    pub t2: f64,
    /// Corrected flow through it, kg/s.
    pub corrected_flow: f64,
    /// How it works; none off boost.
    pub working: Option<Working>,
    /// Power that the air takes up, W.
    pub power: f64,
    /// Speed of its rotor, rev/s: by its map, or by its drive.
    pub rotor_speed: Option<f64>,
    /// That speed over the stated limit, or over the map's top line where none is stated; both corrected alike.
    pub speed_share: Option<f64>,
    /// Corrected flow over the choke flow at that speed.
    pub choke_share: Option<f64>,
    behaviour: Arc<Behaviour>,
}

impl MachinePoint {
    /// Pressure ratio.
    pub fn ratio(&self) -> f64 {
        self.p2 / self.p1
    }

    /// Whether such a machine can surge.
    pub fn surges(&self) -> bool {
        self.behaviour.surges()
    }

    /// Distance to the surge line at constant pressure ratio, (ṁ − ṁ_s)/ṁ; none off boost, and above the line's end.
    pub fn surge_margin(&self) -> Option<f64> {
        compressor::surge_margin_at_ratio(self.corrected_flow, self.working?.surge_flow?)
    }

    /// Distance to the surge line at constant corrected flow, (PR_s − PR)/(PR − 1); none off boost, and right of the
    /// line's end.
    pub fn surge_margin_at_flow(&self) -> Option<f64> {
        self.working?;
        compressor::surge_margin_at_flow(self.ratio(), self.behaviour.surge_ratio(self.corrected_flow)?)
    }

    /// Distance to the surge line at constant speed, (PR_s/ṁ_s)/(PR/ṁ) − 1; none off boost, and without a map.
    pub fn surge_margin_at_speed(&self) -> Option<f64> {
        let surge = self.behaviour.map()?.surge_at_speed(self.working?.speed?)?;
        compressor::surge_margin_at_speed(self.corrected_flow, self.ratio(), surge.flow, surge.pressure_ratio)
    }
}

/// One cooler at a point.
#[derive(Clone, Debug)]
pub struct CoolerPoint {
    /// Its place in the path.
    pub index: usize,
    /// Its part's name.
    pub name: Arc<str>,
    /// Effectiveness on the charge side.
    pub effectiveness: f64,
    /// Heat that the charge gives up, W.
    pub heat: f64,
    /// Temperature of the coolant at its inlet, K: of an air-cooled one that of the air at its face.
    pub coolant: f64,
    /// Temperature of the coolant at its outlet, K, where its flow is known.
    pub coolant_out: Option<f64>,
    /// Water that falls out, kg/s: what is above saturation at the cooler's outlet.
    pub condensate: Option<f64>,
}

impl Solution {
    /// Whether a compressor works left of its surge line: nothing runs steadily there, and what comes out behind it is no
    /// state to judge.
    pub fn is_left_of_surge(&self) -> bool {
        let mut running = self.stations.iter().filter_map(|station| station.compressor.as_ref());
        running.any(|running| running.working.along == Along::LeftOfSurge)
    }

    /// Pressure ratio over the compressors.
    pub fn ratio(&self) -> f64 {
        self.p2 / self.p1
    }

    /// Distance to the surge line at constant pressure ratio, as a share of the flow; none off boost, and where the
    /// line does not reach this ratio.
    pub fn surge_margin(&self) -> Option<f64> {
        let surge = self.working.as_ref()?.surge_flow?;
        compressor::surge_margin_at_ratio(self.corrected_flow, surge)
    }

    /// The solver's error as a share of the flow.
    pub fn relative_error(&self) -> f64 {
        self.error / self.t_manifold
    }

    /// The compressor of a part.
    pub fn machine(&self, name: &str) -> Option<&MachinePoint> {
        self.machines.iter().find(|machine| &*machine.name == name)
    }

    /// A part of the path.
    pub fn part(&self, name: &str) -> Option<&Station> {
        self.stations.iter().find(|station| &*station.part == name)
    }

    /// Density of the charge in the manifold, kg/m3.
    pub fn charge_density(&self) -> Option<f64> {
        self.stations.last()?.gas.density(self.p_manifold, self.t_manifold)
    }

    /// Reads a solution off the walk that found it; `None` where a part was left out, which does not happen.
    pub(super) fn of(setup: &Setup<'_, '_>, solved: &Solved, engine_speed: f64) -> Option<Self> {
        let mut stations: Vec<Station> = Vec::with_capacity(setup.slots.len());
        let mut losses = Vec::with_capacity(setup.slots.len());
        let (mut machines, mut coolers) = (Vec::new(), Vec::new());
        for (index, (slot, note)) in setup.slots.iter().zip(&solved.notes).enumerate() {
            // A part-throttle point ends at the throttle.
            let Some(note) = note else { continue };
            let gas = &solved.phases.get(note.inlet.phase)?.gas;
            let (part, bore) = match slot {
                Slot::Machine(machine) => (machine.part, None),
                Slot::Element(element) => (element.part, element.bore),
            };
            let state = |state: &State| Air::new(gas, state.p, state.t);
            let mut station =
                Station::new(part, gas.clone(), note.flow, [state(&note.inlet), state(&note.outlet)], bore)?;
            match slot {
                Slot::Machine(_) => {
                    losses.push(0.0);
                    let machine = machine_point(setup, solved, index, note, engine_speed)?;
                    station.compressor = Running::of(&machine);
                    machines.push(machine);
                }
                Slot::Element(element) => {
                    losses.push(note.inlet.p - note.outlet.p);
                    if let Effect::Cooler { .. } = &element.effect {
                        coolers.push(cooler_point(setup, index, note, gas)?);
                    }
                }
            }
            stations.push(station);
        }
        let first = machines.first()?;
        let (p1, t1, corrected_flow, working) = (first.p1, first.t1, first.corrected_flow, first.working);
        let (p2, t2) = outlet(setup, solved)?;
        Some(Self {
            flow: solved.flow,
            p1,
            t1,
            p2,
            t2,
            p_manifold: solved.end.p,
            t_manifold: solved.end.t,
            corrected_flow,
            working,
            losses,
            error: solved.error,
            stations,
            machines,
            coolers,
            air: solved.air,
            engine_speed,
            turbines: Vec::new(),
        })
    }
}

/// State behind the last compression: that at which the first part behind it begins, else the end.
fn outlet(setup: &Setup<'_, '_>, solved: &Solved) -> Option<(f64, f64)> {
    let mut leg = setup.behind.first();
    while let Some(Leg::Fork(fork)) = leg {
        leg = fork.branches.first()?.first();
    }
    let at = match leg {
        Some(Leg::Slot(index)) => solved.notes.get(*index)?.as_ref().map(|note| note.inlet),
        _ => None,
    };
    let state = at.unwrap_or(solved.end);
    Some((state.p, state.t))
}

fn machine_point(
    setup: &Setup<'_, '_>,
    solved: &Solved,
    index: usize,
    note: &Note,
    engine_speed: f64,
) -> Option<MachinePoint> {
    let Slot::Machine(machine) = setup.slots.get(index)? else { return None };
    let gas = &solved.phases.get(note.inlet.phase)?.gas;
    let (p1, t1, p2, t2) = (note.inlet.p, note.inlet.t, note.outlet.p, note.outlet.t);
    let reference: ReferenceState = machine.reference;
    let corrected_flow = match note.run {
        Some(run) => run.corrected_flow,
        None => reference.corrected_flow(note.flow, p1, t1)?,
    };
    let surge_flow = machine.behaviour.surge_flow(p2 / p1);
    let working = note.run.map(|run| Working { surge_flow, ..run.working });
    let corrected = working.and_then(|working| working.speed);
    let rotor_speed = match machine.drive {
        Some(drive) => Some(drive * engine_speed),
        None => corrected.and_then(|speed| reference.actual_speed(speed, t1)),
    };
    let map = machine.behaviour.map();
    let speed_share = match (machine.speed_limit, rotor_speed) {
        (Some(limit), Some(speed)) => Some(speed / limit),
        (None, Some(speed)) => {
            map.and_then(|map| Some(reference.corrected_speed(speed, t1)? / map.top_speed()))
        }
        (_, None) => None,
    };
    let choke_share =
        map.zip(corrected).and_then(|(map, speed)| Some(corrected_flow / map.choke_flow_at_speed(speed)?));
    Some(MachinePoint {
        index,
        name: machine.part.name.clone(),
        flow: note.flow,
        delivers: note.run.and_then(|run| run.delivers),
        p1,
        t1,
        p2,
        t2,
        corrected_flow,
        working,
        power: note.flow * (gas.h(t2) - gas.h(t1)),
        rotor_speed,
        speed_share,
        choke_share,
        behaviour: machine.behaviour.clone(),
    })
}

fn cooler_point(setup: &Setup<'_, '_>, index: usize, note: &Note, gas: &Gas) -> Option<CoolerPoint> {
    let Slot::Element(element) = setup.slots.get(index)? else { return None };
    let Effect::Cooler { cooling, .. } = &element.effect else { return None };
    let heat = note.flow * (gas.h(note.inlet.t) - gas.h(note.outlet.t));
    let w = setup.site.humidity_ratio;
    // Fuel vapour, where there is any, is left out: water is reckoned on the air.
    let dry = note.flow / (1.0 + w);
    Some(CoolerPoint {
        index,
        name: element.part.name.clone(),
        effectiveness: cooling.effectiveness(note.flow, gas.cp(note.inlet.t))?,
        heat,
        coolant: cooling.coolant,
        coolant_out: cooling.coolant_capacity.map(|capacity| cooling.coolant + heat / capacity),
        condensate: cooler::condensate(dry, w, note.outlet.t, note.outlet.p),
    })
}

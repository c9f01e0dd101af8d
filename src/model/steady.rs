//! The steady operating points: full throttle, each engine speed, each site.

use std::sync::Arc;

use super::elements::{Effect, Element, Flow};
use super::machine::{Machine, Working};
use super::site::{SiteState, sites};
use super::stations::{Running, Station};
use crate::build::Build;
use crate::build::engine::{BoostHeld, BoostTable, Cycle, Engine};
use crate::build::parts::Part;
use crate::build::scalars::Ratio;
use crate::build::tables::SpeedTable;
use crate::known::{Known, Missing, Reads, Setting, State};
use crate::physics::engine::Cycle as Strokes;
use crate::physics::numeric::find_root;
use crate::physics::{compressor, cooler, engine};
use crate::tract::{Spot, Tract};

/// Steady points at all sites.
#[derive(Clone, Debug)]
pub struct Steady {
    /// One set a site, the build's own first.
    pub sites: Vec<SiteSteady>,
}

/// Steady points at one site.
#[derive(Clone, Debug)]
pub struct SiteSteady {
    /// Its name.
    pub name: Arc<str>,
    /// Whether it is the build's own.
    pub home: bool,
    /// The air outside.
    pub state: Known<SiteState>,
    /// The points by rising speed, or what is missing for any of them.
    pub points: Known<Vec<Point>>,
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

/// A solved point. Pressures are total and absolute.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Mass flow of the moist air, kg/s.
    pub flow: f64,
    /// Pressure at the compressor's inlet, Pa.
    pub p1: f64,
    /// Temperature at the compressor's inlet, K.
    pub t1: f64,
    /// Pressure at its outlet, Pa.
    pub p2: f64,
    /// Temperature at its outlet, K.
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
    /// The air at each part of the path, in its order.
    pub stations: Vec<Station>,
    /// Error that the solver leaves in any temperature, K.
    pub error: f64,
}

impl Solution {
    /// Pressure ratio over the compressor.
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
}

/// One path, set up for a site.
struct Setup<'a, 'b> {
    site: &'a SiteState,
    before: Vec<Element<'b>>,
    behind: Vec<Element<'b>>,
    machine: Machine<'b>,
    engine: EngineSetup,
}

/// The engine as the points need it.
#[derive(Clone, Debug)]
struct EngineSetup {
    cycle: Strokes,
    displacement: f64,
    efficiency: SpeedTable<Ratio>,
    boost: BoostTable,
    held: BoostHeld,
    rev_limit: Option<f64>,
}

impl Steady {
    /// Solves all points of a build. Whatever is missing is told by site.
    pub fn solve(build: &Build, reads: &dyn Reads) -> Self {
        let tract = Tract::new(build);
        let engine = set_up_engine(build, reads);
        let states = sites(build, reads);
        let home_pressure = states.first().and_then(|(_, state)| state.exact()).map(|state| state.pressure);
        let solved = states.into_iter().enumerate().map(|(i, (name, state))| {
            let points = state.clone().zip(engine.clone()).and_then(|(site, engine)| {
                set_up(&tract, &site, engine, reads).and_then(|setup| points(&setup, home_pressure, reads))
            });
            SiteSteady { name, home: i == 0, state, points }
        });
        Self { sites: solved.collect() }
    }
}

fn set_up_engine(build: &Build, reads: &dyn Reads) -> Known<EngineSetup> {
    let top = &build.top;
    let held = top.boost_held.get_or(
        reads,
        BoostHeld::Gauge,
        "the control is taken to hold boost above the site's pressure",
    );
    top.engine.get(reads).map(Clone::clone).zip(top.boost.get(reads).map(Clone::clone)).zip(held).and_then(
        |((engine, boost), held): ((Engine, BoostTable), BoostHeld)| {
            let cycle = engine.cycle.get(reads).map(|cycle| match cycle {
                Cycle::FourStroke => Strokes::FourStroke,
                Cycle::TwoStroke => Strokes::TwoStroke,
            });
            let efficiency = engine.volumetric_efficiency.get(reads).map(Clone::clone);
            let rev_limit = match engine.rev_limit.state(reads) {
                State::Given(limit) => Some(limit.si()),
                _ => None,
            };
            let displacement = engine.displacement.get(reads).map(|volume| volume.si());
            cycle.zip(displacement).zip(efficiency).map(|((cycle, displacement), efficiency)| EngineSetup {
                cycle,
                displacement,
                efficiency,
                boost: boost.clone(),
                held,
                rev_limit,
            })
        },
    )
}

fn set_up<'a, 'b>(
    tract: &Tract<'b>,
    site: &'a SiteState,
    engine: EngineSetup,
    reads: &dyn Reads,
) -> Known<Setup<'a, 'b>> {
    tract.path(reads).and_then(|path| {
        if path.forks() {
            return Known::Open(Missing::not_built("operating points of parallel branches"));
        }
        let compressors = match tract.compressors(reads) {
            Known::Is(found) => found,
            other => return other.and_then(|_| Known::not_applicable("no compressor")),
        };
        let [compressor] = compressors.as_slice() else {
            return if compressors.is_empty() {
                Known::not_applicable("no compressor is on the air path")
            } else {
                Known::Open(Missing::not_built("operating points of several compressors"))
            };
        };
        let behind_a_throttle = path.iter().take(compressor.index).any(Spot::shuts);
        if behind_a_throttle {
            return Known::Open(Missing::not_built(
                "operating points with the throttle ahead of the compressor",
            ));
        }
        let element = |i: usize| -> Option<Known<Element<'b>>> {
            let before = i.checked_sub(1).and_then(|i| path.get(i));
            path.get(i).map(|spot| Element::set_up(spot, before, site, reads))
        };
        let before: Known<Vec<_>> = (0..compressor.index).filter_map(element).collect();
        let behind: Known<Vec<_>> = (compressor.index + 1..path.len()).filter_map(element).collect();
        let machine = Machine::set_up(compressor, reads);
        before.zip(behind).zip(machine).map(|((before, behind), machine)| Setup {
            site,
            before,
            behind,
            machine,
            engine: engine.clone(),
        })
    })
}

/// Engine speeds of the points: the tables' keys, every multiple of the spacing between, and the first boosted speed
/// on both sides.
fn speeds(engine: &EngineSetup, spacing: f64) -> Vec<(f64, bool)> {
    let keys = engine.efficiency.entries.iter().map(|entry| entry.x);
    let mut all: Vec<f64> = keys.chain(engine.boost.entries.iter().map(|entry| entry.x)).collect();
    all.extend(engine.rev_limit);
    all.sort_by(f64::total_cmp);
    let (Some(&low), Some(&high)) = (all.first(), all.last()) else { return Vec::new() };
    let high = engine.rev_limit.map_or(high, |limit| high.min(limit));
    let steps = ((high - low) / spacing).ceil();
    if spacing > 0.0 && steps < 1000.0 {
        let mut count = (low / spacing).ceil();
        while count * spacing < high {
            all.push(count * spacing);
            count += 1.0;
        }
    }
    all.sort_by(f64::total_cmp);
    all.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    all.retain(|speed| *speed <= high + 1e-6);
    let first = engine.boost.entries.first().map_or(f64::INFINITY, |entry| entry.x);
    let both = all.iter().flat_map(|&speed| {
        let off = (speed <= first + 1e-6).then_some((speed, true));
        let on = (speed >= first - 1e-6).then_some((speed, false));
        [off, on].into_iter().flatten()
    });
    both.collect()
}

fn points(setup: &Setup<'_, '_>, home_pressure: Option<f64>, reads: &dyn Reads) -> Known<Vec<Point>> {
    let spacing = reads.setting(Setting::OperatingPointSpacing).v;
    let solved = speeds(&setup.engine, spacing).into_iter().map(|(speed, off_boost)| {
        let outcome = match setup.engine.efficiency.at(speed) {
            None => Outcome::Open(Missing::hindrance("the volumetric efficiency is not given at this speed")),
            Some(efficiency) if off_boost => setup.off_boost(speed, efficiency),
            Some(efficiency) => match setup.boosted_pressure(speed, home_pressure) {
                Ok(p) => setup.boosted(speed, efficiency, p),
                Err(missing) => Outcome::Open(missing),
            },
        };
        let outcome = match outcome {
            Outcome::Solved(solution) => {
                let stations = setup.stations(&solution, reads);
                Outcome::Solved(Box::new(Solution { stations, ..*solution }))
            }
            other => other,
        };
        Point { speed, off_boost, outcome }
    });
    Known::Is(solved.collect())
}

impl Setup<'_, '_> {
    fn boosted_pressure(&self, speed: f64, home_pressure: Option<f64>) -> Result<f64, Missing> {
        let missing = || Missing::hindrance("the boost is not given at this speed");
        let boost = self.engine.boost.at(speed).ok_or_else(missing)?;
        match self.engine.held {
            BoostHeld::Gauge => Ok(self.site.pressure + boost),
            BoostHeld::Absolute => home_pressure
                .map(|home| home + boost)
                .ok_or_else(|| Missing::hindrance("the pressure of the home site is not known")),
        }
    }

    fn engine_flow(&self, speed: f64, efficiency: f64, p: f64, t: f64) -> Option<f64> {
        let engine = &self.engine;
        engine::mixture_flow(efficiency, engine.displacement, speed, p, t, self.site.gas.r(), engine.cycle)
    }

    /// Temperature behind all coolers, and the mean in each part behind the compressor, for an outlet temperature.
    fn temperatures(&self, t2: f64) -> Option<(f64, Vec<f64>)> {
        let mut t = t2;
        let mut means = Vec::with_capacity(self.behind.len());
        for element in &self.behind {
            let inlet = t;
            if let Effect::Cooler { effectiveness, coolant, .. } = &element.effect {
                t = cooler::outlet_temperature(t, coolant.unwrap_or(self.site.temperature), *effectiveness)?;
            }
            means.push(0.5 * (inlet + t));
        }
        Some((t, means))
    }

    /// Pressure at the compressor's inlet, and the loss of each part ahead of it.
    fn ahead(&self, flow: f64) -> Option<(f64, Vec<f64>)> {
        let mut p = self.site.pressure;
        let mut losses = Vec::with_capacity(self.before.len());
        for element in &self.before {
            let flow = Flow { mass: flow, temperature: self.site.temperature };
            let next = element.outlet_pressure(flow, p, self.site)?;
            losses.push(p - next);
            p = next;
        }
        Some((p, losses))
    }

    /// Pressure at the compressor's outlet for one in the manifold, and the loss of each part between.
    fn back_to_outlet(&self, flow: f64, means: &[f64], p_manifold: f64) -> Option<(f64, Vec<f64>)> {
        let mut p = p_manifold;
        let mut losses = Vec::with_capacity(self.behind.len());
        for (element, &temperature) in self.behind.iter().zip(means).rev() {
            let before = element.inlet_pressure(Flow { mass: flow, temperature }, p, self.site)?;
            losses.push(before - p);
            p = before;
        }
        losses.reverse();
        Some((p, losses))
    }

    /// Everything that follows from an assumed outlet temperature; its own outlet temperature agrees at the solution.
    fn assuming_outlet(&self, speed: f64, efficiency: f64, p_manifold: f64, t2: f64) -> Option<Solution> {
        let t1 = self.site.temperature;
        let (t_manifold, means) = self.temperatures(t2)?;
        let flow = self.engine_flow(speed, efficiency, p_manifold, t_manifold)?;
        let (p1, mut losses) = self.ahead(flow)?;
        let (p2, behind) = self.back_to_outlet(flow, &means, p_manifold)?;
        let corrected_flow = self.machine.reference.corrected_flow(flow, p1, t1)?;
        let working = self.machine.at(corrected_flow, p2 / p1)?;
        let outlet = compressor::compress(&self.site.gas, t1, p2 / p1, working.efficiency)?;
        losses.push(0.0);
        losses.extend(behind);
        Some(Solution {
            flow,
            p1,
            t1,
            p2,
            t2: outlet.temperature,
            p_manifold,
            t_manifold,
            corrected_flow,
            working: Some(working),
            losses,
            stations: Vec::new(),
            error: 0.0,
        })
    }

    /// The air at each part of a solved point.
    fn stations(&self, solution: &Solution, reads: &dyn Reads) -> Vec<Station> {
        let mut inlet = (self.site.pressure, self.site.temperature);
        let mut losses = solution.losses.iter().copied();
        let mut all = Vec::with_capacity(losses.len());
        let mut pass = |part: &Part, kind, inlet: &mut (f64, f64), outlet: (f64, f64)| {
            all.push(Station::new(part, kind, self.site, solution.flow, [*inlet, outlet], reads));
            *inlet = outlet;
        };
        for element in &self.before {
            let outlet = (inlet.0 - losses.next().unwrap_or(0.0), inlet.1);
            pass(element.part, element.kind, &mut inlet, outlet);
        }
        // The compressor's own entry.
        losses.next();
        pass(self.machine.part, self.machine.kind, &mut inlet, (solution.p2, solution.t2));
        let means = self.temperatures(solution.t2).map_or_else(Vec::new, |(_, means)| means);
        for (element, mean) in self.behind.iter().zip(means) {
            let outlet = (inlet.0 - losses.next().unwrap_or(0.0), 2.0 * mean - inlet.1);
            pass(element.part, element.kind, &mut inlet, outlet);
        }
        let running = solution
            .working
            .map(|working| Running::new(&self.machine, solution.corrected_flow, solution.t1, working));
        if let Some(compressor) = all.get_mut(self.before.len()) {
            compressor.compressor = running;
        }
        all
    }

    /// One unknown, the outlet temperature: from it charge temperature, flow, losses and ratio follow outright, and the
    /// map gives it back. What comes back falls as what goes in rises, so that a bracket always closes on it.
    fn boosted(&self, speed: f64, efficiency: f64, p_manifold: f64) -> Outcome {
        let low = self.site.temperature;
        // Cold air is dense: what cannot pass at this temperature may pass at a higher one.
        let too_dense = 1e3;
        let residual = |t2: f64| match self.assuming_outlet(speed, efficiency, p_manifold, t2) {
            Some(solution) => solution.t2 - t2,
            None => too_dense,
        };
        let mut high = low + 50.0;
        while residual(high) > 0.0 && high < low + 1200.0 {
            high += 0.5 * (high - low);
        }
        let Ok(root) = find_root(low, high, 1e-7, residual) else { return Outcome::NoSolution };
        match self.assuming_outlet(speed, efficiency, p_manifold, root.x) {
            // At a root the two temperatures agree; at a mere jump from cannot-pass to can they do not.
            Some(solution) if (solution.t2 - root.x).abs() < 1e-3 => {
                Outcome::Solved(Box::new(Solution { error: root.error_bound.max(1e-9), ..solution }))
            }
            _ => Outcome::NoSolution,
        }
    }

    /// Off boost the compressor passes the air through: the one unknown is the flow.
    fn off_boost(&self, speed: f64, efficiency: f64) -> Outcome {
        let t = self.site.temperature;
        let Some((t_end, means)) = self.temperatures(t) else { return Outcome::NoSolution };
        let through = |flow: f64| -> Option<(f64, f64, Vec<f64>)> {
            let (p1, mut losses) = self.ahead(flow)?;
            losses.push(0.0);
            let mut p = p1;
            for (element, &temperature) in self.behind.iter().zip(&means) {
                let next = element.outlet_pressure(Flow { mass: flow, temperature }, p, self.site)?;
                losses.push(p - next);
                p = next;
            }
            Some((p1, p, losses))
        };
        // A flow that the losses do not let through is one too many, not a failure.
        let residual = |flow: f64| match through(flow) {
            Some((_, p, _)) => {
                self.engine_flow(speed, efficiency, p, t_end).map_or(f64::NAN, |wanted| wanted - flow)
            }
            None => -flow,
        };
        let Some(most) = self.engine_flow(speed, efficiency, self.site.pressure, t_end) else {
            return Outcome::NoSolution;
        };
        let Ok(root) = find_root(most * 1e-6, most * 1.000_001, most * 1e-10, residual) else {
            return Outcome::NoSolution;
        };
        let Some((p1, p_manifold, losses)) = through(root.x) else { return Outcome::NoSolution };
        let Some(corrected_flow) = self.machine.reference.corrected_flow(root.x, p1, t) else {
            return Outcome::NoSolution;
        };
        Outcome::Solved(Box::new(Solution {
            flow: root.x,
            p1,
            t1: t,
            p2: p1,
            t2: t,
            p_manifold,
            t_manifold: t_end,
            corrected_flow,
            working: None,
            losses,
            stations: Vec::new(),
            error: root.error_bound / root.x * t,
        }))
    }
}

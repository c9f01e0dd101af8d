//! What came out of a run: crossings, cycles, margin, valves, masses, metering.

use std::sync::Arc;

use crate::physics::network::{Equations, Sums};

use super::laid::{Compressing, Laid, Way};
use super::triggers::{Felt, Trigger};
use super::valves::Fitted;
use super::{DURATION, METER_LAG, OPEN_LIFT, SPACING};

/// Share of the surge flow below which the line counts as crossed.
const CROSSED: f64 = 1.0;
/// A cycle falls below the first share of the surge flow, by at least the second, and rises by it again.
const CYCLE: (f64, f64) = (0.5, 0.25);
/// Least swing of a cycle, as a share of the start's boost.
const LEAST_SWING: f64 = 0.10;
/// After the last lowest flow the pressure is looked at for so long, s.
const LAST_SWING: f64 = 0.12;
/// A share of the path's flow from which a compressor bears all of it.
const ALL: f64 = 0.999;
/// How far around the surge line the class of a run is knife-edged.
const MARGINAL: f64 = 0.1;
/// The metering window is at least so long, s, and ends when the engine's flow stays within this share of its last.
const WINDOW: (f64, f64) = (0.5, 0.10);

/// The state of a compressor at a moment. SI units; pressures absolute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wheel {
    /// Flow through it, kg/s, negative backward.
    pub flow: f64,
    /// The same over the flow on the surge line at the present speed and inlet; no number where there is no such line.
    pub share: f64,
    /// Flow on the surge line, kg/s; no number where there is none.
    pub surge_flow: f64,
    /// Pressure ahead of it, Pa.
    pub p1: f64,
    /// Pressure behind it, Pa.
    pub p2: f64,
    /// Temperature behind it, K.
    pub t2: f64,
    /// Rotor speed, rad/s.
    pub speed: f64,
    /// Mass that went backward through it so far, kg.
    pub reversed: f64,
}

/// The state of what is watched at a moment. SI units; pressures absolute.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment {
    /// Time since the throttle began to shut, s.
    pub time: f64,
    /// The first compressor of the path.
    pub wheel: Wheel,
    /// The other compressors, in the order of the path.
    pub others: Vec<Wheel>,
    /// Pressure ahead of the throttle, Pa.
    pub p_throttle: f64,
    /// Pressure in the manifold, Pa.
    pub p_manifold: f64,
    /// Flow through the throttle, kg/s.
    pub throttle_flow: f64,
    /// Flow into the engine, kg/s.
    pub engine_flow: f64,
    /// Flow in from the outside, kg/s.
    pub mouth_flow: f64,
    /// Reading of the air meter, kg/s, where there is one.
    pub reading: Option<f64>,
    /// Lift of each valve, m.
    pub lifts: Vec<f64>,
    /// Signal pressure of each valve, Pa.
    pub signals: Vec<f64>,
    /// Flow out of each valve, kg/s.
    pub relieved: Vec<f64>,
    /// Mass let out so far through each port of each valve, kg.
    pub passed: Vec<f64>,
    /// Pressure at the place of each nozzle's trigger, Pa.
    pub felt: Vec<f64>,
    /// Mass taken by the engine so far, kg.
    pub drawn: f64,
    /// Mass that went backward over the air meter so far, and mass that it reported, kg.
    pub meter_back: f64,
    /// Mass that the meter reported, its lag left out, kg.
    pub metered: f64,
    /// Mass and internal energy of all air in the tract, kg and J.
    pub contents: (f64, f64),
    /// What passed the bounds of the tract so far.
    pub sums: Sums,
}

/// What is watched.
pub(super) struct Watch<'a> {
    pub laid: &'a Laid,
    pub fitted: &'a [Fitted],
    pub felt: &'a [Felt],
}

impl Watch<'_> {
    pub fn moment(&self, equations: &mut Equations, time: f64, y: &[f64]) -> Moment {
        let laid = self.laid;
        let wheel = |one: &Compressing, equations: &Equations| {
            let flow = one.way.flow(equations);
            let surge_flow = one.way.surge_flow(equations, y).unwrap_or(f64::NAN);
            Wheel {
                flow,
                share: flow / surge_flow,
                surge_flow,
                p1: equations.pressure(one.inlet),
                p2: equations.pressure(one.outlet),
                t2: equations.temperature(one.outlet),
                speed: equations.rotor_speed(one.rotor, y),
                reversed: one.reversed.map_or(0.0, |reversed| equations.tally(reversed, y)),
            }
        };
        let meter = laid.meter;
        Moment {
            time,
            wheel: wheel(&laid.compressor, equations),
            others: laid.others.iter().map(|one| wheel(one, equations)).collect(),
            p_throttle: equations.pressure(laid.ahead_of_throttle),
            p_manifold: equations.pressure(laid.manifold),
            throttle_flow: equations.orifice_flow(laid.throttle),
            engine_flow: equations.engine_flow(laid.engine),
            mouth_flow: laid.mouths.iter().map(|mouth| mouth.flow(equations)).sum(),
            reading: meter.map(|meter| equations.tally(meter.reading, y)),
            lifts: self.fitted.iter().map(|one| equations.lift(one.valve)).collect(),
            signals: self.fitted.iter().map(|one| equations.pressure(one.signal)).collect(),
            relieved: self
                .fitted
                .iter()
                .map(|one| one.ports.iter().map(|port| equations.orifice_flow(port.orifice)).sum())
                .collect(),
            passed: self
                .fitted
                .iter()
                .flat_map(|one| one.ports.iter().map(|port| equations.tally(port.passed, y)))
                .collect(),
            felt: self.felt.iter().map(|felt| equations.pressure(felt.node)).collect(),
            drawn: equations.tally(laid.drawn, y),
            meter_back: meter.map_or(0.0, |meter| equations.tally(meter.back, y)),
            metered: meter.map_or(0.0, |meter| equations.tally(meter.metered, y)),
            contents: equations.contents(y),
            sums: equations.sums(y),
        }
    }
}

/// One surge cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cycle {
    /// Time of its lowest flow, s.
    pub time: f64,
    /// Fall of the pressure behind the compressor, Pa, from before it to the next lowest pressure.
    pub swing: f64,
    /// Whether the flow reversed.
    pub deep: bool,
}

/// What a relief valve did.
#[derive(Clone, Debug, PartialEq)]
pub struct ValveResults {
    /// Its name.
    pub name: Arc<str>,
    /// Time to a lift of 0.1 mm, s; none if it stayed shut.
    pub opens: Option<f64>,
    /// Time to half its stroke, s.
    pub half_open: Option<f64>,
    /// Greatest lift, m.
    pub most_lift: f64,
    /// Lift at its stop, m.
    pub stroke: f64,
    /// Openings after the first.
    pub reopenings: usize,
    /// When it shut for the last time, s; none if it stands open at the end or never opened.
    pub shuts: Option<f64>,
    /// Mass let out by destination, kg.
    pub masses: Vec<(Arc<str>, f64)>,
}

/// What the air meter makes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Metering {
    /// The window over which air is counted, s.
    pub window: f64,
    /// Air that the engine took in the window, kg.
    pub drawn: f64,
    /// Metered air that was vented in the window, kg.
    pub vented: f64,
    /// All that relief valves let out in the window, kg.
    pub relieved: f64,
    /// What the meter reported in the window, kg.
    pub reported: f64,
    /// Mass that went backward over the meter, kg.
    pub back: f64,
    /// Whether the meter knows which way the air goes.
    pub directed: bool,
}

impl Metering {
    /// Mass that the meter counted although it went backward, kg.
    pub fn counts_back(&self) -> f64 {
        if self.directed { 0.0 } else { self.back }
    }

    /// λ over λ of the mixture asked for, over the window, as far as venting is to blame: engine air over engine air
    /// and metered vented air.
    pub fn lambda(&self) -> f64 {
        if self.drawn + self.vented > 0.0 { self.drawn / (self.drawn + self.vented) } else { 1.0 }
    }

    /// The largest share of the relieved air that may be vented so that λ over the window stays at a limit, from λ
    /// `asked` for: (λ0/λ_lim − 1) m_engine/m_relieved.
    pub fn largest_vent_share(&self, asked: f64, limit: f64) -> f64 {
        (asked / limit - 1.0) * self.drawn / self.relieved
    }
}

/// What a compressor did.
#[derive(Clone, Debug, PartialEq)]
pub struct Surging {
    /// Its part's name.
    pub name: Arc<str>,
    /// Whether it displaces its air: it has no surge line, and never surges.
    pub displaces: bool,
    /// Whether the engine drives it.
    pub driven: bool,
    /// Time at which the flow first falls below that of the surge line, s.
    pub crosses: Option<f64>,
    /// Lowest flow over surge flow before the flow first reverses; infinite where there is no surge line.
    pub margin: f64,
    /// When that was, s.
    pub margin_at: f64,
    /// Surge cycles whose swing counts.
    pub cycles: Vec<Cycle>,
    /// Frequency of the cycles, Hz, from three on.
    pub frequency: Option<f64>,
    /// Mass that ran backward through it, kg.
    pub reversed: f64,
    /// Of that what ran while a compressor beside it sent air forward, kg.
    pub blown_back: f64,
    /// Rotor speed at the start and at the end, rad/s.
    pub speeds: (f64, f64),
    /// Highest pressure behind it, Pa, absolute, and when that was, s.
    pub peak: (f64, f64),
}

impl Surging {
    /// Whether it comes so close to the surge line that small changes decide it.
    pub fn is_marginal(&self) -> bool {
        (self.margin - 1.0).abs() <= MARGINAL
    }

    /// Largest swing of a counted cycle, Pa; zero without any.
    pub fn largest_swing(&self) -> f64 {
        self.cycles.iter().map(|cycle| cycle.swing).fold(0.0, f64::max)
    }
}

/// What came out of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Results {
    /// What the first compressor of the path did.
    pub compressor: Surging,
    /// What the others did, in the order of the path.
    pub others: Vec<Surging>,
    /// Highest pressure ahead of the throttle, Pa, absolute.
    pub peak: f64,
    /// Boost at the start, Pa above the site's pressure.
    pub boost: f64,
    /// Pressure ahead of the throttle, above the site's, at the end of the gear-change, Pa.
    pub at_gear_change: Option<f64>,
    /// Speed of the first compressor's rotor at that time, rad/s.
    pub speed_at_gear_change: Option<f64>,
    /// What each valve did.
    pub valves: Vec<ValveResults>,
    /// First time at which the valves together pass the flow on the surge line, s.
    pub passes_surge_flow: Option<f64>,
    /// What the air meter makes of it, where one counts.
    pub metering: Option<Metering>,
    /// What the triggers of injection nozzles feel once the throttle is shut.
    pub triggers: Vec<Trigger>,
    /// λ over λ asked for, moment by moment in the window, as far as venting is to blame: time, value.
    pub lambda: Vec<(f64, f64)>,
}

impl Results {
    /// What each compressor did, in the order of the path.
    pub fn compressors(&self) -> impl Iterator<Item = &Surging> {
        std::iter::once(&self.compressor).chain(&self.others)
    }

    /// The compressor that fares worst: with the largest swing, of those without with the least margin.
    pub fn worst(&self) -> &Surging {
        self.others.iter().fold(&self.compressor, |worst, other| {
            let harder = other.largest_swing().total_cmp(&worst.largest_swing());
            if harder.then(worst.margin.total_cmp(&other.margin)).is_gt() { other } else { worst }
        })
    }

    /// Largest swing of any compressor, Pa; zero without any.
    pub fn largest_swing(&self) -> f64 {
        self.worst().largest_swing()
    }

    /// Lowest λ over λ asked for in the window before `cut`, and for how long it was below a limit, s. A fuel cut ends
    /// the looking.
    pub fn lambda_low(&self, limit: f64, cut: Option<f64>) -> (f64, f64) {
        let until = cut.unwrap_or(f64::INFINITY);
        let (mut lowest, mut low_time) = (1.0_f64, 0.0);
        for pair in self.lambda.windows(2) {
            let [(from, a), (to, b)] = pair else { continue };
            if *to > until {
                break;
            }
            lowest = lowest.min(*a).min(*b);
            if 0.5 * (a + b) < limit {
                low_time += to - from;
            }
        }
        (lowest, low_time)
    }
}

/// One of the compressors, by its place among them.
pub(super) fn wheel(moment: &Moment, number: usize) -> &Wheel {
    number.checked_sub(1).and_then(|other| moment.others.get(other)).unwrap_or(&moment.wheel)
}

/// A compressor's state over time.
fn turns(moments: &[Moment], number: usize) -> Vec<(f64, Wheel)> {
    moments.iter().map(|m| (m.time, *wheel(m, number))).collect()
}

/// Mass that runs backward through a compressor while one beside it sends air forward: those beside it bear their own part
/// of the flow, those before and behind it all of it.
fn blown_back(moments: &[Moment], number: usize, laid: &Laid) -> f64 {
    let beside: Vec<usize> = laid
        .compressors()
        .enumerate()
        .filter(|(other, one)| *other != number && one.share < ALL)
        .map(|(other, _)| other)
        .collect();
    let pairs = moments.windows(2).filter_map(|pair| {
        let [a, b] = pair else { return None };
        let forward = beside.iter().any(|other| wheel(b, *other).flow > 0.0);
        forward.then(|| wheel(b, number).reversed - wheel(a, number).reversed)
    });
    pairs.sum()
}

fn surging(moments: &[Moment], number: usize, one: &Compressing, laid: &Laid, boost: f64) -> Surging {
    let turns = turns(moments, number);
    let (margin_at, margin) = margin(&turns);
    let cycles = cycles(&turns, LEAST_SWING * boost);
    let frequency = match (cycles.first(), cycles.last()) {
        (Some(first), Some(last)) if cycles.len() >= 3 => {
            Some((cycles.len() - 1) as f64 / (last.time - first.time))
        }
        _ => None,
    };
    let (start, end) = (turns.first(), turns.last());
    let speed = |at: Option<&(f64, Wheel)>| at.map_or(0.0, |(_, wheel)| wheel.speed);
    Surging {
        name: one.name.clone(),
        displaces: matches!(one.way, Way::Pump(_)),
        driven: one.driven,
        crosses: crossing(&turns),
        margin,
        margin_at,
        cycles,
        frequency,
        reversed: end.map_or(0.0, |(_, wheel)| wheel.reversed),
        blown_back: if one.share < ALL { blown_back(moments, number, laid) } else { 0.0 },
        speeds: (speed(start), speed(end)),
        peak: turns.iter().fold(
            (0.0, 0.0),
            |most, (time, wheel)| {
                if wheel.p2 > most.0 { (wheel.p2, *time) } else { most }
            },
        ),
    }
}

/// Reads the results off the moments of a run.
pub(super) fn results(
    moments: &[Moment],
    watch: &Watch<'_>,
    boost: f64,
    site_pressure: f64,
    gear: Option<f64>,
) -> Results {
    let (laid, fitted) = (watch.laid, watch.fitted);
    let others = laid.others.iter().enumerate();
    let others = others.map(|(i, one)| surging(moments, i + 1, one, laid, boost)).collect();
    // Valves behind compressors side by side pass the flow of all; behind stages that of the one that needs most.
    let needed = |m: &Moment| {
        let each = laid.compressors().enumerate().map(|(i, one)| wheel(m, i).surge_flow / one.share);
        each.filter(|flow| !flow.is_nan()).reduce(f64::max)
    };
    let passes = moments.iter().find(|m| {
        let relieved = m.relieved.iter().sum::<f64>();
        !m.relieved.is_empty() && needed(m).is_some_and(|needed| relieved >= needed)
    });
    let (metering, lambda) = match laid.meter {
        Some(meter) => metering(moments, fitted, meter.directed),
        None => (None, Vec::new()),
    };
    Results {
        compressor: surging(moments, 0, &laid.compressor, laid, boost),
        others,
        peak: moments.iter().map(|m| m.p_throttle).fold(0.0, f64::max),
        boost,
        at_gear_change: gear
            .and_then(|gear| moments.iter().find(|m| m.time >= gear).map(|m| m.p_throttle - site_pressure)),
        speed_at_gear_change: gear
            .and_then(|gear| moments.iter().find(|m| m.time >= gear).map(|m| m.wheel.speed)),
        valves: fitted.iter().enumerate().map(|(i, one)| valve(moments, i, one, fitted)).collect(),
        passes_surge_flow: passes.map(|m| m.time),
        metering,
        triggers: watch
            .felt
            .iter()
            .enumerate()
            .map(|(i, felt)| {
                let series = moments.iter().filter_map(|m| m.felt.get(i).map(|felt| (m.time, *felt)));
                Trigger::of(felt, series, laid.closing)
            })
            .collect(),
        lambda,
    }
}

/// First time at which the flow falls below that of the surge line, straight between moments.
fn crossing(turns: &[(f64, Wheel)]) -> Option<f64> {
    turns.windows(2).find_map(|pair| {
        let [(before, a), (after, b)] = pair else { return None };
        (a.share >= CROSSED && b.share < CROSSED)
            .then(|| before + (after - before) * (a.share - CROSSED) / (a.share - b.share))
    })
}

/// Lowest share before the first reversal, with its time. Once the flow runs backward the lowest is none.
fn margin(turns: &[(f64, Wheel)]) -> (f64, f64) {
    let mut lowest = (0.0, f64::INFINITY);
    for (time, wheel) in turns {
        if wheel.share < lowest.1 {
            lowest = (*time, wheel.share.max(0.0));
        }
        if wheel.flow < 0.0 {
            break;
        }
    }
    lowest
}

/// Cycles: the flow falls below half the surge flow from at least a quarter of it higher, and rises by as much again; the
/// pressure behind the compressor falls by at least `least` Pa.
fn cycles(turns: &[(f64, Wheel)], least: f64) -> Vec<Cycle> {
    // Lowest flows, with the moment from which each fell.
    let mut lows: Vec<usize> = Vec::new();
    let (mut high, mut low): (f64, Option<usize>) = (f64::NEG_INFINITY, None);
    for (i, (_, m)) in turns.iter().enumerate() {
        match low {
            None => {
                high = high.max(m.share);
                if m.share < CYCLE.0 && high - m.share >= CYCLE.1 {
                    low = Some(i);
                }
            }
            Some(at) => {
                if turns.get(at).is_some_and(|(_, lowest)| m.share < lowest.share) {
                    low = Some(i);
                } else if turns.get(at).is_some_and(|(_, lowest)| m.share - lowest.share >= CYCLE.1) {
                    lows.push(at);
                    (low, high) = (None, m.share);
                }
            }
        }
    }
    let mut cycles = Vec::new();
    let mut before = 0;
    for (k, &at) in lows.iter().enumerate() {
        let time = turns[at].0;
        let until = lows.get(k + 1).map_or(time + LAST_SWING, |next| turns[*next].0);
        let highest = turns[before..=at].iter().map(|(_, m)| m.p2).fold(f64::MIN, f64::max);
        let behind = turns[at..].iter().take_while(|(time, _)| *time <= until);
        let lowest = behind.map(|(_, m)| m.p2).fold(f64::MAX, f64::min);
        let swing = highest - lowest;
        if swing >= least && time <= DURATION {
            cycles.push(Cycle { time, swing, deep: turns[at].1.flow < 0.0 });
        }
        // The next cycle's highest pressure comes after this one's lowest.
        before = turns[at..]
            .iter()
            .take_while(|(time, _)| *time <= until)
            .enumerate()
            .min_by(|(_, (_, a)), (_, (_, b))| a.p2.total_cmp(&b.p2))
            .map_or(at, |(i, _)| at + i);
    }
    cycles
}

/// Whether a cycle that counts is over by a time, its swing looked at to the end.
pub(super) fn has_cycled(moments: &[Moment], boost: f64, time: f64) -> bool {
    let compressors = moments.first().map_or(0, |m| m.others.len() + 1);
    (0..compressors).any(|number| {
        let cycles = cycles(&turns(moments, number), LEAST_SWING * boost);
        cycles.iter().any(|cycle| cycle.time + LAST_SWING <= time)
    })
}

fn valve(moments: &[Moment], i: usize, one: &Fitted, fitted: &[Fitted]) -> ValveResults {
    let lift = |m: &Moment| m.lifts.get(i).copied().unwrap_or(0.0);
    let mut opens = None;
    let mut shuts = None;
    let mut openings = 0;
    let mut open = false;
    let mut most_lift: f64 = 0.0;
    for m in moments {
        let x = lift(m);
        most_lift = most_lift.max(x);
        // Shut is back on the seat, so that a breath about the threshold is one opening.
        if !open && x > OPEN_LIFT {
            open = true;
            openings += 1;
            opens = opens.or(Some(m.time));
            shuts = None;
        } else if open && x <= 0.0 {
            open = false;
            shuts = Some(m.time);
        }
    }
    let half = moments.iter().find(|m| lift(m) >= 0.5 * one.stroke).map(|m| m.time);
    let first_port: usize = fitted.iter().take(i).map(|other| other.ports.len()).sum();
    let passed = |k: usize| moments.last().and_then(|m| m.passed.get(first_port + k)).copied().unwrap_or(0.0);
    ValveResults {
        name: one.name.clone(),
        opens,
        half_open: half,
        most_lift,
        stroke: one.stroke,
        reopenings: usize::saturating_sub(openings, 1),
        shuts,
        masses: one.ports.iter().enumerate().map(|(k, port)| (port.to.clone(), passed(k))).collect(),
    }
}

/// Flows of metered air to the open and of all relieved air at a moment.
fn vented(m: &Moment, fitted: &[Fitted]) -> (f64, f64) {
    let (mut vented, mut all) = (0.0, 0.0);
    let mut k = 0;
    for one in fitted {
        for port in &one.ports {
            let passed = m.passed.get(k).copied().unwrap_or(0.0);
            all += passed;
            if one.metered && port.to_air {
                vented += passed;
            }
            k += 1;
        }
    }
    (vented, all)
}

fn metering(moments: &[Moment], fitted: &[Fitted], directed: bool) -> (Option<Metering>, Vec<(f64, f64)>) {
    let Some(last) = moments.last() else { return (None, Vec::new()) };
    // Idle flow is settled once it stays near its last value.
    let settled = moments
        .iter()
        .rev()
        .find(|m| (m.engine_flow / last.engine_flow - 1.0).abs() > WINDOW.1)
        .map_or(0.0, |m| m.time);
    let window = settled.clamp(WINDOW.0, DURATION);
    let at_end = moments.iter().find(|m| m.time >= window).unwrap_or(last);
    let (vented_mass, relieved) = vented(at_end, fitted);
    let metering = Metering {
        window,
        drawn: at_end.drawn,
        vented: vented_mass,
        relieved,
        reported: at_end.metered,
        back: last.meter_back,
        directed,
    };
    // What is vented was read a lag ago: the fuel for it comes that much later. Where nothing is vented λ stays what it was.
    let mut lambda = vec![(0.0, 1.0)];
    if vented(last, fitted).0 <= 0.0 {
        return (Some(metering), lambda);
    }
    let mut counted = 0.0;
    for pair in moments.windows(2) {
        let [a, b] = pair else { continue };
        let dt = b.time - a.time;
        if dt <= 0.0 || b.time > window {
            continue;
        }
        let flow = (vented(b, fitted).0 - vented(a, fitted).0) / dt;
        counted += (flow.max(0.0) - counted) * (1.0 - (-dt / METER_LAG).exp());
        let due = lambda.last().is_none_or(|(time, _)| b.time >= time + SPACING);
        if due && b.engine_flow + counted > 0.0 {
            lambda.push((b.time, b.engine_flow / (b.engine_flow + counted)));
        }
    }
    (Some(metering), lambda)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turn(time: f64, share: f64, p2: f64) -> (f64, Wheel) {
        let (flow, surge_flow) = (share * 0.1, 0.1);
        (time, Wheel { flow, share, surge_flow, p1: 1e5, p2, t2: 400.0, speed: 1e4, reversed: 0.0 })
    }

    /// A flow that swings about half the surge flow; the pressure falls while the flow is low.
    fn swinging(depth: f64) -> Vec<(f64, Wheel)> {
        (0..4000)
            .map(|i| {
                let t = f64::from(i) * 2.5e-4;
                let phase = std::f64::consts::TAU * 10.0 * t;
                turn(t, 0.5 + depth * phase.cos(), 2e5 + 2e4 * phase.sin())
            })
            .collect()
    }

    #[test]
    fn cycles_of_a_known_swing_are_counted() {
        let found = cycles(&swinging(0.8), 1e4);
        assert!((9..=10).contains(&found.len()), "{}", found.len());
        for cycle in &found[1..found.len() - 1] {
            assert!(cycle.deep && (cycle.swing - 4e4).abs() < 300.0, "{cycle:?}");
        }
        assert!(cycles(&swinging(0.8), 5e4).is_empty(), "the swing is too small");
        assert!(cycles(&swinging(0.1), 1e4).is_empty(), "the flow hardly falls");
        assert!(!cycles(&swinging(0.3), 1e4)[0].deep);
    }

    #[test]
    fn the_margin_is_the_lowest_before_the_first_reversal() {
        let moments = [turn(0.0, 2.0, 1e5), turn(0.1, 0.9, 1e5), turn(0.2, 1.5, 1e5), turn(0.3, 1.1, 1e5)];
        assert_eq!(margin(&moments), (0.1, 0.9));
        assert!((crossing(&moments).unwrap() - 0.1 * 1.0 / 1.1).abs() < 1e-12);
        let back = [turn(0.0, 2.0, 1e5), turn(0.1, -0.5, 1e5)];
        assert_eq!(margin(&back).1, 0.0);
    }

    #[test]
    fn the_largest_vent_share_keeps_lambda_at_its_limit() {
        let metering = Metering {
            window: 0.5,
            drawn: 0.010,
            vented: 0.0,
            relieved: 0.040,
            reported: 0.0,
            back: 0.0,
            directed: false,
        };
        let share = metering.largest_vent_share(1.0, 0.7);
        let at_limit = Metering { vented: share * 0.040, ..metering };
        assert!((at_limit.lambda() - 0.7).abs() < 1e-12);
    }
}

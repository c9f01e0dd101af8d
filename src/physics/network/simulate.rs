//! A network over time: steps, events of valves, breaks at known times, an observer between.

use super::super::integrator::{INNER, RungeKutta, Stuck};
use super::contact::Body;
use super::equations::Equations;
use super::rest::come_to_rest;
use super::{Network, Opening};

/// First step after a start or an event, s.
const SHORT: f64 = 2e-6;
/// Times that events are bisected to within, s.
const EVENT_TIME: f64 = 1e-9;

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// It reached the time asked for.
    InTime,
    /// The observer had seen enough.
    Stopped,
    /// The state is no longer a number: the description asks for what no gas does.
    NotFinite,
    /// It would take more steps than allowed.
    TooManySteps,
}

/// A network with its state at a time.
#[derive(Debug, Clone)]
pub struct Simulation {
    equations: Equations,
    integrator: RungeKutta,
    there: Vec<f64>,
    before: Vec<[f64; Equations::EVENTS]>,
    budget: usize,
    spacing: f64,
    shown: f64,
}

impl Simulation {
    /// At a time, s, in the network's starting state, with a relative tolerance and a budget of
    /// steps.
    #[must_use]
    pub fn new(network: Network, time: f64, tolerance: f64, budget: usize) -> Self {
        let (equations, y) = Equations::new(network);
        let length = equations.length();
        let valves = equations.network().valves.len();
        Self {
            equations,
            integrator: RungeKutta::new(time, y, tolerance, SHORT),
            there: vec![0.0; length],
            before: vec![[1.0; Equations::EVENTS]; valves],
            budget,
            spacing: 0.0,
            shown: f64::NEG_INFINITY,
        }
    }

    /// What observes need not see more than one inner point in `spacing` s: to look costs about as much as to step.
    /// Ends of runs and events are seen all the same.
    pub fn watch_every(&mut self, spacing: f64) {
        self.spacing = spacing;
    }

    /// The equations, and the state that they stand at.
    pub fn now(&mut self) -> (&mut Equations, f64, &[f64]) {
        let (time, y) = (self.integrator.time(), self.integrator.state());
        self.equations.look(time, y);
        (&mut self.equations, time, y)
    }

    /// Sets the clock to a time, s, at which nothing has a jump or a corner: what the network does next counts from there.
    pub fn set_time(&mut self, time: f64) {
        self.integrator.restart_at(time, SHORT);
    }

    /// Steps tried so far.
    #[must_use]
    pub fn steps(&self) -> usize {
        self.integrator.tried()
    }

    /// Changes network or state at the present time.
    pub fn change(&mut self, change: impl FnOnce(&mut Equations, f64, &mut [f64])) {
        let (equations, time) = (&mut self.equations, self.integrator.time());
        self.integrator.restart(time, SHORT, |y| change(equations, time, y));
    }

    /// The next known time after `t` at which the slopes have a jump or a corner.
    fn next_break(&self, t: f64, end: f64) -> f64 {
        let net = self.equations.network();
        let mut next = end;
        let mut consider = |at: f64| {
            if at > t + 1e-12 && at < next {
                next = at;
            }
        };
        for orifice in &net.orifices {
            if let Opening::Plate(plate) = orifice.opening {
                let travel = plate.time * (1.0 - plate.to);
                for at in [plate.from, plate.from + travel, plate.again, plate.again + travel] {
                    consider(at);
                }
            }
        }
        for engine in net.engines.iter().filter(|engine| engine.pace != 0.0) {
            consider(engine.until);
        }
        for valve in &net.valves {
            if let Body::Actuated(one) = &valve.body {
                for at in [one.opens, one.opens + one.travel, one.shuts, one.shuts + one.travel] {
                    consider(at);
                }
            }
        }
        next
    }

    /// Moves to the state of rest near the present one, valves as they stand. Says whether there is one at which they stay so; if
    /// not, nothing has changed.
    pub fn come_to_rest(&mut self) -> bool {
        let (time, mut y) = (self.integrator.time(), self.integrator.state().to_vec());
        let found = come_to_rest(&mut self.equations, time, &mut y).is_some();
        let stays = |valve| self.equations.event_values(valve, |i| y[i]).iter().all(|value| *value >= 0.0);
        let rests = found && (0..self.before.len()).all(stays);
        if rests {
            self.integrator.restart(time, SHORT, |state| state.copy_from_slice(&y));
        }
        rests
    }

    /// Runs up to `end`, s. The observer sees the state at inner points of each step, events in
    /// their place, and says whether to go on.
    pub fn run(&mut self, end: f64, observe: &mut dyn FnMut(&mut Equations, f64, &[f64]) -> bool) -> Ended {
        self.shown = f64::NEG_INFINITY;
        while self.integrator.time() < end {
            if self.integrator.tried() > self.budget {
                return Ended::TooManySteps;
            }
            let limit = self.next_break(self.integrator.time(), end);
            let start = self.integrator.time();
            self.remember_events();
            match self.integrator.step(&mut self.equations, limit) {
                Ok(()) => {}
                Err(Stuck::NotFinite | Stuck::StepTooShort) => return Ended::NotFinite,
            }
            let event = self.first_event();
            let until = event.map_or(1.0, |(share, ..)| share);
            for part in 1..=INNER {
                let share = part as f64 / INNER as f64;
                if share > until {
                    break;
                }
                let time = self.integrator.time_at(share);
                let last = part == INNER && self.integrator.time() >= end;
                if time < self.shown + self.spacing && !last {
                    continue;
                }
                self.shown = time;
                if !self.show(share, observe) {
                    return Ended::Stopped;
                }
            }
            match event {
                Some((share, valve, which)) => {
                    let time = self.integrator.time_at(share).max(start);
                    let equations = &mut self.equations;
                    self.integrator.restart(time, SHORT, |y| equations.happen(valve, which, time, y));
                    let (time, y) = (self.integrator.time(), self.integrator.state());
                    self.equations.look(time, y);
                    if !observe(&mut self.equations, time, y) {
                        return Ended::Stopped;
                    }
                }
                // Past a corner in time the slopes are new ones.
                None if self.integrator.time() >= limit => {
                    self.integrator.restart(limit, SHORT.max(1e-5), |_| {});
                }
                None => self.integrator.carry_on(),
            }
        }
        Ended::InTime
    }

    fn show(&mut self, share: f64, observe: &mut dyn FnMut(&mut Equations, f64, &[f64]) -> bool) -> bool {
        self.integrator.dense(share, &mut self.there);
        let time = self.integrator.time_at(share);
        self.equations.look(time, &self.there);
        observe(&mut self.equations, time, &self.there)
    }

    fn remember_events(&mut self) {
        let y = self.integrator.state();
        for (valve, values) in self.before.iter_mut().enumerate() {
            *values = self.equations.event_values(valve, |i| y[i]);
        }
    }

    fn values_at(&self, share: f64, valve: usize) -> [f64; Equations::EVENTS] {
        self.equations.event_values(valve, |i| self.integrator.dense_at(share, i))
    }

    /// The first event within the last step: share of the step, valve, which. Looked for at inner
    /// points, so that what comes and goes within a step is seen.
    fn first_event(&self) -> Option<(f64, usize, usize)> {
        let mut first: Option<(f64, usize, usize)> = None;
        for valve in 0..self.before.len() {
            let mut last = self.before[valve];
            // What was past its mark already at the start happens at once.
            if let Some(which) = last.iter().position(|value| *value < 0.0) {
                return Some((0.0, valve, which));
            }
            let mut from = 0.0;
            'points: for part in 1..=INNER {
                let share = part as f64 / INNER as f64;
                if first.is_some_and(|(at, ..)| from >= at) {
                    break;
                }
                let here = self.values_at(share, valve);
                for which in 0..Equations::EVENTS {
                    if last[which] >= 0.0 && here[which] < 0.0 {
                        let at = self.locate(from, share, valve, which);
                        if first.is_none_or(|(other, ..)| at < other) {
                            first = Some((at, valve, which));
                        }
                        break 'points;
                    }
                }
                (last, from) = (here, share);
            }
        }
        first
    }

    /// Bisects to the share of the step at which a value has just fallen below zero.
    fn locate(&self, mut low: f64, mut high: f64, valve: usize, which: usize) -> f64 {
        let length = self.integrator.time_at(1.0) - self.integrator.time_at(0.0);
        while (high - low) * length > EVENT_TIME {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.values_at(middle, valve)[which] < 0.0 {
                high = middle;
            } else {
                low = middle;
            }
        }
        high
    }
}

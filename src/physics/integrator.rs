//! An error-controlled integrator of ordinary differential equations: Runge and Kutta's method of order 4 with an estimate of
//! order 3 and dense output.
//!
//! Explicit, so that a step costs four evaluations and no linear algebra. It suits systems whose fastest waves hardly decay: it
//! is stable along the imaginary axis up to 2.83 for its four evaluations (pairs of order 5 up to some 1 for their six), and
//! waves, not the tolerance, bound the steps of air in a tract. A much stiffer system costs steps, and the budget of
//! the caller ends it with a reason. Every stage is a linear combination of slopes: what is conserved as a linear sum of
//! states is kept to rounding, by steps as well as by the dense output.
//!
//! Source: Kutta, Z. Math. Phys. 46 (1901) 435; estimates, dense output: Hairer, Nørsett & Wanner, Solving Ordinary
//! Differential Equations I, 2nd ed. (1993), II.4 to II.6; control of steps that stability bounds: Gustafsson, Lundh &
//! Söderlind, BIT 28 (1988) 270 (pages from memory).

/// A system y' = f(t, y).
pub trait System {
    /// Slopes `dy` at time `t` and state `y`, all of the same length.
    fn slopes(&mut self, t: f64, y: &[f64], dy: &mut [f64]);

    /// Size of state `i` below which its error counts absolutely; `None` for a state whose error
    /// does not steer the step (a running sum that nothing else depends on).
    fn scale(&self, i: usize) -> Option<f64>;
}

/// Why a step was not made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stuck {
    /// The slopes are not finite, however short the step.
    NotFinite,
    /// The step fell below what the time can resolve.
    StepTooShort,
}

/// Share of the step that the last error alone would allow.
const SAFE: f64 = 0.9;
/// Exponents of the last error and of the one before it in the growth of the step: where stability bounds the step, with the
/// last error alone every other step or so would be refused.
const LAST: f64 = 0.7 / 4.0;
const BEFORE: f64 = 0.4 / 4.0;

/// Parts of a step at which the dense output is looked at for what comes and goes within it.
pub const INNER: usize = 8;

/// The integrator with its working memory: nothing is allocated while it steps.
#[derive(Debug, Clone)]
pub struct RungeKutta {
    /// Relative tolerance.
    tolerance: f64,
    t: f64,
    y: Vec<f64>,
    /// Start of the last step, for the dense output.
    t_before: f64,
    y_before: Vec<f64>,
    k: [Vec<f64>; 5],
    trial: Vec<f64>,
    next_step: f64,
    last_step: f64,
    /// Error of the last step over what is allowed; 1 after a start.
    last_error: f64,
    /// Whether `k[0]` holds the slopes at `t`.
    fresh: bool,
    /// Steps tried so far.
    tried: usize,
}

impl RungeKutta {
    /// At time `t` in state `y`, with the relative `tolerance` and a first step to try.
    #[must_use]
    pub fn new(t: f64, y: Vec<f64>, tolerance: f64, first_step: f64) -> Self {
        let n = y.len();
        Self {
            tolerance,
            t,
            t_before: t,
            y_before: y.clone(),
            k: std::array::from_fn(|_| vec![0.0; n]),
            trial: vec![0.0; n],
            y,
            next_step: first_step,
            last_step: 0.0,
            last_error: 1.0,
            fresh: false,
            tried: 0,
        }
    }

    /// The time reached.
    #[must_use]
    pub fn time(&self) -> f64 {
        self.t
    }

    /// The state reached.
    #[must_use]
    pub fn state(&self) -> &[f64] {
        &self.y
    }

    /// Steps tried so far, refused ones too.
    #[must_use]
    pub fn tried(&self) -> usize {
        self.tried
    }

    /// Starts anew from a state at a time within the last step, with a short step: after an event
    /// has changed the system or its state.
    pub fn restart(&mut self, t: f64, first_step: f64, change: impl FnOnce(&mut [f64])) {
        if t < self.t {
            let share = self.share(t);
            let mut there = std::mem::take(&mut self.trial);
            self.dense(share, &mut there);
            self.y.copy_from_slice(&there);
            self.trial = there;
            self.t = t;
        }
        change(&mut self.y);
        self.t_before = self.t;
        self.y_before.copy_from_slice(&self.y);
        self.last_step = 0.0;
        self.last_error = 1.0;
        self.next_step = first_step;
        self.fresh = false;
    }

    /// Starts anew from the state reached, at another time.
    pub fn restart_at(&mut self, t: f64, first_step: f64) {
        self.t = t;
        self.restart(t, first_step, |_| {});
    }

    /// Makes one step, not past `limit`.
    ///
    /// # Errors
    /// See [`Stuck`].
    pub fn step(&mut self, system: &mut dyn System, limit: f64) -> Result<(), Stuck> {
        if !self.fresh {
            system.slopes(self.t, &self.y, &mut self.k[0]);
            self.fresh = true;
        }
        let mut refused = false;
        loop {
            self.tried += 1;
            let left = limit - self.t;
            let cut = self.next_step >= left;
            let h = if cut { left } else { self.next_step };
            if h <= 1e-14 * self.t.abs().max(1e-3) {
                return Err(if refused { Stuck::NotFinite } else { Stuck::StepTooShort });
            }
            let half = 0.5 * h;
            let [k0, k1, k2, k3, k4] = &mut self.k;
            advance(&mut self.trial, &self.y, half, k0);
            system.slopes(self.t + half, &self.trial, k1);
            advance(&mut self.trial, &self.y, half, k1);
            system.slopes(self.t + half, &self.trial, k2);
            advance(&mut self.trial, &self.y, h, k2);
            system.slopes(self.t + h, &self.trial, k3);
            let slopes = k0.iter().zip(&*k1).zip(&*k2).zip(&*k3);
            for ((trial, y), (((k0, k1), k2), k3)) in self.trial.iter_mut().zip(&self.y).zip(slopes) {
                *trial = y + h / 6.0 * (k0 + 2.0 * (k1 + k2) + k3);
            }
            system.slopes(self.t + h, &self.trial, k4);
            let error = self.error(system, h);
            if error <= 1.0 {
                let error = error.max(1e-4);
                let grow = SAFE * error.powf(-LAST) * self.last_error.powf(BEFORE);
                let grow = grow.clamp(0.2, if refused { 1.0 } else { 5.0 });
                self.last_error = error;
                // A step cut short by the limit tells little about the next one.
                let next = h * grow;
                self.next_step = if cut { next.max(self.next_step) } else { next };
                self.t_before = self.t;
                std::mem::swap(&mut self.y_before, &mut self.y);
                std::mem::swap(&mut self.y, &mut self.trial);
                self.last_step = h;
                self.t = if cut { limit } else { self.t + h };
                // The last stage stands at the end of the step; the first slopes are kept for the dense output.
                self.fresh = false;
                return Ok(());
            }
            refused = true;
            self.next_step =
                if error.is_finite() { h * (SAFE * error.powf(-0.25)).max(0.2) } else { 0.1 * h };
        }
    }

    /// Takes over the last stage's slopes as the first of the next step: call after the dense
    /// output of this step is no longer wanted, and only if nothing changed the system.
    pub fn carry_on(&mut self) {
        self.k.swap(0, 4);
        self.fresh = true;
    }

    fn error(&self, system: &dyn System, h: f64) -> f64 {
        let (mut sum, mut count) = (0.0, 0.0);
        for (i, (y, new)) in self.y.iter().zip(&self.trial).enumerate() {
            if !new.is_finite() {
                return f64::NAN;
            }
            let Some(scale) = system.scale(i) else { continue };
            // The slopes of the last stage and at the end meet the conditions up to order 3 alike: moving the former's weight to
            // the latter leaves order 3.
            let part = h / 6.0 * (self.k[3][i] - self.k[4][i])
                / (self.tolerance * y.abs().max(new.abs()).max(scale));
            sum += part * part;
            count += 1.0;
        }
        if count > 0.0 { f64::sqrt(sum / count) } else { 0.0 }
    }

    /// Share of the last step at a time within it.
    #[must_use]
    pub fn share(&self, t: f64) -> f64 {
        if self.last_step > 0.0 { ((t - self.t_before) / self.last_step).clamp(0.0, 1.0) } else { 1.0 }
    }

    /// Time at a share of the last step.
    #[must_use]
    pub fn time_at(&self, share: f64) -> f64 {
        self.t_before + share * (self.t - self.t_before)
    }

    /// State at a share of the last step (0 its start, 1 its end): third order. Valid until
    /// [`Self::carry_on`].
    pub fn dense(&self, share: f64, out: &mut [f64]) {
        for (i, out) in out.iter_mut().enumerate() {
            *out = self.dense_at(share, i);
        }
    }

    /// State `i` alone, as [`Self::dense`] gives it.
    #[must_use]
    pub fn dense_at(&self, share: f64, i: usize) -> f64 {
        if share >= 1.0 || self.last_step == 0.0 {
            return self.y[i];
        }
        let (h, rest) = (self.last_step, 1.0 - share);
        let (before, rise) = (self.y_before[i], self.y[i] - self.y_before[i]);
        let third = h * self.k[0][i] - rise;
        let fourth = rise - h * self.k[4][i] - third;
        before + share * (rise + rest * (third + share * fourth))
    }
}

/// `out` = `y` + `h` `slope`.
fn advance(out: &mut [f64], y: &[f64], h: f64, slope: &[f64]) {
    for ((out, y), slope) in out.iter_mut().zip(y).zip(slope) {
        *out = y + h * slope;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y'' = -w² y, with the running integral of y as a third state that steers nothing.
    struct Swing(f64);

    impl System for Swing {
        fn slopes(&mut self, _: f64, y: &[f64], dy: &mut [f64]) {
            dy[0] = y[1];
            dy[1] = -self.0 * self.0 * y[0];
            dy[2] = y[0];
        }

        fn scale(&self, i: usize) -> Option<f64> {
            (i < 2).then_some(1e-3)
        }
    }

    fn end_error(tolerance: f64) -> (f64, usize) {
        let mut run = RungeKutta::new(0.0, vec![1.0, 0.0, 0.0], tolerance, 1e-3);
        while run.time() < 10.0 {
            run.step(&mut Swing(3.0), 10.0).unwrap();
            run.carry_on();
        }
        ((run.state()[0] - 30.0_f64.cos()).abs(), run.tried())
    }

    #[test]
    fn a_tighter_tolerance_costs_steps_by_the_fourth_root() {
        let ((loose, few), (tight, many)) = (end_error(1e-5), end_error(1e-10));
        assert!(loose < 1e-3 && tight < 1e-8, "{loose} {tight}");
        let ratio = many as f64 / few as f64;
        assert!((12.0..24.0).contains(&ratio), "{ratio}");
    }

    #[test]
    fn the_dense_output_lies_between_the_steps_and_meets_them() {
        let mut run = RungeKutta::new(0.0, vec![1.0, 0.0, 0.0], 1e-8, 1e-3);
        let (mut worst, mut there): (f64, _) = (0.0, vec![0.0; 3]);
        while run.time() < 5.0 {
            run.step(&mut Swing(3.0), 5.0).unwrap();
            for part in 0..=4 {
                let share = f64::from(part) / 4.0;
                run.dense(share, &mut there);
                worst = worst.max((there[0] - (3.0 * run.time_at(share)).cos()).abs());
                worst = worst.max((there[2] - (3.0 * run.time_at(share)).sin() / 3.0).abs());
            }
            run.carry_on();
        }
        assert!(worst < 1e-6, "{worst}");
    }

    #[test]
    fn a_restart_goes_back_within_the_step() {
        let mut run = RungeKutta::new(0.0, vec![1.0, 0.0, 0.0], 1e-8, 0.1);
        run.step(&mut Swing(1.0), 1.0).unwrap();
        let middle = 0.5 * run.time();
        run.restart(middle, 1e-3, |y| y[1] = 0.0);
        assert_eq!(run.time(), middle);
        assert!((run.state()[0] - middle.cos()).abs() < 1e-6);
        assert_eq!(run.state()[1], 0.0);
    }

    #[test]
    fn slopes_that_are_no_numbers_end_it() {
        struct Broken;
        impl System for Broken {
            fn slopes(&mut self, _: f64, _: &[f64], dy: &mut [f64]) {
                dy.fill(f64::NAN);
            }
            fn scale(&self, _: usize) -> Option<f64> {
                Some(1.0)
            }
        }
        let mut run = RungeKutta::new(0.0, vec![1.0], 1e-6, 1e-3);
        assert_eq!(run.step(&mut Broken, 1.0), Err(Stuck::NotFinite));
    }
}

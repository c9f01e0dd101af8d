//! The moving mass of a relief valve between its seat and its stop.
//!
//! Seat and stop are met without a bounce (a choice: their faces are soft), so that the mass is at
//! any moment on its seat, free, held by friction, or at its stop; the changes are events.

/// How a valve moves.
#[derive(Debug, Clone, PartialEq)]
pub enum Body {
    /// Pressures and a spring move a mass.
    Sprung {
        /// Mass, kg; positive.
        mass: f64,
        /// Damping, N s/m.
        damping: f64,
        /// Friction against whichever way it moves, N.
        friction: f64,
        /// Stroke to the stop, m.
        stroke: f64,
    },
    /// A command moves it evenly over its stroke.
    Actuated(Actuated),
}

/// A valve that a command moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Actuated {
    /// Stroke, m.
    pub stroke: f64,
    /// Time from one end to the other, s; positive.
    pub travel: f64,
    /// When it begins to open, s; infinite while nothing has commanded it.
    pub opens: f64,
    /// When it begins to shut, s.
    pub shuts: f64,
    /// Where the command comes from a fall of the signal below the charge, by so many Pa: with the
    /// delay, s, from there to the first motion.
    pub on_difference: Option<(f64, f64)>,
}

impl Actuated {
    /// Lift at a time, m.
    #[must_use]
    pub fn lift(&self, t: f64) -> f64 {
        let since = |from: f64| if from.is_finite() { ((t - from) / self.travel).max(0.0) } else { 0.0 };
        let opened = since(self.opens).min(1.0);
        let at_turn = if self.shuts.is_finite() && self.opens.is_finite() {
            ((self.shuts - self.opens) / self.travel).clamp(0.0, 1.0)
        } else {
            1.0
        };
        let shut = since(self.shuts);
        self.stroke * (opened.min(at_turn) - shut).max(0.0).min(opened)
    }
}

/// Where the mass of a sprung valve is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// On its seat.
    Seated,
    /// On its way, opening or closing.
    Free {
        /// Whether friction acts against opening.
        opening: bool,
    },
    /// Held by friction between seat and stop.
    Held,
    /// At its stop.
    AtStop,
}

/// Force, N, by which a resting valve must be pulled before it moves, beside friction: keeps a
/// balance at zero from chattering on rounding.
pub(super) const LEAST_PULL: f64 = 1e-6;

/// The mode after a valve came to rest at a lift, m, under a net force, N, friction left out.
pub(super) fn at_rest(lift: f64, force: f64, friction: f64, stroke: f64) -> Mode {
    let (pulls, pushes) = (force > friction + LEAST_PULL, force < -friction - LEAST_PULL);
    if lift <= 0.0 {
        if pulls { Mode::Free { opening: true } } else { Mode::Seated }
    } else if lift >= stroke {
        if pushes { Mode::Free { opening: false } } else { Mode::AtStop }
    } else if pulls || pushes {
        Mode::Free { opening: pulls }
    } else if friction > 0.0 {
        Mode::Held
    } else {
        Mode::Free { opening: force >= 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_actuated_valve_opens_and_shuts_evenly() {
        let body = Actuated { stroke: 8e-3, travel: 0.01, opens: 0.02, shuts: 0.2, on_difference: None };
        assert_eq!(body.lift(0.01), 0.0);
        assert!((body.lift(0.025) - 4e-3).abs() < 1e-12);
        assert_eq!(body.lift(0.1), 8e-3);
        assert!((body.lift(0.205) - 4e-3).abs() < 1e-12);
        assert_eq!(body.lift(0.3), 0.0);
        let never = Actuated { opens: f64::INFINITY, shuts: f64::INFINITY, ..body };
        assert_eq!(never.lift(5.0), 0.0);
        let short = Actuated { shuts: 0.025, ..body };
        assert!(short.lift(0.0275) < 2.1e-3 && short.lift(0.04) == 0.0);
    }

    #[test]
    fn friction_holds_between_seat_and_stop() {
        assert_eq!(at_rest(1e-3, 2.0, 3.0, 8e-3), Mode::Held);
        assert_eq!(at_rest(1e-3, 4.0, 3.0, 8e-3), Mode::Free { opening: true });
        assert_eq!(at_rest(1e-3, -4.0, 3.0, 8e-3), Mode::Free { opening: false });
        assert_eq!(at_rest(0.0, -4.0, 3.0, 8e-3), Mode::Seated);
        assert_eq!(at_rest(8e-3, 4.0, 3.0, 8e-3), Mode::AtStop);
        assert_eq!(at_rest(8e-3, -4.0, 3.0, 8e-3), Mode::Free { opening: false });
    }
}

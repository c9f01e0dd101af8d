//! A spring-loaded piston valve that relieves the charge pipe: forces, flow area, simple motion.
//!
//! The seat area faces the charge, the piston area the signal; the ring between them faces the
//! discharge side.

use std::f64::consts::PI;

use super::flow::bore_area;
use super::{all_positive, finite};

/// Pressures that act on the moving part, Pa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pressures {
    /// In the charge pipe at the seat.
    pub charge: f64,
    /// On the discharge side.
    pub discharge: f64,
    /// In the signal chamber behind the piston.
    pub signal: f64,
}

/// The areas that pressures act on, m2, the positive direction opening the valve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ActingAreas {
    /// On which the charge pushes it open.
    pub inlet: f64,
    /// On which the pressure of the discharge pushes it open; negative where it pushes it shut.
    pub outlet: f64,
    /// On which the signal pushes it shut.
    pub signal: f64,
}

impl ActingAreas {
    /// Those of a round seat and piston of the given bores, m: the charge on the seat, the signal on the piston, the
    /// discharge on the ring between.
    #[must_use]
    pub fn of_bores(seat: f64, piston: f64) -> Self {
        let (inlet, signal) = (bore_area(seat), bore_area(piston));
        Self { inlet, outlet: signal - inlet, signal }
    }

    /// Force of the pressures alone, N, positive opening. Friction and the force of the flow on the plate are left out.
    #[must_use]
    pub fn force(&self, p: Pressures) -> f64 {
        p.charge * self.inlet + p.discharge * self.outlet - p.signal * self.signal
    }
}

/// Moving part and spring of a relief valve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// Area that charge pressure acts on when closed, m2.
    pub seat_area: f64,
    /// Area that signal pressure acts on, m2.
    pub piston_area: f64,
    /// Spring force at zero lift, N.
    pub preload: f64,
    /// Spring rate, N/m.
    pub rate: f64,
}

impl Balance {
    /// A round seat and piston of the given bores, m.
    #[must_use]
    pub fn from_bores(seat: f64, piston: f64, preload: f64, rate: f64) -> Self {
        Self { seat_area: bore_area(seat), piston_area: bore_area(piston), preload, rate }
    }

    /// Force of the pressures alone, N, positive opening: p_c A_s + p_d (A_p − A_s) − p_s A_p.
    /// Friction and the force of the flow on the plate are left out.
    #[must_use]
    pub fn pressure_force(&self, p: Pressures) -> f64 {
        let areas = ActingAreas {
            inlet: self.seat_area,
            outlet: self.piston_area - self.seat_area,
            signal: self.piston_area,
        };
        areas.force(p)
    }

    /// Net force at `lift` m, N, positive opening: pressure force − F0 − k x.
    #[must_use]
    pub fn opening_force(&self, p: Pressures, lift: f64) -> f64 {
        self.pressure_force(p) - self.preload - self.rate * lift
    }

    /// Preload, N, at which the valve just stands at `lift` m under these pressures (negative: no
    /// spring holds it).
    #[must_use]
    pub fn preload_at_balance(&self, p: Pressures, lift: f64) -> f64 {
        self.pressure_force(p) - self.rate * lift
    }

    /// Lift, m, at which forces balance; zero where closed. `None` if the rate is not positive.
    #[must_use]
    pub fn balanced_lift(&self, p: Pressures) -> Option<f64> {
        all_positive(&[self.rate]).then(|| (self.opening_force(p, 0.0) / self.rate).max(0.0)).and_then(finite)
    }

    /// Signal pressure, Pa, at which the valve just begins to open with these charge and discharge
    /// pressures, Pa. `None` if the piston area is not positive.
    #[must_use]
    pub fn opening_signal(&self, charge: f64, discharge: f64) -> Option<f64> {
        let rest = charge * self.seat_area + discharge * (self.piston_area - self.seat_area) - self.preload;
        all_positive(&[self.piston_area]).then(|| rest / self.piston_area).and_then(finite)
    }
}

/// Geometric flow area at `lift` m over a seat of bore `seat` m: the curtain π D x, never above the
/// seat area. `None` unless both are not negative.
#[must_use]
pub fn flow_area(seat: f64, lift: f64) -> Option<f64> {
    (seat >= 0.0 && lift >= 0.0).then(|| (PI * seat * lift).min(bore_area(seat))).and_then(finite)
}

/// Lift, m, at which the curtain gives `area` m2 over a seat of bore `seat` m. `None` if the seat
/// itself is smaller.
#[must_use]
pub fn lift_for_area(seat: f64, area: f64) -> Option<f64> {
    (all_positive(&[seat]) && area >= 0.0 && area <= bore_area(seat) * (1.0 + 1e-12))
        .then(|| area / (PI * seat))
}

/// Lift, m, beyond which more lift gives no more area: π D x = π D²/4, so D/4.
#[must_use]
pub fn full_area_lift(seat: f64) -> f64 {
    seat / 4.0
}

/// Natural frequency, Hz, of `mass` kg on a spring of `rate` N/m: √(k/m)/(2π), a third of the
/// spring's own mass moving with it. Source: Rao, Mechanical Vibrations, ch. 2 (Rayleigh's method).
/// `None` unless rate and moving mass are positive.
#[must_use]
pub fn natural_frequency(rate: f64, mass: f64, spring_mass: f64) -> Option<f64> {
    let moving = mass + spring_mass / 3.0;
    all_positive(&[rate, moving]).then(|| (rate / moving).sqrt() / (2.0 * PI))
}

/// Time, s, from rest to `lift` m under a constant excess force `force` N against the spring,
/// undamped: x = F/k (1 − cos ωt). Source: Rao, Mechanical Vibrations, ch. 4. `None` if it never
/// gets there or an input is not positive.
#[must_use]
pub fn time_to_lift(force: f64, rate: f64, mass: f64, lift: f64) -> Option<f64> {
    if !all_positive(&[force, rate, mass]) || lift < 0.0 {
        return None;
    }
    finite((1.0 - lift * rate / force).acos() / (rate / mass).sqrt())
}

/// Speed after striking a stop, m/s, against the direction of arrival. Source: Newton's law of
/// restitution. `None` unless the restitution is 0 to 1.
#[must_use]
pub fn rebound_speed(speed: f64, restitution: f64) -> Option<f64> {
    (0.0..=1.0).contains(&restitution).then_some(speed * restitution).and_then(finite)
}

#[cfg(test)]
mod tests {
    use super::*;

    const P: Pressures = Pressures { charge: 1.9e5, discharge: 1.0e5, signal: 0.4e5 };

    #[test]
    fn thresholds_balance() {
        let valve = Balance::from_bores(0.028, 0.031, 55.0, 2600.0);
        let lift = valve.balanced_lift(P).unwrap();
        assert!(lift > 0.0 && valve.opening_force(P, lift).abs() < 1e-9);
        let signal = valve.opening_signal(P.charge, P.discharge).unwrap();
        assert!(valve.opening_force(Pressures { signal, ..P }, 0.0).abs() < 1e-9);
        let shut = Balance { preload: valve.preload_at_balance(P, 0.004), ..valve };
        assert!(shut.opening_force(P, 0.004).abs() < 1e-9);
    }

    #[test]
    fn area_levels_off_at_a_quarter_of_the_bore() {
        let seat = 0.028;
        assert!((flow_area(seat, 0.5).unwrap() - bore_area(seat)).abs() < 1e-15);
        let area = flow_area(seat, 0.003).unwrap();
        assert!((lift_for_area(seat, area).unwrap() - 0.003).abs() < 1e-15);
        assert_eq!(lift_for_area(seat, 1.0), None);
        assert!((lift_for_area(seat, bore_area(seat)).unwrap() - full_area_lift(seat)).abs() < 1e-15);
    }

    #[test]
    fn a_force_too_small_never_gets_there() {
        assert_eq!(time_to_lift(1.0, 2600.0, 0.05, 0.009), None);
        assert_eq!(natural_frequency(0.0, 0.05, 0.0), None);
        assert_eq!(rebound_speed(1.0, 2.0), None);
    }
}

//! How long boost takes to come back when the throttle opens again after a change of gear.

use super::result::Solution;
use super::turbine::TurbinePoint;
use crate::physics::numeric::find_root;
use crate::physics::turbine::run_up;

/// Boost counts as back at so large a share of that from which the throttle shut.
pub const BACK: f64 = 0.9;

/// γ of the charge over its compression: dry air at some 350 K.
const GAMMA: f64 = 1.4;

/// Why boost does not come back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Never {
    /// The turbine's nozzle is set while it runs, or the point has no turbine.
    NoFixedTurbine,
    /// All of the exhaust does not drive the rotor on.
    NoSurplus,
}

/// The throttle opens again at the engine speed at which it shut.
///
/// The tract is taken to stand, at each rotor speed, at the pressure that the compressor makes there (choice): isentropic head
/// as the square of speed (affinity), efficiency as at the start, flow of the engine as its manifold's pressure. The gate
/// stays shut, and all the exhaust goes through the turbine at the temperature of full load.
#[derive(Clone, Copy, Debug)]
pub struct Reopening<'a> {
    /// The steady point from which the throttle shut.
    pub start: &'a Solution,
    /// Its turbine there.
    pub turbine: &'a TurbinePoint,
    /// Pressure of the site, Pa.
    pub site: f64,
    /// Gas constant of the charge, J/(kg K).
    pub r: f64,
    /// Volume between compressor and engine, m3.
    pub volume: f64,
    /// Moment of inertia of the rotor, kg m2.
    pub inertia: f64,
    /// Rotor speed at the start and where the throttle opens again, rad/s.
    pub speeds: (f64, f64),
    /// Pressure ahead of the throttle where it opens again, Pa, absolute.
    pub left: f64,
}

impl Reopening<'_> {
    /// Pressure of the charge over that at the start, at a share of the start's rotor speed.
    fn pressure_share(&self, speed: f64) -> f64 {
        let ratio = self.start.p2 / self.start.p1;
        let head = ratio.powf((GAMMA - 1.0) / GAMMA) - 1.0;
        (1.0 + head * speed * speed).powf(GAMMA / (GAMMA - 1.0)) / ratio
    }

    /// Air, kg, that the tract holds more by with the pressure of the start than with none.
    fn held(&self) -> f64 {
        self.volume * self.start.p_manifold / (self.r * self.start.t_manifold)
    }

    /// Time, s, from where the throttle opens until [`BACK`] of the boost is there again.
    ///
    /// # Errors
    /// Where it never is.
    pub fn time(&self) -> Result<f64, Never> {
        let (whole, left) = self.speeds;
        let p0 = self.start.p_manifold;
        let wanted = (self.site + BACK * (p0 - self.site)) / p0;
        let there = find_root(0.0, 1.0, 1e-9, |speed| self.pressure_share(speed) - wanted);
        let until = there.map_err(|_| Never::NoSurplus)?.x;
        let from = left / whole;
        let filling = self.filling(from.min(until));
        if from >= until {
            return Ok(filling);
        }
        let power: f64 = self.start.machines.iter().map(|machine| machine.power).sum();
        let work = power / self.start.flow;
        let step = 1e-4;
        let lacking = std::cell::Cell::new(Never::NoSurplus);
        let run = run_up(from, until, |speed| {
            let share = self.pressure_share(speed);
            let slope =
                (self.pressure_share(speed + step) - self.pressure_share(speed - step)) / (2.0 * step);
            let head = work * speed * speed;
            let Some(given) = self.turbine.power_with_gate_shut(share) else {
                lacking.set(Never::NoFixedTurbine);
                return None;
            };
            let surplus = given - share * self.start.flow * head;
            Some((self.inertia * whole * whole * speed + self.held() * slope * head, surplus))
        });
        run.map(|time| filling + time).ok_or(lacking.get())
    }

    /// Time, s, to bring the tract from the pressure that is left in it to the one that the rotor makes at once. With so little to
    /// pump against, the compressor is taken to pass as much again as the engine draws meanwhile (choice).
    fn filling(&self, speed: f64) -> f64 {
        let (now, then) = (self.left / self.start.p2, self.pressure_share(speed));
        let drawn = self.start.flow * 0.5 * (now + then);
        self.held() * (then - now).max(0.0) / drawn
    }
}

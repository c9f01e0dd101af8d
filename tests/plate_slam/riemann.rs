//! The exact solution of Riemann's problem for a perfect gas: two uniform states that meet at once.
//!
//! Source: Toro, Riemann Solvers and Numerical Methods for Fluid Dynamics, ch. 4 (functions f_K of eqs. 4.6 and 4.7).

/// A uniform state; units are the caller's, if they fit together.
#[derive(Clone, Copy, Debug)]
pub struct State {
    /// Density.
    pub rho: f64,
    /// Velocity to the right.
    pub u: f64,
    /// Pressure.
    pub p: f64,
}

impl State {
    /// Speed of sound.
    pub fn sound(&self, gamma: f64) -> f64 {
        (gamma * self.p / self.rho).sqrt()
    }
}

/// What lies between the two outer waves.
#[derive(Clone, Copy, Debug)]
pub struct Star {
    /// Pressure.
    pub p: f64,
    /// Velocity.
    pub u: f64,
    /// Densities left and right of the contact.
    pub rho: [f64; 2],
    /// Speeds of the outer waves to the right: of a shock, or of the head of a fan.
    pub front: [f64; 2],
}

/// By how much a wave that takes a state to pressure `p` changes its velocity.
fn change(state: &State, p: f64, gamma: f64) -> f64 {
    if p > state.p {
        let (a, b) = (2.0 / ((gamma + 1.0) * state.rho), (gamma - 1.0) / (gamma + 1.0) * state.p);
        (p - state.p) * (a / (p + b)).sqrt()
    } else {
        let power = (gamma - 1.0) / (2.0 * gamma);
        2.0 * state.sound(gamma) / (gamma - 1.0) * ((p / state.p).powf(power) - 1.0)
    }
}

/// Density behind that wave, and how fast its front runs into the state.
fn behind(state: &State, p: f64, gamma: f64) -> (f64, f64) {
    let (ratio, share) = (p / state.p, (gamma - 1.0) / (gamma + 1.0));
    if ratio > 1.0 {
        let squeezed = state.rho * (ratio + share) / (share * ratio + 1.0);
        let mach = ((gamma + 1.0) / (2.0 * gamma) * ratio + (gamma - 1.0) / (2.0 * gamma)).sqrt();
        (squeezed, mach * state.sound(gamma))
    } else {
        (state.rho * ratio.powf(1.0 / gamma), state.sound(gamma))
    }
}

/// Solves for what lies between two states that leave no vacuum between them.
pub fn star(left: &State, right: &State, gamma: f64) -> Star {
    let excess = |p: f64| change(left, p, gamma) + change(right, p, gamma) + right.u - left.u;
    // The excess rises with pressure, over many powers of ten: halved in its logarithm.
    let (mut low, mut high) = (left.p.min(right.p) * 1e-9, left.p.max(right.p) * 1e9);
    for _ in 0..200 {
        let middle = (low * high).sqrt();
        if excess(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    let p = (low * high).sqrt();
    let u = 0.5 * (left.u + right.u + change(right, p, gamma) - change(left, p, gamma));
    let ((rho_left, into_left), (rho_right, into_right)) = (behind(left, p, gamma), behind(right, p, gamma));
    Star { p, u, rho: [rho_left, rho_right], front: [left.u - into_left, right.u + into_right] }
}

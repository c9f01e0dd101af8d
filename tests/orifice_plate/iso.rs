//! Orifice plates by ISO 5167-2:2003: the flow through a sharp-edged plate in a round pipe. Within the standard's range: plate's
//! bore 12.5 mm or more, pipe 50 to 1000 mm, ratio of bores 0.1 to 0.75, pressure ratio 0.75 or more.

use std::f64::consts::PI;

/// Where the two pressures are taken.
#[derive(Clone, Copy, Debug)]
pub enum Taps {
    /// In the corners of pipe and plate.
    Corner,
    /// An inch (25.4 mm) from the plate's faces.
    Flange,
}

/// A sharp-edged plate in a pipe.
#[derive(Clone, Copy, Debug)]
pub struct OrificePlate {
    /// Bore of the pipe, m.
    pub pipe: f64,
    /// Bore of the plate, m.
    pub bore: f64,
    /// Where the pressures are taken.
    pub taps: Taps,
}

impl OrificePlate {
    /// Ratio of bores.
    pub fn beta(&self) -> f64 {
        self.bore / self.pipe
    }

    /// Discharge coefficient at a Reynolds number of the pipe: eq. 4 (Reader-Harris/Gallagher).
    pub fn coefficient(&self, reynolds: f64) -> f64 {
        let beta = self.beta();
        let away = match self.taps {
            Taps::Corner => 0.0,
            Taps::Flange => 0.0254 / self.pipe,
        };
        let a = (19_000.0 * beta / reynolds).powf(0.8);
        let dam = 2.0 * away / (1.0 - beta);
        let free = 0.5961 + 0.0261 * beta.powi(2) - 0.216 * beta.powi(8);
        let slow = 0.000_521 * (1e6 * beta / reynolds).powf(0.7)
            + (0.0188 + 0.0063 * a) * beta.powf(3.5) * (1e6 / reynolds).powf(0.3);
        let upstream = (0.043 + 0.080 * (-10.0 * away).exp() - 0.123 * (-7.0 * away).exp())
            * (1.0 - 0.11 * a)
            * beta.powi(4)
            / (1.0 - beta.powi(4));
        let downstream = -0.031 * (dam - 0.8 * dam.powf(1.1)) * beta.powf(1.3);
        let narrow = 0.011 * (0.75 - beta) * (2.8 - self.pipe / 0.0254).max(0.0);
        free + slow + upstream + downstream + narrow
    }

    /// Expansibility at a pressure ratio: eq. 5.
    pub fn expansibility(&self, ratio: f64, kappa: f64) -> f64 {
        let beta = self.beta();
        1.0 - (0.351 + 0.256 * beta.powi(4) + 0.93 * beta.powi(8)) * (1.0 - ratio.powf(1.0 / kappa))
    }

    /// Mass flow, kg/s, at pressures of the taps, Pa, and density, kg/m3, and viscosity, Pa s, ahead: eq. 1. Its coefficient beside.
    pub fn flow(&self, p: f64, ratio: f64, density: f64, viscosity: f64, kappa: f64) -> (f64, f64) {
        let ideal = PI / 4.0 * self.bore * self.bore * (2.0 * p * (1.0 - ratio) * density).sqrt()
            / (1.0 - self.beta().powi(4)).sqrt()
            * self.expansibility(ratio, kappa);
        let mut coefficient = 0.6;
        for _ in 0..30 {
            coefficient = self.coefficient(4.0 * coefficient * ideal / (PI * self.pipe * viscosity));
        }
        (coefficient * ideal, coefficient)
    }

    /// Loss that stays, over the difference at the taps: eq. 7.
    pub fn lost_share(&self, coefficient: f64) -> f64 {
        let square = self.beta() * self.beta();
        let root = (1.0 - square * square * (1.0 - coefficient * coefficient)).sqrt();
        (root - coefficient * square) / (root + coefficient * square)
    }

    /// Uncertainty of the coefficient, as a share: 5.3.3.1 of the standard.
    pub fn uncertainty(&self) -> f64 {
        let beta = self.beta();
        let percent = if beta < 0.2 {
            0.7 - beta
        } else if beta <= 0.6 {
            0.5
        } else {
            1.667 * beta - 0.5
        };
        percent / 100.0
    }
}

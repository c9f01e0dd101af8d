//! The tip-out run: what the air in the tract does once the throttle shuts at boost.
//!
//! The tract is laid out as a network ([`crate::physics::network`]), started from a steady point,
//! brought to rest with the rotor's speed held, and let go. All closures that are choices are named with
//! the results.

mod assemble;
mod laid;
mod lay;
mod memory;
mod outcome;
mod run;
mod starts;
mod stretches;
mod triggers;
mod valves;

pub use outcome::{Cycle, Metering, Moment, Results, Surging, ValveResults, Wheel};
pub use run::{Demand, Prepared, TipOut, tip_in, tip_out};
pub use starts::Start;
pub use triggers::Trigger;
pub use valves::usual_chamber;

use std::sync::Arc;

/// Time after the throttle begins to close over which a run goes on, s.
pub const DURATION: f64 = 1.2;
/// Spacing of the series, s.
const SPACING: f64 = 1e-3;
/// Lag between air past an air meter and its reading, s: common practice, no source.
const METER_LAG: f64 = 0.020;
/// Lift above which a relief valve counts as open, m.
pub const OPEN_LIFT: f64 = 1e-4;

/// How finely a run is computed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Precision {
    /// Longest cell of a pipe, m.
    pub cell: f64,
    /// Relative tolerance of the integrator.
    pub tolerance: f64,
    /// Steps tried at most.
    pub steps: usize,
}

impl Default for Precision {
    /// Cells of 0.2 m, a seventeenth of a wave of 100 Hz, and a tolerance of 1e-3: waves bound most steps before it does; crossing,
    /// opening, margin, peaks and the first swing hold within some 0.1 %, later swings within 1 %.
    fn default() -> Self {
        Self { cell: 0.2, tolerance: 1e-3, steps: 60_000 }
    }
}

/// What was chosen where nothing published or described decides.
type Closures = Vec<Arc<str>>;

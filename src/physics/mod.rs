//! Equations of the air path and nothing else: SI numbers in, numbers out.
//!
//! This room knows no build, part, rule or text. Every function states its equation, units, valid
//! range, errors and source; an input outside the valid range gives `None` or an error, never a
//! NaN. Pressures are absolute in Pa, temperatures in K, mass flows in kg/s, lengths in m unless a
//! name says otherwise.

pub mod atmosphere;
pub mod compressor;
pub mod cooler;
pub mod engine;
pub mod extended_map;
pub mod flow;
pub mod fuel;
pub mod gas;
pub mod humidity;
pub mod integrator;
pub mod loss;
pub mod map;
pub mod network;
pub mod numeric;
pub mod relief_valve;
mod species;
pub mod strength;
pub mod turbine;

/// Whether every value is finite and greater than zero: the commonest guard of this room.
pub(crate) fn all_positive(values: &[f64]) -> bool {
    values.iter().all(|value| value.is_finite() && *value > 0.0)
}

/// The value, if it is a finite number.
pub(crate) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

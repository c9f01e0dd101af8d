//! Steady equations against values from outside: standards, tables, textbook examples, measured
//! data.
//!
//! Each test names its source. "Printed" values are those of the source (from memory unless said);
//! others follow from the source's equation and were computed once with an independent
//! general-purpose library. Tolerances cover the rounding of a printed table, or the scatter
//! between sources where they disagree.

#[path = "check_values_steady/compressor.rs"]
mod compressor;
#[path = "check_values_steady/gas.rs"]
mod gas;
#[path = "check_values_steady/measured_map.rs"]
mod measured_map;
#[path = "check_values_steady/path.rs"]
mod path;

/// Fails unless a value exists and lies within `tolerance` of what is expected.
#[track_caller]
fn near(value: impl Into<Option<f64>>, expected: f64, tolerance: f64) {
    let value = value.into().expect("a value");
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
}

/// As [`near`], the tolerance in per cent of what is expected.
#[track_caller]
fn near_percent(value: impl Into<Option<f64>>, expected: f64, percent: f64) {
    near(value, expected, expected.abs() * percent / 100.0);
}

fn celsius(degrees: f64) -> f64 {
    degrees + 273.15
}

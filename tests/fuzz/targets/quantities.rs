//! Any text as a quantity of any measure: a finite value or a fault.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tractwright::text::{Measure, read_any_quantity, read_quantity};

fuzz_target!(|text: &str| {
    for measure in Measure::ALL {
        if let Ok(quantity) = read_quantity(text, *measure) {
            assert!(quantity.si.is_finite());
            assert!(quantity.tolerance.is_none_or(|width| width.is_finite() && width >= 0.0));
        }
    }
    if let Ok((value, _, _)) = read_any_quantity(text) {
        assert!(value.is_finite());
    }
});

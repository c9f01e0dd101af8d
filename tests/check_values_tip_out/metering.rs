//! Mixture while counted air is lost.

use tractwright::model::Metering;

/// A window in which the engine takes 10 g, and `lost` of the metered air is vented.
fn window(lost: f64) -> Metering {
    let drawn = 0.010;
    let vented = drawn * lost / (1.0 - lost);
    Metering {
        window: 0.5,
        drawn,
        vented,
        relieved: 0.040,
        reported: drawn + vented,
        back: 0.0,
        directed: false,
    }
}

/// Mass balance, in closed form: λ = λ asked for × (1 − lost share).
#[test]
fn metering_01_lambda_while_counted_air_is_lost() {
    assert!((window(0.25).lambda() - 0.75).abs() <= 1e-9);
}

/// In closed form: the largest lost share is 1 − λ limit/λ asked for.
#[test]
fn metering_02_largest_lost_share() {
    let (asked, limit, wanted) = (0.88, 0.80, 0.090_909_1);
    let metering = window(0.0);
    let vented = metering.largest_vent_share(asked, limit) * metering.relieved;
    let lost = vented / (metering.drawn + vented);
    assert!((lost / wanted - 1.0).abs() <= 1e-6, "{lost}");
    assert!((window(lost).lambda() * asked - limit).abs() < 1e-9);
}

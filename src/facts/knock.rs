//! How near a charged engine comes to knocking, ranked.

use super::points::over_points;
use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::Scope;
use crate::build::engine::Ignition;
use crate::known::{Kind, Known, Missing, Num};
use crate::physics::engine::{compressed, self_ignition_delay};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

/// The rows.
pub(super) static ROWS: &[Row] = &[Row {
    name: "knock_delay_ratio",
    kind: Kind::Number(Dim::ONE),
    meaning: "delay until the last of the mixture lights itself at the end of compression, over that of an ordinary engine without boost: compression ratio 10, 95 octane, the standard day at sea level; the smallest over points and sites, those left of the surge line passed over",
    group: Group::Steady,
    on: &[SubjectKind::Build],
    make: Make::Worst(Fold::Min, delay_ratio),
}];

/// Polytropic exponent of the compression stroke: 1.3 for the unburned mixture of an engine lit by a spark (Heywood 1988, ch. 9, from memory).
const EXPONENT: f64 = 1.3;

/// The ordinary engine without boost (choice): octane, compression ratio; and the air of the standard day, Pa and K (ISO 2533).
const ORDINARY: (f64, f64) = (95.0, 10.0);
const STANDARD_DAY: (f64, f64) = (101_325.0, 288.15);

/// Delay at the end of compression of a charge of a pressure, Pa, and temperature, K, s.
fn delay(octane: f64, ratio: f64, (pressure, temperature): (f64, f64)) -> Option<f64> {
    let (pressure, temperature) = compressed(pressure, temperature, ratio, EXPONENT)?;
    self_ignition_delay(octane, pressure, temperature)
}

fn delay_ratio(scope: &Scope<'_>, _: &Subject) -> Series {
    let engine = scope.build().top.engine.get(scope).and_then(|engine| {
        engine.ignition.get(scope).and_then(|ignition| match ignition {
            Ignition::Compression => {
                Known::not_applicable("nothing knocks where compression lights the fuel")
            }
            Ignition::Spark => engine.octane.get(scope).zip(engine.compression_ratio.get(scope)),
        })
    });
    let (octane, ratio) = match engine {
        Known::Is((octane, ratio)) => (octane.0, ratio.si()),
        other => return vec![other.and_then(|_| Known::Open(Missing::default()))],
    };
    over_points(scope, |_, _, solution| {
        if solution.is_left_of_surge() {
            return Some(Known::not_applicable("the point lies left of the surge line"));
        }
        let charged = delay(octane, ratio, (solution.p_manifold, solution.t_manifold));
        let ordinary = delay(ORDINARY.0, ORDINARY.1, STANDARD_DAY);
        Some(charged.zip(ordinary).map_or_else(
            || Known::Open(Missing::hindrance("the octane number is out of the range of the formula")),
            |(charged, ordinary)| {
                let share = charged / ordinary;
                // The temperature's error counts up to eight times (3800 K over 500 K and more), the pressure's 1.7 times.
                Known::Is(Num::new(share, Dim::ONE).with_error(10.0 * solution.relative_error() * share))
            },
        ))
    })
}

//! Charge-air coolers: effectiveness, heat, condensate.

use super::humidity::saturation_humidity_ratio;
use super::numeric::find_root;
use super::{all_positive, finite};

/// How the two streams of a heat exchanger run, for the effectiveness–NTU method.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Arrangement {
    /// Streams against each other.
    Counterflow,
    /// Streams side by side.
    Parallel,
    /// Across, neither stream mixed over its section.
    CrossBothUnmixed,
    /// Across, the stream of the larger capacity mixed, the other not.
    CrossLargerMixed,
    /// Across, the stream of the smaller capacity mixed, the other not.
    CrossSmallerMixed,
}

/// Largest number of transfer units taken; effectiveness has long levelled off there.
pub const LARGEST_NTU: f64 = 100.0;

/// Effectiveness (heat over the largest possible heat) from `ntu` = UA/C_min, 0 to 100, and
/// `capacity_ratio` = C_min/C_max, 0 to 1 (0: the coolant does not warm). `None` outside.
///
/// Source: Kays & London, Compact Heat Exchangers, 3rd ed. (1984), ch. 2; Incropera & DeWitt, table
/// 11.3; both unmixed by the exact series of Mason, Proc. 2nd U.S. Congr. Appl. Mech. (1955) 801.
#[must_use]
pub fn effectiveness(arrangement: Arrangement, ntu: f64, capacity_ratio: f64) -> Option<f64> {
    if !(0.0..=LARGEST_NTU).contains(&ntu) || !(0.0..=1.0).contains(&capacity_ratio) {
        return None;
    }
    let c = capacity_ratio;
    // 1 − e^−x, exact for small x too.
    let filled = |x: f64| -(-x).exp_m1();
    if c == 0.0 {
        return Some(filled(ntu));
    }
    finite(match arrangement {
        Arrangement::Counterflow if 1.0 - c < 1e-9 => ntu / (1.0 + ntu),
        Arrangement::Counterflow => {
            let gone = filled(ntu * (1.0 - c));
            gone / (1.0 - c * (1.0 - gone))
        }
        Arrangement::Parallel => filled(ntu * (1.0 + c)) / (1.0 + c),
        Arrangement::CrossBothUnmixed => unmixed_series(ntu, c),
        Arrangement::CrossLargerMixed => filled(c * filled(ntu)) / c,
        Arrangement::CrossSmallerMixed => filled(filled(c * ntu) / c),
    })
}

/// ε = 1/(C NTU) Σ_n [1 − e^(−NTU) Σ_(m≤n) NTU^m/m!] [1 − e^(−C NTU) Σ_(m≤n) (C NTU)^m/m!].
fn unmixed_series(ntu: f64, c: f64) -> f64 {
    if ntu == 0.0 {
        return 0.0;
    }
    let other = c * ntu;
    // Running term x^m/m! e^−x and what the terms so far leave of 1, for both streams.
    let (mut term_a, mut term_b) = ((-ntu).exp(), (-other).exp());
    let (mut left_a, mut left_b) = (1.0 - term_a, 1.0 - term_b);
    let mut sum = 0.0;
    for n in 1..=1000_u32 {
        let product = left_a.max(0.0) * left_b.max(0.0);
        sum += product;
        // The terms fall for good once n is past both means.
        if f64::from(n) > ntu && product < 1e-16 * sum {
            break;
        }
        term_a *= ntu / f64::from(n);
        term_b *= other / f64::from(n);
        left_a -= term_a;
        left_b -= term_b;
    }
    sum / other
}

/// Number of transfer units that give an effectiveness. `None` if no number up to 100 gives it, or
/// out of range.
#[must_use]
pub fn ntu_from_effectiveness(arrangement: Arrangement, wanted: f64, capacity_ratio: f64) -> Option<f64> {
    let highest = effectiveness(arrangement, LARGEST_NTU, capacity_ratio)?;
    if !(wanted >= 0.0 && wanted < highest) {
        return None;
    }
    find_root(0.0, LARGEST_NTU, 1e-12, |ntu| {
        effectiveness(arrangement, ntu, capacity_ratio).unwrap_or(f64::NAN) - wanted
    })
    .ok()
    .map(|root| root.x)
}

/// Temperature behind the cooler, K: T_in − ε (T_in − T_coolant), ε defined on the charge side (the
/// charge has the smaller capacity). `None` unless both temperatures are positive and ε is 0 to 1.
#[must_use]
pub fn outlet_temperature(inlet: f64, coolant: f64, effectiveness: f64) -> Option<f64> {
    (all_positive(&[inlet, coolant]) && (0.0..=1.0).contains(&effectiveness))
        .then_some(inlet - effectiveness * (inlet - coolant))
}

/// Effectiveness on the charge side from measured temperatures: (T_in − T_out)/(T_in − T_coolant).
/// `None` where inlet and coolant are equal or an input is not finite.
#[must_use]
pub fn effectiveness_from_temperatures(inlet: f64, outlet: f64, coolant: f64) -> Option<f64> {
    finite((inlet - outlet) / (inlet - coolant))
}

/// Water that falls out, kg/s, where `dry_air` kg/s with `humidity_ratio` kg/kg reaches `t` K at
/// `p` Pa: what is above saturation; zero if nothing is, and where water boils. `None` if an input
/// is out of range.
#[must_use]
pub fn condensate(dry_air: f64, humidity_ratio: f64, t: f64, p: f64) -> Option<f64> {
    if !(dry_air >= 0.0 && humidity_ratio >= 0.0 && all_positive(&[t, p])) {
        return None;
    }
    let above =
        saturation_humidity_ratio(t, p).map_or(0.0, |saturated| (humidity_ratio - saturated).max(0.0));
    finite(dry_air * above)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Arrangement; 5] = [
        Arrangement::Counterflow,
        Arrangement::Parallel,
        Arrangement::CrossBothUnmixed,
        Arrangement::CrossLargerMixed,
        Arrangement::CrossSmallerMixed,
    ];

    #[test]
    fn effectiveness_starts_at_zero_rises_and_stays_below_counterflow() {
        for arrangement in ALL {
            for c in [0.0, 1e-6, 0.3, 0.999_999_999_9, 1.0] {
                let mut last = effectiveness(arrangement, 0.0, c).unwrap();
                assert_eq!(last, 0.0);
                for ntu in [0.01, 0.5, 2.0, 8.0, 30.0, 100.0] {
                    let value = effectiveness(arrangement, ntu, c).unwrap();
                    let best = effectiveness(Arrangement::Counterflow, ntu, c).unwrap();
                    assert!(
                        value >= last && value <= best + 1e-9,
                        "{arrangement:?} {c} {ntu}: {value} {best}"
                    );
                    last = value;
                }
            }
        }
    }

    #[test]
    fn out_of_range_gives_none() {
        assert_eq!(effectiveness(Arrangement::Parallel, -1.0, 0.5), None);
        assert_eq!(effectiveness(Arrangement::Parallel, 1.0, 1.5), None);
        assert_eq!(ntu_from_effectiveness(Arrangement::Parallel, 0.6, 1.0), None, "half is all it can do");
        assert_eq!(outlet_temperature(400.0, 300.0, 1.1), None);
        assert_eq!(effectiveness_from_temperatures(300.0, 300.0, 300.0), None);
        assert_eq!(condensate(-1.0, 0.01, 300.0, 1e5), None);
    }

    #[test]
    fn dry_charge_leaves_no_water_and_wet_charge_some() {
        assert_eq!(condensate(0.2, 0.001, 320.0, 2e5), Some(0.0));
        let wet = condensate(0.2, 0.03, 300.0, 2e5).unwrap();
        let saturated = saturation_humidity_ratio(300.0, 2e5).unwrap();
        assert!((wet - 0.2 * (0.03 - saturated)).abs() < 1e-15);
        assert_eq!(condensate(0.2, 0.03, 500.0, 2e5), Some(0.0), "no water at 500 K and 2 bar");
    }
}

//! Places whose pressure switches injection nozzles, watched through a run.

use std::sync::Arc;

use crate::build::parts::{Body, PartKind};
use crate::build::scalars::PartName;
use crate::known::{Known, State};
use crate::physics::network::NodeId;

use super::SPACING;
use super::laid::Laid;
use super::lay::Layout;

/// Where the trigger of a nozzle feels the pressure.
#[derive(Clone, Debug)]
pub(super) struct Felt {
    /// The nozzle.
    pub name: Arc<str>,
    pub node: NodeId,
    /// Whether it is taken to sit half-way along its part, as nothing is said.
    pub half_way: bool,
}

impl Layout<'_, '_> {
    /// The places of all triggers that can be told; what another lacks is for the fact on its nozzle to say.
    pub(super) fn triggers(&self, laid: &Laid) -> Vec<Felt> {
        let mut found = Vec::new();
        for part in &self.tract.build().parts.list {
            let Body::InjectionNozzle(nozzle) = &part.body else { continue };
            let State::Given(trigger) = nozzle.trigger.state(self.reads) else { continue };
            let State::Given(PartName(name)) = trigger.part.state(self.reads) else { continue };
            let spot = self.path.spot(name);
            let half_way = match (trigger.at.state(self.reads), spot) {
                (State::Absent, Some(spot)) => laid.middle_of(spot.index),
                _ => None,
            };
            let node = match (half_way, spot) {
                (Some(node), _) => Known::Is(node),
                // As a hose that takes its signal from a throttle.
                (None, Some(spot)) if spot.kind == PartKind::Throttle => Known::Is(laid.behind_throttle),
                _ => self.place(laid, name, &trigger.at, trigger.part.route()).map(|(node, _)| node),
            };
            if let Known::Is(node) = node {
                found.push(Felt { name: part.name.as_ref().into(), node, half_way: half_way.is_some() });
            }
        }
        found
    }
}

/// The pressure at the place of a nozzle's trigger once the throttle is shut.
#[derive(Clone, Debug, PartialEq)]
pub struct Trigger {
    /// The nozzle.
    pub name: Arc<str>,
    /// Whether it is taken to sit half-way along its part, as nothing is said.
    pub half_way: bool,
    /// Time since the throttle began to shut, s, and absolute pressure, Pa, about a millisecond apart.
    pub pressures: Vec<(f64, f64)>,
}

impl Trigger {
    /// Reads it off the times of a run, s, and the pressures then, Pa, from `shut` s on.
    pub(super) fn of(felt: &Felt, series: impl Iterator<Item = (f64, f64)>, shut: f64) -> Self {
        let mut pressures: Vec<(f64, f64)> = Vec::new();
        for (time, pressure) in series.filter(|(time, _)| *time >= shut) {
            if pressures.last().is_none_or(|(last, _)| time >= last + SPACING) {
                pressures.push((time, pressure));
            }
        }
        Self { name: felt.name.clone(), half_way: felt.half_way, pressures }
    }

    /// For how long the pressure lies above `level` Pa, absolute, s; straight between the moments.
    pub fn time_above(&self, level: f64) -> f64 {
        let pairs = self.pressures.windows(2).filter_map(|pair| {
            let [(from, a), (to, b)] = *pair else { return None };
            let (low, high) = if a < b { (a, b) } else { (b, a) };
            let share = if low >= level {
                1.0
            } else if high <= level {
                0.0
            } else {
                (high - level) / (high - low)
            };
            Some(share * (to - from))
        });
        pairs.sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_above_a_level_is_counted_between_the_moments_and_each_time_anew() {
        let pressures = vec![(0.1, 3e5), (0.2, 1e5), (0.3, 1e5), (0.4, 2e5), (0.5, 2e5)];
        let trigger = Trigger { name: "nozzle".into(), half_way: false, pressures };
        // Falls through 150 kPa after three quarters of the first piece, rises through it after half of the third.
        assert!((trigger.time_above(1.5e5) - (0.075 + 0.05 + 0.1)).abs() < 1e-12);
        assert_eq!(trigger.time_above(3e5), 0.0);
        assert!((trigger.time_above(0.5e5) - 0.4).abs() < 1e-12);
    }
}

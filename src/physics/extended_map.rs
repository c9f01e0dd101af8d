//! A compressor map carried on to the left of its surge line, into reverse flow and past its choke
//! ends: what a compressor does while the throttle shuts.

use super::compressor::{ReferenceState, mean_inducer_radius, ratio_left_of_surge, zero_flow_ratio};
use super::flow::bore_area;
use super::map::{Along, Map};
use super::network::{Characteristic, SimpleGas, StageFlow, StageState};

/// Hub over tip of the inducer where the hub is not given (choice; 0.25 to 0.35 is usual).
pub const HUB_SHARE: f64 = 0.3;
/// Resistance to reverse flow, on the dynamic pressure in the inducer's area (choice: 10 to 60 are
/// plausible; it moves frequency and swing of surge by some 15 %).
pub const REVERSE_RESISTANCE: f64 = 30.0;
/// Lowest speed that the map is asked for, as a share of its top line's: below, the wheel hardly
/// pumps, and affinity from there is as good as any.
const LOWEST_SPEED: f64 = 0.02;

/// A map with all that is needed to carry it on.
///
/// Between no flow and the surge point of the present speed: Moore and Greitzer's cubic from the
/// zero-flow ratio. In reverse: the zero-flow ratio and a loss that grows with flow squared. On the
/// map and beyond its choke ends: the map. Work on each kg: Δh_s/η on the map, held at the surge
/// point's left of it, in reverse too, and at the choke point's beyond. No lag.
///
/// Source: Moore & Greitzer, J. Eng. Gas Turb. Power 108 (1986) 68; Gravdahl & Egeland, IEEE Trans.
/// Control Syst. Technol. 7 (1999) 567.
#[derive(Debug, Clone, PartialEq)]
pub struct ExtendedMap {
    map: Map,
    reference: ReferenceState,
    /// Root mean square radius of the inducer, m.
    inducer_radius: f64,
    /// Radius of the wheel's rim, m.
    rim: f64,
    /// Area that reverse flow passes, m2.
    area: f64,
    reverse_resistance: f64,
}

impl ExtendedMap {
    /// Carries on a `map` whose speeds are revolutions per second, corrected to `reference`, of a
    /// wheel with the given diameters of inducer and rim, m. `None` unless 0 < inducer ≤ rim, the
    /// map has efficiencies, and the resistance is not negative.
    #[must_use]
    pub fn new(
        map: Map,
        reference: ReferenceState,
        inducer: f64,
        rim: f64,
        reverse_resistance: f64,
    ) -> Option<Self> {
        let inducer_radius = mean_inducer_radius(HUB_SHARE * 0.5 * inducer, 0.5 * inducer)?;
        let fits = rim.is_finite() && inducer <= rim && reverse_resistance >= 0.0;
        let area = bore_area(inducer) * (1.0 - HUB_SHARE * HUB_SHARE);
        (fits && map.has_efficiency()).then_some(Self {
            map,
            reference,
            inducer_radius,
            rim: 0.5 * rim,
            area,
            reverse_resistance,
        })
    }

    /// Area of the inducer between hub and tip, m2.
    #[must_use]
    pub fn inducer_area(&self) -> f64 {
        self.area
    }

    fn corrected_speed(&self, speed: f64, t1: f64) -> f64 {
        let corrected = speed / std::f64::consts::TAU * (self.reference.temperature / t1).sqrt();
        corrected.max(LOWEST_SPEED * self.map.top_speed())
    }

    /// Flow, kg/s, of a corrected one.
    fn actual(&self, corrected: f64, p1: f64, t1: f64) -> f64 {
        corrected * (self.reference.temperature / t1).sqrt() * p1 / self.reference.pressure
    }

    /// Pressure ratio at no flow: that of the wheel turning its gas, never above the surge point's.
    fn zero_flow(&self, speed: f64, t1: f64, at_surge: f64, gas: &SimpleGas) -> Option<f64> {
        let ratio = zero_flow_ratio(self.inducer_radius, self.rim, speed, t1, gas.cp(t1), gas.gamma(t1))?;
        Some(ratio.min(at_surge))
    }

    fn checked(&self, state: &StageState, gas: &SimpleGas) -> Option<StageFlow> {
        let StageState { flow, speed, p1, t1, rho2 } = *state;
        let corrected_speed = self.corrected_speed(speed, t1);
        let surge_flow = self.actual(self.map.surge_flow_at_speed(corrected_speed)?, p1, t1);
        if flow < surge_flow {
            let surge = self.map.surge_at_speed(corrected_speed)?;
            let zero = self.zero_flow(speed, t1, surge.pressure_ratio, gas)?;
            let outlet = if flow >= 0.0 {
                p1 * ratio_left_of_surge(zero, surge.pressure_ratio, flow / surge_flow)
            } else {
                let head = flow / self.area;
                p1 * zero + self.reverse_resistance * head * head / (2.0 * rho2)
            };
            let work = work(surge.pressure_ratio, surge.efficiency?, t1, gas);
            return Some(StageFlow { outlet, work });
        }
        let corrected = self.reference.corrected_flow(flow, p1, t1)?;
        let there = self.map.at(corrected_speed, corrected)?;
        let held = if there.along == Along::BeyondChoke {
            let choke = self.map.choke_at_speed(corrected_speed)?;
            work(choke.pressure_ratio, choke.efficiency?, t1, gas)
        } else {
            work(there.pressure_ratio, there.efficiency?, t1, gas)
        };
        Some(StageFlow { outlet: p1 * there.pressure_ratio, work: held.max(0.0) })
    }
}

/// Work on each kg, J/kg: isentropic over efficiency, with the heat capacity of the inlet.
fn work(ratio: f64, efficiency: f64, t1: f64, gas: &SimpleGas) -> f64 {
    let exponent = gas.r / gas.cp(t1);
    gas.cp(t1) * t1 * (ratio.powf(exponent) - 1.0) / efficiency
}

impl Characteristic for ExtendedMap {
    fn at(&self, state: &StageState, gas: &SimpleGas) -> StageFlow {
        // What is out of range (a state that is no number) is refused by the step control.
        self.checked(state, gas).unwrap_or(StageFlow { outlet: f64::NAN, work: f64::NAN })
    }

    fn surge_flow(&self, speed: f64, p1: f64, t1: f64) -> f64 {
        let flow = self.map.surge_flow_at_speed(self.corrected_speed(speed, t1));
        flow.map_or(f64::NAN, |flow| self.actual(flow, p1, t1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::map::MapPoint;

    fn example() -> ExtendedMap {
        let mut points = Vec::new();
        for n in [0.4_f64, 0.7, 1.0] {
            for (phi, psi, eta) in [(0.45, 1.0, 0.66), (0.6, 0.99, 0.73), (0.8, 0.85, 0.72), (1.0, 0.4, 0.55)]
            {
                let head = 0.42 * psi * n * n;
                let pressure_ratio = (1.0_f64 + head).powf(3.5);
                points.push(MapPoint {
                    speed: 2400.0 * n,
                    flow: 0.3 * phi * n,
                    pressure_ratio,
                    efficiency: Some(eta),
                });
            }
        }
        let reference = ReferenceState { pressure: 101_325.0, temperature: 298.15 };
        ExtendedMap::new(Map::new(&points).unwrap(), reference, 45e-3, 61e-3, 30.0).unwrap()
    }

    fn outlet(stage: &ExtendedMap, flow: f64, speed: f64) -> f64 {
        let gas = SimpleGas::perfect(287.05, 1.4);
        stage.at(&StageState { flow, speed, p1: 9e4, t1: 300.0, rho2: 1.6 }, &gas).outlet
    }

    #[test]
    fn it_is_continuous_through_surge_and_no_flow_and_level_there() {
        let stage = example();
        for speed in [600.0, 4000.0, 9000.0, 14_000.0] {
            let surge = stage.surge_flow(speed, 9e4, 300.0);
            for at in [0.0, surge] {
                let (below, above) = (outlet(&stage, at - 1e-7, speed), outlet(&stage, at + 1e-7, speed));
                assert!((below - above).abs() < 1.0, "{speed} {at}: {below} {above}");
            }
            let slope = (outlet(&stage, 1e-5, speed) - outlet(&stage, -1e-5, speed)) / 2e-5;
            assert!(slope.abs() < 1e4, "{slope}");
            assert!(outlet(&stage, 0.0, speed) <= outlet(&stage, surge, speed));
            assert!(outlet(&stage, -0.1, speed) > outlet(&stage, 0.0, speed));
        }
    }

    #[test]
    fn beyond_choke_the_ratio_falls_and_work_is_held() {
        let stage = example();
        let gas = SimpleGas::perfect(287.05, 1.4);
        let at = |flow| stage.at(&StageState { flow, speed: 14_000.0, p1: 9e4, t1: 300.0, rho2: 1.6 }, &gas);
        assert!(at(0.35).outlet < at(0.27).outlet);
        assert!((at(0.35).work - at(0.5).work).abs() < 1e-9);
        assert!(at(-0.05).work > 0.0);
    }

    #[test]
    fn a_rim_smaller_than_the_inducer_is_refused() {
        let stage = example();
        assert!(ExtendedMap::new(stage.map.clone(), stage.reference, 61e-3, 45e-3, 30.0).is_none());
        assert!(ExtendedMap::new(stage.map, stage.reference, 45e-3, 61e-3, -1.0).is_none());
    }
}

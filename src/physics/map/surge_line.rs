//! A surge line given on its own, without speed lines.

use super::super::numeric::{Pchip, find_root};
use super::{ROUNDING, head};

/// A place on a surge line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurgeCrossing {
    /// Corrected flow, kg/s.
    pub flow: f64,
    /// Pressure ratio.
    pub pressure_ratio: f64,
    /// Whether it lies below the lowest point given, and was found by affinity (ṁ ~ N, isentropic
    /// head ~ N²).
    pub below_lowest: bool,
}

impl SurgeCrossing {
    /// Where every surge line ends at standstill.
    pub(super) fn at_rest() -> Self {
        Self { flow: 0.0, pressure_ratio: 1.0, below_lowest: true }
    }
}

/// What keeps a list of points from being a surge line. Numbers are places in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SurgeLineFault {
    /// Fewer than two points.
    TooFewPoints,
    /// Flow not positive, ratio not above 1, or not finite.
    NotUsable {
        /// The point.
        point: usize,
    },
    /// Flow or ratio does not rise from the point before, in order of flow.
    NotRising {
        /// The point.
        point: usize,
        /// The point of the next lower flow.
        before: usize,
    },
}

/// A surge line: pairs of corrected flow and pressure ratio, both rising.
#[derive(Debug, Clone, PartialEq)]
pub struct SurgeLine {
    /// Flow over pressure ratio.
    curve: Pchip,
    first: (f64, f64),
    last: (f64, f64),
}

impl SurgeLine {
    /// Surge line through points (corrected flow kg/s, pressure ratio), in any order: a monotone
    /// cubic.
    ///
    /// # Errors
    /// Everything found wrong: see [`SurgeLineFault`].
    pub fn new(points: &[(f64, f64)]) -> Result<Self, Vec<SurgeLineFault>> {
        let unusable =
            |(flow, ratio): (f64, f64)| !(flow > 0.0 && flow.is_finite() && ratio > 1.0 && ratio.is_finite());
        let mut faults: Vec<SurgeLineFault> = (0..points.len())
            .filter(|&point| unusable(points[point]))
            .map(|point| SurgeLineFault::NotUsable { point })
            .collect();
        let mut order: Vec<usize> = (0..points.len()).collect();
        order.sort_by(|&a, &b| points[a].0.total_cmp(&points[b].0));
        if faults.is_empty() {
            faults.extend(order.windows(2).filter_map(|pair| {
                let (before, point) = (points[pair[0]], points[pair[1]]);
                (before.0 >= point.0 || before.1 >= point.1)
                    .then_some(SurgeLineFault::NotRising { point: pair[1], before: pair[0] })
            }));
        }
        let (flows, ratios): (Vec<f64>, Vec<f64>) = order.iter().map(|&i| points[i]).unzip();
        match (points, order.as_slice()) {
            ([_, _, ..], [first, .., last]) if faults.is_empty() => Pchip::new(&ratios, &flows)
                .map(|curve| Self { curve, first: points[*first], last: points[*last] })
                .ok_or_else(|| vec![SurgeLineFault::TooFewPoints]),
            ([_, _, ..], _) => Err(faults),
            _ => {
                faults.push(SurgeLineFault::TooFewPoints);
                Err(faults)
            }
        }
    }

    /// The same line with every flow multiplied by `factor` (positive and finite, else `None`).
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Option<Self> {
        super::all_positive(&[factor]).then(|| Self {
            curve: self.curve.scaled(factor),
            first: (self.first.0 * factor, self.first.1),
            last: (self.last.0 * factor, self.last.1),
        })
    }

    /// Where the line has a pressure ratio. `None` below 1 and above the highest point: never
    /// extrapolated upwards.
    #[must_use]
    pub fn at_ratio(&self, pressure_ratio: f64) -> Option<SurgeCrossing> {
        if !(pressure_ratio >= 1.0 && pressure_ratio <= self.last.1 * (1.0 + ROUNDING)) {
            return None;
        }
        let below_lowest = pressure_ratio < self.first.1 * (1.0 - ROUNDING);
        let flow = if below_lowest {
            self.first.0 * (head(pressure_ratio) / head(self.first.1)).max(0.0).sqrt()
        } else {
            self.curve.at(pressure_ratio)
        };
        Some(SurgeCrossing { flow, pressure_ratio, below_lowest })
    }

    /// Where the line has a corrected flow, kg/s. `None` for a negative flow and right of the
    /// highest point.
    #[must_use]
    pub fn at_flow(&self, flow: f64) -> Option<SurgeCrossing> {
        if !(flow >= 0.0 && flow <= self.last.0 * (1.0 + ROUNDING)) {
            return None;
        }
        let below_lowest = flow < self.first.0 * (1.0 - ROUNDING);
        let pressure_ratio = if below_lowest {
            super::ratio_of_head(head(self.first.1) * (flow / self.first.0).powi(2))
        } else {
            let (low, high) = self.curve.range();
            let target = flow.clamp(self.first.0, self.last.0);
            find_root(low, high, 1e-13, |ratio| self.curve.at(ratio) - target).ok()?.x
        };
        Some(SurgeCrossing { flow, pressure_ratio, below_lowest })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line() -> SurgeLine {
        SurgeLine::new(&[(0.10, 2.0), (0.04, 1.3), (0.07, 1.6), (0.14, 2.6)]).unwrap()
    }

    #[test]
    fn both_ways_agree_and_meet_the_points() {
        let line = line();
        assert!((line.at_ratio(1.6).unwrap().flow - 0.07).abs() < 1e-12);
        assert!((line.at_flow(0.14).unwrap().pressure_ratio - 2.6).abs() < 1e-9);
        for ratio in [1.05, 1.3, 1.45, 2.2, 2.6] {
            let there = line.at_ratio(ratio).unwrap();
            let back = line.at_flow(there.flow).unwrap();
            assert!((back.pressure_ratio - ratio).abs() < 1e-9, "{ratio} {back:?}");
            assert_eq!(there.below_lowest, ratio < 1.3);
        }
    }

    #[test]
    fn nothing_above_and_standstill_below() {
        let line = line();
        assert_eq!(line.at_ratio(2.7), None);
        assert_eq!(line.at_flow(0.15), None);
        assert_eq!(line.at_ratio(0.9), None);
        assert_eq!(line.at_ratio(1.0).unwrap().flow, 0.0);
        assert_eq!(line.at_flow(f64::NAN), None);
        assert!((line.scaled(2.0).unwrap().at_ratio(2.0).unwrap().flow - 0.2).abs() < 1e-12);
    }

    #[test]
    fn faults_name_their_points() {
        assert_eq!(SurgeLine::new(&[(0.1, 2.0)]), Err(vec![SurgeLineFault::TooFewPoints]));
        assert_eq!(SurgeLine::new(&[]), Err(vec![SurgeLineFault::TooFewPoints]));
        assert_eq!(
            SurgeLine::new(&[(0.1, 2.0), (0.05, 2.1)]),
            Err(vec![SurgeLineFault::NotRising { point: 0, before: 1 }])
        );
        assert_eq!(
            SurgeLine::new(&[(0.1, 2.0), (f64::NAN, 2.1), (0.2, 0.5)]),
            Err(vec![SurgeLineFault::NotUsable { point: 1 }, SurgeLineFault::NotUsable { point: 2 }])
        );
    }
}

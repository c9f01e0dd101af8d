//! Compressor maps: measured speed lines turned into smooth, single-valued surfaces of ratio and
//! efficiency.
//!
//! **How.** Each point is taken to the affinity variables φ = ṁ/N and ψ = (PR^((γ−1)/γ) − 1)/N² (γ
//! 1.4), which hardly change from line to line; a wheel with little change of density would give
//! the same curve at every speed. On each line the points are put in order by s = φ/φ_max − w
//! ψ/ψ_max (w one half, or less if a line rises too steeply left of its peak), which rises along
//! level ends (where φ rises) as well as along near-vertical choke ends (where ψ falls). Scaled to
//! x = 0 at the lowest flow and 1 at the choke end of its line, it is the coordinate along the
//! line: ψ and η are monotone cubics in x, φ follows from s exactly. Between lines ψ, φ and η at
//! equal x are blended in proportion to speed. The blend has the same weights all along a line, so
//! that every line between two is as monotone as they are, and s stays linear in x; the state of a
//! given flow and ratio is thus one bracketed unknown, the speed. Outside the lines φ and ψ are
//! held: ṁ ~ N, isentropic head ~ N².
//!
//! The curves pass through every point, never overshoot between two, and are continuous in speed.
//!
//! **Scatter.** Repeated choke readings need not rise in flow. [`Map::find`] passes through all of
//! them; [`Map::at`], which needs one ratio for each flow, passes through the longest part of them
//! that rises (both ends kept). On lines that rise throughout the two agree exactly.

mod checks;
mod line;
mod surge_line;
#[cfg(test)]
mod tests;

use super::numeric::{find_root, newton_root};
use super::{all_positive, finite};
use line::{Blend, Line};

pub use checks::{FLOW_SCATTER, MapFault, SAME_SPEED};
pub use surge_line::{SurgeCrossing, SurgeLine, SurgeLineFault};

/// (γ − 1)/γ with γ 1.4, for the head that affinity holds.
const HEAD_EXPONENT: f64 = 0.4 / 1.4;

/// Beyond the choke end no ratio below this is given.
const LOWEST_RATIO: f64 = 0.3;

/// How far a coordinate or relative speed may stray past an end by rounding alone.
const ROUNDING: f64 = 1e-9;

/// One point of a map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapPoint {
    /// Corrected speed, rad/s (any unit does, if all points share it).
    pub speed: f64,
    /// Corrected flow, kg/s.
    pub flow: f64,
    /// Pressure ratio, total to total.
    pub pressure_ratio: f64,
    /// Isentropic efficiency, between 0 and 1, if measured: of all points or none.
    pub efficiency: Option<f64>,
}

/// Where a state lies along its speed line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Along {
    /// Between the lowest flow of the line and its choke end.
    OnLine,
    /// At less flow than the surge point of its speed: ratio and efficiency are held at the surge
    /// point's.
    LeftOfSurge,
    /// At more flow than the choke end of its speed: efficiency is held, ratio falls steeply.
    BeyondChoke,
}

/// Where a state lies across the speed lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Across {
    /// Between the lowest and the highest line.
    BetweenLines,
    /// At more than the highest speed: by affinity from the top line.
    AboveTopLine,
    /// At less than the lowest speed: by affinity from the bottom line.
    BelowBottomLine,
}

/// A state of the compressor on, or beside, its map. Everything is corrected as the map is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapState {
    /// Corrected speed, in the unit of the map's points.
    pub speed: f64,
    /// Corrected flow, kg/s.
    pub flow: f64,
    /// Pressure ratio.
    pub pressure_ratio: f64,
    /// Isentropic efficiency, if the map has any; held outside the lines.
    pub efficiency: Option<f64>,
    /// Place along the speed line: 0 at the surge point, 1 at the choke end.
    pub coordinate: f64,
    /// Where along the line.
    pub along: Along,
    /// Where across the lines.
    pub across: Across,
}

impl MapState {
    /// Whether the state lies within what was measured.
    #[must_use]
    pub fn on_map(&self) -> bool {
        self.along == Along::OnLine && self.across == Across::BetweenLines
    }
}

/// A compressor map.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    /// Curves through every point.
    exact: Vec<Line>,
    /// Curves through points of rising flow only.
    rising: Vec<Line>,
    top_speed: f64,
    /// Flow at relative speed 1 that φ is measured in, kg/s.
    flow_unit: f64,
    /// Head PR^((γ−1)/γ) − 1 at relative speed 1 that ψ is measured in.
    head_unit: f64,
}

fn head(pressure_ratio: f64) -> f64 {
    pressure_ratio.powf(HEAD_EXPONENT) - 1.0
}

fn ratio_of_head(head: f64) -> f64 {
    (1.0 + head).max(LOWEST_RATIO.powf(HEAD_EXPONENT)).powf(1.0 / HEAD_EXPONENT)
}

impl Map {
    /// Map of the given points. Points within 0.5 % of one speed are one line, at their mean speed;
    /// the points of a line come in order, from lowest flow to choke end or the reverse, the lines
    /// in any order.
    ///
    /// # Errors
    /// Everything found wrong, each with the places in `points` it rests on: see [`MapFault`].
    pub fn new(points: &[MapPoint]) -> Result<Self, Vec<MapFault>> {
        checks::build(points)
    }

    /// The same map with every flow multiplied by `factor` (positive and finite, else `None`).
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Option<Self> {
        all_positive(&[factor]).then(|| Self { flow_unit: self.flow_unit * factor, ..self.clone() })
    }

    /// Speeds of the lines, rising.
    pub fn speeds(&self) -> impl Iterator<Item = f64> + '_ {
        self.exact.iter().map(|line| line.relative_speed * self.top_speed)
    }

    /// Speed of the highest line.
    #[must_use]
    pub fn top_speed(&self) -> f64 {
        self.top_speed
    }

    /// Speed of the lowest line.
    #[must_use]
    pub fn bottom_speed(&self) -> f64 {
        self.exact.first().map_or(self.top_speed, |line| line.relative_speed * self.top_speed)
    }

    /// Whether the map gives efficiency.
    #[must_use]
    pub fn has_efficiency(&self) -> bool {
        self.exact.iter().all(Line::has_efficiency)
    }

    /// State at a corrected speed and flow. Single-valued and continuous in both.
    ///
    /// Left of the surge point ratio and efficiency are held at the surge point's (choice); beyond
    /// the choke end efficiency is held and head falls by four times its fall over the line, for
    /// each whole width of the line in flow (choice), no ratio below 0.3. `None` unless speed and
    /// flow are positive (zero flow is allowed).
    #[must_use]
    pub fn at(&self, speed: f64, flow: f64) -> Option<MapState> {
        if !(all_positive(&[speed]) && flow >= 0.0 && flow.is_finite()) {
            return None;
        }
        let relative = speed / self.top_speed;
        let blend = Blend::new(&self.rising, relative)?;
        let x = blend.coordinate_of_flow(flow / (relative * self.flow_unit))?;
        Some(self.state(&blend, relative, x, flow, self.ratio(&blend, relative, x)))
    }

    /// State at a corrected speed and a place along its line (0 surge point, 1 choke end; held to 0
    /// to 1): for drawing. `None` unless the speed is positive.
    #[must_use]
    pub fn on_line(&self, speed: f64, coordinate: f64) -> Option<MapState> {
        if !all_positive(&[speed]) || coordinate.is_nan() {
            return None;
        }
        let relative = speed / self.top_speed;
        let blend = Blend::new(&self.exact, relative)?;
        let x = coordinate.clamp(0.0, 1.0);
        let flow = blend.flow(x) * relative * self.flow_unit;
        Some(self.state(&blend, relative, x, flow, self.ratio(&blend, relative, x)))
    }

    /// State at a corrected flow and pressure ratio: speed, efficiency, and where it lies.
    ///
    /// Left of the surge line speed is that whose surge point has the ratio, and efficiency that
    /// surge point's (choice). `None` unless both are positive, and where no speed gives the state
    /// (a ratio below 1 at a flow few speeds reach).
    #[must_use]
    pub fn find(&self, flow: f64, pressure_ratio: f64) -> Option<MapState> {
        if !all_positive(&[flow, pressure_ratio]) {
            return None;
        }
        let target = Target { flow: flow / self.flow_unit, head: head(pressure_ratio) / self.head_unit };
        let relative = self.relative_speed(target)?;
        let blend = Blend::new(&self.exact, relative)?;
        let x = blend.coordinate_of(target.position(relative));
        Some(self.state(&blend, relative, x, flow, pressure_ratio))
    }

    fn ratio(&self, blend: &Blend, relative: f64, x: f64) -> f64 {
        ratio_of_head(blend.head(x) * relative * relative * self.head_unit)
    }

    fn state(&self, blend: &Blend, relative: f64, x: f64, flow: f64, pressure_ratio: f64) -> MapState {
        let bottom = self.exact.first().map_or(1.0, |line| line.relative_speed);
        MapState {
            speed: relative * self.top_speed,
            flow,
            pressure_ratio,
            efficiency: blend.efficiency(x),
            coordinate: x,
            along: if x < -ROUNDING {
                Along::LeftOfSurge
            } else if x > 1.0 + ROUNDING {
                Along::BeyondChoke
            } else {
                Along::OnLine
            },
            across: if relative > 1.0 + ROUNDING {
                Across::AboveTopLine
            } else if relative < bottom * (1.0 - ROUNDING) {
                Across::BelowBottomLine
            } else {
                Across::BetweenLines
            },
        }
    }

    /// Speed, over the top line's, of the line through a state.
    fn relative_speed(&self, target: Target) -> Option<f64> {
        let outside = |relative: f64| {
            Blend::new(&self.exact, relative)
                .map_or((f64::NAN, 0.0), |blend| blend.shortfall(target.position(relative), relative))
        };
        let (low, high) = self.bracket_over_speed(|relative| outside(relative).0)?;
        finite(newton_root((low, high), 0.5 * (low + high), 1e-13 * high, outside)?)
    }

    /// Relative speed at which a function that rises through zero with speed vanishes.
    fn root_over_speed(&self, function: impl Fn(f64) -> f64) -> Option<f64> {
        let (from, to) = self.bracket_over_speed(&function)?;
        finite(find_root(from, to, 1e-13 * from.max(to), function).ok()?.x)
    }

    /// Relative speeds between which a function that rises through zero with speed does so: two neighbouring lines if it
    /// can, else beyond them.
    fn bracket_over_speed(&self, function: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
        let mut lower: Option<f64> = None;
        for line in &self.exact {
            let here = line.relative_speed;
            let value = function(here);
            if value > 0.0 {
                let start = match lower {
                    Some(below) => below,
                    None => beyond(here, 1.0 / 1.2, |speed| function(speed) <= 0.0)?,
                };
                return Some((start, here));
            }
            lower = Some(here);
        }
        let top = lower?;
        if function(top) == 0.0 {
            return Some((top, top));
        }
        Some((top, beyond(top, 1.2, |speed| function(speed) > 0.0)?))
    }

    /// Surge point of a corrected speed (by affinity outside the lines). `None` unless the speed is
    /// positive.
    #[must_use]
    pub fn surge_at_speed(&self, speed: f64) -> Option<MapState> {
        self.on_line(speed, 0.0)
    }

    /// Flow at the surge point of a corrected speed, kg/s, as [`Self::surge_at_speed`] has it: it alone costs a fraction. `None`
    /// unless the speed is positive.
    #[must_use]
    pub fn surge_flow_at_speed(&self, speed: f64) -> Option<f64> {
        if !all_positive(&[speed]) {
            return None;
        }
        let relative = speed / self.top_speed;
        Some(Blend::new(&self.exact, relative)?.flow(0.0) * relative * self.flow_unit)
    }

    /// Choke end of a corrected speed (by affinity outside the lines). `None` unless the speed is
    /// positive.
    #[must_use]
    pub fn choke_at_speed(&self, speed: f64) -> Option<MapState> {
        self.on_line(speed, 1.0)
    }

    /// Largest corrected flow, kg/s, of a speed: the flow at its choke end. `None` unless the speed
    /// is positive.
    #[must_use]
    pub fn choke_flow_at_speed(&self, speed: f64) -> Option<f64> {
        Some(self.choke_at_speed(speed)?.flow)
    }

    /// Where the surge line has a pressure ratio. `None` below 1 and above the top line's surge
    /// point: never extrapolated upwards. Below the bottom line's surge point by affinity, and
    /// said.
    #[must_use]
    pub fn surge_at_ratio(&self, pressure_ratio: f64) -> Option<SurgeCrossing> {
        let highest = self.surge_at_speed(self.top_speed)?;
        if !(pressure_ratio >= 1.0 && pressure_ratio <= highest.pressure_ratio * (1.0 + ROUNDING)) {
            return None;
        }
        let target = head(pressure_ratio) / self.head_unit;
        if target == 0.0 {
            return Some(SurgeCrossing::at_rest());
        }
        let relative = self.root_over_speed(|n| {
            Blend::new(&self.exact, n).map_or(f64::NAN, |blend| blend.head(0.0) * n * n - target)
        })?;
        self.crossing(relative)
    }

    /// Where the surge line has a corrected flow, kg/s. `None` for a negative flow and right of the
    /// top line's surge point, where the margin at constant flow does not exist. Below the bottom
    /// line's by affinity, and said. If the surge line doubles back in flow, the lowest crossing.
    #[must_use]
    pub fn surge_at_flow(&self, flow: f64) -> Option<SurgeCrossing> {
        if flow == 0.0 {
            return Some(SurgeCrossing::at_rest());
        }
        let highest =
            self.exact.iter().filter_map(|line| self.surge_at_speed(line.relative_speed * self.top_speed));
        let largest = highest.map(|surge| surge.flow).fold(0.0, f64::max);
        if !(flow > 0.0 && flow <= largest * (1.0 + ROUNDING)) {
            return None;
        }
        let target = flow / self.flow_unit;
        let relative = self.root_over_speed(|n| {
            Blend::new(&self.exact, n).map_or(f64::NAN, |blend| blend.flow(0.0) * n - target)
        })?;
        self.crossing(relative)
    }

    fn crossing(&self, relative: f64) -> Option<SurgeCrossing> {
        let surge = self.surge_at_speed(relative * self.top_speed)?;
        Some(SurgeCrossing {
            flow: surge.flow,
            pressure_ratio: surge.pressure_ratio,
            below_lowest: surge.across == Across::BelowBottomLine,
        })
    }
}

/// A state in units of the map, at relative speed 1.
#[derive(Clone, Copy)]
struct Target {
    flow: f64,
    head: f64,
}

impl Target {
    /// The state in affinity variables at a relative speed.
    fn position(self, relative: f64) -> line::Position {
        line::Position { flow: self.flow / relative, head: self.head / (relative * relative) }
    }
}

/// First speed past `start`, in steps of `factor`, at which `reached`: within some four
/// hundredfold.
fn beyond(start: f64, factor: f64, reached: impl Fn(f64) -> bool) -> Option<f64> {
    std::iter::successors(Some(start * factor), |speed| Some(speed * factor))
        .take(32)
        .find(|speed| reached(*speed))
}

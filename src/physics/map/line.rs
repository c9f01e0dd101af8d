//! One speed line as a curve, and the blend of two neighbouring lines.
//!
//! Flow and head are affinity variables here, both in units of their largest on the map.

use super::super::numeric::{hermite, hermite_slope, interval, monotone_slopes, newton_root};

/// Weight of head against flow in the diagonal, flow − weight · head, unless a line rises too
/// steeply left of its peak for it: large enough to keep choked points apart whatever their scatter
/// in flow.
pub const USUAL_WEIGHT: f64 = 0.5;

/// Head falls beyond the choke end by this many times its fall over the line, for each width of the
/// line in flow.
const CHOKE_STEEPNESS: f64 = 4.0;
/// Least fall of head over a line that the steepness beyond its choke end is reckoned with, as a
/// share of its surge point's: a line measured over its level part only would else never choke.
const LEAST_FALL: f64 = 0.1;

/// Least slope of flow along a line, as a share of the secant between two points.
const LEAST_FLOW_SLOPE: f64 = 0.2;

/// A place in the plane of flow and head coefficients.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    pub flow: f64,
    pub head: f64,
}

impl Position {
    /// The coordinate that rises along every line, with the map's weight of head.
    pub fn diagonal(self, weight: f64) -> f64 {
        self.flow - weight * self.head
    }
}

/// A point of a line, in order along it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Node {
    pub position: Position,
    pub efficiency: Option<f64>,
}

/// A line of constant speed.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Speed over the top line's.
    pub relative_speed: f64,
    /// Places of the nodes, 0 to 1.
    x: Vec<f64>,
    head: Vec<f64>,
    /// Slope of head at both ends of every interval.
    slopes: Vec<(f64, f64)>,
    efficiency: Option<(Vec<f64>, Vec<f64>)>,
    /// Diagonal at x = 0, and its growth up to x = 1.
    start: f64,
    span: f64,
    /// Fall of head beyond the choke end for each unit of diagonal.
    choke_fall: f64,
    /// Weight of head in the diagonal: one for the whole map.
    weight: f64,
}

impl Line {
    /// Curve through nodes whose diagonal strictly rises; flow rises from first to last. `None` if
    /// not, or fewer than two.
    pub fn new(relative_speed: f64, nodes: &[Node], weight: f64) -> Option<Self> {
        let (first, last) = (nodes.first()?, nodes.last()?);
        let diagonals: Vec<f64> = nodes.iter().map(|node| node.position.diagonal(weight)).collect();
        let rises = diagonals.windows(2).all(|pair| pair[0] < pair[1]);
        if nodes.len() < 2 || !rises || first.position.flow >= last.position.flow {
            return None;
        }
        let start = first.position.diagonal(weight);
        let span = last.position.diagonal(weight) - start;
        let mut x: Vec<f64> = diagonals.iter().map(|diagonal| (diagonal - start) / span).collect();
        if let Some(end) = x.last_mut() {
            *end = 1.0;
        }
        let head: Vec<f64> = nodes.iter().map(|node| node.position.head).collect();
        let efficiency: Option<Vec<f64>> = nodes.iter().map(|node| node.efficiency).collect();
        let fall = (first.position.head - last.position.head).max(LEAST_FALL * first.position.head.abs());
        let steepness = CHOKE_STEEPNESS * fall / (last.position.flow - first.position.flow);
        Some(Self {
            relative_speed,
            slopes: limited_slopes(&x, &head, span, weight),
            efficiency: efficiency.map(|values| {
                let slopes = monotone_slopes(&x, &values);
                (values, slopes)
            }),
            choke_fall: steepness / (1.0 + weight * steepness),
            x,
            head,
            start,
            span,
            weight,
        })
    }

    pub fn has_efficiency(&self) -> bool {
        self.efficiency.is_some()
    }

    /// Head at `x`: level left of 0, falling steadily beyond 1.
    pub fn head(&self, x: f64) -> f64 {
        let held = x.clamp(0.0, 1.0);
        let (i, t, width) = self.place(held);
        let (d0, d1) = self.slopes[i];
        let inside = hermite(t, width, self.head[i], self.head[i + 1], d0, d1);
        inside - (x - 1.0).max(0.0) * self.span * self.choke_fall
    }

    /// Head at the surge point and at the choke end.
    fn ends(&self) -> (f64, f64) {
        (self.head[0], self.head[self.head.len() - 1])
    }

    /// Head at `x` and its slope.
    fn head_and_slope(&self, x: f64) -> (f64, f64) {
        if x < 0.0 {
            return (self.head(x), 0.0);
        }
        if x > 1.0 {
            return (self.head(x), -self.span * self.choke_fall);
        }
        let (i, t, width) = self.place(x);
        let ((d0, d1), from, to) = (self.slopes[i], self.head[i], self.head[i + 1]);
        (hermite(t, width, from, to, d0, d1), hermite_slope(t, width, from, to, d0, d1))
    }

    /// Efficiency at `x`, held outside 0 to 1.
    pub fn efficiency(&self, x: f64) -> Option<f64> {
        let (values, slopes) = self.efficiency.as_ref()?;
        let (i, t, width) = self.place(x.clamp(0.0, 1.0));
        Some(hermite(t, width, values[i], values[i + 1], slopes[i], slopes[i + 1]))
    }

    fn place(&self, x: f64) -> (usize, f64, f64) {
        let i = interval(&self.x, x);
        let width = self.x[i + 1] - self.x[i];
        (i, (x - self.x[i]) / width, width)
    }

    /// By how much a state in this line's affinity variables lies above or right of it (negative:
    /// below or left).
    pub fn excess(&self, position: Position) -> f64 {
        position.head - self.head((position.diagonal(self.weight) - self.start) / self.span)
    }
}

/// Slopes of head over x, the usual monotone ones, then held in each interval to what keeps both
/// head and flow monotone.
///
/// Flow is diagonal + weight · head, so its slope is `span` + weight · slope of head. A cubic is
/// monotone if its end slopes have the sign of the secant and are no more than three times it
/// (Fritsch & Carlson, SIAM J. Numer. Anal. 17 (1980) 238). Flow's slope is kept off zero, so that
/// ratio over flow is steep at worst. The secant itself meets both conditions, so the two always
/// leave a common range.
fn limited_slopes(x: &[f64], head: &[f64], span: f64, weight: f64) -> Vec<(f64, f64)> {
    let slopes = monotone_slopes(x, head);
    let range = |secant: f64, least: f64| {
        let (a, b) = (least * secant, 3.0 * secant);
        (a.min(b), a.max(b))
    };
    x.windows(2)
        .zip(head.windows(2))
        .zip(slopes.windows(2))
        .map(|((x, head), slope)| {
            let secant = (head[1] - head[0]) / (x[1] - x[0]);
            let (low, high) = range(secant, 0.0);
            let (flow_low, flow_high) = range(span + weight * secant, LEAST_FLOW_SLOPE);
            let low = low.max((flow_low - span) / weight).min(secant);
            let high = high.min((flow_high - span) / weight).max(secant);
            (slope[0].clamp(low, high), slope[1].clamp(low, high))
        })
        .collect()
}

/// The line of a speed between two measured ones, or of the nearer end's line outside.
pub struct Blend<'a> {
    lower: &'a Line,
    upper: &'a Line,
    /// Share of the upper line.
    share: f64,
}

impl<'a> Blend<'a> {
    /// `lines` in order of speed. `None` if there is none.
    pub fn new(lines: &'a [Line], relative_speed: f64) -> Option<Self> {
        let above = lines.partition_point(|line| line.relative_speed <= relative_speed);
        let upper = lines.get(above).or_else(|| lines.last())?;
        let lower = lines.get(above.saturating_sub(1))?;
        let width = upper.relative_speed - lower.relative_speed;
        let share =
            if width > 0.0 { ((relative_speed - lower.relative_speed) / width).clamp(0.0, 1.0) } else { 0.0 };
        Some(Self { lower, upper, share })
    }

    /// Speed over which the share of the upper line grows from none to one; infinite outside the lines.
    fn width(&self) -> f64 {
        let width = self.upper.relative_speed - self.lower.relative_speed;
        if width > 0.0 { width } else { f64::INFINITY }
    }

    /// Head at `x` less a head coefficient, at the diagonal of a position whose coefficients fall with speed as those of one
    /// flow and head do (φ as 1/n, ψ as 1/n²), and how fast it grows with speed.
    pub fn shortfall(&self, position: Position, relative: f64) -> (f64, f64) {
        let weight = self.lower.weight;
        let x = self.coordinate_of(position);
        let ((low, low_slope), (high, high_slope)) =
            (self.lower.head_and_slope(x), self.upper.head_and_slope(x));
        let across = 1.0 / self.width();
        let diagonal = (2.0 * weight * position.head - position.flow) / relative;
        let start = (self.upper.start - self.lower.start) * across;
        let span = (self.upper.span - self.lower.span) * across;
        let along = (diagonal - start - x * span) / self.mix(|line| line.span);
        let blend =
            |a: f64, b: f64| if self.share == 0.0 { a } else { (1.0 - self.share) * a + self.share * b };
        let slope =
            (high - low) * across + along * blend(low_slope, high_slope) + 2.0 * position.head / relative;
        (blend(low, high) - position.head, slope)
    }

    fn mix(&self, of: impl Fn(&Line) -> f64) -> f64 {
        if self.share == 0.0 {
            of(self.lower)
        } else {
            (1.0 - self.share) * of(self.lower) + self.share * of(self.upper)
        }
    }

    /// Head at `x`.
    pub fn head(&self, x: f64) -> f64 {
        self.mix(|line| line.head(x))
    }

    /// Flow at `x`.
    pub fn flow(&self, x: f64) -> f64 {
        self.mix(|line| line.start + x * line.span) + self.lower.weight * self.head(x)
    }

    /// Efficiency at `x`.
    pub fn efficiency(&self, x: f64) -> Option<f64> {
        let lower = self.lower.efficiency(x)?;
        let upper = self.upper.efficiency(x)?;
        Some((1.0 - self.share) * lower + self.share * upper)
    }

    /// The coordinate whose diagonal is that of a position.
    pub fn coordinate_of(&self, position: Position) -> f64 {
        (position.diagonal(self.lower.weight) - self.mix(|line| line.start)) / self.mix(|line| line.span)
    }

    /// The coordinate at which a line of rising flow has the flow. `None` if the search fails.
    pub fn coordinate_of_flow(&self, flow: f64) -> Option<f64> {
        let span = self.mix(|line| line.span);
        let weight = self.lower.weight;
        let lowest = self.mix(|line| line.start) + weight * self.mix(|line| line.ends().0);
        let highest = self.mix(|line| line.start + line.span) + weight * self.mix(|line| line.ends().1);
        if flow <= lowest {
            return Some((flow - lowest) / span);
        }
        if flow >= highest {
            let fall = self.mix(|line| line.span * line.choke_fall);
            return Some(1.0 + (flow - highest) / (span - weight * fall));
        }
        let start = self.mix(|line| line.start);
        let excess = |x: f64| {
            let ((low, low_slope), (high, high_slope)) =
                (self.lower.head_and_slope(x), self.upper.head_and_slope(x));
            let blend = |a: f64, b: f64| (1.0 - self.share) * a + self.share * b;
            let weight = self.lower.weight;
            (
                start + x * span + weight * blend(low, high) - flow,
                span + weight * blend(low_slope, high_slope),
            )
        };
        newton_root((0.0, 1.0), (flow - lowest) / (highest - lowest), 1e-14, excess)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn node(flow: f64, head: f64) -> Node {
        Node { position: Position { flow, head }, efficiency: Some(0.7) }
    }

    // A level end, a sharp knee, a vertical end with scatter in flow: the case that sets both
    // limits against each other.
    fn knee() -> Vec<Node> {
        vec![
            node(0.5, 0.99),
            node(0.6, 1.0),
            node(0.8, 0.995),
            node(0.801, 0.8),
            node(0.8, 0.7),
            node(0.802, 0.5),
        ]
    }

    #[test]
    fn a_line_meets_its_nodes_and_overshoots_in_neither_direction() {
        let nodes = knee();
        let line = Line::new(1.0, &nodes, USUAL_WEIGHT).unwrap();
        let lines = [line.clone()];
        let blend = Blend::new(&lines, 1.0).unwrap();
        for (pair, x) in nodes.windows(2).zip(line.x.windows(2)) {
            let (a, b) = (pair[0].position, pair[1].position);
            assert!((blend.head(x[0]) - a.head).abs() < 1e-14 && (blend.flow(x[0]) - a.flow).abs() < 1e-14);
            for k in 0..=200 {
                let at = x[0] + (x[1] - x[0]) * f64::from(k) / 200.0;
                for (value, from, to) in [(blend.head(at), a.head, b.head), (blend.flow(at), a.flow, b.flow)]
                {
                    assert!(
                        value >= from.min(to) - 1e-13 && value <= from.max(to) + 1e-13,
                        "{at}: {value} {from} {to}"
                    );
                }
            }
        }
    }

    #[test]
    fn beyond_its_ends_a_line_goes_on_without_a_jump() {
        let nodes = knee();
        let lines = [Line::new(1.0, &nodes, USUAL_WEIGHT).unwrap()];
        let blend = Blend::new(&lines, 1.0).unwrap();
        assert_eq!(blend.head(-0.4), blend.head(0.0));
        assert!(blend.head(1.1) < blend.head(1.0) && blend.flow(1.1) > blend.flow(1.0));
        let beyond = blend.coordinate_of_flow(0.81).unwrap();
        assert!(beyond > 1.0 && (blend.flow(beyond) - 0.81).abs() < 1e-12);
        let left = blend.coordinate_of_flow(0.2).unwrap();
        assert!(left < 0.0 && (blend.flow(left) - 0.2).abs() < 1e-12);
    }

    #[test]
    fn nodes_out_of_order_make_no_line() {
        assert_eq!(Line::new(1.0, &[node(0.5, 1.0), node(0.4, 1.0)], USUAL_WEIGHT), None);
        assert_eq!(Line::new(1.0, &[node(0.5, 1.0)], USUAL_WEIGHT), None);
        assert_eq!(Line::new(1.0, &[node(0.5, 1.0), node(0.5, 0.2)], USUAL_WEIGHT), None, "no width in flow");
    }
}

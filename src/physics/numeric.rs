//! Numerical tools: a bracketing root finder and monotone cubic interpolation.

/// A root held between two points of opposite sign.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Root {
    /// Best estimate.
    pub x: f64,
    /// The true root lies within this distance of `x`.
    pub error_bound: f64,
    /// How often the function was evaluated.
    pub evaluations: u32,
}

/// Why no root was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RootError {
    /// The function has the same sign at both ends.
    NotBracketed {
        /// Value at the lower end.
        at_lower: f64,
        /// Value at the upper end.
        at_upper: f64,
    },
    /// The function gave no finite number at `x`, or an end or the tolerance was not finite and
    /// positive.
    NotFinite {
        /// Where.
        x: f64,
    },
}

/// Root of a continuous function between `a` and `b`, to within `tolerance` of the true one.
///
/// The ITP method of Oliveira & Takahashi, ACM Trans. Math. Software 47 (2021) 5: never more
/// evaluations than bisection plus one and superlinear on smooth functions. The function must have
/// opposite signs at the two ends (or be zero at one). A function that fails at a point says so by
/// NaN.
///
/// # Errors
/// [`RootError::NotBracketed`] and [`RootError::NotFinite`] as described there.
pub fn find_root(
    a: f64,
    b: f64,
    tolerance: f64,
    mut function: impl FnMut(f64) -> f64,
) -> Result<Root, RootError> {
    let (mut a, mut b) = if a <= b { (a, b) } else { (b, a) };
    for input in [a, b, b - a, tolerance] {
        if !input.is_finite() {
            return Err(RootError::NotFinite { x: input });
        }
    }
    let mut evaluations = 0;
    let mut evaluate = |x: f64| {
        evaluations += 1;
        let value = function(x);
        if value.is_finite() { Ok((value, evaluations)) } else { Err(RootError::NotFinite { x }) }
    };
    let exact = |x, evaluations| Ok(Root { x, error_bound: 0.0, evaluations });

    let (mut at_a, count) = evaluate(a)?;
    if at_a == 0.0 {
        return exact(a, count);
    }
    let (mut at_b, mut count) = evaluate(b)?;
    if at_b == 0.0 {
        return exact(b, count);
    }
    if at_a.signum() == at_b.signum() {
        return Err(RootError::NotBracketed { at_lower: at_a, at_upper: at_b });
    }

    // Below the spacing of floating-point numbers there is nothing left to halve.
    let tolerance = tolerance.max(2.0 * f64::EPSILON * a.abs().max(b.abs())).max(f64::MIN_POSITIVE);
    let rising = at_b.signum();
    let truncation = 0.2 / (b - a);
    let halvings = ((b - a) / (2.0 * tolerance)).log2().ceil().max(0.0) as i32 + 1;
    let mut step = 0;
    while b - a > 2.0 * tolerance {
        let middle = 0.5 * (a + b);
        let radius = (tolerance * 2.0_f64.powi((halvings - step).max(0)) - 0.5 * (b - a)).max(0.0);
        let secant = (at_b * a - at_a * b) / (at_b - at_a);
        let towards = (middle - secant).signum();
        let shift = truncation * (b - a) * (b - a);
        let truncated = if shift <= (middle - secant).abs() { secant + towards * shift } else { middle };
        let x = if (truncated - middle).abs() <= radius { truncated } else { middle - towards * radius };
        let x = if x > a && x < b { x } else { middle };
        let (value, evaluated) = evaluate(x)?;
        count = evaluated;
        if value == 0.0 {
            return exact(x, count);
        }
        if value.signum() == rising {
            b = x;
            at_b = value;
        } else {
            a = x;
            at_a = value;
        }
        step += 1;
    }
    Ok(Root { x: 0.5 * (a + b), error_bound: 0.5 * (b - a), evaluations: count })
}

/// Root, to within `tolerance`, of a function that rises through zero between `low` and `high` and gives its slope with its
/// value: Newton's steps from `start`, the interval halved where one would leave what is left of it. `None` where the
/// function gives no number, or the interval is none.
///
/// Source: Press et al., Numerical Recipes (2007), section 9.4, for the safeguard.
pub(crate) fn newton_root(
    (mut low, mut high): (f64, f64),
    start: f64,
    tolerance: f64,
    mut function: impl FnMut(f64) -> (f64, f64),
) -> Option<f64> {
    let mut x = start.clamp(low, high);
    // Halving alone would be done by then.
    for _ in 0..120 {
        let (value, slope) = function(x);
        if !value.is_finite() {
            return None;
        }
        if value == 0.0 {
            return Some(x);
        }
        if value > 0.0 {
            high = x;
        } else {
            low = x;
        }
        let newton = x - value / slope;
        // Written so that a step that is no number is halved too.
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if (next - x).abs() <= tolerance || high - low <= tolerance {
            return Some(next);
        }
        x = next;
    }
    None
}

/// Root, near a guess of it, of a function that falls about as fast as its argument grows (what comes out less what was put
/// in), by secants, to within `tolerance`: the function changes its sign within that distance of what is given. `None`
/// where it is not found in some steps; a bracketing search may find it.
pub(crate) fn secant_root(guess: f64, tolerance: f64, mut function: impl FnMut(f64) -> f64) -> Option<Root> {
    let (mut last, mut before) = (guess, function(guess));
    let mut x = guess + before;
    let mut evaluations = 1;
    for _ in 0..6 {
        let value = function(x);
        evaluations += 1;
        let next = x - value * (x - last) / (value - before);
        if !next.is_finite() {
            return None;
        }
        if (next - x).abs() <= 0.5 * tolerance {
            // The root is bracketed by here and a step beyond it.
            let other = if value > 0.0 { x + tolerance } else { x - tolerance };
            let changes = (value > 0.0) != (function(other) > 0.0);
            return changes.then_some(Root { x: next, error_bound: tolerance, evaluations: evaluations + 1 });
        }
        (last, before) = (x, value);
        x = next;
    }
    None
}

/// Slopes of a monotone piecewise cubic through points: weighted harmonic means of the neighbouring
/// secants, zero at a turning point, three-point formula kept monotone at the ends.
///
/// Source: Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300, with the end formula of
/// Moler, Numerical Computing (2004), ch. 3. `x` strictly rising, at least two points (the callers
/// see to it).
pub(crate) fn monotone_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let widths: Vec<f64> = x.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let secants: Vec<f64> = y.windows(2).zip(&widths).map(|(pair, h)| (pair[1] - pair[0]) / h).collect();
    match secants.as_slice() {
        [] => vec![0.0; x.len()],
        [only] => vec![*only; 2],
        [first, second, ..] => {
            let count = secants.len();
            let mut slopes = vec![end_slope(widths[0], widths[1], *first, *second)];
            for (h, d) in widths.windows(2).zip(secants.windows(2)) {
                slopes.push(inner_slope(h[0], h[1], d[0], d[1]));
            }
            slopes.push(end_slope(
                widths[count - 1],
                widths[count - 2],
                secants[count - 1],
                secants[count - 2],
            ));
            slopes
        }
    }
}

fn inner_slope(left: f64, right: f64, before: f64, after: f64) -> f64 {
    if before * after <= 0.0 {
        return 0.0;
    }
    let (w1, w2) = (2.0 * right + left, right + 2.0 * left);
    (w1 + w2) / (w1 / before + w2 / after)
}

fn end_slope(near: f64, far: f64, near_secant: f64, far_secant: f64) -> f64 {
    let slope = ((2.0 * near + far) * near_secant - near * far_secant) / (near + far);
    if slope * near_secant <= 0.0 {
        0.0
    } else if near_secant * far_secant <= 0.0 && slope.abs() > 3.0 * near_secant.abs() {
        3.0 * near_secant
    } else {
        slope
    }
}

/// Value of the cubic through (0, `y0`) and (`width`, `y1`) with end slopes `d0`, `d1`, at the
/// share `t` (0 to 1) of the width.
pub(crate) fn hermite(t: f64, width: f64, y0: f64, y1: f64, d0: f64, d1: f64) -> f64 {
    let left = 1.0 - t;
    // Written as a blend plus a bump that vanishes at both ends, so that the ends are met to the
    // last bit.
    left * y0 + t * y1 + t * left * (left * (d0 * width - (y1 - y0)) - t * (d1 * width - (y1 - y0)))
}

/// Slope of [`hermite`] over the abscissa.
pub(crate) fn hermite_slope(t: f64, width: f64, y0: f64, y1: f64, d0: f64, d1: f64) -> f64 {
    let rise = y1 - y0;
    let (a, b) = (d0 * width - rise, d1 * width - rise);
    (rise + a * (1.0 - t) * (1.0 - 3.0 * t) - b * t * (2.0 - 3.0 * t)) / width
}

/// Index of the interval of `x` (strictly rising, at least two) that holds `at`; the first or last
/// for values outside.
pub(crate) fn interval(x: &[f64], at: f64) -> usize {
    x.partition_point(|node| *node <= at).saturating_sub(1).min(x.len().saturating_sub(2))
}

/// A monotone cubic through points: passes through each, never overshoots between two, has a
/// continuous slope, and is held at the end values outside.
#[derive(Debug, Clone, PartialEq)]
pub struct Pchip {
    x: Vec<f64>,
    y: Vec<f64>,
    slopes: Vec<f64>,
}

impl Pchip {
    /// Curve through the points (`x`, `y`).
    ///
    /// `None` unless there is at least one point, both lists are of one length, all finite, and `x`
    /// strictly rises.
    #[must_use]
    pub fn new(x: &[f64], y: &[f64]) -> Option<Self> {
        let usable = !x.is_empty()
            && x.len() == y.len()
            && x.iter().chain(y).all(|value| value.is_finite())
            && x.windows(2).all(|pair| pair[0] < pair[1]);
        usable.then(|| Self { x: x.to_vec(), y: y.to_vec(), slopes: monotone_slopes(x, y) })
    }

    /// Value at `at`, held at the end values outside the points (NaN only for NaN).
    #[must_use]
    pub fn at(&self, at: f64) -> f64 {
        let i = interval(&self.x, at);
        let held = at.clamp(self.x[0], self.x[self.x.len() - 1]);
        if self.x.len() < 2 {
            return self.y[0];
        }
        let width = self.x[i + 1] - self.x[i];
        let t = (held - self.x[i]) / width;
        hermite(t, width, self.y[i], self.y[i + 1], self.slopes[i], self.slopes[i + 1])
    }

    /// The same curve with every value multiplied by `factor`.
    pub(crate) fn scaled(&self, factor: f64) -> Self {
        let times = |values: &[f64]| values.iter().map(|value| value * factor).collect();
        Self { x: self.x.clone(), y: times(&self.y), slopes: times(&self.slopes) }
    }

    /// Lowest and highest abscissa.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        (self.x[0], self.x[self.x.len() - 1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn root_of_a_cubic_is_found_within_the_bound() {
        let root = find_root(1.0, 2.0, 1e-12, |x| x * x * x - x - 2.0).unwrap();
        assert!((root.x - 1.521_379_706_804_567_6).abs() <= root.error_bound + 1e-15);
        assert!(root.error_bound <= 1e-12);
        assert!(root.evaluations < 15, "{}", root.evaluations);
    }

    #[test]
    fn a_step_costs_no_more_than_bisection() {
        let root = find_root(0.0, 1.0, 1e-9, |x| if x < 0.3 { -1.0 } else { 1e6 }).unwrap();
        assert!((root.x - 0.3).abs() <= root.error_bound);
        assert!(root.evaluations <= 33, "{}", root.evaluations);
    }

    #[test]
    fn ends_may_be_roots_and_come_in_any_order() {
        assert_eq!(find_root(0.0, 1.0, 1e-9, |x| x).unwrap().x, 0.0);
        assert_eq!(find_root(1.0, 0.0, 1e-9, |x| x - 1.0).unwrap().x, 1.0);
    }

    #[test]
    fn no_bracket_and_no_number_are_errors() {
        assert!(matches!(find_root(0.0, 1.0, 1e-9, |x| x + 1.0), Err(RootError::NotBracketed { .. })));
        assert!(matches!(
            find_root(-1.0, 1.0, 1e-9, |x| if x < 0.5 { -1.0 } else { f64::NAN }),
            Err(RootError::NotFinite { .. })
        ));
        assert!(matches!(find_root(f64::NAN, 1.0, 1e-9, |x| x), Err(RootError::NotFinite { .. })));
    }

    #[test]
    fn newton_and_secants_find_what_the_bracket_finds() {
        let cubic = |x: f64| (x * x * x - x - 2.0, 3.0 * x * x - 1.0);
        let root = newton_root((1.0, 2.0), 1.1, 1e-14, cubic).unwrap();
        assert!((root - 1.521_379_706_804_567_6).abs() < 1e-14);
        // A slope that leads astray only costs halvings.
        let astray = newton_root((1.0, 2.0), 1.1, 1e-14, |x| (cubic(x).0, -1.0)).unwrap();
        assert!((astray - root).abs() < 1e-13);
        assert_eq!(newton_root((0.0, 1.0), 0.5, 1e-9, |_| (f64::NAN, 1.0)), None);
        let falling = |x: f64| -0.2 * cubic(x).0;
        let found = secant_root(1.4, 1e-9, falling).unwrap();
        assert!((found.x - root).abs() < 1e-9 && found.evaluations < 9);
        assert_eq!(secant_root(1.4, 1e-9, |_| 1e3), None);
        // A jump is no root.
        assert_eq!(secant_root(1.4, 1e-9, |x| if x < 1.42 { 1.0 } else { -1.0 }), None);
    }

    #[test]
    fn the_slope_of_a_cubic_is_that_of_its_values() {
        for t in [0.0, 0.2, 0.7, 1.0] {
            let at = |t| hermite(t, 0.5, 1.0, 3.0, 2.0, -1.0);
            let difference = (at(t + 1e-6) - at(t - 1e-6)) / (2e-6 * 0.5);
            assert!((hermite_slope(t, 0.5, 1.0, 3.0, 2.0, -1.0) - difference).abs() < 1e-6);
        }
    }

    #[test]
    fn pchip_refuses_what_is_no_function() {
        assert_eq!(Pchip::new(&[1.0, 1.0], &[0.0, 1.0]), None);
        assert_eq!(Pchip::new(&[], &[]), None);
        assert_eq!(Pchip::new(&[0.0, 1.0], &[0.0]), None);
        assert_eq!(Pchip::new(&[0.0, f64::NAN], &[0.0, 1.0]), None);
        assert_eq!(Pchip::new(&[2.0], &[5.0]).unwrap().at(9.0), 5.0);
    }

    proptest! {
        #[test]
        fn pchip_meets_its_points_and_stays_between_them(
            steps in proptest::collection::vec((0.01_f64..5.0, -3.0_f64..3.0), 2..9)
        ) {
            let mut x = 0.0;
            let (xs, ys): (Vec<f64>, Vec<f64>) = steps.iter().map(|(dx, y)| { x += dx; (x, *y) }).unzip();
            let curve = Pchip::new(&xs, &ys).unwrap();
            for (pair, values) in xs.windows(2).zip(ys.windows(2)) {
                prop_assert!((curve.at(pair[0]) - values[0]).abs() < 1e-12);
                let (low, high) = (values[0].min(values[1]), values[0].max(values[1]));
                for k in 0..=20 {
                    let value = curve.at(pair[0] + (pair[1] - pair[0]) * f64::from(k) / 20.0);
                    prop_assert!(value >= low - 1e-9 && value <= high + 1e-9);
                }
            }
            prop_assert!((curve.at(1e9) - ys[ys.len() - 1]).abs() < 1e-12);
        }

        #[test]
        fn roots_lie_within_their_bound(root in -5.0_f64..5.0, power in 1_i32..6) {
            let found = find_root(-6.0, 7.0, 1e-10, |x| (x - root) * (x - root).abs().powi(power - 1)).unwrap();
            prop_assert!((found.x - root).abs() <= found.error_bound + 1e-12);
        }
    }
}

//! Pressure losses of pipes, steps, bends and parts with a given loss.
//!
//! K is the loss over the dynamic pressure ρu²/2 in the bore it refers to.

use std::f64::consts::PI;

use super::flow::{bore_area, reynolds};
use super::numeric::interval;
use super::{all_positive, finite};

/// Reynolds number up to which pipe flow is laminar.
pub const LAMINAR_LIMIT: f64 = 2300.0;
/// Reynolds number from which pipe flow is turbulent; between the two the factor is blended.
pub const TURBULENT_LIMIT: f64 = 4000.0;
/// Roughness of drawn tubing, m. Source: Moody, Trans. ASME 66 (1944) 671.
pub const DRAWN_TUBING_ROUGHNESS: f64 = 1.5e-6;

/// Highest relative roughness ε/D of Moody's chart; beyond it the factor has no meaning.
const ROUGHEST: f64 = 0.05;

fn roughness_ok(relative: f64) -> bool {
    (0.0..=ROUGHEST).contains(&relative)
}

/// Darcy factor of laminar flow, 64/Re (Hagen–Poiseuille). `None` unless Re > 0.
#[must_use]
pub fn laminar_factor(reynolds: f64) -> Option<f64> {
    all_positive(&[reynolds]).then(|| 64.0 / reynolds)
}

/// Darcy factor of turbulent flow by Colebrook's equation, 1/√f = −2 log10(ε/(3.7 D) + 2.51/(Re
/// √f)), solved.
///
/// Source: Colebrook, J. Inst. Civil Eng. 11 (1939) 133. `relative_roughness` is ε/D, 0 to 0.05; Re
/// from 2000 (the blend of [`darcy_factor`] uses it from 4000). `None` outside.
#[must_use]
pub fn colebrook_factor(reynolds: f64, relative_roughness: f64) -> Option<f64> {
    if !(reynolds >= 2000.0 && reynolds.is_finite() && roughness_ok(relative_roughness)) {
        return None;
    }
    // In x = 1/√f the equation is rising and concave, so that Newton's steps come down to the root from the left after
    // the first, whatever the start; Haaland's is within 1 % of it.
    let (a, b) = (relative_roughness / 3.7, 2.51 / reynolds);
    let mut x = haaland_factor(reynolds, relative_roughness)?.sqrt().recip();
    for _ in 0..20 {
        let inside = a + b * x;
        let step = (x + 2.0 * inside.log10()) / (1.0 + 2.0 * b / (inside * std::f64::consts::LN_10));
        x -= step;
        if step.abs() <= 1e-13 * x {
            break;
        }
    }
    finite(x.powi(-2))
}

/// Darcy factor of turbulent flow by Haaland's explicit equation, within 1.5 % of Colebrook.
///
/// Source: Haaland, J. Fluids Eng. 105 (1983) 89. Range as [`colebrook_factor`].
#[must_use]
pub fn haaland_factor(reynolds: f64, relative_roughness: f64) -> Option<f64> {
    (reynolds >= 2000.0 && reynolds.is_finite() && roughness_ok(relative_roughness)).then(|| {
        let x = -1.8 * ((relative_roughness / 3.7).powf(1.11) + 6.9 / reynolds).log10();
        x.powi(-2)
    })
}

/// Darcy factor of a smooth pipe by Blasius, 0.3164 Re^(−1/4), stated for 4000 to 1e5. `None`
/// unless Re > 0.
///
/// Source: Blasius, VDI Forschungsheft 131 (1913).
#[must_use]
pub fn blasius_factor(reynolds: f64) -> Option<f64> {
    all_positive(&[reynolds]).then(|| 0.3164 * reynolds.powf(-0.25))
}

/// Blend of a laminar and a turbulent factor: the first up to Re 2300, the second from 4000, linear
/// in Re between. (choice: the passage itself has no published law; the blend is continuous.)
fn blended(reynolds: f64, turbulent: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    if reynolds <= LAMINAR_LIMIT {
        return laminar_factor(reynolds);
    }
    if reynolds >= TURBULENT_LIMIT {
        return turbulent(reynolds);
    }
    let share = (reynolds - LAMINAR_LIMIT) / (TURBULENT_LIMIT - LAMINAR_LIMIT);
    Some((1.0 - share) * laminar_factor(LAMINAR_LIMIT)? + share * turbulent(TURBULENT_LIMIT)?)
}

/// Darcy factor over all Reynolds numbers: laminar below 2300, Colebrook above 4000, linear in Re
/// between. `None` unless Re > 0 and ε/D in 0 to 0.05.
#[must_use]
pub fn darcy_factor(reynolds: f64, relative_roughness: f64) -> Option<f64> {
    roughness_ok(relative_roughness).then_some(())?;
    blended(reynolds, |re| colebrook_factor(re, relative_roughness))
}

/// Darcy factor of a smooth hose over all Reynolds numbers: laminar below 2300, Blasius above 4000,
/// linear in Re between. `None` unless Re > 0.
#[must_use]
pub fn smooth_hose_factor(reynolds: f64) -> Option<f64> {
    blended(reynolds, blasius_factor)
}

/// Fully rough Darcy factor f_T = 0.25/(log10(ε/(3.7 D)))², to which bend tables refer. `None`
/// unless 0 < ε/D ≤ 0.05.
///
/// Source: Flow of Fluids, TP-410 (2009), from Colebrook's equation at infinite Re. A drawn tube
/// has f_T near 0.010, commercial steel of the same bore 0.019.
#[must_use]
pub fn fully_rough_factor(relative_roughness: f64) -> Option<f64> {
    (relative_roughness > 0.0 && roughness_ok(relative_roughness))
        .then(|| 0.25 * (relative_roughness / 3.7).log10().powi(-2))
}

/// Loss of a straight pipe, Pa, and what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeLoss {
    /// Loss of pressure, Pa, with the sign of the flow.
    pub loss: f64,
    /// Reynolds number.
    pub reynolds: f64,
    /// Darcy factor; zero without flow.
    pub factor: f64,
    /// Mean velocity, m/s.
    pub velocity: f64,
}

/// Loss of a straight round pipe by Darcy–Weisbach, f (L/D) ρu²/2.
///
/// `flow` kg/s, `bore`, `length` and absolute `roughness` in m, `density` kg/m3, `t` K for the
/// viscosity of air. `None` unless bore, density and temperature are positive, length not negative,
/// ε/D ≤ 0.05.
#[must_use]
pub fn pipe_loss(
    flow: f64,
    bore: f64,
    length: f64,
    roughness: f64,
    density: f64,
    t: f64,
) -> Option<PipeLoss> {
    if !(all_positive(&[bore, density]) && length >= 0.0 && length.is_finite() && flow.is_finite()) {
        return None;
    }
    let reynolds = reynolds(flow, bore, t)?;
    let factor = if reynolds == 0.0 { 0.0 } else { darcy_factor(reynolds, roughness / bore)? };
    let velocity = flow / (density * bore_area(bore));
    Some(PipeLoss {
        loss: finite(factor * length / bore * dynamic_pressure(density, velocity))?,
        reynolds,
        factor,
        velocity,
    })
}

/// Dynamic pressure ρu|u|/2, Pa, with the sign of the velocity.
#[must_use]
pub fn dynamic_pressure(density: f64, velocity: f64) -> f64 {
    0.5 * density * velocity * velocity.abs()
}

/// K of a sudden enlargement, on the smaller bore: (1 − A1/A2)² (Borda–Carnot). `None` unless both
/// bores are positive and `smaller` ≤ `larger`.
#[must_use]
pub fn enlargement_k(smaller: f64, larger: f64) -> Option<f64> {
    area_share(smaller, larger).map(|share| (1.0 - share).powi(2))
}

/// K of a sudden contraction, on the smaller bore: 0.5 (1 − A2/A1). `None` as [`enlargement_k`].
///
/// Source: Flow of Fluids, TP-410 (2009), for a sharp edge. Published correlations differ by a
/// factor of 1.6 to 1.9; this one lies inside their band.
#[must_use]
pub fn contraction_k(smaller: f64, larger: f64) -> Option<f64> {
    area_share(smaller, larger).map(|share| 0.5 * (1.0 - share))
}

fn area_share(smaller: f64, larger: f64) -> Option<f64> {
    (all_positive(&[smaller, larger]) && smaller <= larger).then(|| (smaller / larger).powi(2))
}

/// K of a cone that widens, on its smaller bore; `angle` is its whole opening angle, degrees, 0 to 180.
///
/// Source: Flow of Fluids, TP-410 (2009), p. A-26: 2.6 sin(θ/2) (1 − β²)² up to 45°, (1 − β²)² beyond. `None` out of
/// range.
#[must_use]
pub fn widening_cone_k(smaller: f64, larger: f64, angle: f64) -> Option<f64> {
    let sudden = enlargement_k(smaller, larger)?;
    cone_angle(angle).map(|half| sudden * (2.6 * half.sin()).min(1.0))
}

/// K of a cone that narrows, on its smaller bore; `angle` as in [`widening_cone_k`].
///
/// Source: Flow of Fluids, TP-410 (2009), p. A-26: 0.8 sin(θ/2) (1 − β²) up to 45°, 0.5 (1 − β²) √sin(θ/2) beyond.
/// `None` out of range.
#[must_use]
pub fn narrowing_cone_k(smaller: f64, larger: f64, angle: f64) -> Option<f64> {
    let share = 1.0 - area_share(smaller, larger)?;
    cone_angle(angle).map(|half| {
        let steep = angle > 45.0;
        share * if steep { 0.5 * half.sin().sqrt() } else { 0.8 * half.sin() }
    })
}

/// Half of an opening angle given in degrees, in radians.
fn cone_angle(angle: f64) -> Option<f64> {
    (0.0..=180.0).contains(&angle).then(|| (0.5 * angle).to_radians())
}

/// Share of the pressure difference between inlet and throat that a venturi with its diffuser does not give back.
///
/// Source: ISO 5167-4:2003, 5.9 (from memory): 5 to 20 %; the upper end, as a carburettor's diffuser is short and jets
/// stand in its throat.
const VENTURI_LOSS_SHARE: f64 = 0.2;

/// K of a carburettor's venturi, on its throat: 0.2 (1 − β⁴), β the throat over the bore. `None` as
/// [`enlargement_k`].
#[must_use]
pub fn venturi_k(throat: f64, bore: f64) -> Option<f64> {
    area_share(throat, bore).map(|share| VENTURI_LOSS_SHARE * (1.0 - share * share))
}

/// K of the entry from a plenum into a flush pipe whose edge is rounded with `radius_share` = r/d
/// (0 is sharp).
///
/// Source: Flow of Fluids, TP-410 (2009), p. A-30, linear between its values; 0.04 from 0.15 up.
/// `None` if negative.
#[must_use]
pub fn entry_k(radius_share: f64) -> Option<f64> {
    const TABLE: [(f64, f64); 6] =
        [(0.0, 0.50), (0.02, 0.28), (0.04, 0.24), (0.06, 0.15), (0.10, 0.09), (0.15, 0.04)];
    (radius_share >= 0.0).then(|| table(&TABLE, radius_share))
}

/// K of the exit from a pipe into a plenum: the whole dynamic pressure. Source: Flow of Fluids,
/// TP-410; Idelchik.
pub const EXIT_K: f64 = 1.0;

/// K/f_T of smooth 90° bends over r/d. Source: Flow of Fluids, TP-410 (2009), p. A-30.
const BENDS: [(f64, f64); 12] = [
    (1.0, 20.0),
    (1.5, 14.0),
    (2.0, 12.0),
    (3.0, 12.0),
    (4.0, 14.0),
    (6.0, 17.0),
    (8.0, 24.0),
    (10.0, 30.0),
    (12.0, 34.0),
    (14.0, 38.0),
    (16.0, 42.0),
    (20.0, 50.0),
];

/// K/f_T of mitre bends over the angle in degrees. Source: Flow of Fluids, TP-410 (2009), p. A-30.
const MITRES: [(f64, f64); 7] =
    [(0.0, 2.0), (15.0, 4.0), (30.0, 8.0), (45.0, 15.0), (60.0, 25.0), (75.0, 40.0), (90.0, 60.0)];

/// K of a smooth bend, its whole loss (arc included), on its own bore.
///
/// `radius_share` is the centre-line radius over the bore, 1 to 20; `angle` in degrees, above 0 to
/// 360; `rough_factor` is f_T ([`fully_rough_factor`]). At 90° the table of Flow of Fluids, TP-410
/// (2009), p. A-30, linear between its values. Beyond 90° TP-410's rule, n = angle/90°:
/// K + (n − 1)(0.25 π f_T r/d + 0.5 K). Below 90° K times Idelchik's angle factor (Handbook of
/// Hydraulic Resistance, diagram 6-1): 0.9 sin δ up to 70°, from there straight to 1 at 90°. `None`
/// outside.
#[must_use]
pub fn bend_k(radius_share: f64, angle: f64, rough_factor: f64) -> Option<f64> {
    if !((1.0..=20.0).contains(&radius_share)
        && angle > 0.0
        && angle <= 360.0
        && all_positive(&[rough_factor]))
    {
        return None;
    }
    let right_angle = table(&BENDS, radius_share) * rough_factor;
    Some(if angle > 90.0 {
        let more = angle / 90.0 - 1.0;
        right_angle + more * (0.25 * PI * rough_factor * radius_share + 0.5 * right_angle)
    } else {
        right_angle * below_right_angle(angle)
    })
}

fn below_right_angle(angle: f64) -> f64 {
    let sine = |degrees: f64| 0.9 * degrees.to_radians().sin();
    if angle <= 70.0 {
        sine(angle)
    } else {
        let at_70 = sine(70.0);
        at_70 + (1.0 - at_70) * (angle - 70.0) / 20.0
    }
}

/// K of a mitre bend (no radius), on its own bore, `angle` 0 to 90 degrees, `rough_factor` f_T.
///
/// Source: Flow of Fluids, TP-410 (2009), p. A-30, linear between its values. `None` outside.
#[must_use]
pub fn mitre_bend_k(angle: f64, rough_factor: f64) -> Option<f64> {
    ((0.0..=90.0).contains(&angle) && all_positive(&[rough_factor]))
        .then(|| table(&MITRES, angle) * rough_factor)
}

/// Straight lines through a table, held at its ends.
fn table<const N: usize>(rows: &[(f64, f64); N], at: f64) -> f64 {
    let x = rows.map(|(x, _)| x);
    let i = interval(&x, at);
    match (rows.get(i), rows.get(i + 1)) {
        (Some((x0, y0)), Some((x1, y1))) => y0 + (y1 - y0) * ((at - x0) / (x1 - x0)).clamp(0.0, 1.0),
        (Some((_, only)), None) => *only,
        _ => f64::NAN,
    }
}

/// Loss coefficient C, Pa kg/m3 per (kg/s)², such that Δp = C ṁ²/ρ, of a K on a bore of `bore` m:
/// K/(2A²). `None` unless K ≥ 0 and the bore is positive.
#[must_use]
pub fn coefficient_from_k(k: f64, bore: f64) -> Option<f64> {
    (k >= 0.0 && all_positive(&[bore])).then(|| 0.5 * k * bore_area(bore).powi(-2)).and_then(finite)
}

/// Loss coefficient C as [`coefficient_from_k`], of a given loss: Δp ρ/ṁ² at the stated reference
/// flow and density. `None` unless the loss is not negative and flow and density are positive.
#[must_use]
pub fn coefficient_from_reference(loss: f64, flow: f64, density: f64) -> Option<f64> {
    (loss >= 0.0 && all_positive(&[flow, density])).then(|| loss * density / (flow * flow)).and_then(finite)
}

/// Effective area, m2, of a bore of `bore` m with a loss coefficient `k`, as of a nozzle: A/√K, since ΔP = K ρ v²/2.
/// `None` unless both are positive.
#[must_use]
pub fn effective_area(k: f64, bore: f64) -> Option<f64> {
    all_positive(&[k, bore]).then(|| bore_area(bore) / k.sqrt())
}

/// Effective area, m2, that has to stand behind one of `first` m2 for both in a row to pass as much as `both` m2 alone:
/// losses of incompressible flow add up, 1/A² = 1/A1² + 1/A2². `None` unless both are positive and the first is larger.
#[must_use]
pub fn area_behind(first: f64, both: f64) -> Option<f64> {
    (all_positive(&[first, both]) && first > both)
        .then(|| (both.powi(-2) - first.powi(-2)).sqrt().recip())
        .and_then(finite)
}

/// Loss, Pa, with the sign of the flow: C ṁ|ṁ|/ρ (similarity of incompressible loss). `None` unless
/// C ≥ 0 and ρ > 0.
#[must_use]
pub fn loss_from_coefficient(coefficient: f64, flow: f64, density: f64) -> Option<f64> {
    (coefficient >= 0.0 && all_positive(&[density]))
        .then(|| coefficient * flow * flow.abs() / density)
        .and_then(finite)
}

/// Shares of a flow taken by parallel branches that lose the same pressure at one density: each in
/// proportion to 1/√C.
///
/// `None` if a coefficient is not positive (a branch without loss would take all), or there is
/// none.
#[must_use]
pub fn parallel_shares(coefficients: &[f64]) -> Option<Vec<f64>> {
    if coefficients.is_empty() || !all_positive(coefficients) {
        return None;
    }
    let ease: Vec<f64> = coefficients.iter().map(|c| c.sqrt().recip()).collect();
    let total: f64 = ease.iter().sum();
    Some(ease.iter().map(|e| e / total).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_factor_is_continuous_over_the_passage() {
        for edge in [LAMINAR_LIMIT, TURBULENT_LIMIT] {
            let (a, b) = (darcy_factor(edge - 1e-6, 1e-4).unwrap(), darcy_factor(edge + 1e-6, 1e-4).unwrap());
            assert!((a - b).abs() < 1e-8);
            let (a, b) = (smooth_hose_factor(edge - 1e-6).unwrap(), smooth_hose_factor(edge + 1e-6).unwrap());
            assert!((a - b).abs() < 1e-8);
        }
    }

    #[test]
    fn colebrook_satisfies_its_equation_over_its_range() {
        for re in [2000.0, 1e4, 1e6, 1e8] {
            for rough in [0.0, 1e-5, 0.05] {
                let f = colebrook_factor(re, rough).unwrap();
                let left = 1.0 / f.sqrt() + 2.0 * (rough / 3.7 + 2.51 / (re * f.sqrt())).log10();
                assert!(left.abs() < 1e-10);
            }
        }
        assert_eq!(colebrook_factor(f64::NAN, 0.0), None);
        assert_eq!(colebrook_factor(1e5, 0.2), None);
    }

    #[test]
    fn no_flow_loses_nothing_and_reverse_flow_loses_backwards() {
        let still = pipe_loss(0.0, 0.05, 1.0, 1.5e-6, 1.2, 300.0).unwrap();
        assert_eq!((still.loss, still.factor), (0.0, 0.0));
        let (ahead, back) = (
            pipe_loss(0.1, 0.05, 1.0, 1.5e-6, 1.2, 300.0).unwrap(),
            pipe_loss(-0.1, 0.05, 1.0, 1.5e-6, 1.2, 300.0).unwrap(),
        );
        assert_eq!(ahead.loss, -back.loss);
        assert_eq!(pipe_loss(0.1, 0.0, 1.0, 1.5e-6, 1.2, 300.0), None);
    }

    #[test]
    fn bends_rise_with_angle_without_a_jump() {
        let mut last = 0.0;
        for angle in 1..=180 {
            let k = bend_k(1.5, f64::from(angle), 0.011).unwrap();
            assert!(k > last && k - last < 0.01, "{angle}: {last} {k}");
            last = k;
        }
        assert!((bend_k(1.5, 90.0, 0.019).unwrap() - 14.0 * 0.019).abs() < 1e-12);
        assert_eq!(bend_k(0.8, 90.0, 0.019), None);
        assert!((mitre_bend_k(90.0, 0.019).unwrap() - 60.0 * 0.019).abs() < 1e-12);
    }

    #[test]
    fn steps_are_those_stated_and_vanish_without_a_step() {
        assert!((contraction_k(1.0, 2.0).unwrap() - 0.375).abs() < 1e-12);
        assert!((enlargement_k(1.0, 2.0).unwrap() - 0.5625).abs() < 1e-12);
        assert_eq!(contraction_k(0.05, 0.05), Some(0.0));
        assert_eq!(enlargement_k(0.05, 0.05), Some(0.0));
        assert_eq!(contraction_k(0.06, 0.05), None);
    }

    #[test]
    fn coefficients_agree_with_dynamic_pressure() {
        let c = coefficient_from_k(0.7, 0.05).unwrap();
        let (flow, density) = (0.12, 1.9);
        let direct = 0.7 * dynamic_pressure(density, flow / (density * bore_area(0.05)));
        assert!((loss_from_coefficient(c, flow, density).unwrap() - direct).abs() < 1e-9);
        assert!((coefficient_from_reference(direct, flow, density).unwrap() / c - 1.0).abs() < 1e-12);
        assert_eq!(loss_from_coefficient(c, flow, 0.0), None);
        assert_eq!(parallel_shares(&[1.0, 0.0]), None);
    }
}

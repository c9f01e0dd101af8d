//! Promise: what comes in by a relief valve that stands open at idle is told as the share by which the mixture goes lean, and
//! that share follows from the balance of the valve and from the losses that an independent solve of the starter finds.

mod common;

use common::{BUILD_FILE, Example, STARTER, catalogue, text_of};
use serde_json::Value;
use tractwright::build::Build;
use tractwright::facts::{Scope, Sites};
use tractwright::known::{Datum, Known};
use tractwright::text::Change;
use tractwright::tract::SubjectKind;

/// λ at idle of the starter with a share of its air vented, and the site.
fn lambda(vented: &str, returned: &str) -> (f64, String) {
    let example = Example::read(STARTER);
    let ports = format!(
        "parts.relief.discharge=[ {{ to: air, share: {vented}, bore: 20 mm }}, {{ to: inlet-pipe, at: 200 mm, share: {returned}, bore: 32 mm }} ]"
    );
    let change = Change::parse_assignment(&ports).expect("a change");
    let build = Build::read(BUILD_FILE, &example.changed(&change), &example.files);
    let scope = Scope::new(&build);
    let valve = scope.tract().subjects(SubjectKind::ReliefValve).remove(0);
    match scope.fact(&valve, "lambda_idle", Sites::All) {
        Known::Is(Datum::Number(number)) => (number.v, number.at.expect("a site").site.to_string()),
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_leak_follows_from_the_balance_and_from_the_losses_of_the_independent_solve() {
    let kept: Value =
        serde_json::from_str(&text_of("tests/oracles/hill-climb.steady.json")).expect("the kept output");
    let number = |value: &Value| value.as_f64().expect("a number");
    let site = |one: &Value| {
        let (p, t, r) =
            (number(&one["site_pressure"]), number(&one["site_temperature"]), number(&one["gas_constant"]));
        let (point, area) = (&one["points"][0], std::f64::consts::FRAC_PI_4);
        // The charge on the seat, the outside on the ring, the manifold on the piston: at idle all but the manifold is outside air.
        let force = area * 0.031_f64.powi(2) * (p - 34e3) - 24.0;
        // In the valley it comes to its stop; beyond a quarter of the seat the seat itself is the narrowest place.
        let lift = (force / 2600.0).min(9e-3);
        let opened = (std::f64::consts::PI * 0.034 * lift).min(area * 0.034_f64.powi(2));
        // In a row with the vent's pipe of 20 mm: entry 0.5 and exit 1.0, no length.
        let (own, pipe) = (0.7 * 0.3 * opened, area * 0.020_f64.powi(2) / 1.5_f64.sqrt());
        let vents = own * pipe / own.hypot(pipe);
        let lost: f64 = ["filter", "meter-pipe", "air-meter", "inlet-pipe", "hot-pipe", "cooler"]
            .iter()
            .map(|part| number(&point["losses"][part]))
            .sum::<f64>()
            + number(&point["losses"]["cold-pipe"]) * 250.0 / 900.0;
        1.0 + vents * (2.0 * p / (r * t) * lost).sqrt() / number(&point["mass_flow"])
    };
    let expected = kept.as_array().expect("sites").iter().map(site).fold(0.0, f64::max);
    let (found, at) = lambda("30 %", "70 %");
    assert!((found - expected).abs() < 0.01 * (expected - 1.0), "{found} against {expected}");
    assert_eq!(at, "valley", "where the pull is hardest");
    assert!(expected > 1.03, "{expected}");
}

#[test]
fn what_vents_less_leaks_less_and_by_no_more_than_its_share() {
    let (ten, thirty) = (lambda("10 %", "90 %").0 - 1.0, lambda("30 %", "70 %").0 - 1.0);
    // The pipe of the vent, the same for both, holds the larger one back.
    assert!(ten > 0.0 && thirty > 1.5 * ten && thirty < 3.0 * ten, "{ten} {thirty}");
}

#[test]
fn the_finding_tells_it() {
    let example = Example::read("lesson");
    let review = example.review_with(&catalogue(), &example.root, &["relief-valve-open-at-idle"]);
    let says: Vec<&str> =
        review.results.iter().flat_map(|result| &result.marks).map(|mark| &*mark.says).collect();
    assert!(says.iter().any(|words| words.contains("times the air that the meter counts")), "{says:?}");
}

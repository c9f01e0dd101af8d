//! Promise: the ranges that cures find have the edges that closed forms give, all of them are told, and what a cure would
//! upset is said.

mod common;

use std::sync::Arc;

use common::Example;
use tractwright::build::Build;
use tractwright::facts::Scope;
use tractwright::model::Outcome;
use tractwright::output::cure_words;
use tractwright::review::{BuildVocabulary, FoundCure, FoundNumber, Options, Reviewer, Verdict};
use tractwright::rules::{Catalogue, embedded_files};
use tractwright::text::{Change, FileId, Node, Op};

const NEAR: f64 = 1e-6;

fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() <= NEAR * wanted.abs(), "{found} is not {wanted}");
}

/// The rules of the program, and one of the test's own.
fn catalogue(own: Option<&str>) -> Catalogue {
    let own = own.map(|text| ("placement/own-rule.yaml".to_owned(), text.to_owned()));
    let (catalogue, faulty) = Catalogue::load(embedded_files().chain(own), &BuildVocabulary);
    assert!(faulty.is_empty(), "{faulty:#?}");
    catalogue
}

/// A rule about relief valves.
fn own_rule(body: &str) -> String {
    format!(
        "id: own-rule\nfamily: placement\nstatus: in-force\nkind: fail\nlevel: warning\ntitle: Made for a test\n\
         for-each: relief-valve\n{body}\nplaces: [ {{ at: it, part: key, says: here }} ]\nwhy: for a test\n"
    )
}

fn change(assignments: &[&str]) -> Change {
    let all = assignments.iter().flat_map(|text| Change::parse_assignment(text).expect("a change").0);
    Change(all.collect::<Vec<Op>>())
}

/// The cures of a rule's one finding in a changed example.
fn cures(catalogue: &Catalogue, example: &Example, root: &Arc<Node>, rule: &str) -> Vec<FoundCure> {
    let options = Options { rules: vec![rule.to_owned()], cures: true, ..Options::default() };
    let review = Reviewer::new(catalogue, options).review(FileId(0), root, &example.files);
    let mut found = review.results.into_iter().filter(|result| result.verdict() == Verdict::Fail);
    let finding = found.next().unwrap_or_else(|| panic!("{rule} finds nothing"));
    assert!(found.next().is_none());
    finding.cures
}

fn only(cures: Vec<FoundCure>) -> (FoundCure, FoundNumber) {
    let [cure] = <[FoundCure; 1]>::try_from(cures).expect("one cure");
    let number = cure.number.clone().expect("a number");
    (cure, number)
}

#[test]
fn a_tap_passes_from_six_bores_on() {
    let example = Example::read("hill-climb");
    let root = example.changed(&change(&["parts.relief.tap={ part: hot-pipe, at: 60 mm }"]));
    let (cure, number) =
        only(cures(&catalogue(None), &example, &root, "relief-valve-near-compressor-outlet"));
    let [interval] = number.passing[..] else { panic!("one range: {:?}", number.passing) };
    near(interval.low, 6.0 * 0.051);
    near(interval.high, 5.0);
    near(number.to, 0.307);
    assert_eq!((cure.written.as_str(), cure.says.as_str()), ("307 mm", "move the tap 247 mm further on"));
    assert!(cure.proof.is_clean());
}

#[test]
fn a_share_passes_up_to_its_limit() {
    let rule = own_rule(
        "limits: { most: { value: 35 %, source: \"for a test\" } }\nfails-when: \"it.vent_share > limits.most\"\n\
         cures: [ { vary: \"it.discharge[0].share\", says: \"vent at most {{ to | % 1 }}\" } ]",
    );
    let example = Example::read("hill-climb");
    let ports = "parts.relief.discharge=[ { to: air, share: 60 % }, { to: inlet-pipe, share: 40 % } ]";
    let root = example.changed(&change(&[ports]));
    let (cure, number) = only(cures(&catalogue(Some(&rule)), &example, &root, "own-rule"));
    let [interval] = number.passing[..] else { panic!("one range: {:?}", number.passing) };
    assert_eq!(interval.low, 0.0);
    near(interval.high, 0.35);
    assert_eq!((cure.written.as_str(), cure.says.as_str()), ("35 %", "vent at most 35.0 %"));
}

#[test]
fn a_cooler_passes_from_the_effectiveness_of_its_equation_on() {
    let example = Example::read("hill-climb-a");
    let (cure, number) = only(cures(&catalogue(None), &example, &example.root, "charge-too-hot"));
    let [interval] = number.passing[..] else { panic!("one range: {:?}", number.passing) };
    near(interval.high, 0.98);
    // Where the charge arrives at 60 degC, effectiveness = (hot - 60 degC) / (hot - air outside), with the temperature
    // behind the compressor at that very point: the valley's, at 35 degC outside.
    let edge = format!("parts.cooler.effectiveness={:?}", interval.low);
    let root = example.changed(&change(&[&edge]));
    let build = Build::read(FileId(0), &root, &example.files);
    let steady = Scope::new(&build).steady();
    let valley = steady.sites.iter().find(|site| &*site.name == "valley").expect("the site");
    let points = valley.points.exact().expect("it is solved");
    let hottest = points.iter().filter_map(|point| match &point.outcome {
        Outcome::Solved(solution) => Some((solution.t_manifold, solution.t2)),
        _ => None,
    });
    let (arriving, hot) = hottest.max_by(|a, b| a.0.total_cmp(&b.0)).expect("a point");
    near(arriving, 333.15);
    near(interval.low, (hot - 333.15) / (hot - 308.15));
    assert!(number.to >= interval.low && number.to < interval.low + 0.001, "{}", number.to);
    assert!(cure.proof.is_clean());
}

#[test]
fn a_cap_lets_the_worst_point_just_reach_the_surge_line() {
    let example = Example::read("hill-climb-a");
    let catalogue = catalogue(None);
    let rule = "points-left-of-surge-line";
    let (cure, number) = only(cures(&catalogue, &example, &example.root, rule));
    let [interval] = number.passing[..] else { panic!("one range: {:?}", number.passing) };
    assert_eq!(interval.low, 0.0);
    near(number.now.expect("it is given"), 110_000.0);
    let at = |boost: f64| {
        let root = example.changed(&change(&[&format!("boost.\"2000 rpm\"={boost:?} Pa")]));
        let review = example.review_with(&catalogue, &root, &[rule]);
        example.number(&root, &review.results[0], "surge_margin_flow_min").v
    };
    assert!(at(interval.high) >= 0.0 && at(interval.high * (1.0 + NEAR)) < 0.0);
    // Rounded to less, never to more; and only the entry that stands above it is changed.
    assert!(number.to <= interval.high && number.to > 0.99 * interval.high);
    assert_eq!(cure.change.0.len(), 1);
    assert_eq!(cure.change.0[0].route().to_string(), "boost.\"2000 rpm\"");
    // The margin is then thinner than is wanted, which that rule could not say before.
    let [upset] = &cure.proof.upsets[..] else { panic!("{:?}", cure.proof) };
    assert_eq!(
        (&*upset.rule, upset.before, upset.after),
        ("surge-margin-thin", Some(Verdict::Silenced), Some(Verdict::Fail))
    );
    assert!(cure.proof.passes && upset.is_worse() && !cure.proof.is_clean());
    let words = cure_words::words(&cure);
    assert!(words.contains("checked: passes, but it upsets surge-margin-thin of parts.turbo"), "{words}");
}

#[test]
fn where_a_silenced_rule_wakes_a_further_cure_contents_it_too() {
    let example = Example::read("hill-climb");
    let catalogue = catalogue(None);
    let rule = "points-left-of-surge-line";
    let boost = "boost={ 3000 rpm: 0.9 bar, 4000 rpm: 1 bar, 7000 rpm: 0.95 bar }";
    let root = example.changed(&change(&[boost]));
    let [first, further] =
        <[FoundCure; 2]>::try_from(cures(&catalogue, &example, &root, rule)).expect("two cures");
    assert!(first.proof.passes && !first.proof.is_clean() && further.proof.is_clean());
    let margin = |cure: &FoundCure| {
        let [interval] = cure.number.as_ref().expect("a number").passing[..] else { panic!("one range") };
        let root = example.changed(&change(&[boost, &format!("boost.\"3000 rpm\"={:?} Pa", interval.high)]));
        let review = example.review_with(&catalogue, &root, &[rule]);
        example.number(&root, &review.results[0], "surge_margin_flow_min").v
    };
    assert!((0.0..NEAR).contains(&margin(&first)), "{}", margin(&first));
    assert!((0.1..0.1 + NEAR).contains(&margin(&further)), "{}", margin(&further));
}

#[test]
fn every_range_that_passes_is_told() {
    let rule = own_rule(
        "limits: { middle: { value: 0.5 m, source: \"for a test\" }, width: { value: 0.1 m, source: \"for a test\" } }\n\
         fails-when: \"abs(it.distance_from_compressor_outlet - limits.middle) < limits.width\"\n\
         cures: [ { vary: it.tap.at, says: \"go {{ by | mm 0 }}\" } ]",
    );
    let example = Example::read("hill-climb");
    let root = example.changed(&change(&["parts.relief.tap={ part: hot-pipe, at: 430 mm }"]));
    let (cure, number) = only(cures(&catalogue(Some(&rule)), &example, &root, "own-rule"));
    let [below, above] = number.passing[..] else { panic!("two ranges: {:?}", number.passing) };
    near(below.high, 0.4);
    near(above.low, 0.6);
    assert_eq!(number.ranges(), "0 to 400 mm or 600 to 5000 mm");
    let words = cure_words::words(&cure);
    assert!(words.contains("parts.relief.tap.at: 399 mm; what passes is 0 to 400 mm or"), "{words}");
}

#[test]
fn of_words_the_nearest_that_upsets_nothing_is_taken() {
    let example = Example::read("hill-climb-b");
    let catalogue = catalogue(None);
    let written = |rule: &str| {
        let [cure] =
            <[FoundCure; 1]>::try_from(cures(&catalogue, &example, &example.root, rule)).expect("one cure");
        assert!(cure.proof.is_clean(), "{:?}", cure.proof);
        (cure.route.to_string(), cure.written)
    };
    let pair = |route: &str, word: &str| (route.to_owned(), word.to_owned());
    assert_eq!(written("full-vent-with-air-meter"), pair("parts.relief.discharge[0].to", "inlet-pipe"));
    assert_eq!(written("relief-valve-signal-before-throttle"), pair("hoses.relief-signal.from", "manifold"));
    // Words stand in the order of preference; one that upsets another rule only if there is no better.
    let rule = |words: &str| {
        own_rule(&format!(
            "fails-when: \"it.vent_share > 0.5\"\n\
             cures: [ {{ set: \"it.discharge[0].to\", among: [ {words} ], says: return it }} ]"
        ))
    };
    let chosen = |words: &str| {
        let catalogue = self::catalogue(Some(&rule(words)));
        let [cure] = <[FoundCure; 1]>::try_from(cures(&catalogue, &example, &example.root, "own-rule"))
            .expect("one cure");
        (cure.written.clone(), cure.proof.is_clean())
    };
    assert_eq!(chosen("air, filter, inlet-pipe"), ("inlet-pipe".to_owned(), true));
    assert_eq!(chosen("air, filter, meter-pipe"), ("filter".to_owned(), false));
}

#[test]
fn what_cannot_be_cured_has_no_cure() {
    let rule = own_rule(
        "limits: { far: { value: 9 m, source: \"for a test\" } }\n\
         fails-when: \"it.distance_from_compressor_outlet < limits.far\"\n\
         cures: [ { vary: it.tap.at, says: \"to {{ to | mm 0 }}\" } ]",
    );
    let example = Example::read("hill-climb");
    assert!(cures(&catalogue(Some(&rule)), &example, &example.root, "own-rule").is_empty());
}

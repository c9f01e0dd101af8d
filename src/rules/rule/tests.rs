use super::*;
use crate::known::{At, Datum, Missing};
use crate::rules::Catalogue;
use crate::rules::testing::{Fake, Made};
use crate::text::{Dim, Route};

fn rule(text: &str) -> Arc<Rule> {
    let (catalogue, faulty) = Catalogue::load([("f/made.yaml".to_owned(), text.to_owned())], &Fake);
    assert!(faulty.is_empty(), "{faulty:?}");
    Arc::clone(&catalogue.rules()[0])
}

fn made_rule(conditions: &str) -> Arc<Rule> {
    rule(&format!(
        "id: made\nfamily: f\nstatus: in-force\nkind: fail\nlevel: error\ntitle: Made\nfor-each: relief-valve\n{conditions}\n\
         places: [ {{ at: it, says: here }} ]\nwhy: because\n"
    ))
}

const PLAIN: &str =
    "applies-when: \"it.signal_connected\"\ndoes-not-apply: no signal\nfails-when: \"it.vent_share > 0.5\"";

fn outcome(conditions: &str, made: &Made) -> Outcome {
    made_rule(conditions).judge(made).outcome
}

fn share(v: f64) -> Made {
    Made::default().number("vent_share", v, Dim::ONE).is("signal_connected", true)
}

fn missing(fields: &[&str]) -> Outcome {
    let fields = fields.iter().map(|field| Missing::field(&Route::root().key(field)));
    Outcome::Open(fields.fold(Missing::default(), Missing::join))
}

#[test]
fn where_it_does_not_apply_the_rule_says_why() {
    let never = |reason: &str| Outcome::NotApplicable(Reason::new(reason));
    assert_eq!(outcome(PLAIN, &share(0.9).is("signal_connected", false)), never("no signal"));
    assert_eq!(outcome(PLAIN, &share(0.9).never("signal_connected")), never("never"));
    assert_eq!(outcome(PLAIN, &share(0.9).never("vent_share")), never("never"));
}

#[test]
fn where_it_applies_the_condition_decides() {
    assert_eq!(outcome(PLAIN, &share(0.9)), Outcome::Fail);
    assert_eq!(outcome(PLAIN, &share(0.1)), Outcome::Pass);
    let unknown = Made::default().is("signal_connected", true);
    assert_eq!(outcome(PLAIN, &unknown), missing(&["vent_share"]));
}

#[test]
fn where_that_is_unknown_only_a_no_passes() {
    let unknown = Made::default();
    assert_eq!(outcome(PLAIN, &Made::default().number("vent_share", 0.1, Dim::ONE)), Outcome::Pass);
    assert_eq!(
        outcome(PLAIN, &Made::default().number("vent_share", 0.9, Dim::ONE)),
        missing(&["signal_connected"])
    );
    assert_eq!(outcome(PLAIN, &Made::default().never("vent_share")), missing(&["signal_connected"]));
    assert_eq!(outcome(PLAIN, &unknown), missing(&["signal_connected", "vent_share"]));
}

const THUMB: &str =
    "fails-when: \"it.vent_share > 0.5\"\nfallback: \"it.host_bore < it.distance_from_compressor_outlet\"";

#[test]
fn the_rule_of_thumb_speaks_only_where_the_computation_cannot() {
    let rule = made_rule(THUMB);
    let thumb = |bore: f64| {
        Made::default().number("host_bore", bore, Dim::LENGTH).number(
            "distance_from_compressor_outlet",
            1.0,
            Dim::LENGTH,
        )
    };
    let spoken = |made: &Made| {
        let judgement = rule.judge(made);
        (judgement.outcome, judgement.fallback_spoke, judgement.comparisons.len())
    };
    assert_eq!(spoken(&thumb(0.5)), (Outcome::Fail, true, 1));
    assert_eq!(spoken(&thumb(1.5)), (Outcome::Pass, true, 1));
    assert_eq!(spoken(&thumb(0.5).number("vent_share", 0.1, Dim::ONE)), (Outcome::Pass, false, 1));
    assert_eq!(spoken(&thumb(0.5).never("vent_share")).0, Outcome::NotApplicable(Reason::new("never")));
    // Where it does not decide either, what the computation misses is told, and all that was tried.
    let (undecided, spoke, comparisons) = spoken(&Made::default());
    assert_eq!((undecided, spoke, comparisons), (missing(&["vent_share"]), false, 2));
    assert_eq!(spoken(&thumb(0.5).never("host_bore")).0, missing(&["vent_share"]));
}

#[test]
fn the_solvers_error_marks_the_outcome() {
    let rule = made_rule(PLAIN);
    let solved =
        |v: f64| share(0.0).with("vent_share", Known::Is(Datum::Number(Num::pure(v).with_error(0.05))));
    let judged = |v: f64| {
        let judgement = rule.judge(&solved(v));
        (judgement.outcome, judgement.at_limit)
    };
    assert_eq!(judged(0.52), (Outcome::Fail, true));
    assert_eq!(judged(0.48), (Outcome::Pass, true));
    assert_eq!(judged(0.6), (Outcome::Fail, false));
}

#[test]
fn a_rule_that_hands_the_question_on_comes_to_review() {
    let text = "id: made\nfamily: f\nstatus: draft\nkind: review\nlevel: note\ntitle: Made\nfor-each: relief-valve\n\
                fails-when: \"it.vent_share > 0.5\"\nplaces: [ { at: it, says: here } ]\nwhy: because\n";
    let rule = rule(text);
    assert_eq!(rule.judge(&share(0.9)).outcome, Outcome::Review);
    assert_eq!(rule.judge(&share(0.1)).outcome, Outcome::Pass);
    assert!(!rule.is_in_force());
}

const BY_KEY: &str = "limits:\n  most: { by: it.signal_region, values: { manifold: 20 %, charge: 50 % }, source: made }\n\
                      fails-when: \"it.vent_share > limits.most\"";

#[test]
fn a_limit_by_key_follows_its_word() {
    let rule = made_rule(BY_KEY);
    let at = |region: &str| share(0.3).word("signal_region", region);
    assert_eq!(rule.judge(&at("manifold")).outcome, Outcome::Fail);
    assert_eq!(rule.judge(&at("charge")).outcome, Outcome::Pass);
    let Outcome::Open(missing) = rule.judge(&at("site")).outcome else { panic!("it must stay open") };
    assert_eq!(missing, Missing::hindrance("limit `most` has no value for `site`"));
    assert_eq!(rule.judge(&share(0.3)).outcome, self::missing(&["signal_region"]));
    let used = &rule.judge(&at("charge")).limits[0];
    assert_eq!(
        (used.key.as_deref(), &used.value, &used.instead_of),
        (Some("charge"), &Known::Is(Num::pure(0.5)), &None)
    );
}

#[test]
fn a_changed_limit_decides_and_is_told_beside_the_rules_own() {
    let rule = made_rule(BY_KEY);
    let judgement = rule.judge(&share(0.3).word("signal_region", "manifold").limit("most", Num::pure(0.4)));
    assert_eq!(judgement.outcome, Outcome::Pass);
    let [used] = judgement.limits.as_slice() else { panic!("one limit") };
    assert_eq!((&*used.name, &used.value), ("most", &Known::Is(Num::pure(0.4))));
    assert_eq!(used.instead_of, Some(Known::Is(Num::pure(0.2))));
    // In a wrong unit it decides nothing.
    let wrong = share(0.3).word("signal_region", "manifold").limit("most", Num::new(0.4, Dim::LENGTH));
    assert!(matches!(rule.judge(&wrong).outcome, Outcome::Open(_)));
}

#[test]
fn words_are_said_with_the_values_of_the_subject() {
    let rule = rule(
        "id: made\nfamily: f\nstatus: in-force\nkind: fail\nlevel: error\ntitle: Made\nfor-each: relief-valve\n\
         limits: { least: { value: 6, source: made } }\n\
         fails-when: \"it.distance_from_compressor_outlet < limits.least * it.host_bore\"\n\
         places:\n  - { at: it, says: \"{{ it.distance_from_compressor_outlet | mm 0 }} of {{ limits.least * it.host_bore | m 2 }}, \
         {{ it.vent_share | % 1 }}, {{ limits.least | 1 }}, {{ it.purpose }}, {{ it.attached }}\" }\n\
         cures: [ { vary: it.tap.at, says: \"{{ by | mm 0 }} further, to {{ to | mm 0 }}\" } ]\nwhy: because\n",
    );
    let made = Made::default()
        .between("distance_from_compressor_outlet", 0.0601, f64::INFINITY, Dim::LENGTH)
        .number("host_bore", 0.051, Dim::LENGTH)
        .number("vent_share", 0.3, Dim::ONE)
        .word("purpose", "tip-out")
        .never("attached");
    assert_eq!(
        rule.say(&rule.places[0].says, &made),
        "at least 60 mm of 0.31 m, 30.0 %, 6.0, tip-out, not applicable"
    );
    assert_eq!(
        rule.say(&rule.places[0].says, &Made::default().between("host_bore", 0.05, 0.06, Dim::LENGTH)),
        "not known of between 0.30 m and 0.36 m, not known, 6.0, not known, not known"
    );
    let says = rule.cures[0].says();
    let metres = |v: f64| Num::new(v, Dim::LENGTH);
    assert_eq!(rule.say_cure(says, &made, &metres(0.25), &metres(0.31)), "250 mm further, to 310 mm");
}

#[test]
fn the_worst_speed_of_a_fact_picks_the_entry_of_a_table() {
    let rule = rule(
        "id: made\nfamily: f\nstatus: in-force\nkind: fail\nlevel: error\ntitle: Made\nfor-each: relief-valve\n\
         fails-when: \"it.vent_share > 0.5\"\n\
         places: [ { at: build.boost, entry-for: it.vent_share, says: here } ]\nwhy: because\n",
    );
    let worst = |speed: Option<f64>| {
        let at = At { site: "home".into(), home: true, speed };
        Made::default().with("vent_share", Known::Is(Datum::Number(Num::pure(0.9).at(at))))
    };
    assert_eq!(rule.entry_speed(&rule.places[0], &worst(Some(50.0))), Some(50.0));
    assert_eq!(rule.entry_speed(&rule.places[0], &worst(None)), None);
    assert_eq!(rule.entry_speed(&rule.places[0], &Made::default()), None);
}

mod reading;

use super::*;
use crate::known::{At, Missing, Num, Truth};
use crate::rules::limit::Limit;
use crate::rules::testing::{Made, names};
use crate::text::Dim;

fn read(text: &str) -> Expression {
    Expression::read(text, names()).unwrap_or_else(|wrongs| panic!("{text}: {wrongs:?}"))
}

const NO_LIMITS: &[Limit] = &[];

fn verdict(text: &str, made: &Made) -> Verdict {
    read(text).decide(&Scene::new(made, NO_LIMITS))
}

fn truth(text: &str, made: &Made) -> Truth {
    verdict(text, made).truth
}

fn metres(v: f64) -> Num {
    Num::new(v, Dim::LENGTH)
}

const SHORT: &str = "it.distance_from_compressor_outlet < 6 * it.host_bore";

fn valve(distance: f64, bore: f64) -> Made {
    Made::default().number("distance_from_compressor_outlet", distance, Dim::LENGTH).number(
        "host_bore",
        bore,
        Dim::LENGTH,
    )
}

#[test]
fn whole_numbers_are_numbers_like_any_other() {
    let made = Made::default().number("vent_share", 0.3, Dim::ONE);
    assert_eq!(truth("1 / 4 < it.vent_share && it.vent_share * 2 < 1", &made), Truth::Yes);
}

#[test]
fn known_numbers_decide_on_either_side_of_the_limit() {
    assert_eq!(truth(SHORT, &valve(0.3, 0.051)), Truth::Yes);
    assert_eq!(truth(SHORT, &valve(0.306 + 1e-9, 0.051)), Truth::No);
    // The limit itself, in numbers that binary fractions hold exactly.
    assert_eq!(truth(SHORT, &valve(0.375, 0.0625)), Truth::No);
    assert_eq!(truth("it.vent_share <= 1", &Made::default().number("vent_share", 1.0, Dim::ONE)), Truth::Yes);
}

#[test]
fn a_bound_decides_where_all_of_it_lies_on_one_side() {
    let far = valve(0.0, 0.051).between("distance_from_compressor_outlet", 1.3, f64::INFINITY, Dim::LENGTH);
    assert_eq!(truth(SHORT, &far), Truth::No);
    let near = valve(0.0, 0.051).between("distance_from_compressor_outlet", 0.0, 0.2, Dim::LENGTH);
    assert_eq!(truth(SHORT, &near), Truth::Yes);
}

#[test]
fn a_bound_that_straddles_leaves_it_open_and_says_so() {
    let either = valve(0.0, 0.051).between("distance_from_compressor_outlet", 0.0, 0.7, Dim::LENGTH);
    let Truth::Open(missing) = truth(SHORT, &either) else { panic!("it must stay open") };
    assert_eq!(
        missing,
        Missing::hindrance("`it.distance_from_compressor_outlet` is known only to lie between 0 m and 0.7 m")
    );
    let above =
        valve(0.0, 0.051).between("distance_from_compressor_outlet", 0.25, f64::INFINITY, Dim::LENGTH);
    let Truth::Open(missing) = truth(SHORT, &above) else { panic!("it must stay open") };
    assert!(
        missing.hindrances.iter().any(|words| words.ends_with("known only to be at least 0.25 m")),
        "{missing:?}"
    );
}

#[test]
fn two_ranges_that_overlap_leave_it_open() {
    let both = Made::default().between("distance_from_compressor_outlet", 0.2, 0.3, Dim::LENGTH).between(
        "host_bore",
        0.04,
        0.06,
        Dim::LENGTH,
    );
    let Truth::Open(missing) = truth(SHORT, &both) else { panic!("it must stay open") };
    assert_eq!(missing.hindrances.len(), 2, "{missing:?}");
    for text in ["it.host_bore == it.host_bore", "it.host_bore != it.host_bore"] {
        assert!(matches!(truth(text, &both), Truth::Open(_)), "{text}");
    }
    assert_eq!(truth("it.distance_from_compressor_outlet != it.host_bore", &both), Truth::Yes);
}

#[test]
fn nought_among_others_takes_their_dimension() {
    for text in ["min(0, it.host_bore)", "max(0, -it.host_bore)", "0 + it.host_bore", "0 - it.host_bore"] {
        let value = read(text).value(&Scene::new(&valve(1.0, 0.05), NO_LIMITS));
        let Known::Is(Datum::Number(num)) = value else { panic!("{text}: {value:?}") };
        assert_eq!(num.dim, Dim::LENGTH, "{text}");
    }
}

#[test]
fn what_either_side_misses_is_told_together() {
    let Truth::Open(missing) = truth(SHORT, &Made::default()) else { panic!("it must stay open") };
    let fields: Vec<String> = missing.fields.iter().map(ToString::to_string).collect();
    assert_eq!(fields, ["distance_from_compressor_outlet", "host_bore"]);
}

#[test]
fn a_straddle_within_the_solvers_error_is_decided_and_marked() {
    let solved = |v: f64, err: f64| {
        Made::default().with("vent_share", Known::Is(Datum::Number(Num::pure(v).with_error(err))))
    };
    let yes = |at_limit| Verdict { truth: Truth::Yes, at_limit };
    assert_eq!(verdict("it.vent_share < 0.1", &solved(0.09, 0.02)), yes(true));
    assert_eq!(verdict("it.vent_share < 0.1", &solved(0.07, 0.02)), yes(false));
    assert_eq!(verdict("it.vent_share > 0.1", &solved(0.11, 0.02)), yes(true));
    assert_eq!(verdict("!(it.vent_share < 0.1)", &solved(0.11, 0.02)), yes(true));
    assert_eq!(verdict("it.vent_share < 0.1", &solved(0.09, 0.0)), yes(false));
    assert_eq!(
        verdict("it.vent_share <= 0.1", &solved(0.1, 0.0)),
        yes(false),
        "exactly at it, without any error"
    );
}

#[test]
fn one_firm_answer_makes_the_whole_firm() {
    let made = Made::default()
        .with("vent_share", Known::Is(Datum::Number(Num::pure(0.11).with_error(0.02))))
        .is("attached", false)
        .is("in_tract", true);
    let no = |at_limit| Verdict { truth: Truth::No, at_limit };
    assert_eq!(verdict("it.vent_share < 0.1 && it.attached", &made), no(false));
    assert_eq!(verdict("it.vent_share < 0.1 && it.in_tract", &made), no(true));
    assert!(!verdict("it.vent_share > 0.1 || it.in_tract", &made).at_limit);
    assert!(verdict("it.vent_share > 0.1 || it.attached", &made).at_limit);
}

#[test]
fn no_number_never_decides() {
    for broken in [f64::NAN, f64::INFINITY] {
        let made = valve(broken, 0.0).number("vent_share", broken, Dim::ONE);
        let text = "it.vent_share - it.vent_share < 1";
        assert!(matches!(truth(text, &made), Truth::Open(_)), "{broken}");
        assert!(matches!(truth(&format!("!({text})"), &made), Truth::Open(_)), "{broken}");
    }
    let made = valve(1.0, 0.0);
    for text in
        ["it.distance_from_compressor_outlet / it.host_bore > 6", "1 / 0 > 6", "0 / 0 == 1", "0 / 0 != 1"]
    {
        assert!(matches!(truth(text, &made), Truth::Open(_)), "{text}");
    }
}

#[test]
fn a_no_or_yes_that_settles_it_wins_over_what_is_unknown() {
    let made = Made::default().is("attached", false);
    assert_eq!(truth("it.attached && it.in_tract", &made), Truth::No);
    assert_eq!(truth("it.in_tract && it.attached", &made), Truth::No);
    assert_eq!(truth("it.in_tract || !it.attached", &made), Truth::Yes);
    assert!(matches!(truth("it.in_tract || it.attached", &made), Truth::Open(_)));
}

#[test]
fn once_it_is_settled_the_rest_is_not_asked() {
    let made = Made::default().is("attached", false).number("vent_share", 0.3, Dim::ONE);
    let scene = Scene::new(&made, NO_LIMITS);
    read("it.attached && it.vent_share > 0.1").decide(&scene);
    assert_eq!(scene.take_comparisons(), []);
    read("!it.attached && it.vent_share > 0.1").decide(&scene);
    assert_eq!(scene.take_comparisons().len(), 1);
}

#[test]
fn what_does_not_apply_is_weaker_than_no_and_than_unknown() {
    let made = Made::default().never("vent_share").is("attached", false);
    assert!(matches!(truth("it.vent_share > 0", &made), Truth::NotApplicable(_)));
    assert_eq!(truth("it.vent_share > 0 && it.attached", &made), Truth::No);
    assert!(matches!(truth("it.vent_share > 0 && it.in_tract", &made), Truth::Open(_)));
    assert!(matches!(truth("it.vent_share + it.host_bore / it.host_bore > 0", &made), Truth::Open(_)));
}

#[test]
fn least_and_greatest_pass_over_what_does_not_apply_unless_nothing_does() {
    let made = valve(2.0, 0.5).never("vent_share");
    assert_eq!(truth("min(it.vent_share, 3) == 3 && max(it.vent_share, 3) == 3", &made), Truth::Yes);
    assert!(matches!(truth("min(it.vent_share, it.vent_share) > 0", &made), Truth::NotApplicable(_)));
    assert_eq!(
        truth("min(it.distance_from_compressor_outlet, it.host_bore) == it.host_bore", &made),
        Truth::Yes
    );
}

#[test]
fn an_unknown_one_can_only_lower_the_least_and_raise_the_greatest() {
    let made = Made::default().number("distance_from_compressor_outlet", 0.2, Dim::LENGTH);
    let least = "min(it.distance_from_compressor_outlet, it.host_bore)";
    let twice = "2 * it.distance_from_compressor_outlet";
    assert_eq!(truth(&format!("{least} < {twice}"), &made), Truth::Yes);
    let Truth::Open(missing) = truth(&format!("{least} * 2 < it.distance_from_compressor_outlet"), &made)
    else {
        panic!("it must stay open")
    };
    assert_eq!(missing.fields.len(), 1, "the missing field is named: {missing:?}");
    assert_eq!(truth(&format!("max(0, it.host_bore, {twice}) >= {twice}"), &made), Truth::Yes);
}

#[test]
fn conditions_are_compared_as_conditions() {
    let made = Made::default().is("attached", true).is("in_tract", false);
    assert_eq!(truth("it.attached == !it.in_tract && it.attached != it.in_tract", &made), Truth::Yes);
    assert!(matches!(truth("it.attached == it.signal_connected", &made), Truth::Open(_)));
    assert_eq!(truth("it.attached == true", &made), Truth::Yes);
}

#[test]
fn words_are_looked_up_in_a_list() {
    let made = Made::default().word("signal_region", "charge");
    assert_eq!(truth("it.signal_region in ['manifold', 'runner']", &made), Truth::No);
    assert_eq!(truth("it.signal_region in ['charge']", &made), Truth::Yes);
    assert!(matches!(truth("it.purpose in ['charge']", &made), Truth::Open(_)));
}

#[test]
fn comparisons_are_kept_with_both_numbers_and_the_margin() {
    let made = valve(0.06, 0.051);
    let scene = Scene::new(&made, NO_LIMITS);
    read(SHORT).decide(&scene);
    let all = scene.take_comparisons();
    let [made] = all.as_slice() else { panic!("one comparison: {all:?}") };
    assert_eq!(
        (&*made.left.text, made.relation.sign(), &*made.right.text),
        ("it.distance_from_compressor_outlet", "<", "6 * it.host_bore")
    );
    assert_eq!(made.left.value, Known::Is(Datum::Number(metres(0.06))));
    let Known::Is(margin) = made.margin() else { panic!("a margin") };
    assert!((margin.v - (0.06 - 0.306)).abs() < 1e-12, "below nought where the fault is there");
    assert_eq!(margin.dim, Dim::LENGTH);
}

#[test]
fn a_margin_is_above_nought_on_the_good_side_whichever_way_it_is_written() {
    let made = valve(0.5, 0.051).number("vent_share", 0.3, Dim::ONE);
    for text in [
        "it.vent_share < 0.1",
        "it.vent_share > 0.5",
        "!(it.vent_share > 0.1)",
        "!(it.vent_share <= 0.5)",
        "0.1 >= it.vent_share",
    ] {
        let scene = Scene::new(&made, NO_LIMITS);
        assert_eq!(read(text).decide(&scene).truth, Truth::No, "{text}");
        let all = scene.take_comparisons();
        let Known::Is(margin) = all[0].margin() else { panic!("a margin") };
        assert!((margin.v - 0.2).abs() < 1e-12, "{text}: {margin:?}");
    }
}

#[test]
fn a_result_keeps_where_it_is_worst() {
    let at = At { site: "summit".into(), home: false, speed: Some(50.0) };
    let made = valve(0.5, 0.05).with("vent_share", Known::Is(Datum::Number(Num::pure(0.2).at(at.clone()))));
    for text in
        ["it.vent_share * 2", "1 - it.vent_share", "max(0.1, it.vent_share)", "it.host_bore / it.vent_share"]
    {
        let value = read(text).value(&Scene::new(&made, NO_LIMITS));
        let Known::Is(Datum::Number(num)) = value else { panic!("{text}: {value:?}") };
        assert_eq!(num.at.as_ref(), Some(&at), "{text}");
    }
}

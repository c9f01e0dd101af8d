//! Promise: a relief valve of which little is known yet is answered with what it needs: each question that stays open tells the
//! numbers that can be known all the same.

mod common;
mod running;

use common::{STARTER, text_of};
use running::run;
use tempfile::TempDir;

/// The starter with its relief valve described so far and no further, with or without its signal hose.
fn bench(described: &str, hose: bool) -> TempDir {
    bench_with(&format!("    tap: {{ part: cold-pipe, at: 250 mm }}\n{described}"), hose)
}

/// The same with nothing said but its kind and what it is there for.
fn bench_with(described: &str, hose: bool) -> TempDir {
    let starter = text_of(&format!("examples/{STARTER}.yaml"));
    let from = starter.find("  relief: ").expect("the valve");
    let to = starter.find("  boost-sensor:").expect("what follows it");
    let valve = format!("  relief:\n    kind: relief-valve\n    purpose: tip-out\n{described}");
    let text = format!("{}{valve}{}", &starter[..from], &starter[to..]);
    let kept = |line: &&str| hose || !line.starts_with("  relief-signal:");
    let text = text.lines().filter(kept).fold(String::new(), |all, line| all + line + "\n");
    running::bench(&text)
}

fn review(bench: &TempDir, rules: &[&str]) -> String {
    let mut arguments = vec!["review", "build.yaml", "--width", "100"];
    arguments.extend(rules.iter().flat_map(|rule| ["--rule", rule]));
    run(bench.path(), &arguments).out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The number in front of a unit behind some words.
fn number(out: &str, words: &str) -> f64 {
    let at = out.find(words).unwrap_or_else(|| panic!("no `{words}` in {out}")) + words.len();
    let number = out[at..].split_whitespace().next().expect("a number");
    number.parse().unwrap_or_else(|_| panic!("{number} behind {words}"))
}

const SMALL: &str = "relief-valve-too-small";
const OPEN: &str = "relief-valve-open-at-full-throttle";
const LATE: &str = "relief-valve-opens-too-late";
const WINDOW: &str = "relief-valve-preload-window-empty";
const NEAR: &str = "relief-valve-near-compressor-outlet";

#[test]
fn with_nothing_but_its_place_the_seat_and_the_time_are_told() {
    let out = review(&bench("", false), &[SMALL, LATE]);
    assert!(out.contains(&format!("{SMALL} of relief: needs")), "{out}");
    let seat = number(&out, "known so far: a seat of");
    let lift = number(&out, "lifted by");
    let area = number(&out, "has the");
    // With the usual coefficient of 0.7; to the digits that are told.
    assert!((0.7 * std::f64::consts::FRAC_PI_4 * seat * seat - area).abs() < 0.01 * area, "{out}");
    assert!((lift - seat / 4.0).abs() < 0.06, "{out}");
    // The starter's seat of 34 mm is more than is needed, half of it is not.
    assert!(seat > 17.0 && seat < 34.0, "{out}");
    // An independent run without a valve comes to the surge line after 76 ms from the highest boost at home.
    let time = number(&out, "the flow comes to the surge line");
    assert!((30.0..=78.0).contains(&time), "{out}");
}

/// What is told for a valve without a seat just passes with it, and not with a tenth of a millimetre less.
#[test]
fn the_seat_that_is_told_is_the_least_that_passes() {
    let rest = "    actuation: pneumatic\n    piston: 31 mm\n    discharge: [ { to: inlet-pipe, at: 200 mm, share: 100 %, bore: 32 mm } ]\n    lift: 9 mm\n";
    let seat = number(&review(&bench(rest, true), &[SMALL]), "known so far: a seat of");
    let with = |seat: f64| review(&bench(&format!("{rest}    seat: {seat:.2} mm\n"), true), &[SMALL]);
    assert!(with(seat + 0.06).contains("No finding"), "{}", with(seat + 0.06));
    assert!(with(seat - 0.06).contains("1 error"), "{}", with(seat - 0.06));
}

#[test]
fn with_seat_and_piston_the_least_preload_is_told_and_with_rate_and_lift_the_window() {
    let areas = "    actuation: pneumatic\n    seat: 34 mm\n    piston: 31 mm\n    discharge: [ { to: inlet-pipe, at: 200 mm, share: 100 %, bore: 32 mm } ]\n";
    let least =
        number(&review(&bench(areas, true), &[WINDOW]), "known so far: to stay shut it needs a preload of");
    // An independent calculation of the starter has a window from 15.7 to 65 N, with nothing vented.
    assert!((least - 15.7).abs() < 1.0, "{least}");
    let all = format!("{areas}    spring: {{ rate: 2.6 N/mm }}\n    lift: 9 mm\n");
    let out = review(&bench(&all, true), &[OPEN]);
    let (low, high) = (number(&out, "with a preload between"), number(&out, ") and"));
    assert!((low - 15.7).abs() < 0.5 && (high - 65.0).abs() < 3.0, "{out}");
    let preload = |force: f64| {
        review(&bench(&all.replace("N/mm }", &format!("N/mm, preload: {force:.1} N }}")), true), &[WINDOW])
    };
    assert!(preload(0.5 * (low + high)).contains("No finding"));
}

/// Nothing but its kind, or its seat alone: area, window, hose and place are told, and what was taken for them.
#[test]
fn of_a_valve_with_a_seat_or_none_area_window_hose_and_place_are_told() {
    for described in ["", "    seat: 34 mm\n"] {
        let out = review(&bench_with(described, false), &[SMALL, LATE, WINDOW, NEAR]);
        let seat = number(&out, "known so far: a seat of");
        assert!((17.0..34.0).contains(&seat), "{out}");
        // Six bores of the 51 mm pipe behind the compressor.
        assert!(out.contains("a tap at least 306 mm behind the compressor outlet"), "{out}");
        let (least, most) = (number(&out, "its spring has to hold"), number(&out, "needed no more than"));
        // With piston and seat alike the pressures at full throttle nearly cancel: the manifold lies a little lower than the
        // charge ahead of the throttle, by what throttle and half a pipe take.
        assert!(least > 0.0 && least < 10.0 && most > 20.0, "{described}: {least} {most}");
        let hose = number(&out, "a signal hose of 5 mm bore from the manifold may be");
        // Sound takes 3 ms a metre, and a tenth of some 70 ms is there.
        assert!((0.2..2.5).contains(&hose), "{hose}");
        for taken in ["a tap close ahead of what shuts", "a signal from the manifold"] {
            assert!(out.contains(taken), "{taken}: {out}");
        }
    }
}

/// The edges told for a piston as large as the seat are those of the window once such a piston, a rate and a lift are given:
/// the upper one less what the rate adds over the lift that is needed.
#[test]
fn what_the_spring_may_hold_is_the_window_of_the_valve_then_described() {
    let rest = "    actuation: pneumatic\n    seat: 34 mm\n    discharge: [ { to: inlet-pipe, at: 200 mm, share: 100 %, bore: 32 mm } ]\n    lift: 9 mm\n";
    let told = review(&bench(rest, true), &[WINDOW]);
    let (least, most) = (number(&told, "its spring has to hold"), number(&told, "needed no more than"));
    let soft = format!("{rest}    piston: 34 mm\n    spring: {{ rate: 0.001 N/mm }}\n");
    let out = review(&bench(&soft, true), &[OPEN]);
    let (low, high) = (number(&out, "with a preload between"), number(&out, ") and"));
    assert!((low - least).abs() < 0.11 && (high - most).abs() < 0.11, "{told} {out}");
}

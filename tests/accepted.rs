//! Promise: an accepted finding still counts as a finding and is said, makes no check fail and silences nothing; an entry
//! that is stale, expired or not in order is told at its place.

mod running;

use std::path::Path;

use running::{CLUB, example_house, notices, replace, results, reviewed, run};
use serde_json::Value;

const HEARD: &str = "relief-valve-heard-in-paddock";

/// A review of the club's build in which warnings count.
fn warned(folder: &Path, more: &[&str]) -> (Option<i32>, Value) {
    reviewed(folder, &[&[CLUB, "--fail-on", "warning"], more].concat())
}

fn is_accepted(document: &Value) -> bool {
    let found = results(document, HEARD);
    assert_eq!((found.len(), &found[0]["kind"]), (1, &Value::from("fail")));
    !found[0]["accepted"].is_null()
}

#[test]
fn an_accepted_finding_counts_and_makes_no_check_fail() {
    let house = example_house();
    let (status, document) = warned(house.path(), &[]);
    assert_eq!(status, Some(0));
    let result = results(&document, HEARD)[0];
    assert_eq!(result["level"], "warning");
    assert_eq!(result["accepted"]["by"], "B. Example");
    assert_eq!(result["accepted"]["until"], "2027-03-31");
    let tally = &document["builds"][0]["tally"];
    assert_eq!((&tally["fail"], &tally["accepted"]), (&Value::from(1), &Value::from(1)));

    let text = run(house.path(), &["review", CLUB, "--width", "200"]).out;
    assert!(text.contains("1 finding (1 accepted)"), "{text}");
    assert!(text.contains("accepted by B. Example until 2027-03-31, because the first"), "{text}");
    assert!(!text.contains("goes to the open air"), "no frame is drawn: {text}");

    replace(house.path(), CLUB, "part: relief\n", "part: throttle\n");
    let (status, document) = warned(house.path(), &[]);
    assert_eq!((status, is_accepted(&document)), (Some(1), false));
}

#[test]
fn it_holds_until_its_day_and_only_a_given_day_ends_it() {
    let house = example_house();
    for (today, holds) in
        [(None, true), (Some("2027-03-30"), true), (Some("2027-03-31"), true), (Some("2027-04-01"), false)]
    {
        let more: Vec<&str> = today.into_iter().flat_map(|day| ["--today", day]).collect();
        let (status, document) = warned(house.path(), &more);
        assert_eq!(is_accepted(&document), holds, "{today:?}");
        assert_eq!(status, Some(if holds { 0 } else { 1 }), "{today:?}");
        let expired = notices(&document, "accepted-expired");
        assert_eq!(expired.len(), usize::from(!holds), "{today:?}");
        assert_eq!(notices(&document, "accepted-undated").len(), usize::from(today.is_none()), "{today:?}");
        for notice in expired {
            assert_eq!(notice["place"]["line"], 59, "the day itself is marked");
        }
    }
    let none = run(house.path(), &["review", CLUB, "--today", "2027-02-29"]);
    assert_eq!(none.status, Some(2), "{}", none.err);
}

#[test]
fn an_entry_that_accepts_nothing_is_stale() {
    let house = example_house();
    replace(house.path(), CLUB, "share: 30 %", "share: 3 %");
    replace(house.path(), CLUB, "share: 70 %", "share: 97 %");
    let (_, document) = reviewed(house.path(), &[CLUB]);
    let stale = notices(&document, "accepted-stale");
    assert_eq!(stale.len(), 1);
    assert!(stale[0]["message"].as_str().expect("text").contains("not there any more"), "{stale:?}");
    assert_eq!(stale[0]["level"], "note");

    let house = example_house();
    replace(house.path(), CLUB, "part: relief\n", "part: releif\n");
    let (_, document) = reviewed(house.path(), &[CLUB]);
    let stale = notices(&document, "accepted-stale");
    assert_eq!(stale.len(), 1);
    assert!(stale[0]["message"].as_str().expect("text").contains("is not asked of"), "{stale:?}");
    // Of a rule that was not asked nothing can be said.
    for more in [["--rule", "breather-nowhere"], ["--without", HEARD]] {
        let (_, document) = reviewed(house.path(), &[&[CLUB], &more[..]].concat());
        assert!(notices(&document, "accepted-stale").is_empty(), "{more:?}");
    }
}

#[test]
fn a_place_is_that_very_place_and_a_part_all_of_it() {
    for (on, holds) in [
        ("place: parts.relief", true),
        ("place: parts.relief.discharge", true),
        ("place: parts.relief.tap", false),
        ("place: parts", false),
        ("part: relief", true),
        ("part: rel", false),
    ] {
        let folder = example_house();
        replace(folder.path(), CLUB, "part: relief\n", &format!("{on}\n"));
        assert_eq!(is_accepted(&warned(folder.path(), &[]).1), holds, "{on}");
    }
}

#[test]
fn what_is_not_in_order_is_told_at_its_place_and_does_not_hold() {
    let entry = "  - rule: relief-valve-heard-in-paddock\n";
    for (from, to, says, line) in [
        (
            entry,
            "  - rule: relief-valve-heard-in-padock\n",
            "did you mean `relief-valve-heard-in-paddock`?",
            55,
        ),
        ("    by: B. Example\n", "", "lacks its `by`", 55),
        ("    by: B. Example\n", "    by: B. Exampel\n", "did you mean `B. Example`?", 58),
        ("    by: B. Example\n", "    by: Somebody Else\n", "the house names A. Example, B. Example", 58),
        (
            "    because: \"the first meeting is on a field, without neighbours\"\n",
            "    because: \"\"\n",
            "lacks its `because`",
            57,
        ),
        ("    part: relief\n", "", "either a `part` or a `place`", 55),
        (
            "    part: relief\n",
            "    part: relief\n    place: parts.relief\n",
            "either a `part` or a `place`",
            55,
        ),
        ("2027-03-31", "2027-02-30", "is not a day of the calendar", 59),
        ("    until:", "    untill:", "did you mean `until`?", 59),
    ] {
        let house = example_house();
        replace(house.path(), CLUB, from, to);
        let (status, document) = reviewed(house.path(), &[CLUB]);
        assert_eq!(status, Some(2), "{to}");
        let faults = document["builds"][0]["faults"].as_array().expect("faults");
        let told = |fault: &&Value| {
            fault["message"].to_string().contains(says) || fault["help"].to_string().contains(says)
        };
        let found: Vec<&Value> = faults.iter().filter(told).collect();
        assert_eq!(found.len(), 1, "{to}: {faults:#?}");
        assert_eq!(found[0]["place"]["line"], line, "{to}");
        if !from.contains("rule:") {
            assert!(!is_accepted(&document), "{to}");
        }
    }
}

#[test]
fn an_accepted_finding_silences_nothing() {
    let house = example_house();
    let rule = |id: &str, silences: &str| {
        format!(
            "id: {id}\nfamily: placement\nstatus: in-force\nkind: fail\nlevel: warning\ntitle: Made\nfor-each: relief-valve\n\
             fails-when: \"it.vent_share > 20 / 100\"\nsilences: [ {silences} ]\nplaces:\n  - {{ at: it, says: made }}\nwhy: Made.\n"
        )
    };
    running::write(house.path(), "rules/placement/loud.yaml", &rule("loud", "quiet"));
    running::write(house.path(), "rules/placement/quiet.yaml", &rule("quiet", ""));
    let (_, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(results(&document, "quiet")[0]["kind"], "silenced");
    replace(house.path(), CLUB, "accepted: ", "accepted: #");
    replace(
        house.path(),
        CLUB,
        "  - rule: relief-valve-heard",
        "  - { rule: loud, part: relief, because: made, by: A. Example }\n  - rule: relief-valve-heard",
    );
    let (_, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(results(&document, "quiet")[0]["kind"], "fail");
}

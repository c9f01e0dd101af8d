//! Promise: the house file at the root of the builds changes limits, levels, settings and rules for all of them, in the
//! open: each result says which file decided, what is loosened is told with what it hides, and what is locked stays.

mod running;

use std::fs;
use std::path::Path;

use running::{CLUB, example_house, hidden, notices, project, replace, results, reviewed, run, write};
use serde_json::Value;
use tempfile::TempDir;

const HOUSE: &str = "tractwright.yaml";
const NEAR: &str = "relief-valve-near-compressor-outlet";
const OWN: &str = "rules/placement/relief-valve-heard-in-paddock.yaml";
const HEARD: &str = "relief-valve-heard-in-paddock";

/// A folder with a house file and the club's build, which names no house of its own.
fn under(house: &str) -> TempDir {
    let folder = example_house();
    fs::remove_dir_all(folder.path().join("rules")).expect("the rules are there");
    write(folder.path(), HOUSE, house);
    let text = fs::read_to_string(folder.path().join(CLUB)).expect("the build");
    let kept = text.split("\naccepted:").next().expect("a text");
    write(folder.path(), CLUB, kept);
    folder
}

fn text<'v>(value: &'v Value, key: &str) -> &'v str {
    value[key].as_str().unwrap_or_else(|| panic!("{key} of {value}"))
}

#[test]
fn a_loosened_limit_is_told_with_what_it_hides_at_the_line_of_the_house_file() {
    let house = example_house();
    let (status, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(status, Some(0));
    let loosened = notices(&document, "limit-loosened");
    assert_eq!(loosened.len(), 1);
    assert_eq!(hidden(loosened[0]), [(NEAR, "fail")]);
    let message = text(loosened[0], "message");
    assert!(message.contains("from 6 bores to 4 diameters, because our hot pipes are short"), "{message}");
    assert_eq!(loosened[0]["place"]["file"], HOUSE);
    assert_eq!(loosened[0]["place"]["line"], 12);

    let result = results(&document, NEAR)[0];
    assert_eq!(result["kind"], "pass");
    let limit = &result["limits"][0];
    assert_eq!((text(limit, "decided-by"), &limit["value"]["number"]["value"]), ("house", &Value::from(4.0)));
    assert_eq!(limit["instead-of"]["number"]["value"], 6.0);
    assert!(text(limit, "because").contains("short"));

    // Put where it hides nothing it is told in a line; a tightened one, and one that this build never meets, is not.
    replace(house.path(), CLUB, "at: 220 mm", "at: 400 mm");
    let said = run(house.path(), &["review", CLUB, "--width", "300"]).out;
    assert!(said.contains("Note: the house loosens clear-length"), "{said}");
    assert!(said.contains("that hides nothing here"), "{said}");
    assert!(!said.contains("surge-margin-thin from"), "{said}");
    let house = under(&format!(
        "format: 1\nlimits: {{ {NEAR}: {{ clear-length: {{ value: 9 diameters, because: made }} }} }}\n"
    ));
    let (_, document) = reviewed(house.path(), &[CLUB]);
    assert!(notices(&document, "limit-loosened").is_empty());
    assert_eq!(results(&document, NEAR)[0]["kind"], "fail");
}

#[test]
fn the_build_goes_before_the_house_unless_the_house_locks() {
    let change =
        format!("\nlimits: {{ {NEAR}: {{ clear-length: {{ value: 5 diameters, because: ours }} }} }}\n");
    let house = under(&format!(
        "format: 1\nlimits: {{ {NEAR}: {{ clear-length: {{ value: 4 diameters, because: theirs }} }} }}\n"
    ));
    let build = fs::read_to_string(house.path().join(CLUB)).expect("the build") + &change;
    write(house.path(), CLUB, &build);
    let (_, document) = reviewed(house.path(), &[CLUB]);
    let limit = &results(&document, NEAR)[0]["limits"][0];
    assert_eq!((text(limit, "decided-by"), text(limit, "because")), ("build", "ours"));
    assert_eq!(results(&document, NEAR)[0]["kind"], "fail", "4.4 bores are less than 5");
    let loosened = notices(&document, "limit-loosened");
    assert_eq!((loosened.len(), loosened[0]["place"]["file"].as_str()), (1, Some(CLUB)));

    replace(house.path(), HOUSE, "because: theirs", "because: theirs, lock: true");
    let (status, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(status, Some(2));
    let fault = &document["builds"][0]["faults"][0];
    assert_eq!(
        text(fault, "message"),
        format!("the house has locked limit clear-length of {NEAR} at 4 diameters")
    );
    assert_eq!((text(&fault["place"], "file"), text(&fault["also"][0]["place"], "file")), (CLUB, HOUSE));
    assert_eq!(results(&document, NEAR)[0]["limits"][0]["decided-by"], "house", "what is locked holds");

    let house =
        under("format: 1\nsettings: { pipe-roughness: { value: 0.01 mm, because: theirs, lock: true } }\n");
    let build = fs::read_to_string(house.path().join(CLUB)).expect("the build");
    write(
        house.path(),
        CLUB,
        &(build + "\nsettings: { pipe-roughness: { value: 0.02 mm, because: ours } }\n"),
    );
    let (status, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(status, Some(2));
    assert!(
        text(&document["builds"][0]["faults"][0], "message").contains("setting pipe-roughness at 0.01 mm")
    );
}

#[test]
fn a_level_is_changed_and_a_rule_switched_off_in_the_open() {
    let level = |level: &str| {
        under(&format!("format: 1\nlevels: {{ {NEAR}: {{ level: {level}, because: made }} }}\n"))
    };
    let raised = reviewed(level("error").path(), &[CLUB]);
    let result = results(&raised.1, NEAR)[0];
    assert_eq!(raised.0, Some(1));
    assert_eq!(
        (text(result, "level"), text(result, "own-level"), text(result, "level-decided-by")),
        ("error", "warning", "house")
    );
    assert!(notices(&raised.1, "level-lowered").is_empty());

    let (status, lowered) = reviewed(level("note").path(), &[CLUB, "--fail-on", "warning"]);
    assert_eq!(status, Some(0));
    assert_eq!(hidden(notices(&lowered, "level-lowered")[0]), [(NEAR, "fail")]);
    assert_eq!(results(&lowered, NEAR)[0]["kind"], "fail");

    let (_, off) = reviewed(level("off").path(), &[CLUB]);
    assert!(results(&off, NEAR).is_empty());
    assert_eq!(hidden(notices(&off, "rule-switched-off")[0]), [(NEAR, "fail")]);
    assert_eq!(off["builds"][0]["switched-off"][0]["rule"], NEAR);
    let tally = &off["builds"][0]["tally"];
    assert_eq!(tally["rules-switched-off"], 1);
    let count = |key: &str| tally[key].as_u64().expect("a count");
    let sum = ["fail", "review", "pass", "open", "not-applicable", "silenced"].map(count).iter().sum::<u64>();
    assert_eq!(count("results"), sum);
    assert_eq!(count("results") + 1, raised.1["builds"][0]["tally"]["results"].as_u64().expect("a count"));
}

#[test]
fn a_changed_setting_is_named_by_results_and_told_where_it_hides() {
    let house = under("format: 1\nsettings: { efficiency-without-map: { value: 95 %, because: made } }\n");
    // A build whose charge is too hot, with a surge line in the place of its map.
    let text = fs::read_to_string(project().join("examples/hill-climb-a.yaml")).expect("the example");
    let line = "surge-line: [ [ 0.02 kg/s, 1.2 ], [ 0.05 kg/s, 1.6 ], [ 0.1 kg/s, 3 ] ], reference-temperature: 25 degC, reference-pressure: 101.325 kPa abs";
    let text = text.replace("map: maps/invented-a.csv", line);
    assert!(text.contains(line));
    write(house.path(), CLUB, &text);
    let (_, document) = reviewed(house.path(), &[CLUB]);
    let told = notices(&document, "setting-changed");
    assert_eq!(told.len(), 1);
    assert_eq!(hidden(told[0]), [("charge-too-hot", "fail")]);
    let setting = &results(&document, "charge-too-hot")[0]["settings"][0];
    assert_eq!(
        (setting["name"].as_str(), setting["decided-by"].as_str()),
        (Some("efficiency-without-map"), Some("house"))
    );
    let traced =
        run(house.path(), &["review", CLUB, "--trace", "manifold_temperature_max", "--width", "200"]).out;
    assert!(
        traced.contains("setting efficiency-without-map: 95 %, set by the house, because made"),
        "{traced}"
    );
}

#[test]
fn all_faults_of_a_house_file_are_told_at_their_places() {
    let house = under(
        "formt: 1\nbuilds: { include: [ \"builds/[\" ] }\nlimits:\n  relief-valve-near-compressor-outlt: { clear-length: { value: 4 diameters, because: made } }\n  \
         relief-valve-near-compressor-outlet: { clear-lenght: { value: 4 diameters, because: made }, clear-length: { value: 4 mm, because: made } }\n\
         levels:\n  charge-too-hot: { level: eror, because: made }\n  mixture-vented: { level: note }\n  vent-may-break-noise-law: { level: error, because: made }\n\
         settings:\n  pipe-roughnes: { value: 1 mm, because: made }\n  pipe-roughness: { value: 1 kPa, because: made }\n  efficiency-without-map: { value: 70 % }\n\
         rules: [ ../elsewhere, none-here ]\nmaterials:\n  nitrile: { temperature-rating: 100 degC }\nclamps:\n  worm-driv: { rolled: -5 N, source: made }\n",
    );
    let (status, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(status, Some(2));
    let entry = &document["houses"][0];
    assert_eq!(entry["file"], HOUSE);
    let told: Vec<(u64, String)> = entry["faults"]
        .as_array()
        .expect("faults")
        .iter()
        .map(|fault| {
            let words = format!("{} | {}", text(fault, "message"), fault["help"].as_str().unwrap_or(""));
            (fault["place"]["line"].as_u64().expect("a line"), words)
        })
        .collect();
    for (line, words) in [
        (1, "did you mean `format`?"),
        (1, "does not say its format"),
        (2, "no pattern of paths"),
        (4, "did you mean `relief-valve-near-compressor-outlet`?"),
        (5, "did you mean `clear-length`?"),
        (5, "but `4 mm` is in"),
        (7, "did you mean `error`?"),
        (8, "without its reason"),
        (9, "may only be switched off"),
        (11, "did you mean `pipe-roughness`?"),
        (12, "its default is 0.0015 mm"),
        (13, "without its reason"),
        (14, "no folder below the root"),
        (14, "cannot be looked through: there is no such file"),
        (16, "where its values come from"),
        (18, "did you mean `worm-drive`?"),
        (18, "cannot be"),
    ] {
        let found = told.iter().filter(|(at, said)| *at == line && said.contains(words)).count();
        assert!(found >= 1, "line {line}, {words}: {told:#?}");
    }
    assert_eq!(document["builds"].as_array().expect("builds").len(), 1, "the build is reviewed all the same");
    let drawn = run(house.path(), &["review", CLUB]).err;
    assert!(drawn.contains("tractwright.yaml:14:"), "{drawn}");
}

#[test]
fn own_rules_are_asked_and_faulty_ones_refused_at_their_place() {
    let house = example_house();
    let (_, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(results(&document, HEARD)[0]["kind"], "fail");
    let longest = "1 + ".repeat(250_000);
    for (from, to, says) in [
        ("it.vent_share > limits.vented", "it.vent_shar > limits.vented", "did you mean `it.vent_share`?"),
        ("it.vent_share > limits.vented", "it.host_bore > limits.vented", "a pure number"),
        ("fails-when: \"", &format!("fails-when: \"{longest}"), "bytes"),
        ("id: relief-valve-heard-in-paddock", "id: another", "its file"),
        ("kind: fail", "kind: fails", "did you mean `fail`?"),
    ] {
        let house = example_house();
        replace(house.path(), OWN, from, to);
        let (status, document) = reviewed(house.path(), &[CLUB]);
        assert_eq!(status, Some(2), "{says}");
        let faults = document["houses"][0]["faults"].as_array().expect("faults");
        let fits = |fault: &Value| {
            fault["place"]["file"] == OWN
                && (text(fault, "message").contains(says)
                    || fault["help"].as_str().unwrap_or("").contains(says))
        };
        assert!(faults.iter().any(fits), "{says}: {faults:#?}");
        assert!(results(&document, HEARD).is_empty());
        assert!(!results(&document, NEAR).is_empty(), "the others are asked");
    }
    let taken = fs::read_to_string(project().join(format!("rules/placement/{NEAR}.yaml"))).expect("a rule");
    write(house.path(), &format!("rules/placement/{NEAR}.yaml"), &taken);
    let ran = run(house.path(), &["review", CLUB]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains(&format!("there is a rule `{NEAR}` already")), "{}", ran.err);
}

#[cfg(unix)]
#[test]
fn nothing_is_read_from_outside_the_root() {
    let outside = example_house();
    let house = under("format: 1\nrules: [ rules ]\n");
    let link = |to: &Path, at: &str| std::os::unix::fs::symlink(to, house.path().join(at)).expect("a link");
    link(&outside.path().join("rules"), "rules");
    let (status, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!((status, results(&document, HEARD).len()), (Some(2), 0));

    fs::remove_file(house.path().join("rules")).expect("the link");
    fs::create_dir_all(house.path().join("rules/placement")).expect("a folder");
    link(&outside.path().join(OWN), OWN);
    let (_, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(results(&document, HEARD).len(), 0, "links among the rules are not followed");

    fs::remove_file(house.path().join(HOUSE)).expect("the house file");
    link(&outside.path().join(HOUSE), HOUSE);
    let ran = run(house.path(), &["review", CLUB]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("a link leads out of the root"), "{}", ran.err);
}

#[test]
fn hostile_house_files_end_in_a_fault() {
    let aliases = "a: &a [x, x, x, x, x, x, x, x, x]\n".to_owned()
        + &('b'..='i')
            .map(|c| format!("{c}: &{c} [{}]\n", vec![format!("*{}", (c as u8 - 1) as char); 9].join(", ")))
            .collect::<String>();
    let long = format!("format: 1\nwho-may-accept: [ {} ]\n", "a".repeat(5 << 20));
    let deep = format!("format: 1\nlimits: {}{}\n", "[".repeat(500), "]".repeat(500));
    let globs = format!("format: 1\nbuilds: {{ include: [ \"{}\" ] }}\n", "{a,".repeat(20_000));
    for hostile in [aliases.as_str(), &long, &deep, &globs, "", "[]", "format: 1\nformat: 1\n", "\u{0}"] {
        let house = under(hostile);
        let ran = run(house.path(), &["review", CLUB, "--no-cures"]);
        assert_eq!(ran.status, Some(2), "{}", &hostile[..hostile.len().min(60)]);
        assert!(ran.err.contains(HOUSE) && !ran.err.contains("panicked"), "{}", ran.err);
    }
}

#[test]
fn what_counts_as_a_build_is_decided_by_its_path() {
    let house = example_house();
    write(
        house.path(),
        "drafts/other.yaml",
        &fs::read_to_string(house.path().join(CLUB)).expect("the build"),
    );
    write(house.path(), "drafts/broken.yaml", "a: [");
    let (status, document) = reviewed(house.path(), &["."]);
    let files = |document: &Value| -> Vec<String> {
        let builds = document["builds"].as_array().expect("builds");
        builds.iter().map(|build| text(build, "file").to_owned()).collect()
    };
    // What the house does not name is not even opened; its own files are no other files.
    assert_eq!((status, files(&document)), (Some(0), vec![CLUB.to_owned()]));
    assert_eq!(document["other-files"], 2);

    replace(
        house.path(),
        HOUSE,
        "include: [ \"builds/**/*.yaml\" ]",
        "exclude: [ \"drafts/b*\", \"builds/**\" ]",
    );
    let (_, document) = reviewed(house.path(), &["."]);
    assert_eq!(files(&document), ["drafts/other.yaml"]);
    let (_, document) = reviewed(house.path(), &[CLUB]);
    assert_eq!(files(&document), [CLUB], "a file that is named is reviewed");

    // A file that the house says is a build, and is none, does not pass in silence.
    let house = example_house();
    write(house.path(), "builds/none.yaml", "notes: [ to do ]\n");
    let (status, document) = reviewed(house.path(), &["."]);
    assert_eq!(status, Some(2));
    assert_eq!(files(&document), [CLUB, "builds/none.yaml"]);
}

#[test]
fn each_build_is_reviewed_under_the_house_of_its_own_root() {
    let both = tempfile::tempdir().expect("a folder");
    let copied = |name: &str, house: &str| {
        let build = fs::read_to_string(under(house).path().join(CLUB)).expect("the build");
        write(both.path(), &format!("{name}/{CLUB}"), &build);
        write(both.path(), &format!("{name}/{HOUSE}"), house);
    };
    copied("one", "format: 1\n");
    copied("two", &format!("format: 1\nlevels: {{ {NEAR}: {{ level: error, because: made }} }}\n"));
    let (_, document) = reviewed(both.path(), &["."]);
    let builds = document["builds"].as_array().expect("builds");
    let levels: Vec<&str> = builds
        .iter()
        .map(|build| {
            let all = build["results"].as_array().expect("results");
            text(all.iter().find(|result| result["rule"] == NEAR).expect("asked"), "level")
        })
        .collect();
    assert_eq!(levels, ["warning", "error"]);
}

#[test]
fn a_rule_is_left_out_in_the_open() {
    let house = example_house();
    let (_, document) = reviewed(house.path(), &[CLUB, "--without", NEAR, "--without", HEARD]);
    assert!(results(&document, NEAR).is_empty() && results(&document, HEARD).is_empty());
    assert_eq!(document["builds"][0]["tally"]["rules-switched-off"], 2);
    let said = run(house.path(), &["review", CLUB, "--without", HEARD, "--width", "200"]).out;
    assert!(said.contains("1 rule is switched off: relief-valve-heard-in-paddock by --without"), "{said}");
    let ran = run(house.path(), &["review", CLUB, "--without", "relief-valve-heard-in-padock"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("did you mean `relief-valve-heard-in-paddock`?"), "{}", ran.err);
}

#[test]
fn the_house_of_another_checkout_is_in_force_and_a_change_of_policy_is_told() {
    let base = example_house();
    let head = example_house();
    let from = base.path().to_str().expect("a path");
    let check = || reviewed(head.path(), &[CLUB, "--house-from", from, "--fail-on", "warning"]);
    let (status, document) = check();
    assert_eq!((status, notices(&document, "policy-changed").len()), (Some(0), 0));
    assert!(!results(&document, HEARD)[0]["accepted"].is_null(), "what was accepted before holds");

    // The head loosens a limit, takes a rule away, switches one off, and accepts a finding of its own.
    replace(head.path(), HOUSE, "rules: [ rules ]", "#");
    replace(
        head.path(),
        HOUSE,
        "who-may-accept: [ A. Example, B. Example ]",
        "who-may-accept: [ A. Example, B. Example, C. Example ]",
    );
    replace(
        head.path(),
        HOUSE,
        "level: error, because: \"the organisers turn such cars away\"",
        "level: off, because: made",
    );
    replace(head.path(), CLUB, "  breather:   { kind: breather }\n", "");
    replace(
        head.path(),
        CLUB,
        "  breather-hose: { from: breather, to: inlet-pipe, length: 500 mm, bore: 16 mm }\n",
        "",
    );
    replace(
        head.path(),
        CLUB,
        "describes: [ air-path, signals ]",
        "describes: [ air-path, signals, crankcase ]",
    );
    replace(
        head.path(),
        CLUB,
        "accepted: ",
        "accepted:\n  - { rule: breather-nowhere, place: engine, because: made, by: A. Example }\n  # ",
    );
    let (status, document) = check();
    assert_eq!(status, Some(1));
    assert_eq!(results(&document, "breather-nowhere")[0]["level"], "error", "the base's level holds");
    assert!(results(&document, "breather-nowhere")[0]["accepted"].is_null());
    assert!(!results(&document, HEARD).is_empty(), "the base's rule is asked");
    let told = notices(&document, "policy-changed");
    let of = |words: &str| {
        *told
            .iter()
            .find(|one| text(one, "message").contains(words))
            .unwrap_or_else(|| panic!("{words}: {told:#?}"))
    };
    assert_eq!(told.len(), 3, "{told:#?}");
    assert_eq!(hidden(of("the level of breather-nowhere is error")), [("breather-nowhere", "fail")]);
    assert_eq!(of("the level of breather-nowhere")["place"]["file"], HOUSE);
    assert!(
        text(of("relief-valve-heard-in-paddock is in force, and not here"), "message").contains("policy")
    );
    assert!(
        text(of("who may accept findings"), "message")
            .ends_with("and A. Example, B. Example, C. Example here")
    );
    assert_eq!(notices(&document, "accepted-new").len(), 1);

    // A head without any house file, and a base that is not there.
    fs::remove_file(head.path().join(HOUSE)).expect("the house file");
    fs::create_dir(head.path().join(".git")).expect("a folder");
    let (_, document) = check();
    assert!(notices(&document, "policy-changed").len() > 5);
    let ran = run(head.path(), &["review", CLUB, "--house-from", "nowhere"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("--house-from nowhere: there is no such file"), "{}", ran.err);
}

#[test]
fn rules_test_runs_the_cases_of_house_rules() {
    let house = example_house();
    for folder in [".", "rules", "rules/placement"] {
        let ran = run(house.path(), &["rules", "test", folder]);
        assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""), "{folder}");
        assert!(ran.out.contains("4 cases: 4 good, 0 wrong"), "{}", ran.out);
    }
    replace(house.path(), OWN, "vented: { value: 20 %", "vented: { value: 40 %");
    let ran = run(house.path(), &["rules", "test", "rules", "--width", "200"]);
    assert_eq!(ran.status, Some(1));
    assert!(ran.out.contains("a third goes to the open air: expected fail, got pass"), "{}", ran.out);
    replace(house.path(), OWN, "base: builds/club-hatchback", "base: builds/nobody");
    let ran = run(house.path(), &["rules", "test", "rules", "--width", "200"]);
    assert!(
        ran.out.contains("it could not be run: base builds/nobody: there is no such file"),
        "{}",
        ran.out
    );
    assert_eq!(run(house.path(), &["rules", "test", "builds/none"]).status, Some(2));
    replace(house.path(), OWN, "it.vent_share > ", "it.vent_shar > ");
    let ran = run(house.path(), &["rules", "test", "rules"]);
    assert_eq!(ran.status, Some(2));
    assert!(ran.err.contains("did you mean `it.vent_share`?"), "{}", ran.err);
}

#[test]
fn rules_new_writes_a_rule_that_holds_and_overwrites_none() {
    let folder = tempfile::tempdir().expect("a folder");
    let new = |id: &str, family: &str| run(folder.path(), &["rules", "new", id, "--family", family]);
    let ran = new("too-near", "placement");
    assert_eq!(ran.status, Some(0), "{}", ran.err);
    let written = folder.path().join("rules/placement/too-near.yaml");
    let text = fs::read_to_string(&written).expect("the rule");
    let tested = run(folder.path(), &["rules", "test", "rules"]);
    assert_eq!(tested.status, Some(0), "{}{}", tested.out, tested.err);
    assert!(tested.out.contains("2 cases: 2 good, 0 wrong"), "{}", tested.out);
    fs::write(&written, "mine").expect("written");
    let again = new("too-near", "placement");
    assert_eq!(again.status, Some(2));
    assert!(again.err.contains("it is there already and is left as it is"), "{}", again.err);
    assert_eq!(fs::read_to_string(&written).expect("the rule"), "mine");
    assert!(text.contains("status: draft"));
    for (id, family) in
        [("../up", "placement"), ("Up", "placement"), ("up", "../placement"), (NEAR, "placement")]
    {
        assert_eq!(new(id, family).status, Some(2), "{id} {family}");
    }
}

#[test]
fn origins_name_the_file_that_decided() {
    let house = example_house();
    let ran = run(house.path(), &["rules", "--origin", "--width", "200"]);
    assert_eq!((ran.status, ran.err.as_str()), (Some(0), ""));
    for words in [
        "  relief-valve-heard-in-paddock: rules/placement/relief-valve-heard-in-paddock.yaml\n",
        "limit clear-length: 4 diameters, tractwright.yaml, because our hot pipes are short",
        "limit margin: 12 % (no build may change it), tractwright.yaml",
        "level error, tractwright.yaml, because the organisers",
        "pipe-roughness: 0.003 mm, tractwright.yaml",
        "nitrile: temperature-rating 100 degC, tractwright.yaml",
        "t-bolt: rolled 1.2 kN, welded 1.2 kN, without-bead 300 N",
        "A. Example, B. Example, tractwright.yaml",
        "files that fit builds/**/*.yaml, tractwright.yaml",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    assert!(run(house.path(), &["rules"]).out.contains(HEARD));
    assert_eq!(run(house.path(), &["explain", HEARD]).status, Some(0));
    let elsewhere = tempfile::tempdir().expect("a folder");
    assert!(!run(elsewhere.path(), &["rules"]).out.contains(HEARD));
}

#[test]
fn what_a_person_reads() {
    let house = example_house();
    let ran = run(house.path(), &["review", ".", "--width", "100"]);
    insta::assert_snapshot!("house_100", ran.out);
    replace(house.path(), HOUSE, "clear-length: {", "clear-lenght: {");
    let ran = run(house.path(), &["review", ".", "--width", "100", "--today", "2027-04-01"]);
    insta::assert_snapshot!("house_faulty_100", format!("{}{}", ran.err, ran.out));
}

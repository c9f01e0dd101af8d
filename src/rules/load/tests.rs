use super::*;
use crate::rules::Catalogue;
use crate::rules::cure::{Among, Cure};
use crate::rules::place::Role;
use crate::rules::testing::Fake;
use crate::rules::vocabulary::Whose;
use crate::text::{Op, Sources};

const SOUND: &str = r#"
id: too-near
family: placement
status: in-force
kind: fail
level: warning
title: Too near
for-each: relief-valve
applies-when: "it.purpose == 'tip-out'"
does-not-apply: only on tip-out
limits:
  clear-length: { value: 6 diameters, source: "common practice, no source" }
  share: { by: it.signal_region, values: { manifold: 20 %, charge: 0.5 }, source: made }
fails-when: "it.distance_from_compressor_outlet < limits.clear_length * it.host_bore && it.vent_share > limits.share"
silences: []
places:
  - { at: it.tap.at, says: "{{ it.distance_from_compressor_outlet | mm 0 }} away" }
  - { at: it.signal-hose.from, part: key, says: "bore {{ it.host_bore | mm 1 }}" }
  - { at: build.boost, entry-for: it.vent_share, says: here }
cures:
  - { vary: it.tap.at, says: "{{ by | mm 0 }} further on, to {{ to | mm 0 }}" }
  - { set: it.tap.part, among: parts in region charge, says: further on }
  - { set: it.tap.part, among: [ cold-pipe ], says: there }
  - { cap: build.boost, below: it.vent_share, says: "{{ to | bar 1 }}" }
why: |
  Because.
cases:
  - { name: near, change: { parts.relief.tap: { part: hot-pipe, at: 60 mm }, 'boost."4000 rpm"': 1 bar }, remove: [ site.altitude ], expect: fail }
  - { name: far, base: other, map-adjust: { flow: 0.5 }, expect: pass }
"#;

const PATH: &str = "placement/too-near.yaml";

fn read(text: &str) -> Result<Rule, Vec<Fault>> {
    load(PATH, FileId(0), text, &Fake)
}

/// What is wrong with the sound rule once something in it is replaced: the text marked, the message, the help.
fn faults(from: &str, to: &str) -> Vec<(String, String, String)> {
    assert_eq!(SOUND.matches(from).count(), 1, "{from} must stand there once");
    let text = SOUND.replace(from, to);
    let found = read(&text).expect_err("it must be refused");
    let mut sources = Sources::new();
    sources.add(PATH, text.as_str());
    found
        .into_iter()
        .map(|fault| {
            assert!(!fault.span.is_empty() || fault.span.start == text.len(), "{fault:?}");
            let on = sources.get(fault.span.file).slice(fault.span).to_owned();
            (on, fault.message, fault.help.unwrap_or_default())
        })
        .collect()
}

fn only_fault(from: &str, to: &str) -> (String, String, String) {
    let mut all = faults(from, to);
    assert_eq!(all.len(), 1, "{all:?}");
    all.remove(0)
}

#[test]
fn a_sound_rule_is_read_whole() {
    let rule = read(SOUND).unwrap_or_else(|faults| panic!("{faults:?}"));
    assert_eq!(
        (&*rule.id, rule.for_each, rule.level),
        ("too-near", SubjectKind::ReliefValve, Level::Warning)
    );
    let limits: Vec<&str> = rule.limits.iter().map(|limit| &*limit.name).collect();
    assert_eq!(limits, ["clear-length", "share"], "in the order of the file");
    assert_eq!(rule.places[0].role, Role::Main);
    assert_eq!(rule.places[1].role, Role::Also);
    let hose = &rule.places[1].at;
    assert_eq!(
        (hose.from, hose.link.as_deref(), hose.below.to_string().as_str()),
        (Whose::It, Some("signal-hose"), "from")
    );
    assert_eq!(rule.places[2].at.from, Whose::Build);
    assert!(
        matches!(&rule.cures[1], Cure::Set { among: Among::PartsInRegion(region), .. } if &**region == "charge")
    );
    assert!(matches!(&rule.cures[2], Cure::Set { among: Among::Words(words), .. } if words.len() == 1));
    assert!(matches!(&rule.cures[3], Cure::Cap { .. }));
    let [near, far] = rule.cases.as_slice() else { panic!("two cases") };
    let routes: Vec<String> = near
        .change
        .0
        .iter()
        .map(|op| match op {
            Op::Set(route, _) => format!("{route} ="),
            Op::Remove(route) => format!("{route} -"),
        })
        .collect();
    assert_eq!(routes, ["parts.relief.tap =", "boost.\"4000 rpm\" =", "site.altitude -"]);
    assert_eq!((far.base.as_deref(), far.map_flow), (Some("other"), Some(0.5)));
    let facts: Vec<String> = rule.facts().iter().map(|(_, fact)| fact.to_string()).collect();
    assert_eq!(
        facts,
        ["distance_from_compressor_outlet", "host_bore", "purpose", "signal_region", "vent_share"]
    );
}

#[test]
fn slips_in_expressions_are_marked_within_the_scalar() {
    assert_eq!(
        only_fault("< limits.clear_length *", "< limits.clear_lenght *"),
        (
            "limits.clear_lenght".into(),
            "the rule has no limit `clear_lenght`".into(),
            "did you mean `limits.clear_length`?".into()
        )
    );
    let (on, message, _) = only_fault("* it.host_bore &&", "+ it.host_bore &&");
    assert_eq!(on, "limits.clear_length + it.host_bore");
    assert_eq!(message, "a pure number cannot be added to or taken from a number in m");
    let (on, _, help) = only_fault(
        "{{ it.distance_from_compressor_outlet | mm 0 }}",
        "{{ it.distance_from_compressor_outle | mm 0 }}",
    );
    assert_eq!(
        (on.as_str(), help.as_str()),
        ("it.distance_from_compressor_outle", "did you mean `it.distance_from_compressor_outlet`?")
    );
    let (on, message, _) = only_fault("by: it.signal_region", "by: it.vent_share");
    assert_eq!(
        (on.as_str(), message.as_str()),
        ("it.vent_share", "a word is due here, and this is a pure number")
    );
}

#[test]
fn an_expression_with_escapes_is_marked_whole() {
    let (on, _, _) =
        only_fault("applies-when: \"it.purpose == 'tip-out'\"", "applies-when: 'it.purpos == ''tip-out'''");
    assert_eq!(on, "'it.purpos == ''tip-out'''");
}

#[test]
fn units_in_texts_must_fit() {
    let (on, message, _) = only_fault("it.host_bore | mm 1", "it.host_bore | kPa 1");
    assert_eq!(
        (on.as_str(), message.as_str()),
        ("kPa 1", "`kPa` is a unit of a number in Pa, and `it.host_bore` is a number in m")
    );
    let (on, message, _) = only_fault("by | mm 0", "by | s 0");
    assert_eq!(
        (on.as_str(), message.as_str()),
        ("s 0", "`s` is a unit of a number in s, and `by` is a number in m")
    );
    let (on, _, help) = only_fault("it.host_bore | mm 1", "it.host_bore");
    assert_eq!(
        (on.as_str(), help.as_str()),
        ("it.host_bore", "write them after `|`, as `{{ it.host_bore | mm 0 }}`")
    );
    assert!(only_fault("it.host_bore | mm 1", "it.host_bore | mm").1.contains("how many digits"));
    assert!(
        only_fault("it.host_bore | mm 1", "it.host_bore | furlong 1").1.contains("`furlong` is not a unit")
    );
    assert!(only_fault("it.host_bore | mm 1 }}", "it.host_bore | mm 1").1.contains("never closed"));
    assert!(only_fault("it.host_bore | mm 1", "it.host_bore | mm 10").1.contains("0 to 9"));
    assert!(only_fault("to | bar 1", "by | degC 1").1.contains("`degC` does not fit, `K` does"));
    assert!(only_fault("says: there", "says: \"{{ by | mm 0 }}\"").1.contains("`by` is not a name"));
}

#[test]
fn places_must_be_able_to_exist() {
    let (on, message, help) = only_fault("it.signal-hose.from", "it.signal-hos.from");
    assert_eq!(
        (on.as_str(), message.as_str(), help.as_str()),
        (
            "it.signal-hos.from",
            "a relief-valve has no place `signal-hos.from`",
            "did you mean `it.signal-hose`?"
        )
    );
    assert!(only_fault("at: it.tap.at,", "at: parts.relief,").1.contains("begins with `it` or `build`"));
    assert!(only_fault("at: it.tap.at,", "at: 'it[x].at',").1.contains("in brackets"));
    assert!(only_fault("entry-for: it.vent_share", "entry-for: it.vent_share * 2").1.contains("one fact"));
    assert!(
        only_fault("part: key, says", "role: main, says")
            .1
            .contains("one place is the main one, and here 2 are")
    );
}

#[test]
fn limits_are_given_wholly_and_read() {
    let (on, message, _) = only_fault("value: 6 diameters", "value: 6 diametres");
    assert_eq!(on, "6 diametres");
    assert!(message.contains("diametres"), "{message}");
    assert!(only_fault("value: 6 diameters, ", "").1.contains("either `value`, or `by` with `values`"));
    assert!(
        only_fault("charge: 0.5 }", "charge: 0.5 s }")
            .1
            .contains("`0.5 s` is a number in s, the first is a pure number")
    );
    assert!(
        only_fault("limits:\n", "limits:\n  spare: { value: 1, source: made }\n")
            .1
            .contains("read by no expression")
    );
    assert!(only_fault("source: made", "source: ''").1.contains("names its source"));
}

#[test]
fn keys_ask_for_each_other() {
    assert!(only_fault("does-not-apply: only on tip-out\n", "").1.contains("needs `does-not-apply`"));
    assert!(only_fault("applies-when: \"it.purpose == 'tip-out'\"\n", "").1.contains("always applies"));
    let (on, message, _) = faults("kind: fail", "kind: review").remove(0);
    assert_eq!((on.as_str(), message.contains("has the level `note`")), ("warning", true), "{message}");
    let (on, _, help) = faults("fails-when: \"it.distance", "fails-when: it.distance").remove(0);
    assert!(on.starts_with("it.distance") && help.starts_with("write it as"), "{on} {help}");
}

#[test]
fn names_and_path_belong_together() {
    assert!(only_fault("id: too-near", "id: too-far").1.contains("called `too-far` and its file `too-near`"));
    assert!(
        only_fault("family: placement", "family: heat")
            .1
            .contains("family is `heat` and its folder `placement`")
    );
    let (on, message, help) = only_fault("for-each: relief-valve", "for-each: relief-valv");
    assert_eq!(
        (on.as_str(), message.as_str(), help.as_str()),
        ("relief-valv", "no subject is called `relief-valv`", "did you mean `relief-valve`?")
    );
}

#[test]
fn what_the_structure_refuses_is_marked_and_told_in_plain_words() {
    for (from, to, on, says, help) in [
        ("title: Too near", "titel: Too near", "titel", "`titel` is not a key", "did you mean `title`?"),
        ("level: warning", "level: eror", "eror", "`eror` is none of the words", "did you mean `error`?"),
        ("title: Too near\n", "", "", "the rule lacks `title`", ""),
        ("title: Too near", "title: [ a ]", "", "a list stands where this is due: text", ""),
        ("part: key", "prat: key", "prat", "`prat` is not a key", "did you mean `part`?"),
        ("expect: pass", "expect: passt", "passt", "`passt` is none of the words", "did you mean `pass`?"),
    ] {
        let (place, message, helped) = only_fault(from, to);
        assert!(message.contains(says), "{to}: {message}");
        assert_eq!(helped, help, "{to}");
        assert!(on.is_empty() || place == on, "{to}: marked {place:?}");
    }
}

#[test]
fn cases_are_checked() {
    assert!(only_fault("remove: [ site.altitude ]", "remove: [ 'site[' ]").1.contains("brackets"));
    assert!(only_fault("flow: 0.5", "flow: 0").1.contains("0.01 to 100"));
    assert!(only_fault("expect: fail", "expect: review").1.contains("of kind `fail` fails"));
    assert!(
        only_fault("cap: build.boost, below: it.vent_share,", "cap: build.boost,")
            .1
            .contains("`below` with `cap`")
    );
    assert!(only_fault("among: parts in region charge", "among: anything").1.contains("list of words"));
}

#[test]
fn every_fault_is_told_in_one_pass() {
    let text = SOUND
        .replace("it.host_bore &&", "it.host_bor &&")
        .replace("limits.share\"", "limits.shar\"")
        .replace("it.signal-hose.from", "it.nowhere")
        .replace("| mm 1", "| s 1");
    let found = read(&text).expect_err("it must be refused");
    assert_eq!(found.len(), 4, "{found:?}");
    assert!(
        found.windows(2).all(|pair| pair[0].span.start <= pair[1].span.start),
        "in the order of the text"
    );
}

#[test]
fn what_is_no_yaml_never_reaches_the_deserialiser() {
    for text in ["", "a: [", "x: &a [*a]", "\u{0}", "- - -"] {
        assert!(read(text).is_err(), "{text:?}");
    }
    let many = format!("id: {}", "x".repeat(MOST_BYTES));
    assert!(
        matches!(read(&many), Err(faults) if faults.iter().all(|fault| fault.kind == FaultKind::TooLarge))
    );
}

#[test]
fn a_name_is_given_once_and_silences_must_exist() {
    let file = |path: &str, text: String| (path.to_owned(), text);
    let (catalogue, faulty) = Catalogue::load(
        [
            file(PATH, SOUND.replace("silences: []", "silences: [ too-for ]")),
            file("placement/too-far.yaml", SOUND.replace("id: too-near", "id: too-far")),
            file("house/placement/too-far.yaml", SOUND.replace("id: too-near", "id: too-far")),
        ],
        &Fake,
    );
    let told: Vec<(&str, &str, Option<&str>)> = faulty
        .iter()
        .flat_map(|file| {
            file.faults.iter().map(|fault| (&*file.path, &*fault.message, fault.help.as_deref()))
        })
        .collect();
    assert_eq!(
        told,
        [
            ("house/placement/too-far.yaml", "there is a rule `too-far` already", None),
            (PATH, "there is no rule `too-for`", Some("did you mean `too-far`?")),
        ]
    );
    assert_eq!(catalogue.rules().len(), 1);
    assert!(catalogue.find("too-far").is_some() && catalogue.find("too-near").is_none());
    let on = catalogue.sources().get(faulty[1].faults[0].span.file);
    assert_eq!(on.slice(faulty[1].faults[0].span), "too-for");
}

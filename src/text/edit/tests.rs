use super::*;
use crate::text::testing::{route, tree};
use crate::text::{FileId, Op};

fn set(at: &str, value: &str) -> Op {
    let Change(mut ops) = Change::parse_assignment(&format!("{at}={value}")).expect("a test's own change");
    ops.remove(0)
}

fn gone(at: &str) -> Op {
    Op::Remove(route(at))
}

fn edited(text: &str, ops: impl IntoIterator<Item = Op>) -> Result<String, String> {
    let root = tree(text);
    let change = Change(ops.into_iter().collect());
    let edits = edit(text, &root, &change).map_err(|cannot| cannot.to_string())?;
    let after = edits.apply(text);
    let wanted = change.apply(&root).expect("what the text allows the tree allows");
    assert!(tree(&after).same_content(&wanted), "{after}");
    let again = edit(&after, &tree(&after), &change).map(|edits| edits.is_empty());
    let removes = change.0.iter().any(|op| matches!(op, Op::Remove(_)));
    assert!(removes || again == Ok(true), "{after}");
    Ok(after)
}

/// Each case: a text, an op, and the text that comes of it.
fn check(cases: &[(&str, Op, &str)]) {
    for (text, op, wanted) in cases {
        assert_eq!(edited(text, [op.clone()]).as_deref(), Ok(*wanted), "{text:?} {op:?}");
    }
}

#[test]
fn a_value_gives_way_to_another_and_all_else_stays() {
    check(&[
        ("a: 75 N # c\nb: 1\n", set("a", "24 N"), "a: 24 N # c\nb: 1\n"),
        ("a: '75 N'\n", set("a", "24 N"), "a: '24 N'\n"),
        ("a: \"75 N\"\n", set("a", "none"), "a: none\n"),
        ("a: x\n", Op::Set(route("a"), crate::text::scalar("none: b")), "a: \"none: b\"\n"),
        ("a: x\n", Op::Set(route("a"), crate::text::scalar("null")), "a: \"null\"\n"),
        ("a: x\n", set("a", "-5.0e-5 kg m2"), "a: -5.0e-5 kg m2\n"),
        ("a: {b: 1, c: 2} # c\n", set("a.c", "[x, 'y, z']"), "a: {b: 1, c: [ x, \"y, z\" ]} # c\n"),
        ("a:\n  - # - c\nb: 1\n", set("a[0]", "5"), "a:\n  - 5 # - c\nb: 1\n"),
        ("a: # c\nb: 1\n", set("a", "5"), "a: 5 # c\nb: 1\n"),
        ("a:\nb: 1\n", set("a.c.d", "5"), "a: { c: { d: 5 } }\nb: 1\n"),
        ("a: ~\n", set("a[0]", "5"), "a: [ 5 ]\n"),
        ("a:   # c\n  # d\n  b: 1 # e\n  c: 2\n\nf: 3\n", set("a", "5"), "a: 5   # c\n  # d\n\nf: 3\n"),
        ("- b: 1\n  c: 2\n- d\n", set("[0]", "5"), "- 5\n- d\n"),
        ("a: |\n  x\n  y\nb: 1\n", set("a", "5"), "a: 5\nb: 1\n"),
        ("a: x\r\nb: y\r\n", set("c", "z"), "a: x\r\nb: y\r\nc: z\r\n"),
        ("\u{feff}a: x\n", set("b", "z"), "\u{feff}a: x\nb: z\n"),
        ("a: &x 5\nb: *x\n", set("b", "6"), "a: &x 5\nb: 6\n"),
    ]);
}

#[test]
fn an_entry_comes_behind_its_siblings() {
    check(&[
        ("a:\n  b: 1 # c\n\n# d\ne: 2\n", set("a.f", "3"), "a:\n  b: 1 # c\n  f: 3\n\n# d\ne: 2\n"),
        ("a:\n  b:\n    c: 1", set("a.d", "3"), "a:\n  b:\n    c: 1\n  d: 3"),
        ("a: { b: 1 } # c\n", set("a.d", "[e]"), "a: { b: 1, d: [ e ] } # c\n"),
        ("a: {b: 1,}\n", set("a.d", "3"), "a: {b: 1, d: 3,}\n"),
        ("a: {}\n", set("a.d", "3"), "a: { d: 3 }\n"),
        ("a: [ # c\n]\n", set("a[0]", "3"), "a: [ 3 # c\n]\n"),
        ("a:\n- b # c\n- d\ne: 1\n", set("a[2]", "{f: g}"), "a:\n- b # c\n- d\n- { f: g }\ne: 1\n"),
        ("a:\n  - b: 1\n    c: 2\n", set("a[0].d", "3"), "a:\n  - b: 1\n    c: 2\n    d: 3\n"),
        ("a:\n  b: |+\n    x\n\nc: 1\n", set("a.d", "3"), "a:\n  b: |+\n    x\n\n  d: 3\nc: 1\n"),
        ("a: 1\n", set("\"b, c: \"", "3"), "a: 1\n\"b, c: \": 3\n"),
        ("a:\n  - { name: x, b: 1 }\n", set("a.x.c", "2"), "a:\n  - { name: x, b: 1, c: 2 }\n"),
    ]);
}

#[test]
fn what_goes_takes_its_lines_or_one_comma() {
    check(&[
        ("a: 1\n# b's\nb: 2 # c\nc: 3\n", gone("b"), "a: 1\n# b's\nc: 3\n"),
        ("a:\n  b:\n    c: 1\n    d: 2 # e\n  f: 3\n", gone("a.b"), "a:\n  f: 3\n"),
        ("a:\n  # c\n  b: 1 # d\ne: 2\n", gone("a.b"), "a: {}\n  # c\ne: 2\n"),
        ("a: { b: 1 } # c\n", gone("a.b"), "a: {} # c\n"),
        ("a: [b, c, d]\n", gone("a[0]"), "a: [c, d]\n"),
        ("a: [b, c, d]\n", gone("a[1]"), "a: [b, d]\n"),
        ("a: [b, c, d]\n", gone("a[2]"), "a: [b, c]\n"),
        ("a: [b, c,]\n", gone("a[1]"), "a: [b,]\n"),
        ("a: [\n  b, # b's\n  c # c's\n]\n", gone("a[1]"), "a: [\n  b # b's\n]\n"),
        ("a: [\n  b, # b's\n  c # c's\n]\n", gone("a[0]"), "a: [\n  c # c's\n]\n"),
        ("a: [ b, # b's\n  # of c\n  c ]\n", gone("a[0]"), "a: [\n  # of c\n  c ]\n"),
        ("a: [ b, # b's\n  c ]\n", gone("a[1]"), "a: [ b # b's\n   ]\n"),
        ("- b: 1\n  c: 2\n- d\n", gone("[0].b"), "- c: 2\n- d\n"),
        ("- b: 1 # b's\n  # of c\n  c: 2\n", gone("[0].b"), "-\n  # of c\n  c: 2\n"),
        ("- b\n-\n- d # e\n", gone("[1]"), "- b\n- d # e\n"),
        ("- - b\n  - c\n- d\n", gone("[0][0]"), "- - c\n- d\n"),
        ("a: [ &x b, c ]\n", gone("a[0]"), "a: [ c ]\n"),
        ("a: 1\n", gone("a"), "{}\n"),
    ]);
}

#[test]
fn a_whole_is_set_by_what_differs_in_it() {
    check(&[
        (
            "a:\n  b: 1 # of b\n  # of c\n  c: 2\n  d: 3\n",
            set("a", "{ b: 1, c: 5, e: [] }"),
            "a:\n  b: 1 # of b\n  # of c\n  c: 5\n  e: []\n",
        ),
        (
            "a:\n  - b # of b\n  - c # of c\n  - d # of d\n",
            set("a", "[b, d]"),
            "a:\n  - b # of b\n  - d # of d\n",
        ),
        ("a: [ b, c ]\n", set("a", "[ b, x, y ]"), "a: [ b, x, y ]\n"),
        ("a: [ b, c ]\n", set("a", "{ b: c }"), "a: { b: c }\n"),
        ("a:\n  - name: x\n    b: 1\n", set("a[0]", "{ b: 2, name: y }"), "a:\n  - name: y\n    b: 2\n"),
    ]);
}

#[test]
fn several_changes_come_to_edits_of_the_one_text() {
    let text = "a: 1 # c\nb:\n  c: 2\n";
    let ops = [set("d.e", "3"), set("d.f", "4"), gone("b.c"), set("a", "12")];
    let change = Change(ops.to_vec());
    let edits = edit(text, &tree(text), &change).expect("nothing hinders");
    assert_eq!(edits.apply(text), "a: 12 # c\nb: {}\nd: { e: 3, f: 4 }\n");
    let listed: Vec<_> = edits.list().iter().map(|edit| (edit.span.slice(text), &*edit.text)).collect();
    assert_eq!(listed, [(Some(""), "2"), (Some(""), " {}"), (Some("  c: 2"), "d: { e: 3, f: 4 }")]);
}

#[test]
fn what_others_share_is_refused_with_the_reason() {
    let text = "a: &x { b: 1 }\nc: *x\nd: [ *x ]\ne: 2\n";
    let why = |op: Op| {
        let change = Change(vec![op]);
        edit(text, &tree(text), &change).expect_err("this is shared").why
    };
    assert_eq!(why(set("a.b", "2")), WhyNot::UsedAgain("*x".into()));
    assert_eq!(why(set("a.c", "2")), WhyNot::UsedAgain("*x".into()));
    assert_eq!(why(gone("a")), WhyNot::UsedAgain("*x".into()));
    assert_eq!(why(set("c.b", "2")), WhyNot::Alias("*x".into()));
    assert_eq!(why(set("d[0].z", "2")), WhyNot::Alias("*x".into()));
    assert!(matches!(why(gone("z")), WhyNot::Impossible(_)));
    let text = "a: |\n  x\n  y # no comment\nb: | # comment\n  z\n";
    assert_eq!(edited(text, [set("a", "1")]).as_deref(), Ok("a: 1\nb: | # comment\n  z\n"));
    assert!(edited(text, [set("b", "1")]).is_err_and(|why| why.contains("comment")));
}

#[test]
fn a_part_of_another_file_is_refused() {
    let text = "parts: { turbo: 1 }\n";
    let root = tree(text);
    let elsewhere = Arc::new(Node {
        span: Span::new(FileId(1), 3, 9),
        used_at: Some(Span::new(FileId(0), 0, 5)),
        ..(**tree("kind: pipe").get("kind").expect("a test's own entry")).clone()
    });
    let shared = Arc::new(Node {
        value: crate::text::Value::Map(crate::text::Map::new(vec![crate::text::Entry {
            key: crate::text::Key { text: "turbo".into(), span: Span::new(FileId(0), 9, 14) },
            value: elsewhere,
        }])),
        ..(**root.get("parts").expect("a test's own entry")).clone()
    });
    let whole = Arc::new(Node {
        value: crate::text::Value::Map(root.as_map().expect("a table").with_value_at(0, shared)),
        ..(*root).clone()
    });
    let cannot = edit(text, &whole, &Change(vec![set("parts.turbo", "2")]));
    assert_eq!(cannot.map_err(|cannot| cannot.why), Err(WhyNot::Shared(Span::new(FileId(1), 3, 9))));
}

#[test]
fn a_diff_shows_what_changes_with_three_lines_round_it() {
    let text: String = (0..20).map(|number| format!("k{number}: 0\n")).collect();
    let change = Change(vec![set("k1", "5"), gone("k3"), set("k15", "6"), set("new", "7")]);
    let edits = edit(&text, &tree(&text), &change).expect("nothing hinders");
    let wanted = "--- x\n+++ x\n@@ -1,7 +1,6 @@\n k0: 0\n-k1: 0\n+k1: 5\n k2: 0\n-k3: 0\n k4: 0\n k5: 0\n k6: 0\n\
        @@ -13,8 +12,9 @@\n k12: 0\n k13: 0\n k14: 0\n-k15: 0\n+k15: 6\n k16: 0\n k17: 0\n k18: 0\n k19: 0\n+new: 7\n";
    assert_eq!(edits.diff("x", &text), wanted);
    let text = "a: 1";
    let edits = edit(text, &tree(text), &Change(vec![set("b", "2")])).expect("nothing hinders");
    assert_eq!(
        edits.diff("x", text),
        "--- x\n+++ x\n@@ -1,1 +1,2 @@\n-a: 1\n\\ No newline at end of file\n+a: 1\n+b: 2\n\\ No newline at end of file\n"
    );
    assert_eq!(Edits::default().diff("x", text), "");
}

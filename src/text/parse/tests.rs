mod hostile;
mod oracle;

use super::*;
use crate::text::testing::{read, tree};

/// What is marked, and the message, of each fault.
fn told(text: &str) -> Vec<(&str, FaultKind, String)> {
    read(text)
        .faults
        .iter()
        .map(|fault| {
            let marked = fault.span.slice(text).expect("a span of the text");
            (marked, fault.kind, fault.message.clone())
        })
        .collect()
}

#[test]
fn syntax_faults_are_told_plainly_at_their_place() {
    for (text, marked, message) in [
        ("a: {x: 1\n", "{", "`{` is not closed"),
        ("a: [1, 2}\n", "[", "`[` is closed with `}`"),
        ("a: ]\n", "]", "this bracket closes nothing"),
        ("a: [1, 2\nb: 3\n", ":", "this `:` cannot stand inside the bracket opened before it"),
        ("a: {b: 1 c: 2}\n", ":", "a comma or a closing bracket should stand here"),
        ("a: b: c\n", ":", "this `:` cannot begin a value here"),
        ("a:\n\tb: 1\n", "\t", "a tab stands where only blanks may"),
        ("a: 'x\nb: 1\n", "'", "this quote is not closed"),
        ("a: 'x' y\n", "y", "text follows the closing quote"),
        ("a: \"\\q\"\n", "\"", "an escape in this text is not one of YAML's"),
        ("a:\n  b: 1\n c: 2\n", "c", "the next key of the table should stand here"),
        ("a: 1\n- b\n", "-", "the next key of the table should stand here"),
        ("- a\nb: 1\n", "b", "the next `- ` of the list should stand here"),
        ("a: 1\nb\n", "b", "`:` is missing after this key"),
        ("a: @x\n", "@", "text cannot begin with `@`"),
        ("a: `x\n", "`", "text cannot begin with a backtick"),
        ("a: -\n", "-", "a `- ` list cannot begin here"),
        ("a: b #c\n d\n", "#", "text goes on after a comment"),
        ("a: &\n", "&", "a name is missing after `&` or `*`"),
        ("%YAML 1.1\n---\na: 1\n", "%", "lines that begin with `%` are not read here"),
        ("a: 1\n---\nb: 2\n", "---", "a second document begins here"),
        ("a: !!int 3\n", "!!int", "tags are not read here"),
        ("a: 1\n? [b]\n: c\n", "[", "a list cannot be a key"),
        ("a: 1\n{b: 1}: c\n", "{", "a table cannot be a key"),
        ("a: 1\n: c\n", ":", "a key is missing here"),
    ] {
        let expected = (marked, FaultKind::Syntax, message.to_owned());
        assert_eq!(told(text), [expected], "{text:?}");
    }
}

#[test]
fn every_fault_before_the_first_of_syntax_is_told() {
    let text = "a: 1\na: 2\nb: &long [1]\nc: *lonh\n<<: {d: 1}\n\
                e: 1\ne: 2\n*long : 3\nf: [*long, *g]\nh: }\ni: *j\n";
    let faults = read(text).faults;
    let kinds: Vec<(FaultKind, &str)> =
        faults.iter().map(|fault| (fault.kind, fault.span.slice(text).expect("inside"))).collect();
    assert_eq!(
        kinds,
        [
            (FaultKind::DuplicateKey, "a"),
            (FaultKind::UnknownAnchor, "*lonh"),
            (FaultKind::MergeKey, "<<"),
            (FaultKind::DuplicateKey, "e"),
            (FaultKind::Syntax, "*long"),
            (FaultKind::UnknownAnchor, "*g"),
            (FaultKind::Syntax, "}"),
        ]
    );
    assert_eq!(faults[0].also, [(Span::new(FileId(0), 0, 1), "first given here".to_owned())]);
    assert_eq!(faults[1].help.as_deref(), Some("did you mean `*long`?"));
}

#[test]
fn what_was_read_before_a_syntax_fault_is_kept() {
    let root = read("a: 1\nb: {c: [2, 3\nd: x\n").root.expect("something");
    assert_eq!(root.get("a").and_then(|node| node.as_text()), Some("1"));
    let inner = root.get("b").and_then(|node| node.get("c")).and_then(|node| node.as_list());
    assert_eq!(inner.and_then(|list| list[0].as_text()), Some("2"));
}

#[test]
fn a_document_of_nothing_has_no_tree() {
    for text in ["", " \n", "# only a comment\n", "---\n", "---\n...\n", "~\n", "null", "\u{feff}"] {
        let parsed = read(text);
        assert!(parsed.root.is_none() && parsed.faults.is_empty(), "{text:?}");
    }
}

#[test]
fn scalars_stay_text() {
    let text = "a: no\nb: 0x10\nc: 1e999999\nd: 'null'\ne: null\nf:\ng: \"4000 rpm\"\nh: 2026-01-01\n";
    let root = tree(text);
    let shown: Vec<(&str, &str, Option<&str>)> = root
        .as_map()
        .expect("a table")
        .iter()
        .map(|entry| (&*entry.key.text, entry.value.kind_word(), entry.value.as_text()))
        .collect();
    assert_eq!(
        shown,
        [
            ("a", "text", Some("no")),
            ("b", "text", Some("0x10")),
            ("c", "text", Some("1e999999")),
            ("d", "text", Some("null")),
            ("e", "nothing", None),
            ("f", "nothing", None),
            ("g", "text", Some("4000 rpm")),
            ("h", "text", Some("2026-01-01")),
        ]
    );
}

#[test]
fn spans_cover_the_text_of_a_value_and_no_more() {
    let text = "\u{feff}é: {b: 'c µ' , d: [1, \"2\"]}  # x\n\nlist:\n  - one: 1\n    two: 2   # y\n\n  # z\n  - |\n    block\n\n\n# end\nempty:\nlast:\n- a\n- b";
    let root = tree(text);
    let at = |route: &str| -> (&str, bool) {
        let route = crate::text::testing::route(route);
        let node = crate::text::locate::find(&root, &route).expect("there").node;
        (node.span.slice(text).expect("inside"), node.one_line)
    };
    assert_eq!(at("é"), ("{b: 'c µ' , d: [1, \"2\"]}", true));
    assert_eq!(at("é.b"), ("'c µ'", true));
    assert_eq!(at("é.d"), ("[1, \"2\"]", true));
    assert_eq!(at("é.d[1]"), ("\"2\"", true));
    assert_eq!(at("list[0]"), ("one: 1\n    two: 2", false));
    assert_eq!(at("list[0].two"), ("2", true));
    assert_eq!(at("list[1]"), ("|\n    block", false));
    assert_eq!(at("empty"), (":", true));
    assert_eq!(at("last"), ("- a\n- b", false));
}

#[test]
fn a_block_of_text_begins_at_its_sign() {
    for (text, span) in [
        ("a: |\n  x\n", "|\n  x"),
        ("a | b: &q >2-  # | c\n\n\n  x\n y: 1\n", ">2-  # | c\n\n\n  x"),
        ("a: | # c\nb: 1\n", "| # c"),
        ("a: |", "|"),
        ("a:\n  - |+\n\n\n", "|+"),
    ] {
        let root = read(text).root.expect("something");
        let mut node = &root.as_map().expect("a table").entries()[0].value;
        if let Some(list) = node.as_list() {
            node = &list[0];
        }
        assert_eq!(node.span.slice(text), Some(span), "{text:?}");
    }
}

#[test]
fn an_alias_keeps_both_places() {
    let text = "a: &x {b: 1}\nc: *x\n";
    let root = tree(text);
    let node = root.get("c").expect("there");
    assert_eq!(node.span.slice(text), Some("{b: 1}"));
    assert_eq!(node.used_at.and_then(|span| span.slice(text)), Some("*x"));
    assert_eq!(root.get("a").and_then(|node| node.used_at), None);
    assert_eq!(root.span.slice(text), Some("a: &x {b: 1}\nc: *x"));
}

#[test]
fn bytes_that_are_not_text_are_refused_at_their_place() {
    let limits = Limits { bytes: 64, ..Limits::default() };
    let refused = |bytes: &[u8]| check_bytes(FileId(3), bytes, &limits).expect_err("refused");
    let fault = refused("é: x\nab\u{0}c".as_bytes());
    assert_eq!((fault.kind, fault.span), (FaultKind::NotText, Span::new(FileId(3), 8, 9)));
    assert_eq!(fault.message, "control character U+0000 at line 2, column 3 does not belong in text");
    let fault = refused(b"\xc3\xa9: \xff\n");
    assert_eq!((fault.kind, fault.span.start), (FaultKind::NotText, 4));
    assert_eq!(fault.message, "byte 0xff at line 1, column 4 is not UTF-8 text");
    let fault = refused(b"\xff\xfea\x00");
    assert_eq!(fault.help.as_deref(), Some("this looks like UTF-16: save the file as UTF-8"));
    assert_eq!(refused(&[b'a'; 65]).kind, FaultKind::TooLarge);
    assert_eq!(check_bytes(FileId(0), &[b'a'; 64], &limits).map(str::len), Ok(64));
    assert_eq!(check_bytes(FileId(0), "\u{feff}a: 1\r\n\t".as_bytes(), &limits), Ok("\u{feff}a: 1\r\n\t"));
    // Bidirectional and escape characters: the first are text, the second are not.
    assert!(check_bytes(FileId(0), "a\u{202e}".as_bytes(), &limits).is_ok());
    assert_eq!(refused(b"a\x1b[0m").kind, FaultKind::NotText);
    assert_eq!(parse(FileId(0), "a: \u{0}", &limits).faults[0].kind, FaultKind::NotText);
}

#[test]
fn limits_are_exact() {
    let with = |depth, nodes| Limits { depth, nodes, ..Limits::default() };
    let faults = |text: &str, limits: &Limits| parse(FileId(0), text, limits).faults.len();
    assert_eq!(faults("[[[a]]]", &with(3, 100)), 0);
    assert_eq!(faults("[[[a]]]", &with(2, 100)), 1);
    // Four nodes: the list, two of text, one alias.
    assert_eq!(faults("[&x a, b, *x]", &with(9, 4)), 0);
    assert_eq!(faults("[&x a, b, *x]", &with(9, 3)), 1);
    // An alias costs all that it repeats: 1 + 3 + 3.
    assert_eq!(faults("[&x [a, b], *x]", &with(9, 7)), 0);
    assert_eq!(faults("[&x [a, b], *x]", &with(9, 6)), 1);
    // And is as deep.
    assert_eq!(faults("[&x [a], [*x]]", &with(3, 99)), 0);
    assert_eq!(faults("[&x [a], [*x]]", &with(2, 99)), 1);
}

use super::*;
use crate::text::span::FileId;

#[test]
fn the_nearest_word_is_found_when_it_is_near_enough() {
    let keys = ["pressure", "temperature", "temperature-rating", "bore", "length", "at", "to"];
    for (word, meant) in [
        ("presure", Some("pressure")),
        ("prsesure", Some("pressure")),
        ("Temperature_Rating", Some("temperature-rating")),
        ("lenght", Some("length")),
        ("bor", Some("bore")),
        ("AT", Some("at")),
        ("if", None),
        ("x", None),
        ("volume", None),
        ("", None),
    ] {
        assert_eq!(nearest(word, keys), meant, "{word}");
    }
    assert_eq!(nearest("ab", ["ac", "ad"]), Some("ac"));
    assert_eq!(nearest(&"a".repeat(1 << 20), ["a"]), None);
    assert_eq!(nearest("", [""]), None);
}

#[test]
fn faults_sort_by_place() {
    let at = |file, start, kind| Fault::new(kind, Span::new(FileId(file), start, start + 1), "m");
    let mut faults = [
        at(1, 0, FaultKind::Syntax),
        at(0, 9, FaultKind::Missing),
        at(0, 9, FaultKind::Syntax),
        at(0, 2, FaultKind::Other),
    ];
    faults.sort();
    let places: Vec<_> =
        faults.iter().map(|fault| (fault.span.file.0, fault.span.start, fault.kind)).collect();
    assert_eq!(
        places,
        [
            (0, 2, FaultKind::Other),
            (0, 9, FaultKind::Syntax),
            (0, 9, FaultKind::Missing),
            (1, 0, FaultKind::Syntax),
        ]
    );
}

#[test]
fn quotes_are_short_and_on_one_line() {
    assert_eq!(quoted("a b"), "`a b`");
    assert_eq!(quoted("a\n\u{1b}[0m"), "`a\\n\\u{1b}[0m`");
    let long = quoted(&"é".repeat(1000));
    assert_eq!((long.chars().count(), long.ends_with("…`")), (51, true));
}

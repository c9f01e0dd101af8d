use super::*;

#[test]
fn lines_end_with_any_kind_of_break() {
    let source = Source::new("a\\b.yaml", "one\ntwo\r\nthree\rfour\n");
    assert_eq!(source.name(), "a/b.yaml");
    assert_eq!(source.lines().collect::<Vec<_>>(), ["one", "two", "three", "four", ""]);
    assert_eq!((source.line_count(), source.line(0), source.line(6)), (5, None, None));
    assert_eq!(Source::new("", "").lines().collect::<Vec<_>>(), [""]);
}

#[test]
fn places_count_in_characters_from_one() {
    let source = Source::new("x", "\u{feff}aé\n🚗b\r\nc");
    for (byte, place) in [
        (0, (1, 1)),
        (3, (1, 1)),
        (4, (1, 2)),
        (5, (1, 2)),
        (6, (1, 3)),
        (7, (2, 1)),
        (9, (2, 1)),
        (11, (2, 2)),
        (12, (2, 3)),
        (14, (3, 1)),
        (15, (3, 2)),
        (999, (3, 2)),
    ] {
        assert_eq!(source.line_col(byte), place, "byte {byte}");
    }
}

#[test]
fn editors_count_in_utf16_and_back() {
    let text = "\u{feff}aé\n🚗b\r\nc";
    let source = Source::new("x", text);
    assert_eq!(source.utf16_position(6), (0, 2));
    assert_eq!(source.utf16_position(11), (1, 2));
    assert_eq!(source.utf16_position(12), (1, 3));
    for (byte, _) in text.char_indices().skip(1).filter(|(_, sign)| *sign != '\n') {
        let (line, column) = source.utf16_position(byte);
        assert_eq!(source.byte_of_utf16(line, column), byte);
    }
    // Past the end of a line, inside a character, past the text.
    assert_eq!(source.byte_of_utf16(0, 99), 6);
    assert_eq!(source.byte_of_utf16(1, 1), 7);
    assert_eq!(source.byte_of_utf16(9, 0), text.len());
}

#[test]
fn sources_give_back_what_they_took() {
    let mut sources = Sources::new();
    let one = sources.add("one", "1");
    let two = sources.add("two", "zwei");
    assert_eq!((sources.get(one).name(), sources.get(two).text()), ("one", "zwei"));
    assert_eq!(sources.get(two).slice(Span::new(two, 1, 3)), "we");
    assert_eq!(sources.get(two).slice(Span::new(two, 1, 30)), "");
    assert_eq!((sources.get(FileId::NOWHERE).text(), sources.find(FileId(2)).is_none()), ("", true));
    let ids: Vec<FileId> = sources.iter().map(|(id, _)| id).collect();
    assert_eq!(ids, [one, two]);
}

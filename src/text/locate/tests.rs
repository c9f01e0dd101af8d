use super::*;
use crate::text::testing::{route, tree};

const TEXT: &str = "\
site:
  altitude: 1600 m
  other-sites:
    - { name: summit, altitude: 2400 m }
    - name: valley
      altitude: 300 m
shared: &pipe { bore: 51 mm, bends: [ 90 deg, 45 deg ] }
parts:
  hot-pipe: *pipe
  cold-pipe:
    inner: *pipe
  none:
";

/// What is marked, whether it was given, and what is marked of the definition.
fn marked(text: &str, part: Part) -> (&'static str, bool, Option<&'static str>) {
    let root = tree(TEXT);
    let mark = mark(&root, &route(text), part);
    let slice = |span: Span| span.slice(TEXT).expect("inside");
    (slice(mark.span), mark.given, mark.defined_at.map(slice))
}

#[test]
fn marks_are_the_short_place_a_reader_wants() {
    use Part as P;
    for (text, part, span) in [
        ("site.altitude", P::Key, "altitude"),
        ("site.altitude", P::Value, "1600 m"),
        ("site.altitude", P::Whole, "altitude: 1600 m"),
        ("site", P::Whole, "site"),
        ("site", P::Value, "site"),
        ("site.other-sites", P::Value, "other-sites"),
        ("site.other-sites[0]", P::Whole, "{ name: summit, altitude: 2400 m }"),
        ("site.other-sites[1]", P::Whole, "name"),
        ("site.other-sites.summit", P::Key, "{ name: summit, altitude: 2400 m }"),
        ("site.other-sites.valley.altitude", P::Value, "300 m"),
        ("shared.bends[1]", P::Value, "45 deg"),
        ("shared", P::Whole, "shared: &pipe { bore: 51 mm, bends: [ 90 deg, 45 deg ] }"),
        ("parts.none", P::Value, ":"),
        ("parts.none", P::Whole, "none:"),
        ("", P::Whole, "site"),
    ] {
        assert_eq!(marked(text, part), (span, true, None), "{text} {part:?}");
    }
}

#[test]
fn what_is_absent_is_marked_by_the_nearest_key_there_is() {
    for (text, span) in [
        ("site.pressure", "site"),
        ("site.altitude.unit", "altitude"),
        ("site.other-sites.moon.altitude", "other-sites"),
        ("site.other-sites[7]", "other-sites"),
        ("site.other-sites[1].pressure", "name"),
        ("no.such.place", "site"),
        ("site[0]", "site"),
        ("parts.hot-pipe.length", "hot-pipe"),
    ] {
        assert_eq!(marked(text, Part::Value), (span, false, None), "{text}");
    }
    // Below an alias there is no key of this text, so the alias is marked.
    assert_eq!(marked("parts.hot-pipe.bends[9]", Part::Value), ("*pipe", false, Some("bends")));
}

#[test]
fn what_an_alias_brought_is_marked_at_both_places() {
    use Part as P;
    let whole = "{ bore: 51 mm, bends: [ 90 deg, 45 deg ] }";
    for (text, part, span, defined) in [
        ("parts.hot-pipe", P::Key, "hot-pipe", None),
        ("parts.hot-pipe", P::Value, "*pipe", Some(whole)),
        ("parts.hot-pipe", P::Whole, "hot-pipe: *pipe", Some(whole)),
        ("parts.hot-pipe.bore", P::Value, "*pipe", Some("51 mm")),
        ("parts.hot-pipe.bore", P::Key, "*pipe", Some("bore")),
        ("parts.cold-pipe.inner.bends[0]", P::Whole, "*pipe", Some("90 deg")),
    ] {
        assert_eq!(marked(text, part), (span, true, defined), "{text} {part:?}");
    }
}

#[test]
fn of_aliases_inside_aliases_the_outer_one_is_marked() {
    let text = "a: &a { x: 1 }\nb: &b { c: *a }\nd: *b\n";
    let mark = mark(&tree(text), &route("d.c.x"), Part::Value);
    assert_eq!(mark.span.slice(text), Some("*b"));
    assert_eq!(mark.defined_at.and_then(|span| span.slice(text)), Some("1"));
}

#[test]
fn what_another_file_brought_is_marked_where_it_is_asked_for() {
    let root = tree(TEXT);
    let used_at = Span::new(super::super::span::FileId(7), 3, 9);
    let shared = root.get("shared").expect("there").brought_by(used_at);
    let key = root.as_map().and_then(|map| map.get("shared")).expect("there").key.clone();
    let pair = Entry { key: key.clone(), value: Arc::new(shared) };
    let host =
        Arc::new(Node { value: Value::Map(super::super::tree::Map::new(vec![pair])), ..(*root).clone() });
    let mark = mark(&host, &route("shared"), Part::Key);
    assert_eq!((mark.span, mark.defined_at), (used_at, Some(key.span)));
}

#[test]
fn named_entries_of_lists_are_found() {
    let root = tree(TEXT);
    let found = find(&root, &route("site.other-sites.valley.altitude")).expect("there");
    assert_eq!(found.node.as_text(), Some("300 m"));
    assert_eq!(found.key.map(|key| &*key.text), Some("altitude"));
    assert!(find(&root, &route("site.other-sites.moon")).is_none());
    assert_eq!(
        find(&root, &route("parts.hot-pipe.bore"))
            .and_then(|found| found.used_at)
            .and_then(|span| span.slice(TEXT)),
        Some("*pipe")
    );
}

use super::*;
use crate::text::locate::{Part, find, mark};
use crate::text::testing::{all_routes, noise, read, route, sketch, tree};
use proptest::prelude::*;

const TEXT: &str = "\
site:
  other-sites:
    - { name: summit, altitude: 2400 m }
    - { name: valley, altitude: 300 m }
shared: &pipe { bore: 51 mm }
parts:
  hot-pipe: *pipe
  relief:
    spring: { rate: 2.6 N/mm, preload: 24 N }
    tap:
";

fn changed(assignment: &str) -> Arc<Node> {
    let change = Change::parse_assignment(assignment).unwrap_or_else(|fault| panic!("{assignment}: {fault}"));
    change.apply(&tree(TEXT)).unwrap_or_else(|cannot| panic!("{cannot}"))
}

fn text_at(root: &Arc<Node>, at: &str) -> Option<String> {
    find(root, &route(at))?.node.as_text().map(str::to_owned)
}

#[test]
fn values_are_put_where_the_route_says() {
    for (assignment, at, text) in [
        ("parts.relief.spring.preload=48N", "parts.relief.spring.preload", "48N"),
        ("parts.relief.spring.free-length=40 mm", "parts.relief.spring.free-length", "40 mm"),
        ("parts.relief.tap.part=hot-pipe", "parts.relief.tap.part", "hot-pipe"),
        ("parts.filter.loss.pressure=1 kPa", "parts.filter.loss.pressure", "1 kPa"),
        ("parts.relief=none", "parts.relief", "none"),
        ("parts.relief.tap={ part: hot-pipe, at: 60 mm }", "parts.relief.tap.at", "60 mm"),
        ("parts.relief.ports=[a, b]", "parts.relief.ports[1]", "b"),
        ("site.other-sites.valley.altitude=200 m", "site.other-sites[1].altitude", "200 m"),
        ("site.other-sites[0].altitude=2500 m", "site.other-sites.summit.altitude", "2500 m"),
        ("site.other-sites[2]={ name: pass, altitude: 1 m }", "site.other-sites.pass.altitude", "1 m"),
        ("new.list[0].x=1", "new.list[0].x", "1"),
        ("parts.hot-pipe.bore=60 mm", "parts.hot-pipe.bore", "60 mm"),
        ("boost.\"4000 rpm\"=1 = 1", "boost.\"4000 rpm\"", "1 = 1"),
    ] {
        assert_eq!(text_at(&changed(assignment), at).as_deref(), Some(text), "{assignment}");
    }
    // What the alias repeats stays as it was.
    assert_eq!(text_at(&changed("parts.hot-pipe.bore=60 mm"), "shared.bore").as_deref(), Some("51 mm"));
}

#[test]
fn what_is_taken_away_is_gone() {
    let remove = |at: &str| Change::remove(route(at)).apply(&tree(TEXT));
    let root = remove("parts.relief.spring.preload").expect("there");
    assert_eq!(text_at(&root, "parts.relief.spring.preload"), None);
    assert_eq!(text_at(&root, "parts.relief.spring.rate").as_deref(), Some("2.6 N/mm"));
    let root = remove("site.other-sites.summit").expect("there");
    assert_eq!(text_at(&root, "site.other-sites[0].name").as_deref(), Some("valley"));
}

#[test]
fn what_cannot_be_changed_says_why() {
    let set = |at: &str| Change::set(route(at), scalar("x"));
    let remove = |at: &str| Change::remove(route(at));
    for (change, why) in [
        (remove("parts.relief.lift"), "there is nothing to take away"),
        (remove("parts.filter.loss"), "there is nothing to take away"),
        (remove("parts.relief.tap.part"), "nothing has no entry `part`"),
        (remove(""), "the whole cannot be taken away"),
        (remove("site.other-sites[2]"), "the list has 2 entries, so none of the number 2"),
        (set("site.other-sites[3]"), "the list has 2 entries, so none of the number 3"),
        (set("site.other-sites.moon.altitude"), "no entry of the list has the name `moon`"),
        (set("shared.bore.unit"), "text has no entry `unit`"),
        (set("shared[0]"), "a table has no numbered entries"),
        (set("new[1]"), "the list would be new, so it has no entry 1 yet"),
    ] {
        let cannot = change.apply(&tree(TEXT)).expect_err(why);
        assert_eq!(cannot.why, why);
    }
    let mut far = Route::root();
    for _ in 0..1000 {
        far = far.key("a");
    }
    assert!(Change::set(far, scalar("x")).apply(&tree(TEXT)).is_err());
    let deep = Change::set(route("a.b"), tree(&format!("{}{}", "[".repeat(63), "]".repeat(63))));
    assert_eq!(
        deep.apply(&tree(TEXT)).expect_err("too deep").why,
        "tables and lists may be nested at most 64 deep"
    );
}

#[test]
fn assignments_that_are_not_say_where() {
    for (text, at) in
        [("parts.relief", 12), ("=x", 0), ("a=", 1), ("a..b=x", 2), ("a=[1, 2", 2), ("a=é: {x: 1, x: 2}", 13)]
    {
        assert_eq!(Change::parse_assignment(text).expect_err(text).at, at, "{text}");
    }
}

#[test]
fn marks_in_a_changed_tree_point_into_the_text_as_written() {
    for (assignment, at, marked) in [
        ("parts.relief.spring.preload=48N", "parts.relief.spring.preload", "24 N"),
        ("parts.relief.spring=none", "parts.relief.spring", "{ rate: 2.6 N/mm, preload: 24 N }"),
        ("parts.relief={ lift: { open: 9 mm } }", "parts.relief.lift.open", "relief"),
        ("parts.relief.lift=9 mm", "parts.relief.lift", "relief"),
        ("parts.filter.bore=9 mm", "parts.filter.bore", "parts"),
        ("parts.relief.tap.at=9 mm", "parts.relief.tap.at", "tap"),
        (
            "site.other-sites.valley.pressure=1",
            "site.other-sites.valley.pressure",
            "{ name: valley, altitude: 300 m }",
        ),
        ("parts.hot-pipe=none", "parts.hot-pipe", "*pipe"),
        ("parts.hot-pipe.bore=60 mm", "parts.hot-pipe.bore", "*pipe"),
        ("title=x", "title", "site"),
    ] {
        let mark = mark(&changed(assignment), &route(at), Part::Value);
        assert_eq!((mark.span.slice(TEXT), mark.given), (Some(marked), true), "{assignment}");
    }
}

#[test]
fn what_is_not_changed_is_shared() {
    let root = tree(TEXT);
    let change = Change::set(route("parts.relief.spring.preload"), scalar("48 N"));
    let changed = change.apply(&root).expect("can be changed");
    let part = |root: &Arc<Node>, at: &str| Arc::clone(find(root, &route(at)).expect("there").node);
    for same in ["site", "shared", "parts.hot-pipe", "parts.relief.tap", "parts.relief.spring.rate"] {
        assert!(Arc::ptr_eq(&part(&root, same), &part(&changed, same)), "{same}");
    }
    assert_eq!(text_at(&root, "parts.relief.spring.preload").as_deref(), Some("24 N"));
}

#[test]
fn text_put_in_is_text() {
    assert!(!scalar("~").is_null() && !scalar("").is_null());
    assert_eq!(scalar("null").as_text(), Some("null"));
    assert!(scalar("5 mm").as_scalar().is_some_and(|scalar| scalar.plain));
}

#[test]
fn edits_are_made_in_order() {
    let change = Change(vec![
        Op::Remove(route("site.other-sites[0]")),
        Op::Set(route("site.other-sites[0].altitude"), scalar("1 m")),
        Op::Set(route("x.y"), scalar("1")),
        Op::Remove(route("x.y")),
    ]);
    let root = change.apply(&tree(TEXT)).expect("can be changed");
    assert_eq!(text_at(&root, "site.other-sites.valley.altitude").as_deref(), Some("1 m"));
    assert_eq!(root.get("x").and_then(|node| node.as_map()).map(Map::len), Some(0));
}

/// A text without faults, and a route in its tree.
fn text_and_route() -> impl Strategy<Value = (String, Arc<Node>, Route)> {
    let text = prop_oneof![(sketch(), 0usize..4).prop_map(|(sketch, blocks)| sketch.write(blocks)), noise()];
    text.prop_filter_map("faulty, or says nothing", |text| {
        let parsed = read(&text);
        let root = parsed.root.filter(|_| parsed.faults.is_empty())?;
        Some((text, root))
    })
    .prop_flat_map(|(text, root)| {
        let routes = all_routes(&root);
        (Just(text), Just(root), prop::sample::select(routes))
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(1000) })]

    #[test]
    fn what_was_put_is_found_and_nothing_else_moves((text, root, at) in text_and_route(), key in "[a-z]{0,3}") {
        let below = match find(&root, &at).map(|found| found.node.kind_word()) {
            Some("a table" | "nothing") => at.key(&key),
            _ => at.clone(),
        };
        let value = tree("{ new: [1, { two: x }] }");
        let changed = Change::set(below.clone(), Arc::clone(&value)).apply(&root)
            .map_err(|cannot| TestCaseError::fail(cannot.to_string()))?;
        let found = find(&changed, &below).expect("what was put is found");
        prop_assert!(found.node.same_content(&value));
        for other in all_routes(&root) {
            if !other.starts_with(&below) && !below.starts_with(&other) {
                let before = find(&root, &other).expect("there before");
                let after = find(&changed, &other).expect("there after");
                prop_assert!(Arc::ptr_eq(before.node, after.node), "{}", other);
            }
        }
        for other in all_routes(&changed) {
            for part in [Part::Key, Part::Value, Part::Whole] {
                let mark = mark(&changed, &other, part);
                prop_assert!(mark.span.slice(&text).is_some_and(|marked| !marked.is_empty()), "{} {:?}", other, mark);
            }
        }
    }

    #[test]
    fn what_was_put_can_be_taken_away_again((_, root, at) in text_and_route(), key in "[a-z]{9}") {
        if find(&root, &at).is_none_or(|found| found.node.as_map().is_none()) {
            return Ok(());
        }
        let new = at.key(&key);
        let there = Change::set(new.clone(), scalar("x")).apply(&root).expect("a new key");
        prop_assert!(!there.same_content(&root));
        let gone = Change::remove(new).apply(&there).expect("just put there");
        prop_assert!(gone.same_content(&root));
    }
}

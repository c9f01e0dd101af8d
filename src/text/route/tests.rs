use super::*;
use proptest::prelude::*;

fn route(text: &str) -> Route {
    text.parse().unwrap_or_else(|fault: RouteFault| panic!("{text}: {fault}"))
}

#[test]
fn routes_read_and_show_as_people_write_them() {
    let share = Route::root().key("parts").key("relief").key("discharge").index(0).key("share");
    assert_eq!(route("parts.relief.discharge[0].share"), share);
    assert_eq!(share.to_string(), "parts.relief.discharge[0].share");
    assert_eq!(route("boost.\"4000 rpm\""), Route::root().key("boost").key("4000 rpm"));
    for text in [
        "",
        "[0][12]",
        "[3].a",
        "a[0][1].b",
        "\"\".a.\"\"",
        "\"a.b\".\"c[0]\".\"d\\\"e\"",
        "\"\\\\ \\n\\t\\u{1b}\".é-µ",
        "boost.\"4000 rpm\"",
        "\"it's\".\"a=b\"",
    ] {
        assert_eq!(route(text).to_string(), text);
    }
    // Quotes that are not needed are not kept.
    assert_eq!(route("\"a\".\"b\"").to_string(), "a.b");
}

#[test]
fn what_is_not_a_route_is_refused_at_its_place() {
    for (text, at, message) in [
        ("a..b", 2, "`.` stands where a key should"),
        (".a", 0, "`.` stands where a key should"),
        ("a.", 2, "the end stands where a key should"),
        ("a[x]", 2, "`x` stands where a number in brackets, as `[0]`, should"),
        ("a[]", 2, "the brackets of a list entry hold its number, as `[0]`"),
        ("a[1", 3, "the end stands where a number in brackets, as `[0]`, should"),
        ("a[99999999999999999999]", 2, "the brackets of a list entry hold its number, as `[0]`"),
        ("a[0]b", 4, "`b` should be a dot or a bracket"),
        ("a b", 1, "` ` should be a dot or a bracket"),
        ("é.\"x", 3, "the quote is not closed"),
        ("\"\\q\"", 1, "`\\\\` begins no escape known here"),
        ("\"\\u{d800}\"", 1, "`\\\\` begins no escape known here"),
        ("a=b", 1, "`=` is not part of a route"),
    ] {
        let fault = text.parse::<Route>().expect_err(text);
        assert_eq!((fault.at, fault.message.as_str()), (at, message), "{text}");
    }
    let long = vec!["a"; Route::MOST_STEPS].join(".");
    assert_eq!(route(&long).steps().len(), Route::MOST_STEPS);
    assert!(format!("{long}.a").parse::<Route>().is_err());
}

#[test]
fn routes_have_a_beginning_and_an_end() {
    let whole = route("a.b[2]");
    assert_eq!(whole.parent(), Some(route("a.b")));
    assert_eq!((whole.last(), whole.last_key()), (Some(&Step::Index(2)), None));
    assert_eq!(route("a.b").last_key(), Some("b"));
    assert_eq!((Route::root().parent(), Route::root().last()), (None, None));
    assert!(Route::root().is_root() && !whole.is_root());
    assert!(
        whole.starts_with(&route("a.b")) && whole.starts_with(&whole) && whole.starts_with(&Route::root())
    );
    assert!(
        !whole.starts_with(&route("a.c"))
            && !route("a").starts_with(&whole)
            && !route("ab").starts_with(&route("a"))
    );
    assert_eq!(route("a").join(&route("b[2]")), whole);
    assert!(route("a[2]") < route("a[10]") && route("a") < route("a.b"));
}

fn any_route() -> impl Strategy<Value = Route> {
    let step = prop_oneof![
        any::<String>().prop_map(|key| Step::Key(key.into())),
        "[a-z.\\[\\]\"' =]{0,5}".prop_map(|key| Step::Key(key.into())),
        any::<usize>().prop_map(Step::Index),
    ];
    prop::collection::vec(step, 0..6).prop_map(|steps| steps.into_iter().collect())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(1000) })]

    #[test]
    fn what_is_shown_reads_back(route in any_route()) {
        prop_assert_eq!(route.to_string().parse::<Route>(), Ok(route));
    }

    #[test]
    fn any_text_is_a_route_or_a_fault_inside_it(text in "[a-z0-9.\\[\\]\"\\\\=u{}é ]{0,12}") {
        match text.parse::<Route>() {
            Ok(route) => prop_assert_eq!(route.to_string().parse::<Route>(), Ok(route)),
            Err(fault) => prop_assert!(text.is_char_boundary(fault.at), "{:?}", fault),
        }
    }
}

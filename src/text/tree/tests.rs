use super::*;
use crate::text::testing::tree;

#[test]
fn tables_of_any_size_find_their_keys() {
    for size in [0, 1, LOOKED_THROUGH, LOOKED_THROUGH + 1, 100] {
        let entry = |at: usize| Entry {
            key: Key {
                text: Arc::from(format!("k{at}")),
                span: Span::new(crate::text::span::FileId(0), at, at + 1),
            },
            value: tree(&format!("v{at}")),
        };
        let text = |map: &Map, key: &str| map.get(key)?.value.as_text().map(str::to_owned);
        let map = Map::new((0..size).map(entry).collect());
        assert_eq!((map.len(), map.is_empty()), (size, size == 0));
        for at in 0..size {
            let key = format!("k{at}");
            assert_eq!(text(&map, &key), Some(format!("v{at}")), "{size}");
            let changed = map.with_value_at(at, tree("new"));
            assert_eq!(text(&changed, &key).as_deref(), Some("new"));
            let less = map.without(at);
            assert_eq!((less.len(), text(&less, &key)), (size - 1, None));
            assert!(
                (0..size).filter(|other| *other != at).all(|other| less.get(&format!("k{other}")).is_some())
            );
        }
        let more = map.with_entry(entry(size));
        assert_eq!(text(&more, &format!("k{size}")), Some(format!("v{size}")));
        assert_eq!(text(&map, "other"), None);
    }
}

#[test]
fn trees_that_say_the_same_are_the_same() {
    let one = tree("{ a: 1, b: [x, 'y'], c: ~ }");
    assert!(one.same_content(&tree("c:\nb:\n- x\n- \"y\"\na: '1'")));
    for other in [
        "{ a: 1, b: [x, y] }",
        "{ a: 1, b: [y, x], c: ~ }",
        "{ a: 1, b: [x], c: ~ }",
        "{ a: 2, b: [x, y], c: ~ }",
        "{ a: 1, b: [x, y], c: '~' }",
        "{ a: 1, b: [x, y], d: ~ }",
        "[]",
        "x",
    ] {
        assert!(!one.same_content(&tree(other)), "{other}");
    }
}

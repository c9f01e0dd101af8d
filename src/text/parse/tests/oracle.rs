//! Another reader of YAML as oracle, and texts made by chance.

use crate::text::locate::{Part, mark};
use crate::text::span::Span;
use crate::text::testing::{all_routes, noise, read, sketch};
use crate::text::tree::{Node, Value};
use proptest::prelude::*;

/// A tree as the oracle has it: plain text gets whatever type the oracle gives it.
fn resolved(node: &Node) -> serde_yaml::Value {
    use serde_yaml::Value as V;
    let plain = |text: &str| match serde_yaml::from_str::<[V; 1]>(&format!("- {text}")) {
        Ok([value @ (V::Null | V::Bool(_) | V::Number(_))]) if !text.contains('\n') => value,
        _ => V::String(text.to_owned()),
    };
    match &node.value {
        Value::Scalar(scalar) if scalar.plain => plain(&scalar.text),
        Value::Scalar(scalar) => V::String(scalar.text.to_string()),
        Value::List(list) => V::Sequence(list.iter().map(|entry| resolved(entry)).collect()),
        Value::Map(map) => V::Mapping(
            map.iter().map(|entry| (V::String(entry.key.text.to_string()), resolved(&entry.value))).collect(),
        ),
    }
}

/// The oracle's value with every key as the text of it.
fn with_text_keys(value: serde_yaml::Value) -> Option<serde_yaml::Value> {
    use serde_yaml::Value as V;
    Some(match value {
        V::Sequence(list) => V::Sequence(list.into_iter().map(with_text_keys).collect::<Option<_>>()?),
        V::Mapping(map) => V::Mapping(
            map.into_iter()
                .map(|(key, value)| match key {
                    V::String(_) => Some((key, with_text_keys(value)?)),
                    _ => None,
                })
                .collect::<Option<_>>()?,
        ),
        other => other,
    })
}

/// Whether the oracle, where it accepts the text too, reads the same; nothing if it was not asked.
fn oracle_agrees(text: &str) -> Option<bool> {
    let parsed = read(text);
    // A block of text that is the whole document may stand at the margin in YAML 1.2, not in 1.1.
    let root = parsed.root.filter(|root| parsed.faults.is_empty() && root.as_scalar().is_none())?;
    // The oracle counts a byte order mark as a column, and takes a second one for text.
    let unmarked = text.strip_prefix('\u{feff}').unwrap_or(text);
    if unmarked.contains('\u{feff}') {
        return None;
    }
    let theirs = serde_yaml::from_str::<serde_yaml::Value>(unmarked).ok()?;
    Some(with_text_keys(theirs)? == resolved(&root))
}

#[test]
fn the_oracle_reads_ordinary_texts_the_same() {
    for text in [
        "a: 1\nb: [x, 'y', \"z\\n\"]\nc: {d: 1.5, e: ~}\n",
        "a: |\n  one\n   two\n\nb: >\n  three\n  four\nc: |-\n  five\n",
        "a: &x {b: 1}\nc: *x\nd: [*x, *x]\n",
        "- a\n- - b\n  - c\n-\n  d: e\n",
        "a: one\n  two\n\n  three\n",
        "\"a b\": 'it''s'\n? c\n: d\n",
        "a:\n- b\n- c\nd: e",
        "a: b\r\nc:\r\n  - d\r\n",
    ] {
        assert_eq!(oracle_agrees(text), Some(true), "{text}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(2000) })]

    #[test]
    fn the_oracle_reads_any_text_the_same(text in noise()) {
        prop_assert_ne!(oracle_agrees(&text), Some(false));
    }

    #[test]
    fn noise_never_panics_and_every_place_lies_in_the_text(text in noise()) {
        let parsed = read(&text);
        let fits = |span: Span| span.slice(&text).is_some_and(|marked| !marked.is_empty());
        for fault in &parsed.faults {
            prop_assert!(fits(fault.span), "{:?}", fault);
            prop_assert!(fault.also.iter().all(|(span, _)| fits(*span)), "{:?}", fault);
        }
        let Some(root) = parsed.root else { return Ok(()) };
        for route in all_routes(&root) {
            for route in [route.key("no such key"), route.index(99), route] {
                for part in [Part::Key, Part::Value, Part::Whole] {
                    let mark = mark(&root, &route, part);
                    prop_assert!(fits(mark.span), "{} {:?}", route, mark);
                    prop_assert!(mark.defined_at.is_none_or(fits), "{} {:?}", route, mark);
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]

    #[test]
    fn what_is_written_is_read(sketch in sketch(), blocks in 0usize..5) {
        let text = sketch.write(blocks);
        let parsed = read(&text);
        prop_assert_eq!(&parsed.faults, &[], "{}", text);
        prop_assert!(parsed.root.is_some_and(|root| sketch.is(&root)), "{}", text);
        prop_assert_ne!(oracle_agrees(&text), Some(false), "{}", text);
    }
}

//! An independent YAML reader as the oracle: whatever text both accept, both read as the same tree.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tractwright::text::{FileId, Limits, Node, Value, parse};

fuzz_target!(|text: &str| {
    let limits = Limits { nodes: 2_000, ..Limits::default() };
    let parsed = parse(FileId(0), text, &limits);
    let (Some(ours), true) = (parsed.root, parsed.faults.is_empty()) else { return };
    let Ok(theirs) = serde_yaml::from_str::<serde_yaml::Value>(text) else { return };
    // A document that is one scalar, and a second byte order mark, are read differently by the other's scanner.
    if ours.as_scalar().is_some() || text.contains('\u{feff}') {
        return;
    }
    // The other's scanner follows YAML 1.1 here: in `{?key: 1}` it takes the question mark for a sign of its own, where 1.2
    // asks for a blank after it.
    if text.contains(['{', '[']) && question_begins_a_word(text) {
        return;
    }
    same(&ours, &theirs);
});

/// Whether a question mark stands where a word may begin, with no blank after it.
fn question_begins_a_word(text: &str) -> bool {
    let begins =
        |before: &str| before.chars().next_back().is_none_or(|c| c.is_whitespace() || "{[,:?-".contains(c));
    text.match_indices('?')
        .any(|(at, _)| begins(&text[..at]) && text[at + 1..].starts_with(|c: char| !c.is_whitespace()))
}

fn same(ours: &Node, theirs: &serde_yaml::Value) {
    match (&ours.value, theirs) {
        (Value::List(a), serde_yaml::Value::Sequence(b)) => {
            assert_eq!(a.len(), b.len());
            a.iter().zip(b).for_each(|(a, b)| same(a, b));
        }
        (Value::Map(a), serde_yaml::Value::Mapping(b)) => {
            assert_eq!(a.len(), b.len());
            for (a, (key, b)) in a.iter().zip(b) {
                if let serde_yaml::Value::String(key) = key {
                    assert_eq!(*a.key.text, **key);
                }
                same(&a.value, b);
            }
        }
        (Value::Scalar(a), serde_yaml::Value::String(b)) => assert_eq!(*a.text, **b),
        (Value::Scalar(a), serde_yaml::Value::Null) => assert!(a.is_null()),
        (Value::Scalar(a), serde_yaml::Value::Bool(_) | serde_yaml::Value::Number(_)) => assert!(a.plain),
        (_, other) => panic!("{} against {other:?}", ours.kind_word()),
    }
}

//! Texts made to cost much.

use crate::text::fault::FaultKind;
use crate::text::testing::read;

/// Each hostile text, and the kind of its last fault, if it has any.
fn hostile() -> Vec<(&'static str, String, Option<FaultKind>)> {
    let laughs: String = (0..10)
        .map(|level| {
            let below = match level {
                0 => "x".to_owned(),
                _ => vec![format!("*a{}", level - 1); 10].join(", "),
            };
            format!("a{level}: &a{level} [{below}]\n")
        })
        .collect();
    let chain: String = (1..100).map(|level| format!("a{level}: &a{level} [*a{}]\n", level - 1)).collect();
    let many_keys: String = (0..50_000).map(|key| format!("k{key}: 1\n")).collect();
    let same_keys: String = "k: 1\n".repeat(50_000);
    let deep = |open: &str| open.repeat(10_000);
    vec![
        ("nested aliases", laughs, Some(FaultKind::TooManyNodes)),
        ("depth by aliases", format!("a0: &a0 x\n{chain}"), Some(FaultKind::TooDeep)),
        ("lists in brackets", deep("["), Some(FaultKind::TooDeep)),
        ("tables in brackets", deep("{a: "), Some(FaultKind::TooDeep)),
        ("lists by dashes", deep("- "), Some(FaultKind::TooDeep)),
        ("keys of keys", deep("? "), Some(FaultKind::TooDeep)),
        (
            "both ways deep",
            format!("{}{}{}", "- ".repeat(50), "[".repeat(50), "]".repeat(50)),
            Some(FaultKind::TooDeep),
        ),
        ("many keys", many_keys, None),
        ("one key again and again", same_keys, Some(FaultKind::Other)),
        ("long key", format!("{}: 1\n", "k".repeat(1 << 20)), Some(FaultKind::Syntax)),
        ("long quoted key", format!("\"{}\": 1\n", "k".repeat(1 << 20)), Some(FaultKind::Syntax)),
        ("long explicit key", format!("? {}\n: 1\n", "k".repeat(1 << 20)), None),
        ("long value", format!("a: {}\n", "v".repeat(1 << 20)), None),
        ("long anchor", format!("a: &{0} 1\nb: *{0}\n", "v".repeat(1 << 20)), None),
        ("many anchors", (0..50_000).map(|key| format!("- &a{key} 1\n")).collect(), None),
        (
            "many anchors and bad aliases",
            (0..60_000)
                .map(|key| format!("- &abc{key} 1\n"))
                .chain((0..900).map(|key| format!("- *abd{key}\n")))
                .collect(),
            Some(FaultKind::UnknownAnchor),
        ),
        ("many bad aliases", (0..50_000).map(|key| format!("- *a{key}\n")).collect(), Some(FaultKind::Other)),
        ("comments", "# c\n".repeat(500_000), None),
        ("commas", format!("[{}]", "a,".repeat(1 << 20)), Some(FaultKind::TooManyNodes)),
        ("open quotes", format!("a: \"{}", "x\n".repeat(1 << 20)), Some(FaultKind::Syntax)),
        ("carriage returns", "\r".repeat(1 << 20), None),
        ("self", "&a [*a, &b {c: *b}]".to_owned(), Some(FaultKind::UnknownAnchor)),
        ("too large", "a".repeat(60 << 20), Some(FaultKind::TooLarge)),
    ]
}

#[test]
fn hostile_text_ends_in_a_fault() {
    for (name, text, kind) in hostile() {
        let parsed = read(&text);
        assert_eq!(parsed.faults.iter().map(|fault| fault.kind).next_back(), kind, "{name}");
        for fault in &parsed.faults {
            assert!(fault.message.len() < 200, "{name}: {}", fault.message);
            assert!(fault.span.slice(&text).is_some_and(|marked| !marked.is_empty()), "{name}");
        }
    }
}

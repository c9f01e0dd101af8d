//! Any text, a line of `=====`, and a change: where the text is edited, it reads as the changed tree.

#![no_main]

use std::sync::Arc;

use libfuzzer_sys::fuzz_target;
use tractwright::text::{Change, FileId, Limits, Node, edit, parse};

fn read(text: &str) -> Option<Arc<Node>> {
    let limits = Limits { nodes: 2_000, ..Limits::default() };
    let parsed = parse(FileId(0), text, &limits);
    parsed.root.filter(|_| parsed.faults.is_empty())
}

fuzz_target!(|input: &str| {
    let (text, change) =
        input.split_once("\n=====\n").unwrap_or((include_str!("../../../examples/hill-climb.yaml"), input));
    let Ok(change) = Change::parse_assignment(change) else { return };
    let Some(root) = read(text) else { return };
    let Ok(edits) = edit(text, &root, &change) else { return };
    let edited = read(&edits.apply(text)).expect("an edited text can be read");
    let changed = change.apply(&root).expect("what the text allows the tree allows");
    assert!(edited.same_content(&changed));
    let _ = edits.diff("fuzz.yaml", text);
});

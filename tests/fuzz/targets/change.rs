//! Any text as a change of the starter: applied or refused, and what was set can be found.

#![no_main]

use std::sync::{Arc, LazyLock};

use libfuzzer_sys::fuzz_target;
use tractwright::text::{Change, FileId, Limits, Node, Op, find, parse};

static ROOT: LazyLock<Arc<Node>> = LazyLock::new(|| {
    let text = include_str!("../../../examples/hill-climb.yaml");
    parse(FileId(0), text, &Limits::default()).root.expect("the starter is a tree")
});

fuzz_target!(|text: &str| {
    let Ok(change) = Change::parse_assignment(text) else { return };
    let Ok(changed) = change.apply(&ROOT) else { return };
    if let [Op::Set(route, value)] = change.0.as_slice() {
        let found = find(&changed, route).expect("what was set is there");
        assert!(found.node.same_content(value));
    }
});

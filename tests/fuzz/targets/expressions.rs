//! Any text as the condition of a rule: an expression or a fault at a place inside it.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tractwright::review::BuildVocabulary;
use tractwright::rules::Catalogue;

const RULE: &str = include_str!("../../../rules/placement/relief-valve-near-compressor-outlet.yaml");

fuzz_target!(|text: &str| {
    let quoted = text.replace('\'', "''").replace(['\n', '\r'], " ");
    let file = RULE.replace(
        "\"it.distance_from_compressor_outlet < limits.clear_length * it.host_bore\"",
        &format!("'{quoted}'"),
    );
    let path = "placement/relief-valve-near-compressor-outlet.yaml".to_owned();
    let _ = Catalogue::load([(path, file)], &BuildVocabulary);
});

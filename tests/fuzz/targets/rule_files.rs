//! Any text as a rule file: a rule or faults.

#![no_main]

use libfuzzer_sys::fuzz_target;
use tractwright::review::BuildVocabulary;
use tractwright::rules::Catalogue;

fuzz_target!(|text: &str| {
    let _ = Catalogue::load([("placement/x.yaml".to_owned(), text.to_owned())], &BuildVocabulary);
});

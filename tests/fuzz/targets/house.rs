//! Any bytes as a house file: read, and a build reviewed under it, every mark inside its text.

#![no_main]

use std::sync::{Arc, LazyLock};

use libfuzzer_sys::fuzz_target;
use tractwright::build::files::{Files, LoadFault, Loader};
use tractwright::review::{BuildVocabulary, House, Options, Policy, Reviewer};
use tractwright::rules::Catalogue;
use tractwright::text::{FileId, Limits, Source, check_bytes, parse};

struct NoFiles;

impl Loader for NoFiles {
    fn load(&self, _: &str) -> Result<Vec<u8>, LoadFault> {
        Err(LoadFault("there is no such file".to_owned()))
    }

    fn shown(&self, relative: &str) -> String {
        relative.to_owned()
    }
}

static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| Catalogue::embedded(&BuildVocabulary).0);

const BUILD: &str = include_str!("../../../examples/hill-climb-b.yaml");

fuzz_target!(|bytes: &[u8]| {
    let limits = Limits { nodes: 2_000, ..Limits::default() };
    let Ok(text) = check_bytes(FileId(0), bytes, &limits) else { return };
    let files = Files::new(Box::new(NoFiles), limits);
    files.add("tractwright.yaml", text);
    let parsed = parse(FileId(0), text, files.limits());
    let Some(root) = parsed.root else { return };
    let source = Arc::new(Source::new("tractwright.yaml", text));
    let house = House::read(&source, &root, &files);
    for fault in &house.faults {
        assert!(
            fault.span.end <= text.len().max(1) && fault.span.start <= fault.span.end,
            "{:?}",
            fault.span
        );
        assert!(
            text.is_char_boundary(fault.span.start) && text.is_char_boundary(fault.span.end.min(text.len()))
        );
    }
    let policy = Policy::new(CATALOGUE.clone(), Some(house));
    let files = Files::new(Box::new(NoFiles), Limits::default());
    let file = files.add("hill-climb-b.yaml", BUILD);
    let root = parse(file, BUILD, files.limits()).root.expect("the example is a tree");
    let review = Reviewer::under(&policy, Options::default()).review(file, &root, &files);
    assert!(review.tally.adds_up());
});

//! Any bytes as a build: read, reviewed and drawn without a panic, every mark inside the text.

#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use tractwright::build::files::{Files, LoadFault, Loader};
use tractwright::review::{BuildVocabulary, Options, Reviewer};
use tractwright::rules::Catalogue;
use tractwright::text::{FileId, Limits, check_bytes, parse};

struct OneMap;

impl Loader for OneMap {
    fn load(&self, relative: &str) -> Result<Vec<u8>, LoadFault> {
        match relative {
            "m" => Ok(include_bytes!("../../../examples/maps/invented-a.csv").to_vec()),
            _ => Err(LoadFault("there is no such file".to_owned())),
        }
    }

    fn shown(&self, relative: &str) -> String {
        relative.to_owned()
    }
}

static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| Catalogue::embedded(&BuildVocabulary).0);

fuzz_target!(|bytes: &[u8]| {
    let limits = Limits { nodes: 2_000, ..Limits::default() };
    let file = FileId(0);
    let Ok(text) = check_bytes(file, bytes, &limits) else { return };
    let files = Files::new(Box::new(OneMap), limits);
    files.add("fuzz.yaml", text);
    let parsed = parse(file, text, files.limits());
    let Some(root) = parsed.root else { return };
    let review = Reviewer::new(&CATALOGUE, Options::default()).review(file, &root, &files);
    assert!(review.tally.adds_up());
    for span in review
        .faults
        .iter()
        .map(|f| f.span)
        .chain(review.results.iter().flat_map(|r| &r.marks).map(|m| m.span))
    {
        let source = files.sources();
        let text = source.get(span.file).text();
        assert!(span.end <= text.len().max(1) && span.start < span.end, "{span:?}");
        assert!(text.is_char_boundary(span.start) && text.is_char_boundary(span.end.min(text.len())));
    }
});

//! What the tests of whole reviews share: examples as they lie on disk, changes of them, reviews with the embedded
//! rules, and the lists of planted faults.

#![allow(dead_code, reason = "each test file takes what it needs")]

pub mod cases;
pub mod oracle;
pub mod runs;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use tractwright::build::Build;
use tractwright::build::files::{DiskLoader, Files, Loader};
use tractwright::facts::{Scope, Sites};
use tractwright::known::{Datum, Known, Num};
use tractwright::review::cases::ScaledMaps;
use tractwright::review::{BuildVocabulary, Options, Review, Reviewer, RuleResult, Verdict};
use tractwright::rules::{Catalogue, embedded_files};
use tractwright::text::{self, Change, FileId, Limits, Node, Op, Route, read_any_quantity};

/// The example that planted faults and the cases of rules start from.
pub const STARTER: &str = "hill-climb";

/// The file of a build among the texts of its own [`Files`].
pub const BUILD_FILE: FileId = FileId(0);

/// A path below the project's root.
pub fn project(below: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(below)
}

/// The names, without ending, of the YAML files that lie directly in a folder of the project, in order.
pub fn yaml_names(folder: &str) -> Vec<String> {
    let entries = std::fs::read_dir(project(folder)).expect("the folder can be listed");
    let mut names: Vec<String> = entries
        .map(|entry| entry.expect("an entry can be read").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .filter_map(|path| path.file_stem().and_then(|stem| stem.to_str()).map(str::to_owned))
        .collect();
    names.sort();
    names
}

/// The text of a file of the project.
pub fn text_of(below: &str) -> String {
    std::fs::read_to_string(project(below)).unwrap_or_else(|error| panic!("{below}: {error}"))
}

/// The tree of a text of the tests' own, which has to be without fault.
pub fn tree(name: &str, text: &str) -> Arc<Node> {
    let parsed = text::parse(FileId::NOWHERE, text, &Limits::default());
    assert!(parsed.faults.is_empty(), "{name}: {:?}", parsed.faults);
    parsed.root.unwrap_or_else(|| panic!("{name} is empty"))
}

/// A build with the files beside it.
pub struct Example {
    /// Its file's name without ending.
    pub name: String,
    /// Its text.
    pub text: String,
    /// Its tree.
    pub root: Arc<Node>,
    /// The door to the maps it names.
    pub files: Files,
}

impl Example {
    /// An example from disk.
    pub fn read(name: &str) -> Self {
        Self::written(name, &text_of(&format!("examples/{name}.yaml")), None)
    }

    /// A text that stands as if it lay among the examples; every flow of its maps is taken `map_flow` times.
    pub fn written(name: &str, text: &str, map_flow: Option<f64>) -> Self {
        let limits = Limits::default();
        let disk =
            DiskLoader::new(&project("examples"), Path::new(""), limits.bytes).expect("the folder is there");
        let loader: Box<dyn Loader> = match map_flow {
            None => Box::new(disk),
            Some(factor) => Box::new(ScaledMaps { loader: disk, factor }),
        };
        let files = Files::new(loader, limits);
        assert_eq!(files.add(name, text), BUILD_FILE, "the build is the first text");
        let parsed = text::parse(BUILD_FILE, text, files.limits());
        assert!(parsed.faults.is_empty(), "{name}: {:?}", parsed.faults);
        let root = parsed.root.unwrap_or_else(|| panic!("{name} is empty"));
        Self { name: name.to_owned(), text: text.to_owned(), root, files }
    }

    /// The tree with a change made.
    pub fn changed(&self, change: &Change) -> Arc<Node> {
        change.apply(&self.root).unwrap_or_else(|cannot| panic!("{}: {cannot}", self.name))
    }

    /// The review of a tree of this example, without cures.
    pub fn review(&self, catalogue: &Catalogue, root: &Arc<Node>) -> Review {
        self.review_with(catalogue, root, &[])
    }

    /// The same with these rules alone; with all of them if none is named.
    pub fn review_with(&self, catalogue: &Catalogue, root: &Arc<Node>, rules: &[&str]) -> Review {
        let rules = rules.iter().map(|rule| (*rule).to_owned()).collect();
        Reviewer::new(catalogue, Options { rules, ..Options::default() }).review(
            BUILD_FILE,
            root,
            &self.files,
        )
    }

    /// The number that a fact of a result's subject comes to in a tree of this example.
    pub fn number(&self, root: &Arc<Node>, result: &RuleResult, fact: &str) -> Num {
        let build = Build::read(BUILD_FILE, root, &self.files);
        let value = Scope::new(&build).fact(&result.subject, fact, Sites::All);
        match value {
            Known::Is(Datum::Number(number)) => number,
            other => panic!("{}: {fact} of {} is {other:?}, and no number", self.name, result.subject.name),
        }
    }
}

/// The rules of the program, each of which reads.
pub fn catalogue() -> Catalogue {
    loaded(embedded_files())
}

/// The catalogue of rule files, each of which has to read.
pub fn loaded(files: impl IntoIterator<Item = (String, String)>) -> Catalogue {
    let (catalogue, faulty) = Catalogue::load(files, &BuildVocabulary);
    assert!(faulty.is_empty(), "{faulty:?}");
    catalogue
}

/// The findings of a review: rule and main place, in order. What a person has to judge counts, what is silenced does
/// not.
pub fn findings(review: &Review) -> Vec<(String, String)> {
    let found = review.results.iter().filter(|result| is_finding(result));
    let mut all: Vec<_> =
        found.map(|result| (result.rule.id.to_string(), result.main_route().to_string())).collect();
    all.sort();
    all
}

/// Whether a result is shown as a finding, or to be judged.
pub fn is_finding(result: &RuleResult) -> bool {
    matches!(result.verdict(), Verdict::Fail | Verdict::Review)
}

/// A list of faults planted in an example.
pub struct Planted {
    /// The sound example that they are planted in; the starter, unless the list says another.
    pub base: String,
    /// The faults that rules of today find.
    pub faults: Vec<PlantedFault>,
    /// The faults that no rule finds yet.
    pub later: Vec<PlantedFault>,
}

/// A planted fault.
pub struct PlantedFault {
    /// What it is.
    pub name: String,
    /// Plants it in the starter.
    pub plant: Change,
    /// Takes it out of the faulty example.
    pub undo: Change,
    /// What it brings.
    pub expect: Vec<Expected>,
}

/// A finding that a fault brings.
#[derive(Clone)]
pub struct Expected {
    /// The rule.
    pub rule: String,
    /// The route of its main place.
    pub at: String,
    /// A fact of its subject and the range, in SI units, that it lies in.
    pub number: Option<(String, Num, Num)>,
    /// Whether it comes where the fault stands alone, and not beside the other faults of its list.
    pub alone: bool,
}

impl PlantedFault {
    /// What it brings beside the other faults of its list.
    pub fn beside_others(&self) -> impl Iterator<Item = &Expected> {
        self.expect.iter().filter(|one| !one.alone)
    }
}

impl Planted {
    /// The list of an example.
    pub fn read(name: &str) -> Self {
        let path = format!("tests/planted/{name}.yaml");
        Self::parse(&path, &text_of(&path))
    }

    /// A list from its text.
    pub fn parse(path: &str, text: &str) -> Self {
        let root = tree(path, text);
        only_keys(path, &root, &["base", "faults", "later"]);
        let base = root.get("base").and_then(|base| base.as_text()).unwrap_or(STARTER).to_owned();
        let list = |key: &str| entries(&root, key).iter().map(|node| fault(path, node)).collect();
        Self { base, faults: list("faults"), later: list("later") }
    }
}

fn fault(path: &str, node: &Arc<Node>) -> PlantedFault {
    only_keys(path, node, &["name", "says", "change", "remove", "undo", "undo-remove", "expect"]);
    let fault = PlantedFault {
        name: word(path, node, "name"),
        plant: change(node, "change", "remove"),
        undo: change(node, "undo", "undo-remove"),
        expect: entries(node, "expect").iter().map(|node| expected(path, node)).collect(),
    };
    assert!(!fault.plant.0.is_empty(), "{path}: {} plants nothing", fault.name);
    assert!(!fault.undo.0.is_empty(), "{path}: {} undoes nothing", fault.name);
    assert!(!fault.expect.is_empty(), "{path}: {} expects nothing", fault.name);
    fault
}

fn expected(path: &str, node: &Arc<Node>) -> Expected {
    only_keys(path, node, &["rule", "at", "number", "alone"]);
    let alone = node.get("alone").is_some_and(|alone| alone.as_text() == Some("true"));
    let number = node.get("number").map(|number| {
        only_keys(path, number, &["fact", "from", "to"]);
        let quantity = |key: &str| {
            let written = word(path, number, key);
            let (si, dim, _) =
                read_any_quantity(&written).unwrap_or_else(|wrong| panic!("{path}: {written}: {wrong:?}"));
            Num::new(si, dim)
        };
        (word(path, number, "fact"), quantity("from"), quantity("to"))
    });
    Expected { rule: word(path, node, "rule"), at: word(path, node, "at"), number, alone }
}

/// What is put and then what is taken away.
fn change(node: &Arc<Node>, put: &str, take: &str) -> Change {
    let route = |text: &str| -> Route { text.parse().unwrap_or_else(|wrong| panic!("{text}: {wrong}")) };
    let mut ops = Vec::new();
    for entry in node.get(put).and_then(|node| node.as_map()).into_iter().flatten() {
        ops.push(Op::Set(route(&entry.key.text), entry.value.clone()));
    }
    for taken in entries(node, take) {
        ops.push(Op::Remove(route(taken.as_text().expect("a route is text"))));
    }
    Change(ops)
}

fn word(path: &str, node: &Arc<Node>, key: &str) -> String {
    let text = node.get(key).and_then(|node| node.as_text());
    text.unwrap_or_else(|| panic!("{path}: `{key}` is due")).to_owned()
}

fn entries<'a>(node: &'a Node, key: &str) -> &'a [Arc<Node>] {
    node.get(key).and_then(|node| node.as_list()).unwrap_or_default()
}

/// A key that nobody reads would make a list say less than it seems to.
fn only_keys(path: &str, node: &Node, keys: &[&str]) {
    for entry in node.as_map().unwrap_or_else(|| panic!("{path}: a table is due")) {
        assert!(keys.contains(&&*entry.key.text), "{path}: `{}` is none of {keys:?}", entry.key.text);
    }
}

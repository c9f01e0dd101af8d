//! All rules together.

use std::collections::BTreeMap;
use std::sync::Arc;

use include_dir::{Dir, include_dir};
use rayon::prelude::*;

use super::file::Level;
use super::load::load;
use super::rule::Rule;
use super::vocabulary::Vocabulary;
use crate::text::{self, Fault, FaultKind, Part, Route, Sources, nearest};

/// The rules that come with the program, as files below their families' folders.
static EMBEDDED: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/rules");

/// Rules by family and name.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    rules: Vec<Arc<Rule>>,
    sources: Sources,
}

/// A rule file with what is wrong with it; none of it is in the catalogue.
#[derive(Clone, Debug)]
pub struct FaultyFile {
    /// Its path as it was given.
    pub path: Arc<str>,
    /// What is wrong, each at its place in the catalogue's sources.
    pub faults: Vec<Fault>,
}

impl Catalogue {
    /// Reads rule files, each with its path below the folder of rules. A file with any fault is left out and told.
    pub fn load(
        files: impl IntoIterator<Item = (String, String)>,
        vocabulary: &dyn Vocabulary,
    ) -> (Self, Vec<FaultyFile>) {
        Self::gathered(files.into_iter().map(|(path, text)| (path, text, false)), vocabulary)
    }

    /// The rules that come with the program, and those of a house, each with its path below the house's root.
    pub fn with_house(
        own: impl IntoIterator<Item = (String, String)>,
        vocabulary: &dyn Vocabulary,
    ) -> (Self, Vec<FaultyFile>) {
        let own = own.into_iter().map(|(path, text)| (path, text, true));
        Self::gathered(embedded_files().map(|(path, text)| (path, text, false)).chain(own), vocabulary)
    }

    fn gathered(
        files: impl Iterator<Item = (String, String, bool)>,
        vocabulary: &dyn Vocabulary,
    ) -> (Self, Vec<FaultyFile>) {
        let mut sources = Sources::new();
        let mut rules: Vec<Arc<Rule>> = Vec::new();
        let mut faulty: BTreeMap<Arc<str>, Vec<Fault>> = BTreeMap::new();
        let mut first_of: BTreeMap<Arc<str>, Arc<Rule>> = BTreeMap::new();
        let files: Vec<_> = files
            .map(|(path, text, of_house)| {
                let file = sources.add(path.as_str(), text.as_str());
                (path, text, of_house, file)
            })
            .collect();
        // Reading the rules is most of what a start costs.
        let loaded: Vec<_> =
            files.par_iter().map(|(path, text, _, file)| load(path, *file, text, vocabulary)).collect();
        for ((path, _, of_house, _), loaded) in files.into_iter().zip(loaded) {
            let rule = match loaded {
                Ok(mut rule) => {
                    rule.origin.of_house = of_house;
                    Arc::new(rule)
                }
                Err(faults) => {
                    faulty.entry(path.into()).or_default().extend(faults);
                    continue;
                }
            };
            match first_of.get(&rule.id) {
                Some(first) => {
                    let at = Route::root().key("id");
                    let message = format!("there is a rule `{}` already", rule.id);
                    let fault = Fault::new(FaultKind::DuplicateKey, mark(&rule, &at), message)
                        .with_also(mark(first, &at), "this one");
                    faulty.entry(Arc::clone(&rule.origin.path)).or_default().push(fault);
                }
                None => {
                    first_of.insert(Arc::clone(&rule.id), Arc::clone(&rule));
                    rules.push(rule);
                }
            }
        }
        // Whether a silenced rule exists is known only once all are read.
        let unread: Vec<&str> =
            faulty.keys().filter_map(|path| path.rsplit('/').next()?.strip_suffix(".yaml")).collect();
        let mut known: Vec<Arc<str>> = first_of.into_keys().collect();
        known.extend(unread.into_iter().map(Arc::from));
        rules.retain(|rule| {
            let dangling = dangling_silences(rule, &known);
            let sound = dangling.is_empty();
            if !sound {
                faulty.entry(Arc::clone(&rule.origin.path)).or_default().extend(dangling);
            }
            sound
        });
        rules.sort_by(|a, b| (&a.family, &a.id).cmp(&(&b.family, &b.id)));
        let faulty = faulty.into_iter().map(|(path, faults)| FaultyFile { path, faults }).collect();
        (Self { rules, sources }, faulty)
    }

    /// The rules that come with the program.
    pub fn embedded(vocabulary: &dyn Vocabulary) -> (Self, Vec<FaultyFile>) {
        Self::load(embedded_files(), vocabulary)
    }

    /// The rule of this name.
    pub fn find(&self, id: &str) -> Option<&Arc<Rule>> {
        self.rules.iter().find(|rule| &*rule.id == id)
    }

    /// Gives a rule another level. A rule of that name that is not there is passed over.
    pub fn set_level(&mut self, id: &str, level: Level) {
        if let Some(rule) = self.rules.iter_mut().find(|rule| &*rule.id == id) {
            Arc::make_mut(rule).level = level;
        }
    }

    /// All rules, by family and then by name; those not in force too.
    pub fn rules(&self) -> &[Arc<Rule>] {
        &self.rules
    }

    /// The texts of the rule files, for marks in them.
    pub fn sources(&self) -> &Sources {
        &self.sources
    }
}

/// The rule files that come with the program, each with its path below the folder of rules, by path.
pub fn embedded_files() -> impl Iterator<Item = (String, String)> {
    fn gather(dir: &'static Dir<'static>, files: &mut Vec<(String, String)>) {
        for file in dir.files().filter(|file| file.path().extension().is_some_and(|ending| ending == "yaml"))
        {
            let path = file.path().to_string_lossy().replace('\\', "/");
            files.push((path, String::from_utf8_lossy(file.contents()).into_owned()));
        }
        for below in dir.dirs() {
            gather(below, files);
        }
    }
    let mut files = Vec::new();
    gather(&EMBEDDED, &mut files);
    files.sort();
    files.into_iter()
}

fn mark(rule: &Rule, at: &Route) -> crate::text::Span {
    text::mark(&rule.origin.root, at, Part::Value).span
}

/// What is wrong with the rules that a rule silences; a rule whose file could not be read counts as known.
fn dangling_silences(rule: &Rule, known: &[Arc<str>]) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (index, silenced) in rule.silences.iter().enumerate() {
        let at = mark(rule, &Route::root().key("silences").index(index));
        if *silenced == rule.id {
            faults.push(Fault::new(FaultKind::Order, at, "a rule does not silence itself"));
        } else if !known.contains(silenced) {
            let fault = Fault::new(FaultKind::DanglingName, at, format!("there is no rule `{silenced}`"));
            faults.push(match nearest(silenced, known.iter().map(|id| &**id)) {
                Some(near) => fault.with_help(format!("did you mean `{near}`?")),
                None => fault,
            });
        }
    }
    faults
}

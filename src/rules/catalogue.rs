//! All rules together.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use super::file::Level;
use super::load::{load, load_lowered};
use super::rule::{Origin, Rule};
use super::vocabulary::Vocabulary;
use crate::text::{self, Fault, FaultKind, Limits, Part, Route, Sources, Span, nearest};

/// The rules that come with the program, by path: the path below the folder of rules, the text, and what of it a review
/// needs as JSON.
static EMBEDDED: &[(&str, &str, &str)] = include!(concat!(env!("OUT_DIR"), "/rules.rs"));

/// A rule file to read.
struct ToRead {
    path: String,
    text: String,
    /// Its content lowered when the program was built; none of a file that comes later.
    lowered: Option<&'static str>,
    of_house: bool,
}

impl ToRead {
    fn embedded() -> impl Iterator<Item = Self> {
        EMBEDDED.iter().map(|(path, text, lowered)| Self {
            path: (*path).to_owned(),
            text: (*text).to_owned(),
            lowered: Some(lowered),
            of_house: false,
        })
    }
}

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
        let files =
            files.into_iter().map(|(path, text)| ToRead { path, text, lowered: None, of_house: false });
        Self::gathered(files, vocabulary)
    }

    /// The rules that come with the program, and those of a house, each with its path below the house's root.
    pub fn with_house(
        own: impl IntoIterator<Item = (String, String)>,
        vocabulary: &dyn Vocabulary,
    ) -> (Self, Vec<FaultyFile>) {
        let own = own.into_iter().map(|(path, text)| ToRead { path, text, lowered: None, of_house: true });
        Self::gathered(ToRead::embedded().chain(own), vocabulary)
    }

    fn gathered(files: impl Iterator<Item = ToRead>, vocabulary: &dyn Vocabulary) -> (Self, Vec<FaultyFile>) {
        let mut sources = Sources::new();
        let mut rules: Vec<Arc<Rule>> = Vec::new();
        let mut faulty: BTreeMap<Arc<str>, Vec<Fault>> = BTreeMap::new();
        let mut first_of: BTreeMap<Arc<str>, Arc<Rule>> = BTreeMap::new();
        let files: Vec<_> =
            files.map(|file| (sources.add(file.path.as_str(), file.text.as_str()), file)).collect();
        // Reading the rules is most of what a start costs.
        let read = |(id, file): &(_, ToRead)| {
            let lowered = file.lowered.and_then(|lowered| load_lowered(&file.path, *id, lowered, vocabulary));
            lowered.map_or_else(|| load(&file.path, *id, &file.text, vocabulary), Ok)
        };
        let loaded: Vec<_> = files.par_iter().map(read).collect();
        for ((_, ToRead { path, of_house, .. }), loaded) in files.into_iter().zip(loaded) {
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
                    let fault = Fault::new(FaultKind::DuplicateKey, mark(&rule, &at, &sources), message)
                        .with_also(mark(first, &at, &sources), "this one");
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
            let dangling = dangling_silences(rule, &known, &sources);
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
        Self::gathered(ToRead::embedded(), vocabulary)
    }

    /// The rule of this name with its cases, read anew from its text.
    pub fn whole(&self, id: &str, vocabulary: &dyn Vocabulary) -> Option<Rule> {
        let rule = self.find(id)?;
        let Origin { path, file, of_house } = &rule.origin;
        let mut whole = load(path, *file, self.sources.get(*file).text(), vocabulary).ok()?;
        whole.origin.of_house = *of_house;
        whole.level = rule.level;
        Some(whole)
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
    EMBEDDED.iter().map(|(path, text, _)| ((*path).to_owned(), (*text).to_owned()))
}

/// A place of a rule's file. Its tree is not kept, as it is asked for where something is wrong only.
fn mark(rule: &Rule, at: &Route, sources: &Sources) -> Span {
    let file = rule.origin.file;
    let root = text::parse(file, sources.get(file).text(), &Limits::default()).root;
    root.map_or(Span::new(file, 0, 0), |root| text::mark(&root, at, Part::Value).span)
}

/// What is wrong with the rules that a rule silences; a rule whose file could not be read counts as known.
fn dangling_silences(rule: &Rule, known: &[Arc<str>], sources: &Sources) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (index, silenced) in rule.silences.iter().enumerate() {
        let at = || mark(rule, &Route::root().key("silences").index(index), sources);
        if *silenced == rule.id {
            faults.push(Fault::new(FaultKind::Order, at(), "a rule does not silence itself"));
        } else if !known.contains(silenced) {
            let fault = Fault::new(FaultKind::DanglingName, at(), format!("there is no rule `{silenced}`"));
            faults.push(match nearest(silenced, known.iter().map(|id| &**id)) {
                Some(near) => fault.with_help(format!("did you mean `{near}`?")),
                None => fault,
            });
        }
    }
    faults
}

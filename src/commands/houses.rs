//! Houses: the house file at the root of the builds with its own rules, or the one of another checkout.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use super::gather_builds::{Located, directory_of, locate, shown};
use super::shared::{Answer, unknown_rule};
use crate::build::accepted::{self, Accepted};
use crate::build::describe::Reading;
use crate::build::files::{DiskLoader, Files, HOUSE_FILE, Loader, plain_error, root_of};
use crate::output::json::FaultyHouse;
use crate::output::safe_text::one_line;
use crate::output::terminal::{Style, faults};
use crate::review::{BuildVocabulary, Counts, House, Options, Policy, Reviewer};
use crate::rules::{Catalogue, FaultyFile};
use crate::text::{Fault, FaultKind, FileId, Limits, Parsed, Source, Sources, Span, check_bytes, parse};

/// Where the house comes from.
#[derive(Args, Clone)]
pub struct HouseFrom {
    /// Take the house file, its rules, and which findings are accepted from another checkout, as a check of a change takes
    /// them from the branch that it is to go into. That the builds' own house file differs is told, with what it would hide.
    #[arg(long, value_name = "DIR")]
    house_from: Option<PathBuf>,
}

/// The rules under one house, and what is wrong with its files.
pub struct Governed {
    /// The rules, with what the house makes of them.
    pub policy: Policy,
    /// The path of the house file as it is shown.
    pub shown: String,
    /// What is wrong with the house file.
    faults: Vec<Fault>,
    /// The text of the house file.
    sources: Sources,
    /// What is wrong with its rules.
    faulty_rules: Vec<FaultyFile>,
}

impl Governed {
    /// The rules that come with the program, under no house.
    fn plain() -> Self {
        Self::of(Vec::new(), None, Vec::new(), Sources::new(), HOUSE_FILE)
    }

    fn of(
        own: Vec<(String, String)>,
        house: Option<House>,
        mut faults: Vec<Fault>,
        sources: Sources,
        shown: &str,
    ) -> Self {
        let (catalogue, faulty_rules) = Catalogue::with_house(own, &BuildVocabulary);
        let policy = Policy::new(catalogue, house);
        faults.extend(policy.house.iter().flat_map(|house| house.faults.clone()));
        faults.sort();
        Self { policy, shown: shown.to_owned(), faults, sources, faulty_rules }
    }

    /// Reads the house file of a root, and the rules that it brings, everything below the root.
    fn load(root: &Path, shown: &str) -> Self {
        let limits = Limits::default();
        let mut sources = Sources::new();
        let file = FileId(0);
        let unreadable = |mut sources: Sources, why: String| {
            // What cannot be read has no place of its own.
            let file = sources.add(shown, " ");
            let fault = Fault::new(FaultKind::File, Span::new(file, 0, 1), format!("the house file: {why}"));
            Self::of(Vec::new(), None, vec![fault], sources, shown)
        };
        let opened = DiskLoader::new(root, Path::new(""), limits.bytes)
            .and_then(|loader| loader.load(HOUSE_FILE).map(|bytes| (loader, bytes)));
        let (loader, bytes) = match opened {
            Ok(opened) => opened,
            Err(why) => return unreadable(sources, why.0),
        };
        let text = match check_bytes(file, &bytes, &limits) {
            Ok(text) => text,
            Err(fault) => return unreadable(sources, fault.message),
        };
        let source = Arc::new(Source::new(shown, text));
        sources.add_source(source.clone());
        let Parsed { root: tree, mut faults } = parse(file, text, &limits);
        let tree = match tree {
            // What the reader of YAML has not accepted is not read any further.
            Some(tree) if faults.is_empty() => tree,
            _ => {
                if faults.is_empty() {
                    faults.push(Fault::new(
                        FaultKind::Missing,
                        Span::new(file, 0, text.len().min(1)),
                        "the house file says nothing",
                    ));
                }
                return Self::of(Vec::new(), None, faults, sources, shown);
            }
        };
        let files = Files::new(Box::new(NoFiles), limits.clone());
        let house = House::read(&source, &tree, &files);
        let own = own_rules(&house, &loader, &limits, &mut faults);
        Self::of(own, Some(house), faults, sources, shown)
    }

    /// What is wrong with its files, each with the texts that the places point into.
    fn all_faults(&self) -> Vec<(&[Fault], &Sources)> {
        let own = [(self.faults.as_slice(), &self.sources)].into_iter();
        let rules = self.faulty_rules.iter();
        own.chain(rules.map(|file| (file.faults.as_slice(), self.policy.catalogue.sources()))).collect()
    }

    /// Whether anything is wrong with its files.
    pub fn is_faulty(&self) -> bool {
        self.all_faults().iter().any(|(faults, _)| !faults.is_empty())
    }

    /// What is wrong, drawn at its places.
    pub fn complaints(&self, style: Style) -> String {
        self.all_faults().into_iter().map(|(list, sources)| faults(list, sources, style)).collect()
    }

    /// What is wrong, for a program.
    pub fn faulty(&self) -> Option<FaultyHouse<'_>> {
        self.is_faulty().then(|| FaultyHouse { path: &self.shown, faults: self.all_faults() })
    }
}

/// A house file names no file that is read as one of a build.
struct NoFiles;

impl Loader for NoFiles {
    fn load(&self, _: &str) -> Result<Vec<u8>, crate::build::files::LoadFault> {
        Err(crate::build::files::LoadFault("nothing is read from here".to_owned()))
    }

    fn shown(&self, relative: &str) -> String {
        relative.to_owned()
    }
}

/// The rule files of a house's folders, each once; what cannot be read is told at the folder's place.
fn own_rules(
    house: &House,
    loader: &DiskLoader,
    limits: &Limits,
    faults: &mut Vec<Fault>,
) -> Vec<(String, String)> {
    let mut own = BTreeMap::new();
    for (folder, span) in &house.rules {
        let mut tell = |message: String| faults.push(Fault::new(FaultKind::File, *span, message));
        match loader.yaml_files(folder) {
            Ok(paths) => {
                for path in paths {
                    match rule_text(loader, &path, limits) {
                        Ok(text) => {
                            own.insert(path, text);
                        }
                        Err(why) => tell(format!("{}: {why}", one_line(&path))),
                    }
                }
            }
            Err(why) => tell(format!("the folder of rules cannot be looked through: {}", why.0)),
        }
    }
    own.into_iter().collect()
}

fn rule_text(loader: &DiskLoader, path: &str, limits: &Limits) -> Result<String, String> {
    let bytes = loader.load(path).map_err(|why| why.0)?;
    check_bytes(FileId::NOWHERE, &bytes, limits).map(str::to_owned).map_err(|fault| fault.message)
}

/// The rule files in a directory, by their paths below its root, and those of the root's house beside them.
///
/// # Errors
/// Why they cannot be read.
pub fn rules_below(directory: &Path) -> Result<RulesBelow, String> {
    let limits = Limits::default();
    let here = directory.canonicalize().map_err(|error| plain_error(&error))?;
    let root = root_of(&here);
    let below = shown(here.strip_prefix(&root).unwrap_or(Path::new("")));
    let loader = DiskLoader::new(&root, Path::new(""), limits.bytes).map_err(|why| why.0)?;
    let house = root.join(HOUSE_FILE).exists().then(|| Governed::load(&root, HOUSE_FILE));
    let house = house.as_ref().and_then(|governed| governed.policy.house.as_ref());
    let mut faults = Vec::new();
    let mut all: BTreeMap<String, String> = house
        .map(|house| own_rules(house, &loader, &limits, &mut faults))
        .unwrap_or_default()
        .into_iter()
        .collect();
    if let Some(fault) = faults.first() {
        return Err(fault.message.clone());
    }
    let tested: BTreeSet<String> = if house.is_some() && below.is_empty() {
        all.keys().cloned().collect()
    } else {
        loader.yaml_files(&below).map_err(|why| why.0)?.into_iter().collect()
    };
    for path in &tested {
        if !all.contains_key(path) {
            all.insert(path.clone(), rule_text(&loader, path, &limits)?);
        }
    }
    Ok(RulesBelow { root, all: all.into_iter().collect(), tested })
}

/// Rule files of a directory.
pub struct RulesBelow {
    /// The root above it.
    pub root: PathBuf,
    /// All rule files of the root's house and of the directory: path below the root, and text.
    pub all: Vec<(String, String)>,
    /// The paths of those in the directory.
    pub tested: BTreeSet<String>,
}

/// The houses of a run, each read once.
pub struct Houses {
    by_root: BTreeMap<PathBuf, usize>,
    all: Vec<Governed>,
    /// The one of the other checkout, with its root.
    other: Option<(Governed, PathBuf)>,
}

impl Houses {
    /// The houses of these files.
    ///
    /// # Errors
    /// When the other checkout is not there.
    pub fn of<'p>(paths: impl IntoIterator<Item = &'p Path>, from: &HouseFrom) -> Result<Self, String> {
        let other = from.house_from.as_deref().map(other_house).transpose()?;
        let mut houses = Self { by_root: BTreeMap::new(), all: Vec::new(), other };
        let mut plain = None;
        for path in paths {
            // What cannot be found is told when it is opened.
            let Ok(located) = locate(path) else { continue };
            if houses.by_root.contains_key(&located.root) {
                continue;
            }
            let at = if has_house(&located.root) {
                houses.all.push(Governed::load(&located.root, &house_shown(path, &located)));
                houses.all.len() - 1
            } else {
                *plain.get_or_insert_with(|| {
                    houses.all.push(Governed::plain());
                    houses.all.len() - 1
                })
            };
            houses.by_root.insert(located.root, at);
        }
        if houses.all.is_empty() && houses.other.is_none() {
            houses.all.push(Governed::plain());
        }
        Ok(houses)
    }

    /// The houses of these files, none of them with a fault.
    ///
    /// # Errors
    /// What the command has to say in the place of its work.
    pub fn sound<'p>(
        paths: impl IntoIterator<Item = &'p Path>,
        from: &HouseFrom,
        style: Style,
    ) -> Result<Self, Answer> {
        let houses = Self::of(paths, from).map_err(Answer::failed)?;
        let broken = houses.complaints(style);
        if broken.is_empty() { Ok(houses) } else { Err(Answer::failed(broken)) }
    }

    /// All of them.
    pub fn all(&self) -> impl Iterator<Item = &Governed> {
        self.other.iter().map(|(governed, _)| governed).chain(&self.all)
    }

    /// The catalogues in force.
    pub fn catalogues(&self) -> impl Iterator<Item = &Catalogue> {
        let others = self.all.iter().filter(|_| self.other.is_none());
        let other = self.other.iter().map(|(governed, _)| governed);
        other.chain(others).map(|governed| &governed.policy.catalogue)
    }

    /// A complaint about the first of these rules that no catalogue in force has.
    pub fn unknown_rule<'n>(&self, names: impl IntoIterator<Item = &'n String>) -> Option<String> {
        let mut names = names.into_iter();
        let name = names.find(|name| self.catalogues().all(|catalogue| catalogue.find(name).is_none()))?;
        Some(unknown_rule(name, self.catalogues().next()?))
    }

    /// What is wrong with the houses' files, drawn.
    pub fn complaints(&self, style: Style) -> String {
        self.all().map(|governed| governed.complaints(style)).collect()
    }

    fn beside(&self, located: &Located) -> Option<&Governed> {
        self.all.get(*self.by_root.get(&located.root)?)
    }

    /// What the path of a file says of it, as the house in force has it.
    pub fn counts(&self, path: &Path) -> Counts {
        let Ok(located) = locate(path) else { return Counts::ByText };
        let in_force = match &self.other {
            Some((governed, _)) => Some(governed),
            None => self.beside(&located),
        };
        let below = shown(&located.base.join(&located.name));
        match in_force.and_then(|governed| governed.policy.house.as_ref()) {
            Some(house) => house.counts(&below),
            None if below == HOUSE_FILE => Counts::House,
            None => Counts::ByText,
        }
    }

    /// The reviewer of a file.
    pub fn reviewer(&self, path: &Path, options: Options) -> Option<Reviewer<'_>> {
        let located = locate(path).ok()?;
        let beside = self.beside(&located)?;
        Some(match &self.other {
            None => Reviewer::under(&beside.policy, options),
            Some((governed, root)) => Reviewer::under(&governed.policy, options).in_place_of(
                &governed.policy,
                &beside.policy,
                accepted_before(root, &located),
            ),
        })
    }
}

fn has_house(root: &Path) -> bool {
    root.join(HOUSE_FILE).symlink_metadata().is_ok()
}

fn other_house(directory: &Path) -> Result<(Governed, PathBuf), String> {
    let named = shown(directory);
    let root = directory
        .canonicalize()
        .map_err(|error| plain_error(&error))
        .and_then(|root| if root.is_dir() { Ok(root) } else { Err("it is no directory".to_owned()) })
        .map_err(|why| format!("--house-from {}: {why}", one_line(&named)))?;
    let governed = if has_house(&root) {
        Governed::load(&root, &format!("{}/{HOUSE_FILE}", named.trim_end_matches('/')))
    } else {
        Governed::plain()
    };
    Ok((governed, root))
}

/// The house of the directory that the program runs in, or of the other checkout.
///
/// # Errors
/// When that cannot be found.
pub fn governed_here(from: &HouseFrom) -> Result<Governed, String> {
    if let Some(directory) = &from.house_from {
        return other_house(directory).map(|(governed, _)| governed);
    }
    let here = Path::new(".").canonicalize().map_err(|error| plain_error(&error))?;
    let root = root_of(&here);
    if !has_house(&root) {
        return Ok(Governed::plain());
    }
    let up = here.strip_prefix(&root).map_or(0, |below| below.components().count());
    Ok(Governed::load(&root, &format!("{}{HOUSE_FILE}", "../".repeat(up))))
}

/// The path by which a person knows the house file above a file: as far up from it as the root lies.
fn house_shown(path: &Path, located: &Located) -> String {
    let mut directory = directory_of(path).to_owned();
    let mut above = PathBuf::new();
    for _ in located.base.components() {
        let is_name = matches!(directory.components().next_back(), Some(std::path::Component::Normal(_)));
        if !(is_name && directory.pop()) {
            above.push("..");
        }
    }
    shown(&directory.join(above).join(HOUSE_FILE))
}

/// The accepted findings of the same build in another checkout; none where it is not there.
fn accepted_before(root: &Path, located: &Located) -> Vec<Accepted> {
    let limits = Limits::default();
    let loaded = DiskLoader::new(root, &located.base, limits.bytes).and_then(|disk| disk.load(&located.name));
    let Ok(bytes) = loaded else { return Vec::new() };
    let Ok(text) = check_bytes(FileId(0), &bytes, &limits) else { return Vec::new() };
    let Parsed { root: Some(tree), faults } = parse(FileId(0), text, &limits) else { return Vec::new() };
    if !faults.is_empty() {
        return Vec::new();
    }
    let files = Files::new(Box::new(NoFiles), limits);
    accepted::read(&tree, &mut Reading::new(&files))
}

//! Finding builds: files as named, and builds among the YAML files of directories.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::build::files::{DiskLoader, DraftLoader, Drafts, Files, LoadFault, Loader, plain_error, root_of};
use crate::build::is_build;
use crate::build::library::is_library;
use crate::text::{Fault, FaultKind, FileId, Limits, Node, Parsed, Span, check_bytes, parse};
use std::sync::Arc;

/// A file that was opened, as far as it went.
pub struct Opened {
    /// The path as it is shown: as given, with forward slashes.
    pub shown: String,
    /// Its file among the texts.
    pub file: FileId,
    /// Its tree; none when the text could not be read at all.
    pub root: Option<Arc<Node>>,
    /// Faults of the text.
    pub faults: Vec<Fault>,
    /// The door to the files it names.
    pub files: Files,
}

/// A path to look at.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Candidate {
    /// The path.
    pub path: PathBuf,
    /// Whether it was named itself, and not found in a directory.
    pub named: bool,
}

/// The YAML files that paths lead to, in order, each once; and what could not be looked at.
pub fn candidates(paths: &[PathBuf]) -> (Vec<Candidate>, Vec<String>) {
    let mut found: BTreeSet<Candidate> = BTreeSet::new();
    let mut complaints = Vec::new();
    for path in paths {
        if !path.is_dir() {
            found.insert(Candidate { path: path.clone(), named: true });
            continue;
        }
        // Links are not followed: what counts as a build must not depend on what lies outside.
        for entry in ignore::WalkBuilder::new(path).follow_links(false).require_git(false).build() {
            match entry {
                Ok(entry)
                    if entry.file_type().is_some_and(|kind| kind.is_file()) && is_yaml(entry.path()) =>
                {
                    found.insert(Candidate { path: entry.path().to_owned(), named: false });
                }
                Ok(_) => {}
                Err(error) => complaints.push(format!("{}: {error}", shown(path))),
            }
        }
    }
    // One file under two names is one candidate, and one that was named itself counts as named.
    let mut once: BTreeMap<PathBuf, Candidate> = BTreeMap::new();
    for one in found {
        let itself = one.path.canonicalize().unwrap_or_else(|_| one.path.clone());
        match once.get_mut(&itself) {
            Some(other) => other.named |= one.named,
            None => {
                once.insert(itself, one);
            }
        }
    }
    let mut list: Vec<Candidate> = once.into_values().collect();
    list.sort();
    (list, complaints)
}

fn is_yaml(path: &Path) -> bool {
    path.extension().is_some_and(|extension| extension == "yaml" || extension == "yml")
}

/// A path with forward slashes.
pub fn shown(path: &Path) -> String {
    let text = path.to_string_lossy().replace('\\', "/");
    text.strip_prefix("./").map(str::to_owned).unwrap_or(text)
}

/// Where a file lies: the root of its builds, the way from there to its directory, and its name.
pub struct Located {
    /// The root, with all links resolved.
    pub root: PathBuf,
    /// Its directory, relative to the root.
    pub base: PathBuf,
    /// Its name.
    pub name: String,
}

/// The directory that a path names its file in.
pub fn directory_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Finds where a file lies.
///
/// # Errors
/// When its directory cannot be found.
pub fn locate(path: &Path) -> Result<Located, LoadFault> {
    let no_file = || LoadFault("there is no such file".to_owned());
    let directory = directory_of(path).canonicalize().map_err(|error| LoadFault(plain_error(&error)))?;
    let name = path.file_name().and_then(|name| name.to_str()).ok_or_else(no_file)?;
    let root = root_of(&directory);
    let base = directory.strip_prefix(&root).map_err(|_| no_file())?.to_owned();
    Ok(Located { root, base, name: name.to_owned() })
}

/// Opens one file and reads its tree.
///
/// # Errors
/// When the file cannot be opened at all.
pub fn open(path: &Path) -> Result<Opened, LoadFault> {
    open_with(path, Drafts::new())
}

/// Opens one file with drafts in the place of some files below its root, perhaps its own.
///
/// # Errors
/// When the file cannot be opened at all.
pub fn open_with(path: &Path, drafts: Drafts) -> Result<Opened, LoadFault> {
    let limits = Limits::default();
    let Located { root, base, name } = locate(path)?;
    let disk = DiskLoader::new(&root, &base, limits.bytes)?;
    let loader = DraftLoader { disk, drafts };
    let bytes = loader.load(&name)?;
    let files = Files::new(Box::new(loader), limits);
    let shown = shown(path);
    let file = FileId(0);
    match check_bytes(file, &bytes, files.limits()) {
        Ok(text) => {
            files.add(&shown, text);
            let Parsed { root, faults } = parse(file, text, files.limits());
            Ok(Opened { shown, file, root, faults, files })
        }
        Err(fault) => {
            // Bytes that are no text cannot be shown; the message names the byte.
            files.add(&shown, " ");
            let fault = Fault { span: Span::new(file, 0, 1), ..fault };
            Ok(Opened { shown, file, root: None, faults: vec![fault], files })
        }
    }
}

impl Opened {
    /// Whether it is a build: a table with a format and at least parts, an engine or an air path.
    pub fn is_build(&self) -> bool {
        self.root.as_ref().is_some_and(|root| is_build(root))
    }

    /// Whether it is a library of parts, which is reviewed only where it is named itself.
    pub fn is_library(&self) -> bool {
        self.root.as_ref().is_some_and(|root| is_library(root))
    }

    /// The fault of a named file that is no build.
    pub fn not_a_build(&self) -> Fault {
        let span = self.root.as_ref().map_or(Span::new(self.file, 0, 1), |root| {
            crate::text::mark(root, &crate::text::Route::root(), crate::text::Part::Whole).span
        });
        Fault::new(FaultKind::WrongKind, span, "this is not a build description")
            .with_help("a build has `format: 1` at its top, and parts, an engine or an air-path")
    }
}

//! The one loader: files that a build names are read only below its root, by handle, and only up to a size.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use cap_std::ambient_authority;
use cap_std::fs::Dir;

use super::library::Library;
use super::map_file::{self, CompressorTable};
use crate::text::{Fault, FaultKind, FileId, Limits, Parsed, Source, Sources, Span};

/// The house file of a root of builds.
pub const HOUSE_FILE: &str = "tractwright.yaml";

/// So many files are looked for below one folder.
const MOST_FILES: usize = 2000;
/// So deep folders are looked into.
const MOST_DEPTH: usize = 4;

/// Why a file could not be read, in a clause a person reads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LoadFault(pub String);

/// Where the bytes of files come from.
pub trait Loader {
    /// The bytes of a file named relative to the build.
    fn load(&self, relative: &str) -> Result<Vec<u8>, LoadFault>;
    /// The path by which a person knows that file, relative to the root, with forward slashes.
    fn shown(&self, relative: &str) -> String;
}

impl<L: Loader + ?Sized> Loader for Box<L> {
    fn load(&self, relative: &str) -> Result<Vec<u8>, LoadFault> {
        (**self).load(relative)
    }

    fn shown(&self, relative: &str) -> String {
        (**self).shown(relative)
    }
}

/// The files of one build: the loader, the texts read so far, and the maps, each read once.
pub struct Files {
    loader: Box<dyn Loader>,
    limits: Limits,
    sources: RefCell<Sources>,
    maps: RefCell<BTreeMap<String, MapOutcome>>,
    libraries: RefCell<BTreeMap<String, LibraryOutcome>>,
    /// The directories of the libraries, relative to the build.
    directories: RefCell<BTreeMap<FileId, String>>,
}

/// A library as read, or what is wrong with its file.
#[derive(Clone, Debug)]
pub enum LibraryOutcome {
    /// Read, though its text may hold faults.
    Read(Arc<Library>),
    /// The file itself could not be read.
    NoFile(LoadFault),
}

/// A map as read, or what is wrong with its file.
#[derive(Clone, Debug)]
pub enum MapOutcome {
    /// Read, though its text may hold faults (then it must not be computed with).
    Read(Arc<CompressorTable>),
    /// The file itself could not be read.
    NoFile(LoadFault),
}

impl Files {
    /// A fresh set of files over a loader.
    pub fn new(loader: Box<dyn Loader>, limits: Limits) -> Self {
        Self {
            loader,
            limits,
            sources: RefCell::default(),
            maps: RefCell::default(),
            libraries: RefCell::default(),
            directories: RefCell::default(),
        }
    }

    /// The limits for every text.
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    /// Adds a text under the name that is shown.
    pub fn add(&self, name: &str, text: &str) -> FileId {
        self.sources.borrow_mut().add(name, text)
    }

    /// Takes in a text that is kept elsewhere, once.
    pub fn take_in(&self, source: &Arc<Source>) -> FileId {
        let mut sources = self.sources.borrow_mut();
        let known = sources.iter().find(|(_, other)| Arc::ptr_eq(other, source)).map(|(file, _)| file);
        known.unwrap_or_else(|| sources.add_source(source.clone()))
    }

    /// All texts so far.
    pub fn sources(&self) -> Sources {
        self.sources.borrow().clone()
    }

    /// The path by which a person knows a file named by the build.
    pub fn shown(&self, relative: &str) -> String {
        self.loader.shown(relative)
    }

    /// The map in a file that a text names, relative to that text; the first call reads it.
    pub fn map(&self, named_in: FileId, name: &str) -> MapOutcome {
        let relative = match self.directories.borrow().get(&named_in) {
            Some(directory) if !name.starts_with('/') => format!("{directory}/{name}"),
            _ => name.to_owned(),
        };
        if let Some(known) = self.maps.borrow().get(&relative) {
            return known.clone();
        }
        let outcome = match self.loader.load(&relative) {
            Err(fault) => MapOutcome::NoFile(fault),
            Ok(bytes) => MapOutcome::Read(Arc::new(self.read_map(&relative, &bytes))),
        };
        self.maps.borrow_mut().insert(relative, outcome.clone());
        outcome
    }

    /// The library in a file that the build names; the first call reads it.
    pub fn library(&self, relative: &str) -> LibraryOutcome {
        if let Some(known) = self.libraries.borrow().get(relative) {
            return known.clone();
        }
        let outcome = match self.loader.load(relative) {
            Err(fault) => LibraryOutcome::NoFile(fault),
            Ok(bytes) => LibraryOutcome::Read(Arc::new(self.read_library(relative, &bytes))),
        };
        self.libraries.borrow_mut().insert(relative.to_owned(), outcome.clone());
        outcome
    }

    fn read_library(&self, relative: &str, bytes: &[u8]) -> Library {
        let (file, text) = match self.checked(relative, bytes) {
            Ok(read) => read,
            Err((file, fault)) => return Library { file, root: None, faults: vec![fault] },
        };
        let directory = relative.rsplit_once('/').map_or(".", |(directory, _)| directory);
        self.directories.borrow_mut().insert(file, directory.to_owned());
        let Parsed { root, faults } = crate::text::parse(file, text, &self.limits);
        let faults = match root {
            None if faults.is_empty() => {
                vec![Fault::new(FaultKind::Missing, Span::new(file, 0, 1), "the library is empty")]
            }
            _ => faults,
        };
        Library { file, root, faults }
    }

    /// The text of a file's bytes, taken in among the texts; of bytes that are no text, a place to tell the fault at.
    fn checked<'t>(&self, relative: &str, bytes: &'t [u8]) -> Result<(FileId, &'t str), (FileId, Fault)> {
        let name = self.loader.shown(relative);
        match crate::text::check_bytes(FileId::NOWHERE, bytes, &self.limits) {
            Ok(text) => Ok((self.add(&name, text), text)),
            Err(fault) => {
                // Bytes that are no text cannot be shown; the message names the byte.
                let file = self.add(&name, " ");
                Err((file, Fault { span: Span::new(file, 0, 1), ..fault }))
            }
        }
    }

    fn read_map(&self, relative: &str, bytes: &[u8]) -> CompressorTable {
        match self.checked(relative, bytes) {
            Ok((file, text)) => map_file::read(file, text),
            Err((file, fault)) => CompressorTable::unreadable(file, fault),
        }
    }
}

/// The loader for files on disk: everything is opened below the root's handle, so that neither `..` nor a link leads
/// out of it, whatever happens meanwhile.
pub struct DiskLoader {
    root: Dir,
    base: PathBuf,
    limit: usize,
}

impl DiskLoader {
    /// A loader for the files of a build that lies in the directory `base` below `root`.
    ///
    /// # Errors
    /// When the root cannot be opened as a directory.
    pub fn new(root: &Path, base: &Path, limit: usize) -> Result<Self, LoadFault> {
        let root = Dir::open_ambient_dir(root, ambient_authority())
            .map_err(|error| LoadFault(format!("its directory cannot be opened: {error}")))?;
        Ok(Self { root, base: base.to_owned(), limit })
    }

    /// The YAML files below a folder, as they are loaded, in order. Links are not followed.
    ///
    /// # Errors
    /// When the folder or one below it cannot be listed, or holds too many files or too deep folders.
    pub fn yaml_files(&self, folder: &str) -> Result<Vec<String>, LoadFault> {
        let mut found = Vec::new();
        self.gather(folder.trim_end_matches('/'), 0, &mut found)?;
        found.sort();
        Ok(found)
    }

    fn gather(&self, folder: &str, depth: usize, found: &mut Vec<String>) -> Result<(), LoadFault> {
        let cannot = |error: std::io::Error| LoadFault(plain_error(&error));
        let path = self.path(folder)?;
        let path = if path.as_os_str().is_empty() { PathBuf::from(".") } else { path };
        if depth > MOST_DEPTH {
            return Err(LoadFault(format!("folders lie more than {MOST_DEPTH} deep in it")));
        }
        for entry in self.root.read_dir(&path).map_err(cannot)? {
            let entry = entry.map_err(cannot)?;
            let kind = entry.file_type().map_err(cannot)?;
            let name = entry.file_name();
            let Some(name) = name.to_str() else { continue };
            let below = if folder.is_empty() { name.to_owned() } else { format!("{folder}/{name}") };
            if kind.is_dir() {
                self.gather(&below, depth + 1, found)?;
            } else if kind.is_file() && (name.ends_with(".yaml") || name.ends_with(".yml")) {
                if found.len() == MOST_FILES {
                    return Err(LoadFault(format!("it holds more than {MOST_FILES} files")));
                }
                found.push(below);
            }
        }
        Ok(())
    }

    fn path(&self, relative: &str) -> Result<PathBuf, LoadFault> {
        let outside =
            || LoadFault("it lies outside the root of the builds, from where nothing is read".to_owned());
        let mut path = PathBuf::new();
        for component in self.base.join(relative).components() {
            match component {
                Component::Normal(name) => path.push(name),
                Component::CurDir => {}
                Component::ParentDir if path.pop() => {}
                _ => return Err(outside()),
            }
        }
        Ok(path)
    }
}

impl Loader for DiskLoader {
    fn load(&self, relative: &str) -> Result<Vec<u8>, LoadFault> {
        if relative.contains('\0') || relative.is_empty() {
            return Err(LoadFault("it is no file name".to_owned()));
        }
        let path = self.path(relative)?;
        let cannot = |error: std::io::Error| LoadFault(plain_error(&error));
        // A pipe or device must not be opened at all: opening a pipe waits for a writer.
        let kind = self.root.metadata(&path).map_err(cannot)?;
        if !kind.is_file() {
            return Err(LoadFault("it is no ordinary file".to_owned()));
        }
        let file = self.root.open(&path).map_err(cannot)?;
        if !file.metadata().map_err(cannot)?.is_file() {
            return Err(LoadFault("it is no ordinary file".to_owned()));
        }
        let limit = u64::try_from(self.limit).unwrap_or(u64::MAX);
        let mut bytes = Vec::new();
        // One byte more than allowed, so that the text's own check can say that it is too large.
        file.take(limit.saturating_add(1)).read_to_end(&mut bytes).map_err(cannot)?;
        Ok(bytes)
    }

    fn shown(&self, relative: &str) -> String {
        let path = self.path(relative).unwrap_or_else(|_| PathBuf::from(relative));
        path.to_string_lossy().replace('\\', "/")
    }
}

/// Texts that stand in the place of files, by path below the root.
pub type Drafts = BTreeMap<String, Arc<str>>;

/// The files on disk with drafts in the place of some, to see what would come of writing them.
pub struct DraftLoader {
    /// The files as they are.
    pub disk: DiskLoader,
    /// The drafts.
    pub drafts: Drafts,
}

impl Loader for DraftLoader {
    fn load(&self, relative: &str) -> Result<Vec<u8>, LoadFault> {
        match self.drafts.get(&self.disk.shown(relative)) {
            Some(draft) => Ok(draft.as_bytes().to_vec()),
            None => self.disk.load(relative),
        }
    }

    fn shown(&self, relative: &str) -> String {
        self.disk.shown(relative)
    }
}

/// A system's error in plain words, without its number.
pub fn plain_error(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => {
            "it may not be read, or a link leads out of the root of the builds".to_owned()
        }
        std::io::ErrorKind::IsADirectory => "it is a directory".to_owned(),
        kind => format!("it cannot be read ({kind})"),
    }
}

/// The root of a build: the nearest directory above it with `.git` or a house file, else its own directory.
pub fn root_of(directory: &Path) -> PathBuf {
    directory.ancestors().find(|above| is_root(above)).unwrap_or(directory).to_owned()
}

/// Whether a directory is marked as a root of builds.
pub fn is_root(directory: &Path) -> bool {
    directory.join(".git").exists() || directory.join(HOUSE_FILE).exists()
}

//! Shared parts: libraries that a build names under `parts-from`, and how their parts come into it.
//!
//! A library is a file with `format: 1`, perhaps a title, and `parts`. A build takes up a library's part by naming it
//! (in its air path, a tap, a hose and so on), or under a name of its own with `like`, which lets it say what differs:
//!
//! ```yaml
//! parts-from: [ ../library/pipes.yaml ]
//! parts:
//!   cold-pipe: { like: charge-pipe-60, length: 800 mm }
//! ```
//!
//! What is written beside `like` stands in the place of the library's field of that key, the whole of it. Parts that
//! nothing names are not taken up. Bringing in happens on the tree, before anything is read: all that follows reads one
//! tree, whose nodes know both where they are defined and what brought them.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use schemars::{Schema, SchemaGenerator, json_schema};

use super::describe::{Reading, Reference, Referred, says_none};
use super::files::{Files, LibraryOutcome};
use super::parts::{Part, Parts};
use super::{Top, hoses};
use crate::text::fault::quoted;
use crate::text::{Entry, Fault, FaultKind, FileId, Key, Map, Node, Route, Span, Value, nearest};

/// The key that names libraries.
pub(super) const PARTS_FROM: &str = "parts-from";
/// The key that names a library's part.
pub(super) const LIKE: &str = "like";
/// The keys that a library may have.
const LIBRARY_KEYS: [&str; 3] = ["format", "title", "parts"];
/// A build names at most so many libraries.
const MOST_LIBRARIES: usize = 64;

/// A library as read: its tree, and the faults of its text.
#[derive(Clone, Debug)]
pub struct Library {
    /// Its file.
    pub file: FileId,
    /// Its tree; none when it could not be read at all.
    pub root: Option<Arc<Node>>,
    /// What is wrong with it.
    pub faults: Vec<Fault>,
}

/// A build's tree with the parts of its libraries in it.
#[derive(Clone, Debug)]
pub struct Expanded {
    /// The tree, without `parts-from` and `like`.
    pub root: Arc<Node>,
    /// What is wrong with the libraries or with what is taken from them.
    pub faults: Vec<Fault>,
}

/// Whether a tree is a library: a format and parts, and nothing that only a build has.
pub fn is_library(root: &Node) -> bool {
    let known = |map: &Map| map.iter().all(|entry| LIBRARY_KEYS.contains(&&*entry.key.text));
    root.get("format").is_some() && root.get("parts").is_some() && root.as_map().is_some_and(known)
}

/// Brings the parts of a build's libraries into its tree. A tree without `parts-from` and `like` comes back as it is.
pub fn expand(root: &Arc<Node>, files: &Files) -> Expanded {
    let Some(map) = root.as_map() else { return Expanded { root: root.clone(), faults: Vec::new() } };
    let mut shelf = Shelf::default();
    if let Some(entry) = map.get(PARTS_FROM) {
        shelf.open(&entry.value, files);
    }
    let mut taking = Taking { room: files.limits().nodes, shelf, full: false };
    let own = map.get("parts").filter(|entry| entry.value.as_map().is_some());
    let own_parts = own.and_then(|entry| entry.value.as_map()).cloned().unwrap_or_default();
    let without = own_parts.iter().all(|entry| entry.value.get(LIKE).is_none());
    if without && map.get(PARTS_FROM).is_none() {
        return Expanded { root: root.clone(), faults: taking.shelf.faults };
    }
    taking.refuse_namesakes(&own_parts);
    let mut parts: Vec<Entry> = own_parts.iter().map(|entry| taking.merged(entry)).collect();
    let read = with_parts(root, map, own, Map::new(parts.clone()));
    taking.take_named(&references(&read, files), &mut parts, files);
    Expanded { root: with_parts(root, map, own, Map::new(parts)), faults: taking.shelf.faults }
}

/// The tree with other parts, and without `parts-from`.
fn with_parts(root: &Arc<Node>, map: &Map, own: Option<&Entry>, parts: Map) -> Arc<Node> {
    let mut entries: Vec<Entry> = Vec::with_capacity(map.len());
    for entry in map.iter().filter(|entry| &*entry.key.text != PARTS_FROM) {
        let value = match own {
            Some(own) if own.key == entry.key => {
                Arc::new(Node { value: Value::Map(parts.clone()), ..(*entry.value).clone() })
            }
            _ => entry.value.clone(),
        };
        entries.push(Entry { key: entry.key.clone(), value });
    }
    let named = map.get(PARTS_FROM).filter(|_| map.get("parts").is_none() && !parts.is_empty());
    if let Some(named) = named {
        let key = Key { text: "parts".into(), span: named.key.span };
        let value = Node { value: Value::Map(parts), ..(*named.value).clone() };
        entries.push(Entry { key, value: Arc::new(value) });
    }
    Arc::new(Node { value: Value::Map(Map::new(entries)), ..(**root).clone() })
}

/// The names that a tree refers to, in the order in which it is read: the air path first.
fn references(root: &Arc<Node>, files: &Files) -> Vec<Reference> {
    let mut reading = Reading::new(files);
    let at = Route::root();
    let empty = Map::default();
    let map = root.as_map().unwrap_or(&empty);
    Top::from_table(&mut super::Table::over(map, &at), &mut reading);
    if let Some(joints) = map.get("joints").and_then(|entry| entry.value.as_map()) {
        hoses::check_joint_names(joints, &at.key("joints"), &mut reading);
    }
    if let Some(parts) = map.get("parts").and_then(|entry| entry.value.as_map()) {
        Parts::read(parts, &at.key("parts"), &mut reading);
    }
    reading.references
}

/// All parts of all libraries of a build.
#[derive(Debug, Default)]
struct Shelf {
    parts: BTreeMap<Arc<str>, Entry>,
    faults: Vec<Fault>,
}

impl Shelf {
    fn fault(&mut self, kind: FaultKind, span: Span, message: impl Into<String>) {
        self.faults.push(Fault::new(kind, span, message));
    }

    /// Opens the libraries of a list.
    fn open(&mut self, node: &Arc<Node>, files: &Files) {
        let Some(list) = node.as_list() else {
            if says_none(node) {
                return;
            }
            let message = format!("a list of files is wanted, but {} stands here", node.kind_word());
            let fault = Fault::new(FaultKind::WrongKind, node.place(), message);
            self.faults.push(fault.with_help("write it as [ ../library/pipes.yaml ]"));
            return;
        };
        let mut seen: BTreeMap<String, Span> = BTreeMap::new();
        for (count, item) in list.iter().enumerate() {
            let Some(name) = item.as_text() else {
                let message = format!("the name of a file is wanted, but {} stands here", item.kind_word());
                self.fault(FaultKind::WrongKind, item.place(), message);
                continue;
            };
            if count == MOST_LIBRARIES {
                let message = format!("a build names at most {MOST_LIBRARIES} libraries");
                self.fault(FaultKind::TooLarge, item.place(), message);
                return;
            }
            if let Some(first) = seen.insert(files.shown(name), item.place()) {
                let message = format!("the library {} is named twice", quoted(name));
                self.faults.push(
                    Fault::new(FaultKind::DuplicateKey, item.place(), message).with_also(first, "first here"),
                );
                continue;
            }
            match files.library(name) {
                LibraryOutcome::NoFile(fault) => {
                    let message = format!("the library {} cannot be read: {}", quoted(name), fault.0);
                    self.fault(FaultKind::File, item.place(), message);
                }
                LibraryOutcome::Read(library) => self.shelve(&library, item.place()),
            }
        }
    }

    /// Puts the parts of a library on the shelf.
    fn shelve(&mut self, library: &Library, named: Span) {
        self.faults.extend(library.faults.iter().map(|fault| fault.clone().with_also(named, "named here")));
        let Some(root) = library.root.as_ref().filter(|_| library.faults.is_empty()) else { return };
        let not_one = |span: Span, message: &str| {
            Fault::new(FaultKind::WrongKind, span, message)
                .with_help("a library has `format: 1` and `parts`, and may have a title")
                .with_also(named, "named here")
        };
        let Some(map) = root.as_map() else {
            self.faults.push(not_one(root.span, "this is not a library of parts"));
            return;
        };
        for entry in map.iter().filter(|entry| !LIBRARY_KEYS.contains(&&*entry.key.text)) {
            let message = format!("`{}` is not a key of a library of parts", entry.key.text);
            self.faults.push(Fault { kind: FaultKind::UnknownKey, ..not_one(entry.key.span, &message) });
        }
        match map.get("format").map(|entry| entry.value.as_text()) {
            Some(Some("1")) => {}
            Some(_) => {
                let span = map.get("format").map_or(root.span, |entry| entry.value.place());
                self.faults.push(not_one(span, "this program reads libraries of format 1"));
                return;
            }
            None => {
                let span = map.entries().first().map_or(root.span, |entry| entry.key.span);
                self.faults.push(not_one(span, "the library does not say its format"));
                return;
            }
        }
        let Some(parts) = map.get("parts").and_then(|entry| entry.value.as_map()) else {
            let span = map.entries().first().map_or(root.span, |entry| entry.key.span);
            self.faults.push(not_one(span, "the library has no table of parts"));
            return;
        };
        for entry in parts {
            if let Some(own) = entry.value.as_map().and_then(|part| part.get(LIKE)) {
                let message = "a library's part is described in full: `like` stands in builds alone";
                self.faults.push(not_one(own.key.span, message));
            } else if let Some(first) = self.parts.get(&entry.key.text) {
                let message = format!("two libraries have a part called {}", quoted(&entry.key.text));
                let fault = Fault::new(FaultKind::DuplicateKey, entry.key.span, message);
                let fault = fault.with_also(first.key.span, "first here").with_also(named, "named here");
                self.faults.push(fault.with_help("give one of them another name"));
            } else {
                self.parts.insert(entry.key.text.clone(), entry.clone());
            }
        }
    }
}

/// Takes parts from the shelf into a build, as far as there is room.
struct Taking {
    shelf: Shelf,
    /// Nodes that may still be brought in.
    room: usize,
    full: bool,
}

impl Taking {
    /// A part of the build that has a library part's name must say that it is taken from there.
    fn refuse_namesakes(&mut self, own: &Map) {
        for entry in own {
            let Some(shared) = self.shelf.parts.get(&entry.key.text) else { continue };
            if says_none(&entry.value) || entry.value.get(LIKE).is_some() {
                continue;
            }
            let name = &entry.key.text;
            let message = format!("a library has a part called {} too", quoted(name));
            let fault = Fault::new(FaultKind::DuplicateKey, entry.key.span, message)
                .with_also(shared.key.span, "described here");
            let help = format!("give it another name, or write `like: {name}` and what differs");
            self.shelf.faults.push(fault.with_help(help));
        }
    }

    /// Whether a library's part still fits in; if not, that is told once.
    fn fits(&mut self, part: &Entry, used_at: Span) -> bool {
        let size = size(&part.value, self.room);
        match self.room.checked_sub(size) {
            Some(room) => {
                self.room = room;
                true
            }
            None => {
                if !self.full {
                    self.full = true;
                    self.shelf.fault(
                        FaultKind::TooManyNodes,
                        used_at,
                        "the libraries bring in too much to be read",
                    );
                }
                false
            }
        }
    }

    /// An entry of the build's own parts, with what `like` brings.
    fn merged(&mut self, entry: &Entry) -> Entry {
        let Some(own) = entry.value.as_map() else { return entry.clone() };
        let Some(like) = own.get(LIKE) else { return entry.clone() };
        let used_at = like.value.place();
        let Some(name) = like.value.as_text() else {
            let message =
                format!("the name of a library's part is wanted, but {} stands here", like.value.kind_word());
            self.shelf.fault(FaultKind::WrongKind, used_at, message);
            return entry.clone();
        };
        let Some(shared) = self.shelf.parts.get(name).cloned() else {
            let names = self.shelf.parts.keys().map(|name| &**name);
            let fault = Fault::new(
                FaultKind::DanglingName,
                used_at,
                format!("no library has a part called {}", quoted(name)),
            );
            let help = match nearest(name, names) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "name the file that has it under `parts-from`".to_owned(),
            };
            self.shelf.faults.push(fault.with_help(help));
            return entry.clone();
        };
        if let Some(kind) = own.get("kind") {
            let fault =
                Fault::new(FaultKind::DuplicateKey, kind.key.span, "the kind comes with the library's part");
            self.shelf
                .faults
                .push(fault.with_also(shared.key.span, "described here").with_help("take this line out"));
        }
        let Some(map) = shared.value.as_map().filter(|_| self.fits(&shared, used_at)) else {
            return entry.clone();
        };
        let stays = |entry: &&Entry| !matches!(&*entry.key.text, LIKE | "kind");
        let brought = map.iter().map(|field| match own.get(&field.key.text).filter(stays) {
            Some(instead) => instead.clone(),
            None => Entry { key: field.key.clone(), value: Arc::new(field.value.brought_by(used_at)) },
        });
        let added = own.iter().filter(stays).filter(|field| map.get(&field.key.text).is_none()).cloned();
        let value = Value::Map(Map::new(brought.chain(added).collect()));
        Entry { key: entry.key.clone(), value: Arc::new(Node { value, ..(*entry.value).clone() }) }
    }

    /// Takes up the library parts that the build names, and those that these name in turn.
    fn take_named(&mut self, references: &[Reference], parts: &mut Vec<Entry>, files: &Files) {
        let mut there: BTreeSet<Arc<str>> = parts.iter().map(|entry| entry.key.text.clone()).collect();
        let wanted = |references: &[Reference]| -> Vec<(Arc<str>, Span)> {
            let of_parts = references.iter().filter(|reference| reference.to == Referred::Part);
            of_parts.rev().map(|reference| (reference.name.clone(), reference.span)).collect()
        };
        let mut todo = wanted(references);
        while let Some((name, used_at)) = todo.pop() {
            let Some(shared) = self.shelf.parts.get(&name).cloned() else { continue };
            if there.contains(&name) || !self.fits(&shared, used_at) {
                continue;
            }
            there.insert(name.clone());
            let mut reading = Reading::new(files);
            Part::read_entry(&shared, &Route::root().key("parts").key(&name), &mut reading);
            // What a shared part names is brought in by what brought that part in.
            todo.extend(wanted(&reading.references).into_iter().map(|(name, _)| (name, used_at)));
            parts.push(Entry { key: shared.key, value: Arc::new(shared.value.brought_by(used_at)) });
        }
    }
}

/// How many nodes a tree has; counting stops a little past `most`.
fn size(node: &Node, most: usize) -> usize {
    let mut count = 1;
    let below: Vec<&Arc<Node>> = match &node.value {
        Value::Scalar(_) => Vec::new(),
        Value::List(list) => list.iter().collect(),
        Value::Map(map) => map.iter().map(|entry| &entry.value).collect(),
    };
    for node in below {
        if count > most {
            break;
        }
        count += size(node, most - count.min(most));
    }
    count
}

/// The schema of a library.
pub(super) fn schema(generator: &mut SchemaGenerator) -> Schema {
    let parts = Parts::library_schema(generator);
    json_schema!({
        "type": "object",
        "description": "A library of parts that several builds share.",
        "properties": {
            "format": { "const": 1, "description": "Version of this format." },
            "title": { "type": "string", "description": "What the library holds, in a line." },
            "parts": parts,
        },
        "required": ["format", "parts"],
        "additionalProperties": false,
    })
}

#[cfg(test)]
mod tests;

//! Edits of shared parts: the change of a build as a change of the library that defines what it is about, and what that
//! would do to the other builds that use it.

use std::path::Path;
use std::sync::Arc;

use super::gather_builds::{Opened, candidates, locate, open_with, shown};
use super::houses::Houses;
use crate::build::files::{Drafts, LibraryOutcome};
use crate::build::library::expand;
use crate::output::cure_words::{TextEdits, User};
use crate::review::{Counts, Options, differences};
use crate::text::{CannotEdit, Change, FileId, Node, Op, Route, Span, Step, WhyNot, edit};

/// The change of a build in the library that defines the place `defined`.
///
/// # Errors
/// Why it cannot be made there.
pub fn library_edit(opened: &Opened, change: &Change, defined: Span) -> Result<TextEdits, CannotEdit> {
    let refuse = |why: &'static str| CannotEdit {
        route: change.0.first().map_or_else(Route::root, |op| op.route().clone()),
        why: WhyNot::Layout(why),
    };
    let sources = opened.files.sources();
    let source = sources.find(defined.file).ok_or_else(|| refuse("the library is not at hand"))?;
    let library = library_root(opened, defined.file).ok_or_else(|| refuse("the library is not at hand"))?;
    let ops = change.0.iter().map(|op| {
        let route = in_library(opened, op.route())?;
        Some(match op {
            Op::Set(_, value) => Op::Set(route, value.clone()),
            Op::Remove(_) => Op::Remove(route),
        })
    });
    let ops: Option<Vec<Op>> = ops.collect();
    let change = Change(ops.ok_or_else(|| refuse("it is not about one shared part alone"))?);
    let edits = edit(source.text(), &library, &change)?;
    let path = source.name().to_owned();
    Ok(TextEdits { name: path.clone(), path, text: source.shared_text(), edits })
}

fn library_root(opened: &Opened, file: FileId) -> Option<Arc<Node>> {
    let named = opened.root.as_ref()?.get("parts-from")?.as_list()?.iter();
    let libraries = named.filter_map(|name| match opened.files.library(name.as_text()?) {
        LibraryOutcome::Read(library) if library.file == file => library.root.clone(),
        _ => None,
    });
    libraries.into_iter().next()
}

/// The route of a part's place in the library that the part is taken from.
fn in_library(opened: &Opened, route: &Route) -> Option<Route> {
    let [Step::Key(parts), Step::Key(name), rest @ ..] = route.steps() else { return None };
    if &**parts != "parts" {
        return None;
    }
    let own = opened.root.as_ref()?.get("parts").and_then(|parts| parts.get(name));
    let taken = own.and_then(|part| part.get("like")).and_then(|like| like.as_text()).unwrap_or(name);
    let below: Route = rest.iter().cloned().collect();
    Some(Route::root().key("parts").key(taken).join(&below))
}

/// The other builds below a root that read otherwise once a draft is written, each with what changes in its review.
///
/// # Errors
/// When the root cannot be looked through.
pub fn other_users(
    root: &Path,
    own: &Path,
    houses: &Houses,
    before: &Drafts,
    after: &Drafts,
) -> Result<Vec<User>, String> {
    let (found, complaints) = candidates(&[root.to_owned()]);
    if let Some(complaint) = complaints.into_iter().next() {
        return Err(complaint);
    }
    let own = own.canonicalize().unwrap_or_else(|_| own.to_owned());
    let others = found.into_iter().map(|one| one.path).filter(|path| {
        path.canonicalize().is_ok_and(|path| path != own)
            && locate(path).is_ok_and(|located| located.root == root)
            && !matches!(houses.counts(path), Counts::No | Counts::House)
    });
    Ok(others.filter_map(|path| user(root, &path, houses, before, after)).collect())
}

fn user(root: &Path, path: &Path, houses: &Houses, before: &Drafts, after: &Drafts) -> Option<User> {
    let (was, is) = (open_with(path, before.clone()).ok()?, open_with(path, after.clone()).ok()?);
    if !was.is_build() || was.root.as_ref()?.get("parts-from").is_none() {
        return None;
    }
    let whole = |opened: &Opened| Some(expand(opened.root.as_ref()?, &opened.files).root);
    if whole(&was)?.same_content(&*whole(&is)?) {
        return None;
    }
    let reviewer = houses.reviewer(path, Options::default())?;
    let results = |opened: &Opened| {
        let root = opened.root.as_ref()?;
        Some(reviewer.review(opened.file, root, &opened.files))
    };
    let (was, is) = (results(&was)?, results(&is)?);
    Some(User {
        name: shown(path.strip_prefix(root).unwrap_or(path)),
        changes: differences(&was.results, &is.results),
        breaks: is.faults.len() > was.faults.len(),
    })
}

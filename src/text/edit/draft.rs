//! A change made step by step, each step read again.

use super::layout::{self, Patches, Spot};
use super::page::Page;
use super::pieces::Pieces;
use super::sharing::{numbered, refuse_aliases, refuse_other_files, way};
use super::{CannotEdit, Edits, WhyNot, remove};
use crate::text::change::{Change, Op, create};
use crate::text::locate::find;
use crate::text::parse::{Limits, parse};
use crate::text::route::{Route, Step};
use crate::text::span::FileId;
use crate::text::tree::{Map, Node, Value};
use std::sync::Arc;

const WOULD_READ_OTHERWISE: &str =
    "the way it is written does not allow it: the text would read otherwise elsewhere";
const NOT_READ: &str = "the text has faults";

pub(super) fn make(text: &str, root: &Arc<Node>, change: &Change) -> Result<Edits, CannotEdit> {
    let file = root.span.file;
    let Some(first) = change.0.first() else { return Ok(Edits::default()) };
    let mut draft = Draft::new(file, text).map_err(|why| cannot(first, why))?;
    for op in &change.0 {
        refuse_other_files(root, op.route(), file)
            .and_then(|()| draft.make(op))
            .map_err(|why| cannot(op, why))?;
    }
    Ok(draft.pieces.edits(file, text))
}

fn cannot(op: &Op, why: WhyNot) -> CannotEdit {
    CannotEdit { route: op.route().clone(), why }
}

struct Draft {
    file: FileId,
    text: String,
    tree: Arc<Node>,
    pieces: Pieces,
}

impl Draft {
    fn new(file: FileId, text: &str) -> Result<Draft, WhyNot> {
        let tree = read(file, text).ok_or(WhyNot::Layout(NOT_READ))?;
        Ok(Draft { file, text: text.to_owned(), tree, pieces: Pieces::whole(text.len()) })
    }

    fn make(&mut self, op: &Op) -> Result<(), WhyNot> {
        let wanted =
            Change(vec![op.clone()]).apply(&self.tree).map_err(|cannot| WhyNot::Impossible(cannot.why))?;
        match op {
            Op::Set(route, new) => self.set(&numbered(&self.tree, route), new)?,
            Op::Remove(route) => self.remove(&numbered(&self.tree, route))?,
        }
        if self.tree.same_content(&wanted) { Ok(()) } else { Err(WhyNot::Layout(WOULD_READ_OTHERWISE)) }
    }

    /// Puts patches into the text, and reads it again.
    fn commit(&mut self, patches: Patches) -> Result<(), WhyNot> {
        let mut patches = patches.map_err(WhyNot::Layout)?;
        patches.sort_by_key(|(gone, _)| gone.start);
        for (gone, new) in patches.iter().rev() {
            if self.text.get(gone.clone()).is_none() {
                return Err(WhyNot::Layout(WOULD_READ_OTHERWISE));
            }
            self.text.replace_range(gone.clone(), new);
            self.pieces.replace(gone, new);
        }
        self.tree = read(self.file, &self.text).ok_or(WhyNot::Layout(WOULD_READ_OTHERWISE))?;
        Ok(())
    }

    fn set(&mut self, route: &Route, new: &Arc<Node>) -> Result<(), WhyNot> {
        if let Some(found) = find(&self.tree, route) {
            if found.node.same_content(new) {
                return Ok(());
            }
            if found.used_at.is_none() {
                let old = Arc::clone(found.node);
                match (&old.value, &new.value) {
                    (Value::Map(old), Value::Map(new)) if share_a_key(old, new) => {
                        return self.set_entries(route, old, new);
                    }
                    (Value::List(old), Value::List(new)) if !old.is_empty() && !new.is_empty() => {
                        return self.set_list(route, old, new);
                    }
                    _ => {}
                }
            }
        }
        refuse_aliases(&self.text, &self.tree, route)?;
        let page = Page { text: &self.text };
        let way = way(&self.tree, route);
        let rest = route.steps().get(way.len().saturating_sub(1)..).unwrap_or_default();
        let Some(last) = way.last() else { return Ok(()) };
        let made = |steps: &[Step]| create(steps, Some(new), last.span).map_err(WhyNot::Impossible);
        let patches = match (&last.value, rest.split_first()) {
            (Value::Map(_), Some((Step::Key(key), below))) => {
                layout::insert(page, last, Some(key), &*made(below)?)
            }
            (Value::List(_), Some((_, below))) => layout::insert(page, last, None, &*made(below)?),
            _ => {
                let value = made(rest)?;
                let at: Route = route.steps().iter().take(way.len() - 1).cloned().collect();
                layout::replace(page, spot(&self.tree, &at)?, &value)
            }
        };
        self.commit(patches)
    }

    /// Sets a table entry by entry, so that what stays the same keeps its text.
    fn set_entries(&mut self, route: &Route, old: &Map, new: &Map) -> Result<(), WhyNot> {
        for entry in old.iter().filter(|entry| new.get(&entry.key.text).is_none()) {
            self.remove(&route.key(&entry.key.text))?;
        }
        new.iter().try_for_each(|entry| self.set(&route.key(&entry.key.text), &entry.value))
    }

    /// Sets a list entry by entry; what stays the same at its ends keeps its text.
    fn set_list(&mut self, route: &Route, old: &[Arc<Node>], new: &[Arc<Node>]) -> Result<(), WhyNot> {
        let same = |(one, two): &(&Arc<Node>, &Arc<Node>)| one.same_content(two);
        let before = old.iter().zip(new).take_while(same).count();
        let surplus = old.len().saturating_sub(new.len());
        // Of a list that grows all entries move but the first ones; of one that shrinks the last ones may stay.
        let most = if surplus > 0 { new.len() - before } else { 0 };
        let after = old.iter().rev().zip(new.iter().rev()).take(most).take_while(same).count();
        let kept = old.len() - after;
        for number in (kept - surplus.min(kept)..kept).rev() {
            self.remove(&route.index(number))?;
        }
        let changed = new.iter().enumerate().skip(before).take(new.len() - before - after);
        changed.into_iter().try_for_each(|(number, entry)| self.set(&route.index(number), entry))
    }

    fn remove(&mut self, route: &Route) -> Result<(), WhyNot> {
        refuse_aliases(&self.text, &self.tree, route)?;
        let gone = || WhyNot::Impossible("there is nothing to take away".into());
        let above = route.parent().ok_or_else(gone)?;
        let holder = find(&self.tree, &above).ok_or_else(gone)?.node;
        let (number, count, empty) = match (&holder.value, route.last()) {
            (Value::Map(map), Some(Step::Key(key))) => {
                (map.position(key), map.len(), Value::Map(Map::default()))
            }
            (Value::List(list), Some(Step::Index(number))) => {
                (Some(*number), list.len(), Value::List(Vec::new()))
            }
            _ => return Err(gone()),
        };
        let page = Page { text: &self.text };
        let patches = if count > 1 {
            remove::remove(page, holder, number.ok_or_else(gone)?)
        } else {
            let empty = Node { value: empty, flow: true, one_line: true, ..(**holder).clone() };
            layout::replace(page, spot(&self.tree, &above)?, &empty)
        };
        self.commit(patches)
    }
}

fn read(file: FileId, text: &str) -> Option<Arc<Node>> {
    let parsed = parse(file, text, &Limits::default());
    parsed.root.filter(|_| parsed.faults.is_empty())
}

fn share_a_key(one: &Map, two: &Map) -> bool {
    one.iter().any(|entry| two.get(&entry.key.text).is_some())
}

fn spot<'a>(root: &'a Arc<Node>, route: &Route) -> Result<Spot<'a>, WhyNot> {
    let lost = || WhyNot::Impossible("it cannot be found".into());
    let found = find(root, route).ok_or_else(lost)?;
    let brackets = route.parent().and_then(|above| find(root, &above));
    Ok(Spot { key: found.key, node: found.node, brackets: brackets.is_some_and(|holder| holder.node.flow) })
}

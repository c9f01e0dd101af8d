//! What stands in more than one place: by aliases, or from another file.

use super::WhyNot;
use crate::text::route::Route;
use crate::text::span::{FileId, Span};
use crate::text::tree::{Node, Value};
use crate::text::{find, route::Step};
use std::sync::Arc;

/// The nodes on the way along a route, from the root to the last that there is.
pub(super) fn way<'a>(root: &'a Arc<Node>, route: &Route) -> Vec<&'a Arc<Node>> {
    let mut way = vec![root];
    for step in route.steps() {
        let here: Route = [step.clone()].into_iter().collect();
        let Some(found) = way.last().and_then(|node| find(node, &here)) else {
            break;
        };
        way.push(found.node);
    }
    way
}

/// The route with the number of each list entry that it names.
pub(super) fn numbered(root: &Arc<Node>, route: &Route) -> Route {
    let way = way(root, route);
    let steps = route.steps().iter().enumerate().map(|(taken, step)| {
        let (Some(node), Some(entry)) = (way.get(taken), way.get(taken + 1)) else {
            return step.clone();
        };
        let number = node.as_list().and_then(|list| list.iter().position(|other| Arc::ptr_eq(other, entry)));
        number.map_or_else(|| step.clone(), Step::Index)
    });
    steps.collect()
}

/// Refuses what is defined in another file than the text's own.
pub(super) fn refuse_other_files(root: &Arc<Node>, route: &Route, file: FileId) -> Result<(), WhyNot> {
    match way(root, route).iter().find(|node| node.span.file != file) {
        Some(node) => Err(WhyNot::Shared(node.span)),
        None => Ok(()),
    }
}

/// Refuses what an alias brought, and what aliases elsewhere repeat. If the route leads to something, that is what
/// goes or gives way; else something is put into the last table or list on the way.
pub(super) fn refuse_aliases(text: &str, root: &Arc<Node>, route: &Route) -> Result<(), WhyNot> {
    let way = way(root, route);
    let name = |at: Span| at.slice(text).unwrap_or_default().to_owned();
    let (target, above) = match way.split_last() {
        Some((target, above)) if way.len() > route.steps().len() => (Some(target), above),
        _ => (None, way.as_slice()),
    };
    if let Some(alias) = above.iter().find_map(|node| node.used_at) {
        return Err(WhyNot::Alias(name(alias)));
    }
    let mut uses = Vec::new();
    gather_uses(root, &mut uses);
    let within = |inner: Span, outer: Span| outer.start <= inner.start && inner.end <= outer.end;
    let used_again = uses.iter().find(|used| {
        let holds_it = above.iter().any(|node| node.span == used.of);
        let goes = target.is_some_and(|node| {
            node.used_at.is_none() && within(used.of, node.span) && !within(used.at, node.span)
        });
        holds_it || goes
    });
    match used_again {
        Some(used) => Err(WhyNot::UsedAgain(name(used.at))),
        None => Ok(()),
    }
}

/// An alias, and the place of what it repeats.
struct Use {
    at: Span,
    of: Span,
}

fn gather_uses(node: &Arc<Node>, uses: &mut Vec<Use>) {
    if let Some(at) = node.used_at {
        // What is below stands where it is defined, and is met there.
        uses.push(Use { at, of: node.span });
        return;
    }
    match &node.value {
        Value::Scalar(_) => {}
        Value::List(list) => list.iter().for_each(|entry| gather_uses(entry, uses)),
        Value::Map(map) => map.iter().for_each(|entry| gather_uses(&entry.value, uses)),
    }
}

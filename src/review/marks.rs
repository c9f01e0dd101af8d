//! Where a result stands in the text.

use super::result::PlacedMark;
use super::values::SubjectValues;
use crate::build::Build;
use crate::known::Known;
use crate::rules::{Place, Role, Rule, entry_at};
use crate::text::{Route, find, mark};

/// The marks of a result, the main one first. Where the result is a finding (`found`), a further place is left out whose
/// words would tell what is not known: it is there for questions that stay open.
pub(super) fn place(
    rule: &Rule,
    values: &SubjectValues<'_, '_>,
    build: &Build,
    found: bool,
) -> Vec<PlacedMark> {
    let mut marks: Vec<PlacedMark> = Vec::new();
    for place in &rule.places {
        if found && place.role != Role::Main && !rule.is_told(&place.says, values) {
            continue;
        }
        let route = match place.at.resolve(&values.subject.route, |whose, link| values.follow(whose, link)) {
            Known::Is(route) => entry(place, route, rule, values, build),
            // What a link leads to is not known: the main place is then the subject itself.
            _ if place.role == Role::Main => values.subject.route.clone(),
            _ => continue,
        };
        let spot = mark(&build.root, &route, place.part);
        let says = rule.say(&place.says, values);
        if marks.iter().any(|other| other.span == spot.span && other.says == says) {
            continue;
        }
        marks.push(PlacedMark {
            route,
            span: spot.span,
            given: spot.given,
            defined_at: spot.defined_at,
            known: rule.is_known(&place.says, values),
            says,
            role: place.role,
        });
    }
    marks.sort_by_key(|mark| mark.role != Role::Main);
    marks
}

/// The entry of a table that a place means, where it picks one.
fn entry(place: &Place, route: Route, rule: &Rule, values: &SubjectValues<'_, '_>, build: &Build) -> Route {
    let Some(speed) = rule.entry_speed(place, values) else { return route };
    match find(&build.root, &route).and_then(|found| entry_at(found.node, speed)) {
        Some(key) => route.key(&key),
        None => route,
    }
}

//! How the house of a checkout differs from the one that is in force, so that a change of policy is told by itself.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::house::House;
use super::notice::{Hidden, Notice, NoticeKind};
use super::policy::Policy;
use crate::rules::Rule;
use crate::text::{FileId, Span};

/// One difference.
pub(super) struct Difference {
    /// The rule that it is about.
    rule: Option<Arc<str>>,
    /// Its place in the house file of the checkout; none where there is no such file.
    span: Option<Span>,
    message: String,
}

/// A value that one house file gives: in words, with its place.
type Given = (String, Span);

/// What differs, in the order of the text.
pub(super) fn differences(in_force: &Policy, proposed: &Policy) -> Vec<Difference> {
    let before = in_force.house.as_ref().map(values).unwrap_or_default();
    let after = proposed.house.as_ref().map(values).unwrap_or_default();
    let keys: BTreeSet<_> = before.keys().chain(after.keys()).collect();
    let mut found = Vec::new();
    for key in keys {
        let (old, new) = (before.get(key), after.get(key));
        if old.map(|given| &given.0) == new.map(|given| &given.0) {
            continue;
        }
        let words = |given: Option<&Given>| given.map_or("not changed", |given| given.0.as_str()).to_owned();
        let place =
            new.map(|given| given.1).or_else(|| proposed.house.as_ref().map(|house| house.key(key.2)));
        found.push(Difference {
            rule: key.0.clone(),
            span: place,
            message: format!(
                "this changes the policy: {} is {} in force, and {} here",
                key.1,
                words(old),
                words(new)
            ),
        });
    }
    let place = proposed.house.as_ref().map(|house| house.key("rules"));
    for (id, what) in own_rules(in_force, proposed) {
        let message = format!("this changes the policy: the house's rule {id} is {what}");
        found.push(Difference { rule: Some(id), span: place, message });
    }
    found.sort_by(|a, b| (a.span, &a.message).cmp(&(b.span, &b.message)));
    found
}

/// What a house decides, by rule, what it is, and the key under which it stands.
fn values(house: &House) -> BTreeMap<(Option<Arc<str>>, String, &'static str), Given> {
    let mut all = BTreeMap::new();
    let locked = |locked: bool| if locked { " (locked)" } else { "" };
    for one in &house.limits {
        let words = format!("{}{}, because {}", one.written, locked(one.locked), one.because);
        let name = format!("limit {} of {}", one.limit, one.rule);
        all.insert((Some(one.rule.clone()), name, "limits"), (words, one.span));
    }
    for one in &house.levels {
        let words = format!("{}, because {}", one.level.word(), one.because);
        all.insert(
            (Some(one.rule.clone()), format!("the level of {}", one.rule), "levels"),
            (words, one.span),
        );
    }
    for (setting, one) in &house.settings {
        let words = format!("{}{}, because {}", one.written, locked(one.locked), one.because);
        all.insert((None, format!("setting {}", setting.row().name), "settings"), (words, one.span));
    }
    let list = |names: &[Arc<str>]| if names.is_empty() { "nobody".to_owned() } else { names.join(", ") };
    if let Some(names) = &house.who_may_accept {
        let key = "who-may-accept";
        all.insert((None, "who may accept findings".to_owned(), key), (list(names), house.key(key)));
    }
    let patterns = house.include.as_ref().map(|include| ("what counts as a build", &include.written));
    let excluded = Some(("what does not count as a build", &house.exclude.written));
    for (name, written) in patterns.into_iter().chain(excluded).filter(|(_, written)| !written.is_empty()) {
        all.insert((None, name.to_owned(), "builds"), (written.join(", "), house.key("builds")));
    }
    for (key, table) in [("materials", &house.materials), ("clamps", &house.clamps)] {
        for row in table {
            let values: Vec<_> =
                row.values.iter().map(|(name, _, written)| format!("{name} {written}")).collect();
            let words = format!("{} ({})", values.join(", "), row.source);
            all.insert((None, format!("{} of {key}", row.name), key), (words, house.key(key)));
        }
    }
    all
}

/// The houses' own rules that came, went or differ.
fn own_rules(in_force: &Policy, proposed: &Policy) -> Vec<(Arc<str>, &'static str)> {
    let own = |policy: &Policy| -> BTreeMap<Arc<str>, Arc<str>> {
        let rules = policy.catalogue.rules().iter().filter(|rule| rule.origin.of_house);
        let text = |rule: &Rule| policy.catalogue.sources().get(rule.origin.file).shared_text();
        rules.map(|rule| (rule.id.clone(), text(rule))).collect()
    };
    let (old, new) = (own(in_force), own(proposed));
    let ids: BTreeSet<_> = old.keys().chain(new.keys()).cloned().collect();
    let differ = ids.into_iter().filter_map(|id| match (old.get(&id), new.get(&id)) {
        (Some(before), Some(after)) if before == after => None,
        (Some(_), Some(_)) => Some((id, "another text here than the one in force")),
        (Some(_), None) => Some((id, "in force, and not here")),
        _ => Some((id, "new here, and not in force")),
    });
    differ.collect()
}

/// The differences as notices, each with what it would hide of a build; what belongs to no rule that differs goes with
/// the first that is about no rule.
pub(super) fn notices(
    differences: Vec<Difference>,
    hidden: Vec<Hidden>,
    in_house: &dyn Fn(Span) -> Span,
) -> Vec<Notice> {
    let mut notices: Vec<(Option<Arc<str>>, Notice)> = differences
        .into_iter()
        .map(|one| {
            let span = one.span.map_or(Span::new(FileId(0), 0, 1), in_house);
            (one.rule, Notice::new(NoticeKind::PolicyChanged, span, one.message))
        })
        .collect();
    for lost in hidden {
        let own = notices.iter().position(|(rule, _)| rule.as_ref() == Some(&lost.rule));
        let at = own.or_else(|| notices.iter().position(|(rule, _)| rule.is_none())).unwrap_or(0);
        if let Some((_, notice)) = notices.get_mut(at) {
            notice.hides.push(lost);
        }
    }
    notices.into_iter().map(|(_, notice)| notice).collect()
}

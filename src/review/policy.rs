//! The rules with what a house makes of them, and what that does to a build: house over rule, build over house, and
//! what the house locks stays.

use super::house::{ChangedLevel, House, HouseLevel};
use crate::build::Build;
use crate::build::changed::ChangedLimit;
use crate::rules::{Catalogue, RuleKind};
use crate::text::{Fault, FaultKind, Span, nearest};

/// The rules that reviews are made with.
#[derive(Clone, Debug, Default)]
pub struct Policy {
    /// All rules, a house's own among them, with the levels that it gives them.
    pub catalogue: Catalogue,
    /// The house.
    pub house: Option<House>,
}

impl Policy {
    /// The rules with what the house makes of them. What the house names and there is not, is told among its faults
    /// and has no effect.
    pub fn new(mut catalogue: Catalogue, house: Option<House>) -> Self {
        let house = house.map(|mut house| {
            let mut faults = limit_faults(&house.limits, &catalogue);
            let wrong: Vec<Span> = faults.iter().map(|fault| fault.span).collect();
            house.limits.retain(|limit| !wrong.contains(&limit.span));
            house.levels.retain_mut(|changed| known_level(changed, &catalogue, &mut faults));
            for changed in &house.levels {
                if let Some(level) = changed.level.level() {
                    catalogue.set_level(&changed.rule, level);
                }
            }
            house.faults.extend(faults);
            house.faults.sort();
            house
        });
        Self { catalogue, house }
    }
}

/// Whether a level is of a rule that there is, and may be given to it.
fn known_level(changed: &mut ChangedLevel, catalogue: &Catalogue, faults: &mut Vec<Fault>) -> bool {
    let Some(rule) = catalogue.find(&changed.rule) else {
        faults.push(no_rule(&changed.rule, changed.span, catalogue));
        return false;
    };
    changed.own = Some(rule.level);
    let fits = rule.kind != RuleKind::Review || matches!(changed.level, HouseLevel::Off | HouseLevel::Note);
    if !fits {
        let message =
            "a rule that hands the question to a person has the level `note`, and may only be switched off";
        faults.push(Fault::new(FaultKind::Other, changed.span, message));
    }
    fits
}

/// The fault of a name that is no rule's.
pub(super) fn no_rule(name: &str, span: Span, catalogue: &Catalogue) -> Fault {
    let near = nearest(name, catalogue.rules().iter().map(|rule| &*rule.id));
    dangling(span, format!("{} is not a rule", crate::text::quoted(name)), near)
}

fn dangling(span: Span, message: String, near: Option<&str>) -> Fault {
    let fault = Fault::new(FaultKind::DanglingName, span, message);
    match near {
        Some(name) => fault.with_help(format!("did you mean `{name}`?")),
        None => fault,
    }
}

/// Changed limits whose rule or limit does not exist, or whose unit does not fit.
pub(super) fn limit_faults(limits: &[ChangedLimit], catalogue: &Catalogue) -> Vec<Fault> {
    let mut faults = Vec::new();
    for changed in limits {
        let Some(rule) = catalogue.find(&changed.rule) else {
            faults.push(no_rule(&changed.rule, changed.span, catalogue));
            continue;
        };
        let Some(limit) = rule.limit(&changed.limit) else {
            let near = nearest(&changed.limit, rule.limits.iter().map(|limit| &*limit.name));
            let message = format!("`{}` is not a limit of {}", changed.limit, rule.id);
            faults.push(dangling(changed.span, message, near));
            continue;
        };
        let dim = limit.dim();
        if dim != changed.dim {
            let message = format!("the limit is in {dim}, but `{}` is in {}", changed.written, changed.dim);
            faults.push(Fault::new(FaultKind::WrongUnit, changed.span, message));
        }
    }
    faults
}

/// A change of a build that the house does not allow.
#[derive(Clone, Debug)]
pub(super) struct Locked {
    /// What the build changes, in words.
    pub what: String,
    /// Where, in the build.
    pub span: Span,
    /// Where the house locks it, in the house file.
    pub house_span: Span,
    /// What the house holds it at.
    pub written: std::sync::Arc<str>,
}

/// Puts what the house changes into a build; what it locks takes the place of what the build says.
pub(super) fn govern(house: &House, build: &mut Build) -> Vec<Locked> {
    let mut locked = Vec::new();
    for held in &house.limits {
        let same = |one: &ChangedLimit| one.rule == held.rule && one.limit == held.limit;
        match build.limits.iter_mut().find(|one| same(one)) {
            Some(own) if held.locked => {
                locked.push(Locked {
                    what: format!("limit {} of {}", held.limit, held.rule),
                    span: own.span,
                    house_span: held.span,
                    written: held.written.clone(),
                });
                *own = held.clone();
            }
            Some(_) => {}
            None => build.limits.push(held.clone()),
        }
    }
    for (setting, held) in &house.settings {
        match build.settings.get_mut(setting) {
            Some(own) if held.locked => {
                locked.push(Locked {
                    what: format!("setting {}", setting.row().name),
                    span: own.span,
                    house_span: held.span,
                    written: held.written.clone(),
                });
                *own = held.clone();
            }
            Some(_) => {}
            None => {
                build.settings.insert(*setting, held.clone());
            }
        }
    }
    locked
}

//! A rule that was read and checked, and how it judges a subject.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::case::Case;
use super::cure::{BY, Cure, TO};
use super::expression::{Expression, Scene};
use super::file::{Level, RuleKind, Status};
use super::judgement::{Judgement, Outcome};
use super::limit::{Limit, LimitValue};
use super::place::Place;
use super::template::Template;
use super::vocabulary::{Values, Whose};
use crate::known::{Known, Num, Reason, Truth};
use crate::text::FileId;
use crate::tract::SubjectKind;

/// A rule.
#[derive(Clone, Debug)]
pub struct Rule {
    /// Its name.
    pub id: Arc<str>,
    /// Its family.
    pub family: Arc<str>,
    /// Whether it is asked.
    pub status: Status,
    /// Whether it finds faults by itself.
    pub kind: RuleKind,
    /// How heavily a finding weighs.
    pub level: Level,
    /// What is wrong, in one line.
    pub title: Arc<str>,
    /// What it is asked of.
    pub for_each: SubjectKind,
    /// Where this is not so it does not apply.
    pub applies_when: Option<Expression>,
    /// Why it does not apply there; empty if it always applies.
    pub does_not_apply: Reason,
    /// Its thresholds, in the order of the file.
    pub limits: Vec<Limit>,
    /// Where this is so the fault is there.
    pub fails_when: Expression,
    /// The rule of thumb that decides where `fails_when` is not known.
    pub fallback: Option<Expression>,
    /// The rules it silences.
    pub silences: Vec<Arc<str>>,
    /// The places a finding marks, in the order of the file.
    pub places: Vec<Place>,
    /// What may be changed.
    pub cures: Vec<Cure>,
    /// What to aim for.
    pub advice: Option<Arc<str>>,
    /// What happens in the air.
    pub why: Arc<str>,
    /// Published sources.
    pub sources: Vec<Arc<str>>,
    /// What to be careful of.
    pub cautions: Vec<Arc<str>>,
    /// Its cases; none of a rule that comes with the program and was read for reviewing (see
    /// [`super::Catalogue::whole`]).
    pub cases: Vec<Case>,
    /// The file it was read from.
    pub origin: Origin,
}

/// The file a rule was read from.
#[derive(Clone, Debug)]
pub struct Origin {
    /// Its path below the folder of rules, as `placement/some-rule.yaml`.
    pub path: Arc<str>,
    /// Whether a house brought it; else it came with the program.
    pub of_house: bool,
    /// Its text among the catalogue's sources.
    pub file: FileId,
}

impl Rule {
    /// Whether it is asked of builds.
    pub fn is_in_force(&self) -> bool {
        self.status == Status::InForce
    }

    /// The limit of this name, as the rule file writes it.
    pub fn limit(&self, name: &str) -> Option<&Limit> {
        self.limits.iter().find(|limit| &*limit.name == name)
    }

    /// The facts it names anywhere, its texts included.
    pub fn facts(&self) -> BTreeSet<(Whose, Arc<str>)> {
        let mut facts = BTreeSet::new();
        self.each_expression(&mut |expression| facts.extend(expression.facts()));
        facts
    }

    /// Every expression of the rule.
    pub(super) fn each_expression(&self, look: &mut dyn FnMut(&Expression)) {
        let conditions = [self.applies_when.as_ref(), Some(&self.fails_when), self.fallback.as_ref()];
        conditions.into_iter().flatten().for_each(&mut *look);
        for limit in &self.limits {
            if let LimitValue::ByKey { by, .. } = &limit.value {
                look(by);
            }
        }
        for place in &self.places {
            place.entry_for.iter().chain(place.says.expressions()).for_each(&mut *look);
        }
        for cure in &self.cures {
            if let Cure::Cap { below, .. } = cure {
                look(below);
            }
            cure.says().expressions().for_each(&mut *look);
        }
    }

    /// What the rule comes to for the subject that the values are those of.
    pub fn judge(&self, values: &dyn Values) -> Judgement {
        let scene = Scene::new(values, &self.limits);
        let applies =
            self.applies_when.as_ref().map_or(Truth::Yes, |applies_when| applies_when.decide(&scene).truth);
        let shut_out = match &applies {
            Truth::No => Some(self.does_not_apply.clone()),
            Truth::NotApplicable(reason) => Some(reason.clone()),
            Truth::Yes | Truth::Open(_) => None,
        };
        if let Some(reason) = shut_out {
            return judgement(Outcome::NotApplicable(reason), &scene);
        }
        scene.take_comparisons();
        let fails = self.fails_when.decide(&scene);
        let (outcome, at_limit) = match (applies, fails.truth) {
            (_, Truth::No) => (Outcome::Pass, fails.at_limit),
            (Truth::Open(missing), Truth::Open(more)) => (Outcome::Open(missing.join(more)), false),
            (Truth::Open(missing), _) => (Outcome::Open(missing), false),
            (_, Truth::Yes) => (self.found(), fails.at_limit),
            (_, Truth::NotApplicable(reason)) => (Outcome::NotApplicable(reason), false),
            (_, Truth::Open(missing)) => return self.by_thumb(Outcome::Open(missing), &scene),
        };
        Judgement { at_limit, ..judgement(outcome, &scene) }
    }

    /// The rule of thumb, if there is one and it decides; else what it was to stand in for.
    fn by_thumb(&self, open: Outcome, scene: &Scene<'_>) -> Judgement {
        let Some(fallback) = &self.fallback else {
            return judgement(open, scene);
        };
        let tried = scene.take_comparisons();
        let verdict = fallback.decide(scene);
        let outcome = match verdict.truth {
            Truth::Yes => self.found(),
            Truth::No => Outcome::Pass,
            Truth::Open(_) | Truth::NotApplicable(_) => {
                let mut undecided = judgement(open, scene);
                undecided.comparisons.splice(0..0, tried);
                return undecided;
            }
        };
        Judgement { fallback_spoke: true, at_limit: verdict.at_limit, ..judgement(outcome, scene) }
    }

    fn found(&self) -> Outcome {
        match self.kind {
            RuleKind::Fail => Outcome::Fail,
            RuleKind::Review => Outcome::Review,
        }
    }

    /// The words of a place, with the values of the subject.
    pub fn say(&self, words: &Template, values: &dyn Values) -> String {
        words.render(&Scene::new(values, &self.limits))
    }

    /// Whether the words of a place name values of the subject that are all known.
    pub fn is_known(&self, words: &Template, values: &dyn Values) -> bool {
        words.is_known(&Scene::new(values, &self.limits))
    }

    /// Whether nothing that some words tell is unknown or does not apply.
    pub fn is_told(&self, words: &Template, values: &dyn Values) -> bool {
        words.is_told(&Scene::new(values, &self.limits))
    }

    /// The words of a cure: how far the field goes and where it arrives, the subject as it was before.
    pub fn say_cure(&self, words: &Template, values: &dyn Values, by: &Num, to: &Num) -> String {
        let bare = [(BY, by.clone()), (TO, to.clone())];
        words.render(&Scene::with_bare(values, &self.limits, &bare))
    }

    /// The value of an expression of the rule, such as the engine speed of a cure.
    pub fn value(&self, expression: &Expression, values: &dyn Values) -> Known<crate::known::Datum> {
        expression.value(&Scene::new(values, &self.limits))
    }

    /// The engine speed, in revolutions per second, that picks the entry a place marks, where its fact knows one.
    pub fn entry_speed(&self, place: &Place, values: &dyn Values) -> Option<f64> {
        use crate::known::Datum;
        match self.value(place.entry_for.as_ref()?, values) {
            Known::Is(Datum::Number(num)) | Known::Between(Datum::Number(num), _) => num.at?.speed,
            _ => None,
        }
    }
}

fn judgement(outcome: Outcome, scene: &Scene<'_>) -> Judgement {
    Judgement {
        outcome,
        fallback_spoke: false,
        at_limit: false,
        comparisons: scene.take_comparisons(),
        limits: scene.take_limits(),
    }
}

#[cfg(test)]
mod tests;

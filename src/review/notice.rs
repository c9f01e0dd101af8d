//! What is the program's own business and no rule's: loosened limits with what they hide, rules switched off, accepted
//! findings that are stale, a policy that is about to change. Counted apart from results.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::house::HouseLevel;
use super::result::{RuleResult, Verdict};
use super::run::{Reviewer, ask, results_of};
use super::values::SubjectValues;
use crate::build::changed::ChangedLimit;
use crate::facts::{Scope, Sites};
use crate::known::{Decider, Known, Overridden, Setting};
use crate::rules::{Comparison, Judgement, LimitValue, Rule};
use crate::text::{Change, Route, Span};

/// The kinds of notice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoticeKind {
    /// A limit is looser than the rule's own.
    LimitLoosened,
    /// A setting is not the program's own, and that hides something.
    SettingChanged,
    /// A level is lower than the rule's own.
    LevelLowered,
    /// A rule is switched off.
    RuleSwitchedOff,
    /// An accepted finding that is not there.
    AcceptedStale,
    /// An accepted finding whose last day is past.
    AcceptedExpired,
    /// An accepted finding that does not hold, as it was not there before.
    AcceptedNew,
    /// Last days are given, and today's is not.
    AcceptedUndated,
    /// The house file of the builds is another than the one in force.
    PolicyChanged,
}

impl NoticeKind {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::LimitLoosened => "limit-loosened",
            Self::SettingChanged => "setting-changed",
            Self::LevelLowered => "level-lowered",
            Self::RuleSwitchedOff => "rule-switched-off",
            Self::AcceptedStale => "accepted-stale",
            Self::AcceptedExpired => "accepted-expired",
            Self::AcceptedNew => "accepted-new",
            Self::AcceptedUndated => "accepted-undated",
            Self::PolicyChanged => "policy-changed",
        }
    }
}

/// A result that would be there but for what a notice tells of.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hidden {
    /// The rule.
    pub rule: Arc<str>,
    /// The subject's route.
    pub subject: Route,
    /// What it would count as.
    pub was: Verdict,
}

/// One notice. Its level is always `note`.
#[derive(Clone, Debug)]
pub struct Notice {
    /// Its kind.
    pub kind: NoticeKind,
    /// Its place, in the build or in the house file.
    pub span: Span,
    /// What there is to say, without a full stop.
    pub message: String,
    /// What is hidden by it.
    pub hides: Vec<Hidden>,
}

impl Notice {
    /// A notice that hides nothing.
    pub fn new(kind: NoticeKind, span: Span, message: impl Into<String>) -> Self {
        Self { kind, span, message: message.into(), hides: Vec::new() }
    }
}

/// How much a verdict asks of its reader.
fn weight(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Fail => 3,
        Verdict::Review => 2,
        Verdict::Open => 1,
        Verdict::Pass | Verdict::NotApplicable | Verdict::Silenced => 0,
    }
}

/// What results `without` a change hold that those `with` it do not, or hold as less.
pub(super) fn hidden(without: &[RuleResult], with: &[RuleResult]) -> Vec<Hidden> {
    let key = |result: &RuleResult| (result.rule.id.clone(), result.subject.route.clone());
    let now: BTreeMap<_, _> = with.iter().map(|result| (key(result), standing(result))).collect();
    let lost = without
        .iter()
        .filter(|result| standing(result) > now.get(&key(result)).copied().unwrap_or(0))
        .map(|result| {
            let (rule, subject) = key(result);
            Hidden { rule, subject, was: result.verdict() }
        });
    let mut lost: Vec<Hidden> = lost.collect();
    lost.sort();
    lost
}

/// How much a result asks of its reader; nothing where it is accepted.
fn standing(result: &RuleResult) -> u8 {
    if result.accepted.is_some() { 0 } else { weight(result.verdict()) }
}

/// The notices of what house and build change, and what each change hides.
pub(super) struct Changes<'a, 'b, 'c> {
    pub reviewer: &'a Reviewer<'c>,
    pub scope: &'a Scope<'b>,
    pub results: &'a [RuleResult],
    /// Makes a place of the house file one of the build's texts.
    pub in_house: &'a dyn Fn(Span) -> Span,
}

impl Changes<'_, '_, '_> {
    /// All of them.
    pub fn notices(&self) -> Vec<Notice> {
        let build = self.scope.build();
        let mut notices: Vec<Notice> =
            build.limits.iter().filter_map(|changed| self.limit(changed)).collect();
        for (setting, changed) in &build.settings {
            notices.extend(self.setting(*setting, changed));
        }
        notices.extend(self.levels());
        notices.extend(self.switched_off());
        notices
    }

    fn place(&self, by: Decider, span: Span) -> Span {
        if by == Decider::House { (self.in_house)(span) } else { span }
    }

    /// A changed limit that makes a rule of this build easier to pass: that rule is asked once more with its own.
    fn limit(&self, changed: &ChangedLimit) -> Option<Notice> {
        let rule = self.reviewer.rules().find(|rule| rule.id == changed.rule)?;
        let limit = rule.limit(&changed.limit).filter(|limit| limit.dim() == changed.dim)?;
        let (mut looser, mut hides) = (false, Vec::new());
        for now in self.results.iter().filter(|result| result.rule.id == rule.id) {
            let values = SubjectValues {
                undone: Some(&changed.limit),
                ..SubjectValues::new(self.scope, &now.subject, &rule.id, Sites::All)
            };
            let own = rule.judge(&values);
            looser |= is_looser(&own, &now.judgement);
            let was = Verdict::of(&own.outcome);
            // What another rule silences would not be shown with the rule's own limit either.
            let shown = now.accepted.is_none() && !self.is_silenced(now);
            if shown && weight(was) > weight(Verdict::of(&now.judgement.outcome)) {
                hides.push(Hidden { rule: rule.id.clone(), subject: now.subject.route.clone(), was });
            }
        }
        if !looser && hides.is_empty() {
            return None;
        }
        let own = match &limit.value {
            LimitValue::One(written) => written.text.to_string(),
            LimitValue::ByKey { values, .. } => {
                let each: Vec<_> =
                    values.iter().map(|(key, value)| format!("{key} {}", value.text)).collect();
                each.join(", ")
            }
        };
        let message = format!(
            "the {} loosens {} of {} from {own} to {}, because {}",
            changed.by.word(),
            changed.limit,
            rule.id,
            changed.written,
            changed.because
        );
        let span = self.place(changed.by, changed.span);
        Some(Notice { hides, ..Notice::new(NoticeKind::LimitLoosened, span, message) })
    }

    fn is_silenced(&self, result: &RuleResult) -> bool {
        self.results.iter().any(|other| {
            other.speaks_for.contains(&result.subject.route)
                && other.speaks()
                && other.rule.silences.contains(&result.rule.id)
        })
    }

    /// A changed setting that hides something: the build is reviewed once more with the program's own.
    fn setting(&self, setting: Setting, changed: &Overridden) -> Option<Notice> {
        let mut own = self.scope.build().clone();
        own.settings.remove(&setting);
        let change = Change::remove(Route::root().key("settings").key(setting.row().name));
        let scope = self.scope.fork(&own, &change);
        let without = results_of(self.reviewer.rules(), &scope, &self.reviewer.terms().holding(&own));
        let hides = hidden(&without, self.results);
        if hides.is_empty() {
            return None;
        }
        let row = setting.row();
        let message = format!(
            "the {} sets {} to {} in the place of {}, because {}",
            changed.by.word(),
            row.name,
            changed.written,
            row.written,
            changed.because
        );
        let span = self.place(changed.by, changed.span);
        Some(Notice { hides, ..Notice::new(NoticeKind::SettingChanged, span, message) })
    }

    fn levels(&self) -> Vec<Notice> {
        let Some(house) = self.reviewer.house() else { return Vec::new() };
        let lowered = house.levels.iter().filter_map(|changed| {
            let (own, now) = (changed.own?, changed.level.level()?);
            let asked = self.reviewer.rules().any(|rule| rule.id == changed.rule);
            if now >= own || !asked {
                return None;
            }
            let message = format!(
                "the house lowers the level of {} from {} to {}, because {}",
                changed.rule,
                own.word(),
                now.word(),
                changed.because
            );
            let fails = self.results.iter().filter(|one| one.rule.id == changed.rule && one.speaks());
            let hides = fails.map(|one| Hidden {
                rule: one.rule.id.clone(),
                subject: one.subject.route.clone(),
                was: one.verdict(),
            });
            let span = (self.in_house)(changed.span);
            Some(Notice { hides: hides.collect(), ..Notice::new(NoticeKind::LevelLowered, span, message) })
        });
        lowered.collect()
    }

    /// Rules that the house switches off: each is asked all the same, to say what is hidden.
    fn switched_off(&self) -> Vec<Notice> {
        let Some(house) = self.reviewer.house() else { return Vec::new() };
        let off = house.levels.iter().filter(|changed| changed.level == HouseLevel::Off);
        let notices = off.filter_map(|changed| {
            let rule = self.reviewer.wanted().find(|rule| rule.id == changed.rule)?;
            let message = format!("the house switches {} off, because {}", changed.rule, changed.because);
            let span = (self.in_house)(changed.span);
            let hides = would_tell(rule, self.scope);
            Some(Notice { hides, ..Notice::new(NoticeKind::RuleSwitchedOff, span, message) })
        });
        notices.collect()
    }
}

/// What a rule would tell of.
fn would_tell(rule: &Arc<Rule>, scope: &Scope<'_>) -> Vec<Hidden> {
    let subjects = scope.tract().subjects(rule.for_each).into_iter();
    let told = subjects.filter_map(|subject| {
        let result = ask(rule, subject, scope);
        let was = result.verdict();
        (weight(was) > 0).then(|| Hidden { rule: rule.id.clone(), subject: result.subject.route, was })
    });
    told.collect()
}

/// Whether a judgement leaves more room than another by the same comparisons.
fn is_looser(own: &Judgement, now: &Judgement) -> bool {
    let margin = |comparison: &Comparison| match comparison.margin() {
        Known::Is(number) => Some(number.v),
        _ => None,
    };
    now.comparisons.iter().any(|comparison| {
        let same = |other: &&Comparison| {
            other.left.text == comparison.left.text && other.right.text == comparison.right.text
        };
        let before = own.comparisons.iter().find(same);
        before.and_then(margin).zip(margin(comparison)).is_some_and(|(before, now)| now > before)
    })
}

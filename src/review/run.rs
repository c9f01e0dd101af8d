//! Every rule in force asked of every subject.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::accept::{self, Terms};
use super::cures;
use super::differ::{self, differences};
use super::house::{House, HouseLevel};
use super::marks::place;
use super::notice::{Changes, Notice, hidden};
use super::policy::{Policy, govern, limit_faults};
use super::result::{LevelChange, RuleResult};
use super::tally::{Asked, Tally, asking_list};
use super::trace::{Trace, trace};
use super::values::SubjectValues;
use crate::build::Build;
use crate::build::accepted::Accepted;
use crate::build::files::Files;
use crate::facts::{Scope, Sites, Trail};
use crate::known::{At, Datum, Known, Missing, Overrides, Read};
use crate::rules::{Catalogue, Judgement, Level, Outcome, Rule};
use crate::text::{Fault, FaultKind, FileId, Node, Route, Span, mark};
use crate::tract::{Subject, SubjectKind};

/// What a review is to do.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Only these rules; all when empty.
    pub rules: Vec<String>,
    /// Whether to look for cures.
    pub cures: bool,
    /// Facts whose derivation is wanted.
    pub trace: Vec<String>,
    /// Rules that are left out.
    pub without: Vec<String>,
    /// The day on which the review is made, as in 2027-03-31; without it no accepted finding expires.
    pub today: Option<String>,
}

/// Cures are searched for so many findings of a build.
const MOST_SEARCHES: usize = 12;

/// A rule that found nothing to look at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unasked {
    /// The rule.
    pub rule: Arc<str>,
    /// What it would have been asked of.
    pub for_each: SubjectKind,
}

/// A rule that is not asked, though it is in force.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SwitchedOff {
    /// The rule.
    pub rule: Arc<str>,
    /// The house's reason; none where the caller left it out.
    pub because: Option<Arc<str>>,
}

/// The review of one build.
#[derive(Clone, Debug, Default)]
pub struct Review {
    /// All results, in the order of the text, rule and subject.
    pub results: Vec<RuleResult>,
    /// Rules that found nothing to look at.
    pub unasked: Vec<Unasked>,
    /// Rules that are switched off or left out.
    pub switched_off: Vec<SwitchedOff>,
    /// What is no rule's business, by place.
    pub notices: Vec<Notice>,
    /// The count.
    pub tally: Tally,
    /// What would settle the open results, the most useful first.
    pub asking: Vec<Asked>,
    /// Faults of the text, those of changed limits included.
    pub faults: Vec<Fault>,
    /// Text that is not read yet.
    pub unread: Vec<Route>,
    /// The derivations that were asked for.
    pub traces: Vec<Trace>,
}

impl Review {
    /// The gravest level among the findings that nobody has accepted.
    pub fn gravest(&self) -> Option<Level> {
        let fails = self.results.iter().filter(|result| result.speaks());
        fails.map(|result| result.rule.level).max()
    }
}

/// Reviews builds with one catalogue of rules.
pub struct Reviewer<'c> {
    catalogue: &'c Catalogue,
    house: Option<&'c House>,
    options: Options,
    /// What is in force, and the policy that lies with the builds, where that is not in force.
    beside: Option<(&'c Policy, &'c Policy)>,
    /// The accepted findings of the build as it stood before, where only those count.
    accepted_before: Option<Vec<Accepted>>,
}

impl<'c> Reviewer<'c> {
    /// A reviewer without a house.
    pub fn new(catalogue: &'c Catalogue, options: Options) -> Self {
        Self { catalogue, house: None, options, beside: None, accepted_before: None }
    }

    /// A reviewer under a house.
    pub fn under(policy: &'c Policy, options: Options) -> Self {
        Self { house: policy.house.as_ref(), ..Self::new(&policy.catalogue, options) }
    }

    /// The same under a policy that is in force in the place of the one that lies with the builds: what differs is told,
    /// with what it would hide. Of the accepted findings only those count that stood in the build before.
    #[must_use]
    pub fn in_place_of(
        mut self,
        in_force: &'c Policy,
        proposed: &'c Policy,
        accepted: Vec<Accepted>,
    ) -> Self {
        self.beside = Some((in_force, proposed));
        self.accepted_before = Some(accepted);
        self
    }

    /// Reviews a build from its tree.
    pub fn review(&self, file: FileId, root: &Arc<Node>, files: &Files) -> Review {
        let mut build = Build::read(file, root, files);
        let mut faults = build.faults.clone();
        faults.extend(limit_faults(&build.limits, self.catalogue));
        faults.extend(self.locked_out(&mut build, files));
        faults.extend(self.terms().faults(&build));
        faults.sort();
        let scope = Scope::new(&build);
        let mut results = self.results(&scope);
        let notices = self.notices(&scope, &results, root, files);
        if self.options.cures && results.iter().any(RuleResult::speaks) {
            self.find_cures(&scope, files, &mut results);
        }
        let tract = scope.tract();
        let unasked: Vec<Unasked> = self
            .rules()
            .filter(|rule| tract.subjects(rule.for_each).is_empty())
            .map(|rule| Unasked { rule: rule.id.clone(), for_each: rule.for_each })
            .collect();
        let switched_off = self.switched_off();
        let tally = Tally::of(&results, unasked.len(), switched_off.len());
        let asking = asking_list(&results, (root, files), &faults);
        let traces = self.traces(&scope);
        let unread = build.unread.clone();
        Review { results, unasked, switched_off, notices, tally, asking, faults, unread, traces }
    }

    /// The derivations that were asked for.
    pub fn traces(&self, scope: &Scope<'_>) -> Vec<Trace> {
        self.options.trace.iter().flat_map(|fact| trace(scope, fact)).collect()
    }

    /// A build as it is under the house.
    pub fn read(&self, file: FileId, root: &Arc<Node>, files: &Files) -> Build {
        let mut build = Build::read(file, root, files);
        if let Some(house) = self.house {
            govern(house, &mut build);
        }
        build
    }

    /// Puts the house into a build; changes of the build that the house has locked are faults.
    fn locked_out(&self, build: &mut Build, files: &Files) -> Vec<Fault> {
        let Some(house) = self.house else { return Vec::new() };
        let locked = govern(house, build).into_iter().map(|locked| {
            let file = files.take_in(&house.source);
            let message = format!("the house has locked {} at {}", locked.what, locked.written);
            Fault::new(FaultKind::Other, locked.span, message)
                .with_also(Span { file, ..locked.house_span }, "locked here")
        });
        locked.collect()
    }

    /// What is no rule's business.
    fn notices(
        &self,
        scope: &Scope<'_>,
        results: &[RuleResult],
        root: &Arc<Node>,
        files: &Files,
    ) -> Vec<Notice> {
        let build = scope.build();
        let moved = |house: Option<&House>, span: Span| match house {
            Some(house) => Span { file: files.take_in(&house.source), ..span },
            None => span,
        };
        let in_house = |span| moved(self.house, span);
        let mut notices = Changes { reviewer: self, scope, results, in_house: &in_house }.notices();
        let asked = self.rules().map(|rule| rule.id.clone()).collect();
        notices.extend(self.terms().notices(build, results, &asked));
        if let Some((in_force, proposed)) = self.beside {
            let found = differences(in_force, proposed);
            if !found.is_empty() {
                let other = Reviewer {
                    beside: None,
                    accepted_before: self.accepted_before.clone(),
                    ..Reviewer::under(proposed, self.options.clone())
                };
                let theirs = other.read(build.file, root, files);
                let theirs = other.results(&Scope::new(&theirs));
                let lost = hidden(results, &theirs);
                let span = |span| moved(proposed.house.as_ref(), span);
                notices.extend(differ::notices(found, lost, &span));
            }
        }
        notices.sort_by(|a, b| (a.span, a.kind, &a.message).cmp(&(b.span, b.kind, &b.message)));
        notices
    }

    fn find_cures(&self, scope: &Scope<'_>, files: &Files, results: &mut [RuleResult]) {
        let before = cures::verdicts(&self.results_of_all_rules(scope));
        // The gravest first: a text with very many findings must not be searched without end.
        let mut failed: Vec<&mut RuleResult> = results.iter_mut().filter(|result| result.speaks()).collect();
        failed.sort_by_key(|result| std::cmp::Reverse(result.rule.level));
        for (done, result) in failed.into_iter().enumerate() {
            if done < MOST_SEARCHES {
                (result.cures, result.tried) = cures::search(self, scope, files, result, &before);
            } else {
                result.cure_left_out = !result.rule.cures.is_empty();
            }
        }
    }

    /// The rules that are asked.
    pub(super) fn rules(&self) -> impl Iterator<Item = &'c Arc<Rule>> + '_ {
        self.wanted().filter(|rule| !self.house.is_some_and(|house| house.is_off(&rule.id)))
    }

    /// The rules that the caller wants, those that the house switches off too.
    pub(super) fn wanted(&self) -> impl Iterator<Item = &'c Arc<Rule>> + '_ {
        self.named().filter(|rule| !self.is_left_out(rule))
    }

    fn named(&self) -> impl Iterator<Item = &'c Arc<Rule>> + '_ {
        let named = |rule: &&Arc<Rule>| {
            self.options.rules.is_empty() || self.options.rules.iter().any(|id| **id == *rule.id)
        };
        self.catalogue.rules().iter().filter(|rule| rule.is_in_force()).filter(named)
    }

    fn is_left_out(&self, rule: &Rule) -> bool {
        self.options.without.iter().any(|id| **id == *rule.id)
    }

    fn switched_off(&self) -> Vec<SwitchedOff> {
        let off = self.named().filter_map(|rule| {
            let because = if self.is_left_out(rule) {
                None
            } else {
                let changed = self.house?.level_of(&rule.id)?;
                Some(changed).filter(|changed| changed.level == HouseLevel::Off)?.because.clone().into()
            };
            Some(SwitchedOff { rule: rule.id.clone(), because })
        });
        off.collect()
    }

    /// The house.
    pub(super) fn house(&self) -> Option<&'c House> {
        self.house
    }

    /// What says whether accepted findings hold.
    pub(super) fn terms(&self) -> Terms<'_> {
        Terms {
            catalogue: self.catalogue,
            house: self.house,
            today: self.options.today.as_deref(),
            before: self.accepted_before.as_deref(),
        }
    }

    /// A rule in force by its name.
    pub(super) fn rule(&self, id: &str) -> Option<Arc<Rule>> {
        self.catalogue.find(id).filter(|rule| rule.is_in_force()).cloned()
    }

    /// The results of the rules that are asked, without cures.
    fn results(&self, scope: &Scope<'_>) -> Vec<RuleResult> {
        let mut results = results_of(self.rules(), scope, &self.terms().holding(scope.build()));
        for result in &mut results {
            let changed = self.house.and_then(|house| house.level_of(&result.rule.id));
            result.level_change = changed.and_then(|changed| {
                Some(LevelChange { own: changed.own?, because: changed.because.clone() })
            });
        }
        results
    }

    /// The results of all rules that the house asks, without cures: a cure may upset a rule that the caller does not
    /// ask.
    pub(super) fn results_of_all_rules(&self, scope: &Scope<'_>) -> Vec<RuleResult> {
        let rules = self.catalogue.rules().iter().filter(|rule| rule.is_in_force());
        let asked = rules.filter(|rule| !self.house.is_some_and(|house| house.is_off(&rule.id)));
        results_of(asked, scope, &self.terms().holding(scope.build()))
    }
}

/// The results of rules, in the order of the text.
pub(super) fn results_of<'r>(
    rules: impl Iterator<Item = &'r Arc<Rule>>,
    scope: &Scope<'_>,
    accepted: &[&Accepted],
) -> Vec<RuleResult> {
    let build = scope.build();
    let tract = scope.tract();
    let mut results = Vec::new();
    for rule in rules {
        for subject in tract.subjects(rule.for_each) {
            results.push(ask(rule, subject, scope));
        }
    }
    accept::apply(&mut results, accepted);
    silence(&mut results);
    results.sort_by_cached_key(|result| {
        let start = result.marks.first().map(|mark| mark.span);
        let subject = || mark(&build.root, &result.subject.route, crate::text::Part::Key).span;
        (start.unwrap_or_else(subject), result.rule.id.clone(), result.subject.route.clone())
    });
    results
}

/// Asks one rule of one subject.
pub(super) fn ask(rule: &Arc<Rule>, subject: Subject, scope: &Scope<'_>) -> RuleResult {
    let values = SubjectValues::new(scope, &subject, &rule.id, Sites::All);
    let (judgement, trail) = scope.recorded(|| rule.judge(&values));
    let told = matches!(judgement.outcome, Outcome::Fail | Outcome::Review | Outcome::Open(_));
    let found = !matches!(judgement.outcome, Outcome::Open(_));
    let marks = if told { place(rule, &values, scope.build(), found) } else { Vec::new() };
    let worst_at = worst_at(&judgement);
    let passes_at_home = match (&judgement.outcome, &worst_at) {
        (Outcome::Fail, Some(at)) if !at.home => {
            let home = SubjectValues { sites: Sites::Home, ..values };
            Some(matches!(rule.judge(&home).outcome, Outcome::Pass))
        }
        _ => None,
    };
    let missing = match &judgement.outcome {
        Outcome::Open(missing) => what_would_decide(missing, &trail),
        _ => Missing::default(),
    };
    let defaults = trail.defaults();
    let changed = &scope.build().settings;
    let settings = if changed.is_empty() { Overrides::new() } else { changed_settings(&trail, changed) };
    RuleResult {
        rule: rule.clone(),
        speaks_for: speaks_for(rule, &subject, scope),
        subject,
        judgement,
        silenced_by: None,
        accepted: None,
        level_change: None,
        settings,
        marks,
        worst_at,
        passes_at_home,
        defaults,
        missing,
        cures: Vec::new(),
        tried: 0,
        cure_left_out: false,
    }
}

/// Whose results a rule silences where it finds its fault in a subject: what a relief valve does wrong shows at the
/// compressor, and is one fault.
fn speaks_for(rule: &Rule, subject: &Subject, scope: &Scope<'_>) -> Vec<Route> {
    if rule.silences.is_empty() {
        return Vec::new();
    }
    let own = std::iter::once(subject.route.clone());
    let tract = scope.tract();
    let valve = tract.part_of(subject).filter(|_| rule.for_each == SubjectKind::ReliefValve);
    own.chain(valve.map(|valve| tract.compressors_relieved(valve, scope)).unwrap_or_default()).collect()
}

/// The changed settings that were looked at.
fn changed_settings(trail: &Trail, changed: &Overrides) -> Overrides {
    let read = trail.all().into_iter().filter_map(|read| match read {
        Read::Setting(setting) => Some((*setting, changed.get(setting)?.clone())),
        _ => None,
    });
    read.collect()
}

/// What would decide an open result: what it misses itself, and what the bounded values on the way to it lack.
fn what_would_decide(missing: &Missing, trail: &Trail) -> Missing {
    if !missing.fields.is_empty() || !missing.not_built.is_empty() {
        return missing.clone();
    }
    let lacking = trail.lacking();
    if lacking.is_nothing() { missing.clone() } else { lacking }
}

/// Where the number that decided was worst.
fn worst_at(judgement: &Judgement) -> Option<At> {
    all_worst(judgement).next()
}

/// Where each number that was compared was worst.
pub(super) fn all_worst(judgement: &Judgement) -> impl Iterator<Item = At> {
    let sides = judgement.comparisons.iter().flat_map(|comparison| [&comparison.left, &comparison.right]);
    sides.filter_map(|side| match &side.value {
        Known::Is(Datum::Number(number)) | Known::Between(Datum::Number(number), _) => number.at.clone(),
        _ => None,
    })
}

/// Silences results for a subject of which a rule that says more has failed, and nobody has accepted that.
fn silence(results: &mut [RuleResult]) {
    let mut silencers: BTreeMap<(Arc<str>, Route), Arc<str>> = BTreeMap::new();
    let speak =
        |result: &&RuleResult| result.accepted.is_none() && matches!(result.judgement.outcome, Outcome::Fail);
    for result in results.iter().filter(speak) {
        for silenced in &result.rule.silences {
            for route in &result.speaks_for {
                silencers.insert((silenced.clone(), route.clone()), result.rule.id.clone());
            }
        }
    }
    for result in results.iter_mut() {
        let tells = matches!(result.judgement.outcome, Outcome::Fail | Outcome::Review | Outcome::Open(_));
        if tells {
            let key = (result.rule.id.clone(), result.subject.route.clone());
            result.silenced_by = silencers.get(&key).cloned();
        }
    }
}

//! Every rule in force asked of every subject.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::cures;
use super::result::{PlacedMark, RuleResult, Verdict};
use super::tally::{Asked, Tally, asking_list};
use super::trace::{Trace, trace};
use super::values::SubjectValues;
use crate::build::Build;
use crate::build::files::Files;
use crate::facts::{Scope, Sites, Trail};
use crate::known::{At, Datum, Known, Missing};
use crate::rules::{Catalogue, Judgement, Level, Outcome, Place, Role, Rule, entry_at};
use crate::text::{Fault, FaultKind, FileId, Node, Route, find, mark, nearest};
use crate::tract::{Subject, SubjectKind, Tract};

/// What a review is to do.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Only these rules; all when empty.
    pub rules: Vec<String>,
    /// Whether to look for cures.
    pub cures: bool,
    /// Facts whose derivation is wanted.
    pub trace: Vec<String>,
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

/// The review of one build.
#[derive(Clone, Debug)]
pub struct Review {
    /// All results, in the order of the text, rule and subject.
    pub results: Vec<RuleResult>,
    /// Rules that found nothing to look at.
    pub unasked: Vec<Unasked>,
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
    /// The gravest level among the findings.
    pub fn gravest(&self) -> Option<Level> {
        let fails = self.results.iter().filter(|result| result.verdict() == Verdict::Fail);
        fails.map(|result| result.rule.level).max()
    }
}

/// Reviews builds with one catalogue of rules.
pub struct Reviewer<'c> {
    catalogue: &'c Catalogue,
    options: Options,
}

impl<'c> Reviewer<'c> {
    /// A reviewer.
    pub fn new(catalogue: &'c Catalogue, options: Options) -> Self {
        Self { catalogue, options }
    }

    /// Reviews a build from its tree.
    pub fn review(&self, file: FileId, root: &Arc<Node>, files: &Files) -> Review {
        let build = Build::read(file, root, files);
        let mut results = self.results(&build);
        if self.options.cures {
            self.find_cures(&build, files, &mut results);
        }
        let rules: Vec<_> = self.rules().collect();
        let tract = Tract::new(&build);
        let unasked: Vec<Unasked> = rules
            .iter()
            .filter(|rule| tract.subjects(rule.for_each).is_empty())
            .map(|rule| Unasked { rule: rule.id.clone(), for_each: rule.for_each })
            .collect();
        let tally = Tally::of(&results, unasked.len());
        let asking = asking_list(&results);
        let mut faults = build.faults.clone();
        faults.extend(self.limit_faults(&build));
        faults.sort();
        let traces = self.options.trace.iter().flat_map(|fact| trace(&build, fact)).collect();
        Review { results, unasked, tally, asking, faults, unread: build.unread.clone(), traces }
    }

    /// The rules that are asked.
    fn rules(&self) -> impl Iterator<Item = &'c Arc<Rule>> + '_ {
        let wanted = |rule: &&Arc<Rule>| {
            self.options.rules.is_empty() || self.options.rules.iter().any(|id| **id == *rule.id)
        };
        self.catalogue.rules().iter().filter(|rule| rule.is_in_force()).filter(wanted)
    }

    /// All results of a build, without cures.
    pub(super) fn results(&self, build: &Build) -> Vec<RuleResult> {
        let scope = Scope::new(build);
        let tract = scope.tract();
        let mut results = Vec::new();
        for rule in self.rules() {
            for subject in tract.subjects(rule.for_each) {
                results.push(ask(rule, subject, &scope));
            }
        }
        silence(&mut results);
        results.sort_by_cached_key(|result| {
            let start = result.marks.first().map(|mark| mark.span);
            let subject = || mark(&build.root, &result.subject.route, crate::text::Part::Key).span;
            (start.unwrap_or_else(subject), result.rule.id.clone(), result.subject.route.clone())
        });
        results
    }

    fn find_cures(&self, build: &Build, files: &Files, results: &mut [RuleResult]) {
        let before = cures::verdicts(results);
        // The gravest first: a text with very many findings must not be searched without end.
        let mut failed: Vec<usize> = results
            .iter()
            .enumerate()
            .filter(|(_, one)| one.verdict() == Verdict::Fail)
            .map(|(at, _)| at)
            .collect();
        failed.sort_by_key(|at| std::cmp::Reverse(results.get(*at).map(|one| one.rule.level)));
        for (done, at) in failed.into_iter().enumerate() {
            let Some(result) = results.get_mut(at) else { continue };
            if done < MOST_SEARCHES {
                result.cures = cures::search(self, build, files, result, &before);
            } else {
                result.cure_left_out = !result.rule.cures.is_empty();
            }
        }
    }

    /// Changed limits whose rule or limit does not exist, or whose unit does not fit.
    fn limit_faults(&self, build: &Build) -> Vec<Fault> {
        let mut faults = Vec::new();
        for changed in &build.limits {
            let Some(rule) = self.catalogue.find(&changed.rule) else {
                let near = nearest(&changed.rule, self.catalogue.rules().iter().map(|rule| &*rule.id));
                faults.push(unknown(changed.span, format!("`{}` is not a rule", changed.rule), near));
                continue;
            };
            let Some(limit) = rule.limit(&changed.limit) else {
                let near = nearest(&changed.limit, rule.limits.iter().map(|limit| &*limit.name));
                let message = format!("`{}` is not a limit of {}", changed.limit, rule.id);
                faults.push(unknown(changed.span, message, near));
                continue;
            };
            let dim = limit.dim();
            if dim != changed.dim {
                let message =
                    format!("the limit is in {dim}, but `{}` is in {}", changed.written, changed.dim);
                faults.push(Fault::new(FaultKind::WrongUnit, changed.span, message));
            }
        }
        faults
    }
}

fn unknown(span: crate::text::Span, message: String, near: Option<&str>) -> Fault {
    let fault = Fault::new(FaultKind::DanglingName, span, message);
    match near {
        Some(name) => fault.with_help(format!("did you mean `{name}`?")),
        None => fault,
    }
}

/// Asks one rule of one subject.
pub(super) fn ask(rule: &Arc<Rule>, subject: Subject, scope: &Scope<'_>) -> RuleResult {
    let values = SubjectValues { scope, subject: &subject, rule: &rule.id, sites: Sites::All };
    let (judgement, trail) = scope.recorded(|| rule.judge(&values));
    let told = matches!(judgement.outcome, Outcome::Fail | Outcome::Review | Outcome::Open(_));
    let marks = if told { place(rule, &values, scope.build()) } else { Vec::new() };
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
    RuleResult {
        rule: rule.clone(),
        subject,
        judgement,
        silenced_by: None,
        marks,
        worst_at,
        passes_at_home,
        defaults,
        missing,
        cures: Vec::new(),
        cure_left_out: false,
    }
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
    let sides = judgement.comparisons.iter().flat_map(|comparison| [&comparison.left, &comparison.right]);
    sides
        .filter_map(|side| match &side.value {
            Known::Is(Datum::Number(number)) | Known::Between(Datum::Number(number), _) => number.at.clone(),
            _ => None,
        })
        .next()
}

/// The marks of a result, the main one first.
fn place(rule: &Rule, values: &SubjectValues<'_, '_>, build: &Build) -> Vec<PlacedMark> {
    let mut marks: Vec<PlacedMark> = Vec::new();
    for place in &rule.places {
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

/// Silences results for a subject of which a rule that says more has failed.
fn silence(results: &mut [RuleResult]) {
    let mut silencers: BTreeMap<(Arc<str>, Route), Arc<str>> = BTreeMap::new();
    for result in results.iter().filter(|result| matches!(result.judgement.outcome, Outcome::Fail)) {
        for silenced in &result.rule.silences {
            silencers.insert((silenced.clone(), result.subject.route.clone()), result.rule.id.clone());
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

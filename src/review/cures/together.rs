//! Several numbers varied at once until all findings pass together, with the least change.

use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::number::Told;
use super::reach::Number;
use super::{Interval, Proof, Verdicts, upsets, verdicts};
use crate::build::Build;
use crate::build::files::Files;
use crate::facts::{Group, Scope, find as find_fact};
use crate::review::result::{RuleResult, Verdict};
use crate::review::run::{Reviewer, ask, results_of};
use crate::rules::{Level, Rule, Whose};
use crate::text::{
    Change, FileId, Measure, Node, Op, Quantity, Route, Step, Unit, find, read_quantity, scalar,
};
use crate::tract::{Subject, SubjectKind};

/// So many changed builds are reviewed at most.
pub const MOST_REVIEWS: usize = 400;
/// The most numbers that are varied at once.
pub const MOST_NUMBERS: usize = 3;
/// How near the least change is come to, as a share of each number.
const NEARNESS: f64 = 1e-3;
/// Halvings of a way between two tried builds.
const HALVINGS: usize = 12;
/// The step with which the least change is looked for at first, as a share of each number.
const FIRST_STEP: f64 = 0.08;
/// Shares that make a whole to this are said to make one.
const WHOLE: f64 = 0.005;

/// Why a number cannot be varied.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CannotVary {
    /// The field.
    pub route: Route,
    /// The reason, a clause.
    pub why: &'static str,
}

/// One number of a cure of several.
#[derive(Clone, Debug)]
pub struct Varied {
    /// The field.
    pub route: Route,
    /// Its measure.
    pub measure: Measure,
    /// The unit that it is told in.
    pub unit: &'static Unit,
    /// Its value now, in SI units.
    pub now: f64,
    /// Its value now as written.
    pub written: String,
    /// Its value then, in SI units.
    pub to: f64,
    /// That value as it would be written.
    pub told: String,
    /// What its change is measured by, in SI units.
    pub scale: f64,
}

/// A rule that finds its fault in changed builds.
#[derive(Clone, Debug)]
pub struct Puller {
    /// The rule.
    pub rule: Arc<Rule>,
    /// Of what.
    pub subject: Subject,
    /// Where one number is varied: the values that pass by this rule alone, as they would be written; no end where the
    /// usual range ends. None where that is not known.
    pub passes: Option<(Option<String>, Option<String>)>,
}

/// What a search over several numbers came to.
#[derive(Clone, Debug)]
pub enum Ending {
    /// There is no finding.
    NothingToCure,
    /// All findings pass together.
    Found {
        /// The numbers.
        numbers: Vec<Varied>,
        /// The change that makes them.
        change: Change,
        /// Sum of the squares of the relative changes.
        size: f64,
        /// What reviewing the changed build with all rules showed.
        proof: Proof,
    },
    /// Nothing that was tried passes. In each build that was tried at least one of these finds its fault: one rule that never
    /// passes, two that pull apart, or more.
    None(Vec<Puller>),
}

/// A search over several numbers.
#[derive(Clone, Debug)]
pub struct Together {
    /// What it came to.
    pub ending: Ending,
    /// The findings that are to pass.
    pub findings: Vec<RuleResult>,
    /// The numbers' usual ranges as they would be written, in the order given.
    pub usual: Vec<(Route, String, String)>,
    /// How many changed builds were reviewed.
    pub reviews: usize,
}

impl Reviewer<'_> {
    /// Looks for values of these fields, within their usual ranges, with which no rule that is asked finds anything, with the
    /// least sum of squared relative changes that is met: a coarse grid from the nearest point outward, the ways between
    /// points that different rules find fault with, then ever smaller steps from what passes towards the build as it is.
    ///
    /// # Errors
    /// A field that cannot be varied.
    pub fn together(
        &self,
        file: FileId,
        root: &Arc<Node>,
        files: &Files,
        routes: &[Route],
    ) -> Result<Together, CannotVary> {
        let build = self.read(file, root, files);
        let scope = Scope::new(&build);
        let numbers = routes.iter().map(|route| Knob::at(&build, route)).collect::<Result<Vec<_>, _>>()?;
        let before = self.results_of_all_rules(&scope);
        let asked: BTreeSet<&str> = self.rules().map(|rule| &*rule.id).collect();
        let own = |result: &&RuleResult| result.speaks() && asked.contains(&*result.rule.id);
        let findings: Vec<RuleResult> = before.iter().filter(own).cloned().collect();
        let usual = numbers.iter().map(Knob::usual_words).collect();
        let search = Search {
            reviewer: self,
            scope: &scope,
            files,
            before: verdicts(&before),
            numbers,
            tried: RefCell::default(),
            reviews: Cell::new(0),
        };
        let ending = if findings.is_empty() { Ending::NothingToCure } else { search.run(&findings) };
        Ok(Together { ending, findings, usual, reviews: search.reviews.get() })
    }
}

/// A number that is varied, with what has to give way to it.
struct Knob {
    number: Number,
    /// Where it is a share of a list whose shares make a whole: the other shares.
    others: Vec<(Route, Quantity, Told)>,
}

impl Knob {
    fn at(build: &Build, route: &Route) -> Result<Self, CannotVary> {
        let cannot = |why| CannotVary { route: route.clone(), why };
        if find(&build.root, route).is_none() {
            return Err(cannot("nothing is written there, so that there is nothing to change from"));
        }
        let number = Number::at(build, route).ok_or_else(|| cannot("it is no number with a usual range"))?;
        let others = others(build, route, &number).unwrap_or_default();
        Ok(Self { number, others })
    }

    fn now(&self) -> f64 {
        self.number.quantity.si
    }

    fn usual_words(&self) -> (Route, String, String) {
        let Number { route, usual, told, .. } = &self.number;
        (route.clone(), told.write(usual.low), told.write(usual.high))
    }

    fn edits(&self, si: f64, exact: bool) -> Vec<Op> {
        let write = |told: &Told, si: f64| if exact { told.exact(si) } else { told.write(si) };
        let mut ops = vec![Op::Set(self.number.route.clone(), scalar(&write(&self.number.told, si)))];
        let rest: f64 = self.others.iter().map(|(_, quantity, _)| quantity.si).sum();
        for (route, quantity, told) in &self.others {
            let part = if rest > 0.0 { quantity.si / rest } else { 1.0 / self.others.len() as f64 };
            ops.push(Op::Set(route.clone(), scalar(&write(told, (1.0 - si) * part))));
        }
        ops
    }

    /// The values of a coarse grid: the value now, steps away from it that grow, and the ends of the usual range.
    fn coarse(&self, of: usize) -> Vec<f64> {
        let Interval { low, high } = self.number.usual;
        let now = self.now();
        let steps: &[f64] = match of {
            1 => &[0.05, 0.1, 0.16, 0.22, 0.3, 0.4, 0.55, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 30.0],
            2 => &[0.11, 0.25, 0.42, 0.7, 1.2, 2.0, 5.0],
            _ => &[0.18, 0.45, 1.0, 3.0],
        };
        let mut values = vec![low, now, high];
        for step in steps {
            let up = now + step * self.number.scale();
            let down = if self.number.measure == Measure::Temperature || now == 0.0 {
                now - step * self.number.scale()
            } else {
                now / (1.0 + step)
            };
            values.extend([up, down].into_iter().filter(|value| (low..=high).contains(value)));
        }
        values.sort_by(f64::total_cmp);
        values.dedup();
        values
    }
}

/// The other shares of a list whose shares make a whole.
fn others(build: &Build, route: &Route, number: &Number) -> Option<Vec<(Route, Quantity, Told)>> {
    let [list @ .., Step::Index(own), Step::Key(key)] = route.steps() else { return None };
    let list: Route = list.iter().cloned().collect();
    let count = find(&build.root, &list)?.node.as_list()?.len();
    let beside = (0..count).filter(|at| at != own).map(|at| {
        let route = list.index(at).key(key);
        let quantity = read_quantity(find(&build.root, &route)?.node.as_text()?, number.measure).ok()?;
        let told = Told::like(quantity.unit, &quantity, number.measure);
        Some((route, quantity, told))
    });
    let others = beside.collect::<Option<Vec<_>>>()?;
    let whole = number.quantity.si + others.iter().map(|(_, quantity, _)| quantity.si).sum::<f64>();
    let is_share = number.usual.high <= 1.0 && number.quantity.unit.dim.is_one();
    (is_share && (whole - 1.0).abs() <= WHOLE).then_some(others)
}

/// A rule and its subject.
type Key = (Arc<str>, Route);
/// The rules that find their fault in a changed build.
type Failing = BTreeMap<Key, (Arc<Rule>, Subject)>;

struct Search<'a, 'c> {
    reviewer: &'a Reviewer<'c>,
    scope: &'a Scope<'a>,
    files: &'a Files,
    /// What all results are now.
    before: Verdicts,
    numbers: Vec<Knob>,
    /// The points that were tried, with what fails there.
    tried: RefCell<Vec<(Vec<f64>, Failing)>>,
    reviews: Cell<usize>,
}

impl Search<'_, '_> {
    fn run(&self, findings: &[RuleResult]) -> Ending {
        let passing = self.grid().or_else(|| self.between());
        let Some(point) = passing else { return Ending::None(self.pullers()) };
        let point = self.rounded(&self.nearer(point));
        let change = self.change(&point, false);
        let numbers = self.numbers.iter().zip(&point).map(|(knob, to)| varied(knob, *to)).collect();
        let Some(proof) = self.prove(&change, findings) else { return Ending::None(self.pullers()) };
        Ending::Found { numbers, size: self.size(&point), change, proof }
    }

    fn spent(&self) -> bool {
        self.reviews.get() >= MOST_REVIEWS
    }

    fn change(&self, point: &[f64], exact: bool) -> Change {
        Change(self.numbers.iter().zip(point).flat_map(|(knob, si)| knob.edits(*si, exact)).collect())
    }

    /// Sum of the squares of the relative changes.
    fn size(&self, point: &[f64]) -> f64 {
        let each = self.numbers.iter().zip(point);
        each.map(|(knob, to)| ((to - knob.now()) / knob.number.scale()).powi(2)).sum()
    }

    fn changed(&self, change: &Change) -> Option<Build> {
        self.reviews.set(self.reviews.get() + 1);
        let build = self.scope.build();
        let root = change.apply(&build.root).ok()?;
        let changed = self.reviewer.read(build.file, &root, self.files);
        (changed.faults.len() <= build.faults.len()).then_some(changed)
    }

    /// What fails at a point: first by the rules that need no run over time, then, where those are content, by all that are
    /// asked. What was decided before and would be open then counts as failing. Nothing where the text would have a fault.
    fn failing(&self, change: &Change) -> Option<Failing> {
        let build = self.changed(change)?;
        let scope = self.scope.fork(&build, change);
        let accepted = self.reviewer.terms().holding(&build);
        let among = |runs: bool| {
            let rules = self.reviewer.rules().filter(|rule| runs || !needs_run(rule));
            let results = results_of(rules, &scope, &accepted).into_iter();
            let fails = results.filter(|result| result.speaks() || self.opens(result));
            let named = fails.map(|result| (key_of(&result), (result.rule, result.subject)));
            named.collect::<Failing>()
        };
        let cheap = among(false);
        Some(if cheap.is_empty() { among(true) } else { cheap })
    }

    fn opens(&self, result: &RuleResult) -> bool {
        let before = self.before.get(&key_of(result)).map(|(verdict, _)| *verdict);
        result.verdict() == Verdict::Open && before.is_some_and(|before| before != Verdict::Open)
    }

    /// Tries a point; whether it passes. A point that cannot be read does not, and is not kept.
    fn passes(&self, point: &[f64]) -> bool {
        let known =
            self.tried.borrow().iter().find(|(other, _)| other == point).map(|(_, fails)| fails.is_empty());
        known.unwrap_or_else(|| {
            let Some(failing) = self.failing(&self.change(point, true)) else { return false };
            let passes = failing.is_empty();
            self.tried.borrow_mut().push((point.to_owned(), failing));
            passes
        })
    }

    /// The points of the grid from the nearest outward; the first that passes.
    fn grid(&self) -> Option<Vec<f64>> {
        let mut points: Vec<Vec<f64>> = vec![Vec::new()];
        for knob in &self.numbers {
            let values = knob.coarse(self.numbers.len());
            points = points
                .iter()
                .flat_map(|point| values.iter().map(|value| [point.as_slice(), &[*value]].concat()))
                .collect();
        }
        points.sort_by(|a, b| self.size(a).total_cmp(&self.size(b)));
        // A part of the reviews is kept for what lies between.
        let most = MOST_REVIEWS / 2;
        points.into_iter().take_while(|_| self.reviews.get() < most).find(|point| self.passes(point))
    }

    /// Between two points of which different rules are content, on a line with one number varied, some value may content both.
    fn between(&self) -> Option<Vec<f64>> {
        let tried = self.tried.borrow().clone();
        let mut pairs = Vec::new();
        for (at, _) in self.numbers.iter().enumerate() {
            for (point, failing) in &tried {
                let next = tried.iter().filter(|(other, _)| {
                    let mut others = other.iter().zip(point).enumerate().filter(|(i, _)| *i != at);
                    others.all(|(_, (a, b))| a == b) && other.get(at) > point.get(at)
                });
                let next = next.min_by(|a, b| {
                    a.0.get(at).partial_cmp(&b.0.get(at)).unwrap_or(std::cmp::Ordering::Equal)
                });
                if let Some((other, others)) = next.filter(|(_, others)| apart(failing, others)) {
                    pairs.push((point.clone(), failing.clone(), other.clone(), others.clone()));
                }
            }
        }
        pairs.sort_by(|a, b| self.size(&a.0).total_cmp(&self.size(&b.0)));
        pairs.into_iter().find_map(|(one, failing, other, others)| self.halve(one, failing, other, others))
    }

    fn halve(
        &self,
        mut one: Vec<f64>,
        mut a: Failing,
        mut other: Vec<f64>,
        mut b: Failing,
    ) -> Option<Vec<f64>> {
        for _ in 0..HALVINGS {
            if self.spent() || !apart(&a, &b) {
                return None;
            }
            let middle: Vec<f64> = one.iter().zip(&other).map(|(a, b)| 0.5 * (a + b)).collect();
            if self.passes(&middle) {
                return Some(middle);
            }
            let failing = self
                .tried
                .borrow()
                .last()
                .filter(|(point, _)| *point == middle)
                .map(|(_, fails)| fails.clone())?;
            if apart(&failing, &b) {
                (one, a) = (middle, failing);
            } else if apart(&a, &failing) {
                (other, b) = (middle, failing);
            } else {
                return None;
            }
        }
        None
    }

    /// From a point that passes towards the build as it is, each number alone and then all at once by ever smaller steps.
    fn nearer(&self, mut point: Vec<f64>) -> Vec<f64> {
        for at in 0..self.numbers.len() {
            point = self.pulled(point, at);
        }
        let mut step = FIRST_STEP;
        while step > NEARNESS && !self.spent() {
            let better =
                self.around(&point, step).into_iter().find(|other| !self.spent() && self.passes(other));
            match better {
                Some(other) => point = other,
                None => step *= 0.5,
            }
        }
        point
    }

    /// One number pulled back to where the point only just passes.
    fn pulled(&self, point: Vec<f64>, at: usize) -> Vec<f64> {
        let (Some(knob), Some(own)) = (self.numbers.get(at), point.get(at).copied()) else { return point };
        let with = |value: f64| {
            let mut other = point.clone();
            if let Some(place) = other.get_mut(at) {
                *place = value;
            }
            other
        };
        let (mut good, mut bad) = (own, knob.now());
        if self.passes(&with(bad)) {
            return with(bad);
        }
        while (good - bad).abs() > NEARNESS * knob.number.scale() && !self.spent() {
            let middle = 0.5 * (good + bad);
            if self.passes(&with(middle)) { good = middle } else { bad = middle }
        }
        with(good)
    }

    /// The points around one, a step away in some numbers, that are a lesser change; the least first.
    fn around(&self, point: &[f64], step: f64) -> Vec<Vec<f64>> {
        let mut around: Vec<Vec<f64>> = vec![Vec::new()];
        for (knob, value) in self.numbers.iter().zip(point) {
            let Interval { low, high } = knob.number.usual;
            let by = step * knob.number.scale();
            let steps = [value - by, *value, value + by];
            let within = steps.into_iter().filter(|value| (low..=high).contains(value));
            let within: Vec<f64> = within.collect();
            around = around
                .iter()
                .flat_map(|point| within.iter().map(|value| [point.as_slice(), &[*value]].concat()))
                .collect();
        }
        let size = self.size(point);
        around.retain(|other| self.size(other) < size * (1.0 - 1e-9));
        around.sort_by(|a, b| self.size(a).total_cmp(&self.size(b)));
        around
    }

    /// The nearest point of few digits that passes.
    fn rounded(&self, point: &[f64]) -> Vec<f64> {
        for digits in 2..=5 {
            let mut near: Vec<Vec<f64>> = vec![Vec::new()];
            for (knob, value) in self.numbers.iter().zip(point) {
                let both = both_sides(*value, knob.number.quantity.unit, digits);
                near = near
                    .iter()
                    .flat_map(|point| both.iter().map(|value| [point.as_slice(), &[*value]].concat()))
                    .collect();
            }
            near.sort_by(|a, b| self.size(a).total_cmp(&self.size(b)));
            if let Some(found) = near.into_iter().find(|other| self.passes(other)) {
                return found;
            }
        }
        point.to_vec()
    }

    /// Reviews a changed build with all rules. What becomes of the findings that were to pass is no upset.
    fn prove(&self, change: &Change, findings: &[RuleResult]) -> Option<Proof> {
        let build = self.changed(change)?;
        let after = self.reviewer.results_of_all_rules(&self.scope.fork(&build, change));
        let own: BTreeSet<Key> = findings.iter().map(key_of).collect();
        let after = verdicts(&after);
        let passes =
            own.iter().all(|key| after.get(key).is_none_or(|(verdict, _)| *verdict != Verdict::Fail));
        let mut upsets = upsets(&self.before, &after, None);
        upsets.retain(|upset| !own.contains(&(upset.rule.clone(), upset.subject.clone())));
        Some(Proof { passes, upsets })
    }

    /// The fewest rules of which one fails at each point that was tried.
    fn pullers(&self) -> Vec<Puller> {
        let tried = self.tried.borrow().clone();
        let all: Failing = tried.iter().flat_map(|(_, failing)| failing.clone()).collect();
        let count = |key: &Key| tried.iter().filter(|(_, failing)| failing.contains_key(key)).count();
        // The gravest first, then those that fail most often.
        let mut keys: Vec<(&Key, Level, usize)> =
            all.iter().map(|(key, (rule, _))| (key, rule.level, count(key))).collect();
        keys.sort_by(|a, b| b.1.cmp(&a.1).then(b.2.cmp(&a.2)).then(a.0.cmp(b.0)));
        let covers = |some: &[&Key]| {
            tried.iter().all(|(_, failing)| some.iter().any(|key| failing.contains_key(*key)))
        };
        let one = keys.iter().map(|(key, ..)| vec![*key]).find(|some| covers(some));
        let pair = || {
            let pairs = keys
                .iter()
                .enumerate()
                .flat_map(|(at, (a, ..))| keys.iter().skip(at + 1).map(move |(b, ..)| vec![*a, *b]));
            pairs.into_iter().find(|some| covers(some))
        };
        let named = one.or_else(pair).unwrap_or_else(|| keys.iter().map(|(key, ..)| *key).collect());
        let several = named.len() > 1;
        let named = named.into_iter().filter_map(|key| all.get(key));
        named
            .map(|(rule, subject)| Puller {
                rule: rule.clone(),
                subject: subject.clone(),
                passes: if several { self.passes_alone(rule, subject) } else { None },
            })
            .collect()
    }

    /// Where one number is varied: the values that a rule alone lets pass, where that is one side of the usual range.
    fn passes_alone(&self, rule: &Arc<Rule>, subject: &Subject) -> Option<(Option<String>, Option<String>)> {
        let [knob] = self.numbers.as_slice() else { return None };
        let fails = |si: f64| {
            let change = self.change(&[si], true);
            let build = self.changed(&change)?;
            let scope = self.scope.fork(&build, &change);
            Some(ask(rule, subject.clone(), &scope).judgement.outcome)
                .map(|outcome| Verdict::of(&outcome) == Verdict::Fail)
        };
        let Interval { low, high } = knob.number.usual;
        let low_fails = fails(low)?;
        if low_fails == fails(high)? {
            return None;
        }
        let (mut below, mut above) = (low, high);
        while above - below > NEARNESS * knob.number.scale() && !self.spent() {
            let middle = 0.5 * (below + above);
            if fails(middle)? == low_fails { below = middle } else { above = middle }
        }
        let unit = knob.number.quantity.unit;
        let [down, up] = both_sides(if low_fails { above } else { below }, unit, 2);
        let told = |si: f64| Some(knob.number.told.write(si));
        Some(if low_fails { (told(up), None) } else { (None, told(down)) })
    }
}

/// The values of so many digits behind the first on both sides of a value, in a unit.
fn both_sides(si: f64, unit: &'static Unit, digits: i32) -> [f64; 2] {
    let number = unit.from_si(si);
    if number == 0.0 {
        return [si, si];
    }
    // The place of the first digit of a finite number lies within ±400.
    let scale = 10_f64.powi(digits - number.abs().log10().floor() as i32);
    [(number * scale).floor(), (number * scale).ceil()].map(|whole| unit.to_si(whole / scale))
}

fn key_of(result: &RuleResult) -> Key {
    (result.rule.id.clone(), result.subject.route.clone())
}

/// Whether two builds fail by different rules only.
fn apart(one: &Failing, other: &Failing) -> bool {
    !one.is_empty() && !other.is_empty() && !one.keys().any(|key| other.contains_key(key))
}

/// Whether a rule reads a run over time.
fn needs_run(rule: &Rule) -> bool {
    rule.facts().iter().any(|(whose, name)| {
        let kind = if *whose == Whose::It { rule.for_each } else { SubjectKind::Build };
        find_fact(kind, name).is_some_and(|(row, _)| row.group == Group::TipOut)
    })
}

fn varied(knob: &Knob, to: f64) -> Varied {
    let Number { route, measure, quantity, told, .. } = &knob.number;
    Varied {
        route: route.clone(),
        measure: *measure,
        unit: quantity.unit,
        now: quantity.si,
        written: quantity.written.to_string(),
        to,
        told: told.write(to),
        scale: knob.number.scale(),
    }
}

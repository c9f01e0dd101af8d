//! Several numbers varied at once until all findings pass together, with the least change.

use std::cell::{Cell, RefCell};
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::bench::needs_run;
use super::number::Told;
use super::reach::Number;
use super::{Interval, Proof, Verdicts, upsets, verdicts};
use crate::build::Build;
use crate::build::files::Files;
use crate::facts::Scope;
use crate::known::{Datum, Known};
use crate::review::result::{RuleResult, Verdict};
use crate::review::run::{Reviewer, ask, results_of};
use crate::rules::{Level, Rule};
use crate::text::{
    Change, FileId, Measure, Node, Op, Quantity, Route, Step, Unit, find, read_quantity, scalar,
};
use crate::tract::Subject;

/// So many changed builds are reviewed at most.
pub const MOST_REVIEWS: usize = 400;
/// Of these the coarse grid gets so many,
const FOR_GRID: usize = 230;
/// the ways between points of the grid what is left up to so many,
const FOR_BETWEEN: usize = 280;
/// the way down from where least is lacking what is left up to so many,
const FOR_DOWN: usize = 330;
/// and the least change what is left up to so many; the rest is for few digits and for the proof.
const FOR_NEAREST: usize = 360;
/// So many points of the grid the way down starts from.
const STARTS: usize = 3;
/// First and last step of the way down, as a share of each number.
const DOWN_STEPS: (f64, f64) = (0.3, 0.01);
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
    /// Nothing that was tried passes.
    None {
        /// In each build that was tried at least one of these finds its fault: one rule that never passes, two that pull
        /// apart, or more.
        pullers: Vec<Puller>,
        /// Whether the coarse grid over the usual ranges was gone over to its end.
        whole: bool,
    },
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
    /// Whether the search for the least change ended because the reviews for it were spent.
    pub spent: bool,
}

impl Reviewer<'_> {
    /// Looks for values of these fields, within their usual ranges, with which no rule that is asked finds anything, with the
    /// least sum of squared relative changes that is met: a coarse grid from the nearest point outward, the ways between
    /// points that different rules find fault with, steps down from where least is lacking, then ever smaller steps from what
    /// passes towards the build as it is.
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
            whole: Cell::new(false),
            spent: Cell::new(false),
        };
        let ending = if findings.is_empty() { Ending::NothingToCure } else { search.run(&findings) };
        let (reviews, spent) = (search.reviews.get(), search.spent.get());
        Ok(Together { ending, findings, usual, reviews, spent })
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
            2 => &[0.11, 0.25, 0.45, 0.9, 2.0, 5.0],
            _ => &[0.25, 0.9, 3.0],
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
    /// The points that were tried.
    tried: RefCell<Vec<Tried>>,
    reviews: Cell<usize>,
    /// Whether the grid was gone over to its end.
    whole: Cell<bool>,
    /// Whether the search for the least change ran out of reviews.
    spent: Cell<bool>,
}

/// What was found at a point.
#[derive(Clone)]
struct Tried {
    point: Vec<f64>,
    failing: Failing,
    /// How much is lacking, as shares of what is compared; of a rule that compares no numbers, the whole.
    lacking: f64,
    /// Whether all rules were asked, and not those alone that need no run.
    all: bool,
}

impl Search<'_, '_> {
    fn run(&self, findings: &[RuleResult]) -> Ending {
        let passing = self.grid().or_else(|| self.between()).or_else(|| self.down());
        let none = || Ending::None { pullers: self.pullers(), whole: self.whole.get() };
        let Some(point) = passing else { return none() };
        let point = self.rounded(&self.nearer(point));
        let change = self.change(&point, false);
        let numbers = self.numbers.iter().zip(&point).map(|(knob, to)| varied(knob, *to)).collect();
        let Some(proof) = self.prove(&change, findings) else { return none() };
        Ending::Found { numbers, size: self.size(&point), change, proof }
    }

    /// Whether the reviews for the least change are spent; remembered once they are.
    fn runs_out(&self) -> bool {
        let out = self.reviews.get() >= FOR_NEAREST;
        self.spent.set(self.spent.get() || out);
        out
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

    /// What is found at a point: first by the rules that need no run over time, then, where those are content or all is wanted,
    /// by all that are asked. What was decided before and would be open then counts as failing. Nothing where the text would
    /// have a fault.
    fn look(&self, point: &[f64], all: bool) -> Option<Tried> {
        let change = self.change(point, true);
        let build = self.changed(&change)?;
        let scope = self.scope.fork(&build, &change);
        let accepted = self.reviewer.terms().holding(&build);
        let among = |all: bool| {
            let rules = self.reviewer.rules().filter(|rule| all || !needs_run(rule));
            let mut found = Tried { point: point.to_owned(), failing: Failing::new(), lacking: 0.0, all };
            for result in results_of(rules, &scope, &accepted) {
                if result.speaks() || self.opens(&result) {
                    found.lacking += lacking(&result);
                    found.failing.insert(key_of(&result), (result.rule, result.subject));
                }
            }
            found
        };
        let cheap = among(false);
        Some(if all || cheap.failing.is_empty() { among(true) } else { cheap })
    }

    fn opens(&self, result: &RuleResult) -> bool {
        let before = self.before.get(&key_of(result)).map(|(verdict, _)| *verdict);
        result.verdict() == Verdict::Open && before.is_some_and(|before| before != Verdict::Open)
    }

    /// Tries a point, once. One that cannot be read is not kept.
    fn try_at(&self, point: &[f64], all: bool) -> Option<Tried> {
        let enough = |other: &&Tried| other.point == point && (other.all || !all);
        let known = self.tried.borrow().iter().find(enough).cloned();
        known.or_else(|| {
            let found = self.look(point, all)?;
            let mut tried = self.tried.borrow_mut();
            tried.retain(|other| other.point != point);
            tried.push(found.clone());
            Some(found)
        })
    }

    fn passes(&self, point: &[f64]) -> bool {
        self.try_at(point, false).is_some_and(|found| found.failing.is_empty())
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
        let count = points.len();
        let within = points.into_iter().take_while(|_| self.reviews.get() < FOR_GRID);
        let found = within.into_iter().find(|point| self.passes(point));
        self.whole.set(found.is_none() && count <= self.reviews.get());
        found
    }

    /// Between two points with which different rules are content, on a line with one number varied, some value may content
    /// both.
    fn between(&self) -> Option<Vec<f64>> {
        let tried = self.tried.borrow().clone();
        let mut pairs = Vec::new();
        for at in 0..self.numbers.len() {
            for one in &tried {
                let beside = tried.iter().filter(|other| is_beyond(&other.point, &one.point, at));
                let next = beside.min_by(|a, b| order(a.point.get(at), b.point.get(at)));
                if let Some(next) = next.filter(|next| apart(&one.failing, &next.failing)) {
                    pairs.push((one.clone(), next.clone()));
                }
            }
        }
        pairs.sort_by(|a, b| self.size(&a.0.point).total_cmp(&self.size(&b.0.point)));
        pairs.into_iter().find_map(|(one, other)| self.halve(one, other))
    }

    fn halve(&self, mut one: Tried, mut other: Tried) -> Option<Vec<f64>> {
        for _ in 0..HALVINGS {
            if self.reviews.get() >= FOR_BETWEEN {
                return None;
            }
            let middle: Vec<f64> = one.point.iter().zip(&other.point).map(|(a, b)| 0.5 * (a + b)).collect();
            let found = self.try_at(&middle, false)?;
            if found.failing.is_empty() {
                return Some(middle);
            }
            if apart(&found.failing, &other.failing) {
                one = found;
            } else if apart(&one.failing, &found.failing) {
                other = found;
            } else {
                return None;
            }
        }
        None
    }

    /// From the points where least is lacking, by steps after which less is.
    fn down(&self) -> Option<Vec<f64>> {
        if self.numbers.len() == 1 && self.whole.get() {
            // The grid and what lies between its points have told it already.
            return None;
        }
        let mut starts = self.tried.borrow().clone();
        starts.sort_by(|a, b| a.lacking.total_cmp(&b.lacking));
        starts.truncate(STARTS);
        starts.into_iter().find_map(|start| {
            let mut here = self.try_at(&start.point, true)?;
            let (mut step, last) = DOWN_STEPS;
            while step > last && self.reviews.get() < FOR_DOWN {
                if here.failing.is_empty() {
                    return Some(here.point);
                }
                let around = self.beside(&here.point, step).into_iter();
                let within = around.take_while(|_| self.reviews.get() < FOR_DOWN);
                let better = within.filter_map(|point| self.try_at(&point, true));
                match better
                    .min_by(|a, b| a.lacking.total_cmp(&b.lacking))
                    .filter(|one| one.lacking < here.lacking)
                {
                    Some(one) => here = one,
                    None => step *= 0.5,
                }
            }
            here.failing.is_empty().then_some(here.point)
        })
    }

    /// The points a step away from one, in one number or in several at once, within the usual ranges.
    fn beside(&self, point: &[f64], step: f64) -> Vec<Vec<f64>> {
        let mut beside: Vec<Vec<f64>> = vec![Vec::new()];
        for (knob, value) in self.numbers.iter().zip(point) {
            let Interval { low, high } = knob.number.usual;
            let by = step * knob.number.scale();
            let steps = [value - by, *value, value + by];
            let within: Vec<f64> = steps.into_iter().filter(|value| (low..=high).contains(value)).collect();
            beside = beside
                .iter()
                .flat_map(|point| within.iter().map(|value| [point.as_slice(), &[*value]].concat()))
                .collect();
        }
        beside.retain(|other| other != point);
        beside
    }

    /// From a point that passes towards the build as it is, each number alone and then all at once by ever smaller steps.
    fn nearer(&self, mut point: Vec<f64>) -> Vec<f64> {
        for at in 0..self.numbers.len() {
            point = self.pulled(point, at);
        }
        let mut step = FIRST_STEP;
        while step > NEARNESS && !self.runs_out() {
            let better =
                self.around(&point, step).into_iter().find(|other| !self.runs_out() && self.passes(other));
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
        while (good - bad).abs() > NEARNESS * knob.number.scale() && !self.runs_out() {
            let middle = 0.5 * (good + bad);
            if self.passes(&with(middle)) { good = middle } else { bad = middle }
        }
        with(good)
    }

    /// The points a step away from one that are a lesser change; the least first.
    fn around(&self, point: &[f64], step: f64) -> Vec<Vec<f64>> {
        let size = self.size(point);
        let mut around = self.beside(point, step);
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
        let all: Failing = tried.iter().flat_map(|one| one.failing.clone()).collect();
        let count = |key: &Key| tried.iter().filter(|one| one.failing.contains_key(key)).count();
        // The gravest first, then those that fail most often.
        let mut keys: Vec<(&Key, Level, usize)> =
            all.iter().map(|(key, (rule, _))| (key, rule.level, count(key))).collect();
        keys.sort_by(|a, b| b.1.cmp(&a.1).then(b.2.cmp(&a.2)).then(a.0.cmp(b.0)));
        let covers =
            |some: &[&Key]| tried.iter().all(|one| some.iter().any(|key| one.failing.contains_key(*key)));
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
        while above - below > NEARNESS * knob.number.scale() && self.reviews.get() < MOST_REVIEWS {
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

/// Whether a point lies above another in one number, and has its others.
fn is_beyond(point: &[f64], other: &[f64], at: usize) -> bool {
    let mut pairs = point.iter().zip(other).enumerate();
    pairs.all(|(i, (a, b))| if i == at { a > b } else { a == b })
}

fn order(a: Option<&f64>, b: Option<&f64>) -> Ordering {
    a.partial_cmp(&b).unwrap_or(Ordering::Equal)
}

/// How much a result lacks of passing, as a share of the larger side of what it compares.
fn lacking(result: &RuleResult) -> f64 {
    let [only] = result.judgement.comparisons.as_slice() else { return 1.0 };
    let size = |side: &Known<Datum>| match side {
        Known::Is(Datum::Number(number)) => number.v.abs(),
        _ => 0.0,
    };
    match only.margin() {
        Known::Is(margin) => {
            margin.v.abs() / size(&only.left.value).max(size(&only.right.value)).max(f64::MIN_POSITIVE)
        }
        _ => 1.0,
    }
}

/// Whether two builds fail by different rules only.
fn apart(one: &Failing, other: &Failing) -> bool {
    !one.is_empty() && !other.is_empty() && !one.keys().any(|key| other.contains_key(key))
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

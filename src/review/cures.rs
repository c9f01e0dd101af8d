//! Cures: the field that a rule names is varied over its usual range, the range that passes is bracketed, and the nearest
//! value in it is proved by reviewing the changed build with all rules.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::result::{RuleResult, Verdict};
use super::run::{Reviewer, ask};
use super::values::SubjectValues;
use crate::build::Build;
use crate::build::files::Files;
use crate::facts::{Scope, Sites};
use crate::known::{Known, Num};
use crate::rules::{Cure, Judgement, Outcome, Template};
use crate::text::{Change, Measure, Op, Route, Unit, find, read_quantity};

/// A range of values, in SI units, that passes; it may be one value wide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lowest value.
    pub low: f64,
    /// Highest value.
    pub high: f64,
}

/// What a change would do to another result.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Upset {
    /// The rule.
    pub rule: Arc<str>,
    /// The subject.
    pub subject: Route,
    /// What it came to before; `None` when it is new.
    pub before: Option<Verdict>,
    /// What it comes to then; `None` when it is gone.
    pub after: Option<Verdict>,
}

/// What reviewing the changed build showed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proof {
    /// Whether the finding is gone.
    pub passes: bool,
    /// Everything else that changes.
    pub upsets: Vec<Upset>,
}

/// A cure that was found.
#[derive(Clone, Debug)]
pub struct FoundCure {
    /// The field.
    pub route: Route,
    /// Its dimension's measure.
    pub measure: Measure,
    /// The unit that the value is told in.
    pub unit: &'static Unit,
    /// The value now, if it is given.
    pub now: Option<f64>,
    /// The nearest value that passes, rounded to the safe side.
    pub to: f64,
    /// That value as it would be written.
    pub written: String,
    /// All ranges that pass within the usual range.
    pub passing: Vec<Interval>,
    /// In words.
    pub says: String,
    /// What reviewing the changed build showed.
    pub proof: Proof,
}

/// Results by rule and subject, for comparing.
pub type Verdicts = BTreeMap<(Arc<str>, Route), (Verdict, &'static str)>;

/// What every result counts as, by rule and subject.
pub fn verdicts(results: &[RuleResult]) -> Verdicts {
    results
        .iter()
        .map(|result| {
            ((result.rule.id.clone(), result.subject.route.clone()), (result.verdict(), result.level_word()))
        })
        .collect()
}

/// How many values are tried over the usual range before edges are looked for.
const SAMPLES: usize = 24;

/// Searches all cures that the rule of a finding names.
pub fn search(
    reviewer: &Reviewer<'_>,
    build: &Build,
    files: &Files,
    result: &RuleResult,
    before: &Verdicts,
) -> Vec<FoundCure> {
    let rule = result.rule.clone();
    let found = rule.cures.iter().filter_map(|cure| match cure {
        Cure::Vary { route, says } => {
            let scope = Scope::new(build);
            let values =
                SubjectValues { scope: &scope, subject: &result.subject, rule: &rule.id, sites: Sites::All };
            let route = route.resolve(&result.subject.route, |whose, link| values.follow(whose, link));
            let search = Vary { reviewer, build, files, result, route: route.exact()?.clone() };
            search.run(says, before, &values)
        }
        Cure::Set { .. } | Cure::Cap { .. } => None,
    });
    found.collect()
}

/// One search over one number.
struct Vary<'a, 'c> {
    reviewer: &'a Reviewer<'c>,
    build: &'a Build,
    files: &'a Files,
    result: &'a RuleResult,
    route: Route,
}

/// One value tried: whether it passes, and by how much where that is a number.
#[derive(Clone, Copy)]
struct Trial {
    x: f64,
    passes: bool,
    margin: Option<f64>,
}

impl Vary<'_, '_> {
    fn run(&self, says: &Template, before: &Verdicts, values: &SubjectValues<'_, '_>) -> Option<FoundCure> {
        let shape = self.build.shape(&self.route)?;
        let measure = shape.measure?;
        let (low, high) = shape.usual?;
        let (low, high) = (read_quantity(low, measure).ok()?, read_quantity(high, measure).ok()?);
        let written = find(&self.build.root, &self.route)
            .and_then(|found| found.node.as_text().map(str::to_owned))
            .and_then(|text| read_quantity(&text, measure).ok());
        let told_in = written.as_ref().map_or(low.unit, |quantity| quantity.unit);
        let now = written.as_ref().map(|quantity| quantity.si);
        let suffix = match low.reference {
            crate::text::Reference::Gauge => " gauge",
            crate::text::Reference::Absolute => " abs",
            _ => "",
        };
        let told = Told { unit: told_in, suffix, measure };
        let passing = self.passing(low.si, high.si, now, &told);
        let nearest = nearest_interval(&passing, now.unwrap_or(0.5 * (low.si + high.si)))?;
        let to = told.round_into(nearest, now)?;
        let text = told.write(to);
        let proof = self.prove(&text, before)?;
        let dim = measure.dim();
        let by = Num::new(to - now.unwrap_or(0.0), dim);
        let says = self.result.rule.say_cure(says, values, &by, &Num::new(to, dim));
        Some(FoundCure {
            route: self.route.clone(),
            measure,
            unit: told_in,
            now,
            to,
            written: text,
            passing,
            says,
            proof,
        })
    }

    fn changed(&self, text: &str) -> Option<Build> {
        let change = Change(vec![Op::Set(self.route.clone(), crate::text::change::scalar(text))]);
        let root = change.apply(&self.build.root).ok()?;
        Some(Build::read(self.build.file, &root, self.files))
    }

    fn judge(&self, text: &str) -> Option<Judgement> {
        let build = self.changed(text)?;
        let scope = Scope::new(&build);
        let subjects = scope.tract().subjects(self.result.rule.for_each);
        let subject = subjects.into_iter().find(|subject| *subject == self.result.subject)?;
        Some(ask(&self.result.rule, subject, &scope).judgement)
    }

    fn trial(&self, x: f64, told: &Told) -> Trial {
        let judgement = self.judge(&told.exact(x));
        let passes = judgement.as_ref().is_some_and(|j| matches!(j.outcome, Outcome::Pass));
        let decided = judgement.filter(|j| matches!(j.outcome, Outcome::Pass | Outcome::Fail));
        let margin = decided.and_then(|j| match j.comparisons.as_slice() {
            [only] => match only.margin() {
                Known::Is(margin) => Some(margin.v),
                _ => None,
            },
            _ => None,
        });
        Trial { x, passes, margin }
    }

    /// All passing ranges: samples over the usual range, then each edge between a passing and a failing neighbour.
    fn passing(&self, low: f64, high: f64, now: Option<f64>, told: &Told) -> Vec<Interval> {
        let step = (high - low) / SAMPLES as f64;
        let mut at: Vec<f64> = (0..=SAMPLES).map(|i| low + step * i as f64).collect();
        at.extend(now);
        at.sort_by(f64::total_cmp);
        at.dedup();
        let trials: Vec<Trial> = at.into_iter().map(|x| self.trial(x, told)).collect();
        let mut passing: Vec<Interval> = Vec::new();
        let mut open: Option<f64> = None;
        for pair in trials.windows(2) {
            let &[a, b] = pair else { continue };
            match (a.passes, b.passes) {
                (true, true) => open = open.or(Some(a.x)),
                (true, false) => {
                    let edge = self.edge(a, b, told);
                    passing.push(Interval { low: open.take().unwrap_or(a.x), high: edge });
                }
                (false, true) => open = Some(self.edge(b, a, told)),
                (false, false) => {}
            }
        }
        if let (Some(low), Some(last)) = (open, trials.last()) {
            passing.push(Interval { low, high: last.x });
        }
        passing
    }

    /// The value nearest to `fails` that still passes: by the margin where it is a number on both sides, else by
    /// halving.
    fn edge(&self, passes: Trial, fails: Trial, told: &Told) -> f64 {
        let tolerance = 1e-9 * passes.x.abs().max(fails.x.abs());
        let (mut good, mut bad) = (passes, fails);
        for _ in 0..60 {
            if (good.x - bad.x).abs() <= tolerance {
                break;
            }
            let middle = 0.5 * (good.x + bad.x);
            let secant = match (good.margin, bad.margin) {
                (Some(g), Some(b)) if g > b => good.x + (bad.x - good.x) * g / (g - b),
                _ => middle,
            };
            // A secant step that hugs one end is stretched a little past the root, so that both ends close in.
            let width = bad.x - good.x;
            let share = ((secant - good.x) / width).clamp(1e-3, 1.0 - 1e-3);
            for x in [good.x + width * share, good.x + width * (share + 1e-4).min(0.999_9)] {
                if (x - good.x) * (x - bad.x) >= 0.0 {
                    continue;
                }
                let trial = self.trial(x, told);
                if trial.passes { good = trial } else { bad = trial }
            }
            if (good.x - bad.x).abs() > 0.5 * width.abs() {
                let trial = self.trial(0.5 * (good.x + bad.x), told);
                if trial.passes { good = trial } else { bad = trial }
            }
        }
        good.x
    }

    fn prove(&self, text: &str, before: &Verdicts) -> Option<Proof> {
        let build = self.changed(text)?;
        let after = verdicts(&self.reviewer.results(&build));
        let own = (self.result.rule.id.clone(), self.result.subject.route.clone());
        let passes = after.get(&own).is_some_and(|(verdict, _)| *verdict == Verdict::Pass);
        let keys = before.keys().chain(after.keys().filter(|key| !before.contains_key(*key)));
        let upsets = keys
            .filter(|key| **key != own && before.get(*key) != after.get(*key))
            .map(|key| Upset {
                rule: key.0.clone(),
                subject: key.1.clone(),
                before: before.get(key).map(|(verdict, _)| *verdict),
                after: after.get(key).map(|(verdict, _)| *verdict),
            })
            .collect();
        Some(Proof { passes, upsets })
    }
}

/// How a value is written: unit, reference.
struct Told {
    unit: &'static Unit,
    suffix: &'static str,
    measure: Measure,
}

impl Told {
    /// The value in full, for searching.
    fn exact(&self, si: f64) -> String {
        format!("{:?} {}{}", self.unit.from_si(si), self.unit.symbol, self.suffix)
    }

    /// The value as a person would write it.
    fn write(&self, si: f64) -> String {
        let number = self.unit.from_si(si);
        let rounded = format!("{number:.6}");
        let short = rounded.trim_end_matches('0').trim_end_matches('.');
        let text = format!("{short} {}{}", self.unit.symbol, self.suffix);
        if self.measure.takes_bare_number() && self.unit.symbol == "1" { short.to_owned() } else { text }
    }

    /// The value of an interval nearest to `now`, rounded to three significant digits into the interval.
    fn round_into(&self, interval: Interval, now: Option<f64>) -> Option<f64> {
        let upwards = now.is_none_or(|now| now <= interval.low);
        let edge = if upwards { interval.low } else { interval.high };
        let number = self.unit.from_si(edge);
        let (low, high) = (self.unit.from_si(interval.low), self.unit.from_si(interval.high));
        let (low, high) = (low.min(high), low.max(high));
        if number == 0.0 {
            return Some(edge);
        }
        let rising = (self.unit.from_si(interval.high) >= self.unit.from_si(interval.low)) == upwards;
        for digits in 2..=9 {
            let scale = 10_f64.powi(digits - number.abs().log10().floor() as i32);
            let scaled = number * scale;
            let rounded = if rising { scaled.ceil() } else { scaled.floor() } / scale;
            if rounded >= low && rounded <= high {
                return Some(self.unit.to_si(rounded));
            }
        }
        Some(edge)
    }
}

fn nearest_interval(passing: &[Interval], now: f64) -> Option<Interval> {
    let distance = |interval: &Interval| (interval.low - now).max(now - interval.high).max(0.0);
    passing.iter().copied().min_by(|a, b| distance(a).total_cmp(&distance(b)))
}

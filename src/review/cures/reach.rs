//! How far single numbers of the description may go before a rule's answer turns.

use super::bench::Bench;
use super::number::{Line, Told, Tried, round_into};
use super::{Interval, Verdicts};
use crate::build::Build;
use crate::build::files::Files;
use crate::facts::{Scope, Sites, Trail};
use crate::known::Read;
use crate::review::result::RuleResult;
use crate::review::run::Reviewer;
use crate::review::values::SubjectValues;
use crate::text::{Change, Measure, Quantity, Route, Unit, find, read_quantity, scalar};

/// So many numbers are followed to where the answer turns, those first that by their first step need the shortest way.
const MOST: usize = 5;
/// The first step, as a share of the number.
const STEP: f64 = 0.01;
/// What moves the margin by less than this share of it does not move it.
const STILL: f64 = 1e-9;

/// How far a number may go, all else as it is, until the answer turns.
#[derive(Clone, Debug)]
pub struct Reach {
    /// The field.
    pub route: Route,
    /// Its measure.
    pub measure: Measure,
    /// The unit it is written in.
    pub unit: &'static Unit,
    /// Its value now, in SI units.
    pub now: f64,
    /// Its value as written.
    pub written: String,
    /// The value that passes next to where the answer turns, rounded to the passing side, in SI units.
    pub to: f64,
    /// That value as it would be written.
    pub told: String,
}

/// The numbers that turn the answer soonest.
#[derive(Clone, Debug, Default)]
pub struct Reaches {
    /// The numbers, the shortest way first.
    pub nearest: Vec<Reach>,
    /// How many numbers move the margin at all.
    pub moving: usize,
    /// How many changed builds were asked.
    pub tried: usize,
}

/// A number of the description that may be varied over its usual range.
pub(super) struct Number {
    pub(super) route: Route,
    pub(super) measure: Measure,
    pub(super) quantity: Quantity,
    pub(super) usual: Interval,
    pub(super) told: Told,
}

impl Number {
    /// The number at a route: nothing where none is written, or where its field has no usual range.
    pub(super) fn at(build: &Build, route: &Route) -> Option<Self> {
        let shape = build.shape(route)?;
        let measure = shape.measure?;
        let (low, high) = shape.usual?;
        let (low, high) = (read_quantity(low, measure).ok()?, read_quantity(high, measure).ok()?);
        let quantity = read_quantity(find(&build.root, route)?.node.as_text()?, measure).ok()?;
        let told = Told::like(quantity.unit, &quantity, measure);
        let usual = Interval { low: low.si, high: high.si };
        Some(Self { route: route.clone(), measure, quantity, usual, told })
    }

    /// The change that puts a value in its place, written in full.
    pub(super) fn put(&self, si: f64) -> Change {
        Change::set(self.route.clone(), scalar(&self.told.exact(si)))
    }

    /// What a change of it is measured by: itself; where it is nought, and for a temperature, the width of its usual range.
    pub(super) fn scale(&self) -> f64 {
        let own = self.quantity.si.abs();
        if own == 0.0 || self.measure == Measure::Temperature {
            self.usual.high - self.usual.low
        } else {
            own
        }
    }
}

/// The numbers that were looked at on a trail, entries of tables each for itself.
fn numbers(build: &Build, trail: &Trail) -> Vec<Number> {
    let mut routes = Vec::new();
    for read in trail.all() {
        let Read::Field(route) = read else { continue };
        match find(&build.root, route).and_then(|found| found.node.as_map()) {
            Some(table) => routes.extend(table.iter().map(|entry| route.key(&entry.key.text))),
            None => routes.push(route.clone()),
        }
    }
    routes.sort();
    routes.dedup();
    routes.iter().filter_map(|route| Number::at(build, route)).collect()
}

/// Looks for the numbers on a trail that turn the answer of a result soonest, each alone and within its usual range. There
/// are none where the answer is not that of one comparison of numbers.
pub fn reaches(
    reviewer: &Reviewer<'_>,
    scope: &Scope<'_>,
    files: &Files,
    result: &RuleResult,
    trail: &Trail,
) -> Reaches {
    let values = SubjectValues::new(scope, &result.subject, &result.rule.id, Sites::All);
    let before = Verdicts::new();
    let build = scope.build();
    let bench = Bench::new(reviewer, files, result, &before, &values);
    let here = bench.trial(&Change::default());
    bench.tried.set(0);
    let Some(margin) = here.margin else { return Reaches::default() };
    let trial = |number: &Number, si: f64| Tried { x: si, trial: bench.trial(&number.put(si)) };
    let mut moving: Vec<(f64, f64, Number)> = Vec::new();
    for number in numbers(build, trail) {
        let now = number.quantity.si;
        let up = STEP * number.scale();
        let step = if now + up <= number.usual.high { up } else { -up };
        let Some(moved) = trial(&number, now + step).trial.margin else { continue };
        if (moved - margin).abs() > STILL * margin.abs().max(f64::MIN_POSITIVE) {
            let way = -margin * step / (moved - margin);
            moving.push(((way / number.scale()).abs(), way, number));
        }
    }
    moving.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.2.route.cmp(&b.2.route)));
    let mut found = Reaches { moving: moving.len(), ..Reaches::default() };
    for (_, way, number) in &moving {
        let now = number.quantity.si;
        let end = if *way > 0.0 { number.usual.high } else { number.usual.low };
        if found.nearest.len() == MOST || (end - now) * way <= 0.0 {
            continue;
        }
        let there = trial(number, end);
        if there.trial.passes == here.passes {
            continue;
        }
        let here = Tried { x: now, trial: here };
        let (passes, fails) = if here.trial.passes { (here, there) } else { (there, here) };
        let put = |si: f64| number.put(si);
        let edge =
            Line { bench: &bench, range: number.usual, now: Some(now), change: &put }.edge(passes, fails);
        let into = Interval { low: edge.min(passes.x), high: edge.max(passes.x) };
        let to = round_into(into, edge <= passes.x, number.quantity.unit);
        found.nearest.push(Reach {
            route: number.route.clone(),
            measure: number.measure,
            unit: number.quantity.unit,
            now,
            written: number.quantity.written.to_string(),
            to,
            told: number.told.write(to),
        });
    }
    found.nearest.sort_by(|a, b| a.share().abs().total_cmp(&b.share().abs()));
    Reaches { tried: bench.tried.get(), ..found }
}

impl Reach {
    /// How far it goes, as a share of its value now; none where that says nothing, as of a temperature.
    pub fn share(&self) -> f64 {
        (self.to - self.now) / self.now.abs().max(f64::MIN_POSITIVE)
    }
}

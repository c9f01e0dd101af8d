//! Promise: a cure's ranges of values end where they are said to end: a value one step inside passes, one a step outside
//! does not.
//!
//! For every finding with a cure over a number, of every example and of builds that are changed at random (always the same, by a
//! generator with a fixed seed), each end that is not an end of the field's usual range is tried on both sides, 1e-6 of its value away. Of
//! rules that read a tip-out run, whose ends are looked for more coarsely, those of the examples are tried 0.3 % away.

mod common;

use std::sync::Arc;

use common::{BUILD_FILE, Example, loaded, yaml_names};
use rayon::prelude::*;
use tractwright::build::Build;
use tractwright::facts::{Group, find as find_fact};
use tractwright::review::{FoundCure, FoundNumber, Options, Reviewer, RuleResult, Verdict};
use tractwright::rules::{Catalogue, Rule, Whose, embedded_files};
use tractwright::text::{Change, Node, Op, Route, Value, find, read_quantity, scalar};
use tractwright::tract::SubjectKind;

/// How far from an end the tried values lie, as a share of it.
const STEP: f64 = 1e-6;
/// The same where each value costs runs over time.
const STEP_OF_RUNS: f64 = 3e-3;
/// So many builds changed at random are asked of each example.
const CHANGED: usize = 7;
/// At least so many of them have findings, and so many ends are tried.
const LEAST_BUILDS: usize = 60;
const LEAST_ENDS: usize = 120;

/// Whether a rule reads a run over time.
fn reads_run(rule: &Rule) -> bool {
    rule.facts().iter().any(|(whose, name)| {
        let kind = if *whose == Whose::It { rule.for_each } else { SubjectKind::Build };
        find_fact(kind, name).is_some_and(|(row, _)| row.group == Group::TipOut)
    })
}

/// The rules of the program without those that read a tip-out run.
fn catalogue() -> Catalogue {
    let whole = common::catalogue();
    let reads_run =
        |path: &str| whole.rules().iter().any(|rule| &*rule.origin.path == path && reads_run(rule));
    loaded(embedded_files().map(|(path, text)| {
        let text =
            if reads_run(&path) { text.replace("status: in-force", "status: withdrawn") } else { text };
        (path, text)
    }))
}

/// A generator of numbers that are the same in each run (splitmix64; Steele, Lea and Flood, OOPSLA 2014, from memory).
struct Seeded(u64);

impl Seeded {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// From 0 to below 1.
    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn one_of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[(self.next() % all.len() as u64) as usize]
    }
}

/// A number of a build with a usual range: its route, the range in SI units, and the unit that it is written in.
struct Number {
    route: Route,
    low: f64,
    high: f64,
    unit: String,
}

impl Number {
    fn at(build: &Build, route: &Route) -> Option<Self> {
        let shape = build.shape(route)?;
        let (measure, (low, high)) = (shape.measure?, shape.usual?);
        let text = find(&build.root, route)?.node.as_text()?;
        read_quantity(text, measure).ok()?;
        let si = |text: &str| read_quantity(text, measure).ok().map(|quantity| quantity.si);
        // What stands behind the number: unit, and what a pressure is counted from.
        let end = text.find(|c: char| !c.is_ascii_digit() && c != '.' && c != '-').unwrap_or(text.len());
        let unit = text[end..].split("+/-").next().unwrap_or_default().trim().to_owned();
        Some(Self { route: route.clone(), low: si(low)?, high: si(high)?, unit })
    }

    /// The number some 10 % to 60 % smaller or larger, within its usual range.
    fn moved(&self, build: &Build, by: &mut Seeded) -> Option<Op> {
        let away = 0.1 + 0.5 * by.share();
        let factor = if by.next() & 1 == 0 { 1.0 + away } else { 1.0 / (1.0 + away) };
        let measure = build.shape(&self.route)?.measure?;
        let text = find(&build.root, &self.route)?.node.as_text()?;
        let number: f64 =
            text.split(|c: char| !c.is_ascii_digit() && c != '.' && c != '-').next()?.parse().ok()?;
        let moved = format!("{:.4} {}", number * factor, self.unit);
        let si = read_quantity(moved.trim(), measure).ok()?.si;
        (self.low..=self.high).contains(&si).then(|| Op::Set(self.route.clone(), scalar(moved.trim())))
    }
}

fn scalars(node: &Arc<Node>, at: &Route, found: &mut Vec<Route>) {
    match &node.value {
        Value::Scalar(_) => found.push(at.clone()),
        Value::List(items) => {
            items.iter().enumerate().for_each(|(i, item)| scalars(item, &at.index(i), found));
        }
        Value::Map(map) => {
            map.iter().for_each(|entry| scalars(&entry.value, &at.key(&entry.key.text), found));
        }
    }
}

/// What came of the cures of one build.
#[derive(Default)]
struct Looked {
    findings: usize,
    ends: usize,
    wrong: Vec<String>,
}

/// Puts a value, in SI units, where a cure puts its own: into one field, or into those entries of a table that stand above it.
fn put(build: &Build, cure: &FoundCure, number: &FoundNumber, si: f64) -> Option<Change> {
    let one = |route: &Route| {
        let written = find(&build.root, route).and_then(|found| found.node.as_text());
        let written = written.and_then(|text| read_quantity(text, number.measure).ok());
        if number.now.is_some()
            && written.as_ref().is_some_and(|written| written.si <= si)
            && cure.route != *route
        {
            return Some(None);
        }
        let gauge = written.map_or("", |written| match written.reference {
            tractwright::text::Reference::Gauge => " gauge",
            tractwright::text::Reference::Absolute => " abs",
            _ => "",
        });
        let text = format!("{:?} {}{gauge}", number.unit.from_si(si), number.unit.symbol);
        read_quantity(&text, number.measure).ok()?;
        Some(Some(Op::Set(route.clone(), scalar(&text))))
    };
    let ops: Option<Vec<Option<Op>>> = cure.change.0.iter().map(|op| one(op.route())).collect();
    Some(Change(ops?.into_iter().flatten().collect()))
}

/// Reviews a build and tries the ends of its cures.
fn look(catalogue: &Catalogue, example: &Example, root: &Arc<Node>, what: &str) -> Looked {
    look_near(catalogue, example, root, what, STEP)
}

fn look_near(
    catalogue: &Catalogue,
    example: &Example,
    root: &Arc<Node>,
    what: &str,
    nearness: f64,
) -> Looked {
    let options = Options { cures: true, ..Options::default() };
    let review = Reviewer::new(catalogue, options).review(BUILD_FILE, root, &example.files);
    let build = Build::read(BUILD_FILE, root, &example.files);
    let mut looked = Looked::default();
    for result in review.results.iter().filter(|result| result.verdict() == Verdict::Fail) {
        looked.findings += 1;
        for (at, cure) in result.cures.iter().enumerate() {
            let Some(number) = &cure.number else { continue };
            // The second cure of a field contents the rules as well that the first would wake.
            let first = result.cures[..at].iter().find(|before| before.route == cure.route);
            let mut rules: Vec<&str> = vec![&result.rule.id];
            let woken =
                first.into_iter().flat_map(|first| &first.proof.upsets).filter(|upset| upset.is_worse());
            rules.extend(
                woken
                    .map(|upset| &*upset.rule)
                    .filter(|id| result.rule.silences.iter().any(|own| &**own == *id)),
            );
            let passes = |si: f64| {
                let change = put(&build, cure, number, si)?;
                let review = example.review_with(catalogue, &change.apply(root).ok()?, &rules);
                let own = |other: &&RuleResult| other.subject == result.subject;
                let mut own = review.results.iter().filter(own).map(RuleResult::verdict);
                Some(own.all(|verdict| verdict == Verdict::Pass))
            };
            let usual = usual(&build, &cure.change.0[0].route().clone());
            for interval in &number.passing {
                for (end, outward) in [(interval.low, -1.0), (interval.high, 1.0)] {
                    let step = nearness * end.abs().max(1e-12);
                    let is_usual = usual.is_some_and(|(low, high)| {
                        let near = |other: f64| (end - other).abs() <= step;
                        near(low) || near(high)
                    });
                    // A table is cut at most at its largest entry.
                    let is_whole =
                        number.now.is_some_and(|now| cure.change.0[0].route() != &cure.route && end >= now);
                    if is_usual || is_whole {
                        continue;
                    }
                    looked.ends += 1;
                    let (inside, outside) = (end - outward * step, end + outward * step);
                    let within = (interval.low..=interval.high).contains(&inside);
                    for (si, wanted) in [(inside, true), (outside, false)] {
                        if (wanted && !within) || passes(si) == Some(wanted) {
                            continue;
                        }
                        looked.wrong.push(format!(
                            "{what}: {} of {}: {} at {si} (end {end}, {}) should {}pass",
                            result.rule.id,
                            result.subject.name,
                            cure.route,
                            number.ranges(),
                            if wanted { "" } else { "not " }
                        ));
                    }
                }
            }
        }
    }
    looked
}

fn in_words(op: &Op) -> String {
    match op {
        Op::Set(route, node) => format!("{route}={}", node.as_text().unwrap_or_default()),
        other => format!("{other:?}"),
    }
}

fn usual(build: &Build, route: &Route) -> Option<(f64, f64)> {
    let shape = build.shape(route)?;
    let (measure, (low, high)) = (shape.measure?, shape.usual?);
    Some((read_quantity(low, measure).ok()?.si, read_quantity(high, measure).ok()?.si))
}

#[test]
fn one_step_inside_passes_and_one_outside_does_not() {
    let catalogue = catalogue();
    let names = yaml_names("examples");
    let looked: Vec<(bool, Looked)> = names
        .par_iter()
        .flat_map(|name| {
            let jobs: Vec<usize> = (0..=CHANGED).collect();
            jobs.into_par_iter().map(move |job| (name, job))
        })
        .map(|(name, job)| {
            let example = Example::read(name);
            let build = Build::read(BUILD_FILE, &example.root, &example.files);
            if job == 0 {
                return (false, look(&catalogue, &example, &example.root, name));
            }
            // Of its own for each example, so that a new one changes no other.
            let own = name.bytes().fold(0_u64, |all, byte| all.wrapping_mul(31).wrapping_add(byte.into()));
            let mut by = Seeded(own.wrapping_mul(1000).wrapping_add(job as u64));
            let mut all = Vec::new();
            scalars(&example.root, &Route::root(), &mut all);
            let numbers: Vec<Number> = all.iter().filter_map(|route| Number::at(&build, route)).collect();
            let moved = (0..2).filter_map(|_| by.one_of(&numbers).moved(&build, &mut by));
            let change = Change(moved.collect());
            let words: Vec<String> = change.0.iter().map(in_words).collect();
            let root = example.changed(&change);
            (true, look(&catalogue, &example, &root, &format!("{name} with {}", words.join(", "))))
        })
        .collect();
    let wrong: Vec<&String> = looked.iter().flat_map(|(_, looked)| &looked.wrong).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    let with_findings = looked.iter().filter(|(changed, looked)| *changed && looked.findings > 0).count();
    let ends: usize = looked.iter().map(|(_, looked)| looked.ends).sum();
    eprintln!("{with_findings} changed builds with findings, {ends} ends");
    assert!(with_findings >= LEAST_BUILDS, "only {with_findings} changed builds with findings");
    assert!(ends >= LEAST_ENDS, "only {ends} ends");
}

#[test]
fn the_ends_of_cures_that_cost_runs_are_where_they_are_said_to_be() {
    let catalogue = common::catalogue();
    let looked: Vec<Looked> = ["relief-stiff-spring", "relief-long-hose", "coupe-a"]
        .par_iter()
        .map(|name| {
            let example = Example::read(name);
            look_near(&catalogue, &example, &example.root, name, STEP_OF_RUNS)
        })
        .collect();
    let wrong: Vec<&String> = looked.iter().flat_map(|looked| &looked.wrong).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    let ends: usize = looked.iter().map(|looked| looked.ends).sum();
    assert!(ends >= 3, "preloads, and hoses by bore and length: {ends} ends");
}

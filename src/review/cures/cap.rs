//! A table over engine speed, cut at a value up to some speed.

use super::bench::Bench;
use super::number::{Line, Told, round_into};
use super::{FoundCure, FoundNumber, Interval};
use crate::known::{Datum, Known};
use crate::rules::{Expression, Template};
use crate::text::{Change, Measure, Op, Quantity, Route, find, read_quantity, scalar};

/// Two engine speeds nearer than this share of one another are the same speed.
const SAME_SPEED: f64 = 1e-9;

/// One entry of the table.
struct Entry {
    route: Route,
    /// Engine speed in revolutions per second.
    speed: f64,
    value: Quantity,
}

pub(super) fn search(
    bench: &Bench<'_, '_>,
    route: &Route,
    below: &Expression,
    says: &Template,
) -> Option<FoundCure> {
    let table = find(&bench.build.root, route)?.node.as_map()?;
    let first = route.key(&table.entries().first()?.key.text);
    let shape = bench.build.shape(&first)?;
    let measure = shape.measure?;
    let least = read_quantity(shape.usual?.0, measure).ok()?;
    let mut entries = table
        .iter()
        .map(|entry| {
            let route = route.key(&entry.key.text);
            let speed = read_quantity(&entry.key.text, Measure::RotationalSpeed).ok()?.si;
            let value = read_quantity(bench.text_at(&route)?, measure).ok()?;
            Some(Entry { route, speed, value })
        })
        .collect::<Option<Vec<Entry>>>()?;
    entries.sort_by(|a, b| a.speed.total_cmp(&b.speed));
    let mut speed = match bench.result.rule.value(below, bench.values) {
        Known::Is(Datum::Number(number)) => number.v,
        _ => return None,
    };
    let told = Told::like(entries.first()?.value.unit, &entries.first()?.value, measure);
    // Once the entries up to the worst speed are cut the worst may lie higher up: then those are cut as well.
    let cut = loop {
        let cut = up_to(&entries, speed);
        let lowest = change(cut, least.si, &|x| told.exact(x));
        if bench.trial(&lowest).passes || cut.len() == entries.len() {
            break cut;
        }
        let next = bench.number(&lowest, below).unwrap_or(speed);
        if up_to(&entries, next).len() <= cut.len() {
            break cut;
        }
        speed = next;
    };
    let now = cut.iter().map(|entry| entry.value.si).max_by(f64::total_cmp)?;
    let range = Interval { low: least.si.min(now), high: now };
    let at = |x: f64| change(cut, x, &|x| told.exact(x));
    let passing = Line { bench, range, now: None, change: &at }.passing();
    let unit = cut.first()?.value.unit;
    let to = round_into(*passing.last()?, false, unit);
    let change = change(cut, to, &|x| told.write(x));
    let proof = bench.prove(&change)?;
    Some(FoundCure {
        route: route.clone(),
        change,
        written: format!("at most {}", told.write(to)),
        says: bench.say(says, to - now, to, measure.dim()),
        number: Some(FoundNumber { measure, unit, now: Some(now), to, passing }),
        another_part: false,
        proof,
    })
}

/// The entries up to a speed, that one included; of rising entries.
fn up_to(entries: &[Entry], speed: f64) -> &[Entry] {
    let count = entries.partition_point(|entry| entry.speed <= speed * (1.0 + SAME_SPEED));
    entries.get(..count).unwrap_or_default()
}

/// Each of the entries that stands above a value cut to it.
fn change(entries: &[Entry], at: f64, write: &dyn Fn(f64) -> String) -> Change {
    let cut = entries.iter().filter(|entry| entry.value.si > at);
    Change(cut.map(|entry| Op::Set(entry.route.clone(), scalar(&write(at)))).collect())
}

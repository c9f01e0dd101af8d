//! A number over its usual range.

use super::bench::Bench;
use super::number::{Line, Told, round_into};
use super::{FoundCure, FoundNumber, Interval};
use crate::rules::Template;
use crate::text::{Change, Route, read_quantity, scalar};

pub(super) fn search(bench: &Bench<'_, '_>, route: &Route, says: &Template) -> Option<FoundCure> {
    let shape = bench.build.shape(route)?;
    let measure = shape.measure?;
    let (low, high) = shape.usual?;
    let (low, high) = (read_quantity(low, measure).ok()?, read_quantity(high, measure).ok()?);
    let written = bench.text_at(route).and_then(|text| read_quantity(text, measure).ok());
    let unit = written.as_ref().map_or(low.unit, |quantity| quantity.unit);
    let now = written.as_ref().map(|quantity| quantity.si);
    let told = Told::like(unit, written.as_ref().unwrap_or(&low), measure);
    let put = |text: String| Change::set(route.clone(), scalar(&text));
    let range = Interval { low: low.si, high: high.si };
    let passing = loop {
        let passing = Line { bench, range, now, change: &|x| put(told.exact(x)) }.passing();
        let ends = passing.iter().flat_map(|interval| [interval.low, interval.high]);
        let missed = ends.flat_map(|end| bench.starts_missed(&put(told.exact(end)))).collect::<Vec<_>>();
        if !bench.look_at(missed) {
            break passing;
        }
    };
    let nearest = nearest(&passing, now.unwrap_or(0.5 * (range.low + range.high)))?;
    let to = round_into(nearest, now.is_none_or(|now| now <= nearest.low), unit);
    let text = told.write(to);
    let change = put(text.clone());
    let proof = bench.prove(&change)?;
    Some(FoundCure {
        route: route.clone(),
        change,
        written: text,
        says: bench.say(says, to - now.unwrap_or(0.0), to, measure.dim()),
        number: Some(FoundNumber { measure, unit, now, to, passing }),
        another_part: false,
        proof,
    })
}

fn nearest(passing: &[Interval], now: f64) -> Option<Interval> {
    let distance = |interval: &Interval| (interval.low - now).max(now - interval.high).max(0.0);
    passing.iter().copied().min_by(|a, b| distance(a).total_cmp(&distance(b)))
}

//! One of several words.

use super::FoundCure;
use super::bench::Bench;
use crate::known::{Known, Unrecorded};
use crate::rules::{Among, Template, Whose};
use crate::text::{Change, Route, Step, find, scalar};

/// At most so many words that pass are proved by a whole review.
const MOST_PROOFS: usize = 8;
/// The name of the way from a subject to the part that carries it.
const HOST: &str = "host";

pub(super) fn search(
    bench: &Bench<'_, '_>,
    route: &Route,
    among: &Among,
    says: &Template,
) -> Option<FoundCure> {
    let now = bench.text_at(route).map(str::to_owned);
    let words = match among {
        Among::Words(words) => words.iter().map(|word| word.to_string()).collect(),
        Among::PartsInRegion(region) => parts_in(bench, route, region),
    };
    let mut best: Option<FoundCure> = None;
    let mut proofs = 0;
    for word in words.into_iter().filter(|word| now.as_ref() != Some(word)) {
        let change = Change::set(route.clone(), scalar(&word));
        if proofs == MOST_PROOFS || !bench.trial(&change).passes {
            continue;
        }
        proofs += 1;
        let Some(proof) = bench.prove(&change).filter(|proof| proof.passes) else { continue };
        let is_clean = proof.is_clean();
        if is_clean || best.is_none() {
            let says = bench.result.rule.say(says, bench.values);
            best = Some(FoundCure {
                route: route.clone(),
                change,
                written: word,
                number: None,
                says,
                another_part: false,
                proof,
            });
        }
        if is_clean {
            break;
        }
    }
    best
}

/// The parts of a region of the air path, the nearest along it first: to the part that the field names now, or else to
/// the part that carries the subject. Of two as near the one further downstream comes first.
fn parts_in(bench: &Bench<'_, '_>, route: &Route, region: &str) -> Vec<String> {
    let build = bench.build;
    let tract = bench.values.scope.tract();
    let Known::Is(path) = tract.path(&Unrecorded) else { return Vec::new() };
    let place_of = |name: &str| path.spot(name).map(|spot| spot.index);
    let here = find(&build.root, route).and_then(|found| {
        let part = found.node.get("part").unwrap_or(found.node);
        place_of(part.as_text()?)
    });
    let carrier = || match bench.values.follow(Whose::It, HOST) {
        Known::Is(host) => match host.last() {
            Some(Step::Key(name)) => place_of(name),
            _ => None,
        },
        _ => None,
    };
    let here = here.or_else(carrier).unwrap_or(0);
    let mut parts: Vec<(usize, String)> = path
        .iter()
        .filter(|spot| path.region(spot.index).is_some_and(|found| found.word() == region))
        .map(|spot| (spot.index, spot.part.name.to_string()))
        .collect();
    parts.sort_by_key(|(place, _)| (place.abs_diff(here), std::cmp::Reverse(*place)));
    parts.into_iter().map(|(_, name)| name).collect()
}

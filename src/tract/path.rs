//! The air path: order, regions, distances.

use std::sync::Arc;

use super::Tract;
use crate::build::parts::{Part, PartKind};
use crate::build::scalars::{List, PartName};
use crate::known::{Known, Missing, Read, Reads, State, Unrecorded};
use crate::text::Route;

/// Kinds that compress.
pub(super) const COMPRESSORS: &[PartKind] = &[PartKind::Turbocharger, PartKind::Supercharger];
/// Kinds that can shut the path off in normal work.
pub(super) const SHUTTING: &[PartKind] = &[PartKind::Throttle, PartKind::Carburettor];

/// Stretches of the tract, by what their pressure follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Region {
    /// From the filter to the first compressor, or to a throttle ahead of it.
    Suction,
    /// Between a throttle ahead of the compressor and the compressor.
    ThrottledSuction,
    /// Between two compressors in series.
    BetweenStages,
    /// From the last compressor to the first part that can shut.
    Charge,
    /// Behind that part.
    Manifold,
}

impl Region {
    /// All of them, in the order in which the air meets them.
    pub const ALL: &'static [Self] =
        &[Self::Suction, Self::ThrottledSuction, Self::BetweenStages, Self::Charge, Self::Manifold];

    /// Its word in rules.
    pub fn word(self) -> &'static str {
        match self {
            Self::Suction => "suction",
            Self::ThrottledSuction => "throttled-suction",
            Self::BetweenStages => "between-stages",
            Self::Charge => "charge",
            Self::Manifold => "manifold",
        }
    }

    /// Whether its pressure stands above the site's at full throttle.
    pub fn sees_boost(self) -> bool {
        matches!(self, Self::BetweenStages | Self::Charge | Self::Manifold)
    }
}

/// A part on the path, with its place in the order.
#[derive(Clone, Copy, Debug)]
pub struct Spot<'b> {
    /// Its place, from 0 at the site.
    pub index: usize,
    /// The part.
    pub part: &'b Part,
    /// Its kind.
    pub kind: PartKind,
}

impl<'b> Tract<'b> {
    /// The path from the site to the engine, with all kinds known.
    pub fn path(&self, reads: &dyn Reads) -> Known<Vec<Spot<'b>>> {
        let field = &self.build().top.air_path;
        field.get(reads).and_then(|List(names)| {
            let spots = names.iter().enumerate().map(|(index, PartName(name))| {
                let Some(part) = self.build().parts.named(name) else {
                    return Known::missing(&field.route().index(index));
                };
                part.kind.get(reads).map(|kind| Spot { index, part, kind: *kind })
            });
            spots.collect()
        })
    }

    /// The place of a part on the path; `None` when it is not on it.
    pub fn spot(&self, name: &str, reads: &dyn Reads) -> Known<Option<Spot<'b>>> {
        self.path(reads).map(|path| path.iter().find(|spot| &*spot.part.name == name).copied())
    }

    /// Whether a name stands in the path; needs no kinds. Where another name there is no part's, it may have been meant.
    pub fn is_on_path(&self, name: &str, reads: &dyn Reads) -> Known<bool> {
        let field = &self.build().top.air_path;
        field.get(reads).and_then(|List(names)| {
            if names.iter().any(|PartName(other)| &**other == name) {
                return Known::Is(true);
            }
            let lost = names.iter().position(|PartName(other)| {
                let parts = &self.build().parts;
                parts.named(other).is_none() && !parts.said_none.contains(other)
            });
            lost.map_or(Known::Is(false), |index| Known::missing(&field.route().index(index)))
        })
    }

    /// Names on the path, for finding subjects; not recorded.
    pub(super) fn path_names_unrecorded(&self) -> Vec<Arc<str>> {
        match self.build().top.air_path.state(&Unrecorded) {
            State::Given(List(names)) => names.iter().map(|PartName(name)| name.clone()).collect(),
            _ => Vec::new(),
        }
    }

    /// The region of a part on the path; open when the part is not on it.
    pub fn region_of(&self, name: &str, reads: &dyn Reads) -> Known<Region> {
        self.path(reads).and_then(|path| {
            let Some(spot) = path.iter().find(|spot| &*spot.part.name == name) else {
                return Known::missing(self.build().top.air_path.route());
            };
            Known::Is(region(&path, spot.index))
        })
    }

    /// The part that a part's tap sits on.
    pub fn host_of(&self, part: &'b Part, reads: &dyn Reads) -> Known<&'b Part> {
        part.common
            .tap
            .get(reads)
            .and_then(|tap| tap.part.get(reads).and_then(|PartName(name)| self.named(name, tap.part.route())))
    }

    /// The part of a name that is written at `route`.
    pub(super) fn named(&self, name: &str, route: &Route) -> Known<&'b Part> {
        self.build().parts.named(name).map_or_else(|| Known::missing(route), Known::Is)
    }

    /// The region that a part's tap is in.
    pub fn tap_region(&self, part: &'b Part, reads: &dyn Reads) -> Known<Region> {
        self.host_of(part, reads).and_then(|host| self.region_of(&host.name, reads))
    }

    /// The compressors on the path.
    pub fn compressors(&self, reads: &dyn Reads) -> Known<Vec<Spot<'b>>> {
        self.path(reads)
            .map(|path| path.iter().filter(|spot| COMPRESSORS.contains(&spot.kind)).copied().collect())
    }

    /// The first part behind a compressor that can shut.
    pub fn shutting_behind(&self, compressor: &Part, reads: &dyn Reads) -> Known<Option<Spot<'b>>> {
        self.path(reads).and_then(|path| {
            let Some(at) = path.iter().position(|spot| spot.part.name == compressor.name) else {
                return Known::missing(self.build().top.air_path.route());
            };
            Known::Is(path.iter().skip(at + 1).find(|spot| SHUTTING.contains(&spot.kind)).copied())
        })
    }

    /// Length along the tract from the outlet of the nearest compressor upstream to the tap of a part. Parts without a
    /// length, and a tap without a place, leave it between bounds.
    pub fn distance_from_compressor(&self, part: &'b Part, reads: &dyn Reads) -> Known<f64> {
        let Known::Is(host) = self.host_of(part, reads) else {
            return self.host_of(part, reads).and_then(|_| Known::Is(0.0));
        };
        self.path(reads).and_then(|path| {
            let Some(end) = path.iter().position(|spot| spot.part.name == host.name) else {
                return Known::missing(self.build().top.air_path.route());
            };
            let Some(start) = path.iter().take(end + 1).rposition(|spot| COMPRESSORS.contains(&spot.kind))
            else {
                return Known::not_applicable("no compressor lies ahead of the tap");
            };
            if start == end {
                return Known::not_applicable("the tap sits in the compressor's own housing");
            }
            let mut least = 0.0;
            let mut most = 0.0;
            let between = path.get(start + 1..end).unwrap_or_default();
            for spot in between {
                let (low, high) = length_bounds(spot.part, reads);
                least += low;
                most += high;
            }
            let at = part.common.tap.get(reads).and_then(|tap| tap.at.get(reads).map(|at| at.si()));
            match at {
                Known::Is(at) => bounded(least + at, most + at),
                Known::NotApplicable(reason) => Known::NotApplicable(reason),
                Known::Open(missing) => {
                    reads.note(Read::Lacking(missing));
                    bounded(least, most + length_bounds(host, reads).1)
                }
                Known::Between(..) => bounded(least, most + length_bounds(host, reads).1),
            }
        })
    }

    /// Every part whose kind cannot be read, as what is missing; for questions that turn on a kind's absence.
    pub fn unknown_kinds(&self, reads: &dyn Reads) -> Missing {
        let kinds = self.build().parts.list.iter().map(|part| part.kind.get(reads));
        let parts = match self.build().parts_given.state(reads) {
            State::Given(()) => Missing::default(),
            _ => Missing::field(self.build().parts_given.route()),
        };
        kinds.filter_map(|kind| kind.what_is_missing().cloned()).fold(parts, Missing::join)
    }
}

fn bounded(low: f64, high: f64) -> Known<f64> {
    if low == high { Known::Is(low) } else { Known::Between(low, high) }
}

fn length_bounds(part: &Part, reads: &dyn Reads) -> (f64, f64) {
    match part.duct.as_ref().map(|duct| duct.length.get(reads)) {
        Some(Known::Is(length)) => (length.si(), length.si()),
        Some(Known::Open(missing)) => {
            reads.note(Read::Lacking(missing));
            (0.0, f64::INFINITY)
        }
        _ => (0.0, f64::INFINITY),
    }
}

fn region(path: &[Spot<'_>], index: usize) -> Region {
    let shuts = |spot: &Spot<'_>| SHUTTING.contains(&spot.kind);
    let compresses = |spot: &Spot<'_>| COMPRESSORS.contains(&spot.kind);
    let first = path.iter().position(compresses);
    let last = path.iter().rposition(compresses);
    let ahead = path.iter().position(shuts);
    let (Some(first), Some(last)) = (first, last) else {
        return match ahead {
            Some(throttle) if index > throttle => Region::Manifold,
            _ => Region::Suction,
        };
    };
    let draws_through = ahead.is_some_and(|throttle| throttle < first);
    if index < first {
        let behind_throttle = draws_through && ahead.is_some_and(|throttle| index > throttle);
        return if behind_throttle { Region::ThrottledSuction } else { Region::Suction };
    }
    if index < last && index > first {
        return Region::BetweenStages;
    }
    let shut_behind = path.iter().skip(last + 1).find(|spot| shuts(spot)).map(|spot| spot.index);
    match shut_behind {
        _ if draws_through => Region::Manifold,
        Some(throttle) if index > throttle => Region::Manifold,
        _ => Region::Charge,
    }
}

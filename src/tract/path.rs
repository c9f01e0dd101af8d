//! The air path as a graph: order, branches, regions.

use std::ops::Deref;

use super::Tract;
use crate::build::air_path::{AirPath, PathElement};
use crate::build::parts::{Part, PartKind};
use crate::build::scalars::{AIR, PartName};
use crate::known::{Known, Missing, Reads, State, Unrecorded};
use crate::text::Route;

/// Kinds that compress.
pub(super) const COMPRESSORS: &[PartKind] = &[PartKind::Turbocharger, PartKind::Supercharger];
/// Kinds that can shut the path off in normal work.
pub(super) const SHUTTING: &[PartKind] = &[PartKind::Throttle, PartKind::Carburettor];
/// Kinds that share the air among several cylinders.
const SHARING: &[PartKind] = &[PartKind::InletManifold, PartKind::Plenum];

/// Stretches of the tract, by what their pressure follows, in the order of the air's way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Region {
    /// The open air.
    Site,
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
    /// Behind the throttle of a single cylinder or of a few that share no chamber with the others.
    Runner,
}

impl Region {
    /// All of them, in the order in which the air meets them.
    pub const ALL: &'static [Self] =
        &[Self::Suction, Self::ThrottledSuction, Self::BetweenStages, Self::Charge, Self::Manifold];

    /// Its word in rules.
    pub fn word(self) -> &'static str {
        match self {
            Self::Site => "site",
            Self::Suction => "suction",
            Self::ThrottledSuction => "throttled-suction",
            Self::BetweenStages => "between-stages",
            Self::Charge => "charge",
            Self::Manifold => "manifold",
            Self::Runner => "runner",
        }
    }

    /// Whether its pressure stands above the site's at full throttle.
    pub fn sees_boost(self) -> bool {
        matches!(self, Self::BetweenStages | Self::Charge | Self::Manifold | Self::Runner)
    }

    /// Whether it lies behind the part that shuts, so that its pressure falls at once on tip-out.
    pub fn behind_the_throttle(self) -> bool {
        matches!(self, Self::Manifold | Self::Runner)
    }
}

/// A part on the path, with its place in the order.
#[derive(Clone, Copy, Debug)]
pub struct Spot<'b> {
    /// Its place among all spots, those of branches in the order of the text. Of two that lie on one way the smaller is
    /// nearer to the site; of two in different branches it says nothing.
    pub index: usize,
    /// The part.
    pub part: &'b Part,
    /// Its kind.
    pub kind: PartKind,
    /// Where the path names it.
    pub route: &'b Route,
}

impl Spot<'_> {
    /// Whether it compresses.
    pub fn compresses(&self) -> bool {
        COMPRESSORS.contains(&self.kind)
    }

    /// Whether it can shut in normal work.
    pub fn shuts(&self) -> bool {
        SHUTTING.contains(&self.kind)
    }
}

/// One stretch of the path, in its order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Leg {
    /// The spot of this index.
    Spot(usize),
    /// Branches side by side.
    Fork(Vec<Vec<Leg>>),
}

/// The path from the site to the engine: spots, each with those before and behind it.
#[derive(Clone, Debug)]
pub struct Path<'b> {
    spots: Vec<Spot<'b>>,
    before: Vec<Vec<usize>>,
    behind: Vec<Vec<usize>>,
    regions: Vec<Region>,
    legs: Vec<Leg>,
}

impl<'b> Deref for Path<'b> {
    type Target = [Spot<'b>];

    fn deref(&self) -> &[Spot<'b>] {
        &self.spots
    }
}

impl<'b> Path<'b> {
    fn new(spots: Vec<Spot<'b>>, legs: Vec<Leg>) -> Self {
        let mut path = Self {
            before: vec![Vec::new(); spots.len()],
            behind: vec![Vec::new(); spots.len()],
            regions: Vec::new(),
            spots,
            legs,
        };
        let legs = std::mem::take(&mut path.legs);
        path.join(&legs, Vec::new());
        path.regions = path.find_regions(&legs);
        path.legs = legs;
        path
    }

    /// Joins the spots of legs behind the spots they come from; gives the last ones.
    fn join(&mut self, legs: &[Leg], mut from: Vec<usize>) -> Vec<usize> {
        for leg in legs {
            from = match leg {
                Leg::Spot(spot) => {
                    for before in &from {
                        if let Some(behind) = self.behind.get_mut(*before) {
                            behind.push(*spot);
                        }
                    }
                    if let Some(before) = self.before.get_mut(*spot) {
                        *before = from;
                    }
                    vec![*spot]
                }
                Leg::Fork(branches) => {
                    branches.iter().flat_map(|branch| self.join(branch, from.clone())).collect()
                }
            };
        }
        from
    }

    /// Its stretches, branches as branches.
    pub fn legs(&self) -> &[Leg] {
        &self.legs
    }

    /// Whether it runs in branches anywhere.
    pub fn forks(&self) -> bool {
        self.legs.iter().any(|leg| matches!(leg, Leg::Fork(_)))
    }

    /// The spots right before one: several where branches join, none at the site.
    pub fn before(&self, index: usize) -> &[usize] {
        self.before.get(index).map_or(&[], Vec::as_slice)
    }

    /// The spots right behind one: several where the path forks, none at the engine.
    pub fn behind(&self, index: usize) -> &[usize] {
        self.behind.get(index).map_or(&[], Vec::as_slice)
    }

    /// The spot of a part.
    pub fn spot(&self, name: &str) -> Option<&Spot<'b>> {
        self.spots.iter().find(|spot| &*spot.part.name == name)
    }

    /// Whether one spot lies ahead of another on some way, nearer to the site.
    pub fn is_ahead(&self, one: usize, of: usize) -> bool {
        one != of && self.all_behind(one).contains(&of)
    }

    /// All spots behind one on any way, itself left out, in order.
    pub fn all_behind(&self, index: usize) -> Vec<usize> {
        self.reached(index, |at| self.behind(at), |_| false)
    }

    /// All spots ahead of one on any way, itself left out, in order.
    pub fn all_ahead(&self, index: usize) -> Vec<usize> {
        self.reached(index, |at| self.before(at), |_| false)
    }

    /// What is reached from a spot without going on beyond where `stops` says so.
    fn reached<'s>(
        &'s self,
        from: usize,
        step: impl Fn(usize) -> &'s [usize],
        stops: impl Fn(&Spot<'b>) -> bool,
    ) -> Vec<usize> {
        let mut found = vec![false; self.spots.len()];
        let mut todo: Vec<usize> = step(from).to_vec();
        while let Some(at) = todo.pop() {
            let Some(seen) = found.get_mut(at) else { continue };
            if std::mem::replace(seen, true) {
                continue;
            }
            if self.spots.get(at).is_some_and(|spot| !stops(spot)) {
                todo.extend(step(at));
            }
        }
        found.iter().enumerate().filter(|(_, reached)| **reached).map(|(at, _)| at).collect()
    }

    /// On each way behind a spot the first that can shut.
    pub fn first_shutting_behind(&self, index: usize) -> Vec<Spot<'b>> {
        let reached = self.reached(index, |at| self.behind(at), Spot::shuts);
        reached.into_iter().filter_map(|at| self.spots.get(at)).filter(|spot| spot.shuts()).copied().collect()
    }

    /// Whether every way from a spot to another, both included, leads through one of the spots that `passes` picks.
    pub fn every_way_passes(&self, from: usize, to: usize, passes: impl Fn(usize) -> bool) -> bool {
        if passes(from) || passes(to) {
            return true;
        }
        !self.reached(from, |at| self.behind(at), |spot| passes(spot.index)).contains(&to)
    }

    /// The spots at which the path ends.
    pub fn ends(&self) -> impl Iterator<Item = &Spot<'b>> {
        self.spots.iter().filter(|spot| self.behind(spot.index).is_empty())
    }

    /// The region that a part at a spot is in: of a part that shuts the one ahead of it, of a compressor the one behind.
    pub fn region(&self, index: usize) -> Option<Region> {
        self.regions.get(index).copied()
    }

    /// Regions spot by spot. Where branches join, the one that lies nearest to the site counts: from there the air comes
    /// unhindered.
    fn find_regions(&self, legs: &[Leg]) -> Vec<Region> {
        let individual = self.individual(legs);
        let mut after: Vec<(Region, bool)> = Vec::with_capacity(self.spots.len());
        let mut regions = Vec::with_capacity(self.spots.len());
        for spot in &self.spots {
            let arrives = self.before(spot.index).iter().filter_map(|before| after.get(*before));
            let (region, throttled) = arrives.min().copied().unwrap_or((Region::Suction, false));
            let compresses_behind = || {
                self.all_behind(spot.index).iter().filter_map(|at| self.spots.get(*at)).any(Spot::compresses)
            };
            let leaves = if spot.compresses() {
                match (compresses_behind(), throttled) {
                    (true, _) => (Region::BetweenStages, throttled),
                    (false, true) => (Region::Manifold, true),
                    (false, false) => (Region::Charge, false),
                }
            } else if spot.shuts() {
                if compresses_behind() {
                    (region.max(Region::ThrottledSuction), true)
                } else if individual.contains(&spot.index) {
                    (Region::Runner, true)
                } else {
                    (Region::Manifold, true)
                }
            } else {
                (region, throttled)
            };
            regions.push(if spot.compresses() { leaves.0 } else { region });
            after.push(leaves);
        }
        regions
    }

    /// The spots that feed their own cylinders: in branches that never join again and hold no common chamber behind them.
    fn individual(&self, legs: &[Leg]) -> Vec<usize> {
        let Some(Leg::Fork(branches)) = legs.last() else { return Vec::new() };
        let mut found = Vec::new();
        for branch in branches {
            found.extend(self.individual(branch));
            for leg in branch {
                let Leg::Spot(index) = leg else { continue };
                let behind = self.all_behind(*index);
                let shares =
                    |at: &usize| self.spots.get(*at).is_some_and(|spot| SHARING.contains(&spot.kind));
                if !behind.iter().any(shares) {
                    found.push(*index);
                }
            }
        }
        found
    }
}

impl<'b> Tract<'b> {
    /// The path from the site to the engine, with all kinds known.
    pub fn path(&self, reads: &dyn Reads) -> Known<Path<'b>> {
        let field = &self.build().top.air_path;
        field.get(reads).and_then(|AirPath(elements)| {
            let mut spots = Vec::new();
            let mut missing = Missing::default();
            let legs = self.lay(elements, &mut spots, &mut missing, reads);
            if missing.is_nothing() { Known::Is(Path::new(spots, legs)) } else { Known::Open(missing) }
        })
    }

    fn lay(
        &self,
        elements: &'b [PathElement],
        spots: &mut Vec<Spot<'b>>,
        missing: &mut Missing,
        reads: &dyn Reads,
    ) -> Vec<Leg> {
        let mut legs = Vec::with_capacity(elements.len());
        for element in elements {
            match element {
                PathElement::Part { name, route } => {
                    let known = self
                        .named(name, route)
                        .and_then(|part| part.kind.get(reads).map(|kind| (part, *kind)));
                    match known {
                        Known::Is((part, kind)) => {
                            let index = spots.len();
                            spots.push(Spot { index, part, kind, route });
                            legs.push(Leg::Spot(index));
                        }
                        Known::Open(more) => *missing = std::mem::take(missing).join(more),
                        Known::Between(..) | Known::NotApplicable(_) => {}
                    }
                }
                PathElement::Fork { branches, .. } => {
                    let laid =
                        branches.iter().map(|branch| self.lay(&branch.elements, spots, missing, reads));
                    legs.push(Leg::Fork(laid.collect()));
                }
            }
        }
        legs
    }

    /// The place of a part on the path; `None` when it is not on it.
    pub fn spot(&self, name: &str, reads: &dyn Reads) -> Known<Option<Spot<'b>>> {
        self.path(reads).map(|path| path.spot(name).copied())
    }

    /// Whether a name stands in the path; needs no kinds. Where another name there is no part's, it may have been meant.
    pub fn is_on_path(&self, name: &str, reads: &dyn Reads) -> Known<bool> {
        self.build().top.air_path.get(reads).and_then(|AirPath(elements)| {
            let mut named = Vec::new();
            names(elements, &mut named);
            if named.iter().any(|(other, _)| *other == name) {
                return Known::Is(true);
            }
            let parts = &self.build().parts;
            let lost = |other: &str| {
                parts.named(other).is_none() && !parts.said_none.iter().any(|none| &**none == other)
            };
            match named.iter().find(|(other, _)| lost(other)) {
                Some((_, route)) => Known::missing(route),
                None => Known::Is(false),
            }
        })
    }

    /// The elements of the path, for finding subjects; not recorded.
    pub(super) fn path_unrecorded(&self) -> &'b [PathElement] {
        match self.build().top.air_path.state(&Unrecorded) {
            State::Given(AirPath(elements)) => elements,
            _ => &[],
        }
    }

    /// The region of a part on the path, or of the open air; open when the part is not on the path.
    pub fn region_of(&self, name: &str, reads: &dyn Reads) -> Known<Region> {
        if name == AIR {
            return Known::Is(Region::Site);
        }
        self.path(reads).and_then(|path| {
            let region = path.spot(name).and_then(|spot| path.region(spot.index));
            region.map_or_else(|| Known::missing(self.build().top.air_path.route()), Known::Is)
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

    /// The compressors on the path, in its order.
    pub fn compressors(&self, reads: &dyn Reads) -> Known<Vec<Spot<'b>>> {
        self.path(reads).map(|path| path.iter().filter(|spot| spot.compresses()).copied().collect())
    }

    /// The first part that can shut behind a compressor, on each way to the engine; empty when nothing shuts.
    pub fn shutting_behind(&self, compressor: &Part, reads: &dyn Reads) -> Known<Vec<Spot<'b>>> {
        self.path(reads).and_then(|path| match path.spot(&compressor.name) {
            Some(spot) => Known::Is(path.first_shutting_behind(spot.index)),
            None => Known::missing(self.build().top.air_path.route()),
        })
    }

    /// Whether every way from a compressor to a part that can shut (to the engine, where nothing shuts) leads past one
    /// of the parts that `passes` picks, both ends included.
    pub fn every_way_passes(
        &self,
        compressor: &Part,
        passes: impl Fn(&Spot<'b>) -> bool,
        reads: &dyn Reads,
    ) -> Known<bool> {
        self.path(reads).and_then(|path| {
            let Some(start) = path.spot(&compressor.name).map(|spot| spot.index) else {
                return Known::missing(self.build().top.air_path.route());
            };
            let shutting = path.first_shutting_behind(start);
            let reaches = |end: &&Spot<'b>| end.index == start || path.is_ahead(start, end.index);
            let ends: Vec<usize> = if shutting.is_empty() {
                path.ends().filter(reaches).map(|end| end.index).collect()
            } else {
                shutting.iter().map(|spot| spot.index).collect()
            };
            let picked = |at: usize| path.get(at).is_some_and(&passes);
            Known::Is(ends.iter().all(|end| path.every_way_passes(start, *end, picked)))
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

/// All names in a stretch of the path, each with where it is written.
fn names<'b>(elements: &'b [PathElement], found: &mut Vec<(&'b str, &'b Route)>) {
    for element in elements {
        match element {
            PathElement::Part { name, route } => found.push((name, route)),
            PathElement::Fork { branches, .. } => {
                branches.iter().for_each(|branch| names(&branch.elements, found))
            }
        }
    }
}

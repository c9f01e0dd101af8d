//! Lengths along the tract.

use super::Tract;
use super::path::{Path, Spot};
use crate::build::parts::Part;
use crate::known::{Known, Read, Reads};

/// A length between bounds.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Bounds {
    least: f64,
    most: f64,
}

impl Bounds {
    fn plus(self, other: Self) -> Self {
        Self { least: self.least + other.least, most: self.most + other.most }
    }

    /// The shorter of two ways.
    fn or_shorter(self, other: Self) -> Self {
        Self { least: self.least.min(other.least), most: self.most.min(other.most) }
    }

    fn known(self) -> Known<f64> {
        if self.least == self.most { Known::Is(self.least) } else { Known::Between(self.least, self.most) }
    }
}

impl<'b> Tract<'b> {
    /// Length along the tract from the outlet of the nearest compressor upstream to the tap of a part, by the shortest
    /// way where branches join. Parts without a length, and a tap without a place, leave it between bounds.
    pub fn distance_from_compressor(&self, part: &'b Part, reads: &dyn Reads) -> Known<f64> {
        let from_outlet = |path: &Path<'b>, host: &Spot<'b>| {
            if host.compresses() {
                return Known::not_applicable("the tap sits in the compressor's own housing");
            }
            match distance_behind(path, host.index, &Spot::compresses, reads) {
                Some(distance) => Known::Is(distance),
                None => Known::not_applicable("no compressor lies ahead of the tap"),
            }
        };
        self.up_to_tap(part, from_outlet, reads)
    }

    /// Length along the tract from the downstream end of one part to the upstream end of another behind it, by the
    /// shortest way. Does not apply when the other is not behind it.
    pub fn distance_between(&self, one: &Part, other: &Part, reads: &dyn Reads) -> Known<f64> {
        self.path(reads).and_then(|path| {
            let (Some(from), Some(to)) = (path.spot(&one.name), path.spot(&other.name)) else {
                return Known::missing(self.build().top.air_path.route());
            };
            let start = from.index;
            match distance_behind(&path, to.index, &|spot: &Spot<'b>| spot.index == start, reads) {
                Some(distance) if path.is_ahead(start, to.index) => distance.known(),
                _ => Known::not_applicable("it does not lie behind the other part"),
            }
        })
    }

    fn up_to_tap(
        &self,
        part: &'b Part,
        before: impl FnOnce(&Path<'b>, &Spot<'b>) -> Known<Bounds>,
        reads: &dyn Reads,
    ) -> Known<f64> {
        // Without a host the path would decide nothing yet, and is not asked for.
        let host = self.host_of(part, reads);
        host.and_then(|host| self.path(reads).map(|path| (host, path))).and_then(|(host, path)| {
            let Some(spot) = path.spot(&host.name) else {
                return Known::missing(self.build().top.air_path.route());
            };
            before(&path, spot).and_then(|before| {
                let at = part.common.tap.get(reads).and_then(|tap| tap.at.get(reads).map(|at| at.si()));
                match at {
                    Known::Is(at) => before.plus(Bounds { least: at, most: at }).known(),
                    Known::NotApplicable(reason) => Known::NotApplicable(reason),
                    Known::Open(missing) => {
                        reads.note(Read::Lacking(missing));
                        before.plus(Bounds { least: 0.0, ..length(host, reads) }).known()
                    }
                    Known::Between(..) => before.plus(Bounds { least: 0.0, ..length(host, reads) }).known(),
                }
            })
        })
    }
}

/// Length from the nearest spot ahead that `begins` picks to the upstream end of a spot; nothing when none lies ahead.
fn distance_behind<'b>(
    path: &Path<'b>,
    index: usize,
    begins: &dyn Fn(&Spot<'b>) -> bool,
    reads: &dyn Reads,
) -> Option<Bounds> {
    // Spots before a spot have smaller numbers, so that one pass in their order settles all.
    let mut upstream: Vec<Option<Bounds>> = Vec::with_capacity(index + 1);
    let wanted = path.all_ahead(index);
    for at in 0..=index {
        if at != index && wanted.binary_search(&at).is_err() {
            upstream.push(None);
            continue;
        }
        let ways = path.before(at).iter().filter_map(|before| {
            let spot = path.get(*before)?;
            if begins(spot) {
                return Some(Bounds { least: 0.0, most: 0.0 });
            }
            Some((*upstream.get(*before)?)?.plus(length(spot.part, reads)))
        });
        upstream.push(ways.reduce(Bounds::or_shorter));
    }
    upstream.pop().flatten()
}

fn length(part: &Part, reads: &dyn Reads) -> Bounds {
    match part.duct.as_ref().map(|duct| duct.length.get(reads)) {
        Some(Known::Is(length)) => Bounds { least: length.si(), most: length.si() },
        Some(Known::Open(missing)) => {
            reads.note(Read::Lacking(missing));
            Bounds { least: 0.0, most: f64::INFINITY }
        }
        _ => Bounds { least: 0.0, most: f64::INFINITY },
    }
}

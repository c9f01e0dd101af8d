//! How far the air runs straight ahead of a part and behind it.

use super::Tract;
use super::path::{Path, Spot};
use crate::build::parts::{Body, Part, PartKind, Pipe};
use crate::build::scalars::List;
use crate::known::{Known, Missing, Read, Reads, State};

/// Two bores that differ by no more than this share are taken as one: common practice, no source.
const SAME_BORE: f64 = 0.03;

/// Which way is looked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Against the air.
    Upstream,
    /// With it.
    Downstream,
}

/// Where a pipe bends: the distances from its upstream end at which the air leaves the straight and, at the least, at
/// which it is back on it.
#[derive(Clone, Copy, Debug)]
struct Turn {
    from: f64,
    to: f64,
}

impl<'b> Tract<'b> {
    /// Length of straight pipe of one bore between a part and the next thing on one side that disturbs the flow: a bend, a
    /// step, a part that is no pipe, or branches that join. What is not given leaves it between bounds. The arc of a bend
    /// is taken to lie wholly where it shortens the stretch. Air that a relief valve leads back is left out: where that
    /// comes in is a question of its own.
    pub fn straight_length(&self, part: &Part, side: Side, reads: &dyn Reads) -> Known<f64> {
        self.path(reads).and_then(|path| {
            let Some(start) = path.spot(&part.name) else {
                return Known::not_applicable("it does not sit on the air path");
            };
            let bore = part.duct.as_ref().map(|duct| duct.bore.get(reads));
            let Some(bore) = bore else { return Known::not_applicable("it has no bore") };
            bore.map(|bore| bore.si()).and_then(|bore| self.run(&path, start, bore, side, reads))
        })
    }

    fn run(&self, path: &Path<'b>, start: &Spot<'b>, bore: f64, side: Side, reads: &dyn Reads) -> Known<f64> {
        let mut sum = 0.0;
        let mut at = start.index;
        let lacking = |sum: f64, most: f64, missing: Missing| {
            reads.note(Read::Lacking(missing));
            Known::Between(sum, most)
        };
        loop {
            let next = match side {
                Side::Upstream => path.before(at),
                Side::Downstream => path.behind(at),
            };
            let (&[only], true) = (next, self.runs_straight(path, next, side)) else { return Known::Is(sum) };
            let Some(spot) = path.get(only) else { return Known::Is(sum) };
            let Some(duct) = spot.part.duct.as_ref().filter(|_| leads_straight(spot.kind)) else {
                return Known::Is(sum);
            };
            match duct.bore.get(reads) {
                Known::Is(own) if (own.si() / bore - 1.0).abs() > SAME_BORE => return Known::Is(sum),
                Known::Open(missing) => return lacking(sum, f64::INFINITY, missing),
                _ => {}
            }
            let length = duct.length.get(reads).map(|length| length.si());
            let bends = match &spot.part.body {
                Body::Pipe(pipe) => bends(pipe, reads),
                _ => Known::Is(Vec::new()),
            };
            let bends = match bends {
                Known::Is(bends) => bends,
                Known::Open(missing) => {
                    let most = length.exact().map_or(f64::INFINITY, |length| sum + length);
                    return lacking(sum, most, missing);
                }
                _ => Vec::new(),
            };
            let nearest = bends.iter().map(|one| match side {
                Side::Downstream => one.from,
                Side::Upstream => -one.to,
            });
            let nearest = nearest.reduce(f64::min);
            match (length, nearest, side) {
                (Known::Is(length), Some(nearest), _) => {
                    let stretch = if side == Side::Upstream { length + nearest } else { nearest };
                    return Known::Is(sum + stretch.clamp(0.0, length));
                }
                (_, Some(nearest), Side::Downstream) => return Known::Is(sum + nearest.max(0.0)),
                (Known::Is(length), None, _) => sum += length,
                (Known::Open(missing), ..) => return lacking(sum, f64::INFINITY, missing),
                _ => return Known::Is(sum),
            }
            at = only;
        }
    }

    /// Whether nothing joins or forks between a part and the one next to it.
    fn runs_straight(&self, path: &Path<'b>, next: &[usize], side: Side) -> bool {
        next.iter().all(|at| {
            let back = match side {
                Side::Upstream => path.behind(*at),
                Side::Downstream => path.before(*at),
            };
            back.len() == 1
        })
    }
}

/// Kinds through which air runs on straight.
fn leads_straight(kind: PartKind) -> bool {
    matches!(kind, PartKind::Pipe | PartKind::Coupler)
}

fn bends(pipe: &Pipe, reads: &dyn Reads) -> Known<Vec<Turn>> {
    let List(list) = match pipe.bends.state(reads) {
        State::Given(list) => list,
        State::SaidNone => return Known::Is(Vec::new()),
        State::Faulty => return Known::missing(pipe.bends.route()),
        State::Absent => {
            let words = "no bends, as none are described";
            reads.note(Read::Default { field: pipe.bends.route().clone(), words: words.into() });
            return Known::Is(Vec::new());
        }
    };
    let each = list.iter().map(|bend| {
        let arc = bend.angle.get(reads).zip(bend.radius.get(reads));
        let half = arc.map(|(angle, radius)| 0.5 * angle.si() * radius.si());
        bend.at.get(reads).zip(half).map(|(at, half)| Turn { from: at.si() - half, to: at.si() })
    });
    each.collect()
}

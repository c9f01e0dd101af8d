//! The hoses as a network: tees cut a hose into pieces, and each piece joins two nodes.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::Tract;
use crate::build::hoses::{End, HoseFields, Inline, Named};
use crate::build::scalars::{AIR, Destination, HoseName, List, PartName};
use crate::known::{Field, Known, Missing, Reads, State};
use crate::text::Route;

/// What a piece of hose ends at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Node {
    /// A part.
    Part(Arc<str>),
    /// The open air.
    Air,
    /// A tee, by the hose that turns off there and which of its ends.
    Tee((usize, usize)),
}

/// A check valve, or whatever else sits in a hose.
#[derive(Clone, Debug)]
pub(super) struct Valve {
    /// The part's name.
    pub name: Arc<str>,
    /// Where the hose names it; the place that is missing, where the place would tell which piece it sits in.
    pub route: Route,
    /// Whether it is known to sit in this piece of the hose.
    pub surely_here: bool,
}

/// A piece of hose without a tee between its ends.
#[derive(Clone, Debug)]
pub(super) struct Piece<'b> {
    /// The hose.
    pub hose: &'b Named<HoseFields>,
    /// Its fields.
    pub fields: &'b HoseFields,
    /// What it joins, in the hose's own direction.
    pub ends: [Node; 2],
    /// The parts at the ends of the whole hose.
    pub hose_ends: [Option<Arc<str>>; 2],
    /// What sits in it, in order.
    pub valves: Vec<Valve>,
    /// What would have to be known to say what sits in it.
    pub unknown: Option<Missing>,
    order: (usize, usize),
}

impl Piece<'_> {
    /// Whether it is the same piece.
    pub fn is(&self, other: &Self) -> bool {
        self.order == other.order
    }

    /// Its place in the order of the text.
    pub fn order(&self) -> (usize, usize) {
        self.order
    }
}

/// All pieces of all hoses.
pub(super) struct Network<'b> {
    pieces: Vec<Piece<'b>>,
}

/// One end of a hose, and where on its host hose it sits if it is a tee.
struct Ended {
    node: Node,
    on: Option<(Arc<str>, Known<f64>, Route)>,
}

impl<'b> Network<'b> {
    /// The network of a build, and what would have to be known to know it whole.
    pub fn of(tract: &Tract<'b>, reads: &dyn Reads) -> (Self, Missing) {
        let field = &tract.build().top.hoses;
        let mut unknown = match field.state(reads) {
            State::Faulty => Missing::field(field.route()),
            State::Given(_) | State::Absent | State::SaidNone => Missing::default(),
        };
        let hoses = tract.hoses_unrecorded();
        let mut ended: Vec<Option<[Ended; 2]>> = Vec::with_capacity(hoses.len());
        for (number, hose) in hoses.iter().enumerate() {
            let Some(fields) = &hose.fields else {
                unknown = unknown.join(Missing::field(&hose.route));
                ended.push(None);
                continue;
            };
            match (end_at(&fields.from, (number, 0), reads), end_at(&fields.to, (number, 1), reads)) {
                (Ok(from), Ok(to)) => ended.push(Some([from, to])),
                (Err(one), Err(other)) => {
                    unknown = unknown.join(one).join(other);
                    ended.push(None);
                }
                (Err(missing), Ok(_)) | (Ok(_), Err(missing)) => {
                    unknown = unknown.join(missing);
                    ended.push(None);
                }
            }
        }
        let mut tees_of: BTreeMap<&str, Vec<TeedEnd<'_>>> = BTreeMap::new();
        for end in ended.iter().flatten().flatten() {
            if let Some((name, at, route)) = &end.on {
                tees_of.entry(&**name).or_default().push((&end.node, at, route));
            }
        }
        let mut pieces = Vec::new();
        for (number, hose) in hoses.iter().enumerate() {
            let (Some(fields), Some(Some([from, to]))) = (&hose.fields, ended.get(number)) else { continue };
            let mut tees = tees_of.remove(&*hose.name).unwrap_or_default();
            tees.sort_by(|a, b| place(a.1).total_cmp(&place(b.1)));
            cut(&mut pieces, number, hose, fields, [&from.node, &to.node], &tees, tract, reads);
        }
        (Self { pieces }, unknown)
    }

    /// The pieces at a node, each with whether it leads away from it in the hose's own direction.
    pub fn at<'s>(&'s self, node: &'s Node) -> impl Iterator<Item = (&'s Piece<'b>, bool)> + 's {
        self.pieces.iter().flat_map(move |piece| {
            let forward = (piece.ends[0] == *node).then_some((piece, true));
            let backward = (piece.ends[1] == *node).then_some((piece, false));
            forward.into_iter().chain(backward)
        })
    }
}

/// Where a tee sits; one of unknown place is taken to sit at the end.
fn place(at: &Known<f64>) -> f64 {
    at.exact().copied().unwrap_or(f64::INFINITY)
}

/// Cuts a hose into pieces at its tees.
#[allow(clippy::too_many_arguments, reason = "one call, and a struct for it would only rename its arguments")]
fn cut<'b>(
    pieces: &mut Vec<Piece<'b>>,
    number: usize,
    hose: &'b Named<HoseFields>,
    fields: &'b HoseFields,
    ends: [&Node; 2],
    tees: &[(&Node, &Known<f64>, &Route)],
    tract: &Tract<'b>,
    reads: &dyn Reads,
) {
    let name = |node: &Node| match node {
        Node::Part(name) => Some(name.clone()),
        Node::Air => Some(Arc::from(AIR)),
        Node::Tee(_) => None,
    };
    let (inline, unknown) = inline(fields, tract, reads);
    let nodes: Vec<&Node> =
        [ends[0]].into_iter().chain(tees.iter().map(|tee| tee.0)).chain([ends[1]]).collect();
    for (count, pair) in nodes.windows(2).enumerate() {
        let &[one, other] = pair else { continue };
        let valves = inline.iter().filter_map(|(valve, at)| {
            let mut valve = valve.clone();
            valve.surely_here = tees.is_empty();
            if !tees.is_empty() {
                let here = match at {
                    Ok(at) => tees.iter().filter(|tee| place(tee.1) <= *at).count() == count,
                    Err(missing) => {
                        valve.route = missing.clone();
                        true
                    }
                };
                let tee_unknown = tees.iter().find(|tee| tee.1.exact().is_none());
                match tee_unknown {
                    Some((_, _, route)) => valve.route = (*route).clone(),
                    None if !here => return None,
                    None => valve.surely_here = at.is_ok(),
                }
            }
            Some(valve)
        });
        pieces.push(Piece {
            hose,
            fields,
            ends: [one.clone(), other.clone()],
            hose_ends: ends.map(name),
            valves: valves.collect(),
            unknown: unknown.clone(),
            order: (number, count),
        });
    }
}

/// The end of a hose that tees off another: what it is, its place along that hose, and where it is written.
type TeedEnd<'s> = (&'s Node, &'s Known<f64>, &'s Route);

/// A valve in a hose with its place along it, or the field that would give that.
type PlacedValve = (Valve, Result<f64, Route>);

/// What sits in a hose, each with its place or the field that would give it; and what would have to be known of it.
fn inline(fields: &HoseFields, tract: &Tract<'_>, reads: &dyn Reads) -> (Vec<PlacedValve>, Option<Missing>) {
    let through = &fields.through;
    let list = match through.state(reads) {
        State::Given(List(list)) => list,
        State::Faulty => return (Vec::new(), Some(Missing::field(through.route()))),
        State::SaidNone => return (Vec::new(), None),
        State::Absent => {
            let unknown = match tract.build().claims(crate::build::Area::Signals, reads) {
                Known::Open(missing) => Some(missing.join(Missing::field(through.route()))),
                _ => None,
            };
            return (Vec::new(), unknown);
        }
    };
    let mut found = Vec::new();
    let mut unknown: Option<Missing> = None;
    for (i, one) in list.iter().enumerate() {
        let route = through.route().index(i);
        let (name, at) = match one {
            Inline::Named(PartName(name)) => (Known::Is(name), Err(route.clone())),
            Inline::Placed(place) => {
                let name = place.part.get(reads).map(|PartName(name)| name);
                let at = match place.at.get(reads) {
                    Known::Is(at) => Ok(at.si()),
                    _ => Err(place.at.route().clone()),
                };
                (name, at)
            }
        };
        match name {
            Known::Is(name) => found.push((Valve { name: name.clone(), route, surely_here: true }, at)),
            Known::Open(missing) => unknown = Some(unknown.unwrap_or_default().join(missing)),
            Known::Between(..) | Known::NotApplicable(_) => {}
        }
    }
    (found, unknown)
}

/// What an end of a hose is.
fn end_at(field: &Field<End>, number: (usize, usize), reads: &dyn Reads) -> Result<Ended, Missing> {
    let missing = |known: Known<&PartName>, field: &Field<PartName>| match known {
        Known::Open(missing) => missing,
        _ => Missing::field(field.route()),
    };
    match field.get(reads) {
        Known::Is(End::Named(Destination(name))) if &**name == AIR => Ok(Ended { node: Node::Air, on: None }),
        Known::Is(End::Named(Destination(name))) => Ok(Ended { node: Node::Part(name.clone()), on: None }),
        Known::Is(End::Placed(tap)) => match tap.part.get(reads) {
            Known::Is(PartName(name)) => Ok(Ended { node: Node::Part(name.clone()), on: None }),
            other => Err(missing(other, &tap.part)),
        },
        Known::Is(End::Teed(tee)) => match tee.hose.get(reads) {
            Known::Is(HoseName(hose)) => {
                let at = tee.at.get(reads).map(|at| at.si());
                Ok(Ended { node: Node::Tee(number), on: Some((hose.clone(), at, tee.at.route().clone())) })
            }
            Known::Open(missing) => Err(missing),
            _ => Err(Missing::field(tee.hose.route())),
        },
        Known::Open(missing) => Err(missing),
        _ => Err(Missing::field(field.route())),
    }
}

//! The hoses as a network: tees cut a hose into pieces, and each piece joins two nodes.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::Tract;
use crate::build::Area;
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
        let mut tees_of: BTreeMap<&str, Vec<TeeIn<'_>>> = BTreeMap::new();
        for end in ended.iter().flatten().flatten() {
            if let Some((name, at, route)) = &end.on {
                // One of unknown place is taken to sit at the end.
                let tee = TeeIn { node: &end.node, at: at.exact().copied(), route };
                tees_of.entry(&**name).or_default().push(tee);
            }
        }
        let mut pieces = Vec::new();
        for (number, hose) in hoses.iter().enumerate() {
            let (Some(fields), Some(Some([from, to]))) = (&hose.fields, ended.get(number)) else { continue };
            let mut tees = tees_of.remove(&*hose.name).unwrap_or_default();
            tees.sort_by(|a, b| a.place().total_cmp(&b.place()));
            let ends = [&from.node, &to.node];
            let whole = Whole { number, hose, fields, ends, tees, inside: Inside::of(fields, tract, reads) };
            whole.cut(&mut pieces);
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

/// A tee in a hose.
struct TeeIn<'n> {
    node: &'n Node,
    at: Option<f64>,
    /// The field that gives its place.
    route: &'n Route,
}

impl TeeIn<'_> {
    fn place(&self) -> f64 {
        self.at.unwrap_or(f64::INFINITY)
    }
}

/// A hose with its tees and with what sits in it.
struct Whole<'n, 'b> {
    number: usize,
    hose: &'b Named<HoseFields>,
    fields: &'b HoseFields,
    ends: [&'n Node; 2],
    tees: Vec<TeeIn<'n>>,
    inside: Inside,
}

impl<'b> Whole<'_, 'b> {
    /// Cuts the hose into pieces at its tees.
    fn cut(&self, pieces: &mut Vec<Piece<'b>>) {
        let name = |node: &Node| match node {
            Node::Part(name) => Some(name.clone()),
            Node::Air => Some(Arc::from(AIR)),
            Node::Tee(_) => None,
        };
        let [from, to] = self.ends;
        let tees = self.tees.iter().map(|tee| tee.node);
        let nodes: Vec<&Node> = std::iter::once(from).chain(tees).chain([to]).collect();
        for (count, pair) in nodes.windows(2).enumerate() {
            let &[one, other] = pair else { continue };
            pieces.push(Piece {
                hose: self.hose,
                fields: self.fields,
                ends: [one.clone(), other.clone()],
                hose_ends: self.ends.map(name),
                valves: self.inside.valves.iter().filter_map(|valve| self.in_piece(valve, count)).collect(),
                unknown: self.inside.unknown.clone(),
                order: (self.number, count),
            });
        }
    }

    /// What sits in a hose, as part of one of its pieces; nothing when it is known to sit in another.
    fn in_piece(&self, (valve, at): &Placed, count: usize) -> Option<Valve> {
        let unsure =
            |route: &Route| Some(Valve { route: route.clone(), surely_here: false, ..valve.clone() });
        if self.tees.is_empty() {
            return Some(valve.clone());
        }
        if let Some(tee) = self.tees.iter().find(|tee| tee.at.is_none()) {
            return unsure(tee.route);
        }
        match at {
            Err(missing) => unsure(missing),
            Ok(at) => {
                let before = self.tees.iter().filter(|tee| tee.place() <= *at).count();
                (before == count).then(|| valve.clone())
            }
        }
    }
}

/// A thing in a hose with its place, or with the field that would give it.
type Placed = (Valve, Result<f64, Route>);

/// What sits in a hose.
struct Inside {
    valves: Vec<Placed>,
    /// What would have to be known of it.
    unknown: Option<Missing>,
}

impl Inside {
    fn of(fields: &HoseFields, tract: &Tract<'_>, reads: &dyn Reads) -> Self {
        let through = &fields.through;
        let none = |unknown| Self { valves: Vec::new(), unknown };
        let list = match through.state(reads) {
            State::Given(List(list)) => list,
            State::Faulty => return none(Some(Missing::field(through.route()))),
            State::SaidNone => return none(None),
            State::Absent => {
                return none(match tract.build().claims(Area::Signals, reads) {
                    Known::Open(missing) => Some(missing.join(Missing::field(through.route()))),
                    _ => None,
                });
            }
        };
        let mut inside = none(None);
        for (i, one) in list.iter().enumerate() {
            let route = through.route().index(i);
            let (name, at) = match one {
                Inline::Named(PartName(name)) => (Known::Is(name), Err(route.clone())),
                Inline::Placed(place) => {
                    let at = match place.at.get(reads) {
                        Known::Is(at) => Ok(at.si()),
                        _ => Err(place.at.route().clone()),
                    };
                    (place.part.get(reads).map(|PartName(name)| name), at)
                }
            };
            match name {
                Known::Is(name) => {
                    inside.valves.push((Valve { name: name.clone(), route, surely_here: true }, at));
                }
                Known::Open(missing) => {
                    inside.unknown = Some(inside.unknown.unwrap_or_default().join(missing));
                }
                Known::Between(..) | Known::NotApplicable(_) => {}
            }
        }
        inside
    }
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

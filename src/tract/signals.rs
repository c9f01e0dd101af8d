//! Hoses: what they join, with tees, and which way their check valves let air pass.

use std::sync::Arc;

use super::Tract;
use super::hoses::{Network, Node, Piece, Valve};
use crate::build::Area;
use crate::build::hoses::{End, HoseFields, Inline, Named, NamedList};
use crate::build::parts::{Body, Part, PartKind};
use crate::build::scalars::{AIR, Destination, List, PartName};
use crate::known::{Known, Missing, Reads, State, Unrecorded};
use crate::text::Route;

/// Kinds that only pass on what comes through their hoses. A plenum on the air path is more than that.
const PASSING_ON: &[PartKind] =
    &[PartKind::BoostSolenoid, PartKind::CatchTank, PartKind::CheckValve, PartKind::Plenum];

/// Ways through hoses are followed over at most so many tees and parts, from one part.
const MOST_TURNINGS: usize = 1000;

/// A way through one or more hoses from a part to another part or to the open air.
#[derive(Clone, Debug)]
pub struct Span<'b> {
    /// The hose at the part that was asked for.
    pub hose: &'b Named<HoseFields>,
    /// Its fields.
    pub fields: &'b HoseFields,
    /// Names of what the way joins: the part that was asked for, and what lies at the far end; `air` is the open air.
    pub ends: [Arc<str>; 2],
    /// The field of the last hose's far end.
    pub far: Route,
    /// Whether the way goes on over a tee or through a part that only passes on, where other ways may turn off.
    pub branches: bool,
    steps: Vec<Stretch<'b>>,
}

/// One piece of a way, with its direction.
#[derive(Clone, Debug)]
struct Stretch<'b> {
    piece: Piece<'b>,
    /// Whether the way runs from the hose's `from` to its `to`.
    forward: bool,
    /// A check valve that ends the piece with hoses on either side of it.
    valve_behind: Option<Arc<str>>,
}

impl<'b> Span<'b> {
    /// The hoses of the way, each once, in order from the part that was asked for.
    pub fn hoses(&self) -> Vec<&'b Named<HoseFields>> {
        let mut hoses: Vec<&'b Named<HoseFields>> = Vec::new();
        for step in &self.steps {
            if !hoses.iter().any(|hose| hose.name == step.piece.hose.name) {
                hoses.push(step.piece.hose);
            }
        }
        hoses
    }

    /// The pieces from the part that was asked for to the first part or chamber on the way.
    fn first_pieces(&self) -> impl Iterator<Item = &Piece<'b>> {
        let ends = self.steps.iter().position(|step| !matches!(step.next(), Node::Tee(_)));
        let first = ends.map_or(self.steps.len(), |at| at + 1);
        self.steps.iter().take(first).map(|step| &step.piece)
    }

    /// Whether it has a piece of hose in common with another way, short of the first part or chamber on either.
    pub fn shares_a_hose_with(&self, other: &Self) -> bool {
        self.first_pieces().any(|piece| other.first_pieces().any(|theirs| piece.is(theirs)))
    }
}

impl Stretch<'_> {
    /// What it leads to.
    fn next(&self) -> &Node {
        if self.forward { &self.piece.ends[1] } else { &self.piece.ends[0] }
    }
}

/// How a part hangs on another.
#[derive(Clone, Debug)]
pub enum Connection<'b> {
    /// By hoses, to the part of this name, or to the open air.
    Hose(Span<'b>, Arc<str>),
    /// By its own tap on this part, or by an end of its own.
    Tap(&'b Part),
}

impl Connection<'_> {
    /// The name of what it hangs on; `air` is the open air.
    pub fn other(&self) -> &str {
        match self {
            Self::Hose(_, other) => other,
            Self::Tap(host) => &host.name,
        }
    }
}

/// What was found, and what would have to be known to rule out more of it.
#[derive(Clone, Debug)]
pub struct Ways<T> {
    /// What was found, in the order of the text.
    pub found: Vec<T>,
    /// What is missing; nothing where no more can be.
    pub unknown: Missing,
}

impl<T> Ways<T> {
    /// Whether any of them answers yes. No is an answer only where no further one can be.
    pub fn any(&self, asked: impl Fn(&T) -> Known<bool>) -> Known<bool> {
        let mut unknown = self.unknown.clone();
        for one in &self.found {
            match asked(one) {
                Known::Is(true) => return Known::Is(true),
                Known::Open(missing) => unknown = unknown.join(missing),
                _ => {}
            }
        }
        if unknown.is_nothing() { Known::Is(false) } else { Known::Open(unknown) }
    }

    /// Something of each of them, where all of them are known.
    pub fn each<U>(&self, asked: impl Fn(&T) -> Known<U>) -> Known<Vec<U>> {
        let all: Known<Vec<U>> = self.found.iter().map(asked).collect();
        match all {
            Known::Open(missing) => Known::Open(missing.join(self.unknown.clone())),
            all if self.unknown.is_nothing() => all,
            _ => Known::Open(self.unknown.clone()),
        }
    }
}

impl<'b> Tract<'b> {
    pub(super) fn hoses_unrecorded(&self) -> &'b [Named<HoseFields>] {
        match self.build().top.hoses.state(&Unrecorded) {
            State::Given(NamedList(list)) => list,
            _ => &[],
        }
    }

    /// The ways through hoses from a part to others; and what would have to be known to rule out more.
    pub fn hoses_at(&self, name: &str, reads: &dyn Reads) -> (Vec<Span<'b>>, Missing) {
        let (network, mut unknown) = Network::of(self, reads);
        let mut found = Vec::new();
        let mut todo: Vec<(Node, Vec<Stretch<'b>>)> = vec![(Node::Part(name.into()), Vec::new())];
        let mut turnings = 0;
        while let Some((node, steps)) = todo.pop() {
            turnings += 1;
            if turnings > MOST_TURNINGS {
                unknown = unknown
                    .join(Missing::hindrance(format!("the hoses at {name} branch too much to be followed")));
                break;
            }
            let walked = |piece: &Piece<'b>| steps.iter().any(|step| step.piece.is(piece));
            for (piece, forward) in network.at(&node).filter(|(piece, _)| !walked(piece)) {
                let next = if forward { &piece.ends[1] } else { &piece.ends[0] };
                let mut steps = steps.clone();
                steps.push(Stretch { piece: piece.clone(), forward, valve_behind: None });
                let far = match next {
                    Node::Tee(_) => {
                        todo.push((next.clone(), steps));
                        continue;
                    }
                    Node::Air => Arc::from(AIR),
                    Node::Part(other) if **other == *name => continue,
                    Node::Part(other) => other.clone(),
                };
                match self.passes_on(&far, reads) {
                    Known::Is(Some(kind)) => {
                        if let Some(last) = steps.last_mut().filter(|_| kind == PartKind::CheckValve) {
                            last.valve_behind = Some(far.clone());
                        }
                        todo.push((next.clone(), steps));
                    }
                    Known::Open(missing) => unknown = unknown.join(missing),
                    _ => found.extend(self.span(name, far, steps)),
                }
            }
        }
        // The walk takes the last turning first; results stand in the order of the text.
        found.sort_by_key(|span| span.steps.iter().map(|step| step.piece.order()).collect::<Vec<_>>());
        (found, unknown)
    }

    fn span(&self, name: &str, far: Arc<str>, steps: Vec<Stretch<'b>>) -> Option<Span<'b>> {
        let first = &steps.first()?.piece;
        let last = steps.last()?;
        let end = if last.forward { &last.piece.fields.to } else { &last.piece.fields.from };
        let (hose, fields, far_route) = (first.hose, first.fields, end.route().clone());
        let branches = steps.len() > 1;
        Some(Span { hose, fields, ends: [name.into(), far], far: far_route, branches, steps })
    }

    /// The kind of a part that only passes on what its hoses bring; nothing for any other part.
    fn passes_on(&self, name: &str, reads: &dyn Reads) -> Known<Option<PartKind>> {
        let Some(part) = self.build().parts.named(name) else { return Known::Is(None) };
        part.kind.get(reads).and_then(|kind| {
            if !PASSING_ON.contains(kind) {
                return Known::Is(None);
            }
            self.is_on_path(name, reads).map(|on_path| (!on_path).then_some(*kind))
        })
    }

    /// The ways from a part that lead somewhere: what merely hangs on the same hose by a tee, or on the same chamber,
    /// neither feeds the part nor blows into it.
    fn ways_to_tract(&self, name: &str, reads: &dyn Reads) -> (Vec<Span<'b>>, Missing) {
        let (mut ways, unknown) = self.hoses_at(name, reads);
        ways.retain(|way| {
            let far = self.build().parts.named(&way.ends[1]).and_then(Part::known_kind);
            !(way.branches && far.is_some_and(|kind| !kind.on_path()))
        });
        (ways, unknown)
    }

    /// How a part is connected: by hoses, by its own tap, by ends of its own. Nothing is found when it is known to hang on
    /// nothing.
    pub fn connections(&self, part: &'b Part, reads: &dyn Reads) -> Known<Ways<Connection<'b>>> {
        let (hoses, unknown) = self.ways_to_tract(&part.name, reads);
        let mut found: Vec<Connection<'b>> = hoses
            .into_iter()
            .map(|span| {
                let far = span.ends[1].clone();
                Connection::Hose(span, far)
            })
            .collect();
        match part.common.tap.state(reads) {
            State::Given(_) => match self.host_of(part, reads) {
                Known::Is(host) => found.push(Connection::Tap(host)),
                other => return other.and_then(|_| Known::missing(part.common.tap.route())),
            },
            State::Faulty => return Known::missing(part.common.tap.route()),
            State::Absent | State::SaidNone => {}
        }
        if let Body::IdleAirValve(valve) = &part.body {
            let from = match valve.from.state(reads) {
                State::Given(Destination(name)) if &**name != AIR => Some((name, valve.from.route())),
                _ => None,
            };
            let to = match valve.to.state(reads) {
                State::Given(PartName(name)) => Some((name, valve.to.route())),
                _ => None,
            };
            for (name, route) in from.into_iter().chain(to) {
                match self.named(name, route) {
                    Known::Is(host) => found.push(Connection::Tap(host)),
                    other => return other.and_then(|_| Known::missing(route)),
                }
            }
        }
        self.ways(found, unknown, reads)
    }

    /// Whether a part is connected to the part of a name, or to the open air, by a hose or a tap.
    pub fn leads_to(&self, part: &'b Part, name: &str, reads: &dyn Reads) -> Known<bool> {
        self.connections(part, reads)
            .and_then(|connections| connections.any(|connection| Known::Is(connection.other() == name)))
    }

    /// What was found; nothing at all is known only where no further hose can be.
    fn ways<T: Clone>(&self, found: Vec<T>, unknown: Missing, reads: &dyn Reads) -> Known<Ways<T>> {
        if found.is_empty() {
            return self
                .nothing_more(unknown, reads)
                .map(|()| Ways { found: Vec::new(), unknown: Missing::default() });
        }
        Known::Is(Ways { found, unknown })
    }

    /// Whether it is known that no further hose exists: the signals must be claimed complete.
    fn nothing_more(&self, unknown: Missing, reads: &dyn Reads) -> Known<()> {
        if unknown != Missing::default() {
            return Known::Open(unknown);
        }
        match self.build().claims(Area::Signals, reads) {
            Known::Open(missing) => Known::Open(missing.join(Missing::field(self.build().top.hoses.route()))),
            claimed => claimed,
        }
    }

    /// Names of what feeds a valve's signal: the far ends of its hoses.
    pub fn signal_sources(&self, valve: &'b Part, reads: &dyn Reads) -> Known<Ways<(Span<'b>, Arc<str>)>> {
        let (hoses, unknown) = self.ways_to_tract(&valve.name, reads);
        let sources = hoses.into_iter().map(|span| {
            let far = span.ends[1].clone();
            (span, far)
        });
        self.ways(sources.collect(), unknown, reads)
    }

    /// Whether a part is reached by a tap, a hose or a discharge, sits in a hose, or belongs to another part.
    pub fn is_attached(&self, part: &'b Part, reads: &dyn Reads) -> Known<bool> {
        if part.common.tap.is_given(reads) || self.belongs(part, reads) || self.takes_discharge(part, reads) {
            return Known::Is(true);
        }
        let mut unknown = match self.build().top.hoses.state(reads) {
            State::Faulty => Missing::field(self.build().top.hoses.route()),
            _ => Missing::default(),
        };
        for hose in self.hoses_unrecorded() {
            let Some(fields) = &hose.fields else {
                unknown = unknown.join(Missing::field(&hose.route));
                continue;
            };
            for end in [&fields.from, &fields.to] {
                match end.state(reads) {
                    State::Given(end) if reaches(end, &part.name, reads) => return Known::Is(true),
                    State::Given(_) => {}
                    _ => unknown = unknown.join(Missing::field(end.route())),
                }
            }
            match fields.through.state(reads) {
                State::Given(List(inline)) if inline.iter().any(|one| sits_in(one, &part.name, reads)) => {
                    return Known::Is(true);
                }
                State::Faulty => unknown = unknown.join(Missing::field(fields.through.route())),
                _ => {}
            }
        }
        if unknown == Missing::default() { Known::Is(false) } else { Known::Open(unknown) }
    }

    /// Whether a part belongs to another by a field of either: a wastegate to its turbocharger, an actuator to what it
    /// moves, an idle air valve to what it feeds.
    fn belongs(&self, part: &Part, reads: &dyn Reads) -> bool {
        let own = match &part.body {
            Body::Actuator(actuator) => actuator.moves.is_given(reads),
            Body::IdleAirValve(valve) => valve.from.is_given(reads) || valve.to.is_given(reads),
            _ => false,
        };
        own || self.build().parts.list.iter().any(|other| {
            let field = match &other.body {
                Body::Turbocharger(turbocharger) => &turbocharger.wastegate,
                Body::Actuator(actuator) => &actuator.moves,
                _ => return false,
            };
            matches!(field.state(reads), State::Given(PartName(name)) if *name == part.name)
        })
    }

    fn takes_discharge(&self, part: &Part, reads: &dyn Reads) -> bool {
        self.build().parts.list.iter().any(|other| {
            let Body::ReliefValve(valve) = &other.body else { return false };
            let Known::Is(List(ports)) = valve.discharge.get(reads) else { return false };
            ports.iter().any(|port| matches!(port.to.get(reads), Known::Is(to) if to.0 == part.name))
        })
    }

    /// Whether air can pass along a way towards the end called `into`: each check valve on it must let it.
    pub fn passes_towards(&self, span: &Span<'b>, into: &str, reads: &dyn Reads) -> Known<bool> {
        let outward = *span.ends[1] == *into;
        let mut unknown = Missing::default();
        for step in &span.steps {
            let piece = &step.piece;
            if let Some(missing) = &piece.unknown {
                unknown = unknown.join(missing.clone());
            }
            let valves = piece.valves.iter().map(|valve| (valve.clone(), step.forward == outward));
            let behind = step.valve_behind.iter().map(|name| {
                let at = piece.hose.route.clone();
                (Valve { name: name.clone(), route: at, surely_here: true }, step.forward == outward)
            });
            for (valve, forward) in valves.chain(behind) {
                match self.valve_passes(&valve, piece, forward, span, into, reads) {
                    Known::Is(true) => {}
                    // Where the valve sits decides whether it is on this way at all.
                    Known::Is(false) if !valve.surely_here => {
                        unknown = unknown.join(Missing::field(&valve.route));
                    }
                    Known::Is(false) => return Known::Is(false),
                    Known::Open(missing) => unknown = unknown.join(missing),
                    Known::Between(..) | Known::NotApplicable(_) => {}
                }
            }
        }
        if unknown == Missing::default() { Known::Is(true) } else { Known::Open(unknown) }
    }

    /// Whether a check valve lets air pass: by the ends of the hose it sits in, else by the ends of the whole way.
    fn valve_passes(
        &self,
        valve: &Valve,
        piece: &Piece<'b>,
        forward: bool,
        span: &Span<'b>,
        into: &str,
        reads: &dyn Reads,
    ) -> Known<bool> {
        self.named(&valve.name, &valve.route).and_then(|part| {
            let Body::CheckValve(check) = &part.body else {
                // Something else in the hose does not stop the air; of an unknown kind it might.
                return part.kind.get(reads).map(|_| true);
            };
            check.flows.get(reads).and_then(|flows| {
                let ends = flows.from.get(reads).zip(flows.to.get(reads));
                ends.and_then(|(PartName(from), PartName(to))| {
                    let [near, far] = &span.ends;
                    let (source, target) = if **far == *into { (near, far) } else { (far, near) };
                    let [first, last] = &piece.hose_ends;
                    let (start, end) = if forward { (first, last) } else { (last, first) };
                    let is =
                        |end: &Option<Arc<str>>, name: &Arc<str>| end.as_ref().is_some_and(|end| end == name);
                    let with = |from: &Arc<str>, to: &Arc<str>| {
                        from == source || to == target || is(start, from) || is(end, to)
                    };
                    match (with(from, to), with(to, from)) {
                        (true, false) => Known::Is(true),
                        (false, true) => Known::Is(false),
                        _ => Known::Open(
                            Missing::field(flows.from.route()).join(Missing::field(flows.to.route())),
                        ),
                    }
                })
            })
        })
    }
}

fn reaches(end: &End, name: &str, reads: &dyn Reads) -> bool {
    match end {
        End::Named(Destination(other)) => **other == *name,
        End::Placed(tap) => matches!(tap.part.get(reads), Known::Is(PartName(other)) if **other == *name),
        End::Teed(_) => false,
    }
}

fn sits_in(inline: &Inline, name: &str, reads: &dyn Reads) -> bool {
    match inline {
        Inline::Named(PartName(other)) => **other == *name,
        Inline::Placed(place) => {
            matches!(place.part.get(reads), Known::Is(PartName(other)) if **other == *name)
        }
    }
}

//! Hoses: what they join, and which way their check valves let air pass.

use std::sync::Arc;

use super::Tract;
use crate::build::Area;
use crate::build::hoses::{End, HoseFields, Named, NamedList};
use crate::build::parts::{Body, Part, PartKind, Tap};
use crate::build::scalars::{List, PartName};
use crate::known::{Field, Known, Missing, Reads, State, Unrecorded};
use crate::text::Route;

/// Kinds that draw air or vacuum from the tract.
pub(super) const CONSUMERS: &[PartKind] =
    &[PartKind::BrakeServo, PartKind::Breather, PartKind::PurgeValve, PartKind::IdleAirValve];

/// One hose with both its ends known.
#[derive(Clone, Debug)]
pub struct Span<'b> {
    /// The hose.
    pub hose: &'b Named<HoseFields>,
    /// Its fields.
    pub fields: &'b HoseFields,
    /// Names of the parts at its ends.
    pub ends: [Arc<str>; 2],
}

/// How a part hangs on another.
#[derive(Clone, Debug)]
pub enum Connection<'b> {
    /// By a hose, to the part of this name.
    Hose(Span<'b>, Arc<str>),
    /// By its own tap on this part.
    Tap(&'b Part),
}

fn end_name(field: &Field<End>, reads: &dyn Reads) -> Known<Arc<str>> {
    let name = match field.get(reads) {
        Known::Is(End::Named(PartName(name))) => return Known::Is(name.clone()),
        Known::Is(End::Placed(Tap { part, .. })) => part.get(reads),
        other => return other.and_then(|_| Known::missing(field.route())),
    };
    name.map(|PartName(name)| name.clone())
}

impl<'b> Tract<'b> {
    pub(super) fn hoses_unrecorded(&self) -> &'b [Named<HoseFields>] {
        match self.build().top.hoses.state(&Unrecorded) {
            State::Given(NamedList(list)) => list,
            _ => &[],
        }
    }

    /// The hoses with an end at a part or passing through it; and what would have to be known to rule out more.
    pub fn hoses_at(&self, name: &str, reads: &dyn Reads) -> (Vec<Span<'b>>, Missing) {
        let field = &self.build().top.hoses;
        let mut unknown = match field.state(reads) {
            State::Given(_) => Missing::default(),
            State::Faulty => Missing::field(field.route()),
            State::Absent | State::SaidNone => Missing::default(),
        };
        let mut found = Vec::new();
        for hose in self.hoses_unrecorded() {
            let Some(fields) = &hose.fields else {
                unknown = unknown.join(Missing::field(&hose.route));
                continue;
            };
            match end_name(&fields.from, reads).zip(end_name(&fields.to, reads)) {
                Known::Is((from, to)) if *from == *name || *to == *name => {
                    found.push(Span { hose, fields, ends: [from, to] });
                }
                Known::Open(missing) => unknown = unknown.join(missing),
                _ => {}
            }
        }
        (found, unknown)
    }

    /// How a part is connected: by hoses, else by its own tap. Empty when it is known to hang on nothing.
    pub fn connections(&self, part: &'b Part, reads: &dyn Reads) -> Known<Vec<Connection<'b>>> {
        let (hoses, unknown) = self.hoses_at(&part.name, reads);
        let mut found: Vec<Connection<'b>> = hoses
            .into_iter()
            .map(|span| {
                let [from, to] = &span.ends;
                let other = if **from == *part.name { to.clone() } else { from.clone() };
                Connection::Hose(span, other)
            })
            .collect();
        match part.common.tap.state(reads) {
            State::Given(_) => match self.host_of(part, reads) {
                Known::Is(host) => found.push(Connection::Tap(host)),
                other => return other.and_then(|_| Known::Is(Vec::new())),
            },
            State::Faulty => return Known::missing(part.common.tap.route()),
            State::Absent | State::SaidNone => {}
        }
        if !found.is_empty() {
            return Known::Is(found);
        }
        self.nothing_more(unknown, reads).map(|()| Vec::new())
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

    /// Names of the parts that feed a valve's signal: the other ends of its hoses.
    pub fn signal_sources(&self, valve: &'b Part, reads: &dyn Reads) -> Known<Vec<(Span<'b>, Arc<str>)>> {
        let (hoses, unknown) = self.hoses_at(&valve.name, reads);
        if hoses.is_empty() {
            return self.nothing_more(unknown, reads).map(|()| Vec::new());
        }
        let sources = hoses.into_iter().map(|span| {
            let [from, to] = &span.ends;
            let other = if **from == *valve.name { to.clone() } else { from.clone() };
            (span, other)
        });
        Known::Is(sources.collect())
    }

    /// Whether a part is reached by a tap, a hose or a discharge, or sits in a hose.
    pub fn is_attached(&self, part: &'b Part, reads: &dyn Reads) -> Known<bool> {
        if part.common.tap.is_given(reads) {
            return Known::Is(true);
        }
        let (hoses, mut unknown) = self.hoses_at(&part.name, reads);
        if !hoses.is_empty() {
            return Known::Is(true);
        }
        for hose in self.hoses_unrecorded().iter().filter_map(|hose| hose.fields.as_ref()) {
            match hose.through.state(reads) {
                State::Given(List(names)) if names.iter().any(|PartName(name)| *name == part.name) => {
                    return Known::Is(true);
                }
                State::Faulty => unknown = unknown.join(Missing::field(hose.through.route())),
                _ => {}
            }
        }
        if self.takes_discharge(part, reads) {
            return Known::Is(true);
        }
        if unknown == Missing::default() { Known::Is(false) } else { Known::Open(unknown) }
    }

    fn takes_discharge(&self, part: &Part, reads: &dyn Reads) -> bool {
        self.build().parts.list.iter().any(|other| {
            let Body::ReliefValve(valve) = &other.body else { return false };
            let Known::Is(List(ports)) = valve.discharge.get(reads) else { return false };
            ports.iter().any(|port| matches!(port.to.get(reads), Known::Is(to) if to.0 == part.name))
        })
    }

    /// Whether air can pass through a hose towards the part called `into`: each check valve in it must let it.
    pub fn passes_towards(&self, span: &Span<'b>, into: &str, reads: &dyn Reads) -> Known<bool> {
        let through = &span.fields.through;
        let names = match through.state(reads) {
            State::Given(List(names)) => names.as_slice(),
            State::Faulty => return Known::missing(through.route()),
            State::SaidNone => return Known::Is(true),
            State::Absent => {
                return match self.build().claims(Area::Signals, reads) {
                    Known::Open(missing) => Known::Open(missing.join(Missing::field(through.route()))),
                    claimed => claimed.map(|()| true),
                };
            }
        };
        let mut unknown = Missing::default();
        for (i, PartName(name)) in names.iter().enumerate() {
            match self.valve_passes(name, &through.route().index(i), span, into, reads) {
                Known::Is(false) => return Known::Is(false),
                Known::Is(true) => {}
                Known::Open(missing) => unknown = unknown.join(missing),
                Known::Between(..) | Known::NotApplicable(_) => {}
            }
        }
        if unknown == Missing::default() { Known::Is(true) } else { Known::Open(unknown) }
    }

    fn valve_passes(
        &self,
        name: &str,
        at: &Route,
        span: &Span<'b>,
        into: &str,
        reads: &dyn Reads,
    ) -> Known<bool> {
        self.named(name, at).and_then(|valve| {
            let Body::CheckValve(check) = &valve.body else {
                // Something else in the hose does not stop the air; of an unknown kind it might.
                return valve.kind.get(reads).map(|_| true);
            };
            check.flows.get(reads).and_then(|flows| {
                let ends = flows.from.get(reads).zip(flows.to.get(reads));
                ends.and_then(|(PartName(from), PartName(to))| {
                    let [a, b] = &span.ends;
                    let far = if **a == *into { b } else { a };
                    if **to == *into || **from == **far {
                        Known::Is(true)
                    } else if **from == *into || **to == **far {
                        Known::Is(false)
                    } else {
                        Known::Open(Missing::field(flows.from.route()).join(Missing::field(flows.to.route())))
                    }
                })
            })
        })
    }
}

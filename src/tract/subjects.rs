//! Finding the subjects of a build.

use std::sync::Arc;

use super::subject::{Subject, SubjectKind};
use super::{Path, Spot, Tract};
use crate::build::air_path::PathElement;
use crate::build::hoses::{End, JOINT_SIGN};
use crate::build::parts::{Body, Part};
use crate::build::scalars::{AIR, Destination, List, PartName};
use crate::known::{Field, Known, State, Unrecorded};
use crate::text::Route;

impl<'b> Tract<'b> {
    /// All subjects of a kind, in the order of the text (those of the air path in its order).
    pub fn subjects(&self, kind: SubjectKind) -> Vec<Subject> {
        if let Some(kinds) = kind.part_kinds() {
            return self.part_subjects(kind, |part| {
                part.known_kind().is_some_and(|k| kinds.contains(&k))
                    && (kind != SubjectKind::ReferencedPart || compares(part))
            });
        }
        let found = match kind {
            SubjectKind::Build => vec![(Route::root(), "build".into())],
            SubjectKind::Hose => {
                self.hoses_unrecorded().iter().map(|hose| (hose.route.clone(), hose.name.clone())).collect()
            }
            SubjectKind::Joint => self.joints().into_iter().map(|joint| (joint.route, joint.name)).collect(),
            SubjectKind::Tap => self.taps().into_iter().map(|tap| (tap.route, tap.name)).collect(),
            SubjectKind::Opening => self.openings(),
            SubjectKind::Parallel => self.parallels(),
            SubjectKind::Series => self.series(),
            SubjectKind::Measurement => self.measurements(),
            _ => return self.part_subjects(kind, |_| true),
        };
        found.into_iter().map(|(route, name)| Subject { kind, route, name }).collect()
    }

    fn part_subjects(&self, kind: SubjectKind, wanted: impl Fn(&Part) -> bool) -> Vec<Subject> {
        let parts = self.build().parts.list.iter().filter(|part| wanted(part));
        parts.map(|part| Subject { kind, route: part.route.clone(), name: part.name.clone() }).collect()
    }

    /// Neighbours of the air path, each under the route that its joint has in `joints`: the upstream part's name, and
    /// where the path forks behind that part both names.
    pub fn joints(&self) -> Vec<Joint> {
        let route = self.build().top.joints.route();
        let mut pairs = Vec::new();
        neighbours(self.path_unrecorded(), Vec::new(), &mut pairs);
        let forks = |upstream: &Arc<str>| pairs.iter().filter(|(one, _)| one == upstream).count() > 1;
        pairs
            .iter()
            .map(|(upstream, downstream)| {
                let name: Arc<str> = match forks(upstream) {
                    true => format!("{upstream}{JOINT_SIGN}{downstream}").into(),
                    false => upstream.clone(),
                };
                let (upstream, downstream) = (upstream.clone(), downstream.clone());
                Joint { route: route.key(&name), name, upstream, downstream }
            })
            .collect()
    }

    /// The places where something sits on a part.
    pub fn taps(&self) -> Vec<TapPlace> {
        let mut found = Vec::new();
        for part in &self.build().parts.list {
            let tap = &part.common.tap;
            if let State::Given(fields) = tap.state(&Unrecorded) {
                found.push(TapPlace::new(tap.route(), &part.name, host(&fields.part)));
            }
            match &part.body {
                Body::ReliefValve(valve) => {
                    let State::Given(List(ports)) = valve.discharge.state(&Unrecorded) else { continue };
                    for (i, port) in ports.iter().enumerate() {
                        // Where it leads to may not be said; it is a place on a part all the same, unless it is the air.
                        let to = match port.to.state(&Unrecorded) {
                            State::Given(Destination(to)) if &**to == AIR => continue,
                            State::Given(Destination(to)) => Some(to.clone()),
                            _ => None,
                        };
                        found.push(TapPlace::new(&valve.discharge.route().index(i), &part.name, to));
                    }
                }
                Body::Carburettor(carburettor) => {
                    if let State::Given(vent) = carburettor.float_vent.state(&Unrecorded) {
                        found.push(TapPlace::new(
                            carburettor.float_vent.route(),
                            &part.name,
                            host(&vent.part),
                        ));
                    }
                }
                Body::InjectionNozzle(nozzle) => {
                    if let State::Given(trigger) = nozzle.trigger.state(&Unrecorded) {
                        found.push(TapPlace::new(nozzle.trigger.route(), &part.name, host(&trigger.part)));
                    }
                }
                _ => {}
            }
        }
        for hose in self.hoses_unrecorded() {
            let ends = hose.fields.iter().flat_map(|fields| [&fields.from, &fields.to]);
            for end in ends {
                if let State::Given(End::Placed(tap)) = end.state(&Unrecorded) {
                    found.push(TapPlace::new(end.route(), &hose.name, host(&tap.part)));
                }
            }
        }
        found
    }

    /// The ways to the open air other than the filter; where it is not said what something leads to, it may be one.
    fn openings(&self) -> Vec<(Route, Arc<str>)> {
        let mut found = Vec::new();
        let is_air = |field: &Field<Destination>| match field.state(&Unrecorded) {
            State::Given(Destination(to)) => &**to == AIR,
            State::Absent | State::Faulty => true,
            State::SaidNone => false,
        };
        for part in &self.build().parts.list {
            match &part.body {
                Body::ReliefValve(valve) => {
                    let State::Given(List(ports)) = valve.discharge.state(&Unrecorded) else { continue };
                    let vents = ports.iter().enumerate().filter(|(_, port)| is_air(&port.to));
                    found.extend(vents.map(|(i, _)| (valve.discharge.route().index(i), part.name.clone())));
                }
                Body::IdleAirValve(valve) if is_air(&valve.from) => {
                    found.push((valve.from.route().clone(), part.name.clone()));
                }
                _ => {}
            }
        }
        for hose in self.hoses_unrecorded() {
            for end in hose.fields.iter().flat_map(|fields| [&fields.from, &fields.to]) {
                let open = match end.state(&Unrecorded) {
                    State::Given(End::Named(Destination(to))) => &**to == AIR,
                    State::Given(_) | State::SaidNone => false,
                    State::Absent | State::Faulty => true,
                };
                if open {
                    found.push((end.route().clone(), hose.name.clone()));
                }
            }
        }
        found
    }

    fn parallels(&self) -> Vec<(Route, Arc<str>)> {
        let mut found = Vec::new();
        let mut todo: Vec<&PathElement> = self.path_unrecorded().iter().rev().collect();
        while let Some(element) = todo.pop() {
            let PathElement::Fork { route, branches } = element else { continue };
            let names: Vec<&str> = branches.iter().map(|branch| &*branch.name).collect();
            found.push((route.clone(), names.join(", ").into()));
            todo.extend(branches.iter().rev().flat_map(|branch| branch.elements.iter().rev()));
        }
        found
    }

    /// Compressors one behind the other, under the first one's entry in the path.
    fn series(&self) -> Vec<(Route, Arc<str>)> {
        let Known::Is(path) = self.path(&Unrecorded) else { return Vec::new() };
        stages(&path)
            .into_iter()
            .filter_map(|stages| {
                let spots: Vec<_> = stages.iter().filter_map(|at| path.get(*at)).collect();
                let names: Vec<&str> = spots.iter().map(|spot| &*spot.part.name).collect();
                Some((spots.first()?.route.clone(), names.join(", ").into()))
            })
            .collect()
    }

    fn measurements(&self) -> Vec<(Route, Arc<str>)> {
        let field = &self.build().top.measurements;
        let State::Given(List(entries)) = field.state(&Unrecorded) else { return Vec::new() };
        let named = entries.iter().enumerate().map(|(i, entry)| {
            let name = match entry.part.state(&Unrecorded) {
                State::Given(PartName(name)) => name.clone(),
                _ => format!("measurement {}", i + 1).into(),
            };
            (field.route().index(i), name)
        });
        named.collect()
    }
}

/// Where two neighbours of the air path meet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Joint {
    /// The route that it has in `joints`, whether it is described there or not.
    pub route: Route,
    /// Its name there.
    pub name: Arc<str>,
    /// The part ahead of it.
    pub upstream: Arc<str>,
    /// The part behind it.
    pub downstream: Arc<str>,
}

/// A place where something sits on a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TapPlace {
    /// Where it is described: a tap, an end of a hose, a discharge port.
    pub route: Route,
    /// What sits there: the name of a part or a hose.
    pub name: Arc<str>,
    /// The part that carries it, if that can be read.
    pub host: Option<Arc<str>>,
}

impl TapPlace {
    fn new(route: &Route, name: &Arc<str>, host: Option<Arc<str>>) -> Self {
        Self { route: route.clone(), name: name.clone(), host }
    }
}

fn host(field: &Field<PartName>) -> Option<Arc<str>> {
    match field.state(&Unrecorded) {
        State::Given(PartName(name)) => Some(name.clone()),
        _ => None,
    }
}

/// Whether a part compares a pressure of the tract.
fn compares(part: &Part) -> bool {
    match &part.body {
        Body::Carburettor(carburettor) => {
            matches!(carburettor.float_vent.state(&Unrecorded), State::Given(_))
        }
        _ => true,
    }
}

/// The names of neighbours; gives the last ones.
fn neighbours(
    elements: &[PathElement],
    mut from: Vec<Arc<str>>,
    pairs: &mut Vec<(Arc<str>, Arc<str>)>,
) -> Vec<Arc<str>> {
    for element in elements {
        from = match element {
            PathElement::Part { name, .. } => {
                pairs.extend(from.iter().map(|before| (before.clone(), name.clone())));
                vec![name.clone()]
            }
            PathElement::Fork { branches, .. } => {
                branches.iter().flat_map(|branch| neighbours(&branch.elements, from.clone(), pairs)).collect()
            }
        };
    }
    from
}

/// Groups of compressors that lie one behind the other, each group once, in the order of the path.
pub(super) fn stages(path: &Path<'_>) -> Vec<Vec<usize>> {
    let compresses = |at: &usize| path.get(*at).is_some_and(Spot::compresses);
    let firsts =
        path.iter().filter(|spot| spot.compresses() && !path.all_ahead(spot.index).iter().any(compresses));
    firsts
        .map(|first| {
            let behind = path.all_behind(first.index).into_iter().filter(compresses);
            std::iter::once(first.index).chain(behind).collect::<Vec<_>>()
        })
        .filter(|group| group.len() > 1)
        .collect()
}

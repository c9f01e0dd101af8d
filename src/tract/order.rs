//! Whether the path can be what it says: gaps, and parts out of order.

use std::sync::Arc;

use super::Tract;
use super::path::{Path, Spot};
use crate::build::hoses::End;
use crate::build::parts::{Part, PartKind};
use crate::build::scalars::{AIR, Destination};
use crate::known::{Known, Read, Reads, State};
use crate::text::Route;

/// One thing that is wrong with the path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PathFault {
    /// The place that shows it: an entry of the path, or what reaches for a part that the path leaves out.
    pub route: Route,
    /// What is wrong.
    pub says: String,
}

/// Kinds that a cylinder cannot follow: the way from them to the engine is not described.
const NO_END: &[PartKind] = &[
    PartKind::AirFilter,
    PartKind::AirMeter,
    PartKind::FlameArrester,
    PartKind::Turbocharger,
    PartKind::Supercharger,
    PartKind::ChargeAirCooler,
    PartKind::AirShutOffValve,
];

/// Kinds that hoses alone may reach: a balance chamber is no gap in the path.
const OFF_PATH_TOO: &[PartKind] = &[PartKind::Plenum];

impl<'b> Tract<'b> {
    /// The compressors whose air a relief valve lets out: those ahead of the part that carries its tap, and this part itself. None where that is
    /// not known.
    pub fn compressors_relieved(&self, valve: &'b Part, reads: &dyn Reads) -> Vec<Route> {
        let (Known::Is(host), Known::Is(path)) = (self.host_of(valve, reads), self.path(reads)) else {
            return Vec::new();
        };
        let Some(host) = path.spot(&host.name) else { return Vec::new() };
        let relieved = path.iter().filter(|spot| {
            spot.compresses() && (spot.index == host.index || path.is_ahead(spot.index, host.index))
        });
        relieved.map(|spot| spot.part.route.clone()).collect()
    }

    /// Where the air cannot run on: no path, an end that no cylinder can follow, a part that a tap, a hose or a return
    /// sits on and that the path leaves out.
    pub fn path_gaps(&self, reads: &dyn Reads) -> Known<Vec<PathFault>> {
        let at = self.build().top.air_path.route();
        self.path(reads).map(|path| {
            let mut gaps = Vec::new();
            if path.is_empty() {
                gaps.push(PathFault { route: at.clone(), says: "the path leads through nothing".to_owned() });
            }
            for end in path.ends().filter(|end| NO_END.contains(&end.kind)) {
                let says = format!(
                    "the path ends at {}, from which no way to the engine is described",
                    end.part.name
                );
                gaps.push(PathFault { route: end.route.clone(), says });
            }
            for (name, route) in self.hosts(reads) {
                let part = self.build().parts.named(&name).filter(|_| path.spot(&name).is_none());
                let left_out = part
                    .and_then(Part::known_kind)
                    .is_some_and(|kind| kind.on_path() && !OFF_PATH_TOO.contains(&kind));
                if left_out {
                    gaps.push(PathFault {
                        route,
                        says: format!("the path leaves out {name}, which this sits on"),
                    });
                }
            }
            gaps
        })
    }

    /// What stands in an order that cannot be.
    pub fn path_order_faults(&self, reads: &dyn Reads) -> Known<Vec<PathFault>> {
        self.path(reads).map(|path| path.iter().filter_map(|spot| order_fault(&path, spot)).collect())
    }

    /// The parts that something sits on, each with the place that says so.
    fn hosts(&self, reads: &dyn Reads) -> Vec<(Arc<str>, Route)> {
        let mut found = Vec::new();
        for tap in self.taps() {
            reads.note(Read::Field(tap.route.clone()));
            found.extend(tap.host.map(|host| (host, tap.route)));
        }
        for hose in self.hoses_unrecorded().iter().filter_map(|hose| hose.fields.as_ref()) {
            for end in [&hose.from, &hose.to] {
                if let State::Given(End::Named(Destination(name))) = end.state(reads)
                    && &**name != AIR
                {
                    found.push((name.clone(), end.route().clone()));
                }
            }
        }
        found
    }
}

fn order_fault(path: &Path<'_>, spot: &Spot<'_>) -> Option<PathFault> {
    let name = &spot.part.name;
    let fault = |says: String| Some(PathFault { route: spot.route.clone(), says });
    let ahead = path.all_ahead(spot.index);
    let is_ahead = |wanted: &dyn Fn(&Spot<'_>) -> bool| {
        ahead
            .iter()
            .filter_map(|at| path.get(*at))
            .find(|other| wanted(other))
            .map(|other| other.part.name.clone())
    };
    if !spot.kind.on_path() {
        return fault(format!("{name} is a {} and nothing that the air flows through", spot.kind.word()));
    }
    if path.iter().any(|other| other.index < spot.index && other.part.name == *name) {
        return fault(format!("{name} stands in the path twice"));
    }
    if matches!(spot.kind, PartKind::AirFilter | PartKind::FlameArrester)
        && let Some(wheel) = is_ahead(&|other| other.compresses())
    {
        return fault(format!("{name} stands behind {wheel}, which it should shield"));
    }
    if spot.kind == PartKind::ChargeAirCooler && is_ahead(&|other| other.compresses()).is_none() {
        return fault(format!("{name} stands ahead of every compressor and has nothing to cool"));
    }
    if matches!(spot.kind, PartKind::AirFilter | PartKind::FlameArrester | PartKind::AirMeter)
        || spot.compresses()
    {
        let manifold = is_ahead(&|other: &Spot<'_>| other.kind == PartKind::InletManifold);
        if let Some(manifold) = manifold {
            return fault(format!("{name} stands behind {manifold}, where the air goes to the cylinders"));
        }
    }
    None
}

//! What comes in by a relief valve that stands open at idle.

use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::Scope;
use super::statics::Valves;
use crate::known::{Kind, Known, Missing, Num, Reads, Setting};
use crate::model::{Opening, Statics, Valve};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

/// The rows.
pub(super) static ROWS: &[Row] = &[Row {
    name: "lambda_idle",
    kind: Kind::Number(Dim::ONE),
    meaning: "air that the engine gets at idle over the air that came by the way of the air meter: the rest leaks in by the vents of the valve, at the lift at which pressures and spring balance; the most over sites at which any does",
    group: Group::Statics,
    on: &[SubjectKind::ReliefValve],
    make: Make::Worst(Fold::Max, lambda_idle),
}];

fn lambda_idle(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let set_up = Valve::set_up(part, scope)
        .zip(Opening::set_up(part, scope))
        .zip(Statics::ports(part, scope))
        .map(|((valve, opening), ports)| (valve, opening.clone(), ports.clone()));
    let (valve, opening, ports) = match set_up {
        Known::Is(set_up) => set_up,
        other => return vec![other.and_then(|_| Known::Open(Missing::default()))],
    };
    let counted =
        scope.tract().host_of(part, scope).and_then(|host| scope.tract().is_metered_ahead(&host.name, scope));
    if counted != Known::Is(true) {
        return vec![
            counted.and_then(|_| Known::not_applicable("what leaks in runs over the air meter too")),
        ];
    }
    let roughness = scope.setting(Setting::PipeRoughness).v;
    let valves = Valves { scope, part };
    let ways = valves.way_to_tap();
    let at_idle = valves.idle().into_iter().zip(ways).map(|(idle, way)| {
        idle.zip(way).and_then(|(idle, way)| {
            let lift = (valve.areas.force(idle.value) - valve.preload).max(0.0) / valve.rate;
            let leak = opening.towards_air(&ports, lift, roughness) * way.value.sqrt();
            if leak <= 0.0 {
                return Known::not_applicable("nothing leaks in");
            }
            Known::Is(Num::new(1.0 + leak, Dim::ONE).at(idle.at.clone()))
        })
    });
    at_idle.collect()
}

//! What injection nozzles do once the throttle is shut.

use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::Scope;
use crate::build::parts::{Body, InjectionNozzle, Sprayed, Trigger};
use crate::build::scalars::{Pressure, Q};
use crate::known::{Kind, Known, Missing, Num, Read, Reads, State};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

/// The rows.
pub(super) static ROWS: &[Row] = &[Row {
    name: "injected_after_tip_out",
    kind: Kind::Number(Dim::MASS),
    meaning: "liquid that the nozzle goes on spraying after the throttle is shut, as long as the place that its trigger feels stays above the trigger's pressure within the run; the most over starts and sites",
    group: Group::TipOut,
    on: &[SubjectKind::InjectionNozzle],
    make: Make::Worst(Fold::Max, injected),
}];

/// Density of what a nozzle sprays, kg/m3, at 20 degC: water 998; alcohol as methanol, 791; half of each by volume 920 (CRC
/// Handbook of Chemistry and Physics, from memory); petrol 745 (common practice, no source).
fn density(sprayed: Sprayed) -> f64 {
    match sprayed {
        Sprayed::Water => 998.0,
        Sprayed::Alcohol => 791.0,
        Sprayed::WaterAndAlcohol => 920.0,
        Sprayed::Fuel => 745.0,
    }
}

/// What switches the nozzle, and from which pressure on.
fn trigger<'b>(scope: &Scope<'b>, nozzle: &'b InjectionNozzle) -> Known<(&'b Trigger, &'b Q<Pressure>)> {
    if matches!(nozzle.trigger.state(scope), State::SaidNone) {
        return Known::not_applicable("no pressure switches it on");
    }
    nozzle.trigger.get(scope).and_then(|trigger| {
        let felt = trigger.part.get(scope).and_then(|_| trigger.pressure.get(scope));
        felt.map(|pressure| (trigger, pressure))
    })
}

fn injected(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let Body::InjectionNozzle(nozzle) = &part.body else { return vec![Known::missing(&subject.route)] };
    let flow = nozzle.sprays.get(scope).zip(nozzle.flow.get(scope));
    let flow = flow.map(|(sprays, flow)| density(*sprays) * flow.si());
    let (trigger, pressure, flow) = match trigger(scope, nozzle).zip(flow) {
        Known::Is(((trigger, pressure), flow)) => (trigger, pressure, flow),
        other => return vec![other.and_then(|_| Known::Open(Missing::default()))],
    };
    let steady = scope.steady();
    let each = scope.tip_outs(true).into_iter().map(|run| {
        run.as_ref().as_ref().and_then(|ran| {
            let site = steady.sites.iter().find(|site| site.name == ran.at.site);
            let state = site.map_or_else(|| Known::Open(Missing::default()), |site| site.state.clone());
            let own = ran.results.triggers.iter().find(|felt| *felt.name == *part.name);
            let Some(felt) = own else {
                // The place is not one of the air path, or it is not said where on a part that it matters on.
                let missing = Missing::field(trigger.part.route());
                return Known::Open(missing.join(Missing::field(trigger.at.route())));
            };
            if felt.half_way {
                let words = "the trigger is taken to feel the pressure half-way along the part";
                scope.note(Read::Default { field: trigger.at.route().clone(), words: words.into() });
            }
            state.map(|state| {
                let time = felt.time_above(pressure.absolute(state.pressure));
                Num::new(flow * time, Dim::MASS).at(ran.at.clone())
            })
        })
    });
    each.collect()
}

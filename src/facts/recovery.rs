//! How long boost takes to come back after a change of gear.

use super::flow::charge_volume;
use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::{Ran, Scope, Sites};
use crate::build::parts::Body;
use crate::known::{Datum, Kind, Known, Missing, Num, State};
use crate::model::{Never, Outcome, Reopening, SiteSteady, Solution, Start};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

/// The rows.
pub(super) static ROWS: &[Row] = &[Row {
    name: "recovery_time",
    kind: Kind::Number(Dim::TIME),
    meaning: "time from where the throttle opens again after a change of gear until nine tenths of the boost are back, at the engine speed at which it shut; the longest over starts at boost and sites",
    group: Group::TipOut,
    on: &[SubjectKind::Build],
    make: Make::Worst(Fold::Max, recovery),
}];

fn recovery(scope: &Scope<'_>, _: &Subject) -> Series {
    let set_up = gear(scope).and_then(|()| turbocharger(scope)).zip(charge_volume(scope));
    let (inertia, volume) = match set_up {
        Known::Is(set_up) => set_up,
        other => return vec![other.and_then(|_| Known::Open(Missing::default()))],
    };
    let steady = scope.steady();
    let runs = scope.demands(true).into_iter().zip(scope.tip_outs(true));
    let at_boost = runs.filter(|(demand, _)| demand.start != Start::LightBoost);
    let each = at_boost.filter_map(|(demand, run)| {
        let site = steady.sites.iter().find(|site| site.name == demand.site)?;
        Some((site, run))
    });
    each.map(|(site, run)| {
        let turbines = site.turbines.clone().and_then(|()| site.state.as_ref().map(Clone::clone));
        turbines.zip(run.as_ref().as_ref().map(Clone::clone)).and_then(|(state, ran)| {
            let Some((solution, results)) = solution(site, &ran).zip(Some(&ran.results)) else {
                return Known::Open(Missing::default());
            };
            let [turbine] = solution.turbines.as_slice() else {
                return Known::Open(Missing::not_built("boost coming back with several turbochargers"));
            };
            let Some((boost, speed)) = results.at_gear_change.zip(results.speed_at_gear_change) else {
                return Known::Open(Missing::hindrance(
                    "the change of gear takes longer than the run of the tip-out",
                ));
            };
            let reopening = Reopening {
                start: solution,
                turbine,
                site: state.pressure,
                r: state.gas.r(),
                volume,
                inertia,
                speeds: (results.compressor.speeds.0, speed),
                left: state.pressure + boost,
            };
            match reopening.time() {
                Ok(time) => Known::Is(Num::new(time, Dim::TIME).at(ran.at.clone())),
                Err(Never::NoFixedTurbine) => {
                    Known::Open(Missing::not_built("boost coming back with a nozzle that is adjusted"))
                }
                Err(Never::NoSurplus) => Known::not_applicable(
                    "with the gate shut the turbine does not bring the boost back, or only just",
                ),
            }
        })
    })
    .collect()
}

/// Whether a change of gear is described.
fn gear(scope: &Scope<'_>) -> Known<()> {
    match scope.build().top.gear_change.state(scope) {
        State::Absent => Known::not_applicable("no change of gear is described"),
        _ => scope.build().top.gear_change.get(scope).and_then(|change| change.time.get(scope).map(|_| ())),
    }
}

/// Moment of inertia of the only turbocharger's rotor, kg m2, where anything is said of its turbine.
fn turbocharger(scope: &Scope<'_>) -> Known<f64> {
    let turbochargers = scope.tract().subjects(SubjectKind::Turbocharger);
    let turbocharger = match turbochargers.as_slice() {
        [only] => only,
        [] => return Known::not_applicable("no turbine drives a compressor"),
        _ => return Known::Open(Missing::not_built("boost coming back with several turbochargers")),
    };
    match scope.fact(turbocharger, "turbine_described", Sites::All) {
        Known::Is(Datum::Bool(true)) => {}
        Known::Is(_) => {
            return Known::not_applicable("nothing is said of how the exhaust drives the turbine");
        }
        other => return other.and_then(|_| Known::missing(&turbocharger.route)),
    }
    match scope.tract().part_of(turbocharger).map(|part| &part.body) {
        Some(Body::Turbocharger(machine)) => machine.rotor_inertia.get(scope).map(|inertia| inertia.si()),
        _ => Known::missing(&turbocharger.route),
    }
}

/// The steady point from which a run started.
fn solution<'s>(site: &'s SiteSteady, ran: &Ran) -> Option<&'s Solution> {
    let points = site.points.exact()?;
    let start = points.iter().find(|point| !point.off_boost && Some(point.speed) == ran.at.speed)?;
    match &start.outcome {
        Outcome::Solved(solution) => Some(solution),
        _ => None,
    }
}

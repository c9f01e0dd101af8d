//! Facts from the steady operating points.

use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::{Scope, Sites};
use crate::build::parts::Body;
use crate::known::{At, Datum, Kind, Known, Missing, Num};
use crate::model::{MachinePoint, Outcome, Point, SiteSteady, Solution};
use crate::physics::map::Along;
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const COMPRESSOR: &[SubjectKind] = &[SubjectKind::Compressor];

/// The rows.
pub(super) static ROWS: &[Row] = &[
    Row {
        name: "surge_margin_flow_min",
        kind: Kind::Number(Dim::ONE),
        meaning: "smallest distance to the surge line, (flow - surge flow)/flow at equal pressure ratio, over all boosted points and sites",
        group: Group::Steady,
        on: COMPRESSOR,
        make: Make::Worst(Fold::Min, surge_margin),
    },
    Row {
        name: "surge_point_flow",
        kind: Kind::Number(Dim::MASS_FLOW),
        meaning: "corrected flow at the point of the smallest surge margin",
        group: Group::Steady,
        on: COMPRESSOR,
        make: Make::Plain(|scope, subject| {
            at_surge_point(scope, subject, |s| Some(s.corrected_flow), Dim::MASS_FLOW)
        }),
    },
    Row {
        name: "surge_point_ratio",
        kind: Kind::Number(Dim::ONE),
        meaning: "pressure ratio at the point of the smallest surge margin",
        group: Group::Steady,
        on: COMPRESSOR,
        make: Make::Plain(|scope, subject| at_surge_point(scope, subject, |s| Some(s.ratio()), Dim::ONE)),
    },
    Row {
        name: "surge_point_surge_flow",
        kind: Kind::Number(Dim::MASS_FLOW),
        meaning: "corrected flow of the surge line at the ratio of the point of the smallest surge margin",
        group: Group::Steady,
        on: COMPRESSOR,
        make: Make::Plain(|scope, subject| {
            at_surge_point(scope, subject, |s| s.working.and_then(|w| w.surge_flow), Dim::MASS_FLOW)
        }),
    },
    Row {
        name: "has_surge_line",
        kind: Kind::Bool,
        meaning: "whether the machine is one that can surge: a turbocharger's compressor is, a displacement supercharger is not",
        group: Group::Graph,
        on: COMPRESSOR,
        make: Make::Plain(has_surge_line),
    },
    Row {
        name: "manifold_temperature_max",
        kind: Kind::Number(Dim::TEMPERATURE),
        meaning: "highest temperature of the charge in the manifold over all points and sites",
        group: Group::Steady,
        on: &[SubjectKind::Build],
        make: Make::Worst(Fold::Max, manifold_temperature),
    },
];

/// One value a point and site. Points without a solution, and sites that cannot be set up, are unknown ones.
fn over_points(scope: &Scope<'_>, pick: impl Fn(&Point, &Solution) -> Option<Known<Num>>) -> Series {
    let steady = scope.steady();
    let mut series = Series::new();
    for site in &steady.sites {
        match &site.points {
            Known::Is(points) => {
                let values = points.iter().filter_map(|point| match &point.outcome {
                    Outcome::Solved(solution) => {
                        Some(pick(point, solution)?.map(|number| number.at(at(site, point))))
                    }
                    Outcome::NoSolution => Some(Known::Open(Missing::hindrance(format!(
                        "no flow satisfies engine, losses and map at {:.0} rpm ({})",
                        point.speed * 60.0,
                        site.name
                    )))),
                    Outcome::Open(missing) => Some(Known::Open(missing.clone())),
                });
                series.extend(values);
            }
            Known::Open(missing) => series.push(Known::Open(missing.clone())),
            Known::NotApplicable(reason) => series.push(Known::NotApplicable(reason.clone())),
            Known::Between(..) => series.push(Known::Open(Missing::default())),
        }
    }
    series
}

fn at(site: &SiteSteady, point: &Point) -> At {
    At { site: site.name.clone(), home: site.home, speed: Some(point.speed) }
}

fn surge_margin(scope: &Scope<'_>, subject: &Subject) -> Series {
    over_points(scope, |point, solution| {
        if point.off_boost {
            return None;
        }
        let Some(machine) = machine(scope, subject, solution) else {
            return Some(Known::not_applicable("it is not on the air path"));
        };
        if !machine.surges() {
            return Some(Known::not_applicable("a machine that displaces its air has no surge line"));
        }
        Some(match machine.surge_margin() {
            Some(margin) => {
                Known::Is(Num::pure(margin).with_error(solution.relative_error() * (1.0 - margin)))
            }
            None => Known::Open(Missing::hindrance(format!(
                "the surge line does not reach the ratio of {:.2} at {:.0} rpm",
                machine.ratio(),
                point.speed * 60.0
            ))),
        })
    })
}

/// The compressor that a subject is, at a point.
fn machine<'s>(scope: &Scope<'_>, subject: &Subject, solution: &'s Solution) -> Option<&'s MachinePoint> {
    solution.machine(&scope.tract().part_of(subject)?.name)
}

/// A value at the point of the smallest surge margin.
fn at_surge_point(
    scope: &Scope<'_>,
    subject: &Subject,
    pick: impl Fn(&MachinePoint) -> Option<f64>,
    dim: Dim,
) -> Known<Datum> {
    let worst = match scope.fact(subject, "surge_margin_flow_min", Sites::All) {
        // Known only from above: the worst known point stands at the upper bound.
        Known::Between(_, known) => Known::Is(known),
        other => other,
    };
    worst.and_then(|datum| {
        let here = datum.as_number().and_then(|number| number.at.clone());
        let steady = scope.steady();
        let found = here.and_then(|here| {
            let site = steady.sites.iter().find(|site| site.name == here.site)?;
            let points = site.points.exact()?;
            let point = points.iter().find(|point| Some(point.speed) == here.speed && !point.off_boost)?;
            match &point.outcome {
                Outcome::Solved(solution) => {
                    Some(Num::new(pick(machine(scope, subject, solution)?)?, dim).at(here))
                }
                _ => None,
            }
        });
        found
            .map_or_else(|| Known::not_applicable("no such point"), |number| Known::Is(Datum::Number(number)))
    })
}

fn has_surge_line(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(part) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    let Body::Supercharger(machine) = &part.body else {
        return part.kind.get(scope).map(|_| Datum::Bool(true));
    };
    let displaces = machine.displacement.is_given(scope);
    if displaces || machine.compressor.is_given(scope) {
        return Known::Is(Datum::Bool(!displaces));
    }
    Known::Open(Missing::field(machine.displacement.route()).join(Missing::field(machine.compressor.route())))
}

fn manifold_temperature(scope: &Scope<'_>, _: &Subject) -> Series {
    over_points(scope, |_, solution| {
        // Left of the surge line nothing runs steadily: what the held efficiency gives there is no temperature to judge.
        let left = |machine: &MachinePoint| machine.working.is_some_and(|w| w.along == Along::LeftOfSurge);
        if solution.machines.iter().any(left) {
            return Some(Known::not_applicable("the point lies left of the surge line"));
        }
        Some(Known::Is(Num::new(solution.t_manifold, Dim::TEMPERATURE).with_error(solution.error)))
    })
}

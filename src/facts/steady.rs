//! Facts from the steady operating points.

use super::points::{at, at_site, at_worst, over_points, over_running};
use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::{Scope, Sites};
use crate::build::parts::{Body, Supercharger};
use crate::build::scalars::{Q, RotationalSpeed, Text};
use crate::known::{At, Datum, Field, Kind, Known, Missing, Num, Read, Reads, State};
use crate::model::{Outcome, Point, Station};
use crate::physics::map::{Across, Along};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const BUILD: &[SubjectKind] = &[SubjectKind::Build];
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
            at_surge_point(scope, subject, |s| Some(s.compressor?.corrected_flow), Dim::MASS_FLOW)
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
            at_surge_point(scope, subject, |s| s.compressor?.working.surge_flow, Dim::MASS_FLOW)
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
    worst(
        "points_without_solution",
        Dim::ONE,
        BUILD,
        "how many operating points of a site no flow satisfies; of the site with the most, at the lowest such speed",
        Fold::Max,
        unsolved,
    ),
    worst(
        "choke_share_max",
        Dim::ONE,
        COMPRESSOR,
        "largest flow over the flow at the choke end of its speed line, over boosted points and sites",
        Fold::Max,
        choke_share,
    ),
    worst(
        "rotor_speed_share_max",
        Dim::ONE,
        COMPRESSOR,
        "highest speed of the rotor over its stated limit, else corrected speed over the map's top line; of an engine-driven rotor at the rev limit",
        Fold::Max,
        rotor_speed_share,
    ),
    worst(
        "tip_speed_max",
        Dim::SPEED,
        COMPRESSOR,
        "highest speed of the wheel's rim over boosted points and sites; of an engine-driven wheel at the rev limit",
        Fold::Max,
        tip_speed,
    ),
    Row {
        name: "wheel_material",
        kind: Kind::Word,
        meaning: "what the compressor wheel is made of, as described; cast aluminium unless said",
        group: Group::Graph,
        on: COMPRESSOR,
        make: Make::Plain(wheel_material),
    },
    worst(
        "efficiency_mean_upper",
        Dim::ONE,
        COMPRESSOR,
        "mean efficiency over the boosted points in the upper half of the engine speeds; the lowest over the sites",
        Fold::Min,
        efficiency_upper,
    ),
    worst(
        "off_map_max",
        Dim::ONE,
        COMPRESSOR,
        "1 where a boosted point lies off the compressor's map, else 0; with the first such point",
        Fold::Max,
        off_map,
    ),
];

/// A row of the worst case over points and sites.
pub(super) const fn worst(
    name: &'static str,
    dim: Dim,
    on: &'static [SubjectKind],
    meaning: &'static str,
    fold: Fold,
    make: fn(&Scope<'_>, &Subject) -> Series,
) -> Row {
    Row { name, kind: Kind::Number(dim), meaning, group: Group::Steady, on, make: Make::Worst(fold, make) }
}

fn surge_margin(scope: &Scope<'_>, subject: &Subject) -> Series {
    over_running(scope, subject, |here, running| {
        if !running.surges {
            return Some(Known::not_applicable("a machine that displaces its air has no surge line"));
        }
        Some(match running.surge_margin {
            Some(margin) => {
                let error = here.solution.relative_error() * (1.0 - margin);
                Known::Is(Num::pure(margin).with_error(error))
            }
            None => Known::Open(Missing::hindrance(format!(
                "the surge line does not reach the ratio of {:.2} at {:.0} rpm",
                here.station.ratio(),
                here.point.speed * 60.0
            ))),
        })
    })
}

/// A value at the point of the smallest surge margin.
fn at_surge_point(
    scope: &Scope<'_>,
    subject: &Subject,
    pick: impl Fn(&Station) -> Option<f64>,
    dim: Dim,
) -> Known<Datum> {
    let worst = match scope.fact(subject, "surge_margin_flow_min", Sites::All) {
        // Known only from above: the worst known point stands at the upper bound.
        Known::Between(_, known) => Known::Is(known),
        other => other,
    };
    at_worst(scope, worst, dim, |point| match &point.outcome {
        Outcome::Solved(solution) => pick(solution.part(&subject.name)?),
        _ => None,
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
    over_points(scope, |_, _, solution| {
        // Left of the surge line nothing runs steadily: what the held efficiency gives there is no temperature to judge.
        if solution.is_left_of_surge() {
            return Some(Known::not_applicable("the point lies left of the surge line"));
        }
        Some(Known::Is(Num::new(solution.t_manifold, Dim::TEMPERATURE).with_error(solution.error)))
    })
}

/// At each point without a solution how many there are at its site; nought at the others.
fn unsolved(scope: &Scope<'_>, _: &Subject) -> Series {
    let steady = scope.steady();
    let mut series = Series::new();
    for site in &steady.sites {
        match site.points.as_ref() {
            Known::Is(points) => {
                let is_unsolved = |point: &&Point| matches!(point.outcome, Outcome::NoSolution);
                let count = points.iter().filter(is_unsolved).count() as f64;
                series.extend(points.iter().map(|point| match &point.outcome {
                    Outcome::NoSolution => Known::Is(Num::pure(count).at(at(site, point))),
                    Outcome::Solved(_) => Known::Is(Num::pure(0.0).at(at(site, point))),
                    Outcome::Open(missing) => Known::Open(missing.clone()),
                }));
            }
            Known::Open(missing) => series.push(Known::Open(missing)),
            Known::NotApplicable(reason) => series.push(Known::NotApplicable(reason)),
            Known::Between(..) => series.push(Known::Open(Missing::default())),
        }
    }
    series
}

/// What a compressor without a map lacks before a value of its speed lines is known.
fn needs_map(scope: &Scope<'_>, subject: &Subject) -> Known<Num> {
    let map = scope.tract().part_of(subject).and_then(|part| match &part.body {
        Body::Turbocharger(machine) => Some(machine.compressor.get(scope)),
        Body::Supercharger(machine) => Some(machine.compressor.get(scope)),
        _ => None,
    });
    match map {
        Some(Known::Is(compressor)) => Known::missing(compressor.map.route()),
        Some(other) => other.and_then(|_| Known::missing(&subject.route)),
        None => Known::missing(&subject.route),
    }
}

fn choke_share(scope: &Scope<'_>, subject: &Subject) -> Series {
    over_running(scope, subject, |here, running| {
        Some(running.choke_share.map_or_else(|| needs_map(scope, subject), |share| here.num(share, Dim::ONE)))
    })
}

/// Speed of an engine-driven rotor at the engine's highest speed.
fn driven_speed(scope: &Scope<'_>, machine: &Supercharger) -> Known<Num> {
    let limit = scope.build().top.engine.get(scope).and_then(|engine| engine.rev_limit.get(scope));
    machine.drive_ratio.get(scope).zip(limit).map(|(ratio, limit)| {
        let at = At { site: crate::model::HOME.into(), home: true, speed: Some(limit.si()) };
        Num::new(ratio.si() * limit.si(), Dim::FREQUENCY).at(at)
    })
}

fn rotor_speed_share(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let stated = |limit: &Field<Q<RotationalSpeed>>| match limit.state(scope) {
        State::Given(limit) => Some(limit.si()),
        _ => {
            let words = "the top line of the map, as no highest speed of the rotor is given";
            scope.note(Read::Default { field: limit.route().clone(), words: words.into() });
            None
        }
    };
    let share = |speed: Num, limit: f64| Num { v: speed.v / limit, dim: Dim::ONE, ..speed };
    let wheel = match &part.body {
        Body::Turbocharger(machine) => machine.compressor.state(scope),
        Body::Supercharger(machine) => {
            // A wheel's own limit stands with the wheel.
            let own = match machine.compressor.state(scope) {
                State::Given(wheel) => &wheel.speed_limit,
                _ => &machine.speed_limit,
            };
            let limit = own.get(scope).map(|limit| limit.si());
            let of_drive = driven_speed(scope, machine).zip(limit).map(|(speed, limit)| share(speed, limit));
            return vec![of_drive];
        }
        _ => return vec![Known::missing(&subject.route)],
    };
    let limit = match wheel {
        State::Given(wheel) => stated(&wheel.speed_limit),
        _ => None,
    };
    over_running(scope, subject, |here, running| {
        let found = match limit {
            Some(limit) => running.rotor_speed.map(|speed| speed / limit),
            None => running.speed_share,
        };
        Some(found.map_or_else(|| needs_map(scope, subject), |share| here.num(share, Dim::ONE)))
    })
}

fn efficiency_upper(scope: &Scope<'_>, subject: &Subject) -> Series {
    let steady = scope.steady();
    let each = steady.sites.iter().map(|site| {
        site.points.as_ref().and_then(|points| {
            let speeds = || points.iter().map(|point| point.speed);
            let half = 0.5 * (speeds().fold(f64::INFINITY, f64::min) + speeds().fold(0.0, f64::max));
            let upper = points.iter().filter(|point| !point.off_boost && point.speed >= half - 1e-9);
            let values: Known<Vec<f64>> = upper
                .map(|point| match &point.outcome {
                    Outcome::Solved(solution) => {
                        let station = solution.stations.iter().find(|one| one.part == subject.name);
                        let running = station.and_then(|station| station.compressor.as_ref());
                        running.map_or_else(
                            || Known::not_applicable("the compressor does not work there"),
                            |running| Known::Is(running.working.efficiency),
                        )
                    }
                    Outcome::NoSolution => Known::Open(Missing::hindrance(format!(
                        "no flow satisfies engine, losses and map at {:.0} rpm ({})",
                        point.speed * 60.0,
                        site.name
                    ))),
                    Outcome::Open(missing) => Known::Open(missing.clone()),
                })
                .collect();
            values.and_then(|values| match values.len() {
                0 => Known::not_applicable("there is no boosted point in the upper half of the speeds"),
                count => Known::Is(Num::pure(values.iter().sum::<f64>() / count as f64).at(at_site(site))),
            })
        })
    });
    each.collect()
}

/// Each boosted point that lies off the map, as one; the others as nought.
fn off_map(scope: &Scope<'_>, subject: &Subject) -> Series {
    over_running(scope, subject, |here, running| {
        if running.speed_share.is_none() {
            return Some(needs_map(scope, subject));
        }
        let on_map = running.working.along == Along::OnLine && running.working.across == Across::BetweenLines;
        Some(here.num(if on_map { 0.0 } else { 1.0 }, Dim::ONE))
    })
}

fn tip_speed(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let wheel = match &part.body {
        Body::Turbocharger(machine) => &machine.compressor,
        Body::Supercharger(machine) => &machine.compressor,
        _ => return vec![Known::missing(&subject.route)],
    };
    let exducer = wheel.get(scope).and_then(|wheel| wheel.exducer.get(scope).map(|exducer| exducer.si()));
    let tip = |exducer: f64, speed: f64| std::f64::consts::PI * exducer * speed;
    if let Body::Supercharger(machine) = &part.body {
        let speed = driven_speed(scope, machine);
        return vec![exducer.zip(speed).map(|(exducer, speed)| Num {
            v: tip(exducer, speed.v),
            dim: Dim::SPEED,
            ..speed
        })];
    }
    over_running(scope, subject, |here, running| {
        let speed =
            running.rotor_speed.map_or_else(|| needs_map(scope, subject).map(|number| number.v), Known::Is);
        Some(
            exducer.clone().zip(speed).and_then(|(exducer, speed)| here.num(tip(exducer, speed), Dim::SPEED)),
        )
    })
}

fn wheel_material(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(part) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    let wheel = match &part.body {
        Body::Turbocharger(machine) => &machine.compressor,
        Body::Supercharger(machine) => &machine.compressor,
        _ => return Known::missing(&subject.route),
    };
    wheel.get(scope).and_then(|wheel| {
        let words = "the wheel is taken as cast aluminium, the weakest of the usual ones";
        let word = wheel.wheel_material.get_or(scope, Text("cast-aluminium".into()), words);
        word.map(|Text(word)| Datum::word(word))
    })
}

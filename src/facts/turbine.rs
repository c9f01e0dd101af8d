//! Facts of the turbine side: whether it drives the compressor, what it costs the engine, what the wastegate has to pass.

use super::points::{Here, at, at_worst, num, over_stations};
use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::{Scope, Sites};
use super::steady::worst;
use crate::build::Area;
use crate::build::engine::Ignition;
use crate::build::parts::{Actuation, Body};
use crate::known::{Datum, Kind, Known, Missing, Num, State};
use crate::model::{Outcome, SiteSteady, TurbinePoint};
use crate::physics::flow::{bore_area, bore_of_area};
use crate::physics::relief_valve::flow_area;
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const TURBO: &[SubjectKind] = &[SubjectKind::Turbocharger];
const GATE: &[SubjectKind] = &[SubjectKind::Wastegate];
const ACTUATOR: &[SubjectKind] = &[SubjectKind::Actuator];

/// The rows.
pub(super) static ROWS: &[Row] = &[
    Row {
        name: "turbine_described",
        kind: Kind::Bool,
        meaning: "whether anything is said of how the exhaust drives the turbine: its temperature, what the turbine swallows, its efficiency; or the area `turbine` is claimed complete",
        group: Group::Graph,
        on: &[SubjectKind::Turbocharger, SubjectKind::Wastegate],
        make: Make::Plain(is_described),
    },
    worst(
        "balance_failures",
        Dim::ONE,
        TURBO,
        "at how many boosted points of a site the turbine gives less power than the compressor takes up; of the site with the most, at the lowest such speed",
        Fold::Max,
        failures,
    ),
    worst(
        "power_short_max",
        Dim::ONE,
        TURBO,
        "largest share of the compressor's power that the turbine cannot give, over boosted points and sites",
        Fold::Max,
        |scope, subject| over_turbines(scope, subject, |_, turbine| Known::Is(Num::pure(turbine.short()))),
    ),
    Row {
        name: "boost_from_speed",
        kind: Kind::Number(Dim::FREQUENCY),
        meaning: "lowest engine speed from which the turbine gives what the wanted boost takes, at the site where that is highest",
        group: Group::Steady,
        on: TURBO,
        make: Make::Plain(boost_from),
    },
    worst(
        "exhaust_to_manifold_ratio_max",
        Dim::ONE,
        TURBO,
        "largest pressure ahead of the turbine over that in the manifold, over boosted points and sites",
        Fold::Max,
        |scope, subject| {
            over_turbines(scope, subject, |here, turbine| {
                here.num(turbine.p3 / here.solution.p_manifold, Dim::ONE)
            })
        },
    ),
    worst(
        "exhaust_pressure_max",
        Dim::PRESSURE,
        TURBO,
        "highest pressure ahead of the turbine over boosted points and sites",
        Fold::Max,
        |scope, subject| over_turbines(scope, subject, |here, turbine| here.num(turbine.p3, Dim::PRESSURE)),
    ),
    Row {
        name: "ignition",
        kind: Kind::Word,
        meaning: "what lights the mixture: `spark` or `compression`",
        group: Group::Graph,
        on: TURBO,
        make: Make::Plain(ignition),
    },
    worst(
        "wastegate_use_max",
        Dim::ONE,
        GATE,
        "largest exhaust flow that has to go round the turbine over what the open gate passes, over boosted points and sites",
        Fold::Max,
        |scope, subject| {
            over_gates(scope, subject, |turbine, gate| Some(turbine.share_round() * turbine.exhaust / gate))
        },
    ),
    Row {
        name: "wastegate_share_needed",
        kind: Kind::Number(Dim::ONE),
        meaning: "share of the exhaust that has to go round the turbine, at the point where the gate is most used",
        group: Group::Steady,
        on: GATE,
        make: Make::Plain(|scope, subject| at_most_used(scope, subject, |turbine, _| turbine.share_round())),
    },
    Row {
        name: "wastegate_share_possible",
        kind: Kind::Number(Dim::ONE),
        meaning: "share of the exhaust that the open gate passes at the pressure ahead of the turbine, at the point where the gate is most used",
        group: Group::Steady,
        on: GATE,
        make: Make::Plain(|scope, subject| {
            at_most_used(scope, subject, |turbine, gate| gate / turbine.exhaust)
        }),
    },
    Row {
        name: "wastegate_seat_needed",
        kind: Kind::Number(Dim::LENGTH),
        meaning: "seat of a gate of the same shape that passes what has to go round, lifted a quarter of its seat",
        group: Group::Steady,
        on: GATE,
        make: Make::Plain(seat_needed),
    },
    Row {
        name: "base_pressure",
        kind: Kind::Number(Dim::PRESSURE),
        meaning: "boost at which the actuator begins to move with its signal alone: as given, else preload over the diaphragm's area",
        group: Group::Statics,
        on: ACTUATOR,
        make: Make::Plain(base_pressure),
    },
    Row {
        name: "boost_target_at_top_speed",
        kind: Kind::Number(Dim::PRESSURE),
        meaning: "boost wanted at the rev limit: that of the build, or what the turbocharger holds at its own outlet",
        group: Group::Graph,
        on: ACTUATOR,
        make: Make::Plain(target),
    },
];

fn is_described(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let top = &scope.build().top;
    let turbo = match subject.kind {
        SubjectKind::Wastegate => owner(scope, subject),
        _ => Known::Is(subject.clone()),
    };
    let exhaust = match top.exhaust.state(scope) {
        State::Given(exhaust) => exhaust.temperature.is_given(scope),
        _ => false,
    };
    turbo.and_then(|turbo| {
        let said = match scope.tract().part_of(&turbo).map(|part| &part.body) {
            Some(Body::Turbocharger(machine)) => match machine.turbine.state(scope) {
                State::Given(turbine) => {
                    turbine.flow_capacity.is_given(scope) || turbine.efficiency.is_given(scope)
                }
                _ => false,
            },
            _ => false,
        };
        Known::Is(Datum::Bool(
            exhaust || said || matches!(scope.build().claims(Area::Turbine, scope), Known::Is(())),
        ))
    })
}

/// The turbine of a turbocharger at a point.
fn turbine_at<'a>(here: &Here<'a>, name: &str) -> Option<&'a TurbinePoint> {
    here.solution.turbines.iter().find(|turbine| &*turbine.name == name)
}

/// What keeps a site's turbines from being known.
fn unknown(scope: &Scope<'_>) -> Option<Known<Num>> {
    let steady = scope.steady();
    let of = |site: &SiteSteady| match &site.turbines {
        Known::Is(()) => None,
        other => Some(other.clone().and_then(|()| Known::Open(Missing::default()))),
    };
    steady.sites.iter().find_map(of)
}

fn over_turbines(
    scope: &Scope<'_>,
    subject: &Subject,
    pick: impl Fn(&Here<'_>, &TurbinePoint) -> Known<Num>,
) -> Series {
    if let Some(unknown) = unknown(scope) {
        return vec![unknown];
    }
    over_stations(scope, &subject.name, |here| {
        if here.point.off_boost {
            return None;
        }
        let lost = || Known::Open(Missing::hindrance("the exhaust's state has no solution"));
        Some(turbine_at(here, &subject.name).map_or_else(lost, |turbine| pick(here, turbine)))
    })
}

fn failures(scope: &Scope<'_>, subject: &Subject) -> Series {
    let steady = scope.steady();
    let fails = |outcome: &Outcome| match outcome {
        Outcome::Solved(solution) => {
            solution.turbines.iter().any(|turbine| *turbine.name == *subject.name && !turbine.is_balanced())
        }
        _ => false,
    };
    let count = |name: &str| {
        let site = steady.sites.iter().find(|site| &*site.name == name);
        let points = site.and_then(|site| site.points.exact());
        points.map_or(0, |points| points.iter().filter(|point| fails(&point.outcome)).count()) as f64
    };
    let one = |_: &Here<'_>, turbine: &TurbinePoint| {
        Known::Is(Num::pure(if turbine.is_balanced() { 0.0 } else { 1.0 }))
    };
    over_turbines(scope, subject, one)
        .into_iter()
        .map(|value| {
            value.map(|number| {
                let all = number.at.as_ref().map_or(0.0, |at| count(&at.site));
                Num { v: number.v * all, ..number }
            })
        })
        .collect()
}

fn boost_from(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    if let Some(unknown) = unknown(scope) {
        return unknown.map(Datum::Number);
    }
    let steady = scope.steady();
    let mut highest: Option<Num> = None;
    for site in &steady.sites {
        let Some(points) = site.points.exact() else { continue };
        let boosted = points.iter().filter(|point| !point.off_boost);
        let balanced = |outcome: &Outcome| match outcome {
            Outcome::Solved(solution) => solution
                .turbines
                .iter()
                .all(|turbine| *turbine.name != *subject.name || turbine.is_balanced()),
            _ => false,
        };
        let from = boosted.rev().take_while(|point| balanced(&point.outcome)).last();
        let Some(from) = from else {
            return Known::not_applicable("at no speed does the turbine give what the wanted boost takes");
        };
        if highest.as_ref().is_none_or(|highest| from.speed > highest.v) {
            highest = Some(Num::new(from.speed, Dim::FREQUENCY).at(at(site, from)));
        }
    }
    highest.map_or_else(
        || Known::not_applicable("no point is boosted"),
        |number| Known::Is(Datum::Number(number)),
    )
}

fn ignition(scope: &Scope<'_>, _: &Subject) -> Known<Datum> {
    let engine = scope.build().top.engine.get(scope);
    engine.and_then(|engine| engine.ignition.get(scope)).map(|ignition| {
        Datum::word(match ignition {
            Ignition::Spark => "spark",
            Ignition::Compression => "compression",
        })
    })
}

/// The turbocharger that a wastegate belongs to.
fn owner<'b>(scope: &Scope<'b>, gate: &Subject) -> Known<Subject> {
    let turbos = scope.tract().subjects(SubjectKind::Turbocharger);
    for turbo in turbos {
        let part = scope.tract().part_of(&turbo);
        if let Some(Body::Turbocharger(turbocharger)) = part.map(|part| &part.body)
            && let State::Given(name) = turbocharger.wastegate.state(scope)
            && *name.0 == *gate.name
        {
            return Known::Is(turbo);
        }
    }
    Known::not_applicable("no turbocharger names it as its wastegate")
}

fn over_gates(
    scope: &Scope<'_>,
    subject: &Subject,
    pick: impl Fn(&TurbinePoint, f64) -> Option<f64>,
) -> Series {
    let turbo = match owner(scope, subject) {
        Known::Is(turbo) => turbo,
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    over_turbines(scope, &turbo, |here, turbine| {
        turbine.gate.clone().and_then(|gate| {
            let lost = || Known::not_applicable("the gate opens nothing");
            pick(turbine, gate)
                .filter(|value| value.is_finite())
                .map_or_else(lost, |value| here.num(value, Dim::ONE))
        })
    })
}

fn at_most_used(
    scope: &Scope<'_>,
    subject: &Subject,
    pick: impl Fn(&TurbinePoint, f64) -> f64,
) -> Known<Datum> {
    let worst = scope.fact(subject, "wastegate_use_max", Sites::All);
    owner(scope, subject).and_then(|turbo| {
        at_worst(scope, worst.clone(), Dim::ONE, |point| {
            let Outcome::Solved(solution) = &point.outcome else { return None };
            let turbine = solution.turbines.iter().find(|turbine| turbine.name == turbo.name)?;
            Some(pick(turbine, *turbine.gate.exact()?))
        })
    })
}

fn seat_needed(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(part) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    let Body::Wastegate(gate) = &part.body else { return Known::not_applicable("it is no wastegate") };
    let size = gate.seat.get(scope).zip(gate.lift.get(scope));
    let used = scope.fact(subject, "wastegate_use_max", Sites::All);
    size.zip(used).and_then(|((seat, lift), used)| {
        let used = used.as_number().map_or(0.0, |number| number.v);
        let open = flow_area(seat.si(), lift.si());
        let seat = open.and_then(|open| bore_of_area(open * used));
        seat.map_or_else(
            || Known::missing(gate.seat.route()),
            |seat| num(seat, Dim::LENGTH).map(Datum::Number),
        )
    })
}

fn base_pressure(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(part) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    let Body::Actuator(actuator) = &part.body else { return Known::not_applicable("it is no actuator") };
    if let State::Given(Actuation::Electric) = actuator.actuation.state(scope) {
        return Known::not_applicable("it is moved by electricity");
    }
    let given = actuator.base_pressure.get(scope).map(|p| p.si());
    if given.exact().is_some() {
        return given.map(|p| Datum::Number(Num::new(p, Dim::PRESSURE)));
    }
    let preload = actuator.spring.get(scope).and_then(|spring| spring.preload.get(scope).map(|n| n.si()));
    let worked = preload
        .zip(actuator.diaphragm.get(scope).map(|d| d.si()))
        .map(|(preload, diameter)| Datum::Number(Num::new(preload / bore_area(diameter), Dim::PRESSURE)));
    match worked {
        Known::Is(_) => worked,
        _ => given.map(|p| Datum::Number(Num::new(p, Dim::PRESSURE))),
    }
}

fn target(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let top = &scope.build().top;
    let limit = top.engine.get(scope).and_then(|engine| engine.rev_limit.get(scope).map(|limit| limit.si()));
    let number = |p: f64| Datum::Number(Num::new(p, Dim::PRESSURE));
    let own = moved_turbocharger(scope, subject).and_then(|turbo| {
        match scope.tract().part_of(&turbo).map(|part| &part.body) {
            Some(Body::Turbocharger(machine)) => Some(&machine.outlet_boost),
            _ => None,
        }
    });
    if let Some(own) = own.filter(|own| own.is_given(scope)) {
        return own.get(scope).zip(limit).and_then(|(table, limit)| {
            table.at(limit).map_or_else(|| Known::missing(own.route()), |p| Known::Is(number(p)))
        });
    }
    if !scope.tract().subjects(SubjectKind::Series).is_empty() {
        let of_stage = own.map_or_else(|| subject.route.clone(), |own| own.route().clone());
        return Known::missing(&of_stage);
    }
    top.boost.get(scope).zip(limit).and_then(|(table, limit)| {
        table.at(limit).map_or_else(|| Known::missing(top.boost.route()), |p| Known::Is(number(p)))
    })
}

/// The turbocharger whose gate or nozzle an actuator moves.
fn moved_turbocharger(scope: &Scope<'_>, actuator: &Subject) -> Option<Subject> {
    let Body::Actuator(fields) = &scope.tract().part_of(actuator)?.body else { return None };
    let State::Given(name) = fields.moves.state(scope) else { return None };
    let moved = scope.build().parts.named(&name.0)?;
    let find = |kind: SubjectKind| {
        scope.tract().subjects(kind).into_iter().find(|subject| subject.name == moved.name)
    };
    match &moved.body {
        Body::Wastegate(_) => owner(scope, &find(SubjectKind::Wastegate)?).exact().cloned(),
        _ => find(SubjectKind::Turbocharger),
    }
}

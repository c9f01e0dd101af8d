//! Facts of how compressors stand apart from full throttle at the wanted boost: at part throttle, one behind another, by
//! their drive, against a shut throttle.

use std::sync::Arc;

use super::graph::with_part;
use super::points::{at, at_site, at_worst, over_points};
use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::{Scope, Sites};
use super::steady::worst;
use crate::build::parts::{Body, ReliefPurpose};
use crate::known::{At, Datum, Kind, Known, Missing, Num, State};
use crate::model::{Opening, Outcome, Point, SiteSteady};
use crate::physics::compressor::compress;
use crate::physics::flow::Nozzle;
use crate::physics::numeric::find_root;
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const COMPRESSOR: &[SubjectKind] = &[SubjectKind::Compressor];
const SERIES: &[SubjectKind] = &[SubjectKind::Series];
const SUPERCHARGER: &[SubjectKind] = &[SubjectKind::Supercharger];

/// The rows.
pub(super) static ROWS: &[Row] = &[
    worst(
        "surge_margin_part_throttle_min",
        Dim::ONE,
        COMPRESSOR,
        "smallest distance to the surge line, (flow - surge flow)/flow at equal pressure ratio, over the points at part throttle and sites",
        Fold::Min,
        part_throttle_margin,
    ),
    worst(
        "stage_ratio_skew_max",
        Dim::ONE,
        SERIES,
        "largest pressure ratio of a stage over the geometric mean of all stages, over boosted points and sites",
        Fold::Max,
        stage_skew,
    ),
    Row {
        name: "displaces",
        kind: Kind::Bool,
        meaning: "whether the machine displaces its air, and so moves it whatever stands behind",
        group: Group::Graph,
        on: SUPERCHARGER,
        make: Make::Plain(displaces),
    },
    worst(
        "drive_boost_off_max",
        Dim::ONE,
        SUPERCHARGER,
        "largest difference between the boost that the drive makes with no way round open and the wanted one, as a share of the wanted one, over boosted points and sites",
        Fold::Max,
        |scope, _| drive_boost(scope, |made, wanted| (made / wanted - 1.0).abs()),
    ),
    Row {
        name: "drive_boost_there",
        kind: Kind::Number(Dim::PRESSURE),
        meaning: "boost that the drive makes with no way round open, where it is furthest off",
        group: Group::Steady,
        on: SUPERCHARGER,
        make: Make::Plain(|scope, subject| where_furthest_off(scope, subject, |made, _| made)),
    },
    Row {
        name: "boost_wanted_there",
        kind: Kind::Number(Dim::PRESSURE),
        meaning: "boost that is wanted where the drive is furthest off it",
        group: Group::Steady,
        on: SUPERCHARGER,
        make: Make::Plain(|scope, subject| where_furthest_off(scope, subject, |_, wanted| wanted)),
    },
    worst(
        "closed_throttle_pressure_max",
        Dim::PRESSURE,
        SUPERCHARGER,
        "highest pressure above the air outside behind the machine with the throttle shut at the rev limit and every way round open, over the sites",
        Fold::Max,
        closed_throttle,
    ),
    worst(
        "weakest_rating_between",
        Dim::PRESSURE,
        SUPERCHARGER,
        "lowest pressure rating, above the air outside, of the parts from the machine to the first that can shut",
        Fold::Min,
        weakest_rating,
    ),
    Row {
        name: "bypass_area",
        kind: Kind::Number(Dim::AREA),
        meaning: "effective area of all ways round the machine: the valves tapped in between it and the first part that can shut",
        group: Group::Statics,
        on: SUPERCHARGER,
        make: Make::Plain(|scope, subject| {
            round_area(scope, subject).map(|area| Datum::Number(Num::new(area, Dim::AREA)))
        }),
    },
    Row {
        name: "bypass_area_needed",
        kind: Kind::Number(Dim::AREA),
        meaning: "effective area that keeps the pressure behind the machine at the weakest rating, with the throttle shut at the rev limit",
        group: Group::Statics,
        on: SUPERCHARGER,
        make: Make::Plain(round_area_needed),
    },
];

fn part_throttle_margin(scope: &Scope<'_>, subject: &Subject) -> Series {
    let steady = scope.steady();
    let mut series = Series::new();
    for site in &steady.sites {
        match site.part_throttle.as_ref() {
            Known::Is(points) if points.is_empty() => {
                series.push(Known::not_applicable("no points at part throttle are described"));
            }
            Known::Is(points) => {
                for point in points {
                    let here = At { speed: Some(point.speed), ..at_site(site) };
                    let lost = || {
                        Known::Open(Missing::hindrance(format!(
                            "the point at part throttle at {:.0} rpm has no margin",
                            point.speed * 60.0
                        )))
                    };
                    series.push(match &point.outcome {
                        Outcome::Solved(solution) => {
                            match solution.machine(&subject.name).and_then(|machine| machine.surge_margin()) {
                                Some(margin) => Known::Is(Num::pure(margin).at(here)),
                                None => lost(),
                            }
                        }
                        Outcome::NoSolution => lost(),
                        Outcome::Open(missing) => Known::Open(missing.clone()),
                    });
                }
            }
            Known::Open(missing) => series.push(Known::Open(missing)),
            Known::NotApplicable(reason) => series.push(Known::NotApplicable(reason)),
            Known::Between(..) => series.push(Known::Open(Missing::default())),
        }
    }
    series
}

fn stage_skew(scope: &Scope<'_>, subject: &Subject) -> Series {
    let names: Vec<&str> = subject.name.split(", ").collect();
    // Without a boost of its own for a stage all are taken to make one ratio, which answers nothing.
    let mut held = None;
    for name in names.iter().rev().skip(1) {
        if let Some(Body::Turbocharger(stage)) = scope.build().parts.named(name).map(|part| &part.body) {
            if stage.outlet_boost.is_given(scope) {
                held = None;
                break;
            }
            held = Some(Known::missing(stage.outlet_boost.route()));
        }
    }
    if let Some(missing) = held {
        return vec![missing];
    }
    over_points(scope, |_, point, solution| {
        if point.off_boost {
            return None;
        }
        let ratios: Option<Vec<f64>> =
            names.iter().map(|name| solution.machine(name).map(|machine| machine.ratio())).collect();
        let ratios = ratios?;
        let mean = ratios.iter().product::<f64>().powf(1.0 / ratios.len() as f64);
        let largest = ratios.iter().copied().fold(0.0, f64::max);
        Some(Known::Is(Num::pure(largest / mean)))
    })
}

fn displaces(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| match &part.body {
        Body::Supercharger(machine) if machine.compressor.is_given(scope) => Known::Is(Datum::Bool(false)),
        Body::Supercharger(machine) => machine.displacement.get(scope).map(|_| Datum::Bool(true)),
        _ => Known::not_applicable("it is no supercharger"),
    })
}

fn wanted_boost(scope: &Scope<'_>, point: &Point) -> Option<f64> {
    scope.build().top.boost.get(scope).exact().and_then(|table| table.at(point.speed))
}

fn drive_boost(scope: &Scope<'_>, pick: impl Fn(f64, f64) -> f64) -> Series {
    let steady = scope.steady();
    let mut series = Series::new();
    for site in &steady.sites {
        match site.points.as_ref() {
            Known::Is(points) => {
                for point in points.iter().filter(|point| !point.off_boost) {
                    let made =
                        point.drive_boost.zip(wanted_boost(scope, point).filter(|wanted| *wanted > 0.0));
                    series.push(match made {
                        Some((made, wanted)) => Known::Is(Num::pure(pick(made, wanted)).at(at(site, point))),
                        None => Known::Open(Missing::hindrance("what its drive makes has no solution")),
                    });
                }
            }
            Known::Open(missing) => series.push(Known::Open(missing)),
            Known::NotApplicable(reason) => series.push(Known::NotApplicable(reason)),
            Known::Between(..) => series.push(Known::Open(Missing::default())),
        }
    }
    series
}

fn where_furthest_off(scope: &Scope<'_>, subject: &Subject, pick: impl Fn(f64, f64) -> f64) -> Known<Datum> {
    let worst = scope.fact(subject, "drive_boost_off_max", Sites::All);
    at_worst(scope, worst, Dim::PRESSURE, |point| Some(pick(point.drive_boost?, wanted_boost(scope, point)?)))
}

/// The parts from a machine to the first that can shut behind it, both ends left out, and that part.
fn stretch(scope: &Scope<'_>, subject: &Subject) -> Known<Vec<Arc<str>>> {
    let Some(machine) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    let tract = scope.tract();
    tract.shutting_behind(machine, scope).zip(tract.path(scope)).and_then(|(shutting, path)| {
        let Some(spot) = path.spot(&machine.name) else { return Known::missing(&subject.route) };
        if shutting.is_empty() {
            return Known::not_applicable("nothing behind it can shut");
        }
        let behind = path.all_behind(spot.index);
        let ahead =
            |at: &usize| shutting.iter().any(|shut| shut.index == *at || path.is_ahead(*at, shut.index));
        let names = behind.into_iter().filter(ahead).filter_map(|at| path.get(at));
        Known::Is(names.map(|spot| spot.part.name.clone()).collect())
    })
}

/// Effective area of the valves tapped in along the stretch, those that limit the boost alone left out, m2.
fn round_area(scope: &Scope<'_>, subject: &Subject) -> Known<f64> {
    stretch(scope, subject).and_then(|names| {
        let mut area = Known::Is(0.0);
        for part in &scope.build().parts.list {
            let Body::ReliefValve(valve) = &part.body else { continue };
            if matches!(valve.purpose.state(scope), State::Given(ReliefPurpose::Ceiling)) {
                continue;
            }
            let here = scope.tract().host_of(part, scope).map(|host| names.contains(&host.name));
            let own = here.and_then(|here| match here {
                true => Opening::set_up(part, scope).map(|opening| opening.effective),
                false => Known::Is(0.0),
            });
            area = area.zip(own).map(|(sum, own)| sum + own);
        }
        area
    })
}

/// What a machine delivers, kg/s, at the rev limit from still air at a site, and how it warms it.
#[derive(Clone, Copy)]
struct Delivery {
    flow: f64,
    efficiency: f64,
}

fn delivery(scope: &Scope<'_>, subject: &Subject, site: &SiteSteady) -> Known<Delivery> {
    let Some(part) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    let Body::Supercharger(machine) = &part.body else {
        return Known::not_applicable("it is no supercharger");
    };
    let engine = scope.build().top.engine.get(scope);
    let limit = engine.and_then(|engine| engine.rev_limit.get(scope).map(|limit| limit.si()));
    let size =
        machine.displacement.get(scope).map(|v| v.si()).zip(machine.drive_ratio.get(scope).map(|r| r.si()));
    let shares = machine
        .volumetric_efficiency
        .get(scope)
        .map(|e| e.si())
        .zip(machine.isentropic_efficiency.get(scope).map(|e| e.si()));
    size.zip(shares).zip(limit).zip(site.state.clone()).map(|(((size, shares), limit), state)| {
        let ((volume, drive), (filling, efficiency)) = (size, shares);
        let density = state.pressure / (state.gas.r() * state.temperature);
        Delivery { flow: volume * drive * filling * limit * density, efficiency }
    })
}

/// Flow, kg/s, that an effective area passes from behind a machine back to its inlet; `p` Pa behind.
fn back_flow(site: &SiteSteady, made: &Delivery, area: f64, p: f64) -> Option<f64> {
    let state = site.state.exact()?;
    let hot = compress(&state.gas, state.temperature, p / state.pressure, made.efficiency)?.temperature;
    let nozzle = Nozzle { area, discharge_coefficient: 1.0, gamma: state.gas.gamma(hot), r: state.gas.r() };
    nozzle.flow(p, hot, state.pressure)
}

/// Highest pressure looked at, as a multiple of the air's outside.
const HIGHEST: f64 = 30.0;

fn closed_throttle(scope: &Scope<'_>, subject: &Subject) -> Series {
    let steady = scope.steady();
    let each = steady.sites.iter().map(|site| {
        let known = delivery(scope, subject, site).zip(round_area(scope, subject)).zip(site.state.clone());
        known.and_then(|((made, area), state)| {
            let outside = state.pressure;
            let short = |p: f64| back_flow(site, &made, area, p).unwrap_or(f64::NAN) - made.flow;
            let p = match find_root(outside, HIGHEST * outside, 1.0, short) {
                Ok(root) => root.x,
                // The way round passes less than is delivered, however high the pressure: something gives first.
                Err(_) => HIGHEST * outside,
            };
            Known::Is(Num::new(p - outside, Dim::PRESSURE).at(at_site(site)))
        })
    });
    each.collect()
}

fn weakest_rating(scope: &Scope<'_>, subject: &Subject) -> Series {
    let names = match stretch(scope, subject) {
        Known::Is(names) => names,
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    let tract = scope.tract();
    let parts = tract.subjects(SubjectKind::Part);
    let each = parts.iter().filter(|part| names.contains(&part.name)).map(|part| {
        scope.fact(part, "pressure_rating", Sites::All).and_then(|rating| {
            let number = rating.as_number().cloned();
            number.map_or_else(|| Known::missing(&part.route), Known::Is)
        })
    });
    each.collect()
}

fn round_area_needed(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let rating = scope.fact(subject, "weakest_rating_between", Sites::All);
    let steady = scope.steady();
    rating.and_then(|rating| {
        let rating = rating.as_number().map_or(0.0, |number| number.v);
        let mut needed: Option<Num> = None;
        for site in &steady.sites {
            let one = delivery(scope, subject, site).zip(site.state.clone()).and_then(|(made, state)| {
                let unit = back_flow(site, &made, 1.0, state.pressure + rating);
                unit.map_or_else(|| Known::missing(&subject.route), |unit| Known::Is(made.flow / unit))
            });
            match one {
                Known::Is(area) if needed.as_ref().is_none_or(|most| area > most.v) => {
                    needed = Some(Num::new(area, Dim::AREA).at(at_site(site)));
                }
                Known::Is(_) => {}
                other => return other.map(|area| Datum::Number(Num::new(area, Dim::AREA))),
            }
        }
        needed.map_or_else(|| Known::missing(&subject.route), |area| Known::Is(Datum::Number(area)))
    })
}

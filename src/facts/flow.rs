//! Facts on flows, speeds, losses and volumes along the tract at the operating points.

use std::sync::Arc;

use super::graph::{row, with_part};
use super::points::{Here, at, datum, num, over_points, over_stations};
use super::registry::{Fold, Row, Series};
use super::scope::Scope;
use super::steady::worst;
use crate::build::air_path::{AirPath, PathElement};
use crate::build::parts::{Body, MeterPurpose, Part, PartKind};
use crate::build::scalars::Flag;
use crate::known::{Datum, Kind, Known, Missing, Num, Read, Reads, State};
use crate::model::{Outcome, Point, Solution, Station};
use crate::physics::flow::{bore_area, static_state};
use crate::physics::loss;
use crate::text::{Dim, Route};
use crate::tract::{Region, Subject, SubjectKind};

const BUILD: &[SubjectKind] = &[SubjectKind::Build];
const PART: &[SubjectKind] = &[SubjectKind::Part];
const PIPE: &[SubjectKind] = &[SubjectKind::Pipe];
const THROTTLE: &[SubjectKind] = &[SubjectKind::Throttle];
const PARALLEL: &[SubjectKind] = &[SubjectKind::Parallel];
const METER: &[SubjectKind] = &[SubjectKind::AirMeter];
const JOINT: &[SubjectKind] = &[SubjectKind::Joint];

/// The rows.
pub(super) static ROWS: &[Row] = &[
    worst(
        "flow_max",
        Dim::MASS_FLOW,
        PART,
        "largest mass flow through the part over all points and sites",
        Fold::Max,
        |scope, subject| {
            over_stations(scope, &subject.name, |here| Some(here.num(here.station.flow, Dim::MASS_FLOW)))
        },
    ),
    row(
        "flow_rating",
        Kind::Number(Dim::MASS_FLOW),
        PART,
        "highest flow that the part is made for, as described",
        flow_rating,
    ),
    row(
        "flow_is_limited",
        Kind::Bool,
        PART,
        "whether the part has a highest flow: filters, flame arresters and air meters always, others where one is stated",
        flow_is_limited,
    ),
    worst(
        "mach_max",
        Dim::ONE,
        PIPE,
        "largest Mach number in the pipe's bore over all points and sites; none where the bore is choked",
        Fold::Max,
        mach,
    ),
    row(
        "knows_direction",
        Kind::Bool,
        METER,
        "whether the meter tells which way the air goes; not unless said",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::AirMeter(meter) => {
                    let words = "the meter is taken to count air that runs backward as if it came";
                    meter.knows_direction.get_or(scope, Flag(false), words).map(|flag| Datum::Bool(flag.0))
                }
                _ => Known::not_applicable("it is no air meter"),
            })
        },
    ),
    row(
        "meter_purpose",
        Kind::Word,
        METER,
        "what the air meter's reading serves: metering unless said",
        |scope, subject| {
            with_part(scope, subject, |part| match &part.body {
                Body::AirMeter(meter) => {
                    let words = "the fuel is taken to be dosed by this meter";
                    let purpose = meter.purpose.get_or(scope, MeterPurpose::Metering, words);
                    purpose.map(|purpose| Datum::word(purpose.word()))
                }
                _ => Known::missing(&subject.route),
            })
        },
    ),
    row("pipe_region", Kind::Word, PIPE, "region of the tract that the pipe lies in", |scope, subject| {
        let tract = scope.tract();
        tract.is_on_path(&subject.name, scope).and_then(|on_path| match on_path {
            true => tract.region_of(&subject.name, scope).map(|region| Datum::word(region.word())),
            false => Known::not_applicable("it is not on the air path"),
        })
    }),
    row(
        "branches_compress",
        Kind::Bool,
        PARALLEL,
        "whether a compressor lies in the branches",
        |scope, subject| {
            branches(scope, subject).map(|branches| {
                let kind = |name: &str| scope.build().parts.named(name).and_then(Part::known_kind);
                Datum::Bool(branches.iter().flatten().filter_map(|name| kind(name)).any(compresses))
            })
        },
    ),
    worst(
        "branch_flow_spread_max",
        Dim::ONE,
        PARALLEL,
        "largest less smallest flow of the branches over their mean, at most over boosted points and sites",
        Fold::Max,
        branch_flow_spread,
    ),
    worst(
        "suction_loss_max",
        Dim::PRESSURE,
        BUILD,
        "largest total pressure lost from the site to the first compressor's inlet, over all points and sites",
        Fold::Max,
        |scope, _| {
            over_points(scope, |site, _, solution| {
                let inlet = compressors(solution).map(|station| station.inlet.pressure).reduce(f64::max)?;
                let loss = site.pressure - inlet;
                Some(Known::Is(Num::new(loss, Dim::PRESSURE).with_error(solution.relative_error() * loss)))
            })
        },
    ),
    worst(
        "charge_loss_share_max",
        Dim::ONE,
        BUILD,
        "largest share of the last compressor's outlet pressure that is lost up to the manifold, over boosted points and sites",
        Fold::Max,
        |scope, _| {
            over_points(scope, |_, point, solution| {
                if point.off_boost {
                    return None;
                }
                let outlet = compressors(solution).map(|station| station.outlet.pressure).reduce(f64::max)?;
                Some(num((outlet - solution.p_manifold) / outlet, Dim::ONE))
            })
        },
    ),
    worst(
        "full_throttle_loss_max",
        Dim::PRESSURE,
        THROTTLE,
        "largest total pressure that the fully open throttle takes, over all points and sites",
        Fold::Max,
        |scope, subject| {
            over_stations(scope, &subject.name, |here| Some(here.num(here.station.loss(), Dim::PRESSURE)))
        },
    ),
    worst(
        "step_loss_max",
        Dim::PRESSURE,
        JOINT,
        "largest total pressure lost at the step from one bore to the next, over all points and sites",
        Fold::Max,
        step_loss,
    ),
    worst(
        "fill_time_max",
        Dim::TIME,
        BUILD,
        "time to fill the charge volume up to the highest boost with the flow of the first point at which half of it is asked for; the longest over the sites",
        Fold::Max,
        fill_time,
    ),
    row(
        "charge_volume",
        Kind::Number(Dim::VOLUME),
        BUILD,
        "volume of the air path behind the last compressor, up to and with the manifold; a part without one leaves a least volume",
        |scope, _| charge_volume(scope).map(|volume| Datum::Number(Num::new(volume, Dim::VOLUME))),
    ),
];

fn compressors(solution: &Solution) -> impl Iterator<Item = &Station> {
    solution.stations.iter().filter(|station| compresses(station.kind))
}

/// The names of the parts of each branch, where branches lie side by side at a subject's place.
pub(super) fn branches(scope: &Scope<'_>, subject: &Subject) -> Known<Vec<Vec<Arc<str>>>> {
    let known = scope.tract().unknown_kinds(scope);
    if !known.is_nothing() {
        return Known::Open(known);
    }
    scope.build().top.air_path.get(scope).and_then(|AirPath(elements)| {
        let mut todo: Vec<&PathElement> = elements.iter().collect();
        while let Some(element) = todo.pop() {
            let PathElement::Fork { route, branches } = element else { continue };
            if *route == subject.route {
                return Known::Is(branches.iter().map(|branch| names_in(&branch.elements)).collect());
            }
            todo.extend(branches.iter().flat_map(|branch| &branch.elements));
        }
        Known::missing(&subject.route)
    })
}

fn names_in(elements: &[PathElement]) -> Vec<Arc<str>> {
    let mut names = Vec::new();
    for element in elements {
        match element {
            PathElement::Part { name, .. } => names.push(name.clone()),
            PathElement::Fork { branches, .. } => {
                names.extend(branches.iter().flat_map(|branch| names_in(&branch.elements)));
            }
        }
    }
    names
}

fn branch_flow_spread(scope: &Scope<'_>, subject: &Subject) -> Series {
    let branches = match branches(scope, subject) {
        Known::Is(branches) => branches,
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    over_points(scope, |_, point, solution| {
        if point.off_boost {
            return None;
        }
        // A branch begins with a part that all of its air passes, unless it forks at once: then its first one stands for it.
        let flow = |names: &Vec<Arc<str>>| {
            let of = |name: &Arc<str>| solution.stations.iter().find(|one| one.part == *name);
            names.first().and_then(of).map(|station| station.flow)
        };
        let flows: Vec<f64> = branches.iter().map(flow).collect::<Option<_>>()?;
        let mean = flows.iter().sum::<f64>() / flows.len() as f64;
        let ends = flows
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(low, high), flow| (low.min(*flow), high.max(*flow)));
        Some(num((ends.1 - ends.0) / mean, Dim::ONE))
    })
}

/// Kinds that a highest flow has to be known of.
const LIMITED: &[PartKind] = &[PartKind::AirFilter, PartKind::FlameArrester, PartKind::AirMeter];

fn flow_is_limited(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let Some(duct) = &part.duct else { return Known::Is(Datum::Bool(false)) };
        part.kind.get(scope).map(|kind| {
            let stated = !matches!(duct.flow_rating.state(scope), State::Absent);
            Datum::Bool(stated || LIMITED.contains(kind))
        })
    })
}

fn flow_rating(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        let Some(duct) = &part.duct else { return Known::not_applicable("no air flows through it") };
        duct.flow_rating.get(scope).and_then(|rating| datum(rating.si(), Dim::MASS_FLOW))
    })
}

fn mach(scope: &Scope<'_>, subject: &Subject) -> Series {
    let bore = scope.tract().part_of(subject).and_then(|part| part.duct.as_ref()).map(|duct| &duct.bore);
    let choked = |here: &Here<'_>| {
        let words = format!("the bore cannot pass the flow at {:.0} rpm", here.point.speed * 60.0);
        Known::Open(Missing::hindrance(words))
    };
    match bore.map(|bore| bore.get(scope)) {
        Some(Known::Is(_)) => over_stations(scope, &subject.name, |here| {
            Some(here.station.speed.map_or_else(|| choked(here), |(_, mach)| here.num(mach, Dim::ONE)))
        }),
        Some(other) => vec![other.and_then(|_| Known::missing(&subject.route))],
        None => vec![Known::missing(&subject.route)],
    }
}

/// Bores at a part's two ends, for parts that lead the air in a bore.
fn bores<'b>(scope: &Scope<'b>, name: &str) -> Known<(f64, f64)> {
    let Some(part) = scope.build().parts.named(name) else {
        return Known::missing(scope.build().top.air_path.route());
    };
    part.kind.get(scope).and_then(|kind| {
        let (true, Some(duct)) = (
            matches!(kind, PartKind::Pipe | PartKind::AirMeter | PartKind::Cone | PartKind::Coupler),
            &part.duct,
        ) else {
            return Known::not_applicable("on one side the air is not led in a plain bore");
        };
        let inlet = duct.bore.get(scope).map(|bore| bore.si());
        let outlet = match &part.body {
            Body::Cone(cone) => cone.outlet_bore.get(scope).map(|bore| bore.si()),
            _ => inlet.clone(),
        };
        inlet.zip(outlet)
    })
}

fn step_loss(scope: &Scope<'_>, subject: &Subject) -> Series {
    let joints = scope.tract().joints();
    let Some(joint) = joints.into_iter().find(|joint| joint.route == subject.route) else {
        return vec![Known::missing(&subject.route)];
    };
    let both = bores(scope, &joint.upstream).zip(bores(scope, &joint.downstream));
    let (before, behind) = match both {
        Known::Is(((_, before), (behind, _))) => (before, behind),
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    let (smaller, larger) = (before.min(behind), before.max(behind));
    let k = if before <= behind {
        loss::enlargement_k(smaller, larger)
    } else {
        loss::contraction_k(smaller, larger)
    };
    over_stations(scope, &joint.downstream, |here| {
        let air = here.station.inlet;
        let state = static_state(&here.site.gas, air.pressure, air.temperature, here.station.flow, smaller);
        let lost = k.zip(state).map(|(k, state)| k * loss::dynamic_pressure(state.density, state.velocity));
        let choked = || Known::Open(Missing::hindrance("the smaller bore cannot pass the flow"));
        Some(lost.map_or_else(choked, |lost| here.num(lost, Dim::PRESSURE)))
    })
}

/// The part that takes most pressure at any solved point, ahead of the first compressor or behind the last.
pub(super) fn largest_loss_part(scope: &Scope<'_>, behind: bool) -> Known<Route> {
    let steady = scope.steady();
    let points = steady.sites.iter().filter_map(|site| site.points.exact()).flatten();
    let mut largest: Option<(f64, Arc<str>)> = None;
    for point in points {
        let Outcome::Solved(solution) = &point.outcome else { continue };
        let compresses = |station: &Station| compresses(station.kind);
        let stations = &solution.stations;
        let ends = if behind {
            let last = stations.iter().rposition(compresses);
            (last.map_or(stations.len(), |last| last + 1), stations.len())
        } else {
            (0, stations.iter().position(compresses).unwrap_or(0))
        };
        for station in stations.get(ends.0..ends.1).unwrap_or_default() {
            if largest.as_ref().is_none_or(|(loss, _)| station.loss() > *loss) {
                largest = Some((station.loss(), station.part.clone()));
            }
        }
    }
    match largest.and_then(|(_, name)| scope.build().parts.named(&name)) {
        Some(part) => Known::Is(part.route.clone()),
        None => Known::not_applicable("no operating point is solved"),
    }
}

/// The part behind the last compressor that holds most air.
pub(super) fn largest_volume_part(scope: &Scope<'_>) -> Known<Route> {
    charge_parts(scope).and_then(|parts| {
        let known = parts.iter().filter_map(|part| Some((*part_volume(scope, part).exact()?, part)));
        let largest = known.max_by(|one, other| one.0.total_cmp(&other.0));
        largest.map_or_else(
            || Known::not_applicable("no volume is known"),
            |(_, part)| Known::Is(part.route.clone()),
        )
    })
}

/// The parts behind the last compressor.
fn charge_parts<'b>(scope: &Scope<'b>) -> Known<Vec<&'b Part>> {
    scope.tract().path(scope).map(|path| {
        let counted = path.iter().filter(|spot| {
            let region = path.region(spot.index);
            let behind = matches!(region, Some(Region::Charge | Region::Manifold | Region::Runner));
            behind && !spot.compresses()
        });
        counted.map(|spot| spot.part).collect()
    })
}

pub(super) fn compresses(kind: PartKind) -> bool {
    matches!(kind, PartKind::Turbocharger | PartKind::Supercharger)
}

/// Volume behind the last compressor.
pub(super) fn charge_volume(scope: &Scope<'_>) -> Known<f64> {
    charge_parts(scope).and_then(|parts| {
        let mut volume = 0.0;
        let mut lacking = Missing::default();
        for part in parts {
            match part_volume(scope, part) {
                Known::Is(own) => volume += own,
                Known::Open(missing) => lacking = lacking.join(missing),
                Known::NotApplicable(_) | Known::Between(..) => {}
            }
        }
        if lacking.is_nothing() {
            return Known::Is(volume);
        }
        scope.note(Read::Lacking(lacking));
        Known::Between(volume, f64::INFINITY)
    })
}

/// Volume of the air in a part: as described, else bore area times length, arcs of bends included.
fn part_volume(scope: &Scope<'_>, part: &Part) -> Known<f64> {
    let Some(duct) = &part.duct else { return Known::not_applicable("no air flows through it") };
    if duct.volume.is_given(scope) {
        return duct.volume.get(scope).map(|volume| volume.si());
    }
    part.kind.get(scope).and_then(|kind| match kind {
        PartKind::Throttle | PartKind::Carburettor | PartKind::AirShutOffValve | PartKind::FlameArrester => {
            Known::not_applicable("it holds hardly any air")
        }
        PartKind::Pipe | PartKind::Coupler | PartKind::AirMeter | PartKind::Cone => {
            let size = duct.bore.get(scope).zip(length_with_arcs(scope, part));
            size.map(|(bore, length)| bore_area(bore.si()) * length)
        }
        _ => Known::missing(duct.volume.route()),
    })
}

/// Length of a part along the middle of its bore, m, arcs of bends included.
pub(super) fn length_with_arcs(scope: &Scope<'_>, part: &Part) -> Known<f64> {
    let Some(duct) = &part.duct else { return Known::not_applicable("no air flows through it") };
    let arcs = match &part.body {
        Body::Pipe(pipe) => pipe.arcs(scope),
        _ => Known::Is(0.0),
    };
    duct.length.get(scope).zip(arcs).map(|(length, arcs): (_, f64)| length.si() + arcs)
}

/// Boost has come when this share of the highest is asked for: a mere breath of it at low speed fills nothing.
pub(super) const COMING: f64 = 0.5;

fn fill_time(scope: &Scope<'_>, _: &Subject) -> Series {
    let boost = scope.build().top.boost.get(scope).and_then(|boost| {
        let highest = boost.entries.iter().map(|entry| entry.value.si()).fold(0.0, f64::max);
        if highest > 0.0 { Known::Is(highest) } else { Known::not_applicable("no boost is asked for") }
    });
    let steady = scope.steady();
    let mut series = Series::new();
    for site in &steady.sites {
        let known = site.state.as_ref().zip(site.points.as_ref()).zip(boost.clone());
        let value = known.and_then(|((state, points), boost)| {
            let table = scope.build().top.boost.get(scope);
            let wanted = |speed: f64| table.exact().and_then(|table| table.at(speed)).unwrap_or(0.0);
            let comes = |point: &&Point| !point.off_boost && wanted(point.speed) >= COMING * boost;
            let Some(first) = points.iter().find(comes) else {
                return Known::not_applicable("no point is boosted");
            };
            let Outcome::Solved(solution) = &first.outcome else {
                return Known::Open(Missing::hindrance("the point at which boost comes is not solved"));
            };
            let of = |volume: f64| {
                let mass = volume * boost / (state.gas.r() * solution.t_manifold);
                Num::new(mass / solution.flow, Dim::TIME).at(at(site, first))
            };
            charge_volume(scope).map(of)
        });
        series.push(value);
    }
    series
}

//! Facts on what a relief valve needs of which little is described yet: what is not said is taken as usual, and named.

use super::graph::with_part;
use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::{Scope, Sites};
use super::signal_lag::HEARD;
use super::statics::Valves;
use crate::build::parts::{Body, Part, ReliefPurpose, ReliefValve};
use crate::known::{Datum, Kind, Known, Missing, Num, State};
use crate::model::{
    HoseSize, Placed, ShutDemand, SignalStep, StartKind, Valve, is_electric, sites, usual_chamber,
};
use crate::physics::numeric::{RootError, find_root};
use crate::physics::relief_valve::{ActingAreas, Pressures};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const VALVE: &[SubjectKind] = &[SubjectKind::ReliefValve];

/// Bore of the hose whose longest length is told, m: a common size (common practice, no source).
const USUAL_BORE: f64 = 5e-3;
/// Share of the time to the surge line that the hose may take (common practice, no source): the rule on slow hoses has it too.
const HOSE_SHARE: f64 = 0.1;
/// The longest hose that is looked at, m, and how finely.
const LONGEST_HOSE: f64 = 10.0;
const FINE: f64 = 0.01;

/// The rows.
pub(super) static ROWS: &[Row] = &[
    Row {
        name: "usual_spring_least",
        kind: Kind::Number(Dim::FORCE),
        meaning: "least force of a spring that keeps a pneumatic valve shut at full throttle, with the seat given or needed and, unless given, a piston as large, a tap close ahead of what shuts and a signal from the manifold; where the spring or a bore is not given",
        group: Group::Statics,
        on: VALVE,
        make: Make::Worst(Fold::Max, |scope, subject| forces(scope, subject, least)),
    },
    Row {
        name: "usual_spring_most",
        kind: Kind::Number(Dim::FORCE),
        meaning: "largest force of its spring, at the lift that passes the flow of the surge line, that lets such a valve open so far",
        group: Group::Statics,
        on: VALVE,
        make: Make::Worst(Fold::Min, |scope, subject| forces(scope, subject, most)),
    },
    Row {
        name: "usual_hose_longest",
        kind: Kind::Number(Dim::LENGTH),
        meaning: "longest signal hose of 5 mm bore from the manifold that brings such a valve 63 % of the fall of its signal within a tenth of the time to the surge line",
        group: Group::TipOut,
        on: VALVE,
        make: Make::Plain(|scope, subject| {
            with_part(scope, subject, |part| longest_hose(scope, subject, part))
        }),
    },
    Row {
        name: "outlet_bore_ahead_of_tap",
        kind: Kind::Number(Dim::LENGTH),
        meaning: "bore of the first part behind the last compressor that has one, where it is not said how far behind the valve is tapped",
        group: Group::Graph,
        on: VALVE,
        make: Make::Plain(|scope, subject| with_part(scope, subject, |part| outlet_bore(scope, part))),
    },
];

/// The valve's fields, where they leave something to choose: of one that is described in full other facts speak.
fn to_be_chosen<'b>(scope: &Scope<'b>, part: &'b Part) -> Known<&'b ReliefValve> {
    let Body::ReliefValve(valve) = &part.body else {
        return Known::not_applicable("it is no relief valve");
    };
    if is_electric(valve, scope) {
        return Known::not_applicable("no spring of an electric valve weighs pressures");
    }
    let valve: &ReliefValve = valve;
    valve.purpose_or_usual(scope).and_then(|purpose| {
        let spring = match valve.spring.state(scope) {
            State::Given(spring) => !spring.preload.is_given(scope) || !spring.rate.is_given(scope),
            _ => true,
        };
        let open = spring || !(valve.seat.is_given(scope) && valve.piston.is_given(scope));
        match purpose {
            ReliefPurpose::TipOut if open => Known::Is(valve),
            ReliefPurpose::TipOut => Known::not_applicable("nothing of it is left to choose"),
            _ => Known::not_applicable("only a valve that is there for the tip-out has to open on it"),
        }
    })
}

/// Seat of a valve, m: the one given, or the one needed.
fn seat(scope: &Scope<'_>, subject: &Subject, valve: &ReliefValve) -> Known<f64> {
    if valve.seat.is_given(scope) {
        return valve.seat.get(scope).map(|seat| seat.si());
    }
    scope.fact(subject, "seat_needed", Sites::All).and_then(|datum| match datum.as_number() {
        Some(number) => Known::Is(number.v),
        None => Known::missing(valve.seat.route()),
    })
}

/// The areas that pressures act on: as described, or with a piston as large as the seat.
fn areas(scope: &Scope<'_>, subject: &Subject, part: &Part, valve: &ReliefValve) -> Known<ActingAreas> {
    if let given @ Known::Is(_) = Valve::acting_areas(part, scope) {
        return given;
    }
    let piston = valve.piston.is_given(scope).then(|| valve.piston.get(scope).map(|bore| bore.si()));
    seat(scope, subject, valve).and_then(|seat| {
        piston.clone().unwrap_or(Known::Is(seat)).map(|piston| ActingAreas::of_bores(seat, piston))
    })
}

fn least(valves: &Valves<'_>) -> Vec<Known<Placed<Pressures>>> {
    valves.full_throttle_as_usual()
}

fn most(valves: &Valves<'_>) -> Vec<Known<Placed<Pressures>>> {
    let pressures = |demand: Placed<ShutDemand>| Placed { at: demand.at, value: demand.value.pressures };
    valves.demands_as_usual().into_iter().map(|demand| demand.map(pressures)).collect()
}

/// The force with which the pressures open the valve, at each place.
fn forces(
    scope: &Scope<'_>,
    subject: &Subject,
    pressures: fn(&Valves<'_>) -> Vec<Known<Placed<Pressures>>>,
) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let areas = match to_be_chosen(scope, part).and_then(|valve| areas(scope, subject, part, valve)) {
        Known::Is(areas) => areas,
        other => return vec![other.and_then(|_| Known::Open(Missing::default()))],
    };
    let force = |placed: Placed<Pressures>| Num::new(areas.force(placed.value), Dim::FORCE).at(placed.at);
    pressures(&Valves { scope, part }).into_iter().map(|placed| placed.map(force)).collect()
}

fn longest_hose(scope: &Scope<'_>, subject: &Subject, part: &Part) -> Known<Datum> {
    let areas = match to_be_chosen(scope, part).and_then(|valve| areas(scope, subject, part, valve)) {
        Known::Is(areas) => areas,
        other => return other.and_then(|_| Known::Open(Missing::default())),
    };
    let time = scope.fact(subject, "time_to_surge_line", Sites::All);
    let valves = Valves { scope, part };
    let start = |demand: &Known<Placed<ShutDemand>>| {
        let found = demand.exact()?;
        (found.at.home && found.value.kind == StartKind::HighestBoost).then(|| found.clone())
    };
    let demand = valves.demands_as_usual().iter().find_map(start);
    let Some(demand) = demand else {
        return Known::Open(Missing::hindrance("no start at boost has a solution at home"));
    };
    let before = valves.full_throttle_as_usual();
    let before = before.iter().filter_map(Known::exact).find(|placed| placed.at == demand.at);
    let Some(from) = before.map(|placed| placed.value.signal) else {
        return Known::Open(Missing::default());
    };
    let home = sites(scope.build(), scope).into_iter().next().map(|(_, state)| state);
    let home = home.unwrap_or_else(|| Known::missing(scope.build().top.site.route()));
    time.zip(home).and_then(|(time, home)| {
        let Some(time) = time.as_number().map(|number| HOSE_SHARE * number.v) else {
            return Known::Open(Missing::default());
        };
        let to = demand.value.pressures.signal;
        // A valve lifts by a quarter of its seat, √(4A/π)/4.
        let lift = (areas.inlet / std::f64::consts::PI).sqrt() / 2.0;
        let chamber = usual_chamber(areas.signal, lift);
        let late = |length: f64| {
            let hose = HoseSize { length, bore: USUAL_BORE, restrictors: Vec::new() };
            let step = SignalStep { hoses: vec![hose], chamber, from, to };
            let level = from + HEARD * (to - from);
            step.time_to(level, 4.0 * time, &home).map_or(f64::NAN, |taken| taken - time)
        };
        match find_root(FINE, LONGEST_HOSE, FINE, late) {
            Ok(root) => Known::Is(Datum::Number(Num::new(root.x, Dim::LENGTH))),
            Err(RootError::NotFinite { .. }) => {
                Known::Open(Missing::hindrance("the signal hose has no solution"))
            }
            Err(_) => Known::not_applicable("no hose of that bore up to 10 m takes just so long"),
        }
    })
}

fn outlet_bore(scope: &Scope<'_>, part: &Part) -> Known<Datum> {
    if let State::Given(tap) = part.common.tap.state(scope)
        && tap.at.is_given(scope)
    {
        return Known::not_applicable("its place is given");
    }
    scope.tract().path(scope).and_then(|path| {
        let Some(last) = path.iter().rfind(|spot| spot.compresses()) else {
            return Known::not_applicable("no compressor is on the air path");
        };
        let behind = path.all_behind(last.index).into_iter().filter_map(|at| path.get(at));
        let duct = behind.filter_map(|spot| spot.part.duct.as_ref()).next();
        duct.map_or_else(
            || Known::not_applicable("nothing behind the compressor has a bore"),
            |duct| duct.bore.get(scope).map(|bore| Datum::Number(Num::new(bore.si(), Dim::LENGTH))),
        )
    })
}

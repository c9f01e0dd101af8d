//! Facts on how late a hose brings its signal.

use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::{Scope, Sites};
use super::shared::{listener, listens, ways_through};
use super::statics::Valves;
use crate::build::hoses::HoseFields;
use crate::build::parts::{Actuation, Body, Part, ReliefPurpose, ReliefValve};
use crate::known::{At, Datum, Kind, Known, Missing, Num, Read, Reads, State};
use crate::model::{
    HOME, HoseSize, LONGEST, Placed, SignalStep, SiteState, StartKind, Valve, sites, usual_chamber,
};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const HOSE: &[SubjectKind] = &[SubjectKind::Hose];

/// Share of a step after which a signal counts as heard where no level is known from which its listener acts: that of a first-order
/// lag after its time constant.
pub(super) const HEARD: f64 = 0.632;
/// Volume inside a pressure sensor that does not say it, m3 (choice): a drop.
const SENSOR_CHAMBER: f64 = 0.1e-6;

/// The rows.
pub(super) static ROWS: &[Row] = &[
    Row {
        name: "listener",
        kind: Kind::Word,
        meaning: "what acts on the pressure that the hose brings: `relief-valve` (one that opens on tip-out), `actuator` or `pressure-sensor`",
        group: Group::Graph,
        on: HOSE,
        make: Make::Plain(|scope, subject| hearing(scope, subject).map(word)),
    },
    Row {
        name: "signal_lag_threshold",
        kind: Kind::Number(Dim::TIME),
        meaning: "time from a sharp change at the hose's source until its listener acts: of a relief valve, until its signal is so low that it stands open for the flow of the surge line, over starts at boost and sites; of others, until they feel 63 % of the change",
        group: Group::Statics,
        on: HOSE,
        make: Make::Worst(Fold::Max, lag),
    },
    Row {
        name: "time_to_surge_line",
        kind: Kind::Number(Dim::TIME),
        meaning: "time from where the throttle begins to shut until the flow falls below that of the surge line, were there no relief valve; the shortest over starts and sites; of the hose of a relief valve",
        group: Group::TipOut,
        on: HOSE,
        make: Make::Worst(Fold::Min, |scope, subject| vec![of_valve(scope, subject, "time_to_surge_line")]),
    },
    Row {
        name: "late_in_the_run",
        kind: Kind::Bool,
        meaning: "whether the run of the tip-out, which counts this hose, shows the relief valve too late for a surge that does harm",
        group: Group::TipOut,
        on: HOSE,
        make: Make::Plain(late_in_the_run),
    },
];

/// What acts on the pressure that a hose brings, as far as the time that it takes matters.
fn hearing<'b>(scope: &Scope<'b>, subject: &Subject) -> Known<&'b Part> {
    listener(scope, subject, listens).and_then(|part| match &part.body {
        Body::ReliefValve(valve) => hears_tip_out(scope, valve).map(|()| part),
        Body::Actuator(actuator) => pneumatic(actuator.actuation.state(scope)).map(|()| part),
        Body::PressureSensor(_) => Known::Is(part),
        _ => Known::not_applicable("what hangs on it may hear late"),
    })
}

fn pneumatic(actuation: &State<Actuation>) -> Known<()> {
    match actuation {
        State::Given(Actuation::Electric) => Known::not_applicable("it is moved by electricity"),
        _ => Known::Is(()),
    }
}

fn hears_tip_out(scope: &Scope<'_>, valve: &ReliefValve) -> Known<()> {
    valve.purpose_or_usual(scope).and_then(|purpose| match purpose {
        ReliefPurpose::TipOut => pneumatic(valve.actuation.state(scope)),
        _ => Known::not_applicable("the valve is not there for the tip-out"),
    })
}

fn word(part: &Part) -> Datum {
    Datum::word(match &part.body {
        Body::ReliefValve(_) => "relief-valve",
        Body::Actuator(_) => "actuator",
        _ => "pressure-sensor",
    })
}

/// A fact of the relief valve at the hose's end.
fn of_valve(scope: &Scope<'_>, subject: &Subject, name: &str) -> Known<Num> {
    hearing(scope, subject).and_then(|part| {
        let valves = scope.tract().subjects(SubjectKind::ReliefValve);
        match valves.into_iter().find(|valve| valve.name == part.name) {
            Some(valve) => scope.fact(&valve, name, Sites::All).and_then(|datum| {
                datum.as_number().map_or_else(|| Known::missing(&subject.route), |n| Known::Is(n.clone()))
            }),
            None => Known::not_applicable("no relief valve hangs on it"),
        }
    })
}

fn late_in_the_run(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    match of_valve(scope, subject, "opening_lead_min") {
        Known::Is(lead) => Known::Is(Datum::Bool(lead.v < 0.0)),
        Known::NotApplicable(_) => Known::Is(Datum::Bool(false)),
        other => other.map(Datum::Number),
    }
}

/// The hoses of the way that ends at the listener, from the source on. Where it hears several places, a chamber joins them, and
/// from there on the hose is alone.
fn hoses(scope: &Scope<'_>, subject: &Subject, part: &Part) -> Known<Vec<HoseSize>> {
    let ways = ways_through(scope, part, subject);
    if !ways.unknown.is_nothing() {
        return Known::Open(ways.unknown);
    }
    let fields: Vec<&HoseFields> = match ways.found.as_slice() {
        [way] => way.hoses().iter().rev().filter_map(|hose| hose.fields.as_ref()).collect(),
        [first, ..] => vec![first.fields],
        [] => return Known::not_applicable("it brings no pressure from anywhere"),
    };
    fields.into_iter().map(|hose| HoseSize::of(hose, scope)).collect()
}

fn chamber(scope: &Scope<'_>, part: &Part) -> Known<f64> {
    match &part.body {
        Body::ReliefValve(valve) => {
            if valve.chamber.is_given(scope) {
                return valve.chamber.get(scope).map(|volume| volume.si());
            }
            let words = "a chamber 20 mm deeper than the lift";
            scope.note(Read::Default { field: valve.chamber.route().clone(), words: words.into() });
            let lift = valve.lift.get(scope).map(|lift| lift.si());
            Valve::acting_areas(part, scope).zip(lift).map(|(areas, lift)| usual_chamber(areas.signal, lift))
        }
        Body::Actuator(actuator) => actuator.chamber.get(scope).map(|volume| volume.si()),
        Body::PressureSensor(sensor) => {
            if sensor.chamber.is_given(scope) {
                return sensor.chamber.get(scope).map(|volume| volume.si());
            }
            let words = "a chamber of a tenth of a cubic centimetre";
            scope.note(Read::Default { field: sensor.chamber.route().clone(), words: words.into() });
            Known::Is(SENSOR_CHAMBER)
        }
        _ => Known::not_applicable("what hangs on it may hear late"),
    }
}

/// A jump of the source, and the level at which the listener acts.
struct Jump {
    at: At,
    from: f64,
    to: f64,
    level: f64,
}

fn lag(scope: &Scope<'_>, subject: &Subject) -> Series {
    let line = hearing(scope, subject).and_then(|part| {
        hoses(scope, subject, part).zip(chamber(scope, part)).map(|line| (part, line.clone()))
    });
    let (part, (hoses, chamber)) = match line {
        Known::Is(line) => line,
        other => return vec![other.and_then(|_| Known::missing(&subject.route))],
    };
    let jumps = match &part.body {
        Body::ReliefValve(_) => shutting(scope, part),
        _ => vec![boosting(scope)],
    };
    let states = sites(scope.build(), scope);
    let each = jumps.into_iter().map(|jump| {
        jump.and_then(|Jump { at, from, to, level }| {
            let state: Known<SiteState> = states
                .iter()
                .find(|(name, _)| *name == at.site)
                .map_or_else(|| Known::Open(Missing::default()), |(_, state)| state.clone());
            state.and_then(|state| {
                let step = SignalStep { hoses: hoses.clone(), chamber, from, to };
                match step.time_to(level, LONGEST, &state) {
                    Some(time) => Known::Is(Num::new(time, Dim::TIME).at(at.clone())),
                    None => Known::Open(Missing::hindrance("the signal hose has no solution")),
                }
            })
        })
    });
    each.collect()
}

/// The throttle shuts: the manifold falls from boost to what the shut plate leaves, and the valve has to stand so far open that
/// it passes the flow of the surge line. From light boost there is time.
fn shutting(scope: &Scope<'_>, part: &Part) -> Vec<Known<Jump>> {
    let valves = Valves { scope, part };
    let before = valves.full_throttle();
    let each = valves.opened_by().into_iter().map(|opened| {
        opened.and_then(|Placed { at, value: (demand, level) }| {
            if demand.kind == StartKind::LightBoost {
                return Known::not_applicable("from light boost there is time");
            }
            let Some(open) = before.iter().filter_map(Known::exact).find(|placed| placed.at == at) else {
                return Known::Open(Missing::default());
            };
            let (from, to) = (open.value.signal, demand.pressures.signal);
            if level >= from {
                Known::not_applicable("the valve is open before its signal falls")
            } else if level <= to {
                Known::not_applicable("its signal does not fall so far that the valve opens wide enough")
            } else {
                Known::Is(Jump { at, from, to, level })
            }
        })
    });
    each.collect()
}

/// The boost comes: from the outside's pressure to the highest wanted.
fn boosting(scope: &Scope<'_>) -> Known<Jump> {
    let home = sites(scope.build(), scope).into_iter().next().map(|(_, state)| state);
    let home = home.unwrap_or_else(|| Known::missing(scope.build().top.site.route()));
    let boost = scope
        .build()
        .top
        .boost
        .get(scope)
        .map(|table| table.entries.iter().map(|entry| entry.value.si()).fold(0.0, f64::max));
    home.zip(boost).and_then(|(state, boost)| {
        if boost <= 0.0 {
            return Known::not_applicable("the table has no boost");
        }
        let (from, to) = (state.pressure, state.pressure + boost);
        let at = At { site: HOME.into(), home: true, speed: None };
        Known::Is(Jump { at, from, to, level: from + HEARD * (to - from) })
    })
}

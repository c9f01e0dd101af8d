//! Facts from runs of a tip-out (throttle shut at boost).

use std::rc::Rc;

use super::flow::{branches, compresses};
use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::{Ran, Scope, Sites};
use crate::build::parts::{Body, MeterPurpose, Part, ReliefPurpose};
use crate::known::{Datum, Kind, Known, Missing, Num, Read, Reads, Setting, State};
use crate::model::{Demand, LONGEST, Metering, Start, Surging, TipOutResults, ValveResults};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const COMPRESSOR: &[SubjectKind] = &[SubjectKind::Compressor];
const VALVE: &[SubjectKind] = &[SubjectKind::ReliefValve];
const BOTH: &[SubjectKind] = &[SubjectKind::Compressor, SubjectKind::ReliefValve];
const METER: &[SubjectKind] = &[SubjectKind::AirMeter];

const fn worst(
    name: &'static str,
    dim: Dim,
    on: &'static [SubjectKind],
    fold: Fold,
    meaning: &'static str,
    make: fn(&Scope<'_>, &Subject) -> Series,
) -> Row {
    Row { name, kind: Kind::Number(dim), meaning, group: Group::TipOut, on, make: Make::Worst(fold, make) }
}

/// The rows.
pub(super) static ROWS: &[Row] = &[
    Row {
        name: "tip_out_surges",
        kind: Kind::Bool,
        meaning: "whether the compressor surges when the throttle shuts at boost, with the relief valves as described, from any start at any site",
        group: Group::TipOut,
        on: COMPRESSOR,
        make: Make::Plain(surges),
    },
    worst(
        "tip_out_surge_cycles",
        Dim::ONE,
        BOTH,
        Fold::Max,
        "how often the compressor surges when the throttle shuts at boost; the most over starts and sites",
        |scope, subject| {
            over_wheels(scope, subject, true, Dim::ONE, |wheel| Known::Is(wheel.cycles.len() as f64))
        },
    ),
    worst(
        "tip_out_swing_max",
        Dim::PRESSURE,
        BOTH,
        Fold::Max,
        "largest swing of the pressure behind the compressor in a surge cycle on tip-out, over starts and sites; nil without one",
        |scope, subject| {
            over_wheels(scope, subject, true, Dim::PRESSURE, |wheel| Known::Is(wheel.largest_swing()))
        },
    ),
    worst(
        "tip_out_margin_min",
        Dim::ONE,
        BOTH,
        Fold::Min,
        "lowest flow over the flow of the surge line on tip-out, before the flow first reverses, over starts and sites",
        |scope, subject| over_wheels(scope, subject, true, Dim::ONE, |wheel| Known::Is(wheel.margin)),
    ),
    worst(
        "reversed_mass",
        Dim::MASS,
        BOTH,
        Fold::Max,
        "mass that runs backward through the compressor on tip-out; the most over starts and sites",
        |scope, subject| over_wheels(scope, subject, true, Dim::MASS, |wheel| Known::Is(wheel.reversed)),
    ),
    worst(
        "time_to_surge_line",
        Dim::TIME,
        BOTH,
        Fold::Min,
        "time from where the throttle begins to shut until the flow falls below that of the surge line, were there no relief valve; the shortest over starts and sites",
        |scope, subject| {
            over_wheels(scope, subject, false, Dim::TIME, |wheel| {
                wheel.crosses.map_or_else(|| Known::not_applicable(STAYS_RIGHT), Known::Is)
            })
        },
    ),
    worst(
        "open_delay",
        Dim::TIME,
        VALVE,
        Fold::Max,
        "time from where the throttle begins to shut until the valve has lifted 0.1 mm; the longest over starts and sites at which it opens",
        |scope, subject| {
            over_valves(scope, subject, Dim::TIME, |valve| {
                valve.opens.map_or_else(|| Known::not_applicable("the valve stays shut"), Known::Is)
            })
        },
    ),
    worst(
        "opening_lead_min",
        Dim::TIME,
        VALVE,
        Fold::Min,
        "time to the surge line without relief valves less the time until the valves pass the flow of that line, over the starts and sites that surge harmfully",
        opening_lead,
    ),
    worst(
        "valve_reopenings",
        Dim::ONE,
        VALVE,
        Fold::Max,
        "how often the valve opens again within one tip-out; the most over starts and sites",
        |scope, subject| over_valves(scope, subject, Dim::ONE, |valve| Known::Is(valve.reopenings as f64)),
    ),
    worst(
        "lambda_tip_out_min",
        Dim::ONE,
        VALVE,
        Fold::Min,
        "lowest excess-air ratio over the one asked for on tip-out, as far as metered air that is vented is to blame, until the fuel is cut",
        |scope, subject| {
            over_mixture(scope, subject, Dim::ONE, |run, limit, cut| run.lambda_low(limit, cut).0)
        },
    ),
    worst(
        "lambda_low_time",
        Dim::TIME,
        VALVE,
        Fold::Max,
        "for how long that ratio is below its limit on tip-out",
        |scope, subject| {
            over_mixture(scope, subject, Dim::TIME, |run, limit, cut| run.lambda_low(limit, cut).1)
        },
    ),
    worst(
        "vent_share_high",
        Dim::ONE,
        VALVE,
        Fold::Min,
        "largest share of the relieved air that may be vented so that the mixture over the tip-out stays above its limit",
        vent_share_high,
    ),
    worst(
        "vent_share_low",
        Dim::ONE,
        VALVE,
        Fold::Max,
        "least share that has to be vented: what the returns do not swallow, and what would run back over the air meter",
        vent_share_low,
    ),
    worst(
        "reversed_mass_at_meter",
        Dim::MASS,
        METER,
        Fold::Max,
        "mass that runs backward over the air meter on tip-out; the most over starts and sites",
        back_over_meter,
    ),
    worst(
        "branch_blown_back",
        Dim::MASS,
        &[SubjectKind::Parallel],
        Fold::Max,
        "mass that runs backward through the compressor of one branch on tip-out while that of another sends air forward, without harmful surge; the most over starts and sites",
        branch_blown_back,
    ),
];

const STAYS_RIGHT: &str = "the flow stays above that of the surge line without a relief valve too";

/// Why nothing is said of the surge of some machines.
const DISPLACES: &str = "a machine that displaces its air has no surge line";

/// Whether a part is a machine that displaces its air.
fn displaces(scope: &Scope<'_>, part: &Part) -> bool {
    matches!(&part.body, Body::Supercharger(machine) if machine.displacement.is_given(scope))
}

/// One value a run.
fn over(runs: Vec<Rc<Known<Ran>>>, dim: Dim, pick: impl Fn(&TipOutResults) -> Known<f64>) -> Series {
    let each = runs.into_iter().map(|run| {
        run.as_ref()
            .as_ref()
            .and_then(|ran| pick(&ran.results).map(|value| Num::new(value, dim).at(ran.at.clone())))
    });
    each.collect()
}

/// The relief valve of a subject, if it is one that opens on tip-out; any other subject is let by.
fn opens_on_tip_out<'b>(scope: &Scope<'b>, subject: &Subject) -> Known<Option<&'b Part>> {
    let Some(part) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    let Body::ReliefValve(valve) = &part.body else { return Known::Is(None) };
    valve.purpose_or_usual(scope).and_then(|purpose| match purpose {
        ReliefPurpose::TipOut => Known::Is(Some(part)),
        _ => Known::not_applicable("the valve is not there for the tip-out"),
    })
}

/// One value a run, of a compressor or of a relief valve that opens on tip-out.
fn over_runs(
    scope: &Scope<'_>,
    subject: &Subject,
    valves: bool,
    dim: Dim,
    pick: impl Fn(&TipOutResults) -> Known<f64>,
) -> Series {
    match opens_on_tip_out(scope, subject) {
        Known::Is(_) => over(scope.tip_outs(valves), dim, pick),
        other => vec![other.and_then(|_| Known::Open(Missing::default()))],
    }
}

/// One value a run, of what a compressor did in it; for a relief valve of the compressor that fares worst.
fn over_wheels(
    scope: &Scope<'_>,
    subject: &Subject,
    valves: bool,
    dim: Dim,
    pick: impl Fn(&Surging) -> Known<f64>,
) -> Series {
    let part = scope.tract().part_of(subject);
    if part.is_some_and(|part| displaces(scope, part)) {
        return vec![Known::not_applicable(DISPLACES)];
    }
    over_runs(scope, subject, valves, dim, |run| {
        let own = run.compressors().find(|wheel| *wheel.name == *subject.name);
        let wheel = own.unwrap_or_else(|| run.worst());
        if wheel.displaces { Known::not_applicable(DISPLACES) } else { pick(wheel) }
    })
}

/// One value a run, of what a relief valve did in it.
fn over_valves(
    scope: &Scope<'_>,
    subject: &Subject,
    dim: Dim,
    pick: impl Fn(&ValveResults) -> Known<f64>,
) -> Series {
    over_runs(scope, subject, true, dim, |run| {
        let own = run.valves.iter().find(|valve| *valve.name == *subject.name);
        own.map_or_else(|| Known::missing(&subject.route), &pick)
    })
}

/// When the first of the compressors falls below its surge line, s.
fn first_crossing(run: &TipOutResults) -> Option<f64> {
    run.compressors().filter_map(|wheel| wheel.crosses).min_by(f64::total_cmp)
}

/// Share of the stroke from which a valve counts as wide open.
const AT_STOP: f64 = 0.98;

/// The runs without relief valves are asked for only where one with them surges harmfully.
fn opening_lead(scope: &Scope<'_>, subject: &Subject) -> Series {
    if let other @ (Known::Open(_) | Known::NotApplicable(_)) = opens_on_tip_out(scope, subject) {
        return vec![other.and_then(|_| Known::Open(Missing::default()))];
    }
    let harmful = scope.setting(Setting::HarmfulSwing).v;
    let fitted = scope.tip_outs(true);
    let surges = |run: &TipOutResults| run.largest_swing() > harmful;
    let any = fitted.iter().any(|run| run.exact().is_some_and(|ran| surges(&ran.results)));
    let bare = if any { scope.tip_outs(false) } else { fitted.clone() };
    let each = fitted.iter().zip(&bare).map(|(fitted, bare)| {
        fitted.as_ref().as_ref().and_then(|ran| {
            if !surges(&ran.results) {
                return Known::not_applicable("no tip-out surges harmfully");
            }
            let wide = ran.results.valves.iter().all(|valve| valve.most_lift >= AT_STOP * valve.stroke);
            if wide && ran.results.passes_surge_flow.is_none() {
                return Known::not_applicable(
                    "wide open the valves pass less than the flow of the surge line",
                );
            }
            bare.as_ref().as_ref().and_then(|bare| match first_crossing(&bare.results) {
                Some(crosses) => {
                    // A valve that never passes the flow is at least so late.
                    let passes = ran.results.passes_surge_flow.unwrap_or(LONGEST);
                    Known::Is(Num::new(crosses - passes, Dim::TIME).at(ran.at.clone()))
                }
                None => Known::not_applicable(STAYS_RIGHT),
            })
        })
    });
    each.collect()
}

fn metering(run: &TipOutResults) -> Known<&Metering> {
    match &run.metering {
        Some(metering) => Known::Is(metering),
        None => Known::not_applicable("no air meter tells the engine its air"),
    }
}

fn back_over_meter(scope: &Scope<'_>, subject: &Subject) -> Series {
    match scope.fact(subject, "meter_purpose", Sites::All) {
        Known::Is(Datum::Word(purpose)) if &*purpose == MeterPurpose::Metering.word() => {
            over(scope.tip_outs(true), Dim::MASS, |run| metering(run).map(|metering| metering.back))
        }
        other => vec![other.and_then(|_| Known::not_applicable("nothing is dosed by this meter"))],
    }
}

fn branch_blown_back(scope: &Scope<'_>, subject: &Subject) -> Series {
    let compressors = branches(scope, subject).map(|branches| {
        let all = branches.into_iter().flatten();
        let part = |name: &str| scope.build().parts.named(name);
        all.filter(|name| part(name).and_then(Part::known_kind).is_some_and(compresses)).collect::<Vec<_>>()
    });
    let subjects = scope.tract().subjects(SubjectKind::Compressor);
    let relieved = compressors.and_then(|names| {
        if names.is_empty() {
            return Known::not_applicable("no compressor works in these branches");
        }
        let own = subjects.iter().filter(|subject| names.contains(&subject.name));
        let relieved = own.map(|subject| scope.fact(subject, "relief_before_throttle", Sites::All));
        relieved.collect::<Known<Vec<Datum>>>().and_then(|each| {
            if each.iter().all(|datum| matches!(datum, Datum::Bool(true))) {
                Known::Is(names)
            } else {
                Known::not_applicable(
                    "a compressor has no relief valve behind it, of which another rule speaks",
                )
            }
        })
    });
    match relieved {
        Known::Is(names) => {
            let harmful = scope.setting(Setting::HarmfulSwing).v;
            let runs = scope.tip_outs(true);
            let surges = |ran: &Ran| ran.results.largest_swing() > harmful;
            if runs.iter().any(|run| run.exact().is_some_and(surges)) {
                let why = "a compressor surges harmfully, of which another rule speaks";
                return vec![Known::not_applicable(why)];
            }
            over(runs, Dim::MASS, |run| {
                let own = run.compressors().filter(|wheel| names.contains(&wheel.name));
                Known::Is(own.map(|wheel| wheel.blown_back).fold(0.0, f64::max))
            })
        }
        other => vec![other.and_then(|_| Known::Open(Missing::default()))],
    }
}

/// Time from the throttle's closing to the fuel cut, s, where there is one.
fn fuel_cut(scope: &Scope<'_>) -> Known<Option<f64>> {
    scope.build().top.engine.get(scope).map(|engine| {
        let (field, delay) = match engine.overrun.state(scope) {
            State::Given(overrun) => match overrun.fuel_cut_delay.state(scope) {
                State::Given(delay) => (overrun.fuel_cut_delay.route(), Some(delay.si())),
                _ => (overrun.fuel_cut_delay.route(), None),
            },
            _ => (engine.overrun.route(), None),
        };
        if delay.is_none() {
            let words = "the fuel is not cut on overrun";
            scope.note(Read::Default { field: field.clone(), words: words.into() });
        }
        delay
    })
}

/// Whether a valve lets metered air out: else it does nothing to the mixture.
fn vents_metered_air(scope: &Scope<'_>, subject: &Subject) -> Known<Option<f64>> {
    let is = |name: &str| scope.fact(subject, name, Sites::All);
    let metered = is("air_meter_ahead_of_tap").zip(is("vent_share"));
    opens_on_tip_out(scope, subject).and_then(|_| metered).and_then(|(metered, vent)| match (metered, vent) {
        (Datum::Bool(true), Datum::Number(vent)) if vent.v > 0.0 => fuel_cut(scope),
        (Datum::Bool(true), _) => Known::not_applicable("the valve vents nothing"),
        _ => Known::not_applicable("no air meter has counted the air that the valve lets out"),
    })
}

/// One value a run, from the limit of λ over λ asked for and the time of the fuel cut.
fn over_mixture(
    scope: &Scope<'_>,
    subject: &Subject,
    dim: Dim,
    pick: impl Fn(&TipOutResults, f64, Option<f64>) -> f64,
) -> Series {
    match vents_metered_air(scope, subject) {
        Known::Is(cut) => {
            let limit = scope.setting(Setting::TipOutLambda).v;
            over(scope.tip_outs(true), dim, |run| metering(run).map(|_| pick(run, limit, cut)))
        }
        other => vec![other.and_then(|_| Known::Open(Missing::default()))],
    }
}

/// λ asked for with the throttle shut: what burns best and cleanest (choice).
const ASKED: f64 = 1.0;

/// Where all that a valve lets out goes one way there is no share to choose.
fn parts_its_air(scope: &Scope<'_>, subject: &Subject) -> Known<()> {
    let is = |name: &str| scope.fact(subject, name, Sites::All);
    let share = |datum: &Datum| datum.as_number().map_or(0.0, |number| number.v);
    is("return_share").zip(is("vent_share")).and_then(|(back, out)| {
        if share(&back) > 0.0 && share(&out) > 0.0 {
            Known::Is(())
        } else {
            Known::not_applicable("all that the valve lets out goes one way")
        }
    })
}

fn vent_share_high(scope: &Scope<'_>, subject: &Subject) -> Series {
    let mixture = vents_metered_air(scope, subject);
    match parts_its_air(scope, subject).and_then(|()| mixture) {
        Known::Is(cut) => {
            let limit = scope.setting(Setting::TipOutLambda).v;
            over(scope.tip_outs(true), Dim::ONE, |run| {
                metering(run).and_then(|metering| {
                    if cut.is_some_and(|cut| cut < metering.window) {
                        return Known::not_applicable(
                            "the fuel is cut before the mixture over the tip-out counts",
                        );
                    }
                    let share = metering.largest_vent_share(ASKED, limit);
                    if share.is_finite() {
                        Known::Is(share.clamp(0.0, 1.0))
                    } else {
                        Known::not_applicable("the valve lets nothing out")
                    }
                })
            })
        }
        other => vec![other.and_then(|_| Known::Open(Missing::default()))],
    }
}

/// What the returns do not swallow, from the statics; and at each start what runs back over a meter that does not know the
/// direction, for each gram of which one gram less must come back.
fn vent_share_low(scope: &Scope<'_>, subject: &Subject) -> Series {
    let asked = opens_on_tip_out(scope, subject).and_then(|_| parts_its_air(scope, subject));
    if let other @ (Known::Open(_) | Known::NotApplicable(_)) = asked {
        return vec![other.and_then(|()| Known::Open(Missing::default()))];
    }
    let is = |name: &str| scope.fact(subject, name, Sites::All);
    let swallowed =
        is("return_area").zip(is("return_area_needed")).zip(is("return_share").zip(is("vent_share")));
    let number = |datum: &Datum| datum.as_number().map_or(f64::NAN, |number| number.v);
    let swallowed = swallowed.and_then(|((area, needed), (share, vent))| {
        let at = needed.as_number().and_then(|number| number.at.clone());
        let low = Num::pure((1.0 - number(&area) / number(&needed) * number(&share)).max(0.0));
        Known::Is((Num { at, ..low }, number(&vent)))
    });
    match swallowed {
        Known::Is((swallowed, vent)) => {
            let mut all = over(scope.tip_outs(true), Dim::ONE, |run| {
                metering(run).and_then(|metering| {
                    match metering.counts_back() > LEAST_BACK && metering.relieved > 0.0 {
                        true => Known::Is((vent + metering.counts_back() / metering.relieved).min(1.0)),
                        false => Known::not_applicable("nothing runs back over the air meter"),
                    }
                })
            });
            all.push(Known::Is(swallowed));
            all
        }
        other => vec![other.and_then(|_| Known::Open(Missing::default()))],
    }
}

/// Mass back over the meter that does not matter, kg: as the rule on it has it.
const LEAST_BACK: f64 = 1e-4;

/// The first run that surges decides; none is made in vain after it.
fn surges(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(part) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    if let Known::Is(shutting) = scope.tract().shutting_behind(part, scope)
        && shutting.is_empty()
    {
        // Where nothing shuts there is nothing to surge on.
        return Known::Is(Datum::Bool(false));
    }
    if displaces(scope, part) {
        // What it does to a shut throttle is no surge, and no better.
        return Known::Open(Missing::hindrance(DISPLACES));
    }
    let steady = scope.steady();
    let mut missing: Option<Missing> = None;
    let mut reason = None;
    let mut any = false;
    for site in &steady.sites {
        for start in Start::ALL {
            let demand = Demand { site: site.name.clone(), start, valves: true };
            match scope.surges(&demand) {
                Known::Is(true) => return Known::Is(Datum::Bool(true)),
                Known::Is(false) => any = true,
                Known::Open(more) => missing = Some(missing.unwrap_or_default().join(more)),
                Known::Between(..) => missing = Some(missing.unwrap_or_default()),
                Known::NotApplicable(why) => reason = reason.or(Some(why)),
            }
        }
    }
    match (missing, any, reason) {
        (Some(missing), ..) => Known::Open(missing),
        (None, false, Some(reason)) => Known::NotApplicable(reason),
        (None, ..) => Known::Is(Datum::Bool(false)),
    }
}

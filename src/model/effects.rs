//! What each part of the path does to the air: set up from its description.

use super::cooling::Cooling;
use super::elements::Effect;
use super::site::SiteState;
use crate::build::parts::{Body, Carburettor, Duct, Loss, Part, PartKind, Pipe};
use crate::build::scalars::List;
use crate::known::{Known, Read, Reads, Setting, State};
use crate::physics::{flow, loss};
use crate::tract::{Path, Spot};

/// Roughness of clean commercial steel, m: Moody 1944.
const STEEL_ROUGHNESS: f64 = 4.5e-5;

/// Kinds whose loss, where none is given, is the friction of a straight pipe of their bore and length.
const LIKE_A_PIPE: &[PartKind] = &[PartKind::AirMeter, PartKind::Coupler, PartKind::AirShutOffValve];

/// Kinds that lead air in a bore, so that a step or a chamber next to them makes a loss of its own.
const BORED: &[PartKind] =
    &[PartKind::Pipe, PartKind::Cone, PartKind::Coupler, PartKind::AirMeter, PartKind::AirShutOffValve];

/// What lies ahead of a part.
#[derive(Clone, Debug)]
pub enum Ahead<'s, 'b> {
    /// The open air.
    OpenAir,
    /// One part that leads to this one alone.
    Part(&'s Spot<'b>),
    /// A place where the path forks or joins: the parts ahead of it. No step is counted there, as no figure for a branch
    /// piece is given.
    Junction(Vec<&'s Spot<'b>>),
}

impl<'s, 'b> Ahead<'s, 'b> {
    /// What lies ahead of a spot of a path.
    pub fn of(path: &'s Path<'b>, index: usize) -> Self {
        let before: Vec<&Spot<'b>> = path.before(index).iter().filter_map(|at| path.get(*at)).collect();
        match before.as_slice() {
            [] => Self::OpenAir,
            // A chamber stays a chamber for each of the branches that leave it.
            [one] if one.kind == PartKind::Plenum || path.behind(one.index).len() == 1 => Self::Part(one),
            _ => Self::Junction(before),
        }
    }
}

/// What a part does, behind another or at the site.
pub(super) fn effect(
    spot: &Spot<'_>,
    ahead: &Ahead<'_, '_>,
    site: &SiteState,
    reads: &dyn Reads,
) -> Known<Effect> {
    let part = spot.part;
    let Some(duct) = &part.duct else { return Known::Is(Effect::Nothing) };
    match (&part.body, spot.kind) {
        (_, PartKind::InletManifold | PartKind::Plenum) => {
            let given = given_loss(duct, spot.kind, site, reads);
            let exit = exit_coefficient(ahead, reads);
            given.zip(exit).map(|(given, exit)| match given.unwrap_or(0.0) + exit {
                0.0 => Effect::Nothing,
                coefficient => Effect::Given { coefficient },
            })
        }
        (Body::Throttle(throttle), _) => {
            let coefficient = reads.setting(Setting::ThrottleDischargeCoefficient).v;
            duct.bore.get(reads).zip(throttle.shaft.get(reads)).map(|(bore, shaft)| {
                let area = flow::bore_area(bore.si()) - shaft.si() * bore.si();
                Effect::Throttle { effective_area: coefficient * area.max(0.0), coefficient: 0.0 }
            })
        }
        (Body::Carburettor(carburettor), _) if !duct.loss.is_given(reads) => {
            carburettor_effect(duct, carburettor, reads)
        }
        (Body::ChargeAirCooler(cooler), _) => {
            let loss = duct.loss.get(reads).and_then(|loss| coefficient(loss, site, reads));
            loss.zip(Cooling::set_up(cooler, site, reads))
                .map(|(coefficient, cooling)| Effect::Cooler { coefficient, cooling: Box::new(cooling) })
        }
        (Body::Pipe(pipe), _) => ducted(duct, Some(pipe), ahead, reads),
        (Body::Cone(cone), _) if !duct.loss.is_given(reads) => {
            let ends = duct.bore.get(reads).zip(cone.outlet_bore.get(reads)).zip(duct.length.get(reads));
            let here = step_coefficient(duct, ahead, reads);
            ends.zip(here).zip(roughness(duct, reads)).and_then(
                |((((bore, outlet), length), step), roughness)| {
                    let (bore, outlet, length) = (bore.si(), outlet.si(), length.si());
                    let (smaller, larger) = (bore.min(outlet), bore.max(outlet));
                    let angle = 2.0 * (0.5 * (larger - smaller)).atan2(length).to_degrees();
                    let k = if outlet >= bore { loss::widening_cone_k } else { loss::narrowing_cone_k };
                    let made = k(smaller, larger, angle).and_then(|k| loss::coefficient_from_k(k, smaller));
                    let mean = 0.5 * (bore + outlet);
                    made.map_or_else(
                        || Known::missing(cone.outlet_bore.route()),
                        |cone| Known::Is(Effect::Duct { bore: mean, length, roughness, local: cone + step }),
                    )
                },
            )
        }
        _ if duct.loss.is_given(reads) || !LIKE_A_PIPE.contains(&spot.kind) => {
            let given = given_loss(duct, spot.kind, site, reads);
            given.and_then(|given| match given {
                Some(coefficient) => Known::Is(Effect::Given { coefficient }),
                None => duct.loss.get(reads).and_then(|_| Known::missing(duct.loss.route())),
            })
        }
        _ => {
            let words = "friction of a straight pipe of its bore and length, as no loss is given";
            reads.note(Read::Default { field: duct.loss.route().clone(), words: words.into() });
            ducted(duct, None, ahead, reads)
        }
    }
}

/// By how much air that a part takes in at the site is warmer than the site's, K.
pub(super) fn warming(part: &Part, reads: &dyn Reads) -> Known<f64> {
    let Body::AirFilter(filter) = &part.body else { return Known::Is(0.0) };
    match filter.draws_from.state(reads) {
        State::Given(from) => match from.warmer_by.state(reads) {
            State::Absent | State::SaidNone => Known::Is(0.0),
            _ => from.warmer_by.get(reads).map(|rise| rise.si()),
        },
        State::Faulty => Known::missing(filter.draws_from.route()),
        State::Absent | State::SaidNone => Known::Is(0.0),
    }
}

/// The bore in which the air's velocity is told: the narrower end of a cone.
pub(super) fn bore(part: &Part, reads: &dyn Reads) -> Option<f64> {
    let inlet = *part.duct.as_ref()?.bore.get(reads).map(|bore| bore.si()).exact()?;
    match &part.body {
        Body::Cone(cone) => match cone.outlet_bore.get(reads) {
            Known::Is(outlet) => Some(inlet.min(outlet.si())),
            _ => Some(inlet),
        },
        _ => Some(inlet),
    }
}

/// C of the loss that is given, that when due where the site says so; `None` where none is given.
fn given_loss(duct: &Duct, kind: PartKind, site: &SiteState, reads: &dyn Reads) -> Known<Option<f64>> {
    if !duct.loss.is_given(reads) {
        return match duct.loss.state(reads) {
            State::Faulty => Known::missing(duct.loss.route()),
            _ => Known::Is(None),
        };
    }
    let new = duct.loss.get(reads).and_then(|loss| coefficient(loss, site, reads));
    let due = if site.filter_due && kind == PartKind::AirFilter {
        duct.loss_when_due.get(reads).and_then(|loss| coefficient(loss, site, reads)).map(Some)
    } else {
        Known::Is(None)
    };
    new.zip(due).map(|(new, due)| Some(due.unwrap_or(new)))
}

/// A carburettor without a given loss: its plate's orifice at full opening, and what its venturi does not give back.
fn carburettor_effect(duct: &Duct, carburettor: &Carburettor, reads: &dyn Reads) -> Known<Effect> {
    let discharge = reads.setting(Setting::ThrottleDischargeCoefficient).v;
    let words = "the loss of its venturi and of its open throttle, as no loss is given";
    reads.note(Read::Default { field: duct.loss.route().clone(), words: words.into() });
    let sizes = duct.bore.get(reads).zip(carburettor.shaft.get(reads)).zip(carburettor.venturi.get(reads));
    sizes.and_then(|((bore, shaft), venturi)| {
        let (bore, shaft, venturi) = (bore.si(), shaft.si(), venturi.si());
        let made = loss::venturi_k(venturi, bore).and_then(|k| loss::coefficient_from_k(k, venturi));
        let area = (flow::bore_area(bore) - shaft * bore).max(0.0);
        made.map_or_else(
            || Known::missing(carburettor.venturi.route()),
            |coefficient| Known::Is(Effect::Throttle { effective_area: discharge * area, coefficient }),
        )
    })
}

/// C of a given loss: that of its reference point, at the state of air for which it is stated.
pub(super) fn coefficient(given: &Loss, site: &SiteState, reads: &dyn Reads) -> Known<f64> {
    let reference = reference_density(given, site, reads);
    let point = given.pressure.get(reads).zip(given.flow.get(reads));
    point.zip(reference).and_then(|((pressure, flow), density)| {
        let made = loss::coefficient_from_reference(pressure.si(), flow.si(), density);
        made.map_or_else(|| Known::missing(given.flow.route()), Known::Is)
    })
}

fn reference_density(given: &Loss, site: &SiteState, reads: &dyn Reads) -> Known<f64> {
    let pressure = reads.setting(Setting::LossReferencePressure).v;
    let temperature = reads.setting(Setting::LossReferenceTemperature).v;
    let density = |p: f64, t: f64| {
        let made = site.gas.density(p, t);
        made.map_or_else(|| Known::missing(given.at.route()), Known::Is)
    };
    match given.at.state(reads) {
        State::Absent => {
            let words = "the loss is taken as stated for air at 101.325 kPa and 25 degC";
            reads.note(Read::Default { field: given.at.route().clone(), words: words.into() });
            density(pressure, temperature)
        }
        State::Given(at) => {
            let p = match at.pressure.state(reads) {
                State::Absent => {
                    let words = "the loss is taken as stated for air at 101.325 kPa";
                    reads.note(Read::Default { field: at.pressure.route().clone(), words: words.into() });
                    Known::Is(pressure)
                }
                _ => at.pressure.get(reads).map(|p| p.absolute(site.pressure)),
            };
            let t = match at.temperature.state(reads) {
                State::Absent => {
                    let words = "the loss is taken as stated for air at 25 degC";
                    reads.note(Read::Default { field: at.temperature.route().clone(), words: words.into() });
                    Known::Is(temperature)
                }
                _ => at.temperature.get(reads).map(|t| t.si()),
            };
            p.zip(t).and_then(|(p, t)| density(p, t))
        }
        State::Faulty | State::SaidNone => Known::missing(given.at.route()),
    }
}

fn roughness(duct: &Duct, reads: &dyn Reads) -> Known<f64> {
    match duct.roughness.state(reads) {
        State::Absent => Known::Is(reads.setting(Setting::PipeRoughness).v),
        _ => duct.roughness.get(reads).map(|r| r.si()),
    }
}

fn ducted(duct: &Duct, pipe: Option<&Pipe>, ahead: &Ahead<'_, '_>, reads: &dyn Reads) -> Known<Effect> {
    let size = duct.bore.get(reads).zip(duct.length.get(reads)).zip(roughness(duct, reads));
    size.and_then(|((bore, length), roughness)| {
        let (bore, length) = (bore.si(), length.si());
        let bends = pipe.map_or(Known::Is(0.0), |pipe| bends_k(pipe, bore, reads));
        let step = step_coefficient(duct, ahead, reads);
        bends.zip(step).and_then(|(bends, step)| {
            let made = loss::coefficient_from_k(bends, bore);
            made.map_or_else(
                || Known::missing(duct.bore.route()),
                |bends| Known::Is(Effect::Duct { bore, length, roughness, local: bends + step }),
            )
        })
    })
}

/// Sum of the bends' K. The table of bends was made for clean commercial steel, so its friction factor is that of
/// such a pipe (roughness 0.045 mm: Moody 1944), whatever the pipe is made of.
fn bends_k(pipe: &Pipe, bore: f64, reads: &dyn Reads) -> Known<f64> {
    let bends = match pipe.bends.state(reads) {
        State::Absent => {
            let words = "no bends, as none are described";
            reads.note(Read::Default { field: pipe.bends.route().clone(), words: words.into() });
            return Known::Is(0.0);
        }
        State::SaidNone => return Known::Is(0.0),
        State::Faulty => return Known::missing(pipe.bends.route()),
        State::Given(List(bends)) => bends,
    };
    let rough_factor = loss::fully_rough_factor(STEEL_ROUGHNESS / bore);
    let each = bends.iter().map(|bend| {
        bend.angle.get(reads).zip(bend.radius.get(reads)).and_then(|(angle, radius)| {
            let k = rough_factor.and_then(|f| loss::bend_k(radius.si() / bore, angle.si().to_degrees(), f));
            k.map_or_else(|| Known::missing(bend.radius.route()), Known::Is)
        })
    });
    each.collect::<Known<Vec<f64>>>().map(|ks| ks.iter().sum())
}

/// C of the inlet of a bore behind another part: a step, charged to the downstream part with K on the smaller bore, or
/// the entry from a chamber or from the open air. The stated figures of filter, cooler and compressor hold their own
/// flanges, and a throttle is an orifice.
fn step_coefficient(duct: &Duct, ahead: &Ahead<'_, '_>, reads: &dyn Reads) -> Known<f64> {
    let here = duct.bore.get(reads).map(|bore| bore.si());
    let made = |k: Option<f64>, bore: f64| {
        let made = k.and_then(|k| loss::coefficient_from_k(k, bore));
        made.map_or_else(|| Known::missing(duct.bore.route()), Known::Is)
    };
    let before = match ahead {
        Ahead::Junction(_) => return Known::Is(0.0),
        Ahead::Part(before) if before.kind != PartKind::Plenum => before,
        Ahead::Part(_) | Ahead::OpenAir => return here.and_then(|bore| made(loss::entry_k(0.0), bore)),
    };
    outlet_bore(before, reads).map_or(Known::Is(0.0), |other| {
        here.zip(other).and_then(|(bore, other)| {
            let (smaller, larger) = (bore.min(other), bore.max(other));
            let k = if other <= bore { loss::enlargement_k } else { loss::contraction_k };
            made(k(smaller, larger), smaller)
        })
    })
}

/// C of the exit into a chamber: the whole dynamic pressure, of each of the pipes that end in it by its share of the
/// flow, taken as equal. A throttle's orifice has lost it already.
fn exit_coefficient(ahead: &Ahead<'_, '_>, reads: &dyn Reads) -> Known<f64> {
    let spots: &[&Spot<'_>] = match ahead {
        Ahead::OpenAir => &[],
        Ahead::Part(before) => std::slice::from_ref(before),
        Ahead::Junction(before) => before,
    };
    let each: Known<Vec<f64>> = spots.iter().filter_map(|spot| outlet_bore(spot, reads)).collect();
    each.map(|bores| {
        let ends: f64 = bores.iter().filter_map(|bore| loss::coefficient_from_k(loss::EXIT_K, *bore)).sum();
        ends / (spots.len().max(1) as f64).powi(3)
    })
}

/// The bore at the outlet of a part that leads air in one.
fn outlet_bore(spot: &Spot<'_>, reads: &dyn Reads) -> Option<Known<f64>> {
    let duct = spot.part.duct.as_ref().filter(|_| BORED.contains(&spot.kind))?;
    Some(match &spot.part.body {
        Body::Cone(cone) => cone.outlet_bore.get(reads).map(|bore| bore.si()),
        _ => duct.bore.get(reads).map(|bore| bore.si()),
    })
}

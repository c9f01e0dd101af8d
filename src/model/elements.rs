//! What each part of the path does to the air that flows through it.

use crate::build::parts::{Body, Duct, Loss, Part, PartKind, Pipe};
use crate::build::scalars::List;
use crate::known::{Known, Read, Reads, Setting, State};
use crate::physics::flow::Nozzle;
use crate::physics::loss;
use crate::tract::Spot;

use super::SiteState;

/// What a bend does: loss coefficient K on the pipe's bore.
const STEEL_ROUGHNESS: f64 = 4.5e-5;

/// The flow through a part, as far as its loss depends on it.
#[derive(Clone, Copy, Debug)]
pub struct Flow {
    /// Mass flow, kg/s.
    pub mass: f64,
    /// Mean total temperature in the part, K.
    pub temperature: f64,
}

/// What a part does to the air.
#[derive(Clone, Debug)]
pub enum Effect {
    /// Nothing that is counted: the manifold, where the pressure is what the boost says.
    Nothing,
    /// A loss C ṁ²/ρ with one coefficient new and one when due for change.
    Given {
        /// C in Pa kg/m3 per (kg/s)².
        coefficient: f64,
        /// C of a filter that is due for change, where it is described.
        when_due: Option<f64>,
    },
    /// Wall friction, bends and a step at the inlet.
    Duct {
        /// Bore, m.
        bore: f64,
        /// Length, m.
        length: f64,
        /// Roughness, m.
        roughness: f64,
        /// Sum of the bends' K on the bore.
        bends: f64,
        /// C of the step at its inlet.
        step: f64,
    },
    /// A throttle at full opening.
    Throttle {
        /// Open area times discharge coefficient, m2.
        effective_area: f64,
    },
    /// A cooler: loss and effectiveness.
    Cooler {
        /// C as above.
        coefficient: f64,
        /// Effectiveness.
        effectiveness: f64,
        /// Temperature of its coolant, K; the site's air when `None`.
        coolant: Option<f64>,
    },
}

/// A part of the path, set up.
#[derive(Clone, Debug)]
pub struct Element<'b> {
    /// The part.
    pub part: &'b Part,
    /// Its kind.
    pub kind: PartKind,
    /// What it does.
    pub effect: Effect,
}

impl<'b> Element<'b> {
    /// Sets up a part behind another.
    pub fn set_up(
        spot: &Spot<'b>,
        before: Option<&Spot<'b>>,
        site: &SiteState,
        reads: &dyn Reads,
    ) -> Known<Self> {
        let part = spot.part;
        effect(spot, before, site, reads).map(|effect| Self { part, kind: spot.kind, effect: effect.clone() })
    }

    /// Pressure at the inlet, Pa, from that at the outlet; `None` if no such flow exists.
    pub fn inlet_pressure(&self, flow: Flow, outlet: f64, site: &SiteState) -> Option<f64> {
        match self.drop_term(flow, site)? {
            Drop::Quadratic(term) => finite_root(outlet * outlet + term),
            Drop::Nozzle(nozzle) => nozzle_inlet(&nozzle, flow, outlet),
        }
    }

    /// Pressure at the outlet, Pa, from that at the inlet; `None` if no such flow exists.
    pub fn outlet_pressure(&self, flow: Flow, inlet: f64, site: &SiteState) -> Option<f64> {
        match self.drop_term(flow, site)? {
            Drop::Quadratic(term) => finite_root(inlet * inlet - term),
            Drop::Nozzle(nozzle) => nozzle_outlet(&nozzle, flow, inlet),
        }
    }

    /// With Δp = C ṁ²/ρ and ρ from the mean of both ends, p_in² − p_out² = 2 C ṁ² R T: exact and explicit both ways.
    fn drop_term(&self, flow: Flow, site: &SiteState) -> Option<Drop> {
        let coefficient = match &self.effect {
            Effect::Nothing => 0.0,
            Effect::Given { coefficient, when_due } => {
                if site.filter_due {
                    when_due.unwrap_or(*coefficient)
                } else {
                    *coefficient
                }
            }
            Effect::Cooler { coefficient, .. } => *coefficient,
            Effect::Duct { bore, length, roughness, bends, step } => {
                let friction = friction_k(flow, *bore, *length, *roughness)?;
                loss::coefficient_from_k(friction + bends, *bore)? + step
            }
            Effect::Throttle { effective_area } => {
                return Some(Drop::Nozzle(Nozzle {
                    area: *effective_area,
                    discharge_coefficient: 1.0,
                    gamma: site.gas.gamma(flow.temperature),
                    r: site.gas.r(),
                }));
            }
        };
        Some(Drop::Quadratic(2.0 * coefficient * flow.mass * flow.mass * site.gas.r() * flow.temperature))
    }
}

/// How the pressures at both ends hang together.
enum Drop {
    /// The difference of their squares.
    Quadratic(f64),
    /// A nozzle.
    Nozzle(Nozzle),
}

fn finite_root(square: f64) -> Option<f64> {
    (square > 0.0 && square.is_finite()).then(|| square.sqrt())
}

/// f L/D by Darcy and Weisbach; it depends on the flow by the Reynolds number alone.
fn friction_k(flow: Flow, bore: f64, length: f64, roughness: f64) -> Option<f64> {
    let density = 1.0;
    let pipe = loss::pipe_loss(flow.mass, bore, length, roughness, density, flow.temperature)?;
    Some(pipe.factor * length / bore)
}

/// The inlet pressure at which a nozzle passes the flow to a given outlet: between the outlet and the pressure at which
/// it would be choked, the flow rises with it.
fn nozzle_inlet(nozzle: &Nozzle, flow: Flow, outlet: f64) -> Option<f64> {
    let excess =
        |inlet: f64| nozzle.flow(inlet, flow.temperature, outlet).map_or(f64::NAN, |m| m - flow.mass);
    if flow.mass <= 0.0 {
        return Some(outlet);
    }
    let mut high = outlet * 1.02;
    for _ in 0..12 {
        if excess(high) > 0.0 {
            let root = crate::physics::numeric::find_root(outlet, high, outlet * 1e-12, excess).ok()?;
            return Some(root.x);
        }
        high = outlet + (high - outlet) * 2.0;
    }
    None
}

/// The outlet pressure, the other way: below the critical ratio the flow no longer grows and none is found.
fn nozzle_outlet(nozzle: &Nozzle, flow: Flow, inlet: f64) -> Option<f64> {
    if flow.mass <= 0.0 {
        return Some(inlet);
    }
    let critical = crate::physics::flow::critical_pressure_ratio(nozzle.gamma)? * inlet;
    let excess =
        |outlet: f64| nozzle.flow(inlet, flow.temperature, outlet).map_or(f64::NAN, |m| m - flow.mass);
    crate::physics::numeric::find_root(critical, inlet, inlet * 1e-12, excess).ok().map(|root| root.x)
}

fn effect<'b>(
    spot: &Spot<'b>,
    before: Option<&Spot<'b>>,
    site: &SiteState,
    reads: &dyn Reads,
) -> Known<Effect> {
    let part = spot.part;
    let Some(duct) = &part.duct else { return Known::Is(Effect::Nothing) };
    match (&part.body, spot.kind) {
        (_, PartKind::InletManifold) => Known::Is(Effect::Nothing),
        (Body::Throttle(throttle), _) => {
            let coefficient = reads.setting(Setting::ThrottleDischargeCoefficient).v;
            duct.bore.get(reads).zip(throttle.shaft.get(reads)).map(|(bore, shaft)| {
                let area = crate::physics::flow::bore_area(bore.si()) - shaft.si() * bore.si();
                Effect::Throttle { effective_area: coefficient * area.max(0.0) }
            })
        }
        (Body::ChargeAirCooler(cooler), _) => {
            let coolant = match cooler.coolant_temperature.state(reads) {
                State::Absent => match cooler.cooled_by.get(reads) {
                    Known::Is(crate::build::parts::CooledBy::Air) => Known::Is(None),
                    Known::Is(crate::build::parts::CooledBy::Water) => {
                        Known::missing(cooler.coolant_temperature.route())
                    }
                    other => other.and_then(|_| Known::Is(None)),
                },
                _ => cooler.coolant_temperature.get(reads).map(|t| Some(t.si())),
            };
            let loss = duct.loss.get(reads).and_then(|loss| coefficient(loss, site, reads));
            loss.zip(cooler.effectiveness.get(reads)).zip(coolant).map(
                |((coefficient, effectiveness), coolant)| Effect::Cooler {
                    coefficient,
                    effectiveness: effectiveness.si(),
                    coolant,
                },
            )
        }
        (Body::Pipe(pipe), _) => ducted(duct, Some(pipe), before, reads),
        _ if duct.loss.is_given(reads) || spot.kind != PartKind::AirMeter => {
            let new = duct.loss.get(reads).and_then(|loss| coefficient(loss, site, reads));
            let when_due = if site.filter_due && spot.kind == PartKind::AirFilter {
                duct.loss_when_due.get(reads).and_then(|loss| coefficient(loss, site, reads)).map(Some)
            } else {
                Known::Is(None)
            };
            new.zip(when_due).map(|(coefficient, when_due)| Effect::Given { coefficient, when_due })
        }
        _ => {
            let words = "friction of a straight pipe of its bore and length, as no loss is given";
            reads.note(Read::Default { field: duct.loss.route().clone(), words: words.into() });
            ducted(duct, None, before, reads)
        }
    }
}

/// C of a given loss: that of its reference point, at the state of air for which it is stated.
fn coefficient(given: &Loss, site: &SiteState, reads: &dyn Reads) -> Known<f64> {
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

fn ducted(duct: &Duct, pipe: Option<&Pipe>, before: Option<&Spot<'_>>, reads: &dyn Reads) -> Known<Effect> {
    let roughness = match duct.roughness.state(reads) {
        State::Absent => Known::Is(reads.setting(Setting::PipeRoughness).v),
        _ => duct.roughness.get(reads).map(|r| r.si()),
    };
    let size = duct.bore.get(reads).zip(duct.length.get(reads)).zip(roughness);
    size.and_then(|((bore, length), roughness)| {
        let (bore, length) = (bore.si(), length.si());
        let bends = pipe.map_or(Known::Is(0.0), |pipe| bends_k(pipe, bore, reads));
        let step = step_coefficient(bore, before, reads);
        bends.zip(step).map(|(bends, step)| Effect::Duct { bore, length, roughness, bends, step })
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

/// C of a step in bore at the inlet, charged to the downstream part, K on the smaller bore. The stated figures of
/// filter, cooler and compressor hold their own flanges, and throttle and manifold are orifice and plenum.
fn step_coefficient(bore: f64, before: Option<&Spot<'_>>, reads: &dyn Reads) -> Known<f64> {
    let Some(before) = before.filter(|spot| matches!(spot.kind, PartKind::Pipe | PartKind::AirMeter)) else {
        return Known::Is(0.0);
    };
    let Some(duct) = &before.part.duct else { return Known::Is(0.0) };
    duct.bore.get(reads).and_then(|other| {
        let other = other.si();
        let (smaller, larger) = (bore.min(other), bore.max(other));
        let k = if other <= bore {
            loss::enlargement_k(smaller, larger)
        } else {
            loss::contraction_k(smaller, larger)
        };
        let made = k.and_then(|k| loss::coefficient_from_k(k, smaller));
        made.map_or_else(|| Known::missing(duct.bore.route()), Known::Is)
    })
}

//! What each part of the path does to the air that flows through it.

use super::SiteState;
use super::cooling::Cooling;
use super::effects::{Ahead, bore, effect, warming};
use crate::build::parts::Part;
use crate::known::{Known, Reads};
use crate::physics::flow::{Nozzle, critical_pressure_ratio};
use crate::physics::gas::Gas;
use crate::physics::loss;
use crate::physics::numeric::find_root;
use crate::tract::Spot;

/// The flow through a part, as far as its loss depends on it.
#[derive(Clone, Copy, Debug)]
pub struct Flow {
    /// Mass flow, kg/s.
    pub mass: f64,
    /// Mean total temperature in the part, K.
    pub temperature: f64,
}

/// What a part does to the air. C is a loss coefficient, Pa kg/m3 per (kg/s)²: Δp = C ṁ²/ρ.
#[derive(Clone, Debug)]
pub enum Effect {
    /// Nothing that is counted.
    Nothing,
    /// A loss with one coefficient.
    Given {
        /// C.
        coefficient: f64,
    },
    /// Wall friction, with bends, cone, step or entry.
    Duct {
        /// Bore, m.
        bore: f64,
        /// Length, m.
        length: f64,
        /// Roughness, m.
        roughness: f64,
        /// C of bends, cone, step and entry.
        local: f64,
    },
    /// A throttle at full opening.
    Throttle {
        /// Open area times discharge coefficient, m2.
        effective_area: f64,
        /// C of a venturi ahead of it.
        coefficient: f64,
    },
    /// A cooler: loss and cooling.
    Cooler {
        /// C.
        coefficient: f64,
        /// How well it cools.
        cooling: Box<Cooling>,
    },
}

/// A part of the path, set up.
#[derive(Clone, Debug)]
pub struct Element<'b> {
    /// The part.
    pub part: &'b Part,
    /// What it does.
    pub effect: Effect,
    /// By how much the air is warmer where this part takes it in than the site's, K.
    pub warming: f64,
    /// Bore in which the air's velocity is told, m.
    pub bore: Option<f64>,
}

impl<'b> Element<'b> {
    /// Sets up a part behind what lies ahead of it.
    pub fn set_up(
        spot: &Spot<'b>,
        ahead: &Ahead<'_, 'b>,
        site: &SiteState,
        reads: &dyn Reads,
    ) -> Known<Self> {
        let part = spot.part;
        effect(spot, ahead, site, reads).zip(warming(part, reads)).map(|(effect, warming)| Self {
            part,
            effect: effect.clone(),
            warming,
            bore: bore(part, reads),
        })
    }

    /// Pressure at the inlet, Pa, from that at the outlet; `None` if no such flow exists.
    pub fn inlet_pressure(&self, flow: Flow, outlet: f64, gas: &Gas) -> Option<f64> {
        let (nozzle, term) = self.drops(flow, gas)?;
        let behind = nozzle.map_or(Some(outlet), |nozzle| nozzle_inlet(&nozzle, flow, outlet))?;
        finite_root(behind * behind + term)
    }

    /// Pressure at the outlet, Pa, from that at the inlet; `None` if no such flow exists.
    pub fn outlet_pressure(&self, flow: Flow, inlet: f64, gas: &Gas) -> Option<f64> {
        let (nozzle, term) = self.drops(flow, gas)?;
        let ahead = finite_root(inlet * inlet - term)?;
        nozzle.map_or(Some(ahead), |nozzle| nozzle_outlet(&nozzle, flow, ahead))
    }

    /// With Δp = C ṁ²/ρ and ρ from the mean of both ends, p_in² − p_out² = 2 C ṁ² R T: exact and explicit both ways. A
    /// nozzle, where there is one, comes behind it.
    fn drops(&self, flow: Flow, gas: &Gas) -> Option<(Option<Nozzle>, f64)> {
        let coefficient = match &self.effect {
            Effect::Nothing => return Some((None, 0.0)),
            Effect::Given { coefficient }
            | Effect::Cooler { coefficient, .. }
            | Effect::Throttle { coefficient, .. } => *coefficient,
            Effect::Duct { bore, length, roughness, local } => {
                let friction = friction_k(flow, *bore, *length, *roughness)?;
                loss::coefficient_from_k(friction, *bore)? + local
            }
        };
        let nozzle = match &self.effect {
            Effect::Throttle { effective_area, .. } => Some(Nozzle {
                area: *effective_area,
                discharge_coefficient: 1.0,
                gamma: gas.gamma(flow.temperature),
                r: gas.r(),
            }),
            _ => None,
        };
        Some((nozzle, 2.0 * coefficient * flow.mass * flow.mass * gas.r() * flow.temperature))
    }
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
    // What an incompressible stream would lose is within some per cent of it; secants from there close on it in a few
    // steps, as the square of the flow is nearly straight over the pressure.
    let square = |inlet: f64| {
        let flow_squared = |m: f64| m * m - flow.mass * flow.mass;
        nozzle.flow(inlet, flow.temperature, outlet).map_or(f64::NAN, flow_squared)
    };
    let area = nozzle.area * nozzle.discharge_coefficient;
    let density = outlet / (nozzle.r * flow.temperature);
    let drop = 0.5 * (flow.mass / area).powi(2) / density;
    let (mut last, mut at) = (outlet, outlet + drop);
    let (mut before, mut here) = (-flow.mass * flow.mass, square(at));
    for _ in 0..12 {
        let next = at - here * (at - last) / (here - before);
        if !(next > outlet && next < 3.0 * outlet) {
            break;
        }
        let moved = (next - at).abs();
        (last, before) = (at, here);
        (at, here) = (next, square(next));
        if moved <= 1e-13 * outlet || here == 0.0 {
            return Some(at);
        }
    }
    let mut high = outlet * 1.02;
    for _ in 0..12 {
        if excess(high) > 0.0 {
            return find_root(outlet, high, outlet * 1e-12, excess).ok().map(|root| root.x);
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
    let critical = critical_pressure_ratio(nozzle.gamma)? * inlet;
    let excess =
        |outlet: f64| nozzle.flow(inlet, flow.temperature, outlet).map_or(f64::NAN, |m| m - flow.mass);
    find_root(critical, inlet, inlet * 1e-12, excess).ok().map(|root| root.x)
}

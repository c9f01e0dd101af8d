//! How well a charge-air cooler cools.

use super::site::SiteState;
use crate::build::parts::{Arrangement, ChargeAirCooler, CooledBy};
use crate::build::scalars::Ratio;
use crate::build::tables::FlowTable;
use crate::known::{Known, Missing, Read, Reads, State};
use crate::physics::cooler::{self, Arrangement as Streams};

/// Heat capacity of the water that cools, J/(m3 K): 998 kg/m3 times 4182 J/(kg K) at 20 degC (IAPWS-95, from memory).
const WATER_CAPACITY: f64 = 998.2 * 4182.0;

/// How the effectiveness is said.
#[derive(Clone, Debug)]
enum Effectiveness {
    /// One value.
    Given(f64),
    /// Over the flow of the charge.
    OverFlow(FlowTable<Ratio>),
    /// By transfer units on the smaller heat capacity flow.
    Units { number: f64, arrangement: Option<Arrangement> },
}

/// A cooler's cooling.
#[derive(Clone, Debug)]
pub struct Cooling {
    effectiveness: Effectiveness,
    /// Temperature of the coolant at its inlet, K: of an air-cooled one the air that meets its face.
    pub coolant: f64,
    /// Heat capacity flow of the coolant, W/K; none where it is taken not to warm.
    pub coolant_capacity: Option<f64>,
}

impl Cooling {
    /// Sets up a cooler at a site.
    pub fn set_up(cooler: &ChargeAirCooler, site: &SiteState, reads: &dyn Reads) -> Known<Self> {
        let coolant = match cooler.coolant_temperature.state(reads) {
            State::Absent => match cooler.cooled_by.get(reads) {
                Known::Is(CooledBy::Air) => Known::Is(site.temperature),
                Known::Is(CooledBy::Water) => Known::missing(cooler.coolant_temperature.route()),
                other => other.and_then(|_| Known::Is(site.temperature)),
            },
            _ => cooler.coolant_temperature.get(reads).map(|t| t.si()),
        };
        let effectiveness = effectiveness(cooler, reads);
        effectiveness.zip(coolant).and_then(|(effectiveness, coolant)| {
            let by_units = matches!(effectiveness, Effectiveness::Units { .. });
            let capacity = match cooler.coolant_flow.state(reads) {
                State::Given(flow) => Known::Is(Some(flow.si() * WATER_CAPACITY)),
                State::Faulty => Known::missing(cooler.coolant_flow.route()),
                State::Absent | State::SaidNone => match cooler.cooled_by.state(reads) {
                    State::Given(CooledBy::Water) if by_units => Known::missing(cooler.coolant_flow.route()),
                    _ => Known::Is(None),
                },
            };
            capacity.and_then(|coolant_capacity| {
                if by_units && coolant_capacity.is_none() {
                    let words = "the cooling air is taken not to warm, as its flow is not given";
                    reads.note(Read::Default {
                        field: cooler.coolant_flow.route().clone(),
                        words: words.into(),
                    });
                }
                Known::Is(Self { effectiveness: effectiveness.clone(), coolant, coolant_capacity })
            })
        })
    }

    /// Whether the effectiveness changes with the flow of the charge.
    pub fn varies(&self) -> bool {
        !matches!(self.effectiveness, Effectiveness::Given(_))
    }

    /// Effectiveness on the charge side at a flow of charge, kg/s, of heat capacity `cp` J/(kg K).
    ///
    /// A table is held at its ends. By transfer units ε is the share of the largest possible heat, which the smaller
    /// heat capacity flow limits; on the charge side it is that times C_min/C_charge.
    pub fn effectiveness(&self, flow: f64, cp: f64) -> Option<f64> {
        match &self.effectiveness {
            Effectiveness::Given(value) => Some(*value),
            Effectiveness::OverFlow(table) => {
                let (first, last) = (table.entries.first()?, table.entries.last()?);
                table.at(flow.clamp(first.x, last.x))
            }
            Effectiveness::Units { number, arrangement } => {
                let charge = flow * cp;
                let Some(coolant) = self.coolant_capacity else {
                    return cooler::effectiveness(Streams::Counterflow, *number, 0.0);
                };
                let (smaller, larger) = (charge.min(coolant), charge.max(coolant));
                let streams = streams((*arrangement)?, charge <= coolant);
                Some(cooler::effectiveness(streams, *number, smaller / larger)? * smaller / charge)
            }
        }
    }
}

fn effectiveness(cooler: &ChargeAirCooler, reads: &dyn Reads) -> Known<Effectiveness> {
    if cooler.effectiveness_over_flow.is_given(reads) {
        return cooler.effectiveness_over_flow.get(reads).map(|table| Effectiveness::OverFlow(table.clone()));
    }
    if cooler.effectiveness.is_given(reads) || !cooler.transfer_units.is_given(reads) {
        return cooler.effectiveness.get(reads).map(|value| Effectiveness::Given(value.si()));
    }
    let number = cooler.transfer_units.get(reads).map(|units| units.si());
    let needs_arrangement = cooler.coolant_flow.is_given(reads);
    let arrangement = match needs_arrangement {
        true => cooler.arrangement.get(reads).map(|arrangement| Some(*arrangement)),
        false => Known::Is(None),
    };
    number.zip(arrangement).and_then(|(number, arrangement)| {
        if number > cooler::LARGEST_NTU {
            return Known::Open(Missing::field(cooler.transfer_units.route()));
        }
        Known::Is(Effectiveness::Units { number, arrangement })
    })
}

/// The arrangement as the physics names it, by which of the two streams has the smaller heat capacity flow.
fn streams(arrangement: Arrangement, charge_is_smaller: bool) -> Streams {
    match (arrangement, charge_is_smaller) {
        (Arrangement::Counterflow, _) => Streams::Counterflow,
        (Arrangement::Parallel, _) => Streams::Parallel,
        (Arrangement::CrossflowUnmixed, _) => Streams::CrossBothUnmixed,
        (Arrangement::CrossflowChargeMixed, true) | (Arrangement::CrossflowCoolantMixed, false) => {
            Streams::CrossSmallerMixed
        }
        (Arrangement::CrossflowChargeMixed, false) | (Arrangement::CrossflowCoolantMixed, true) => {
            Streams::CrossLargerMixed
        }
    }
}

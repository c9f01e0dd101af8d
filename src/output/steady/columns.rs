//! The quantities of a station, once for all formats that are read by programs.

use crate::model::{Running, Station};
use crate::text::Dim;

/// A quantity of a station.
pub struct Quantity {
    /// Its name in data.
    pub name: &'static str,
    /// What it is.
    pub meaning: &'static str,
    /// Its dimension; rotational speeds are given in rpm, all else in SI units.
    pub dim: Dim,
    /// Its value there.
    pub of: fn(&Station) -> Option<f64>,
}

impl Quantity {
    /// The unit it is given in.
    pub fn unit(&self) -> String {
        if self.dim == Dim::FREQUENCY { "rpm".to_owned() } else { self.dim.to_string() }
    }
}

const fn quantity(
    name: &'static str,
    meaning: &'static str,
    dim: Dim,
    of: fn(&Station) -> Option<f64>,
) -> Quantity {
    Quantity { name, meaning, dim, of }
}

fn running(station: &Station, of: impl FnOnce(&Running) -> Option<f64>) -> Option<f64> {
    station.compressor.as_ref().and_then(of)
}

/// All quantities of a station.
pub static QUANTITIES: &[Quantity] = &[
    quantity("flow", "mass flow", Dim::MASS_FLOW, |s| Some(s.flow)),
    quantity("pressure-in", "total pressure ahead of the part", Dim::PRESSURE, |s| Some(s.inlet.pressure)),
    quantity("pressure-out", "total pressure behind it", Dim::PRESSURE, |s| Some(s.outlet.pressure)),
    quantity("loss", "pressure-in less pressure-out", Dim::PRESSURE, |s| Some(s.loss())),
    quantity("temperature-in", "total temperature ahead of it", Dim::TEMPERATURE, |s| {
        Some(s.inlet.temperature)
    }),
    quantity("temperature-out", "total temperature behind it", Dim::TEMPERATURE, |s| {
        Some(s.outlet.temperature)
    }),
    quantity("enthalpy-in", "specific enthalpy ahead of it, 0 at 298.15 K", Dim::SPECIFIC_ENERGY, |s| {
        Some(s.inlet.enthalpy)
    }),
    quantity("enthalpy-out", "specific enthalpy behind it", Dim::SPECIFIC_ENERGY, |s| {
        Some(s.outlet.enthalpy)
    }),
    quantity("power", "power put into the air; heat taken from it is negative", Dim::POWER, |s| {
        Some(s.power())
    }),
    quantity("velocity", "mean velocity in the bore, at its faster end", Dim::SPEED, |s| Some(s.speed?.0)),
    quantity("mach", "Mach number there", Dim::ONE, |s| Some(s.speed?.1)),
    quantity("pressure-ratio", "pressure-out over pressure-in of a compressor", Dim::ONE, |s| {
        running(s, |_| Some(s.ratio()))
    }),
    quantity("corrected-flow", "flow corrected to the map's reference state", Dim::MASS_FLOW, |s| {
        running(s, |r| Some(r.corrected_flow))
    }),
    quantity("surge-flow", "corrected flow of the surge line at this ratio", Dim::MASS_FLOW, |s| {
        running(s, |r| r.working.surge_flow)
    }),
    quantity("choke-flow", "corrected flow at the choke end of this speed", Dim::MASS_FLOW, |s| {
        running(s, |r| r.choke_flow())
    }),
    quantity("surge-margin", "(flow - surge flow)/flow at equal ratio", Dim::ONE, |s| {
        running(s, |r| r.surge_margin)
    }),
    quantity("choke-share", "flow over choke flow", Dim::ONE, |s| running(s, |r| r.choke_share)),
    quantity("efficiency", "isentropic efficiency", Dim::ONE, |s| running(s, |r| Some(r.working.efficiency))),
    quantity("rotor-speed", "speed of the rotor", Dim::FREQUENCY, |s| {
        running(s, |r| r.rotor_speed.map(super::rpm))
    }),
    quantity("top-line-share", "corrected speed over that of the map's top line", Dim::ONE, |s| {
        running(s, |r| r.speed_share)
    }),
];

//! The conditions that a build works in.

use super::describe::{described, words};
use super::scalars::{Length, List, Pressure, Q, Ratio, Temperature, Text};

described! {
    /// The conditions the build works in at home, and others in which it must hold as well.
    pub struct Site ("the site") {
        /// Geometric altitude above sea level; the pressure follows from ISO 2533.
        altitude = "altitude": Q<Length> ["-400 m", "5500 m"],
        /// Pressure of the outside air, instead of an altitude.
        pressure = "pressure": Q<Pressure> ["50 kPa abs", "108 kPa abs"],
        /// Temperature of the outside air.
        air_temperature = "air-temperature": Q<Temperature> ["-40 degC", "55 degC"],
        /// Relative humidity of the outside air.
        relative_humidity = "relative-humidity": Q<Ratio> ["0 %", "100 %"],
        /// Other conditions to hold in; what one leaves out it takes from home.
        other_sites = "other-sites": List<OtherSite>,
    }

    /// Another set of conditions; what it leaves out it takes from home.
    pub struct OtherSite ("another site") {
        /// Its name, used in findings.
        name = "name": Text,
        /// Geometric altitude above sea level.
        altitude = "altitude": Q<Length> ["-400 m", "5500 m"],
        /// Pressure of the outside air, instead of an altitude.
        pressure = "pressure": Q<Pressure> ["50 kPa abs", "108 kPa abs"],
        /// Temperature of the outside air.
        air_temperature = "air-temperature": Q<Temperature> ["-40 degC", "55 degC"],
        /// Relative humidity of the outside air.
        relative_humidity = "relative-humidity": Q<Ratio> ["0 %", "100 %"],
        /// State of the air filter: new, or with the loss at which its element is changed.
        filter = "filter": FilterState,
    }
}

words! {
    /// State of the air filter.
    pub enum FilterState ("the filter's state") {
        /// As new: its `loss`.
        New = "new",
        /// Due for change: its `loss-when-due`.
        LossWhenDue = "loss-when-due",
    }
}

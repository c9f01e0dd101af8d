//! What a field of a description measures.

use super::{Dim, TABLE, Unit};

/// Writes the enum of measures and its table in one.
macro_rules! measures {
    ($($(#[$doc:meta])* $name:ident: $word:literal, $dim:ident, [$($usual:literal),+];)+) => {
        /// What a quantity measures, which says more than its dimension: a torque is no energy, and a pressure with
        /// a reference no difference of pressures. Values are kept in the SI unit of the dimension.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub enum Measure {
            $($(#[$doc])* $name,)+
        }

        impl Measure {
            /// All of them.
            pub const ALL: &'static [Measure] = &[$(Measure::$name),+];

            /// Its dimension.
            pub fn dim(self) -> Dim {
                match self {
                    $(Measure::$name => Dim::$dim,)+
                }
            }

            /// What it is called in a message, with its article.
            pub fn word(self) -> &'static str {
                match self {
                    $(Measure::$name => $word,)+
                }
            }

            /// The units it is usually given in, the most usual first: the short list for a message.
            pub fn usual_units(self) -> &'static [&'static str] {
                match self {
                    $(Measure::$name => &[$($usual),+],)+
                }
            }
        }
    };
}

measures! {
    /// In m.
    Length: "a length", LENGTH, ["mm", "cm", "m", "in", "thou", "ft"];
    /// In m2.
    Area: "an area", AREA, ["mm2", "cm2", "m2", "in2"];
    /// In m3.
    Volume: "a volume", VOLUME, ["L", "cm3", "mL", "m3", "in3"];
    /// In kg.
    Mass: "a mass", MASS, ["g", "kg", "lb", "oz"];
    /// In kg/s.
    MassFlow: "a mass flow", MASS_FLOW, ["kg/s", "g/s", "kg/min", "kg/h", "lb/min"];
    /// In m3/s.
    VolumeFlow: "a volume flow", VOLUME_FLOW, ["m3/s", "L/s", "L/min", "m3/h", "cfm"];
    /// In s.
    Time: "a time", TIME, ["ms", "s", "min", "h"];
    /// In 1/s.
    Frequency: "a frequency", FREQUENCY, ["Hz", "1/s"];
    /// In 1/s: revolutions a second, not radians a second.
    RotationalSpeed: "a rotational speed", FREQUENCY, ["rpm", "1/s", "rad/s"];
    /// In m/s.
    Speed: "a speed", SPEED, ["m/s", "km/h", "mph"];
    /// In m/s2.
    Acceleration: "an acceleration", ACCELERATION, ["m/s2"];
    /// In Pa, with its reference: gauge or absolute.
    Pressure: "a pressure", PRESSURE, ["kPa", "bar", "mbar", "psi", "Pa"];
    /// In Pa, between two places, or above the surroundings.
    PressureDifference: "a pressure difference", PRESSURE, ["kPa", "bar", "mbar", "psi", "Pa"];
    /// In K, absolute.
    Temperature: "a temperature", TEMPERATURE, ["degC", "degF", "K"];
    /// In K.
    TemperatureDifference: "a temperature difference", TEMPERATURE, ["K", "degC", "degF"];
    /// In rad.
    Angle: "an angle", ONE, ["deg", "rad"];
    /// In N.
    Force: "a force", FORCE, ["N", "lbf", "kgf"];
    /// In N/m.
    SpringRate: "a spring rate", SPRING_RATE, ["N/mm", "N/m", "lbf/in"];
    /// In kg m2, about the axis.
    Inertia: "a moment of inertia", INERTIA, ["kg m2", "g cm2", "kg mm2"];
    /// In N m.
    Torque: "a torque", ENERGY, ["N m", "N mm", "lbf ft"];
    /// A share or pure number.
    Ratio: "a share or ratio", ONE, ["%", "1"];
    /// A whole number of things.
    Count: "a whole number", ONE, ["1"];
    /// How many times something, such as a bore.
    Multiple: "a number of times", ONE, ["diameters", "bores", "cycles", "1"];
    /// In W.
    Power: "a power", POWER, ["kW", "W", "hp"];
    /// In J.
    Energy: "an energy", ENERGY, ["J", "kJ"];
    /// In kg/m3.
    Density: "a density", DENSITY, ["kg/m3", "g/cm3"];
    /// In m3/(s Pa): the sonic conductance of ISO 6358.
    Conductance: "a sonic conductance", CONDUCTANCE, ["dm3/(s bar)", "m3/(s Pa)"];
    /// In Pa: a stress, a strength or a modulus of elasticity.
    Stress: "a stress or modulus", PRESSURE, ["MPa", "GPa", "kPa", "psi"];
    /// In J/(kg K).
    SpecificHeat: "a specific heat", SPECIFIC_HEAT, ["J/(kg K)", "kJ/(kg K)"];
    /// In J/kg.
    SpecificEnergy: "a specific energy", SPECIFIC_ENERGY, ["kJ/kg", "MJ/kg", "J/kg"];
    /// In Pa s.
    Viscosity: "a dynamic viscosity", VISCOSITY, ["Pa s", "mPa s"];
    /// In N s/m.
    Damping: "a damping coefficient", MASS_FLOW, ["N s/m"];
    /// In kg/J.
    FuelConsumption: "a specific fuel consumption", MASS_PER_ENERGY, ["g/(kW h)", "lb/(hp h)"];
}

impl Measure {
    /// Every unit it may be given in.
    pub fn units(self) -> impl Iterator<Item = &'static Unit> {
        TABLE.iter().filter(move |unit| unit.fits(self))
    }

    /// Whether a number without a unit will do.
    pub fn takes_bare_number(self) -> bool {
        matches!(self, Measure::Ratio | Measure::Count | Measure::Multiple)
    }
}

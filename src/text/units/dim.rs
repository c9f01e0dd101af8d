//! Dimensions of quantities.

use std::fmt;

/// A dimension, as powers of the SI base units that occur here. Angles, ratios, counts and revolutions have none.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
pub struct Dim {
    /// Power of the metre.
    pub metre: i8,
    /// Power of the kilogram.
    pub kilogram: i8,
    /// Power of the second.
    pub second: i8,
    /// Power of the kelvin.
    pub kelvin: i8,
}

impl Dim {
    /// A pure number.
    pub const ONE: Dim = Dim::new(0, 0, 0, 0);
    /// m
    pub const LENGTH: Dim = Dim::new(1, 0, 0, 0);
    /// m2
    pub const AREA: Dim = Dim::new(2, 0, 0, 0);
    /// m3
    pub const VOLUME: Dim = Dim::new(3, 0, 0, 0);
    /// kg
    pub const MASS: Dim = Dim::new(0, 1, 0, 0);
    /// s
    pub const TIME: Dim = Dim::new(0, 0, 1, 0);
    /// K
    pub const TEMPERATURE: Dim = Dim::new(0, 0, 0, 1);
    /// kg/s
    pub const MASS_FLOW: Dim = Dim::new(0, 1, -1, 0);
    /// m3/s
    pub const VOLUME_FLOW: Dim = Dim::new(3, 0, -1, 0);
    /// 1/s
    pub const FREQUENCY: Dim = Dim::new(0, 0, -1, 0);
    /// m/s
    pub const SPEED: Dim = Dim::new(1, 0, -1, 0);
    /// m/s2
    pub const ACCELERATION: Dim = Dim::new(1, 0, -2, 0);
    /// Pa = kg/(m s2)
    pub const PRESSURE: Dim = Dim::new(-1, 1, -2, 0);
    /// N = kg m/s2
    pub const FORCE: Dim = Dim::new(1, 1, -2, 0);
    /// N/m = kg/s2
    pub const SPRING_RATE: Dim = Dim::new(0, 1, -2, 0);
    /// kg m2
    pub const INERTIA: Dim = Dim::new(2, 1, 0, 0);
    /// J = N m = kg m2/s2
    pub const ENERGY: Dim = Dim::new(2, 1, -2, 0);
    /// W = kg m2/s3
    pub const POWER: Dim = Dim::new(2, 1, -3, 0);
    /// kg/m3
    pub const DENSITY: Dim = Dim::new(-3, 1, 0, 0);
    /// m3/(s Pa) = m4 s/kg
    pub const CONDUCTANCE: Dim = Dim::new(4, -1, 1, 0);
    /// J/kg = m2/s2
    pub const SPECIFIC_ENERGY: Dim = Dim::new(2, 0, -2, 0);
    /// J/(kg K)
    pub const SPECIFIC_HEAT: Dim = Dim::new(2, 0, -2, -1);
    /// Pa s
    pub const VISCOSITY: Dim = Dim::new(-1, 1, -1, 0);
    /// kg/J
    pub const MASS_PER_ENERGY: Dim = Dim::new(-2, 0, 2, 0);

    /// The powers in the order metre, kilogram, second, kelvin.
    pub const fn new(metre: i8, kilogram: i8, second: i8, kelvin: i8) -> Dim {
        Dim { metre, kilogram, second, kelvin }
    }

    /// The dimension of a product; nothing if a power grows past what can be kept.
    pub fn checked_mul(self, other: Dim) -> Option<Dim> {
        self.combine(other, i8::checked_add)
    }

    /// The dimension of a quotient; nothing if a power grows past what can be kept.
    pub fn checked_div(self, other: Dim) -> Option<Dim> {
        self.combine(other, i8::checked_sub)
    }

    /// The dimension of a whole power; nothing if it grows past what can be kept.
    pub fn checked_pow(self, power: i8) -> Option<Dim> {
        self.combine(Dim::new(power, power, power, power), i8::checked_mul)
    }

    /// Whether it is that of a pure number.
    pub fn is_one(self) -> bool {
        self == Dim::ONE
    }

    fn combine(self, other: Dim, with: fn(i8, i8) -> Option<i8>) -> Option<Dim> {
        Some(Dim {
            metre: with(self.metre, other.metre)?,
            kilogram: with(self.kilogram, other.kilogram)?,
            second: with(self.second, other.second)?,
            kelvin: with(self.kelvin, other.kelvin)?,
        })
    }
}

/// Derived units with a name of their own, and what is better said with them.
const NAMED: [(Dim, &str); 9] = [
    (Dim::PRESSURE, "Pa"),
    (Dim::FORCE, "N"),
    (Dim::SPRING_RATE, "N/m"),
    (Dim::ENERGY, "J"),
    (Dim::POWER, "W"),
    (Dim::CONDUCTANCE, "m3/(s Pa)"),
    (Dim::SPECIFIC_ENERGY, "J/kg"),
    (Dim::SPECIFIC_HEAT, "J/(kg K)"),
    (Dim::VISCOSITY, "Pa s"),
];

/// The coherent SI unit: `m`, `kg/s`, `Pa`, `1`.
impl fmt::Display for Dim {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some((_, name)) = NAMED.iter().find(|(dim, _)| dim == self) {
            return f.write_str(name);
        }
        let powers = [("kg", self.kilogram), ("m", self.metre), ("s", self.second), ("K", self.kelvin)];
        let factors = |above: bool| -> Vec<String> {
            powers
                .iter()
                .filter(|(_, power)| *power != 0 && (*power > 0) == above)
                .map(|(unit, power)| match power.unsigned_abs() {
                    1 => (*unit).to_owned(),
                    size => format!("{unit}{size}"),
                })
                .collect()
        };
        let (above, below) = (factors(true), factors(false));
        let above = if above.is_empty() { "1".to_owned() } else { above.join(" ") };
        match below.as_slice() {
            [] => f.write_str(&above),
            [one] => write!(f, "{above}/{one}"),
            more => write!(f, "{above}/({})", more.join(" ")),
        }
    }
}

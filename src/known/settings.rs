//! Named values that facts may read and that a house or a build may change, each with unit, source and meaning.

use super::Num;
use crate::text::Dim;

/// A setting, by its row in [`SETTINGS`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Setting {
    /// Spacing of the operating points between the entries of the tables.
    OperatingPointSpacing,
    /// Temperature to which a given loss refers when it names none.
    LossReferenceTemperature,
    /// Pressure to which a given loss refers when it names none.
    LossReferencePressure,
    /// Sand roughness of a drawn pipe.
    PipeRoughness,
    /// Discharge coefficient of a throttle at full opening.
    ThrottleDischargeCoefficient,
    /// Isentropic efficiency of a compressor of which only the surge line is known.
    EfficiencyWithoutMap,
    /// Discharge coefficient of a relief valve that names none.
    ValveDischargeCoefficient,
    /// Share of a throttle's bore that leaks past the shut plate, where the idle figures do not tell.
    ThrottleLeak,
    /// Compression ratio taken where none is given.
    CompressionRatio,
    /// By how much evaporating fuel and a venturi cool the air at a throttle plate.
    IcingTemperatureDrop,
    /// Excess-air ratio of a mixture that is made ahead of the compressor.
    DrawnThroughLambda,
    /// Excess-air ratio of an engine lit by a spark at full throttle.
    FullThrottleLambdaSpark,
    /// Excess-air ratio of an engine lit by compression at full load.
    FullThrottleLambdaCompression,
    /// How much of the ideal correction for exhaust pressure is made on the volumetric efficiency.
    ExhaustPressureCorrection,
    /// Swing of the pressure in a surge cycle on tip-out up to which it does no harm.
    HarmfulSwing,
    /// Excess-air ratio, over the one asked for, below which a mixture on tip-out counts as too rich.
    TipOutLambda,
    /// Temperature of the pipes when their joints were put together.
    FittingTemperature,
}

/// One row of the table of settings.
pub struct SettingRow {
    /// Which setting.
    pub setting: Setting,
    /// Its name in files.
    pub name: &'static str,
    /// Default in SI units.
    pub default: f64,
    /// The default as a person writes it.
    pub written: &'static str,
    /// Dimension.
    pub dim: Dim,
    /// What it means.
    pub meaning: &'static str,
    /// Where the default comes from.
    pub source: &'static str,
}

const RPM: f64 = 1.0 / 60.0;

/// All settings, in the order of [`Setting`].
pub static SETTINGS: &[SettingRow] = &[
    SettingRow {
        setting: Setting::OperatingPointSpacing,
        name: "operating-point-spacing",
        default: 250.0 * RPM,
        written: "250 rpm",
        dim: Dim::FREQUENCY,
        meaning: "spacing of the operating points between the entries of the boost and volumetric-efficiency tables",
        source: "common practice, no source",
    },
    SettingRow {
        setting: Setting::LossReferenceTemperature,
        name: "loss-reference-temperature",
        default: 298.15,
        written: "25 degC",
        dim: Dim::TEMPERATURE,
        meaning: "temperature of the air to which a given loss refers when it names none",
        source: "SAE J1349 rating state (from memory)",
    },
    SettingRow {
        setting: Setting::LossReferencePressure,
        name: "loss-reference-pressure",
        default: 101_325.0,
        written: "101.325 kPa",
        dim: Dim::PRESSURE,
        meaning: "absolute pressure of the air to which a given loss refers when it names none",
        source: "ISO 2533 sea level",
    },
    SettingRow {
        setting: Setting::PipeRoughness,
        name: "pipe-roughness",
        default: 1.5e-6,
        written: "0.0015 mm",
        dim: Dim::LENGTH,
        meaning: "sand roughness of a pipe's inside",
        source: "drawn tubing: Moody, Friction Factors for Pipe Flow, Trans. ASME 66 (1944), from memory",
    },
    SettingRow {
        setting: Setting::ThrottleDischargeCoefficient,
        name: "throttle-discharge-coefficient",
        default: 0.9,
        written: "0.9",
        dim: Dim::ONE,
        meaning: "discharge coefficient of a throttle at full opening, on the bore less plate and shaft",
        source: "common practice, no source",
    },
    SettingRow {
        setting: Setting::EfficiencyWithoutMap,
        name: "efficiency-without-map",
        default: 0.70,
        written: "70 %",
        dim: Dim::ONE,
        meaning: "isentropic efficiency of a compressor of which only the surge line is known",
        source: "common practice, no source",
    },
    SettingRow {
        setting: Setting::ValveDischargeCoefficient,
        name: "valve-discharge-coefficient",
        default: 0.7,
        written: "0.7",
        dim: Dim::ONE,
        meaning: "discharge coefficient of a relief valve that names none, on the smaller of curtain and seat area",
        source: "common practice, no source",
    },
    SettingRow {
        setting: Setting::ThrottleLeak,
        name: "throttle-leak",
        default: 0.004,
        written: "0.4 %",
        dim: Dim::ONE,
        meaning: "share of a throttle's bore that stays open with the plate shut, where the idle figures do not tell",
        source: "common practice, no source",
    },
    SettingRow {
        setting: Setting::CompressionRatio,
        name: "compression-ratio",
        default: 10.0,
        written: "10",
        dim: Dim::ONE,
        meaning: "compression ratio taken where none is given, for how much residual gas takes up of a throttled cylinder",
        source: "common practice, no source",
    },
    SettingRow {
        setting: Setting::IcingTemperatureDrop,
        name: "icing-temperature-drop",
        default: 25.0,
        written: "25 K",
        dim: Dim::TEMPERATURE,
        meaning: "by how much evaporating fuel and the venturi cool the air at a carburettor's plate",
        source: "20 to 30 K: CAA, Safety Sense Leaflet 14, Piston Engine Icing (2013)",
    },
    SettingRow {
        setting: Setting::DrawnThroughLambda,
        name: "drawn-through-lambda",
        default: 0.9,
        written: "0.9",
        dim: Dim::ONE,
        meaning: "excess-air ratio, at full throttle, of a mixture that is made ahead of the compressor",
        source: "best power lies at 0.85 to 0.90: Heywood 1988, ch. 9 (from memory)",
    },
    SettingRow {
        setting: Setting::FullThrottleLambdaSpark,
        name: "full-throttle-lambda-spark",
        default: 0.85,
        written: "0.85",
        dim: Dim::ONE,
        meaning: "excess-air ratio at full throttle of an engine lit by a spark; it tells the fuel in the exhaust",
        source: "best power lies at 0.85 to 0.90: Heywood 1988, ch. 9 (from memory)",
    },
    SettingRow {
        setting: Setting::FullThrottleLambdaCompression,
        name: "full-throttle-lambda-compression",
        default: 1.4,
        written: "1.4",
        dim: Dim::ONE,
        meaning: "excess-air ratio at full load of an engine lit by compression; it tells the fuel in the exhaust",
        source: "common practice, no source (below it the smoke begins)",
    },
    SettingRow {
        setting: Setting::ExhaustPressureCorrection,
        name: "exhaust-pressure-correction",
        default: 1.0,
        written: "1",
        dim: Dim::ONE,
        meaning: "how much of the ideal correction for exhaust pressure is made on the volumetric efficiency, where the turbine is described; 0 for figures that hold it already",
        source: "ideal cycle: Taylor, The Internal-Combustion Engine in Theory and Practice, ch. 6 (from memory)",
    },
    SettingRow {
        setting: Setting::HarmfulSwing,
        name: "harmful-surge-swing",
        default: 20e3,
        written: "20 kPa",
        dim: Dim::PRESSURE,
        meaning: "swing of the pressure behind the compressor in a surge cycle on tip-out up to which it is told but does no harm",
        source: "common practice, no source",
    },
    SettingRow {
        setting: Setting::TipOutLambda,
        name: "tip-out-lambda",
        default: 0.70,
        written: "0.70",
        dim: Dim::ONE,
        meaning: "excess-air ratio, over the one asked for, below which the mixture on tip-out counts as too rich to burn smoothly",
        source: "common practice, no source",
    },
    SettingRow {
        setting: Setting::FittingTemperature,
        name: "fitting-temperature",
        default: 293.15,
        written: "20 degC",
        dim: Dim::TEMPERATURE,
        meaning: "temperature of the pipes when their joints were put together, from which they grow as they warm",
        source: "reference temperature of measures: ISO 1 (from memory)",
    },
];

impl Setting {
    /// The row that describes it.
    pub fn row(self) -> &'static SettingRow {
        &SETTINGS[self as usize]
    }

    /// The setting of this name, if there is one.
    pub fn named(name: &str) -> Option<&'static SettingRow> {
        SETTINGS.iter().find(|row| row.name == name)
    }

    /// Its default.
    pub fn default_value(self) -> Num {
        let row = self.row();
        Num::new(row.default, row.dim)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::read_any_quantity;

    #[test]
    fn rows_stand_in_the_order_of_their_names_in_code() {
        for row in SETTINGS {
            assert_eq!(row.setting.row().name, row.name);
        }
    }

    #[test]
    fn every_default_is_what_is_written_beside_it() {
        for row in SETTINGS {
            let (si, dim, _) = read_any_quantity(row.written).expect("a default reads");
            assert_eq!(dim, row.dim, "{}", row.name);
            assert!((si - row.default).abs() <= 1e-9 * row.default.abs(), "{}", row.name);
        }
    }
}

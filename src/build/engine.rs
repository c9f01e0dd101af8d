//! The engine: what it swallows, how it meters its air, what boost it is to have.

use super::describe::{described, words};
use super::scalars::{
    Count, Pressure, PressureDifference, Q, Ratio, RotationalSpeed, SpeedTable, Time, Volume,
};

described! {
    /// The engine.
    pub struct Engine ("the engine") {
        /// Working cycle.
        cycle = "cycle": Cycle,
        /// What lights the mixture.
        ignition = "ignition": Ignition,
        /// Number of cylinders.
        cylinders = "cylinders": Count,
        /// Swept volume of all cylinders.
        displacement = "displacement": Q<Volume> ["0.1 L", "20 L"],
        /// Geometric compression ratio.
        compression_ratio = "compression-ratio": Q<Ratio> ["6", "22"],
        /// Fuel.
        fuel = "fuel": Fuel,
        /// Where the fuel joins the air.
        fuel_enters = "fuel-enters": FuelEntry,
        /// How the engine knows its air; else it is inferred from the parts, and said.
        metering = "metering": Metering,
        /// Highest engine speed.
        rev_limit = "rev-limit": Q<RotationalSpeed> ["1500 rpm", "20000 rpm"],
        /// The engine at idle.
        idle = "idle": Idle,
        /// The engine on overrun, throttle shut and driven by the vehicle.
        overrun = "overrun": Overrun,
        /// Filling of the cylinders, referred to manifold density, full throttle, over engine speed.
        volumetric_efficiency = "volumetric-efficiency": SpeedTable<Ratio> ["30 %", "130 %"],
    }

    /// The engine at idle.
    pub struct Idle ("idle") {
        /// Idle speed.
        speed = "speed": Q<RotationalSpeed> ["400 rpm", "2500 rpm"],
        /// Pressure in the manifold at idle.
        manifold_pressure = "manifold-pressure": Q<Pressure> ["15 kPa abs", "101 kPa abs"],
    }

    /// The engine on overrun.
    pub struct Overrun ("overrun") {
        /// Pressure in the manifold on overrun.
        manifold_pressure = "manifold-pressure": Q<Pressure> ["10 kPa abs", "101 kPa abs"],
        /// Time from the throttle's closing to the fuel cut.
        fuel_cut_delay = "fuel-cut-delay": Q<Time> ["0 ms", "3 s"],
    }

    /// A change of gear with the throttle shut.
    pub struct GearChange ("a gear-change") {
        /// How long the throttle stays shut.
        time = "time": Q<Time> ["20 ms", "2 s"],
        /// How far it shuts: share of the plate's travel.
        throttle_to = "throttle-to": Q<Ratio> ["0 %", "50 %"],
    }
}

/// Wanted boost over engine speed.
pub type BoostTable = SpeedTable<PressureDifference>;

words! {
    /// Working cycle.
    pub enum Cycle ("the cycle") {
        /// One filling in two turns.
        FourStroke = "four-stroke",
        /// One filling a turn.
        TwoStroke = "two-stroke",
    }

    /// What lights the mixture.
    pub enum Ignition ("the ignition") {
        /// A spark.
        Spark = "spark",
        /// The heat of compression.
        Compression = "compression",
    }

    /// Fuel.
    pub enum Fuel ("the fuel") {
        /// Petrol.
        Petrol = "petrol",
        /// Diesel fuel.
        Diesel = "diesel",
        /// Ethanol.
        Ethanol = "ethanol",
        /// Petrol with 85 % ethanol.
        E85 = "e85",
        /// Methanol.
        Methanol = "methanol",
        /// Liquefied petroleum gas.
        Lpg = "lpg",
        /// Natural gas.
        NaturalGas = "natural-gas",
    }

    /// Where the fuel joins the air.
    pub enum FuelEntry ("where the fuel enters") {
        /// Straight into the cylinder.
        Cylinder = "cylinder",
        /// Ahead of each inlet valve.
        Port = "port",
        /// Into the manifold.
        Manifold = "manifold",
        /// Ahead of the compressor.
        AheadOfCompressor = "ahead-of-compressor",
    }

    /// How the engine knows its air.
    pub enum Metering ("the metering") {
        /// A sensor of mass flow.
        AirMeter = "air-meter",
        /// Manifold pressure, temperature and speed.
        SpeedDensity = "speed-density",
        /// Throttle angle and speed.
        ThrottleAngle = "throttle-angle",
        /// A carburettor.
        Carburettor = "carburettor",
        /// It is not metered.
        None = "none",
    }

    /// What the boost control keeps at other sites.
    pub enum BoostHeld ("what the boost control keeps") {
        /// Boost above the site's pressure.
        Gauge = "gauge",
        /// Absolute manifold pressure as at home.
        Absolute = "absolute",
    }
}

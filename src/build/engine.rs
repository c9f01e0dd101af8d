//! The engine: what it swallows, how it meters its air, what boost it is to have.

use super::describe::{described, words};
use super::parts::Loss;
use super::scalars::{
    Count, List, Octane, Pressure, PressureDifference, Q, Ratio, RotationalSpeed, Temperature, Time, Volume,
};
use super::tables::SpeedTable;

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
        /// Research octane number of the fuel.
        octane = "octane": Octane,
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
        /// Temperature of the engine's coolant when warm.
        coolant_temperature = "coolant-temperature": Q<Temperature> ["50 degC", "130 degC"],
        /// Points at boost with the throttle part shut: cruise, traction control, a governor.
        part_throttle = "part-throttle": List<PartThrottle>,
    }

    /// A point at boost with the throttle part shut.
    pub struct PartThrottle ("a part-throttle point") {
        /// Engine speed.
        engine_speed = "engine-speed": Q<RotationalSpeed> ["400 rpm", "20000 rpm"],
        /// Boost ahead of the throttle, above site pressure.
        boost = "boost": Q<PressureDifference> ["0 bar", "6 bar"],
        /// Flow, as a share of that at full throttle at the same speed.
        flow_share = "flow-share": Q<Ratio> ["2 %", "100 %"],
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

    /// The exhaust, as far as it drives a turbine.
    pub struct Exhaust ("the exhaust") {
        /// Temperature of the gas ahead of the turbine, full throttle.
        temperature = "temperature": Q<Temperature> ["300 degC", "1100 degC"],
        /// Pressure loss behind the turbine.
        loss = "loss": Loss,
    }

    /// What guards and governs the boost, apart from the parts that do it.
    pub struct Control ("the control") {
        /// Boost above site pressure at which fuel or ignition is cut.
        boost_cut = "boost-cut": Q<PressureDifference> ["0.1 bar", "8 bar"],
    }

    /// What the engine was approved or sold with.
    pub struct AsBuilt ("the engine as built") {
        /// Highest boost above site pressure.
        boost = "boost": Q<PressureDifference> ["0 bar", "6 bar"],
        /// How it knew its air.
        metering = "metering": Metering,
    }

    /// A change of gear with the throttle shut.
    pub struct GearChange ("a gear-change") {
        /// How long the throttle stays shut.
        time = "time": Q<Time> ["20 ms", "2 s"],
        /// How far it shuts: share of the plate's travel.
        throttle_to = "throttle-to": Q<Ratio> ["0 %", "50 %"],
        /// Share of its speed to which the engine falls meanwhile, by the next gear's ratio.
        speed_to = "speed-to": Q<Ratio> ["40 %", "100 %"],
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
        /// A carburettor or a gas mixer: the air itself draws the fuel.
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

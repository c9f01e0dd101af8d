//! Sensors, one-way valves, and what draws air or vacuum from the tract.

use crate::build::describe::{described, words};
use crate::build::scalars::{
    Destination, Flag, Length, PartName, Pressure, PressureDifference, Q, Volume, VolumeFlow,
};

described! {
    /// A sensor of pressure.
    pub struct PressureSensor ("a pressure sensor") {
        /// What its reading serves.
        purpose = "purpose": SensorPurpose,
        /// Against what it reads.
        reads_as = "reads-as": ReadsAs,
        /// Highest pressure it can tell.
        full_scale = "full-scale": Q<Pressure> ["50 kPa abs", "1 MPa abs"],
        /// Volume of the chamber that the signal fills.
        chamber = "chamber": Q<Volume> ["0.01 cm3", "50 cm3"],
    }

    /// A sensor of temperature.
    pub struct TemperatureSensor ("a temperature sensor") {
        /// What its reading serves.
        purpose = "purpose": TemperaturePurpose,
    }

    /// A one-way valve.
    pub struct CheckValve ("a check valve") {
        /// The way it lets air pass.
        flows = "flows": Flows,
        /// Pressure difference at which it opens.
        cracking_pressure = "cracking-pressure": Q<PressureDifference> ["0 Pa", "20 kPa"],
    }

    /// The way a check valve lets air pass: by the parts on either side of it.
    pub struct Flows ("a check valve's way") {
        /// The part that the air comes from.
        from = "from": PartName,
        /// The part that the air goes to.
        to = "to": PartName,
    }

    /// The way out of the crankcase. Its hoses say where it leads.
    pub struct Breather ("a breather") {
        /// Inside diameter at its narrowest.
        bore = "bore": Q<Length> ["3 mm", "60 mm"],
        /// Whether oil is separated from the gas inside it.
        separates_oil = "separates-oil": Flag,
    }

    /// Air round the throttle at idle.
    pub struct IdleAirValve ("an idle air valve") {
        /// `air` when it has a filter of its own, or the part that it takes its air from.
        from = "from": Destination,
        /// The part that it feeds.
        to = "to": PartName,
        /// Inside diameter at its narrowest.
        bore = "bore": Q<Length> ["1 mm", "40 mm"],
    }

    /// Help for the brake pedal.
    pub struct BrakeServo ("a brake servo") {
        /// What supplies it.
        supply = "supply": ServoSupply,
        /// Volume of a reservoir beside it.
        reservoir = "reservoir": Q<Volume> ["0.1 L", "20 L"],
    }

    /// A nozzle that sprays water or alcohol into the charge.
    pub struct InjectionNozzle ("an injection nozzle") {
        /// What it sprays.
        sprays = "sprays": Sprayed,
        /// Flow at full load.
        flow = "flow": Q<VolumeFlow> ["10 cm3/min", "5 L/min"],
        /// Where the pressure that switches it on is felt.
        trigger = "trigger": Trigger,
        /// Whether a valve at the nozzle holds the liquid back when it is off.
        stop_valve = "stop-valve": Flag,
        /// Heights of nozzle and tank over the same ground.
        heights = "heights": Heights,
    }

    /// What switches a nozzle on.
    pub struct Trigger ("a nozzle's trigger") {
        /// The part whose pressure is felt.
        part = "part": PartName,
        /// Distance from that part's upstream end.
        at = "at": Q<Length> ["0 mm", "5 m"],
        /// The pressure at which it comes on.
        pressure = "pressure": Q<Pressure> ["0.05 bar gauge", "4 bar gauge"],
    }

    /// Heights over the same ground.
    pub struct Heights ("the heights") {
        /// Of the nozzle.
        nozzle = "nozzle": Q<Length> ["0 m", "3 m"],
        /// Of the liquid's highest level in the tank.
        tank = "tank": Q<Length> ["0 m", "3 m"],
    }

    /// A tank that catches oil from the crankcase gas. Its hoses say where it leads.
    pub struct CatchTank ("a catch tank") {
        /// Volume.
        volume = "volume": Q<Volume> ["0.1 L", "20 L"],
    }
}

words! {
    /// What a pressure sensor's reading serves.
    pub enum SensorPurpose ("a sensor's purpose") {
        /// The density of the charge.
        Density = "density",
        /// The boost control.
        BoostControl = "boost-control",
        /// The pressure of the fuel, held above that of the air it is sprayed into.
        FuelPressure = "fuel-pressure",
        /// A display.
        Display = "display",
    }

    /// What a temperature sensor's reading serves.
    pub enum TemperaturePurpose ("a temperature sensor's purpose") {
        /// The density of the charge.
        Density = "density",
        /// A display.
        Display = "display",
    }

    /// Against what a pressure sensor reads.
    pub enum ReadsAs ("what a sensor reads against") {
        /// Against vacuum.
        Absolute = "absolute",
        /// Against the outside air.
        Gauge = "gauge",
    }

    /// What supplies a brake servo.
    pub enum ServoSupply ("what supplies a brake servo") {
        /// The vacuum of the tract.
        Tract = "tract",
        /// A pump of its own.
        Pump = "pump",
        /// Oil under pressure: no vacuum at all.
        Hydraulic = "hydraulic",
    }

    /// What a nozzle sprays.
    pub enum Sprayed ("what a nozzle sprays") {
        /// Water.
        Water = "water",
        /// Alcohol.
        Alcohol = "alcohol",
        /// Water and alcohol mixed.
        WaterAndAlcohol = "water-and-alcohol",
        /// The engine's fuel.
        Fuel = "fuel",
    }
}

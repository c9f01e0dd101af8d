//! Parts that hang on the tract by a tap or a hose.

use crate::build::describe::{described, words};
use crate::build::scalars::{
    Destination, Force, Length, List, Mass, PartName, Pressure, Q, Ratio, SpringRate,
};

described! {
    /// Where a part sits on another.
    pub struct Tap ("a tap") {
        /// The part that carries it.
        part = "part": PartName,
        /// Distance from that part's upstream end.
        at = "at": Q<Length> ["0 mm", "5 m"],
    }

    /// A relief valve: lets charge out when the throttle is shut at boost.
    pub struct ReliefValve ("a relief valve") {
        /// What it is for.
        purpose = "purpose": ReliefPurpose,
        /// What moves it.
        actuation = "actuation": Actuation,
        /// Diameter of the seat, on which the charge acts.
        seat = "seat": Q<Length> ["8 mm", "80 mm"],
        /// Diameter of the piston or diaphragm, on which the signal acts.
        piston = "piston": Q<Length> ["8 mm", "120 mm"],
        /// Its spring.
        spring = "spring": Spring,
        /// Stroke to the stop.
        lift = "lift": Q<Length> ["0.5 mm", "40 mm"],
        /// Mass that moves.
        moving_mass = "moving-mass": Q<Mass> ["1 g", "2 kg"],
        /// How well it flows.
        flow = "flow": ValveFlow,
        /// Where it lets the air go.
        discharge = "discharge": List<Discharge>,
    }

    /// A spring.
    pub struct Spring ("a spring") {
        /// Force per deflection.
        rate = "rate": Q<SpringRate> ["0.1 N/mm", "60 N/mm"],
        /// Force when the valve is shut.
        preload = "preload": Q<Force> ["0 N", "600 N"],
    }

    /// How well a valve flows.
    pub struct ValveFlow ("a valve's flow") {
        /// Discharge coefficient on the open area.
        discharge_coefficient = "discharge-coefficient": Q<Ratio> ["0.2", "1"],
    }

    /// One discharge port.
    pub struct Discharge ("a discharge port") {
        /// `air`, or the part that the air is led back to.
        to = "to": Destination,
        /// Distance from that part's upstream end.
        at = "at": Q<Length> ["0 mm", "5 m"],
        /// Its share of what leaves at full lift.
        share = "share": Q<Ratio> ["0 %", "100 %"],
        /// Bore of the port or of the pipe behind it.
        bore = "bore": Q<Length> ["5 mm", "100 mm"],
        /// Lift at which the port begins to open.
        opens_from = "opens-from": Q<Length> ["0 mm", "40 mm"],
        /// Lift at which the port is fully open.
        full_at = "full-at": Q<Length> ["0 mm", "40 mm"],
    }

    /// A sensor of pressure.
    pub struct PressureSensor ("a pressure sensor") {
        /// What its reading serves.
        purpose = "purpose": SensorPurpose,
        /// Against what it reads.
        reads_as = "reads-as": ReadsAs,
        /// Highest pressure it can tell.
        full_scale = "full-scale": Q<Pressure> ["50 kPa abs", "1 MPa abs"],
    }

    /// A one-way valve.
    pub struct CheckValve ("a check valve") {
        /// The way it lets air pass.
        flows = "flows": Flows,
    }

    /// The way a check valve lets air pass.
    pub struct Flows ("a check valve's way") {
        /// The part that the air comes from.
        from = "from": PartName,
        /// The part that the air goes to.
        to = "to": PartName,
    }
}

words! {
    /// What a relief valve is for.
    pub enum ReliefPurpose ("a relief valve's purpose") {
        /// It opens at tip-out (throttle shut at boost).
        TipOut = "tip-out",
        /// It limits the boost.
        Ceiling = "ceiling",
        /// It lets an engine-driven supercharger idle.
        Bypass = "bypass",
    }

    /// What moves a valve.
    pub enum Actuation ("the actuation") {
        /// Pressures and a spring.
        Pneumatic = "pneumatic",
        /// A solenoid or motor.
        Electric = "electric",
    }

    /// What a sensor's reading serves.
    pub enum SensorPurpose ("a sensor's purpose") {
        /// The density of the charge.
        Density = "density",
        /// The boost control.
        BoostControl = "boost-control",
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
}

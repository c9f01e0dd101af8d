//! Relief valves, and where a part sits on another.

use crate::build::describe::{described, words};
use crate::build::scalars::{
    Area, Conductance, Damping, Destination, Force, Length, List, Mass, PartName, Q, Ratio, SpringRate, Time,
    Volume,
};
use crate::known::{Known, Reads};

use super::NearExhaust;

described! {
    /// Where a part sits on another.
    pub struct Tap ("a tap") {
        /// The part that carries it.
        part = "part": PartName,
        /// Distance from that part's upstream end.
        at = "at": Q<Length> ["0 mm", "5 m"],
        /// Length of the stub between the carrying part's bore and the valve or sensor; 0 when it sits flush.
        stub = "stub": Q<Length> ["0 mm", "500 mm"],
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
        /// The acting areas said plainly, when they do not follow from seat and piston.
        areas = "areas": ActingAreas,
        /// Its spring.
        spring = "spring": Spring,
        /// Stroke to the stop.
        lift = "lift": Q<Length> ["0.5 mm", "40 mm"],
        /// Mass that moves.
        moving_mass = "moving-mass": Q<Mass> ["1 g", "2 kg"],
        /// Friction of its guide and seals, against whichever way it moves.
        friction = "friction": Q<Force> ["0 N", "60 N"],
        /// Damping of its motion.
        damping = "damping": Q<Damping> ["0 N s/m", "200 N s/m"],
        /// Volume of the chamber that the signal fills, when the valve is shut.
        chamber = "chamber": Q<Volume> ["1 cm3", "500 cm3"],
        /// How well it flows.
        flow = "flow": ValveFlow,
        /// Of an electric one: what gives the command to open.
        command = "command": ReliefCommand,
        /// Of an electric one: time from the command to the first motion.
        delay = "delay": Q<Time> ["1 ms", "500 ms"],
        /// Of an electric one: what it does without power.
        rest = "rest": ValveRest,
        /// Of an electric one: the force that holds it shut.
        holding_force = "holding-force": Q<Force> ["1 N", "2000 N"],
        /// Where it lets the air go.
        discharge = "discharge": List<Discharge>,
    }

    /// The areas that pressures act on, the positive direction opening the valve.
    pub struct ActingAreas ("the acting areas") {
        /// Area on which the charge pushes the valve open.
        inlet = "inlet": Q<Area> ["0.3 cm2", "60 cm2"],
        /// Area on which the pressure of the discharge pushes it open.
        outlet = "outlet": Q<Area> ["0 cm2", "60 cm2"],
        /// Area on which the signal pushes it shut.
        signal = "signal": Q<Area> ["0.3 cm2", "120 cm2"],
    }

    /// A spring.
    pub struct Spring ("a spring") {
        /// Force per deflection.
        rate = "rate": Q<SpringRate> ["0.1 N/mm", "60 N/mm"],
        /// Force when the valve is shut.
        preload = "preload": Q<Force> ["0 N", "600 N"],
        /// Length without load.
        free_length = "free-length": Q<Length> ["5 mm", "200 mm"],
        /// Length with all coils touching.
        solid_length = "solid-length": Q<Length> ["2 mm", "150 mm"],
    }

    /// How well a valve flows: by a coefficient on its open area, or by the two numbers of ISO 6358.
    pub struct ValveFlow ("a valve's flow") {
        /// Discharge coefficient on the open area.
        discharge_coefficient = "discharge-coefficient": Q<Ratio> ["0.2", "1"],
        /// Sonic conductance at full lift.
        sonic_conductance = "sonic-conductance": Q<Conductance> ["1 dm3/(s bar)", "1000 dm3/(s bar)"],
        /// Pressure ratio below which the flow no longer grows.
        critical_back_pressure_ratio = "critical-back-pressure-ratio": Q<Ratio> ["0.1", "0.6"],
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
        /// Length of the pipe behind it.
        length = "length": Q<Length> ["0 mm", "3 m"],
        /// Lift at which the port begins to open.
        opens_from = "opens-from": Q<Length> ["0 mm", "40 mm"],
        /// Lift at which the port is fully open.
        full_at = "full-at": Q<Length> ["0 mm", "40 mm"],
        /// How near it ends to the exhaust.
        near_exhaust = "near-exhaust": NearExhaust,
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

    /// What moves a valve or an actuator.
    pub enum Actuation ("the actuation") {
        /// Pressures and a spring.
        Pneumatic = "pneumatic",
        /// A solenoid or motor.
        Electric = "electric",
    }

    /// What commands an electric relief valve to open.
    pub enum ReliefCommand ("what commands a relief valve") {
        /// The throttle, as soon as it begins to close.
        ThrottleClosing = "throttle-closing",
        /// The manifold pressure falling below the charge pressure.
        PressureDifference = "pressure-difference",
        /// A switch on the pedal.
        PedalSwitch = "pedal-switch",
    }

    /// What an electric valve does without power.
    pub enum ValveRest ("what a valve does at rest") {
        /// It stays or falls shut.
        Shut = "shut",
        /// It stands open.
        Open = "open",
    }
}

impl ReliefValve {
    /// What it is there for: one that does not say it is taken to open on tip-out, and that is told.
    pub fn purpose_or_usual(&self, reads: &dyn Reads) -> Known<ReliefPurpose> {
        let words = "the valve is taken to open on tip-out (throttle shut at boost)";
        self.purpose.get_or(reads, ReliefPurpose::TipOut, words)
    }
}

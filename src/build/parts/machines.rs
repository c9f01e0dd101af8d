//! What drives the charge: turbochargers and superchargers, and what holds their boost.

use crate::build::describe::{described, words};
use crate::build::map_file::{MapFile, SurgeLine};
use crate::build::scalars::{
    Angle, Flag, Inertia, Length, MassFlow, PartName, Pressure, PressureDifference, Q, Ratio,
    RotationalSpeed, Temperature, Text, Volume,
};

use crate::build::describe::Reading;
use crate::build::tables::SpeedTable;
use crate::known::{State, Unrecorded};
use crate::text::{FaultKind, Node};

use super::{Actuation, Spring, ValveFlow};

described! {
    /// A turbocharger.
    pub struct Turbocharger ("a turbocharger") {
        /// Its compressor.
        compressor = "compressor": Compressor,
        /// Its turbine.
        turbine = "turbine": Turbine,
        /// The wastegate that leads exhaust round its turbine, by the part's name; `none` when it has none.
        wastegate = "wastegate": PartName,
        /// How its oil runs off.
        oil = "oil": Oil,
        /// Boost above the site's pressure that it holds at its own outlet, over engine speed: of a stage ahead of
        /// another one. Unless given, all stages make the same pressure ratio.
        outlet_boost = "outlet-boost": SpeedTable<PressureDifference> ["0 bar", "6 bar"],
        /// Moment of inertia of the rotor.
        rotor_inertia = "rotor-inertia": Q<Inertia> ["1e-6 kg m2", "1e-2 kg m2"],
    }

    /// A compressor.
    pub struct Compressor ("a compressor") {
        /// File of its map, relative to the text that names it.
        map = "map": MapFile,
        /// Its surge line alone, when no map is known: pairs of corrected flow and pressure ratio.
        surge_line = "surge-line": SurgeLine,
        /// Diameter of the wheel's inlet over the blades.
        inducer = "inducer": Q<Length> ["15 mm", "200 mm"],
        /// Diameter of the wheel's outlet.
        exducer = "exducer": Q<Length> ["20 mm", "280 mm"],
        /// What the wheel is made of.
        wheel_material = "wheel-material": Text,
        /// Temperature to which map or surge line is corrected, if the file does not say.
        reference_temperature = "reference-temperature": Q<Temperature> ["0 degC", "40 degC"],
        /// Pressure to which map or surge line is corrected, if the file does not say.
        reference_pressure = "reference-pressure": Q<Pressure> ["90 kPa abs", "105 kPa abs"],
        /// Whether the map's pressures are total or static, if the file does not say.
        pressures = "pressures": MapPressures,
        /// Highest speed of the rotor.
        speed_limit = "speed-limit": Q<RotationalSpeed> ["20000 rpm", "400000 rpm"],
    }

    /// A turbine.
    pub struct Turbine ("a turbine") {
        /// Flow that it swallows when choked, corrected to the reference state.
        flow_capacity = "flow-capacity": Q<MassFlow> ["0.01 kg/s", "5 kg/s"],
        /// Temperature to which the flow is corrected; 288.15 K, unless given.
        reference_temperature = "reference-temperature": Q<Temperature> ["0 degC", "900 degC"],
        /// Pressure to which the flow is corrected; 101.325 kPa, unless given.
        reference_pressure = "reference-pressure": Q<Pressure> ["90 kPa abs", "400 kPa abs"],
        /// Efficiency, total to static, that of the bearings included.
        efficiency = "efficiency": Q<Ratio> ["30 %", "85 %"],
        /// Whether its nozzle can be adjusted.
        nozzle = "nozzle": Nozzle,
    }

    /// How a turbocharger's oil runs off.
    pub struct Oil ("the oil of a turbocharger") {
        /// Least slope of the drain anywhere on its way, below the level.
        drain_slope = "drain-slope": Q<Angle> ["-20 deg", "90 deg"],
        /// Inside diameter of the drain at its narrowest.
        drain_bore = "drain-bore": Q<Length> ["4 mm", "40 mm"],
        /// The seal behind the compressor wheel.
        seal = "seal": OilSeal,
        /// Whether a pump draws the oil off.
        scavenge_pump = "scavenge-pump": Flag,
    }

    /// A compressor that the engine drives: a centrifugal one, described by `compressor`, or one that displaces its
    /// air, described by `displacement`.
    pub struct Supercharger ("a supercharger") {
        /// Turns of the rotor for one of the engine, the inner gear of a centrifugal one included.
        drive_ratio = "drive-ratio": Q<Ratio> ["0.5", "25"],
        /// The wheel and map of a centrifugal one.
        compressor = "compressor": Compressor,
        /// Volume displaced in one turn of the rotor.
        displacement = "displacement": Q<Volume> ["0.1 L", "20 L"],
        /// Share of the displacement that is delivered, referred to the inlet's density.
        volumetric_efficiency = "volumetric-efficiency": Q<Ratio> ["40 %", "100 %"],
        /// Isentropic efficiency.
        isentropic_efficiency = "isentropic-efficiency": Q<Ratio> ["30 %", "85 %"],
        /// Highest speed of the rotor of one that displaces its air.
        speed_limit = "speed-limit": Q<RotationalSpeed> ["2000 rpm", "30000 rpm"],
    }

    /// A wastegate.
    pub struct Wastegate ("a wastegate") {
        /// Diameter of the seat.
        seat = "seat": Q<Length> ["8 mm", "80 mm"],
        /// Stroke to the stop.
        lift = "lift": Q<Length> ["1 mm", "40 mm"],
        /// How well it flows.
        flow = "flow": ValveFlow,
    }

    /// An actuator. The boost that its spring asks for is said by `base-pressure`, or follows from spring and diaphragm.
    pub struct Actuator ("an actuator") {
        /// The wastegate that it moves, or the turbocharger whose nozzle it moves.
        moves = "moves": PartName,
        /// What moves it.
        actuation = "actuation": Actuation,
        /// Pressure above the outside at which it begins to open with its signal alone.
        base_pressure = "base-pressure": Q<PressureDifference> ["0.1 bar", "3 bar"],
        /// Its spring.
        spring = "spring": Spring,
        /// Effective diameter of the diaphragm.
        diaphragm = "diaphragm": Q<Length> ["20 mm", "150 mm"],
        /// Stroke to the stop.
        stroke = "stroke": Q<Length> ["2 mm", "40 mm"],
        /// Volume of the chamber that the signal fills.
        chamber = "chamber": Q<Volume> ["1 cm3", "500 cm3"],
    }

    /// A solenoid that trims what an actuator feels. Its hoses say between what it sits.
    pub struct BoostSolenoid ("a boost solenoid") {
        /// What it does without power.
        rest = "rest": SolenoidRest,
    }
}

impl Supercharger {
    /// A machine either displaces its air or has a wheel.
    pub(super) fn check(&self, node: &Node, reading: &mut Reading<'_>) {
        let displaces = matches!(self.displacement.state(&Unrecorded), State::Given(_));
        let turns_a_wheel = matches!(self.compressor.state(&Unrecorded), State::Given(_));
        if displaces && turns_a_wheel {
            let help = Some(
                "keep `displacement` of one that displaces its air, `compressor` of a centrifugal one"
                    .to_owned(),
            );
            let message = "a supercharger has a displacement or a compressor wheel, not both";
            reading.fault(FaultKind::Other, node, message, help);
        }
    }
}

words! {
    /// Which pressures a map gives.
    pub enum MapPressures ("which pressures a map gives") {
        /// Total pressure ahead and behind.
        TotalToTotal = "total-to-total",
        /// Total pressure ahead, static pressure behind.
        TotalToStatic = "total-to-static",
        /// Static pressure ahead and behind.
        StaticToStatic = "static-to-static",
    }

    /// A turbine's nozzle.
    pub enum Nozzle ("the nozzle") {
        /// Fixed.
        Fixed = "fixed",
        /// Adjustable.
        Variable = "variable",
    }

    /// The oil seal behind a compressor wheel.
    pub enum OilSeal ("the oil seal") {
        /// A ring, made for pressure behind the wheel.
        Ring = "ring",
        /// A face seal, which stands a vacuum too.
        Face = "face",
    }

    /// What a boost solenoid does without power.
    pub enum SolenoidRest ("what a solenoid does at rest") {
        /// The actuator feels the full signal: lowest boost.
        FeedsActuator = "feeds-actuator",
        /// The actuator is vented: highest boost.
        VentsActuator = "vents-actuator",
    }
}

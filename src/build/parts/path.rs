//! Parts that the air flows through.

use crate::build::describe::{described, words};
use crate::build::map_file::{MapFile, SurgeLine};
use crate::build::scalars::{
    Angle, Inertia, Length, List, MassFlow, Pressure, PressureDifference, Q, Ratio, RotationalSpeed,
    Temperature, Time, Volume,
};

described! {
    /// What every part of the air path may carry: its size and its pressure loss.
    pub struct Duct ("a part of the air path") {
        /// Inside diameter.
        bore = "bore": Q<Length> ["15 mm", "200 mm"],
        /// Length along the air's way.
        length = "length": Q<Length> ["0 mm", "5 m"],
        /// Volume of air inside.
        volume = "volume": Q<Volume> ["0.05 L", "60 L"],
        /// Pressure loss at a stated flow: a reference point, not a limit.
        loss = "loss": Loss,
        /// Pressure loss when the element is due for change.
        loss_when_due = "loss-when-due": Loss,
        /// Highest flow the part is made for.
        flow_rating = "flow-rating": Q<MassFlow> ["0.01 kg/s", "3 kg/s"],
        /// Wall thickness.
        wall = "wall": Q<Length> ["0.5 mm", "15 mm"],
        /// Sand roughness of the inside.
        roughness = "roughness": Q<Length> ["0 mm", "1 mm"],
    }

    /// A pressure loss at a stated flow; it scales with flow squared over density.
    pub struct Loss ("a loss") {
        /// The loss at that flow.
        pressure = "pressure": Q<PressureDifference> ["0 Pa", "60 kPa"],
        /// The flow at which it was measured.
        flow = "flow": Q<MassFlow> ["0.005 kg/s", "3 kg/s"],
        /// The state of the air at which it was measured.
        at = "at": AirState,
    }

    /// A state of the air.
    pub struct AirState ("a state of the air") {
        /// Pressure.
        pressure = "pressure": Q<Pressure> ["50 kPa abs", "600 kPa abs"],
        /// Temperature.
        temperature = "temperature": Q<Temperature> ["-40 degC", "250 degC"],
    }

    /// A pipe.
    pub struct Pipe ("a pipe") {
        /// Bends, in the order of the flow; the arc of a bend is not counted in `length`.
        bends = "bends": List<Bend>,
        /// What keeps a soft pipe round.
        reinforcement = "reinforcement": Reinforcement,
    }

    /// A bend.
    pub struct Bend ("a bend") {
        /// Angle turned.
        angle = "angle": Q<Angle> ["5 deg", "180 deg"],
        /// Radius of the centre line.
        radius = "radius": Q<Length> ["20 mm", "600 mm"],
        /// Distance of its middle from the pipe's upstream end.
        at = "at": Q<Length> ["0 mm", "5 m"],
    }

    /// The sensor of mass flow.
    pub struct AirMeter ("an air meter") {
        /// Bore for which it is calibrated.
        calibrated_bore = "calibrated-bore": Q<Length> ["20 mm", "150 mm"],
    }

    /// A charge-air cooler.
    pub struct ChargeAirCooler ("a charge-air cooler") {
        /// Share of the way from charge inlet temperature to coolant temperature that the charge is cooled.
        effectiveness = "effectiveness": Q<Ratio> ["20 %", "98 %"],
        /// What it is cooled by.
        cooled_by = "cooled-by": CooledBy,
        /// Temperature of the coolant at its inlet; of an air-cooled one the site's air, unless given.
        coolant_temperature = "coolant-temperature": Q<Temperature> ["-10 degC", "110 degC"],
    }

    /// A throttle.
    pub struct Throttle ("a throttle") {
        /// Diameter of the shaft that stands in the bore.
        shaft = "shaft": Q<Length> ["3 mm", "20 mm"],
        /// How it closes when the pedal is let go.
        closing = "closing": Closing,
    }

    /// How a throttle closes.
    pub struct Closing ("a closing") {
        /// Time from open to shut.
        time = "time": Q<Time> ["20 ms", "2 s"],
        /// How far it shuts: share of the plate's travel.
        to = "to": Q<Ratio> ["0 %", "50 %"],
    }

    /// A turbocharger.
    pub struct Turbocharger ("a turbocharger") {
        /// Its compressor.
        compressor = "compressor": Compressor,
        /// Moment of inertia of the rotor.
        rotor_inertia = "rotor-inertia": Q<Inertia> ["1e-6 kg m2", "1e-2 kg m2"],
    }

    /// A compressor.
    pub struct Compressor ("a compressor") {
        /// File of its map, relative to the build.
        map = "map": MapFile,
        /// Its surge line alone, when no map is known: pairs of corrected flow and pressure ratio.
        surge_line = "surge-line": SurgeLine,
        /// Diameter of the wheel's inlet over the blades.
        inducer = "inducer": Q<Length> ["15 mm", "200 mm"],
        /// Diameter of the wheel's outlet.
        exducer = "exducer": Q<Length> ["20 mm", "280 mm"],
        /// Temperature to which map or surge line is corrected, if the file does not say.
        reference_temperature = "reference-temperature": Q<Temperature> ["0 degC", "40 degC"],
        /// Pressure to which map or surge line is corrected, if the file does not say.
        reference_pressure = "reference-pressure": Q<Pressure> ["90 kPa abs", "105 kPa abs"],
        /// Highest speed of the rotor.
        speed_limit = "speed-limit": Q<RotationalSpeed> ["20000 rpm", "400000 rpm"],
    }
}

words! {
    /// What cools a charge-air cooler.
    pub enum CooledBy ("what cools it") {
        /// Outside air.
        Air = "air",
        /// Water.
        Water = "water",
    }

    /// What keeps a soft pipe round.
    pub enum Reinforcement ("the reinforcement") {
        /// A wire.
        Wire = "wire",
        /// Fabric plies.
        Fabric = "fabric",
        /// Nothing.
        None = "none",
    }
}

//! Parts of the air path that do something to the air or its flow: filter, meter, cooler, throttle, manifold.

use crate::build::describe::{described, words};
use crate::build::scalars::{
    Count, Flag, Length, Q, Ratio, Temperature, TemperatureDifference, Text, Time, Volume, VolumeFlow,
};
use crate::build::tables::FlowTable;

use super::Tap;

described! {
    /// An air filter.
    pub struct AirFilter ("an air filter") {
        /// Where it takes its air from.
        draws_from = "draws-from": DrawsFrom,
    }

    /// Where a filter takes its air from.
    pub struct DrawsFrom ("where a filter draws from") {
        /// The place.
        place = "place": InletPlace,
        /// How much warmer the air is there than outside, at full throttle and speed.
        warmer_by = "warmer-by": Q<TemperatureDifference> ["0 K", "80 K"],
    }

    /// The sensor of mass flow.
    pub struct AirMeter ("an air meter") {
        /// What its reading serves; metering, unless said.
        purpose = "purpose": MeterPurpose,
        /// Bore for which it is calibrated; the reading is right at that bore alone.
        calibrated_bore = "calibrated-bore": Q<Length> ["20 mm", "150 mm"],
        /// What it was calibrated in: its own housing with its own straightener, or a plain pipe.
        calibrated_in = "calibrated-in": CalibratedIn,
        /// Whether it tells air that flows backwards from air that flows forwards.
        knows_direction = "knows-direction": Flag,
    }

    /// A charge-air cooler. How well it cools is said in one of three ways: `effectiveness`, `effectiveness-over-flow`,
    /// or `transfer-units` with `arrangement`.
    pub struct ChargeAirCooler ("a charge-air cooler") {
        /// Share of the way from charge inlet temperature to coolant temperature that the charge is cooled.
        effectiveness = "effectiveness": Q<Ratio> ["20 %", "98 %"],
        /// The same over the flow of the charge, as in `0.10 kg/s: 88 %`.
        effectiveness_over_flow = "effectiveness-over-flow": FlowTable<Ratio> ["20 %", "98 %"],
        /// Number of transfer units: conductance over the smaller heat capacity flow.
        transfer_units = "transfer-units": Q<Ratio> ["0.2", "10"],
        /// How the two streams run, for the transfer units.
        arrangement = "arrangement": Arrangement,
        /// What it is cooled by.
        cooled_by = "cooled-by": CooledBy,
        /// Temperature of the coolant at its inlet; of an air-cooled one the site's air, unless given.
        coolant_temperature = "coolant-temperature": Q<Temperature> ["-10 degC", "110 degC"],
        /// Flow of the water that cools it.
        coolant_flow = "coolant-flow": Q<VolumeFlow> ["1 L/min", "600 L/min"],
    }

    /// A throttle.
    pub struct Throttle ("a throttle") {
        /// Diameter of the shaft that stands in the bore.
        shaft = "shaft": Q<Length> ["3 mm", "20 mm"],
        /// Thickness of the plate.
        plate = "plate": Q<Length> ["0.5 mm", "8 mm"],
        /// How it closes when the pedal is let go.
        closing = "closing": Closing,
    }

    /// A carburettor.
    pub struct Carburettor ("a carburettor") {
        /// Diameter of the venturi.
        venturi = "venturi": Q<Length> ["10 mm", "80 mm"],
        /// Diameter of the throttle's shaft that stands in the bore.
        shaft = "shaft": Q<Length> ["3 mm", "20 mm"],
        /// Thickness of the throttle's plate.
        plate = "plate": Q<Length> ["0.5 mm", "8 mm"],
        /// How its throttle closes when the pedal is let go.
        closing = "closing": Closing,
        /// Where the float chamber takes its pressure from; `none` when it stands open to the outside air.
        float_vent = "float-vent": Tap,
    }

    /// How a throttle or a flap closes.
    pub struct Closing ("a closing") {
        /// Time from open to shut.
        time = "time": Q<Time> ["20 ms", "2 s"],
        /// How far it shuts: share of the plate's travel.
        to = "to": Q<Ratio> ["0 %", "50 %"],
    }

    /// An inlet manifold.
    pub struct InletManifold ("an inlet manifold") {
        /// How many cylinders it feeds; all of them, unless said.
        runners = "runners": Count,
        /// Volume of one runner, from the common chamber to the valves.
        runner_volume = "runner-volume": Q<Volume> ["0.01 L", "3 L"],
    }

    /// A flame arrester.
    pub struct FlameArrester ("a flame arrester") {
        /// The standard that it was tested to.
        tested_to = "tested-to": Text,
    }

    /// An emergency flap.
    pub struct AirShutOffValve ("an air shut-off valve") {
        /// How it closes when it is tripped.
        closing = "closing": Closing,
    }
}

words! {
    /// Where a filter takes its air from.
    pub enum InletPlace ("where a filter draws from") {
        /// From an opening to the outside.
        Outside = "outside",
        /// From behind the radiator.
        BehindRadiator = "behind-radiator",
        /// From the engine bay.
        EngineBay = "engine-bay",
    }

    /// What an air meter's reading serves.
    pub enum MeterPurpose ("an air meter's purpose") {
        /// The fuel is dosed by it.
        Metering = "metering",
        /// It is shown or logged only.
        Display = "display",
    }

    /// What an air meter was calibrated in.
    pub enum CalibratedIn ("what an air meter is calibrated in") {
        /// Its own housing.
        Housing = "housing",
        /// A plain pipe.
        Pipe = "pipe",
    }

    /// What cools a charge-air cooler.
    pub enum CooledBy ("what cools it") {
        /// Outside air.
        Air = "air",
        /// Water.
        Water = "water",
    }

    /// How charge and coolant run in a cooler.
    pub enum Arrangement ("the arrangement") {
        /// Against each other.
        Counterflow = "counterflow",
        /// Side by side.
        Parallel = "parallel",
        /// Across, neither stream mixed over its section: a core with fins on both sides.
        CrossflowUnmixed = "crossflow-unmixed",
        /// Across, the charge mixed over its section and the coolant not.
        CrossflowChargeMixed = "crossflow-charge-mixed",
        /// Across, the coolant mixed over its section and the charge not.
        CrossflowCoolantMixed = "crossflow-coolant-mixed",
    }
}

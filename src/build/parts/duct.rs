//! What every part of the air path may carry, and the parts that only lead the air: pipes, cones, couplers.

use crate::build::describe::{described, words};
use crate::build::scalars::{
    Angle, Length, List, MassFlow, Pressure, PressureDifference, Q, Stress, Temperature, Volume,
};
use crate::known::{Known, Reads, State};

described! {
    /// What every part of the air path may carry: its size and its pressure loss.
    pub struct Duct ("a part of the air path") {
        /// Inside diameter; of a cone, that of its upstream end.
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
        /// Distance from one turn of a reinforcing wire to the next.
        wire_pitch = "wire-pitch": Q<Length> ["2 mm", "60 mm"],
        /// Modulus of elasticity of the wall, for a soft pipe that outside air presses on; else that of its material.
        modulus = "modulus": Q<Stress> ["0.5 MPa", "250 GPa"],
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

    /// A cone.
    pub struct Cone ("a cone") {
        /// Inside diameter of its downstream end; `bore` is that of the upstream end.
        outlet_bore = "outlet-bore": Q<Length> ["15 mm", "200 mm"],
    }

    /// A soft piece between two pipe ends.
    pub struct Coupler ("a coupler") {
        /// What keeps it round.
        reinforcement = "reinforcement": Reinforcement,
        /// Distance from one turn of a reinforcing wire to the next.
        wire_pitch = "wire-pitch": Q<Length> ["2 mm", "60 mm"],
        /// Modulus of elasticity of the wall; else that of its material.
        modulus = "modulus": Q<Stress> ["0.5 MPa", "250 GPa"],
    }
}

words! {
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

impl Pipe {
    /// Length of the arcs of its bends along the middle of the bore, m, which its `length` leaves out; none where none are
    /// described.
    pub fn arcs(&self, reads: &dyn Reads) -> Known<f64> {
        let bends = match self.bends.state(reads) {
            State::Given(List(bends)) => bends,
            State::Faulty => return Known::missing(self.bends.route()),
            State::Absent | State::SaidNone => return Known::Is(0.0),
        };
        let each = bends
            .iter()
            .map(|bend| bend.angle.get(reads).zip(bend.radius.get(reads)).map(|(a, r)| a.si() * r.si()));
        each.collect::<Known<Vec<f64>>>().map(|arcs| arcs.iter().sum())
    }
}

//! The physics set up for one build: sites, what each part does to the air, and the steady operating points.

mod cooling;
mod effects;
mod elements;
mod machine;
mod network;
mod recovery;
mod result;
mod side_by_side;
mod signal_line;
mod site;
mod solver;
mod statics;
mod stations;
mod steady;
mod tip_out;
mod turbine;

pub use cooling::Cooling;
pub use effects::Ahead;
pub use elements::{Effect, Element, Flow};
pub use machine::{Behaviour, Displacement, Inlet, Machine, Run, Working};
pub use recovery::{BACK, Never, Reopening};
pub use result::{CoolerPoint, FAST, MachinePoint, Outcome, PartThrottlePoint, Point, SiteSteady, Solution};
pub use signal_line::{HoseSize, SignalStep};
pub use site::{HOME, SiteState, sites};
pub use statics::{
    Opening, Placed, Port, ShutDemand, Stage, StartKind, Statics, Valve, effective_area, is_electric,
    not_by_pressures, pipe_area, pipe_bore, vent_lift,
};
pub use stations::{Air, Running, Station};
pub use steady::Steady;
pub use tip_out::{
    Cycle, DURATION as LONGEST, Demand, Metering, Moment, Precision, Prepared, Results as TipOutResults,
    Start, Surging, TipOut, Trigger, ValveResults, Wheel, tip_in, tip_out, usual_chamber,
};
pub use turbine::TurbinePoint;

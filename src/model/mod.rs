//! The physics set up for one build: sites, what each part does to the air, and the steady operating points.

mod elements;
mod machine;
mod site;
mod stations;
mod statics;
mod steady;

pub use elements::{Element, Flow};
pub use machine::{Machine, Working};
pub use site::{HOME, SiteState, sites};
pub use stations::{Air, Running, Station};
pub use statics::{Demand, Opening, Placed, Port, StartKind, Statics, Valve, pipe_area, pipe_bore};
pub use steady::{Outcome, Point, SiteSteady, Solution, Steady};

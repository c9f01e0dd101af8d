//! The physics set up for one build: sites, what each part does to the air, and the steady operating points.

mod elements;
mod machine;
mod site;
mod steady;
mod tip_out;

pub use elements::{Element, Flow};
pub use machine::Machine;
pub use site::{SiteState, sites};
pub use steady::{Outcome, Point, SiteSteady, Solution, Steady};
pub use tip_out::{
    Cycle, Demand, Moment, Precision, Results as TipOutResults, Start, TipOut, ValveResults, tip_out,
};

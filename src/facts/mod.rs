//! Facts: named quantities of a build and its parts that rules read. One registry, one scope that records what was
//! read, one row and one function a fact.

mod equations;
mod flow;
mod graph;
mod guards;
mod heat;
mod idle_leak;
mod injection;
mod joints;
mod knock;
mod links;
mod machines;
mod measured;
mod placement;
mod points;
mod recovery;
mod registry;
mod scope;
mod shared;
mod signal_lag;
mod sizing;
mod soundness;
mod statics;
mod steady;
mod strength;
mod surroundings;
mod tip_out;
mod turbine;
mod whistle;

pub use equations::{Equation, STEADY, equation};
pub use links::{LINKS, LinkRow, Target, link};
pub use registry::{Companion, Fold, Group, Make, Row, Series, find, kind, names, rows};
pub use scope::{Ran, Scope, Sites, Step, Trail};

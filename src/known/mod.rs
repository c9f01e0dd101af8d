//! Values that may be unknown, the truth that follows from them, and the one trait through which the rooms above
//! read the description and have their reading recorded.

mod datum;
mod field;
mod reads;
mod settings;
mod truth;
mod value;

pub use datum::{At, Datum, Kind, Num};
pub use field::{Field, State};
pub use reads::{Decider, Overridden, Overrides, Read, Reads, Unrecorded};
pub use settings::{SETTINGS, Setting};
pub use truth::Truth;
pub use value::{Known, Missing, Reason};

//! Text, and the way from a place in it to a meaning and back.
//!
//! This room reads YAML into a tree whose every node knows its bytes, names places in that tree ([`Route`]), turns
//! places back into bytes ([`locate`]), changes trees ([`Change`]) and texts ([`edit()`]), and reads quantities with units ([`quantity`]).
//! It knows nothing of what the text describes. Everything it reads may be hostile: each way in is bounded by
//! [`Limits`], and ends in a [`Fault`] at a place, never in a panic.

pub mod change;
pub mod edit;
pub mod fault;
pub mod locate;
pub mod parse;
pub mod quantity;
pub mod route;
pub mod source;
pub mod span;
pub mod tree;
pub mod units;

#[cfg(test)]
mod testing;

pub use change::{CannotChange, Change, Op, scalar};
pub use edit::{CannotEdit, Edit, Edits, WhyNot, edit};
pub use fault::{Fault, FaultKind, nearest, quoted};
pub use locate::{Found, Mark, Part, find, mark};
pub use parse::{Limits, Parsed, check_bytes, parse};
pub use quantity::{Quantity, QuantityFault, Reference, format_in, read_any_quantity, read_quantity};
pub use route::{Route, RouteFault, Step};
pub use source::{Source, Sources};
pub use span::{FileId, Span};
pub use tree::{Entry, Key, Map, Node, Scalar, Value};
pub use units::{Dim, Measure, Unit, unit};

//! The cases of a rule: changes of an example build, each with what the rule comes to.

use std::sync::Arc;

pub use super::file::Expect;
use crate::text::Change;

/// A case.
#[derive(Clone, Debug)]
pub struct Case {
    /// What is special about it.
    pub name: Arc<str>,
    /// The example that is changed; the starter build if none is named.
    pub base: Option<Arc<str>>,
    /// The change; empty where the example stands as it is.
    pub change: Change,
    /// How many times every flow of the compressor's map is taken, if it is scaled.
    pub map_flow: Option<f64>,
    /// What the rule comes to.
    pub expect: Expect,
}

//! The intake tract: the directed graph of parts that the air flows through, with taps and hoses.
//!
//! A [`Tract`] is a view of a build. Each question takes the reader that records what was looked at, so that an
//! undecided answer names the fields that would decide it.

mod distance;
mod hoses;
mod metering;
mod order;
mod path;
mod signals;
mod straight;
mod subject;
mod subjects;

pub use order::PathFault;
pub use path::{Leg, Path, Region, Spot};
pub use signals::{Connection, Span as HoseSpan, Ways};
pub use straight::Side;
pub use subject::{Subject, SubjectKind};
pub use subjects::{Joint, TapPlace};

use crate::build::Build;
use crate::build::parts::Part;

/// A build seen as a graph.
#[derive(Clone, Copy, Debug)]
pub struct Tract<'b> {
    build: &'b Build,
}

impl<'b> Tract<'b> {
    /// The tract of a build.
    pub fn new(build: &'b Build) -> Self {
        Self { build }
    }

    /// The build.
    pub fn build(&self) -> &'b Build {
        self.build
    }

    /// The part that a subject is, or belongs to.
    pub fn part_of(&self, subject: &Subject) -> Option<&'b Part> {
        let mut steps = subject.route.steps().iter();
        match (steps.next()?, steps.next()?) {
            (crate::text::Step::Key(first), crate::text::Step::Key(name)) if &**first == "parts" => {
                self.build.parts.named(name)
            }
            _ => None,
        }
    }
}

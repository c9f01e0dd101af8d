//! The intake tract: the directed graph of parts that the air flows through, with taps and hoses.
//!
//! A [`Tract`] is a view of a build. Each question takes the reader that records what was looked at, so that an
//! undecided answer names the fields that would decide it.

mod metering;
mod path;
mod signals;
mod subject;

pub use path::{Region, Spot};
pub use signals::{Connection, Span as HoseSpan};
pub use subject::{Subject, SubjectKind};

use crate::build::Build;
use crate::build::parts::{Part, PartKind};
use crate::text::Route;

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

    /// All subjects of a kind, in the order of the text.
    pub fn subjects(&self, kind: SubjectKind) -> Vec<Subject> {
        let of_kinds = |kinds: &[PartKind]| {
            self.part_subjects(kind, |part| part.known_kind().is_some_and(|k| kinds.contains(&k)))
        };
        match kind {
            SubjectKind::Build => vec![Subject { kind, route: Route::root(), name: "build".into() }],
            SubjectKind::Part => self.part_subjects(kind, |_| true),
            SubjectKind::Compressor => of_kinds(path::COMPRESSORS),
            SubjectKind::ReliefValve => of_kinds(&[PartKind::ReliefValve]),
            SubjectKind::AirMeter => of_kinds(&[PartKind::AirMeter]),
            SubjectKind::Pipe => of_kinds(&[PartKind::Pipe]),
            SubjectKind::ChargeAirCooler => of_kinds(&[PartKind::ChargeAirCooler]),
            SubjectKind::Throttle => of_kinds(path::SHUTTING),
            SubjectKind::Consumer => of_kinds(signals::CONSUMERS),
            SubjectKind::Hose => self
                .hoses_unrecorded()
                .iter()
                .map(|hose| Subject { kind, route: hose.route.clone(), name: hose.name.clone() })
                .collect(),
            SubjectKind::Joint => self.joints(),
        }
    }

    fn part_subjects(&self, kind: SubjectKind, wanted: impl Fn(&Part) -> bool) -> Vec<Subject> {
        let parts = self.build.parts.list.iter().filter(|part| wanted(part));
        parts.map(|part| Subject { kind, route: part.route.clone(), name: part.name.clone() }).collect()
    }

    /// Neighbours of the air path, each under the route of the upstream part's joint.
    fn joints(&self) -> Vec<Subject> {
        let route = self.build.top.joints.route();
        let names = self.path_names_unrecorded();
        names
            .windows(2)
            .map(|pair| Subject {
                kind: SubjectKind::Joint,
                route: route.key(&pair[0]),
                name: pair[0].clone(),
            })
            .collect()
    }
}

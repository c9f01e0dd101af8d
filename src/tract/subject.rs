//! What a rule can be asked of: the build, its parts, and the things derived from how they hang together.

use std::sync::Arc;

use crate::text::Route;

/// Kinds of subject, by the word that a rule's `for-each` uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SubjectKind {
    /// The whole build.
    Build,
    /// Any described part.
    Part,
    /// The compressor of a turbocharger or supercharger; each stage, each branch.
    Compressor,
    /// A part of kind `relief-valve`.
    ReliefValve,
    /// A part of kind `air-meter`.
    AirMeter,
    /// A part of kind `pipe`.
    Pipe,
    /// A part of kind `charge-air-cooler`.
    ChargeAirCooler,
    /// A part of kind `throttle` or `carburettor`.
    Throttle,
    /// What draws air or vacuum from the tract: brake servo, breather, purge, idle air valve.
    Consumer,
    /// A small-bore hose of `hoses`.
    Hose,
    /// Two neighbours of the air path.
    Joint,
}

impl SubjectKind {
    /// All kinds.
    pub const ALL: &'static [Self] = &[
        Self::Build,
        Self::Part,
        Self::Compressor,
        Self::ReliefValve,
        Self::AirMeter,
        Self::Pipe,
        Self::ChargeAirCooler,
        Self::Throttle,
        Self::Consumer,
        Self::Hose,
        Self::Joint,
    ];

    /// Its word in rule files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Build => "build",
            Self::Part => "part",
            Self::Compressor => "compressor",
            Self::ReliefValve => "relief-valve",
            Self::AirMeter => "air-meter",
            Self::Pipe => "pipe",
            Self::ChargeAirCooler => "charge-air-cooler",
            Self::Throttle => "throttle",
            Self::Consumer => "consumer",
            Self::Hose => "hose",
            Self::Joint => "joint",
        }
    }

    /// The kind of this word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.word() == word)
    }

    /// The kinds whose facts it has: its own, and those of a part where it is one.
    pub fn lineage(self) -> &'static [Self] {
        match self {
            Self::Build => &[Self::Build],
            Self::Part => &[Self::Part],
            Self::Compressor => &[Self::Compressor, Self::Part],
            Self::ReliefValve => &[Self::ReliefValve, Self::Part],
            Self::AirMeter => &[Self::AirMeter, Self::Part],
            Self::Pipe => &[Self::Pipe, Self::Part],
            Self::ChargeAirCooler => &[Self::ChargeAirCooler, Self::Part],
            Self::Throttle => &[Self::Throttle, Self::Part],
            Self::Consumer => &[Self::Consumer, Self::Part],
            Self::Hose => &[Self::Hose],
            Self::Joint => &[Self::Joint],
        }
    }
}

/// One thing that a rule is asked of. Its identity is its kind and its route.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Subject {
    /// What it is.
    pub kind: SubjectKind,
    /// Where it stands in the description.
    pub route: Route,
    /// Its name as the description gives it ("relief", "turbo"); the build's is `build`.
    pub name: Arc<str>,
}

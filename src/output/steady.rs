//! The steady operating points: a table for a person, rows for a spreadsheet, a document for a program.

mod columns;
pub mod csv;
pub mod json;
mod layout;
pub mod terminal;

use crate::model::{Outcome, Point, SiteSteady, Station};
use crate::physics::map::{Across, Along};

/// The operating points of one build, as far as they are wanted.
pub struct Points<'a> {
    /// The path by which the user knows the build.
    pub path: &'a str,
    /// Its title, if it has one.
    pub title: Option<&'a str>,
    /// The sites that are wanted, each with the points that are wanted.
    pub sites: Vec<(&'a SiteSteady, Vec<&'a Point>)>,
}

/// An engine speed in rpm, without the rounding of its way through revolutions per second.
pub fn rpm(speed: f64) -> f64 {
    (speed * 60.0 * 1e6).round() / 1e6
}

/// What is to be said about a point as a whole, or about one compressor at it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// Below the first entry of the boost table.
    OffBoost,
    /// Left of the surge line.
    LeftOfSurge,
    /// Beyond the choke end of its speed line.
    BeyondChoke,
    /// Above the top line of the map.
    AboveTopLine,
    /// Below the lowest line of the map.
    BelowLowestLine,
    /// No flow satisfies engine, losses and map together.
    NoSolution,
    /// Something is missing for this point.
    Open,
}

impl Mark {
    /// All, in the order of the legend.
    pub const ALL: &'static [Self] = &[
        Self::OffBoost,
        Self::LeftOfSurge,
        Self::BeyondChoke,
        Self::AboveTopLine,
        Self::BelowLowestLine,
        Self::NoSolution,
        Self::Open,
    ];

    /// Its word in data.
    pub fn word(self) -> &'static str {
        match self {
            Self::OffBoost => "off-boost",
            Self::LeftOfSurge => "left-of-surge",
            Self::BeyondChoke => "beyond-choke",
            Self::AboveTopLine => "above-top-line",
            Self::BelowLowestLine => "below-lowest-line",
            Self::NoSolution => "no-solution",
            Self::Open => "open",
        }
    }

    /// Symbol and short words in a table.
    fn short(self) -> &'static str {
        match self {
            Self::OffBoost => "o off boost",
            Self::LeftOfSurge => "< surge",
            Self::BeyondChoke => "> choke",
            Self::AboveTopLine => "^ too fast",
            Self::BelowLowestLine => "v low",
            Self::NoSolution => "! none",
            Self::Open => "? open",
        }
    }

    /// What it means.
    fn meaning(self) -> &'static str {
        match self {
            Self::OffBoost => {
                "below the first entry of the boost table: the compressor only passes the air on"
            }
            Self::LeftOfSurge => {
                "left of the surge line: nothing runs steadily there, and temperatures are estimates"
            }
            Self::BeyondChoke => "beyond the choke end of the speed line: the map is extrapolated",
            Self::AboveTopLine => "above the top speed line of the map: the map is extrapolated",
            Self::BelowLowestLine => "below the lowest speed line of the map: the map is extrapolated",
            Self::NoSolution => "no flow satisfies engine, losses and map together",
            Self::Open => "something is missing in the description",
        }
    }
}

/// What is to be said about a compressor at a point.
pub fn station_marks(station: &Station) -> Vec<Mark> {
    let Some(running) = &station.compressor else { return Vec::new() };
    let along = match running.working.along {
        Along::LeftOfSurge => Some(Mark::LeftOfSurge),
        Along::BeyondChoke => Some(Mark::BeyondChoke),
        Along::OnLine => None,
    };
    let across = match running.working.across {
        Across::AboveTopLine => Some(Mark::AboveTopLine),
        Across::BelowBottomLine => Some(Mark::BelowLowestLine),
        Across::BetweenLines => None,
    };
    along.into_iter().chain(across).collect()
}

/// What is to be said about a point.
pub fn marks(point: &Point) -> Vec<Mark> {
    let mut all: Vec<Mark> = point.off_boost.then_some(Mark::OffBoost).into_iter().collect();
    match &point.outcome {
        Outcome::Solved(solution) => all.extend(solution.stations.iter().flat_map(station_marks)),
        Outcome::NoSolution => all.push(Mark::NoSolution),
        Outcome::Open(_) => all.push(Mark::Open),
    }
    all.sort();
    all.dedup();
    all
}

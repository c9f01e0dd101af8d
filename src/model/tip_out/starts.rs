//! From where a tip-out starts.

use crate::known::{Known, Missing};
use crate::model::{Outcome, SiteSteady, Solution};

/// The point at which the throttle shuts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Start {
    /// The highest boost, at the lowest engine speed that has it.
    HighestBoost,
    /// The highest engine speed.
    HighestSpeed,
    /// The smallest boost of the table, the pedal let go gently.
    LightBoost,
}

impl Start {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::HighestBoost, Self::HighestSpeed, Self::LightBoost];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::HighestBoost => "highest-boost",
            Self::HighestSpeed => "highest-speed",
            Self::LightBoost => "light-boost",
        }
    }

    /// The start of a word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|start| start.word() == word)
    }

    /// How many times as long the throttle takes to shut: a gentle tip-out takes twice.
    pub fn closing_factor(self) -> f64 {
        match self {
            Self::LightBoost => 2.0,
            Self::HighestBoost | Self::HighestSpeed => 1.0,
        }
    }
}

/// The steady point of a start at a site with the given pressure, Pa: engine speed in revolutions per second, and the
/// solution.
pub fn starting_point(steady: &SiteSteady, site_pressure: f64, start: Start) -> Known<(f64, Box<Solution>)> {
    let points = match &steady.points {
        Known::Is(points) => points,
        Known::Open(missing) => return Known::Open(missing.clone()),
        Known::NotApplicable(reason) => return Known::NotApplicable(reason.clone()),
        Known::Between(..) => return Known::Open(Missing::default()),
    };
    let mut best: Option<(f64, f64, &Solution)> = None;
    for point in points.iter().filter(|point| !point.off_boost) {
        let solution = match &point.outcome {
            Outcome::Solved(solution) => solution,
            Outcome::NoSolution => continue,
            Outcome::Open(missing) => return Known::Open(missing.clone()),
        };
        let boost = solution.p_manifold - site_pressure;
        if boost < 1.0 {
            continue;
        }
        // Boosts that differ by rounding are one.
        let better = best.is_none_or(|(speed, other, _)| match start {
            Start::HighestBoost => boost > other * (1.0 + 1e-9),
            Start::HighestSpeed => point.speed > speed,
            Start::LightBoost => boost < other * (1.0 - 1e-9),
        });
        if better {
            best = Some((point.speed, boost, solution));
        }
    }
    let Some((speed, _, solution)) = best else {
        return Known::not_applicable("there is no boost from which the throttle could shut");
    };
    if solution.working.is_none() || solution.is_left_of_surge() {
        return Known::Open(Missing::hindrance(format!(
            "at {:.0} rpm a compressor is left of its surge line already at full throttle",
            speed * 60.0
        )));
    }
    Known::Is((speed, Box::new(solution.clone())))
}

//! The review of one build: every rule asked of every subject, a tally that adds up, what is missing, and cures that are
//! proved by reviewing again.

mod accept;
pub mod cases;
mod compare;
mod cures;
mod differ;
mod house;
mod marks;
mod notice;
mod policy;
mod result;
mod run;
mod tally;
mod trace;
mod values;
mod vocabulary;
mod walk;

pub use accept::Acceptance;
pub use compare::{Changed, Difference, compare};
pub use cures::{CannotVary, Ending, MOST_NUMBERS, MOST_REVIEWS, Puller, Together, Varied};
pub use cures::{FoundCure, FoundNumber, Interval, Proof, Reach, Reaches, Upset, differences};
pub use house::{ChangedLevel, Counts, House, HouseLevel, Patterns, Row, house_schema};
pub use notice::{Hidden, Notice, NoticeKind};
pub use policy::Policy;
pub use result::{LevelChange, PlacedMark, RuleResult, Verdict};
pub use run::{Options, Review, Reviewer, SwitchedOff, Unasked};
pub use tally::{Asked, Tally};
pub use trace::{Trace, UsedSetting, trace};
pub use vocabulary::BuildVocabulary;
pub use walk::{InFull, NamedValue, Walk, Walked};

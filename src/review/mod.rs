//! The review of one build: every rule asked of every subject, a tally that adds up, what is missing, and cures that are
//! proved by reviewing again.

mod compare;
mod cures;
mod result;
mod run;
mod tally;
mod trace;
mod values;
mod vocabulary;

pub use compare::{Changed, Difference, compare};
pub use cures::{FoundCure, FoundNumber, Interval, Proof, Upset};
pub use result::{PlacedMark, RuleResult, Verdict};
pub use run::{Options, Review, Reviewer, Unasked};
pub use tally::{Asked, Tally};
pub use trace::{Trace, trace};
pub use vocabulary::BuildVocabulary;

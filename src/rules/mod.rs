//! Rules are data: one file each, read and checked here, and asked of subjects through two narrow doors.
//!
//! This room knows no single rule and no fact by name. What may be named comes through [`Vocabulary`], what it is
//! worth through [`Values`].

mod case;
mod catalogue;
mod cure;
mod expression;
mod file;
mod judgement;
mod limit;
mod load;
mod place;
mod rule;
mod template;
mod vocabulary;

pub use case::{Case, Expect};
pub use catalogue::{Catalogue, FaultyFile, embedded_files};
pub use cure::{Among, Cure};
pub use expression::{Comparison, Expression, Names, Relation, Scene, Side, Verdict, Wrong, put_in};
pub use file::{Level, RuleFile, RuleKind, Status};
pub use judgement::{Judgement, LimitUsed, Outcome};
pub use limit::{Limit, LimitValue, Written};
pub use place::{Place, Role, RouteExpr, entry_at};
pub use rule::{Origin, Rule};
pub use template::Template;
pub use vocabulary::{Override, Values, Vocabulary, Whose};

#[cfg(test)]
mod testing;

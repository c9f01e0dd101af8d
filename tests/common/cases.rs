//! The cases of a rule, run over the examples on disk.
//!
//! A case's outcome is the gravest over its rule's subjects: fail, review, open, pass, not-applicable.

use std::sync::Arc;

use tractwright::review::{Verdict, cases};
use tractwright::rules::{Case, Catalogue, Rule};

use super::{BUILD_FILE, Example, STARTER};

/// What a case comes to.
pub fn outcome(catalogue: &Catalogue, rule: &Arc<Rule>, case: &Case) -> Option<Verdict> {
    let base = case.base.as_deref().unwrap_or(STARTER);
    let example = Example::read(base);
    let example = match case.map_flow {
        None => example,
        Some(factor) => Example::written(base, &example.text, Some(factor)),
    };
    cases::outcome(catalogue, rule, case, (BUILD_FILE, &example.root), &example.files)
        .unwrap_or_else(|cannot| panic!("{}, {}: {cannot}", rule.id, case.name))
}

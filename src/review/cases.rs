//! The cases of a rule, run.

use std::sync::Arc;

use super::result::{RuleResult, Verdict};
use super::run::{ask, results_of};
use crate::build::Build;
use crate::build::files::{Files, LoadFault, Loader};
use crate::facts::Scope;
use crate::rules::{Case, Catalogue, Expect, Rule};
use crate::text::{FileId, Node};

/// The verdict that a case expects.
pub fn expected(expect: Expect) -> Verdict {
    match expect {
        Expect::Pass => Verdict::Pass,
        Expect::Fail => Verdict::Fail,
        Expect::Open => Verdict::Open,
        Expect::NotApplicable => Verdict::NotApplicable,
        Expect::Review => Verdict::Review,
        Expect::Silenced => Verdict::Silenced,
    }
}

/// What a rule comes to in a case, over the example that the case names: of all its subjects the gravest verdict, before
/// other rules silence it; where the case expects to be silenced, with all rules. Nothing where the rule has no subject.
///
/// # Errors
/// Why the case's change cannot be made.
pub fn outcome(
    catalogue: &Catalogue,
    rule: &Arc<Rule>,
    case: &Case,
    (file, root): (FileId, &Arc<Node>),
    files: &Files,
) -> Result<Option<Verdict>, String> {
    let changed = case.change.apply(root).map_err(|cannot| format!("{}: {}", cannot.route, cannot.why))?;
    let build = Build::read(file, &changed, files);
    let own: Vec<Verdict> = if case.expect == Expect::Silenced {
        let others = catalogue.rules().iter().filter(|other| other.is_in_force() && other.id != rule.id);
        let results = results_of(others.chain([rule]), &Scope::new(&build), &[]);
        results.iter().filter(|result| result.rule.id == rule.id).map(RuleResult::verdict).collect()
    } else {
        let scope = Scope::new(&build);
        let subjects = scope.tract().subjects(rule.for_each).into_iter();
        subjects.map(|subject| ask(rule, subject, &scope).verdict()).collect()
    };
    Ok(own.into_iter().min_by_key(|verdict| match verdict {
        Verdict::Silenced => 0,
        Verdict::Fail => 1,
        Verdict::Review => 2,
        Verdict::Open => 3,
        Verdict::Pass => 4,
        Verdict::NotApplicable => 5,
    }))
}

/// A loader that takes every flow of a compressor's map so many times.
pub struct ScaledMaps<L> {
    /// Where the files come from.
    pub loader: L,
    /// How many times.
    pub factor: f64,
}

impl<L: Loader> Loader for ScaledMaps<L> {
    fn load(&self, relative: &str) -> Result<Vec<u8>, LoadFault> {
        let bytes = self.loader.load(relative)?;
        // What is no table with that column is handed on as it is: its faults are told by those who read it.
        let text = std::str::from_utf8(&bytes).ok().filter(|_| relative.ends_with(".csv"));
        Ok(text.map_or_else(|| bytes.clone(), |text| scaled(text, self.factor).into_bytes()))
    }

    fn shown(&self, relative: &str) -> String {
        self.loader.shown(relative)
    }
}

fn scaled(text: &str, factor: f64) -> String {
    let mut column = None;
    let mut out = String::with_capacity(text.len());
    for line in text.lines() {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        match column {
            _ if line.starts_with('#') => {}
            None => column = cells.iter().position(|cell| cell.trim().starts_with("corrected-flow")),
            Some(column) => {
                if let Some(cell) = cells.get_mut(column)
                    && let Ok(flow) = cell.trim().parse::<f64>()
                {
                    *cell = format!("{}", flow * factor);
                }
            }
        }
        out.push_str(&cells.join(","));
        out.push('\n');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flows_alone_are_scaled() {
        let map = "# made\ncorrected-speed [rpm],corrected-flow [kg/s],pressure-ratio\n1000,0.1,1.5\n";
        let expected = "# made\ncorrected-speed [rpm],corrected-flow [kg/s],pressure-ratio\n1000,0.05,1.5\n";
        assert_eq!(scaled(map, 0.5), expected);
        assert_eq!(scaled("no table\n", 0.5), "no table\n");
    }
}

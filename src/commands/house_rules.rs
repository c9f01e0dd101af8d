//! `rules test` and `rules new`: the rules of a house.

use std::path::{Path, PathBuf};

use clap::Args;

use super::houses::{RulesBelow, rules_below};
use super::shared::{Answer, FINE, FOUND, Look};
use super::starter::{STARTER, StarterFiles, write_new};
use crate::build::files::{DiskLoader, Files, Loader};
use crate::output::safe_text::one_line;
use crate::output::terminal::{faults, wrap};
use crate::review::cases::{ScaledMaps, expected, outcome};
use crate::review::{BuildVocabulary, Verdict};
use crate::rules::{Case, Catalogue, Rule};
use crate::text::{Limits, parse};
use std::sync::Arc;

/// Runs the cases of the rules in a directory.
#[derive(Args)]
pub struct Test {
    /// The directory: a folder of rules, or the root of a house.
    directory: PathBuf,
}

impl Test {
    /// Runs it: exit status 1 when a case comes out otherwise than written.
    pub fn run(&self, look: &Look) -> Answer {
        let style = look.style();
        let named = one_line(&self.directory.to_string_lossy());
        let RulesBelow { root, all, tested } = match rules_below(&self.directory) {
            Ok(below) => below,
            Err(why) => return Answer::failed(format!("{named}: {why}")),
        };
        let (catalogue, faulty) = Catalogue::with_house(all, &BuildVocabulary);
        if !faulty.is_empty() {
            let told = faulty.iter().map(|file| faults(&file.faults, catalogue.sources(), style));
            return Answer::failed(told.collect::<String>());
        }
        let rules = catalogue.rules().iter();
        let rules: Vec<_> =
            rules.filter(|rule| rule.origin.of_house && tested.contains(&*rule.origin.path)).collect();
        if rules.is_empty() {
            return Answer::failed(format!("{named}: there is no rule in it"));
        }
        let mut out = String::new();
        let (mut good, mut bad) = (0, 0);
        for rule in rules {
            if rule.cases.is_empty() {
                wrap(&mut out, &format!("none   {}: no case holds this rule", rule.id), style.width);
            }
            for case in &rule.cases {
                let got = run(&catalogue, rule, case, &root);
                let word = |verdict: Option<Verdict>| verdict.map_or("nothing to look at", Verdict::short);
                let due = expected(case.expect);
                let fits = got == Ok(Some(due));
                *(if fits { &mut good } else { &mut bad }) += 1;
                let got = match got {
                    Ok(got) => word(got).to_owned(),
                    Err(why) => format!("it could not be run: {}", one_line(&why)),
                };
                let mark = if fits { "good" } else { "wrong" };
                let case = one_line(&case.name);
                let line = format!("{mark:<6} {}, {case}: expected {}, got {got}", rule.id, due.short());
                wrap(&mut out, &line, style.width);
            }
        }
        out.push_str(&format!("{} cases: {good} good, {bad} wrong\n", good + bad));
        Answer { out, complaints: String::new(), status: if bad > 0 { FOUND } else { FINE } }
    }
}

/// What a case comes to.
fn run(catalogue: &Catalogue, rule: &Arc<Rule>, case: &Case, root: &Path) -> Result<Option<Verdict>, String> {
    let limits = Limits::default();
    let (text, loader): (String, Box<dyn Loader>) = match &case.base {
        None => (STARTER.to_owned(), Box::new(StarterFiles)),
        Some(base) => {
            let (folder, name) = base.rsplit_once('/').unwrap_or(("", base));
            let loader = DiskLoader::new(root, Path::new(folder), limits.bytes).map_err(|why| why.0)?;
            let bytes =
                loader.load(&format!("{name}.yaml")).map_err(|why| format!("base {base}: {}", why.0))?;
            let text = String::from_utf8(bytes).map_err(|_| format!("base {base}: it is no text"))?;
            (text, Box::new(loader))
        }
    };
    let loader: Box<dyn Loader> = match case.map_flow {
        None => loader,
        Some(factor) => Box::new(ScaledMaps { loader, factor }),
    };
    let files = Files::new(loader, limits);
    let file = files.add("case", &text);
    let parsed = parse(file, &text, files.limits());
    match parsed.root.filter(|_| parsed.faults.is_empty()) {
        Some(tree) => outcome(catalogue, rule, case, (file, &tree), &files),
        None => Err("its base holds faults; `tractwright review` shows them".to_owned()),
    }
}

/// Writes a commented rule file to begin from.
#[derive(Args)]
pub struct New {
    /// The rule's id: what is wrong, never the cure, in small letters with hyphens.
    id: String,
    /// The family it belongs to: the folder it lies in.
    #[arg(long)]
    family: String,
    /// The folder of the house's rules.
    #[arg(default_value = "rules")]
    directory: PathBuf,
}

/// The rule file to begin from.
const SKELETON: &str = include_str!("skeleton.yaml");

impl New {
    /// Runs it. No file is ever overwritten.
    pub fn run(&self) -> Answer {
        let fits = |name: &str| {
            let letter = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
            !name.is_empty() && name.len() <= 80 && name.chars().all(letter)
        };
        for name in [&self.id, &self.family] {
            if !fits(name) {
                let name = crate::text::quoted(name);
                return Answer::failed(format!(
                    "{name}: names are made of small letters, figures and hyphens"
                ));
            }
        }
        let (catalogue, _) = Catalogue::embedded(&BuildVocabulary);
        if catalogue.find(&self.id).is_some() {
            return Answer::failed(format!("there is a rule {} already; give yours another name", self.id));
        }
        let path = self.directory.join(&self.family).join(format!("{}.yaml", self.id));
        let shown = one_line(&super::gather_builds::shown(&path));
        match write_new(&path, &skeleton(&self.id, &self.family)) {
            Ok(()) => {
                let folder = one_line(&super::gather_builds::shown(&self.directory));
                Answer::fine(format!("wrote {shown}\nnext: tractwright rules test {folder}\n"))
            }
            Err(why) => Answer::failed(format!("{shown}: {why}")),
        }
    }
}

fn skeleton(id: &str, family: &str) -> String {
    SKELETON.replace("ID-OF-THE-RULE", id).replace("ITS-FAMILY", family)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_skeleton_is_a_rule_whose_cases_hold() {
        let file = ("rules/placement/too-near.yaml".to_owned(), skeleton("too-near", "placement"));
        let (catalogue, faulty) = Catalogue::with_house([file], &BuildVocabulary);
        assert!(faulty.is_empty(), "{faulty:?}");
        let rule = catalogue.find("too-near").expect("it is read");
        assert!(rule.cases.len() >= 2);
        for case in &rule.cases {
            assert_eq!(
                run(&catalogue, rule, case, Path::new(".")),
                Ok(Some(expected(case.expect))),
                "{}",
                case.name
            );
        }
    }
}

//! `review`: the main job.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use rayon::prelude::*;

use super::gather_builds::{Candidate, candidates, open, shown};
use super::shared::{Answer, FAILED, FINE, FOUND, Look, catalogue};
use crate::facts;
use crate::output::{Reviewed, json, terminal};
use crate::review::{Options, Review as Reviewing, Reviewer, Tally, Verdict};
use crate::rules::Level;
use crate::text::{Change, Fault, FaultKind, Span, nearest};

/// Reviews builds.
#[derive(Args)]
pub struct Review {
    /// Build descriptions, or directories in which all of them are reviewed.
    #[arg(required = true)]
    paths: Vec<PathBuf>,
    /// How to write the results.
    #[arg(long, value_enum, default_value = "terminal")]
    format: Format,
    /// What makes the exit status 1: findings of this level or above; also `open` or `review` (several with commas).
    #[arg(long, value_enum, value_delimiter = ',', default_value = "error")]
    fail_on: Vec<FailOn>,
    /// Ask only this rule (may be given several times).
    #[arg(long, value_name = "ID")]
    rule: Vec<String>,
    /// What if: change a field before the review, as in parts.relief.spring.preload=48N (may be given several times).
    #[arg(long, value_name = "ROUTE=VALUE")]
    change: Vec<String>,
    /// Do not look for cures.
    #[arg(long)]
    no_cures: bool,
    /// Show how this fact was derived, down to fields, settings, equations and sources (may be given several times).
    #[arg(long, value_name = "FACT")]
    trace: Vec<String>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    /// For a person.
    Terminal,
    /// For a program; `tractwright schema review` describes it.
    Json,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FailOn {
    Error,
    Warning,
    Note,
    Open,
    Review,
}

/// What became of one candidate.
enum Outcome {
    Reviewed(Box<Reviewed>),
    NotABuild,
    Failed(String),
}

impl Review {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        let catalogue = match catalogue(style) {
            Ok(catalogue) => catalogue,
            Err(answer) => return answer,
        };
        if let Some(name) = self.rule.iter().find(|name| catalogue.find(name).is_none()) {
            return Answer::failed(super::explain::unknown_rule(name, &catalogue));
        }
        if let Some(name) = self.trace.iter().find(|name| !facts::rows().any(|row| row.name == name.as_str()))
        {
            let near = nearest(name, facts::rows().map(|row| row.name));
            let help = near.map_or("`tractwright rules facts` lists them".to_owned(), |near| {
                format!("did you mean `{near}`?")
            });
            return Answer::failed(format!("there is no fact {}; {help}", crate::text::fault::quoted(name)));
        }
        let change = match self.assembled_change() {
            Ok(change) => change,
            Err(complaint) => return Answer::failed(complaint),
        };
        let (candidates, mut complaints) = candidates(&self.paths);
        let options = Options { rules: self.rule.clone(), cures: !self.no_cures, trace: self.trace.clone() };
        let reviewer = Reviewer::new(&catalogue, options);
        let outcomes: Vec<Outcome> =
            candidates.par_iter().map(|candidate| look_at(candidate, &reviewer, &change)).collect();
        let mut reviewed = Vec::new();
        let mut others = 0;
        for outcome in outcomes {
            match outcome {
                Outcome::Reviewed(one) => reviewed.push(*one),
                Outcome::NotABuild => others += 1,
                Outcome::Failed(complaint) => complaints.push(complaint),
            }
        }
        if reviewed.is_empty() && complaints.is_empty() {
            complaints.push(format!("no build was found; {others} other YAML files were"));
        }
        let broken = !complaints.is_empty() || reviewed.iter().any(|one| !one.review.faults.is_empty());
        let found = reviewed.iter().any(|one| self.counts(&one.review));
        let status = if broken { FAILED } else { if found { FOUND } else { FINE } };
        let out = match self.format {
            Format::Json => json::document(&reviewed, others),
            Format::Terminal => {
                let mut out: String =
                    reviewed.iter().map(|one| terminal::review(one, style) + "\n").collect();
                if others > 0 {
                    terminal::wrap(
                        &mut out,
                        &format!("Other YAML files, which are no builds: {others}"),
                        style.width,
                    );
                }
                if !reviewed.is_empty() {
                    terminal::wrap(&mut out, terminal::CAUTIONS, style.width);
                }
                out
            }
        };
        let complaints = complaints.into_iter().map(|line| line + "\n").collect();
        Answer { out, complaints, status }
    }

    fn assembled_change(&self) -> Result<Change, String> {
        let mut all = Change::default();
        for text in &self.change {
            match Change::parse_assignment(text) {
                Ok(Change(ops)) => all.0.extend(ops),
                Err(fault) => {
                    return Err(format!(
                        "--change {}: {}",
                        crate::output::safe_text::one_line(text),
                        fault.message
                    ));
                }
            }
        }
        Ok(all)
    }

    /// Whether a review holds something that the threshold counts.
    fn counts(&self, review: &Reviewing) -> bool {
        self.fail_on.iter().any(|fail_on| {
            let least = match fail_on {
                FailOn::Error => Level::Error,
                FailOn::Warning => Level::Warning,
                FailOn::Note => Level::Note,
                FailOn::Open => return review.tally.open > 0,
                FailOn::Review => return review.tally.review > 0,
            };
            review
                .results
                .iter()
                .any(|result| result.verdict() == Verdict::Fail && result.rule.level >= least)
        })
    }
}

fn look_at(candidate: &Candidate, reviewer: &Reviewer<'_>, change: &Change) -> Outcome {
    let path = shown(&candidate.path);
    let opened = match open(&candidate.path) {
        Ok(opened) => opened,
        Err(fault) => {
            return Outcome::Failed(format!("{}: {}", crate::output::safe_text::one_line(&path), fault.0));
        }
    };
    let mut faults = opened.faults.clone();
    if !opened.is_build() {
        if !candidate.named {
            // What cannot be parsed in a directory may have been a build: that must not pass in silence.
            return if faults.is_empty() { Outcome::NotABuild } else { unreadable(opened, faults) };
        }
        if faults.is_empty() {
            faults.push(opened.not_a_build());
        }
        return unreadable(opened, faults);
    }
    let Some(root) = &opened.root else { return unreadable(opened, faults) };
    let root = match change.apply(root) {
        Ok(root) => root,
        Err(cannot) => {
            return Outcome::Failed(format!("{path}: --change {}: {}", cannot.route, cannot.why));
        }
    };
    let mut review = reviewer.review(opened.file, &root, &opened.files);
    review.faults.extend(faults);
    review.faults.sort();
    let title = root.get("title").and_then(|node| node.as_text()).map(str::to_owned);
    Outcome::Reviewed(Box::new(Reviewed { path, title, sources: opened.files.sources(), review }))
}

/// A file that cannot be reviewed: its faults are told, and nothing else.
fn unreadable(opened: super::gather_builds::Opened, faults: Vec<Fault>) -> Outcome {
    let faults = if faults.is_empty() {
        vec![Fault::new(FaultKind::Other, Span::new(opened.file, 0, 1), "this file cannot be read")]
    } else {
        faults
    };
    let review = Reviewing {
        results: Vec::new(),
        unasked: Vec::new(),
        tally: Tally::default(),
        asking: Vec::new(),
        faults,
        unread: Vec::new(),
        traces: Vec::new(),
    };
    let sources = opened.files.sources();
    Outcome::Reviewed(Box::new(Reviewed { path: opened.shown, title: None, sources, review }))
}

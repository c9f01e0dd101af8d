//! `review`: the main job.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use rayon::prelude::*;

use super::gather_builds::{Candidate, candidates, open, shown};
use super::houses::{Governed, HouseFrom, Houses};
use super::shared::{Answer, FAILED, FINE, FOUND, Look};
use crate::build::library::{Expanded, expand};
use crate::build::scalars::is_day;
use crate::facts;
use crate::output::json::{self, FaultyHouse};
use crate::output::{Reviewed, terminal};
use crate::review::{Counts, Options, Review as Reviewing};
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
    /// Leave this rule out (may be given several times); that is counted and said.
    #[arg(long, value_name = "ID")]
    without: Vec<String>,
    /// The day of the check, as in 2027-03-31, for accepted findings that hold until a day; without it none expires.
    #[arg(long, value_name = "DAY", value_parser = day)]
    today: Option<String>,
    #[command(flatten)]
    house: HouseFrom,
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
    /// A file of the house.
    House,
    Failed(String),
}

impl Review {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        let (candidates, mut complaints) = candidates(&self.paths);
        let houses = match Houses::of(candidates.iter().map(|candidate| &*candidate.path), &self.house) {
            Ok(houses) => houses,
            Err(why) => return Answer::failed(why),
        };
        if let Some(complaint) = houses.unknown_rule(self.rule.iter().chain(&self.without)) {
            return Answer::failed(complaint);
        }
        if let Some(complaint) = unknown_fact(&self.trace) {
            return Answer::failed(complaint);
        }
        let change = match self.assembled_change() {
            Ok(change) => change,
            Err(complaint) => return Answer::failed(complaint),
        };
        let options = Options {
            rules: self.rule.clone(),
            cures: !self.no_cures,
            trace: self.trace.clone(),
            without: self.without.clone(),
            today: self.today.clone(),
        };
        let outcomes: Vec<Outcome> =
            candidates.par_iter().map(|candidate| look_at(candidate, &houses, &options, &change)).collect();
        let mut reviewed = Vec::new();
        let mut others = 0;
        for outcome in outcomes {
            match outcome {
                Outcome::Reviewed(one) => reviewed.push(*one),
                Outcome::NotABuild => others += 1,
                Outcome::House => {}
                Outcome::Failed(complaint) => complaints.push(complaint),
            }
        }
        if reviewed.is_empty() && complaints.is_empty() {
            complaints.push(format!("no build was found; {others} other YAML files were"));
        }
        let faulty: Vec<FaultyHouse<'_>> = houses.all().filter_map(Governed::faulty).collect();
        let broken = !complaints.is_empty()
            || !faulty.is_empty()
            || reviewed.iter().any(|one| !one.review.faults.is_empty());
        let found = reviewed.iter().any(|one| self.counts(&one.review));
        let status = if broken { FAILED } else { if found { FOUND } else { FINE } };
        let out = match self.format {
            Format::Json => json::document(&reviewed, others, &faulty),
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
        let complaints =
            houses.complaints(style) + &complaints.into_iter().map(|line| line + "\n").collect::<String>();
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
                FailOn::Review => return review.tally.review > review.tally.judged,
            };
            review.gravest().is_some_and(|gravest| gravest >= least)
        })
    }
}

/// A complaint about the first name that is no fact's.
pub(super) fn unknown_fact(names: &[String]) -> Option<String> {
    let unknown = |name: &&String| !facts::rows().any(|row| row.name == name.as_str());
    let name = names.iter().find(unknown)?;
    let near = nearest(name, facts::rows().map(|row| row.name));
    let help = near
        .map_or("`tractwright rules facts` lists them".to_owned(), |near| format!("did you mean `{near}`?"));
    Some(format!("there is no fact {}; {help}", crate::text::fault::quoted(name)))
}

fn day(text: &str) -> Result<String, String> {
    let fits = is_day(text).then(|| text.to_owned());
    fits.ok_or_else(|| "a day is written as year, month and day, as in 2027-03-31".to_owned())
}

fn look_at(candidate: &Candidate, houses: &Houses, options: &Options, change: &Change) -> Outcome {
    let path = shown(&candidate.path);
    let counts = if candidate.named { Counts::Build } else { houses.counts(&candidate.path) };
    match counts {
        Counts::House => return Outcome::House,
        Counts::No => return Outcome::NotABuild,
        Counts::Build | Counts::ByText => {}
    }
    let opened = match open(&candidate.path) {
        Ok(opened) => opened,
        Err(fault) => {
            return Outcome::Failed(format!("{}: {}", crate::output::safe_text::one_line(&path), fault.0));
        }
    };
    let mut faults = opened.faults.clone();
    let wanted = opened.is_build() || (candidate.named && opened.is_library());
    if !wanted {
        if counts == Counts::ByText || opened.is_library() {
            // What cannot be parsed in a directory may have been a build: that must not pass in silence.
            return if faults.is_empty() { Outcome::NotABuild } else { unreadable(opened, faults) };
        }
        if faults.is_empty() {
            faults.push(opened.not_a_build());
        }
        return unreadable(opened, faults);
    }
    let Some(root) = &opened.root else { return unreadable(opened, faults) };
    // A change may reach a shared part too: it is made where the libraries are in.
    let Expanded { root, faults: shared } = expand(root, &opened.files);
    faults.extend(shared);
    let root = match change.apply(&root) {
        Ok(root) => root,
        Err(cannot) => {
            return Outcome::Failed(format!("{path}: --change {}: {}", cannot.route, cannot.why));
        }
    };
    let Some(reviewer) = houses.reviewer(&candidate.path, options.clone()) else {
        return Outcome::Failed(format!(
            "{}: there is no such file",
            crate::output::safe_text::one_line(&path)
        ));
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
    let review = Reviewing { faults, ..Reviewing::default() };
    let sources = opened.files.sources();
    Outcome::Reviewed(Box::new(Reviewed { path: opened.shown, title: None, sources, review }))
}

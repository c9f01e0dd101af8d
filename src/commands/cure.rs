//! `cure`: cures as text diffs, and into the text.

use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;

use super::gather_builds::{Opened, open};
use super::houses::{HouseFrom, Houses};
use super::shared::{Answer, FAILED, FINE, Look};
use super::write_back::write_back;
use crate::build::library::expand;
use crate::output::cure_words::{Offer, Offered, Written, offered, written};
use crate::output::safe_text::one_line;
use crate::review::{Options, Reviewer, RuleResult};
use crate::text::{CannotEdit, Change, Edits, FileId, Node, Route, WhyNot, edit, parse};

/// Shows what would cure the findings of a build, as text diffs.
#[derive(Args)]
pub struct Cure {
    /// The build.
    build: PathBuf,
    /// Cure only the findings of this rule (may be given several times).
    #[arg(long, value_name = "ID")]
    rule: Vec<String>,
    /// Write each cure that passes and upsets nothing into the build, one after another.
    #[arg(long)]
    write: bool,
    #[command(flatten)]
    house: HouseFrom,
}

/// The text as it stands, and its tree.
struct State {
    file: FileId,
    text: Arc<str>,
    root: Arc<Node>,
}

impl Cure {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        let houses = match Houses::of([&*self.build], &self.house) {
            Ok(houses) => houses,
            Err(why) => return Answer::failed(why),
        };
        let broken = houses.complaints(style);
        if !broken.is_empty() {
            return Answer::failed(broken);
        }
        if let Some(complaint) = houses.unknown_rule(&self.rule) {
            return Answer::failed(complaint);
        }
        let shown = one_line(&self.build.to_string_lossy());
        let opened = match open(&self.build) {
            Ok(opened) => opened,
            Err(fault) => return Answer::failed(format!("{shown}: {}", fault.0)),
        };
        let state = match &opened.root {
            Some(root) if opened.faults.is_empty() && opened.is_build() => State {
                file: opened.file,
                text: opened.files.sources().get(opened.file).shared_text(),
                root: root.clone(),
            },
            _ => return Answer::failed(format!("{shown}: {}", unreadable(&opened))),
        };
        let options = Options { rules: self.rule.clone(), cures: true, ..Options::default() };
        let Some(reviewer) = houses.reviewer(&self.build, options) else {
            return Answer::failed(format!("{shown}: there is no such file"));
        };
        let bench = Bench { reviewer, opened: &opened };
        let (all, faults) = bench.offers(&state);
        let complaints = if faults > 0 {
            format!("{shown}: the text holds {faults} faults; `tractwright review` shows them\n")
        } else {
            String::new()
        };
        let status = if faults > 0 { FAILED } else { FINE };
        if !self.write {
            let out = offered(&opened.shown, &state.text, &all, &opened.files.sources(), style.width);
            return Answer { out, complaints, status };
        }
        if faults > 0 {
            return Answer::failed(format!(
                "{complaints}{shown}: nothing was written, as it was not read wholly"
            ));
        }
        let before = state.text.clone();
        let (done, state) = bench.apply(state, &all);
        if !done.is_empty()
            && let Err(why) = write_back(&self.build, &before, &state.text)
        {
            return Answer::failed(format!("{shown}: nothing was written: {why}"));
        }
        let left = if done.is_empty() { all } else { bench.offers(&state).0 };
        let out = written(&opened.shown, &done, &left, &opened.files.sources(), style.width);
        Answer { out, complaints, status }
    }
}

fn unreadable(opened: &Opened) -> String {
    match opened.faults.len() {
        0 => "this is not a build description".to_owned(),
        1 => "the text holds a fault; `tractwright review` shows it".to_owned(),
        many => format!("the text holds {many} faults; `tractwright review` shows them"),
    }
}

struct Bench<'a> {
    reviewer: Reviewer<'a>,
    opened: &'a Opened,
}

impl Bench<'_> {
    /// The findings with their proved cures, and how many faults the text holds.
    fn offers(&self, state: &State) -> (Vec<Offered>, usize) {
        let review = self.reviewer.review(state.file, &state.root, &self.opened.files);
        let findings = review.results.into_iter().filter(RuleResult::speaks);
        let whole = expand(&state.root, &self.opened.files).root;
        let offered = findings.map(|mut finding| {
            let proved = std::mem::take(&mut finding.cures).into_iter().filter(|cure| cure.proof.passes);
            let offers = proved.map(|cure| Offer { edits: self.edits(state, &whole, &cure.change), cure });
            Offered { offers: offers.collect(), finding }
        });
        (offered.collect(), review.faults.len())
    }

    /// The edits that make a change of the whole build, shared parts included, in its own text. What was proved has to
    /// be what the edited text says, once its shared parts are brought in again.
    fn edits(&self, state: &State, whole: &Arc<Node>, change: &Change) -> Result<Edits, CannotEdit> {
        let edits = edit(&state.text, whole, change)?;
        let files = &self.opened.files;
        let read = parse(state.file, &edits.apply(&state.text), files.limits()).root;
        let read = read.map(|root| expand(&root, files));
        let proved = change.apply(whole).ok();
        match (read, proved) {
            (Some(read), Some(proved)) if read.faults.is_empty() && read.root.same_content(&proved) => {
                Ok(edits)
            }
            _ => Err(CannotEdit {
                route: change.0.first().map_or_else(Route::root, |op| op.route().clone()),
                why: WhyNot::Layout("with its shared parts the text would read otherwise"),
            }),
        }
    }

    /// Makes each cure that passes and upsets nothing, the build reviewed again after each.
    fn apply(&self, mut state: State, first: &[Offered]) -> (Vec<Written>, State) {
        let mut done = Vec::new();
        let mut offered = first.to_vec();
        // Each round takes a finding away and adds none, so that this ends.
        while let Some((finding, offer)) = next(offered) {
            let Ok(edits) = &offer.edits else { break };
            let text: Arc<str> = edits.apply(&state.text).into();
            let file = self.opened.files.add(&self.opened.shown, &text);
            let parsed = parse(file, &text, self.opened.files.limits());
            let Some(root) = parsed.root.filter(|_| parsed.faults.is_empty()) else { break };
            let diff = edits.diff(&one_line(&self.opened.shown), &state.text);
            done.push(Written { finding, cure: offer.cure, diff });
            state = State { file, text, root };
            offered = self.offers(&state).0;
        }
        (done, state)
    }
}

/// The first cure that may be written without asking.
fn next(offered: Vec<Offered>) -> Option<(crate::review::RuleResult, Offer)> {
    offered.into_iter().find_map(|one| {
        let writes = |offer: &Offer| {
            offer.cure.proof.is_clean() && offer.edits.as_ref().is_ok_and(|edits| !edits.is_empty())
        };
        Some((one.finding, one.offers.into_iter().find(writes)?))
    })
}

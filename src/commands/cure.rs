//! `cure`: cures as text diffs, and into the text.

mod together;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use super::gather_builds::{Opened, locate, open_with, shown as path_words};
use super::houses::{HouseFrom, Houses};
use super::shared::{Answer, FAILED, FINE, Look};
use super::shared_edit::{library_edit, other_users};
use super::write_back::write_back;
use crate::build::files::Drafts;
use crate::build::library::expand;
use crate::output::cure_words::{Offer, Offered, TextEdits, User, Written, offered, written};
use crate::output::safe_text::one_line;
use crate::review::{FoundCure, Options, Reviewer, RuleResult};
use crate::text::{CannotEdit, Change, Node, Route, WhyNot, edit};

/// Shows what would cure the findings of a build, as text diffs.
#[derive(Args)]
pub struct Cure {
    /// The build.
    build: PathBuf,
    /// Cure only the findings of this rule (may be given several times).
    #[arg(long, value_name = "ID")]
    rule: Vec<String>,
    /// Vary this field until all findings pass together, with the least change (may be given up to three times, for several
    /// fields at once). With --rule only the findings of those rules have to pass.
    #[arg(long, value_name = "ROUTE")]
    vary: Vec<String>,
    /// Write each cure that passes and upsets nothing into the build, one after another.
    #[arg(long)]
    write: bool,
    /// Change shared parts where a library defines them. All builds below the root that use them are reviewed again;
    /// what would upset one of them is not written.
    #[arg(long)]
    in_library: bool,
    #[command(flatten)]
    house: HouseFrom,
}

/// The build as it stands under some drafts, with its findings and their cures.
struct Standing {
    opened: Opened,
    offered: Vec<Offered>,
    /// How many faults the text holds.
    faults: usize,
}

impl Cure {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        let houses = match Houses::sound([&*self.build], &self.house, style) {
            Ok(houses) => houses,
            Err(answer) => return answer,
        };
        if let Some(complaint) = houses.unknown_rule(&self.rule) {
            return Answer::failed(complaint);
        }
        let shown = one_line(&self.build.to_string_lossy());
        let failed = |why: String| Answer::failed(format!("{shown}: {why}"));
        let options = Options { rules: self.rule.clone(), cures: true, ..Options::default() };
        let (located, reviewer) = match (locate(&self.build), houses.reviewer(&self.build, options)) {
            (Ok(located), Some(reviewer)) => (located, reviewer),
            (Err(fault), _) => return failed(fault.0),
            (Ok(_), None) => return failed("there is no such file".to_owned()),
        };
        let bench = Bench {
            houses: &houses,
            reviewer,
            path: &self.build,
            own: path_words(&located.base.join(&located.name)),
            root: located.root,
            in_library: self.in_library,
        };
        if !self.vary.is_empty() {
            return together::run(&bench, &shown, &self.vary, self.write, style.width);
        }
        let first = match bench.standing(&Drafts::new()) {
            Ok(first) => first,
            Err(why) => return failed(why),
        };
        let complaints = match first.faults {
            0 => String::new(),
            faults => format!("{shown}: the text holds {faults} faults; `tractwright review` shows them\n"),
        };
        let status = if first.faults > 0 { FAILED } else { FINE };
        if !self.write {
            let out = offered(&first.offered, &first.opened.files.sources(), style.width);
            return Answer { out, complaints, status };
        }
        if first.faults > 0 {
            return Answer::failed(format!(
                "{complaints}{shown}: nothing was written, as it was not read wholly"
            ));
        }
        let (done, drafts, last) = bench.apply(first);
        if let Err(why) = bench.write(&drafts) {
            return failed(why);
        }
        let out = written(&shown, &done, &last.offered, &last.opened.files.sources(), style.width);
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
    houses: &'a Houses,
    reviewer: Reviewer<'a>,
    path: &'a Path,
    root: PathBuf,
    /// The build's path below the root.
    own: String,
    in_library: bool,
}

impl Bench<'_> {
    /// Reviews the build under drafts, and looks how each proved cure would be written.
    fn standing(&self, drafts: &Drafts) -> Result<Standing, String> {
        let opened = open_with(self.path, drafts.clone()).map_err(|fault| fault.0)?;
        let root = match &opened.root {
            Some(root) if opened.faults.is_empty() && opened.is_build() => root.clone(),
            _ => return Err(unreadable(&opened)),
        };
        let review = self.reviewer.review(opened.file, &root, &opened.files);
        let whole = expand(&root, &opened.files).root;
        let findings = review.results.into_iter().filter(RuleResult::speaks);
        let offered = findings.map(|mut finding| {
            let proved = std::mem::take(&mut finding.cures).into_iter().filter(|cure| cure.proof.passes);
            let offers = proved.map(|cure| self.offer(&opened, &whole, cure, drafts)).collect();
            Offered { offers, finding }
        });
        Ok(Standing { offered: offered.collect(), faults: review.faults.len(), opened })
    }

    /// How a cure would be written: in the build's own text, or in that of a library that defines what it changes.
    fn offer(&self, opened: &Opened, whole: &Arc<Node>, cure: FoundCure, drafts: &Drafts) -> Offer {
        let mut users = Vec::new();
        let edits = self.edits(opened, whole, &cure.change, drafts, &mut users);
        Offer { cure, edits, users }
    }

    fn edits(
        &self,
        opened: &Opened,
        whole: &Arc<Node>,
        change: &Change,
        drafts: &Drafts,
        users: &mut Vec<User>,
    ) -> Result<TextEdits, CannotEdit> {
        let text = opened.files.sources().get(opened.file).shared_text();
        let (edits, defined) = match edit(&text, whole, change) {
            Ok(edits) => {
                let name = opened.shown.clone();
                (TextEdits { path: self.own.clone(), name, text, edits }, None)
            }
            Err(CannotEdit { why: WhyNot::Shared(defined), .. }) => {
                (library_edit(opened, change, defined)?, Some(defined))
            }
            Err(other) => return Err(other),
        };
        let cannot = |why| CannotEdit {
            route: change.0.first().map_or_else(Route::root, |op| op.route().clone()),
            why,
        };
        let mut after = drafts.clone();
        after.insert(edits.path.clone(), edits.edits.apply(&edits.text).into());
        // What was proved has to be what the texts say, once the shared parts are brought in again.
        let read = open_with(self.path, after.clone()).ok();
        let read = read.and_then(|read| Some((expand(read.root.as_ref()?, &read.files), read.faults)));
        let proved = change.apply(whole).ok();
        let same = match (&read, &proved) {
            (Some((read, faults)), Some(proved)) => {
                faults.is_empty() && read.faults.is_empty() && read.root.same_content(proved)
            }
            _ => false,
        };
        if !same {
            return Err(cannot(WhyNot::Layout("with its shared parts the text would read otherwise")));
        }
        let Some(defined) = defined else { return Ok(edits) };
        *users = other_users(&self.root, self.path, self.houses, drafts, &after)
            .map_err(|why| cannot(WhyNot::Impossible(why)))?;
        if self.in_library { Ok(edits) } else { Err(cannot(WhyNot::Shared(defined))) }
    }

    /// Makes each cure that passes and upsets nothing, the build reviewed again after each.
    fn apply(&self, first: Standing) -> (Vec<Written>, Drafts, Standing) {
        let mut done = Vec::new();
        let mut drafts = Drafts::new();
        let mut standing = first;
        // Each round takes a finding away and adds none, so that this ends.
        while let Some((finding, offer)) = next(&standing.offered) {
            let Ok(edits) = &offer.edits else { break };
            let mut after = drafts.clone();
            after.insert(edits.path.clone(), edits.edits.apply(&edits.text).into());
            let Ok(then) = self.standing(&after) else { break };
            done.push(Written { finding, offer });
            (drafts, standing) = (after, then);
        }
        (done, drafts, standing)
    }

    /// Writes the drafts into their files.
    fn write(&self, drafts: &Drafts) -> Result<(), String> {
        let before = open_with(self.path, Drafts::new()).map_err(|fault| fault.0)?;
        if let Some(root) = &before.root {
            // So that the libraries' texts are at hand.
            expand(root, &before.files);
        }
        let sources = before.files.sources();
        let mut written = Vec::new();
        for (path, text) in drafts {
            let own = *path == self.own;
            let file = if own { self.path.to_owned() } else { self.root.join(path) };
            let name = if own { before.shown.as_str() } else { path };
            let old = sources.iter().find(|(_, source)| source.name() == name);
            let old = old.map(|(_, source)| source.text()).unwrap_or_default();
            write_back(&file, old, text).map_err(|why| match written.as_slice() {
                [] => format!("nothing was written: {why}"),
                some => format!("{} was written, but not {}: {why}", some.join(", "), one_line(name)),
            })?;
            written.push(one_line(name));
        }
        Ok(())
    }
}

/// The first cure that may be written without asking.
fn next(offered: &[Offered]) -> Option<(RuleResult, Offer)> {
    offered.iter().find_map(|one| {
        let writes = |offer: &&Offer| {
            offer.cure.proof.is_clean()
                && !offer.cure.another_part
                && offer.edits.as_ref().is_ok_and(|edits| !edits.edits.is_empty())
                && !offer.users.iter().any(User::is_upset)
        };
        Some((one.finding.clone(), one.offers.iter().find(writes)?.clone()))
    })
}

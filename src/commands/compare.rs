//! `compare`: two builds, or two states of one, beside each other.

use std::path::{Path, PathBuf};

use clap::Args;

use super::gather_builds::open;
use super::houses::{HouseFrom, Houses};
use super::shared::{Answer, FAILED, FINE, FOUND, Look};
use crate::output::safe_text::one_line;
use crate::output::text_pages;
use crate::review::{Difference, Options, Review, compare};

/// Compares the reviews of two builds.
#[derive(Args)]
pub struct Compare {
    /// The build as it was.
    old: PathBuf,
    /// The build as it is.
    new: PathBuf,
    #[command(flatten)]
    house: HouseFrom,
}

impl Compare {
    /// Runs it: exit status 1 when a finding came or was hidden.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        let houses = match Houses::sound([&*self.old, &*self.new], &self.house, style) {
            Ok(houses) => houses,
            Err(answer) => return answer,
        };
        let (old, new) = match (reviewed(&self.old, &houses), reviewed(&self.new, &houses)) {
            (Ok(old), Ok(new)) => (old, new),
            (old, new) => {
                let complaints: Vec<String> = [old.err(), new.err()].into_iter().flatten().collect();
                return Answer::failed(complaints.join("\n"));
            }
        };
        let changes = compare(&old, &new);
        let out = text_pages::comparison(&changes, style.width);
        let worse = changes.iter().any(|one| matches!(one.difference, Difference::Came | Difference::Hidden));
        let faults = old.faults.len() + new.faults.len();
        let mut answer = Answer { out, status: if worse { FOUND } else { FINE }, ..Answer::default() };
        if faults > 0 {
            answer.complaints = format!("the texts hold {faults} faults; `tractwright review` shows them\n");
            answer.status = FAILED;
        }
        answer
    }
}

fn reviewed(path: &Path, houses: &Houses) -> Result<Review, String> {
    let shown = one_line(&path.to_string_lossy());
    let opened = open(path).map_err(|fault| format!("{shown}: {}", fault.0))?;
    match (&opened.root, houses.reviewer(path, Options::default())) {
        (Some(root), Some(reviewer)) if opened.is_build() => {
            Ok(reviewer.review(opened.file, root, &opened.files))
        }
        _ => Err(format!("{shown}: this is not a build description")),
    }
}

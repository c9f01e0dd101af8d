//! `joints`: what joins what, as a list to order from.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::gather_builds::open;
use super::houses::{HouseFrom, Houses};
use super::shared::{Answer, FAILED, Look};
use crate::facts::Scope;
use crate::output::joints::{JointList, csv, json, text};
use crate::output::safe_text::one_line;
use crate::review::Options;

/// Lists every joint and hose of a build, to order from, and what to measure first.
#[derive(Args)]
pub struct Joints {
    /// The build description.
    build: PathBuf,
    /// How to write them.
    #[arg(long, value_enum, default_value = "text")]
    format: Format,
    #[command(flatten)]
    house: HouseFrom,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    /// For a person.
    Text,
    /// For a spreadsheet: a row a joint or hose, with units in the header.
    Csv,
    /// For a program; `tractwright schema joints` describes it.
    Json,
}

impl Joints {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        let houses = match Houses::sound([&*self.build], &self.house, style) {
            Ok(houses) => houses,
            Err(answer) => return answer,
        };
        let path = one_line(&self.build.to_string_lossy());
        let opened = match open(&self.build) {
            Ok(opened) => opened,
            Err(fault) => return Answer::failed(format!("{path}: {}", fault.0)),
        };
        let reviewer = houses.reviewer(&self.build, Options::default());
        let (Some(root), Some(reviewer)) = (&opened.root, reviewer) else {
            return Answer::failed(format!("{path}: this cannot be read"));
        };
        if !opened.is_build() {
            return Answer::failed(format!("{path}: this is not a build description"));
        }
        let build = reviewer.read(opened.file, root, &opened.files);
        let list = JointList::of(&build, &Scope::new(&build).steady());
        let title = root.get("title").and_then(|node| node.as_text());
        let out = match self.format {
            Format::Text => text::page(&opened.shown, title, &list, style.width),
            Format::Csv => csv::table(&opened.shown, &list),
            Format::Json => json::document(&opened.shown, title, &list),
        };
        let mut answer = Answer::fine(out);
        let faults = opened.faults.len() + build.faults.len();
        if faults > 0 {
            answer.complaints = format!("the text holds {faults} faults; `tractwright review` shows them\n");
            answer.status = FAILED;
        }
        answer
    }
}

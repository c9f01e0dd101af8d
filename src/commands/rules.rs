//! `rules`: the catalogue, where everything was decided, and the registry of facts.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand, ValueEnum};

use super::house_rules::{New, Test};
use super::houses::{HouseFrom, governed_here};
use super::pages::write_pages;
use super::shared::{Answer, FAILED, Look};
use crate::output::markdown::{self, Page};
use crate::output::{origins, text_pages};

/// Lists the rules: those of the program, and those of the house at the root of the directory it runs in.
#[derive(Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Rules {
    #[command(subcommand)]
    what: Option<What>,
    /// For each rule, limit and setting, say which file decided it, and why.
    #[arg(long, conflicts_with_all = ["format", "to"])]
    origin: bool,
    #[command(flatten)]
    form: Form,
    #[command(flatten)]
    house: HouseFrom,
}

#[derive(Subcommand)]
enum What {
    /// Lists the facts that rules can read, with unit and meaning.
    Facts(Form),
    /// Runs the cases of the rules in a directory; exit status 1 when one comes out otherwise than written.
    Test(Test),
    /// Writes a commented rule file to begin from.
    New(New),
}

/// In which form a list is given.
#[derive(Args)]
struct Form {
    /// How it is written.
    #[arg(long, value_enum, default_value = "text")]
    format: Format,
    /// Of Markdown: the directory below which its pages are written; else all stands in one document.
    #[arg(long, value_name = "DIR")]
    to: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Lines for a person.
    Text,
    /// Pages for a wiki or a repository.
    Markdown,
}

impl Form {
    /// The list in this form.
    fn give(
        &self,
        text: impl FnOnce() -> String,
        document: impl FnOnce() -> String,
        pages: impl FnOnce() -> Vec<Page>,
    ) -> Answer {
        match (self.format, &self.to) {
            (Format::Text, None) => Answer::fine(text()),
            (Format::Text, Some(_)) => {
                Answer::failed("--to writes pages of Markdown; say --format markdown with it")
            }
            (Format::Markdown, None) => Answer::fine(document()),
            (Format::Markdown, Some(directory)) => written(directory, &pages()),
        }
    }
}

fn written(directory: &Path, pages: &[Page]) -> Answer {
    match write_pages(directory, pages) {
        Ok(shown) => {
            let first = pages.first().map_or("", |page| page.path.as_str());
            Answer::fine(format!("wrote {} pages below {shown}; begin with {first}\n", pages.len()))
        }
        Err(why) => Answer::failed(why),
    }
}

impl Rules {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        match self.what {
            Some(What::Facts(form)) => {
                let pages =
                    || vec![Page { path: markdown::facts::PATH.to_owned(), text: markdown::facts::page() }];
                return form.give(|| text_pages::facts(style.width), markdown::facts::page, pages);
            }
            Some(What::Test(test)) => return test.run(look),
            Some(What::New(new)) => return new.run(),
            None => {}
        }
        let governed = match governed_here(&self.house) {
            Ok(governed) => governed,
            Err(why) => return Answer::failed(why),
        };
        let policy = &governed.policy;
        let mut answer = if self.origin {
            Answer::fine(origins::page(policy, &governed.shown, style.width))
        } else {
            self.form.give(
                || text_pages::rules(policy, style.width),
                || markdown::rules::document(policy),
                || markdown::rules::pages(policy),
            )
        };
        if governed.is_faulty() {
            answer.complaints.push_str(&governed.complaints(style));
            answer.status = FAILED;
        }
        answer
    }
}

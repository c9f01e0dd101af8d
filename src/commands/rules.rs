//! `rules`: the catalogue, where everything was decided, and the registry of facts.

use clap::{Args, Subcommand};

use super::house_rules::{New, Test};
use super::houses::{HouseFrom, governed_here};
use super::shared::{Answer, FAILED, Look};
use crate::output::{origins, text_pages};

/// Lists the rules: those of the program, and those of the house at the root of the directory it runs in.
#[derive(Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Rules {
    #[command(subcommand)]
    what: Option<What>,
    /// For each rule, limit and setting, say which file decided it, and why.
    #[arg(long)]
    origin: bool,
    #[command(flatten)]
    house: HouseFrom,
}

#[derive(Subcommand)]
enum What {
    /// Lists the facts that rules can read, with unit and meaning.
    Facts,
    /// Runs the cases of the rules in a directory; exit status 1 when one comes out otherwise than written.
    Test(Test),
    /// Writes a commented rule file to begin from.
    New(New),
}

impl Rules {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        match self.what {
            Some(What::Facts) => return Answer::fine(text_pages::facts(style.width)),
            Some(What::Test(test)) => return test.run(look),
            Some(What::New(new)) => return new.run(),
            None => {}
        }
        let governed = match governed_here(&self.house) {
            Ok(governed) => governed,
            Err(why) => return Answer::failed(why),
        };
        let policy = &governed.policy;
        let mut answer = Answer::fine(if self.origin {
            origins::page(policy, &governed.shown, style.width)
        } else {
            text_pages::rules(policy, style.width)
        });
        if governed.is_faulty() {
            answer.complaints = governed.complaints(style);
            answer.status = FAILED;
        }
        answer
    }
}

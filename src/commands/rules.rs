//! `rules`: the catalogue, and the registry of facts.

use clap::{Args, Subcommand};

use super::shared::{Answer, Look, catalogue};
use crate::output::text_pages;

/// Lists the rules.
#[derive(Args)]
pub struct Rules {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Subcommand)]
enum What {
    /// Lists the facts that rules can read, with unit and meaning.
    Facts,
}

impl Rules {
    /// Runs it.
    pub fn run(self, look: &Look) -> Answer {
        let style = look.style();
        if let Some(What::Facts) = self.what {
            return Answer::fine(text_pages::facts(style.width));
        }
        match catalogue(style) {
            Ok(catalogue) => Answer::fine(text_pages::rules(&catalogue, style.width)),
            Err(answer) => answer,
        }
    }
}

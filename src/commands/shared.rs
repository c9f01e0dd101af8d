//! What the commands share: how to look, how to print, what is said of a rule that does not exist.

use std::io::{IsTerminal, Write};

use clap::{Args, ValueEnum};

use crate::output::terminal::Style;
use crate::rules::Catalogue;
use crate::text::fault::quoted;
use crate::text::nearest;

/// Nothing at or above the threshold.
pub const FINE: u8 = 0;
/// At least one result at or above the threshold.
pub const FOUND: u8 = 1;
/// The command could not do its work.
pub const FAILED: u8 = 2;

/// How text for a person looks.
#[derive(Args)]
pub struct Look {
    /// Colour: on a terminal only, always or never. NO_COLOR turns `auto` off.
    #[arg(long, global = true, value_enum, default_value = "auto")]
    colour: Colour,
    /// Columns to write for; else those of the terminal, or 100.
    #[arg(long, global = true, value_parser = clap::value_parser!(u16).range(40..=400))]
    width: Option<u16>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Colour {
    Auto,
    Always,
    Never,
}

/// Columns written for where no terminal says how many it has.
const USUAL_WIDTH: usize = 100;

impl Look {
    /// The style of text on standard output.
    pub fn style(&self) -> Style {
        let terminal = std::io::stdout().is_terminal();
        let asked_not_to = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let colour = match self.colour {
            Colour::Auto => terminal && !asked_not_to,
            Colour::Always => true,
            Colour::Never => false,
        };
        let of_terminal = || terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
        let width = self.width.map(usize::from).or_else(of_terminal).unwrap_or(USUAL_WIDTH);
        Style { width, colour }
    }
}

/// What a command has to say, and its exit status.
#[derive(Debug, Default)]
pub struct Answer {
    /// For standard output.
    pub out: String,
    /// For standard error.
    pub complaints: String,
    /// Exit status.
    pub status: u8,
}

impl Answer {
    /// An answer for standard output.
    pub fn fine(out: String) -> Self {
        Self { out, complaints: String::new(), status: FINE }
    }

    /// A complaint: the command could not do its work.
    pub fn failed(complaints: impl Into<String>) -> Self {
        let mut complaints = complaints.into();
        if !complaints.ends_with('\n') {
            complaints.push('\n');
        }
        Self { out: String::new(), complaints, status: FAILED }
    }
}

/// Prints; says whether it could. A reader that went away is no failure: there is nobody left to tell.
pub fn print(text: &str, to_error: bool) -> bool {
    let written = if to_error {
        std::io::stderr().lock().write_all(text.as_bytes())
    } else {
        let mut out = std::io::stdout().lock();
        out.write_all(text.as_bytes()).and_then(|()| out.flush())
    };
    written.map_or_else(|error| error.kind() == std::io::ErrorKind::BrokenPipe, |()| true)
}

/// A complaint about a rule that does not exist.
pub fn unknown_rule(name: &str, catalogue: &Catalogue) -> String {
    let near = nearest(name, catalogue.rules().iter().map(|rule| &*rule.id));
    let help = near.map_or_else(
        || "`tractwright rules` lists them".to_owned(),
        |near| format!("did you mean `{near}`?"),
    );
    format!("there is no rule {}; {help}", quoted(name))
}

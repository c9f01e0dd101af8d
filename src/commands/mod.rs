//! The commands: the only place that reads arguments, prints and decides the exit status.

mod compare;
mod cure;
mod explain;
mod gather_builds;
mod house_rules;
mod houses;
mod joints;
mod pages;
mod review;
mod rules;
mod schema;
mod shared;
mod shared_edit;
mod starter;
mod steady;
mod tip_out;
mod write_back;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

use shared::{Answer, Look};

use crate::output::safe_text::without_commands;

/// Reviews a written description of a turbocharged engine's air path, before any part is bought or fitted.
#[derive(Parser)]
#[command(name = "tractwright", version, about, disable_help_subcommand = true)]
struct Arguments {
    #[command(flatten)]
    look: Look,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Reviews builds: computes what the air will do, walks the rules, points at the findings.
    Review(review::Review),
    /// Explains a rule: what happens in the air, the limits and their sources, cases.
    Explain(explain::Explain),
    /// Lists the rules and the facts that they read; tests and begins rules of a house.
    Rules(rules::Rules),
    /// Compares two builds: findings that came, went, moved, or were hidden because a field was taken away.
    Compare(compare::Compare),
    /// Shows what would cure the findings of a build, as text diffs that keep comments; can write them.
    Cure(cure::Cure),
    /// Shows the steady operating points of a build: the air at each part, for each engine speed and site.
    Steady(steady::Steady),
    /// Computes what the air does after the throttle shuts at boost (tip-out).
    TipOut(tip_out::TipOut),
    /// Lists every joint and hose of a build, to order from, and what to measure first.
    Joints(joints::Joints),
    /// Writes a commented build to begin from.
    Starter(starter::Starter),
    /// Prints a JSON Schema.
    Schema(schema::SchemaCommand),
}

/// Runs the program on the process's arguments.
pub fn run() -> ExitCode {
    let arguments = Arguments::parse();
    let answer = match arguments.command {
        Command::Review(command) => command.run(&arguments.look),
        Command::Explain(command) => command.run(&arguments.look),
        Command::Rules(command) => command.run(&arguments.look),
        Command::Compare(command) => command.run(&arguments.look),
        Command::Cure(command) => command.run(&arguments.look),
        Command::Steady(command) => command.run(&arguments.look),
        Command::TipOut(command) => command.run(&arguments.look),
        Command::Joints(command) => command.run(&arguments.look),
        Command::Starter(command) => command.run(),
        Command::Schema(command) => command.run(),
    };
    answer.give()
}

impl Answer {
    /// Prints the answer and gives its exit status.
    fn give(self) -> ExitCode {
        let told = shared::print(&without_commands(&self.out), false);
        let complained = shared::print(&without_commands(&self.complaints), true);
        if told && complained {
            return ExitCode::from(self.status);
        }
        shared::print("the output could not be written\n", true);
        ExitCode::from(shared::FAILED)
    }
}

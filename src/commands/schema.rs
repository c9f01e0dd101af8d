//! `schema`: prints a JSON Schema.

use clap::{Args, ValueEnum};

use super::shared::Answer;
use crate::build::schema::{build_schema, library_schema};
use crate::output::{joints, json, steady};
use crate::review::house_schema;
use crate::rules::RuleFile;

/// Prints a JSON Schema.
#[derive(Args)]
pub struct SchemaCommand {
    /// Of what.
    #[arg(value_enum)]
    of: Of,
}

#[derive(Clone, Copy, ValueEnum)]
enum Of {
    /// Of a build description.
    Build,
    /// Of a library of parts.
    Library,
    /// Of a rule file.
    Rule,
    /// Of a house file.
    House,
    /// Of the JSON that `review` writes.
    Review,
    /// Of the JSON that `steady` writes.
    Steady,
    /// Of the JSON that `joints` writes.
    Joints,
}

impl SchemaCommand {
    /// Runs it.
    pub fn run(self) -> Answer {
        let schema = match self.of {
            Of::Build => build_schema(),
            Of::Library => library_schema(),
            Of::Rule => schemars::generate::SchemaSettings::draft2020_12()
                .into_generator()
                .into_root_schema_for::<RuleFile>(),
            Of::House => house_schema(),
            Of::Review => json::schema(),
            Of::Steady => steady::json::schema(),
            Of::Joints => joints::json::schema(),
        };
        // A schema is plain JSON and always serialises.
        let mut text = serde_json::to_string_pretty(&schema).unwrap_or_default();
        text.push('\n');
        Answer::fine(text)
    }
}

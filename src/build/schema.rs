//! The JSON Schema of a build, from the same types that read it.

use schemars::{Schema, SchemaGenerator, generate::SchemaSettings, json_schema};

use super::Build;
use crate::text::Measure;

/// The JSON Schema (draft 2020-12) of a build.
pub fn build_schema() -> Schema {
    whole(Build::schema, "Description of a turbocharged engine's air path")
}

/// The JSON Schema (draft 2020-12) of a library of parts.
pub fn library_schema() -> Schema {
    whole(super::library::schema, "Library of parts for descriptions of turbocharged engines' air paths")
}

fn whole(of: fn(&mut SchemaGenerator) -> Schema, title: &str) -> Schema {
    let mut generator: SchemaGenerator = SchemaSettings::draft2020_12().into_generator();
    let mut schema = of(&mut generator);
    let definitions = generator.take_definitions(true);
    schema.insert("$schema".to_owned(), "https://json-schema.org/draft/2020-12/schema".into());
    schema.insert("title".to_owned(), title.into());
    schema.insert("$defs".to_owned(), definitions.into());
    schema
}

/// The schema of a quantity: a text of number and fitting unit, with a tolerance where one is known.
pub fn quantity_schema(measure: Measure) -> Schema {
    let number = r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?";
    let mut names: Vec<String> = measure
        .units()
        .flat_map(|unit| std::iter::once(unit.symbol).chain(unit.aliases.iter().copied()))
        .map(escape)
        .collect();
    names.sort_by(|a, b| b.len().cmp(&a.len()).then_with(|| a.cmp(b)));
    names.dedup();
    let units = names.join("|");
    let reference = match measure {
        Measure::Pressure => r"\s*(gauge|abs|absolute)",
        Measure::PressureDifference => r"(\s*difference)?",
        _ => "",
    };
    let bare = measure.takes_bare_number();
    let unit = if bare { format!("({units})?") } else { format!("({units})") };
    let pattern = format!(r"^\s*{number}\s*{unit}{reference}(\s*(±|\+/-)\s*{number}\s*({units}|%)?)?\s*$");
    let usual = measure.usual_units().join(", ");
    let description = match measure {
        Measure::Pressure => format!("{}, in {usual}, with `gauge` or `abs`.", capital(measure.word())),
        Measure::Ratio => "A share or ratio: a number, or in %.".to_owned(),
        _ => format!("{}, in {usual}.", capital(measure.word())),
    };
    if bare {
        json_schema!({ "description": description, "anyOf": [{ "type": "number" }, { "type": "string", "pattern": pattern }] })
    } else {
        json_schema!({ "description": description, "type": "string", "pattern": pattern })
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for letter in text.chars() {
        if !letter.is_alphanumeric() && letter != ' ' && letter != '%' {
            escaped.push('\\');
        }
        escaped.push(letter);
    }
    escaped
}

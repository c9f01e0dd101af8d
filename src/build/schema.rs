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

/// A schema with its title and the definitions that it refers to.
pub fn whole(of: fn(&mut SchemaGenerator) -> Schema, title: &str) -> Schema {
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
    let number = r"[-+−]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?";
    let mut names: Vec<String> = measure
        .units()
        .flat_map(|unit| std::iter::once(unit.symbol).chain(unit.aliases.iter().copied()))
        .map(spelt)
        .collect();
    names.sort_by(|a, b| b.len().cmp(&a.len()).then_with(|| a.cmp(b)));
    names.dedup();
    let units = names.join("|");
    let bare = measure.takes_bare_number();
    let unit = if bare { format!("({units})?") } else { format!("({units})") };
    let value = match measure {
        Measure::Pressure => {
            referred(&unit, &["absolute", "abs", "gauge", "gage"], &["abs", "a", "gauge", "g"], &["a", "g"])
        }
        Measure::PressureDifference => {
            format!("({unit}|{})", referred(&unit, &["gauge", "gage"], &["gauge", "g"], &["g"]))
        }
        _ => unit,
    };
    let optional = if bare { "?" } else { "" };
    let pattern = format!(r"^\s*{number}\s*{value}(\s*(±|\+/?-)\s*{number}\s*({units}|%){optional})?\s*$");
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

/// A unit with what a pressure is counted from: as a word, in brackets, or as a letter at the end of the unit.
fn referred(unit: &str, words: &[&str], brackets: &[&str], letters: &[&str]) -> String {
    let joined = format!("(psi|m?bar|kPa)({})", letters.join("|"));
    format!(r"({unit}(\s+({})|\s*\(({})\))|{joined})", words.join("|"), brackets.join("|"))
}

/// A unit's name as a pattern, with the other ways to write raised figures, degrees and products.
fn spelt(name: &str) -> String {
    let mut pattern = String::with_capacity(name.len() + 8);
    let mut rest = name;
    while let Some(letter) = rest.chars().next() {
        if let Some(after) = rest.strip_prefix("deg") {
            pattern.push_str("(deg|°|º)");
            rest = after;
            continue;
        }
        match letter {
            '2' => pattern.push_str(r"\^?[2²]"),
            '3' => pattern.push_str(r"\^?[3³]"),
            ' ' => pattern.push_str("[ ·⋅×*.]"),
            '/' => pattern.push_str(" ?/ ?"),
            '%' => pattern.push('%'),
            _ if letter.is_alphanumeric() => pattern.push(letter),
            _ => {
                pattern.push('\\');
                pattern.push(letter);
            }
        }
        rest = rest.get(letter.len_utf8()..).unwrap_or_default();
    }
    pattern
}

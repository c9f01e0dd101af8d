//! A rule file as it is written. These types are also its schema, and their comments its manual.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt;
use std::marker::PhantomData;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde::de::{self, Deserializer, MapAccess, Visitor};

use crate::tract::SubjectKind;

/// A rule: one question about an air path, asked of every subject it is bound to.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct RuleFile {
    /// The rule's name, the same as that of its file. It names what is wrong, never the cure, in small letters with
    /// hyphens. Once given it is never used for another rule.
    pub id: String,
    /// The family it belongs to, the same as the folder it lies in.
    pub family: String,
    /// Whether it is asked.
    pub status: Status,
    /// Whether it finds faults by itself or hands the question to a person.
    pub kind: RuleKind,
    /// How heavily a finding weighs. A rule that hands the question to a person has the level `note`.
    pub level: Level,
    /// One line that says what is wrong, without a full stop.
    pub title: String,
    /// What the rule is asked of; in expressions and places this is called `it`.
    #[schemars(schema_with = "subject_words")]
    pub for_each: String,
    /// A condition, in quotes: where it is not so, the rule does not apply. It needs `does-not-apply` beside it.
    pub applies_when: Option<String>,
    /// Why the rule does not apply where `applies-when` is not so: a clause a person reads, without a full stop.
    pub does_not_apply: Option<String>,
    /// The rule's thresholds by name. Names have hyphens here and underscores in expressions: `clear-length` is
    /// `limits.clear_length`. A house or a build can change each of them.
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, LimitEntry>")]
    pub limits: InOrder<LimitEntry>,
    /// A condition, in quotes: where it is so, the fault is there.
    pub fails_when: String,
    /// A rule of thumb, in quotes: a condition that decides when `fails-when` cannot be decided for want of data. Its
    /// level is the same, and the result says that it spoke.
    pub fallback: Option<String>,
    /// The rules that say nothing about the same subject when this one has found its fault, so that one fault makes one
    /// finding. A rule about relief valves silences rules about compressors for those whose air the valve lets out.
    #[serde(default)]
    pub silences: Vec<String>,
    /// The places of the description that a finding marks, the main one first.
    pub places: Vec<PlaceEntry>,
    /// What may be changed to make the rule pass. How far is found by trying, and proved by reviewing the changed build.
    #[serde(default)]
    pub cures: Vec<CureEntry>,
    /// What to aim for, beyond what the cures say.
    pub advice: Option<String>,
    /// What happens in the air, from first causes, in words an apprentice follows.
    pub why: String,
    /// Published sources of the reasoning.
    #[serde(default)]
    pub sources: Vec<String>,
    /// What to be careful of.
    #[serde(default)]
    pub cautions: Vec<String>,
    /// Changes of an example build, each with what the rule comes to. They are run as tests and shown as examples.
    #[serde(default)]
    pub cases: Vec<CaseEntry>,
}

/// Whether a rule is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Being written: checked and tested, not asked.
    Draft,
    /// Asked of every build.
    InForce,
    /// Not asked any more; kept so that its name is not used again.
    Withdrawn,
}

/// Whether a rule finds faults by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RuleKind {
    /// Where the condition holds the build is at fault.
    Fail,
    /// Where the condition holds a person has to judge; no computation can settle it.
    Review,
}

/// How heavily a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Worth knowing.
    Note,
    /// It will work, but not well or not for long.
    Warning,
    /// It will not work, or it will break something.
    Error,
}

impl Level {
    /// Its word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// A threshold with its source: either one `value`, or `by` a word with `values` for the words.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct LimitEntry {
    /// The quantity, with its unit.
    pub value: Option<Quantity>,
    /// What gives the word that picks the value, as `it.region`.
    pub by: Option<String>,
    /// The quantities by word. For a word that is not listed the limit is not known.
    #[schemars(with = "Option<BTreeMap<String, Quantity>>")]
    pub values: Option<InOrder<Quantity>>,
    /// The published source, or `common practice, no source`; whether it is from memory.
    pub source: String,
}

/// The entries of a table in the order of the text.
#[derive(Clone, Debug)]
pub struct InOrder<T>(pub Vec<(String, T)>);

impl<T> Default for InOrder<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for InOrder<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Entries<T> {
            type Value = InOrder<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<InOrder<T>, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = map.next_entry()? {
                    entries.push(entry);
                }
                Ok(InOrder(entries))
            }
        }
        deserializer.deserialize_map(Entries(PhantomData))
    }
}

/// A quantity as text with its unit, as `6 diameters`; a pure number may stand as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity(pub String);

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Any;
        impl Visitor<'_> for Any {
            type Value = Quantity;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a quantity with its unit")
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<Quantity, E> {
                Ok(Quantity(text.to_owned()))
            }

            fn visit_i64<E: de::Error>(self, number: i64) -> Result<Quantity, E> {
                Ok(Quantity(number.to_string()))
            }

            fn visit_u64<E: de::Error>(self, number: u64) -> Result<Quantity, E> {
                Ok(Quantity(number.to_string()))
            }

            fn visit_f64<E: de::Error>(self, number: f64) -> Result<Quantity, E> {
                Ok(Quantity(number.to_string()))
            }
        }
        deserializer.deserialize_any(Any)
    }
}

impl JsonSchema for Quantity {
    fn schema_name() -> Cow<'static, str> {
        "Quantity".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A quantity as text with its unit, as `6 diameters`; a pure number may stand as it is.",
            "type": ["string", "number"]
        })
    }
}

/// A place that a finding marks.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct PlaceEntry {
    /// Where: a route from the subject, as `it.tap.at`, from the build, as `build.boost`, or along a link, as
    /// `it.host`. A field that is not given is marked at the nearest place above it that is.
    pub at: String,
    /// What of the entry is marked; the value if nothing is said.
    pub part: Option<PartWord>,
    /// A fact: within the table at this place the entry of the engine speed at which that fact is worst is marked.
    pub entry_for: Option<String>,
    /// What stands at the mark. Values stand in double braces, numbers with unit and digits:
    /// `{{ it.host_bore | mm 1 }}`.
    pub says: String,
    /// The part the place plays: if nothing is said, the first place is the main one and the others take part.
    pub role: Option<RoleWord>,
}

/// What of an entry is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PartWord {
    /// Its key.
    Key,
    /// Its value.
    Value,
    /// Both.
    Whole,
}

/// The part a place plays in a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RoleWord {
    /// The place that the finding is filed under.
    Main,
    /// A place that takes part.
    Also,
}

/// What may be changed to make the rule pass: one of `vary`, `set` and `cap`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct CureEntry {
    /// The number that is varied over its usual range, as `it.tap.at`.
    pub vary: Option<String>,
    /// The word that is exchanged for another, as `it.tap.part`.
    pub set: Option<String>,
    /// With `set`: the words it may become, as a list, or `parts in region charge`.
    pub among: Option<AmongEntry>,
    /// The table whose entries are cut at a value, as `build.boost`.
    pub cap: Option<String>,
    /// With `cap`: the engine speed below which entries are cut, as an expression.
    pub below: Option<String>,
    /// With `vary`: whether it takes another part, as a higher rating does. Then it is shown, and never written into the text.
    #[serde(default)]
    pub another_part: bool,
    /// What is said of it; `by` is how far the field goes and `to` where it arrives, as `{{ by | mm 0 }}`.
    pub says: String,
}

/// The words a field may become.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum AmongEntry {
    /// These.
    Words(Vec<String>),
    /// `parts in region …`
    Parts(String),
}

/// A change of an example build, with what the rule comes to.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct CaseEntry {
    /// What is special about it, in a few words.
    pub name: String,
    /// The example that is changed, by its file's name without ending; the starter build if nothing is said. In a rule of
    /// a house it is a build below the house's root, by its way from there, without ending.
    pub base: Option<String>,
    /// What is put where, by whole routes: `{ parts.relief.tap.at: 60 mm }`.
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, serde_json::Value>")]
    pub change: BTreeMap<String, serde_yaml::Value>,
    /// What is taken away after that, by whole routes.
    #[serde(default)]
    pub remove: Vec<String>,
    /// How the compressor's map is scaled.
    pub map_adjust: Option<MapAdjust>,
    /// What the rule comes to: of all its subjects there the gravest outcome (in the order `fail`, `review`, `open`,
    /// `pass`, `not-applicable`), before other rules silence it; `silenced` is meant with all rules.
    pub expect: Expect,
}

/// How a compressor map is scaled.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct MapAdjust {
    /// Every flow is taken this many times.
    #[schemars(range(min = 0.01, max = 100))]
    pub flow: f64,
}

/// What a rule comes to in a case.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Expect {
    /// The fault is not there.
    Pass,
    /// The fault is there.
    Fail,
    /// The description says too little.
    Open,
    /// The question does not arise.
    NotApplicable,
    /// A person has to judge.
    Review,
    /// Another rule has spoken for the same subject.
    Silenced,
}

impl Expect {
    /// Its word in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Open => "open",
            Self::NotApplicable => "not-applicable",
            Self::Review => "review",
            Self::Silenced => "silenced",
        }
    }
}

fn subject_words(_: &mut SchemaGenerator) -> Schema {
    let words: Vec<&str> = SubjectKind::ALL.iter().map(|kind| kind.word()).collect();
    json_schema!({ "type": "string", "enum": words })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_schema_explains_every_key() {
        let schema = schemars::schema_for!(RuleFile);
        let schema = schema.as_value();
        let definitions = schema["$defs"].as_object().expect("the schema has parts");
        let tables = definitions.values().chain([schema]);
        let keys: Vec<_> = tables.filter_map(|table| table["properties"].as_object()).flatten().collect();
        assert!(keys.len() > 30, "{}", keys.len());
        for (key, described) in keys {
            assert!(described["description"].is_string(), "{key}");
        }
        assert_eq!(schema["additionalProperties"], false);
        assert_eq!(
            schema["properties"]["for-each"]["enum"].as_array().map(Vec::len),
            Some(SubjectKind::ALL.len())
        );
    }
}

//! The house file: what a repository of builds decides for all of them.
//!
//! It is read by the machinery that reads builds, so that all its faults are told at their places in one pass. Whether
//! the rules and limits that it names exist is looked at once the rules are known, see [`super::Policy`].

mod fields;

use std::collections::BTreeMap;
use std::sync::Arc;

use globset::{GlobBuilder, GlobSet, GlobSetBuilder};
use schemars::{Schema, SchemaGenerator};

pub use fields::HouseLevel;
use fields::{ClampEntry, HouseTop, MaterialEntry};

use crate::build::changed::{self, ChangedByHouse, ChangedLimit, words_of};
use crate::build::describe::{Reading, Table, table_schema};
use crate::build::files::Files;
use crate::build::hoses::{Clamp, Named, NamedList};
use crate::build::scalars::{Count, List, Q, Text};
use crate::known::{Field, Overrides, State, Unrecorded};
use crate::rules::Level;
use crate::text::{Fault, FaultKind, FileId, Node, Part, Route, Source, Span, mark};

/// A rule's level that the house changes.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangedLevel {
    /// The rule.
    pub rule: Arc<str>,
    /// Its level here.
    pub level: HouseLevel,
    /// The level in the rule's own file; none until the rules are known.
    pub own: Option<Level>,
    /// Why.
    pub because: Arc<str>,
    /// The place of the rule's name.
    pub span: Span,
}

/// A row of a table of the house: values as written, by name.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The material or the clamp.
    pub name: Arc<str>,
    /// The values: field, value in SI units, as written.
    pub values: Vec<(&'static str, f64, String)>,
    /// Where they come from.
    pub source: Arc<str>,
}

/// What the path of a file says of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counts {
    /// It is a build.
    Build,
    /// It is none.
    No,
    /// Its text has to say.
    ByText,
    /// It belongs to the house: the house file itself, or a file of its rules.
    House,
}

/// A house file as read.
#[derive(Clone, Debug)]
pub struct House {
    /// Its text, under the name that is shown.
    pub source: Arc<Source>,
    /// Limits that it changes.
    pub limits: Vec<ChangedLimit>,
    /// Settings that it changes.
    pub settings: Overrides,
    /// Levels that it changes.
    pub levels: Vec<ChangedLevel>,
    /// The folders of its own rules, each with its place.
    pub rules: Vec<(Arc<str>, Span)>,
    /// Those who may accept findings; anybody where it says nothing.
    pub who_may_accept: Option<Vec<Arc<str>>>,
    /// Patterns of what counts as a build.
    pub include: Option<Patterns>,
    /// Patterns of what does not.
    pub exclude: Patterns,
    /// What materials stand.
    pub materials: Vec<Row>,
    /// What clamps hold.
    pub clamps: Vec<Row>,
    /// What is wrong with it, by place.
    pub faults: Vec<Fault>,
    /// The places of its own keys, for what is told of the whole of them.
    keys: BTreeMap<Arc<str>, Span>,
}

/// Patterns of paths.
#[derive(Clone, Debug, Default)]
pub struct Patterns {
    /// As written.
    pub written: Vec<Arc<str>>,
    set: GlobSet,
}

/// A pattern of paths has at most so many bytes.
const MOST_PATTERN: usize = 200;

impl House {
    /// Reads a house file from its tree. Never stops at the first fault: what could be read is there.
    pub fn read(source: &Arc<Source>, root: &Arc<Node>, files: &Files) -> Self {
        let mut reading = Reading::new(files);
        let at = Route::root();
        let empty = crate::text::Map::default();
        let mut table =
            Table::of(root, &at, "a house file", &mut reading).unwrap_or_else(|| Table::over(&empty, &at));
        let top = HouseTop::from_table(&mut table, &mut reading);
        for key in ["limits", "settings"] {
            table.leave(key);
        }
        table.refuse_unknown_keys(&mut reading);
        match top.format.state(&Unrecorded) {
            State::Given(Count(1)) | State::Faulty => {}
            State::Given(Count(other)) => {
                let message = format!("format {other} is not known; this program reads format 1");
                reading.fault_at(FaultKind::Other, place(root, &at.key("format")), message, None);
            }
            State::Absent | State::SaidNone => {
                let span = mark(root, &at.key("format"), Part::Key).span;
                let help = Some("write `format: 1` at the top".to_owned());
                reading.fault_at(FaultKind::Missing, span, "the house file does not say its format", help);
            }
        }
        let limits = changed::read_limits::<ChangedByHouse>(root, &at, &mut reading);
        let settings = changed::read_settings::<ChangedByHouse>(root, &at, &mut reading);
        let levels = levels(&top, root, &mut reading);
        let builds = given(&top.builds);
        let patterns = |list: Option<&Field<List<Text>>>, key: &str, reading: &mut Reading<'_>| {
            let route = at.key("builds").key(key);
            list.and_then(given).map(|List(texts)| patterns(texts, root, &route, reading))
        };
        let include = patterns(builds.map(|builds| &builds.include), "include", &mut reading);
        let exclude = patterns(builds.map(|builds| &builds.exclude), "exclude", &mut reading);
        let materials = rows(&top.materials, root, &mut reading, |material| {
            vec![
                quantity("temperature-rating", &material.temperature_rating),
                quantity("modulus", &material.modulus),
                quantity("strength", &material.strength),
            ]
        });
        let clamps = rows(&top.clamps, root, &mut reading, |clamp| {
            vec![
                quantity("rolled", &clamp.rolled),
                quantity("welded", &clamp.welded),
                quantity("without-bead", &clamp.without_bead),
            ]
        });
        clamp_names(&top, root, &mut reading);
        let rules = folders(&top, root, &mut reading);
        let who_may_accept = match top.who_may_accept.state(&Unrecorded) {
            State::Given(List(names)) => Some(names.iter().map(|Text(name)| name.clone()).collect()),
            State::SaidNone => Some(Vec::new()),
            State::Absent | State::Faulty => None,
        };
        let keys = root.as_map().into_iter().flatten().map(|entry| (entry.key.text.clone(), entry.key.span));
        let keys = keys.collect();
        let mut faults = reading.faults;
        faults.sort();
        faults.dedup();
        Self {
            source: source.clone(),
            limits,
            settings,
            levels,
            rules,
            who_may_accept,
            include,
            exclude: exclude.unwrap_or_default(),
            materials,
            clamps,
            faults,
            keys,
        }
    }

    /// What the path of a file below the root, with forward slashes, says of it.
    pub fn counts(&self, path: &str) -> Counts {
        let of_rules = |folder: &str| {
            path.strip_prefix(folder.trim_end_matches('/')).is_some_and(|rest| rest.starts_with('/'))
        };
        if path == crate::build::files::HOUSE_FILE || self.rules.iter().any(|(folder, _)| of_rules(folder)) {
            return Counts::House;
        }
        if self.exclude.set.is_match(path) {
            return Counts::No;
        }
        match &self.include {
            Some(include) if include.set.is_match(path) => Counts::Build,
            Some(_) => Counts::No,
            None => Counts::ByText,
        }
    }

    /// Whether this one may accept findings.
    pub fn may_accept(&self, name: &str) -> bool {
        self.who_may_accept.as_ref().is_none_or(|names| names.iter().any(|one| &**one == name))
    }

    /// The level that it gives a rule.
    pub fn level_of(&self, rule: &str) -> Option<&ChangedLevel> {
        self.levels.iter().find(|changed| &*changed.rule == rule)
    }

    /// Whether it switches a rule off.
    pub fn is_off(&self, rule: &str) -> bool {
        self.level_of(rule).is_some_and(|changed| changed.level == HouseLevel::Off)
    }

    /// The place of one of its keys; where it lacks that, its beginning.
    pub fn key(&self, key: &str) -> Span {
        let first = || self.keys.values().min().copied().unwrap_or(Span::new(FileId(0), 0, 1));
        self.keys.get(key).copied().unwrap_or_else(first)
    }

    /// The schema of a house file.
    pub fn schema(generator: &mut SchemaGenerator) -> Schema {
        let mut properties = HouseTop::properties(generator);
        for (key, own) in &mut properties {
            if *key == "format" {
                own.insert("const".to_owned(), 1.into());
            }
        }
        properties.extend(changed::properties::<ChangedByHouse>("this house", generator));
        let mut schema = table_schema(
            "What a repository of builds decides for all of them: the file `tractwright.yaml` at its root.",
            properties,
        );
        schema.insert("required".to_owned(), serde_json::json!(["format"]));
        schema
    }
}

/// The JSON Schema (draft 2020-12) of a house file.
pub fn house_schema() -> Schema {
    crate::build::schema::whole(House::schema, "House file of a repository of descriptions of air paths")
}

fn given<T>(field: &Field<T>) -> Option<&T> {
    match field.state(&Unrecorded) {
        State::Given(value) => Some(value),
        _ => None,
    }
}

fn place(root: &Arc<Node>, route: &Route) -> Span {
    mark(root, route, Part::Value).span
}

fn key_place(root: &Arc<Node>, route: &Route) -> Span {
    mark(root, route, Part::Key).span
}

fn levels(top: &HouseTop, root: &Arc<Node>, reading: &mut Reading<'_>) -> Vec<ChangedLevel> {
    let mut levels = Vec::new();
    let Some(NamedList(list)) = given(&top.levels) else { return levels };
    for Named { name, route, fields } in list {
        let Some(entry) = fields else { continue };
        let span = key_place(root, route);
        match (given(&entry.level), words_of(&entry.because)) {
            (Some(level), Some(because)) => {
                levels.push(ChangedLevel { rule: name.clone(), level: *level, own: None, because, span });
            }
            // What stands there and cannot be read was told as it was read.
            _ if matches!(entry.level.state(&Unrecorded), State::Faulty) => {}
            _ => {
                let message =
                    format!("the level of `{name}` is changed without a level or without its reason");
                let help = Some("write { level: …, because: \"…\" }".to_owned());
                reading.fault_at(FaultKind::Missing, span, message, help);
            }
        }
    }
    levels
}

fn patterns(texts: &[Text], root: &Arc<Node>, route: &Route, reading: &mut Reading<'_>) -> Patterns {
    let mut builder = GlobSetBuilder::new();
    let mut written = Vec::new();
    for (index, Text(text)) in texts.iter().enumerate() {
        let glob = if text.len() > MOST_PATTERN {
            Err(format!("a pattern has at most {MOST_PATTERN} bytes"))
        } else {
            let made = GlobBuilder::new(text).literal_separator(true).build();
            made.map_err(|error| format!("this is no pattern of paths: {}", error.kind()))
        };
        match glob {
            Ok(glob) => {
                builder.add(glob);
                written.push(text.clone());
            }
            Err(message) => {
                let help = Some("write it as in builds/**/*.yaml".to_owned());
                reading.fault_at(FaultKind::Syntax, place(root, &route.index(index)), message, help);
            }
        }
    }
    match builder.build() {
        Ok(set) => Patterns { written, set },
        Err(error) => {
            let message = format!("these patterns cannot be used together: {}", error.kind());
            reading.fault_at(FaultKind::Syntax, key_place(root, route), message, None);
            Patterns::default()
        }
    }
}

/// The folders of rules: below the root, and not the root itself.
fn folders(top: &HouseTop, root: &Arc<Node>, reading: &mut Reading<'_>) -> Vec<(Arc<str>, Span)> {
    let mut folders = Vec::new();
    let Some(List(list)) = given(&top.rules) else { return folders };
    for (index, Text(folder)) in list.iter().enumerate() {
        let span = place(root, &Route::root().key("rules").index(index));
        let steps: Vec<&str> = folder.trim_end_matches('/').split('/').collect();
        if steps.iter().any(|step| matches!(*step, "" | "." | "..")) || folder.contains(['\\', '\0']) {
            let message = format!("{} is no folder below the root", crate::text::quoted(folder));
            let help = Some("write its way from the house file, as `rules` or `house/rules`".to_owned());
            reading.fault_at(FaultKind::File, span, message, help);
        } else {
            folders.push((folder.trim_end_matches('/').into(), span));
        }
    }
    folders
}

/// A value of a table of the house: its field, its value in SI units, and as written.
type Value = Option<(&'static str, f64, String)>;

fn quantity<M: crate::build::scalars::Measured>(name: &'static str, field: &Field<Q<M>>) -> Value {
    given(field).map(|q| (name, q.si(), q.quantity().written.to_string()))
}

fn rows<T>(
    field: &Field<NamedList<T>>,
    root: &Arc<Node>,
    reading: &mut Reading<'_>,
    values: impl Fn(&T) -> Vec<Value>,
) -> Vec<Row>
where
    T: Sourced,
{
    let mut rows = Vec::new();
    let Some(NamedList(list)) = given(field) else { return rows };
    for Named { name, route, fields } in list {
        let Some(entry) = fields else { continue };
        let values: Vec<_> = values(entry).into_iter().flatten().collect();
        let Some(source) = words_of(entry.source()) else {
            let message = format!("`{name}` does not say where its values come from");
            let help = Some("add source: \"…\", or `common practice, no source`".to_owned());
            reading.fault_at(FaultKind::Missing, key_place(root, route), message, help);
            continue;
        };
        rows.push(Row { name: name.clone(), values, source });
    }
    rows
}

/// An entry that says where it comes from.
trait Sourced {
    fn source(&self) -> &Field<Text>;
}

impl Sourced for MaterialEntry {
    fn source(&self) -> &Field<Text> {
        &self.source
    }
}

impl Sourced for ClampEntry {
    fn source(&self) -> &Field<Text> {
        &self.source
    }
}

/// Clamps are called as joints call them.
fn clamp_names(top: &HouseTop, root: &Arc<Node>, reading: &mut Reading<'_>) {
    let Some(NamedList(list)) = given(&top.clamps) else { return };
    let words: Vec<&str> = Clamp::WORDS.iter().copied().filter(|word| *word != Clamp::None.word()).collect();
    for named in list.iter().filter(|named| !words.contains(&&*named.name)) {
        let help = match crate::text::nearest(&named.name, words.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("there are {}", words.join(", ")),
        };
        let message = format!("`{}` is no kind of clamp", named.name);
        reading.fault_at(FaultKind::UnknownWord, key_place(root, &named.route), message, Some(help));
    }
}

#[cfg(test)]
mod tests;

//! Walks a build along the schema: what each of its fields may also say, what it leaves unsaid, what may be taken away.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use serde_json::Value as Json;
use tractwright::build::parts::PartKind;
use tractwright::text::{Change, Node, Op, Route, Value, scalar};

/// One thing said otherwise in a build.
pub struct Mutation {
    /// What is done, as it is told.
    pub what: String,
    /// Where.
    pub route: Route,
    /// The change that does it.
    pub change: Change,
}

/// What walks through several builds have met so far: a field that was said otherwise often enough is left alone.
#[derive(Default)]
pub struct Seen {
    /// How often each field of each kind of table was put in where it is left out.
    put_in: BTreeMap<String, usize>,
    /// How often it was said otherwise.
    otherwise: BTreeMap<String, usize>,
}

/// In so many builds a field is put in that they leave out: what it does it mostly does anywhere.
const PUT_IN: usize = 1;

/// So often a field is said otherwise in all.
const OTHERWISE: usize = 5;

/// A field is said otherwise on so many of a build's tables of one kind.
const OF_A_KIND: usize = 2;

/// So many other names at most are put in the place of one.
const NAMES: usize = 6;

/// The walk through one build.
pub struct Walk<'a> {
    schema: &'a Json,
    /// Names of the parts and hoses of the build: what else a field that names one may name.
    names: Vec<String>,
    seen: &'a mut Seen,
    /// Fields that were put in, by kind of table: once a build is enough.
    put_in: BTreeSet<String>,
    /// How often each field of each kind of table was met in this build.
    met: BTreeMap<String, usize>,
    /// What was found.
    pub found: Vec<Mutation>,
}

impl<'a> Walk<'a> {
    /// All that one field said otherwise makes of a build.
    pub fn through(schema: &'a Json, root: &Arc<Node>, seen: &'a mut Seen) -> Vec<Mutation> {
        let mut walk = Self::new(schema, root, seen);
        walk.node(root, &Route::root(), &[schema], None);
        walk.found
    }

    /// All that a part of a kind that the build lacks, with one thing said of it, makes of it.
    pub fn adding(schema: &'a Json, root: &Arc<Node>, seen: &'a mut Seen) -> Vec<Mutation> {
        let parts = root.get("parts").and_then(|node| node.as_map()).into_iter().flatten();
        let there: Vec<&str> = parts.filter_map(|part| part.value.get("kind")?.as_text()).collect();
        let mut walk = Self::new(schema, root, seen);
        let at = Route::root().key("parts").key("added");
        let part = &schema["properties"]["parts"]["additionalProperties"];
        for kind in PartKind::ALL.iter().map(|kind| kind.word()).filter(|kind| !there.contains(kind)) {
            let mut flat = Vec::new();
            walk.flat(part, Some(kind), &mut flat);
            let before = walk.found.len();
            walk.unsaid(&scalar(""), &at, &flat, Some(kind));
            for mutation in walk.found.iter_mut().skip(before) {
                mutation.what = format!("added {kind}, {}", mutation.what);
                mutation.change.0.insert(0, Op::Set(at.key("kind"), scalar(kind)));
            }
        }
        walk.found
    }

    fn new(schema: &'a Json, root: &Arc<Node>, seen: &'a mut Seen) -> Self {
        let named = |table: &str| {
            let entries = root.get(table).and_then(|node| node.as_map()).into_iter().flatten();
            entries.map(|entry| entry.key.text.to_string()).collect::<Vec<_>>()
        };
        let names = [vec!["air".to_owned()], named("parts"), named("hoses")].concat();
        let (put_in, met, found) = (BTreeSet::new(), BTreeMap::new(), Vec::new());
        Self { schema, names, seen, put_in, met, found }
    }

    fn push(&mut self, route: &Route, to: &str) {
        let change = Change::set(route.clone(), scalar(to));
        self.found.push(Mutation { what: format!("{route}: {to}"), route: route.clone(), change });
    }

    fn take(&mut self, route: &Route) {
        let change = Change(vec![Op::Remove(route.clone())]);
        self.found.push(Mutation { what: format!("without {route}"), route: route.clone(), change });
    }

    /// A schema with all that it refers to and is made of, as far as it is of this kind of part.
    fn flat(&self, schema: &'a Json, kind: Option<&str>, out: &mut Vec<&'a Json>) {
        let schema = match schema["$ref"].as_str().and_then(|name| name.strip_prefix("#/$defs/")) {
            Some(name) => &self.schema["$defs"][name.replace("~1", "/")],
            None => schema,
        };
        let of = schema["properties"]["kind"]["const"].as_str();
        if of.is_some() && of != kind {
            return;
        }
        out.push(schema);
        let alternatives = ["anyOf", "oneOf", "allOf"];
        for below in alternatives.iter().filter_map(|key| schema[*key].as_array()).flatten() {
            self.flat(below, kind, out);
        }
    }

    fn node(
        &mut self,
        node: &Arc<Node>,
        at: &Route,
        schemas: &[&'a Json],
        usual: Option<(&'a str, &'a str)>,
    ) {
        let kind = node.get("kind").and_then(|kind| kind.as_text());
        let mut flat = Vec::new();
        for schema in schemas {
            self.flat(schema, kind, &mut flat);
        }
        match &node.value {
            Value::Scalar(written) => self.otherwise(at, Some(&*written.text), &flat, usual),
            Value::List(items) => {
                let below: Vec<&Json> =
                    flat.iter().map(|schema| &schema["items"]).filter(|s| s.is_object()).collect();
                for (index, item) in items.iter().enumerate() {
                    self.node(item, &at.index(index), &below, None);
                    self.take(&at.index(index));
                    if index + 1 == items.len() {
                        let again = Change::set(at.index(items.len()), Arc::clone(item));
                        self.found.push(Mutation {
                            what: format!("{at}: the last twice"),
                            route: at.clone(),
                            change: again,
                        });
                    }
                    if let Some(next) = items.get(index + 1) {
                        let swapped = [(index, next), (index + 1, item)];
                        let ops = swapped.map(|(to, item)| Op::Set(at.index(to), Arc::clone(item)));
                        self.found.push(Mutation {
                            what: format!("{at}: {index} and {} swapped", index + 1),
                            route: at.clone(),
                            change: Change(ops.into()),
                        });
                    }
                }
            }
            Value::Map(map) => {
                let table = table_of(&flat, kind);
                for entry in map.iter() {
                    let key = &*entry.key.text;
                    if entry.value.as_scalar().is_some() {
                        let met = self.met.entry(format!("{table} {key}")).or_default();
                        *met += 1;
                        let all = self.seen.otherwise.entry(format!("{table} {key}")).or_default();
                        *all += 1;
                        if *met > OF_A_KIND || *all > OTHERWISE {
                            continue;
                        }
                    }
                    let route = at.key(key);
                    let (below, of) = entries(&flat, key);
                    self.node(&entry.value, &route, &below, of.or(usual));
                    self.take(&route);
                }
                self.turned(node, at);
                self.unsaid(node, at, &flat, kind);
            }
        }
    }

    /// What runs from one place to another, the other way.
    fn turned(&mut self, node: &Node, at: &Route) {
        if let (Some(from), Some(to)) = (node.get("from"), node.get("to")) {
            let ops =
                [("from", to), ("to", from)].map(|(key, value)| Op::Set(at.key(key), Arc::clone(value)));
            self.found.push(Mutation {
                what: format!("{at}: from and to swapped"),
                route: at.clone(),
                change: Change(ops.into()),
            });
        }
    }

    /// What a table leaves unsaid, said; of a table within it, one thing at a time.
    fn unsaid(&mut self, node: &Node, at: &Route, flat: &[&'a Json], kind: Option<&str>) {
        let keys: Vec<&'a String> = flat
            .iter()
            .filter_map(|schema| schema["properties"].as_object())
            .flat_map(|map| map.keys())
            .collect();
        let table = table_of(flat, kind);
        for key in keys {
            if node.get(key).is_some() || !self.put_in.insert(format!("{table} {key}")) {
                continue;
            }
            let times = self.seen.put_in.entry(format!("{table} {key}")).or_default();
            *times += 1;
            if *times > PUT_IN {
                continue;
            }
            let (below, usual) = entries(flat, key);
            let mut of = Vec::new();
            for schema in below {
                self.flat(schema, None, &mut of);
            }
            self.otherwise(&at.key(key), None, &of, usual);
            let within: Vec<&'a String> = of
                .iter()
                .filter_map(|schema| schema["properties"].as_object())
                .flat_map(|map| map.keys())
                .collect();
            for inner in within {
                let (below, usual) = entries(&of, inner);
                let mut inmost = Vec::new();
                for schema in below {
                    self.flat(schema, None, &mut inmost);
                }
                self.otherwise(&at.key(key).key(inner), None, &inmost, usual);
            }
        }
    }

    /// What a scalar may also say: each word, both of yes and no, the ends of the usual range and a third of its upper
    /// end, half and twice what it says, each other name.
    fn otherwise(
        &mut self,
        at: &Route,
        written: Option<&str>,
        flat: &[&'a Json],
        usual: Option<(&'a str, &'a str)>,
    ) {
        let mut values: Vec<String> = Vec::new();
        for schema in flat {
            values.extend(
                schema["enum"].as_array().into_iter().flatten().filter_map(Json::as_str).map(str::to_owned),
            );
            values.extend(schema["const"].as_str().map(str::to_owned));
            match schema["type"].as_str() {
                Some("boolean") => values.extend(["true", "false"].map(str::to_owned)),
                Some("integer") => values.extend(["1", "2", "8"].map(str::to_owned)),
                Some("string") if schema["minLength"] == 1 => {
                    // A handful of names, over the whole table.
                    values.extend(self.names.iter().step_by(self.names.len() / NAMES + 1).cloned());
                }
                _ => {}
            }
        }
        let numbers = flat.iter().any(|schema| {
            schema["pattern"].is_string() || matches!(schema["type"].as_str(), Some("integer" | "number"))
        });
        if numbers {
            if let Some((low, high)) = usual {
                values.extend([low.to_owned(), high.to_owned()]);
                values.extend(scaled(high, 0.3));
            }
            if let Some(written) = written {
                values.extend([0.5, 2.0].iter().filter_map(|factor| scaled(written, *factor)));
            }
        }
        if written.is_some_and(|written| written.ends_with(".csv")) {
            values.extend(
                ["ill-formed", "without-reference"].map(|what| format!("maps/invented-a-{what}.csv")),
            );
        }
        values.sort();
        values.dedup();
        values.retain(|value| {
            Some(&**value) != written && value != "none" || written.is_some() && value == "none"
        });
        for value in values {
            self.push(at, &value);
        }
    }
}

/// The schemas of an entry, and the usual range that one of them tells.
fn entries<'a>(flat: &[&'a Json], key: &str) -> (Vec<&'a Json>, Option<(&'a str, &'a str)>) {
    let own: Vec<&'a Json> = flat.iter().filter_map(|schema| schema["properties"].get(key)).collect();
    let found = if own.is_empty() {
        flat.iter().map(|schema| &schema["additionalProperties"]).filter(|s| s.is_object()).collect()
    } else {
        own
    };
    let usual = found.iter().find_map(|schema| {
        let said = schema["description"].as_str()?;
        let (_, range) = said.split_once("Usual range: ")?;
        range.trim_end_matches('.').split_once(" to ")
    });
    (found, usual)
}

/// A quantity as written, so many times as large.
fn scaled(written: &str, factor: f64) -> Option<String> {
    let end = written.find(|c: char| !(c.is_ascii_digit() || ".+-e".contains(c))).unwrap_or(written.len());
    let (number, unit) = written.split_at(end);
    let number: f64 = number.parse().ok()?;
    // Six places are more than any field is known to, and keep the text short.
    Some(format!("{}{}", (number * factor * 1e6).round() / 1e6, unit.split(['±', '+']).next()?.trim_end()))
}

/// What kind of table this is: tables of one kind have the same fields.
fn table_of(flat: &[&Json], kind: Option<&str>) -> String {
    let keys = flat.iter().filter_map(|schema| schema["properties"].as_object()).flat_map(|map| map.keys());
    kind.map_or_else(|| format!("{:?}", keys.collect::<Vec<_>>()), str::to_owned)
}

//! What several tests of this room share: texts to try, and ways through a tree.

use super::parse::{Limits, Parsed, parse};
use super::route::Route;
use super::span::FileId;
use super::tree::{Node, Value};
use proptest::prelude::*;
use std::sync::Arc;

/// Reads a text as file 0 within the usual limits.
pub fn read(text: &str) -> Parsed {
    parse(FileId(0), text, &Limits::default())
}

/// The tree of a text that has no faults.
pub fn tree(text: &str) -> Arc<Node> {
    let parsed = read(text);
    assert_eq!(parsed.faults, [], "{text}");
    parsed.root.expect("the text says something")
}

pub fn route(text: &str) -> Route {
    text.parse().unwrap_or_else(|fault| panic!("{text}: {fault}"))
}

/// Every route of a tree.
pub fn all_routes(node: &Node) -> Vec<Route> {
    fn go(node: &Node, at: &Route, all: &mut Vec<Route>) {
        all.push(at.clone());
        match &node.value {
            Value::Scalar(_) => {}
            Value::List(list) => {
                for (index, entry) in list.iter().enumerate() {
                    go(entry, &at.index(index), all);
                }
            }
            Value::Map(map) => {
                for entry in map {
                    go(&entry.value, &at.key(&entry.key.text), all);
                }
            }
        }
    }
    let mut all = Vec::new();
    go(node, &Route::root(), &mut all);
    all
}

/// Text put together from what YAML is made of, mostly not well-formed.
pub fn noise() -> impl Strategy<Value = String> {
    let bit = prop::sample::select(vec![
        "a",
        "b",
        "c",
        "name",
        "é",
        "µ²",
        "🚗",
        "1",
        "-5",
        "~",
        "null",
        ": ",
        ":",
        ":\n",
        "\n",
        "\n  ",
        "\n    ",
        "\r\n",
        "- ",
        "-",
        "[",
        "]",
        "{",
        "}",
        ", ",
        ",",
        "'",
        "\"",
        "\\",
        "# c\n",
        " #",
        "&x ",
        "&y ",
        "*x",
        "*y",
        "<<",
        "? ",
        "|\n",
        ">\n",
        "!t ",
        "---\n",
        "...\n",
        "%A\n",
        "\t",
        " ",
        "@",
        "\u{feff}",
        "no",
        "yes",
        "a: 1\n",
        "b: {c: d}\n",
        "  - e\n",
        "a: &x [1]\n",
        "b: *x\n",
    ]);
    prop::collection::vec(bit, 0..24).prop_map(|bits| bits.concat())
}

/// A value to write as YAML.
#[derive(Clone, Debug)]
pub enum Sketch {
    Text(String),
    List(Vec<Sketch>),
    Table(Vec<(String, Sketch)>),
}

/// Values of a few levels, in any style.
pub fn sketch() -> impl Strategy<Value = Sketch> {
    let word = prop_oneof!["[a-z]{1,6}(-[a-z]{1,4})?", "[0-9]{1,4}( mm| kPa abs| %)?", "[ -~é°²]{0,12}",];
    let key = prop_oneof!["[a-z]{1,5}", "[0-9]{1,4} rpm", "[ -~é]{0,6}"];
    let leaf = word.prop_map(Sketch::Text);
    leaf.prop_recursive(4, 40, 5, move |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Sketch::List),
            prop::collection::vec((key.clone(), inner), 0..5).prop_map(|entries| {
                let mut seen = std::collections::HashSet::new();
                Sketch::Table(entries.into_iter().filter(|(key, _)| seen.insert(key.clone())).collect())
            }),
        ]
    })
}

impl Sketch {
    /// It as YAML, quotes round all text; in brackets from `depth` levels down.
    pub fn write(&self, blocks: usize) -> String {
        match self {
            Sketch::List(list) if blocks > 0 && !list.is_empty() => list
                .iter()
                .map(|entry| format!("-{}", entry.after_sign(blocks - 1)))
                .collect::<Vec<_>>()
                .join("\n"),
            Sketch::Table(entries) if blocks > 0 && !entries.is_empty() => entries
                .iter()
                .map(|(key, value)| format!("{}:{}", quote(key), value.after_sign(blocks - 1)))
                .collect::<Vec<_>>()
                .join("\n"),
            Sketch::Text(text) => quote(text),
            Sketch::List(list) => {
                let entries: Vec<String> = list.iter().map(|entry| entry.write(0)).collect();
                format!("[{}]", entries.join(", "))
            }
            Sketch::Table(entries) => {
                let entries: Vec<String> = entries
                    .iter()
                    .map(|(key, value)| format!("{}: {}", quote(key), value.write(0)))
                    .collect();
                format!("{{{}}}", entries.join(", "))
            }
        }
    }

    /// It as YAML after a dash or colon: on the same line, or indented below.
    fn after_sign(&self, blocks: usize) -> String {
        let text = self.write(blocks);
        let is_block = match self {
            Sketch::Text(_) => false,
            Sketch::List(list) => blocks > 0 && !list.is_empty(),
            Sketch::Table(entries) => blocks > 0 && !entries.is_empty(),
        };
        if is_block { format!("\n  {}", text.replace('\n', "\n  ")) } else { format!(" {text}") }
    }

    /// Whether a tree says the same.
    pub fn is(&self, node: &Node) -> bool {
        match (self, &node.value) {
            (Sketch::Text(text), Value::Scalar(scalar)) => **text == *scalar.text && !scalar.plain,
            (Sketch::List(list), Value::List(nodes)) => {
                list.len() == nodes.len() && list.iter().zip(nodes).all(|(one, two)| one.is(two))
            }
            (Sketch::Table(entries), Value::Map(map)) => {
                entries.len() == map.len()
                    && entries
                        .iter()
                        .zip(map)
                        .all(|((key, value), entry)| **key == *entry.key.text && value.is(&entry.value))
            }
            _ => false,
        }
    }
}

/// Text in double quotes.
fn quote(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

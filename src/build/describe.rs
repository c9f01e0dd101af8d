//! How a type of the description is read, shown in the schema and asked for its shape: one definition for all three.

use std::cmp::Ordering;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::files::Files;
use crate::known::{Field, State};
use crate::text::{
    Entry, Fault, FaultKind, Map, Measure, Node, Route, Scalar, Span, Step, Value, nearest, read_quantity,
};

/// What is gathered while a description is read: faults, names that must exist, text that nothing reads yet.
pub struct Reading<'f> {
    /// All faults found so far.
    pub faults: Vec<Fault>,
    /// Names that the text refers to; they are checked when everything named is known.
    pub references: Vec<Reference>,
    /// Keys that nothing reads: those of a part whose kind is not known.
    pub unread: Vec<Route>,
    /// The door to the files that the description names.
    pub files: &'f Files,
}

/// What a name in the text must be the name of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Referred {
    /// A part.
    Part,
    /// A hose.
    Hose,
}

/// A name in the text that must be the name of something described.
#[derive(Clone, Debug)]
pub struct Reference {
    /// What it names.
    pub to: Referred,
    /// Where the name is written.
    pub route: Route,
    /// Its place.
    pub span: Span,
    /// The name.
    pub name: Arc<str>,
}

impl Reference {
    /// A name that must be the name of a part.
    pub fn part(route: &Route, span: Span, name: &Arc<str>) -> Self {
        Self { to: Referred::Part, route: route.clone(), span, name: name.clone() }
    }
}

impl<'f> Reading<'f> {
    /// Nothing read yet.
    pub fn new(files: &'f Files) -> Self {
        Self { faults: Vec::new(), references: Vec::new(), unread: Vec::new(), files }
    }

    /// Notes a fault at a node: where it is used, when an alias brought it; where it is defined, when another file did.
    pub fn fault(&mut self, kind: FaultKind, node: &Node, message: impl Into<String>, help: Option<String>) {
        match node.used_at {
            Some(used_at) if used_at.file != node.span.file => {
                let also = vec![(used_at, "taken up here".to_owned())];
                self.faults.push(Fault { kind, span: node.span, message: message.into(), help, also });
            }
            _ => self.fault_at(kind, node.place(), message, help),
        }
    }

    /// Notes a fault at a place.
    pub fn fault_at(
        &mut self,
        kind: FaultKind,
        span: Span,
        message: impl Into<String>,
        help: Option<String>,
    ) {
        match self.faults.len().cmp(&self.files.limits().faults) {
            Ordering::Less => {
                self.faults.push(Fault { kind, span, message: message.into(), help, also: Vec::new() });
            }
            // One fault more says that it is the last; a text with so many is not read by anyone.
            Ordering::Equal => self.faults.push(Fault::new(kind, span, "there are more faults from here on")),
            Ordering::Greater => {}
        }
    }

    /// Whether further faults are no longer told.
    pub fn has_enough(&self) -> bool {
        self.faults.len() > self.files.limits().faults
    }
}

/// What a route below a described thing may hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shape {
    /// The measure, when it is a quantity.
    pub measure: Option<Measure>,
    /// Usual range as written in the description's types.
    pub usual: Option<(&'static str, &'static str)>,
}

impl Shape {
    /// Anything that is no quantity.
    pub const OTHER: Self = Self { measure: None, usual: None };
}

/// A type of the description.
pub trait Described: Sized + JsonSchema {
    /// Whether the word `none` is an ordinary value of this type and not the statement of absence.
    const NONE_IS_A_WORD: bool = false;

    /// Reads it. What cannot be read is told in `reading`; `None` when nothing useful is left.
    fn read(node: &Arc<Node>, at: &Route, reading: &mut Reading<'_>) -> Option<Self>;

    /// Checks a value against its field's usual range as far as that says what is possible at all: where the range does
    /// not reach below 0, nothing below 0 can be, and where it stays above 0, neither can 0; where it is in per cent and
    /// stays at or below the whole, nothing above 100 % can be. Tells a fault and answers false when the value is impossible.
    fn check(&self, _: &Arc<Node>, _: Option<(&str, &str)>, _: &mut Reading<'_>) -> bool {
        true
    }

    /// The shape of what stands at `steps` below it, if such a route can exist.
    fn shape(steps: &[Step], usual: Option<(&'static str, &'static str)>) -> Option<Shape>;
}

/// Whether a node is the plain word `none`.
pub fn says_none(node: &Node) -> bool {
    matches!(&node.value, Value::Scalar(Scalar { text, plain: true }) if &**text == "none")
}

/// A table being read: hands out its fields and tells of keys that nobody asked for.
pub struct Table<'n> {
    map: &'n Map,
    at: Route,
    what: String,
    asked: Vec<&'static str>,
}

impl<'n> Table<'n> {
    /// The table at a node, or a fault that says what stands there instead.
    pub fn of(node: &'n Arc<Node>, at: &Route, what: &str, reading: &mut Reading<'_>) -> Option<Self> {
        if let Some(map) = node.as_map() {
            return Some(Self { map, at: at.clone(), what: what.to_owned(), asked: Vec::new() });
        }
        let message = format!("{what} is a table of fields, but {} stands here", node.kind_word());
        reading.fault(FaultKind::WrongKind, node, message, None);
        None
    }

    /// A table over a map that was opened elsewhere.
    pub fn over(map: &'n Map, at: &Route) -> Self {
        Self { map, at: at.clone(), what: "a build".to_owned(), asked: Vec::new() }
    }

    /// Reads one field and remembers that its key exists.
    pub fn field<T: Described>(
        &mut self,
        key: &'static str,
        usual: Option<(&'static str, &'static str)>,
        reading: &mut Reading<'_>,
    ) -> Field<T> {
        self.asked.push(key);
        let route = self.at.key(key);
        let state = match self.map.get(key) {
            None => State::Absent,
            Some(entry) => read_entry(entry, &route, usual, reading),
        };
        Field::new(route, state)
    }

    /// Tells of every key that is not among those asked for, with the nearest name.
    pub fn refuse_unknown_keys(&self, reading: &mut Reading<'_>) {
        for entry in self.unknown() {
            if reading.has_enough() {
                return;
            }
            let help = match nearest(&entry.key.text, self.asked.iter().copied()) {
                Some(name) => format!("did you mean `{name}`?"),
                None => format!("keys here: {}", self.asked.join(", ")),
            };
            let message = format!("`{}` is not a key of {}", entry.key.text, self.place_words());
            reading.fault_at(FaultKind::UnknownKey, entry.key.span, message, Some(help));
        }
    }

    /// Keeps the keys that nobody asked for as text that is not read yet.
    pub fn keep_unknown_keys(&self, reading: &mut Reading<'_>) {
        for entry in self.unknown() {
            reading.unread.push(self.at.key(&entry.key.text));
        }
    }

    /// Marks a key as known without reading it here.
    pub fn leave(&mut self, key: &'static str) {
        self.asked.push(key);
    }

    fn place_words(&self) -> String {
        if self.at.is_root() { self.what.clone() } else { format!("`{}`", self.at) }
    }

    fn unknown(&self) -> impl Iterator<Item = &'n Entry> + '_ {
        self.map.iter().filter(|entry| !self.asked.contains(&&*entry.key.text))
    }
}

fn read_entry<T: Described>(
    entry: &Entry,
    route: &Route,
    usual: Option<(&str, &str)>,
    reading: &mut Reading<'_>,
) -> State<T> {
    let node = &entry.value;
    if !T::NONE_IS_A_WORD && says_none(node) {
        return State::SaidNone;
    }
    if node.is_null() && node.used_at.is_some() {
        // An alias without its anchor: the parser has told that already.
        return State::Faulty;
    }
    if node.as_scalar().is_some_and(Scalar::is_null) {
        let message = format!("nothing stands behind `{}`", entry.key.text);
        let help = Some(
            "write its value, take the line out, or write `none` when it is known to be absent".to_owned(),
        );
        reading.fault_at(FaultKind::Missing, entry.key.span, message, help);
        return State::Faulty;
    }
    match T::read(node, route, reading) {
        Some(value) if value.check(node, usual, reading) => State::Given(value),
        _ => State::Faulty,
    }
}

/// A property of a schema: the type's own schema, its description, and the word `none` where that states absence.
pub fn property<T: Described>(
    generator: &mut SchemaGenerator,
    doc: &str,
    usual: Option<(&str, &str)>,
) -> Schema {
    let own = generator.subschema_for::<T>();
    let mut doc = doc.trim().to_owned();
    if let Some((low, high)) = usual {
        doc.push_str(&format!(" Usual range: {low} to {high}."));
    }
    let mut schema = if T::NONE_IS_A_WORD {
        json_schema!({ "description": doc, "allOf": [own] })
    } else {
        json_schema!({ "description": doc, "anyOf": [own, { "const": "none" }] })
    };
    if usual.is_some_and(|(_, high)| is_of_shares(high)) {
        // Bare numbers, alone or in a table; what is written in per cent only the reader sees.
        schema.insert("maximum".to_owned(), 1.into());
        schema.insert("additionalProperties".to_owned(), serde_json::json!({ "maximum": 1 }));
    }
    schema
}

/// Whether a usual range that ends here is that of a share: in per cent, and no more than the whole.
pub fn is_of_shares(high: &str) -> bool {
    read_quantity(high, Measure::Ratio).is_ok_and(|most| high.ends_with('%') && most.si <= 1.0)
}

/// Defines a table of the description: its fields, their reading, their schema, their usual ranges.
///
/// Keys are the field names with hyphens. `[low, high]` behind a type is its usual range.
macro_rules! described {
    ($(
        $(#[doc = $doc:literal])*
        pub struct $name:ident ($what:literal) {
            $(
                $(#[doc = $field_doc:literal])*
                $field:ident = $key:literal : $type:ty $([$low:literal, $high:literal])?,
            )*
        }
    )*) => {$(
        $(#[doc = $doc])*
        #[derive(Clone, Debug)]
        pub struct $name {
            $(
                $(#[doc = $field_doc])*
                pub $field: $crate::known::Field<$type>,
            )*
        }

        impl $name {
            /// Reads the fields of an opened table, leaving other keys alone.
            pub fn from_table(
                table: &mut $crate::build::describe::Table<'_>,
                reading: &mut $crate::build::describe::Reading<'_>,
            ) -> Self {
                Self { $( $field: table.field::<$type>(
                    $key,
                    $crate::build::describe::usual_range!($([$low, $high])?),
                    reading,
                ), )* }
            }

            /// The schema's properties, by key.
            pub fn properties(
                generator: &mut schemars::SchemaGenerator,
            ) -> Vec<(&'static str, schemars::Schema)> {
                vec![$((
                    $key,
                    $crate::build::describe::property::<$type>(
                        generator,
                        concat!($($field_doc),*),
                        $crate::build::describe::usual_range!($([$low, $high])?),
                    ),
                ),)*]
            }
        }

        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
                let properties = Self::properties(generator);
                $crate::build::describe::table_schema(concat!($($doc),*), properties)
            }
        }

        impl $crate::build::describe::Described for $name {
            fn read(
                node: &std::sync::Arc<$crate::text::Node>,
                at: &$crate::text::Route,
                reading: &mut $crate::build::describe::Reading<'_>,
            ) -> Option<Self> {
                let mut table = $crate::build::describe::Table::of(node, at, $what, reading)?;
                let value = Self::from_table(&mut table, reading);
                table.refuse_unknown_keys(reading);
                Some(value)
            }

            fn shape(
                steps: &[$crate::text::Step],
                usual: Option<(&'static str, &'static str)>,
            ) -> Option<$crate::build::describe::Shape> {
                let Some((first, rest)) = steps.split_first() else {
                    return Some($crate::build::describe::Shape { measure: None, usual });
                };
                let $crate::text::Step::Key(key) = first else { return None };
                match &**key {
                    $($key => <$type as $crate::build::describe::Described>::shape(
                        rest,
                        $crate::build::describe::usual_range!($([$low, $high])?),
                    ),)*
                    _ => None,
                }
            }
        }
    )*};
}
pub(crate) use described;

/// The usual range of a field, if one is written behind its type.
macro_rules! usual_range {
    () => {
        None
    };
    ([$low:literal, $high:literal]) => {
        Some(($low, $high))
    };
}
pub(crate) use usual_range;

/// The schema of a table that takes no other keys.
pub fn table_schema(doc: &str, properties: Vec<(&'static str, Schema)>) -> Schema {
    let properties: serde_json::Map<String, serde_json::Value> =
        properties.into_iter().map(|(key, schema)| (key.to_owned(), schema.to_value())).collect();
    json_schema!({
        "type": "object",
        "description": doc.trim(),
        "properties": properties,
        "additionalProperties": false,
    })
}

/// Defines a set of words that a field may hold.
macro_rules! words {
    ($(
        $(#[doc = $doc:literal])*
        pub enum $name:ident ($what:literal) {
            $( $(#[doc = $word_doc:literal])* $variant:ident = $word:literal, )*
        }
    )*) => {$(
        $(#[doc = $doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $( $(#[doc = $word_doc])* $variant, )*
        }

        impl $name {
            /// All words, in the order of the description.
            pub const WORDS: &'static [&'static str] = &[$($word),*];

            /// Its word.
            pub fn word(self) -> &'static str {
                match self { $( Self::$variant => $word, )* }
            }

            /// The value of a word.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $( $word => Some(Self::$variant), )* _ => None }
            }
        }

        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "description": concat!($($doc),*).trim(), "enum": Self::WORDS })
            }
        }

        impl $crate::build::describe::Described for $name {
            const NONE_IS_A_WORD: bool = $crate::build::describe::has_none(Self::WORDS);

            fn read(
                node: &std::sync::Arc<$crate::text::Node>,
                _: &$crate::text::Route,
                reading: &mut $crate::build::describe::Reading<'_>,
            ) -> Option<Self> {
                let word = $crate::build::describe::word_of(node, $what, Self::WORDS, reading)?;
                Self::from_word(&word)
            }

            fn shape(
                steps: &[$crate::text::Step],
                usual: Option<(&'static str, &'static str)>,
            ) -> Option<$crate::build::describe::Shape> {
                steps.is_empty().then_some($crate::build::describe::Shape { measure: None, usual })
            }
        }
    )*};
}
pub(crate) use words;

/// Whether `none` is among the words.
pub const fn has_none(words: &[&str]) -> bool {
    let mut i = 0;
    while i < words.len() {
        let word = words[i].as_bytes();
        if word.len() == 4 && word[0] == b'n' && word[1] == b'o' && word[2] == b'n' && word[3] == b'e' {
            return true;
        }
        i += 1;
    }
    false
}

/// One of a few words, or a fault that names the nearest or all of them.
pub fn word_of(node: &Arc<Node>, what: &str, words: &[&str], reading: &mut Reading<'_>) -> Option<Arc<str>> {
    let Some(scalar) = node.as_scalar() else {
        let message = format!("{what} is one word, but {} stands here", node.kind_word());
        reading.fault(FaultKind::WrongKind, node, message, Some(format!("one of: {}", words.join(", "))));
        return None;
    };
    if words.contains(&&*scalar.text) {
        return Some(scalar.text.clone());
    }
    let help = match nearest(&scalar.text, words.iter().copied()) {
        Some(word) => format!("did you mean `{word}`?"),
        None => format!("one of: {}", words.join(", ")),
    };
    let message = format!("`{}` is not a word for {what}", scalar.text);
    reading.fault(FaultKind::UnknownWord, node, message, Some(help));
    None
}

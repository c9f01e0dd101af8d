//! The tree that YAML text is read into. Scalars stay text; whoever knows what is due decides what they mean.

use super::span::Span;
use std::collections::HashMap;
use std::sync::Arc;

/// A value in the text.
#[derive(Clone, Debug)]
pub struct Node {
    /// Where it is defined; never empty. A value that is left out is marked by the sign that announces it.
    pub span: Span,
    /// What it is.
    pub value: Value,
    /// The `*alias`, or the name of the other file, that brought it to this place of the tree.
    pub used_at: Option<Span>,
    /// Whether it is a list or table in brackets.
    pub flow: bool,
    /// Whether its definition lies on one line.
    pub one_line: bool,
}

/// Text, a list or a table.
#[derive(Clone, Debug)]
pub enum Value {
    /// Text, or nothing.
    Scalar(Scalar),
    /// A list.
    List(Vec<Arc<Node>>),
    /// A table.
    Map(Map),
}

/// Text as written, quotes and escapes resolved.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Scalar {
    /// The text; empty if the value was left out.
    pub text: Arc<str>,
    /// Whether it stood without quotes (and not as a block of text).
    pub plain: bool,
}

/// A table: entries in the order of the text, found by key.
#[derive(Clone, Debug, Default)]
pub struct Map {
    entries: Vec<Entry>,
    /// Present when there are too many entries to look through.
    index: Option<Arc<HashMap<Arc<str>, usize>>>,
}

/// One entry of a table.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Its key.
    pub key: Key,
    /// Its value.
    pub value: Arc<Node>,
}

/// The key of an entry.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Key {
    /// The key as text.
    pub text: Arc<str>,
    /// Where it stands; never empty.
    pub span: Span,
}

impl Scalar {
    /// Whether it means that nothing is given: left out, `~` or `null`, without quotes.
    pub fn is_null(&self) -> bool {
        self.plain && reads_as_null(&self.text)
    }
}

/// Whether plain text means nothing.
pub(super) fn reads_as_null(text: &str) -> bool {
    matches!(text, "" | "~" | "null" | "Null" | "NULL")
}

impl Node {
    /// The text, unless it is a list or table. Nothing (`~`) is a scalar too.
    pub fn as_scalar(&self) -> Option<&Scalar> {
        match &self.value {
            Value::Scalar(scalar) => Some(scalar),
            Value::List(_) | Value::Map(_) => None,
        }
    }

    /// The text itself, if it is text and not nothing.
    pub fn as_text(&self) -> Option<&str> {
        self.as_scalar().filter(|scalar| !scalar.is_null()).map(|scalar| &*scalar.text)
    }

    /// The entries of a list.
    pub fn as_list(&self) -> Option<&[Arc<Node>]> {
        match &self.value {
            Value::List(list) => Some(list),
            Value::Scalar(_) | Value::Map(_) => None,
        }
    }

    /// The table.
    pub fn as_map(&self) -> Option<&Map> {
        match &self.value {
            Value::Map(map) => Some(map),
            Value::Scalar(_) | Value::List(_) => None,
        }
    }

    /// The value of a key, if this is a table that has it.
    pub fn get(&self, key: &str) -> Option<&Arc<Node>> {
        Some(&self.as_map()?.get(key)?.value)
    }

    /// Whether nothing is given.
    pub fn is_null(&self) -> bool {
        self.as_scalar().is_some_and(Scalar::is_null)
    }

    /// What it is, for a message: "text", "a list", "a table" or "nothing".
    pub fn kind_word(&self) -> &'static str {
        match &self.value {
            Value::Scalar(scalar) if scalar.is_null() => "nothing",
            Value::Scalar(_) => "text",
            Value::List(_) => "a list",
            Value::Map(_) => "a table",
        }
    }

    /// Where it stands in the text that holds it: the alias if one brought it, else its own span.
    pub fn place(&self) -> Span {
        self.used_at.unwrap_or(self.span)
    }

    /// The same value, brought here by what stands at `used_at`.
    #[must_use]
    pub fn brought_by(&self, used_at: Span) -> Node {
        Node { used_at: Some(used_at), ..self.clone() }
    }

    /// Whether two trees say the same, wherever it stands. The order of a table's entries does not count, nor
    /// quotes, except round what would else be nothing.
    pub fn same_content(&self, other: &Node) -> bool {
        match (&self.value, &other.value) {
            (Value::Scalar(one), Value::Scalar(two)) => {
                one.is_null() == two.is_null() && (one.is_null() || one.text == two.text)
            }
            (Value::List(one), Value::List(two)) => {
                one.len() == two.len() && one.iter().zip(two).all(|(a, b)| a.same_content(b))
            }
            (Value::Map(one), Value::Map(two)) => {
                one.len() == two.len()
                    && one.iter().all(|entry| {
                        two.get(&entry.key.text).is_some_and(|twin| entry.value.same_content(&twin.value))
                    })
            }
            _ => false,
        }
    }
}

/// Up to this many entries a table is looked through; that is quicker than an index, and takes no memory.
const LOOKED_THROUGH: usize = 16;

impl Map {
    /// A table of these entries. Of entries with the same key only the first is found by [`Map::get`].
    pub fn new(entries: Vec<Entry>) -> Map {
        let index = (entries.len() > LOOKED_THROUGH).then(|| {
            let mut index = HashMap::with_capacity(entries.len());
            for (at, entry) in entries.iter().enumerate() {
                index.entry(Arc::clone(&entry.key.text)).or_insert(at);
            }
            Arc::new(index)
        });
        Map { entries, index }
    }

    /// The entry of a key.
    pub fn get(&self, key: &str) -> Option<&Entry> {
        self.entries.get(self.position(key)?)
    }

    /// At which place of the order the key stands.
    pub fn position(&self, key: &str) -> Option<usize> {
        match &self.index {
            Some(index) => index.get(key).copied(),
            None => self.entries.iter().position(|entry| &*entry.key.text == key),
        }
    }

    /// The entries in the order of the text.
    pub fn iter(&self) -> std::slice::Iter<'_, Entry> {
        self.entries.iter()
    }

    /// The entries in the order of the text.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// How many entries there are.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// The same with another value at a place of the order; unchanged if nothing stands there.
    #[must_use]
    pub fn with_value_at(&self, at: usize, value: Arc<Node>) -> Map {
        let mut map = self.clone();
        if let Some(entry) = map.entries.get_mut(at) {
            entry.value = value;
        }
        map
    }

    /// The same with one more entry at the end.
    #[must_use]
    pub fn with_entry(&self, entry: Entry) -> Map {
        Map::new(self.entries.iter().cloned().chain([entry]).collect())
    }

    /// The same without the entry at a place of the order.
    #[must_use]
    pub fn without(&self, at: usize) -> Map {
        let kept = self.entries.iter().enumerate();
        Map::new(kept.filter(|(place, _)| *place != at).map(|(_, entry)| entry.clone()).collect())
    }
}

impl<'a> IntoIterator for &'a Map {
    type Item = &'a Entry;
    type IntoIter = std::slice::Iter<'a, Entry>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

#[cfg(test)]
mod tests;

//! What the builder of the tree has in hand.

use crate::text::fault::Fault;
use crate::text::span::Span;
use crate::text::tree::{Entry, Key, Node};
use std::collections::HashMap;
use std::sync::Arc;

/// Reading cannot go on, because of this.
pub(super) struct Stop(pub(super) Fault);

/// A node with what it costs.
pub(super) struct Built {
    pub(super) node: Arc<Node>,
    /// How many nodes it is, those that aliases repeat counted each time.
    pub(super) weight: usize,
    /// How many lists and tables deep it is.
    pub(super) height: usize,
}

/// A list or table that is being read.
pub(super) struct Frame {
    pub(super) content: Content,
    pub(super) flow: bool,
    pub(super) start: usize,
    /// Where its last part so far ends.
    pub(super) end: usize,
    pub(super) anchor: usize,
    pub(super) weight: usize,
    pub(super) height: usize,
}

pub(super) enum Content {
    List(Vec<Arc<Node>>),
    Map { entries: Vec<Entry>, places: HashMap<Arc<str>, Span>, pending: Pending },
}

/// What a table has read of its next entry.
pub(super) enum Pending {
    Nothing,
    Key(Key),
    /// A list or table where a key should be: it is read to its end and dropped.
    RefusedKey,
    /// The value of a key that a fault was told about: it is read and dropped.
    RefusedValue,
}

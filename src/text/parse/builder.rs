//! The tree from the events of the parser. An explicit stack instead of recursion, and every cost counted before it
//! is paid.

mod aliases;

use super::frame::{Built, Content, Frame, Pending, Stop};
use super::{Limits, Parsed};
use super::{places, syntax};
use crate::text::fault::{Fault, FaultKind, quoted};
use crate::text::span::{FileId, Span};
use crate::text::tree::{Entry, Key, Map, Node, Scalar, Value, reads_as_null};
use granit_parser::{Event, Parser, ScalarStyle, StructureStyle, options};
use std::collections::HashMap;
use std::ops::Range;
use std::sync::Arc;

/// Reads a text that is known to be within the limit of bytes.
pub(super) fn build(file: FileId, text: &str, limits: &Limits) -> Parsed {
    let parser = Parser::new_from_str_with_options(
        text,
        options! {
            disallow_directives: true,
            block_scalar_eof_without_line_feed: true,
            emit_unresolved_aliases: true,
            emit_anchor_events: true,
            flow_nesting_limit: limits.depth,
            block_nesting_limit: limits.depth,
        },
    );
    let mut builder = Builder::new(file, text, limits);
    for event in parser {
        let goes_on = match event {
            Ok((event, span)) => builder.event(event, span),
            Err(error) => Err(Stop(syntax::fault(file, text, limits.depth, &error))),
        };
        if let Err(Stop(fault)) = goes_on {
            builder.faults.push(fault);
            break;
        }
    }
    builder.finish()
}

struct Builder<'a> {
    file: FileId,
    text: &'a str,
    limits: &'a Limits,
    stack: Vec<Frame>,
    anchors: HashMap<usize, Built>,
    anchor_names: Vec<String>,
    nodes: usize,
    documents: usize,
    root: Option<Arc<Node>>,
    faults: Vec<Fault>,
}

impl<'a> Builder<'a> {
    fn new(file: FileId, text: &'a str, limits: &'a Limits) -> Builder<'a> {
        Builder {
            file,
            text,
            limits,
            stack: Vec::new(),
            anchors: HashMap::new(),
            anchor_names: Vec::new(),
            nodes: 0,
            documents: 0,
            root: None,
            faults: Vec::new(),
        }
    }

    fn event(&mut self, event: Event<'_>, at: granit_parser::Span) -> Result<(), Stop> {
        let bytes = at.byte_range().unwrap_or_default();
        let span = places::fit(self.file, self.text, bytes.start, bytes.end);
        if let Some(tag) = at.tag_span().or(at.tag_start().map(granit_parser::Span::empty)) {
            let tag = tag.byte_range().unwrap_or_default();
            self.fault(
                Fault::new(
                    FaultKind::Syntax,
                    places::fit(self.file, self.text, tag.start, tag.end),
                    syntax::TAGS,
                )
                .with_help(syntax::TAGS_HELP),
            )?;
        }
        match event {
            Event::DocumentStart(..) => self.document(span),
            Event::Scalar(text, style, anchor, _) => {
                let plain = style == ScalarStyle::Plain;
                let left_out = plain && bytes.is_empty();
                let text = if left_out { "" } else { &*text };
                let span = match style {
                    ScalarStyle::Literal | ScalarStyle::Folded => {
                        places::block_header(self.text, bytes.start)
                            .map_or(span, |header| Span::new(self.file, header, bytes.end.max(header + 1)))
                    }
                    _ if left_out => self.announced().unwrap_or(span),
                    _ => span,
                };
                self.scalar(text, plain, left_out, anchor, span)
            }
            Event::SequenceStart(style, anchor, _) => {
                self.open(Content::List(Vec::new()), style, anchor, bytes, span)
            }
            Event::MappingStart(style, anchor, _) => {
                let content =
                    Content::Map { entries: Vec::new(), places: HashMap::new(), pending: Pending::Nothing };
                self.open(content, style, anchor, bytes, span)
            }
            Event::SequenceEnd | Event::MappingEnd => self.close(Some(span.end)),
            Event::Alias(id) => self.alias(id, span),
            Event::UnresolvedAlias(name) => self.unknown_alias(&name, span),
            Event::Anchor(_, name) => {
                self.anchor_names.push(name.into_owned());
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn document(&mut self, span: Span) -> Result<(), Stop> {
        self.documents += 1;
        if self.documents == 1 {
            return Ok(());
        }
        Err(Stop(
            Fault::new(FaultKind::Syntax, span, "a second document begins here")
                .with_help("one file holds one document: take out the `---`, or split the file"),
        ))
    }

    fn scalar(
        &mut self,
        text: &str,
        plain: bool,
        left_out: bool,
        anchor: usize,
        span: Span,
    ) -> Result<(), Stop> {
        self.count(1, span)?;
        let span = places::trimmed(self.text, span);
        if self.key_is_due() {
            if anchor != 0 {
                self.refuse_key(span, "an anchor on a key is not read here", Pending::RefusedValue)?;
            } else if left_out {
                self.refuse_key(span, "a key is missing here", Pending::RefusedValue)?;
            } else if plain && text == "<<" {
                self.fault(
                    Fault::new(FaultKind::MergeKey, span, "merge keys `<<` are not read here")
                        .with_help("write the entries out, or give the whole table by its alias"),
                )?;
                self.set_pending(Pending::RefusedValue, span);
            } else {
                let text = Arc::from(text);
                self.set_pending(Pending::Key(Key { text, span }), span);
            }
            return Ok(());
        }
        if plain && reads_as_null(text) && self.stack.is_empty() {
            // A document of nothing.
            return Ok(());
        }
        let scalar = Scalar { text: Arc::from(text), plain };
        let node = self.node(span, Value::Scalar(scalar), false);
        let built = Built { node: Arc::new(node), weight: 1, height: 0 };
        self.keep_anchor(anchor, &built);
        self.add(built)
    }

    /// A list or table begins at these bytes; `span` is what to mark there.
    fn open(
        &mut self,
        content: Content,
        style: StructureStyle,
        anchor: usize,
        bytes: Range<usize>,
        span: Span,
    ) -> Result<(), Stop> {
        self.count(1, span)?;
        if self.stack.len() >= self.limits.depth {
            return Err(Stop(syntax::too_deep(span, self.limits.depth)));
        }
        if self.key_is_due() {
            let what = match content {
                Content::List(_) => "a list cannot be a key",
                Content::Map { .. } => "a table cannot be a key",
            };
            self.refuse_key(span, what, Pending::RefusedKey)?;
        }
        self.stack.push(Frame {
            content,
            flow: style == StructureStyle::Flow,
            // The event of a block is empty, and stands where its first part will.
            start: bytes.start,
            end: bytes.end,
            anchor,
            weight: 1,
            height: 1,
        });
        Ok(())
    }

    /// The innermost list or table ends; `end` is where, for one in brackets.
    fn close(&mut self, end: Option<usize>) -> Result<(), Stop> {
        let Some(frame) = self.stack.pop() else {
            return Ok(());
        };
        // The event that ends a block stands on whatever comes next, so its last part says where it ends.
        let end = match end {
            Some(end) if frame.flow => end,
            _ => frame.end,
        };
        let mut start = frame.start;
        let value = match frame.content {
            Content::List(list) => {
                if !frame.flow {
                    start = places::at_dash(self.text, start);
                }
                Value::List(list)
            }
            Content::Map { entries, .. } => Value::Map(Map::new(entries)),
        };
        let span = places::fit(self.file, self.text, start, end);
        let built = Built {
            node: Arc::new(self.node(span, value, frame.flow)),
            weight: frame.weight,
            height: frame.height,
        };
        self.keep_anchor(frame.anchor, &built);
        self.add(built)
    }

    /// Puts a finished node where it belongs.
    fn add(&mut self, built: Built) -> Result<(), Stop> {
        let place = built.node.place();
        let Some(frame) = self.stack.last_mut() else {
            self.root = Some(built.node);
            return Ok(());
        };
        frame.end = frame.end.max(place.end);
        frame.weight = frame.weight.saturating_add(built.weight);
        frame.height = frame.height.max(built.height + 1);
        let Content::Map { entries, places, pending } = &mut frame.content else {
            if let Content::List(list) = &mut frame.content {
                list.push(built.node);
            }
            return Ok(());
        };
        match std::mem::replace(pending, Pending::Nothing) {
            Pending::RefusedKey => *pending = Pending::RefusedValue,
            Pending::Nothing | Pending::RefusedValue => {}
            Pending::Key(key) => {
                if let Some(first) = places.get(&key.text) {
                    let fault = Fault::new(
                        FaultKind::DuplicateKey,
                        key.span,
                        format!("the key {} is given twice in one table", quoted(&key.text)),
                    )
                    .with_also(*first, "first given here");
                    return self.fault(fault);
                }
                places.insert(Arc::clone(&key.text), key.span);
                entries.push(Entry { key, value: built.node });
            }
        }
        Ok(())
    }

    /// What was read, with whatever is still open closed as it stands.
    fn finish(mut self) -> Parsed {
        while !self.stack.is_empty() {
            if let Err(Stop(fault)) = self.close(None) {
                self.faults.push(fault);
            }
        }
        self.faults.sort();
        Parsed { root: self.root, faults: self.faults }
    }

    fn node(&self, span: Span, value: Value, flow: bool) -> Node {
        let one_line = !span.slice(self.text).unwrap_or_default().contains(['\n', '\r']);
        Node { span, value, used_at: None, flow, one_line }
    }

    fn keep_anchor(&mut self, anchor: usize, built: &Built) {
        if anchor != 0 {
            let kept = Built { node: Arc::clone(&built.node), ..*built };
            self.anchors.insert(anchor, kept);
        }
    }

    /// The sign that announces the value which is due: the colon behind its key, or its dash. Nothing where there is
    /// none, as in brackets.
    fn announced(&self) -> Option<Span> {
        let frame = self.stack.last()?;
        let (from, sign) = match &frame.content {
            Content::Map { pending: Pending::Key(key), .. } => (key.span.end, ':'),
            Content::List(list) if list.is_empty() => (places::at_dash(self.text, frame.start), '-'),
            Content::List(_) => (frame.end, '-'),
            Content::Map { .. } => return None,
        };
        places::next_sign(self.file, self.text, from, sign)
    }

    /// Whether the next thing is the key of a table.
    fn key_is_due(&self) -> bool {
        matches!(
            self.stack.last().map(|frame| &frame.content),
            Some(Content::Map { pending: Pending::Nothing, .. })
        )
    }

    /// Notes what was read as a key.
    fn set_pending(&mut self, new: Pending, at: Span) {
        if let Some(frame) = self.stack.last_mut() {
            frame.end = frame.end.max(at.end);
            frame.weight = frame.weight.saturating_add(1);
            if let Content::Map { pending, .. } = &mut frame.content {
                *pending = new;
            }
        }
    }

    fn refuse_key(&mut self, at: Span, message: &str, then: Pending) -> Result<(), Stop> {
        self.set_pending(then, at);
        self.fault(Fault::new(FaultKind::Syntax, at, message).with_help("a key is plain text"))
    }

    fn count(&mut self, nodes: usize, at: Span) -> Result<(), Stop> {
        self.nodes = self.nodes.saturating_add(nodes);
        if self.nodes <= self.limits.nodes {
            return Ok(());
        }
        Err(Stop(
            Fault::new(
                FaultKind::TooManyNodes,
                at,
                format!("from here on it is more than {} values and keys", self.limits.nodes),
            )
            .with_help("what an alias repeats counts each time"),
        ))
    }

    fn fault(&mut self, fault: Fault) -> Result<(), Stop> {
        if self.faults.len() < self.limits.faults {
            self.faults.push(fault);
            return Ok(());
        }
        Err(Stop(Fault::new(
            FaultKind::Other,
            fault.span,
            format!("reading stops here: more than {} faults", self.limits.faults),
        )))
    }
}

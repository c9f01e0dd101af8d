//! Aliases: what they repeat is shared, and counted as if it were written out.

use super::{Builder, Built, Stop};
use crate::text::fault::{Fault, FaultKind, nearest, quoted};
use crate::text::parse::frame::Pending;
use crate::text::parse::syntax;
use crate::text::span::Span;
use crate::text::tree::{Scalar, Value};
use std::sync::Arc;

impl Builder<'_> {
    pub(super) fn alias(&mut self, id: usize, span: Span) -> Result<(), Stop> {
        if self.key_is_due() {
            return self.refuse_key(span, "an alias cannot be a key", Pending::RefusedValue);
        }
        let name = span.slice(self.text).unwrap_or_default();
        let Some(target) = self.anchors.get(&id) else {
            let message = if self.stack.iter().any(|frame| frame.anchor == id) {
                format!("{} stands inside what it repeats", quoted(name))
            } else {
                format!("{} names a key, not a value", quoted(name))
            };
            self.fault(Fault::new(FaultKind::UnknownAnchor, span, message))?;
            return self.stand_in(span);
        };
        let (weight, height) = (target.weight, target.height);
        let target = Arc::clone(&target.node);
        // Counted before anything is copied: a few hundred bytes of nested aliases can stand for gigabytes.
        self.count(weight, span)?;
        if self.stack.len() + height > self.limits.depth {
            return Err(Stop(syntax::too_deep(span, self.limits.depth)));
        }
        self.add(Built { node: Arc::new(target.brought_by(span)), weight, height })
    }

    pub(super) fn unknown_alias(&mut self, name: &str, span: Span) -> Result<(), Stop> {
        self.count(1, span)?;
        let mut fault = Fault::new(
            FaultKind::UnknownAnchor,
            span,
            format!("no anchor `&` of the name {} stands before this", quoted(name)),
        );
        if let Some(meant) = nearest(name, self.anchor_names.iter().rev().map(String::as_str)) {
            fault = fault.with_help(format!("did you mean {}?", quoted(&format!("*{meant}"))));
        }
        self.fault(fault)?;
        if self.key_is_due() {
            self.set_pending(Pending::RefusedValue, span);
            return Ok(());
        }
        self.stand_in(span)
    }

    /// Puts nothing in the place of an alias that leads nowhere, so that the rest keeps its place.
    fn stand_in(&mut self, span: Span) -> Result<(), Stop> {
        let nothing = Value::Scalar(Scalar { text: Arc::from(""), plain: true });
        let node = self.node(span, nothing, false).brought_by(span);
        self.add(Built { node: Arc::new(node), weight: 1, height: 0 })
    }
}

//! Changes as text: the smallest edits that make a [`Change`] in the text itself, so that comments, layout and line
//! ends stay as their author left them.
//!
//! Whatever the layout rules below come up with is read again after each step and compared with the changed tree;
//! what does not read back as the same is refused. So an edit is right or it is not made.

mod diff;
mod draft;
mod layout;
mod page;
mod pieces;
mod remove;
mod sharing;
mod write;

use super::change::Change;
use super::route::Route;
use super::span::Span;
use super::tree::Node;
use std::fmt;
use std::sync::Arc;

/// One edit: bytes of the text, and what stands there afterwards.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Edit {
    /// The bytes that go; empty where text is only put in.
    pub span: Span,
    /// The text that comes.
    pub text: String,
}

/// Edits of one text, in its order, none touching another.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Edits(Vec<Edit>);

impl Edits {
    /// The edits in the order of the text.
    pub fn list(&self) -> &[Edit] {
        &self.0
    }

    /// Whether the text already says what was asked for.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The edited text. What lies outside of `text` is passed over: meant is the text that the edits were made for.
    pub fn apply(&self, text: &str) -> String {
        let mut out = String::with_capacity(text.len());
        let mut at = 0;
        for edit in &self.0 {
            out.push_str(text.get(at..edit.span.start).unwrap_or_default());
            out.push_str(&edit.text);
            at = edit.span.end;
        }
        out.push_str(text.get(at..).unwrap_or_default());
        out
    }

    /// The edits as a unified text diff under a name, three lines of context round each; empty if there are none.
    pub fn diff(&self, name: &str, text: &str) -> String {
        diff::unified(self, name, text)
    }
}

/// Why a change cannot be made in a text.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct CannotEdit {
    /// The place that was to be changed.
    pub route: Route,
    /// The reason.
    pub why: WhyNot,
}

/// The reasons for which a change cannot be made in a text.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum WhyNot {
    /// It cannot be made at all: the clause says why.
    Impossible(String),
    /// The alias, given as written, brought what stands there.
    Alias(String),
    /// The alias, given as written, repeats in another place what would be changed.
    UsedAgain(String),
    /// It is defined in this other file, which other builds may share.
    Shared(Span),
    /// The way it is written leaves no room for the change: the clause says what hinders.
    Layout(&'static str),
}

impl fmt::Display for WhyNot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            WhyNot::Impossible(why) => f.write_str(why),
            WhyNot::Alias(alias) => write!(
                f,
                "it stands there by the alias `{alias}`; change what that repeats, or write it out here"
            ),
            WhyNot::UsedAgain(alias) => {
                write!(f, "`{alias}` repeats it in another place, which would change too")
            }
            WhyNot::Shared(_) => f.write_str("it is shared from another file"),
            WhyNot::Layout(hindrance) => f.write_str(hindrance),
        }
    }
}

impl fmt::Display for CannotEdit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` cannot be changed in the text: {}", self.route, self.why)
    }
}

impl std::error::Error for CannotEdit {}

/// The smallest edits of a text that make a change, for the tree that was read from it. Reading the edited text gives
/// the same as [`Change::apply`]; where the text says so already there are no edits.
///
/// A value keeps its quotes where it can. New entries stand behind the last of their table or list, indented like it
/// or inside its brackets; new tables and lists are written in brackets on one line. What goes takes its whole lines
/// and the comment behind it along; comments on lines of their own stay.
///
/// # Errors
/// The first place that cannot be changed, with the reason; then nothing is to be edited.
pub fn edit(text: &str, root: &Arc<Node>, change: &Change) -> Result<Edits, CannotEdit> {
    draft::make(text, root, change)
}

#[cfg(test)]
mod tests;

//! Formats: each maps the review to bytes at the rim; nothing further in knows of them.

pub mod cure_together;
pub mod cure_words;
mod excerpt;
pub mod joints;
pub mod json;
pub mod markdown;
pub mod origins;
mod policy_words;
pub mod safe_text;
pub mod steady;
pub mod terminal;
pub mod text_pages;
pub mod tip_out;
pub mod tip_out_series;
pub mod walk;

use crate::review::Review;
use crate::text::Sources;

/// A reviewed build with the texts that its places point into.
#[derive(Clone, Debug)]
pub struct Reviewed {
    /// The path by which the user knows it, with forward slashes.
    pub path: String,
    /// Its title, if it has one.
    pub title: Option<String>,
    /// The texts.
    pub sources: Sources,
    /// The review.
    pub review: Review,
}

#![forbid(unsafe_code)]
pub mod text;
pub mod known;
pub mod physics;
pub mod build;
pub mod tract;

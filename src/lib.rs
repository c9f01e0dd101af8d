#![forbid(unsafe_code)]
pub mod text;
pub mod known;
pub mod physics;
pub mod build;
pub mod tract;
pub mod model;
pub mod facts;
pub mod rules;
pub mod review;

//! Tractwright reviews a written description of a turbocharged engine's air path.
//!
//! The data goes one way, and each room stands only on those before it:
//! text -> known -> build -> tract -> model -> facts -> rules -> review -> output -> commands. Beside them stands physics:
//! equations only, SI numbers in and out.
//!
//! - [`text`]: bytes to a tree with exact places; units and quantities; changes.
//! - [`known`]: values that may be unknown, and the truth that follows.
//! - [`physics`]: gas, losses, coolers, compressor maps, valves.
//! - [`build`]: what is written, typed; its schema.
//! - [`tract`]: the graph of parts; regions, distances, signals, metering.
//! - [`model`]: the physics set up for a tract; steady operating points.
//! - [`facts`]: named quantities with a trace.
//! - [`rules`]: rules as data: the loader and the language.
//! - [`review`]: results, tally, cures.
//! - [`output`]: one file a format.
//! - [`commands`]: arguments in, exit status out.

#![forbid(unsafe_code)]

pub mod build;
pub mod commands;
pub mod facts;
pub mod known;
pub mod model;
pub mod output;
pub mod physics;
pub mod review;
pub mod rules;
pub mod text;
pub mod tract;

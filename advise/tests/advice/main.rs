//! The advice against the world outside, against its own promises, and against simulated birds.

#[path = "../../examples/flock/bird.rs"]
mod bird;
mod charts;
mod flock;
#[path = "../../examples/flock/keeper.rs"]
mod keeper;
mod lines;
#[path = "../../examples/flock/mews.rs"]
mod mews;
mod properties;
mod published;
mod reference;
mod story;
mod words;

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
#[path = "../../examples/flock/second_bird.rs"]
mod second_bird;
#[path = "../../examples/flock/second_keeper.rs"]
mod second_keeper;
mod story;
mod words;

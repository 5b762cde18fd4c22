//! Whole-program tests: one binary, a module for each theme.
//!
//! `layers` keeps the shape of the house. `story` goes the whole way from a recording to a confirmed day.
//! `real_sound` lets the real model hear real sound. `regressions` feeds
//! hostile bytes to every reader. `bench_home` is what they share.

mod bench_home;
mod layers;
mod real_sound;
mod regressions;
mod story;
mod supply;

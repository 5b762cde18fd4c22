//! The general solvers under the models, each checked against published worked examples.
//!
//! Nothing here knows of birds. Linear algebra comes from `nalgebra`, distributions from `statrs`.

pub mod kalman;
pub mod least_squares;
pub mod local_level;
pub mod ordinal;

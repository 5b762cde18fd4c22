//! A photo of a scale in, the digits on its display out.
//!
//! Four small trained networks run on the processor: one finds rows of digits in the whole picture, one reads a
//! row, one finds the unit mark about it, one tells which it is. They were trained on rendered pictures alone; renderer, training and cards are in
//! `models/display`. Pure: pixels in, a [`note::DisplayReading`] out. Absent: files, decoding of pictures, EXIF.

mod ctc;
mod find;
mod mark;
mod net;
mod pixels;
mod read;
mod sign;
mod trust;
mod value;
mod weights;

pub use pixels::{Picture, WrongSize};
pub use read::{Candidate, Reader};
pub use trust::Evidence;
pub use value::{grams, is_number};
pub use weights::BadWeights;

/// The weights built into the program; their sum is in `models/display/SHA256SUMS`.
pub(crate) const WEIGHTS: &[u8] = include_bytes!("../../models/display/reader-1.weights");

//! Samples in, a transcript with word times and probabilities out: whisper.cpp through whisper-rs.
//!
//! An [`Ear`] holds a loaded model. [`Ear::hear`] finds the speech, cuts longer recordings at pauses, cuts
//! the encoder's window to each piece (the model's own window is thirty seconds, a note takes ten) and looks
//! at every reading with the [`guard`] before it believes it: a doubtful one is read again at the full window,
//! then with a beam. The number of readings is capped, so that wind cannot hold the machine.
//!
//! Absent on purpose: sound files (samples are 16 kHz mono, already decoded), the microphone, what a weight is.
//! Whoever knows what a note should say passes a judge to [`Ear::hear_judged`].

mod ear;
mod engine;
mod error;
pub mod guard;
mod prompt;
mod speech_parts;
mod words;

pub use ear::{Ear, Judge, Options};
pub use engine::{SAMPLE_RATE, Times, processor_lacks};
pub use error::SpeechError;
pub use prompt::Prompt;
pub use speech_parts::{Part, speech_parts};

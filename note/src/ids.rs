//! Names of things, never mixed up: a note's id is no bird's id.

use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(String);
        impl $name {
            /// Takes the text of an id.
            pub fn new(id: impl Into<String>) -> Self { Self(id.into()) }
            /// Returns the text of the id.
            pub fn as_str(&self) -> &str { &self.0 }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result { f.write_str(&self.0) }
        }
    )+};
}

ids! {
    /// A bird of the keeper's.
    BirdId,
    /// One spoken (or typed) note.
    NoteId,
    /// One photo of a scale.
    PhotoId,
    /// One entry, from proposal to confirmation and after.
    EntryId,
    /// The SHA-256 of an original's bytes, 64 lower-case hex digits; its name in the evidence folder.
    Sha256,
}

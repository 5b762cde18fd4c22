//! What is known before the note is read.

use chrono::{DateTime, FixedOffset};
use note::{RosterBird, Units};
use serde::Deserialize;

/// What is known before a note is read: when it was made and whose birds may be meant.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Context {
    /// When the note was made.
    pub at: DateTime<FixedOffset>,
    /// The keeper's birds.
    #[serde(default)]
    pub birds: Vec<RosterBird>,
    /// The bird that the keeper has in hand, by its roster name.
    #[serde(default)]
    pub current_bird: Option<String>,
    /// The unit system that the keeper speaks in.
    #[serde(default)]
    pub units: Option<Units>,
}

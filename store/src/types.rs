//! What goes in and comes out: plain values, no SQL.

mod birds;
mod entries;
mod evidence;
mod upkeep;

pub use birds::*;
pub use entries::*;
pub use evidence::*;
pub use upkeep::*;

use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

/// A moment with the offset that it was written in.
pub type Moment = DateTime<FixedOffset>;

/// Who does something, and from which device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Who {
    /// The keeper's name.
    pub keeper: String,
    /// The device's name: "desk", or the name given to a paired phone.
    pub device: String,
}

impl Who {
    /// Names a keeper and a device.
    pub fn new(keeper: impl Into<String>, device: impl Into<String>) -> Self {
        Self { keeper: keeper.into(), device: device.into() }
    }
}

/// A stretch of time, `[from, to)`; an open end is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Span {
    /// First moment inside.
    pub from: Option<Moment>,
    /// First moment no longer inside.
    pub to: Option<Moment>,
}

impl Span {
    /// All of time.
    pub const ALL: Span = Span { from: None, to: None };

    /// Spans from one moment to before another.
    pub fn between(from: Moment, to: Moment) -> Self {
        Self { from: Some(from), to: Some(to) }
    }
    /// Spans everything since a moment.
    pub fn since(from: Moment) -> Self {
        Self { from: Some(from), to: None }
    }
    pub(crate) fn millis(&self) -> (i64, i64) {
        (
            self.from.map_or(i64::MIN, |m| m.timestamp_millis()),
            self.to.map_or(i64::MAX, |m| m.timestamp_millis()),
        )
    }
}

// ---------------------------------------------------------------------------- birds

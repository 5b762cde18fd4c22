//! A bird's history that travels, and open data in and out: zip, JSON lines, CSV, iCalendar.
//!
//! [`hand_over`] writes one file that any program can read, with nothing of any other bird in it;
//! [`take_in`] reads one, proves it whole, and keeps it marked as another keeper's record.
//! [`preview`] and [`bring_in`] read weights that were kept in a spreadsheet. Absent on purpose: SQL, HTML with
//! scripts, sound and pictures beyond taking the place out of a photo.

mod calendar;
mod give;
mod open_data;
mod page;
mod place;
mod redact;
mod table;
mod take;

pub use calendar::{Reminder, Repeats, calendar, reminders};
pub use give::{Given, Options, Originals, hand_over};
pub use open_data::{days_csv, entries_csv, entries_json};
pub use place::{Stripped, without_place};
pub use table::{BadRow, BroughtIn, Column, DateOrder, Mapping, Preview, Row, bring_in, preview, rows};
pub use take::{Checked, check, take_in};

use std::path::PathBuf;
use store::StoreError;

/// Occurs when a file cannot be written, read or trusted.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum HandOverError {
    /// Occurs when the record itself cannot do what was asked.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Occurs when a file cannot be read or written.
    #[error("{path}: {source}")]
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// Occurs when a file is no hand-over file, or a newer one.
    #[error("this is no hand-over file that can be read here: {0}; nothing was taken in")]
    NotOurs(String),
    /// Occurs when something in a hand-over file was changed after it was written.
    #[error("this file was changed after it was written: {0}; nothing was taken in: ask for it again")]
    Changed(String),
    /// Occurs when a file is larger than is sensible.
    #[error("{0}; nothing was taken in")]
    TooLarge(String),
    /// Occurs when what was asked makes no sense.
    #[error("{0}")]
    Refused(String),
}

impl HandOverError {
    pub(crate) fn file(path: impl Into<PathBuf>, source: std::io::Error) -> Self {
        Self::File { path: path.into(), source }
    }
}

/// What the crate's functions return.
pub type Result<T> = std::result::Result<T, HandOverError>;

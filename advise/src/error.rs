//! What can be wrong with the record that is handed in.

use chrono::{DateTime, FixedOffset};

/// Occurs when no advice can be given at all. Says what is wrong and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AdviceError {
    /// Occurs when there is no day on record.
    #[error("there is no day on record for this bird; weigh it and note what it ate, then ask again")]
    NoDays,
    /// Occurs when a figure of the bird itself cannot be.
    #[error("the bird's {what} is {value}, which cannot be; correct it on the bird's page and ask again")]
    Bird {
        /// Which figure.
        what: &'static str,
        /// What it says.
        value: f64,
    },
    /// Occurs when a figure of a day cannot be.
    #[error("on {at} the {what} is {value}, which cannot be; correct that day and ask again")]
    Day {
        /// Which day.
        at: DateTime<FixedOffset>,
        /// Which figure.
        what: &'static str,
        /// What it says.
        value: f64,
    },
    /// Occurs when a setting lies outside its range.
    #[error(transparent)]
    Setting(#[from] crate::settings::OutOfRange),
}

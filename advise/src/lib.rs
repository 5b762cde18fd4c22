//! Confirmed days in; weight trend, flying weight, ration, training step, alarms and charts out.
//!
//! Pure: absent on purpose are files, clocks, SQL and HTML. The same days in any order give the same
//! advice. Every model is a small statistical one whose working is in [`solve`]; every adjustable
//! number is in [`Settings`] with its range and ground. It advises; the keeper decides.

pub mod caution;
pub mod chart;
mod error;
pub mod foods;
pub mod lines;
mod settings;

pub use error::AdviceError;
pub use settings::{Alarms, Energy, Flying, Gates, Limits, OutOfRange, Range, Settings};

/// Works out what the record says about tomorrow.
///
/// `days` may come in any order; what is unknown may be missing. Masses are in grams and the bird's
/// furniture is taken off every reading.
pub fn advise(
    bird: &note::Bird,
    days: &[note::Day],
    settings: &Settings,
) -> Result<note::Advice, AdviceError> {
    settings.check()?;
    let last = days.iter().max_by_key(|day| day.at).ok_or(AdviceError::NoDays)?;
    Ok(note::Advice {
        bird: bird.bird.clone(),
        as_of: last.at,
        trend: None,
        flying_weight: None,
        forecast: None,
        ration: None,
        alerts: Vec::new(),
        training: None,
    })
}

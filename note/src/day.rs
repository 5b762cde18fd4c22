//! A bird, its days and what they say about tomorrow: the JSON of the advice contract.

use crate::{Grade, Line, Sign, Units};
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

/// A bird as the advice needs to know it. Masses in grams.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Bird {
    /// Its name.
    pub bird: String,
    /// Common name of the species.
    #[serde(default)]
    pub species: Option<String>,
    /// `male` or `female`.
    #[serde(default)]
    pub sex: Option<String>,
    /// ISO date.
    #[serde(default)]
    pub hatched: Option<String>,
    /// Never below: set by the keeper with a vet.
    #[serde(default)]
    pub floor_g: Option<f64>,
    /// The weight aimed for.
    #[serde(default)]
    pub target_g: Option<f64>,
    /// Weight when fed freely.
    #[serde(default)]
    pub fed_up_g: Option<f64>,
    /// Jesses, bells, transmitter: taken off every reading.
    #[serde(default)]
    pub furniture_g: Option<f64>,
    /// The keeper's unit system.
    #[serde(default)]
    pub units: Units,
}

/// One weigh-in with what followed until the next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Day {
    /// Time of the weigh-in, or of the day's first event.
    pub at: DateTime<FixedOffset>,
    /// The scale's reading, grams, furniture included.
    #[serde(default)]
    pub grams: Option<f64>,
    /// How well she answered.
    #[serde(default)]
    pub response: Option<Grade>,
    /// The flying.
    #[serde(default)]
    pub flights: Option<DayFlights>,
    /// All that was eaten until the next weigh-in; `None` is unknown, an empty list is nothing.
    #[serde(default)]
    pub food: Option<Vec<DayFood>>,
    /// Degrees Celsius.
    #[serde(default)]
    pub temperature_c: Option<f64>,
    /// Behaviour words noted.
    #[serde(default)]
    pub behaviours: Option<Vec<String>>,
    /// Signs of condition noted.
    #[serde(default)]
    pub condition: Option<Vec<ConditionSeen>>,
}

/// The flying of a day.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DayFlights {
    /// How many.
    #[serde(default)]
    pub count: Option<u32>,
    /// The longest, metres.
    #[serde(default)]
    pub longest_m: Option<f64>,
    /// On a line or free.
    #[serde(default)]
    pub line: Option<Line>,
}

/// An item eaten.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DayFood {
    /// Canonical item, or a keeper's own.
    pub item: String,
    /// How many; may be a half.
    #[serde(default)]
    pub count: Option<f64>,
    /// A part; `None` is the whole.
    #[serde(default)]
    pub part: Option<String>,
    /// Grams, if weighed.
    #[serde(default)]
    pub grams: Option<f64>,
}

/// A sign of condition.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ConditionSeen {
    /// Which sign.
    pub sign: Sign,
    /// Its reading.
    pub reading: String,
}

/// What the record says about tomorrow. It advises; the keeper decides.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// Whose.
    pub bird: String,
    /// The last moment of the record that it rests on.
    pub as_of: DateTime<FixedOffset>,
    /// Smoothed weight and its slope.
    pub trend: Option<Trend>,
    /// The weight at which she answers well.
    pub flying_weight: Option<FlyingWeight>,
    /// The next weigh-in.
    pub forecast: Option<Forecast>,
    /// What to feed now.
    pub ration: Option<Ration>,
    /// Reasons to look, warn or stop.
    pub alerts: Vec<Alert>,
    /// Where the training stands.
    pub training: Option<TrainingAdvice>,
}

/// Smoothed weight and its slope.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Trend {
    pub grams: f64,
    pub per_day_g: f64,
}

/// How good the evidence is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Answers {
    Poor,
    Fair,
    Good,
}

/// The highest weight that still gives a good answer four times in five.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct FlyingWeight {
    pub best_g: f64,
    pub low_g: f64,
    pub high_g: f64,
    /// Probability that the band holds the truth.
    pub level: f64,
    pub evidence: Answers,
    /// Scored sessions it rests on.
    pub sessions: u32,
}

/// The next weigh-in with its band.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Forecast {
    pub at: DateTime<FixedOffset>,
    pub grams: f64,
    pub low_g: f64,
    pub high_g: f64,
    pub level: f64,
}

/// One item of a ration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Portion {
    /// Canonical item, or a keeper's own.
    pub item: String,
    /// In halves, for foods counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<f64>,
    /// For foods weighed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grams: Option<f64>,
}

/// What to feed now so that the next weigh-in lands on the target.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Ration {
    pub target_g: f64,
    pub kcal: f64,
    pub items: Vec<Portion>,
    pub expected_g: f64,
    pub low_g: f64,
    pub high_g: f64,
    pub level: f64,
    /// Each limit that bent it.
    pub held_by: Vec<String>,
}

/// How serious an alert is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Severity {
    Look,
    Warn,
    Stop,
}

/// A reason to look twice at the bird.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Alert {
    /// Fixed word for programs.
    pub code: String,
    /// How serious.
    pub severity: Severity,
    /// Plain words: what was seen and what to do.
    pub why: String,
}

/// Where the training stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct TrainingAdvice {
    pub step: Option<String>,
    pub next: Option<String>,
    pub ready: bool,
    pub missing: Vec<String>,
}

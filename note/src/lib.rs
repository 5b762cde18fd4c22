//! The words everyone shares: values and types, no input or output.
//!
//! Absent on purpose: files, clocks, SQL, HTML and sound. Everything here can be built, compared
//! and serialised, and nothing here does anything. The JSON of [`Entry`], [`Bird`], [`Day`] and
//! [`Advice`] is a fixed contract with other programs.

#[macro_use]
mod closed;
mod day;
mod entry;
mod ids;
mod mass;
mod named;
mod photo;
mod transcript;
mod verdict;

pub use day::{
    Advice, Alert, Answers, Bird, ConditionSeen, Day, DayFlights, DayFood, FlyingWeight, Forecast, Portion,
    Ration, Severity, TrainingAdvice, Trend,
};
pub use entry::{
    Behaviour, Condition, Degree, Entry, Equipment, EquipmentAction, Flag, Flights, Food, Kind, Line,
    Outcome, Quarry, QuarryOutcome, Remark, Response, RosterBird, Sign, Sky, Step, StepOutcome, To, Training,
    Units, Value, Weather, Weight, Wind,
};
pub use ids::{BirdId, EntryId, NoteId, PhotoId, Sha256};
pub use mass::{GRAMS_PER_OUNCE, GRAMS_PER_POUND, Grade, Grams, MassUnit, NotAMass};
pub use named::{BEHAVIOURS, EQUIPMENT, FOODS, PARTS};
pub use photo::{DisplayReading, PixelBox, Taken, TakenSource};
pub use transcript::{Transcript, Word};
pub use verdict::{Confirmed, Proposed, Verdict};

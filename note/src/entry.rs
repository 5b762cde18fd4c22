//! One typed entry, as the contract writes it. Field names and words here are fixed JSON.

use crate::{Grade, Grams, MassUnit};
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

/// A bird as the extractor needs to know it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RosterBird {
    /// The name, as entries carry it.
    pub name: String,
    /// Other names in use.
    #[serde(default)]
    pub aliases: Vec<String>,
    /// Common name of the species.
    #[serde(default)]
    pub species: Option<String>,
    /// `male` or `female`.
    #[serde(default)]
    pub sex: Option<String>,
    /// Last confirmed weight, grams.
    #[serde(default)]
    pub last_grams: Option<f64>,
}

/// The unit system that a keeper speaks in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Grams and metres.
    #[default]
    Metric,
    /// Pounds, ounces, yards.
    Avoirdupois,
}

/// A typed entry, not yet anybody's word: see [`crate::Proposed`] and [`crate::Confirmed`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// What is said, by kind.
    #[serde(flatten)]
    pub value: Value,
    /// The roster name it belongs to; `None` on weather and where no bird can be told.
    pub bird: Option<String>,
    /// When it happened.
    pub at: DateTime<FixedOffset>,
    /// The exact words it came from.
    pub quote: String,
    /// Where those words stand in the text, `[start, end)` in Unicode scalar values.
    pub span: [usize; 2],
    /// Calibrated, 0 to 1.
    pub confidence: f64,
    /// Reasons to look twice.
    pub flags: Vec<Flag>,
}

impl Entry {
    /// Returns the kind of entry.
    pub fn kind(&self) -> Kind {
        self.value.kind()
    }
}

macro_rules! kinds {
    ($($name:ident($body:ty) = $word:literal),+ $(,)?) => {
        /// What an entry says.
        #[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
        #[serde(tag = "kind", content = "value", rename_all = "lowercase")]
        #[allow(missing_docs)]
        pub enum Value { $($name($body)),+ }

        /// The kinds of entry.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "lowercase")]
        #[allow(missing_docs)]
        pub enum Kind { $($name),+ }

        impl Value {
            /// Returns the kind of this value.
            pub fn kind(&self) -> Kind { match self { $(Value::$name(_) => Kind::$name),+ } }
        }
        impl Kind {
            /// Every kind, in the contract's order.
            pub const ALL: &'static [Kind] = &[$(Kind::$name),+];
            /// Returns the contract's word for the kind.
            pub fn word(self) -> &'static str { match self { $(Kind::$name => $word),+ } }
        }
    };
}

kinds! {
    Weight(Weight) = "weight",
    Food(Food) = "food",
    Flights(Flights) = "flights",
    Response(Response) = "response",
    Behaviour(Behaviour) = "behaviour",
    Condition(Condition) = "condition",
    Weather(Weather) = "weather",
    Quarry(Quarry) = "quarry",
    Equipment(Equipment) = "equipment",
    Training(Training) = "training",
    Remark(Remark) = "remark",
}

words! {
    /// A reason to look twice.
    Flag {
        ImplausibleWeight = "implausible weight", UnitAssumed = "unit assumed",
        BirdAssumed = "bird assumed", MisheardWord = "misheard word",
        CorrectedInSpeech = "corrected in speech", LowSpeechConfidence = "low speech confidence",
        DiffersFromPhoto = "differs from photo", AmbiguousNumber = "ambiguous number",
    }
}
words! {
    /// What became of food.
    Outcome { Eaten = "eaten", Offered = "offered", Refused = "refused", Left = "left" }
}
words! {
    /// How a bird was held when it flew.
    Line { Creance = "creance", Free = "free" }
}
words! {
    /// What a bird flew to.
    To { Fist = "fist", Perch = "perch", Lure = "lure" }
}
words! {
    /// How strongly a behaviour showed.
    Degree { Slight = "slight", Plain = "plain", Strong = "strong" }
}
words! {
    /// A sign of condition.
    Sign {
        Crop = "crop", Casting = "casting", Keel = "keel", Mutes = "mutes", Moult = "moult",
        Talon = "talon", Beak = "beak", Feather = "feather", Foot = "foot",
    }
}
words! {
    /// Wind, by word.
    Wind { Calm = "calm", Light = "light", Moderate = "moderate", Strong = "strong" }
}
words! {
    /// Sky and ground weather, by word.
    Sky { Clear = "clear", Cloud = "cloud", Fog = "fog", Rain = "rain", Snow = "snow", Frost = "frost" }
}
words! {
    /// What became of quarry.
    QuarryOutcome { Taken = "taken", Missed = "missed", Chased = "chased" }
}
words! {
    /// What was done to a piece of equipment.
    EquipmentAction {
        Fitted = "fitted", Removed = "removed", Changed = "changed",
        Lost = "lost", Broken = "broken", Checked = "checked",
    }
}
words! {
    /// The steps of training, in their usual order (common practice, no source).
    Step {
        Manning = "manning", FeedingOnTheFist = "feeding on the fist",
        SteppingToTheFist = "stepping to the fist", JumpingToTheFist = "jumping to the fist",
        Creance = "creance", PerchToPerch = "perch to perch", Whistle = "whistle", Lure = "lure",
        Hood = "hood", TravelBox = "travel box", Telemetry = "telemetry",
        FreeFlight = "free flight", Entering = "entering", Hunting = "hunting",
    }
}
words! {
    /// What became of a training step.
    StepOutcome { Done = "done", Started = "started", Refused = "refused", Planned = "planned" }
}

/// A measured body weight.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Weight {
    /// To a tenth of a gram.
    pub grams: Grams,
    /// The unit spoken or shown, if any was.
    pub unit: Option<MassUnit>,
}
/// One item of food.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Food {
    /// Canonical item, or a keeper's own.
    pub item: String,
    /// How many; may be a half.
    pub count: Option<f64>,
    /// A part of the item; `None` is the whole.
    pub part: Option<String>,
    /// Grams, only if spoken.
    pub grams: Option<f64>,
    /// What became of it.
    pub outcome: Outcome,
}
/// A set of flights.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Flights {
    /// How many.
    pub count: Option<u32>,
    /// The longest, metres to 0.1.
    pub longest_m: Option<f64>,
    /// On a line or free.
    pub line: Option<Line>,
    /// Flown to what.
    pub to: Option<To>,
}
/// How well a bird answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Response {
    /// 1 to 5.
    pub grade: Grade,
}
/// Something the bird did or did not do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Behaviour {
    /// Canonical word.
    pub word: String,
    /// False for "no bating".
    pub present: bool,
    /// How strongly.
    pub degree: Degree,
}
/// A sign of condition and its reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Condition {
    /// Which sign.
    pub sign: Sign,
    /// Its reading, in the contract's words or short free words.
    pub reading: String,
}
/// The weather at the time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Weather {
    /// Degrees Celsius to 0.1.
    pub temperature_c: Option<f64>,
    /// Wind by word.
    pub wind: Option<Wind>,
    /// Sky by word.
    pub sky: Option<Sky>,
}
/// Quarry taken, missed or chased.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Quarry {
    /// Species, singular.
    pub species: String,
    /// How many.
    pub count: u32,
    /// What became of it.
    pub outcome: QuarryOutcome,
}
/// Something done to equipment.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Equipment {
    /// Which item.
    pub item: String,
    /// What was done.
    pub action: EquipmentAction,
}
/// A training step told of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Training {
    /// Which step.
    pub step: Step,
    /// What became of it.
    pub outcome: StepOutcome,
}
/// Anything else worth keeping.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Remark {
    /// In the keeper's words.
    pub text: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_reads_and_writes_the_contracts_json() {
        let json = r#"{"kind":"weight","value":{"grams":642.0,"unit":"g"},"bird":"Sedge","at":"2026-03-14T08:10:00+00:00","quote":"642 grams","span":[7,16],"confidence":0.97,"flags":["implausible weight"]}"#;
        let entry: Entry = serde_json::from_str(json).unwrap();
        assert_eq!(entry.kind(), Kind::Weight);
        assert_eq!(entry.flags, [Flag::ImplausibleWeight]);
        let mut again: serde_json::Value = serde_json::to_value(&entry).unwrap();
        // Chrono writes UTC as "Z"; the instant is what counts.
        again["at"] = "2026-03-14T08:10:00+00:00".into();
        assert_eq!(again, serde_json::from_str::<serde_json::Value>(json).unwrap());
    }

    #[test]
    fn every_kind_has_one_word() {
        for kind in Kind::ALL {
            assert_eq!(serde_json::to_value(kind).unwrap(), kind.word());
        }
    }
}

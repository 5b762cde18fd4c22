//! What the reports are made from: plain records, all of them confirmed.

use chrono::{DateTime, FixedOffset, NaiveDate};
use note::{Bird, Confirmed, DisplayReading, Entry, FlyingWeight, Sha256, Taken, Trend};

/// The proof of a weight: a photo of the scale's display.
#[derive(Clone, Debug, PartialEq)]
pub struct PhotoProof {
    /// The hash of the original, which is also its name in the evidence folder.
    pub sha256: Sha256,
    /// When it was taken, and how that is known.
    pub taken: Taken,
    /// What the display reader saw.
    pub reading: DisplayReading,
}

/// A later change to a confirmed entry.
#[derive(Clone, Debug, PartialEq)]
pub struct Correction {
    /// The entry as it stood before.
    pub was: Entry,
    /// Who changed it.
    pub by: String,
    /// When.
    pub at: DateTime<FixedOffset>,
}

/// That an entry was taken back after it had been confirmed.
#[derive(Clone, Debug, PartialEq)]
pub struct Withdrawal {
    /// Who took it back.
    pub by: String,
    /// When.
    pub at: DateTime<FixedOffset>,
}

/// One confirmed entry with its history and its proof.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// What stands, and whose word it is.
    pub confirmed: Confirmed,
    /// What was read or stood before, oldest first.
    pub corrections: Vec<Correction>,
    /// Set when it no longer counts; it is shown struck through.
    pub withdrawn: Option<Withdrawal>,
    /// The hash of the recording or text that it came from.
    pub source: Option<Sha256>,
    /// The photo that goes with it.
    pub photo: Option<PhotoProof>,
}

impl Record {
    /// Takes a confirmed entry that has no history.
    pub fn new(confirmed: Confirmed) -> Self {
        Self { confirmed, corrections: Vec::new(), withdrawn: None, source: None, photo: None }
    }
    /// Returns the entry as it stands.
    pub fn entry(&self) -> &Entry {
        self.confirmed.entry()
    }
    /// Returns whether the entry counts.
    pub fn stands(&self) -> bool {
        self.withdrawn.is_none()
    }
}

/// A licence, registration or permit, as the keeper wrote it down.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Permit {
    /// What it is.
    pub what: String,
    /// Its number.
    pub number: String,
    /// The last day on which it holds.
    pub until: Option<NaiveDate>,
}

/// How a bird is known to others.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Identity {
    /// The marking on its ring or band.
    pub ring: Option<String>,
    /// The number of its microchip.
    pub chip: Option<String>,
    /// Where it comes from, such as "captive bred" and by whom.
    pub origin: Option<String>,
    /// Its papers.
    pub permits: Vec<Permit>,
}

/// What befell a bird, for the record of its keeping.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum EventKind {
    Acquired,
    Transferred,
    Lost,
    Recovered,
    Died,
    VetVisit,
    Other,
}

impl EventKind {
    /// Returns the word that is printed.
    pub fn word(self) -> &'static str {
        match self {
            Self::Acquired => "acquired",
            Self::Transferred => "transferred",
            Self::Lost => "lost",
            Self::Recovered => "recovered",
            Self::Died => "died",
            Self::VetVisit => "vet's visit",
            Self::Other => "other",
        }
    }
}

/// A dated event of a bird's keeping.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// The day.
    pub on: NaiveDate,
    /// What happened.
    pub kind: EventKind,
    /// From whom, to whom, where, why: in the keeper's words.
    pub detail: String,
}

/// One bird with all that is told of it in a span of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BirdRecord {
    /// The bird. Its `units` decide how its weights are printed.
    pub bird: Bird,
    /// How it is known to others.
    pub identity: Identity,
    /// Confirmed entries, in any order.
    pub records: Vec<Record>,
    /// Events of its keeping, in any order.
    pub events: Vec<Event>,
    /// Photos that belong to no entry.
    pub photos: Vec<PhotoProof>,
}

/// The end of the journal at the time of printing: any later change to what came before shows against it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seal {
    /// Lines in the journal.
    pub lines: u64,
    /// The hash that the last line carries.
    pub hash: Sha256,
}

/// Who made a report, when, and for which days.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Occasion {
    /// The keeper.
    pub keeper: String,
    /// Address, telephone or whatever else should stand beside the name.
    pub contact: Option<String>,
    /// When the report was made; its zone is the zone in which days are counted.
    pub made_at: DateTime<FixedOffset>,
    /// The first day.
    pub from: NaiveDate,
    /// The last day.
    pub to: NaiveDate,
}

/// The day book of one bird or of several.
#[derive(Clone, Debug, PartialEq)]
pub struct DayBook {
    /// Who, when, which days.
    pub occasion: Occasion,
    /// The birds, each with its records.
    pub birds: Vec<BirdRecord>,
    /// Entries that belong to no bird: the weather, and remarks.
    pub general: Vec<Record>,
    /// The journal's end, if it should be vouched for.
    pub seal: Option<Seal>,
}

/// One bird on one page, for the vet.
#[derive(Clone, Debug, PartialEq)]
pub struct VetSheet {
    /// Who, when, which days.
    pub occasion: Occasion,
    /// The bird.
    pub record: BirdRecord,
    /// Smoothed weight and its slope, if it can be told.
    pub trend: Option<Trend>,
    /// The weight at which she answers well, if it can be told.
    pub flying: Option<FlyingWeight>,
    /// What the keeper would ask.
    pub question: Option<String>,
}

/// The keeper's birds, papers, kit and scale, for an inspector.
#[derive(Clone, Debug, PartialEq)]
pub struct InspectorSheet {
    /// Who, when, which days.
    pub occasion: Occasion,
    /// The birds.
    pub birds: Vec<BirdRecord>,
    /// Entries that belong to no bird, such as a check of the scale.
    pub general: Vec<Record>,
    /// Papers that are the keeper's own.
    pub permits: Vec<Permit>,
    /// The journal's end, if it should be vouched for.
    pub seal: Option<Seal>,
}

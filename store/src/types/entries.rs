//! Entries: what waits, what was decided, what became of each.

use super::{Moment, Net, Note, Pairing, Photo};
use note::{BirdId, Entry, EntryId, NoteId, PhotoId, Proposed, Transcript, Verdict};
use serde::{Deserialize, Serialize};

note::words! {
    /// Where an entry stands.
    State {
        Waiting = "waiting", Confirmed = "confirmed", Rejected = "rejected", Withdrawn = "withdrawn",
    }
}

/// An entry that waits for a keeper's word.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Waiting {
    /// The proposal. Its flags and confidence already take a paired photo into account.
    pub proposed: Proposed,
    /// The bird, where one could be told.
    pub bird: Option<BirdId>,
    /// The photo beside a weight.
    pub pairing: Option<Pairing>,
    /// The weight without furniture, where the bird wears any.
    pub net: Option<Net>,
}

/// What waits from one note (or one photo without a note), ready to be shown as a card.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Card {
    /// The note; `None` where a photo proposes by itself.
    pub note: Option<Note>,
    /// The transcript with its word times, where there is sound.
    pub transcript: Option<Transcript>,
    /// The photo that proposes by itself; photos paired with a weight hang on the entry.
    pub photo: Option<Photo>,
    /// What waits, in the order of the words.
    pub waiting: Vec<Waiting>,
    /// Entries of the same note that were decided already.
    pub decided: usize,
}

/// One decision on one entry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Decision {
    /// On which.
    pub entry: EntryId,
    /// What.
    pub verdict: Verdict,
}

impl Decision {
    /// Accepts an entry as it stands.
    pub fn accept(entry: &EntryId) -> Self {
        Self { entry: entry.clone(), verdict: Verdict::Accept }
    }
    /// Accepts an entry after a change.
    pub fn correct(entry: &EntryId, to: Entry) -> Self {
        Self { entry: entry.clone(), verdict: Verdict::Correct { entry: Box::new(to) } }
    }
    /// Rejects an entry.
    pub fn reject(entry: &EntryId, reason: impl Into<String>) -> Self {
        Self { entry: entry.clone(), verdict: Verdict::Reject { reason: reason.into() } }
    }
}

/// Several lines of the journal that belong together, by the number of the first: what undo takes back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ActId(pub i64);

/// A decision that can be taken back.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Undoable {
    /// Its number.
    pub act: ActId,
    /// When.
    pub at: Moment,
    /// Who.
    pub by: String,
    /// In plain words: "confirmed 3 entries".
    pub what: String,
}

/// An entry with all that is known of it, for the day book, the evidence page and reports.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Record {
    /// Its id.
    pub id: EntryId,
    /// The bird.
    pub bird: Option<BirdId>,
    /// Where it stands.
    pub state: State,
    /// As it counts now: corrected where it was.
    pub entry: Entry,
    /// As it was proposed; `None` where nothing was changed.
    pub proposed: Option<Entry>,
    /// Who decided.
    pub by: Option<String>,
    /// When.
    pub decided: Option<Moment>,
    /// Why it was rejected or changed later.
    pub reason: Option<String>,
    /// The note it came from.
    pub note: Option<NoteId>,
    /// The photo that proposed it by itself.
    pub photo: Option<PhotoId>,
    /// The photo beside the weight.
    pub pairing: Option<Pairing>,
    /// Set on a record taken in from another keeper: that keeper's name.
    pub another: Option<String>,
    /// The weight without furniture, where the bird wears any.
    pub net: Option<Net>,
}

/// One step in the life of an entry: proposals, decisions and undo, oldest first.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// Its journal line.
    pub seq: i64,
    /// When.
    pub at: Moment,
    /// Who.
    pub by: String,
    /// On which device.
    pub device: String,
    /// In plain words.
    pub what: String,
    /// The entry after it, where it changed.
    pub entry: Option<Entry>,
}

// ----------------------------------------------------------------- words and scales

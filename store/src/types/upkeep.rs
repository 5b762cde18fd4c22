//! What keeps the record going: words, scales, phones, work, checks.

use super::Moment;
use note::{BirdId, EntryId, Grams, NoteId, Sha256};
use serde::Serialize;

/// A word that a keeper taught: heard like this, meant like that.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LearnedWord {
    /// As the speech model writes it, lower case.
    pub heard: String,
    /// What it means: a bird's name, a trade word.
    pub meaning: String,
    /// Who taught it.
    pub by: String,
    /// When.
    pub at: Moment,
}

/// A known mass laid on the scale.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScaleCheck {
    /// Its journal line.
    pub seq: i64,
    /// Which scale.
    pub scale: String,
    /// The mass laid on, grams.
    pub known_g: Grams,
    /// What the scale showed, grams.
    pub shown_g: Grams,
    /// When.
    pub at: Moment,
    /// Who.
    pub by: String,
}

impl ScaleCheck {
    /// Returns shown less known, grams.
    pub fn off_by_g(&self) -> f64 {
        self.shown_g.get() - self.known_g.get()
    }
}

// ------------------------------------------------------------------ devices and work

/// A phone that was let in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Device {
    /// Its id.
    pub id: String,
    /// The name given to it.
    pub name: String,
    /// The keeper who carries it.
    pub keeper: String,
    /// When it was paired.
    pub paired: Moment,
    /// When it was last seen.
    pub seen: Option<Moment>,
    /// When it was shut out.
    pub revoked: Option<Moment>,
}

/// A piece of work that waits: hearing a note, reading a display.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Job {
    /// Its number.
    pub id: i64,
    /// What kind: `hear`, `draft`, `read-scale`, or the caller's own.
    pub kind: String,
    /// What on: a note's or photo's id.
    pub subject: String,
    /// How often it was tried.
    pub tries: u32,
}

/// A place where searched words stand.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Found {
    /// The note.
    pub note: Option<NoteId>,
    /// The entry, where the words are a confirmed remark.
    pub entry: Option<EntryId>,
    /// When.
    pub at: Moment,
    /// The words around, the searched ones between `[` and `]`.
    pub snippet: String,
}

/// How much there is of everything.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[allow(missing_docs)]
pub struct Counts {
    pub birds: u64,
    pub notes: u64,
    pub photos: u64,
    pub waiting: u64,
    pub confirmed: u64,
    pub failed: u64,
    pub journal_lines: u64,
    pub jobs: u64,
}

/// How far what is written of each bird has grown; two that are alike mean that nothing changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Written {
    /// By bird: the number of the last journal line about it.
    pub birds: std::collections::HashMap<BirdId, u64>,
    /// Confirmed weather: how much there is, and its last decision.
    pub weather: (u64, u64),
}

/// A confirmed weight, for lists that need no more.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LastWeight {
    /// Grams as read.
    pub grams: f64,
    /// When.
    pub at: Moment,
}

/// What a check of the whole record found.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Verified {
    /// Lines of the journal looked at.
    pub lines: u64,
    /// Originals looked at.
    pub originals: u64,
    /// Rows of the view compared.
    pub rows: u64,
    /// Hash of the last line: write it down, and no one can swap the whole journal unseen.
    pub head: Option<Sha256>,
    /// Each thing that is wrong, as a sentence.
    pub troubles: Vec<String>,
    /// Things worth knowing that are not wrong.
    pub remarks: Vec<String>,
}

impl Verified {
    /// Whether nothing is wrong.
    pub fn is_clean(&self) -> bool {
        self.troubles.is_empty()
    }
}

//! What goes in and comes out: plain values, no SQL.

use chrono::{DateTime, FixedOffset};
use note::{
    BirdId, DisplayReading, Entry, EntryId, Grams, NoteId, PhotoId, Proposed, Sha256, TakenSource,
    Transcript, Units, Verdict,
};
use serde::{Deserialize, Serialize};

/// A moment with the offset that it was written in.
pub type Moment = DateTime<FixedOffset>;

/// Who does something, and from which device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Who {
    /// The keeper's name.
    pub keeper: String,
    /// The device's name: "desk", or the name given to a paired phone.
    pub device: String,
}

impl Who {
    /// Names a keeper and a device.
    pub fn new(keeper: impl Into<String>, device: impl Into<String>) -> Self {
        Self { keeper: keeper.into(), device: device.into() }
    }
}

/// A stretch of time, `[from, to)`; an open end is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Span {
    /// First moment inside.
    pub from: Option<Moment>,
    /// First moment no longer inside.
    pub to: Option<Moment>,
}

impl Span {
    /// All of time.
    pub const ALL: Span = Span { from: None, to: None };

    /// Spans from one moment to before another.
    pub fn between(from: Moment, to: Moment) -> Self {
        Self { from: Some(from), to: Some(to) }
    }
    /// Spans everything since a moment.
    pub fn since(from: Moment) -> Self {
        Self { from: Some(from), to: None }
    }
    pub(crate) fn millis(&self) -> (i64, i64) {
        (
            self.from.map_or(i64::MIN, |m| m.timestamp_millis()),
            self.to.map_or(i64::MAX, |m| m.timestamp_millis()),
        )
    }
}

// ---------------------------------------------------------------------------- birds

/// What a keeper tells of a bird. Masses in grams.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct BirdDetails {
    /// The name, as entries carry it; unique among the birds that are here.
    pub name: String,
    /// Other names in use.
    pub aliases: Vec<String>,
    /// Common name of the species.
    pub species: Option<String>,
    /// `male` or `female`.
    pub sex: Option<String>,
    /// ISO date.
    pub hatched: Option<String>,
    /// Number on the leg ring.
    pub ring: Option<String>,
    /// Number of the microchip.
    pub chip: Option<String>,
    /// Where she came from: breeder, wild taken under licence, rehabilitation.
    pub origin: Option<String>,
    /// Permits and certificates, in the keeper's words.
    pub permits: Option<String>,
    /// Never below: set by the keeper with a vet.
    pub floor_g: Option<f64>,
    /// The weight aimed for.
    pub target_g: Option<f64>,
    /// Weight when fed freely.
    pub fed_up_g: Option<f64>,
    /// The unit system that her weights are said in.
    pub units: Units,
    /// What she wears on the scale.
    pub furniture: Vec<Furniture>,
    /// Anything else.
    pub remarks: Option<String>,
}

impl BirdDetails {
    /// Returns the grams worn on the scale; `None` when nothing is known of them.
    pub fn furniture_g(&self) -> Option<f64> {
        let worn: Vec<f64> = self.furniture.iter().filter(|f| f.worn).map(|f| f.grams).collect();
        (!self.furniture.is_empty()).then(|| worn.iter().sum())
    }
}

/// A thing that a bird wears on the scale.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Furniture {
    /// Jesses, bell, transmitter, hood.
    pub item: String,
    /// Its mass in grams.
    pub grams: f64,
    /// Whether she wears it when she is weighed.
    pub worn: bool,
}

/// A bird of the record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bird {
    /// Her id.
    pub id: BirdId,
    /// What the keeper told of her.
    pub details: BirdDetails,
    /// Set once she was transferred, lost or died; cleared when she comes back.
    pub gone: Option<BirdEventKind>,
    /// Set when her earlier history came from another keeper.
    pub from_keeper: Option<String>,
    /// When she was entered.
    pub added: Moment,
}

impl Bird {
    /// Returns what the advice needs to know of her.
    pub fn for_advice(&self) -> note::Bird {
        let d = &self.details;
        note::Bird {
            bird: d.name.clone(),
            species: d.species.clone(),
            sex: d.sex.clone(),
            hatched: d.hatched.clone(),
            floor_g: d.floor_g,
            target_g: d.target_g,
            fed_up_g: d.fed_up_g,
            furniture_g: d.furniture_g(),
            units: d.units,
        }
    }
}

note::words! {
    /// A dated event in a bird's life, as an inspector asks for it.
    BirdEventKind {
        Acquired = "acquired", Transferred = "transferred", Lost = "lost", Found = "found", Died = "died",
        Ringed = "ringed", Chipped = "chipped", Vet = "vet", Other = "other",
    }
}
note::words! {
    /// Where a note or photo stands on its way to proposals.
    Stage { Received = "received", Heard = "heard", Drafted = "drafted", Failed = "failed" }
}
note::words! {
    /// Where an entry stands.
    State {
        Waiting = "waiting", Confirmed = "confirmed", Rejected = "rejected", Withdrawn = "withdrawn",
    }
}
note::words! {
    /// What an original is.
    EvidenceKind { Sound = "sound", Photo = "photo", HandOver = "hand-over", Table = "table", Other = "other" }
}

impl BirdEventKind {
    /// Whether the bird is no longer here after it.
    pub fn takes_away(self) -> bool {
        matches!(self, Self::Transferred | Self::Lost | Self::Died)
    }
    /// Whether the bird is here again after it.
    pub fn brings_back(self) -> bool {
        matches!(self, Self::Acquired | Self::Found)
    }
}

/// A dated event of a bird.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BirdEvent {
    /// Its journal line.
    pub seq: i64,
    /// When it happened.
    pub at: Moment,
    /// What happened.
    pub kind: BirdEventKind,
    /// From whom, to whom, why: the keeper's words.
    pub text: String,
    /// Who entered it.
    pub by: String,
}

// ------------------------------------------------------------------------- evidence

/// An original in the evidence folder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Evidence {
    /// SHA-256 of its bytes, and its name.
    pub sha256: Sha256,
    /// Its length.
    pub bytes: u64,
    /// What it is.
    pub kind: EvidenceKind,
    /// Media type by content, if known.
    pub media_type: Option<String>,
    /// The name it came under; for show only.
    pub name: Option<String>,
    /// When it came.
    pub received: Moment,
}

/// What became of an original that was handed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// SHA-256 of its bytes.
    pub sha256: Sha256,
    /// Its length.
    pub bytes: u64,
    /// True when the same bytes were here already.
    pub known: bool,
}

/// What is told about an original when it is put in.
#[derive(Clone, Debug)]
pub struct About {
    /// What it is.
    pub kind: EvidenceKind,
    /// Media type by content, if known.
    pub media_type: Option<String>,
    /// The name it came under.
    pub name: Option<String>,
}

impl About {
    /// Tells of a sound recording.
    pub fn sound(name: impl Into<String>) -> Self {
        Self { kind: EvidenceKind::Sound, media_type: None, name: Some(name.into()) }
    }
    /// Tells of a photo.
    pub fn photo(name: impl Into<String>) -> Self {
        Self { kind: EvidenceKind::Photo, media_type: None, name: Some(name.into()) }
    }
    /// Adds the media type.
    pub fn of_type(mut self, media_type: impl Into<String>) -> Self {
        self.media_type = Some(media_type.into());
        self
    }
}

// ---------------------------------------------------------------------------- notes

/// What a note is made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// A recording in the evidence folder.
    Sound(Sha256),
    /// Words that the keeper typed.
    Typed(String),
}

/// A note to be added.
#[derive(Clone, Debug, PartialEq)]
pub struct NewNote {
    /// The recording or the words.
    pub source: Source,
    /// When it was spoken or typed.
    pub at: Moment,
    /// How that is known; `None` for typed words.
    pub taken: Option<TakenSource>,
    /// The bird in hand, if the device knew: entries without a name go to her.
    pub bird: Option<BirdId>,
}

/// A note as stored.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Note {
    /// Its id.
    pub id: NoteId,
    /// The recording; `None` for typed words.
    pub evidence: Option<Sha256>,
    /// The words typed, or heard; `None` until heard.
    pub text: Option<String>,
    /// When it was spoken or typed.
    pub at: Moment,
    /// How that is known.
    pub taken: Option<TakenSource>,
    /// The bird in hand, if the device knew.
    pub bird: Option<BirdId>,
    /// Who spoke.
    pub keeper: String,
    /// On which device.
    pub device: String,
    /// When it was taken in.
    pub received: Moment,
    /// Where it stands.
    pub stage: Stage,
    /// Why it failed, in plain words.
    pub trouble: Option<String>,
    /// Length of the recording in seconds, once heard.
    pub audio_s: Option<f64>,
    /// Name of the speech model, once heard.
    pub model: Option<String>,
}

/// The bird, note or photo of the same bytes was there before.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Added<T> {
    /// It is new.
    New(T),
    /// The same original was taken in before, under this id.
    Known(T),
}

impl<T> Added<T> {
    /// Returns the id, new or known.
    pub fn id(&self) -> &T {
        match self {
            Self::New(id) | Self::Known(id) => id,
        }
    }
    /// Whether it is new.
    pub fn is_new(&self) -> bool {
        matches!(self, Self::New(_))
    }
}

// --------------------------------------------------------------------------- photos

/// A place on earth from a photo; private, and never handed over unless asked.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Degrees, north positive.
    pub latitude: f64,
    /// Degrees, east positive.
    pub longitude: f64,
}

/// A photo to be added.
#[derive(Clone, Debug, PartialEq)]
pub struct NewPhoto {
    /// The original.
    pub evidence: Sha256,
    /// When it was taken.
    pub at: Moment,
    /// How that is known.
    pub taken: TakenSource,
    /// EXIF orientation, 1 to 8.
    pub orientation: u8,
    /// Where, if the camera wrote it.
    pub place: Option<Place>,
    /// The bird in hand, if the device knew.
    pub bird: Option<BirdId>,
}

/// A photo as stored. Its place is left out: see [`crate::Store::photo_place`].
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Photo {
    /// Its id.
    pub id: PhotoId,
    /// The original.
    pub evidence: Sha256,
    /// When it was taken.
    pub at: Moment,
    /// How that is known.
    pub taken: TakenSource,
    /// EXIF orientation, 1 to 8.
    pub orientation: u8,
    /// The bird in hand, if the device knew.
    pub bird: Option<BirdId>,
    /// Who took it in.
    pub keeper: String,
    /// On which device.
    pub device: String,
    /// When it was taken in.
    pub received: Moment,
    /// Where it stands: `Drafted` once its display was read.
    pub stage: Stage,
    /// Why it failed, in plain words.
    pub trouble: Option<String>,
    /// What the display shows, once read.
    pub reading: Option<DisplayReading>,
    /// The weight it is paired with.
    pub paired_with: Option<EntryId>,
    /// Whether the file says where it was taken.
    pub has_place: bool,
}

/// How a photo and a weight stand to each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pairing {
    /// The photo.
    pub photo: Photo,
    /// Whether a keeper paired them by hand.
    pub by_hand: bool,
    /// Whether both tell the same weight; `None` where the photo cannot be read.
    pub agrees: Option<bool>,
    /// Photo less speech, grams.
    pub difference_g: Option<f64>,
}

// -------------------------------------------------------------------------- entries

/// A weight as read, the furniture, and what is left: all three, so that nothing is hidden.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Net {
    /// The scale's reading, grams.
    pub read_g: f64,
    /// What the bird wears, grams.
    pub furniture_g: f64,
    /// The bird alone, grams.
    pub bird_g: f64,
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

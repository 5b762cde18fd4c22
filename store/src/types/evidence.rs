//! Originals, notes and photos.

use super::Moment;
use note::{BirdId, DisplayReading, EntryId, NoteId, PhotoId, Sha256, TakenSource};
use serde::{Deserialize, Serialize};

note::words! {
    /// Where a note or photo stands on its way to proposals.
    Stage { Received = "received", Heard = "heard", Drafted = "drafted", Failed = "failed" }
}
note::words! {
    /// What an original is.
    EvidenceKind { Sound = "sound", Photo = "photo", HandOver = "hand-over", Table = "table", Other = "other" }
}

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

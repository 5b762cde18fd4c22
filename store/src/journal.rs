//! The append-only journal: lines, the hashes that chain them, and what a line can say.
//!
//! A line's hash is the SHA-256 of five values, a line feed between each: its number, the hash of
//! the line before (hex; zeros on the first), the id of the bird it is about (or nothing), the hash
//! of that bird's line before (hex, or nothing), and the SHA-256 of its body (hex). So one chain runs through
//! the whole journal and one through each bird's lines, and either can be checked without seeing
//! the bodies of others. The salt in each body keeps others from guessing a body by its hash.

use crate::{Moment, Result, StoreError};
use note::{
    BirdId, DisplayReading, Entry, EntryId, NoteId, PhotoId, Sha256, TakenSource, Transcript, Verdict, Word,
};
use rusqlite::{Connection, OptionalExtension, params};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256 as Hasher};

use crate::types::{BirdDetails, BirdEventKind, EvidenceKind, Place};

/// A hash as stored.
pub type Hash = [u8; 32];

/// What a line says, before it is written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "op", rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum Op {
    BirdAdded {
        bird: BirdId,
        details: BirdDetails,
    },
    BirdChanged {
        bird: BirdId,
        details: BirdDetails,
    },
    BirdHappened {
        bird: BirdId,
        at: Moment,
        kind: BirdEventKind,
        text: String,
        /// Who entered it first, where that was another keeper.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        by: Option<String>,
    },
    KeeperAdded {
        name: String,
    },
    Kept {
        sha256: Sha256,
        bytes: u64,
        kind: EvidenceKind,
        media_type: Option<String>,
        name: Option<String>,
    },
    NoteAdded {
        note: NoteId,
        sha256: Option<Sha256>,
        text: Option<String>,
        at: Moment,
        taken: Option<TakenSource>,
        bird: Option<BirdId>,
    },
    Heard {
        note: NoteId,
        heard: Heard,
    },
    NoteFailed {
        note: NoteId,
        why: String,
    },
    /// All that a note says was proposed.
    Drafted {
        note: NoteId,
    },
    Proposed {
        entry: EntryId,
        n: u32,
        note: Option<NoteId>,
        photo: Option<PhotoId>,
        /// The original that it was read from.
        from: Option<Sha256>,
        bird: Option<BirdId>,
        said: Entry,
    },
    Withdrawn {
        entry: EntryId,
    },
    Decided {
        entry: EntryId,
        bird: Option<BirdId>,
        verdict: Verdict,
    },
    /// Changed after it was confirmed.
    Amended {
        entry: EntryId,
        bird: Option<BirdId>,
        to: Entry,
        reason: String,
    },
    /// Struck out after it was confirmed.
    Struck {
        entry: EntryId,
        reason: String,
    },
    /// On the chain of the bird that an entry was moved away from; says nothing of where it went.
    MovedAway {
        entry: EntryId,
    },
    /// On the same chain, when the move was undone.
    MovedBack {
        entry: EntryId,
    },
    Undone {
        entry: EntryId,
        decision: i64,
    },
    PhotoAdded {
        photo: PhotoId,
        sha256: Sha256,
        at: Moment,
        taken: TakenSource,
        orientation: u8,
        place: Option<Place>,
        bird: Option<BirdId>,
    },
    Read {
        photo: PhotoId,
        reading: DisplayReading,
    },
    PhotoFailed {
        photo: PhotoId,
        why: String,
    },
    Paired {
        photo: PhotoId,
        from: Sha256,
        entry: EntryId,
        by_hand: bool,
    },
    Parted {
        photo: PhotoId,
        by_hand: bool,
    },
    WordLearned {
        heard: String,
        meaning: String,
    },
    WordForgotten {
        heard: String,
    },
    Set {
        key: String,
        value: serde_json::Value,
    },
    ScaleChecked {
        scale: String,
        known_g: f64,
        shown_g: f64,
        at: Moment,
    },
    /// Another keeper's record of a bird was taken in; `from` is the file.
    TookIn {
        bird: BirdId,
        keeper: String,
        from: Sha256,
    },
    /// One entry of another keeper's record.
    Another {
        entry: EntryId,
        bird: Option<BirdId>,
        said: Entry,
        by: String,
        decided: Moment,
        keeper: String,
        /// Another bird was taken out of it before it came.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        redacted: bool,
    },
    /// A damaged file was repaired: these lines could not be read any more.
    Repaired {
        lost: Vec<(i64, i64)>,
        head_before: Option<Sha256>,
    },
}

/// A transcript with its words as plain rows, which halves its length.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Heard {
    pub text: String,
    /// Word, start, end, probability.
    pub words: Vec<(String, f64, f64, f64)>,
    pub audio_s: f64,
    pub took_s: f64,
    pub model: String,
    pub model_sha256: String,
    pub engine: String,
}

impl From<&Transcript> for Heard {
    fn from(t: &Transcript) -> Self {
        Self {
            text: t.text.clone(),
            words: t.words.iter().map(|w| (w.word.clone(), w.start_s, w.end_s, w.p)).collect(),
            audio_s: t.audio_s,
            took_s: t.took_s,
            model: t.model.clone(),
            model_sha256: t.model_sha256.clone(),
            engine: t.engine.clone(),
        }
    }
}

impl From<Heard> for Transcript {
    fn from(h: Heard) -> Self {
        Self {
            text: h.text,
            words: h
                .words
                .into_iter()
                .map(|(word, start_s, end_s, p)| Word { word, start_s, end_s, p })
                .collect(),
            audio_s: h.audio_s,
            took_s: h.took_s,
            model: h.model,
            model_sha256: h.model_sha256,
            engine: h.engine,
        }
    }
}

/// The body of a line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Body {
    /// When it was written, by the clock of this machine.
    pub at: Moment,
    /// Who.
    pub by: String,
    /// On which device.
    pub device: String,
    /// Number of the first line of the act that it belongs to.
    pub act: i64,
    /// Random, so that nobody can guess a body by its hash.
    pub salt: String,
    /// What it says.
    pub what: Op,
}

/// A line as stored, and as handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// Its number, from 1.
    pub seq: i64,
    /// Hash of the line before, hex.
    pub prev: String,
    /// The bird that it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bird: Option<String>,
    /// Hash of that bird's line before, hex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bird_prev: Option<String>,
    /// SHA-256 of the body's text, hex.
    pub body_sha256: String,
    /// Its hash, hex.
    pub hash: String,
    /// The body's text; `None` where it is withheld.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub body: Option<String>,
}

/// The hash before the first line.
pub const ZERO: Hash = [0; 32];

/// Computes the hash of a line from its parts.
pub fn line_hash(
    seq: i64,
    prev: &Hash,
    bird: Option<&str>,
    bird_prev: Option<&Hash>,
    body_hash: &Hash,
) -> Hash {
    let text = format!(
        "{seq}\n{}\n{}\n{}\n{}",
        hex(prev),
        bird.unwrap_or(""),
        bird_prev.map(|h| hex(h)).unwrap_or_default(),
        hex(body_hash)
    );
    Hasher::digest(text.as_bytes()).into()
}

/// Computes the SHA-256 of a text.
pub fn text_hash(text: &str) -> Hash {
    Hasher::digest(text.as_bytes()).into()
}

/// Writes bytes as lower-case hex.
pub fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let mut out = String::with_capacity(bytes.len() * 2);
    for b in bytes {
        out.push(DIGITS[(b >> 4) as usize] as char);
        out.push(DIGITS[(b & 15) as usize] as char);
    }
    out
}

/// Reads a hash from 64 hex digits.
pub fn unhex(text: &str) -> Option<Hash> {
    let bytes = text.as_bytes();
    if bytes.len() != 64 {
        return None;
    }
    let mut out = [0u8; 32];
    for (i, pair) in bytes.chunks_exact(2).enumerate() {
        let digit = |b: u8| (b as char).to_digit(16).filter(|_| !b.is_ascii_uppercase());
        out[i] = (digit(pair[0])? * 16 + digit(pair[1])?) as u8;
    }
    Some(out)
}

impl Line {
    /// Checks the line's own hash, and its body where it has one.
    pub fn holds(&self) -> bool {
        let parts = (unhex(&self.prev), unhex(&self.body_sha256), unhex(&self.hash));
        let (Some(prev), Some(body_hash), Some(hash)) = parts else { return false };
        let bird_prev = match self.bird_prev.as_deref().map(unhex) {
            Some(None) => return false,
            other => other.flatten(),
        };
        self.body.as_deref().is_none_or(|body| text_hash(body) == body_hash)
            && line_hash(self.seq, &prev, self.bird.as_deref(), bird_prev.as_ref(), &body_hash) == hash
    }
}

impl Op {
    /// Returns the bird that a line of this is about; for ops on entries the caller knows it.
    pub(crate) fn own_bird(&self) -> Option<&BirdId> {
        match self {
            Op::BirdAdded { bird, .. }
            | Op::BirdChanged { bird, .. }
            | Op::BirdHappened { bird, .. }
            | Op::TookIn { bird, .. } => Some(bird),
            Op::Proposed { bird, .. }
            | Op::Decided { bird, .. }
            | Op::Amended { bird, .. }
            | Op::Another { bird, .. } => bird.as_ref(),
            _ => None,
        }
    }
}

/// The last line: its number and hash.
pub(crate) fn head(db: &Connection) -> Result<(i64, Hash)> {
    Ok(db
        .prepare_cached("SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1")?
        .query_row([], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?
        .unwrap_or((0, ZERO)))
}

fn bird_head(db: &Connection, bird: &str) -> Result<Hash> {
    Ok(db
        .prepare_cached("SELECT hash FROM journal WHERE bird = ?1 ORDER BY seq DESC LIMIT 1")?
        .query_row([bird], |row| row.get(0))
        .optional()?
        .unwrap_or(ZERO))
}

/// Adds a line after the head; returns the new head.
pub(crate) fn append(
    db: &Connection,
    (last, prev): (i64, Hash),
    bird: Option<&BirdId>,
    body: &Body,
) -> Result<(i64, Hash)> {
    let seq = last + 1;
    let text = serde_json::to_string(body)?;
    let bird = bird.map(BirdId::as_str);
    let bird_prev = bird.map(|b| bird_head(db, b)).transpose()?;
    let hash = line_hash(seq, &prev, bird, bird_prev.as_ref(), &text_hash(&text));
    db.prepare_cached(
        "INSERT INTO journal (seq, prev, bird, bird_prev, body, hash) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?
    .execute(params![seq, prev, bird, bird_prev, text, hash])?;
    Ok((seq, hash))
}

/// Reads a stored line.
pub(crate) fn line_of(row: &rusqlite::Row<'_>) -> rusqlite::Result<Line> {
    let body: String = row.get("body")?;
    Ok(Line {
        seq: row.get("seq")?,
        prev: hex(&row.get::<_, Hash>("prev")?),
        bird: row.get("bird")?,
        bird_prev: row.get::<_, Option<Hash>>("bird_prev")?.map(|h| hex(&h)),
        body_sha256: hex(&text_hash(&body)),
        hash: hex(&row.get::<_, Hash>("hash")?),
        body: Some(body),
    })
}

/// Reads the body of one line.
pub(crate) fn body_at(db: &Connection, seq: i64) -> Result<Body> {
    let text: String = db
        .prepare_cached("SELECT body FROM journal WHERE seq = ?1")?
        .query_row([seq], |row| row.get(0))
        .optional()?
        .ok_or_else(|| StoreError::Damaged(format!("journal line {seq} is missing")))?;
    Ok(serde_json::from_str(&text)?)
}

/// Makes a short id, unlike any other: a letter, the time in milliseconds, and 55 random bits.
pub(crate) fn new_id(letter: char, at: Moment) -> Result<String> {
    const SIGNS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
    let mut random = [0u8; 8];
    fill(&mut random)?;
    let time = (at.timestamp_millis().max(0) as u64) & ((1 << 45) - 1);
    let mut out = String::with_capacity(21);
    out.push(letter);
    let mut put = |value: u64, signs: u32| {
        for i in (0..signs).rev() {
            out.push(SIGNS[(value >> (5 * i)) as usize & 31] as char);
        }
    };
    put(time, 9);
    put(u64::from_le_bytes(random), 11);
    Ok(out)
}

/// Fills bytes with randomness from the system.
pub(crate) fn fill(bytes: &mut [u8]) -> Result<()> {
    getrandom::fill(bytes)
        .map_err(|e| StoreError::Refused(format!("the system gives no random numbers: {e}")))
}

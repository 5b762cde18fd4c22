//! Notes on their way from sound or typed words to proposals.

use crate::journal::{Body, Heard, Op, body_at};
use crate::open::{Writer, ourselves};
use crate::read::{EntryRow, entry_rows, maybe_moment, moment, resolve, stage, taken};
use crate::{
    Added, Decision, NewNote, Note, Result, Source, Span, State, Store, StoreError, Who, birds, evidence,
    pairing,
};
use note::{BirdId, Entry, EntryId, NoteId, Sha256, Transcript};
use rusqlite::{Connection, OptionalExtension, Row, params};

/// Most entries taken from one note.
const MAX_ENTRIES: usize = 500;

const SELECT: &str = "SELECT id, sha256, text, at, taken, bird, keeper, device, received, stage, trouble, audio_s, model FROM note";

fn of_row(row: &Row<'_>) -> rusqlite::Result<Note> {
    Ok(Note {
        id: NoteId::new(row.get::<_, String>(0)?),
        evidence: row.get::<_, Option<String>>(1)?.map(Sha256::new),
        text: row.get(2)?,
        at: moment(row, 3)?,
        taken: taken(row, 4)?,
        bird: row.get::<_, Option<String>>(5)?.map(BirdId::new),
        keeper: row.get(6)?,
        device: row.get(7)?,
        received: maybe_moment(row, 8)?.unwrap_or_default(),
        stage: stage(row, 9)?,
        trouble: row.get(10)?,
        audio_s: row.get(11)?,
        model: row.get(12)?,
    })
}

pub(crate) fn note(db: &Connection, id: &NoteId) -> Result<Note> {
    db.prepare_cached(&format!("{SELECT} WHERE id = ?1"))?
        .query_row([id.as_str()], of_row)
        .optional()?
        .ok_or_else(|| StoreError::missing("note", id))
}

fn note_of(db: &Connection, evidence: &Sha256) -> Result<Option<Note>> {
    Ok(db
        .prepare_cached(&format!("{SELECT} WHERE sha256 = ?1"))?
        .query_row([evidence.as_str()], of_row)
        .optional()?)
}

pub(crate) fn transcript(db: &Connection, id: &NoteId) -> Result<Option<Transcript>> {
    let seq: Option<Option<i64>> = db
        .prepare_cached("SELECT heard_seq FROM note WHERE id = ?1")?
        .query_row([id.as_str()], |row| row.get(0))
        .optional()?;
    match seq.flatten() {
        None => Ok(None),
        Some(seq) => match body_at(db, seq)? {
            Body { what: Op::Heard { heard, .. }, .. } => Ok(Some(heard.into())),
            _ => Err(StoreError::Damaged(format!("journal line {seq} is no transcript"))),
        },
    }
}

impl Store {
    /// Adds a note; the same recording twice is known, not new.
    pub fn add_note(&self, new: NewNote, who: &Who) -> Result<Added<NoteId>> {
        self.write(who, |w| {
            let (sha256, text) = match new.source {
                Source::Sound(sha256) => {
                    if let Some(known) = note_of(w.db, &sha256)? {
                        return Ok(Added::Known(known.id));
                    }
                    evidence::evidence(w.db, &sha256)?
                        .ok_or_else(|| StoreError::missing("original", &sha256))?;
                    (Some(sha256), None)
                }
                Source::Typed(text) if text.trim().is_empty() => {
                    return Err(StoreError::Refused("there are no words in this note".into()));
                }
                Source::Typed(text) => (None, Some(text)),
            };
            if let Some(bird) = &new.bird {
                birds::bird(w.db, bird)?;
            }
            let note = NoteId::new(w.id('n')?);
            w.push(Op::NoteAdded {
                note: note.clone(),
                sha256,
                text,
                at: new.at,
                taken: new.taken,
                bird: new.bird,
            })?;
            Ok(Added::New(note))
        })
    }

    /// Gets a note.
    pub fn note(&self, id: &NoteId) -> Result<Note> {
        self.read(|db| note(db, id))
    }

    /// Lists notes, newest first.
    pub fn notes(&self, span: Span, offset: u64, limit: u64) -> Result<Vec<Note>> {
        self.read(|db| {
            let (from, to) = span.millis();
            let sql = format!(
                "{SELECT} WHERE at_ms >= ?1 AND at_ms < ?2 ORDER BY at_ms DESC, seq DESC LIMIT ?3 OFFSET ?4"
            );
            let mut rows = db.prepare_cached(&sql)?;
            let rows = rows.query_map(params![from, to, limit as i64, offset as i64], of_row)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Finds the note of a recording.
    pub fn note_of(&self, evidence: &Sha256) -> Result<Option<Note>> {
        self.read(|db| note_of(db, evidence))
    }

    /// Saves what the speech model heard, raw, with its engine and model; the note is then `heard`.
    pub fn set_transcript(&self, id: &NoteId, transcript: &Transcript) -> Result<()> {
        self.write(&ourselves(), |w| {
            if note(w.db, id)?.evidence.is_none() {
                return Err(StoreError::Refused("this note was typed: there is no sound to hear".into()));
            }
            w.push(Op::Heard { note: id.clone(), heard: Heard::from(transcript) }).map(drop)
        })
    }

    /// Returns what was heard, with word times.
    pub fn transcript(&self, id: &NoteId) -> Result<Option<Transcript>> {
        self.read(|db| transcript(db, id))
    }

    /// Marks a note as failed, with the reason in plain words; its original stays.
    pub fn note_failed(&self, id: &NoteId, why: &str) -> Result<()> {
        self.write(&ourselves(), |w| {
            note(w.db, id)?;
            w.push(Op::NoteFailed { note: id.clone(), why: why.to_owned() }).map(drop)
        })
    }

    /// Proposes what was read from a note, and pairs weights with photos. Done again, it replaces
    /// what nobody decided on. Returns the ids of all entries of the note that wait, in order.
    pub fn propose(&self, id: &NoteId, entries: Vec<Entry>) -> Result<Vec<EntryId>> {
        if entries.len() > MAX_ENTRIES {
            return Err(StoreError::Refused(format!("more than {MAX_ENTRIES} entries from one note")));
        }
        self.write(&ourselves(), |w| {
            let note = note(w.db, id)?;
            let here = birds::here(w.db)?;
            let before = entry_rows(w.db, "WHERE note = ?1 ORDER BY n, seq", [id.as_str()])?;
            let (mut waiting, decided): (Vec<EntryRow>, Vec<EntryRow>) = before
                .into_iter()
                .filter(|row| row.state != State::Withdrawn)
                .partition(|row| row.state == State::Waiting);
            let mut added = false;
            for (n, said) in entries.into_iter().enumerate() {
                if decided.iter().any(|row| same_words(&row.said, &said)) {
                    continue;
                }
                // What reads the same as before keeps its id, so that an open page stays true.
                if let Some(at) = waiting.iter().position(|row| row.said == said) {
                    waiting.remove(at);
                    continue;
                }
                added = true;
                let bird = resolve(&here, said.bird.as_deref());
                w.push(Op::Proposed {
                    entry: EntryId::new(w.id('e')?),
                    n: n as u32,
                    note: Some(id.clone()),
                    photo: None,
                    from: note.evidence.clone(),
                    bird,
                    said,
                })?;
            }
            for gone in &waiting {
                withdraw(w, gone)?;
            }
            if added || !waiting.is_empty() || note.stage != crate::Stage::Drafted {
                w.push(Op::Drafted { note: id.clone() })?;
            }
            pairing::around(w, note.at)?;
            let standing =
                entry_rows(w.db, "WHERE note = ?1 AND state = 'waiting' ORDER BY n, seq", [id.as_str()])?;
            Ok(standing.into_iter().map(|row| row.id).collect())
        })
    }

    /// Enters something by hand: proposed and confirmed in one step, in the keeper's own typed words.
    pub fn enter(&self, entry: Entry, who: &Who) -> Result<EntryId> {
        self.enter_all(vec![entry], who)?
            .pop()
            .ok_or_else(|| StoreError::Refused("there is nothing to enter".into()))
    }

    /// Enters many things by hand as one act, as when a table is brought in: all or none.
    pub fn enter_all(&self, entries: Vec<Entry>, who: &Who) -> Result<Vec<EntryId>> {
        self.write(who, |w| {
            let here = birds::here(w.db)?;
            let mut out = Vec::with_capacity(entries.len());
            for (n, said) in entries.into_iter().enumerate() {
                let id = EntryId::new(w.id('e')?);
                let bird = resolve(&here, said.bird.as_deref());
                w.push(Op::Proposed {
                    entry: id.clone(),
                    n: n as u32,
                    note: None,
                    photo: None,
                    from: None,
                    bird,
                    said,
                })?;
                crate::decide::decide_one(w, &here, &Decision::accept(&id))?;
                out.push(id);
            }
            Ok(out)
        })
    }
}

/// Whether an entry that was decided already speaks of the same words, so that reading a note again
/// does not propose it a second time.
fn same_words(decided: &Entry, new: &Entry) -> bool {
    let overlap = decided.span[0] < new.span[1] && new.span[0] < decided.span[1];
    decided.kind() == new.kind() && decided.bird == new.bird && (overlap || decided.span == new.span)
}

/// Takes back a proposal that nobody decided on, and its photo.
pub(crate) fn withdraw(w: &mut Writer<'_>, row: &EntryRow) -> Result<()> {
    pairing::part_from(w, row)?;
    w.push_for(row.bird.as_ref(), Op::Withdrawn { entry: row.id.clone() }).map(drop)
}

//! Reading the record back: entries with all that is known of them, cards, and what is confirmed.

use crate::pairing::{Agreement, agreement};
use crate::{
    Bird, Card, Net, Note, Pairing, Photo, Record, Result, Span, Stage, State, Store, StoreError, Waiting,
    birds, notes, photos,
};
use chrono::DateTime;
use note::{
    BirdId, Confirmed, Entry, EntryId, Flag, Grams, NoteId, PhotoId, Proposed, TakenSource, Value, Verdict,
};
use rusqlite::types::Type;
use rusqlite::{Connection, OptionalExtension, Row, params};
use std::collections::HashMap;

fn unreadable(
    at: usize,
    what: Type,
    error: impl std::error::Error + Send + Sync + 'static,
) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(at, what, Box::new(error))
}

pub(crate) fn moment(row: &Row<'_>, at: usize) -> rusqlite::Result<crate::Moment> {
    let text = row.get_ref(at)?.as_str().map_err(rusqlite::Error::from)?;
    DateTime::parse_from_rfc3339(text).map_err(|e| unreadable(at, Type::Text, e))
}

pub(crate) fn maybe_moment(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<crate::Moment>> {
    match row.get_ref(at)? {
        rusqlite::types::ValueRef::Null => Ok(None),
        _ => moment(row, at).map(Some),
    }
}

pub(crate) fn grams(row: &Row<'_>, at: usize) -> rusqlite::Result<Grams> {
    Grams::new(row.get(at)?).map_err(|e| unreadable(at, Type::Real, e))
}

pub(crate) fn stage(row: &Row<'_>, at: usize) -> rusqlite::Result<Stage> {
    let word: String = row.get(at)?;
    Ok(Stage::from_word(&word).unwrap_or(Stage::Failed))
}

pub(crate) fn taken(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<TakenSource>> {
    let word: Option<String> = row.get(at)?;
    word.map(|w| serde_json::from_value(w.into()).map_err(|e| unreadable(at, Type::Text, e))).transpose()
}

/// An entry's row.
pub(crate) struct EntryRow {
    pub(crate) seq: i64,
    pub(crate) id: EntryId,
    pub(crate) note: Option<NoteId>,
    pub(crate) photo: Option<PhotoId>,
    pub(crate) bird: Option<BirdId>,
    pub(crate) state: State,
    pub(crate) said: Entry,
    pub(crate) now: Option<Entry>,
    pub(crate) by: Option<String>,
    pub(crate) decided: Option<crate::Moment>,
    pub(crate) reason: Option<String>,
    pub(crate) another: Option<String>,
}

impl EntryRow {
    /// The entry as it counts.
    pub(crate) fn counts(&self) -> &Entry {
        self.now.as_ref().unwrap_or(&self.said)
    }
}

pub(crate) fn entry_rows(
    db: &Connection,
    rest: &str,
    params: impl rusqlite::Params,
) -> Result<Vec<EntryRow>> {
    let sql = format!(
        "SELECT seq, id, note, photo, bird, state, said, now, by, decided, reason, another FROM entry {rest}"
    );
    let mut rows = db.prepare_cached(&sql)?;
    let rows = rows.query_map(params, |row| Ok(entry_row(row)))?;
    rows.map(|row| row?).collect()
}

fn entry_row(row: &Row<'_>) -> Result<EntryRow> {
    let text = |at: usize| -> rusqlite::Result<Option<String>> { row.get(at) };
    let state: String = row.get(5)?;
    Ok(EntryRow {
        seq: row.get(0)?,
        id: EntryId::new(row.get::<_, String>(1)?),
        note: text(2)?.map(NoteId::new),
        photo: text(3)?.map(PhotoId::new),
        bird: text(4)?.map(BirdId::new),
        state: State::from_word(&state)
            .ok_or_else(|| StoreError::Damaged(format!("an entry stands at {state}")))?,
        said: serde_json::from_str(row.get_ref(6)?.as_str().map_err(rusqlite::Error::from)?)?,
        now: text(7)?.map(|t| serde_json::from_str(&t)).transpose()?,
        by: text(8)?,
        decided: maybe_moment(row, 9)?,
        reason: text(10)?,
        another: text(11)?,
    })
}

pub(crate) fn entry(db: &Connection, id: &EntryId) -> Result<EntryRow> {
    entry_rows(db, "WHERE id = ?1", [id.as_str()])?.pop().ok_or_else(|| StoreError::missing("entry", id))
}

/// Birds read once for many entries: for their names of today and what they wear.
pub(crate) struct Birds(HashMap<String, (String, Option<f64>)>);

impl Birds {
    pub(crate) fn read(db: &Connection) -> Result<Self> {
        let mut rows = db.prepare_cached("SELECT id, name, details FROM bird")?;
        let rows = rows.query_map([], |row| {
            Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?, row.get::<_, String>(2)?))
        })?;
        let mut out = HashMap::new();
        for row in rows {
            let (id, name, details) = row?;
            let details: crate::BirdDetails = serde_json::from_str(&details)?;
            out.insert(id, (name, details.furniture_g()));
        }
        Ok(Self(out))
    }

    fn name(&self, bird: &BirdId) -> Option<&str> {
        self.0.get(bird.as_str()).map(|b| b.0.as_str())
    }

    fn net(&self, bird: Option<&BirdId>, entry: &Entry) -> Option<Net> {
        let furniture_g = self.0.get(bird?.as_str())?.1.filter(|g| *g > 0.0)?;
        match &entry.value {
            Value::Weight(weight) => {
                let read_g = weight.grams.get();
                let bird_g = ((read_g - furniture_g) * 10.0).round() / 10.0;
                Some(Net { read_g, furniture_g, bird_g })
            }
            _ => None,
        }
    }

    /// Gives an entry the bird's name of today.
    fn rename(&self, bird: Option<&BirdId>, mut entry: Entry) -> Entry {
        if entry.bird.is_some()
            && let Some(name) = bird.and_then(|b| self.name(b))
        {
            entry.bird = Some(name.to_owned());
        }
        entry
    }
}

/// The photo beside a weight.
pub(crate) fn pairing(db: &Connection, id: &EntryId, entry: &Entry) -> Result<Option<Pairing>> {
    let Value::Weight(weight) = &entry.value else { return Ok(None) };
    let found: Option<(String, bool)> = db
        .prepare_cached("SELECT photo, by_hand FROM pair WHERE entry = ?1")?
        .query_row([id.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    let Some((photo, by_hand)) = found else { return Ok(None) };
    let photo = photos::photo(db, &PhotoId::new(photo))?;
    let Agreement { agrees, difference_g } = agreement(weight, photo.reading.as_ref());
    Ok(Some(Pairing { photo, by_hand, agrees, difference_g }))
}

/// What speech and photo make of an entry together: two witnesses that agree are surer than either;
/// two that differ make it one to look at, whatever either thought of itself.
fn with_photo(mut entry: Entry, pairing: Option<&Pairing>) -> Entry {
    let Some(pairing) = pairing else { return entry };
    match pairing.agrees {
        Some(true) => {
            let photo = pairing.photo.reading.as_ref().map_or(0.0, |r| r.confidence);
            entry.confidence = (1.0 - (1.0 - entry.confidence) * (1.0 - photo)).min(0.999);
            entry.flags.retain(|f| *f != Flag::DiffersFromPhoto);
        }
        Some(false) => {
            entry.confidence = entry.confidence.min(0.5);
            if !entry.flags.contains(&Flag::DiffersFromPhoto) {
                entry.flags.push(Flag::DiffersFromPhoto);
            }
        }
        None => {}
    }
    entry
}

pub(crate) fn record_of(db: &Connection, birds: &Birds, row: EntryRow) -> Result<Record> {
    let pairing = pairing(db, &row.id, row.counts())?;
    let net = birds.net(row.bird.as_ref(), row.counts());
    let (entry, proposed) = match row.now {
        Some(now) => (now, Some(row.said)),
        None => (row.said, None),
    };
    let entry = with_photo(birds.rename(row.bird.as_ref(), entry), pairing.as_ref());
    Ok(Record {
        id: row.id,
        bird: row.bird,
        state: row.state,
        entry,
        proposed,
        by: row.by,
        decided: row.decided,
        reason: row.reason,
        note: row.note,
        photo: row.photo,
        pairing,
        another: row.another,
        net,
    })
}

fn records(db: &Connection, rest: &str, params: impl rusqlite::Params) -> Result<Vec<Record>> {
    let birds = Birds::read(db)?;
    entry_rows(db, rest, params)?.into_iter().map(|row| record_of(db, &birds, row)).collect()
}

pub(crate) fn confirmed_rows(db: &Connection, bird: &BirdId, span: Span) -> Result<Vec<EntryRow>> {
    let (from, to) = span.millis();
    entry_rows(
        db,
        "WHERE bird = ?1 AND state = 'confirmed' AND at_ms >= ?2 AND at_ms < ?3 ORDER BY at_ms, note, n, seq",
        params![bird.as_str(), from, to],
    )
}

fn to_confirmed(db: &Connection, name: Option<&str>, row: EntryRow) -> Result<Option<Confirmed>> {
    let pairing = pairing(db, &row.id, row.counts())?;
    let (Some(by), Some(at)) = (row.by.clone(), row.decided) else { return Ok(None) };
    let mut entry = with_photo(row.now.unwrap_or(row.said), pairing.as_ref());
    if let Some(name) = name.filter(|_| entry.bird.is_some()) {
        entry.bird = Some(name.to_owned());
    }
    Ok(Proposed { id: row.id, entry }.decide(&Verdict::Accept, &by, at))
}

impl Store {
    /// Lists what waits as cards, oldest note first.
    pub fn waiting(&self, offset: u64, limit: u64) -> Result<Vec<Card>> {
        self.read(|db| {
            let mut rows = db.prepare_cached(
                "SELECT w.note, w.photo FROM
                   (SELECT DISTINCT note, photo FROM entry WHERE state = 'waiting') AS w
                   LEFT JOIN note ON note.id = w.note LEFT JOIN photo ON photo.id = w.photo
                 ORDER BY coalesce(note.at_ms, photo.at_ms), coalesce(note.seq, photo.seq)
                 LIMIT ?1 OFFSET ?2",
            )?;
            let keys = rows
                .query_map([limit as i64, offset as i64], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect::<rusqlite::Result<Vec<(Option<String>, Option<String>)>>>()?;
            let birds = Birds::read(db)?;
            keys.into_iter()
                .map(|(note, photo)| card(db, &birds, note.map(NoteId::new), photo.map(PhotoId::new)))
                .collect()
        })
    }

    /// Returns the card of one note; empty `waiting` when all is decided.
    pub fn card(&self, note: &NoteId) -> Result<Card> {
        self.read(|db| card(db, &Birds::read(db)?, Some(note.clone()), None))
    }

    /// Returns the card of a photo that proposes by itself.
    pub fn photo_card(&self, photo: &PhotoId) -> Result<Card> {
        self.read(|db| card(db, &Birds::read(db)?, None, Some(photo.clone())))
    }

    /// Returns the confirmed entries of a bird in a span, oldest first. Only these count.
    pub fn confirmed(&self, bird: &BirdId, span: Span) -> Result<Vec<Confirmed>> {
        self.read(|db| {
            let name = birds::bird(db, bird)?.details.name;
            let mut out = Vec::new();
            for row in confirmed_rows(db, bird, span)? {
                out.extend(to_confirmed(db, Some(&name), row)?);
            }
            Ok(out)
        })
    }

    /// Returns confirmed weather in a span: it belongs to no bird.
    pub fn weather(&self, span: Span) -> Result<Vec<Confirmed>> {
        self.read(|db| {
            let (from, to) = span.millis();
            let rows = entry_rows(
                db,
                "WHERE state = 'confirmed' AND kind = 'weather' AND bird IS NULL AND at_ms >= ?1 AND at_ms < ?2 ORDER BY at_ms, seq",
                [from, to],
            )?;
            let mut out = Vec::new();
            for row in rows {
                out.extend(to_confirmed(db, None, row)?);
            }
            Ok(out)
        })
    }

    /// Returns everything of a bird in a span, waiting and rejected too, oldest first.
    pub fn records(&self, bird: &BirdId, span: Span) -> Result<Vec<Record>> {
        self.read(|db| {
            let (from, to) = span.millis();
            records(
                db,
                "WHERE bird = ?1 AND at_ms >= ?2 AND at_ms < ?3 AND state <> 'withdrawn' ORDER BY at_ms, note, n, seq",
                params![bird.as_str(), from, to],
            )
        })
    }

    /// Returns one entry with all that is known of it.
    pub fn record(&self, id: &EntryId) -> Result<Record> {
        self.read(|db| record_of(db, &Birds::read(db)?, entry(db, id)?))
    }

    /// Returns all entries of a note but the withdrawn.
    pub fn records_of_note(&self, note: &NoteId) -> Result<Vec<Record>> {
        self.read(|db| {
            records(db, "WHERE note = ?1 AND state <> 'withdrawn' ORDER BY n, seq", [note.as_str()])
        })
    }

    /// Lists the weights that a photo may be paired with by hand, nearest in time first.
    pub fn pairing_choices(&self, photo: &PhotoId, limit: u64) -> Result<Vec<Record>> {
        self.read(|db| {
            let photo = photos::photo(db, photo)?;
            let at = photo.at.timestamp_millis();
            const DAY: i64 = 86_400_000;
            records(
                db,
                "WHERE kind = 'weight' AND note IS NOT NULL AND state IN ('waiting', 'confirmed')
                   AND at_ms BETWEEN ?1 - ?2 AND ?1 + ?2
                 ORDER BY abs(at_ms - ?1), seq LIMIT ?3",
                params![at, 2 * DAY, limit as i64],
            )
        })
    }
}

fn card(db: &Connection, birds: &Birds, note: Option<NoteId>, photo: Option<PhotoId>) -> Result<Card> {
    let rows = match (&note, &photo) {
        (Some(note), _) => entry_rows(db, "WHERE note = ?1 ORDER BY n, seq", [note.as_str()])?,
        (None, Some(photo)) => entry_rows(db, "WHERE photo = ?1 ORDER BY n, seq", [photo.as_str()])?,
        (None, None) => Vec::new(),
    };
    let decided = rows.iter().filter(|r| matches!(r.state, State::Confirmed | State::Rejected)).count();
    let mut waiting = Vec::new();
    for row in rows.into_iter().filter(|r| r.state == State::Waiting) {
        let record = record_of(db, birds, row)?;
        waiting.push(Waiting {
            proposed: Proposed { id: record.id, entry: record.entry },
            bird: record.bird,
            pairing: record.pairing,
            net: record.net,
        });
    }
    let transcript = note.as_ref().map(|id| notes::transcript(db, id)).transpose()?.flatten();
    let note: Option<Note> = note.map(|id| notes::note(db, &id)).transpose()?;
    let photo: Option<Photo> = photo.map(|id| photos::photo(db, &id)).transpose()?;
    Ok(Card { note, transcript, photo, waiting, decided })
}

/// Finds which bird a name means, among those that are here.
pub(crate) fn resolve(here: &[Bird], name: Option<&str>) -> Option<BirdId> {
    birds::by_name(here, name?).map(|b| b.id.clone())
}

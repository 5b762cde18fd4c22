//! How each journal line changes the view. The same code writes it live and rebuilds it.
//!
//! Everything here depends on the line alone: no clock, no settings, no randomness.

use crate::journal::{Body, Op};
use crate::{Result, StoreError};
use note::{BirdId, Entry, EntryId, Value, Verdict};
use rusqlite::{Connection, OptionalExtension, params};

/// The form of the view; a file with another one gets its view made anew from the journal.
pub(crate) const VIEW_FORM: u32 = 2;

/// The tables of the view, each with the column that orders it.
pub(crate) const TABLES: &[(&str, &str)] = &[
    ("bird", "seq"),
    ("bird_event", "seq"),
    ("keeper", "name"),
    ("evidence", "seq"),
    ("note", "seq"),
    ("photo", "seq"),
    ("entry", "seq"),
    ("decision", "seq"),
    ("pair", "photo"),
    ("word", "heard"),
    ("setting", "key"),
    ("scale_check", "seq"),
    ("tally", "what"),
    ("search", "rowid"),
];

const DDL: &str = include_str!("../sql/view.sql");

/// Makes the empty tables of the view.
pub(crate) fn create(db: &Connection) -> Result<()> {
    Ok(db.execute_batch(DDL)?)
}

/// Drops the tables of the view, whatever form they have.
pub(crate) fn drop_all(db: &Connection) -> Result<()> {
    for (table, _) in TABLES {
        db.execute_batch(&format!("DROP TABLE IF EXISTS {table}"))?;
    }
    Ok(())
}

/// Makes the view anew from the journal; the caller holds a transaction.
///
/// A line that speaks of another which a repair could not save changes nothing it cannot change;
/// `verify` comes to the same view, and tells of such lines.
pub(crate) fn rebuild_what_is_there(db: &Connection) -> Result<()> {
    drop_all(db)?;
    create(db)?;
    let mut lines = db.prepare("SELECT seq, body FROM journal ORDER BY seq")?;
    let mut rows = lines.query([])?;
    while let Some(row) = rows.next()? {
        let text = row.get_ref(1)?.as_str().map_err(rusqlite::Error::from)?;
        let Ok(body) = serde_json::from_str::<Body>(text) else { continue };
        if let Err(error @ (StoreError::Full | StoreError::Damaged(_) | StoreError::NotWritable(_))) =
            apply(db, row.get(0)?, &body)
        {
            return Err(error);
        }
    }
    Ok(())
}

fn json<T: serde::Serialize>(value: &T) -> Result<String> {
    Ok(serde_json::to_string(value)?)
}

fn word<T: serde::Serialize>(value: &T) -> Result<String> {
    match serde_json::to_value(value)? {
        serde_json::Value::String(word) => Ok(word),
        other => Ok(other.to_string()),
    }
}

fn run(db: &Connection, sql: &str, params: impl rusqlite::Params) -> Result<()> {
    db.prepare_cached(sql)?.execute(params)?;
    Ok(())
}

/// Changes the view as a line says.
pub(crate) fn apply(db: &Connection, seq: i64, body: &Body) -> Result<()> {
    let at = body.at.to_rfc3339();
    match &body.what {
        Op::BirdAdded { bird, details } => run(
            db,
            "INSERT INTO bird (seq, id, name, details, added) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![seq, bird.as_str(), details.name, json(details)?, at],
        ),
        Op::BirdChanged { bird, details } => run(
            db,
            "UPDATE bird SET name = ?2, details = ?3 WHERE id = ?1",
            params![bird.as_str(), details.name, json(details)?],
        ),
        Op::BirdHappened { bird, at, kind, text, by } => {
            run(
                db,
                "INSERT INTO bird_event (seq, bird, at, at_ms, kind, text, by) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![seq, bird.as_str(), at.to_rfc3339(), at.timestamp_millis(), kind.word(), text, by.as_ref().unwrap_or(&body.by)],
            )?;
            // Told late or out of order, the event that happened last decides.
            run(
                db,
                "UPDATE bird SET gone = (SELECT CASE WHEN kind IN ('transferred', 'lost', 'died') THEN kind END
                   FROM bird_event WHERE bird = ?1
                    AND kind IN ('transferred', 'lost', 'died', 'acquired', 'found')
                  ORDER BY at_ms DESC, seq DESC LIMIT 1) WHERE id = ?1",
                [bird.as_str()],
            )
        }
        Op::KeeperAdded { name } => run(db, "INSERT OR IGNORE INTO keeper (name) VALUES (?1)", [name]),
        Op::Kept { sha256, bytes, kind, media_type, name } => run(
            db,
            "INSERT INTO evidence (seq, sha256, bytes, kind, media_type, name, received)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            params![seq, sha256.as_str(), *bytes as i64, kind.word(), media_type, name, at],
        ),
        Op::NoteAdded { note, sha256, text, at: spoken, taken, bird } => {
            run(
                db,
                "INSERT INTO note (seq, id, sha256, text, at, at_ms, taken, bird, keeper, device, received, stage)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
                params![
                    seq,
                    note.as_str(),
                    sha256.as_ref().map(note::Sha256::as_str),
                    text,
                    spoken.to_rfc3339(),
                    spoken.timestamp_millis(),
                    taken.as_ref().map(word).transpose()?,
                    bird.as_ref().map(BirdId::as_str),
                    body.by,
                    body.device,
                    at,
                    if text.is_some() { "heard" } else { "received" },
                ],
            )?;
            text.as_ref().map_or(Ok(()), |text| searchable(db, seq, Some(text)))
        }
        Op::Heard { note, heard } => {
            let note_seq: i64 = db
                .prepare_cached(
                    "UPDATE note SET text = ?2, stage = 'heard', trouble = NULL, heard_seq = ?3, audio_s = ?4, model = ?5
                     WHERE id = ?1 RETURNING seq",
                )?
                .query_row(params![note.as_str(), heard.text, seq, heard.audio_s, heard.model], |row| row.get(0))?;
            searchable(db, note_seq, Some(&heard.text))
        }
        Op::NoteFailed { note, why } => run(
            db,
            "UPDATE note SET stage = 'failed', trouble = ?2 WHERE id = ?1",
            params![note.as_str(), why],
        ),
        Op::Drafted { note } => {
            run(db, "UPDATE note SET stage = 'drafted', trouble = NULL WHERE id = ?1", [note.as_str()])
        }
        Op::Proposed { entry, n, note, photo, from: _, bird, said } => run(
            db,
            "INSERT INTO entry (seq, id, n, note, photo, bird, said_bird, kind, state, at_ms, said)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?6, ?7, 'waiting', ?8, ?9)",
            params![
                seq,
                entry.as_str(),
                n,
                note.as_ref().map(note::NoteId::as_str),
                photo.as_ref().map(note::PhotoId::as_str),
                bird.as_ref().map(BirdId::as_str),
                said.kind().word(),
                said.at.timestamp_millis(),
                json(said)?,
            ],
        ),
        Op::Withdrawn { entry } => {
            run(db, "UPDATE entry SET state = 'withdrawn' WHERE id = ?1", [entry.as_str()])
        }
        Op::Decided { entry, bird, verdict } => {
            let (state, now, reason) = match verdict {
                Verdict::Accept => ("confirmed", None, None),
                Verdict::Correct { entry } => ("confirmed", Some(json(entry)?), None),
                Verdict::Reject { reason } => ("rejected", None, Some(reason.as_str())),
            };
            decided(db, seq, body, entry, Outcome { state, now, bird: bird.as_ref(), reason })
        }
        Op::Amended { entry, bird, to, reason } => decided(
            db,
            seq,
            body,
            entry,
            Outcome { state: "confirmed", now: Some(json(to)?), bird: bird.as_ref(), reason: Some(reason) },
        ),
        Op::Struck { entry, reason } => {
            let (bird, now): (Option<String>, Option<String>) = db
                .prepare_cached("SELECT bird, now FROM entry WHERE id = ?1")?
                .query_row([entry.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))?;
            let bird = bird.map(BirdId::new);
            let outcome = Outcome { state: "rejected", now, bird: bird.as_ref(), reason: Some(reason) };
            decided(db, seq, body, entry, outcome)
        }
        Op::MovedAway { .. } | Op::MovedBack { .. } | Op::Repaired { .. } => Ok(()),
        Op::Undone { entry, decision } => {
            run(db, "UPDATE decision SET undone = ?2 WHERE seq = ?1", params![decision, seq])?;
            stand(db, entry)
        }
        Op::PhotoAdded { photo, sha256, at: taken_at, taken, orientation, place, bird } => run(
            db,
            "INSERT INTO photo (seq, id, sha256, at, at_ms, taken, orientation, bird, keeper, device, received, stage, place)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, 'received', ?12)",
            params![
                seq,
                photo.as_str(),
                sha256.as_str(),
                taken_at.to_rfc3339(),
                taken_at.timestamp_millis(),
                word(taken)?,
                orientation,
                bird.as_ref().map(BirdId::as_str),
                body.by,
                body.device,
                at,
                place.as_ref().map(json).transpose()?,
            ],
        ),
        Op::Read { photo, reading } => run(
            db,
            "UPDATE photo SET reading = ?2, stage = 'drafted', trouble = NULL WHERE id = ?1",
            params![photo.as_str(), json(reading)?],
        ),
        Op::PhotoFailed { photo, why } => run(
            db,
            "UPDATE photo SET stage = 'failed', trouble = ?2 WHERE id = ?1",
            params![photo.as_str(), why],
        ),
        Op::Paired { photo, from: _, entry, by_hand } => {
            run(
                db,
                "INSERT INTO pair (photo, entry, by_hand) VALUES (?1, ?2, ?3)",
                params![photo.as_str(), entry.as_str(), by_hand],
            )?;
            run(db, "UPDATE photo SET alone = 0 WHERE id = ?1", [photo.as_str()])
        }
        Op::Parted { photo, by_hand } => {
            run(db, "DELETE FROM pair WHERE photo = ?1", [photo.as_str()])?;
            run(db, "UPDATE photo SET alone = ?2 WHERE id = ?1", params![photo.as_str(), by_hand])
        }
        Op::WordLearned { heard, meaning } => run(
            db,
            "INSERT INTO word (heard, meaning, by, at) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT (heard) DO UPDATE SET meaning = ?2, by = ?3, at = ?4",
            params![heard, meaning, body.by, at],
        ),
        Op::WordForgotten { heard } => run(db, "DELETE FROM word WHERE heard = ?1", [heard]),
        Op::Set { key, value } => run(
            db,
            "INSERT INTO setting (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = ?2",
            params![key, json(value)?],
        ),
        Op::ScaleChecked { scale, known_g, shown_g, at } => run(
            db,
            "INSERT INTO scale_check (seq, scale, known_g, shown_g, at, at_ms, by) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            params![seq, scale, known_g, shown_g, at.to_rfc3339(), at.timestamp_millis(), body.by],
        ),
        Op::TookIn { bird, keeper, from: _ } => {
            run(db, "UPDATE bird SET from_keeper = ?2 WHERE id = ?1", params![bird.as_str(), keeper])
        }
        Op::Another { entry, bird, said, by, decided, keeper, redacted: _ } => {
            run(
                db,
                "INSERT INTO entry (seq, id, n, bird, said_bird, kind, state, at_ms, said, by, decided, another)
                 VALUES (?1, ?2, 0, ?3, ?3, ?4, 'confirmed', ?5, ?6, ?7, ?8, ?9)",
                params![
                    seq,
                    entry.as_str(),
                    bird.as_ref().map(BirdId::as_str),
                    said.kind().word(),
                    said.at.timestamp_millis(),
                    json(said)?,
                    by,
                    decided.to_rfc3339(),
                    keeper,
                ],
            )?;
            match &said.value {
                Value::Remark(remark) => searchable(db, seq, Some(&remark.text)),
                _ => Ok(()),
            }
        }
    }
}

struct Outcome<'a> {
    state: &'a str,
    now: Option<String>,
    bird: Option<&'a BirdId>,
    reason: Option<&'a str>,
}

fn decided(db: &Connection, seq: i64, body: &Body, entry: &EntryId, outcome: Outcome<'_>) -> Result<()> {
    run(
        db,
        "INSERT INTO decision (seq, act, entry, state, now, bird, by, at, reason)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            seq,
            body.act,
            entry.as_str(),
            outcome.state,
            outcome.now,
            outcome.bird.map(BirdId::as_str),
            body.by,
            body.at.to_rfc3339(),
            outcome.reason,
        ],
    )?;
    stand(db, entry)
}

/// Sets an entry to what its last standing decision says, or to waiting where there is none.
fn stand(db: &Connection, entry: &EntryId) -> Result<()> {
    type Standing = (String, Option<String>, Option<String>, String, String, Option<String>);
    let (seq, said, said_bird): (i64, String, Option<String>) = db
        .prepare_cached("SELECT seq, said, said_bird FROM entry WHERE id = ?1")?
        .query_row([entry.as_str()], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    let standing: Option<Standing> = db
        .prepare_cached(
            "SELECT state, now, bird, by, at, reason FROM decision
             WHERE entry = ?1 AND undone IS NULL ORDER BY seq DESC LIMIT 1",
        )?
        .query_row([entry.as_str()], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?, row.get(5)?))
        })
        .optional()?;
    let (state, now, bird, by, at, reason) = match standing {
        Some((state, now, bird, by, at, reason)) => (state, now, bird, Some(by), Some(at), reason),
        None => ("waiting".to_owned(), None, said_bird, None, None, None),
    };
    let counts: Entry = serde_json::from_str(now.as_deref().unwrap_or(&said))?;
    run(
        db,
        "UPDATE entry SET state = ?2, now = ?3, bird = ?4, by = ?5, decided = ?6, reason = ?7, kind = ?8, at_ms = ?9
         WHERE seq = ?1",
        params![seq, state, now, bird, by, at, reason, counts.kind().word(), counts.at.timestamp_millis()],
    )?;
    match &counts.value {
        Value::Remark(remark) if state == "confirmed" => searchable(db, seq, Some(&remark.text)),
        _ => searchable(db, seq, None),
    }
}

/// Puts words under a number into the search index, or takes them out.
fn searchable(db: &Connection, seq: i64, text: Option<&str>) -> Result<()> {
    run(db, "DELETE FROM search WHERE rowid = ?1", [seq])?;
    match text {
        Some(text) => run(db, "INSERT INTO search (rowid, text) VALUES (?1, ?2)", params![seq, text]),
        None => Ok(()),
    }
}

//! Taking in another keeper's record of a bird: marked as another's, never mixed up with one's own.

use crate::journal::{Body, Op};
use crate::{BirdDetails, BirdEvent, BirdEventKind, Moment, Result, Store, StoreError, Who, birds, evidence};
use note::{BirdId, Entry, EntryId, Sha256};
use rusqlite::{Connection, OptionalExtension};

/// Another keeper's record of one bird, read from a file.
#[derive(Clone, Debug, PartialEq)]
pub struct AnothersRecord {
    /// The bird's id there, which stays hers.
    pub bird: BirdId,
    /// What was told of her.
    pub details: BirdDetails,
    /// Whose record it is.
    pub keeper: String,
    /// The file, kept as an original.
    pub from: Sha256,
    /// Confirmed entries.
    pub entries: Vec<AnothersEntry>,
    /// Events; `seq` is not looked at.
    pub events: Vec<BirdEvent>,
}

/// One confirmed entry of another keeper's record.
#[derive(Clone, Debug, PartialEq)]
pub struct AnothersEntry {
    /// Its id there, which stays its own.
    pub id: EntryId,
    /// What was confirmed.
    pub entry: Entry,
    /// By whom.
    pub by: String,
    /// When.
    pub decided: Moment,
    /// Whose record it is from: the keeper's, or one before.
    pub keeper: String,
    /// Whether another bird was taken out of it, or out of what would prove it.
    pub redacted: bool,
}

/// What became of another's record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenIn {
    /// The bird.
    pub bird: BirdId,
    /// The name that she goes by here.
    pub name: String,
    /// Entries that are new here.
    pub new: u64,
    /// Entries that were here already.
    pub known: u64,
}

impl Store {
    /// Takes in another keeper's record, as one act. A bird that was here before gets what is new;
    /// a bird whose name is taken here gets her keeper's name behind it.
    pub fn take_in(&self, record: AnothersRecord, who: &Who) -> Result<TakenIn> {
        self.write(who, |w| {
            evidence::evidence(w.db, &record.from)?
                .ok_or_else(|| StoreError::missing("original", &record.from))?;
            let id = record.bird.clone();
            let known_bird = birds::bird(w.db, &id).ok();
            let name = match &known_bird {
                Some(bird) => bird.details.name.clone(),
                None => {
                    let mut details = birds::sound(record.details.clone())?;
                    let here = birds::here(w.db)?;
                    let taken = |name: &str| here.iter().any(|b| b.details.name.eq_ignore_ascii_case(name));
                    if taken(&details.name) {
                        details.name = format!("{} of {}", record.details.name, record.keeper);
                    }
                    let mut n = 1;
                    while taken(&details.name) {
                        n += 1;
                        details.name = format!("{} of {} {n}", record.details.name, record.keeper);
                    }
                    let name = details.name.clone();
                    w.push(Op::BirdAdded { bird: id.clone(), details })?;
                    name
                }
            };
            let (mut new, mut known) = (0, 0);
            for event in record.events {
                if event_is_here(w.db, &id, &event)? {
                    continue;
                }
                w.push(Op::BirdHappened {
                    bird: id.clone(),
                    at: event.at,
                    kind: event.kind,
                    text: event.text,
                    by: Some(event.by),
                })?;
            }
            for entry in record.entries {
                let there: Option<i64> =
                    w.db.prepare_cached("SELECT seq FROM entry WHERE id = ?1")?
                        .query_row([entry.id.as_str()], |row| row.get(0))
                        .optional()?;
                if there.is_some() {
                    known += 1;
                    continue;
                }
                new += 1;
                w.push(Op::Another {
                    entry: entry.id,
                    bird: Some(id.clone()),
                    said: entry.entry,
                    by: entry.by,
                    decided: entry.decided,
                    keeper: entry.keeper,
                    redacted: entry.redacted,
                })?;
            }
            if known_bird.is_none() || new > 0 {
                w.push(Op::TookIn { bird: id.clone(), keeper: record.keeper.clone(), from: record.from })?;
            }
            if birds::bird(w.db, &id)?.gone.is_some() {
                let text = format!("taken over from {}", record.keeper);
                let kind = BirdEventKind::Acquired;
                w.push(Op::BirdHappened { bird: id.clone(), at: w.at, kind, text, by: None })?;
            }
            Ok(TakenIn { bird: id, name, new, known })
        })
    }

    /// Lists the files in which another keeper's record of a bird came, oldest first.
    pub fn taken_from(&self, bird: &BirdId) -> Result<Vec<Sha256>> {
        let mut out = Vec::new();
        for line in self.journal(Some(bird))? {
            let body = line.body.unwrap_or_default();
            if !body.contains("\"took-in\"") {
                continue;
            }
            let body: Body = serde_json::from_str(&body)?;
            if let Op::TookIn { from, .. } = body.what
                && !out.contains(&from)
            {
                out.push(from);
            }
        }
        Ok(out)
    }
}

fn event_is_here(db: &Connection, bird: &BirdId, event: &BirdEvent) -> Result<bool> {
    Ok(db
        .prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM bird_event WHERE bird = ?1 AND at_ms = ?2 AND kind = ?3 AND text = ?4)",
        )?
        .query_row(
            rusqlite::params![bird.as_str(), event.at.timestamp_millis(), event.kind.word(), event.text],
            |row| row.get(0),
        )?)
}

//! A keeper's word: confirming, correcting, rejecting, and taking it back.

use crate::journal::Op;
use crate::notes::withdraw;
use crate::open::Writer;
use crate::read::{entry, moment, resolve};
use crate::{
    ActId, Bird, Decision, Result, State, Step, Store, StoreError, Undoable, Who, birds, journal, pairing,
};
use note::{BirdId, Entry, EntryId, Kind, Value, Verdict};
use rusqlite::{Connection, OptionalExtension, params};

/// Most decisions taken in one act.
const MAX_DECISIONS: usize = 1000;

impl Store {
    /// Decides on entries, all or none. Where one was decided before, nothing happens and the error
    /// says by whom.
    pub fn decide(&self, decisions: &[Decision], who: &Who) -> Result<ActId> {
        if decisions.is_empty() || decisions.len() > MAX_DECISIONS {
            return Err(StoreError::Refused(format!("decide on 1 to {MAX_DECISIONS} entries at a time")));
        }
        named(who)?;
        self.write(who, |w| {
            let here = birds::here(w.db)?;
            for decision in decisions {
                decide_one(w, &here, decision)?;
            }
            let rejected: Vec<EntryId> = decisions
                .iter()
                .filter(|d| matches!(d.verdict, Verdict::Reject { .. }))
                .map(|d| d.entry.clone())
                .collect();
            settle_photos(w, &rejected)?;
            Ok(w.act())
        })
    }

    /// Corrects an entry that was confirmed before; what it was stays in the record.
    pub fn amend(&self, id: &EntryId, to: Entry, reason: &str, who: &Who) -> Result<ActId> {
        named(who)?;
        self.write(who, |w| {
            let row = entry(w.db, id)?;
            confirmed_and_ours(&row)?;
            let here = birds::here(w.db)?;
            let (to, bird) = corrected(&here, &row, to)?;
            if to == *row.counts() {
                return Err(StoreError::Refused("nothing was changed".into()));
            }
            needs_bird(&row.id, to.kind(), bird.as_ref())?;
            moved_away(w, &row, bird.as_ref())?;
            w.push(Op::Amended { entry: id.clone(), bird, to, reason: reason.trim().to_owned() })?;
            Ok(w.act())
        })
    }

    /// Strikes out an entry that was confirmed before; it no longer counts, and stays in the record.
    pub fn strike(&self, id: &EntryId, reason: &str, who: &Who) -> Result<ActId> {
        named(who)?;
        self.write(who, |w| {
            let row = entry(w.db, id)?;
            confirmed_and_ours(&row)?;
            let op = Op::Struck { entry: id.clone(), reason: reason.trim().to_owned() };
            w.push_for(row.bird.as_ref(), op)?;
            settle_photos(w, &[row.id])?;
            Ok(w.act())
        })
    }

    /// Takes back a decision: every entry stands exactly as before it.
    pub fn undo(&self, act: ActId, who: &Who) -> Result<Vec<EntryId>> {
        self.write(who, |w| undo(w, act))
    }

    /// Takes back the last decision of this keeper that still stands.
    pub fn undo_last(&self, who: &Who) -> Result<Vec<EntryId>> {
        self.write(who, |w| {
            let act: Option<i64> =
                w.db.prepare_cached(
                    "SELECT act FROM decision WHERE undone IS NULL AND by = ?1 ORDER BY act DESC LIMIT 1",
                )?
                .query_row([&who.keeper], |row| row.get(0))
                .optional()?;
            let act = act.ok_or_else(|| {
                StoreError::NothingToUndo(format!("{} decided nothing that still stands", who.keeper))
            })?;
            undo(w, ActId(act))
        })
    }

    /// Lists decisions that can be taken back, newest first.
    pub fn undoable(&self, limit: u64) -> Result<Vec<Undoable>> {
        self.read(|db| {
            let mut rows = db.prepare_cached(
                "SELECT act, min(at), min(by), sum(state = 'confirmed'), sum(state = 'rejected')
                 FROM decision WHERE act IN
                   (SELECT DISTINCT act FROM decision WHERE undone IS NULL ORDER BY act DESC LIMIT ?1)
                   AND undone IS NULL
                 GROUP BY act ORDER BY act DESC",
            )?;
            let rows = rows.query_map([limit as i64], |row| {
                let (confirmed, rejected): (u64, u64) =
                    (row.get::<_, i64>(3)? as u64, row.get::<_, i64>(4)? as u64);
                let entries = |n: u64| if n == 1 { "1 entry".to_owned() } else { format!("{n} entries") };
                let what = match (confirmed, rejected) {
                    (n, 0) => format!("confirmed {}", entries(n)),
                    (0, n) => format!("rejected {}", entries(n)),
                    (n, m) => format!("confirmed {} and rejected {}", entries(n), entries(m)),
                };
                Ok(Undoable { act: ActId(row.get(0)?), at: moment(row, 1)?, by: row.get(2)?, what })
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Returns the life of an entry: proposed, decided, corrected, undone.
    pub fn steps(&self, id: &EntryId) -> Result<Vec<Step>> {
        self.read(|db| {
            let row = entry(db, id)?;
            let mut seqs = vec![row.seq];
            let mut rows = db.prepare_cached("SELECT seq, undone FROM decision WHERE entry = ?1")?;
            let decisions = rows
                .query_map([id.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect::<rusqlite::Result<Vec<(i64, Option<i64>)>>>()?;
            for (seq, undone) in decisions {
                seqs.push(seq);
                seqs.extend(undone);
            }
            seqs.sort_unstable();
            seqs.dedup();
            seqs.into_iter().map(|seq| step(db, seq)).collect()
        })
    }
}

fn step(db: &Connection, seq: i64) -> Result<Step> {
    let body = journal::body_at(db, seq)?;
    let (what, entry) = match body.what {
        Op::Proposed { photo: Some(_), said, .. } => ("read from the photo".to_owned(), Some(said)),
        Op::Proposed { note: Some(_), said, .. } => ("read from the note".to_owned(), Some(said)),
        Op::Proposed { said, .. } => ("entered by hand".to_owned(), Some(said)),
        Op::Decided { verdict: Verdict::Accept, .. } => ("confirmed".to_owned(), None),
        Op::Decided { verdict: Verdict::Correct { entry }, .. } => {
            ("corrected and confirmed".to_owned(), Some(*entry))
        }
        Op::Decided { verdict: Verdict::Reject { reason }, .. } => (because("rejected", &reason), None),
        Op::Amended { to, reason, .. } => (because("corrected later", &reason), Some(to)),
        Op::Struck { reason, .. } => (because("struck out", &reason), None),
        Op::Undone { .. } => ("taken back".to_owned(), None),
        Op::Another { said, keeper, .. } => (format!("taken in from {keeper}"), Some(said)),
        _ => ("changed".to_owned(), None),
    };
    Ok(Step { seq, at: body.at, by: body.by, device: body.device, what, entry })
}

fn because(what: &str, reason: &str) -> String {
    if reason.is_empty() { what.to_owned() } else { format!("{what}: {reason}") }
}

fn named(who: &Who) -> Result<()> {
    if who.keeper.trim().is_empty() {
        return Err(StoreError::Refused("a decision bears a keeper's name: tell yours first".into()));
    }
    Ok(())
}

fn confirmed_and_ours(row: &crate::read::EntryRow) -> Result<()> {
    if row.another.is_some() {
        return Err(StoreError::Refused(
            "this is another keeper's record: it stays as it was taken in".into(),
        ));
    }
    if row.state != State::Confirmed {
        return Err(StoreError::Refused("only a confirmed entry can be changed afterwards".into()));
    }
    Ok(())
}

/// Kinds that say nothing unless it is known of which bird.
fn needs_bird(id: &EntryId, kind: Kind, bird: Option<&BirdId>) -> Result<()> {
    if bird.is_none() && !matches!(kind, Kind::Weather | Kind::Remark | Kind::Equipment) {
        return Err(StoreError::NoBird { entry: id.clone() });
    }
    Ok(())
}

/// Takes a correction: the words it came from are facts and stay; the bird must be known.
fn corrected(here: &[Bird], row: &crate::read::EntryRow, mut to: Entry) -> Result<(Entry, Option<BirdId>)> {
    to.quote.clone_from(&row.said.quote);
    to.span = row.said.span;
    if let Value::Weight(weight) = &mut to.value {
        weight.grams = weight.grams.to_tenth();
    }
    if to.bird == row.counts().bird {
        return Ok((to, row.bird.clone()));
    }
    let bird = resolve(here, to.bird.as_deref());
    match (&to.bird, &bird) {
        (Some(name), None) => Err(StoreError::Refused(format!("there is no bird called {name} here"))),
        _ => Ok((to, bird)),
    }
}

fn moved_away(w: &mut Writer<'_>, row: &crate::read::EntryRow, to: Option<&BirdId>) -> Result<()> {
    if row.bird.is_some() && row.bird.as_ref() != to {
        w.push_for(row.bird.as_ref(), Op::MovedAway { entry: row.id.clone() })?;
    }
    Ok(())
}

/// Decides on one entry within an act.
pub(crate) fn decide_one(w: &mut Writer<'_>, here: &[Bird], decision: &Decision) -> Result<()> {
    let row = entry(w.db, &decision.entry)?;
    if row.state != State::Waiting {
        let same = match (&decision.verdict, row.state) {
            (Verdict::Accept, State::Confirmed) => row.now.is_none(),
            (Verdict::Correct { entry }, State::Confirmed) => {
                corrected(here, &row, (**entry).clone()).is_ok_and(|(to, _)| Some(to) == row.now)
            }
            (Verdict::Reject { .. }, State::Rejected) => true,
            _ => false,
        };
        let by = row.by.unwrap_or_else(|| "reading the note again".to_owned());
        return Err(StoreError::AlreadyDecided { entry: row.id, state: row.state, by, same });
    }
    let (verdict, bird) = match &decision.verdict {
        Verdict::Accept => {
            needs_bird(&row.id, row.said.kind(), row.bird.as_ref())?;
            (Verdict::Accept, row.bird.clone())
        }
        Verdict::Correct { entry } => {
            let (to, bird) = corrected(here, &row, (**entry).clone())?;
            needs_bird(&row.id, to.kind(), bird.as_ref())?;
            moved_away(w, &row, bird.as_ref())?;
            (Verdict::Correct { entry: Box::new(to) }, bird)
        }
        Verdict::Reject { reason } => {
            (Verdict::Reject { reason: reason.trim().to_owned() }, row.bird.clone())
        }
    };
    w.push(Op::Decided { entry: row.id, bird, verdict }).map(drop)
}

/// Settles photos anew after a spoken weight was rejected, struck out or brought back.
fn settle_photos(w: &mut Writer<'_>, ids: &[EntryId]) -> Result<()> {
    for id in ids {
        let row = entry(w.db, id)?;
        if row.note.is_some() && row.counts().kind() == Kind::Weight {
            pairing::around(w, row.counts().at)?;
        }
    }
    Ok(())
}

fn undo(w: &mut Writer<'_>, act: ActId) -> Result<Vec<EntryId>> {
    let mut rows = w.db.prepare_cached(
        "SELECT d.seq, d.entry, d.undone,
                (SELECT max(seq) FROM decision l WHERE l.entry = d.entry AND l.undone IS NULL)
         FROM decision d WHERE d.act = ?1 ORDER BY d.seq DESC",
    )?;
    type Row = (i64, String, Option<i64>, Option<i64>);
    let decisions = rows
        .query_map([act.0], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?
        .collect::<rusqlite::Result<Vec<Row>>>()?;
    drop(rows);
    if decisions.is_empty() {
        return Err(StoreError::NothingToUndo("there is no such decision".into()));
    }
    let mut out = Vec::new();
    for (seq, id, undone, last) in decisions {
        if undone.is_some() {
            return Err(StoreError::NothingToUndo("this was taken back already".into()));
        }
        if last != Some(seq) {
            return Err(StoreError::NothingToUndo(
                "an entry was changed again since: take that back first".into(),
            ));
        }
        let id = EntryId::new(id);
        let before = entry(w.db, &id)?;
        w.push_for(before.bird.as_ref(), Op::Undone { entry: id.clone(), decision: seq })?;
        let after = entry(w.db, &id)?;
        if after.bird.is_some() && after.bird != before.bird {
            w.push_for(after.bird.as_ref(), Op::MovedBack { entry: id.clone() })?;
        }
        let entered_with_it: Option<i64> =
            w.db.prepare_cached("SELECT seq FROM entry WHERE id = ?1 AND seq >= ?2 AND seq < ?3")?
                .query_row(params![id.as_str(), act.0, seq], |row| row.get(0))
                .optional()?;
        if entered_with_it.is_some() {
            withdraw(w, &after)?;
        }
        out.push(id);
    }
    out.reverse();
    settle_photos(w, &out)?;
    Ok(out)
}

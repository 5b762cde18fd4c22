//! Birds, their events, the roster and the bird in hand.

use crate::journal::Op;
use crate::read::moment;
use crate::{
    Bird, BirdDetails, BirdEvent, BirdEventKind, LastWeight, Moment, Result, Store, StoreError, Who, Written,
};
use note::{BirdId, RosterBird};
use rusqlite::{Connection, OptionalExtension, Row};

/// The setting that holds the bird in hand.
const IN_HAND: &str = "current bird";

impl Store {
    /// Adds a bird.
    pub fn add_bird(&self, details: BirdDetails, who: &Who) -> Result<BirdId> {
        self.write(who, |w| {
            let details = sound(details)?;
            free_name(w.db, &details, None)?;
            let bird = BirdId::new(w.id('b')?);
            w.push(Op::BirdAdded { bird: bird.clone(), details })?;
            Ok(bird)
        })
    }

    /// Changes what is told of a bird; the journal keeps what was told before.
    pub fn change_bird(&self, id: &BirdId, details: BirdDetails, who: &Who) -> Result<()> {
        self.write(who, |w| {
            let details = sound(details)?;
            let before = bird(w.db, id)?;
            if before.gone.is_none() {
                free_name(w.db, &details, Some(id))?;
            }
            if before.details != details {
                w.push(Op::BirdChanged { bird: id.clone(), details })?;
            }
            Ok(())
        })
    }

    /// Enters a dated event; transferred, lost and died take the bird off the roster, acquired and
    /// found bring her back.
    pub fn add_bird_event(
        &self,
        id: &BirdId,
        kind: BirdEventKind,
        at: Moment,
        text: &str,
        who: &Who,
    ) -> Result<()> {
        self.write(who, |w| {
            let before = bird(w.db, id)?;
            if kind.brings_back() && before.gone.is_some() {
                free_name(w.db, &before.details, Some(id))?;
            }
            w.push(Op::BirdHappened { bird: id.clone(), at, kind, text: text.trim().to_owned(), by: None })?;
            Ok(())
        })
    }

    /// Lists a bird's events, oldest first.
    pub fn bird_events(&self, id: &BirdId) -> Result<Vec<BirdEvent>> {
        self.read(|db| {
            let mut rows = db.prepare_cached(
                "SELECT seq, at, kind, text, by FROM bird_event WHERE bird = ?1 ORDER BY at_ms, seq",
            )?;
            let rows = rows.query_map([id.as_str()], |row| {
                let kind: String = row.get(2)?;
                Ok(BirdEvent {
                    seq: row.get(0)?,
                    at: moment(row, 1)?,
                    kind: BirdEventKind::from_word(&kind).unwrap_or(BirdEventKind::Other),
                    text: row.get(3)?,
                    by: row.get(4)?,
                })
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Lists the birds that are here, by name.
    pub fn birds(&self) -> Result<Vec<Bird>> {
        self.read(here)
    }

    /// Lists all birds, those that are gone too.
    pub fn all_birds(&self) -> Result<Vec<Bird>> {
        self.read(|db| select(db, "ORDER BY gone IS NOT NULL, lower(name), seq", []))
    }

    /// Gets a bird.
    pub fn bird(&self, id: &BirdId) -> Result<Bird> {
        self.read(|db| bird(db, id))
    }

    /// Finds a bird that is here by name or alias, whatever the case; then one that is gone.
    pub fn bird_named(&self, name: &str) -> Result<Option<Bird>> {
        self.read(|db| {
            let all = select(db, "ORDER BY gone IS NOT NULL, seq DESC", [])?;
            Ok(by_name(&all, name).cloned())
        })
    }

    /// Returns the birds that are here as the extractor needs them, with their last confirmed weights.
    pub fn roster(&self) -> Result<Vec<RosterBird>> {
        self.read(|db| {
            here(db)?
                .into_iter()
                .map(|bird| {
                    let last_grams = last_weight(db, &bird.id)?.map(|w| w.grams);
                    let BirdDetails { name, aliases, species, sex, .. } = bird.details;
                    Ok(RosterBird { name, aliases, species, sex, last_grams })
                })
                .collect()
        })
    }

    /// Returns the bird in hand.
    pub fn current_bird(&self) -> Result<Option<Bird>> {
        self.read(in_hand)
    }

    /// Takes a bird in hand, or none.
    pub fn set_current_bird(&self, id: Option<&BirdId>, who: &Who) -> Result<()> {
        if let Some(id) = id {
            self.bird(id)?;
        }
        self.set_setting(IN_HAND, &serde_json::json!(id), who)
    }

    /// Returns a number for each bird that grows whenever something of that bird is written, and one that grows
    /// with the weather, which belongs to no bird: who has worked something out can tell whether it still holds.
    pub fn written(&self) -> Result<Written> {
        self.read(|db| {
            let mut rows = db.prepare_cached(
                "SELECT id, (SELECT coalesce(max(seq), 0) FROM journal WHERE journal.bird = bird.id) FROM bird",
            )?;
            let birds = rows
                .query_map([], |row| Ok((BirdId::new(row.get::<_, String>(0)?), row.get::<_, i64>(1)? as u64)))?
                .collect::<rusqlite::Result<_>>()?;
            // Whatever becomes of weather, its number or its last decision changes; a year of it is looked at.
            let weather = db
                .prepare_cached(
                    "SELECT (SELECT count(*) FROM entry WHERE state = 'confirmed' AND kind = 'weather'),
                        coalesce(max((SELECT max(seq) FROM decision WHERE decision.entry = said.id)), 0)
                     FROM (SELECT id FROM entry WHERE state = 'confirmed' AND kind = 'weather' ORDER BY at_ms DESC LIMIT 500) AS said",
                )?
                .query_row([], |row| Ok((row.get::<_, i64>(0)? as u64, row.get::<_, i64>(1)? as u64)))?;
            Ok(Written { birds, weather })
        })
    }

    /// Returns the last confirmed weight of a bird.
    pub fn last_weight(&self, id: &BirdId) -> Result<Option<LastWeight>> {
        self.read(|db| last_weight(db, id))
    }
}

/// Refuses what cannot be, and tidies names.
pub(crate) fn sound(mut details: BirdDetails) -> Result<BirdDetails> {
    details.name = details.name.split_whitespace().collect::<Vec<_>>().join(" ");
    if details.name.is_empty() {
        return Err(StoreError::Refused("a bird needs a name".into()));
    }
    if details.name.chars().count() > 60 {
        return Err(StoreError::Refused("a bird's name has at most 60 letters".into()));
    }
    details.aliases = details.aliases.iter().map(|a| a.trim().to_owned()).filter(|a| !a.is_empty()).collect();
    let masses = [details.floor_g, details.target_g, details.fed_up_g];
    let worn = details.furniture.iter().map(|f| Some(f.grams));
    if masses.into_iter().chain(worn).flatten().any(|g| note::Grams::new(g).is_err()) {
        return Err(StoreError::Refused("a weight must lie between 0 and 100 kg".into()));
    }
    if let (Some(floor), Some(target)) = (details.floor_g, details.target_g)
        && floor > target
    {
        return Err(StoreError::Refused(
            "the weight aimed for lies under the floor that must never be passed; set one of them anew"
                .into(),
        ));
    }
    Ok(details)
}

fn free_name(db: &Connection, details: &BirdDetails, except: Option<&BirdId>) -> Result<()> {
    let taken = here(db)?.into_iter().any(|other| {
        Some(&other.id) != except && other.details.name.to_lowercase() == details.name.to_lowercase()
    });
    if taken { Err(StoreError::NameTaken(details.name.clone())) } else { Ok(()) }
}

pub(crate) fn here(db: &Connection) -> Result<Vec<Bird>> {
    select(db, "WHERE gone IS NULL ORDER BY lower(name), seq", [])
}

pub(crate) fn bird(db: &Connection, id: &BirdId) -> Result<Bird> {
    select(db, "WHERE id = ?1", [id.as_str()])?.pop().ok_or_else(|| StoreError::missing("bird", id))
}

/// Finds a bird in a list by name first, then by alias.
pub(crate) fn by_name<'a>(birds: &'a [Bird], name: &str) -> Option<&'a Bird> {
    let name = name.trim().to_lowercase();
    birds
        .iter()
        .find(|b| b.details.name.to_lowercase() == name)
        .or_else(|| birds.iter().find(|b| b.details.aliases.iter().any(|a| a.to_lowercase() == name)))
}

pub(crate) fn in_hand(db: &Connection) -> Result<Option<Bird>> {
    let id = crate::small::setting(db, IN_HAND)?;
    let Some(id) = id.as_ref().and_then(|v| v.as_str()) else { return Ok(None) };
    Ok(select(db, "WHERE id = ?1 AND gone IS NULL", [id])?.pop())
}

fn select(db: &Connection, rest: &str, params: impl rusqlite::Params) -> Result<Vec<Bird>> {
    let sql = format!("SELECT id, details, gone, from_keeper, added FROM bird {rest}");
    let mut rows = db.prepare_cached(&sql)?;
    let rows = rows.query_map(params, |row| Ok(of_row(row)))?;
    rows.map(|row| row?).collect()
}

fn of_row(row: &Row<'_>) -> Result<Bird> {
    let details: String = row.get(1)?;
    let gone: Option<String> = row.get(2)?;
    Ok(Bird {
        id: BirdId::new(row.get::<_, String>(0)?),
        details: serde_json::from_str(&details)?,
        gone: gone.as_deref().and_then(BirdEventKind::from_word),
        from_keeper: row.get(3)?,
        added: moment(row, 4)?,
    })
}

pub(crate) fn last_weight(db: &Connection, id: &BirdId) -> Result<Option<LastWeight>> {
    let entry: Option<String> = db
        .prepare_cached(
            "SELECT coalesce(now, said) FROM entry WHERE bird = ?1 AND state = 'confirmed' AND kind = 'weight'
             ORDER BY at_ms DESC, seq DESC LIMIT 1",
        )?
        .query_row([id.as_str()], |row| row.get(0))
        .optional()?;
    let Some(entry) = entry else { return Ok(None) };
    let entry: note::Entry = serde_json::from_str(&entry)?;
    Ok(match entry.value {
        note::Value::Weight(weight) => Some(LastWeight { grams: weight.grams.get(), at: entry.at }),
        _ => None,
    })
}

//! Photos of the scale: when they were taken, what they show, and which weight they stand beside.

use crate::journal::Op;
use crate::open::ourselves;
use crate::read::{entry, maybe_moment, moment, stage, taken};
use crate::{
    Added, NewPhoto, Photo, Place, Result, Span, State, Store, StoreError, Who, birds, evidence, pairing,
};
use note::{BirdId, DisplayReading, EntryId, PhotoId, Sha256, TakenSource, Value};
use rusqlite::{Connection, OptionalExtension, Row, params};

const SELECT: &str = "SELECT id, sha256, at, taken, orientation, bird, keeper, device, received, stage, trouble, \
     reading, (SELECT entry FROM pair WHERE pair.photo = photo.id), place IS NOT NULL FROM photo";

fn of_row(row: &Row<'_>) -> Result<Photo> {
    let reading: Option<String> = row.get(11)?;
    Ok(Photo {
        id: PhotoId::new(row.get::<_, String>(0)?),
        evidence: Sha256::new(row.get::<_, String>(1)?),
        at: moment(row, 2)?,
        taken: taken(row, 3)?.unwrap_or(TakenSource::File),
        orientation: row.get(4)?,
        bird: row.get::<_, Option<String>>(5)?.map(BirdId::new),
        keeper: row.get(6)?,
        device: row.get(7)?,
        received: maybe_moment(row, 8)?.unwrap_or_default(),
        stage: stage(row, 9)?,
        trouble: row.get(10)?,
        reading: reading.map(|r| serde_json::from_str(&r)).transpose()?,
        paired_with: row.get::<_, Option<String>>(12)?.map(EntryId::new),
        has_place: row.get(13)?,
    })
}

pub(crate) fn select(db: &Connection, rest: &str, params: impl rusqlite::Params) -> Result<Vec<Photo>> {
    let mut rows = db.prepare_cached(&format!("{SELECT} {rest}"))?;
    let rows = rows.query_map(params, |row| Ok(of_row(row)))?;
    rows.map(|row| row?).collect()
}

pub(crate) fn photo(db: &Connection, id: &PhotoId) -> Result<Photo> {
    select(db, "WHERE id = ?1", [id.as_str()])?.pop().ok_or_else(|| StoreError::missing("photo", id))
}

impl Store {
    /// Adds a photo; the same picture twice is known, not new.
    pub fn add_photo(&self, new: NewPhoto, who: &Who) -> Result<Added<PhotoId>> {
        self.write(who, |w| {
            if let Some(known) = select(w.db, "WHERE sha256 = ?1", [new.evidence.as_str()])?.pop() {
                return Ok(Added::Known(known.id));
            }
            evidence::evidence(w.db, &new.evidence)?
                .ok_or_else(|| StoreError::missing("original", &new.evidence))?;
            if let Some(bird) = &new.bird {
                birds::bird(w.db, bird)?;
            }
            let id = PhotoId::new(w.id('p')?);
            w.push(Op::PhotoAdded {
                photo: id.clone(),
                sha256: new.evidence,
                at: new.at,
                taken: new.taken,
                orientation: new.orientation.clamp(1, 8),
                place: new.place,
                bird: new.bird,
            })?;
            Ok(Added::New(id))
        })
    }

    /// Gets a photo.
    pub fn photo(&self, id: &PhotoId) -> Result<Photo> {
        self.read(|db| photo(db, id))
    }

    /// Lists photos, newest first.
    pub fn photos(&self, span: Span, offset: u64, limit: u64) -> Result<Vec<Photo>> {
        self.read(|db| {
            let (from, to) = span.millis();
            select(
                db,
                "WHERE at_ms >= ?1 AND at_ms < ?2 ORDER BY at_ms DESC, seq DESC LIMIT ?3 OFFSET ?4",
                params![from, to, limit as i64, offset as i64],
            )
        })
    }

    /// Finds the photo of an original.
    pub fn photo_of(&self, evidence: &Sha256) -> Result<Option<Photo>> {
        self.read(|db| Ok(select(db, "WHERE sha256 = ?1", [evidence.as_str()])?.pop()))
    }

    /// Returns where a photo was taken. Private: never shown to others or handed over unless asked.
    pub fn photo_place(&self, id: &PhotoId) -> Result<Option<Place>> {
        self.read(|db| {
            let place: Option<Option<String>> = db
                .prepare_cached("SELECT place FROM photo WHERE id = ?1")?
                .query_row([id.as_str()], |row| row.get(0))
                .optional()?;
            let place = place.ok_or_else(|| StoreError::missing("photo", id))?;
            Ok(place.map(|p| serde_json::from_str(&p)).transpose()?)
        })
    }

    /// Saves what the display shows, then pairs the photo with a weight, or lets it propose one by itself.
    pub fn set_reading(&self, id: &PhotoId, reading: &DisplayReading) -> Result<()> {
        self.write(&ourselves(), |w| {
            let before = photo(w.db, id)?;
            if before.reading.as_ref() != Some(reading) {
                w.push(Op::Read { photo: id.clone(), reading: reading.clone() })?;
                pairing::retract_own(w, id)?;
            }
            pairing::around(w, before.at)
        })
    }

    /// Marks a photo as failed, with the reason in plain words; its original stays, and it still
    /// stands beside the weigh-in of its time.
    pub fn photo_failed(&self, id: &PhotoId, why: &str) -> Result<()> {
        self.write(&ourselves(), |w| {
            let before = photo(w.db, id)?;
            w.push(Op::PhotoFailed { photo: id.clone(), why: why.to_owned() })?;
            pairing::around(w, before.at)
        })
    }

    /// Pairs a photo with a weight by hand; either is first taken from what it was paired with.
    pub fn pair(&self, id: &PhotoId, weight: &EntryId, who: &Who) -> Result<()> {
        self.write(who, |w| {
            let photo = photo(w.db, id)?;
            let row = entry(w.db, weight)?;
            if !matches!(row.counts().value, Value::Weight(_)) {
                return Err(StoreError::Refused(
                    "a photo of the scale can only stand beside a weight".into(),
                ));
            }
            if !matches!(row.state, State::Waiting | State::Confirmed) {
                return Err(StoreError::Refused("this weight was rejected: no photo belongs to it".into()));
            }
            if row.photo.is_some() || row.another.is_some() {
                return Err(StoreError::Refused("this weight has a photo of its own".into()));
            }
            pairing::own_was_confirmed(w.db, id)?;
            if photo.paired_with.as_ref() == Some(weight) {
                return Ok(());
            }
            if let Some(other) = photo.paired_with.as_ref().map(|e| entry(w.db, e)).transpose()? {
                pairing::part_from(w, &other)?;
            }
            pairing::part_from(w, &row)?;
            pairing::retract_own(w, id)?;
            w.push_for(
                row.bird.as_ref(),
                Op::Paired { photo: id.clone(), from: photo.evidence, entry: weight.clone(), by_hand: true },
            )?;
            pairing::around(w, photo.at)
        })
    }

    /// Parts a photo from its weight by hand; it is not paired again by itself.
    pub fn unpair(&self, id: &PhotoId, who: &Who) -> Result<()> {
        self.write(who, |w| {
            let photo = photo(w.db, id)?;
            let bird = match &photo.paired_with {
                Some(other) => entry(w.db, other)?.bird,
                None => None,
            };
            w.push_for(bird.as_ref(), Op::Parted { photo: id.clone(), by_hand: true })?;
            pairing::around(w, photo.at)
        })
    }
}

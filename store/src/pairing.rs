//! Which photo stands beside which weight, and what a photo says when it stands alone.
//!
//! The rules: within the window a matching value is preferred, then the nearest in time; no photo
//! and no weight is paired twice; what a keeper paired or parted by hand stays; nothing that was
//! confirmed with its photo is torn apart again. Where nothing was said, the photo proposes.

use crate::journal::Op;
use crate::open::Writer;
use crate::read::{EntryRow, entry, entry_rows};
use crate::small::{PAIRING_MINUTES, setting};
use crate::{Bird, Moment, Photo, Result, Stage, State, StoreError, birds, photos};
use note::{BirdId, DisplayReading, Entry, EntryId, Flag, Grams, MassUnit, PhotoId, Value, Weight};
use rusqlite::Connection;

/// Minutes between photo and weight when the keeper set none (a judgement, no source: a weigh-in is
/// spoken of within minutes, and the next bird may be on the scale five minutes later).
const WINDOW_MINUTES: f64 = 20.0;

/// How far a weight may lie from the last one and still be hers (the entry contract's 8 per cent).
const NEAR: f64 = 0.08;

/// What a photo says of a weight.
pub(crate) struct Agreement {
    pub(crate) agrees: Option<bool>,
    pub(crate) difference_g: Option<f64>,
}

/// Compares a weight as said with the display. Half a gram is what speech rounds away on a scale
/// that shows tenths, and two grams (a sixteenth of an ounce) where ounces were spoken.
pub(crate) fn agreement(said: &Weight, reading: Option<&DisplayReading>) -> Agreement {
    let Some(shown) = reading.and_then(|r| shown_g(r, Some(said))) else {
        return Agreement { agrees: None, difference_g: None };
    };
    let grams = said.grams.get();
    let spoken_in_ounces = matches!(said.unit, Some(MassUnit::Oz | MassUnit::Lb | MassUnit::LbOz));
    let whole = (grams - grams.round()).abs() < 1e-6;
    let slack = match (spoken_in_ounces, whole) {
        (true, _) => 2.0,
        (false, true) => 0.5,
        (false, false) => 0.06,
    };
    let difference = ((shown - grams) * 10.0).round() / 10.0;
    Agreement { agrees: Some((shown - grams).abs() <= slack + 1e-9), difference_g: Some(difference) }
}

/// The mass on the display. Where it shows no unit, the bare number is taken as grams, or in the
/// unit that was spoken if that fits better.
fn shown_g(reading: &DisplayReading, said: Option<&Weight>) -> Option<f64> {
    if let Some(grams) = reading.grams {
        return Some(grams.get());
    }
    if reading.unit.is_some() {
        return None;
    }
    let bare: f64 = reading.reading.as_deref()?.trim().parse().ok().filter(|n: &f64| *n > 0.0)?;
    let grams_of = |unit: MassUnit| match unit {
        MassUnit::G => Some(bare),
        MassUnit::Kg => Some(bare * 1000.0),
        MassUnit::Oz => Some(bare * note::GRAMS_PER_OUNCE),
        MassUnit::Lb => Some(bare * note::GRAMS_PER_POUND),
        MassUnit::LbOz => None,
    };
    let Some(said) = said else { return Some(bare) };
    [MassUnit::G, MassUnit::Kg, MassUnit::Oz, MassUnit::Lb]
        .into_iter()
        .filter_map(grams_of)
        .min_by(|a, b| (a - said.grams.get()).abs().total_cmp(&(b - said.grams.get()).abs()))
}

/// Settles the pairs of a stretch of time after something in it changed.
pub(crate) fn around(w: &mut Writer<'_>, at: Moment) -> Result<()> {
    let minutes = setting(w.db, PAIRING_MINUTES)?.and_then(|v| v.as_f64()).unwrap_or(WINDOW_MINUTES);
    let window = (minutes.clamp(0.0, 24.0 * 60.0) * 60_000.0) as i64;
    // Entries of a note may be said to have happened long before it ("yesterday"), so the photos
    // near those moments are looked at too.
    let centre = at.timestamp_millis();
    let here = birds::here(w.db)?;
    let photos = photos::select(
        w.db,
        "WHERE at_ms BETWEEN ?1 AND ?2 AND stage IN ('drafted', 'failed') ORDER BY at_ms, seq",
        [centre - 2 * window, centre + 2 * window],
    )?;
    let weights = entry_rows(
        w.db,
        "WHERE kind = 'weight' AND at_ms BETWEEN ?1 AND ?2 AND note IS NOT NULL
           AND state IN ('waiting', 'confirmed') ORDER BY at_ms, seq",
        [centre - 3 * window, centre + 3 * window],
    )?;
    let wanted = assign(w.db, &here, &photos, &weights, window)?;
    for photo in &photos {
        let Some(now) = &photo.paired_with else { continue };
        if is_free(w.db, photo)? && wanted.iter().all(|(p, e)| *p != photo.id || e != now) {
            let bird = entry(w.db, now)?.bird;
            w.push_for(bird.as_ref(), Op::Parted { photo: photo.id.clone(), by_hand: false })?;
        }
    }
    for (photo_id, entry_id) in &wanted {
        let photo = photos::photo(w.db, photo_id)?;
        if photo.paired_with.as_ref() == Some(entry_id) {
            continue;
        }
        retract_own(w, photo_id)?;
        let bird = entry(w.db, entry_id)?.bird;
        let (photo, from, entry) = (photo_id.clone(), photo.evidence, entry_id.clone());
        w.push_for(bird.as_ref(), Op::Paired { photo, from, entry, by_hand: false })?;
    }
    for photo in &photos {
        propose_alone(w, &here, &photos::photo(w.db, &photo.id)?)?;
    }
    Ok(())
}

/// Whether a photo may be paired, or paired anew, by itself.
fn is_free(db: &Connection, photo: &Photo) -> Result<bool> {
    let by_hand: i64 = db
        .prepare_cached(
            "SELECT alone + coalesce((SELECT by_hand FROM pair WHERE pair.photo = photo.id), 0)
             FROM photo WHERE id = ?1",
        )?
        .query_row([photo.id.as_str()], |row| row.get(0))?;
    if by_hand > 0 || own(db, &photo.id)?.is_some_and(|row| row.state != State::Waiting) {
        return Ok(false);
    }
    match &photo.paired_with {
        Some(weight) => Ok(entry(db, weight)?.state != State::Confirmed),
        None => Ok(true),
    }
}

type Pair = (PhotoId, EntryId);

/// Chooses pairs: matching values first, then the nearest in time.
fn assign(
    db: &Connection,
    here: &[Bird],
    photos: &[Photo],
    weights: &[EntryRow],
    window: i64,
) -> Result<Vec<Pair>> {
    struct Choice<'a> {
        mismatch: bool,
        apart: i64,
        photo: &'a Photo,
        weight: &'a EntryRow,
    }
    let mut free = Vec::new();
    for photo in photos {
        if is_free(db, photo)? {
            free.push(photo);
        }
    }
    let mut choices = Vec::new();
    for weight in weights {
        let Value::Weight(said) = &weight.counts().value else { continue };
        // What a photo that is not free stands beside is taken.
        let taken: Option<String> = db
            .prepare_cached("SELECT (SELECT photo FROM pair WHERE entry = ?1)")?
            .query_row([weight.id.as_str()], |row| row.get(0))?;
        if taken.is_some_and(|taken| free.iter().all(|p| p.id.as_str() != taken)) {
            continue;
        }
        for photo in &free {
            let apart = (photo.at.timestamp_millis() - weight.counts().at.timestamp_millis()).abs();
            if apart > window {
                continue;
            }
            let agrees = agreement(said, photo.reading.as_ref()).agrees;
            let other_bird = match (&photo.bird, &weight.bird) {
                (Some(a), Some(b)) => a != b,
                _ => agrees == Some(false) && shows_another(db, here, photo, weight.bird.as_ref())?,
            };
            if !other_bird {
                choices.push(Choice { mismatch: agrees != Some(true), apart, photo, weight });
            }
        }
    }
    choices.sort_by_key(|choice| (choice.mismatch, choice.apart));
    let mut out: Vec<Pair> = Vec::new();
    for choice in choices {
        if out.iter().all(|(p, e)| *p != choice.photo.id && *e != choice.weight.id) {
            out.push((choice.photo.id.clone(), choice.weight.id.clone()));
        }
    }
    Ok(out)
}

/// Whether the display shows about the weight of another bird and not of this one.
fn shows_another(db: &Connection, here: &[Bird], photo: &Photo, bird: Option<&BirdId>) -> Result<bool> {
    let Some(shown) = photo.reading.as_ref().and_then(|r| shown_g(r, None)) else { return Ok(false) };
    let near = near(db, here, shown)?;
    Ok(!near.is_empty() && bird.is_some_and(|b| !near.contains(&b)))
}

fn near<'a>(db: &Connection, here: &'a [Bird], grams: f64) -> Result<Vec<&'a BirdId>> {
    let mut out = Vec::new();
    for bird in here {
        let last = birds::last_weight(db, &bird.id)?;
        if last.is_some_and(|last| (grams - last.grams).abs() <= NEAR * last.grams) {
            out.push(&bird.id);
        }
    }
    Ok(out)
}

/// The entry that a photo proposed by itself, if it still stands.
fn own(db: &Connection, photo: &PhotoId) -> Result<Option<EntryRow>> {
    Ok(entry_rows(db, "WHERE photo = ?1 AND state <> 'withdrawn'", [photo.as_str()])?.pop())
}

/// Takes back what a photo proposed by itself, where nobody decided on it.
pub(crate) fn retract_own(w: &mut Writer<'_>, photo: &PhotoId) -> Result<()> {
    match own(w.db, photo)? {
        Some(row) if row.state == State::Waiting => {
            w.push_for(row.bird.as_ref(), Op::Withdrawn { entry: row.id.clone() }).map(drop)
        }
        _ => Ok(()),
    }
}

/// Refuses where the photo's own weight counts already.
pub(crate) fn own_was_confirmed(db: &Connection, photo: &PhotoId) -> Result<()> {
    match own(db, photo)? {
        Some(row) if row.state == State::Confirmed => Err(StoreError::Refused(
            "this photo's own weight was confirmed: undo that before pairing it with another".into(),
        )),
        _ => Ok(()),
    }
}

/// Parts a weight from its photo.
pub(crate) fn part_from(w: &mut Writer<'_>, row: &EntryRow) -> Result<()> {
    let photo: Option<String> =
        w.db.prepare_cached("SELECT (SELECT photo FROM pair WHERE entry = ?1)")?
            .query_row([row.id.as_str()], |r| r.get(0))?;
    match photo {
        Some(photo) => {
            let op = Op::Parted { photo: PhotoId::new(photo), by_hand: false };
            w.push_for(row.bird.as_ref(), op).map(drop)
        }
        None => Ok(()),
    }
}

/// Lets a photo that stands beside nothing propose its weight.
fn propose_alone(w: &mut Writer<'_>, here: &[Bird], photo: &Photo) -> Result<()> {
    let Some(reading) = &photo.reading else { return Ok(()) };
    if photo.stage != Stage::Drafted || photo.paired_with.is_some() || own(w.db, &photo.id)?.is_some() {
        return Ok(());
    }
    let Some(shown) = shown_g(reading, None).filter(|g| *g > 0.0) else { return Ok(()) };
    let Ok(grams) = Grams::new(shown) else { return Ok(()) };
    let near = near(w.db, here, shown)?;
    // A bare number that is nobody's weight may be anything.
    if reading.grams.is_none() && near.is_empty() {
        return Ok(());
    }
    let mut flags = Vec::new();
    if reading.unit.is_none() {
        flags.push(Flag::UnitAssumed);
    }
    let hinted = photo.bird.as_ref().and_then(|id| here.iter().find(|b| b.id == *id));
    let bird = match (hinted, near.as_slice()) {
        (Some(bird), _) => Some(bird),
        (None, near) => {
            flags.push(Flag::BirdAssumed);
            let in_hand = birds::in_hand(w.db)?.map(|b| b.id);
            match near {
                [only] => here.iter().find(|b| b.id == **only),
                [] if here.len() == 1 => here.first(),
                several => here.iter().find(|b| Some(&b.id) == in_hand.as_ref() && several.contains(&&b.id)),
            }
        }
    };
    if let Some(bird) = bird
        && birds::last_weight(w.db, &bird.id)?.is_some()
        && !near.contains(&&bird.id)
    {
        flags.push(Flag::ImplausibleWeight);
    }
    let mut quote = reading.reading.clone().unwrap_or_default();
    if let Some(unit) = reading.unit {
        quote = format!("{quote} {}", unit_word(unit));
    }
    let said = Entry {
        value: Value::Weight(Weight { grams: grams.to_tenth(), unit: reading.unit }),
        bird: bird.map(|b| b.details.name.clone()),
        at: photo.at,
        span: [0, quote.chars().count()],
        quote,
        confidence: reading.confidence,
        flags,
    };
    w.push(Op::Proposed {
        entry: EntryId::new(w.id('e')?),
        n: 0,
        note: None,
        photo: Some(photo.id.clone()),
        from: Some(photo.evidence.clone()),
        bird: bird.map(|b| b.id.clone()),
        said,
    })
    .map(drop)
}

fn unit_word(unit: MassUnit) -> &'static str {
    match unit {
        MassUnit::G => "g",
        MassUnit::Kg => "kg",
        MassUnit::Oz => "oz",
        MassUnit::Lb => "lb",
        MassUnit::LbOz => "lb oz",
    }
}

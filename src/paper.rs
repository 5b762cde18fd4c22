//! From the record to what the reports are printed from.

use anyhow::Result;
use chrono::{Days, Local, NaiveDate, NaiveTime, TimeZone as _};
use note::{BirdId, Proposed, Sha256, Taken, Verdict};
use report::{
    BirdRecord, Correction, Event, EventKind, Identity, Occasion, Permit, PhotoProof, Record, Seal,
    Withdrawal,
};
use store::{Bird, BirdEventKind, Pairing, Span, State, Store};

/// The stretch of time from the morning of one day to the night of another, by this machine's zone.
pub fn span(from: NaiveDate, to: NaiveDate) -> Span {
    let morning = |day: NaiveDate| {
        Local.from_local_datetime(&day.and_time(NaiveTime::MIN)).earliest().map(|at| at.fixed_offset())
    };
    Span { from: morning(from), to: to.checked_add_days(Days::new(1)).and_then(morning) }
}

/// Gathers all that is told of a bird in a span.
pub fn bird(store: &Store, bird: &Bird, occasion: &Occasion) -> Result<BirdRecord> {
    let d = &bird.details;
    let permit = |what: &String| Permit { what: what.clone(), ..Permit::default() };
    let within = span(occasion.from, occasion.to);
    Ok(BirdRecord {
        bird: bird.for_advice(),
        identity: Identity {
            ring: d.ring.clone(),
            chip: d.chip.clone(),
            origin: d.origin.clone(),
            permits: d.permits.iter().map(permit).collect(),
        },
        records: records(store, &bird.id, within)?,
        events: events(store, &bird.id)?,
        photos: Vec::new(),
    })
}

/// Gathers confirmed weather: it belongs to no bird.
pub fn weather(store: &Store, occasion: &Occasion) -> Result<Vec<Record>> {
    Ok(store.weather(span(occasion.from, occasion.to))?.into_iter().map(Record::new).collect())
}

/// Returns the journal's end, against which any later change to what came before shows.
pub fn seal(store: &Store) -> Result<Option<Seal>> {
    let journal = store.journal(None)?;
    Ok(journal.last().map(|last| Seal { lines: journal.len() as u64, hash: Sha256::new(last.hash.clone()) }))
}

fn events(store: &Store, bird: &BirdId) -> Result<Vec<Event>> {
    let kind = |kind| match kind {
        BirdEventKind::Acquired => EventKind::Acquired,
        BirdEventKind::Transferred => EventKind::Transferred,
        BirdEventKind::Lost => EventKind::Lost,
        BirdEventKind::Found => EventKind::Recovered,
        BirdEventKind::Died => EventKind::Died,
        BirdEventKind::Vet => EventKind::VetVisit,
        BirdEventKind::Ringed | BirdEventKind::Chipped | BirdEventKind::Other => EventKind::Other,
    };
    let told = store.bird_events(bird)?.into_iter();
    Ok(told
        .map(|event| Event { on: event.at.date_naive(), kind: kind(event.kind), detail: event.text })
        .collect())
}

fn records(store: &Store, bird: &BirdId, within: Span) -> Result<Vec<Record>> {
    let mut out = Vec::new();
    for kept in store.records(bird, within)? {
        let steps = store.steps(&kept.id)?;
        // Only what was once somebody's word is printed; proposals nobody took are not.
        let (Some(by), Some(decided)) = (&kept.by, kept.decided) else { continue };
        let stands = kept.state == State::Confirmed;
        if !stands
            && (kept.state != State::Withdrawn
                || !steps.iter().any(|step| step.what.starts_with("confirmed")))
        {
            continue;
        }
        let proposed = Proposed { id: kept.id.clone(), entry: kept.entry.clone() };
        let Some(confirmed) = proposed.decide(&Verdict::Accept, by, decided) else { continue };
        let stood = steps.iter().filter_map(|step| step.entry.as_ref().map(|entry| (step, entry)));
        let stood: Vec<_> = stood.collect();
        let changes = stood.windows(2).filter(|pair| pair[0].1.value != pair[1].1.value);
        out.push(Record {
            corrections: changes
                .map(|pair| Correction { was: pair[0].1.clone(), by: pair[1].0.by.clone(), at: pair[1].0.at })
                .collect(),
            withdrawn: (!stands).then(|| Withdrawal { by: by.clone(), at: decided }),
            source: source(store, &kept)?,
            photo: kept.pairing.as_ref().and_then(proof),
            ..Record::new(confirmed)
        });
    }
    Ok(out)
}

fn source(store: &Store, kept: &store::Record) -> Result<Option<Sha256>> {
    Ok(match (&kept.note, &kept.photo) {
        (Some(note), _) => store.note(note)?.evidence,
        (None, Some(photo)) => Some(store.photo(photo)?.evidence),
        (None, None) => None,
    })
}

fn proof(pairing: &Pairing) -> Option<PhotoProof> {
    let photo = &pairing.photo;
    Some(PhotoProof {
        sha256: photo.evidence.clone(),
        taken: Taken { at: photo.at, source: photo.taken },
        reading: photo.reading.clone()?,
    })
}

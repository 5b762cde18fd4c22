//! From the record to what the reports are printed from.

use anyhow::{Result, bail};
use chrono::{Days, Local, NaiveDate, NaiveTime, TimeZone as _};
use note::{BirdId, Proposed, Sha256, Taken, Verdict};
use report::{
    BirdRecord, Correction, DayBook, Event, EventKind, Identity, InspectorSheet, Occasion, Permit,
    PhotoProof, Record, Seal, VetSheet, Withdrawal,
};
use store::{Bird, BirdEventKind, Pairing, Span, State, Store};

/// The stretch of time from the morning of one day to the night of another, by this machine's zone.
pub fn span(from: NaiveDate, to: NaiveDate) -> Span {
    let morning = |day: NaiveDate| {
        Local.from_local_datetime(&day.and_time(NaiveTime::MIN)).earliest().map(|at| at.fixed_offset())
    };
    Span { from: morning(from), to: to.checked_add_days(Days::new(1)).and_then(morning) }
}

/// Prints a report, as PDF or as a page for print.
pub fn print(
    store: &Store,
    what: page::Report,
    birds: &[Bird],
    occasion: Occasion,
    question: Option<String>,
    html: bool,
) -> Result<Vec<u8>> {
    let gather = || birds.iter().map(|one| bird(store, one, &occasion)).collect::<Result<Vec<_>>>();
    Ok(match what {
        page::Report::DayBook => {
            let general = weather(store, &occasion)?;
            let book = DayBook { birds: gather()?, general, seal: seal(store)?, occasion };
            if html { report::day_book_html(&book).into_bytes() } else { report::day_book(&book)? }
        }
        page::Report::Vet => {
            let [one] = birds else { bail!("The vet's sheet is for one bird: say which.") };
            let days = store.days(&one.id, Span::ALL)?;
            let advice = advise::advise(&one.for_advice(), &days, &page::advice_settings(store)?).ok();
            let sheet = VetSheet {
                record: bird(store, one, &occasion)?,
                trend: advice.as_ref().and_then(|advice| advice.trend),
                flying: advice.and_then(|advice| advice.flying_weight),
                question,
                occasion,
            };
            if html { report::vet_sheet_html(&sheet).into_bytes() } else { report::vet_sheet(&sheet)? }
        }
        page::Report::Inspector => {
            let (birds, seal) = (gather()?, seal(store)?);
            let sheet = InspectorSheet { birds, general: Vec::new(), permits: Vec::new(), seal, occasion };
            if html {
                report::inspector_sheet_html(&sheet).into_bytes()
            } else {
                report::inspector_sheet(&sheet)?
            }
        }
    })
}

/// Prints what the page ordered, as PDF.
pub fn ordered(store: &Store, order: &page::Order) -> Result<Vec<u8>> {
    let made_at = Local::now().fixed_offset();
    let to = order.to.unwrap_or_else(|| made_at.date_naive());
    let from = order.from.unwrap_or(NaiveDate::MIN).max(to.checked_sub_days(Days::new(36_500)).unwrap_or(to));
    let occasion = Occasion { keeper: order.keeper.clone(), contact: None, made_at, from, to };
    let birds = match &order.bird {
        Some(id) => vec![store.bird(id)?],
        None => store.all_birds()?,
    };
    print(store, order.report, &birds, occasion, order.question.clone(), false)
}

/// Gathers all that is told of a bird in a span.
fn bird(store: &Store, bird: &Bird, occasion: &Occasion) -> Result<BirdRecord> {
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
fn weather(store: &Store, occasion: &Occasion) -> Result<Vec<Record>> {
    Ok(store.weather(span(occasion.from, occasion.to))?.into_iter().map(Record::new).collect())
}

/// Returns the journal's end, against which any later change to what came before shows.
fn seal(store: &Store) -> Result<Option<Seal>> {
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

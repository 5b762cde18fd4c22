//! What the three reports share.

use crate::input::{BirdRecord, Occasion, PhotoProof, Record, Seal};
use crate::plot::Plot;
use crate::sheet::{Block, Column, Look, Run, Sheet, Table, column, joined, number, plain, run};
use crate::words;
use chrono::{DateTime, FixedOffset, NaiveDate};
use note::{Bird, Entry, Units, Value};

/// Returns the day on which an entry fell, in the zone of the report.
pub(crate) fn day_of(at: DateTime<FixedOffset>, occasion: &Occasion) -> NaiveDate {
    at.with_timezone(occasion.made_at.offset()).date_naive()
}

/// Returns a day of the span for a table.
pub(crate) fn table_day(day: NaiveDate, occasion: &Occasion) -> String {
    words::table_day(day, (occasion.from, occasion.to))
}

pub(crate) fn within(at: DateTime<FixedOffset>, occasion: &Occasion) -> bool {
    (occasion.from..=occasion.to).contains(&day_of(at, occasion))
}

/// Returns the records of the span in order of time.
pub(crate) fn in_span<'a>(records: &'a [Record], occasion: &Occasion) -> Vec<&'a Record> {
    let mut out: Vec<&Record> = records.iter().filter(|r| within(r.entry().at, occasion)).collect();
    out.sort_by_key(|r| (r.entry().at, r.entry().kind()));
    out
}

/// Returns an empty sheet.
pub(crate) fn sheet(title: &str, about: &str, occasion: &Occasion) -> Sheet {
    let days = if occasion.from == occasion.to {
        words::long_day(occasion.from)
    } else {
        format!("{} to {}", words::long_day(occasion.from), words::long_day(occasion.to))
    };
    let mut made = format!("Kept by {}", occasion.keeper);
    if let Some(contact) = &occasion.contact {
        made += &format!(", {contact}");
    }
    Sheet {
        title: title.to_owned(),
        subtitle: format!("{about} · {days}"),
        made: format!("{made}. Made {}.", words::moment(occasion.made_at)),
        running: format!("{title} · {about}"),
        keeper: occasion.keeper.clone(),
        made_at: occasion.made_at,
        blocks: Vec::new(),
    }
}

/// Returns a bird's name with its species.
pub(crate) fn called(bird: &Bird) -> String {
    match &bird.species {
        Some(species) => format!("{}, {species}", bird.bird),
        None => bird.bird.clone(),
    }
}

/// Returns the names of several birds.
pub(crate) fn about(birds: &[BirdRecord]) -> String {
    match birds {
        [one] => called(&one.bird),
        [] => "no birds".to_owned(),
        [a, b] => format!("{} and {}", a.bird.bird, b.bird.bird),
        [a, b, c] => format!("{}, {} and {}", a.bird.bird, b.bird.bird, c.bird.bird),
        many => format!("{} birds", many.len()),
    }
}

fn or_blank(text: Option<&str>) -> Vec<Run> {
    match text {
        Some(text) if !text.trim().is_empty() => plain(text),
        _ => vec![run(Look::Faint, "not recorded")],
    }
}

/// Returns a bird's identity as facts.
pub(crate) fn identity(record: &BirdRecord) -> Vec<(&'static str, Vec<Run>)> {
    let bird = &record.bird;
    let hatched = bird.hatched.as_deref();
    let hatched = hatched.map(|h| h.parse::<NaiveDate>().map_or(h.to_owned(), words::long_day));
    vec![
        ("Species", or_blank(bird.species.as_deref())),
        ("Sex", or_blank(bird.sex.as_deref())),
        ("Hatched", or_blank(hatched.as_deref())),
        ("Ring", or_blank(record.identity.ring.as_deref())),
        ("Chip", or_blank(record.identity.chip.as_deref())),
        ("Origin", or_blank(record.identity.origin.as_deref())),
    ]
}

/// Returns the weights that a keeper has set for a bird, as facts.
pub(crate) fn set_weights(bird: &Bird) -> Vec<(&'static str, Vec<Run>)> {
    let mass = |grams: Option<f64>| or_blank(grams.map(|g| words::mass(g, bird.units)).as_deref());
    vec![
        ("Never below", mass(bird.floor_g)),
        ("Aimed at", mass(bird.target_g)),
        ("Fed freely", mass(bird.fed_up_g)),
        ("Furniture, in every reading", mass(bird.furniture_g)),
    ]
}

/// Returns the weights of the span that stand.
pub(crate) fn weights(records: &[&Record]) -> Vec<(DateTime<FixedOffset>, f64)> {
    records
        .iter()
        .filter(|r| r.stands())
        .filter_map(|r| match &r.entry().value {
            Value::Weight(w) => Some((r.entry().at, w.grams.get())),
            _ => None,
        })
        .collect()
}

/// Returns the chart of a bird's weights, if there is anything to draw.
pub(crate) fn chart(record: &BirdRecord, occasion: &Occasion, band: Option<(f64, f64)>) -> Option<Block> {
    let points = weights(&in_span(&record.records, occasion));
    let points = points.into_iter().map(|(at, g)| (at.with_timezone(occasion.made_at.offset()), g)).collect();
    Plot::new(&record.bird, occasion.from, occasion.to, points, band).map(Block::Figure)
}

/// Returns an entry as it stands, and what it was before, struck through.
pub(crate) fn with_history(record: &Record, units: Units, separator: &str) -> Vec<Run> {
    let now = words::value(&record.entry().value, units);
    if record.withdrawn.is_some() {
        return vec![run(Look::Struck, now), run(Look::Faint, " (withdrawn)")];
    }
    let mut out = plain(now.clone());
    if let Some(first) = record.corrections.iter().find(|c| c.was.value != record.entry().value) {
        out.push(run(Look::Faint, format!("{separator}was ")));
        out.push(run(Look::Struck, words::value(&first.was.value, units)));
    }
    out
}

/// Returns several records in one cell.
pub(crate) fn cell(records: &[&Record], units: Units, separator: &str) -> Vec<Run> {
    joined(records.iter().map(|r| with_history(r, units, ", ")).collect(), separator)
}

/// Returns what changed between two readings of an entry beside its value.
fn moved(was: &Entry, now: &Entry) -> String {
    let mut out = Vec::new();
    if was.at != now.at {
        out.push(format!("time was {}", words::moment(was.at)));
    }
    if was.bird != now.bird {
        out.push(format!("bird was {}", was.bird.as_deref().unwrap_or("not named")));
    }
    out.join(", ")
}

/// Returns the table of corrections and withdrawals, if there were any.
pub(crate) fn changes(records: &[&Record], units: Units) -> Option<Block> {
    let mut rows: Vec<(DateTime<FixedOffset>, Vec<Vec<Run>>)> = Vec::new();
    for record in records {
        let entry = record.entry();
        let concerns = plain(words::moment(entry.at));
        let mut later: Vec<&Entry> = record.corrections.iter().skip(1).map(|c| &c.was).collect();
        later.push(entry);
        for (correction, then) in record.corrections.iter().zip(later) {
            let mut now = plain(words::value(&then.value, units));
            let moved = moved(&correction.was, then);
            if !moved.is_empty() {
                now.push(run(Look::Faint, format!(" ({moved})")));
            }
            let was = vec![run(Look::Struck, words::named(&correction.was, units))];
            rows.push((
                correction.at,
                vec![plain(words::moment(correction.at)), plain(&correction.by), concerns.clone(), was, now],
            ));
        }
        if let Some(taken_back) = &record.withdrawn {
            let was = vec![run(Look::Struck, words::named(entry, units))];
            let now = vec![run(Look::Faint, "withdrawn")];
            rows.push((
                taken_back.at,
                vec![plain(words::moment(taken_back.at)), plain(&taken_back.by), concerns, was, now],
            ));
        }
    }
    rows.sort_by_key(|(at, _)| *at);
    const COLUMNS: [Column; 5] = [
        column("Changed", 3.0),
        column("By", 2.0),
        column("Concerns", 3.0),
        column("Was", 4.0),
        column("Stands", 4.0),
    ];
    let table = Table {
        says: "Corrections and withdrawals".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: rows.into_iter().map(|(_, row)| row).collect(),
    };
    (!table.rows.is_empty()).then_some(Block::Table(table))
}

/// Returns a hash in two halves, so that it fits a column and still can be copied.
pub(crate) fn hash(sha256: &note::Sha256) -> Vec<Run> {
    vec![run(Look::Fine, sha256.as_str())]
}

/// Returns the table of photos, if there are any in the span.
pub(crate) fn proofs(record: &BirdRecord, occasion: &Occasion) -> Option<Block> {
    let units = record.bird.units;
    let paired = record
        .records
        .iter()
        .filter(|r| r.stands())
        .filter_map(|r| Some((r.photo.as_ref()?, Some(r.entry()))));
    let loose = record.photos.iter().map(|p| (p, None));
    let mut all: Vec<(&PhotoProof, Option<&Entry>)> =
        paired.chain(loose).filter(|(p, _)| within(p.taken.at, occasion)).collect();
    all.sort_by_key(|(p, _)| p.taken.at);
    const COLUMNS: [Column; 5] = [
        column("Photo taken", 3.4),
        column("Time known from", 2.6),
        number("Display", 1.9),
        number("Record", 1.9),
        column("Hash of the original (SHA-256)", 6.2),
    ];
    let rows = all.into_iter().map(|(photo, entry)| {
        let shown = match (photo.reading.grams, &photo.reading.reading) {
            (Some(grams), _) => plain(words::mass(grams.get(), units)),
            (None, Some(digits)) => plain(digits),
            (None, None) => vec![run(Look::Faint, "not read")],
        };
        let kept = match entry.map(|e| &e.value) {
            Some(Value::Weight(w)) => {
                let differs = photo.reading.grams.is_some_and(|g| (g.get() - w.grams.get()).abs() > 0.6);
                vec![run(if differs { Look::Alarm } else { Look::Plain }, words::mass(w.grams.get(), units))]
            }
            Some(other) => plain(words::value(other, units)),
            None => vec![run(Look::Faint, "none")],
        };
        vec![
            plain(words::moment(photo.taken.at)),
            plain(words::source(photo.taken.source)),
            shown,
            kept,
            hash(&photo.sha256),
        ]
    });
    let table =
        Table { says: "Photos of the scale".to_owned(), columns: COLUMNS.to_vec(), rows: rows.collect() };
    (!table.rows.is_empty()).then_some(Block::Table(table))
}

/// Returns the sentences at the foot of a report.
pub(crate) fn vouched(seal: Option<&Seal>) -> Vec<Block> {
    let mut out = vec![Block::Text(vec![run(
        Look::Faint,
        "Printed are entries that a keeper has confirmed, and what became of them since. Drafts that nobody has looked at are left out.",
    )])];
    if let Some(seal) = seal {
        out.push(Block::Text(vec![
            run(Look::Faint, format!("The journal held {} lines when this was made. The hash of the last one vouches for all before it: ", seal.lines)),
            run(Look::Fine, seal.hash.as_str()),
        ]));
    }
    out
}

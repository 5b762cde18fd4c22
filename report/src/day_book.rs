//! The day book: what happened, day by day.

use crate::common::{
    about, called, cell, changes, chart, day_of, identity, in_span, proofs, set_weights, sheet, table_day,
    vouched, with_history, within,
};
use crate::input::{BirdRecord, DayBook, Occasion, Record};
use crate::sheet::{Block, Column, Look, Run, Sheet, Table, column, joined, number, plain, run};
use crate::words;
use chrono::{DateTime, FixedOffset, NaiveDate};
use note::{Kind, Outcome, Sign, Units, Value};
use std::collections::BTreeMap;

const COLUMNS: [Column; 6] = [
    column("Day", 3.1),
    number("Weight", 1.9),
    column("Food", 3.3),
    column("Flying and quarry", 3.9),
    column("Answer", 2.1),
    column("Training, signs, remarks", 3.9),
];

/// The kinds of the last column, in its order.
const REST: [Kind; 6] =
    [Kind::Training, Kind::Equipment, Kind::Condition, Kind::Behaviour, Kind::Weather, Kind::Remark];

/// Puts the day book together.
pub(crate) fn compose(book: &DayBook) -> Sheet {
    let mut out = sheet("Day book", &about(&book.birds), &book.occasion);
    for (i, bird) in book.birds.iter().enumerate() {
        if i > 0 {
            out.blocks.push(Block::PageBreak);
        }
        out.blocks.extend(one_bird(bird, book));
    }
    if book.birds.is_empty() {
        out.blocks.push(Block::Text(plain("There is no bird in this report. Choose one and make it again.")));
    }
    let general = in_span(&book.general, &book.occasion);
    if let Some(table) = changes(&general, Units::Metric) {
        out.blocks.push(Block::Heading(3, "Corrections to weather and remarks".to_owned()));
        out.blocks.push(table);
    }
    out.blocks.extend(vouched(book.seal.as_ref()));
    out
}

fn one_bird(record: &BirdRecord, book: &DayBook) -> Vec<Block> {
    let occasion = &book.occasion;
    let records = in_span(&record.records, occasion);
    let mut out = vec![Block::Heading(2, called(&record.bird))];
    let mut facts = identity(record);
    facts.extend(set_weights(&record.bird));
    out.push(Block::Facts(facts));
    out.extend(chart(record, occasion, None));
    out.push(Block::Heading(3, "Day by day".to_owned()));
    let rows = days(record, book, &records);
    if rows.is_empty() {
        out.push(Block::Text(plain("Nothing was confirmed in these days.")));
    } else {
        out.push(Block::Table(Table {
            says: format!("Days of {}", record.bird.bird),
            columns: COLUMNS.to_vec(),
            rows,
        }));
    }
    if let Some(table) = vet_and_moult(record, occasion, &records) {
        out.push(Block::Heading(3, "Vet, health and moult".to_owned()));
        out.push(table);
    }
    if let Some(table) = proofs(record, occasion) {
        out.push(Block::Heading(3, "Proof by photo".to_owned()));
        out.push(table);
    }
    if let Some(table) = changes(&records, record.bird.units) {
        out.push(Block::Heading(3, "Corrections".to_owned()));
        out.push(table);
    }
    out
}

/// Returns a row for each day on which something was confirmed.
fn days(record: &BirdRecord, book: &DayBook, records: &[&Record]) -> Vec<Vec<Vec<Run>>> {
    let occasion = &book.occasion;
    let units = record.bird.units;
    let mut by_day: BTreeMap<NaiveDate, Vec<&Record>> = BTreeMap::new();
    for record in records {
        by_day.entry(day_of(record.entry().at, occasion)).or_default().push(record);
    }
    let general = in_span(&book.general, occasion);
    by_day
        .into_iter()
        .map(|(day, of_day)| {
            let of = |kinds: &[Kind]| -> Vec<&Record> {
                of_day.iter().copied().filter(|r| kinds.contains(&r.entry().kind())).collect()
            };
            let mut date = vec![run(Look::Strong, table_day(day, occasion))];
            for weather in general.iter().filter(|r| r.stands() && day_of(r.entry().at, occasion) == day) {
                if let Value::Weather(w) = &weather.entry().value {
                    date.push(run(Look::Faint, format!("\n{}", words::weather(w))));
                }
            }
            let weights = of(&[Kind::Weight]);
            let weight =
                joined(weights.iter().map(|r| timed(r, units, weights.len() > 1, occasion)).collect(), "\n");
            let mut rest = of(&REST);
            rest.sort_by_key(|r| REST.iter().position(|kind| *kind == r.entry().kind()));
            vec![
                date,
                weight,
                cell(&of(&[Kind::Food]), units, ", "),
                cell(&of(&[Kind::Flights, Kind::Quarry]), units, "; "),
                cell(&of(&[Kind::Response]), units, "; "),
                cell(&rest, units, "; "),
            ]
        })
        .collect()
}

/// Returns a weight, with its hour where a day has several.
fn timed(record: &Record, units: Units, hour: bool, occasion: &Occasion) -> Vec<Run> {
    let mut out = Vec::new();
    if hour {
        let at: DateTime<FixedOffset> = record.entry().at.with_timezone(occasion.made_at.offset());
        out.push(run(Look::Faint, format!("{} ", at.format("%H:%M"))));
    }
    out.extend(with_history(record, units, "\n"));
    if record.photo.is_some() && record.stands() {
        out.push(run(Look::Faint, "\nphoto"));
    }
    out
}

/// Returns whether an entry belongs among the signs that a vet would ask after.
pub(crate) fn is_sign(record: &Record) -> bool {
    const HEALTH: [&str; 7] =
        ["fluffed", "panting", "drooping", "sneezing", "limping", "sleeping", "drinking"];
    match &record.entry().value {
        // A crop or a casting of every day is no event; the day's row tells it.
        Value::Condition(c) => {
            !(c.sign == Sign::Crop
                || c.sign == Sign::Casting && c.reading == "cast"
                || c.sign == Sign::Mutes && c.reading == "normal")
        }
        Value::Behaviour(b) => b.present && HEALTH.contains(&b.word.as_str()),
        Value::Food(f) => f.outcome == Outcome::Refused,
        Value::Remark(r) => ["vet", "vets", "sick", "ill", "medicine", "injury", "injured"]
            .iter()
            .any(|w| r.text.to_lowercase().split(|c: char| !c.is_alphanumeric()).any(|x| x == *w)),
        _ => false,
    }
}

/// Returns events and signs in order of time.
pub(crate) fn signs(
    record: &BirdRecord,
    occasion: &Occasion,
    records: &[&Record],
) -> Vec<(NaiveDate, Vec<Run>)> {
    let units = record.bird.units;
    let mut all: Vec<(NaiveDate, Vec<Run>)> = records
        .iter()
        .filter(|r| is_sign(r))
        .map(|r| (day_of(r.entry().at, occasion), cell(&[r], units, "")))
        .collect();
    for event in record.events.iter().filter(|e| (occasion.from..=occasion.to).contains(&e.on)) {
        let mut text = vec![run(Look::Strong, event.kind.word())];
        if !event.detail.is_empty() {
            text.push(run(Look::Plain, format!(": {}", event.detail)));
        }
        all.push((event.on, text));
    }
    all.sort_by_key(|(day, _)| *day);
    all
}

/// Returns a row for each day of these.
pub(crate) fn by_day(all: Vec<(NaiveDate, Vec<Run>)>, occasion: &Occasion) -> Vec<Vec<Vec<Run>>> {
    let mut days: BTreeMap<NaiveDate, Vec<Vec<Run>>> = BTreeMap::new();
    for (day, what) in all {
        days.entry(day).or_default().push(what);
    }
    days.into_iter().map(|(day, what)| vec![plain(table_day(day, occasion)), joined(what, "; ")]).collect()
}

fn vet_and_moult(record: &BirdRecord, occasion: &Occasion, records: &[&Record]) -> Option<Block> {
    let rows = by_day(signs(record, occasion, records), occasion);
    let columns = vec![column("Day", 3.1), column("What", 15.1)];
    let table = Table { says: "Vet, health and moult".to_owned(), columns, rows };
    (!table.rows.is_empty()).then_some(Block::Table(table))
}

/// Returns whether any record of the book falls into its span.
pub(crate) fn is_empty(book: &DayBook) -> bool {
    let some = |records: &[Record]| records.iter().any(|r| within(r.entry().at, &book.occasion));
    !some(&book.general) && !book.birds.iter().any(|b| some(&b.records))
}

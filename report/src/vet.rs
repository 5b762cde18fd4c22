//! The vet's sheet: one bird on one page.

use crate::common::{called, cell, chart, day_of, identity, in_span, set_weights, sheet, table_day, weights};
use crate::day_book::{by_day, signs};
use crate::input::{Record, VetSheet};
use crate::sheet::{Block, Column, Look, Run, Sheet, Table, column, number, plain, run};
use crate::words;
use chrono::NaiveDate;
use note::{Kind, Value};
use std::collections::BTreeMap;

const COLUMNS: [Column; 5] = [
    column("Day", 2.0),
    number("Weight", 1.6),
    column("Food", 4.2),
    column("Answer and flying", 5.4),
    column("Crop, casting, mutes", 3.0),
];

/// Puts the sheet together with at most so many days and signs, so that it can be made to fit one page.
pub(crate) fn compose(vet: &VetSheet, most_days: usize, most_signs: usize) -> Sheet {
    let (occasion, record) = (&vet.occasion, &vet.record);
    let bird = &record.bird;
    let records = in_span(&record.records, occasion);
    let mut out = sheet("For the vet", &called(bird), occasion);
    if let Some(question) = vet.question.as_ref().filter(|q| !q.trim().is_empty()) {
        out.blocks.push(Block::Text(vec![
            run(Look::Strong, "The keeper asks: "),
            run(Look::Plain, question.trim()),
        ]));
    }
    let mut facts = identity(record);
    facts.extend(weight_facts(vet, &records));
    facts.extend(set_weights(bird));
    out.blocks.push(Block::Facts(facts));
    let band = vet.flying.map(|f| (f.low_g, f.high_g));
    out.blocks.extend(chart(record, occasion, band));
    let all = signs(record, occasion, &records);
    out.blocks.push(Block::Heading(2, "Signs and dates".to_owned()));
    if all.is_empty() {
        out.blocks.push(Block::Text(plain(
            "No sign of illness, no vet's visit and no moult was noted in these days.",
        )));
    } else {
        let left = all.len().saturating_sub(most_signs);
        let rows = by_day(all.into_iter().skip(left).collect(), occasion);
        let columns = vec![column("Day", 2.0), column("What the keeper noted", 14.6)];
        out.blocks.push(Block::Table(Table { says: "Signs and dates".to_owned(), columns, rows }));
        if left > 0 {
            out.blocks.push(Block::Text(vec![run(
                Look::Faint,
                format!("{left} earlier ones stand in the day book."),
            )]));
        }
    }
    out.blocks.push(Block::Heading(2, "The last days".to_owned()));
    let rows = last_days(vet, &records, most_days);
    if rows.is_empty() {
        out.blocks.push(Block::Text(plain("Nothing was confirmed in these days.")));
    } else {
        out.blocks.push(Block::Table(Table {
            says: "The last days".to_owned(),
            columns: COLUMNS.to_vec(),
            rows,
        }));
    }
    out.blocks.push(Block::Caution(
        "A keeper's record, no diagnosis. Weights are as the scale showed them, furniture included. Some diseases of birds pass to people: \
         wash hands after handling."
            .to_owned(),
    ));
    out
}

/// Returns what the weights say, as facts.
fn weight_facts(vet: &VetSheet, records: &[&Record]) -> Vec<(&'static str, Vec<Run>)> {
    let units = vet.record.bird.units;
    let all = weights(records);
    let mut out = Vec::new();
    if let (Some(first), Some(last)) = (all.first(), all.last()) {
        let change = (last.1 - first.1) / first.1 * 100.0;
        let sign = if change < 0.0 { "\u{2212}" } else { "+" };
        out.push((
            "Last weight",
            vec![
                run(Look::Strong, words::mass(last.1, units)),
                run(Look::Faint, format!(" {}", words::day(day_of(last.0, &vet.occasion)))),
            ],
        ));
        out.push((
            "Over these days",
            plain(format!("{sign}{:.1} % of {}", change.abs(), words::mass(first.1, units))),
        ));
    }
    if let Some(trend) = vet.trend {
        let sign = if trend.per_day_g < 0.0 { "\u{2212}" } else { "+" };
        out.push((
            "Trend",
            plain(format!("{}, {sign}{:.1} g a day", words::mass(trend.grams, units), trend.per_day_g.abs())),
        ));
    }
    if let Some(f) = vet.flying {
        out.push((
            "Flies well between",
            plain(format!("{} and {}", words::mass(f.low_g, units), words::mass(f.high_g, units))),
        ));
    }
    out
}

fn last_days(vet: &VetSheet, records: &[&Record], most: usize) -> Vec<Vec<Vec<Run>>> {
    let units = vet.record.bird.units;
    let mut days: BTreeMap<NaiveDate, Vec<&Record>> = BTreeMap::new();
    for record in records.iter().filter(|r| r.stands()) {
        days.entry(day_of(record.entry().at, &vet.occasion)).or_default().push(record);
    }
    let skip = days.len().saturating_sub(most);
    days.into_iter()
        .skip(skip)
        .map(|(day, of_day)| {
            let of = |kinds: &[Kind]| -> Vec<&Record> { of_day.iter().copied().filter(|r| kinds.contains(&r.entry().kind())).collect() };
            let small: Vec<&Record> = of(&[Kind::Condition])
                .into_iter()
                .filter(|r| matches!(&r.entry().value, Value::Condition(c) if ["crop", "casting", "mutes"].contains(&c.sign.word())))
                .collect();
            vec![
                plain(table_day(day, &vet.occasion)),
                cell(&of(&[Kind::Weight]), units, "\n"),
                cell(&of(&[Kind::Food]), units, ", "),
                cell(&of(&[Kind::Response, Kind::Flights]), units, "; "),
                cell(&small, units, ", "),
            ]
        })
        .collect()
}

//! The record as tables and lines that any program reads.
//!
//! A cell that a spreadsheet would take for a formula gets an apostrophe before it; plain numbers stay numbers.

use crate::Result;
use note::{BirdId, Day, Entry};
use serde_json::Value as Json;
use store::{Bird, Moment, Span, Store};

/// The fields of every kind's value by the entry contract, each a column.
const FIELDS: &[&str] = &[
    "grams",
    "unit",
    "item",
    "count",
    "part",
    "outcome",
    "longest_m",
    "line",
    "to",
    "grade",
    "word",
    "present",
    "degree",
    "sign",
    "reading",
    "temperature_c",
    "wind",
    "sky",
    "species",
    "action",
    "step",
    "text",
];

/// One row of the table of entries.
pub(crate) struct Line<'a> {
    pub(crate) id: &'a str,
    pub(crate) entry: &'a Entry,
    pub(crate) by: &'a str,
    pub(crate) decided: Moment,
    pub(crate) keeper: &'a str,
}

/// Makes a cell that no spreadsheet runs.
pub(crate) fn cell(text: &str) -> String {
    let number = text.parse::<f64>().is_ok_and(f64::is_finite);
    if !number && text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

fn shown(value: Option<&Json>) -> String {
    match value {
        None | Some(Json::Null) => String::new(),
        Some(Json::String(text)) => cell(text),
        Some(other) => other.to_string(),
    }
}

fn table(header: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Result<String> {
    let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let broken = |e: csv::Error| crate::HandOverError::Refused(format!("the table cannot be written: {e}"));
    out.write_record(header).map_err(broken)?;
    for row in rows {
        out.write_record(&row).map_err(broken)?;
    }
    let bytes = out.into_inner().map_err(|e| crate::HandOverError::Refused(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| crate::HandOverError::Refused(e.to_string()))
}

pub(crate) fn write_entries<'a>(lines: impl Iterator<Item = Line<'a>>) -> Result<String> {
    let header: Vec<&str> = ["at", "bird", "kind"]
        .into_iter()
        .chain(FIELDS.iter().copied())
        .chain(["quote", "flags", "by", "decided_at", "keeper", "id"])
        .collect();
    let rows = lines.map(|line| {
        let json = serde_json::to_value(line.entry).unwrap_or_default();
        let value = &json["value"];
        let flags: Vec<&str> = line.entry.flags.iter().map(|f| f.word()).collect();
        let mut row = vec![
            line.entry.at.to_rfc3339(),
            cell(line.entry.bird.as_deref().unwrap_or_default()),
            line.entry.kind().word().to_owned(),
        ];
        row.extend(FIELDS.iter().map(|field| shown(value.get(field))));
        row.extend([
            cell(&line.entry.quote),
            flags.join("; "),
            cell(line.by),
            line.decided.to_rfc3339(),
            cell(line.keeper),
            line.id.to_owned(),
        ]);
        row
    });
    table(&header, rows)
}

pub(crate) fn write_days(bird: &Bird, days: &[Day]) -> Result<String> {
    let furniture = bird.details.furniture_g().unwrap_or(0.0);
    let header = [
        "at",
        "bird",
        "grams",
        "furniture_g",
        "net_g",
        "response",
        "flights",
        "longest_m",
        "line",
        "food",
        "temperature_c",
        "behaviours",
        "condition",
    ];
    let number = |n: Option<f64>| n.map(|n| n.to_string()).unwrap_or_default();
    let rows = days.iter().map(|day| {
        let flights = day.flights.unwrap_or_default();
        let food = day.food.as_ref().map(|food| {
            if food.is_empty() {
                "nothing".to_owned()
            } else {
                food.iter().map(eaten).collect::<Vec<_>>().join("; ")
            }
        });
        let signs = day.condition.as_ref().map(|signs| {
            signs.iter().map(|s| format!("{} {}", s.sign, s.reading)).collect::<Vec<_>>().join("; ")
        });
        vec![
            day.at.to_rfc3339(),
            cell(&bird.details.name),
            number(day.grams),
            furniture.to_string(),
            number(day.grams.map(|g| ((g - furniture) * 10.0).round() / 10.0)),
            day.response.map(|g| g.get().to_string()).unwrap_or_default(),
            flights.count.map(|n| n.to_string()).unwrap_or_default(),
            number(flights.longest_m),
            flights.line.map(|l| l.word().to_owned()).unwrap_or_default(),
            cell(&food.unwrap_or_default()),
            number(day.temperature_c),
            cell(&day.behaviours.as_ref().map(|b| b.join("; ")).unwrap_or_default()),
            cell(&signs.unwrap_or_default()),
        ]
    });
    table(&header, rows)
}

/// Writes an item eaten in words: "2.5 day-old chick", "quail leg", "30 g beef".
pub(crate) fn eaten(food: &note::DayFood) -> String {
    let mut words = Vec::new();
    words.extend(food.count.map(|n| n.to_string()));
    words.extend(food.grams.map(|g| format!("{g} g")));
    words.push(food.item.clone());
    words.extend(food.part.clone());
    words.join(" ")
}

/// Writes the confirmed entries of birds as a CSV table, oldest first.
pub fn entries_csv(store: &Store, birds: &[BirdId], span: Span, keeper: &str) -> Result<String> {
    let mut confirmed = Vec::new();
    for bird in birds {
        confirmed.extend(store.confirmed(bird, span)?);
    }
    confirmed.sort_by_key(|c| c.entry().at);
    write_entries(confirmed.iter().map(|c| Line {
        id: c.id().as_str(),
        entry: c.entry(),
        by: c.by(),
        decided: c.decided_at(),
        keeper,
    }))
}

/// Writes the confirmed entries of birds as JSON lines by the entry contract, with who confirmed
/// them and when, oldest first.
pub fn entries_json(store: &Store, birds: &[BirdId], span: Span, keeper: &str) -> Result<String> {
    let mut confirmed = Vec::new();
    for bird in birds {
        confirmed.extend(store.confirmed(bird, span)?);
    }
    confirmed.sort_by_key(|c| c.entry().at);
    let mut out = String::new();
    for c in &confirmed {
        let line = crate::give::EntryLine {
            id: c.id().clone(),
            keeper: keeper.to_owned(),
            by: c.by().to_owned(),
            decided_at: c.decided_at(),
            redacted: false,
            entry: c.entry().clone(),
        };
        out.push_str(&serde_json::to_string(&line).map_err(store::StoreError::from)?);
        out.push('\n');
    }
    Ok(out)
}

/// Writes a bird's days as a CSV table, oldest first: the reading, the furniture and what is left.
pub fn days_csv(store: &Store, bird: &BirdId, span: Span) -> Result<String> {
    write_days(&store.bird(bird)?, &store.days(bird, span)?)
}

//! Weights kept in a spreadsheet for years: read, shown with what was guessed, then brought in.
//!
//! [`preview`] guesses which column is what and in which unit, and says why; the keeper changes the
//! [`Mapping`] and looks again; [`bring_in`] enters the good rows as the keeper's own word and lists the bad ones.

mod cells;
mod guess;
mod rows;
mod sheet;

use crate::Result;
use note::{Entry, Flag, Grade, Grams, MassUnit, Remark, Response, Value, Weather, Weight};
use rows::read_rows;
use serde::{Deserialize, Serialize};
use sheet::Table;
use std::collections::{HashMap, HashSet};
use store::{About, EvidenceKind, Moment, Span, Store, Who};

/// Rows shown in a preview.
const SHOWN: usize = 20;

/// In which order numbers of a date stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    /// 14/03/2024.
    DayFirst,
    /// 03/14/2024.
    MonthFirst,
}

/// Which column is what; columns count from 0.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mapping {
    /// The date, with or without a time.
    pub date: Option<usize>,
    /// The time, where it has a column of its own.
    pub time: Option<usize>,
    /// The bird's name.
    pub bird: Option<usize>,
    /// The bird of all rows, where there is no such column.
    pub all_of: Option<String>,
    /// The weight.
    pub weight: Option<usize>,
    /// The unit of bare numbers.
    pub unit: MassUnit,
    /// How well she answered, 1 to 5.
    pub response: Option<usize>,
    /// The food, in words; kept as a remark.
    pub food: Option<usize>,
    /// Remarks.
    pub remark: Option<usize>,
    /// Degrees Celsius.
    pub temperature: Option<usize>,
    /// How dates are written.
    pub dates: DateOrder,
    /// Whether a comma stands before decimals.
    pub decimal_comma: bool,
    /// Time of rows without one, `HH:MM`.
    pub usual_time: String,
    /// The keeper's offset from UTC, minutes.
    pub offset_minutes: i32,
}

/// A column as it came.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Column {
    /// Its heading.
    pub name: String,
    /// Its first few cells that are not empty.
    pub samples: Vec<String>,
}

/// A row that can be brought in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// Its line in the table, from 1, the heading included.
    pub line: usize,
    /// When.
    pub at: Moment,
    /// Which bird.
    pub bird: String,
    /// The weight, grams.
    pub grams: Option<f64>,
    /// The unit that it was read in.
    pub unit: Option<MassUnit>,
    /// The cell as it stands.
    pub as_written: String,
    /// Whether the cell itself names its unit.
    pub unit_written: bool,
    /// How well she answered.
    pub response: Option<u8>,
    /// Food and remarks.
    pub remarks: Vec<String>,
    /// Degrees Celsius.
    pub temperature_c: Option<f64>,
}

/// A row that cannot be brought in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BadRow {
    /// Its line in the table, from 1, the heading included.
    pub line: usize,
    /// Why, in plain words.
    pub why: String,
    /// The row as it stands.
    pub text: String,
}

/// What a table looks like before anything is brought in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Preview {
    /// Its columns.
    pub columns: Vec<Column>,
    /// What was guessed, or what was given.
    pub mapping: Mapping,
    /// Why, each as a sentence.
    pub reasons: Vec<String>,
    /// Rows that can be brought in.
    pub good: u64,
    /// The first of them.
    pub first: Vec<Row>,
    /// Rows that cannot.
    pub bad: Vec<BadRow>,
}

/// What was brought in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BroughtIn {
    /// Rows that are new.
    pub rows: u64,
    /// Rows whose weight was here already.
    pub known: u64,
    /// Rows that could not be brought in.
    pub bad: Vec<BadRow>,
    /// Sum of the table, which is kept as an original.
    pub original: note::Sha256,
}

/// Looks at a table: guesses the mapping, or tries the one given.
pub fn preview(store: &Store, bytes: &[u8], mapping: Option<Mapping>) -> Result<Preview> {
    let table = Table::read(bytes)?;
    let birds = store.birds()?;
    let (mapping, reasons) = match mapping {
        Some(mapping) => (mapping, Vec::new()),
        None => guess::guess(store, &table, &birds)?,
    };
    let (good, bad) = read_rows(&table, &mapping, &birds)?;
    let columns = (0..table.heading.len())
        .map(|at| Column {
            name: table.heading[at].clone(),
            samples: table.column(at).filter(|c| !c.is_empty()).take(4).map(str::to_owned).collect(),
        })
        .collect();
    let first = good.iter().take(SHOWN).cloned().collect();
    Ok(Preview { columns, mapping, reasons, good: good.len() as u64, first, bad })
}

/// Reads the rows of a table by a mapping: the good ones and the bad ones.
pub fn rows(store: &Store, bytes: &[u8], mapping: &Mapping) -> Result<(Vec<Row>, Vec<BadRow>)> {
    read_rows(&Table::read(bytes)?, mapping, &store.birds()?)
}

/// Brings in the good rows of a table as one act of the keeper's, and keeps the table as an original.
///
/// A weight that is in the record already is not entered again.
pub fn bring_in(store: &Store, bytes: &[u8], name: &str, mapping: &Mapping, who: &Who) -> Result<BroughtIn> {
    let birds = store.birds()?;
    let (good, bad) = read_rows(&Table::read(bytes)?, mapping, &birds)?;
    let about = About { kind: EvidenceKind::Table, media_type: None, name: Some(name.to_owned()) };
    let original = store.put(bytes, &about)?.sha256;
    let mut here: HashMap<String, HashSet<(i64, u64)>> = HashMap::new();
    for bird in &birds {
        let weights =
            store.confirmed(&bird.id, Span::ALL)?.into_iter().filter_map(|c| match &c.entry().value {
                Value::Weight(w) => Some((c.entry().at.timestamp(), w.grams.get().to_bits())),
                _ => None,
            });
        here.insert(bird.details.name.clone(), weights.collect());
    }
    let mut entries = Vec::new();
    let (mut rows, mut known) = (0, 0);
    for row in good {
        let grams = row.grams.and_then(|g| Grams::new(g).ok()).map(Grams::to_tenth);
        let key = grams.map(|g| (row.at.timestamp(), g.get().to_bits()));
        if let Some(key) = key
            && !here.entry(row.bird.clone()).or_default().insert(key)
        {
            known += 1;
            continue;
        }
        rows += 1;
        entries.extend(entries_of(&row, grams));
    }
    if !entries.is_empty() {
        store.enter_all(entries, who)?;
    }
    Ok(BroughtIn { rows, known, bad, original })
}

fn entries_of(row: &Row, grams: Option<Grams>) -> Vec<Entry> {
    let entry = |value: Value, bird: bool, quote: &str, flags: Vec<Flag>| Entry {
        value,
        bird: bird.then(|| row.bird.clone()),
        at: row.at,
        quote: quote.to_owned(),
        span: [0, quote.chars().count()],
        confidence: 1.0,
        flags,
    };
    let mut out = Vec::new();
    if let Some(grams) = grams {
        let value = Value::Weight(Weight { grams, unit: row.unit });
        let flags = if row.unit_written { vec![] } else { vec![Flag::UnitAssumed] };
        out.push(entry(value, true, &row.as_written, flags));
    }
    if let Some(grade) = row.response.and_then(Grade::new) {
        out.push(entry(Value::Response(Response { grade }), true, "", vec![]));
    }
    for text in &row.remarks {
        out.push(entry(Value::Remark(Remark { text: text.clone() }), true, text, vec![]));
    }
    if let Some(temperature) = row.temperature_c {
        let weather = Weather { temperature_c: Some(temperature), ..Weather::default() };
        out.push(entry(Value::Weather(weather), false, "", vec![]));
    }
    out
}

//! Weights kept in a spreadsheet for years: read, shown with what was guessed, then brought in.
//!
//! [`preview`] guesses which column is what and in which unit, and says why; the keeper changes the
//! [`Mapping`] and looks again; [`bring_in`] enters the good rows as the keeper's own word and lists the bad ones.

use crate::{HandOverError, Result};
use chrono::{FixedOffset, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, TimeZone};
use note::{Entry, Flag, Grade, Grams, MassUnit, Remark, Response, Units, Value, Weather, Weight};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use store::{About, Bird, EvidenceKind, Moment, Span, Store, Who};

/// Longest table taken, bytes.
const MAX_BYTES: usize = 50 << 20;
/// Most rows taken.
const MAX_ROWS: usize = 200_000;
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
        None => guess(store, &table, &birds)?,
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
    let mut here: HashMap<String, std::collections::HashSet<(i64, u64)>> = HashMap::new();
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

/// A table as it came: headings and cells.
struct Table {
    heading: Vec<String>,
    rows: Vec<(usize, Vec<String>)>,
}

impl Table {
    fn read(bytes: &[u8]) -> Result<Self> {
        if bytes.len() > MAX_BYTES {
            return Err(HandOverError::TooLarge("the table is longer than 50 MB".into()));
        }
        if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
            return Err(HandOverError::Refused(
                "this is a workbook of a spreadsheet program: open it there and save the sheet as CSV".into(),
            ));
        }
        let text = decoded(bytes);
        let start = text.trim_start();
        if start.starts_with('[') || start.starts_with('{') {
            return Self::of_json(start);
        }
        let delimiter = delimiter(&text);
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .has_headers(false)
            .flexible(true)
            .from_reader(text.as_bytes());
        let mut rows = Vec::new();
        for record in reader.records() {
            let record =
                record.map_err(|e| HandOverError::Refused(format!("the table cannot be read: {e}")))?;
            let line = record.position().map_or(0, |p| p.line() as usize);
            let cells: Vec<String> = record.iter().take(200).map(|cell| cell.trim().to_owned()).collect();
            if cells.iter().any(|cell| !cell.is_empty()) {
                rows.push((line, cells));
            }
            if rows.len() > MAX_ROWS {
                return Err(HandOverError::TooLarge(format!("the table has more than {MAX_ROWS} rows")));
            }
        }
        if rows.is_empty() {
            return Err(HandOverError::Refused("there is nothing in this table".into()));
        }
        // A heading has no figures in it; a table may do without.
        let has_heading = rows[0].1.iter().all(|cell| !cell.starts_with(|c: char| c.is_ascii_digit()));
        let heading = if has_heading {
            rows.remove(0).1
        } else {
            (1..=rows[0].1.len()).map(|n| format!("column {n}")).collect()
        };
        Ok(Self { heading, rows })
    }

    /// Reads a list of flat objects, or one object a line; inner objects become `outer.inner`.
    fn of_json(text: &str) -> Result<Self> {
        let wrong = |e: serde_json::Error| HandOverError::Refused(format!("the JSON cannot be read: {e}"));
        let objects: Vec<serde_json::Map<String, serde_json::Value>> = if text.starts_with('[') {
            serde_json::from_str(text).map_err(wrong)?
        } else {
            serde_json::Deserializer::from_str(text)
                .into_iter()
                .collect::<std::result::Result<_, _>>()
                .map_err(wrong)?
        };
        if objects.len() > MAX_ROWS {
            return Err(HandOverError::TooLarge(format!("the table has more than {MAX_ROWS} rows")));
        }
        let mut heading: Vec<String> = Vec::new();
        let mut rows = Vec::new();
        for (n, object) in objects.into_iter().enumerate() {
            let mut cells: Vec<String> = vec![String::new(); heading.len()];
            let mut put = |name: String, value: &serde_json::Value| {
                let text = match value {
                    serde_json::Value::Null => return,
                    serde_json::Value::String(text) => text.trim().to_owned(),
                    other => other.to_string(),
                };
                match heading.iter().position(|h| *h == name) {
                    Some(at) => cells[at] = text,
                    None if heading.len() < 200 => {
                        heading.push(name);
                        cells.push(text);
                    }
                    None => {}
                }
            };
            for (name, value) in &object {
                match value {
                    serde_json::Value::Object(inner) => {
                        inner.iter().for_each(|(k, v)| put(format!("{name}.{k}"), v));
                    }
                    other => put(name.clone(), other),
                }
            }
            rows.push((n + 1, cells));
        }
        if rows.is_empty() {
            return Err(HandOverError::Refused("there is nothing in this table".into()));
        }
        Ok(Self { heading, rows })
    }

    fn column(&self, at: usize) -> impl Iterator<Item = &str> {
        self.rows.iter().map(move |(_, cells)| cells.get(at).map_or("", String::as_str))
    }
}

/// Reads text in UTF-8, UTF-16 with its mark, or the Windows Latin that older programs write.
fn decoded(bytes: &[u8]) -> String {
    let wide = |bytes: &[u8], big: bool| {
        let units: Vec<u16> = bytes
            .chunks_exact(2)
            .map(|b| if big { u16::from_be_bytes([b[0], b[1]]) } else { u16::from_le_bytes([b[0], b[1]]) })
            .collect();
        String::from_utf16_lossy(&units)
    };
    match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => String::from_utf8_lossy(rest).into_owned(),
        [0xFF, 0xFE, rest @ ..] => wide(rest, false),
        [0xFE, 0xFF, rest @ ..] => wide(rest, true),
        _ => match std::str::from_utf8(bytes) {
            Ok(text) => text.to_owned(),
            Err(_) => bytes.iter().map(|b| if *b == 0x80 { '€' } else { char::from(*b) }).collect(),
        },
    }
}

/// Chooses the sign that parts the first lines into the most columns of equal number.
fn delimiter(text: &str) -> u8 {
    let first: Vec<&str> = text.lines().filter(|l| !l.trim().is_empty()).take(20).collect();
    let score = |sign: u8| {
        let counts: Vec<usize> = first.iter().map(|l| l.bytes().filter(|b| *b == sign).count()).collect();
        let most = counts.iter().copied().max().unwrap_or(0);
        let even = counts.iter().filter(|c| **c == counts[0] && **c > 0).count();
        (even, most)
    };
    b",;\t|".iter().copied().max_by_key(|sign| score(*sign)).filter(|s| score(*s).1 > 0).unwrap_or(b',')
}

fn guess(store: &Store, table: &Table, birds: &[Bird]) -> Result<(Mapping, Vec<String>)> {
    let mut reasons = Vec::new();
    let mut taken: Vec<usize> = Vec::new();
    let mut find = |words: &[&str], fits: &dyn Fn(&str) -> bool| -> Option<usize> {
        let free = |at: &usize| !taken.contains(at);
        let share = |at: usize| {
            let cells: Vec<&str> = table.column(at).filter(|c| !c.is_empty()).take(500).collect();
            let fit = cells.iter().filter(|c| fits(c)).count();
            if cells.is_empty() { 0.0 } else { fit as f64 / cells.len() as f64 }
        };
        let named = (0..table.heading.len()).filter(free).find(|at| {
            let heading = table.heading[*at].to_lowercase();
            words.iter().any(|word| heading.split(|c: char| !c.is_alphanumeric()).any(|w| w == *word))
                && share(*at) > 0.3
        });
        let found = named.or_else(|| {
            // By what stands in the cells, where the heading does not say.
            let best = (0..table.heading.len()).filter(free).map(|at| (at, share(at)));
            best.filter(|(_, s)| *s > 0.8).max_by(|a, b| a.1.total_cmp(&b.1)).map(|(at, _)| at)
        });
        taken.extend(found);
        found
    };
    let never = |_: &str| false;
    let date = find(&["date", "day", "at", "datum", "when"], &|c| {
        parse_date(c, DateOrder::DayFirst).or_else(|| parse_date(c, DateOrder::MonthFirst)).is_some()
            && !bare_number(c)
    })
    .or_else(|| find(&["date", "day"], &|c| parse_date(c, DateOrder::DayFirst).is_some()));
    let time = find(&["time", "hour"], &|c| parse_time(c).is_some() && c.contains(':'));
    let bird = find(&["bird", "name", "hawk", "falcon"], &|c| by_name(birds, c).is_some());
    let bird = bird.or_else(|| {
        table
            .heading
            .iter()
            .position(|h| ["bird", "name", "hawk", "falcon"].contains(&h.to_lowercase().as_str()))
    });
    let comma = decimal_comma(table);
    let weight = find(
        &[
            "weight", "grams", "gram", "wt", "mass", "g", "weigh", "oz", "ounces", "lb", "lbs", "morning",
            "am",
        ],
        &|c| parse_mass(c, MassUnit::G, comma).is_some(),
    );
    let response = find(&["response", "grade", "answered", "answer", "score"], &|c| {
        c.parse::<f64>().is_ok_and(|n| (1.0..=5.0).contains(&n) && n.fract() == 0.0) && weight.is_some()
    });
    let temperature = find(&["temperature", "temp", "celsius", "c"], &never)
        .or_else(|| headed(table, &["temperature", "temp", "temperature_c"]));
    let food = headed(table, &["food", "fed", "feed", "ration", "eaten"]);
    let remark = headed(table, &["remark", "remarks", "notes", "note", "comment", "comments"]);
    let dates = match date {
        Some(at) => date_order(table, at, &mut reasons),
        None => {
            reasons.push("No column of dates was found: choose one.".into());
            DateOrder::DayFirst
        }
    };
    if weight.is_none() {
        reasons.push("No column of weights was found: choose one.".into());
    }
    let all_of = match (bird, birds) {
        (None, [only]) => {
            reasons
                .push(format!("No column of birds was found; {} is the only bird here.", only.details.name));
            Some(only.details.name.clone())
        }
        (None, _) => {
            let in_hand = store.current_bird()?.map(|b| b.details.name);
            reasons.push(match &in_hand {
                Some(name) => format!("No column of birds was found; {name} is the bird in hand."),
                None => "No column of birds was found: choose the bird.".into(),
            });
            in_hand
        }
        (Some(_), _) => None,
    };
    let unit = match weight {
        Some(at) => guess_unit(store, table, at, bird, all_of.as_deref(), birds, comma, &mut reasons)?,
        None => MassUnit::G,
    };
    let offset = chrono::Local::now().offset().local_minus_utc() / 60;
    let mapping = Mapping {
        date,
        time,
        bird,
        all_of,
        weight,
        unit,
        response,
        food: food.filter(|at| Some(*at) != weight),
        remark: remark.filter(|at| Some(*at) != bird),
        temperature,
        dates,
        decimal_comma: comma,
        usual_time: "08:00".into(),
        offset_minutes: offset,
    };
    if mapping.time.is_none() && mapping.date.is_some_and(|at| table.column(at).all(|c| !c.contains(':'))) {
        reasons.push("There are no times: every row is taken as 08:00 of its day.".into());
    }
    Ok((mapping, reasons))
}

fn headed(table: &Table, words: &[&str]) -> Option<usize> {
    table.heading.iter().position(|h| words.contains(&h.to_lowercase().trim()))
}

fn bare_number(cell: &str) -> bool {
    cell.chars().all(|c| c.is_ascii_digit() || c == '.' || c == ',')
}

fn decimal_comma(table: &Table) -> bool {
    let cells = || table.rows.iter().flat_map(|(_, cells)| cells.iter());
    let like = |cell: &str, sign: char| {
        cell.split_once(sign).is_some_and(|(a, b)| {
            !a.is_empty()
                && a.chars().all(|c| c.is_ascii_digit())
                && (1..=2).contains(&b.len())
                && b.chars().all(|c| c.is_ascii_digit())
        })
    };
    cells().filter(|c| like(c, ',')).count() > cells().filter(|c| like(c, '.')).count()
}

fn date_order(table: &Table, at: usize, reasons: &mut Vec<String>) -> DateOrder {
    let numbers = |cell: &str| -> Option<(u32, u32)> {
        let mut parts = cell.split(['/', '-', '.', ' ']).map(str::parse::<u32>);
        match (parts.next()?, parts.next()?) {
            (Ok(a), Ok(b)) if a <= 31 && b <= 31 => Some((a, b)),
            _ => None,
        }
    };
    let pairs: Vec<(u32, u32)> = table.column(at).filter_map(numbers).collect();
    let (day_first, month_first) =
        (pairs.iter().filter(|p| p.0 > 12).count(), pairs.iter().filter(|p| p.1 > 12).count());
    match (day_first, month_first) {
        _ if pairs.is_empty() => DateOrder::DayFirst,
        (0, 0) => {
            reasons
                .push("Dates could be read either way; the day is taken to come first. Look at them.".into());
            DateOrder::DayFirst
        }
        (a, b) if b > a => {
            reasons.push("The month comes first in dates: some second numbers are above 12.".into());
            DateOrder::MonthFirst
        }
        _ => {
            reasons.push("The day comes first in dates: some first numbers are above 12.".into());
            DateOrder::DayFirst
        }
    }
}

#[allow(clippy::too_many_arguments)]
fn guess_unit(
    store: &Store,
    table: &Table,
    at: usize,
    bird: Option<usize>,
    all_of: Option<&str>,
    birds: &[Bird],
    comma: bool,
    reasons: &mut Vec<String>,
) -> Result<MassUnit> {
    let heading = table.heading[at].to_lowercase();
    let words: Vec<&str> = heading.split(|c: char| !c.is_alphanumeric()).collect();
    for (unit, names) in [
        (MassUnit::Kg, &["kg", "kilos", "kilograms"][..]),
        (MassUnit::G, &["g", "gr", "gram", "grams"]),
        (MassUnit::Oz, &["oz", "ounce", "ounces"]),
        (MassUnit::Lb, &["lb", "lbs", "pounds"]),
    ] {
        if words.iter().any(|w| names.contains(w)) {
            reasons.push(format!("The heading “{}” tells the unit.", table.heading[at]));
            return Ok(unit);
        }
    }
    if table
        .column(at)
        .filter(|c| !c.is_empty())
        .all(|c| parse_mass(c, MassUnit::G, comma).is_none_or(|m| m.2))
    {
        reasons.push("Every weight is written with its unit.".into());
        return Ok(MassUnit::G);
    }
    // Bare numbers: which unit brings them nearest to what these birds weigh?
    let mut off: HashMap<&str, f64> = HashMap::new();
    let units = [("g", MassUnit::G), ("oz", MassUnit::Oz), ("kg", MassUnit::Kg), ("lb", MassUnit::Lb)];
    let mut compared = 0;
    for (_, cells) in table.rows.iter().take(2000) {
        let name = bird.and_then(|at| cells.get(at)).map(String::as_str).or(all_of).unwrap_or("");
        let Some(bird) = by_name(birds, name) else { continue };
        let known =
            store.last_weight(&bird.id)?.map(|w| w.grams).or(bird.details.target_g).or(bird.details.fed_up_g);
        let Some(known) = known.filter(|k| *k > 0.0) else { continue };
        let cell = cells.get(at).map_or("", String::as_str);
        for (word, unit) in units {
            if let Some((grams, _, false)) = parse_mass(cell, unit, comma) {
                *off.entry(word).or_default() += (grams / known).ln().abs();
                compared += 1;
            }
        }
    }
    if compared > 0 {
        let best = units.into_iter().min_by(|a, b| {
            let sum = |word| off.get(word).copied().unwrap_or(f64::INFINITY);
            sum(a.0).total_cmp(&sum(b.0))
        });
        if let Some((word, unit)) = best {
            reasons.push(format!(
                "Bare numbers are taken as {word}: so they come nearest to what the birds weigh."
            ));
            return Ok(unit);
        }
    }
    let mut numbers: Vec<f64> =
        table.column(at).filter_map(|c| parse_mass(c, MassUnit::G, comma)).map(|m| m.0).collect();
    numbers.sort_by(f64::total_cmp);
    let middle = numbers.get(numbers.len() / 2).copied().unwrap_or(0.0);
    let ounces = birds.iter().any(|b| b.details.units == Units::Avoirdupois);
    let (unit, word) = match middle {
        m if m >= 70.0 => (MassUnit::G, "grams"),
        m if m >= 12.0 || ounces && m >= 6.0 => (MassUnit::Oz, "ounces"),
        _ if ounces => (MassUnit::Lb, "pounds"),
        _ => (MassUnit::Kg, "kilograms"),
    };
    reasons.push(format!(
        "Bare numbers are taken as {word} by their size alone (half are below {middle}). Look at them."
    ));
    Ok(unit)
}

fn by_name<'a>(birds: &'a [Bird], name: &str) -> Option<&'a Bird> {
    let name = name.trim().to_lowercase();
    let is = |other: &String| other.trim().to_lowercase() == name;
    birds
        .iter()
        .find(|b| is(&b.details.name))
        .or_else(|| birds.iter().find(|b| b.details.aliases.iter().any(is)))
}

fn read_rows(table: &Table, mapping: &Mapping, birds: &[Bird]) -> Result<(Vec<Row>, Vec<BadRow>)> {
    let usual = parse_time(&mapping.usual_time)
        .ok_or_else(|| HandOverError::Refused(format!("{} is no time of day", mapping.usual_time)))?;
    let offset = FixedOffset::east_opt(mapping.offset_minutes.saturating_mul(60))
        .ok_or_else(|| HandOverError::Refused("the offset from UTC is out of range".into()))?;
    let (mut good, mut bad) = (Vec::new(), Vec::new());
    for (line, cells) in &table.rows {
        match read_row(*line, cells, mapping, birds, usual, offset) {
            Ok(row) => good.push(row),
            Err(why) => {
                bad.push(BadRow { line: *line, why, text: cells.join(" | ").chars().take(300).collect() })
            }
        }
    }
    set_aside_outliers(table, &mut good, &mut bad);
    Ok((good, bad))
}

fn read_row(
    line: usize,
    cells: &[String],
    mapping: &Mapping,
    birds: &[Bird],
    usual: NaiveTime,
    offset: FixedOffset,
) -> std::result::Result<Row, String> {
    let cell = |at: Option<usize>| at.and_then(|at| cells.get(at)).map_or("", |c| c.trim());
    let written = cell(mapping.date);
    let at = match chrono::DateTime::parse_from_rfc3339(written) {
        Ok(at) => at,
        Err(_) => {
            let (date, time) =
                parse_date(written, mapping.dates).ok_or_else(|| format!("“{written}” is no date"))?;
            let time = match (cell(mapping.time), time) {
                ("", Some(time)) => time,
                ("", None) => usual,
                (text, _) => parse_time(text).ok_or_else(|| format!("“{text}” is no time of day"))?,
            };
            let local = date.and_time(time);
            offset.from_local_datetime(&local).single().ok_or_else(|| format!("“{written}” is no time"))?
        }
    };
    let name =
        if mapping.bird.is_some() { cell(mapping.bird) } else { mapping.all_of.as_deref().unwrap_or("") };
    let bird = match (name, by_name(birds, name)) {
        (_, Some(bird)) => bird.details.name.clone(),
        ("", None) => return Err("it is not told which bird".into()),
        (name, None) => return Err(format!("there is no bird called {name} here: add her first")),
    };
    let as_written = cell(mapping.weight).to_owned();
    let mass = if as_written.is_empty()
        || ["-", "—", "n/a", "na", "?"].contains(&as_written.to_lowercase().as_str())
    {
        None
    } else {
        let mass = parse_mass(&as_written, mapping.unit, mapping.decimal_comma)
            .ok_or_else(|| format!("“{as_written}” is no weight"))?;
        if !(5.0..=20_000.0).contains(&mass.0) {
            return Err(format!("{:.1} g is no weight of a bird", mass.0));
        }
        Some(mass)
    };
    let response = match cell(mapping.response) {
        "" => None,
        text => {
            let grade = text.parse::<f64>().ok().filter(|n| (1.0..=5.0).contains(n) && n.fract() == 0.0);
            Some(grade.ok_or_else(|| format!("“{text}” is no mark from 1 to 5"))? as u8)
        }
    };
    let temperature_c = match cell(mapping.temperature) {
        "" => None,
        text => {
            let number = text.trim_end_matches(['C', '°', ' ']);
            let number = if mapping.decimal_comma { number.replace(',', ".") } else { number.to_owned() };
            let degrees = number.parse::<f64>().ok().filter(|t| (-60.0..=60.0).contains(t));
            Some(degrees.ok_or_else(|| format!("“{text}” is no temperature in °C"))?)
        }
    };
    let mut remarks = Vec::new();
    if !cell(mapping.food).is_empty() {
        remarks.push(format!("Food: {}", cell(mapping.food)));
    }
    if !cell(mapping.remark).is_empty() {
        remarks.push(cell(mapping.remark).to_owned());
    }
    if mass.is_none() && response.is_none() && remarks.is_empty() && temperature_c.is_none() {
        return Err("there is nothing in this row but a date".into());
    }
    Ok(Row {
        line,
        at,
        bird,
        grams: mass.map(|m| (m.0 * 10.0).round() / 10.0),
        unit: mass.map(|m| m.1),
        unit_written: mass.is_some_and(|m| m.2),
        as_written,
        response,
        remarks,
        temperature_c,
    })
}

/// A weight twice or half what the same bird weighs in the rest of the table is a slip of the pen.
fn set_aside_outliers(table: &Table, good: &mut Vec<Row>, bad: &mut Vec<BadRow>) {
    let mut of_birds: HashMap<String, Vec<f64>> = HashMap::new();
    for row in good.iter() {
        of_birds.entry(row.bird.clone()).or_default().extend(row.grams);
    }
    for weights in of_birds.values_mut() {
        weights.sort_by(f64::total_cmp);
    }
    good.retain(|row| {
        let weights = &of_birds[&row.bird];
        let Some(grams) = row.grams.filter(|_| weights.len() >= 5) else { return true };
        let middle = weights[weights.len() / 2];
        let near = grams < 2.0 * middle && grams > 0.5 * middle;
        if !near {
            let cells =
                table.rows.iter().find(|(line, _)| *line == row.line).map(|(_, cells)| cells.join(" | "));
            bad.push(BadRow {
                line: row.line,
                why: format!("{grams} g is far from what {} weighs in this table ({middle} g)", row.bird),
                text: cells.unwrap_or_default().chars().take(300).collect(),
            });
        }
        near
    });
    bad.sort_by_key(|row| row.line);
}

/// Reads a date, with a time behind it if there is one.
fn parse_date(cell: &str, order: DateOrder) -> Option<(NaiveDate, Option<NaiveTime>)> {
    let cell = cell.trim();
    if let Ok(at) = chrono::DateTime::parse_from_rfc3339(cell) {
        return Some((at.date_naive(), Some(at.time())));
    }
    if let Ok(both) = NaiveDateTime::parse_from_str(cell, "%Y-%m-%dT%H:%M:%S") {
        return Some((both.date(), Some(both.time())));
    }
    // Days since 30 December 1899, as spreadsheets count (ECMA-376 part 1, 18.17.4.1, serials after
    // 28 February 1900).
    if let Ok(serial) = cell.parse::<f64>() {
        if !(20_000.0..80_000.0).contains(&serial) {
            return None;
        }
        let day = NaiveDate::from_ymd_opt(1899, 12, 30)? + TimeDelta::days(serial.floor() as i64);
        let seconds = (serial.fract() * 86_400.0).round() as u32;
        let time = (seconds > 0)
            .then(|| NaiveTime::from_num_seconds_from_midnight_opt(seconds % 86_400, 0))
            .flatten();
        return Some((day, time));
    }
    let formats: &[&str] = match order {
        DateOrder::DayFirst => {
            &["%Y-%m-%d", "%Y/%m/%d", "%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%d/%m/%y", "%d.%m.%y", "%d-%m-%y"]
        }
        DateOrder::MonthFirst => {
            &["%Y-%m-%d", "%Y/%m/%d", "%m/%d/%Y", "%m.%d.%Y", "%m-%d-%Y", "%m/%d/%y", "%m-%d-%y"]
        }
    };
    let named = ["%d %b %Y", "%d %B %Y", "%b %d %Y", "%B %d %Y", "%d-%b-%Y", "%d-%b-%y", "%d %b %y"];
    let tidy = cell.replace(',', " ");
    let words: Vec<&str> = tidy.split_whitespace().collect();
    // A weekday before the date says nothing new.
    let first = words.first()?.to_lowercase();
    let weekday = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"].iter().any(|d| first.starts_with(d));
    let words = if weekday { &words[1..] } else { &words[..] };
    for length in [1, 3] {
        let Some(date) = words.get(..length).map(|w| w.join(" ")) else { continue };
        let all = formats.iter().chain(&named);
        // Four digits of a year are not read as two with something behind them.
        let found = all
            .filter_map(|f| NaiveDate::parse_from_str(&date, f).ok())
            .find(|d| (1950..=2100).contains(&chrono::Datelike::year(d)));
        if let Some(date) = found {
            let rest = words[length..].join(" ");
            return if rest.is_empty() {
                Some((date, None))
            } else {
                parse_time(&rest).map(|t| (date, Some(t)))
            };
        }
    }
    None
}

fn parse_time(cell: &str) -> Option<NaiveTime> {
    let cell = cell.trim().to_uppercase();
    ["%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M%p", "%I:%M:%S %p", "%H.%M"]
        .iter()
        .find_map(|format| NaiveTime::parse_from_str(&cell, format).ok())
}

/// Reads a mass: "642", "642 g", "1,085", "1.08 kg", "2 lb 6 1/2 oz", "2lb 6.5", "15¾oz". Returns grams, the
/// unit, and whether the cell itself named it.
fn parse_mass(cell: &str, bare: MassUnit, decimal_comma: bool) -> Option<(f64, MassUnit, bool)> {
    let mut text = cell.trim().to_lowercase();
    for (sign, fraction) in [("¼", " 1/4"), ("½", " 1/2"), ("¾", " 3/4")] {
        text = text.replace(sign, fraction);
    }
    // Parts of number and letters, in order.
    let mut parts: Vec<(String, bool)> = Vec::new();
    for c in text.chars() {
        let number = c.is_ascii_digit() || matches!(c, '.' | ',' | '/');
        match c {
            c if c.is_whitespace() || c == ':' || c == ';' => parts.push((String::new(), !number)),
            _ => match parts.last_mut() {
                Some((part, kind)) if *kind == number && !part.is_empty() => part.push(c),
                _ => parts.push((c.to_string(), number)),
            },
        }
    }
    parts.retain(|(part, _)| !part.is_empty());
    let mut amounts: Vec<(f64, Option<MassUnit>)> = Vec::new();
    for (part, number) in &parts {
        if *number {
            let value = parse_number(part, decimal_comma)?;
            match amounts.last_mut() {
                // "6 1/2": the fraction belongs to the number before it.
                Some((before, None)) if part.contains('/') && before.fract() == 0.0 => *before += value,
                _ => amounts.push((value, None)),
            }
        } else {
            let unit = match part.as_str() {
                "g" | "gr" | "gm" | "gms" | "gram" | "grams" => MassUnit::G,
                "kg" | "kgs" | "kilo" | "kilos" => MassUnit::Kg,
                "oz" | "ozs" | "ounce" | "ounces" => MassUnit::Oz,
                "lb" | "lbs" | "pound" | "pounds" => MassUnit::Lb,
                _ => return None,
            };
            let amount = amounts.last_mut().filter(|a| a.1.is_none())?;
            amount.1 = Some(unit);
        }
    }
    use note::{GRAMS_PER_OUNCE as OUNCE, GRAMS_PER_POUND as POUND};
    let (grams, unit, written) = match amounts.as_slice() {
        [(n, unit)] => {
            let (unit, written) = (unit.unwrap_or(bare), unit.is_some());
            let per = match unit {
                MassUnit::G => 1.0,
                MassUnit::Kg => 1000.0,
                MassUnit::Oz => OUNCE,
                MassUnit::Lb | MassUnit::LbOz => POUND,
            };
            (n * per, unit, written)
        }
        [(pounds, Some(MassUnit::Lb)), (ounces, None | Some(MassUnit::Oz))] if *ounces < 16.0 => {
            (pounds * POUND + ounces * OUNCE, MassUnit::LbOz, true)
        }
        // "2 6.5" in a table of pounds.
        [(pounds, None), (ounces, None)]
            if matches!(bare, MassUnit::Lb | MassUnit::LbOz) && *ounces < 16.0 =>
        {
            (pounds * POUND + ounces * OUNCE, MassUnit::LbOz, false)
        }
        _ => return None,
    };
    (grams.is_finite() && grams >= 0.0).then_some((grams, unit, written))
}

fn parse_number(text: &str, decimal_comma: bool) -> Option<f64> {
    if let Some((above, below)) = text.split_once('/') {
        let (above, below): (f64, f64) = (above.parse().ok()?, below.parse().ok()?);
        return (below > 0.0 && above < below).then(|| above / below);
    }
    let plain = if decimal_comma {
        text.replace('.', "").replace(',', ".")
    } else {
        // A comma before three digits parts thousands; another one is no number here.
        match text.split_once(',') {
            Some((a, b)) if b.len() >= 3 && b[..3].chars().all(|c| c.is_ascii_digit()) && !a.is_empty() => {
                text.replace(',', "")
            }
            Some(_) => return None,
            None => text.to_owned(),
        }
    };
    plain.parse().ok()
}

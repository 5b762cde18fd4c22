//! The table as it came, from CSV or JSON: headings and cells, still without meaning.

use crate::{HandOverError, Result};

/// Longest table taken, bytes.
const MAX_BYTES: usize = 50 << 20;
/// Most rows taken.
const MAX_ROWS: usize = 200_000;

/// A table as it came: headings and cells.
pub(super) struct Table {
    pub(super) heading: Vec<String>,
    pub(super) rows: Vec<(usize, Vec<String>)>,
}

impl Table {
    pub(super) fn read(bytes: &[u8]) -> Result<Self> {
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

    pub(super) fn column(&self, at: usize) -> impl Iterator<Item = &str> {
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

//! Rows by their mapping: those that can be brought in, and those that cannot, with the reason.

use super::cells::{parse_date, parse_mass, parse_time};
use super::sheet::Table;
use super::{BadRow, Mapping, Row};
use crate::{HandOverError, Result};
use chrono::{FixedOffset, NaiveTime, TimeZone};
use std::collections::HashMap;
use store::Bird;

/// Finds a bird by her name, or else by another name of hers.
pub(super) fn by_name<'a>(birds: &'a [Bird], name: &str) -> Option<&'a Bird> {
    let name = name.trim().to_lowercase();
    let is = |other: &String| other.trim().to_lowercase() == name;
    birds
        .iter()
        .find(|b| is(&b.details.name))
        .or_else(|| birds.iter().find(|b| b.details.aliases.iter().any(is)))
}

/// Reads every row of a table: the good ones and the bad ones.
pub(super) fn read_rows(table: &Table, mapping: &Mapping, birds: &[Bird]) -> Result<(Vec<Row>, Vec<BadRow>)> {
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

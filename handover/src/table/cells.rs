//! One cell: a date, a time of day, a mass.

use super::DateOrder;
use chrono::{NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};
use note::MassUnit;

/// Reads a date, with a time behind it if there is one.
pub(super) fn parse_date(cell: &str, order: DateOrder) -> Option<(NaiveDate, Option<NaiveTime>)> {
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

/// Reads a time of day, by 24 hours or by 12.
pub(super) fn parse_time(cell: &str) -> Option<NaiveTime> {
    let cell = cell.trim().to_uppercase();
    ["%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M%p", "%I:%M:%S %p", "%H.%M"]
        .iter()
        .find_map(|format| NaiveTime::parse_from_str(&cell, format).ok())
}

/// Reads a mass: "642", "642 g", "1,085", "1.08 kg", "2 lb 6 1/2 oz", "2lb 6.5", "15¾oz". Returns grams, the
/// unit, and whether the cell itself named it.
pub(super) fn parse_mass(cell: &str, bare: MassUnit, decimal_comma: bool) -> Option<(f64, MassUnit, bool)> {
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

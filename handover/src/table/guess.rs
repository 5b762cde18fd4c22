//! Which column is what, and in which unit: a guess with its reasons.

use super::cells::{parse_date, parse_mass, parse_time};
use super::rows::by_name;
use super::sheet::Table;
use super::{DateOrder, Mapping};
use crate::Result;
use note::{MassUnit, Units};
use std::collections::HashMap;
use store::{Bird, Store};

/// Guesses the mapping of a table and says why, each reason a sentence.
pub(super) fn guess(store: &Store, table: &Table, birds: &[Bird]) -> Result<(Mapping, Vec<String>)> {
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

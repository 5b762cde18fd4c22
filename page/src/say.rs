//! How values are put into words: masses in the keeper's units, moments, and what an entry says.
//!
//! Absent: HTML. Everything here is plain text.

use chrono::{DateTime, Datelike, FixedOffset, NaiveDate, Timelike};
use note::{Degree, Entry, Food, Grams, Line, Outcome, Units, Value};

/// Birds lighter than this, in grams, are weighed to a tenth.
pub const SMALL_BIRD_G: f64 = 250.0;

/// Writes a body mass in the keeper's units; `fine` asks for tenths of a gram.
pub fn mass(grams: f64, units: Units) -> String {
    match units {
        Units::Metric if grams.abs() < SMALL_BIRD_G => format!("{grams:.1} g"),
        Units::Metric => format!("{} g", trim(grams, 1)),
        Units::Avoirdupois => avoirdupois(grams),
    }
}

/// Writes the mass of what a bird wears: no idle tenths.
pub fn worn(grams: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} g", trim(grams, 1)),
        Units::Avoirdupois => avoirdupois(grams),
    }
}

/// Writes a mass that was worked out, not weighed: whole grams, tenths only for small birds.
pub fn about(grams: f64, units: Units) -> String {
    mass(if grams.abs() < SMALL_BIRD_G { grams } else { grams.round() }, units)
}

/// Writes the number of [`mass`] without its unit, for the ring.
pub fn mass_parts(grams: f64, units: Units) -> (String, &'static str) {
    let words = mass(grams, units);
    match units {
        Units::Metric => (words.trim_end_matches(" g").to_owned(), "grams"),
        Units::Avoirdupois if words.contains("lb") => {
            (words.replace(" lb", "·").replace(" oz", ""), "lb · oz")
        }
        Units::Avoirdupois => (words.trim_end_matches(" oz").to_owned(), "ounces"),
    }
}

/// Pounds and ounces to a quarter ounce; small birds in ounces to a hundredth (0.3 g).
fn avoirdupois(grams: f64) -> String {
    let (sign, size) = if grams < 0.0 { ("−", -grams) } else { ("", grams) };
    if size < SMALL_BIRD_G {
        return format!("{sign}{:.2} oz", size / note::GRAMS_PER_OUNCE);
    }
    let quarters = (size / note::GRAMS_PER_OUNCE * 4.0).round();
    let pounds = (quarters / 64.0).floor();
    let ounces = (quarters - pounds * 64.0) / 4.0;
    if pounds > 0.0 {
        format!("{sign}{pounds} lb {} oz", quarter(ounces))
    } else {
        format!("{sign}{} oz", quarter(ounces))
    }
}

/// Writes a number of quarters as a fraction: 2.25 is "2¼".
pub fn quarter(number: f64) -> String {
    let whole = number.floor();
    let part = match ((number - whole) * 4.0).round() as u8 {
        0 => "",
        1 => "¼",
        2 => "½",
        3 => "¾",
        _ => return format!("{}", whole + 1.0),
    };
    if whole == 0.0 && !part.is_empty() { part.to_owned() } else { format!("{whole}{part}") }
}

/// Writes a difference of masses with its sign.
pub fn change(grams: f64, units: Units) -> String {
    if grams.abs() < 0.05 {
        return "no change".into();
    }
    let sign = if grams < 0.0 { "−" } else { "+" };
    match units {
        Units::Metric => format!("{sign}{} g", trim(grams.abs(), 1)),
        Units::Avoirdupois => {
            let ounces = grams.abs() / note::GRAMS_PER_OUNCE;
            format!("{sign}{} oz", if ounces < 1.0 { format!("{ounces:.2}") } else { quarter(ounces) })
        }
    }
}

/// Writes a length in metres, or in yards for who speaks avoirdupois.
pub fn length(metres: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} m", trim(metres, 1)),
        Units::Avoirdupois => format!("{} yd", trim(metres / 0.9144, 0)),
    }
}

/// Writes a temperature, Celsius or Fahrenheit by the keeper's units.
pub fn temperature(celsius: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} °C", trim(celsius, 1).replace('-', "−")),
        Units::Avoirdupois => format!("{} °F", trim(celsius * 1.8 + 32.0, 0).replace('-', "−")),
    }
}

/// Writes a number with at most `places` decimals and no idle noughts.
pub fn trim(number: f64, places: usize) -> String {
    let text = format!("{number:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Writes a date as "Tue 24 Nov 2026".
pub fn date(day: NaiveDate) -> String {
    day.format("%a %-d %b %Y").to_string()
}

/// Writes a date in relation to today: "today", "yesterday", "Tue 24 Nov".
pub fn day(day: NaiveDate, today: NaiveDate) -> String {
    match (today - day).num_days() {
        0 => "today".into(),
        1 => "yesterday".into(),
        -1 => "tomorrow".into(),
        _ if day.year() == today.year() => day.format("%a %-d %b").to_string(),
        _ => date(day),
    }
}

/// Writes a moment as "today, 08:10".
pub fn moment(at: DateTime<FixedOffset>, today: NaiveDate) -> String {
    format!("{}, {}", day(at.date_naive(), today), clock(at))
}

/// Writes the time of day as "08:10".
pub fn clock(at: DateTime<FixedOffset>) -> String {
    format!("{:02}:{:02}", at.hour(), at.minute())
}

/// Makes the first letter a capital.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// Writes a count and its noun: "1 flight", "3 flights".
pub fn count(number: usize, noun: &str) -> String {
    if number == 1 { format!("1 {noun}") } else { format!("{number} {}", plural(noun, number.max(2) as f64)) }
}

/// Writes an amount of a food: "2½ day-old chicks", "30 g washed meat", "1 chick leg".
pub fn portion(
    item: &str,
    number: Option<f64>,
    part: Option<&str>,
    grams: Option<f64>,
    units: Units,
) -> String {
    let noun = match part {
        Some(part) => format!("{item} {part}"),
        None => item.to_owned(),
    };
    let by_weight = grams.map(|g| match units {
        Units::Metric => format!("{} g", trim(g, 1)),
        Units::Avoirdupois => format!("{} oz", trim(g / note::GRAMS_PER_OUNCE, 2)),
    });
    match (number, by_weight) {
        (Some(n), Some(weight)) => format!("{} {} ({weight})", quarter(n), plural(&noun, n)),
        (Some(n), None) => format!("{} {}", quarter(n), plural(&noun, n)),
        (None, Some(weight)) => format!("{weight} {noun}"),
        (None, None) => noun,
    }
}

fn plural(noun: &str, number: f64) -> String {
    if number <= 1.0 {
        return noun.to_owned();
    }
    match noun {
        "quail" | "beef" | "venison" | "washed meat" | "meat" | "rangle" | "grouse" => noun.to_owned(),
        _ if noun.ends_with("mouse") => format!("{}mice", noun.trim_end_matches("mouse")),
        _ if noun.ends_with("foot") => format!("{}feet", noun.trim_end_matches("foot")),
        _ if noun.ends_with('y') && !noun.ends_with("ay") => format!("{}ies", noun.trim_end_matches('y')),
        _ if noun.ends_with('s') || noun.ends_with("ch") => format!("{noun}es"),
        _ => format!("{noun}s"),
    }
}

/// Names what an entry is about, as a heading.
pub fn title(value: &Value) -> &'static str {
    match value {
        Value::Weight(_) => "Weight",
        Value::Food(_) => "Food",
        Value::Flights(_) => "Flights",
        Value::Response(_) => "Answer",
        Value::Behaviour(_) => "Behaviour",
        Value::Condition(_) => "Condition",
        Value::Weather(_) => "Weather",
        Value::Quarry(_) => "Quarry",
        Value::Equipment(_) => "Equipment",
        Value::Training(_) => "Training",
        Value::Remark(_) => "Remark",
    }
}

/// Says in a few words what an entry holds.
pub fn value(value: &Value, units: Units) -> String {
    match value {
        Value::Weight(w) => mass(w.grams.get(), units),
        Value::Food(food) => food_words(food, units),
        Value::Flights(f) => {
            let mut parts = Vec::new();
            parts.extend(f.count.map(|n| count(n as usize, "flight")));
            parts.extend(f.longest_m.map(|m| format!("longest {}", length(m, units))));
            parts.extend(
                f.line.map(
                    |line| {
                        if line == Line::Free { "free".into() } else { "on the creance".to_owned() }
                    },
                ),
            );
            parts.extend(f.to.map(|to| format!("to the {to}")));
            if parts.is_empty() { "flew".into() } else { parts.join(", ") }
        }
        Value::Response(r) => grade(r.grade.get()),
        Value::Behaviour(b) => match (b.present, b.degree) {
            (false, _) => format!("no {}", b.word),
            (true, Degree::Plain) => b.word.clone(),
            (true, Degree::Slight) => format!("{}, slight", b.word),
            (true, Degree::Strong) => format!("{}, strong", b.word),
        },
        Value::Condition(c) => format!("{}: {}", c.sign, c.reading),
        Value::Weather(w) => {
            let mut parts = Vec::new();
            parts.extend(w.temperature_c.map(|t| temperature(t, units)));
            parts.extend(
                w.wind.map(|wind| if wind.word() == "calm" { "calm".into() } else { format!("{wind} wind") }),
            );
            parts.extend(w.sky.map(|sky| sky.to_string()));
            if parts.is_empty() { "no figures".into() } else { parts.join(", ") }
        }
        Value::Quarry(q) => format!("{} {} {}", q.count, plural(&q.species, f64::from(q.count)), q.outcome),
        Value::Equipment(e) => format!("{} {}", e.item, e.action),
        Value::Training(t) => format!("{}, {}", t.step, t.outcome),
        Value::Remark(r) => r.text.clone(),
    }
}

/// Says the grade of an answer in the trade's words.
pub fn grade(grade: u8) -> String {
    let word = ["none or refused", "slow", "fair", "good", "at once"].get(usize::from(grade.clamp(1, 5)) - 1);
    format!("{grade} of 5, {}", word.unwrap_or(&""))
}

fn food_words(food: &Food, units: Units) -> String {
    let amount = portion(&food.item, food.count, food.part.as_deref(), food.grams, units);
    match food.outcome {
        Outcome::Eaten => amount,
        other => format!("{amount}, {other}"),
    }
}

/// Says a whole entry in one line: "Sedge, weight: 912 g".
pub fn entry(entry: &Entry, units: Units) -> String {
    let said = value(&entry.value, units);
    match &entry.bird {
        Some(bird) => format!("{bird}, {}: {said}", title(&entry.value).to_lowercase()),
        None => format!("{}: {said}", title(&entry.value)),
    }
}

/// Says how sure the reading is, in words instead of a number nobody can weigh.
pub fn sureness(confidence: f64) -> &'static str {
    match confidence {
        c if c >= 0.95 => "clear",
        c if c >= 0.8 => "fairly clear",
        c if c >= 0.5 => "unsure",
        _ => "a guess",
    }
}

/// Reads a mass typed in the keeper's units: grams, or pounds and ounces ("2 6.5", "2 lb 6 1/2", "15.75").
///
/// # Errors
/// A sentence for the keeper when the text is no mass.
pub fn read_mass(text: &str, units: Units) -> Result<Grams, String> {
    let sentence = || match units {
        Units::Metric => format!("“{text}” is no weight: write grams, for example 912.5"),
        Units::Avoirdupois => format!("“{text}” is no weight: write pounds and ounces, for example 2 lb 6½"),
    };
    let plain =
        text.to_lowercase().replace(',', ".").replace('½', " 1/2").replace('¼', " 1/4").replace('¾', " 3/4");
    let in_grams = plain.trim().ends_with('g')
        || (units == Units::Metric && !plain.contains("oz") && !plain.contains("lb"));
    if in_grams {
        let number = plain
            .trim()
            .trim_end_matches("grams")
            .trim_end_matches('g')
            .trim()
            .parse()
            .map_err(|_| sentence())?;
        return Grams::new(number).map(Grams::to_tenth).map_err(|_| sentence());
    }
    let number = |part: &str| -> Result<f64, String> {
        let mut total = 0.0;
        for word in part.split_whitespace() {
            total += match word.split_once('/') {
                Some((top, bottom)) => {
                    let (top, bottom): (f64, f64) =
                        (top.parse().map_err(|_| sentence())?, bottom.parse().map_err(|_| sentence())?);
                    if bottom == 0.0 {
                        return Err(sentence());
                    }
                    top / bottom
                }
                None => word.parse::<f64>().map_err(|_| sentence())?,
            };
        }
        Ok(total)
    };
    let plain = plain.replace("ounces", "").replace("oz", "").replace("pounds", "lb").replace("lbs", "lb");
    let (pounds, ounces) = match plain.split_once("lb") {
        Some((pounds, ounces)) => (number(pounds)?, number(ounces)?),
        None => {
            let words: Vec<&str> = plain.split_whitespace().collect();
            match words.as_slice() {
                [] => return Err(sentence()),
                [only] => (0.0, number(only)?),
                [first, rest @ ..] if rest.iter().all(|w| w.contains('/')) => {
                    (0.0, number(&format!("{first} {}", rest.join(" ")))?)
                }
                [first, rest @ ..] => (number(first)?, number(&rest.join(" "))?),
            }
        }
    };
    Grams::from_pounds_ounces(pounds, ounces).map(Grams::to_tenth).map_err(|_| sentence())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST Handbook 44, Appendix C: 1 lb = 453.592 37 g and 1 oz = 28.349 523 125 g, exactly.
    #[test]
    fn masses_read_back_as_written() {
        for (typed, units, grams) in [
            ("912", Units::Metric, 912.0),
            ("108,4", Units::Metric, 108.4),
            ("912.5 g", Units::Avoirdupois, 912.5),
            ("2 lb 6½", Units::Avoirdupois, 1091.5),
            ("2 6 1/2", Units::Avoirdupois, 1091.5),
            ("2 6.5", Units::Avoirdupois, 1091.5),
            ("15¾ oz", Units::Avoirdupois, 446.5),
            ("15.75", Units::Avoirdupois, 446.5),
            ("2 lb", Units::Avoirdupois, 907.2),
        ] {
            assert_eq!(read_mass(typed, units).map(Grams::get), Ok(grams), "{typed}");
        }
        for bad in ["", "heavy", "-3", "1/0", "NaN", "inf", "9e99"] {
            assert!(read_mass(bad, Units::Metric).is_err(), "{bad}");
            assert!(read_mass(bad, Units::Avoirdupois).is_err(), "{bad}");
        }
    }

    #[test]
    fn masses_are_written_as_a_keeper_says_them() {
        for (grams, units, words) in [
            (912.0, Units::Metric, "912 g"),
            (912.5, Units::Metric, "912.5 g"),
            (108.0, Units::Metric, "108.0 g"),
            (1091.5, Units::Avoirdupois, "2 lb 6½ oz"),
            (453.59, Units::Avoirdupois, "1 lb 0 oz"),
            (446.5, Units::Avoirdupois, "15¾ oz"),
            (108.4, Units::Avoirdupois, "3.82 oz"),
            (452.0, Units::Avoirdupois, "1 lb 0 oz"),
        ] {
            assert_eq!(mass(grams, units), words);
        }
    }

    #[test]
    fn things_are_counted() {
        for (number, noun, words) in [
            (0, "flight", "0 flights"),
            (1, "entry", "1 entry"),
            (2, "entry", "2 entries"),
            (3, "day", "3 days"),
        ] {
            assert_eq!(count(number, noun), words);
        }
    }

    #[test]
    fn food_is_counted_in_the_keepers_words() {
        for (item, number, part, grams, words) in [
            ("day-old chick", Some(2.5), None, None, "2½ day-old chicks"),
            ("day-old chick", Some(1.0), Some("leg"), None, "1 day-old chick leg"),
            ("mouse", Some(3.0), None, None, "3 mice"),
            ("washed meat", None, None, Some(30.0), "30 g washed meat"),
            ("quail", Some(0.5), None, None, "½ quail"),
            ("partridge", Some(2.0), None, None, "2 partridges"),
        ] {
            assert_eq!(portion(item, number, part, grams, Units::Metric), words);
        }
    }
}

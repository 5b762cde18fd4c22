//! How entries read in print.

use chrono::{DateTime, FixedOffset, NaiveDate};
use note::{
    Degree, Entry, Flights, Food, GRAMS_PER_OUNCE, Grade, Line, Outcome, Sign, TakenSource, Units, Value,
    Weather,
};

/// Metres in a yard, exact (NIST Handbook 44, Appendix C).
const METRES_PER_YARD: f64 = 0.9144;

/// Returns a number without a needless ".0", with ½ and its like for quarters.
pub(crate) fn count(n: f64) -> String {
    let whole = n.trunc();
    let part = match ((n - whole) * 4.0).round() as i32 {
        _ if ((n * 4.0).round() / 4.0 - n).abs() > 0.001 => return trimmed(n, 2),
        1 => "¼",
        2 => "½",
        3 => "¾",
        _ => return format!("{n:.0}"),
    };
    if whole == 0.0 { part.to_owned() } else { format!("{whole:.0}{part}") }
}

/// Returns a number with at most so many decimals and no trailing noughts.
pub(crate) fn trimmed(n: f64, decimals: usize) -> String {
    let text = format!("{n:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Returns a mass in the keeper's units.
pub(crate) fn mass(grams: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} g", trimmed(grams, 1)),
        Units::Avoirdupois => {
            let eighths = (grams / GRAMS_PER_OUNCE * 8.0).round();
            let (pounds, ounces) = ((eighths / 128.0).floor(), eighths % 128.0 / 8.0);
            let near = (eighths / 8.0 * GRAMS_PER_OUNCE - grams).abs() < 0.6;
            // A weight that was read in grams falls between the eighths: then tenths of an ounce are nearer the truth.
            let tenths = (grams / GRAMS_PER_OUNCE * 10.0).round() / 10.0;
            let (pounds, ounces) = if near {
                (pounds, if (ounces * 4.0).fract() == 0.0 { count(ounces) } else { trimmed(ounces, 3) })
            } else {
                ((tenths / 16.0).floor(), trimmed(tenths % 16.0, 1))
            };
            if pounds == 0.0 { format!("{ounces} oz") } else { format!("{pounds:.0} lb {ounces} oz") }
        }
    }
}

/// Returns a length in the keeper's units.
fn length(metres: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} m", trimmed(metres, 1)),
        Units::Avoirdupois => format!("{:.0} yd", metres / METRES_PER_YARD),
    }
}

/// Returns the plural of a food or quarry.
fn plural(word: &str) -> String {
    match word {
        "mouse" => "mice".to_owned(),
        "quail" | "grouse" | "beef" | "venison" | "meat" | "washed meat" | "rangle" => word.to_owned(),
        "foot" => "feet".to_owned(),
        w if w.ends_with('s') || w.ends_with("ch") || w.ends_with('x') => format!("{w}es"),
        w => format!("{w}s"),
    }
}

fn several(n: f64, word: &str) -> String {
    if n > 1.0 { plural(word) } else { word.to_owned() }
}

/// Returns a food with how much of it; what became of it is told unless it was eaten.
pub(crate) fn food(food: &Food) -> String {
    let thing = match (&food.part, food.count) {
        (Some(part), Some(n)) => format!("{} {} {}", count(n), food.item, several(n, part)),
        (Some(part), None) => format!("{} {}", food.item, part),
        (None, Some(n)) => format!("{} {}", count(n), several(n, &food.item)),
        (None, None) => food.item.clone(),
    };
    let thing = match food.grams {
        Some(g) if food.count.is_none() => format!("{} g {thing}", trimmed(g, 1)),
        Some(g) => format!("{thing} ({} g)", trimmed(g, 1)),
        None => thing,
    };
    match food.outcome {
        Outcome::Eaten => thing,
        other => format!("{thing} {other}"),
    }
}

fn flights(flights: &Flights, units: Units) -> String {
    let mut out = match flights.count {
        Some(1) => "1 flight".to_owned(),
        Some(n) => format!("{n} flights"),
        None => "flights".to_owned(),
    };
    if let Some(to) = flights.to {
        out += &format!(" to the {to}");
    }
    match flights.line {
        Some(Line::Creance) => out += " on the creance",
        Some(Line::Free) => out += ", free",
        None => {}
    }
    if let Some(m) = flights.longest_m {
        out += &format!(", longest {}", length(m, units));
    }
    out
}

/// Returns what a grade means.
pub(crate) fn grade(grade: Grade) -> &'static str {
    match grade.get() {
        1 => "none",
        2 => "slow",
        3 => "fair",
        4 => "good",
        _ => "immediate",
    }
}

fn condition(sign: Sign, reading: &str) -> String {
    match (sign, reading) {
        (Sign::Casting, "cast") => "cast".to_owned(),
        (Sign::Casting, "none") => "no casting".to_owned(),
        (Sign::Casting, "late") => "cast late".to_owned(),
        (Sign::Casting, other) => format!("{other} casting"),
        (Sign::Mutes, "none") => "no mutes".to_owned(),
        (Sign::Moult, "started" | "finished") => format!("moult {reading}"),
        (Sign::Moult, dropped) => format!("dropped a {dropped}"),
        (sign, reading) => format!("{sign} {reading}"),
    }
}

/// Returns the weather in a few words.
pub(crate) fn weather(weather: &Weather) -> String {
    let mut parts = Vec::new();
    if let Some(t) = weather.temperature_c {
        parts.push(format!("{} °C", trimmed(t, 1)).replace('-', "\u{2212}"));
    }
    if let Some(sky) = weather.sky {
        parts.push(sky.to_string());
    }
    if let Some(wind) = weather.wind {
        parts.push(if wind.word() == "calm" { "calm".to_owned() } else { format!("{wind} wind") });
    }
    parts.join(", ")
}

/// Returns an entry's value in words.
pub(crate) fn value(value: &Value, units: Units) -> String {
    match value {
        Value::Weight(w) => mass(w.grams.get(), units),
        Value::Food(f) => food(f),
        Value::Flights(f) => flights(f, units),
        Value::Response(r) => format!("{} ({} of 5)", grade(r.grade), r.grade.get()),
        Value::Behaviour(b) if !b.present => format!("no {}", b.word),
        Value::Behaviour(b) => match b.degree {
            Degree::Slight => format!("{} a little", b.word),
            Degree::Plain => b.word.clone(),
            Degree::Strong => format!("{} strongly", b.word),
        },
        Value::Condition(c) => condition(c.sign, &c.reading),
        Value::Weather(w) => weather(w),
        Value::Quarry(q) => format!("{} {} {}", q.count, several(f64::from(q.count), &q.species), q.outcome),
        Value::Equipment(e) => format!("{} {}", e.item, e.action),
        Value::Training(t) => format!("{} {}", t.step, t.outcome),
        Value::Remark(r) => r.text.clone(),
    }
}

/// Returns an entry in words with its kind, as a correction names it.
pub(crate) fn named(entry: &Entry, units: Units) -> String {
    format!("{}: {}", entry.kind().word(), value(&entry.value, units))
}

/// Returns a day as "Sat 21 Feb 2026".
pub(crate) fn day(day: NaiveDate) -> String {
    day.format("%a %-d %b %Y").to_string()
}

/// Returns a day for a table: the year is told only where the table's days fall into two or more.
pub(crate) fn table_day(day: NaiveDate, (from, to): (NaiveDate, NaiveDate)) -> String {
    let one_year = chrono::Datelike::year(&from) == chrono::Datelike::year(&to);
    day.format(if one_year { "%a %-d %b" } else { "%a %-d %b %y" }).to_string()
}

/// Returns a day in full, for titles.
pub(crate) fn long_day(day: NaiveDate) -> String {
    day.format("%-d %B %Y").to_string()
}

/// Returns a moment to the minute with its zone.
pub(crate) fn moment(at: DateTime<FixedOffset>) -> String {
    let zone =
        if at.offset().local_minus_utc() == 0 { "UTC".to_owned() } else { at.format("UTC%:z").to_string() };
    format!("{} {zone}", at.format("%-d %b %Y, %H:%M"))
}

/// Returns how a time is known.
pub(crate) fn source(source: TakenSource) -> &'static str {
    match source {
        TakenSource::ExifOffset => "camera, with zone",
        TakenSource::ExifLocal => "camera, zone assumed",
        TakenSource::Container => "recording",
        TakenSource::FileName => "file name",
        TakenSource::File => "file's own date",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn masses_read_as_keepers_write_them() {
        for (grams, units, words) in [
            (932.0, Units::Metric, "932 g"),
            (108.6, Units::Metric, "108.6 g"),
            // NIST Handbook 44, Appendix C: 2 lb 2.5 oz is 978.058 5 g, 17.75 oz 503.204 g, 7.125 oz 201.990 g, 2 lb 907.185 g.
            (978.1, Units::Avoirdupois, "2 lb 2½ oz"),
            (503.2, Units::Avoirdupois, "1 lb 1¾ oz"),
            (202.0, Units::Avoirdupois, "7.125 oz"),
            (907.2, Units::Avoirdupois, "2 lb 0 oz"),
            (980.0, Units::Avoirdupois, "2 lb 2.6 oz"),
        ] {
            assert_eq!(mass(grams, units), words, "{grams}");
        }
    }

    #[test]
    fn counts_use_the_fractions_that_are_said() {
        for (n, words) in [(2.0, "2"), (0.5, "½"), (1.5, "1½"), (2.75, "2¾"), (0.3, "0.3")] {
            assert_eq!(count(n), words);
        }
    }

    #[test]
    fn foods_read_as_they_are_said() {
        let f = |item: &str, count, part: Option<&str>, grams, outcome| Food {
            item: item.into(),
            count,
            part: part.map(str::to_owned),
            grams,
            outcome,
        };
        for (given, words) in [
            (f("day-old chick", Some(2.5), None, None, Outcome::Eaten), "2½ day-old chicks"),
            (f("mouse", Some(2.0), None, None, Outcome::Left), "2 mice left"),
            (f("day-old chick", Some(1.0), Some("leg"), None, Outcome::Eaten), "1 day-old chick leg"),
            (f("chicken", Some(2.0), Some("foot"), None, Outcome::Eaten), "2 chicken feet"),
            (f("quail", None, None, Some(65.0), Outcome::Eaten), "65 g quail"),
            (f("rabbit", None, None, None, Outcome::Refused), "rabbit refused"),
        ] {
            assert_eq!(food(&given), words);
        }
    }
}

//! From confirmed entries to days: one weigh-in with what followed until the next.

use crate::read::{EntryRow, confirmed_rows, entry_rows};
use crate::{Result, Span, Store, birds};
use chrono::{DateTime, NaiveDate, TimeDelta};
use note::{BirdId, ConditionSeen, Day, DayFlights, DayFood, Entry, Flights, Outcome, Value};
use rusqlite::{Connection, OptionalExtension, params};

/// Two equal weights this close are one weigh-in: said twice, or said and photographed.
const SAME_WEIGH_IN: TimeDelta = TimeDelta::minutes(15);

impl Store {
    /// Returns the weigh-ins of a bird with what followed each, oldest first, from confirmed entries only.
    ///
    /// A day without a weigh-in stands by itself under its first event. Food not eaten for certain
    /// (`offered`) leaves the food unknown; food refused or left counts as nothing eaten.
    pub fn days(&self, bird: &BirdId, span: Span) -> Result<Vec<Day>> {
        self.read(|db| {
            birds::bird(db, bird)?;
            days(db, bird, span)
        })
    }
}

fn days(db: &Connection, bird: &BirdId, span: Span) -> Result<Vec<Day>> {
    let (from, to) = span.millis();
    // What belongs to the last weigh-in before the span must not look like a day of its own, and
    // what followed the last one inside must be complete.
    let before = beside(db, bird, "at_ms < ?2", "DESC", from)?;
    let after = beside(db, bird, "at_ms >= ?2", "ASC", to)?;
    let wide = Span {
        from: before.and_then(DateTime::from_timestamp_millis).map(|t| t.fixed_offset()),
        to: after.and_then(DateTime::from_timestamp_millis).map(|t| t.fixed_offset()),
    };
    let rows = confirmed_rows(db, bird, wide)?;
    let (wide_from, wide_to) = wide.millis();
    let weather = entry_rows(
        db,
        "WHERE state = 'confirmed' AND kind = 'weather' AND at_ms >= ?1 AND at_ms < ?2
           AND (bird IS NULL OR bird = ?3) ORDER BY at_ms, seq",
        params![wide_from, wide_to, bird.as_str()],
    )?;
    let mut out = gather(&rows);
    out.retain(|day| (from..to).contains(&day.at.timestamp_millis()));
    for day in &mut out {
        day.temperature_c = temperature(&weather, day);
    }
    Ok(out)
}

fn beside(db: &Connection, bird: &BirdId, which: &str, order: &str, at: i64) -> Result<Option<i64>> {
    let sql = format!(
        "SELECT at_ms FROM entry WHERE bird = ?1 AND state = 'confirmed' AND kind = 'weight' AND {which}
         ORDER BY at_ms {order} LIMIT 1"
    );
    Ok(db.prepare_cached(&sql)?.query_row(params![bird.as_str(), at], |row| row.get(0)).optional()?)
}

/// The first temperature told on the day's date.
fn temperature(weather: &[EntryRow], day: &Day) -> Option<f64> {
    let start = weather.partition_point(|row| row.counts().at < day.at - TimeDelta::days(1));
    weather[start..]
        .iter()
        .map(EntryRow::counts)
        .take_while(|entry| entry.at < day.at + TimeDelta::days(1))
        .filter(|entry| date(entry) == day.at.date_naive())
        .find_map(|entry| match &entry.value {
            Value::Weather(weather) => weather.temperature_c,
            _ => None,
        })
}

fn date(entry: &Entry) -> NaiveDate {
    entry.at.date_naive()
}

/// Gathers entries, oldest first, into days.
fn gather(rows: &[EntryRow]) -> Vec<Day> {
    let mut entries: Vec<&EntryRow> = rows.iter().collect();
    // Of things said in one note of one moment, the first weight comes first: "two chicks, and she
    // was six forty-two" tells of a weigh-in and then a meal. A second weight ("after flying") keeps its place.
    let mut at = 0;
    while at < entries.len() {
        let same = entries[at..]
            .iter()
            .take_while(|row| row.note == entries[at].note && row.counts().at == entries[at].counts().at)
            .count();
        let moment = &mut entries[at..at + same];
        if let Some(weight) = moment.iter().position(|row| matches!(row.counts().value, Value::Weight(_))) {
            moment[..=weight].rotate_right(1);
        }
        at += same;
    }
    let weighed: std::collections::HashSet<NaiveDate> = entries
        .iter()
        .filter(|row| matches!(row.counts().value, Value::Weight(_)))
        .map(|row| date(row.counts()))
        .collect();
    let mut out: Vec<Day> = Vec::new();
    for row in entries {
        let entry = row.counts();
        if let Value::Weight(weight) = &entry.value {
            let grams = weight.grams.get();
            let again =
                out.last().is_some_and(|day| day.grams == Some(grams) && entry.at - day.at <= SAME_WEIGH_IN);
            if !again {
                out.push(empty(entry.at, Some(grams)));
            }
            continue;
        }
        let belongs = out
            .last()
            .is_some_and(|day| day.at.date_naive() == date(entry) || weighed.contains(&date(entry)));
        if !belongs {
            out.push(empty(entry.at, None));
        }
        if let Some(day) = out.last_mut() {
            add(day, entry);
        }
    }
    out
}

fn empty(at: crate::Moment, grams: Option<f64>) -> Day {
    Day {
        at,
        grams,
        response: None,
        flights: None,
        food: None,
        temperature_c: None,
        behaviours: None,
        condition: None,
    }
}

fn add(day: &mut Day, entry: &Entry) {
    match &entry.value {
        Value::Response(response) => day.response = Some(response.grade),
        Value::Flights(flights) => {
            let so_far = day.flights.get_or_insert_default();
            join(so_far, flights);
        }
        Value::Food(food) => match food.outcome {
            Outcome::Eaten => day.food.get_or_insert_default().push(DayFood {
                item: food.item.clone(),
                count: food.count,
                part: food.part.clone(),
                grams: food.grams,
            }),
            Outcome::Refused | Outcome::Left => {
                day.food.get_or_insert_default();
            }
            Outcome::Offered => {}
        },
        Value::Behaviour(behaviour) if behaviour.present => {
            let words = day.behaviours.get_or_insert_default();
            if !words.contains(&behaviour.word) {
                words.push(behaviour.word.clone());
            }
        }
        Value::Condition(condition) => {
            let seen = ConditionSeen { sign: condition.sign, reading: condition.reading.clone() };
            let so_far = day.condition.get_or_insert_default();
            if !so_far.contains(&seen) {
                so_far.push(seen);
            }
        }
        Value::Weight(_)
        | Value::Behaviour(_)
        | Value::Weather(_)
        | Value::Quarry(_)
        | Value::Equipment(_)
        | Value::Training(_)
        | Value::Remark(_) => {}
    }
}

/// Adds a set of flights to those before: counts add up, the longest stays, the last way of flying is told.
fn join(so_far: &mut DayFlights, more: &Flights) {
    so_far.count = match (so_far.count, more.count) {
        (Some(a), Some(b)) => Some(a.saturating_add(b)),
        (a, b) => a.or(b),
    };
    so_far.longest_m = match (so_far.longest_m, more.longest_m) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    };
    so_far.line = more.line.or(so_far.line);
}

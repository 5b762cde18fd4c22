//! The days made ready: checked, sorted, furniture taken off, food turned into energy.
//!
//! Absent: any judgement. A figure that cannot be is an error; one that is only unlikely stays.

use crate::foods::part_share;
use crate::{AdviceError, Settings};
use chrono::{DateTime, FixedOffset, Timelike};
use note::{Bird, Day, DayFood, Line, Sign};
use std::cmp::Ordering;

/// One food of a meal.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Eaten {
    pub item: String,
    pub kcal: f64,
    pub grams: f64,
    pub casting: bool,
}

/// All that was eaten until the next weigh-in.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Meal {
    Known(Vec<Eaten>),
    Unknown { because: Option<String> },
}

impl Meal {
    pub fn kcal(&self) -> Option<f64> {
        match self {
            Meal::Known(eaten) => Some(eaten.iter().map(|e| e.kcal).sum()),
            Meal::Unknown { .. } => None,
        }
    }
}

/// A day made ready.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub at: DateTime<FixedOffset>,
    /// Where in the given order its first record stood, for links.
    pub index: usize,
    /// Days since the first row.
    pub time: f64,
    /// The bird without its furniture, grams.
    pub grams: Option<f64>,
    pub grade: Option<u8>,
    pub flown: Flown,
    pub meal: Meal,
    pub temperature: Option<f64>,
    pub behaviours: Vec<String>,
    pub signs: Vec<(Sign, String)>,
}

/// The flying of a row.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Flown {
    pub count: f64,
    pub longest_m: Option<f64>,
    pub line: Option<Line>,
    pub any: bool,
}

impl Row {
    pub fn sign(&self, sign: Sign) -> Option<&str> {
        self.signs.iter().rev().find(|(s, _)| *s == sign).map(|(_, reading)| reading.as_str())
    }
    pub fn shows(&self, word: &str) -> bool {
        self.behaviours.iter().any(|b| b == word)
    }
    /// How full the crop was, 0 to 1.
    pub fn crop(&self) -> f64 {
        match self.sign(Sign::Crop) {
            Some("quarter") => 0.25,
            Some("half") => 0.5,
            Some("three quarter") => 0.75,
            Some("full") => 1.0,
            _ => 0.0,
        }
    }
    pub fn casting_missing(&self) -> bool {
        matches!(self.sign(Sign::Casting), Some("none" | "late"))
    }
}

/// A bird's days made ready, oldest first.
pub(crate) struct Record<'a> {
    pub bird: &'a Bird,
    pub rows: Vec<Row>,
    /// Step of the scale, grams, as far as the readings show it.
    pub step: f64,
}

impl<'a> Record<'a> {
    pub fn new(bird: &'a Bird, days: &[Day], settings: &Settings) -> Result<Self, AdviceError> {
        check_bird(bird)?;
        let furniture = bird.furniture_g.unwrap_or(0.0);
        let mut order: Vec<usize> = (0..days.len()).collect();
        order.sort_by(|&a, &b| compare(&days[a], &days[b]));
        let mut merged: Vec<(usize, Day)> = Vec::with_capacity(days.len());
        for index in order {
            let day = &days[index];
            check_day(day, furniture)?;
            match merged.last_mut() {
                Some((_, same)) if same.at == day.at => merge(same, day),
                _ => merged.push((index, day.clone())),
            }
        }
        let first = merged.first().ok_or(AdviceError::NoDays)?.1.at;
        let step = scale_step(merged.iter().filter_map(|(_, d)| d.grams));
        let rows = merged.into_iter().map(|(index, day)| ready(day, index, first, furniture, settings));
        Ok(Self { bird, rows: rows.collect(), step })
    }

    pub fn last(&self) -> &Row {
        self.rows.last().expect("a record has at least one row")
    }

    /// The usual time of weigh-in, hours after midnight by the clock on the wall.
    pub fn usual_hour(&self) -> f64 {
        let hour = |r: &Row| f64::from(r.at.time().num_seconds_from_midnight()) / 3600.0;
        // The first of each day: who weighs again in the evening still weighs in the morning.
        let mut dates = std::collections::HashSet::new();
        let first = |r: &&Row| r.grams.is_some() && dates.insert(r.at.date_naive());
        let from = self.rows.len().saturating_sub(150);
        let mut hours: Vec<f64> = self.rows[from..].iter().filter(first).map(hour).collect();
        if hours.is_empty() {
            return hour(self.last());
        }
        // Around the clock: measured from the latest, so that times about midnight stay together.
        let from = hours[0];
        for h in &mut hours {
            *h = (*h - from + 36.0).rem_euclid(24.0) - 12.0;
        }
        (from + median(&mut hours)).rem_euclid(24.0)
    }
}

/// Returns the middle value; the slice must not be empty.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    if values.len() % 2 == 1 { values[middle] } else { 0.5 * (values[middle - 1] + values[middle]) }
}

fn check_bird(bird: &Bird) -> Result<(), AdviceError> {
    let figures = [
        ("floor", bird.floor_g, 10.0),
        ("target weight", bird.target_g, 10.0),
        ("fed-up weight", bird.fed_up_g, 10.0),
        ("furniture", bird.furniture_g, 0.0),
    ];
    for (what, value, least) in figures {
        if let Some(value) = value.filter(|v| !(least..=20_000.0).contains(v)) {
            return Err(AdviceError::Bird { what, value });
        }
    }
    if let (Some(floor), Some(fed_up)) = (bird.floor_g, bird.fed_up_g)
        && floor > fed_up
    {
        return Err(AdviceError::Bird { what: "floor, above its fed-up weight,", value: floor });
    }
    Ok(())
}

fn check_day(day: &Day, furniture: f64) -> Result<(), AdviceError> {
    let bad = |what, value| Err(AdviceError::Day { at: day.at, what, value });
    if let Some(grams) = day.grams.filter(|g| !(furniture + 5.0..=20_000.0).contains(g)) {
        return bad("weight", grams);
    }
    if let Some(celsius) = day.temperature_c.filter(|t| !(-60.0..=60.0).contains(t)) {
        return bad("temperature", celsius);
    }
    if let Some(metres) = day.flights.and_then(|f| f.longest_m).filter(|m| !(0.0..=50_000.0).contains(m)) {
        return bad("longest flight", metres);
    }
    for food in day.food.iter().flatten() {
        if let Some(count) = food.count.filter(|c| !(0.0..=1000.0).contains(c)) {
            return bad("count of food", count);
        }
        if let Some(grams) = food.grams.filter(|g| !(0.0..=5000.0).contains(g)) {
            return bad("mass of food", grams);
        }
    }
    Ok(())
}

/// Orders days by time and, at the same instant, by what they say, so that the given order never counts.
fn compare(a: &Day, b: &Day) -> Ordering {
    let words = |d: &Day| serde_json::to_string(d).unwrap_or_default();
    a.at.cmp(&b.at).then_with(|| words(a).cmp(&words(b)))
}

/// Joins two records of the same instant; a record given twice counts once.
fn merge(into: &mut Day, other: &Day) {
    if into == other {
        return;
    }
    into.grams = match (into.grams, other.grams) {
        (Some(a), Some(b)) => Some(0.5 * (a + b)),
        (a, b) => a.or(b),
    };
    into.response = match (into.response, other.response) {
        // Two grades of one moment: the poorer, on the careful side.
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    };
    into.flights = into.flights.or(other.flights);
    into.food = match (into.food.take(), &other.food) {
        (Some(mut a), Some(b)) => {
            a.extend(b.iter().cloned());
            Some(a)
        }
        (a, b) => a.or_else(|| b.clone()),
    };
    into.temperature_c = into.temperature_c.or(other.temperature_c);
    let join = |a: &mut Option<Vec<String>>, b: &Option<Vec<String>>| match (a.as_mut(), b) {
        (Some(a), Some(b)) => a.extend(b.iter().cloned()),
        (None, Some(b)) => *a = Some(b.clone()),
        _ => {}
    };
    join(&mut into.behaviours, &other.behaviours);
    match (into.condition.as_mut(), &other.condition) {
        (Some(a), Some(b)) => a.extend(b.iter().cloned()),
        (None, Some(b)) => into.condition = Some(b.clone()),
        _ => {}
    }
}

fn ready(day: Day, index: usize, first: DateTime<FixedOffset>, furniture: f64, settings: &Settings) -> Row {
    let flown = day.flights.map_or(Flown::default(), |f| Flown {
        count: f64::from(f.count.unwrap_or(1)).min(200.0),
        longest_m: f.longest_m,
        line: f.line,
        any: f.count != Some(0),
    });
    let lower = |words: Vec<String>| words.into_iter().map(|w| w.trim().to_lowercase()).collect();
    Row {
        at: day.at,
        index,
        time: (day.at - first).num_seconds() as f64 / 86_400.0,
        grams: day.grams.map(|g| g - furniture),
        grade: day.response.map(note::Grade::get),
        flown,
        meal: day.food.as_deref().map_or(Meal::Unknown { because: None }, |food| meal(food, settings)),
        temperature: day.temperature_c,
        behaviours: day.behaviours.map(lower).unwrap_or_default(),
        signs: day
            .condition
            .unwrap_or_default()
            .into_iter()
            .map(|c| (c.sign, c.reading.trim().to_lowercase()))
            .collect(),
    }
}

/// Turns noted food into energy and mass; one item of unknown size makes the whole meal unknown.
pub(crate) fn meal(food: &[DayFood], settings: &Settings) -> Meal {
    let mut eaten = Vec::with_capacity(food.len());
    for item in food {
        let name = item.item.trim().to_lowercase();
        let Some(fact) = settings.food(&name) else {
            match item.grams {
                // Weighed food of an unknown kind is taken as meat.
                Some(grams) => {
                    let kcal = settings.food("meat").map_or(1.1, |m| m.usable_kcal_per_g()) * grams;
                    eaten.push(Eaten { item: name, kcal, grams, casting: false });
                }
                None => return Meal::Unknown { because: Some(name) },
            }
            continue;
        };
        let small = fact.mass_g.is_some_and(|m| m <= 5.0);
        // "Some tidbits": a few bites, too few to spoil the sum.
        let count = item.count.or_else(|| small.then_some(3.0));
        let share = match &item.part {
            None => Some(1.0),
            Some(part) => part_share(&part.trim().to_lowercase()),
        };
        let grams = item.grams.or_else(|| Some(count? * fact.mass_g? * share?));
        match grams {
            Some(grams) => {
                let kcal = grams * fact.usable_kcal_per_g();
                eaten.push(Eaten { item: name, kcal, grams, casting: fact.casting });
            }
            None => return Meal::Unknown { because: Some(name) },
        }
    }
    Meal::Known(eaten)
}

/// Finds the coarsest usual step of a scale that all readings stand on.
fn scale_step(readings: impl Iterator<Item = f64>) -> f64 {
    let readings: Vec<f64> = readings.collect();
    if readings.len() < 4 {
        return 0.1;
    }
    let ounce = note::GRAMS_PER_OUNCE;
    [ounce, 10.0, ounce / 2.0, ounce / 4.0, 5.0, ounce / 8.0, 2.0, 1.0, 0.5]
        .into_iter()
        .find(|step| {
            // Ounces come as grams to a tenth, hence the slack.
            let slack = if step.fract() == 0.0 || *step == 0.5 { 1e-6 } else { 0.06 };
            readings.iter().all(|r| (r / step - (r / step).round()).abs() * step < slack)
        })
        .unwrap_or(0.1)
}

//! Where the training stands: the step the record shows, the next, and what is still missing for it.
//!
//! The gates are common practice, no source; their numbers are in [`crate::Gates`]. A record cannot show
//! everything: [`BEFORE_FREE_FLIGHT`] lists what only the keeper can check. Absent: any gate that asks for
//! less weight.

use crate::record::{Meal, Record, Row};
use crate::{AdviceError, Settings};
use note::{Bird, Day, FlyingWeight, Line, Sign, Step, TrainingAdvice};

/// What to check by hand before a first free flight; the record cannot know it.
pub const BEFORE_FREE_FLIGHT: &[&str] = &[
    "immediate sessions on the full line in more than one place",
    "telemetry tested today, transmitter on the bird since the evening before",
    "nothing new on the bird or around it since the evening before",
    "calm, dry weather, early enough in the day",
    "permission to fly there, no other birds, dogs or roads near",
    "eyes round, feathers tight, mutes clean, crop empty, casting up",
];

/// Days in which a session still counts for a gate.
const RECENT_DAYS: f64 = 21.0;

/// Where a bird's training stands, in figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The step that the last sessions show.
    pub step: Option<Step>,
    /// The step after it.
    pub next: Option<Step>,
    /// What the record still lacks for the next step.
    pub missing: Vec<String>,
    /// Days since the last session, if there was one.
    pub days_since: Option<f64>,
    /// Longest flight in the last three weeks, metres.
    pub longest_m: Option<f64>,
    /// Share of immediate answers in the last three weeks.
    pub immediate: Option<f64>,
    /// Sessions in the last three weeks.
    pub sessions: usize,
}

impl Standing {
    /// Puts it as the contract writes it.
    pub fn advice(&self) -> TrainingAdvice {
        TrainingAdvice {
            step: self.step.map(|s| s.word().to_string()),
            next: self.next.map(|s| s.word().to_string()),
            ready: self.next.is_some() && self.missing.is_empty(),
            missing: self.missing.clone(),
        }
    }
}

/// Says where the training stands by the record alone.
pub fn standing(bird: &Bird, days: &[Day], settings: &Settings) -> Result<Standing, AdviceError> {
    settings.check()?;
    let record = Record::new(bird, days, settings)?;
    let advice = crate::whole(&record, settings);
    Ok(stand(&record, settings, advice.flying_weight.as_ref(), false))
}

/// Tells the step that one day's session shows.
fn step_of(row: &Row) -> Option<Step> {
    match row.flown.line {
        Some(Line::Free) => Some(Step::FreeFlight),
        Some(Line::Creance) => Some(Step::Creance),
        None if row.flown.any && row.flown.count > 0.0 => match row.flown.longest_m {
            Some(metres) if metres > 3.0 => Some(Step::Creance),
            _ => Some(Step::JumpingToTheFist),
        },
        None if row.grade.is_some() => Some(Step::SteppingToTheFist),
        None => None,
    }
}

pub(crate) fn stand(
    record: &Record<'_>,
    settings: &Settings,
    flying: Option<&FlyingWeight>,
    troubled: bool,
) -> Standing {
    let gates = &settings.gates;
    let last = record.last();
    let recent: Vec<&Row> = record
        .rows
        .iter()
        .filter(|r| last.time - r.time <= RECENT_DAYS && (r.grade.is_some() || r.flown.any))
        .collect();
    let step = recent.iter().rev().find_map(|r| step_of(r));
    let longest_m = recent.iter().filter_map(|r| r.flown.longest_m).reduce(f64::max);
    let graded: Vec<u8> = recent.iter().filter_map(|r| r.grade).collect();
    let share = |least: u8| {
        (!graded.is_empty())
            .then(|| graded.iter().filter(|g| **g >= least).count() as f64 / graded.len() as f64)
    };
    let next = match step {
        None => Some(Step::FeedingOnTheFist),
        Some(Step::SteppingToTheFist) => Some(Step::JumpingToTheFist),
        Some(Step::JumpingToTheFist) => Some(Step::Creance),
        Some(Step::Creance) => Some(Step::FreeFlight),
        Some(Step::FreeFlight) => Some(Step::Entering),
        Some(_) => None,
    };
    let mut missing = Vec::new();
    let good_run = graded.iter().rev().take_while(|g| **g >= crate::flying::GOOD).count();
    match next {
        None => {}
        Some(Step::FreeFlight) => {
            before_free_flight(&mut missing, record, settings, flying, &recent, longest_m);
        }
        Some(Step::Entering) => {
            if share(crate::flying::GOOD).is_none_or(|s| s < gates.good_share) {
                missing.push("good answers in four free sessions of five".into());
            }
            in_band(&mut missing, record, flying);
        }
        Some(Step::FeedingOnTheFist) => {
            missing.push("a session on record: eats on the glove within a minute or two".into())
        }
        Some(_) => {
            let wanted = gates.good_sessions as usize;
            if good_run < wanted {
                missing.push(format!("good answers in {wanted} sessions running; {good_run} so far"));
            }
        }
    }
    if troubled && next.is_some() {
        missing.push("a bird without alarms: see them first".into());
    }
    Standing {
        step,
        next,
        missing,
        days_since: recent.last().map(|r| last.time - r.time),
        longest_m,
        immediate: share(5),
        sessions: recent.len(),
    }
}

fn in_band(missing: &mut Vec<String>, record: &Record<'_>, flying: Option<&FlyingWeight>) {
    let weighed = record.rows.iter().rev().find_map(|r| r.grams);
    let band = match (flying, record.bird.target_g) {
        (Some(f), _) => Some((f.low_g.min(f.best_g * 0.98), f.high_g)),
        (None, Some(target)) => Some((target * 0.98, target * 1.02)),
        (None, None) => None,
    };
    match (weighed, band) {
        (Some(grams), Some((low, high))) if (low..=high).contains(&grams) => {}
        (Some(grams), Some((_, high))) if grams > high => {
            missing.push("weight inside the band: above it today".into());
        }
        (Some(_), Some(_)) => missing.push("weight inside the band: under it today, feed up".into()),
        (None, _) => missing.push("a weight today".into()),
        (_, None) => missing.push("a known flying weight or a target".into()),
    }
}

fn before_free_flight(
    missing: &mut Vec<String>,
    record: &Record<'_>,
    settings: &Settings,
    flying: Option<&FlyingWeight>,
    recent: &[&Row],
    longest_m: Option<f64>,
) {
    let gates = &settings.gates;
    let last = record.last();
    let full = |r: &&&Row| r.grade == Some(5) && r.flown.longest_m.is_some_and(|m| m >= gates.full_line_m);
    let done = recent.iter().filter(full).count();
    let wanted = gates.full_sessions as usize;
    let length = |metres| crate::length_in_words(metres, record.bird.units);
    if done < wanted {
        let longest = longest_m.unwrap_or(0.0);
        let mut text = format!(
            "immediate answers in {wanted} sessions at the full line of {}; {done} so far",
            length(gates.full_line_m)
        );
        if longest < gates.full_line_m {
            let next = (longest * 1.5).clamp(2.0, gates.full_line_m);
            text += &format!(", the longest {}, next about {}", length(longest), length(next));
        }
        missing.push(text);
    }
    let graded: Vec<u8> = recent.iter().filter_map(|r| r.grade).rev().take(5).collect();
    let good = graded.iter().filter(|g| **g >= crate::flying::GOOD).count() as f64;
    if graded.is_empty() || good / (graded.len() as f64) < gates.good_share {
        missing.push("good answers in four of the last five sessions".into());
    }
    in_band(missing, record, flying);
    if last.crop() > 0.0 {
        missing.push("crop empty".into());
    }
    let before = record.rows.iter().rev().nth(1);
    let brings_casting = before.is_some_and(|r| match &r.meal {
        Meal::Known(eaten) => eaten.iter().any(|e| e.casting && e.grams > 0.0),
        Meal::Unknown { .. } => false,
    });
    if last.casting_missing() || (brings_casting && last.sign(Sign::Casting).is_none()) {
        missing.push("casting up".into());
    }
}

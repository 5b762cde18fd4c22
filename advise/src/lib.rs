//! Confirmed days in; weight trend, flying weight, ration, training step, alarms and charts out.
//!
//! Pure: absent on purpose are files, clocks, SQL and HTML. The same days in any order give the same
//! advice. Every model is a small statistical one whose working is in [`solve`]; every adjustable
//! number is in [`Settings`] with its range and ground. It advises; the keeper decides.

mod alarm;
pub mod caution;
pub mod chart;
pub mod energy;
mod error;
mod flying;
pub mod foods;
pub mod lines;
mod ration;
mod record;
mod settings;
pub mod solve;
pub mod species;
pub mod training;
mod trend;
mod weight;

pub use error::AdviceError;
pub use settings::{Alarms, Energy, Flying, Gates, Limits, OutOfRange, Range, Settings};

use alarm::alert;
use chrono::{DateTime, Duration, FixedOffset, Timelike};
use note::{Advice, Answers, FlyingWeight, Forecast, Severity};
use ration::{Circumstances, LEVEL, Withheld};
use record::{Meal, Record};

/// How near the truth, as a share of weight, a flying weight must likely be to be named.
const NEAR: f64 = 0.015;

/// Works out what the record says about tomorrow.
///
/// `days` may come in any order; what is unknown may be missing. Masses are in grams and the bird's
/// furniture is taken off every reading.
pub fn advise(bird: &note::Bird, days: &[note::Day], settings: &Settings) -> Result<Advice, AdviceError> {
    settings.check()?;
    Ok(whole(&Record::new(bird, days, settings)?, settings))
}

/// The last weigh-in beside what the food before it explains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overnight {
    /// Change since the weight before that the food, the flying and the cold explain, grams.
    pub expected_g: f64,
    /// Change that came, grams.
    pub actual_g: f64,
    /// How far from the expected nine changes in ten fall, grams either way.
    pub within_g: f64,
}

/// Compares the last weigh-in with what was to be expected; `None` before the second weight, or when food since the
/// weight before is not known.
pub fn overnight(
    bird: &note::Bird,
    days: &[note::Day],
    settings: &Settings,
) -> Result<Option<Overnight>, AdviceError> {
    settings.check()?;
    let record = Record::new(bird, days, settings)?;
    let weighing = weight::weigh(&record, settings);
    let check = weighing.as_ref().and_then(|w| w.checks.last()).filter(|c| c.food_known);
    Ok(check.map(|c| Overnight {
        expected_g: tenth(c.expected_change),
        actual_g: tenth(c.expected_change + c.actual - c.expected),
        within_g: tenth(1.645 * c.sd),
    }))
}

pub(crate) fn whole(record: &Record<'_>, settings: &Settings) -> Advice {
    let bird = record.bird;
    let weighing = weight::weigh(record, settings);
    let answering = flying::learn(record, settings);
    let mut alerts = alarm::raise(record, weighing.as_ref(), answering.as_ref(), settings);
    let ill = alerts.iter().any(|a| a.severity == Severity::Stop);
    let troubled = alerts.iter().any(|a| a.severity >= Severity::Warn);

    let sure = answering.as_ref().filter(|a| a.surety(NEAR) >= settings.flying.named_from);
    let flying_weight = sure.map(|a| reported(a, &settings.flying));
    if flying_weight.is_none() {
        alerts.push(too_few_answers(record, answering.as_ref(), settings));
    }
    let usual = next_weigh_in(record);
    let days = (usual - record.last().at).num_seconds() as f64 / 86_400.0;
    let forecast = weighing.as_ref().and_then(|w| match &record.last().meal {
        Meal::Unknown { because } => {
            alerts.push(unknown_food(because.as_deref()));
            None
        }
        meal => {
            let seen = w.ahead(days, meal);
            let half = seen.half_width(w.honest(LEVEL));
            Some(Forecast {
                at: usual,
                grams: tenth(seen.mean),
                low_g: tenth(seen.mean - half),
                high_g: tenth(seen.mean + half),
                level: LEVEL,
            })
        }
    });
    let around = Circumstances {
        days,
        ill,
        casting_missing: record.last().casting_missing(),
        crop_not_empty: record.last().crop() > 0.0,
    };
    let ration = weighing.as_ref().and_then(|w| {
        ration::plan(record, w, answering.as_ref(), settings, &around)
            .map_err(|withheld| alerts.push(no_ration(withheld)))
            .ok()
            .map(|mut r| {
                for grams in [&mut r.target_g, &mut r.kcal, &mut r.expected_g, &mut r.low_g, &mut r.high_g] {
                    *grams = tenth(*grams);
                }
                r
            })
    });
    if bird.floor_g.is_none() {
        alerts.push(alert(
            "no-floor",
            Severity::Look,
            "No floor is set. Settle with an avian vet the weight that this bird must never go under, and set it.",
        ));
    }
    if !troubled {
        alerts.extend(try_higher(record, answering.as_ref()));
    }
    let standing = training::stand(record, settings, flying_weight.as_ref(), troubled);
    let training = standing.advice();
    if standing.next == Some(note::Step::FreeFlight) && training.ready {
        let list = training::BEFORE_FREE_FLIGHT.join("; ");
        alerts.push(alert(
            "before-free-flight",
            Severity::Look,
            format!("The record meets the gates. Check by hand what it cannot know: {list}."),
        ));
    }
    alerts.sort_by_key(|a| std::cmp::Reverse(a.severity));
    Advice {
        bird: bird.bird.clone(),
        as_of: record.last().at,
        trend: trend::trend(record),
        flying_weight,
        forecast,
        ration,
        alerts,
        training: Some(training),
    }
}

fn tenth(grams: f64) -> f64 {
    (grams * 10.0).round() / 10.0
}

/// The next time by the wall clock at which the bird is usually weighed, at least half a day on.
fn next_weigh_in(record: &Record<'_>) -> DateTime<FixedOffset> {
    let last = record.last().at;
    let now = f64::from(last.time().num_seconds_from_midnight()) / 3600.0;
    let mut hours = (record.usual_hour() - now).rem_euclid(24.0);
    if hours < 12.0 {
        hours += 24.0;
    }
    let ahead = Duration::seconds((hours * 3600.0).round() as i64);
    last.checked_add_signed(ahead).unwrap_or(last)
}

fn reported(answering: &flying::Answering, flying: &Flying) -> FlyingWeight {
    let (low, best, high) = answering.band(flying);
    let width = (high - low) / best;
    let sessions = answering.sessions.len();
    let evidence = if width < 0.03 && sessions >= 15 {
        Answers::Good
    } else if width < 0.055 {
        Answers::Fair
    } else {
        Answers::Poor
    };
    FlyingWeight {
        best_g: tenth(best),
        low_g: tenth(low),
        high_g: tenth(high),
        level: flying::LEVEL,
        evidence,
        sessions: sessions as u32,
    }
}

fn too_few_answers(
    record: &Record<'_>,
    answering: Option<&flying::Answering>,
    settings: &Settings,
) -> note::Alert {
    let sessions = flying::sessions(record);
    let weights = flying::different_weights(&sessions);
    let (least, different) = (settings.flying.least_sessions, settings.flying.least_weights);
    let enough = sessions.len() as f64 >= least && weights as f64 >= different;
    let why = if answering.is_some() {
        format!(
            "Flying weight: not enough yet. {} graded sessions over {weights} different weights do not tell it to within a per cent and a half. Note each answer; let the weight move by itself, upward first.",
            sessions.len()
        )
    } else if enough {
        "No good answer on record yet, so no weight can be named. Look at manning, place, distance and health before weight.".into()
    } else {
        format!(
            "Flying weight: not enough yet. {} graded sessions over {weights} different weights; about {least:.0} over {different:.0} are needed. Note each answer; let the weight move by itself, upward first.",
            sessions.len()
        )
    };
    alert("flying-weight-unknown", Severity::Look, why)
}

fn unknown_food(because: Option<&str>) -> note::Alert {
    let why = match because {
        Some(item) => format!(
            "How much \u{201c}{item}\u{201d} was eaten, or what it is worth, is not known. Note grams, or add the food with its mass and energy to the settings."
        ),
        None => "What was eaten today is not noted, so the next weight cannot be foreseen. Note the food, or that there was none.".into(),
    };
    alert("food-unknown", Severity::Look, why)
}

fn no_ration(withheld: Withheld) -> note::Alert {
    match withheld {
        Withheld::NoLimit => alert(
            "ration-needs-limit",
            Severity::Look,
            "No ration without a limit: set the floor with an avian vet, or note the weight when fed freely.",
        ),
        Withheld::NotWeighed => alert(
            "ration-needs-weight",
            Severity::Look,
            "No ration without a weight of these days: weigh first.",
        ),
        Withheld::UnderFloor { kcal } => alert(
            "ration-under-floor",
            Severity::Stop,
            format!(
                "Too near or under its floor for a sum to say what to feed. Stop flying, keep warm, call an avian vet; feed small easy meals as the vet says and weigh twice a day. Unless the vet says otherwise it needs no less than {kcal:.0} kcal a day to come up."
            ),
        ),
    }
}

/// Writes a weight in the units that the bird's weights are said in: whole grams, or pounds and quarter ounces.
pub(crate) fn in_words(grams: f64, units: note::Units) -> String {
    match units {
        note::Units::Metric => format!("{grams:.0} g"),
        note::Units::Avoirdupois => chart::mass(grams, units),
    }
}

/// Writes a length in metres, or in yards for who speaks of pounds.
pub(crate) fn length_in_words(metres: f64, units: note::Units) -> String {
    match units {
        note::Units::Metric => format!("{metres:.0} m"),
        note::Units::Avoirdupois => format!("{:.0} yards", metres / 0.9144),
    }
}

/// Proposes the next weight to try: upward only, one per cent at most, after three good answers.
fn try_higher(record: &Record<'_>, answering: Option<&flying::Answering>) -> Option<note::Alert> {
    let sessions = flying::sessions(record);
    let last = sessions.last_chunk::<3>()?;
    let flown = last.iter().map(|s| s.grams).sum::<f64>() / 3.0;
    let believed = answering.map_or(f64::INFINITY, |a| a.quantile(0.6));
    let next = believed.min(flown * 1.01).min(record.bird.fed_up_g.unwrap_or(f64::INFINITY));
    (last.iter().all(|s| s.grade >= flying::GOOD) && next > flown * 1.003).then(|| {
        let why = format!(
            "Three good answers at about {}. Next try {}: the highest weight that keeps the answer is the one wanted.",
            in_words(flown, record.bird.units),
            in_words(next, record.bird.units)
        );
        alert("try-higher", Severity::Look, why)
    })
}

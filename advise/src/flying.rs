//! The flying weight: how the answer depends on weight, learned from few graded sessions.
//!
//! Grades 1 to 5 by cumulative logit in weight, with the number of the session (learning), a slow drift
//! (fitness) and the temperature beside it; moods that last for days, a top that no hunger lifts and spoilt sessions
//! are summed over. The priors carry what the trade knows and keep a handful of
//! sessions from saying too much. The posterior is drawn by importance sampling about the penalised fit of
//! [`crate::solve::ordinal`], with the same draws every time. What is reported is not the weight of the best
//! answer but the highest that still gives a good one four times in five. Absent: any proposal to cut weight
//! below what has been flown well.

mod curve;
mod draw;
mod marks;
mod moods;

use crate::record::{Record, Row};
use crate::solve::ordinal::{Link, fit};
use crate::{Flying, Settings};
use curve::Curve;
use draw::{FIRST, SLOPES, STANDARDS};
use moods::{MOODS, Moods};
use nalgebra::DVector;

/// Lowest grade that counts as a good answer.
pub(crate) const GOOD: u8 = 4;
/// The share of flying weights that the stated band is to hold.
pub(crate) const LEVEL: f64 = 0.8;
const GRADES: usize = 5;
/// Of the draws, every so manieth is enough to find the aim by.
const THINNED: usize = 6;
/// Sessions that are read, and the gap in days after which a bird begins anew (a moult).
const MOST_SESSIONS: usize = 80;
const NEW_SEASON_DAYS: f64 = 45.0;
/// Behaviours that tell of something other than weight.
const SPOILERS: &[&str] = &[
    "distracted",
    "nervous",
    "wild",
    "raking away",
    "self hunting",
    "soaring",
    "panting",
    "hood shy",
    "sulking",
];

/// A graded session.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Session {
    /// Row it stands in.
    pub row: usize,
    /// Days, as the row's.
    pub time: f64,
    /// Weight, grams.
    pub grams: f64,
    /// Grade, 1 to 5.
    pub grade: u8,
    number: usize,
    temperature: Option<f64>,
    spoilt: bool,
}

/// One draw of the curve, for today's bird on a usual day.
struct Draw {
    share: f64,
    /// Weight at which the wanted chance is reached, grams.
    best: f64,
    /// Log-odds lost by each gram above it, in one mood.
    slope: f64,
    moods: Moods,
}

impl Draw {
    /// Chance of a good answer at a weight, over all moods.
    fn chance(&self, grams: f64) -> f64 {
        let against = self.moods.against(self.slope * (grams - self.best));
        MOODS.iter().zip(self.moods.factors).map(|(share, factor)| share / (1.0 + factor * against)).sum()
    }
}

/// What is believed of a bird's answers.
pub(crate) struct Answering {
    draws: Vec<Draw>,
    /// The sessions that it rests on.
    pub sessions: Vec<Session>,
}

/// Collects the graded sessions with a weight, oldest first.
pub(crate) fn sessions(record: &Record<'_>) -> Vec<Session> {
    let mut out: Vec<Session> = Vec::new();
    let mut number = 0;
    let mut weighed: Option<(f64, f64)> = None;
    for (row, r) in record.rows.iter().enumerate() {
        if let Some(grams) = r.grams {
            weighed = Some((r.time, grams));
        }
        let Some(grade) = r.grade else { continue };
        if out.last().is_some_and(|s| r.time - s.time > NEW_SEASON_DAYS) {
            number = 0;
        }
        number += 1;
        // A grade noted apart from the weigh-in belongs to the one of the same day.
        let Some((_, grams)) = weighed.filter(|(time, _)| r.time - time < 0.6) else { continue };
        let temperature = r.temperature;
        out.push(Session { row, time: r.time, grams, grade, number, temperature, spoilt: spoilt(r) });
    }
    out
}

fn spoilt(row: &Row) -> bool {
    SPOILERS.iter().any(|word| row.shows(word))
}

/// Counts weights that differ by more than a third of a per cent.
pub(crate) fn different_weights(sessions: &[Session]) -> usize {
    let mut weights: Vec<f64> = sessions.iter().map(|s| s.grams).collect();
    weights.sort_by(f64::total_cmp);
    let mut last = f64::NEG_INFINITY;
    weights
        .into_iter()
        .filter(|w| {
            let new = *w - last > w * 0.0033;
            if new {
                last = *w
            }
            new
        })
        .count()
}

/// What is known of the flying weight before any answer: middle and standard deviation, grams.
fn before_any_answer(record: &Record<'_>, sessions: &[Session], flying: &Flying) -> (f64, f64) {
    let mean = sessions.iter().map(|s| s.grams).sum::<f64>() / sessions.len() as f64;
    // Keepers fly birds near where they fly well, aim near it, and fat weight tells roughly.
    let known = [
        Some((mean, 0.06)),
        record.bird.target_g.map(|t| (t, 0.04)),
        record.bird.fed_up_g.map(|f| (f * flying.share_of_fed_up, 0.055)),
    ];
    let (mut sum, mut precision) = (0.0, 0.0);
    for (middle, share) in known.into_iter().flatten().filter(|(m, _)| (m / mean - 1.0).abs() < 0.25) {
        let weight = (share * mean).powi(-2);
        sum += weight * middle;
        precision += weight;
    }
    (sum / precision, precision.powf(-0.5).max(0.03 * mean))
}

/// Learns how the bird answers; `None` when there is too little to learn from.
pub(crate) fn learn(record: &Record<'_>, settings: &Settings) -> Option<Answering> {
    let flying = &settings.flying;
    let mut sessions = sessions(record);
    if sessions.len() > MOST_SESSIONS {
        sessions.drain(..sessions.len() - MOST_SESSIONS);
    }
    if (sessions.len() as f64) < flying.least_sessions
        || (different_weights(&sessions) as f64) < flying.least_weights
        || sessions.iter().all(|s| s.grade < GOOD)
    {
        return None;
    }
    let (middle, sd) = before_any_answer(record, &sessions, flying);
    let curve = Curve::about(&sessions, flying, (middle, sd));
    let fitted = fit(Link::Logit, curve.marks.cuts + 1, SLOPES, &curve.samples, &curve.priors())?;
    let mut about = draw::in_weights(&fitted, curve.marks.good_cut, curve.target)?;
    let mut draws = Vec::with_capacity(STANDARDS.len());
    // Drawn about the fit, and then about what those draws say.
    for standards in [&STANDARDS[..FIRST], &STANDARDS[FIRST..]] {
        draws.clear();
        let mut drawn: Vec<(f64, DVector<f64>)> = Vec::with_capacity(standards.len());
        for (n, standard) in standards.iter().enumerate() {
            let (at, density) = about.draw(standard);
            let moods = Moods::nth(n, flying);
            let Some(log) = curve.log_density(&at, &moods) else { continue };
            let (today, slope) = curve.today(&at, &moods);
            draws.push(Draw { share: log - density, best: today, slope, moods });
            drawn.push((log - density, at));
        }
        if let Some(closer) = draw::about(&drawn) {
            about = closer;
        }
    }
    if draws.is_empty() {
        return None;
    }
    let top = draws.iter().map(|d| d.share).fold(f64::NEG_INFINITY, f64::max);
    let mut total = 0.0;
    for draw in &mut draws {
        draw.share = (draw.share - top).exp();
        total += draw.share;
    }
    draws.iter_mut().for_each(|d| d.share /= total);
    draws.sort_by(|a, b| a.best.total_cmp(&b.best));
    Some(Answering { draws, sessions })
}

impl Answering {
    /// Returns the weight below which the best lies with this chance, grams.
    pub fn quantile(&self, chance: f64) -> f64 {
        let mut sum = 0.0;
        for draw in &self.draws {
            sum += draw.share;
            if sum >= chance {
                return draw.best;
            }
        }
        self.draws.last().map_or(f64::NAN, |d| d.best)
    }

    /// Returns the stated band of the best, and the weight reported: never under what has been flown well, since lower
    /// is not known, and not to be tried.
    pub fn band(&self, flying: &Flying) -> (f64, f64, f64) {
        let tail = 0.5 * (1.0 - LEVEL);
        let middle = self.quantile(0.5);
        let edge = |chance: f64| middle + flying.stated * (self.quantile(chance) - middle);
        let best = middle.max(self.lowest_good());
        (edge(tail), best, edge(1.0 - tail).max(best))
    }

    /// Returns the chance that the best lies within a share of what is reported.
    pub fn surety(&self, share: f64) -> f64 {
        let best = self.quantile(0.5);
        self.draws.iter().filter(|d| (d.best / best - 1.0).abs() <= share).map(|d| d.share).sum()
    }

    /// Returns the chance of a good answer at a weight: its mean, and the band that holds it with `level`.
    pub fn chance(&self, grams: f64, level: f64) -> (f64, f64, f64) {
        let mut chances: Vec<(f64, f64)> = self.draws.iter().map(|d| (d.chance(grams), d.share)).collect();
        let mean = chances.iter().map(|(p, w)| p * w).sum();
        chances.sort_by(|a, b| a.0.total_cmp(&b.0));
        let at = |q: f64| {
            let mut sum = 0.0;
            chances
                .iter()
                .find(|(_, w)| {
                    sum += w;
                    sum >= q
                })
                .map_or(1.0, |c| c.0)
        };
        (mean, at(0.5 * (1.0 - level)), at(0.5 * (1.0 + level)))
    }

    /// Returns the weight to aim for, at most the best, so that the mean chance of a good answer is `wanted`
    /// although weigh-ins fall about the aim with standard deviation `landing`.
    pub fn aim(&self, wanted: f64, landing: f64) -> f64 {
        let best = self.quantile(0.5);
        let mean = |grams: f64| {
            let some = || self.draws.iter().step_by(THINNED);
            let at = |x: f64| some().map(|d| d.share * d.chance(x)).sum::<f64>();
            let whole: f64 = some().map(|d| d.share).sum();
            // Three-point Gauss–Hermite over where the weigh-in falls.
            let reach = landing * 3.0_f64.sqrt();
            (at(grams - reach) / 6.0 + at(grams) * 2.0 / 3.0 + at(grams + reach) / 6.0) / whole
        };
        let (mut low, mut high) = (best * 0.95, best);
        if mean(high) >= wanted {
            return high;
        }
        for _ in 0..18 {
            let middle = 0.5 * (low + high);
            if mean(middle) >= wanted { low = middle } else { high = middle }
        }
        low
    }

    /// Returns the lowest weight at which the bird answered well.
    pub fn lowest_good(&self) -> f64 {
        self.sessions.iter().filter(|s| s.grade >= GOOD).map(|s| s.grams).fold(f64::INFINITY, f64::min)
    }
}

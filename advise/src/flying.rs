//! The flying weight: how the answer depends on weight, learned from few graded sessions.
//!
//! Grades 1 to 5 by cumulative logit in weight, with the number of the session (learning), a slow drift
//! (fitness) and the temperature beside it. The priors carry what the trade knows and keep a handful of
//! sessions from saying too much. The posterior is drawn by importance sampling about the penalised fit of
//! [`crate::solve::ordinal`], with the same draws every time. What is reported is not the weight of the best
//! answer but the highest that still gives a good one four times in five. Absent: any proposal to cut weight
//! below what has been flown well.

use crate::record::{Record, Row};
use crate::solve::ordinal::{Link, Prior, Sample, fit};
use crate::{Flying, Settings};
use nalgebra::DVector;
use std::sync::LazyLock;

/// Lowest grade that counts as a good answer.
pub(crate) const GOOD: u8 = 4;
const GRADES: usize = 5;
const CUTS: usize = GRADES - 1;
/// The threshold between fair and good.
const GOOD_CUT: usize = GOOD as usize - 2;
const SLOPES: usize = 4;
const D: usize = CUTS + SLOPES;
/// Places of the coefficients.
const WEIGHT: usize = CUTS;
const LEARNING: usize = CUTS + 1;
const DRIFT: usize = CUTS + 2;
const WARMTH: usize = CUTS + 3;
const DRAWS: usize = 1800;
/// Sessions that are read, and the gap in days after which a bird begins anew (a moult).
const MOST_SESSIONS: usize = 80;
const NEW_SEASON_DAYS: f64 = 45.0;
/// Log-odds between neighbouring grades, and spread of its logarithm. C.
const SPACING: (f64, f64) = (1.3, 0.5);
/// Sessions in which two thirds of what is to be learned is learned: not known, so three paces share the draws. C.
const PACES: [f64; 3] = [3.0, 7.0, 14.0];
/// Log-odds that an untrained bird lacks: middle and spread. C.
const UNTRAINED: (f64, f64) = (1.5, 1.5);
/// What a spoilt session gives, grades 1 to 5. C.
const SPOILT: [f64; GRADES] = [0.40, 0.30, 0.20, 0.07, 0.03];
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

/// Draws standard normals once; the same for every bird and every run.
static NORMALS: LazyLock<Vec<[f64; D]>> = LazyLock::new(|| {
    let mut rng = fastrand::Rng::with_seed(0x5eed);
    let mut pair = || {
        let radius = (-2.0 * (1.0 - rng.f64()).ln()).sqrt();
        let (sin, cos) = (std::f64::consts::TAU * rng.f64()).sin_cos();
        [radius * cos, radius * sin]
    };
    let half: Vec<[f64; D]> = (0..DRAWS / 2)
        .map(|_| {
            let mut draw = [0.0; D];
            for two in draw.chunks_mut(2) {
                two.copy_from_slice(&pair()[..two.len()]);
            }
            draw
        })
        .collect();
    // Each draw and its mirror image: the middle is then exact.
    half.iter().flat_map(|d| [*d, d.map(|x| -x)]).collect()
});

/// One draw of the curve, for today's bird on a usual day.
#[derive(Clone, Copy, Debug)]
struct Draw {
    share: f64,
    /// Weight at which the wanted chance is reached, grams.
    best: f64,
    /// Log-odds lost by each gram above it.
    slope: f64,
}

/// What is believed of a bird's answers.
pub(crate) struct Answering {
    draws: Vec<Draw>,
    wanted: f64,
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
    let now = sessions.last()?.time;
    let next_number = sessions.last()?.number + 1;
    let (middle, sd) = before_any_answer(record, &sessions, flying);
    let percent = middle / 100.0;
    let sd = sd / percent;
    let target = (flying.wanted / (1.0 - flying.wanted)).ln();
    let known_warmth: Vec<f64> = sessions.iter().filter_map(|s| s.temperature).collect();
    let usual_warmth = known_warmth.iter().sum::<f64>() / known_warmth.len().max(1) as f64;
    let slope = flying.slope;
    let drift_sd = (slope * flying.drift).max(1e-3);
    // Normal priors near those meant below, for the penalised fit.
    let mut priors = vec![
        Prior::on(GOOD_CUT, -target, sd * slope),
        Prior::on(WEIGHT, slope, slope * flying.slope_spread),
        Prior::on(LEARNING, UNTRAINED.0, UNTRAINED.1),
        Prior::on(DRIFT, 0.0, drift_sd),
        Prior::on(WARMTH, 0.0, 0.5),
    ];
    for cut in 1..CUTS {
        let on = vec![(cut, 1.0), (cut - 1, -1.0)];
        priors.push(Prior { on, mean: SPACING.0, sd: SPACING.0 * SPACING.1 });
    }
    let log_normal = |x: f64, middle: f64, sd: f64| -0.5 * ((x / middle).ln() / sd).powi(2) - x.ln();
    let normal = |x: f64, mean: f64, sd: f64| -0.5 * ((x - mean) / sd).powi(2);
    let mut draws = Vec::with_capacity(DRAWS);
    for (pace, standards) in PACES.into_iter().zip(NORMALS.chunks_exact(DRAWS / PACES.len())) {
        let learned = |number: usize| -(-(number as f64 - 1.0) / pace).exp();
        let samples: Vec<Sample> = sessions
            .iter()
            .map(|s| Sample {
                x: vec![
                    -(s.grams - middle) / percent,
                    learned(s.number),
                    (s.time - now) / 7.0,
                    s.temperature.map_or(0.0, |t| (t - usual_warmth) / 10.0),
                ],
                grade: usize::from(s.grade) - 1,
                weight: 0.5_f64.powf((now - s.time) / flying.half_life_days),
            })
            .collect();
        let Some(fitted) = fit(Link::Logit, GRADES, SLOPES, &samples, &priors) else { continue };
        let centre = DVector::from_iterator(D, fitted.thresholds.iter().chain(&fitted.coefficients).copied());
        let Some(spread) = (fitted.cov * 1.4).cholesky().map(|c| c.l()) else { continue };
        let log_volume: f64 = spread.diagonal().iter().map(|d| d.ln()).sum();
        for standard in standards {
            let at = &centre + &spread * DVector::from_column_slice(standard);
            let s = at[WEIGHT];
            if s <= 0.02 || (1..CUTS).any(|c| at[c] - at[c - 1] <= 0.02) {
                continue;
            }
            // Where the wanted chance is reached, per cent of the middle above it: a fully learned bird first.
            let z = (-at[GOOD_CUT] - target) / s;
            let today = z + (at[LEARNING] * learned(next_number)) / s;
            // Student's t with four degrees of freedom on that weight; 1/s turns it into the threshold's density.
            let mut log = -2.5 * (1.0 + (z / sd).powi(2) / 4.0).ln() - s.ln();
            log += log_normal(s, slope, flying.slope_spread);
            log += (1..CUTS).map(|c| log_normal(at[c] - at[c - 1], SPACING.0, SPACING.1)).sum::<f64>();
            log += normal(at[LEARNING], UNTRAINED.0, UNTRAINED.1) + normal(at[DRIFT], 0.0, drift_sd);
            log += normal(at[WARMTH], 0.0, 0.5);
            for (session, sample) in sessions.iter().zip(&samples) {
                let predictor: f64 = sample.x.iter().enumerate().map(|(k, x)| x * at[CUTS + k]).sum();
                let low =
                    if sample.grade == 0 { f64::NEG_INFINITY } else { at[sample.grade - 1] - predictor };
                let high = if sample.grade == CUTS { f64::INFINITY } else { at[sample.grade] - predictor };
                let lapse = if session.spoilt { (6.0 * flying.lapses).min(0.5) } else { flying.lapses };
                let p = (1.0 - lapse) * Link::Logit.between(low, high) + lapse * SPOILT[sample.grade];
                log += sample.weight * p.ln();
            }
            // Over the density that the draw came from.
            log += 0.5 * standard.iter().map(|x| x * x).sum::<f64>() + log_volume;
            draws.push(Draw { share: log, best: middle + today * percent, slope: s / percent });
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
    Some(Answering { draws, wanted: flying.wanted, sessions })
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

    fn chance_of(&self, draw: &Draw, grams: f64) -> f64 {
        let target = (self.wanted / (1.0 - self.wanted)).ln();
        Link::Logit.cdf(target - draw.slope * (grams - draw.best))
    }

    /// Returns the chance of a good answer at a weight: its mean, and the band that holds it with `level`.
    pub fn chance(&self, grams: f64, level: f64) -> (f64, f64, f64) {
        let mut chances: Vec<(f64, f64)> =
            self.draws.iter().map(|d| (self.chance_of(d, grams), d.share)).collect();
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
            let at =
                |x: f64| self.draws.iter().step_by(8).map(|d| d.share * self.chance_of(d, x)).sum::<f64>();
            let whole: f64 = self.draws.iter().step_by(8).map(|d| d.share).sum();
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

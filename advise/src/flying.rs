//! The flying weight: how the answer depends on weight, learned from few graded sessions.
//!
//! Grades 1 to 5 by cumulative logit in weight, with the number of the session (learning), a slow drift
//! (fitness) and the temperature beside it. The priors carry what the trade knows and keep a handful of
//! sessions from saying too much. The posterior is drawn by importance sampling about the penalised fit of
//! [`crate::solve::ordinal`], with the same draws every time. What is reported is not the weight of the best
//! answer but the highest that still gives a good one four times in five. Absent: any proposal to cut weight
//! below what has been flown well.

use crate::record::{Record, Row};
use crate::solve::ordinal::{Link, Ordinal, Prior, Sample, fit};
use crate::{Flying, Settings};
use nalgebra::{DMatrix, DVector};
use std::sync::LazyLock;

/// Lowest grade that counts as a good answer.
pub(crate) const GOOD: u8 = 4;
const GRADES: usize = 5;
/// What is drawn beside the thresholds: weight, slope, learning, drift, warmth.
const SLOPES: usize = 4;
/// Most numbers that are drawn together.
const D: usize = GRADES - 1 + SLOPES;
/// Draws about the penalised fit, and then about what those say.
const FIRST: usize = 600;
const DRAWS: usize = 1800;
/// Degrees of freedom of the draws: heavier tails than the fit's normal, so that no draw counts too much.
const TAILS: f64 = 6.0;
/// Sessions that are read, and the gap in days after which a bird begins anew (a moult).
const MOST_SESSIONS: usize = 80;
const NEW_SEASON_DAYS: f64 = 45.0;
/// Log-odds between neighbouring grades; spread of its logarithm between keepers, and between the grades of one. C.
const SPACING: f64 = 1.3;
const SPACING_KEEPERS: f64 = 0.5;
const SPACING_GRADES: f64 = 0.5;
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

/// Draws of a heavy-tailed standard distribution, made once; the same for every bird and every run.
static STANDARDS: LazyLock<Vec<[f64; D + 1]>> = LazyLock::new(|| {
    let mut rng = fastrand::Rng::with_seed(0x5eed);
    let mut pair = || {
        let radius = (-2.0 * (1.0 - rng.f64()).ln()).sqrt();
        let (sin, cos) = (std::f64::consts::TAU * rng.f64()).sin_cos();
        [radius * cos, radius * sin]
    };
    let half: Vec<[f64; D + 1]> = (0..(FIRST + DRAWS) / 2)
        .map(|_| {
            let mut draw = [0.0; D + 1];
            for two in draw[..D].chunks_mut(2) {
                two.copy_from_slice(&pair()[..two.len()]);
            }
            // The last number stretches the draw: a chi-square of `TAILS`, by its sum of squares.
            let chi: f64 = (0..TAILS as usize / 2).map(|_| pair().map(|x| x * x).iter().sum::<f64>()).sum();
            draw[D] = (TAILS / chi).sqrt();
            draw
        })
        .collect();
    // Each draw and its mirror image: the middle is then exact.
    half.iter()
        .flat_map(|d| {
            let mut mirror = d.map(|x| -x);
            mirror[D] = d[D];
            [*d, mirror]
        })
        .collect()
});

/// How a keeper uses the grades: one that is never given has no place of its own.
struct Marks {
    /// Place of each grade, 1 to 5.
    place: [usize; GRADES],
    /// Thresholds between the places.
    cuts: usize,
    /// The threshold between fair and good.
    good_cut: usize,
    /// What a spoilt session gives, by place.
    spoilt: Vec<f64>,
}

impl Marks {
    fn of(sessions: &[Session]) -> Self {
        let lowest = sessions.iter().map(|s| s.grade).min().unwrap_or(GOOD);
        // Grades under the lowest given may only not have come up yet.
        let given: Vec<u8> = (1..=GRADES as u8)
            .filter(|g| (*g < lowest && *g < GOOD) || sessions.iter().any(|s| s.grade == *g))
            .collect();
        let poor = given.iter().filter(|g| **g < GOOD).count();
        let mut place = [0; GRADES];
        for (i, place) in place.iter_mut().enumerate() {
            let grade = i as u8 + 1;
            let (from, to) = if grade < GOOD { (0, poor) } else { (poor, given.len()) };
            *place = (from..to).rev().find(|&k| given[k] <= grade).unwrap_or(from);
        }
        let mut spoilt = vec![0.0; given.len()];
        for (place, share) in place.iter().zip(SPOILT) {
            spoilt[*place] += share;
        }
        Self { place, cuts: given.len() - 1, good_cut: poor - 1, spoilt }
    }
}

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
    let marks = Marks::of(&sessions);
    let (cuts, good_cut) = (marks.cuts, marks.good_cut);
    let [weight, learning, drift, warmth] = [0, 1, 2, 3].map(|k| cuts + k);
    let dimension = cuts + SLOPES;
    // Normal priors near those meant below, for the penalised fit.
    let slope = flying.slope;
    let mut priors = vec![
        Prior::on(good_cut, -target, sd * slope),
        Prior::on(weight, slope, slope * flying.slope_spread),
        Prior::on(learning, UNTRAINED.0, UNTRAINED.1),
        Prior::on(drift, flying.drift_mean * slope, (slope * flying.drift).max(1e-3)),
        Prior::on(warmth, 0.0, 0.5),
    ];
    for cut in 1..cuts {
        let on = vec![(cut, 1.0), (cut - 1, -1.0)];
        priors.push(Prior { on, mean: SPACING, sd: SPACING * 0.7 });
    }
    let normal = |x: f64, mean: f64, sd: f64| -0.5 * ((x - mean) / sd).powi(2);
    // Student's t with four degrees of freedom.
    let student = |x: f64, sd: f64| -2.5 * (1.0 + (x / sd).powi(2) / 4.0).ln();
    let learned = |number: usize, pace: f64| -(-(number as f64 - 1.0) / pace).exp();
    let mut samples: Vec<Sample> = sessions
        .iter()
        .map(|s| Sample {
            x: vec![
                -(s.grams - middle) / percent,
                learned(s.number, PACES[1]),
                (s.time - now) / 7.0,
                s.temperature.map_or(0.0, |t| (t - usual_warmth) / 10.0),
            ],
            grade: marks.place[usize::from(s.grade) - 1],
            weight: 0.5_f64.powf((now - s.time) / flying.half_life_days),
        })
        .collect();
    let fitted = fit(Link::Logit, cuts + 1, SLOPES, &samples, &priors)?;
    let mut about = in_weights(&fitted, good_cut, target)?;
    let mut draws = Vec::with_capacity(DRAWS);
    let (first, rest) = STANDARDS.split_at(FIRST);
    for standards in [first, rest] {
        draws.clear();
        let mut drawn: Vec<(f64, DVector<f64>)> = Vec::with_capacity(standards.len());
        let log_volume: f64 = about.1.diagonal().iter().map(|d| d.ln()).sum();
        for (pace, standards) in PACES.into_iter().zip(standards.chunks_exact(standards.len() / PACES.len()))
        {
            for (session, sample) in sessions.iter().zip(&mut samples) {
                sample.x[1] = learned(session.number, pace);
            }
            for (n, standard) in standards.iter().enumerate() {
                let stretched =
                    DVector::from_iterator(dimension, standard[..dimension].iter().map(|x| x * standard[D]));
                let at = &about.0 + &about.1 * &stretched;
                let (z, s, pull) = (at[good_cut], at[weight].exp(), at[drift]);
                if !(0.02..20.0).contains(&s) {
                    continue;
                }
                let mut thresholds = [0.0; GRADES - 1];
                thresholds[good_cut] = -target - z * s;
                for cut in (0..good_cut).rev() {
                    thresholds[cut] = thresholds[cut + 1] - at[cut].exp();
                }
                for cut in good_cut + 1..cuts {
                    thresholds[cut] = thresholds[cut - 1] + at[cut].exp();
                }
                let slopes = [s, at[learning], pull * s, at[warmth]];
                let mut log = student(z, sd) + student(pull - flying.drift_mean, flying.drift.max(1e-3));
                log += normal(at[weight], slope.ln(), flying.slope_spread);
                log += spacing((0..cuts).filter(|c| *c != good_cut).map(|c| at[c] - SPACING.ln()));
                log += normal(at[learning], UNTRAINED.0, UNTRAINED.1) + normal(at[warmth], 0.0, 0.5);
                // How often a session is spoilt is not known either.
                let lapses = -flying.lapses * (1.0 - (0.5 + 0.618_034 * n as f64).fract()).ln();
                for (session, sample) in sessions.iter().zip(&samples) {
                    let predictor: f64 = sample.x.iter().zip(slopes).map(|(x, b)| x * b).sum();
                    let low = if sample.grade == 0 {
                        f64::NEG_INFINITY
                    } else {
                        thresholds[sample.grade - 1] - predictor
                    };
                    let high = if sample.grade == cuts {
                        f64::INFINITY
                    } else {
                        thresholds[sample.grade] - predictor
                    };
                    let lapse = if session.spoilt { (6.0 * lapses).clamp(0.3, 0.6) } else { lapses.min(0.3) };
                    let p =
                        (1.0 - lapse) * Link::Logit.between(low, high) + lapse * marks.spoilt[sample.grade];
                    log += sample.weight * p.ln();
                }
                // Over the density that the draw came from.
                let r2 = stretched.norm_squared();
                log += 0.5 * (TAILS + dimension as f64) * (1.0 + r2 / TAILS).ln() + log_volume;
                let today = z + at[learning] * learned(next_number, pace) / s;
                draws.push(Draw { share: log, best: middle + today * percent, slope: s / percent });
                drawn.push((log, at));
            }
        }
        if let Some(closer) = moments(&drawn) {
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
    Some(Answering { draws, wanted: flying.wanted, sessions })
}

/// Log density of the logarithms of the spacings between grades: alike within one keeper, unlike between keepers.
fn spacing(logs: impl Iterator<Item = f64>) -> f64 {
    let (mut count, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for log in logs {
        count += 1.0;
        sum += log;
        squares += log * log;
    }
    let (own, shared) = (SPACING_GRADES * SPACING_GRADES, SPACING_KEEPERS * SPACING_KEEPERS);
    -0.5 * (squares - sum * sum * shared / (own + count * shared)) / own
}

/// Turns a fit into the numbers that are drawn: in place of the good threshold the weight it stands for, of the
/// other thresholds the logarithms of their spacings, of the slope its logarithm, of the drift the weight it
/// moves in a week; and the root of their covariance.
fn in_weights(fitted: &Ordinal, good_cut: usize, target: f64) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let cuts = fitted.thresholds.len();
    let (weight, drift) = (cuts, cuts + 2);
    let s = fitted.coefficients[0].max(0.15);
    let mut centre =
        DVector::from_iterator(cuts + SLOPES, fitted.thresholds.iter().chain(&fitted.coefficients).copied());
    let mut turn = DMatrix::identity(cuts + SLOPES, cuts + SLOPES);
    for cut in (0..cuts).filter(|c| *c != good_cut) {
        let (upper, lower) = if cut < good_cut { (cut + 1, cut) } else { (cut, cut - 1) };
        let gap = (fitted.thresholds[upper] - fitted.thresholds[lower]).max(0.1);
        centre[cut] = gap.ln();
        turn[(cut, upper)] = 1.0 / gap;
        turn[(cut, lower)] = -1.0 / gap;
    }
    let z = (-fitted.thresholds[good_cut] - target) / s;
    centre[good_cut] = z;
    turn[(good_cut, good_cut)] = -1.0 / s;
    turn[(good_cut, weight)] = -z / s;
    centre[weight] = s.ln();
    turn[(weight, weight)] = 1.0 / s;
    centre[drift] /= s;
    turn[(drift, drift)] = 1.0 / s;
    turn[(drift, weight)] = -centre[drift] / s;
    let spread = (&turn * &fitted.cov * turn.transpose()).cholesky()?.l();
    Some((centre, spread))
}

/// Weighted mean of the draws, and the root of their covariance; `None` when too few draws count.
fn moments(drawn: &[(f64, DVector<f64>)]) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let top = drawn.iter().map(|d| d.0).fold(f64::NEG_INFINITY, f64::max);
    // Halved in the logarithm, so that no single draw rules; the spread that comes of it is on the wide side.
    let shares: Vec<f64> = drawn.iter().map(|d| (0.5 * (d.0 - top)).exp()).collect();
    let total: f64 = shares.iter().sum();
    let mut mean = DVector::zeros(drawn.first()?.1.len());
    for (share, (_, at)) in shares.iter().zip(drawn) {
        mean.axpy(share / total, at, 1.0);
    }
    let mut cov = DMatrix::zeros(mean.len(), mean.len());
    for (share, (_, at)) in shares.iter().zip(drawn) {
        let off = at - &mean;
        cov.ger(share / total, &off, &off, 1.0);
    }
    Some((mean, cov.cholesky()?.l()))
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

//! The weight of a bird from day to day: tissue and gut apart, food in, energy out, learned per bird.
//!
//! A state-space model. The state holds the tissue mass and what is learned of this bird: what its food is
//! worth, what it spends, how much of a meal still weighs at the next weigh-in, what cold and flying cost,
//! and what its second and third food are worth beside its first. Each enters the weight as a known number
//! times the unknown, so the Kalman filter learns them all together. How noisy the bird and the scale are is
//! not known either: sixteen filters, each with its own pair of noises, run beside each other and count by
//! how well they foresaw the readings. Last, the bands are set by how the bird's own past weigh-ins fell
//! within them. Absent: advice.

use crate::record::{Meal, Record, Row};
use crate::solve::kalman::Belief;
use crate::{Energy, Settings};
use nalgebra::{SMatrix, SVector};
use statrs::function::erf::erfc;
use std::f64::consts::SQRT_2;

const N: usize = 8;
/// Places in the state.
const TISSUE: usize = 0;
const FOOD: usize = 1;
const SPEND: usize = 2;
const GUT: usize = 3;
const COLD: usize = 4;
const FLYING: usize = 5;
const OTHERS: [usize; 2] = [6, 7];

type State = SVector<f64, N>;
/// Daily wander of tissue, as a share of weight.
const WANDERS: [f64; 4] = [0.0010, 0.0022, 0.0048, 0.0105];
/// Noise of one weigh-in, as a share of weight.
const NOISES: [f64; 4] = [0.0006, 0.0016, 0.0040, 0.0090];
/// Usual wander and noise, and the spreads of their logarithms between birds, keepers and scales. C.
const USUAL_WANDER: (f64, f64) = (0.0045, 1.1);
const USUAL_NOISE: (f64, f64) = (0.0030, 1.1);
/// What food can be worth beside the table and the usual tissue: tissue of 8 to 30 kJ/g for 17, food give or take an
/// eighth (see [`Energy`]).
const LEAST_WORTH: f64 = 0.5;
const MOST_WORTH: f64 = 2.4;
/// Standard deviations off the forecast from which a reading teaches no more, however far it lies; and from which it is
/// as likely a slip of the pen as a change of the bird. C.
const SURPRISE: f64 = 3.0;
const FAR_OUT: f64 = 5.0;
const FILTERS: usize = WANDERS.len() * NOISES.len();
/// Days of the record that are read; what was longer ago says little about now.
const WINDOW_DAYS: f64 = 300.0;
/// What a bird eats in a day at most, as a multiple of what holds it. C.
const MOST_EATEN: f64 = 2.0;
/// Longest gap between two records over which food and spending are still reckoned, days.
const LONGEST_COUNTED: f64 = 14.0;
/// Weigh-ins among which the deepest fall is looked for, and what it counts for at most, standard deviations. C.
const LAST_FALLS: usize = 60;
const DEEPEST: f64 = 4.0;
/// Weigh-ins that the stated level counts for, beside the bird's own, in setting its bands.
const TRUST_IN_LEVEL: f64 = 30.0;

/// A meal's leftovers and worth while it passes.
#[derive(Clone, Copy, Debug, Default)]
struct Passing {
    /// Mass in the gut, grams.
    grams: f64,
    /// Energy not yet absorbed: first food and all others, second, third. The second and third are also in
    /// the first figure.
    kcal: [f64; 3],
}

/// A weigh-in as it was foreseen and as it came.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Check {
    /// Row of the weigh-in.
    pub row: usize,
    /// What was foreseen.
    pub expected: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// What came.
    pub actual: f64,
    /// Change foreseen since the filtered weight before.
    pub expected_change: f64,
    /// Days since the weigh-in before.
    pub days: f64,
    /// Whether all food since then was known.
    pub food_known: bool,
    /// How central the reading fell, 0 the middle, 1 far out.
    rank: f64,
}

/// A weight foreseen: a mixture of normals, one a filter.
#[derive(Clone, Debug)]
pub(crate) struct Foreseen {
    parts: [(f64, f64, f64); FILTERS],
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

impl Foreseen {
    fn new(parts: [(f64, f64, f64); FILTERS]) -> Self {
        let mean = parts.iter().map(|(w, m, _)| w * m).sum::<f64>();
        let var = parts.iter().map(|(w, m, s)| w * (s * s + (m - mean).powi(2))).sum::<f64>();
        Self { parts, mean, sd: var.sqrt() }
    }
    /// Chance that the weight lies within `miss` of the mean.
    fn within(&self, miss: f64) -> f64 {
        let below =
            |x: f64| self.parts.iter().map(|(w, m, s)| w * 0.5 * erfc((m - x) / (s * SQRT_2))).sum::<f64>();
        (below(self.mean + miss) - below(self.mean - miss)).clamp(0.0, 1.0)
    }
    /// Half-width about the mean that holds the weight with this chance.
    pub fn half_width(&self, chance: f64) -> f64 {
        let (mut low, mut high) = (0.0, 8.0 * self.sd);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if self.within(middle) < chance { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }
}

/// The sixteen filters after the last row, and how they did on the way.
pub(crate) struct Weighing<'a> {
    settings: &'a Settings,
    beliefs: [Belief<N>; FILTERS],
    weights: [f64; FILTERS],
    passing: Passing,
    /// Foods with a worth of their own: the second and third most usual.
    others: [Option<String>; 2],
    noises: [(f64, f64); FILTERS],
    /// Typical energy of a day's food, for days on which it is unknown.
    typical_kcal: f64,
    /// Typical temperature, for days on which it is unknown.
    typical_c: Option<f64>,
    moulting_until: f64,
    /// Filtered weight after the last row, gut included.
    pub now: f64,
    /// Every weigh-in that could be foreseen.
    pub checks: Vec<Check>,
    /// Last row with a weight.
    pub weighed: usize,
    last: Row,
}

/// Runs the filters over a record; `None` when it holds no weight.
pub(crate) fn weigh<'a>(record: &Record<'_>, settings: &'a Settings) -> Option<Weighing<'a>> {
    let rows = &record.rows;
    let from = record.last().time - WINDOW_DAYS;
    let first = rows.iter().position(|r| r.grams.is_some() && r.time >= from)?;
    let rows = &rows[first..];
    let start = rows[0].grams?;
    let energy = &settings.energy;
    let mut weighing = Weighing::start(rows, start, record.step, settings);
    let mut filtered_before = start;
    let mut weighed_at = rows[0].time;
    let mut known = true;
    for (i, pair) in rows.windows(2).enumerate() {
        let (row, next) = (&pair[0], &pair[1]);
        weighing.note_habits(row, energy);
        known &= matches!(row.meal, Meal::Known(_));
        weighing.pass(row, next.time - row.time);
        let Some(actual) = next.grams else { continue };
        let days = next.time - weighed_at;
        weighing.take_in(next, actual, first + i + 1, filtered_before, days, known);
        filtered_before = weighing.now;
        weighed_at = next.time;
        known = true;
    }
    weighing.note_habits(&rows[rows.len() - 1], energy);
    weighing.last = rows[rows.len() - 1].clone();
    Some(weighing)
}

/// The second and third most usual foods; the last row stays out, as nothing has been learned from it.
fn usual_others(rows: &[Row]) -> [Option<String>; 2] {
    let mut counts: Vec<(usize, &str)> = Vec::new();
    for row in &rows[..rows.len() - 1] {
        let Meal::Known(eaten) = &row.meal else { continue };
        for e in eaten.iter().filter(|e| e.kcal > 0.0) {
            match counts.iter_mut().find(|(_, item)| *item == e.item) {
                Some((count, _)) => *count += 1,
                None => counts.push((1, &e.item)),
            }
        }
    }
    counts.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.cmp(b.1)));
    let nth = |n: usize| counts.get(n).filter(|c| c.0 >= 2).map(|c| c.1.to_string());
    [nth(1), nth(2)]
}

impl<'a> Weighing<'a> {
    fn start(rows: &[Row], start: f64, step: f64, settings: &'a Settings) -> Self {
        let energy = &settings.energy;
        let rounding = step * step / 12.0;
        // Small birds turn over more of themselves in a day.
        let size = (start / 1000.0).powf(-0.2).clamp(0.7, 2.0);
        let mut noises = [(0.0, 0.0); FILTERS];
        let mut weights = [0.0; FILTERS];
        let typical_kcal = energy.maintenance(start);
        let passing = Passing {
            grams: 0.09 * start * (-24.0 / energy.passage_hours).exp(),
            kcal: [typical_kcal * (-24.0 / energy.passage_hours).exp(), 0.0, 0.0],
        };
        let (a, m, f) = (energy.tissue_spread, energy.maintenance_spread, energy.food_spread);
        let mut cov = SMatrix::<f64, N, N>::zeros();
        cov[(FOOD, FOOD)] = a * a;
        cov[(SPEND, SPEND)] = a * a + m * m;
        cov[(FOOD, SPEND)] = a * a;
        cov[(SPEND, FOOD)] = a * a;
        cov[(GUT, GUT)] = 0.6 * 0.6;
        cov[(COLD, COLD)] = 0.3 * 0.3;
        cov[(FLYING, FLYING)] = 0.08 * 0.08;
        for other in OTHERS {
            cov[(other, other)] = f * f;
        }
        let mut beliefs = [Belief { mean: State::zeros(), cov }; FILTERS];
        for (i, belief) in beliefs.iter_mut().enumerate() {
            let (wander, noise) = (WANDERS[i / NOISES.len()], NOISES[i % NOISES.len()]);
            let log_prior =
                |value: f64, (middle, spread): (f64, f64)| -0.5 * ((value / middle).ln() / spread).powi(2);
            weights[i] = (log_prior(wander, USUAL_WANDER) + log_prior(noise, USUAL_NOISE)).exp();
            let (wander, noise) =
                ((wander * size * start).powi(2), (noise * size * start).powi(2) + rounding);
            noises[i] = (wander, noise);
            belief.mean[TISSUE] = start - passing.grams;
            belief.mean[FOOD] = 1.0;
            belief.mean[SPEND] = 1.0;
            belief.mean[GUT] = 1.0;
            belief.mean[COLD] = energy.cold_share;
            belief.cov[(TISSUE, TISSUE)] = noise + (0.004 * start).powi(2);
        }
        let total: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|w| *w /= total);
        Self {
            settings,
            beliefs,
            weights,
            passing,
            others: usual_others(rows),
            noises,
            typical_kcal,
            typical_c: None,
            moulting_until: f64::NEG_INFINITY,
            now: start,
            checks: Vec::new(),
            weighed: 0,
            last: rows[0].clone(),
        }
    }

    /// Learns what is usual for days that are not noted.
    fn note_habits(&mut self, row: &Row, energy: &Energy) {
        if let Some(kcal) = row.meal.kcal().filter(|k| *k < 4.0 * energy.maintenance(self.now)) {
            self.typical_kcal += 0.1 * (kcal - self.typical_kcal);
        }
        if let Some(celsius) = row.temperature {
            let typical = self.typical_c.get_or_insert(celsius);
            *typical += 0.1 * (celsius - *typical);
        }
        match row.sign(note::Sign::Moult) {
            Some("finished") => self.moulting_until = row.time,
            Some(_) => self.moulting_until = row.time + 30.0,
            None => {}
        }
    }

    /// What the row's day does to the tissue, as factors of the state; what is then left passing; and how much
    /// variance it adds, in grams squared.
    fn day(&self, row: &Row, days: f64, meal: &Meal) -> (State, Passing, f64) {
        let energy = &self.settings.energy;
        let worth = energy.tissue_kcal();
        let need = energy.maintenance(self.now.max(20.0));
        let mut passing = self.passing;
        let mut doubt = 0.0;
        // Over a gap in the record nothing is counted for longer than this; the bird may be anything after it.
        if days > LONGEST_COUNTED {
            doubt += (0.15 * self.now).powi(2);
        }
        let days = days.min(LONGEST_COUNTED);
        match meal {
            // One meal before a gap of days is not all that was eaten in it.
            Meal::Known(eaten) if days < 2.5 || meal.kcal().is_some_and(|k| k > 0.4 * need * days) => {
                for e in eaten {
                    passing.grams += e.grams;
                    passing.kcal[0] += e.kcal;
                    for (k, other) in self.others.iter().enumerate() {
                        if other.as_deref() == Some(&*e.item) {
                            passing.kcal[k + 1] += e.kcal;
                        }
                    }
                }
            }
            Meal::Known(_) | Meal::Unknown { .. } => {
                // Days without a note of food: what is usual, give or take half.
                let kcal = self.typical_kcal * days;
                passing.kcal[0] += kcal;
                passing.grams += self.typical_kcal * days.min(1.5) / 1.15;
                doubt += (0.45 * self.typical_kcal / worth).powi(2) * days.max(1.0);
            }
        }
        let left = (-days * 24.0 / energy.passage_hours).exp();
        let absorbed = passing.kcal.map(|k| k * (1.0 - left));
        passing.grams *= left;
        passing.kcal = passing.kcal.map(|k| k * left);
        let moult = if row.time <= self.moulting_until { 1.0 + energy.moult_share } else { 1.0 };
        let (mut flight, mut flights) = (0.0, 0.0);
        if row.flown.any && row.flown.count > 0.0 {
            let metres = row.flown.longest_m.unwrap_or(30.0).min(2000.0) * 0.7 * row.flown.count.min(60.0);
            flight = energy.flight_kcal(self.now.max(20.0), metres);
            flights = row.flown.count.min(40.0) / 10.0;
        }
        let cold =
            row.temperature.or(self.typical_c).map_or(0.0, |c| energy.cold_kcal(self.now.max(20.0), c));
        let mut gain = State::zeros();
        gain[FOOD] = absorbed[0] / worth;
        gain[SPEND] = -(need * moult * days + flight) / worth;
        gain[COLD] = -cold * days / worth;
        gain[FLYING] = -need * flights / worth;
        for (k, other) in OTHERS.into_iter().enumerate() {
            gain[other] = absorbed[k + 1] / worth;
        }
        (gain, passing, doubt)
    }

    fn pass(&mut self, row: &Row, days: f64) {
        let (gain, passing, mut doubt) = self.day(row, days, &row.meal);
        // More than a bird eats is likely a slip of the pen.
        let energy = &self.settings.energy;
        let most = MOST_EATEN * energy.maintenance(self.now.max(20.0)) * days.max(1.0);
        let excess = row.meal.kcal().map_or(0.0, |kcal| (kcal - most).max(0.0));
        doubt += (excess / energy.tissue_kcal()).powi(2);
        for (belief, (wander, _)) in self.beliefs.iter_mut().zip(&self.noises) {
            *belief = belief.drive(&gain, &slow(wander * days + doubt, days));
        }
        self.passing = passing;
    }

    fn reading(&self) -> State {
        let mut design = State::zeros();
        design[TISSUE] = 1.0;
        design[GUT] = self.passing.grams;
        design
    }

    fn take_in(&mut self, row: &Row, actual: f64, index: usize, before: f64, days: f64, food_known: bool) {
        let design = self.reading();
        // A crop not empty or a casting not up weighs; how much is not known.
        let fill = row.crop() * 0.03 + if row.casting_missing() { 0.01 } else { 0.0 };
        let mut extra = (fill * self.now).powi(2);
        let mut parts = [(0.0, 0.0, 0.0); FILTERS];
        for (i, part) in parts.iter_mut().enumerate() {
            let seen = self.beliefs[i].foresee(&design, self.noises[i].1 + extra);
            *part = (self.weights[i], seen.mean, seen.var.sqrt());
        }
        let foreseen = Foreseen::new(parts);
        let miss = actual - foreseen.mean;
        let rank = foreseen.within(miss.abs());
        self.checks.push(Check {
            row: index,
            expected: foreseen.mean,
            sd: foreseen.sd,
            actual,
            expected_change: foreseen.mean - before,
            days,
            food_known,
            rank,
        });
        // A surprise is food that was noted wrongly, or not at all: the weight moves with it, but what is learned of the
        // bird moves no more than at the edge. Far out, the reading itself may be wrong: believe half of each.
        let surprise = miss.abs() / foreseen.sd;
        let mut jump = foreseen.sd.powi(2) * (surprise / SURPRISE - 1.0).max(0.0);
        if surprise > FAR_OUT {
            jump *= 0.5;
            extra += jump;
        }
        for i in 0..FILTERS {
            let belief = &mut self.beliefs[i];
            belief.cov[(TISSUE, TISSUE)] += jump;
            let noise = self.noises[i].1 + extra;
            let seen = belief.foresee(&design, noise);
            let likelihood = seen.log_density(actual).exp();
            *belief = belief.update(&design, noise, actual);
            belief.hold_within(FOOD, LEAST_WORTH, MOST_WORTH);
            // Old weigh-ins are slowly forgotten, so that a bird may become calmer or wilder.
            self.weights[i] = self.weights[i].max(1e-12).powf(0.99) * likelihood.max(1e-300);
        }
        let total: f64 = self.weights.iter().sum();
        self.weights.iter_mut().for_each(|w| *w /= total);
        self.now = self.weights.iter().zip(&self.beliefs).map(|(w, b)| w * design.dot(&b.mean)).sum();
        self.weighed = index;
    }

    /// Foresees the weigh-in `days` after the last row if `meal` is what is eaten until then.
    pub fn ahead(&self, days: f64, meal: &Meal) -> Foreseen {
        let (gain, passing, doubt) = self.day(&self.last, days, meal);
        let mut design = State::zeros();
        design[TISSUE] = 1.0;
        design[GUT] = passing.grams;
        let mut parts = [(0.0, 0.0, 0.0); FILTERS];
        for (i, part) in parts.iter_mut().enumerate() {
            let mut belief = self.beliefs[i];
            // Food never takes weight off a bird, whatever a few odd days seem to say.
            belief.hold_within(FOOD, LEAST_WORTH, MOST_WORTH);
            belief.mean[GUT] = belief.mean[GUT].max(0.0);
            for other in OTHERS {
                belief.mean[other] = belief.mean[other].max(0.05 - belief.mean[FOOD]);
            }
            let (wander, noise) = self.noises[i];
            let seen = belief.drive(&gain, &slow(wander * days + doubt, days)).foresee(&design, noise);
            *part = (self.weights[i], seen.mean, seen.var.sqrt());
        }
        Foreseen::new(parts)
    }

    /// The deepest that one of the bird's last weigh-ins fell under what was foreseen, in standard deviations;
    /// one so deep that it may be a slip of the pen counts for less.
    pub fn deepest_fall(&self) -> f64 {
        let last = self.checks.iter().rev().filter(|c| c.food_known).take(LAST_FALLS);
        last.map(|c| ((c.expected - c.actual) / c.sd).min(DEEPEST)).fold(0.0, f64::max)
    }

    /// The chance to ask of a foreseen weight so that its band holds `level` of this bird's weigh-ins.
    pub fn honest(&self, level: f64) -> f64 {
        let mut ranks: Vec<f64> =
            self.checks.iter().rev().filter(|c| c.food_known).take(120).map(|c| c.rank).collect();
        let count = ranks.len() as f64;
        if ranks.is_empty() {
            return level;
        }
        ranks.sort_by(f64::total_cmp);
        let place = level * (count + 1.0) - 1.0;
        let (low, high) = (place.floor().clamp(0.0, count - 1.0), place.ceil().clamp(0.0, count - 1.0));
        let own =
            ranks[low as usize] + (place - place.floor()) * (ranks[high as usize] - ranks[low as usize]);
        ((TRUST_IN_LEVEL * level + count * own) / (TRUST_IN_LEVEL + count)).clamp(0.5, 0.995)
    }

    /// What the bird is thought to spend a day now, kcal of food as the table counts it.
    pub fn need_kcal(&self, celsius: Option<f64>) -> f64 {
        let energy = &self.settings.energy;
        let mean = |k: usize| self.weights.iter().zip(&self.beliefs).map(|(w, b)| w * b.mean[k]).sum::<f64>();
        let cold = celsius.or(self.typical_c).map_or(0.0, |c| energy.cold_kcal(self.now.max(20.0), c));
        let spent = mean(SPEND) * energy.maintenance(self.now.max(20.0)) + mean(COLD) * cold;
        let prior = energy.maintenance(self.now.max(20.0));
        (spent / mean(FOOD).max(LEAST_WORTH)).clamp(0.4 * prior, 2.5 * prior)
    }
}

/// How much the state may change by itself in some days: tissue by `wander`, what is learned a little.
fn slow(wander: f64, days: f64) -> State {
    let days = days.min(60.0);
    let mut noise = State::zeros();
    noise[TISSUE] = wander;
    noise[FOOD] = 0.006 * 0.006 * days;
    noise[SPEND] = 0.012 * 0.012 * days;
    noise[COLD] = 0.005 * 0.005 * days;
    noise
}

//! The model of the answers: what is believed before, and how likely the grades are on a curve.

use super::Session;
use super::draw::SLOPES;
use super::marks::{self, Marks};
use super::moods::{Course, MOODS, Moods};
use crate::Flying;
use crate::solve::ordinal::{Prior, Sample};
use nalgebra::DVector;

/// Log-odds that an untrained bird lacks: middle and spread. C.
const UNTRAINED: (f64, f64) = (1.5, 1.2);
/// Sessions in which two thirds of it is learned, for the penalised fit.
const USUAL_PACE: f64 = 7.0;
/// Spread of the log-odds that ten degrees of warmth cost or bring. C.
const WARMTH_SPREAD: f64 = 0.4;
/// Log-odds between good answers and poor ones under which a curve is none, and over which it is a wall.
const SLOPE_BETWEEN: std::ops::Range<f64> = 0.02..20.0;
/// Share of sessions spoilt: at most, of those not noted as spoilt; least and most, of those noted so; and how many
/// times as often the latter are. C.
const MOST_LAPSES: f64 = 0.3;
const NOTED_LAPSES: (f64, f64) = (0.3, 0.6);
const NOTED: f64 = 6.0;

/// Degrees of freedom of what is believed of the flying weight and of its drift: tails heavier than the normal's. C.
const PLACE_TAILS: f64 = 6.0;
const DRIFT_TAILS: f64 = 4.0;
/// Odds beside those at the flying weight below which a bird is not led by hunger in these sums.
const LEAST_ODDS: f64 = 0.003;

/// The sessions of one bird made ready, with what is believed before any answer.
pub(super) struct Curve<'a> {
    sessions: &'a [Session],
    flying: &'a Flying,
    pub marks: Marks,
    /// Weight, learning, weeks before now and warmth of each session, with its grade and how much it counts.
    pub samples: Vec<Sample>,
    /// Log-odds of the wanted chance.
    pub target: f64,
    /// Flying weight believed before any answer, grams, and its spread in per cent.
    middle: f64,
    sd: f64,
    course: Vec<Course>,
}

/// Minus the share of the learning that is still lacking at a session.
pub(super) fn learned(number: usize, pace: f64) -> f64 {
    -(-(number as f64 - 1.0) / pace).exp()
}

fn normal(x: f64, (mean, sd): (f64, f64)) -> f64 {
    -0.5 * ((x - mean) / sd).powi(2)
}

/// Student's t.
fn student(x: f64, sd: f64, freedom: f64) -> f64 {
    -0.5 * (freedom + 1.0) * (1.0 + (x / sd).powi(2) / freedom).ln()
}

impl<'a> Curve<'a> {
    /// Makes the sessions ready about the flying weight believed before, in grams, with its spread in grams.
    pub fn about(sessions: &'a [Session], flying: &'a Flying, (middle, sd): (f64, f64)) -> Self {
        let marks = Marks::of(sessions);
        let percent = middle / 100.0;
        let warm: Vec<f64> = sessions.iter().filter_map(|s| s.temperature).collect();
        let usual = warm.iter().sum::<f64>() / warm.len().max(1) as f64;
        let now = sessions.last().map_or(0.0, |s| s.time);
        let samples = sessions
            .iter()
            .map(|s| Sample {
                x: vec![
                    -(s.grams - middle) / percent,
                    learned(s.number, USUAL_PACE),
                    (s.time - now) / 7.0,
                    s.temperature.map_or(0.0, |t| (t - usual) / 10.0),
                ],
                grade: marks.place[usize::from(s.grade) - 1],
                weight: 0.5_f64.powf((now - s.time) / flying.half_life_days),
            })
            .collect();
        let target = (flying.wanted / (1.0 - flying.wanted)).ln();
        let course = Course::of(sessions);
        Self { sessions, flying, marks, samples, target, middle, sd: sd / percent, course }
    }

    /// Normal priors near those of [`Self::log_density`], for the penalised fit.
    pub fn priors(&self) -> Vec<Prior> {
        let (flying, cuts) = (self.flying, self.marks.cuts);
        let slope = flying.slope;
        let mut priors = vec![
            Prior::on(self.marks.good_cut, -self.target, self.sd * slope),
            Prior::on(cuts, slope, slope * flying.slope_spread),
            Prior::on(cuts + 1, UNTRAINED.0, UNTRAINED.1),
            Prior::on(cuts + 2, flying.drift_mean * slope, (slope * flying.drift).max(1e-3)),
            Prior::on(cuts + 3, 0.0, WARMTH_SPREAD),
        ];
        for cut in 1..cuts {
            let on = vec![(cut, 1.0), (cut - 1, -1.0)];
            priors.push(Prior { on, mean: marks::SPACING, sd: marks::SPACING * 0.7 });
        }
        priors
    }

    /// Log density of a draw, up to a constant; `None` for a curve as flat or as steep as none is.
    pub fn log_density(&self, at: &DVector<f64>, moods: &Moods) -> Option<f64> {
        let (flying, cuts, good_cut) = (self.flying, self.marks.cuts, self.marks.good_cut);
        let [weight, learning, drift, warmth]: [usize; SLOPES] = [0, 1, 2, 3].map(|k| cuts + k);
        let (z, s, pull) = (at[good_cut], at[weight].exp(), at[drift]);
        if !SLOPE_BETWEEN.contains(&s) {
            return None;
        }
        // The odds against passing each threshold, beside those against the good one; the lowest grade passes none.
        let mut odds = [1.0; super::GRADES + 1];
        let passing = &mut odds[1..=cuts];
        for cut in (0..good_cut).rev() {
            passing[cut] = passing[cut + 1] * (-at[cut].exp()).exp();
        }
        for cut in good_cut + 1..cuts {
            passing[cut] = passing[cut - 1] * at[cut].exp().exp();
        }
        odds[0] = 0.0;
        let mut log = student(z, self.sd, PLACE_TAILS);
        log += student(pull - flying.drift_mean, flying.drift.max(1e-3), DRIFT_TAILS);
        log += normal(at[weight], (flying.slope.ln(), flying.slope_spread));
        log += marks::spacing((0..cuts).filter(|c| *c != good_cut).map(|c| at[c]));
        log += normal(at[learning], UNTRAINED) + normal(at[warmth], (0.0, WARMTH_SPREAD));
        let often = (NOTED * moods.lapses).clamp(NOTED_LAPSES.0, NOTED_LAPSES.1);
        // What the moods of the day are believed to be, given the grades so far.
        let mut belief = MOODS;
        for ((session, sample), course) in self.sessions.iter().zip(&self.samples).zip(&self.course) {
            let over = -sample.x[0] - z - pull * sample.x[2];
            let ease = at[learning] * course.lacking[moods.pace] + at[warmth] * sample.x[3];
            let against = moods.against(s * over) * (-ease).exp();
            let lapse = if session.spoilt { often } else { moods.lapses.min(MOST_LAPSES) };
            let kept = course.kept[moods.memory];
            let (low, high) = (odds[sample.grade], odds[sample.grade + 1]);
            let wrong = lapse * self.marks.spoilt[sample.grade];
            let mut p = 0.0;
            for ((belief, mood), factor) in belief.iter_mut().zip(MOODS).zip(moods.factors) {
                let a = against * factor;
                let right = if sample.grade == cuts { 1.0 } else { (high - low) * a / (1.0 + high * a) };
                *belief = (kept * *belief + (1.0 - kept) * mood)
                    * ((1.0 - lapse) * right / (1.0 + low * a) + wrong);
                p += *belief;
            }
            let p = p.max(1e-300);
            belief.iter_mut().for_each(|b| *b /= p);
            log += sample.weight * p.ln();
        }
        log.is_finite().then_some(log)
    }

    /// Weight of the wanted chance at the next session, grams, and the log-odds lost by each gram above it in one mood.
    pub fn today(&self, at: &DVector<f64>, moods: &Moods) -> (f64, f64) {
        let (percent, s) = (self.middle / 100.0, at[self.marks.cuts].exp());
        let lacking = self.course.last().map_or(0.0, |c| c.lacking[moods.pace]);
        // Of what is not yet learned, hunger must make up, as far as it can.
        let bare = moods.wanted * (at[self.marks.cuts + 1] * lacking).exp() - moods.least;
        let odds = (bare / (moods.wanted - moods.least)).max(LEAST_ODDS);
        let over = at[self.marks.good_cut] + odds.ln() / s;
        (self.middle + over * percent, s / percent)
    }
}

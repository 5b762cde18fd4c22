//! The model of the answers: what is believed before, and how likely the grades are on a curve.

use super::draw::SLOPES;
use super::marks::{self, Marks};
use super::{PACES, Session};
use crate::Flying;
use crate::solve::ordinal::{Link, Prior, Sample};
use nalgebra::DVector;

/// Log-odds that an untrained bird lacks: middle and spread. C.
const UNTRAINED: (f64, f64) = (1.5, 1.5);
/// Spread of the log-odds that ten degrees of warmth cost or bring. C.
const WARMTH_SPREAD: f64 = 0.5;
/// Share of sessions spoilt: at most, of those not noted as spoilt; least and most, of those noted so; and how many
/// times as often the latter are. C.
const MOST_LAPSES: f64 = 0.3;
const NOTED_LAPSES: (f64, f64) = (0.3, 0.6);
const NOTED: f64 = 6.0;

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
}

fn learned(number: usize, pace: f64) -> f64 {
    -(-(number as f64 - 1.0) / pace).exp()
}

fn normal(x: f64, (mean, sd): (f64, f64)) -> f64 {
    -0.5 * ((x - mean) / sd).powi(2)
}

/// Student's t with four degrees of freedom.
fn student(x: f64, sd: f64) -> f64 {
    -2.5 * (1.0 + (x / sd).powi(2) / 4.0).ln()
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
                    learned(s.number, PACES[1]),
                    (s.time - now) / 7.0,
                    s.temperature.map_or(0.0, |t| (t - usual) / 10.0),
                ],
                grade: marks.place[usize::from(s.grade) - 1],
                weight: 0.5_f64.powf((now - s.time) / flying.half_life_days),
            })
            .collect();
        let target = (flying.wanted / (1.0 - flying.wanted)).ln();
        Self { sessions, flying, marks, samples, target, middle, sd: sd / percent }
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

    /// Takes another pace of learning, in sessions.
    pub fn learn_at(&mut self, pace: f64) {
        for (session, sample) in self.sessions.iter().zip(&mut self.samples) {
            sample.x[1] = learned(session.number, pace);
        }
    }

    /// Log density of a draw, up to a constant; `None` for a curve as flat or as steep as none is.
    pub fn log_density(&self, at: &DVector<f64>, lapses: f64) -> Option<f64> {
        let (flying, cuts, good_cut) = (self.flying, self.marks.cuts, self.marks.good_cut);
        let [weight, learning, drift, warmth]: [usize; SLOPES] = [0, 1, 2, 3].map(|k| cuts + k);
        let (z, s, pull) = (at[good_cut], at[weight].exp(), at[drift]);
        if !(0.02..20.0).contains(&s) {
            return None;
        }
        let mut thresholds = [0.0; super::GRADES - 1];
        thresholds[good_cut] = -self.target - z * s;
        for cut in (0..good_cut).rev() {
            thresholds[cut] = thresholds[cut + 1] - at[cut].exp();
        }
        for cut in good_cut + 1..cuts {
            thresholds[cut] = thresholds[cut - 1] + at[cut].exp();
        }
        let mut log = student(z, self.sd) + student(pull - flying.drift_mean, flying.drift.max(1e-3));
        log += normal(at[weight], (flying.slope.ln(), flying.slope_spread));
        log += marks::spacing((0..cuts).filter(|c| *c != good_cut).map(|c| at[c]));
        log += normal(at[learning], UNTRAINED) + normal(at[warmth], (0.0, WARMTH_SPREAD));
        let slopes = [s, at[learning], pull * s, at[warmth]];
        let often = (NOTED * lapses).clamp(NOTED_LAPSES.0, NOTED_LAPSES.1);
        for (session, sample) in self.sessions.iter().zip(&self.samples) {
            let predictor: f64 = sample.x.iter().zip(slopes).map(|(x, b)| x * b).sum();
            let grade = sample.grade;
            let low = if grade == 0 { f64::NEG_INFINITY } else { thresholds[grade - 1] - predictor };
            let high = if grade == cuts { f64::INFINITY } else { thresholds[grade] - predictor };
            let lapse = if session.spoilt { often } else { lapses.min(MOST_LAPSES) };
            let p = (1.0 - lapse) * Link::Logit.between(low, high) + lapse * self.marks.spoilt[grade];
            log += sample.weight * p.ln();
        }
        Some(log)
    }

    /// Weight of the wanted chance at the next session, grams, and the log-odds lost by each gram above it.
    pub fn today(&self, at: &DVector<f64>, pace: f64) -> (f64, f64) {
        let (percent, s) = (self.middle / 100.0, at[self.marks.cuts].exp());
        let next = self.sessions.last().map_or(1, |s| s.number + 1);
        let over = at[self.marks.good_cut] + at[self.marks.cuts + 1] * learned(next, pace) / s;
        (self.middle + over * percent, s / percent)
    }
}

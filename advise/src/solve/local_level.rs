//! The local level: a level that wanders, read with noise, days missing or not.
//!
//! Durbin & Koopman 2012, ch. 2. The start is diffuse: the first reading sets the level.

use super::kalman::{Belief, Foreseen};
use nalgebra::{SMatrix, SVector};

/// One step of a series: how long since the step before, and the reading if there was one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Time since the step before, in the unit of [`LocalLevel::wander`]; of no meaning in the first.
    pub gap: f64,
    /// The reading.
    pub reading: Option<f64>,
}

/// A level with its variance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// Mean.
    pub mean: f64,
    /// Variance.
    pub var: f64,
}

/// The two variances of a local level model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalLevel {
    /// Variance of one reading.
    pub noise: f64,
    /// Variance that the level gathers in a unit of time.
    pub wander: f64,
}

/// A series filtered.
#[derive(Clone, Debug, PartialEq)]
pub struct Filtered {
    /// The level after each step's reading; `None` before the first reading.
    pub levels: Vec<Option<Level>>,
    /// Diffuse log-likelihood: the first reading counts for nothing.
    pub log_likelihood: f64,
}

type One = Belief<1>;

/// A series passed through the filter.
struct Pass {
    /// Before and after each step's reading.
    beliefs: Vec<Option<(One, One)>>,
    log_likelihood: f64,
    /// Readings that could be foreseen, and the sum of their squared misses over their variances.
    foreseen: usize,
    squares: f64,
}

fn belief(mean: f64, var: f64) -> One {
    One { mean: SVector::from([mean]), cov: SMatrix::from([[var]]) }
}
fn level(belief: &One) -> Level {
    Level { mean: belief.mean[0], var: belief.cov[(0, 0)] }
}
const STAY: SMatrix<f64, 1, 1> = SMatrix::from_array_storage(nalgebra::ArrayStorage([[1.0]]));
const READ: SVector<f64, 1> = SVector::from_array_storage(nalgebra::ArrayStorage([[1.0]]));

impl LocalLevel {
    fn pass(&self, steps: &[Step]) -> Pass {
        let mut now: Option<One> = None;
        let (mut log_likelihood, mut squares, mut foreseen) = (0.0, 0.0, 0);
        let beliefs = steps
            .iter()
            .map(|step| {
                let before = match now {
                    None => {
                        let start = belief(step.reading?, self.noise);
                        now = Some(start);
                        return Some((start, start));
                    }
                    Some(now) => now.predict(&STAY, &SMatrix::from([[self.wander * step.gap.max(0.0)]])),
                };
                let after = match step.reading {
                    None => before,
                    Some(reading) => {
                        let seen: Foreseen = before.foresee(&READ, self.noise);
                        log_likelihood += seen.log_density(reading);
                        squares += (reading - seen.mean).powi(2) / seen.var;
                        foreseen += 1;
                        before.update(&READ, self.noise, reading)
                    }
                };
                now = Some(after);
                Some((before, after))
            })
            .collect();
        Pass { beliefs, log_likelihood, foreseen, squares }
    }

    /// Filters a series: each level rests on what was read up to then.
    pub fn filter(&self, steps: &[Step]) -> Filtered {
        let pass = self.pass(steps);
        let levels = pass.beliefs.iter().map(|p| p.as_ref().map(|(_, after)| level(after))).collect();
        Filtered { levels, log_likelihood: pass.log_likelihood }
    }

    /// Smooths a series: each level rests on everything that was read.
    pub fn smooth(&self, steps: &[Step]) -> Vec<Option<Level>> {
        let pass = self.pass(steps).beliefs;
        let mut out = vec![None; pass.len()];
        let mut next: Option<(One, One)> = None;
        for (slot, step) in out.iter_mut().zip(&pass).rev() {
            let Some((before, after)) = step else { continue };
            let smoothed = match &next {
                None => *after,
                Some((predicted, smoothed)) => after.smooth(&STAY, predicted, smoothed).unwrap_or(*after),
            };
            *slot = Some(level(&smoothed));
            next = Some((*before, smoothed));
        }
        out
    }

    /// Finds the two variances of greatest likelihood; `None` with fewer than three readings or no spread.
    ///
    /// The scale is concentrated out and the ratio searched; `least_noise` is a variance that the noise is
    /// not taken below, such as that of a scale's own rounding.
    pub fn fit(steps: &[Step], least_noise: f64) -> Option<Self> {
        let score = |log_ratio: f64| {
            let unit = Self { noise: 1.0, wander: log_ratio.exp() };
            let Pass { log_likelihood, foreseen, squares, .. } = unit.pass(steps);
            let count = foreseen as f64;
            let scale = squares / count;
            // The log-likelihood with every variance multiplied by the best scale.
            (log_likelihood + 0.5 * squares - 0.5 * count * scale.ln() - 0.5 * count, scale)
        };
        let readings: Vec<f64> = steps.iter().filter_map(|s| s.reading).collect();
        if readings.len() < 3 || readings.iter().all(|r| (r - readings[0]).abs() < 1e-9) {
            return None;
        }
        let coarse = (-24..=10).map(|i| f64::from(i) * 0.5);
        let best = coarse.max_by(|a, b| score(*a).0.total_cmp(&score(*b).0))?;
        let (mut low, mut high) = (best - 0.5, best + 0.5);
        // Golden section on the bracketed top.
        let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
        for _ in 0..48 {
            let (left, right) = (high - golden * (high - low), low + golden * (high - low));
            if score(left).0 < score(right).0 { low = left } else { high = right }
        }
        let log_ratio = 0.5 * (low + high);
        let noise = score(log_ratio).1;
        Some(Self { noise: noise.max(least_noise), wander: noise * log_ratio.exp() })
    }
}

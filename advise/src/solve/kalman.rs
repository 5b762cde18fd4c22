//! The Kalman filter for one reading at a time, and the fixed-interval smoother.
//!
//! Formulas: Durbin & Koopman, Time Series Analysis by State Space Methods (2nd ed., 2012), ch. 4.

use nalgebra::{SMatrix, SVector};
use std::f64::consts::TAU;

/// What is believed of a state of `N` numbers: mean and covariance of a normal distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Belief<const N: usize> {
    /// Mean.
    pub mean: SVector<f64, N>,
    /// Covariance.
    pub cov: SMatrix<f64, N, N>,
}

/// What a reading is expected to be before it is taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foreseen {
    /// Mean.
    pub mean: f64,
    /// Variance, the reading's own noise included.
    pub var: f64,
}

impl Foreseen {
    /// Returns the log density of a reading.
    pub fn log_density(&self, reading: f64) -> f64 {
        let miss = reading - self.mean;
        -0.5 * (TAU * self.var).ln() - 0.5 * miss * miss / self.var
    }
}

impl<const N: usize> Belief<N> {
    /// Moves the belief on: the state becomes `transition` times itself, plus noise of covariance `noise`.
    pub fn predict(&self, transition: &SMatrix<f64, N, N>, noise: &SMatrix<f64, N, N>) -> Self {
        Self { mean: transition * self.mean, cov: transition * self.cov * transition.transpose() + noise }
    }

    /// Moves the belief on when only the first number of the state changes, by `gain · state`.
    ///
    /// The same as [`Self::predict`] with a transition of one on the diagonal and `gain` added to its first
    /// row, in a fraction of the time.
    pub fn drive(&self, gain: &SVector<f64, N>, noise: &SVector<f64, N>) -> Self {
        let mut next = *self;
        next.mean[0] += gain.dot(&self.mean);
        let cross = self.cov * gain;
        for i in 0..N {
            next.cov[(0, i)] += cross[i];
            next.cov[(i, 0)] += cross[i];
            next.cov[(i, i)] += noise[i];
        }
        next.cov[(0, 0)] += gain.dot(&cross);
        next
    }

    /// Says what a reading `design · state` with noise of variance `noise` will be.
    pub fn foresee(&self, design: &SVector<f64, N>, noise: f64) -> Foreseen {
        Foreseen { mean: design.dot(&self.mean), var: design.dot(&(self.cov * design)) + noise }
    }

    /// Holds the mean of one number of the state between bounds; the others move with it as far as they hang together.
    ///
    /// The projection of Simon, Optimal State Estimation (2006), ch. 7.5, onto one bound.
    pub fn hold_within(&mut self, place: usize, low: f64, high: f64) {
        let off = self.mean[place].clamp(low, high) - self.mean[place];
        let var = self.cov[(place, place)];
        if off != 0.0 && var > 0.0 {
            self.mean += self.cov.column(place) * (off / var);
        }
    }

    /// Takes a reading in.
    pub fn update(&self, design: &SVector<f64, N>, noise: f64, reading: f64) -> Self {
        let seen = self.foresee(design, noise);
        let cross = self.cov * design;
        let mean = self.mean + cross * ((reading - seen.mean) / seen.var);
        let cov = self.cov - cross * cross.transpose() / seen.var;
        Self { mean, cov: (cov + cov.transpose()) * 0.5 }
    }

    /// Corrects this filtered belief by what came after: `predicted` is the next step's belief before its
    /// reading, `smoothed` the same step's belief after all readings.
    pub fn smooth(&self, transition: &SMatrix<f64, N, N>, predicted: &Self, smoothed: &Self) -> Option<Self> {
        let gain = self.cov * transition.transpose() * predicted.cov.try_inverse()?;
        Some(Self {
            mean: self.mean + gain * (smoothed.mean - predicted.mean),
            cov: self.cov + gain * (smoothed.cov - predicted.cov) * gain.transpose(),
        })
    }
}

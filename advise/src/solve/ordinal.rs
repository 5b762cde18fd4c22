//! Cumulative-link regression of an ordered grade, with normal priors; two grades make it binomial.
//!
//! P(grade ≤ j) = F(θⱼ − xβ): McCullagh 1980, J. R. Statist. Soc. B 42:109–142. Fitted by Newton's
//! method with halved steps; the priors keep a separated sample finite.

use nalgebra::{DMatrix, DVector};
use statrs::function::erf::erfc;
use std::f64::consts::{PI, SQRT_2};

/// The curve between the predictor and the chance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// Logistic.
    Logit,
    /// Normal.
    Probit,
}

impl Prior {
    /// Makes a prior on one parameter.
    pub fn on(parameter: usize, mean: f64, sd: f64) -> Self {
        Self { on: vec![(parameter, 1.0)], mean, sd }
    }
    fn miss(&self, at: &DVector<f64>) -> f64 {
        self.on.iter().map(|&(i, factor)| factor * at[i]).sum::<f64>() - self.mean
    }
}

impl Link {
    /// Returns the distribution function.
    pub fn cdf(self, x: f64) -> f64 {
        match self {
            Link::Logit => 1.0 / (1.0 + (-x).exp()),
            Link::Probit => 0.5 * erfc(-x / SQRT_2),
        }
    }
    /// Returns the density and its slope.
    fn density(self, x: f64) -> (f64, f64) {
        match self {
            Link::Logit => {
                let p = self.cdf(x);
                let d = p * (1.0 - p);
                (d, d * (1.0 - 2.0 * p))
            }
            Link::Probit => {
                let d = (-0.5 * x * x).exp() / (2.0 * PI).sqrt();
                (d, -x * d)
            }
        }
    }
    /// Returns F(high) − F(low) without loss in the tails; either may be infinite.
    pub fn between(self, low: f64, high: f64) -> f64 {
        // By symmetry of both curves, work in the tail where the numbers are small.
        let p = if low > 0.0 { self.cdf(-low) - self.cdf(-high) } else { self.cdf(high) - self.cdf(low) };
        p.max(1e-300)
    }
}

/// One graded sample, or `weight` equal ones.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    /// Covariates.
    pub x: Vec<f64>,
    /// Grade, from 0.
    pub grade: usize,
    /// How many times it counts.
    pub weight: f64,
}

/// A normal prior on a sum of parameters, each with its factor.
#[derive(Clone, Debug, PartialEq)]
pub struct Prior {
    /// Which parameters, thresholds first, and by what factor.
    pub on: Vec<(usize, f64)>,
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// A fitted model: thresholds first, then coefficients.
#[derive(Clone, Debug, PartialEq)]
pub struct Ordinal {
    /// Thresholds, rising.
    pub thresholds: Vec<f64>,
    /// Coefficients.
    pub coefficients: Vec<f64>,
    /// Covariance of thresholds and coefficients: the inverse of the negative Hessian at the top.
    pub cov: DMatrix<f64>,
    /// Log-likelihood without the priors.
    pub log_likelihood: f64,
}

/// Fits `samples` with grades 0 to `grades` − 1 and `slopes` coefficients; no prior is a flat one.
///
/// Returns `None` when the top is not found, as with flat priors on a separated sample.
pub fn fit(
    link: Link,
    grades: usize,
    slopes: usize,
    samples: &[Sample],
    priors: &[Prior],
) -> Option<Ordinal> {
    let cuts = grades - 1;
    debug_assert!(samples.iter().all(|s| s.grade < grades && s.x.len() == slopes));
    let mut at = start(cuts, slopes, samples);
    let mut value = objective(link, cuts, samples, priors, &at);
    for _ in 0..200 {
        let (gradient, curvature) = derivatives(link, cuts, samples, priors, &at);
        let step = curvature.clone().cholesky().map(|c| c.solve(&gradient));
        // Far from the top the curvature may not be positive: climb the gradient instead.
        let step = step.unwrap_or_else(|| &gradient * (0.1 / gradient.norm().max(1e-12)));
        let mut scale = 1.0;
        let (next, next_value) = loop {
            let next = &at + &step * scale;
            let next_value = objective(link, cuts, samples, priors, &next);
            if next_value > value - 1e-12 {
                break (next, next_value);
            }
            scale *= 0.5;
            if scale < 1e-10 {
                break (at.clone(), value);
            }
        };
        let moved = (&next - &at).amax();
        at = next;
        value = next_value;
        if moved < 1e-10 {
            break;
        }
        if at.amax() > 1e4 {
            return None;
        }
    }
    let (_, curvature) = derivatives(link, cuts, samples, priors, &at);
    let cov = curvature.cholesky()?.inverse();
    let log_likelihood = objective(link, cuts, samples, &[], &at);
    Some(Ordinal {
        thresholds: at.iter().take(cuts).copied().collect(),
        coefficients: at.iter().skip(cuts).copied().collect(),
        cov,
        log_likelihood,
    })
}

/// Starts from the grades' own shares, one imagined sample added to each.
fn start(cuts: usize, slopes: usize, samples: &[Sample]) -> DVector<f64> {
    let total: f64 = samples.iter().map(|s| s.weight).sum::<f64>() + cuts as f64 + 1.0;
    let mut below = 0.0;
    DVector::from_fn(cuts + slopes, |i, _| {
        if i >= cuts {
            return 0.0;
        }
        below += samples.iter().filter(|s| s.grade == i).map(|s| s.weight).sum::<f64>() + 1.0;
        (below / (total - below)).ln()
    })
}

fn edges(cuts: usize, at: &DVector<f64>, sample: &Sample) -> (f64, f64) {
    let predictor: f64 = sample.x.iter().enumerate().map(|(k, x)| x * at[cuts + k]).sum();
    let low = if sample.grade == 0 { f64::NEG_INFINITY } else { at[sample.grade - 1] - predictor };
    let high = if sample.grade == cuts { f64::INFINITY } else { at[sample.grade] - predictor };
    (low, high)
}

fn objective(link: Link, cuts: usize, samples: &[Sample], priors: &[Prior], at: &DVector<f64>) -> f64 {
    if (1..cuts).any(|j| at[j] <= at[j - 1]) {
        return f64::NEG_INFINITY;
    }
    let fit: f64 = samples
        .iter()
        .map(|s| {
            let (low, high) = edges(cuts, at, s);
            s.weight * link.between(low, high).ln()
        })
        .sum();
    fit - 0.5 * priors.iter().map(|p| (p.miss(at) / p.sd).powi(2)).sum::<f64>()
}

/// Gradient and negative Hessian.
fn derivatives(
    link: Link,
    cuts: usize,
    samples: &[Sample],
    priors: &[Prior],
    at: &DVector<f64>,
) -> (DVector<f64>, DMatrix<f64>) {
    let count = at.len();
    let mut gradient = DVector::zeros(count);
    let mut curvature = DMatrix::zeros(count, count);
    let (mut to_high, mut to_low) = (DVector::zeros(count), DVector::zeros(count));
    for sample in samples {
        let (low, high) = edges(cuts, at, sample);
        let p = link.between(low, high);
        let side = |edge: f64| if edge.is_finite() { link.density(edge) } else { (0.0, 0.0) };
        let ((dh, sh), (dl, sl)) = (side(high), side(low));
        to_high.fill(0.0);
        to_low.fill(0.0);
        if sample.grade < cuts {
            to_high[sample.grade] = 1.0;
        }
        if sample.grade > 0 {
            to_low[sample.grade - 1] = 1.0;
        }
        for (k, x) in sample.x.iter().enumerate() {
            to_high[cuts + k] = -x;
            to_low[cuts + k] = -x;
        }
        let slope = (&to_high * dh - &to_low * dl) / p;
        curvature.ger(sample.weight, &slope, &slope, 1.0);
        curvature.ger(-sample.weight * sh / p, &to_high, &to_high, 1.0);
        curvature.ger(sample.weight * sl / p, &to_low, &to_low, 1.0);
        gradient += slope * sample.weight;
    }
    for prior in priors {
        let precision = prior.sd.powi(-2);
        let miss = prior.miss(at);
        for &(i, by) in &prior.on {
            gradient[i] -= by * miss * precision;
            for &(k, other) in &prior.on {
                curvature[(i, k)] += by * other * precision;
            }
        }
    }
    (gradient, curvature)
}

//! The draws of the posterior: heavy-tailed, about a fit first and then about what the first draws say.

use super::GRADES;
use crate::solve::ordinal::Ordinal;
use nalgebra::{DMatrix, DVector};
use std::sync::LazyLock;

/// What is drawn beside the thresholds: weight, slope, learning, drift, warmth.
pub(super) const SLOPES: usize = 4;
/// Most numbers that are drawn together.
const D: usize = GRADES - 1 + SLOPES;
/// Draws about the penalised fit, and then about what those say.
pub(super) const FIRST: usize = 600;
const DRAWS: usize = 1800;
/// Degrees of freedom of the draws: heavier tails than the fit's normal, so that no draw counts too much.
const TAILS: f64 = 6.0;

/// Standard normals, and by what to stretch them.
pub(super) type Standard = [f64; D + 1];

/// Draws of a heavy-tailed standard distribution, made once; the same for every bird and every run.
pub(super) static STANDARDS: LazyLock<Vec<Standard>> = LazyLock::new(|| {
    let mut rng = fastrand::Rng::with_seed(0x5eed);
    let mut pair = || {
        let radius = (-2.0 * (1.0 - rng.f64()).ln()).sqrt();
        let (sin, cos) = (std::f64::consts::TAU * rng.f64()).sin_cos();
        [radius * cos, radius * sin]
    };
    let half: Vec<Standard> = (0..(FIRST + DRAWS) / 2)
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

/// Where draws are made: a middle and the root of a covariance.
pub(super) struct About {
    centre: DVector<f64>,
    spread: DMatrix<f64>,
    log_volume: f64,
}

impl About {
    fn new(centre: DVector<f64>, cov: DMatrix<f64>) -> Option<Self> {
        let spread = cov.cholesky()?.l();
        let log_volume = spread.diagonal().iter().map(|d| d.ln()).sum();
        Some(Self { centre, spread, log_volume })
    }
    /// Makes one draw; returns it with the log density that it had, up to a constant.
    pub fn draw(&self, standard: &Standard) -> (DVector<f64>, f64) {
        let dimension = self.centre.len();
        let stretched = standard[..dimension].iter().map(|x| x * standard[D]);
        let stretched = DVector::from_iterator(dimension, stretched);
        let far = (1.0 + stretched.norm_squared() / TAILS).ln();
        let density = -0.5 * (TAILS + dimension as f64) * far - self.log_volume;
        (&self.centre + &self.spread * stretched, density)
    }
}

/// Turns a fit into the numbers that are drawn: in place of the good threshold the weight it stands for, of the
/// other thresholds the logarithms of their spacings, of the slope its logarithm, of the drift the weight it
/// moves in a week; with their covariance.
pub(super) fn in_weights(fitted: &Ordinal, good_cut: usize, target: f64) -> Option<About> {
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
    About::new(centre, &turn * &fitted.cov * turn.transpose())
}

/// Where weighted draws say that more should be made; `None` when too few of them count.
pub(super) fn about(drawn: &[(f64, DVector<f64>)]) -> Option<About> {
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
    About::new(mean, cov)
}

//! Linear least squares by QR, columns scaled first.

use nalgebra::{DMatrix, DVector};

/// A fitted linear model.
#[derive(Clone, Debug, PartialEq)]
pub struct LeastSquares {
    /// Coefficients, in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Their standard errors; empty when there are no degrees of freedom.
    pub errors: Vec<f64>,
    /// Residual standard deviation.
    pub residual_sd: f64,
    /// Share of the variance about the mean that is explained.
    pub r_squared: f64,
}

/// Fits `y` to the columns; `None` when they do not determine the coefficients.
pub fn fit(columns: &[Vec<f64>], y: &[f64]) -> Option<LeastSquares> {
    let (rows, count) = (y.len(), columns.len());
    if count == 0 || rows < count || columns.iter().any(|c| c.len() != rows) {
        return None;
    }
    let scales: Vec<f64> = columns.iter().map(|c| c.iter().fold(0.0_f64, |m, v| m.max(v.abs()))).collect();
    if scales.contains(&0.0) {
        return None;
    }
    let design = DMatrix::from_fn(rows, count, |i, j| columns[j][i] / scales[j]);
    let target = DVector::from_column_slice(y);
    let qr = design.clone().qr();
    let r = qr.r();
    if (0..count).any(|i| r[(i, i)].abs() < 1e-12) {
        return None;
    }
    let solve = |rhs: &DVector<f64>| r.solve_upper_triangular(&(qr.q().transpose() * rhs));
    let mut scaled = solve(&target)?;
    // One step of refinement wins back the last digits on ill-conditioned columns.
    scaled += solve(&(&target - &design * &scaled))?;
    let residual = &target - &design * &scaled;
    let squares = residual.norm_squared();
    let mean = target.mean();
    let total: f64 = y.iter().map(|v| (v - mean).powi(2)).sum();
    let free = rows - count;
    let residual_sd = if free == 0 { 0.0 } else { (squares / free as f64).sqrt() };
    let errors = if free == 0 {
        Vec::new()
    } else {
        let inverse = r.clone().try_inverse()?;
        (0..count).map(|j| inverse.row(j).norm() * residual_sd / scales[j]).collect()
    };
    Some(LeastSquares {
        coefficients: (0..count).map(|j| scaled[j] / scales[j]).collect(),
        errors,
        residual_sd,
        r_squared: if total > 0.0 { 1.0 - squares / total } else { 1.0 },
    })
}

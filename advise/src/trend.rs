//! The smoothed weight and its slope, from the readings alone.

use crate::record::Record;
use crate::solve::least_squares;
use crate::solve::local_level::{Level, LocalLevel, Step};
use note::Trend;

/// Days over which the slope is taken.
const SLOPE_DAYS: f64 = 8.0;
/// Days of readings that the smoother reads.
const WINDOW_DAYS: f64 = 120.0;

/// Smooths the readings of the last `days` days; beside each row its index.
pub(crate) fn smoothed(record: &Record<'_>, days: f64) -> Vec<(usize, Level)> {
    let from = record.last().time - days;
    let mut before = None;
    let rows: Vec<(usize, Step)> = record
        .rows
        .iter()
        .enumerate()
        .filter(|(_, r)| r.time >= from)
        .map(|(i, r)| {
            let gap = before.map_or(0.0, |b| r.time - b);
            before = Some(r.time);
            (i, Step { gap, reading: r.grams })
        })
        .collect();
    let steps: Vec<Step> = rows.iter().map(|(_, s)| *s).collect();
    let Some(first) = steps.iter().find_map(|s| s.reading) else { return Vec::new() };
    // A scale and a gut are never quieter than this, whatever a few readings say.
    let least = (0.0015 * first).powi(2) + record.step * record.step / 12.0;
    let usual = LocalLevel { noise: least.max((0.003 * first).powi(2)), wander: (0.005 * first).powi(2) };
    let model = match steps.iter().filter(|s| s.reading.is_some()).count() {
        0..10 => usual,
        _ => LocalLevel::fit(&steps, least).unwrap_or(usual),
    };
    let levels = model.smooth(&steps);
    rows.iter().zip(levels).filter_map(|((i, _), level)| Some((*i, level?))).collect()
}

/// Returns the smoothed weight now and its slope over the last week.
pub(crate) fn trend(record: &Record<'_>) -> Option<Trend> {
    let levels = smoothed(record, WINDOW_DAYS);
    let (_, last) = levels.last()?;
    let now = record.last().time;
    let week: Vec<(f64, f64)> = levels
        .iter()
        .map(|(i, level)| (record.rows[*i].time - now, level.mean))
        .filter(|(time, _)| *time >= -SLOPE_DAYS)
        .collect();
    let columns = [vec![1.0; week.len()], week.iter().map(|w| w.0).collect()];
    let weights: Vec<f64> = week.iter().map(|w| w.1).collect();
    let long_enough = week.len() >= 3 && week[0].0 < -1.0;
    let slope = long_enough.then(|| least_squares::fit(&columns, &weights)).flatten();
    let per_day_g = slope.map_or(0.0, |s| s.coefficients[1]);
    Some(Trend { grams: crate::tenth(last.mean), per_day_g: crate::tenth(per_day_g) })
}

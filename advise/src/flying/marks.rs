//! How a keeper uses the five grades.

use super::{GOOD, GRADES, Session};

/// What a spoilt session gives, grades 1 to 5. C.
const SPOILT: [f64; GRADES] = [0.40, 0.30, 0.20, 0.07, 0.03];
/// Log-odds between neighbouring grades; spread of its logarithm between keepers, and between the grades of one. C.
pub(super) const SPACING: f64 = 1.3;
const SPACING_KEEPERS: f64 = 0.5;
const SPACING_GRADES: f64 = 0.5;

/// How a keeper uses the grades: one that is never given has no place of its own.
pub(super) struct Marks {
    /// Place of each grade, 1 to 5.
    pub place: [usize; GRADES],
    /// Thresholds between the places.
    pub cuts: usize,
    /// The threshold between fair and good.
    pub good_cut: usize,
    /// What a spoilt session gives, by place.
    pub spoilt: Vec<f64>,
}

impl Marks {
    pub fn of(sessions: &[Session]) -> Self {
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

/// Log density of the logarithms of the spacings between grades: alike within one keeper, unlike between keepers.
pub(super) fn spacing(logs: impl Iterator<Item = f64>) -> f64 {
    let (mut count, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for log in logs.map(|log| log - SPACING.ln()) {
        count += 1.0;
        sum += log;
        squares += log * log;
    }
    let (own, shared) = (SPACING_GRADES * SPACING_GRADES, SPACING_KEEPERS * SPACING_KEEPERS);
    -0.5 * (squares - sum * sum * shared / (own + count * shared)) / own
}

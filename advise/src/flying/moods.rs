//! What sessions have in common beside the weight: the mood of the days, sessions that go wrong at any weight, and how
//! good an answer hunger can bring at all.
//!
//! None of it is known, and fifteen grades tell little of it; so each draw of the curve takes its own, spread evenly
//! over what is believed.

use super::Session;
use super::curve::learned;
use crate::Flying;
use crate::solve::ordinal::Link;
use statrs::function::erf::erf_inv;
use std::f64::consts::SQRT_2;

/// Sessions in which two thirds of what is to be learned is learned: not known, so three paces share the draws. C.
const PACES: [f64; 3] = [3.0, 7.0, 14.0];
/// Of a mood, what is left after a day: three memories share the draws. C.
const MEMORIES: [f64; 3] = [0.4, 0.6, 0.8];
/// A low, a middling and a high mood: their shares, and where they stand in standard deviations (Gauss and Hermite).
pub(super) const MOODS: [f64; 3] = [1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0];
const PLACES: [f64; 3] = [-1.732_050_8, 0.0, 1.732_050_8];
/// Most poor answers of a hungry bird, and most of the odds at the flying weight that may come of them. C.
const MOST_SHORT: (f64, f64) = (0.15, 0.7);

/// What one draw holds of the sessions beside the curve.
pub(super) struct Moods {
    /// Which pace of learning.
    pub pace: usize,
    /// Which memory of the mood.
    pub memory: usize,
    /// Share of sessions spoilt.
    pub lapses: f64,
    /// Odds against a good answer, in each mood beside a middling one.
    pub factors: [f64; 3],
    /// Odds against a good answer in a middling mood at the weight of the wanted chance.
    pub wanted: f64,
    /// The part of these odds that no hunger takes away.
    pub least: f64,
}

impl Moods {
    /// Returns the `n`th of an even spread over what is believed (a Kronecker sequence by the roots of x⁵ = x + 1).
    pub fn nth(n: usize, flying: &Flying) -> Self {
        let even = |step: f64| (0.5 + step * n as f64).fract();
        let exponential = |mean: f64, place: f64| -mean * (1.0 - place).ln();
        let lapses = exponential(flying.lapses, even(0.856_674_9));
        let short = exponential(flying.short, even(0.733_891_9)).min(MOST_SHORT.0);
        let mood = flying.mood * SQRT_2 * erf_inv(even(0.628_706_7));
        // In a middling mood the odds must be so much better that over all moods the chance is the wanted one.
        let mut log_odds = (flying.wanted / (1.0 - flying.wanted)).ln();
        for _ in 0..4 {
            let (mut chance, mut slope) = (0.0, 0.0);
            for (share, place) in MOODS.into_iter().zip(PLACES) {
                let p = Link::Logit.cdf(log_odds + mood * place);
                chance += share * p;
                slope += share * p * (1.0 - p);
            }
            log_odds += (flying.wanted - chance) / slope;
        }
        let wanted = (-log_odds).exp();
        Self {
            pace: n % PACES.len(),
            memory: n / PACES.len() % MEMORIES.len(),
            lapses,
            factors: PLACES.map(|place| (-mood * place).exp()),
            wanted,
            least: (short / (1.0 - short)).min(MOST_SHORT.1 * wanted),
        }
    }

    /// Returns the odds against a good answer in a middling mood so many log-odds above the flying weight.
    pub fn against(&self, above: f64) -> f64 {
        self.least + (self.wanted - self.least) * above.exp()
    }
}

/// What is lacking of the learning at each session, by pace; and what is left of the mood of the session before, by memory.
pub(super) struct Course {
    pub lacking: [f64; PACES.len()],
    pub kept: [f64; MEMORIES.len()],
}

impl Course {
    /// Returns the course of the sessions and, last, that of the next one.
    pub fn of(sessions: &[Session]) -> Vec<Self> {
        let mut before = f64::NEG_INFINITY;
        let next = sessions.last().map(|s| (s.number + 1, s.time));
        let each = sessions.iter().map(|s| (s.number, s.time)).chain(next);
        each.map(|(number, time)| {
            let days = time - std::mem::replace(&mut before, time);
            Self {
                lacking: PACES.map(|pace| learned(number, pace)),
                kept: MEMORIES.map(|memory| memory.powf(days)),
            }
        })
        .collect()
    }
}

//! What a simulated bird with its keeper must be able to do, so that one scoring serves both simulators; and the
//! few random draws that both use.

use advise::{Settings, advise};
use fastrand::Rng;

/// How the food is chosen.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Rule {
    /// By eye: holds the target, less after poor answers, more after good ones.
    Thumb,
    /// By the advice, where it gives a ration.
    Advice,
}

/// What one day truly was, beside what was written.
#[derive(Clone, Debug)]
pub struct Truth {
    pub mass: f64,
    pub grade: Option<u8>,
    pub good_chance: f64,
    pub reading: f64,
}

/// A simulated bird with its keeper.
pub trait Mews: Clone {
    fn new(seed: u64) -> Self;
    /// Weighs and flies; the day's food is not known yet.
    fn morning(&mut self) -> Truth;
    /// Feeds by rule of thumb, or as told; lives until the next weigh-in.
    fn evening(&mut self, told: Option<&note::Ration>);
    fn card(&self) -> &note::Bird;
    fn days(&self) -> &[note::Day];
    /// Whether the day of the last morning stands in the record.
    fn written(&self) -> bool;
    /// Weight when fed freely, grams.
    fn fed_up(&self) -> f64;
    /// The weight it must never go under, grams, on its card or not.
    fn floor(&self) -> f64;
    /// The truth asked for: highest mass at which a good answer comes four times in five.
    fn flying_weight(&self) -> f64;
    /// Graded sessions so far.
    fn sessions(&self) -> usize;
    /// What kind of keeper it has.
    fn keeping(&self) -> &'static str;
    /// Makes the flying weight drift by this share a week.
    fn set_drift(&mut self, per_week: f64);

    /// Ends the day by a rule; returns the advice if it was asked.
    fn feed(&mut self, rule: Rule, settings: &Settings) -> Option<note::Advice> {
        if rule == Rule::Thumb || !self.written() {
            self.evening(None);
            return None;
        }
        let advice = advise(self.card(), self.days(), settings).expect("advice on a record that can be");
        self.evening(advice.ration.as_ref());
        Some(advice)
    }
}

/// Draws a standard normal.
pub fn normal(rng: &mut Rng) -> f64 {
    (-2.0 * (1.0 - rng.f64()).ln()).sqrt() * (std::f64::consts::TAU * rng.f64()).cos()
}
/// Draws between two numbers, evenly.
pub fn between(rng: &mut Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.f64()
}
/// Normal distribution function (Abramowitz & Stegun 26.2.17, good to 1e-7: enough to simulate by).
pub fn phi(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.2316419 * x.abs());
    let poly =
        t * (0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
    let tail = (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt() * poly;
    if x >= 0.0 { 1.0 - tail } else { tail }
}

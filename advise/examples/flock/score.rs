//! The bars of the advice, scored on any simulated flock.

use crate::mews::{Mews, Rule};
use advise::{Settings, advise};
use std::collections::BTreeMap;

/// Days that each bird is kept.
pub const DAYS: usize = 60;
/// Sessions after which the flying weight is asked for.
const SESSIONS: usize = 15;

/// Forecasts beside what came.
#[derive(Clone, Copy, Default)]
struct Forecasts {
    count: usize,
    held: usize,
    misses: f64,
    same: f64,
}

impl Forecasts {
    fn add(&mut self, held: bool, miss: f64, same: f64) {
        self.count += 1;
        self.held += usize::from(held);
        self.misses += miss.abs();
        self.same += same.abs();
    }
    fn print(&self, name: &str) {
        println!(
            "  forecast, {name}: 90 % band held {:.1} % of {}; mean miss {:.2} % against {:.2} % for same as today, {:.0} % less",
            percent(self.held, self.count),
            self.count,
            100.0 * self.misses / self.count as f64,
            100.0 * self.same / self.count as f64,
            100.0 * (1.0 - self.misses / self.same)
        );
    }
}

/// Flying weights beside the truth.
#[derive(Clone, Default)]
struct FlyingWeights {
    asked: usize,
    near: usize,
    held: usize,
    errors: Vec<f64>,
    width: f64,
}

impl FlyingWeights {
    fn add(&mut self, said: Option<&note::FlyingWeight>, truth: f64) {
        self.asked += 1;
        let Some(f) = said else { return };
        let error = f.best_g / truth - 1.0;
        self.errors.push(error);
        self.width += (f.high_g - f.low_g) / truth;
        self.near += usize::from(error.abs() <= 0.015);
        self.held += usize::from((f.low_g..=f.high_g).contains(&truth));
    }
    fn print(&self, name: &str) {
        let mut errors = self.errors.clone();
        errors.sort_by(f64::total_cmp);
        let said = errors.len();
        let rms = (errors.iter().map(|e| e * e).sum::<f64>() / said.max(1) as f64).sqrt();
        println!(
            "  flying weight, {name}: said for {said} of {}; within 1.5 % {:.1} %; 80 % band held {:.1} %, mean width {:.2} %; middle error {:+.2} %, rms {:.2} %",
            self.asked,
            percent(self.near, said),
            percent(self.held, said),
            100.0 * self.width / said.max(1) as f64,
            100.0 * errors.get(said / 2).copied().unwrap_or(f64::NAN),
            100.0 * rms
        );
    }
}

/// Birds followed for sixty days.
#[derive(Clone, Default)]
struct Followed {
    days: usize,
    share_of_truth: f64,
    good_chance: f64,
    grades: f64,
    graded: usize,
    good: usize,
    under_floor: usize,
    /// Of these, on the morning after a ration that was given and a day that was not under it.
    by_advice: usize,
    given: usize,
    landed: usize,
    bent: usize,
}

fn percent(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of.max(1) as f64
}

fn size(fed_up: f64) -> &'static str {
    match fed_up {
        f if f < 250.0 => "under 250 g",
        f if f < 1000.0 => "250 g to 1 kg",
        _ => "over 1 kg",
    }
}

/// Keeps birds by rule of thumb, asks each evening, and prints how the forecasts and flying weights fell.
pub fn study<M: Mews>(seeds: std::ops::Range<u64>, settings: &Settings) {
    let mut forecasts: BTreeMap<&str, Forecasts> = BTreeMap::new();
    let mut flying: BTreeMap<&str, FlyingWeights> = BTreeMap::new();
    let mut alarms: BTreeMap<String, usize> = BTreeMap::new();
    let mut asked = 0;
    for seed in seeds {
        let mut mews = M::new(seed);
        let groups = ["all", size(mews.fed_up()), mews.keeping()];
        let furniture = mews.card().furniture_g.unwrap_or(0.0);
        let mut learned = false;
        for day in 0..DAYS {
            mews.morning();
            mews.evening(None);
            if !mews.written() {
                continue;
            }
            let advice = advise(mews.card(), mews.days(), settings).expect("advice");
            asked += 1;
            for alert in advice.alerts.iter().filter(|a| a.severity >= note::Severity::Warn) {
                *alarms.entry(format!("{} {:?}", alert.code, alert.severity)).or_default() += 1;
            }
            if mews.sessions() >= SESSIONS && !learned {
                learned = true;
                for group in groups {
                    flying.entry(group).or_default().add(advice.flying_weight.as_ref(), mews.flying_weight());
                }
            }
            let (Some(f), Some(reading)) = (&advice.forecast, mews.days().last().and_then(|d| d.grams))
            else {
                continue;
            };
            let came = mews.clone().morning().reading;
            let held = (f.low_g..=f.high_g).contains(&came);
            let (miss, same) = ((came - f.grams) / came, (came - (reading - furniture)) / came);
            for group in groups.into_iter().chain((day < 10).then_some("first ten days")) {
                forecasts.entry(group).or_default().add(held, miss, same);
            }
        }
        let advice = advise(mews.card(), mews.days(), settings).expect("advice");
        flying.entry("last day").or_default().add(advice.flying_weight.as_ref(), mews.flying_weight());
    }
    forecasts.iter().for_each(|(name, f)| f.print(name));
    flying.iter().for_each(|(name, f)| f.print(name));
    println!("  alarms of severity warn or stop on these healthy birds, days in a thousand:");
    for (code, days) in &alarms {
        println!("    {code}: {:.1}", 1000.0 * *days as f64 / asked as f64);
    }
}

/// Prints how the flying weight after fifteen sessions fares when the truth drifts by a given share a week.
pub fn drift<M: Mews>(seeds: std::ops::Range<u64>, settings: &Settings) {
    let mut mixed = FlyingWeights::default();
    for per_week in [0.0, 0.0025, 0.005, 0.0075, 0.01] {
        let mut flying = FlyingWeights::default();
        for seed in seeds.clone() {
            let mut mews = M::new(seed);
            mews.set_drift(per_week);
            while mews.sessions() < SESSIONS {
                mews.morning();
                mews.evening(None);
            }
            let advice = advise(mews.card(), mews.days(), settings).expect("advice");
            flying.add(advice.flying_weight.as_ref(), mews.flying_weight());
            mixed.add(advice.flying_weight.as_ref(), mews.flying_weight());
        }
        flying.print(&format!("drift {:.2} % a week", 100.0 * per_week));
    }
    mixed.print("all drifts");
}

/// Follows each bird for sixty days after twenty by the rule of thumb, once by each rule, and prints both.
pub fn follow<M: Mews>(seeds: std::ops::Range<u64>, settings: &Settings) {
    for rule in [Rule::Thumb, Rule::Advice] {
        let mut groups: BTreeMap<&str, Followed> = BTreeMap::new();
        let mut under: BTreeMap<u64, usize> = BTreeMap::new();
        for seed in seeds.clone() {
            let one = follow_one::<M>(seed, rule, settings);
            let mews = M::new(seed);
            if one.under_floor > 0 && mews.card().floor_g.is_some() {
                under.insert(seed, one.under_floor);
            }
            let floor = if mews.card().floor_g.is_some() { "with a floor set" } else { "no floor set" };
            for group in ["all", size(mews.fed_up()), mews.keeping(), floor] {
                groups.entry(group).or_default().add(&one);
            }
        }
        println!("  {rule:?}: birds with a floor set that went under it, and days: {under:?}");
        groups.iter().for_each(|(name, f)| f.print(name));
    }
}

impl Followed {
    fn add(&mut self, one: &Self) {
        self.days += one.days;
        self.share_of_truth += one.share_of_truth;
        self.good_chance += one.good_chance;
        self.grades += one.grades;
        self.graded += one.graded;
        self.good += one.good;
        self.under_floor += one.under_floor;
        self.by_advice += one.by_advice;
        self.given += one.given;
        self.landed += one.landed;
        self.bent += one.bent;
    }
    fn print(&self, name: &str) {
        let d = self.days as f64;
        println!(
            "    {name}: weight {:.2} % of the true flying weight; chance of a good answer {:.3}; mean grade {:.2}, good {:.1} %; days under the floor {} of {}, {} of them newly after a ration; ration within 1 % on {:.1} % of {}, bent {:.1} %",
            100.0 * self.share_of_truth / d,
            self.good_chance / d,
            self.grades / self.graded as f64,
            percent(self.good, self.graded),
            self.under_floor,
            self.days,
            self.by_advice,
            percent(self.landed, self.given),
            self.given,
            percent(self.bent, self.given)
        );
    }
}

fn follow_one<M: Mews>(seed: u64, rule: Rule, settings: &Settings) -> Followed {
    let mut mews = M::new(seed);
    for _ in 0..20 {
        mews.morning();
        mews.evening(None);
    }
    let mut f = Followed::default();
    let mut aimed: Option<f64> = None;
    let (mut advised, mut was_under) = (false, false);
    for _ in 0..DAYS {
        let truth = mews.morning();
        if let Some(aimed) = aimed.take() {
            f.given += 1;
            f.landed += usize::from((truth.reading - aimed).abs() <= 0.01 * truth.mass);
        }
        f.days += 1;
        f.share_of_truth += truth.mass / mews.flying_weight();
        f.good_chance += truth.good_chance;
        if let Some(grade) = truth.grade {
            f.graded += 1;
            f.grades += f64::from(grade);
            f.good += usize::from(grade >= 4);
        }
        let under = truth.mass < mews.floor();
        f.under_floor += usize::from(under);
        f.by_advice += usize::from(under && advised && !was_under);
        was_under = under;
        advised = false;
        if let Some(ration) = mews.feed(rule, settings).and_then(|a| a.ration) {
            aimed = Some(ration.target_g);
            advised = true;
            f.bent += usize::from(!ration.held_by.is_empty());
        }
    }
    f
}

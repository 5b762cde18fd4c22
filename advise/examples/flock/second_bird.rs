//! A simulated bird of another make than [`super::bird`]: meals that leave one by one in a straight line after a
//! wait, castings brought up by the clock, two tissues of different worth, a metabolism that gives way in loss,
//! restlessness that lasts days, thirst in heat, a scale that wanders; answers by a probit or by a plateau with a
//! cliff, with moods that last, marked by keepers who use the scale of grades each in their own way.

use super::mews::{between, normal, phi};
use fastrand::Rng;

/// One meal on its way.
#[derive(Clone, Copy)]
struct Meal {
    grams: f64,
    kj: f64,
    wait: f64,
    hours: f64,
}

/// How the chance of a good answer hangs on the weight.
#[derive(Clone, Copy)]
enum Curve {
    /// Standard deviations lost by each per cent.
    Probit(f64),
    /// A top and a bottom, and per cent over which it falls from one to the other.
    Cliff { top: f64, bottom: f64, width: f64 },
}

/// A bird with its body and its head.
#[derive(Clone)]
pub struct Bird {
    pub fed_up: f64,
    pub floor: f64,
    /// Step of the scale, grams.
    pub step: f64,
    /// Weight of four good answers in five when fully trained, grams.
    pub best: f64,
    pub drift: f64,
    pub sessions: usize,
    fat: f64,
    lean: f64,
    meals: Vec<Meal>,
    pellets: Vec<(f64, f64)>,
    dry: f64,
    thrift: f64,
    restless: f64,
    offset: f64,
    mood: f64,
    constants: Constants,
}

#[derive(Clone)]
struct Constants {
    need_kj: f64,
    exponent: f64,
    thrift: f64,
    thrift_days: f64,
    restless: f64,
    restless_memory: f64,
    fat_first: f64,
    store: f64,
    critical_c: f64,
    cold: f64,
    thirst: f64,
    wait: f64,
    passage: f64,
    cast_hours: f64,
    flight: f64,
    scale_sd: f64,
    scale_wander: f64,
    curve: Curve,
    mood: f64,
    mood_memory: f64,
    untrained: f64,
    pace: f64,
    warmth: f64,
    distraction: f64,
    marks: [Option<f64>; 4],
}

impl Bird {
    pub fn new(rng: &mut Rng) -> Self {
        // As many small birds as middling and large ones.
        let (low, high): (f64, f64) = [(90.0, 250.0), (250.0, 1000.0), (1000.0, 4000.0)][rng.usize(0..3)];
        let fed_up = between(rng, low.ln(), high.ln()).exp();
        let best = fed_up * between(rng, 0.81, 0.96);
        let steps: &[f64] = match low as usize {
            90 => &[0.1, 0.1, 0.5, 1.0],
            250 => &[1.0, 1.0, 2.0, QUARTER_OUNCE, QUARTER_OUNCE / 2.0],
            _ => &[1.0, 2.0, 5.0, QUARTER_OUNCE, 2.0 * QUARTER_OUNCE],
        };
        let step = steps[rng.usize(0..steps.len())];
        let fat = between(rng, 0.07, 0.20);
        let curve = if rng.bool() {
            Curve::Probit(between(rng, 0.35, 1.0))
        } else {
            Curve::Cliff {
                top: between(rng, 0.9, 0.99),
                bottom: between(rng, 0.03, 0.2),
                width: between(rng, 0.35, 1.4),
            }
        };
        let some = |rng: &mut Rng, low: f64, high: f64| Some(between(rng, low, high));
        // Where grades 2 to 5 begin, standard deviations from the good answer; a mark never given has no place.
        let marks = match rng.usize(0..5) {
            0 | 1 => [some(rng, -2.0, -1.2), some(rng, -1.0, -0.4), Some(0.0), some(rng, 0.4, 1.3)],
            2 => [Some(f64::NEG_INFINITY), Some(f64::NEG_INFINITY), Some(0.0), some(rng, 0.2, 0.8)],
            3 => [some(rng, -1.0, -0.6), some(rng, -0.5, -0.15), Some(0.0), some(rng, 1.6, 2.6)],
            _ => [Some(f64::NEG_INFINITY), None, Some(0.0), None],
        };
        Self {
            fed_up,
            floor: best * between(rng, 0.87, 0.95),
            step,
            best,
            drift: between(rng, -0.003, 0.006),
            sessions: 0,
            fat: fed_up * fat * 0.95,
            lean: fed_up * (1.0 - fat) * 0.985,
            meals: Vec::new(),
            pellets: Vec::new(),
            dry: 0.0,
            thrift: 0.0,
            restless: 0.0,
            offset: 0.0,
            mood: normal(rng),
            constants: Constants {
                need_kj: 460.0 * (0.18 * normal(rng)).exp(),
                exponent: between(rng, 0.63, 0.75),
                thrift: between(rng, 0.0, 0.3),
                thrift_days: between(rng, 3.0, 15.0),
                restless: between(rng, 0.03, 0.14),
                restless_memory: between(rng, 0.2, 0.85),
                fat_first: between(rng, 0.02, 0.08),
                store: between(rng, 0.7, 0.9),
                critical_c: between(rng, 8.0, 22.0),
                cold: between(rng, 0.005, 0.03),
                thirst: between(rng, 0.0, 0.0012),
                wait: between(rng, 0.5, 3.0),
                // Small birds pass their food sooner.
                passage: between(rng, 7.0, 19.0) * (fed_up / 1000.0).powf(0.15),
                cast_hours: between(rng, 12.0, 19.0),
                flight: between(rng, 0.001, 0.008),
                scale_sd: (0.25 * step).max(best * between(rng, 0.0002, 0.0014)),
                scale_wander: between(rng, 0.0, 0.001),
                curve,
                mood: between(rng, 0.0, 0.65),
                mood_memory: between(rng, 0.3, 0.85),
                untrained: between(rng, 0.0, 1.4),
                pace: between(rng, 2.0, 12.0),
                warmth: between(rng, -0.3, 0.1),
                distraction: between(rng, 0.0, 0.12),
                marks,
            },
        }
    }

    /// True mass now, grams.
    pub fn mass(&self) -> f64 {
        let gut: f64 = self.meals.iter().map(|m| m.grams).sum();
        let pellets: f64 = self.pellets.iter().map(|p| p.0).sum();
        self.fat + self.lean + gut + pellets - self.dry
    }

    /// What it spends in a day at rest at a temperature, kJ.
    fn spending(&self, celsius: f64) -> f64 {
        let c = &self.constants;
        let cold = 1.0 + c.cold * (c.critical_c - celsius).max(0.0) * (self.fed_up / 1000.0).powf(-0.15);
        c.need_kj * ((self.fat + self.lean) / 1000.0).powf(c.exponent) * cold
    }

    /// What holds the bird, kcal a day, as a keeper would know it after some weeks.
    pub fn holding_kcal(&self, celsius: f64) -> f64 {
        self.spending(celsius) / 4.184
    }

    /// Eats some grams, a share of which will be cast.
    pub fn eat(&mut self, grams: f64, kcal_per_g: f64, casting: f64) {
        if grams <= 0.0 {
            return;
        }
        let c = &self.constants;
        // A big meal takes longer.
        let hours = c.passage * (0.6 + 0.4 * grams / (0.09 * self.fed_up)).min(1.4);
        let kj = 4.184 * kcal_per_g * grams;
        self.meals.push(Meal { grams: grams * (1.0 - casting), kj, wait: c.wait, hours });
        self.pellets.push((grams * casting, c.cast_hours));
    }

    /// Lives some hours at a temperature.
    pub fn live(&mut self, rng: &mut Rng, hours: f64, celsius: f64) {
        let c = self.constants.clone();
        let steps = hours.round().max(1.0) as usize;
        let dt = hours / steps as f64;
        for _ in 0..steps {
            let mut absorbed = 0.0;
            for meal in &mut self.meals {
                let passing = (dt - meal.wait).clamp(0.0, dt);
                meal.wait = (meal.wait - dt).max(0.0);
                let share = (passing / meal.hours.max(1e-9)).min(1.0);
                absorbed += meal.kj * share;
                meal.grams *= 1.0 - share;
                meal.kj *= 1.0 - share;
                meal.hours -= passing;
            }
            self.meals.retain(|m| m.hours > 1e-6);
            let need = self.spending(celsius) / 24.0;
            let toward = c.thrift * (absorbed / (need * dt) - 1.0).clamp(-1.0, 1.0);
            self.thrift += (toward - self.thrift) * dt / 24.0 / c.thrift_days;
            self.balance(absorbed - need * dt * (1.0 + self.thrift) * (1.0 + self.restless).max(0.5));
            for pellet in &mut self.pellets {
                pellet.1 -= dt * between(rng, 0.7, 1.3);
            }
            self.pellets.retain(|p| p.1 > 0.0);
            let heat = (celsius - 22.0).max(0.0) * c.thirst / 24.0 * self.fed_up;
            self.dry += heat * dt - self.dry * dt / 30.0;
        }
        let keep = c.restless_memory.powf(hours / 24.0);
        self.restless = self.restless * keep + c.restless * (1.0 - keep * keep).sqrt() * normal(rng);
        self.offset += c.scale_wander * self.best * (hours / 168.0).sqrt() * normal(rng);
    }

    /// Puts energy on or takes it off, kJ: the fatter, the more of it is fat.
    fn balance(&mut self, kj: f64) {
        let fatness = self.fat / (self.fat + self.lean);
        let share = 0.95 * fatness / (fatness + self.constants.fat_first);
        let kj = if kj > 0.0 { kj * self.constants.store } else { kj };
        self.fat = (self.fat + share * kj / 39.4).max(0.003 * self.lean);
        self.lean += (1.0 - share) * kj / 4.82;
    }

    /// Stands on the scale in its furniture; returns the bird's part of the reading.
    pub fn weigh(&self, rng: &mut Rng, furniture: f64) -> f64 {
        let seen = self.mass() + furniture + self.offset + self.constants.scale_sd * normal(rng);
        (seen / self.step).round() * self.step - furniture
    }

    /// Chance of a good answer at a mass on a usual day, in standard deviations.
    fn readiness(&self, mass: f64) -> f64 {
        let c = &self.constants;
        let over = (mass / self.best - 1.0) * 100.0;
        let trained = match c.curve {
            Curve::Probit(slope) => 0.8416 - slope * over,
            Curve::Cliff { top, bottom, width } => {
                let share = (0.8 - bottom) / (top - bottom);
                let chance = bottom + (top - bottom) / (1.0 + (over / width).exp() * (1.0 / share - 1.0));
                quantile(chance)
            }
        };
        trained - c.untrained * (-(self.sessions as f64) / c.pace).exp()
    }

    /// Flies and is graded, 1 to 5; says whether it was distracted.
    pub fn fly(&mut self, rng: &mut Rng, celsius: f64, flights: f64) -> (u8, bool) {
        let c = self.constants.clone();
        let distracted = rng.f64() < c.distraction;
        let mood = c.mood * self.mood + (1.0 - c.mood * c.mood).sqrt() * normal(rng);
        let mut ready = self.readiness(self.mass() + self.dry) + c.warmth * (celsius - 10.0) / 10.0 + mood;
        if distracted {
            ready -= between(rng, 0.5, 2.0);
        }
        self.sessions += 1;
        let cost = self.spending(celsius) * c.flight * flights;
        self.balance(-cost);
        let given = (0..4).rev().find(|&k| c.marks[k].is_some_and(|from| ready >= from));
        (given.map_or(1, |k| k as u8 + 2), distracted)
    }

    /// A day passes for the head.
    pub fn age(&mut self, rng: &mut Rng) {
        self.best *= 1.0 + self.drift / 7.0;
        let keep = self.constants.mood_memory;
        self.mood = self.mood * keep + (1.0 - keep * keep).sqrt() * normal(rng);
    }

    /// Highest mass at which a good answer comes four times in five.
    pub fn flying_weight(&self) -> f64 {
        let (mut low, mut high) = (self.best * 0.7, self.best * 1.2);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if phi(self.readiness(middle)) >= 0.8 { low = middle } else { high = middle }
        }
        low
    }

    /// Chance of a good answer at the mass it has now, on a usual day.
    pub fn good_chance(&self) -> f64 {
        phi(self.readiness(self.mass() + self.dry))
    }
}

/// Grams in a quarter of an ounce.
pub const QUARTER_OUNCE: f64 = 28.349_523_125 / 4.0;

/// Inverse of [`phi`], by halving.
fn quantile(chance: f64) -> f64 {
    let (mut low, mut high) = (-6.0, 6.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if phi(middle) < chance { low = middle } else { high = middle }
    }
    low
}

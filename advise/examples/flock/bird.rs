//! A simulated bird. Its body works by the hour and by other rules than the models of `advise`: crop, stomach
//! and gut in a row, fat and lean apart with a share that moves with condition, water that comes and goes,
//! pellets that come late, spending that follows lean mass, and an answer by a skewed probit with hunger
//! that levels off. Every constant is drawn anew for each bird, widely.

use super::mews::{between, normal, phi};
use fastrand::Rng;

/// What one item of food truly is.
#[derive(Clone, Copy)]
pub struct FoodTruth {
    pub name: &'static str,
    /// `None` for food that is weighed.
    pub mass: Option<f64>,
    pub kcal_per_g: f64,
    pub casting: f64,
}

/// A bird with its body and its head.
#[derive(Clone)]
pub struct Bird {
    pub fed_up: f64,
    pub floor: f64,
    pub foods: Vec<FoodTruth>,
    fat: f64,
    lean: f64,
    crop: f64,
    crop_kcal: f64,
    gut: f64,
    gut_kcal: f64,
    pellet: f64,
    water: f64,
    crop_hours: f64,
    gut_hours: f64,
    spend: f64,
    shelter: f64,
    fat_share: f64,
    waste_heat: f64,
    flight_cost: f64,
    water_sd: f64,
    water_memory: f64,
    scale_sd: f64,
    scale_step: f64,
    // The head.
    best: f64,
    pub drift: f64,
    keenness: f64,
    skew: f64,
    learn: f64,
    learn_sessions: f64,
    warmth: f64,
    distraction: f64,
    pub sessions: usize,
    cuts: [f64; 4],
}

impl Bird {
    pub fn new(rng: &mut Rng) -> Self {
        let fed_up = (between(rng, 90.0_f64.ln(), 4000.0_f64.ln())).exp();
        let fat_at = between(rng, 0.11, 0.24);
        let best = fed_up * between(rng, 0.83, 0.93);
        let floor = best * between(rng, 0.87, 0.93);
        let chick = FoodTruth {
            name: "day-old chick",
            mass: Some(between(rng, 34.0, 46.0)),
            kcal_per_g: between(rng, 1.0, 1.35),
            casting: 0.03,
        };
        let mouse = FoodTruth {
            name: "mouse",
            mass: Some(between(rng, 20.0, 32.0)),
            kcal_per_g: between(rng, 1.3, 1.8),
            casting: 0.05,
        };
        let quail = FoodTruth {
            name: "quail",
            mass: Some(between(rng, 140.0, 220.0)),
            kcal_per_g: between(rng, 1.4, 1.9),
            casting: 0.04,
        };
        let beef = FoodTruth { name: "beef", mass: None, kcal_per_g: between(rng, 1.05, 1.35), casting: 0.0 };
        let rabbit =
            FoodTruth { name: "rabbit", mass: None, kcal_per_g: between(rng, 1.0, 1.4), casting: 0.0 };
        let foods = match rng.usize(0..5) {
            0 => vec![chick],
            1 => vec![chick, beef],
            2 if fed_up < 500.0 => vec![chick, mouse],
            2 => vec![chick, quail],
            3 if fed_up > 1500.0 => vec![rabbit, quail],
            3 => vec![mouse, chick, beef],
            _ => vec![beef, chick],
        };
        let (scale_step, scale_sd) = match fed_up {
            f if f < 250.0 => (0.1, between(rng, 0.05, 0.4)),
            f if f < 1500.0 => {
                (if rng.f64() < 0.15 { 14.174_761_562_5 / 4.0 } else { 1.0 }, between(rng, 0.3, 2.0))
            }
            _ => (if rng.f64() < 0.5 { 5.0 } else { 1.0 }, between(rng, 1.0, 6.0)),
        };
        Self {
            fed_up,
            floor,
            foods,
            fat: fed_up * fat_at * 0.9,
            lean: fed_up * (1.0 - fat_at) * 0.985,
            crop: 0.0,
            crop_kcal: 0.0,
            gut: 0.0,
            gut_kcal: 0.0,
            pellet: 0.0,
            water: 0.0,
            crop_hours: between(rng, 1.5, 4.5),
            gut_hours: between(rng, 2.5, 8.0),
            spend: between(rng, 1.05, 1.75),
            shelter: between(rng, 0.2, 0.9),
            fat_share: between(rng, 0.6, 1.4),
            waste_heat: between(rng, 0.10, 0.18),
            flight_cost: between(rng, 0.002, 0.012),
            water_sd: between(rng, 0.0015, 0.0055),
            water_memory: between(rng, 0.0, 0.7),
            scale_sd,
            scale_step,
            best,
            drift: between(rng, -0.0005, 0.0025),
            keenness: between(rng, 0.45, 1.2),
            skew: between(rng, -0.3, 0.3),
            learn: between(rng, 0.0, 2.0),
            learn_sessions: between(rng, 2.0, 8.0),
            warmth: between(rng, -0.4, 0.1),
            distraction: between(rng, 0.0, 0.12),
            sessions: 0,
            cuts: [-1.6, -0.8, 0.0, between(rng, 0.5, 1.2)],
        }
    }

    /// True mass now, grams.
    pub fn mass(&self) -> f64 {
        self.fat + self.lean + self.crop + self.gut + self.pellet + self.water
    }

    /// Body without what is passing: what the condition is.
    fn body(&self) -> f64 {
        self.fat + self.lean
    }

    pub fn eat(&mut self, food: FoodTruth, grams: f64) {
        self.crop += grams * (1.0 - food.casting);
        self.pellet += grams * food.casting;
        self.crop_kcal += grams * food.kcal_per_g;
    }

    /// Lives some hours at a temperature.
    pub fn live(&mut self, rng: &mut Rng, hours: f64, celsius: f64) {
        let steps = (hours * 2.0).round().max(1.0) as usize;
        let dt = hours / steps as f64;
        for _ in 0..steps {
            let to_gut = 1.0 - (-dt / self.crop_hours).exp();
            let (grams, kcal) = (self.crop * to_gut, self.crop_kcal * to_gut);
            self.crop -= grams;
            self.crop_kcal -= kcal;
            self.gut += grams;
            self.gut_kcal += kcal;
            let out = 1.0 - (-dt / self.gut_hours).exp();
            let absorbed = self.gut_kcal * out;
            self.gut_kcal -= absorbed;
            self.gut *= 1.0 - out;
            let kilograms = self.lean / 1000.0 * 1.15;
            let basal = 73.5 * kilograms.powf(0.734);
            // A bird that has little fat saves a little.
            let thrift = 0.88 + 0.12 * (self.fat / self.body() / 0.10).min(1.3);
            let loss = 2.96e-3 * self.body().powf(0.55) * (39.8 - celsius) * 20.65;
            let cold = (loss - basal * 1.25).max(0.0) * self.shelter;
            let spent = (self.spend * basal * thrift + cold) * dt / 24.0;
            self.change(absorbed * (1.0 - self.waste_heat) - spent);
        }
        let keep = self.water_memory.powf(hours / 24.0);
        let sd = self.water_sd * self.body() * (1.0 - keep * keep).sqrt();
        self.water = self.water * keep + sd * normal(rng);
        if rng.f64() < (hours / 14.0).min(0.93) {
            self.pellet = 0.0;
        }
    }

    /// Puts energy on or takes it off: fatter birds move more fat in it.
    fn change(&mut self, kcal: f64) {
        let fatness = self.fat / self.body();
        let share = (self.fat_share * (0.12 + 2.2 * fatness)).clamp(0.12, 0.75);
        let worth = share * 9.4 + (1.0 - share) * 1.25;
        let gained = if kcal > 0.0 { kcal * 0.85 } else { kcal };
        self.fat = (self.fat + share * gained / worth).max(0.005 * self.lean);
        self.lean += (1.0 - share) * gained / worth;
    }

    /// Stands on the scale.
    pub fn weigh(&self, rng: &mut Rng) -> f64 {
        let seen = self.mass() + self.scale_sd * normal(rng);
        (seen / self.scale_step).round() * self.scale_step
    }

    /// Latent answer at a mass on a usual day.
    fn answer(&self, mass: f64) -> f64 {
        let over = (mass - self.best) / self.best * 100.0;
        // Hunger levels off below, and answers drop faster above: no straight line.
        let pull = if over > 0.0 {
            over * (1.0 + 0.10 * over.min(6.0) * (1.0 + self.skew))
        } else {
            5.0 * (over / 5.0).tanh()
        };
        0.8416 - self.keenness * pull - self.learn * (-(self.sessions as f64) / self.learn_sessions).exp()
    }

    /// Flies and is graded, 1 to 5.
    pub fn fly(&mut self, rng: &mut Rng, celsius: f64, flights: f64) -> (u8, bool) {
        let distracted = rng.f64() < self.distraction;
        let mut latent = self.answer(self.mass()) + self.warmth * (celsius - 8.0) / 10.0 + normal(rng);
        if distracted {
            latent -= between(rng, 0.5, 2.5);
        }
        self.sessions += 1;
        let basal = 73.5 * (self.lean / 1000.0).powf(0.734);
        self.change(-basal * self.flight_cost * flights);
        (1 + self.cuts.iter().filter(|c| latent > **c).count() as u8, distracted)
    }

    /// A day passes for the head too.
    pub fn age(&mut self) {
        self.best *= 1.0 + self.drift / 7.0;
    }

    /// The truth asked for: highest mass at which a good answer comes four times in five.
    pub fn flying_weight(&self) -> f64 {
        let (mut low, mut high) = (self.best * 0.7, self.best * 1.2);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if phi(self.answer(middle)) >= 0.8 { low = middle } else { high = middle }
        }
        low
    }

    /// Chance of a good answer at the mass it has now, on a usual day.
    pub fn good_chance(&self) -> f64 {
        phi(self.answer(self.mass()))
    }

    /// What holds the bird, kcal a day, as a keeper would know it after some weeks.
    pub fn holding_kcal(&self, celsius: f64) -> f64 {
        let basal = 73.5 * (self.lean / 1000.0 * 1.15).powf(0.734);
        let loss = 2.96e-3 * self.body().powf(0.55) * (39.8 - celsius) * 20.65;
        (self.spend * basal + (loss - basal * 1.25).max(0.0) * self.shelter) / (1.0 - self.waste_heat)
    }
}

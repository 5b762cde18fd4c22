//! A simulated keeper: weighs, flies, feeds by rule of thumb or by the advice, and writes it down with gaps
//! and mistakes.

use super::bird::{Bird, FoodTruth};
use super::mews::{Mews, Truth, between, normal};
use chrono::{DateTime, Duration, FixedOffset};
use fastrand::Rng;
use note::{ConditionSeen, Day, DayFlights, DayFood, Grade, Line, Sign};

/// A keeper with one bird.
#[derive(Clone)]
pub struct Keeper {
    pub bird: Bird,
    pub card: note::Bird,
    pub days: Vec<Day>,
    pub truths: Vec<Truth>,
    rng: Rng,
    start: DateTime<FixedOffset>,
    now: DateTime<FixedOffset>,
    punctual: f64,
    climate: f64,
    swing: f64,
    target: f64,
    good_run: u32,
    poor_run: u32,
    eye: f64,
    mistakes: f64,
    gaps: f64,
    fly_from: usize,
}

impl Mews for Keeper {
    fn new(seed: u64) -> Self {
        let mut rng = Rng::with_seed(seed);
        let bird = Bird::new(&mut rng);
        let furniture = (bird.fed_up * between(&mut rng, 0.004, 0.02)).round();
        let guess = bird.fed_up * between(&mut rng, 0.86, 0.90);
        let target = guess.max(bird.floor * 1.03);
        let card = note::Bird {
            bird: format!("bird {seed}"),
            floor_g: Some(bird.floor),
            target_g: (rng.f64() < 0.8).then_some(target),
            fed_up_g: (rng.f64() < 0.8).then_some(bird.fed_up),
            furniture_g: Some(furniture),
            ..note::Bird::default()
        };
        let start = DateTime::parse_from_rfc3339("2026-09-01T08:00:00+00:00").expect("a date");
        Self {
            target,
            card,
            bird,
            days: Vec::new(),
            truths: Vec::new(),
            start,
            now: start,
            punctual: between(&mut rng, 5.0, 60.0),
            climate: between(&mut rng, -2.0, 20.0),
            swing: between(&mut rng, 1.0, 4.0),
            good_run: 0,
            poor_run: 0,
            eye: between(&mut rng, 0.03, 0.12),
            mistakes: between(&mut rng, 0.0, 0.08),
            gaps: between(&mut rng, 0.0, 0.15),
            fly_from: rng.usize(2..8),
            rng,
        }
    }

    /// Weighs and flies; the day's food is not known yet. Returns what was truly seen.
    fn morning(&mut self) -> Truth {
        let rng = &mut self.rng;
        let celsius = self.climate - self.days.len() as f64 * 0.08 + self.swing * normal(rng);
        let at = self.now;
        let reading = self.bird.weigh(rng);
        let mass = self.bird.mass();
        let weighed = rng.f64() >= self.gaps * 0.6;
        let flies = self.days.len() >= self.fly_from && rng.f64() < 0.85;
        let good_chance = self.bird.good_chance();
        let mut grade = None;
        let mut behaviours = Vec::new();
        let count = rng.u32(2..16);
        if flies {
            let (given, distracted) = self.bird.fly(rng, celsius, f64::from(count));
            grade = Some(given);
            if distracted && rng.f64() < 0.5 {
                behaviours.push("distracted".to_string());
            }
        }
        self.bird.age();
        let casting = rng.f64() < 0.3;
        self.days.push(Day {
            at,
            grams: weighed
                .then_some(((reading + self.card.furniture_g.unwrap_or(0.0)) * 10.0).round() / 10.0),
            response: grade.and_then(Grade::new),
            flights: flies.then_some(DayFlights {
                count: Some(count),
                longest_m: Some((10.0 + 4.0 * self.days.len() as f64).min(80.0)),
                line: Some(if self.days.len() < 25 { Line::Creance } else { Line::Free }),
            }),
            food: None,
            temperature_c: (rng.f64() < 0.8).then_some((celsius * 2.0).round() / 2.0),
            behaviours: Some(behaviours),
            condition: casting.then(|| vec![ConditionSeen { sign: Sign::Casting, reading: "cast".into() }]),
        });
        let truth = Truth { mass, grade, good_chance, reading };
        self.truths.push(truth.clone());
        self.adjust(grade);
        truth
    }

    /// Feeds by rule of thumb, or as told; lives until the next morning; writes the food down, not always rightly.
    fn evening(&mut self, told: Option<&note::Ration>) {
        let celsius = self.climate;
        let portions: Vec<(FoodTruth, f64)> = match told {
            Some(ration) => ration
                .items
                .iter()
                .filter_map(|p| {
                    let food =
                        *self.bird.foods.iter().find(|f| f.name == p.item).unwrap_or(&self.bird.foods[0]);
                    let amount = p.grams.or_else(|| Some(p.count? * food.mass?))?;
                    Some((food, amount))
                })
                .collect(),
            None => self.by_thumb(celsius),
        };
        let rng = &mut self.rng;
        let mut noted = Vec::new();
        // A bite or two while flying, the rest towards evening.
        let early = between(rng, 0.1, 0.5);
        let evening = between(rng, 6.0, 10.0);
        let mut true_portions = Vec::new();
        for (food, grams) in portions {
            let actual = grams * (1.0 + 0.05 * normal(rng)).max(0.5);
            true_portions.push((food, actual));
            let as_weighed =
                told.is_some_and(|t| t.items.iter().any(|p| p.item == food.name && p.grams.is_some()));
            noted.push(match food.mass {
                Some(mass) if !as_weighed && mass <= 0.15 * self.bird.fed_up => DayFood {
                    item: food.name.into(),
                    count: Some((grams / mass * 2.0).round() / 2.0),
                    ..DayFood::default()
                },
                _ => DayFood { item: food.name.into(), grams: Some(grams.round()), ..DayFood::default() },
            });
        }
        if rng.f64() < self.mistakes {
            // Forgot some, or wrote too much.
            if let Some(first) = noted.first_mut() {
                let wrong = if rng.bool() { 0.6 } else { 1.4 };
                first.count = first.count.map(|c| (c * wrong * 2.0).round() / 2.0);
                first.grams = first.grams.map(|g| (g * wrong).round());
            }
        }
        let known = rng.f64() >= self.gaps * 0.5;
        self.days.last_mut().expect("a morning").food = known.then_some(noted);
        self.bird.live(rng, 1.5, celsius);
        for (food, grams) in &true_portions {
            self.bird.eat(*food, grams * early);
        }
        self.bird.live(rng, evening - 1.5, celsius);
        for (food, grams) in &true_portions {
            self.bird.eat(*food, grams * (1.0 - early));
        }
        let night = celsius - 4.0 + self.swing * normal(rng);
        // Weighed about eight, some days sooner or later.
        let due = self.start + Duration::days(self.days.len() as i64);
        let next = due + Duration::minutes((self.punctual * normal(rng)).clamp(-180.0, 180.0) as i64);
        let hours = (next - self.now).num_minutes() as f64 / 60.0;
        self.bird.live(rng, (hours - evening).max(2.0), night);
        self.now = next;
    }

    fn card(&self) -> &note::Bird {
        &self.card
    }
    fn days(&self) -> &[Day] {
        &self.days
    }
    fn written(&self) -> bool {
        true
    }
    fn fed_up(&self) -> f64 {
        self.bird.fed_up
    }
    fn floor(&self) -> f64 {
        self.bird.floor
    }
    fn flying_weight(&self) -> f64 {
        self.bird.flying_weight()
    }
    fn sessions(&self) -> usize {
        self.bird.sessions
    }
    fn keeping(&self) -> &'static str {
        "one rule of thumb"
    }
    fn set_drift(&mut self, per_week: f64) {
        self.bird.drift = per_week;
    }
}

impl Keeper {
    /// The rule of thumb on the target: down a per cent after two poor answers, up half after five good ones.
    fn adjust(&mut self, grade: Option<u8>) {
        match grade {
            Some(4..) => (self.good_run, self.poor_run) = (self.good_run + 1, 0),
            Some(..=2) => (self.good_run, self.poor_run) = (0, self.poor_run + 1),
            Some(_) => self.good_run = 0,
            None => {}
        }
        if self.poor_run >= 2 {
            self.target = (self.target * 0.99).max(self.bird.floor * 1.02);
            self.poor_run = 0;
        }
        if self.good_run >= 5 {
            self.target = (self.target * 1.005).min(self.bird.fed_up);
            self.good_run = 0;
        }
    }

    fn by_thumb(&mut self, celsius: f64) -> Vec<(FoodTruth, f64)> {
        let holding = self.bird.holding_kcal(celsius);
        let rng = &mut self.rng;
        let seen = self.truths.last().map_or(self.bird.mass(), |t| t.reading);
        let off = (seen - self.target) / self.target;
        let wanted = holding * (1.0 - 9.0 * off).clamp(0.35, 1.6) * (1.0 + self.eye * normal(rng));
        let pick = if rng.f64() < 0.7 { 0 } else { rng.usize(0..self.bird.foods.len()) };
        let food = self.bird.foods[pick];
        let grams = wanted / food.kcal_per_g;
        let grams = match food.mass {
            Some(mass) => {
                let step = if mass > 0.15 * self.bird.fed_up { mass / 4.0 } else { mass / 2.0 };
                (grams / step).round().max(1.0) * step
            }
            None => grams.round(),
        };
        vec![(food, grams)]
    }
}

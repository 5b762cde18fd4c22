//! A simulated keeper of another make than [`super::keeper`]: steady, heavy-handed or erratic; flies on some days of
//! the week; is away for days on end and then writes nothing; notes food in grams, in counts, in words without
//! amounts, or wrongly; may think in ounces; may have set a floor, a target or a fed-up weight, or not.

use super::mews::{Mews, Truth, between, normal};
use super::second_bird::{Bird, QUARTER_OUNCE};
use chrono::{DateTime, Duration, FixedOffset};
use fastrand::Rng;
use note::{ConditionSeen, Day, DayFlights, DayFood, Grade, Line, Sign, Units};

/// A food as it truly is.
#[derive(Clone, Copy)]
struct Food {
    name: &'static str,
    mass: Option<f64>,
    kcal_per_g: f64,
    casting: f64,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Hand {
    Steady,
    Heavy,
    Erratic,
}

/// A keeper with one bird.
#[derive(Clone)]
pub struct Keeper {
    bird: Bird,
    card: note::Bird,
    days: Vec<Day>,
    foods: Vec<Food>,
    rng: Rng,
    hand: Hand,
    start: DateTime<FixedOffset>,
    now: DateTime<FixedOffset>,
    count: i64,
    away: u32,
    written: bool,
    /// Reading of the day, if it was weighed.
    reading: Option<f64>,
    target: f64,
    good_run: u32,
    poor_run: u32,
    /// How far off its notion of what holds the bird is.
    notion: f64,
    climate: f64,
    warming: f64,
    weather: f64,
    punctual: f64,
    knows_weather: bool,
    flying_days: f64,
    /// Usual share of the food given at the flying, hours to the rest of it, and how much those vary.
    early: f64,
    supper: f64,
    supper_sd: f64,
}

impl Keeper {
    fn food_at_hand(rng: &mut Rng, fed_up: f64) -> Vec<Food> {
        let item = |rng: &mut Rng, name, mass: Option<(f64, f64)>, kcal: (f64, f64), casting| Food {
            name,
            mass: mass.map(|m| between(rng, m.0, m.1)),
            kcal_per_g: between(rng, kcal.0, kcal.1),
            casting,
        };
        let chick = item(rng, "day-old chick", Some((32.0, 48.0)), (0.95, 1.4), 0.04);
        let mouse = item(rng, "mouse", Some((18.0, 34.0)), (1.25, 1.85), 0.06);
        let quail = item(rng, "quail", Some((130.0, 230.0)), (1.3, 2.0), 0.05);
        let beef = item(rng, "beef", None, (0.95, 1.4), 0.0);
        let washed = item(rng, "washed meat", None, (0.6, 1.1), 0.0);
        let mut foods = match rng.usize(0..6) {
            0 => vec![chick],
            1 => vec![chick, mouse],
            2 => vec![beef, chick],
            3 => vec![chick, quail, beef],
            4 => vec![mouse, beef],
            _ => vec![chick, washed],
        };
        if fed_up < 300.0 {
            foods.retain(|f| f.name != "quail");
        }
        foods
    }

    /// Rule of thumb on the target, more or less roughly by the keeper's hand.
    fn adjust(&mut self, grade: Option<u8>) {
        match grade {
            Some(4..) => (self.good_run, self.poor_run) = (self.good_run + 1, 0),
            Some(..=2) => (self.good_run, self.poor_run) = (0, self.poor_run + 1),
            Some(_) => self.good_run = 0,
            None => {}
        }
        let (down, up) = match self.hand {
            Hand::Steady => (0.010, 0.005),
            Hand::Heavy => (0.020, 0.015),
            Hand::Erratic => (0.012, 0.010),
        };
        if self.poor_run >= 2 {
            self.target = (self.target * (1.0 - down)).max(self.bird.floor * 1.03);
            self.poor_run = 0;
        }
        if self.good_run >= 5 {
            self.target = (self.target * (1.0 + up)).min(self.bird.fed_up);
            self.good_run = 0;
        }
    }

    /// What is fed by eye: food and grams.
    fn by_eye(&mut self) -> Vec<(Food, f64)> {
        let celsius = self.climate;
        let holding = self.bird.holding_kcal(celsius) * self.notion;
        let rng = &mut self.rng;
        // Unweighed, as when the keeper is away, it gets what should hold it.
        let off = self.reading.map_or(0.0, |reading| (reading - self.target) / self.target);
        let (pull, eye) = match self.hand {
            Hand::Steady => (7.0, 0.06),
            Hand::Heavy => (22.0, 0.10),
            Hand::Erratic => (8.0, 0.25),
        };
        // With a small bird even the heavy hand takes care.
        let least = if self.bird.fed_up < 300.0 { 0.5 } else { 0.2 };
        let wanted = holding * (1.0 - pull * off).clamp(least, 1.8) * (1.0 + eye * normal(rng)).max(0.2);
        let first = if rng.f64() < 0.75 { 0 } else { rng.usize(0..self.foods.len()) };
        let mut parts = vec![(self.foods[first], 1.0)];
        if self.foods.len() > 1 && rng.f64() < 0.25 {
            parts = vec![(self.foods[first], 0.6), (self.foods[(first + 1) % self.foods.len()], 0.4)];
        }
        let fed_up = self.bird.fed_up;
        let served = |(food, share): (Food, f64)| {
            let grams = wanted * share / food.kcal_per_g;
            let step = match food.mass {
                Some(mass) if mass <= 0.1 * fed_up => mass / 2.0,
                _ => 1.0,
            };
            (food, (grams / step).round().max(1.0) * step)
        };
        parts.into_iter().map(served).collect()
    }

    /// How what was served gets written.
    fn note(&mut self, served: &[(Food, f64)], told: Option<&note::Ration>) -> Option<Vec<DayFood>> {
        let (wrong, wordy, silent) = match self.hand {
            Hand::Steady => (0.02, 0.02, 0.03),
            Hand::Heavy => (0.05, 0.05, 0.06),
            Hand::Erratic => (0.10, 0.15, 0.12),
        };
        let rng = &mut self.rng;
        if rng.f64() < silent {
            return None;
        }
        let slip = if rng.f64() < wrong { [0.5, 0.7, 1.5, 2.0][rng.usize(0..4)] } else { 1.0 };
        let wordy = rng.f64() < wordy;
        let write = |(food, grams): &(Food, f64)| {
            let weighed =
                told.is_some_and(|t| t.items.iter().any(|p| p.item == food.name && p.grams.is_some()));
            let counted = food.mass.filter(|mass| !weighed && *mass <= 0.1 * self.bird.fed_up);
            DayFood {
                item: food.name.into(),
                count: counted.filter(|_| !wordy).map(|mass| (slip * grams / mass * 2.0).round() / 2.0),
                part: None,
                grams: (counted.is_none() && !wordy).then(|| (slip * grams).round()),
            }
        };
        Some(served.iter().map(write).collect())
    }
}

impl Mews for Keeper {
    fn new(seed: u64) -> Self {
        let mut rng = Rng::with_seed(seed ^ 0x00C0_FFEE);
        let bird = Bird::new(&mut rng);
        let hand = [Hand::Steady, Hand::Heavy, Hand::Erratic][rng.usize(0..3)];
        // Some know their bird, some go by the rule of its fat weight.
        let guess = if rng.bool() {
            bird.best * (1.0 + 0.02 * normal(&mut rng))
        } else {
            bird.fed_up * between(&mut rng, 0.84, 0.91)
        };
        let target = guess.clamp(bird.floor * 1.04, bird.fed_up);
        let told = |rng: &mut Rng, of: f64, value: f64| (rng.f64() < of).then(|| value.round());
        let ounces = (bird.step / (QUARTER_OUNCE / 2.0)).fract().abs() < 1e-9;
        let card = note::Bird {
            bird: format!("second {seed}"),
            floor_g: told(&mut rng, 0.85, bird.floor),
            target_g: told(&mut rng, 0.75, target),
            fed_up_g: told(&mut rng, 0.75, bird.fed_up),
            furniture_g: told(&mut rng, 0.6, bird.fed_up * 0.012),
            units: if ounces { Units::Avoirdupois } else { Units::Metric },
            ..note::Bird::default()
        };
        let hour = between(&mut rng, 7.0, 16.5);
        let midnight = DateTime::parse_from_rfc3339("2026-10-01T00:00:00+01:00").expect("a date");
        let start = midnight + Duration::minutes((hour * 60.0) as i64);
        Self {
            foods: Self::food_at_hand(&mut rng, bird.fed_up),
            card,
            days: Vec::new(),
            hand,
            start,
            now: start,
            count: 0,
            away: 0,
            written: true,
            reading: None,
            target,
            good_run: 0,
            poor_run: 0,
            notion: 1.1 * (1.0 + 0.08 * normal(&mut rng)),
            climate: between(&mut rng, -5.0, 27.0),
            warming: between(&mut rng, -0.1, 0.1),
            weather: 0.0,
            punctual: between(&mut rng, 5.0, 70.0),
            knows_weather: rng.f64() < 0.7,
            flying_days: match hand {
                Hand::Steady => between(&mut rng, 0.7, 0.95),
                Hand::Heavy => between(&mut rng, 0.5, 0.9),
                Hand::Erratic => between(&mut rng, 0.3, 0.7),
            },
            early: between(&mut rng, 0.1, 0.6),
            supper: between(&mut rng, 3.0, 9.0),
            supper_sd: between(&mut rng, 0.2, 1.5),
            bird,
            rng,
        }
    }

    fn morning(&mut self) -> Truth {
        let rng = &mut self.rng;
        self.climate += self.warming;
        self.weather = 0.6 * self.weather + 2.5 * normal(rng);
        let celsius = self.climate + self.weather;
        let (leave, length) = match self.hand {
            Hand::Steady => (0.01, 3),
            Hand::Heavy => (0.02, 4),
            Hand::Erratic => (0.05, 6),
        };
        if self.away > 0 {
            self.away -= 1;
        } else if self.count > 3 && rng.f64() < leave {
            self.away = rng.u32(1..=length);
        }
        self.written = self.away == 0;
        let furniture = self.card.furniture_g.unwrap_or(0.0);
        let reading = self.bird.weigh(rng, furniture);
        let mass = self.bird.mass();
        let good_chance = self.bird.good_chance();
        let flies = self.written && self.count >= 4 && rng.f64() < self.flying_days;
        let unweighed = if self.hand == Hand::Erratic { 0.25 } else { 0.06 };
        let weighed = flies || (self.written && rng.f64() >= unweighed);
        let flights = rng.u32(1..18);
        let mut grade = None;
        let mut behaviours = Vec::new();
        if flies {
            let (given, distracted) = self.bird.fly(rng, celsius, f64::from(flights));
            grade = Some(given);
            if distracted && rng.f64() < 0.4 {
                behaviours.push("distracted".to_string());
            }
        }
        self.bird.age(rng);
        let casting = rng.f64() < 0.2;
        if self.written {
            self.days.push(Day {
                at: self.now,
                grams: weighed.then_some(((reading + furniture) * 10.0).round() / 10.0),
                response: grade.and_then(Grade::new),
                flights: flies.then_some(DayFlights {
                    count: Some(flights),
                    longest_m: rng.bool().then_some((5.0 + 3.0 * self.count as f64).min(70.0)),
                    line: Some(if self.count < 25 { Line::Creance } else { Line::Free }),
                }),
                food: None,
                temperature_c: (self.knows_weather && rng.f64() < 0.9).then_some(celsius.round()),
                behaviours: Some(behaviours),
                condition: casting
                    .then(|| vec![ConditionSeen { sign: Sign::Casting, reading: "cast".into() }]),
            });
        }
        self.reading = weighed.then_some(reading);
        self.adjust(grade);
        Truth { mass, grade, good_chance, reading }
    }

    fn evening(&mut self, told: Option<&note::Ration>) {
        let served = match told {
            Some(ration) => ration
                .items
                .iter()
                .filter_map(|p| {
                    let food = *self.foods.iter().find(|f| f.name == p.item).unwrap_or(&self.foods[0]);
                    Some((food, p.grams.or_else(|| Some(p.count? * food.mass?))?))
                })
                .collect(),
            None => self.by_eye(),
        };
        let noted = self.note(&served, told);
        if self.written {
            self.days.last_mut().expect("a written day").food = noted;
        }
        let rng = &mut self.rng;
        let early = (self.early + 0.15 * normal(rng)).clamp(0.0, 1.0);
        let later = (self.supper + self.supper_sd * normal(rng)).clamp(2.0, 11.0);
        let celsius = self.climate + self.weather;
        let feed = |bird: &mut Bird, rng: &mut Rng, share: f64| {
            for (food, grams) in &served {
                let grams = grams * share * (1.0 + 0.04 * normal(rng)).max(0.5);
                bird.eat(grams, food.kcal_per_g, food.casting);
            }
        };
        self.bird.live(rng, 1.0, celsius);
        feed(&mut self.bird, rng, early);
        self.bird.live(rng, later - 1.0, celsius);
        feed(&mut self.bird, rng, 1.0 - early);
        self.count += 1;
        let late = (self.punctual * normal(rng)).clamp(-200.0, 200.0) as i64;
        let next = self.start + Duration::days(self.count) + Duration::minutes(late);
        let hours = (next - self.now).num_minutes() as f64 / 60.0 - later;
        self.bird.live(rng, hours.max(2.0), celsius - 3.0);
        self.now = next;
    }

    fn card(&self) -> &note::Bird {
        &self.card
    }
    fn days(&self) -> &[Day] {
        &self.days
    }
    fn written(&self) -> bool {
        self.written
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
        match self.hand {
            Hand::Steady => "steady",
            Hand::Heavy => "heavy-handed",
            Hand::Erratic => "erratic",
        }
    }
    fn set_drift(&mut self, per_week: f64) {
        self.bird.drift = per_week;
    }
}

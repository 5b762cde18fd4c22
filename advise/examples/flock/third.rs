//! A third draw, of another make than both others, kept for a last look: no number of the advice was chosen by it.
//!
//! One body whose gram is worth more the fatter it is; meals that are gone after so many hours, early or late; needs that
//! wander from day to day; weighed in the afternoon and fed once, on the fist. The chance of a good answer falls by a
//! complementary log-log curve, from a top that the bird keeps to, and falls again in a bird too light; the grade is
//! drawn from that chance, not cut from it, and now and then is one off. The keeper flies on set days of the week and
//! moves its target by the month's answers; it mistypes a weight now and then and never notes the weather.

use super::mews::{Mews, Truth, between, normal};
use chrono::{DateTime, Duration, FixedOffset};
use fastrand::Rng;
use note::{Day, DayFlights, DayFood, Grade, Line};

/// Food that the keeper has: name, grams of one, kcal in a gram.
type Food = (&'static str, f64, f64);

/// A bird with its keeper.
#[derive(Clone)]
pub struct Keeper {
    card: note::Bird,
    days: Vec<Day>,
    rng: Rng,
    start: DateTime<FixedOffset>,
    count: i64,
    fed_up: f64,
    floor: f64,
    /// Weight at which the curve of the answers stands, grams, and how it moves in a week, as a share.
    place: f64,
    drift: f64,
    body: f64,
    /// Meals not yet passed: grams, and hours to go.
    meals: Vec<(f64, f64)>,
    need: f64,
    wander: f64,
    sessions: usize,
    foods: Vec<Food>,
    target: f64,
    month: Vec<u8>,
    constants: Constants,
}

#[derive(Clone)]
struct Constants {
    exponent: f64,
    wander: f64,
    memory: f64,
    worth: (f64, f64),
    passing: f64,
    passing_sd: f64,
    water: f64,
    top: f64,
    width: f64,
    learning: f64,
    fives: f64,
    slips: f64,
    scale: (f64, f64),
    late: f64,
    eye: f64,
    known: f64,
    flying_days: i64,
}

impl Keeper {
    /// Chance of a good answer at a weight on a usual day, as well trained as it is.
    fn chance(&self, grams: f64) -> f64 {
        let c = &self.constants;
        let over = 100.0 * (grams / self.place - 1.0);
        let hungry = 1.0 - (-(-over / c.width).exp()).exp();
        let strong = 1.0 / (1.0 + (-(over + 12.0)).exp());
        let trained = 1.0 - c.learning / (1.0 + 0.5 * self.sessions as f64);
        c.top * hungry * strong * trained
    }

    fn mass(&self) -> f64 {
        self.body + self.meals.iter().map(|m| m.0).sum::<f64>()
    }

    fn live(&mut self, hours: f64) {
        self.meals.iter_mut().for_each(|m| m.1 -= hours);
        self.meals.retain(|m| m.1 > 0.0);
    }

    /// Turns a day's energy into weight, kcal.
    fn balance(&mut self, kcal: f64) {
        let c = &self.constants;
        let fatness = (self.body / self.fed_up - 0.75).clamp(0.0, 0.3) / 0.3;
        let worth = (c.worth.0 + (c.worth.1 - c.worth.0) * fatness) / 4.184;
        self.body += (if kcal > 0.0 { 0.8 * kcal } else { kcal }) / worth;
    }
}

impl Mews for Keeper {
    fn new(seed: u64) -> Self {
        let mut rng = Rng::with_seed(seed ^ 0x7_14D);
        let fed_up = between(&mut rng, 95.0_f64.ln(), 3800.0_f64.ln()).exp();
        let place = fed_up * between(&mut rng, 0.86, 0.97);
        let mass = |rng: &mut Rng, low, high| between(rng, low, high);
        let foods = match rng.usize(0..3) {
            0 => vec![("day-old chick", mass(&mut rng, 35.0, 44.0), between(&mut rng, 1.0, 1.3))],
            1 => vec![("beef", 1.0, between(&mut rng, 1.0, 1.3))],
            _ => vec![
                ("mouse", mass(&mut rng, 20.0, 30.0), between(&mut rng, 1.3, 1.7)),
                ("day-old chick", mass(&mut rng, 35.0, 44.0), between(&mut rng, 1.0, 1.3)),
            ],
        };
        let constants = Constants {
            exponent: between(&mut rng, 0.66, 0.74),
            wander: between(&mut rng, 0.02, 0.10),
            memory: between(&mut rng, 0.0, 0.7),
            worth: (between(&mut rng, 8.0, 13.0), between(&mut rng, 15.0, 26.0)),
            passing: between(&mut rng, 10.0, 16.0),
            passing_sd: between(&mut rng, 0.3, 1.5),
            water: between(&mut rng, 0.001, 0.005),
            top: between(&mut rng, 0.9, 1.0),
            width: between(&mut rng, 1.0, 3.0),
            learning: between(&mut rng, 0.0, 0.6),
            fives: between(&mut rng, 0.3, 0.9),
            slips: between(&mut rng, 0.0, 0.12),
            scale: if fed_up < 400.0 { (0.5, 0.4) } else { ([1.0, 2.0, 5.0][rng.usize(0..3)], 1.0) },
            late: between(&mut rng, 0.1, 0.8),
            eye: between(&mut rng, 0.05, 0.15),
            known: between(&mut rng, 0.85, 1.0),
            flying_days: rng.i64(3..7),
        };
        let start = DateTime::parse_from_rfc3339("2026-09-14T15:00:00+01:00").expect("a date");
        let mut keeper = Self {
            card: note::Bird::default(),
            days: Vec::new(),
            start,
            count: 0,
            fed_up,
            floor: 0.0,
            place,
            drift: between(&mut rng, -0.001, 0.004),
            body: fed_up * 0.95,
            meals: Vec::new(),
            need: 78.0 * (0.2 * normal(&mut rng)).exp(),
            wander: 0.0,
            sessions: 200,
            foods,
            target: 0.0,
            month: Vec::new(),
            constants,
            rng,
        };
        let best = keeper.flying_weight();
        keeper.sessions = 0;
        keeper.floor = best * between(&mut keeper.rng, 0.88, 0.94);
        keeper.target = (best * (1.0 + 0.025 * normal(&mut keeper.rng))).max(keeper.floor * 1.04);
        let told = |rng: &mut Rng, value: f64| (rng.f64() < 0.8).then(|| value.round());
        keeper.card = note::Bird {
            bird: format!("third {seed}"),
            floor_g: told(&mut keeper.rng, keeper.floor),
            target_g: told(&mut keeper.rng, keeper.target),
            fed_up_g: told(&mut keeper.rng, keeper.fed_up),
            ..note::Bird::default()
        };
        keeper
    }

    fn morning(&mut self) -> Truth {
        let c = self.constants.clone();
        let late = c.late * normal(&mut self.rng);
        let at = self.start + Duration::days(self.count) + Duration::minutes((60.0 * late) as i64);
        let mass = self.mass();
        let seen = mass + c.scale.1 * normal(&mut self.rng);
        let reading = (seen / c.scale.0).round() * c.scale.0;
        let typed = if self.rng.f64() < 0.005 { reading + 100.0 } else { reading };
        let good_chance = self.chance(mass);
        let flies = self.count > 5 && (self.count * 5) % 7 < c.flying_days;
        let mut grade = None;
        if flies {
            // A shock that now and then is large.
            let shock = 0.03 * normal(&mut self.rng) / (0.2 + self.rng.f64());
            let chance = (good_chance + shock).clamp(0.01, 0.99);
            let good = self.rng.f64() < chance;
            let again = self.rng.f64();
            let given: u8 = match good {
                true => 4 + u8::from(again < c.fives * chance),
                false => 1 + u8::from(again < chance + 0.3) + u8::from(again < 0.7 * chance),
            };
            let slip = if self.rng.f64() < c.slips { [-1, 1][self.rng.usize(0..2)] } else { 0 };
            grade = Some(given.saturating_add_signed(slip).clamp(1, 5));
            self.sessions += 1;
            self.month.extend(grade);
        }
        self.place *= 1.0 + self.drift / 7.0;
        self.days.push(Day {
            at,
            grams: Some(typed),
            response: grade.and_then(Grade::new),
            flights: flies.then_some(DayFlights {
                count: Some(6),
                longest_m: None,
                line: Some(Line::Creance),
            }),
            food: None,
            temperature_c: None,
            behaviours: None,
            condition: None,
        });
        if self.month.len() >= 8 {
            let good = self.month.iter().filter(|g| **g >= 4).count();
            let step = [(0..5, 0.985), (5..7, 0.995), (7..9, 1.01)];
            let by = step.iter().find(|(range, _)| range.contains(&good)).map_or(1.0, |s| s.1);
            self.target = (self.target * by).clamp(self.floor * 1.03, self.fed_up);
            self.month.clear();
        }
        Truth { mass, grade, good_chance, reading }
    }

    fn evening(&mut self, told: Option<&note::Ration>) {
        let c = self.constants.clone();
        let need = self.need * (self.body / 1000.0).powf(c.exponent);
        let served: Vec<(Food, f64)> = match told {
            Some(ration) => ration
                .items
                .iter()
                .filter_map(|p| {
                    let food = *self.foods.iter().find(|f| f.0 == p.item).unwrap_or(&self.foods[0]);
                    Some((food, p.grams.or_else(|| Some(p.count? * food.1))?))
                })
                .collect(),
            None => {
                let food = self.foods[self.rng.usize(0..self.foods.len())];
                let off = (self.mass() - self.target) / self.target;
                let wanted = need * (1.15 - 12.0 * off).clamp(0.3, 1.8);
                let step = if food.1 > 0.06 * self.fed_up { 1.0 } else { 0.5 * food.1 };
                let grams = wanted * (1.0 + c.eye * normal(&mut self.rng)) / food.2;
                vec![(food, (grams / step).round().max(1.0) * step)]
            }
        };
        let noted = self.rng.f64() < c.known;
        let write = |(food, grams): &(Food, f64)| DayFood {
            item: food.0.into(),
            count: None,
            part: None,
            grams: Some(grams.round()),
        };
        self.days.last_mut().expect("a day").food = noted.then(|| served.iter().map(write).collect());
        self.wander =
            self.wander * c.memory + c.wander * (1.0 - c.memory * c.memory).sqrt() * normal(&mut self.rng);
        self.live(3.0);
        let mut kcal = -need * (1.0 + self.wander);
        for (food, grams) in served {
            let grams = grams * (1.0 + 0.04 * normal(&mut self.rng));
            kcal += grams * food.2;
            // What is left of it at the next weigh-in, some hours on.
            let hours = c.passing + c.passing_sd * normal(&mut self.rng);
            self.meals.push((0.7 * grams, hours));
            self.meals.push((0.3 * grams, hours + 5.0));
        }
        self.balance(kcal);
        self.body += c.water * self.body * normal(&mut self.rng);
        self.live(21.0);
        self.count += 1;
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
        self.fed_up
    }
    fn floor(&self) -> f64 {
        self.floor
    }
    fn flying_weight(&self) -> f64 {
        let light = self.place * 0.9;
        let steps = (0..2000).map(|k| light + self.place * 1e-4 * f64::from(k));
        steps.rev().find(|w| self.chance(*w) >= 0.8).unwrap_or(light)
    }
    fn sessions(&self) -> usize {
        self.sessions
    }
    fn keeping(&self) -> &'static str {
        "by the week"
    }
    fn set_drift(&mut self, per_week: f64) {
        self.drift = per_week;
    }
}

//! Every adjustable number of the advice, each with its range, its mark and where it comes from.
//!
//! Marks: **P** published and seen, **P2** quoted in a published second source, **M** from memory,
//! **C** common practice of the trade, no source. Nothing marked M or C is buried in the code: it
//! stands here, so that a keeper or a vet can change it. Absent on purpose: reading of files. The
//! structures read and write TOML or JSON through serde; every field may be left out.

use crate::foods::{self, FoodFact};
use serde::{Deserialize, Serialize};

/// A setting with the range it may be moved in and the ground it stands on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Group and name, as in a settings file.
    pub name: &'static str,
    /// The value when the keeper sets nothing.
    pub default: f64,
    /// Lowest allowed value.
    pub low: f64,
    /// Highest allowed value.
    pub high: f64,
    /// Mark and source.
    pub ground: &'static str,
}

/// Occurs when a setting lies outside its stated range.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("the setting {name} is {value}, but must lie between {low} and {high}; nothing was changed")]
pub struct OutOfRange {
    /// Group and name of the setting.
    pub name: String,
    /// What was given.
    pub value: f64,
    /// Lowest allowed value.
    pub low: f64,
    /// Highest allowed value.
    pub high: f64,
}

macro_rules! group {
    ($(#[$doc:meta])* $group:ident as $path:literal {
        $($(#[$field_doc:meta])* $field:ident = $default:literal in $low:literal .. $high:literal, $ground:literal;)+
    }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
        #[serde(default, deny_unknown_fields)]
        pub struct $group { $($(#[$field_doc])* pub $field: f64,)+ }
        impl Default for $group {
            fn default() -> Self { Self { $($field: $default,)+ } }
        }
        impl $group {
            /// Lists the settings of this group.
            pub const RANGES: &'static [Range] = &[$(Range {
                name: concat!($path, ".", stringify!($field)), default: $default, low: $low, high: $high,
                ground: $ground,
            },)+];
            fn values(&self) -> Vec<f64> { vec![$(self.$field,)+] }
        }
    };
}

group! {
    /// What a bird spends and what food and tissue are worth.
    Energy as "energy" {
        /// Kilocalories a day that hold a bird of one kilogram.
        maintenance_kcal = 110.0 in 80.0 .. 140.0, "M: Kirkwood 1981, birds of prey, original not seen; 25 % either way";
        /// Exponent of mass in kilograms for maintenance.
        maintenance_exponent = 0.679 in 0.60 .. 0.78, "M: Kirkwood 1981, original not seen";
        /// Spread of one bird's maintenance about the equation, as a share.
        maintenance_spread = 0.20 in 0.05 .. 0.50, "M: the equation is uncertain by about 25 %; birds differ by order and climate (P: Hudson et al. 2013)";
        /// Share of the equation's cold cost that a housed bird pays.
        cold_share = 0.6 in 0.0 .. 1.5, "M: the conductance model knows no shelter, fluffing or meal heat";
        /// Body temperature, degrees Celsius.
        body_c = 39.5 in 37.0 .. 42.0, "P range 37.1 to 41.3: Wasser 1986; middle from memory";
        /// Flapping flight as a multiple of the basal rate.
        flight_multiple = 12.0 in 6.0 .. 18.0, "P: 13.8 W in a kestrel of 0.2 kg (Masman & Klaassen 1987), 12.6 times Aschoff & Pohl";
        /// Ground speed of a called flight, metres a second.
        flight_speed = 9.0 in 4.0 .. 20.0, "M";
        /// Kilojoules in a gram of body mass gained or lost.
        tissue_kj_per_g = 17.0 in 8.0 .. 30.0, "P: 22.3 in a long fast (Groscolas et al. 1991), 4.8 for lean tissue alone; between them over a few days";
        /// Spread of that figure between birds, as a share.
        tissue_spread = 0.40 in 0.10 .. 0.80, "M: 8 to 30 kJ/g";
        /// Share by which the worth of one food may differ from the table.
        food_spread = 0.12 in 0.02 .. 0.40, "P: owl-measured energy lies 10 to 14 % under table values (Duke et al. 1973)";
        /// Hours in which two thirds of a meal's mass leaves the bird.
        passage_hours = 8.0 in 3.0 .. 16.0, "D: mass returns over 20 to 24 h; pellet after 12 to 18 h (P)";
        /// Extra spending while feathers grow, as a share of maintenance.
        moult_share = 0.09 in 0.0 .. 0.30, "M: plumage mass; P: 104 to 117 kJ per g feather (Dietz et al. 1992)";
    }
}
group! {
    /// Limits on what is fed tonight.
    Limits as "limits" {
        /// Largest planned loss a day of a bird over 600 g, as a share of its weight.
        loss_large = 0.015 in 0.0 .. 0.02, "C: 1 to 2 % a day; no published threshold";
        /// Largest planned loss a day of a bird under 250 g.
        loss_small = 0.0075 in 0.0 .. 0.01, "C: at most 1 % a day, with two weigh-ins";
        /// Largest planned loss before a cold night, of a small bird.
        loss_cold = 0.004 in 0.0 .. 0.01, "C: small birds die of a small loss in the cold";
        /// Largest planned gain a day.
        gain = 0.025 in 0.005 .. 0.06, "C";
        /// Least food, as a share of what holds the bird.
        least_food = 0.25 in 0.0 .. 0.80, "C";
        /// Most food, as a multiple of what holds the bird.
        most_food = 2.2 in 1.2 .. 3.0, "C";
        /// Lowest share of the fed-up weight that is ever aimed for.
        share_of_fed_up = 0.80 in 0.75 .. 0.95, "C: 20 % under fat weight is red; no published limit";
        /// Standard deviations of the forecast kept between the target and the floor.
        floor_margin = 2.6 in 1.7 .. 4.0, "C";
        /// A bird lighter than this is small: cold nights count, grams.
        small_g = 250.0 in 150.0 .. 400.0, "C";
        /// A night colder than this holds back the loss of a small bird, degrees Celsius.
        cold_c = 5.0 in -5.0 .. 15.0, "D: the need at 5 degrees is about double at 100 g";
        /// Days back in which a food counts as at hand.
        foods_days = 14.0 in 1.0 .. 60.0, "C";
    }
}
group! {
    /// How the flying weight is judged.
    Flying as "flying" {
        /// The chance of a good answer that the weight must give.
        wanted = 0.8 in 0.5 .. 0.95, "P: highest weight that keeps the wanted response (IAATE, quoted by Heidenreich); four times in five: C";
        /// The mean chance of a good answer that a ration aims for, weigh-ins falling about the aim.
        aim = 0.90 in 0.5 .. 0.97, "C: over four in five, as some days go wrong for other reasons";
        /// Scored sessions before anything is said.
        least_sessions = 10.0 in 5.0 .. 30.0, "C: about ten";
        /// Different weights before anything is said.
        least_weights = 4.0 in 2.0 .. 10.0, "C: four or five";
        /// Log-odds of a good answer that one per cent of body weight is worth, in one mood.
        slope = 2.0 in 0.3 .. 4.0, "C: about 1 % of body weight shows in the answer";
        /// Spread of that slope between birds, in natural logarithms.
        slope_spread = 0.7 in 0.1 .. 1.0, "C";
        /// Usual flying weight as a share of the fed-up weight.
        share_of_fed_up = 0.87 in 0.75 .. 1.0, "C: 10 to 17 % under fat weight; no published figure";
        /// Usual shift a week of the flying weight, per cent: upward, as fitness grows.
        drift_mean = 0.2 in -1.0 .. 1.0, "C: fitness and weight rise together";
        /// Spread of that shift between birds, per cent a week; the tails are heavy.
        drift = 0.25 in 0.0 .. 2.0, "C: best weight is not fixed";
        /// Usual share of sessions spoilt by something other than weight; how many of one bird's are is learned.
        lapses = 0.05 in 0.0 .. 0.3, "C";
        /// Usual share of poor answers of a hungry, trained bird; how many of one bird's are is learned.
        short = 0.03 in 0.0 .. 0.1, "C";
        /// Spread of the log-odds between the moods of a bird, which last for days.
        mood = 0.5 in 0.0 .. 1.5, "C";
        /// How much of the way from the middle to the edge of the believed band is stated.
        stated = 0.93 in 0.5 .. 1.0, "C: what is believed allows for the hardest birds; so drawn in, four bands in five hold over the simulated flocks together";
        /// The chance of lying within one and a half per cent of the truth from which on a flying weight is named.
        named_from = 0.25 in 0.0 .. 0.9, "C: no better than a guess below";
        /// Days after which an old session counts half.
        half_life_days = 60.0 in 14.0 .. 365.0, "C";
    }
}
group! {
    /// When training moves on.
    Gates as "gates" {
        /// Length of the full line, metres.
        full_line_m = 45.0 in 20.0 .. 100.0, "C: line flights to about 50 m";
        /// Immediate sessions at full distance before free flight.
        full_sessions = 3.0 in 2.0 .. 10.0, "C: at least three";
        /// Sessions in a row with a good answer before a middle step is left.
        good_sessions = 3.0 in 1.0 .. 10.0, "C: two or three days running";
        /// Share of recent answers that must be good.
        good_share = 0.8 in 0.5 .. 1.0, "C";
    }
}
group! {
    /// When the tool speaks up.
    Alarms as "alarms" {
        /// Unexplained loss in a day, as a share of weight.
        loss = 0.03 in 0.01 .. 0.10, "C: 3 % a day unexplained; no published threshold";
        /// Share under the good flying weight.
        under_flying = 0.05 in 0.02 .. 0.15, "C: 5 %";
        /// Share under the fed-up weight.
        under_fed_up = 0.20 in 0.10 .. 0.30, "C: 20 to 25 % is a stop-and-check";
        /// Days without a weight.
        days_unweighed = 3.0 in 1.0 .. 30.0, "C";
        /// A weigh-in this share off the forecast is implausible.
        implausible = 0.08 in 0.04 .. 0.25, "C";
        /// Grades by which answers must fall at the same weight.
        answer_fall = 1.2 in 0.5 .. 3.0, "C";
    }
}

/// All settings together.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Energy.
    pub energy: Energy,
    /// Limits of the ration.
    pub limits: Limits,
    /// Flying weight.
    pub flying: Flying,
    /// Gates of training.
    pub gates: Gates,
    /// Alarms.
    pub alarms: Alarms,
    /// The keeper's own foods; one with the name of a built-in food replaces it.
    pub foods: Vec<FoodFact>,
}

impl Settings {
    /// Lists every setting with its range and ground.
    pub fn ranges() -> impl Iterator<Item = &'static Range> {
        [Energy::RANGES, Limits::RANGES, Flying::RANGES, Gates::RANGES, Alarms::RANGES].into_iter().flatten()
    }

    /// Checks every value against its stated range.
    pub fn check(&self) -> Result<(), OutOfRange> {
        let groups = [
            self.energy.values(),
            self.limits.values(),
            self.flying.values(),
            self.gates.values(),
            self.alarms.values(),
        ];
        let out = |name: &str, value: f64, low: f64, high: f64| {
            (!(low..=high).contains(&value)).then(|| OutOfRange { name: name.into(), value, low, high })
        };
        for (range, value) in Self::ranges().zip(groups.into_iter().flatten()) {
            if let Some(error) = out(range.name, value, range.low, range.high) {
                return Err(error);
            }
        }
        for food in &self.foods {
            let worth = out(&format!("foods.{}.kcal_per_g", food.item), food.kcal_per_g, 0.0, 10.0);
            let mass = food.mass_g.and_then(|m| out(&format!("foods.{}.mass_g", food.item), m, 0.0, 5000.0));
            if let Some(error) = worth.or(mass) {
                return Err(error);
            }
        }
        Ok(())
    }

    /// Finds what is known of a food: the keeper's own first, then the built-in table.
    pub fn food(&self, item: &str) -> Option<&FoodFact> {
        let own = self.foods.iter().find(|f| f.item.eq_ignore_ascii_case(item));
        own.or_else(|| foods::TABLE.iter().find(|f| f.item.eq_ignore_ascii_case(item)))
    }
}

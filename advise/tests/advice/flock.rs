//! A small simulated flock: the bars of docs/advice.md on fewer birds, with room for chance.
//!
//! The whole study is `cargo run --release -p advise --example flock`.

use crate::keeper::Keeper;
use crate::mews::{Mews, Rule};
use advise::{Settings, advise};

const BIRDS: u64 = 16;

#[test]
fn forecasts_hold_their_band_and_beat_same_as_today() {
    let settings = Settings::default();
    let (mut count, mut held, mut miss, mut same) = (0, 0, 0.0, 0.0);
    for seed in 9000..9000 + BIRDS {
        let mut keeper = Keeper::new(seed);
        let furniture = keeper.card.furniture_g.unwrap_or(0.0);
        for _ in 0..50 {
            let before = keeper.truths.last().map(|t| t.reading);
            let forecast = (keeper.days.len() > 5)
                .then(|| advise(&keeper.card, &keeper.days, &settings).unwrap().forecast)
                .flatten();
            let came = keeper.morning().reading;
            keeper.feed(Rule::Thumb, &settings);
            if let (Some(f), Some(before)) = (forecast, before) {
                count += 1;
                held += usize::from((f.low_g..=f.high_g).contains(&came));
                miss += (f.grams / came - 1.0).abs();
                same += (before / came - 1.0).abs();
            }
        }
        assert!(furniture > 0.0);
    }
    let share = held as f64 / f64::from(count);
    assert!((0.85..=0.95).contains(&share), "band held {share:.3} of {count}");
    assert!(miss < 0.75 * same, "miss {miss:.2} against {same:.2}");
}

#[test]
fn advised_birds_fly_higher_answer_as_well_and_never_go_under_their_floor() {
    let settings = Settings::default();
    let follow = |rule: Rule| {
        let (mut weight, mut chance, mut days, mut grades) = (0.0, 0.0, 0.0, Vec::new());
        for seed in 9100..9100 + BIRDS {
            let mut keeper = Keeper::new(seed);
            for day in 0..80 {
                let truth = keeper.morning();
                assert!(truth.mass >= keeper.bird.floor, "{rule:?} {seed}: day {day} under the floor");
                if day >= 20 {
                    weight += truth.mass / keeper.bird.flying_weight();
                    chance += truth.good_chance;
                    days += 1.0;
                    grades.extend(truth.grade.map(f64::from));
                }
                keeper.feed(if day < 20 { Rule::Thumb } else { rule }, &settings);
            }
        }
        (weight / days, chance / days, grades.iter().sum::<f64>() / grades.len() as f64)
    };
    let (thumb, advised) = (follow(Rule::Thumb), follow(Rule::Advice));
    assert!(advised.0 > thumb.0, "weight {advised:?} against {thumb:?}");
    assert!(advised.1 > thumb.1 - 0.04 && advised.2 > thumb.2 - 0.15, "answer {advised:?} against {thumb:?}");
}

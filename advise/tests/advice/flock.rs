//! A small simulated flock: the bars of docs/advice.md on fewer birds, with room for chance.
//!
//! The whole study is `cargo run --release -p advise --example flock`.

use crate::keeper::Keeper;
use crate::mews::{Mews, Rule};
use crate::second_keeper;
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

/// The flock of the other make: rougher keepers, gaps and slips, so there is wider room for chance.
#[test]
fn a_flock_of_another_make_keeps_the_same_promises() {
    let settings = Settings::default();
    let (mut count, mut held, mut miss, mut same) = (0, 0, 0.0, 0.0);
    let mut errors = Vec::new();
    for seed in 9200..9200 + BIRDS {
        let mut mews = second_keeper::Keeper::new(seed);
        mews.set_drift(0.002);
        let mut expected: Option<(note::Forecast, f64)> = None;
        let mut was_clear = false;
        for day in 0..45 {
            let truth = mews.morning();
            if let Some((f, before)) = expected.take() {
                count += 1;
                held += usize::from((f.low_g..=f.high_g).contains(&truth.reading));
                miss += (f.grams / truth.reading - 1.0).abs();
                same += (before / truth.reading - 1.0).abs();
            }
            // A bird clear of its floor and fed as advised stays clear of it.
            let under = truth.mass < mews.floor();
            let bird = format!("{seed}, {}, {:.0} g fed up", mews.keeping(), mews.fed_up());
            assert!(!(under && was_clear), "{bird}: day {day} under the floor");
            let advice = mews.feed(if day < 20 { Rule::Thumb } else { Rule::Advice }, &settings);
            let advised = advice.is_some_and(|a| a.ration.is_some());
            was_clear = advised && !under && mews.card().floor_g.is_some();
            let weighed = mews.days().last().and_then(|d| d.grams).filter(|_| mews.written() && day > 5);
            if let Some(reading) = weighed {
                let forecast = advise(mews.card(), mews.days(), &settings).unwrap().forecast;
                let bare = reading - mews.card().furniture_g.unwrap_or(0.0);
                expected = forecast.map(|f| (f, bare));
            }
        }
        let said = advise(mews.card(), mews.days(), &settings).unwrap().flying_weight;
        if let Some(f) = said.filter(|_| mews.sessions() >= 15) {
            errors.push((f.best_g / mews.flying_weight() - 1.0).abs());
        }
    }
    let share = held as f64 / f64::from(count);
    assert!(count > 200 && (0.82..=0.96).contains(&share), "band held {share:.3} of {count}");
    assert!(miss < 0.85 * same, "miss {miss:.2} against {same:.2}");
    errors.sort_by(f64::total_cmp);
    assert!(errors.len() >= 8 && errors[errors.len() / 2] < 0.02, "flying weights off by {errors:?}");
}

//! What must hold for any bird and any record.

use advise::{Settings, advise};
use chrono::{DateTime, Duration, FixedOffset};
use note::{Advice, Bird, ConditionSeen, Day, DayFlights, DayFood, Grade, Line, Sign, Units};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;

fn start() -> DateTime<FixedOffset> {
    DateTime::parse_from_rfc3339("2026-02-01T08:00:00+01:00").unwrap()
}

fn food() -> impl Strategy<Value = DayFood> {
    (
        prop_oneof![
            Just("day-old chick"),
            Just("beef"),
            Just("quail"),
            Just("mouse"),
            Just("tidbit"),
            Just("dragon")
        ],
        option::weighted(0.8, 0.0..4.0_f64),
        option::weighted(0.1, prop_oneof![Just("head".to_string()), Just("beak".to_string())]),
        option::weighted(0.3, 0.0..150.0_f64),
    )
        .prop_map(|(item, count, part, grams)| DayFood {
            item: item.into(),
            count: count.map(|c| (c * 2.0).round() / 2.0),
            part,
            grams,
        })
}

fn day(base: f64) -> impl Strategy<Value = Day> {
    let flights = (option::of(0..20_u32), option::of(1.0..80.0_f64), option::of(any::<bool>())).prop_map(
        |(count, longest_m, free)| DayFlights {
            count,
            longest_m,
            line: free.map(|f| if f { Line::Free } else { Line::Creance }),
        },
    );
    let words =
        prop_oneof![Just("keen"), Just("fluffed"), Just("distracted"), Just("bating")].prop_map(String::from);
    let condition = prop_oneof![
        Just((Sign::Crop, "half")),
        Just((Sign::Casting, "none")),
        Just((Sign::Mutes, "green")),
        Just((Sign::Keel, "sharp")),
    ]
    .prop_map(|(sign, reading)| ConditionSeen { sign, reading: reading.into() });
    (
        -60..60_i64,
        option::weighted(0.9, 0.93..1.07_f64),
        option::weighted(0.6, 1..=5_u8),
        option::weighted(0.6, flights),
        option::weighted(0.85, vec(food(), 0..3)),
        option::weighted(0.7, -15.0..30.0_f64),
        option::weighted(0.3, vec(words, 0..2)),
        option::weighted(0.2, vec(condition, 0..2)),
    )
        .prop_map(move |(minutes, share, grade, flights, food, temperature_c, behaviours, condition)| {
            Day {
                at: start() + Duration::minutes(minutes),
                grams: share.map(|s| (base * s * 10.0).round() / 10.0),
                response: grade.and_then(Grade::new),
                flights,
                food,
                temperature_c,
                behaviours,
                condition,
            }
        })
}

/// A bird with limits or without, and up to forty days of it.
fn record() -> impl Strategy<Value = (Bird, Vec<Day>)> {
    (90.0_f64.ln()..4000.0_f64.ln()).prop_map(f64::exp).prop_flat_map(|base| {
        let bird =
            (option::weighted(0.8, 0.85..0.97_f64), option::of(0.95..1.05_f64), option::of(1.03..1.2_f64))
                .prop_map(move |(floor, target, fed_up)| Bird {
                    bird: "Tansy".into(),
                    floor_g: floor.map(|f| f * base),
                    target_g: target.map(|t| t * base),
                    fed_up_g: fed_up.map(|f| f * base),
                    ..Bird::default()
                });
        (bird, vec(day(base), 1..40)).prop_map(|(bird, mut days)| {
            for (i, day) in days.iter_mut().enumerate() {
                day.at += Duration::days(i as i64);
            }
            (bird, days)
        })
    })
}

fn advice(bird: &Bird, days: &[Day]) -> Advice {
    advise(bird, days, &Settings::default()).expect("a record that can be")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 160, ..ProptestConfig::default() })]

    #[test]
    fn more_food_never_lowers_the_forecast((bird, mut days) in record(), more in 0.5..3.0_f64, extra in food()) {
        let before = advice(&bird, &days).forecast;
        let last = days.last_mut().unwrap();
        let food = last.food.get_or_insert_with(Vec::new);
        for item in food.iter_mut() {
            item.count = item.count.map(|c| c + more);
            item.grams = item.grams.map(|g| g + more);
        }
        food.push(extra);
        let after = advice(&bird, &days).forecast;
        if let (Some(before), Some(after)) = (before, after) {
            prop_assert!(after.grams >= before.grams, "{} then {}", before.grams, after.grams);
        }
    }

    #[test]
    fn grams_or_ounces_give_the_same((bird, days) in record()) {
        let ounces = Bird { units: Units::Avoirdupois, ..bird.clone() };
        // The sentences speak in the bird's units; all that is decided is the same.
        let decided = |bird: &Bird| {
            let mut all = advice(bird, &days);
            all.alerts.iter_mut().for_each(|alert| alert.why.clear());
            if let Some(training) = &mut all.training {
                training.missing.iter_mut().for_each(String::clear);
            }
            all
        };
        prop_assert_eq!(decided(&bird), decided(&ounces));
    }

    #[test]
    fn the_given_order_never_counts((bird, mut days) in record(), seed in any::<u64>(), same in any::<bool>()) {
        if same && days.len() > 2 {
            // Two records of one moment.
            let at = days[1].at;
            days[2].at = at;
        }
        let straight = advice(&bird, &days);
        fastrand::Rng::with_seed(seed).shuffle(&mut days);
        prop_assert_eq!(straight, advice(&bird, &days));
    }

    #[test]
    fn a_record_given_twice_counts_once((bird, days) in record()) {
        let twice: Vec<Day> = days.iter().chain(&days).cloned().collect();
        prop_assert_eq!(advice(&bird, &days), advice(&bird, &twice));
    }

    #[test]
    fn no_ration_crosses_a_floor_or_comes_without_a_limit((bird, days) in record()) {
        let got = advice(&bird, &days);
        let Some(ration) = got.ration else { return Ok(()) };
        prop_assert!(bird.floor_g.is_some() || bird.fed_up_g.is_some());
        let floor = bird.floor_g.unwrap_or(0.0);
        for grams in [ration.target_g, ration.expected_g, ration.low_g] {
            // Figures are told to a tenth of a gram.
            prop_assert!(grams >= floor - 0.051, "{grams} under {floor}");
        }
        for portion in &ration.items {
            let amount = portion.count.or(portion.grams).unwrap();
            prop_assert!(amount > 0.0 && (portion.count.is_none() || (2.0 * amount).fract() == 0.0), "{portion:?}");
        }
        if let Some(flying) = got.flying_weight {
            let lowest = days.iter().filter(|d| d.response.is_some_and(|r| r.get() >= 4)).filter_map(|d| d.grams);
            prop_assert!(flying.best_g >= lowest.fold(f64::INFINITY, f64::min) - 0.051);
        }
    }

    #[test]
    fn bands_hold_what_they_are_about((bird, days) in record()) {
        let got = advice(&bird, &days);
        if let Some(f) = got.forecast {
            prop_assert!(f.low_g <= f.grams && f.grams <= f.high_g && f.grams.is_finite());
            prop_assert!(f.at > got.as_of);
        }
        if let Some(f) = got.flying_weight {
            prop_assert!(f.low_g <= f.high_g && f.best_g <= f.high_g && f.best_g.is_finite());
        }
        for alert in &got.alerts {
            prop_assert!(!alert.why.is_empty() && !alert.code.is_empty());
        }
    }

    #[test]
    fn any_line_gives_advice_or_a_clear_error(
        grams in any::<f64>(), count in any::<f64>(), eaten in any::<f64>(), warmth in any::<f64>(), longest in any::<f64>(),
        floor in any::<f64>(), at in any::<i64>(), flights in any::<u32>(), word in ".{0,12}", days in 1..6_usize,
    ) {
        let number = |x: f64| if x.is_finite() { x.to_string() } else { "null".into() };
        let moment = DateTime::from_timestamp(at % 8_000_000_000_000, 0).unwrap().to_rfc3339();
        let word = serde_json::to_string(&word).unwrap();
        let mut lines = format!("{{\"bird\":{word},\"floor_g\":{},\"species\":{word}}}\n", if days % 2 == 0 { number(floor) } else { "null".into() });
        for i in 0..days {
            let at = if i == 0 { moment.clone() } else { (start() + Duration::days(i as i64)).to_rfc3339() };
            lines += &format!(
                "{{\"at\":\"{at}\",\"grams\":{},\"food\":[{{\"item\":{word},\"count\":{},\"grams\":{}}}],\"temperature_c\":{},\"flights\":{{\"count\":{flights},\"longest_m\":{}}},\"behaviours\":[{word}]}}\n",
                number(if i % 2 == 0 { grams } else { 640.0 }), number(count), number(eaten), number(warmth), number(longest),
            );
        }
        let mut output = Vec::new();
        let given = advise::lines::run(lines.as_bytes(), &mut output).unwrap();
        let answer: serde_json::Value = serde_json::from_slice(&output).unwrap();
        if given {
            prop_assert!(answer["as_of"].is_string());
        } else {
            prop_assert!(answer["error"].as_str().is_some_and(|e| e.len() > 20), "{}", answer);
        }
    }

    #[test]
    fn charts_are_well_formed((bird, days) in record()) {
        let settings = Settings::default();
        let links: Vec<Option<String>> = (0..days.len()).map(|i| (i % 2 == 0).then(|| format!("/note/{i}?a=1&b=\"2\""))).collect();
        for svg in [
            advise::chart::weight(&bird, &days, &links, &settings, advise::chart::Sheet::Desk),
            advise::chart::answers(&bird, &days, &links, &settings, advise::chart::Sheet::Desk),
            advise::chart::energy(&bird, &days, &[], &settings, advise::chart::Sheet::Desk),
        ] {
            super::charts::check(&svg);
        }
    }
}

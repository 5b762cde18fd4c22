//! How long advice for many birds with long records takes.

use crate::keeper::Keeper;
use crate::mews::{Mews, Rule};
use advise::{Settings, advise};
use std::time::Instant;

/// Times advice for all birds; a year is simulated and repeated, since only the length of the record counts here.
pub fn time(birds: u64, years: i64, settings: &Settings) {
    let records: Vec<_> = (0..birds)
        .map(|seed| {
            let mut keeper = Keeper::new(seed);
            for _ in 0..365 {
                keeper.morning();
                keeper.feed(Rule::Thumb, settings);
            }
            let mut days = Vec::with_capacity(keeper.days.len() * years as usize);
            for year in 0..years {
                days.extend(keeper.days.iter().cloned().map(|mut day| {
                    day.at += chrono::Duration::days(365 * year);
                    day
                }));
            }
            (keeper.card, days)
        })
        .collect();
    let count: usize = records.iter().map(|r| r.1.len()).sum();
    let clock = Instant::now();
    let alerts: usize =
        records.iter().map(|(card, days)| advise(card, days, settings).expect("advice").alerts.len()).sum();
    let seconds = clock.elapsed().as_secs_f64();
    println!("{birds} birds, {count} days, {alerts} alerts: {seconds:.2} s on one core");
}

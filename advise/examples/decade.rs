//! Ten years of two hundred birds: how long advice for all of them takes.
//!
//! `cargo run --release -p advise --example decade -- [birds] [years]`. The records are simulated beforehand.

#[path = "flock/bird.rs"]
mod bird;
#[path = "flock/keeper.rs"]
mod keeper;

use advise::{Settings, advise};
use keeper::{Keeper, Rule};
use std::time::Instant;

fn main() {
    let mut arguments = std::env::args().skip(1).map(|a| a.parse::<usize>().expect("a number"));
    let birds = arguments.next().unwrap_or(200);
    let years = arguments.next().unwrap_or(10);
    let settings = Settings::default();
    // A year is simulated once and moved on, since only the length of the record counts here.
    let records: Vec<_> = (0..birds)
        .map(|seed| {
            let mut keeper = Keeper::new(seed as u64);
            for _ in 0..365 {
                keeper.morning();
                keeper.feed(Rule::Thumb, &settings);
            }
            let year = &keeper.days;
            let days: Vec<_> = (0..years)
                .flat_map(|y| {
                    year.iter().cloned().map(move |mut day| {
                        day.at += chrono::Duration::days(365 * y as i64);
                        day
                    })
                })
                .collect();
            (keeper.card, days)
        })
        .collect();
    let count: usize = records.iter().map(|r| r.1.len()).sum();
    let clock = Instant::now();
    let alerts: usize =
        records.iter().map(|(card, days)| advise(card, days, &settings).expect("advice").alerts.len()).sum();
    let seconds = clock.elapsed().as_secs_f64();
    println!("{birds} birds, {count} days, {alerts} alerts: {seconds:.2} s on one core");
}

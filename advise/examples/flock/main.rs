//! Simulated flocks against the bars of the advice.
//!
//! `cargo run --release -p advise --example flock -- [first|second|third] [birds] [first seed]` prints what docs/advice.md
//! quotes of a simulator, the first if none is named; `-- drift first|second|third [birds]` lets the flying weight drift
//! at set paces; `-- decade [birds] [years]` times advice on long records; `-- charts FOLDER` draws one bird;
//! `-- foresee first|second|third [birds] [first seed]` stops before the trial of the rations. Anything like
//! `flying.mood=0.4`, at the end, is a setting.

mod bird;
mod decade;
mod keeper;
mod mews;
mod score;
mod second_bird;
mod second_keeper;
mod third;

use advise::Settings;
use mews::{Mews, Rule};

/// Draws one simulated bird after fifty days.
fn charts(folder: &str, settings: &Settings) {
    let mut keeper = keeper::Keeper::new(3);
    for _ in 0..50 {
        keeper.morning();
        keeper.feed(Rule::Thumb, settings);
    }
    let links: Vec<Option<String>> =
        keeper.days.iter().map(|d| Some(format!("#{}", d.at.date_naive()))).collect();
    for (name, draw) in [
        ("weight", advise::chart::weight as Draw),
        ("answers", advise::chart::answers),
        ("energy", advise::chart::energy),
    ] {
        let svg = draw(&keeper.card, &keeper.days, &links, settings, advise::chart::Sheet::Desk);
        std::fs::write(format!("{folder}/{name}.svg"), svg).expect("a folder to write to");
    }
}

type Draw = fn(&note::Bird, &[note::Day], &[Option<String>], &Settings, advise::chart::Sheet) -> String;

fn main() {
    let (set, words): (Vec<String>, Vec<String>) = std::env::args().skip(1).partition(|a| a.contains('='));
    let mut arguments = words.into_iter().peekable();
    let settings: Settings = toml::from_str(&set.join("\n")).expect("settings, like flying.mood=0.4");
    settings.check().expect("settings within their ranges");
    if arguments.next_if_eq("charts").is_some() {
        return charts(&arguments.next().expect("a folder"), &settings);
    }
    let long = arguments.next_if_eq("decade").is_some();
    let drift = arguments.next_if_eq("drift").is_some();
    let trial = arguments.next_if_eq("foresee").is_none();
    let flock = arguments.next_if(|a| a.parse::<u64>().is_err()).unwrap_or_else(|| "first".into());
    let mut numbers = arguments.map(|a| a.parse::<u64>().expect("a number"));
    let birds = numbers.next().unwrap_or(200);
    let next = numbers.next();
    if long {
        return decade::time(birds, next.unwrap_or(10) as i64, &settings);
    }
    let first = next.unwrap_or(1);
    let seeds = first..first + birds;
    match (drift, flock.as_str()) {
        (true, "first") => score::drift::<keeper::Keeper>(seeds, &settings),
        (true, "second") => score::drift::<second_keeper::Keeper>(seeds, &settings),
        (true, "third") => score::drift::<third::Keeper>(seeds, &settings),
        (false, "first") => whole::<keeper::Keeper>(seeds, trial, &settings),
        (false, "second") => whole::<second_keeper::Keeper>(seeds, trial, &settings),
        (false, "third") => whole::<third::Keeper>(seeds, trial, &settings),
        (_, other) => panic!("no flock is called {other}"),
    }
}

fn whole<M: Mews>(seeds: std::ops::Range<u64>, trial: bool, settings: &Settings) {
    score::study::<M>(seeds.clone(), settings);
    if trial {
        score::follow::<M>(seeds, settings);
    }
}

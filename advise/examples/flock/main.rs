//! A simulated flock against the bars of the advice.
//!
//! `cargo run --release -p advise --example flock -- [birds] [first seed]` prints what docs/advice.md quotes;
//! `-- decade [birds] [years]` times advice on long records; `-- charts FOLDER` draws one bird.

mod bird;
mod decade;
mod keeper;

use advise::{Settings, advise};
use keeper::{Keeper, Rule};
use std::collections::BTreeMap;
use std::time::Instant;

const DAYS: usize = 60;

#[derive(Default)]
struct Tally {
    forecasts: usize,
    held: usize,
    misses: f64,
    same_misses: f64,
    squares: f64,
    same_squares: f64,
    early: (usize, usize),
    by_size: [(usize, usize, f64, f64); 3],
    asked: usize,
    alarms: BTreeMap<String, usize>,
}

#[derive(Default)]
struct FlyingTally {
    asked: usize,
    said: usize,
    near: usize,
    held: usize,
    errors: Vec<f64>,
    widths: Vec<f64>,
}

#[derive(Default)]
struct Followed {
    days: usize,
    share_of_truth: f64,
    share_of_fed_up: f64,
    good_chance: f64,
    grades: f64,
    graded: usize,
    good: usize,
    under_floor: usize,
    birds_under: usize,
}

fn size_class(fed_up: f64) -> usize {
    if fed_up < 250.0 {
        0
    } else if fed_up < 1000.0 {
        1
    } else {
        2
    }
}

/// Runs a bird by the rule of thumb and asks for the forecast each evening.
fn forecasts(seed: u64, settings: &Settings, tally: &mut Tally, flying: &mut FlyingTally) {
    let mut keeper = Keeper::new(seed);
    let mut asked = false;
    for day in 0..DAYS {
        keeper.morning();
        keeper.evening(None);
        let advice = advise(&keeper.card, &keeper.days, settings).expect("advice");
        tally.asked += 1;
        for alert in advice.alerts.iter().filter(|a| a.severity >= note::Severity::Warn) {
            *tally.alarms.entry(format!("{} {:?}", alert.code, alert.severity)).or_default() += 1;
        }
        if keeper.bird.sessions >= 15 && !asked {
            asked = true;
            flying.asked += 1;
            let truth = keeper.bird.flying_weight();
            if let Some(f) = &advice.flying_weight {
                flying.said += 1;
                let error = f.best_g / truth - 1.0;
                flying.errors.push(error);
                flying.widths.push((f.high_g - f.low_g) / truth);
                flying.near += usize::from(error.abs() <= 0.015);
                flying.held += usize::from((f.low_g..=f.high_g).contains(&truth));
            }
        }
        if let (Some(f), Some(reading)) = (&advice.forecast, keeper.days.last().and_then(|d| d.grams)) {
            let mut next = keeper.clone();
            let furniture = keeper.card.furniture_g.unwrap_or(0.0);
            let came = next.morning().reading;
            let held = (f.low_g..=f.high_g).contains(&came);
            let (miss, same) = ((came - f.grams) / came, (came - (reading - furniture)) / came);
            tally.forecasts += 1;
            tally.held += usize::from(held);
            tally.misses += miss.abs();
            tally.same_misses += same.abs();
            tally.squares += miss * miss;
            tally.same_squares += same * same;
            if day < 10 {
                tally.early.0 += 1;
                tally.early.1 += usize::from(held);
            }
            let class = &mut tally.by_size[size_class(keeper.bird.fed_up)];
            class.0 += 1;
            class.1 += usize::from(held);
            class.2 += miss.abs();
            class.3 += same.abs();
        }
    }
}

/// Follows a bird for sixty days after twenty by the rule of thumb; returns (days landed, days with a ration).
fn follow(seed: u64, rule: Rule, settings: &Settings, to: &mut Followed) -> (usize, usize, usize) {
    let mut keeper = Keeper::new(seed);
    for _ in 0..20 {
        keeper.morning();
        keeper.evening(None);
    }
    let (mut landed, mut given, mut bent) = (0, 0, 0);
    let mut aimed: Option<f64> = None;
    let mut under = false;
    for _ in 0..DAYS {
        let truth = keeper.morning();
        if let Some(aimed) = aimed.take() {
            given += 1;
            landed += usize::from((truth.reading - aimed).abs() <= 0.01 * truth.mass);
        }
        to.days += 1;
        to.share_of_truth += truth.mass / keeper.bird.flying_weight();
        to.share_of_fed_up += truth.mass / keeper.bird.fed_up;
        to.good_chance += truth.good_chance;
        if let Some(grade) = truth.grade {
            to.graded += 1;
            to.grades += f64::from(grade);
            to.good += usize::from(grade >= 4);
        }
        if truth.mass < keeper.bird.floor {
            to.under_floor += 1;
            under = true;
        }
        if let Some(ration) = keeper.feed(rule, settings).and_then(|a| a.ration) {
            aimed = Some(ration.target_g);
            bent += usize::from(!ration.held_by.is_empty());
        }
    }
    to.birds_under += usize::from(under);
    (landed, given, bent)
}

/// Draws one simulated bird after fifty days.
fn charts(folder: &str, settings: &Settings) {
    let mut keeper = Keeper::new(3);
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

fn percent(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of.max(1) as f64
}

fn main() {
    let mut arguments = std::env::args().skip(1).peekable();
    let settings = Settings::default();
    let long = arguments.next_if_eq("decade").is_some();
    if arguments.next_if_eq("charts").is_some() {
        return charts(&arguments.next().expect("a folder"), &settings);
    }
    let mut numbers = arguments.map(|a| a.parse::<u64>().expect("a number"));
    let birds = numbers.next().unwrap_or(200);
    if long {
        return decade::time(birds, numbers.next().unwrap_or(10) as i64, &settings);
    }
    let first = numbers.next().unwrap_or(1);
    let clock = Instant::now();
    let (mut tally, mut flying) = (Tally::default(), FlyingTally::default());
    for seed in first..first + birds {
        forecasts(seed, &settings, &mut tally, &mut flying);
    }
    let n = tally.forecasts;
    println!("birds {birds}, days {DAYS}, forecasts {n}");
    println!(
        "90 % band held {:.1} %; in the first ten days {:.1} %",
        percent(tally.held, n),
        percent(tally.early.1, tally.early.0)
    );
    println!(
        "mean miss {:.2} % against {:.2} % for same as today: {:.0} % less; root mean square {:.0} % less",
        100.0 * tally.misses / n as f64,
        100.0 * tally.same_misses / n as f64,
        100.0 * (1.0 - tally.misses / tally.same_misses),
        100.0 * (1.0 - (tally.squares / tally.same_squares).sqrt())
    );
    for (name, c) in ["under 250 g", "250 g to 1 kg", "over 1 kg"].iter().zip(tally.by_size) {
        println!("  {name}: held {:.1} %, miss {:.0} % less", percent(c.1, c.0), 100.0 * (1.0 - c.2 / c.3));
    }
    flying.errors.sort_by(f64::total_cmp);
    let middle = flying.errors.get(flying.errors.len() / 2).copied().unwrap_or(f64::NAN);
    let sd = (flying.errors.iter().map(|e| e * e).sum::<f64>() / flying.errors.len().max(1) as f64).sqrt();
    println!(
        "flying weight after 15 sessions: said for {} of {}, within 1.5 % {:.1} %, 80 % band held {:.1} %, middle error {:+.2} %, rms {:.2} %, mean width {:.2} %",
        flying.said,
        flying.asked,
        percent(flying.near, flying.said),
        percent(flying.held, flying.said),
        100.0 * middle,
        100.0 * sd,
        100.0 * flying.widths.iter().sum::<f64>() / flying.widths.len().max(1) as f64
    );
    println!("alarms on healthy birds, days in a thousand:");
    for (code, days) in &tally.alarms {
        println!("  {code}: {:.1}", 1000.0 * *days as f64 / tally.asked as f64);
    }
    println!("studies took {:.1} s", clock.elapsed().as_secs_f64());
    let (mut landed, mut given, mut bent) = (0, 0, 0);
    for rule in [Rule::Thumb, Rule::Advice] {
        let mut f = Followed::default();
        for seed in first..first + birds {
            let (l, g, b) = follow(seed, rule, &settings, &mut f);
            landed += l;
            given += g;
            bent += b;
        }
        let d = f.days as f64;
        println!(
            "{rule:?}: weight {:.2} % of the true flying weight, {:.2} % of fed-up; chance of a good answer {:.3}; mean grade {:.2}, good {:.1} %; days under the floor {}, birds {}",
            100.0 * f.share_of_truth / d,
            100.0 * f.share_of_fed_up / d,
            f.good_chance / d,
            f.grades / f.graded as f64,
            percent(f.good, f.graded),
            f.under_floor,
            f.birds_under
        );
    }
    println!(
        "ration landed within 1 % on {:.1} % of {given} days; bent by a limit on {:.1} %",
        percent(landed, given),
        percent(bent, given)
    );
    println!("all took {:.1} s", clock.elapsed().as_secs_f64());
}

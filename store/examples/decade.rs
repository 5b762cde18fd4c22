//! Makes a record of many birds and years and times what the page asks of it:
//! `cargo run --release -p store --example decade -- FOLDER BIRDS YEARS`.
//!
//! The birds are made up by a rule: each day a weigh-in, an answer, flights and food, all confirmed.

use chrono::{DateTime, FixedOffset, TimeDelta};
use note::{Entry, Flights, Food, Grade, Grams, Line, MassUnit, Outcome, Response, Value, Weight};
use std::path::Path;
use std::time::Instant;
use store::{About, BirdDetails, Decision, NewNote, NewPhoto, Source, Span, Store, Who};

type Failure = Box<dyn std::error::Error>;

fn main() -> Result<(), Failure> {
    let mut args = std::env::args().skip(1);
    let home = args.next().ok_or("tell a folder, how many birds, how many years")?;
    let birds: u32 = args.next().ok_or("how many birds?")?.parse()?;
    let years: u32 = args.next().ok_or("how many years?")?.parse()?;
    let home = Path::new(&home);
    let who = Who::new("Ada", "desk");
    let store = Store::open(home)?;
    let start = DateTime::parse_from_rfc3339("2016-01-01T08:00:00+00:00")?;
    let began = Instant::now();
    for n in 0..birds {
        let name = format!("Bird {n:03}");
        store.add_bird(BirdDetails { name: name.clone(), ..BirdDetails::default() }, &who)?;
        for year in 0..years {
            let first = year * 365;
            let days = (first..first + 365).flat_map(|day| day_of(&name, n, start, day));
            store.enter_all(days.collect(), &who)?;
        }
    }
    let made = began.elapsed();
    let end = start + TimeDelta::days(i64::from(years) * 365);
    let before = size(home)?;
    taking_in(&store, &who, end)?;
    println!("made {birds} birds x {years} years in {:.0} s", made.as_secs_f64());
    println!("counts: {:?}", store.counts()?);
    println!("database: {:.1} MB", before as f64 / 1e6);
    let id = store.birds()?.remove(birds as usize / 2).id;
    let month = Span::since(end - TimeDelta::days(30));
    time("roster with last weights", || Ok(store.roster()?.len()))?;
    time("days of a bird, 30 days", || Ok(store.days(&id, month)?.len()))?;
    time("days of a bird, all years", || Ok(store.days(&id, Span::ALL)?.len()))?;
    time("records of a bird, 30 days", || Ok(store.records(&id, month)?.len()))?;
    time("confirmed of a bird, a year", || {
        Ok(store.confirmed(&id, Span::since(end - TimeDelta::days(365)))?.len())
    })?;
    time("waiting, first 20 cards", || Ok(store.waiting(0, 20)?.len()))?;
    time("counts", || Ok(store.counts()?.waiting as usize))?;
    time("what can be undone, 20", || Ok(store.undoable(20)?.len()))?;
    time("search for two words", || Ok(store.search("forty two", 20)?.len()))?;
    time("notes, newest 50", || Ok(store.notes(Span::ALL, 0, 50)?.len()))?;
    let began = Instant::now();
    let found = store.verify()?;
    println!(
        "verify: {:.1} s, {} lines, {} rows, troubles {:?}",
        began.elapsed().as_secs_f64(),
        found.lines,
        found.rows,
        found.troubles
    );
    let began = Instant::now();
    store.backup(&home.with_extension("backup"), None)?;
    println!("backup: {:.1} s", began.elapsed().as_secs_f64());
    println!("peak memory: {}", peak().unwrap_or_default());
    Ok(())
}

fn day_of(name: &str, n: u32, start: DateTime<FixedOffset>, day: u32) -> Vec<Entry> {
    let at = start + TimeDelta::days(i64::from(day)) + TimeDelta::minutes(i64::from(n % 50));
    let swing = f64::from((day * 7 + n * 13) % 41) - 20.0;
    let said = |hours: i64, quote: &str, value: Value| Entry {
        value,
        bird: Some(name.to_owned()),
        at: at + TimeDelta::hours(hours),
        quote: quote.to_owned(),
        span: [0, quote.len()],
        confidence: 0.97,
        flags: vec![],
    };
    // Between 180 and some 1600 g, so a mass that can be.
    let Ok(grams) = Grams::new(f64::from(200 + n * 7) + swing) else { return Vec::new() };
    let food = Food {
        item: "day-old chick".into(),
        count: Some(f64::from(day % 4) / 2.0 + 1.0),
        part: None,
        grams: None,
        outcome: Outcome::Eaten,
    };
    let flights =
        Flights { count: Some(day % 9 + 1), longest_m: Some(50.0), line: Some(Line::Free), to: None };
    let mut out = vec![
        said(0, "six hundred and forty two grams", Value::Weight(Weight { grams, unit: Some(MassUnit::G) })),
        said(7, "gave her two and a half chicks", Value::Food(food)),
        said(6, "eight flights to the fist", Value::Flights(flights)),
    ];
    if let Some(grade) = Grade::new((day % 5 + 1) as u8) {
        out.push(said(6, "four out of five", Value::Response(Response { grade })));
    }
    out
}

/// A thousand notes with sound and a photo each, the way they come from phones.
fn taking_in(store: &Store, who: &Who, end: DateTime<FixedOffset>) -> Result<(), Failure> {
    let began = Instant::now();
    let mut longest = 0.0f64;
    for n in 0..1000u32 {
        let one = Instant::now();
        let at = end + TimeDelta::minutes(i64::from(n) * 45);
        let sound = store.put(&n.to_le_bytes().repeat(40_000), &About::sound("note.wav"))?;
        let source = Source::Sound(sound.sha256);
        let id = store.add_note(NewNote { source, at, taken: None, bird: None }, who)?.id().clone();
        let text =
            "bird zero one zero six forty two flew eight times to the fist gave her two and a half chicks";
        let words = text.split(' ').enumerate().map(|(i, word)| note::Word {
            word: word.into(),
            start_s: i as f64 * 0.31,
            end_s: i as f64 * 0.31 + 0.2,
            p: 0.91,
        });
        store.set_transcript(
            &id,
            &note::Transcript {
                text: text.into(),
                words: words.collect(),
                audio_s: 8.0,
                took_s: 1.0,
                model: "base".into(),
                model_sha256: String::new(),
                engine: String::new(),
            },
        )?;
        let name = format!("Bird {:03}", n % 10);
        let said = day_of(&name, n % 10, end, n);
        let ids = store.propose(&id, said.into_iter().map(|e| Entry { at, ..e }).collect())?;
        let picture = store.put(&n.to_be_bytes().repeat(100_000), &About::photo("scale.jpg"))?;
        let photo = NewPhoto {
            evidence: picture.sha256,
            at,
            taken: note::TakenSource::ExifOffset,
            orientation: 1,
            place: None,
            bird: None,
        };
        let photo = store.add_photo(photo, who)?.id().clone();
        let grams = Grams::new(300.0 + f64::from(n % 100))?;
        let reading = note::DisplayReading {
            reading: Some(grams.get().to_string()),
            unit: Some(MassUnit::G),
            grams: Some(grams),
            confidence: 0.9,
            place: None,
        };
        store.set_reading(&photo, &reading)?;
        if n % 2 == 0 {
            let all: Vec<Decision> = ids.iter().map(Decision::accept).collect();
            store.decide(&all, who)?;
        }
        longest = longest.max(one.elapsed().as_secs_f64());
    }
    let took = began.elapsed().as_secs_f64();
    println!(
        "taking in 1000 notes and photos: {took:.1} s ({took:.1} ms each), longest {:.0} ms",
        longest * 1e3
    );
    Ok(())
}

/// The middle of seven runs, and the first, when nothing was read yet.
fn time(what: &str, work: impl Fn() -> Result<usize, Failure>) -> Result<(), Failure> {
    let mut took = Vec::new();
    let mut count = 0;
    for _ in 0..7 {
        let began = Instant::now();
        count = work()?;
        took.push(began.elapsed().as_secs_f64() * 1e3);
    }
    let first = took[0];
    took.sort_by(f64::total_cmp);
    println!("{what}: {:.1} ms (first {first:.1}), {count} rows", took[3]);
    Ok(())
}

fn size(home: &Path) -> Result<u64, Failure> {
    let mut bytes = 0;
    for end in ["", "-wal"] {
        bytes += std::fs::metadata(home.join(format!("{}{end}", store::DATABASE))).map_or(0, |m| m.len());
    }
    Ok(bytes)
}

fn peak() -> Option<String> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    Some(
        status
            .lines()
            .find(|l| l.starts_with("VmHWM"))?
            .split_whitespace()
            .skip(1)
            .collect::<Vec<_>>()
            .join(" "),
    )
}

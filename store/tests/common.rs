//! A record in a folder of its own, and short ways to write entries.

use chrono::{DateTime, FixedOffset, TimeDelta};
use note::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use store::*;

/// A record whose folder goes away with it.
pub struct Home {
    pub store: Store,
    pub folder: tempfile::TempDir,
    /// Seconds added to the clock.
    pub clock: Arc<AtomicI64>,
}

pub fn at(text: &str) -> DateTime<FixedOffset> {
    DateTime::parse_from_rfc3339(text).unwrap()
}

pub const START: &str = "2026-03-14T08:10:00+00:00";

/// A folder in memory where the system has one: syncing to a busy disk would take most of a test's time.
pub fn folder() -> tempfile::TempDir {
    tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap()
}

pub fn home() -> Home {
    let folder = folder();
    let clock = Arc::new(AtomicI64::new(0));
    let store = open(folder.path(), &clock);
    Home { store, folder, clock }
}

/// Opens with a clock that goes on by a second with every look at it.
pub fn open(folder: &std::path::Path, clock: &Arc<AtomicI64>) -> Store {
    let clock = clock.clone();
    let tick = move || at(START) + TimeDelta::seconds(clock.fetch_add(1, Ordering::SeqCst));
    Store::open_with_clock(folder, Box::new(tick)).unwrap()
}

pub fn ada() -> Who {
    Who::new("Ada", "desk")
}

pub fn ben() -> Who {
    Who::new("Ben", "phone")
}

pub fn bird(name: &str) -> BirdDetails {
    BirdDetails { name: name.into(), ..BirdDetails::default() }
}

pub fn entry(bird: Option<&str>, when: &str, span: [usize; 2], value: Value) -> Entry {
    Entry {
        value,
        bird: bird.map(str::to_owned),
        at: at(when),
        quote: "words".into(),
        span,
        confidence: 0.9,
        flags: vec![],
    }
}

pub fn weight(grams: f64) -> Value {
    Value::Weight(Weight { grams: Grams::new(grams).unwrap(), unit: Some(MassUnit::G) })
}

pub fn ate(item: &str, count: f64) -> Value {
    food(item, count, Outcome::Eaten)
}

pub fn food(item: &str, count: f64, outcome: Outcome) -> Value {
    Value::Food(Food { item: item.into(), count: Some(count), part: None, grams: None, outcome })
}

pub fn remark(text: &str) -> Value {
    Value::Remark(Remark { text: text.into() })
}

pub fn answered(grade: u8) -> Value {
    Value::Response(Response { grade: Grade::new(grade).unwrap() })
}

pub fn heard(text: &str) -> Transcript {
    Transcript {
        text: text.into(),
        words: text
            .split_whitespace()
            .enumerate()
            .map(|(i, word)| Word {
                word: word.into(),
                start_s: 0.1 * i as f64,
                end_s: 0.1 * i as f64 + 0.07,
                p: 0.1 + 0.2,
            })
            .collect(),
        audio_s: 3.3,
        took_s: 0.7,
        model: "tiny.en".into(),
        model_sha256: "00".into(),
        engine: "test".into(),
    }
}

impl Home {
    /// Keeps a recording and adds its note.
    pub fn spoken(&self, bytes: &[u8], when: &str) -> NoteId {
        let kept = self.store.put(bytes, &About::sound("note.wav")).unwrap();
        let new = NewNote {
            source: Source::Sound(kept.sha256),
            at: at(when),
            taken: Some(TakenSource::Container),
            bird: None,
        };
        self.store.add_note(new, &ada()).unwrap().id().clone()
    }

    /// Keeps a photo, adds it and gives it a reading.
    pub fn photo(&self, bytes: &[u8], when: &str, grams: Option<f64>) -> PhotoId {
        let kept = self.store.put(bytes, &About::photo("scale.jpg")).unwrap();
        let new = NewPhoto {
            evidence: kept.sha256,
            at: at(when),
            taken: TakenSource::ExifOffset,
            orientation: 6,
            place: Some(Place { latitude: 54.5, longitude: -3.1 }),
            bird: None,
        };
        let id = self.store.add_photo(new, &ada()).unwrap().id().clone();
        self.store.set_reading(&id, &reading(grams)).unwrap();
        id
    }

    pub fn clean(&self) {
        let found = self.store.verify().unwrap();
        assert!(found.is_clean(), "{found:#?}");
    }
}

pub fn reading(grams: Option<f64>) -> DisplayReading {
    DisplayReading {
        reading: grams.map(|g| g.to_string()),
        unit: grams.map(|_| MassUnit::G),
        grams: grams.map(|g| Grams::new(g).unwrap()),
        confidence: 0.95,
        place: None,
    }
}

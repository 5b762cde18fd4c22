//! A stand-in for the binary's workshop, and two made-up birds with four weeks of days.
//!
//! The stand-in reads only what these tests say: a name, a number of grams, chicks, "flew well", a few words.

use chrono::{DateTime, Days, FixedOffset, Local, TimeZone};
use note::{
    Behaviour, Degree, DisplayReading, Entry, Flag, Flights, Food, Grade, Grams, Line, MassUnit, NoteId,
    Outcome, PhotoId, PixelBox, Response, Sky, To, Transcript, Value, Weather, Weight, Wind, Word,
};
use page::Workshop;
use std::{path::Path, sync::Mutex};
use store::{About, BirdDetails, BirdEventKind, Decision, Furniture, NewNote, NewPhoto, Source, Store, Who};

/// The keeper of the tests.
pub fn keeper() -> Who {
    Who::new("Mara", "desk")
}

/// Reads jobs at once, on the thread that wakes it.
pub struct Bench {
    store: Store,
    busy: Mutex<()>,
}

impl Bench {
    /// Opens the bench on a record.
    pub fn new(store: Store) -> Self {
        Self { store, busy: Mutex::new(()) }
    }
}

impl Workshop for Bench {
    fn wake(&self) {
        let _one = self.busy.lock().unwrap();
        while let Some(job) = self.store.next_job(&["hear", "draft", "read-scale"]).unwrap() {
            match job.kind.as_str() {
                "hear" => hear(&self.store, &NoteId::new(job.subject), "Sedge 912 g, two and a half chicks"),
                "draft" => draft(&self.store, &NoteId::new(job.subject)),
                _ => read_scale(&self.store, &PhotoId::new(job.subject), 912.0),
            }
            self.store.job_done(job.id).unwrap();
        }
    }

    fn look(&self, file: &Path, made: DateTime<FixedOffset>) -> Result<page::Told, String> {
        let bytes = std::fs::read(file).map_err(|e| e.to_string())?;
        let kind = if bytes.starts_with(b"\x89PNG") || bytes.starts_with(&[0xff, 0xd8]) {
            store::EvidenceKind::Photo
        } else if bytes.starts_with(b"RIFF") {
            store::EvidenceKind::Sound
        } else {
            return Err("That is neither sound nor picture.".into());
        };
        Ok(page::Told {
            kind,
            media_type: None,
            at: made,
            taken: note::TakenSource::File,
            orientation: 1,
            place: None,
        })
    }
}

/// Saves a transcript with even word times and reads it.
pub fn hear(store: &Store, id: &NoteId, text: &str) {
    let words = text.split_whitespace().enumerate().map(|(i, word)| Word {
        word: word.into(),
        start_s: i as f64 * 0.4 + 0.2,
        end_s: i as f64 * 0.4 + 0.55,
        p: 0.97,
    });
    let words: Vec<Word> = words.collect();
    let transcript = Transcript {
        text: text.into(),
        audio_s: words.len() as f64 * 0.4 + 0.5,
        words,
        took_s: 0.1,
        model: "stand-in".into(),
        model_sha256: String::new(),
        engine: String::new(),
    };
    store.set_transcript(id, &transcript).unwrap();
    draft(store, id);
}

/// Says that a photo shows a weight.
pub fn read_scale(store: &Store, id: &PhotoId, grams: f64) {
    let reading = DisplayReading {
        reading: Some(format!("{grams}")),
        unit: Some(MassUnit::G),
        grams: Some(Grams::new(grams).unwrap()),
        confidence: 0.97,
        place: Some(PixelBox { x: 310, y: 330, width: 340, height: 130 }),
    };
    store.set_reading(id, &reading).unwrap();
}

/// Reads a note's words and proposes what is in them.
pub fn draft(store: &Store, id: &NoteId) {
    let note = store.note(id).unwrap();
    let text = store.transcript(id).unwrap().map(|t| t.text).or(note.text).unwrap_or_default();
    let birds: Vec<String> = store.birds().unwrap().into_iter().map(|b| b.details.name).collect();
    let bird = birds.iter().find(|b| text.contains(*b)).cloned();
    let mut found = Vec::new();
    let mut add = |quote: &str, value: Value, flags: Vec<Flag>, confidence: f64| {
        let Some(byte) = text.find(quote) else { return };
        let start = text[..byte].chars().count();
        let bird = if matches!(value, Value::Weather(_)) { None } else { bird.clone() };
        found.push(Entry {
            value,
            bird,
            at: note.at,
            quote: quote.into(),
            span: [start, start + quote.chars().count()],
            confidence,
            flags,
        });
    };
    let number = text
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .filter_map(|w| w.trim_matches('.').parse::<f64>().ok())
        .find(|n| (80.0..5000.0).contains(n));
    if let Some(grams) = number {
        let digits = format!("{grams}");
        let quote = if text.contains(&format!("{digits} g")) { format!("{digits} g") } else { digits };
        let flags = if grams > 1100.0 { vec![Flag::ImplausibleWeight] } else { vec![] };
        add(
            &quote,
            Value::Weight(Weight { grams: Grams::new(grams).unwrap(), unit: Some(MassUnit::G) }),
            flags,
            0.98,
        );
    }
    let chicks = |count| {
        Value::Food(Food {
            item: "day-old chick".into(),
            count: Some(count),
            part: None,
            grams: None,
            outcome: Outcome::Eaten,
        })
    };
    add("two and a half chicks", chicks(2.5), vec![], 0.96);
    add("three chicks", chicks(3.0), vec![], 0.96);
    add(
        "half a mouse",
        Value::Food(Food {
            item: "mouse".into(),
            count: Some(0.5),
            part: None,
            grams: None,
            outcome: Outcome::Eaten,
        }),
        vec![],
        0.9,
    );
    add(
        "a bit of quill",
        Value::Food(Food {
            item: "quill".into(),
            count: None,
            part: None,
            grams: None,
            outcome: Outcome::Eaten,
        }),
        vec![Flag::MisheardWord],
        0.55,
    );
    add(
        "eight to the fist on the creance",
        Value::Flights(Flights {
            count: Some(8),
            longest_m: None,
            line: Some(Line::Creance),
            to: Some(To::Fist),
        }),
        vec![],
        0.93,
    );
    for (words, grade) in [("slow to come", 3), ("flew well", 4), ("came at once", 5)] {
        add(words, Value::Response(Response { grade: Grade::new(grade).unwrap() }), vec![], 0.92);
    }
    add(
        "keen",
        Value::Behaviour(Behaviour { word: "keen".into(), present: true, degree: Degree::Plain }),
        vec![],
        0.9,
    );
    add(
        "four degrees and a light wind",
        Value::Weather(Weather { temperature_c: Some(4.0), wind: Some(Wind::Light), sky: Some(Sky::Cloud) }),
        vec![],
        0.9,
    );
    found.sort_by_key(|e| e.span);
    store.propose(id, found).unwrap();
}

/// A moment of a day so many days ago.
pub fn ago(days: u64, hour: u32, minute: u32) -> DateTime<FixedOffset> {
    let day = Local::now().date_naive() - Days::new(days);
    Local.from_local_datetime(&day.and_hms_opt(hour, minute, 0).unwrap()).single().unwrap().fixed_offset()
}

/// Types a note and has it read.
pub fn type_note(store: &Store, at: DateTime<FixedOffset>, words: &str) -> NoteId {
    let new = NewNote { source: Source::Typed(words.into()), at, taken: None, bird: None };
    let id = store.add_note(new, &keeper()).unwrap().id().clone();
    draft(store, &id);
    id
}

/// Confirms everything that waits.
pub fn confirm_all(store: &Store) {
    for card in store.waiting(0, 500).unwrap() {
        let decisions: Vec<Decision> =
            card.waiting.iter().map(|w| Decision::accept(&w.proposed.id)).collect();
        store.decide(&decisions, &keeper()).unwrap();
    }
}

/// A second of a tone as a WAV file; `seed` makes it one of its own.
pub fn wav(seconds: f64, seed: u8) -> Vec<u8> {
    let samples = (16_000.0 * seconds) as u32;
    let mut out = Vec::new();
    out.extend(b"RIFF");
    out.extend((36 + samples * 2).to_le_bytes());
    out.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0\x80\x3e\0\0\0\x7d\0\0\x02\0\x10\0data");
    out.extend((samples * 2).to_le_bytes());
    for i in 0..samples {
        let tone = (f64::from(i) * (220.0 + f64::from(seed)) * std::f64::consts::TAU / 16_000.0).sin();
        out.extend(((tone * 8000.0) as i16).to_le_bytes());
    }
    out
}

/// Adds Sedge, a female Harris's hawk, and Teal, a male American kestrel.
pub fn birds(store: &Store) {
    store.set_setting("keeper", &"Mara".into(), &keeper()).unwrap();
    let sedge = BirdDetails {
        name: "Sedge".into(),
        species: Some("Harris's hawk".into()),
        sex: Some("female".into()),
        hatched: Some("2024-05-12".into()),
        ring: Some("3127 W".into()),
        origin: Some("Bred by R. Hale, 2024".into()),
        floor_g: Some(860.0),
        target_g: Some(930.0),
        fed_up_g: Some(1040.0),
        furniture: vec![Furniture { item: "jesses and bells".into(), grams: 12.0, worn: true }],
        ..BirdDetails::default()
    };
    let teal = BirdDetails {
        name: "Teal".into(),
        species: Some("American kestrel".into()),
        sex: Some("male".into()),
        floor_g: Some(100.0),
        target_g: Some(108.0),
        fed_up_g: Some(122.0),
        ..BirdDetails::default()
    };
    let id = store.add_bird(sedge, &keeper()).unwrap();
    store
        .add_bird_event(&id, BirdEventKind::Acquired, ago(400, 12, 0), "From R. Hale, with papers", &keeper())
        .unwrap();
    store
        .add_bird_event(
            &id,
            BirdEventKind::Vet,
            ago(60, 15, 0),
            "Felt the keel with us and set the floor",
            &keeper(),
        )
        .unwrap();
    store.add_bird(teal, &keeper()).unwrap();
}

/// Adds the birds, four weeks of confirmed days, and a few notes that wait.
pub fn four_weeks(store: &Store, photo: Option<&Path>) {
    birds(store);
    for day in (1..=28u64).rev() {
        let swing = ((day * 7 % 11) as f64) - 5.0;
        let sedge = 12.0 + 930.0 + (day as f64 - 10.0) * 1.1 + swing * 2.0;
        // She answers the better the lighter she is.
        let answer = match swing {
            s if s > 2.5 => "slow to come",
            s if s < -2.5 => "came at once",
            _ => "flew well",
        };
        let well = if day % 4 == 1 { String::new() } else { format!(", {answer}") };
        type_note(
            store,
            ago(day, 8, 10),
            &format!(
                "Sedge {sedge:.0} g, two and a half chicks, eight to the fist on the creance{well}, keen"
            ),
        );
        let teal = 108.0 + swing * 0.3;
        type_note(store, ago(day, 8, 25), &format!("Teal {teal:.1} g, half a mouse, {answer}"));
    }
    confirm_all(store);
    let wav = wav(6.0, 1);
    let kept = store.put(&wav, &About::sound("note.wav").of_type("audio/wav")).unwrap();
    let new = NewNote {
        source: Source::Sound(kept.sha256),
        at: ago(0, 8, 10),
        taken: Some(note::TakenSource::Container),
        bird: None,
    };
    let id = store.add_note(new, &keeper()).unwrap().id().clone();
    hear(
        store,
        &id,
        "Sedge 938 g this morning, two and a half chicks, eight to the fist on the creance, flew well, keen, four degrees and a light wind",
    );
    type_note(store, ago(0, 8, 25), "Teal 109.2 g, a bit of quill, flew well");
    type_note(store, ago(0, 8, 40), "Sedge 1250 g after a wash");
    if let Some(photo) = photo {
        let kept = store.put_file(photo, &About::photo("scale.png").of_type("image/png")).unwrap();
        let new = NewPhoto {
            evidence: kept.sha256,
            at: ago(0, 8, 11),
            taken: note::TakenSource::ExifLocal,
            orientation: 1,
            place: None,
            bird: None,
        };
        let id = store.add_photo(new, &keeper()).unwrap().id().clone();
        read_scale(store, &id, 933.0);
    }
}

//! Writes a small record in the form of this version, to be kept in `tests/released` with each
//! release: `cargo run -p store --example released -- FILE`.

use chrono::DateTime;
use note::{Entry, Food, Grams, MassUnit, Outcome, Remark, Value, Weight};
use std::path::Path;
use store::{About, BirdDetails, Decision, NewNote, NewPhoto, Source, Store, Who};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let file = std::env::args().nth(1).ok_or("tell the file to write")?;
    let home = std::env::temp_dir().join(format!("varvel-released-{}", std::process::id()));
    let backup = home.with_extension("backup");
    let who = Who::new("Ada", "desk");
    let store = Store::open(&home)?;
    store.add_bird(BirdDetails { name: "Sedge".into(), ..BirdDetails::default() }, &who)?;
    for (day, grams) in [("2026-03-14", 642.0), ("2026-03-15", 640.5)] {
        let at = DateTime::parse_from_rfc3339(&format!("{day}T08:00:00+00:00"))?;
        let kept = store.put(day.as_bytes(), &About::sound("note.wav"))?;
        let source = Source::Sound(kept.sha256);
        let note = store.add_note(NewNote { source, at, taken: None, bird: None }, &who)?.id().clone();
        let said = |value, span| Entry {
            value,
            bird: Some("Sedge".into()),
            at,
            quote: "words".into(),
            span,
            confidence: 0.9,
            flags: vec![],
        };
        let weight = Weight { grams: Grams::new(grams)?, unit: Some(MassUnit::G) };
        let food =
            Food { item: "quail".into(), count: Some(0.5), part: None, grams: None, outcome: Outcome::Eaten };
        let remark = Remark { text: "left foot a little swollen".into() };
        let ids = store.propose(
            &note,
            vec![
                said(Value::Weight(weight), [0, 5]),
                said(Value::Food(food), [6, 9]),
                said(Value::Remark(remark), [10, 20]),
            ],
        )?;
        let wanted = if grams == 642.0 { 3 } else { 2 };
        let all: Vec<Decision> = ids.iter().take(wanted).map(Decision::accept).collect();
        store.decide(&all, &who)?;
        if grams == 642.0 {
            let kept = store.put(b"photo", &About::photo("scale.jpg"))?;
            let photo = NewPhoto {
                evidence: kept.sha256,
                at,
                taken: note::TakenSource::ExifOffset,
                orientation: 1,
                place: None,
                bird: None,
            };
            let id = store.add_photo(photo, &who)?.id().clone();
            let reading = note::DisplayReading {
                reading: Some("642".into()),
                unit: Some(MassUnit::G),
                grams: Some(Grams::new(642.0)?),
                confidence: 0.9,
                place: None,
            };
            store.set_reading(&id, &reading)?;
        }
    }
    store.backup(&backup, None)?;
    std::fs::copy(backup.join(store::DATABASE), Path::new(&file))?;
    std::fs::remove_dir_all(&home)?;
    std::fs::remove_dir_all(&backup)?;
    Ok(())
}

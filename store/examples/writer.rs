//! A writer to be killed: takes in, confirms, undoes, backs up, and prints a line for each thing
//! that was acknowledged. `writer HOME SEED`; the tests kill it at a random moment and check that
//! everything it printed is there.

use chrono::Utc;
use note::{Entry, Grams, Value, Weight};
use std::io::Write;
use std::path::Path;
use store::{About, BirdDetails, Decision, NewNote, NewPhoto, Source, Store, Who};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args().skip(1);
    let home = args.next().ok_or("tell the folder")?;
    let mut seed: u64 = args.next().ok_or("tell a seed")?.parse()?;
    let home = Path::new(&home);
    let backup = home.with_extension("backup");
    let who = Who::new("Ada", "desk");
    let mut out = std::io::stdout().lock();
    // Opening may make the file and its tables: a kill may fall there too.
    let store = Store::open(home)?;
    let bird = match store.bird_named("Sedge")? {
        Some(bird) => bird.id,
        None => store.add_bird(BirdDetails { name: "Sedge".into(), ..BirdDetails::default() }, &who)?,
    };
    writeln!(out, "bird {bird}")?;
    loop {
        // A small generator of numbers (xorshift): which step, and bytes nobody sent before.
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        let at = Utc::now().fixed_offset();
        match seed % 8 {
            0..=4 => {
                let bytes = seed.to_le_bytes().repeat(1 + (seed % 4000) as usize);
                let kept = store.put(&bytes, &About::sound("note.wav"))?;
                writeln!(out, "kept {}", kept.sha256)?;
                let source = Source::Sound(kept.sha256);
                let note =
                    store.add_note(NewNote { source, at, taken: None, bird: None }, &who)?.id().clone();
                writeln!(out, "note {note}")?;
                let said = Entry {
                    value: Value::Weight(Weight {
                        grams: Grams::new(600.0 + (seed % 100) as f64)?,
                        unit: None,
                    }),
                    bird: Some("Sedge".into()),
                    at,
                    quote: "six hundred".into(),
                    span: [0, 11],
                    confidence: 0.9,
                    flags: vec![],
                };
                let ids = store.propose(&note, vec![said])?;
                // The same words decided on in an earlier life are not proposed a second time.
                if let Some(id) = ids.first() {
                    writeln!(out, "proposed {id}")?;
                    if seed % 8 != 4 {
                        store.decide(&[Decision::accept(id)], &who)?;
                        writeln!(out, "confirmed {id}")?;
                    }
                }
            }
            5 => {
                let kept = store.put(&seed.to_be_bytes(), &About::photo("scale.jpg"))?;
                let photo = NewPhoto {
                    evidence: kept.sha256,
                    at,
                    taken: note::TakenSource::File,
                    orientation: 1,
                    place: None,
                    bird: None,
                };
                let id = store.add_photo(photo, &who)?.id().clone();
                writeln!(out, "photo {id}")?;
                let grams = Grams::new(600.0 + (seed % 100) as f64)?;
                let reading = note::DisplayReading {
                    reading: Some(grams.get().to_string()),
                    unit: Some(note::MassUnit::G),
                    grams: Some(grams),
                    confidence: 0.9,
                    place: None,
                };
                store.set_reading(&id, &reading)?;
                writeln!(out, "read {id}")?;
            }
            6 => {
                if let Some(last) = store.undoable(1)?.first() {
                    for id in store.undo(last.act, &who)? {
                        writeln!(out, "undone {id}")?;
                    }
                }
            }
            _ => {
                store.backup(&backup, None)?;
                writeln!(out, "backup")?;
            }
        }
    }
}

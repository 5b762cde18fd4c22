//! A listener without ears: records, cuts notes and files them, but understands none.
//!
//! `cargo run -p capture --example recorder -- SPOOL KEPT [--mic NAME] [--seconds N] [--tones]`
//!
//! Notes go from the folder SPOOL to the folder KEPT. Prints one JSON line for each, and the level to
//! standard error. `--list` lists the microphones instead.

use std::{
    io::Write,
    path::PathBuf,
    sync::atomic::{AtomicBool, Ordering},
    time::Duration,
};

use capture::{
    listen::{self, Event, Hearer, Kept},
    mic::{self, Input, Microphone},
    spool::{SavedNote, Spool},
};

struct Files(PathBuf);

impl Hearer for Files {
    type Words = ();
    type Error = std::io::Error;

    fn hear(&mut self, _: &SavedNote) -> Result<(String, ()), std::io::Error> {
        Ok(("a note".into(), ()))
    }

    fn keep(&mut self, note: &SavedNote, (): (), _: usize) -> Result<Kept, std::io::Error> {
        let name = note.path.file_name().unwrap_or_default();
        std::fs::copy(&note.path, self.0.join(name))?;
        Ok(Kept { id: name.to_string_lossy().into_owned(), has_weight: false, known: false })
    }

    fn withdraw(&mut self, _: &str) -> Result<(), std::io::Error> {
        Ok(())
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args().skip(1);
    let (mut folders, mut wanted, mut seconds, mut tones) = (Vec::new(), None, None, false);
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--list" => {
                for mic in mic::list()? {
                    println!("{}{} ({})", if mic.usual { "* " } else { "  " }, mic.name, mic.id);
                }
                return Ok(());
            }
            "--mic" => wanted = args.next(),
            "--seconds" => seconds = args.next().and_then(|s| s.parse().ok()),
            "--tones" => tones = true,
            _ => folders.push(PathBuf::from(arg)),
        }
    }
    let [spool, kept] = folders.as_slice() else { return Err("usage: recorder SPOOL KEPT".into()) };
    std::fs::create_dir_all(kept)?;
    let settings = listen::Settings::default();
    let spool = Spool::open(spool, settings.segment)?;
    let stop = AtomicBool::new(false);
    std::thread::scope(|scope| {
        if let Some(seconds) = seconds {
            let stop = &stop;
            scope.spawn(move || {
                std::thread::sleep(Duration::from_secs(seconds));
                stop.store(true, Ordering::Relaxed);
            });
        }
        let open = || Microphone::open(wanted.as_deref()).map(|m| Box::new(m) as Box<dyn Input>);
        listen::run(open, &spool, &settings, &mut Files(kept.clone()), |event| tell(&event, tones), &stop)
    })?;
    Ok(())
}

fn tell(event: &Event, tones: bool) {
    match event {
        Event::Level(level, in_note) => {
            let mark = if *in_note { "note" } else { "    " };
            eprint!("\r{} {mark} {}", level.bar(40), level.advice().unwrap_or_default());
            let _ = std::io::stderr().flush();
        }
        Event::Kept { note, .. } => {
            println!(
                "{{\"file\":{:?},\"started_at\":\"{}\",\"seconds\":{:.2},\"recovered\":{}}}",
                note.path.file_name().unwrap_or_default(),
                note.started_at.format("%Y-%m-%dT%H:%M:%S%.3fZ"),
                note.seconds,
                note.recovered
            );
        }
        Event::NoMicrophone(why) => eprintln!("\n{why}"),
        other => eprintln!("\n{other:?}"),
    }
    if tones
        && event.tones() > 0
        && let Err(why) = mic::tones(event.tones())
    {
        eprintln!("\nno tone: {why}");
    }
}

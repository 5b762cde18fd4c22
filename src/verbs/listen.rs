//! `varvel listen`: notes spoken in the field, gloves on, taken in one after the other.

use anyhow::{Context as _, Result};
use capture::listen::{self, Event, Hearer, Kept, Summary};
use capture::mic::{self, Input, MicError, Microphone};
use capture::segment;
use capture::spool::{SavedNote, Spool};
use chrono::{DateTime, Utc};
use note::Transcript;
use serde_json::json;
use std::io::{IsTerminal as _, Write as _};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Sender, channel};

/// Listens all session long, cuts what is said into notes at the pauses, and takes them in.
///
/// All sound is written to disk as it is spoken; what a power cut or a full disk interrupts is found at the
/// next start. One soft tone says that a note was got, two that a weight was heard in it. Say "scratch that
/// note" to withdraw the last one. End with Ctrl-C.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Use the microphone whose name holds this; without it, the system's usual one.
    #[arg(long, value_name = "NAME")]
    mic: Option<String>,
    /// List the microphones, then end.
    #[arg(long)]
    mics: bool,
    /// Keep only notes that begin with these words, such as "falcon log"; the rest is not kept.
    #[arg(long, value_name = "WORDS")]
    cue: Option<String>,
    /// Play no tones.
    #[arg(long)]
    quiet: bool,
    /// Seconds of silence that end a note.
    #[arg(long, value_name = "SECONDS", default_value_t = segment::Settings::default().pause_s, value_parser = pause)]
    pause: f64,
    /// Print a JSON object for each note on standard output.
    #[arg(long)]
    json: bool,
}

fn pause(said: &str) -> Result<f64, String> {
    match said.parse() {
        Ok(seconds) if (0.5..=10.0).contains(&seconds) => Ok(seconds),
        _ => Err("a pause is 0.5 to 10 seconds long".into()),
    }
}

/// What is needed of the record and the speech model.
pub trait Desk {
    /// Hears a recording; the record stays as it is.
    fn hear(&mut self, sound: &Path) -> Result<Transcript>;

    /// Enters a note spoken at a time, with its recording and its words, and proposes its entries.
    fn enter(&mut self, sound: &Path, at: DateTime<Utc>, words: Transcript) -> Result<Entered>;

    /// Marks a note as withdrawn; its recording stays.
    fn withdraw(&mut self, id: &str) -> Result<()>;
}

/// A note in the record.
pub struct Entered {
    /// What the record calls it.
    pub id: String,
    /// Whether a weight was heard in it.
    pub has_weight: bool,
    /// Whether the record had it already.
    pub known: bool,
}

/// Runs the verb: sound waits in `spool` until `desk` has entered it.
pub fn run(args: Args, spool: &Path, desk: &mut impl Desk) -> Result<ExitCode> {
    if args.mics {
        return list_mics(args.json);
    }
    let settings = listen::Settings {
        segment: segment::Settings { pause_s: args.pause, ..segment::Settings::default() },
        cue: args.cue.clone().filter(|cue| cue.chars().any(char::is_alphanumeric)),
        once: false,
    };
    let spool = Spool::open(spool, settings.segment)?;
    let stop = Arc::new(AtomicBool::new(false));
    let stopper = stop.clone();
    ctrlc::set_handler(move || stopper.store(true, Ordering::Relaxed))
        .context("Ctrl-C cannot be watched for")?;
    let mic = args.mic.clone();
    let open = move || Microphone::open(mic.as_deref()).map(|m| Box::new(m) as Box<dyn Input>);
    let mut teller = Teller::new(&args);
    if let Some(cue) = &settings.cue {
        eprintln!("Begin each note with \"{cue}\".");
    }
    let summary = listen::run(open, &spool, &settings, &mut OnDesk(desk), |event| teller.tell(event), &stop)?;
    teller.close(summary);
    Ok(if summary.failed == 0 { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

fn list_mics(json: bool) -> Result<ExitCode> {
    let mics = mic::list()?;
    for mic in &mics {
        if json {
            println!("{}", json!({"name": mic.name, "id": mic.id, "usual": mic.usual}));
        } else {
            eprintln!("{} {}", if mic.usual { "*" } else { " " }, mic.name);
        }
    }
    if mics.is_empty() {
        eprintln!("{}", MicError::None);
        return Ok(ExitCode::from(1));
    }
    Ok(ExitCode::SUCCESS)
}

/// Makes a desk hear for the session.
struct OnDesk<'a, D>(&'a mut D);

impl<D: Desk> Hearer for OnDesk<'_, D> {
    type Words = Transcript;
    type Error = anyhow::Error;

    fn hear(&mut self, note: &SavedNote) -> Result<(String, Transcript)> {
        let words = self.0.hear(&note.path)?;
        Ok((words.text.clone(), words))
    }

    fn keep(&mut self, note: &SavedNote, words: Transcript, _said_from: usize) -> Result<Kept> {
        let entered = self.0.enter(&note.path, note.started_at, words)?;
        Ok(Kept { id: entered.id, has_weight: entered.has_weight, known: entered.known })
    }

    fn withdraw(&mut self, id: &str) -> Result<()> {
        self.0.withdraw(id)
    }
}

/// Tells the keeper what happens: words on standard error, objects on standard output, tones.
struct Teller {
    json: bool,
    meter: bool,
    tones: Option<Sender<u32>>,
}

impl Teller {
    fn new(args: &Args) -> Self {
        let tones = (!args.quiet).then(|| {
            let (sender, wanted) = channel::<u32>();
            // On a thread of its own: a slow loudspeaker must not hold up the next note.
            std::thread::spawn(move || {
                let mut complained = false;
                for count in wanted {
                    if let (Err(why), false) = (mic::tones(count), complained) {
                        complained = true;
                        eprintln!("\rNo tones: {why}");
                    }
                }
            });
            sender
        });
        Self { json: args.json, meter: std::io::stderr().is_terminal(), tones }
    }

    fn tell(&mut self, event: Event) {
        if let (Some(tones), count @ 1..) = (&self.tones, event.tones()) {
            // Without a loudspeaker thread there is nothing to play on.
            let _ = tones.send(count);
        }
        match event {
            Event::Level(level, in_note) => self.meter(level, in_note),
            Event::Listening(name) => self.say(&format!("Listening on {name}. End with Ctrl-C.")),
            Event::Saved(note) if note.recovered => self.say("A note from before was found again."),
            Event::Saved(_) => {}
            Event::Kept { note, text, kept } => {
                self.say(&format!("{} {text}", if kept.known { "Known already:" } else { "Got:" }));
                self.print(json!({
                    "id": kept.id, "at": note.started_at.to_rfc3339(), "audio_s": note.seconds, "text": text,
                    "weight": kept.has_weight, "recovered": note.recovered,
                    "status": if kept.known { "known" } else { "new" },
                }));
            }
            Event::NotKept { text } if text.trim().is_empty() => {
                self.say("Nothing was said there; not kept.")
            }
            Event::NotKept { text } => self.say(&format!("Without the cue, not kept: {text}")),
            Event::Withdrawn { id } => {
                self.say("The last note is withdrawn. Its recording stays.");
                self.print(json!({"id": id, "status": "withdrawn"}));
            }
            Event::NothingToWithdraw => self.say("There is no note of this session to withdraw."),
            Event::NoMicrophone(why) => self.say(&format!("No sound: {why}. Waiting for it to come back.")),
            Event::DiskTrouble(why) => self.say(&format!("Careful: {why}.")),
            Event::DiskWell(lost) if lost > 0.0 => {
                self.say(&format!("Sound is written again. {lost:.0} seconds were lost for good."));
            }
            Event::DiskWell(_) => self.say("Sound is written again; nothing was lost."),
            Event::Failed { note, why } => {
                self.say(&format!(
                    "A note could not be taken in: {why}. Its sound is safe and is tried at the next start."
                ));
                self.print(json!({"file": note.path, "error": why}));
            }
            other => self.say(&format!("{other:?}")),
        }
    }

    fn meter(&self, level: mic::Level, in_note: bool) {
        if self.meter {
            let what = if in_note { "note" } else { "    " };
            eprint!("\r{} {what} {:<60}", level.bar(30), level.advice().unwrap_or_default());
        }
    }

    fn say(&self, words: &str) {
        // Over the meter's line, if there is one.
        eprintln!("{}{words:<100}", if self.meter { "\r" } else { "" });
    }

    fn print(&self, object: serde_json::Value) {
        if self.json {
            let mut out = std::io::stdout().lock();
            // A reader that went away must not end the recording.
            let _ = writeln!(out, "{object}").and_then(|()| out.flush());
        }
    }

    fn close(&self, summary: Summary) {
        let mut words = format!("{} notes taken in", summary.kept);
        for (count, what) in [
            (summary.withdrawn, "withdrawn"),
            (summary.not_kept, "not kept"),
            (summary.failed, "waiting for the next start"),
        ] {
            if count > 0 {
                words.push_str(&format!(", {count} {what}"));
            }
        }
        self.say(&format!("{words}."));
    }
}

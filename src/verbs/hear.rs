//! `varvel hear`: recordings in, entries out, in one go and without the record.

use crate::hearing::{self, Hearing};
use crate::home::Home;
use anyhow::{Context as _, Result};
use note::{Entry, RosterBird, Units};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Hears recordings and writes what was said as entries. Nothing is stored.
#[derive(clap::Args)]
pub struct Args {
    /// Write one JSON object a line.
    #[arg(long)]
    json: bool,
    /// Whose birds may be meant: a JSON file with `birds`, `current_bird` and `units`.
    #[arg(long, value_name = "ROSTER.json")]
    birds: Option<PathBuf>,
    /// Sound files.
    #[arg(required = true)]
    files: Vec<PathBuf>,
}

#[derive(Default, Deserialize)]
struct Roster {
    #[serde(default)]
    birds: Vec<RosterBird>,
    #[serde(default)]
    current_bird: Option<String>,
    #[serde(default)]
    units: Option<Units>,
}

#[derive(Serialize)]
struct Heard<'a> {
    file: &'a Path,
    text: String,
    at: String,
    entries: Vec<Entry>,
    audio_s: f64,
    took_s: f64,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let roster = match &args.birds {
        Some(file) => {
            let text = std::fs::read_to_string(file)
                .with_context(|| format!("{} cannot be read", file.display()))?;
            serde_json::from_str(&text).with_context(|| format!("{} is no roster", file.display()))?
        }
        None => Roster::default(),
    };
    let lexicon = hearing::lexicon_at(home)?;
    let mut hearing = Hearing::load(home)?;
    super::each(&args.files, args.json, |file| {
        let heard = one(file, &roster, &lexicon, &mut hearing)?;
        if args.json {
            println!("{}", serde_json::to_string(&heard)?);
        } else {
            tell(&heard);
        }
        Ok(())
    })
}

fn one<'a>(
    file: &'a Path,
    roster: &Roster,
    lexicon: &extract::Lexicon,
    hearing: &mut Hearing,
) -> Result<Heard<'a>> {
    let began = std::time::Instant::now();
    let sound = capture::sound::read(file)?;
    let at = match sound.recorded {
        Some(taken) => taken.at,
        None => hearing::file_time(file)?,
    };
    let context = extract::Context {
        at,
        birds: roster.birds.clone(),
        current_bird: roster.current_bird.clone(),
        units: roster.units,
    };
    let transcript = hearing.hear(&sound.samples, &context, lexicon)?;
    let entries = extract::read(&transcript.text, Some(&transcript.words), &context, lexicon);
    Ok(Heard {
        file,
        text: transcript.text,
        at: at.to_rfc3339(),
        entries,
        audio_s: sound.seconds,
        took_s: began.elapsed().as_secs_f64(),
    })
}

fn tell(heard: &Heard<'_>) {
    println!("{}\n  \u{201c}{}\u{201d}", heard.file.display(), heard.text);
    for entry in &heard.entries {
        let bird = entry.bird.as_deref().unwrap_or("no bird");
        let flags: Vec<&str> = entry.flags.iter().map(|flag| flag.word()).collect();
        let value =
            serde_json::to_value(&entry.value).map_or_else(|_| String::new(), |v| v["value"].to_string());
        println!("  {:<10} {bird:<10} {value} {}", entry.kind().word(), flags.join(", "));
    }
}

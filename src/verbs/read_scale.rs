//! `varvel read-scale`: photos in, what the scale's display shows out.

use crate::hearing;
use anyhow::Result;
use capture::photo::{self, Limits};
use display::{Picture, Reader};
use note::{DisplayReading, Sha256, Taken, TakenSource};
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Reads the display of the scale in photos. Nothing is stored.
#[derive(clap::Args)]
pub struct Args {
    /// Write one JSON object a photo.
    #[arg(long)]
    json: bool,
    /// Photos: JPEG, PNG, WebP or HEIC.
    #[arg(required = true)]
    photos: Vec<PathBuf>,
}

#[derive(Serialize)]
struct Line<'a> {
    file: &'a Path,
    sha256: Sha256,
    #[serde(flatten)]
    reading: DisplayReading,
    #[serde(flatten)]
    taken: Taken,
}

/// Runs the verb.
pub fn run(args: Args) -> Result<ExitCode> {
    let reader = Reader::built_in();
    super::each(&args.photos, args.json, |file| {
        let line = one(file, &reader)?;
        if args.json {
            println!("{}", serde_json::to_string(&line)?);
            return Ok(());
        }
        match (&line.reading.reading, line.reading.unit) {
            (Some(reading), unit) => println!(
                "{}: {reading} {} ({:.0} % sure)",
                file.display(),
                unit.and_then(|u| serde_json::to_value(u).ok())
                    .and_then(|u| u.as_str().map(str::to_owned))
                    .unwrap_or_default(),
                line.reading.confidence * 100.0
            ),
            (None, _) => println!("{}: no display could be read", file.display()),
        }
        Ok(())
    })
}

fn one<'a>(file: &'a Path, reader: &Reader) -> Result<Line<'a>> {
    let made = hearing::file_time(file)?;
    let bytes = std::fs::read(file)?;
    let photo = photo::read_bytes(&bytes, &Limits::default())?;
    let taken =
        photo.facts.taken(hearing::zone_here).unwrap_or(Taken { at: made, source: TakenSource::File });
    let reading = reader.read(&Picture::new(photo.width, photo.height, &photo.rgb)?);
    Ok(Line { file, sha256: photo::sha256(&bytes), reading, taken })
}

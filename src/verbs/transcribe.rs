//! `varvel transcribe`: recordings in, words with their times and probabilities out.

use crate::hearing::Hearing;
use crate::home::Home;
use anyhow::Result;
use note::Word;
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Writes down what is said in recordings. Nothing is stored.
#[derive(clap::Args)]
pub struct Args {
    /// Write one JSON object a line, with word times and probabilities.
    #[arg(long)]
    json: bool,
    /// Sound files.
    #[arg(required = true)]
    files: Vec<PathBuf>,
}

#[derive(Serialize)]
struct Line<'a> {
    file: &'a Path,
    text: &'a str,
    words: &'a [Word],
    audio_s: f64,
    took_s: f64,
    model: &'a str,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let mut hearing = Hearing::load(home)?;
    super::each(&args.files, args.json, |file| {
        let heard = hearing.transcribe(file)?;
        if args.json {
            let (text, words, model) = (heard.text.as_str(), heard.words.as_slice(), heard.model.as_str());
            let line = Line { file, text, words, audio_s: heard.audio_s, took_s: heard.took_s, model };
            println!("{}", serde_json::to_string(&line)?);
        } else {
            println!("{}", heard.text);
        }
        Ok(())
    })
}

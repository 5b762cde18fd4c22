//! `varvel transcribe`: recordings in, words with their times and probabilities out.

use crate::hearing::Hearing;
use crate::home::Home;
use anyhow::Result;
use note::Word;
use serde::Serialize;
use serde_json::json;
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
    let mut whole = true;
    for file in &args.files {
        match hearing.transcribe(file) {
            Ok(t) if args.json => {
                let (text, words, model) = (t.text.as_str(), t.words.as_slice(), t.model.as_str());
                let line = Line { file, text, words, audio_s: t.audio_s, took_s: t.took_s, model };
                println!("{}", serde_json::to_string(&line)?);
            }
            Ok(transcript) => println!("{}", transcript.text),
            Err(error) => {
                whole = false;
                if args.json {
                    println!("{}", json!({"file": file, "error": format!("{error:#}")}));
                }
                eprintln!("{}: {error:#}", file.display());
            }
        }
    }
    Ok(if whole { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

//! The `advise` command's lines: one `Bird`, then its `Day` records, to one `Advice`.
//!
//! Absent: reading of files and of settings. The caller hands over what is read and where to write.

use crate::{Settings, advise};
use serde::Serialize;
use std::io::{self, BufRead, Write};

#[derive(Serialize)]
struct Failed<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<&'a str>,
    error: String,
}

/// Reads one `Bird` line and then `Day` lines, writes one `Advice` object with the built-in settings.
///
/// Returns whether advice was given; otherwise an object with `error` was written.
pub fn run(input: impl BufRead, output: impl Write) -> io::Result<bool> {
    run_with(input, output, &Settings::default())
}

/// Does as [`run`], with the keeper's settings.
pub fn run_with(input: impl BufRead, mut output: impl Write, settings: &Settings) -> io::Result<bool> {
    let mut bird: Option<note::Bird> = None;
    let mut days = Vec::new();
    let mut trouble = None;
    for (number, line) in input.lines().enumerate() {
        let line = line?;
        let line = line.trim_start_matches('\u{feff}').trim();
        if line.is_empty() {
            continue;
        }
        let read = if bird.is_none() {
            serde_json::from_str(line).map(|read| bird = Some(read)).map_err(|e| ("the bird", e))
        } else {
            serde_json::from_str(line).map(|read| days.push(read)).map_err(|e| ("a day", e))
        };
        if let Err((what, error)) = read {
            trouble = Some(format!("line {} is not {what} as the contract writes it: {error}", number + 1));
            break;
        }
    }
    let outcome = match (trouble, &bird) {
        (Some(trouble), _) => Err(trouble),
        (None, None) => Err("no bird came in; the first line must be the bird, the days follow".into()),
        (None, Some(bird)) => advise(bird, &days, settings).map_err(|e| e.to_string()),
    };
    match &outcome {
        Ok(advice) => serde_json::to_writer(&mut output, advice)?,
        Err(error) => {
            let id = bird.as_ref().map(|b| b.bird.as_str());
            serde_json::to_writer(&mut output, &Failed { id, error: error.clone() })?;
        }
    }
    writeln!(output)?;
    Ok(outcome.is_ok())
}

//! The line contract: one JSON note a line in, one JSON line with its entries out.

use crate::{Context, Lexicon, read};
use serde::Deserialize;
use serde_json::{Value, json};
use std::io::{self, BufRead, Write};

/// A note as the contract writes it; unknown fields are ignored.
#[derive(Deserialize)]
struct Line {
    id: Value,
    text: String,
    #[serde(flatten)]
    context: Context,
    #[serde(default)]
    words: Option<Vec<note::Word>>,
}

/// Reads notes from `input` with the built-in lexicon and writes their entries to `output`.
///
/// A line that cannot be read is answered with `{"id"|"line":…,"error":"…"}` and the others are
/// still handled. Returns whether every line was handled.
///
/// # Errors
/// Only when `input` cannot be read or `output` cannot be written.
pub fn run(input: impl BufRead, output: impl Write) -> io::Result<bool> {
    run_with(input, output, Lexicon::built_in())
}

/// Does the same as [`run`] with a keeper's lexicon.
///
/// # Errors
/// Only when `input` cannot be read or `output` cannot be written.
pub fn run_with(mut input: impl BufRead, mut output: impl Write, lexicon: &Lexicon) -> io::Result<bool> {
    let (mut all, mut number, mut raw) = (true, 0_usize, Vec::new());
    loop {
        raw.clear();
        if input.read_until(b'\n', &mut raw)? == 0 {
            break;
        }
        number += 1;
        let text = String::from_utf8_lossy(&raw);
        if text.trim().is_empty() {
            continue;
        }
        let answer = match serde_json::from_str::<Line>(&text) {
            Ok(line) => {
                let entries = read(&line.text, line.words.as_deref(), &line.context, lexicon);
                json!({"id": line.id, "entries": entries})
            }
            Err(error) => {
                all = false;
                complaint(&text, number, &error)
            }
        };
        serde_json::to_writer(&mut output, &answer)?;
        output.write_all(b"\n")?;
    }
    output.flush()?;
    Ok(all)
}

/// Names the line by its id where it has one, else by its number.
fn complaint(text: &str, number: usize, error: &serde_json::Error) -> Value {
    let message = format!("this line is no note: {error}");
    match serde_json::from_str::<Value>(text).ok().and_then(|v| v.get("id").cloned()) {
        Some(id) => json!({"id": id, "error": message}),
        None => json!({"line": number, "error": message}),
    }
}

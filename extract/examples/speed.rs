//! Measures how many notes are read in a second on one core, and how long a megabyte takes.
//!
//! Reads notes (JSON lines) on standard input.

use extract::{Context, Lexicon, read};
use std::io::Read;
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut input = String::new();
    std::io::stdin().read_to_string(&mut input)?;
    let mut notes: Vec<(String, Context)> = Vec::new();
    for line in input.lines().filter(|l| !l.trim().is_empty()) {
        let value: serde_json::Value = serde_json::from_str(line)?;
        notes.push((value["text"].as_str().unwrap_or_default().to_owned(), serde_json::from_value(value)?));
    }
    let lexicon = Lexicon::built_in();
    let pass = || notes.iter().map(|(text, context)| read(text, None, context, lexicon).len()).sum::<usize>();
    pass();
    let mut best = f64::INFINITY;
    for _ in 0..9 {
        let start = Instant::now();
        pass();
        best = best.min(start.elapsed().as_secs_f64());
    }
    let characters: usize = notes.iter().map(|n| n.0.chars().count()).sum();
    println!("{} notes of {} characters on average", notes.len(), characters / notes.len().max(1));
    println!("{:.0} notes a second", notes.len() as f64 / best);
    let all: String = notes.iter().map(|n| n.0.as_str()).collect::<Vec<_>>().join(" ");
    let text = all.repeat(1_000_000 / all.len().max(1) + 1);
    if let Some((_, context)) = notes.first() {
        let start = Instant::now();
        let entries = read(&text, None, context, lexicon).len();
        println!("{} bytes of text in {:.2} s, {entries} entries", text.len(), start.elapsed().as_secs_f64());
    }
    Ok(())
}

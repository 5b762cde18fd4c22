//! `varvel extract`: notes in, entries out, one JSON object a line.

use anyhow::Result;
use std::io;
use std::process::ExitCode;

/// Reads notes as JSON lines on standard input and writes their entries as JSON lines.
#[derive(clap::Args)]
pub struct Args {}

/// Runs the verb.
pub fn run(_args: Args) -> Result<ExitCode> {
    let whole = extract::lines::run(io::stdin().lock(), io::BufWriter::new(io::stdout().lock()))?;
    Ok(if whole { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

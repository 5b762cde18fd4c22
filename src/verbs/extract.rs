//! `varvel extract`: notes in, entries out, one JSON object a line.

use crate::hearing;
use crate::home::Home;
use anyhow::Result;
use std::io;
use std::process::ExitCode;

/// Reads notes as JSON lines on standard input and writes their entries as JSON lines.
#[derive(clap::Args)]
pub struct Args {}

/// Runs the verb.
pub fn run(_args: Args, home: &Home) -> Result<ExitCode> {
    let lexicon = hearing::lexicon_at(home)?;
    let output = io::BufWriter::new(io::stdout().lock());
    let whole = extract::lines::run_with(io::stdin().lock(), output, &lexicon)?;
    Ok(if whole { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

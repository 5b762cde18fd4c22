//! `varvel advise`: what the record says about tomorrow.

use crate::home::Home;
use anyhow::{Result, bail};
use std::io;
use std::process::ExitCode;
use store::{Span, Store};

/// Says what the confirmed record says about tomorrow. It advises; you decide.
#[derive(clap::Args)]
pub struct Args {
    /// Read one bird and its days as JSON lines from standard input, and write one advice object.
    #[arg(long)]
    json: bool,
    /// A bird of the record.
    #[arg(conflicts_with = "json", required_unless_present = "json")]
    bird: Option<String>,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let Some(name) = args.bird else {
        let whole = advise::lines::run(io::stdin().lock(), io::stdout().lock())?;
        return Ok(if whole { ExitCode::SUCCESS } else { ExitCode::from(1) });
    };
    let store = Store::open(home.path())?;
    let Some(bird) = store.bird_named(&name)? else {
        bail!("There is no bird called {name} in this record. Look at `varvel serve`, page Birds.");
    };
    let days = store.days(&bird.id, Span::ALL)?;
    let advice = advise::advise(&bird.for_advice(), &days, &page::advice_settings(&store)?)?;
    println!("{}", serde_json::to_string_pretty(&advice)?);
    eprintln!("\n{}", advise::caution::GENERAL);
    Ok(ExitCode::SUCCESS)
}

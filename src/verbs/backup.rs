//! `varvel backup`: a copy of everything, while the record is in use.

use crate::home::Home;
use anyhow::{Context, Result, bail};
use std::path::PathBuf;
use std::process::ExitCode;
use store::Store;

/// Makes a backup in a folder of its own, or brings it up to date; best on another disk.
#[derive(clap::Args)]
pub struct Args {
    /// The folder.
    folder: PathBuf,
    /// Lock it with a passphrase: VARVEL_PASSPHRASE, or asked for. A locked backup is brought up to date without.
    #[arg(long)]
    locked: bool,
    /// Write what was done as one JSON object.
    #[arg(long)]
    json: bool,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let passphrase = if args.locked { Some(passphrase()?) } else { None };
    let done = store.backup(&args.folder, passphrase.as_deref())?;
    if args.json {
        println!("{}", serde_json::to_string(&done)?);
    }
    for sentence in &done.troubles {
        eprintln!("{sentence}");
    }
    eprintln!(
        "{} lines are safe in {}; {} originals were copied, {} were there already.",
        done.lines,
        args.folder.display(),
        done.new,
        done.known
    );
    Ok(if done.troubles.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

/// Reads the passphrase: from the environment, else a line from the keyboard.
pub(super) fn passphrase() -> Result<String> {
    if let Ok(said) = std::env::var("VARVEL_PASSPHRASE")
        && !said.is_empty()
    {
        return Ok(said);
    }
    eprintln!("The passphrase (it is shown as you type; without it nobody opens the file again):");
    let mut line = String::new();
    std::io::stdin().read_line(&mut line).context("The passphrase could not be read.")?;
    let said = line.trim_end_matches(['\n', '\r']);
    if said.is_empty() {
        bail!("No passphrase was given; nothing was done.");
    }
    Ok(said.to_owned())
}

//! `varvel restore`: a backup brought back, or a damaged record mended.

use crate::home::Home;
use anyhow::{Result, bail};
use std::path::PathBuf;
use std::process::ExitCode;
use store::{Store, StoreError};

/// Brings a backup back into an empty data folder and proves it equal; or mends a damaged record.
#[derive(clap::Args)]
pub struct Args {
    /// The folder of the backup.
    #[arg(required_unless_present = "repair")]
    folder: Option<PathBuf>,
    /// Mend the damaged record in the data folder: all that can be read is saved, lines that cannot
    /// come from the backup if one is given, and the damaged file is set aside.
    #[arg(long)]
    repair: bool,
    /// Write what was done as one JSON object.
    #[arg(long)]
    json: bool,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    if args.repair {
        let done = Store::repair(home.path(), args.folder.as_deref())?;
        if args.json {
            println!("{}", serde_json::to_string(&done)?);
        }
        eprintln!("{} lines were saved, {} of them from the backup.", done.lines, done.from_backup);
        for (from, to) in &done.lost {
            eprintln!("Lines {from} to {to} are lost.");
        }
        eprintln!("The damaged file lies in {}. Pair phones anew.", done.set_aside.display());
        return Ok(if done.lost.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(1) });
    }
    let Some(folder) = args.folder else { bail!("Tell the folder of the backup.") };
    let done = match Store::restore(&folder, home.path(), None) {
        Err(StoreError::Passphrase(_)) => {
            Store::restore(&folder, home.path(), Some(&super::backup::passphrase()?))?
        }
        other => other?,
    };
    if args.json {
        println!("{}", serde_json::to_string(&done)?);
    }
    for sentence in &done.troubles {
        eprintln!("{sentence}");
    }
    eprintln!("{} lines and {} originals are back in {}.", done.lines, done.new, home.path().display());
    Ok(if done.troubles.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

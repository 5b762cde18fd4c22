//! `varvel verify`: is every line, every original and every row as it was written?

use crate::home::Home;
use anyhow::Result;
use std::process::ExitCode;
use store::Store;

/// Checks the whole record: every line of the journal, every original, every row of the tables.
#[derive(clap::Args)]
pub struct Args {
    /// Write what was found as one JSON object.
    #[arg(long)]
    json: bool,
    /// Leave out the originals, which takes long where there are many.
    #[arg(long)]
    quick: bool,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let found = if args.quick { store.verify_record()? } else { store.verify()? };
    if args.json {
        println!("{}", serde_json::to_string(&found)?);
    }
    for sentence in found.troubles.iter().chain(&found.remarks) {
        eprintln!("{sentence}");
    }
    let originals =
        if args.quick { "no originals".to_owned() } else { format!("{} originals", found.originals) };
    eprintln!("Looked at {} lines, {originals} and {} rows.", found.lines, found.rows);
    if let Some(head) = &found.head {
        eprintln!(
            "The last line's hash is {head}: noted on paper, it shows later that the whole journal is still this one."
        );
    }
    if found.is_clean() {
        eprintln!("All is as it was written.");
        Ok(ExitCode::SUCCESS)
    } else {
        eprintln!(
            "\nNothing was changed. Keep a copy of {} as it is, then restore a backup, or mend what can be mended with `varvel restore --repair`.",
            home.path().display()
        );
        Ok(ExitCode::from(1))
    }
}

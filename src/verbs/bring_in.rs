//! `varvel bring-in`: another keeper's record of a bird, or weights from a spreadsheet.

use crate::home::Home;
use anyhow::{Context, Result};
use handover::{Mapping, bring_in, check, preview, take_in};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use store::{Store, Who, seal};

/// Takes in a hand-over file, or weights that were kept in a spreadsheet (CSV or JSON).
///
/// A table is first only shown, with what was guessed; `--yes` brings it in.
#[derive(clap::Args)]
pub struct Args {
    /// The file.
    file: PathBuf,
    /// Bring it in; without this it is only looked at.
    #[arg(long)]
    yes: bool,
    /// A file that tells which column is what, as `--json` writes it under `mapping`.
    #[arg(long)]
    mapping: Option<PathBuf>,
    /// Who brings it in.
    #[arg(long, env = "VARVEL_KEEPER")]
    keeper: Option<String>,
    /// Write what was found or done as one JSON object.
    #[arg(long)]
    json: bool,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let who = super::who(&store, args.keeper.clone())?;
    let mut start = [0u8; 21];
    let mut file = std::fs::File::open(&args.file)
        .with_context(|| format!("{} cannot be opened.", args.file.display()))?;
    let n = file.read(&mut start)?;
    drop(file);
    let locked = seal::is_sealed(&start[..n]);
    if locked
        || (start.starts_with(b"PK") && check(&args.file, None).is_ok())
        || is_zip_of_ours(&args.file, &start)
    {
        return history(&store, &args, locked, &who);
    }
    table(&store, &args, &who)
}

/// A workbook of a spreadsheet is a zip as well; its name tells.
fn is_zip_of_ours(file: &Path, start: &[u8]) -> bool {
    let workbook = file
        .extension()
        .is_some_and(|e| ["xlsx", "ods"].contains(&e.to_string_lossy().to_lowercase().as_str()));
    start.starts_with(b"PK") && !workbook
}

fn history(store: &Store, args: &Args, locked: bool, who: &Who) -> Result<ExitCode> {
    let passphrase = if locked { Some(super::backup::passphrase()?) } else { None };
    let found = check(&args.file, passphrase.as_deref())?;
    eprintln!(
        "The record of {} from {}: {} confirmed entries, {} of them proved by the chain; {} originals.",
        found.bird, found.keeper, found.entries, found.proved, found.originals
    );
    for sentence in &found.left_out {
        eprintln!("{sentence}");
    }
    if let Some(head) = &found.head {
        eprintln!("Its last hash is {head}: compare it with what was written on paper.");
    }
    if !args.yes {
        eprintln!("\nNothing was taken in yet: do it with --yes.");
        return Ok(ExitCode::SUCCESS);
    }
    let taken = take_in(store, &args.file, passphrase.as_deref(), who)?;
    if args.json {
        println!("{}", serde_json::json!({"bird": taken.name, "new": taken.new, "known": taken.known}));
    }
    eprintln!(
        "{} entries are new under {}, {} were here already. They stay marked as another keeper's.",
        taken.new, taken.name, taken.known
    );
    Ok(ExitCode::SUCCESS)
}

fn table(store: &Store, args: &Args, who: &Who) -> Result<ExitCode> {
    let bytes = std::fs::read(&args.file)?;
    let mapping: Option<Mapping> = match &args.mapping {
        Some(path) => Some(
            serde_json::from_slice(&std::fs::read(path)?)
                .with_context(|| format!("{} does not tell columns as it should.", path.display()))?,
        ),
        None => None,
    };
    let seen = preview(store, &bytes, mapping)?;
    for reason in &seen.reasons {
        eprintln!("{reason}");
    }
    for row in &seen.first {
        let grams = row.grams.map_or("no weight".to_owned(), |g| format!("{g} g"));
        eprintln!(
            "  line {}: {} {} {grams} (“{}”)",
            row.line,
            row.at.format("%Y-%m-%d %H:%M"),
            row.bird,
            row.as_written
        );
    }
    for bad in &seen.bad {
        eprintln!("Line {} is left out: {}.", bad.line, bad.why);
    }
    if !args.yes {
        if args.json {
            println!("{}", serde_json::to_string(&seen)?);
        }
        eprintln!(
            "\n{} rows can be brought in, {} cannot. Nothing was brought in yet: do it with --yes.",
            seen.good,
            seen.bad.len()
        );
        return Ok(ExitCode::SUCCESS);
    }
    let name = args.file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let done = bring_in(store, &bytes, &name, &seen.mapping, who)?;
    if args.json {
        println!("{}", serde_json::to_string(&done)?);
    }
    eprintln!(
        "{} rows are new, {} were here already, {} were left out.",
        done.rows,
        done.known,
        done.bad.len()
    );
    Ok(if done.bad.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

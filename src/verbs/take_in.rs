//! `varvel take-in`: recordings and photos into the record, with proposals to confirm.

use crate::home::Home;
use crate::workshop::{TakenIn, Workshop};
use anyhow::{Result, bail};
use note::Entry;
use serde_json::json;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use store::{Store, Who};

/// Takes sound files and photos into the record; each is kept as it is, once, and read.
#[derive(clap::Args)]
pub struct Args {
    /// Write one JSON object a file.
    #[arg(long)]
    json: bool,
    /// Who takes them in.
    #[arg(long, env = "VARVEL_KEEPER")]
    keeper: Option<String>,
    /// Files, or folders of them.
    #[arg(required = true)]
    files: Vec<PathBuf>,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let who = super::who(&store, args.keeper)?;
    let workshop = Workshop::new(store, home.clone());
    super::each(&spread(&args.files)?, args.json, |file| {
        let line = one(&workshop, file, &who)?;
        if args.json {
            println!("{line}");
        } else {
            println!(
                "{}: {} {}, {} entries",
                file.display(),
                text(&line["status"]),
                text(&line["as"]),
                line["entries"].as_array().map_or(0, Vec::len)
            );
        }
        Ok(())
    })
}

fn text(value: &serde_json::Value) -> &str {
    value.as_str().unwrap_or_default()
}

/// Files as given, folders as the files in them, by name.
fn spread(given: &[PathBuf]) -> Result<Vec<PathBuf>> {
    let mut out = Vec::new();
    for path in given {
        if path.is_dir() {
            let mut inside: Vec<PathBuf> = std::fs::read_dir(path)?
                .map(|entry| entry.map(|entry| entry.path()))
                .collect::<std::io::Result<_>>()?;
            inside.retain(|path| path.is_file());
            inside.sort();
            out.extend(inside);
        } else {
            out.push(path.clone());
        }
    }
    Ok(out)
}

fn one(workshop: &Workshop, file: &Path, who: &Who) -> Result<serde_json::Value> {
    let store = workshop.store();
    let taken = workshop.take_in(file, who)?;
    if let Some(why) = workshop.read(&taken)? {
        bail!(why);
    }
    let (kind, id, evidence, new, card) = match taken {
        TakenIn::Note(id, new) => ("note", id.to_string(), store.note(&id)?.evidence, new, store.card(&id)?),
        TakenIn::Photo(id, new) => {
            ("photo", id.to_string(), Some(store.photo(&id)?.evidence), new, store.photo_card(&id)?)
        }
    };
    let entries: Vec<Entry> = card.waiting.into_iter().map(|waiting| waiting.proposed.entry).collect();
    let status = if new { "new" } else { "known" };
    Ok(json!({"file": file, "sha256": evidence, "as": kind, "id": id, "status": status, "entries": entries}))
}

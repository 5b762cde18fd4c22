//! `varvel models`: lists, gets, verifies and removes speech models.

use crate::home::Home;
use anyhow::{Context as _, Result};
use models::Standing;
use serde_json::json;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Lists, gets, verifies and removes speech models.
#[derive(clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(clap::Subcommand)]
enum What {
    /// List the models there are, and which are here.
    List {
        /// Write one JSON object a line.
        #[arg(long)]
        json: bool,
    },
    /// Get a model: the usual one, a named one, or a file that you have.
    Get {
        /// Its name; without one, the usual model.
        name: Option<String>,
        /// A model file of whisper.cpp's form that you have: verified when its sum is known, else marked unverified.
        #[arg(long, value_name = "FILE", conflicts_with = "name")]
        from: Option<PathBuf>,
    },
    /// Read models through and compare their sums: all that are here, or one.
    Verify {
        /// Its name.
        name: Option<String>,
    },
    /// Remove a model.
    Remove {
        /// Its name.
        name: String,
    },
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let folder = home.models_dir();
    match args.what {
        What::List { json } => list(folder, json),
        What::Get { from: Some(file), .. } => {
            let (model, standing) = models::bring(&file, folder)?;
            eprintln!("{} is here, {}.", model.name, standing.word());
            Ok(ExitCode::SUCCESS)
        }
        What::Get { name, from: None } => {
            let name = name.unwrap_or_else(|| models::default_model().name.to_owned());
            let path =
                models::get(&name, folder, &mut |step: &str| eprintln!("  {step}")).with_context(|| {
                    format!("the model {name} was not got, and nothing half-done was left behind")
                })?;
            eprintln!("{name} is here: {}", path.display());
            Ok(ExitCode::SUCCESS)
        }
        What::Verify { name } => {
            let names = match name {
                Some(name) => vec![name],
                None => models::installed(folder)?.into_iter().map(|model| model.name).collect(),
            };
            let mut whole = true;
            for name in names {
                let standing = models::verify(&name, folder)?;
                whole &= standing != Standing::Damaged;
                println!("{}", json!({"model": name, "standing": standing.word()}));
            }
            Ok(if whole { ExitCode::SUCCESS } else { ExitCode::from(1) })
        }
        What::Remove { name } => {
            let bytes = models::remove(&name, folder)?;
            eprintln!("{name} is gone: {} MB are free again.", bytes / 1_000_000);
            Ok(ExitCode::SUCCESS)
        }
    }
}

fn list(folder: &Path, as_json: bool) -> Result<ExitCode> {
    let here = models::installed(folder)?;
    for model in models::list() {
        let found = here.iter().find(|file| file.name == model.name);
        if as_json {
            println!(
                "{}",
                json!({"model": model.name, "about": model.about, "bytes": model.bytes, "here": found.is_some(), "licence": model.licence})
            );
        } else {
            let usual = if model.name == models::default_model().name { ", the usual one" } else { "" };
            let mark = if found.is_some() { "here" } else { "-" };
            println!(
                "{:<12} {mark:<5} {:>4} MB  {}{usual}",
                model.name,
                model.bytes / 1_000_000,
                model.about
            );
        }
    }
    for own in here.iter().filter(|file| models::find(&file.name).is_err()) {
        if as_json {
            println!(
                "{}",
                json!({"model": own.name, "bytes": own.bytes, "here": true, "sha256": own.sha256})
            );
        } else {
            println!("{:<12} here  {:>4} MB  brought by you", own.name, own.bytes / 1_000_000);
        }
    }
    Ok(ExitCode::SUCCESS)
}

//! `varvel hand-over`: one bird's history in one file, for her next keeper, the vet or the inspector.

use crate::home::Home;
use anyhow::{Result, bail};
use handover::{Options, Originals, hand_over};
use std::path::PathBuf;
use std::process::ExitCode;
use store::Store;

/// Writes one bird's history into one file that any program can read; nothing of other birds is in it.
#[derive(clap::Args)]
pub struct Args {
    /// The bird's name.
    bird: String,
    /// The file to write; else her name and the day.
    #[arg(long, short)]
    output: Option<PathBuf>,
    /// Take sound and photos along, without the places that cameras write into them.
    #[arg(long)]
    originals: bool,
    /// Take sound and photos along byte for byte, with the places in them.
    #[arg(long)]
    places: bool,
    /// Lock the file with a passphrase: VARVEL_PASSPHRASE, or asked for.
    #[arg(long)]
    locked: bool,
    /// Whose record it is.
    #[arg(long, env = "VARVEL_KEEPER")]
    keeper: Option<String>,
    /// Write what was done as one JSON object.
    #[arg(long)]
    json: bool,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let Some(bird) = store.bird_named(&args.bird)? else {
        bail!("There is no bird called {} in this record.", args.bird);
    };
    let originals = match (args.originals, args.places) {
        (_, true) => Originals::AsTheyAre,
        (true, false) => Originals::WithoutPlace,
        (false, false) => Originals::None,
    };
    let passphrase = if args.locked { Some(super::backup::passphrase()?) } else { None };
    let file = args.output.unwrap_or_else(|| {
        let name: String =
            bird.details.name.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
        let end = if args.locked { "zip.age" } else { "zip" };
        PathBuf::from(format!("{name}-{}.{end}", chrono::Local::now().format("%Y-%m-%d")))
    });
    let options = Options { keeper: super::who(&store, args.keeper)?.keeper, originals, passphrase };
    let given = hand_over(&store, &bird.id, &file, &options)?;
    if args.json {
        println!("{}", serde_json::to_string(&given)?);
    }
    eprintln!(
        "{} holds {} confirmed entries and {} originals of {}.",
        given.file.display(),
        given.entries,
        given.originals,
        bird.details.name
    );
    for sentence in &given.left_out {
        eprintln!("{sentence}");
    }
    if let Some(head) = &given.head {
        eprintln!("Write this on the paper that goes with her; it proves the file later: {head}");
    }
    Ok(ExitCode::SUCCESS)
}

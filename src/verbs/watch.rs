//! `varvel watch`: takes in what a phone's sync drops into a folder.

use anyhow::{Result, bail};
use capture::watch::{LOOK_EVERY, Settings, Tracker, list};
use serde_json::json;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Takes in recordings and photos as they arrive in a folder, each once, when it has stopped growing.
///
/// The files stay where they are; nothing is written into the folder. End with Ctrl-C.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The folder that the phone's recordings and photos arrive in, with the folders inside it.
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Take in what is there and has stopped growing, then end.
    #[arg(long)]
    once: bool,
    /// Print a JSON object for each file on standard output.
    #[arg(long)]
    json: bool,
}

/// A file in the record.
pub struct Taken {
    /// What the record calls it.
    pub id: String,
    /// What it was taken as: `note` or `photo`.
    pub kind: &'static str,
    /// Whether the record had its content already, under any name.
    pub known: bool,
}

/// Runs the verb: `take` takes one file into the record.
pub fn run(args: Args, mut take: impl FnMut(&Path) -> Result<Taken>) -> Result<ExitCode> {
    if !args.folder.is_dir() {
        bail!("{} is not a folder that can be read. Nothing was taken in", args.folder.display());
    }
    let stop = Arc::new(AtomicBool::new(false));
    let stopper = stop.clone();
    ctrlc::set_handler(move || stopper.store(true, Ordering::Relaxed))?;
    eprintln!("Watching {}. End with Ctrl-C.", args.folder.display());
    let settings = Settings::default();
    let mut tracker = Tracker::new(settings);
    let began = Instant::now();
    let (mut all_well, mut folder_there) = (true, true);
    while !stop.load(Ordering::Relaxed) {
        match list(&args.folder) {
            Ok(seen) => {
                if !folder_there {
                    eprintln!("{} is there again.", args.folder.display());
                }
                folder_there = true;
                for path in tracker.look(began.elapsed(), &seen) {
                    match take(&path) {
                        Ok(taken) => {
                            tracker.taken(&path);
                            tell_taken(&path, &taken, args.json);
                        }
                        Err(why) => {
                            let again = tracker.failed(began.elapsed(), &path);
                            all_well &= again;
                            tell_failed(&path, &format!("{why:#}"), again, args.json);
                        }
                    }
                    if stop.load(Ordering::Relaxed) {
                        break;
                    }
                }
            }
            // A stick pulled out or a share out of reach: it may come back. Said once.
            Err(why) if folder_there => {
                folder_there = false;
                eprintln!(
                    "{} cannot be read now: {why}. Waiting for it to come back.",
                    args.folder.display()
                );
            }
            Err(_) => {}
        }
        // Long enough for every file that lies still to have been offered.
        if args.once && began.elapsed() > settings.still_for + 2 * LOOK_EVERY {
            break;
        }
        rest(LOOK_EVERY, &stop);
    }
    Ok(if all_well { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

fn rest(time: Duration, stop: &AtomicBool) {
    let until = Instant::now() + time;
    while Instant::now() < until && !stop.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(100));
    }
}

fn tell_taken(path: &Path, taken: &Taken, as_json: bool) {
    if as_json {
        let status = if taken.known { "known" } else { "new" };
        print(&json!({"file": path, "as": taken.kind, "id": taken.id, "status": status}));
    } else if !taken.known {
        eprintln!("Taken in as a {}: {}", taken.kind, path.display());
    }
}

fn tell_failed(path: &Path, why: &str, again: bool, as_json: bool) {
    let next = if again { "It is tried again" } else { "It is left alone until it changes" };
    eprintln!("{} could not be taken in: {why}. {next}.", path.display());
    if as_json && !again {
        print(&json!({"file": path, "error": why}));
    }
}

fn print(object: &serde_json::Value) {
    let mut out = std::io::stdout().lock();
    // A reader that went away must not end the watch.
    let _ = writeln!(out, "{object}").and_then(|()| out.flush());
}

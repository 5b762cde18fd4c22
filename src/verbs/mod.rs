//! One file for each verb of the command line.

use anyhow::Result;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use store::{Store, Who};

pub mod advise;
pub mod backup;
pub mod bring_in;
pub mod confirm;
pub mod demo;
pub mod export;
pub mod extract;
pub mod hand_over;
pub mod hear;
pub mod listen;
pub mod models;
pub mod read_scale;
pub mod report;
pub mod restore;
pub mod serve;
pub mod take_in;
pub mod transcribe;
pub mod verify;
pub mod watch;

/// Who does something at the desk: as said, else the record's first keeper, else the name of the login.
pub fn who(store: &Store, said: Option<String>) -> Result<Who> {
    let keeper = match said {
        Some(name) if !name.trim().is_empty() => name.trim().to_owned(),
        _ => match store.keepers()?.into_iter().next() {
            Some(name) => name,
            None => {
                std::env::var("USER").ok().filter(|name| !name.is_empty()).unwrap_or_else(|| "keeper".into())
            }
        },
    };
    Ok(Who::new(keeper, "desk"))
}

/// Does one thing to each file; a file that fails is told of, by JSON too if asked, and the others go on.
pub fn each(files: &[PathBuf], json: bool, mut doing: impl FnMut(&Path) -> Result<()>) -> Result<ExitCode> {
    let mut code = ExitCode::SUCCESS;
    for file in files {
        if let Err(error) = doing(file) {
            code = ExitCode::from(1);
            if json {
                println!("{}", serde_json::json!({"file": file, "error": format!("{error:#}")}));
            }
            eprintln!("{}: {error:#}", file.display());
        }
    }
    Ok(code)
}

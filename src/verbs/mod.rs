//! One file for each verb of the command line.

use anyhow::Result;
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

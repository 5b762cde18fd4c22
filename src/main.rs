//! The command line: glue only. One file per verb in `verbs`; the order below is the order of a note's life.

mod desk;
mod hearing;
mod home;
mod paper;
mod verbs;
mod workshop;

use clap::{Parser, Subcommand};
use desk::AtDesk;
use home::Home;
use std::process::ExitCode;

/// Say it, photograph the scale, and forget it: a falconer's record that decides tomorrow.
///
/// Varvel advises; the keeper decides. It is no vet, and local law and licence come first.
#[derive(Parser)]
#[command(name = "varvel", version, max_term_width = 100)]
struct Line {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    Models(verbs::models::Args),
    Demo(verbs::demo::Args),
    Serve(verbs::serve::Args),
    Listen(verbs::listen::Args),
    Watch(verbs::watch::Args),
    TakeIn(verbs::take_in::Args),
    Confirm(verbs::confirm::Args),
    Advise(verbs::advise::Args),
    Report(verbs::report::Args),
    Export(verbs::export::Args),
    HandOver(verbs::hand_over::Args),
    BringIn(verbs::bring_in::Args),
    Backup(verbs::backup::Args),
    Restore(verbs::restore::Args),
    Verify(verbs::verify::Args),
    Transcribe(verbs::transcribe::Args),
    Hear(verbs::hear::Args),
    Extract(verbs::extract::Args),
    ReadScale(verbs::read_scale::Args),
}

fn main() -> ExitCode {
    // Ends with status 2 and a hint on wrong use.
    let line = Line::parse();
    match run(line.verb) {
        Ok(code) => code,
        Err(error) => {
            eprintln!("{error:#}");
            ExitCode::from(1)
        }
    }
}

fn run(verb: Verb) -> anyhow::Result<ExitCode> {
    // Looked for by each verb that needs it: reading a photo needs no record.
    let home = Home::find;
    match verb {
        Verb::Models(args) => verbs::models::run(args, &home()?),
        Verb::Demo(args) => verbs::demo::run(args, &home()?),
        Verb::Serve(args) => verbs::serve::run(args, &home()?),
        Verb::Listen(args) => {
            let mut desk = AtDesk::sit_down(home()?)?;
            let spool = desk.spool();
            verbs::listen::run(args, &spool, &mut desk)
        }
        Verb::Watch(args) => {
            let desk = AtDesk::sit_down(home()?)?;
            verbs::watch::run(args, |file| desk.take(file))
        }
        Verb::TakeIn(args) => verbs::take_in::run(args, &home()?),
        Verb::Confirm(args) => verbs::confirm::run(args, &home()?),
        Verb::Advise(args) => verbs::advise::run(args, &home()?),
        Verb::Report(args) => verbs::report::run(args, &home()?),
        Verb::Export(args) => verbs::export::run(args, &home()?),
        Verb::HandOver(args) => verbs::hand_over::run(args, &home()?),
        Verb::BringIn(args) => verbs::bring_in::run(args, &home()?),
        Verb::Backup(args) => verbs::backup::run(args, &home()?),
        Verb::Restore(args) => verbs::restore::run(args, &home()?),
        Verb::Verify(args) => verbs::verify::run(args, &home()?),
        Verb::Transcribe(args) => verbs::transcribe::run(args, &home()?),
        Verb::Hear(args) => verbs::hear::run(args, &home()?),
        Verb::Extract(args) => verbs::extract::run(args, &home()?),
        Verb::ReadScale(args) => verbs::read_scale::run(args),
    }
}

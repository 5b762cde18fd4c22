//! `varvel report`: the confirmed record on paper.

use crate::home::Home;
use crate::paper;
use crate::workshop::now;
use anyhow::{Context as _, Result, bail};
use chrono::{Days, NaiveDate};
use report::Occasion;
use std::path::PathBuf;
use std::process::ExitCode;
use store::Store;

/// Writes the confirmed record as PDF, or as a page for print.
#[derive(clap::Args)]
pub struct Args {
    /// Which: `day-book` (all that was noted), `vet` (one bird on one page), `inspector` (identity, papers, kit, events).
    #[arg(value_enum)]
    what: What,
    /// For this bird only; the vet's sheet needs one.
    bird: Option<String>,
    /// First day, such as 2026-03-01; 28 days ago when left out.
    #[arg(long, value_name = "DAY")]
    from: Option<NaiveDate>,
    /// Last day; today when left out.
    #[arg(long, value_name = "DAY")]
    to: Option<NaiveDate>,
    /// The file to write; a name ending in .html gives a page instead of a PDF.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Whose record it is.
    #[arg(long, env = "VARVEL_KEEPER")]
    keeper: Option<String>,
    /// Address or telephone, to stand beside the name.
    #[arg(long)]
    contact: Option<String>,
    /// What you would ask the vet.
    #[arg(long)]
    question: Option<String>,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum What {
    DayBook,
    Vet,
    Inspector,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let made_at = now();
    let to = args.to.unwrap_or_else(|| made_at.date_naive());
    let from = args.from.or_else(|| to.checked_sub_days(Days::new(28))).unwrap_or(to);
    if from > to {
        bail!("The first day, {from}, comes after the last, {to}. Nothing was written.");
    }
    let keeper = super::who(&store, args.keeper)?.keeper;
    let occasion = Occasion { keeper, contact: args.contact, made_at, from, to };
    let birds = match &args.bird {
        Some(name) => vec![
            store
                .bird_named(name)?
                .with_context(|| format!("There is no bird called {name} in this record."))?,
        ],
        None => store.all_birds()?,
    };
    let html = args.out.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("html"));
    let what = match args.what {
        What::DayBook => page::Report::DayBook,
        What::Vet => page::Report::Vet,
        What::Inspector => page::Report::Inspector,
    };
    let bytes = paper::print(&store, what, &birds, occasion, args.question, html)?;
    std::fs::write(&args.out, bytes).with_context(|| format!("{} cannot be written", args.out.display()))?;
    eprintln!("{} is written.", args.out.display());
    Ok(ExitCode::SUCCESS)
}

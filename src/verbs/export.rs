//! `varvel export`: the confirmed record as tables and lines for other programs.

use crate::home::Home;
use anyhow::{Context, Result, bail};
use chrono::{Local, NaiveDate, NaiveTime, TimeZone};
use handover::{calendar, days_csv, entries_csv, entries_json, reminders};
use note::BirdId;
use std::path::PathBuf;
use std::process::ExitCode;
use store::{Span, Store};

/// What to write.
#[derive(Clone, Copy, clap::ValueEnum)]
enum Form {
    /// Confirmed entries as a CSV table.
    Csv,
    /// Confirmed entries as JSON lines.
    Json,
    /// One bird's days as a CSV table.
    Days,
    /// Reminders to weigh and to check the scale, for a calendar.
    Calendar,
}

/// Writes the confirmed record for other programs, on standard output or into a file.
#[derive(clap::Args)]
pub struct Args {
    /// The form.
    #[arg(value_enum)]
    form: Form,
    /// The bird's name; without it, all birds.
    #[arg(long)]
    bird: Option<String>,
    /// From this day on, YYYY-MM-DD.
    #[arg(long)]
    from: Option<NaiveDate>,
    /// Up to and with this day, YYYY-MM-DD.
    #[arg(long)]
    to: Option<NaiveDate>,
    /// The file to write.
    #[arg(long, short)]
    output: Option<PathBuf>,
    /// Whose record it is.
    #[arg(long, env = "VARVEL_KEEPER")]
    keeper: Option<String>,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let keeper = super::who(&store, args.keeper)?.keeper;
    let birds: Vec<BirdId> = match &args.bird {
        None => store.all_birds()?.into_iter().map(|bird| bird.id).collect(),
        Some(name) => match store.bird_named(name)? {
            Some(bird) => vec![bird.id],
            None => bail!("There is no bird called {name} in this record."),
        },
    };
    let midnight = |day: NaiveDate| {
        Local
            .from_local_datetime(&day.and_time(NaiveTime::MIN))
            .earliest()
            .map(|at| at.fixed_offset())
            .with_context(|| format!("{day} has no beginning here."))
    };
    let span = Span {
        from: args.from.map(midnight).transpose()?,
        to: args.to.and_then(|day| day.succ_opt()).map(midnight).transpose()?,
    };
    let text = match args.form {
        Form::Csv => entries_csv(&store, &birds, span, &keeper)?,
        Form::Json => entries_json(&store, &birds, span, &keeper)?,
        Form::Days => match birds.as_slice() {
            [one] => days_csv(&store, one, span)?,
            _ => bail!("Days are written for one bird: tell which with --bird."),
        },
        Form::Calendar => {
            let now = Local::now().fixed_offset();
            calendar(&reminders(&store, now)?, now)
        }
    };
    match &args.output {
        None => print!("{text}"),
        Some(file) => {
            std::fs::write(file, text).with_context(|| format!("{} cannot be written.", file.display()))?;
            eprintln!("Written: {}.", file.display());
        }
    }
    Ok(ExitCode::SUCCESS)
}

//! `varvel confirm`: the keeper's word on what waits, for who has no browser.

use crate::home::Home;
use anyhow::{Result, bail};
use note::{Entry, EntryId, Units, Value};
use page::{fields, say};
use serde_json::json;
use std::io::{BufRead, Write};
use std::process::ExitCode;
use store::{Card, Decision, Store, Waiting, Who};

/// Goes through what waits, one entry at a time; or lists, confirms and rejects by id.
#[derive(clap::Args)]
pub struct Args {
    /// Write what waits, one JSON object an entry, and ask nothing.
    #[arg(long)]
    json: bool,
    /// Confirm these entries as they stand.
    #[arg(long, value_name = "ID", num_args = 1..)]
    accept: Vec<String>,
    /// Reject these entries.
    #[arg(long, value_name = "ID", num_args = 1..)]
    reject: Vec<String>,
    /// Take back the last decision.
    #[arg(long, conflicts_with_all = ["accept", "reject"])]
    undo: bool,
    /// Who decides.
    #[arg(long, env = "VARVEL_KEEPER")]
    keeper: Option<String>,
}

/// Cards looked up at once.
const CARDS: u64 = 500;

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    let who = super::who(&store, args.keeper)?;
    let units = store.setting("units")?.and_then(|u| serde_json::from_value(u).ok()).unwrap_or_default();
    if args.undo {
        let ids = store.undo_last(&who)?;
        eprintln!("Taken back: {} wait again.", entries(ids.len()));
        return Ok(ExitCode::SUCCESS);
    }
    if !args.accept.is_empty() || !args.reject.is_empty() {
        let accepted = args.accept.iter().map(|id| Decision::accept(&EntryId::new(id)));
        let rejected = args.reject.iter().map(|id| Decision::reject(&EntryId::new(id), ""));
        let decisions: Vec<Decision> = accepted.chain(rejected).collect();
        for id in &args.accept {
            must_have_bird(&store.record(&EntryId::new(id))?.entry)?;
        }
        store.decide(&decisions, &who)?;
        eprintln!("Decided: {}. Take it back with `varvel confirm --undo`.", entries(decisions.len()));
        return Ok(ExitCode::SUCCESS);
    }
    let cards = store.waiting(0, CARDS)?;
    if args.json {
        for waiting in cards.iter().flat_map(|card| &card.waiting) {
            println!("{}", json!({"entry": waiting.proposed.id, "proposed": waiting.proposed.entry}));
        }
        return Ok(ExitCode::SUCCESS);
    }
    let mut talk = Talk { store: &store, who, units, input: std::io::stdin().lock() };
    talk.through(cards)?;
    Ok(ExitCode::SUCCESS)
}

fn entries(number: usize) -> String {
    if number == 1 { "1 entry".into() } else { format!("{number} entries") }
}

fn must_have_bird(entry: &Entry) -> Result<()> {
    if entry.bird.is_none() && !matches!(entry.value, Value::Weather(_)) {
        bail!(
            "Nothing was decided: it is not told whose “{}” is. Change it first, with `varvel confirm`.",
            entry.quote
        );
    }
    Ok(())
}

enum Next {
    On,
    End,
}

/// The questions and answers of one sitting.
struct Talk<'a, R> {
    store: &'a Store,
    who: Who,
    units: Units,
    input: R,
}

impl<R: BufRead> Talk<'_, R> {
    fn through(&mut self, cards: Vec<Card>) -> Result<()> {
        let number: usize = cards.iter().map(|card| card.waiting.len()).sum();
        if number == 0 {
            eprintln!("Nothing waits for your word.");
            return Ok(());
        }
        eprintln!("{} waiting. Only what you confirm counts.", entries(number));
        for card in cards {
            if let Some(note) = &card.note {
                let text = note.text.clone().unwrap_or_default();
                eprintln!(
                    "\n{} {}, {}: “{text}”",
                    say::date(note.at.date_naive()),
                    say::clock(note.at),
                    note.keeper
                );
            }
            for waiting in &card.waiting {
                if matches!(self.one(waiting)?, Next::End) {
                    return Ok(());
                }
            }
        }
        eprintln!("\nThat was all.");
        Ok(())
    }

    fn one(&mut self, waiting: &Waiting) -> Result<Next> {
        let entry = &waiting.proposed.entry;
        eprintln!("\n  {}", say::entry(entry, self.units));
        eprintln!("    from “{}”, {}", entry.quote, say::sureness(entry.confidence));
        for flag in &entry.flags {
            eprintln!("    look twice: {flag}");
        }
        if let Some(pairing) = &waiting.pairing {
            let shown = pairing
                .photo
                .reading
                .as_ref()
                .and_then(|r| r.reading.clone())
                .unwrap_or_else(|| "nothing readable".into());
            let path = self.store.evidence_path(&pairing.photo.evidence)?;
            eprintln!("    the scale's photo shows {shown}: {}", path.display());
        }
        loop {
            let Some(answer) = self.ask("  [c]onfirm  [r]eject  c[h]ange  [s]kip  [u]ndo  [q]uit > ")? else {
                return Ok(Next::End);
            };
            let id = &waiting.proposed.id;
            let decision = match answer.to_lowercase().as_str() {
                "c" | "confirm" => match must_have_bird(entry) {
                    Ok(()) => Decision::accept(id),
                    Err(why) => {
                        eprintln!("    {why}");
                        continue;
                    }
                },
                "r" | "reject" => Decision::reject(id, ""),
                "h" | "change" => match self.change(entry)? {
                    Some(now) => Decision::correct(id, now),
                    None => continue,
                },
                "s" | "skip" => return Ok(Next::On),
                "q" | "quit" => return Ok(Next::End),
                "u" | "undo" => {
                    match self.store.undo_last(&self.who) {
                        Ok(ids) => eprintln!(
                            "    Taken back: {} wait again, and come up next time.",
                            entries(ids.len())
                        ),
                        Err(error) => eprintln!("    {error}"),
                    }
                    continue;
                }
                _ => continue,
            };
            match self.store.decide(&[decision], &self.who) {
                Ok(_) => return Ok(Next::On),
                Err(error) => eprintln!("    {error}"),
            }
        }
    }

    /// Asks for each field; an empty line leaves it as it is.
    fn change(&mut self, entry: &Entry) -> Result<Option<Entry>> {
        let birds: Vec<String> = self.store.birds()?.into_iter().map(|bird| bird.details.name).collect();
        let mut typed = fields::Typed::new();
        for line in fields::lines(entry, self.units) {
            let Some(answer) = self.ask(&format!("    {} [{}] > ", line.label, line.now))? else {
                return Ok(None);
            };
            let kept = if answer.is_empty() {
                line.now
            } else if answer == "-" {
                String::new()
            } else {
                answer
            };
            typed.insert(line.name.into(), kept);
        }
        match fields::read(entry, &typed, &birds, self.units) {
            Ok(now) => Ok(Some(now)),
            Err(why) => {
                eprintln!("    {why}");
                Ok(None)
            }
        }
    }

    fn ask(&mut self, question: &str) -> Result<Option<String>> {
        eprint!("{question}");
        std::io::stderr().flush()?;
        let mut line = String::new();
        Ok((self.input.read_line(&mut line)? > 0).then(|| line.trim().to_owned()))
    }
}

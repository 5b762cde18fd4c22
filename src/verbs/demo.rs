//! `varvel demo`: loads a made-up keeper's four weeks, laid up to today.

use crate::home::Home;
use crate::workshop::{HEAR, READ_SCALE, Workshop};
use anyhow::{Context as _, Result};
use chrono::{DateTime, Days, FixedOffset, Local, NaiveTime, TimeZone as _};
use note::{BirdId, Entry, NoteId, TakenSource, Value};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use store::{
    About, BirdDetails, BirdEventKind, Decision, Furniture, NewNote, NewPhoto, Source, Store, Waiting, Who,
};

/// Loads the demo into an empty data folder; where it is loaded already, nothing changes.
#[derive(clap::Args)]
pub struct Args {
    /// The folder with the demo's files.
    #[arg(long, default_value = "samples")]
    from: PathBuf,
    /// Leave the recordings unheard: the page hears them in its own time.
    #[arg(long)]
    quick: bool,
}

#[derive(Deserialize)]
struct Story {
    keeper: String,
    units: note::Units,
    birds: Vec<StoryBird>,
    days: Vec<StoryDay>,
    notes: Vec<StoryNote>,
    photos: Vec<StoryPhoto>,
}

#[derive(Deserialize)]
struct StoryBird {
    name: String,
    #[serde(default)]
    aliases: Vec<String>,
    species: Option<String>,
    sex: Option<String>,
    hatched_days_ago: Option<u64>,
    units: note::Units,
    floor_g: Option<f64>,
    target_g: Option<f64>,
    fed_up_g: Option<f64>,
    furniture_g: Option<f64>,
    #[serde(default)]
    identity: Identity,
}

#[derive(Default, Deserialize)]
struct Identity {
    ring: Option<String>,
    origin: Option<String>,
    acquired_days_ago: Option<i64>,
}

#[derive(Deserialize)]
struct StoryDay {
    day: i64,
    bird: Option<String>,
    entries: Vec<StoryEntry>,
}

#[derive(Deserialize)]
struct StoryEntry {
    clock: String,
    #[serde(flatten)]
    value: Value,
    #[serde(default)]
    note: Option<String>,
}

#[derive(Deserialize)]
struct StoryNote {
    id: String,
    file: PathBuf,
    day: i64,
    clock: String,
    state: String,
    current_bird: Option<String>,
}

#[derive(Deserialize)]
struct StoryPhoto {
    file: PathBuf,
    day: i64,
    clock: String,
    bird: Option<String>,
}

/// Runs the verb.
pub fn run(args: Args, home: &Home) -> Result<ExitCode> {
    let store = Store::open(home.path())?;
    if !store.all_birds()?.is_empty() {
        eprintln!("There are birds in {} already; nothing was loaded.", home.path().display());
        return Ok(ExitCode::SUCCESS);
    }
    let file = args.from.join("demo.json");
    let text = std::fs::read_to_string(&file).with_context(|| {
        format!("{} cannot be read: run this in Varvel's own folder, or say --from", file.display())
    })?;
    let story: Story =
        serde_json::from_str(&text).with_context(|| format!("{} is no demo", file.display()))?;
    Teller::new(store, home, story, args.from)?.tell(args.quick)?;
    eprintln!("The demo is loaded into {}.", home.path().display());
    Ok(ExitCode::SUCCESS)
}

struct Teller {
    workshop: Arc<Workshop>,
    story: Story,
    folder: PathBuf,
    who: Who,
    birds: BTreeMap<String, BirdId>,
}

impl Teller {
    fn new(store: Store, home: &Home, story: Story, folder: PathBuf) -> Result<Self> {
        let who = Who::new(story.keeper.clone(), "desk");
        Ok(Self { workshop: Workshop::new(store, home.clone()), story, folder, who, birds: BTreeMap::new() })
    }

    fn store(&self) -> &Store {
        self.workshop.store()
    }

    fn tell(mut self, quick: bool) -> Result<()> {
        self.store().add_keeper(&self.who.keeper, &self.who)?;
        self.store().set_setting("units", &serde_json::to_value(self.story.units)?, &self.who)?;
        for bird in std::mem::take(&mut self.story.birds) {
            self.add(bird)?;
        }
        let told = self.enter_days()?;
        let notes = self.add_notes()?;
        self.add_photos()?;
        if quick {
            return Ok(());
        }
        eprintln!("Hearing {} spoken notes and reading {} photos…", notes.len(), self.story.photos.len());
        self.workshop.work_off()?;
        for (name, confirmed, id) in &notes {
            if *confirmed {
                self.confirm(id, told.get(name.as_str()).map_or(&[], Vec::as_slice))?;
            }
        }
        Ok(())
    }

    fn add(&mut self, bird: StoryBird) -> Result<()> {
        let date =
            |days: u64| Local::now().date_naive().checked_sub_days(Days::new(days)).map(|d| d.to_string());
        let details = BirdDetails {
            name: bird.name.clone(),
            aliases: bird.aliases,
            species: bird.species,
            sex: bird.sex,
            hatched: bird.hatched_days_ago.and_then(date),
            ring: bird.identity.ring,
            origin: bird.identity.origin,
            floor_g: bird.floor_g,
            target_g: bird.target_g,
            fed_up_g: bird.fed_up_g,
            units: bird.units,
            furniture: bird
                .furniture_g
                .map(|grams| Furniture { item: "jesses, anklets and bell".into(), grams, worn: true })
                .into_iter()
                .collect(),
            ..BirdDetails::default()
        };
        let id = self.store().add_bird(details, &self.who)?;
        if let Some(days) = bird.identity.acquired_days_ago {
            self.store().add_bird_event(
                &id,
                BirdEventKind::Acquired,
                moment(-days, "12:00")?,
                "from the breeder",
                &self.who,
            )?;
        }
        self.birds.insert(bird.name, id);
        Ok(())
    }

    /// Enters what was confirmed without a recording, and returns by note what was confirmed with one.
    fn enter_days(&mut self) -> Result<BTreeMap<String, Vec<Entry>>> {
        let mut by_note: BTreeMap<String, Vec<Entry>> = BTreeMap::new();
        let mut typed = Vec::new();
        for day in std::mem::take(&mut self.story.days) {
            for told in day.entries {
                let note = told.note.clone();
                let at = moment(day.day, &told.clock)?;
                let entry = Entry {
                    value: told.value,
                    bird: day.bird.clone(),
                    at,
                    quote: String::new(),
                    span: [0, 0],
                    confidence: 1.0,
                    flags: Vec::new(),
                };
                match note {
                    Some(note) => by_note.entry(note).or_default().push(entry),
                    None => typed.push(entry),
                }
            }
        }
        self.store().enter_all(typed, &self.who)?;
        Ok(by_note)
    }

    fn add_notes(&self) -> Result<Vec<(String, bool, NoteId)>> {
        let mut out = Vec::new();
        for note in &self.story.notes {
            let kept =
                self.store().put_file(&self.folder.join(&note.file), &About::sound(name_of(&note.file)))?;
            let new = NewNote {
                source: Source::Sound(kept.sha256),
                at: moment(note.day, &note.clock)?,
                taken: Some(TakenSource::FileName),
                bird: note.current_bird.as_ref().and_then(|name| self.birds.get(name)).cloned(),
            };
            let id = self.store().add_note(new, &self.who)?.id().clone();
            self.store().add_job(HEAR, id.as_str())?;
            out.push((note.id.clone(), note.state == "confirmed", id));
        }
        Ok(out)
    }

    fn add_photos(&self) -> Result<()> {
        for photo in &self.story.photos {
            let kept =
                self.store().put_file(&self.folder.join(&photo.file), &About::photo(name_of(&photo.file)))?;
            let new = NewPhoto {
                evidence: kept.sha256,
                at: moment(photo.day, &photo.clock)?,
                taken: TakenSource::ExifOffset,
                orientation: 1,
                place: None,
                bird: photo.bird.as_ref().and_then(|name| self.birds.get(name)).cloned(),
            };
            let id = self.store().add_photo(new, &self.who)?.id().clone();
            self.store().add_job(READ_SCALE, id.as_str())?;
        }
        Ok(())
    }

    /// Decides on a note's proposals as its keeper did: what was said stands, a mis-heard value is put right.
    fn confirm(&self, id: &NoteId, said: &[Entry]) -> Result<()> {
        let mut waiting = self.store().card(id)?.waiting;
        let (mut decisions, mut missed) = (Vec::new(), Vec::new());
        for entry in said {
            let alike = |w: &Waiting| {
                w.proposed.entry.bird == entry.bird && about(&w.proposed.entry.value) == about(&entry.value)
            };
            let equal = waiting.iter().position(|w| alike(w) && w.proposed.entry.value == entry.value);
            match equal.or_else(|| waiting.iter().position(alike)) {
                Some(place) => {
                    let read = waiting.remove(place).proposed;
                    decisions.push(if read.entry.value == entry.value {
                        Decision::accept(&read.id)
                    } else {
                        Decision::correct(&read.id, Entry { value: entry.value.clone(), ..read.entry })
                    });
                }
                None => missed.push(entry.clone()),
            }
        }
        decisions.extend(waiting.iter().map(|w| Decision::reject(&w.proposed.id, "not said")));
        if !decisions.is_empty() {
            self.store().decide(&decisions, &self.who)?;
        }
        if !missed.is_empty() {
            self.store().enter_all(missed, &self.who)?;
        }
        Ok(())
    }
}

fn name_of(file: &Path) -> String {
    file.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// What an entry is about, apart from its figures.
fn about(value: &Value) -> (note::Kind, String) {
    let what = match value {
        Value::Food(food) => food.item.clone(),
        Value::Behaviour(behaviour) => behaviour.word.clone(),
        Value::Condition(condition) => condition.sign.to_string(),
        Value::Quarry(quarry) => quarry.species.clone(),
        Value::Equipment(equipment) => equipment.item.clone(),
        Value::Training(training) => training.step.to_string(),
        _ => String::new(),
    };
    (value.kind(), what)
}

/// The moment `day` days from today at a clock time of this machine's zone.
fn moment(day: i64, clock: &str) -> Result<DateTime<FixedOffset>> {
    let time = NaiveTime::parse_from_str(clock, "%H:%M:%S")
        .or_else(|_| NaiveTime::parse_from_str(clock, "%H:%M"))?;
    let today = Local::now().date_naive();
    let date = if day < 0 {
        today.checked_sub_days(Days::new(day.unsigned_abs()))
    } else {
        today.checked_add_days(Days::new(day.unsigned_abs()))
    };
    let date = date.with_context(|| format!("{day} days from today is no date"))?;
    // A clock time that the change to summer time skips is taken an hour later.
    let local = Local.from_local_datetime(&date.and_time(time)).earliest();
    let local = local.or_else(|| {
        Local.from_local_datetime(&(date.and_time(time) + chrono::Duration::hours(1))).earliest()
    });
    Ok(local.with_context(|| format!("{date} {clock} does not exist here"))?.fixed_offset())
}

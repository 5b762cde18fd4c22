//! Bytes to words and entries: what the workshop and the single verbs share.

use crate::home::Home;
use anyhow::{Context as _, Result, anyhow};
use capture::{photo, sound};
use chrono::{DateTime, FixedOffset, Local, NaiveDateTime, TimeZone as _};
use extract::{Context, Lexicon};
use note::{Flag, Kind, TakenSource, Transcript};
use speech::{Ear, Options, Prompt};
use std::path::Path;
use store::{Place, Store};

/// What a file tells of itself.
pub enum Told {
    /// A recording.
    Sound {
        /// When it was made.
        at: DateTime<FixedOffset>,
        /// How that is known.
        source: TakenSource,
        /// By content.
        media_type: String,
    },
    /// A photo.
    Photo {
        /// When it was taken.
        at: DateTime<FixedOffset>,
        /// How that is known.
        source: TakenSource,
        /// By content.
        media_type: String,
        /// EXIF orientation, 1 to 8.
        orientation: u8,
        /// Where, if the camera wrote it.
        place: Option<Place>,
    },
}

/// Reads what a file tells of itself: whether it is sound or a photo, and when it was made; `made` if it says nothing.
pub fn told(bytes: &[u8], name: &str, made: DateTime<FixedOffset>) -> Result<Told> {
    match photo::read_facts(bytes, &photo::Limits::default()) {
        Ok(facts) => return Ok(told_by(&facts, made)),
        Err(photo::PhotoError::NotAPicture) => {}
        Err(error) => return Err(error.into()),
    }
    let (recorded, media_type) = match sound::read_bytes(bytes, name) {
        Ok(sound) => (sound.recorded, media_type(&sound.container, &sound.codec)),
        Err(
            error @ (sound::SoundError::NotSound
            | sound::SoundError::Empty
            | sound::SoundError::TooLarge { .. }),
        ) => {
            return Err(error.into());
        }
        // It is a recording, and kept; why it cannot be heard is said when it is its turn.
        Err(_) => (None, "application/octet-stream".to_owned()),
    };
    let (at, source) = recorded.map_or((made, TakenSource::File), |taken| (taken.at, taken.source));
    Ok(Told::Sound { at, source, media_type })
}

fn media_type(container: &str, codec: &str) -> String {
    let container = match container {
        "wave" => "wav",
        "isomp4" => "mp4",
        "matroska" => "webm",
        "mp3" | "mpa" => "mpeg",
        other => other,
    };
    let known = matches!(container, "wav" | "mp4" | "webm" | "mpeg" | "ogg" | "flac" | "aac" | "adts");
    if known { format!("audio/{container}") } else { format!("audio/{codec}") }
}

/// The time of a file's last change.
pub fn file_time(file: &Path) -> Result<DateTime<FixedOffset>> {
    let changed = std::fs::metadata(file).and_then(|data| data.modified());
    let changed = changed.with_context(|| format!("{} cannot be read", file.display()))?;
    Ok(DateTime::<Local>::from(changed).fixed_offset())
}

/// The words that carry meaning: the program's, the keeper's file `words.toml`, and what was learned.
pub fn lexicon(store: &Store, home: &Home) -> Result<Lexicon> {
    let mut lexicon = keepers_file(home)?;
    for word in store.learned_words()? {
        // A meaning that the program no longer knows is no reason not to read the note.
        let _ = lexicon.learn(&word.heard, &word.meaning);
    }
    Ok(lexicon)
}

/// The same for a verb that works without the record: learned words count where there is a record to ask.
pub fn lexicon_at(home: &Home) -> Result<Lexicon> {
    if home.has_record() { lexicon(&Store::open(home.path())?, home) } else { keepers_file(home) }
}

/// The program's words with the keeper's file `words.toml` on top, where there is one.
fn keepers_file(home: &Home) -> Result<Lexicon> {
    let file = home.path().join("words.toml");
    match std::fs::read_to_string(&file) {
        Ok(text) => Lexicon::built_in()
            .with_keeper_toml(&text)
            .with_context(|| format!("{} cannot be used", file.display())),
        Err(_) => Ok(Lexicon::built_in().clone()),
    }
}

/// A loaded speech model.
pub struct Hearing {
    ear: Ear,
    /// Whether the model was taught the trade, and needs only the birds' names beforehand.
    taught: bool,
}

impl Hearing {
    /// Loads the keeper's model: `VARVEL_MODEL`, else the usual one, else any that is there.
    pub fn load(home: &Home) -> Result<Self> {
        let folder = home.models_dir();
        let wanted = std::env::var("VARVEL_MODEL").ok().filter(|name| !name.is_empty());
        let name = wanted.as_deref().unwrap_or(models::default_model().name);
        let found = match models::locate(name, folder)? {
            Some(found) => Some(found),
            None if wanted.is_none() => models::installed(folder)?.into_iter().next(),
            None => None,
        };
        let found = found.ok_or_else(|| {
            anyhow!("the speech model {name} is not here: get it with `varvel models get {name}`; the recording is kept")
        })?;
        let taught = models::find(&found.name).is_ok_and(|model| model.taught);
        let mut options = Options {
            model: found.name,
            model_sha256: found.sha256,
            knows_silence: taught,
            ..Options::default()
        };
        // A machine with other work to do hears faster on one thread: the engine's threads wait for each other awake.
        if let Some(threads) = std::env::var("VARVEL_THREADS").ok().and_then(|n| n.parse().ok()) {
            options.threads = threads;
        }
        Ok(Self { ear: Ear::load(&found.path, options)?, taught })
    }

    /// Hears a recording by whoever speaks of whatever: for single words and digits, without a keeper's prompt.
    pub fn transcribe(&mut self, file: &Path) -> Result<Transcript> {
        Ok(self.ear.hear(&sound::read(file)?.samples, &Prompt::none())?)
    }

    /// Hears samples at 16 kHz whose words may speak of these birds.
    pub fn hear(&mut self, samples: &[f32], context: &Context, lexicon: &Lexicon) -> Result<Transcript> {
        let names: Vec<String> = context
            .birds
            .iter()
            .flat_map(|bird| std::iter::once(bird.name.clone()).chain(bird.aliases.iter().cloned()))
            .collect();
        let prompt = if self.taught {
            Prompt::for_taught(&names)
        } else {
            let words: Vec<String> = lexicon.speech_prompt_words().into_iter().map(str::to_owned).collect();
            Prompt::for_keeper(&names, &words)
        };
        let judge = |reading: &Transcript| fitness(reading, context, lexicon);
        Ok(self.ear.hear_judged(samples, &prompt, &judge)?)
    }
}

/// Says how well a reading's figures fit what is known of the birds, from 0 to 1.
///
/// A weight that no bird of the roster has is worth another hearing, and so is a figure that no entry accounts for:
/// "to 23" may be 223. Of several readings the one whose figures fit wins.
fn fitness(reading: &Transcript, context: &Context, lexicon: &Lexicon) -> f32 {
    let entries = extract::read(&reading.text, Some(&reading.words), context, lexicon);
    let doubtful = |flag: &Flag| matches!(flag, Flag::ImplausibleWeight | Flag::AmbiguousNumber);
    if entries.iter().any(|e| e.kind() == Kind::Weight && e.flags.iter().any(doubtful)) {
        return 0.5;
    }
    let told = |at: usize| entries.iter().any(|e| (e.span[0]..e.span[1]).contains(&at));
    let stray = reading.text.chars().enumerate().any(|(at, c)| c.is_ascii_digit() && !told(at));
    if stray { 0.7 } else { 1.0 }
}

fn told_by(facts: &photo::Facts, made: DateTime<FixedOffset>) -> Told {
    let (at, source) =
        facts.taken(zone_here).map_or((made, TakenSource::File), |taken| (taken.at, taken.source));
    let place = facts.gps.as_ref().map(|gps| {
        let gps = gps.reveal();
        Place { latitude: gps.latitude, longitude: gps.longitude }
    });
    Told::Photo {
        at,
        source,
        media_type: facts.media_type.as_str().to_owned(),
        orientation: facts.orientation,
        place,
    }
}

/// The offset of this machine's zone at a local time; of a time that happens twice, the first.
pub fn zone_here(local: NaiveDateTime) -> Option<FixedOffset> {
    Local.from_local_datetime(&local).earliest().map(|at| *at.fixed_offset().offset())
}

//! Where a note becomes proposals: hears it, reads it, reads the scale's display, and puts all into the record.
//!
//! Each stage reads what is stored and stores what it makes, so a power cut resumes where it stopped.

use crate::hearing::{self, Hearing};
use crate::home::Home;
use anyhow::{Context as _, Result, anyhow};
use chrono::{DateTime, FixedOffset, Local};
use extract::Lexicon;
use note::{BirdId, NoteId, PhotoId, TakenSource, Transcript};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;
use store::{About, EvidenceKind, NewNote, NewPhoto, Source, Stage, Store, Who};

/// Kinds of work in the record's queue.
pub const HEAR: &str = "hear";
/// A typed note to be read.
pub const DRAFT: &str = "draft";
/// A photo to be read.
pub const READ_SCALE: &str = "read-scale";

/// A file taken in.
pub enum TakenIn {
    /// A recording.
    Note(NoteId, bool),
    /// A photo.
    Photo(PhotoId, bool),
}

/// Everything that is needed to work on notes and photos. Models are loaded when first used, then stay.
pub struct Workshop {
    store: Store,
    home: Home,
    ear: Mutex<Option<Hearing>>,
    reader: OnceLock<display::Reader>,
    work: Mutex<bool>,
    /// The keeper holds up the reading, until told to go on or the program starts anew.
    held_up: AtomicBool,
    bell: Condvar,
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    // What a panicked job left is rebuilt from the record, so a poisoned lock is no reason to stop.
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The moment now, with this machine's offset.
pub fn now() -> DateTime<FixedOffset> {
    Local::now().fixed_offset()
}

impl Workshop {
    /// Opens a workshop on a record.
    pub fn new(store: Store, home: Home) -> Arc<Self> {
        Arc::new(Self {
            store,
            home,
            ear: Mutex::new(None),
            reader: OnceLock::new(),
            work: Mutex::new(true),
            held_up: AtomicBool::new(false),
            bell: Condvar::new(),
        })
    }

    /// Returns the record.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// Returns the words that carry meaning, with the keeper's own on top.
    pub fn lexicon(&self) -> Result<Lexicon> {
        hearing::lexicon(&self.store, &self.home)
    }

    /// Keeps a sound file or photo as evidence and enters it; new ones are not yet read.
    pub fn take_in(&self, file: &Path, who: &Who) -> Result<TakenIn> {
        let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let bytes = std::fs::read(file)
            .with_context(|| format!("{} cannot be read; nothing was taken in", file.display()))?;
        let made = hearing::file_time(file)?;
        match hearing::told(&bytes, &name, made)? {
            hearing::Told::Sound { at, source, media_type } => {
                let kept = self.store.put(&bytes, &About::sound(name).of_type(media_type))?;
                let new = NewNote { source: Source::Sound(kept.sha256), at, taken: Some(source), bird: None };
                let added = self.store.add_note(new, who)?;
                Ok(TakenIn::Note(added.id().clone(), added.is_new()))
            }
            hearing::Told::Photo { at, source, media_type, orientation, place } => {
                let kept = self.store.put(&bytes, &About::photo(name).of_type(media_type))?;
                let new =
                    NewPhoto { evidence: kept.sha256, at, taken: source, orientation, place, bird: None };
                let added = self.store.add_photo(new, who)?;
                Ok(TakenIn::Photo(added.id().clone(), added.is_new()))
            }
        }
    }

    /// Reads what was taken in, unless that was done before; says why where it could not be read.
    ///
    /// The original is kept all the same, and the page shows it with the reason.
    pub fn read(&self, taken: &TakenIn) -> Result<Option<String>> {
        match taken {
            TakenIn::Note(id, _) if self.store.note(id)?.stage != Stage::Drafted => {
                self.attempt(HEAR, id.as_str())
            }
            TakenIn::Photo(id, _) if self.store.photo(id)?.reading.is_none() => {
                self.attempt(READ_SCALE, id.as_str())
            }
            _ => Ok(None),
        }
    }

    /// Does one kind of work; of work that fails the record keeps the reason, which is returned.
    fn attempt(&self, kind: &str, subject: &str) -> Result<Option<String>> {
        let done = match kind {
            HEAR => self.hear(&NoteId::new(subject)),
            DRAFT => self.draft(&NoteId::new(subject)),
            _ => self.read_scale(&PhotoId::new(subject)),
        };
        let Err(error) = done else { return Ok(None) };
        let why = format!("{error:#}");
        if kind == READ_SCALE {
            self.store.photo_failed(&PhotoId::new(subject), &why)?;
        } else {
            self.store.note_failed(&NoteId::new(subject), &why)?;
        }
        Ok(Some(why))
    }

    /// Hears a note's recording, saves the transcript, and proposes entries.
    pub fn hear(&self, id: &NoteId) -> Result<()> {
        let note = self.store.note(id)?;
        let sha256 = note.evidence.as_ref().ok_or_else(|| anyhow!("this note has no recording"))?;
        let bytes = self.store.read_evidence(sha256)?;
        let sound = capture::sound::read_bytes(&bytes, "")?;
        let transcript = self.listen_to(&sound.samples, &self.context(note.at, note.bird.as_ref())?)?;
        self.store.set_transcript(id, &transcript)?;
        self.draft(id)
    }

    /// Hears a recording that is not in the record.
    pub fn hear_file(&self, file: &Path) -> Result<Transcript> {
        self.listen_to(&capture::sound::read(file)?.samples, &self.context(now(), None)?)
    }

    fn listen_to(&self, samples: &[f32], context: &extract::Context) -> Result<Transcript> {
        let lexicon = self.lexicon()?;
        let mut ear = held(&self.ear);
        let ear = match &mut *ear {
            Some(ear) => ear,
            none => none.insert(Hearing::load(&self.home)?),
        };
        ear.hear(samples, context, &lexicon)
    }

    /// Reads a note's words and proposes entries; done again, it replaces what nobody decided on.
    pub fn draft(&self, id: &NoteId) -> Result<()> {
        let note = self.store.note(id)?;
        let transcript = self.store.transcript(id)?;
        let text =
            transcript.as_ref().map(|t| t.text.clone()).or_else(|| note.text.clone()).unwrap_or_default();
        let context = self.context(note.at, note.bird.as_ref())?;
        let words = transcript.as_ref().map(|t| t.words.as_slice());
        self.store.propose(id, extract::read(&text, words, &context, &self.lexicon()?))?;
        Ok(())
    }

    /// Reads a photo's display; pairing with what was said is the record's work.
    pub fn read_scale(&self, id: &PhotoId) -> Result<()> {
        let photo = self.store.photo(id)?;
        let bytes = self.store.read_evidence(&photo.evidence)?;
        let picture = capture::photo::read_bytes(&bytes, &capture::photo::Limits::default())?;
        let pixels = display::Picture::new(picture.width, picture.height, &picture.rgb)?;
        let reading = self.reader.get_or_init(display::Reader::built_in).read(&pixels);
        self.store.set_reading(id, &reading)?;
        Ok(())
    }

    fn context(&self, at: DateTime<FixedOffset>, bird: Option<&BirdId>) -> Result<extract::Context> {
        let current = match bird {
            Some(id) => Some(self.store.bird(id)?),
            None => self.store.current_bird()?,
        };
        let units = match &current {
            Some(bird) => Some(bird.details.units),
            None => self.store.setting("units")?.and_then(|units| serde_json::from_value(units).ok()),
        };
        let current_bird = current.map(|bird| bird.details.name);
        Ok(extract::Context { at, birds: self.store.roster()?, current_bird, units })
    }

    /// Does one piece of queued work; false when there is none, or when the keeper holds it up.
    pub fn step(&self) -> Result<bool> {
        if self.held_up.load(Ordering::Relaxed) {
            return Ok(false);
        }
        let Some(job) = self.store.next_job(&[HEAR, DRAFT, READ_SCALE])? else { return Ok(false) };
        // One bad note never stops the queue: it keeps its original and says what is wrong with it.
        self.attempt(&job.kind, &job.subject)?;
        self.store.job_done(job.id)?;
        Ok(true)
    }

    /// Does all work there is, and returns how many pieces it was.
    pub fn work_off(&self) -> Result<usize> {
        let mut done = 0;
        while self.step()? {
            done += 1;
        }
        Ok(done)
    }

    /// Works in the background for as long as the program runs, first on what a power cut left.
    pub fn start(self: &Arc<Self>) {
        if let Err(error) = self.store.resume_work(HEAR, DRAFT, READ_SCALE) {
            eprintln!("What was left undone last time could not be looked for: {error}");
        }
        let this = self.clone();
        std::thread::spawn(move || {
            loop {
                if let Err(error) = this.work_off() {
                    eprintln!("Work on new notes had to wait: {error:#}");
                }
                let mut work = held(&this.work);
                if !*work {
                    // Other programs queue work too, so look now and then without being rung for.
                    let waited = this.bell.wait_timeout(work, Duration::from_secs(5));
                    work = waited.unwrap_or_else(PoisonError::into_inner).0;
                }
                *work = false;
            }
        });
    }
}

/// What the page may ask of the workshop.
pub struct Counter(pub Arc<Workshop>);

impl page::Workshop for Counter {
    fn wake(&self) {
        *held(&self.0.work) = true;
        self.0.bell.notify_one();
    }

    fn look(&self, file: &Path, made: DateTime<FixedOffset>) -> Result<page::Told, String> {
        let look = || -> Result<page::Told> {
            let bytes = std::fs::read(file)?;
            let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let (kind, at, taken, media_type, orientation, place) = match hearing::told(&bytes, &name, made)?
            {
                hearing::Told::Sound { at, source, media_type } => {
                    (EvidenceKind::Sound, at, source, media_type, 1, None)
                }
                hearing::Told::Photo { at, source, media_type, orientation, place } => {
                    (EvidenceKind::Photo, at, source, media_type, orientation, place)
                }
            };
            // An upload's file time is that of its arrival: the phone's own word is better.
            let at = if taken == TakenSource::File { made } else { at };
            Ok(page::Told { kind, media_type: Some(media_type), at, taken, orientation, place })
        };
        look().map_err(|error| format!("{error:#}"))
    }

    fn preview(&self, file: &Path) -> Option<Vec<u8>> {
        let bytes = std::fs::read(file).ok()?;
        let photo = capture::photo::read_bytes(&bytes, &capture::photo::Limits::default()).ok()?;
        Some(capture::photo::thumbnail_jpeg(&photo, 1600))
    }

    fn print(&self, order: &page::Order) -> Result<Vec<u8>, String> {
        crate::paper::ordered(&self.0.store, order).map_err(|error| format!("{error:#}"))
    }

    fn hold(&self, held: bool) {
        self.0.held_up.store(held, Ordering::Relaxed);
        self.wake();
    }

    fn held(&self) -> bool {
        self.0.held_up.load(Ordering::Relaxed)
    }

    fn words_changed(&self) {
        if let Ok(cards) = self.0.store.waiting(0, 200) {
            for note in cards.into_iter().filter_map(|card| card.note) {
                if self.0.store.add_job(DRAFT, note.id.as_str()).is_err() {
                    break;
                }
            }
        }
        self.wake();
    }
}

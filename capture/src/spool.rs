//! Everything spoken goes to disk at once, and what a crash leaves behind is found again.
//!
//! While a session runs, all sound flows into `live-…` files: WAV files whose header is brought up
//! to date four times a second, so that they are whole at any moment. When a note ends it is written
//! to a file of its own under another name, forced to disk and renamed; only then do the live files
//! that hold it go. A live file found at the next start is therefore exactly what had not been
//! finished, and [`Spool::open`] cuts the notes out of it.
//!
//! A full disk stops nothing: sound is held in memory and written when there is room again.
//!
//! Absent on purpose: devices, words, the record. What becomes of a finished note is the caller's
//! affair; until [`Spool::done`] it is offered again at each start.

mod disk;
mod found;
mod name;

use disk::{Forced, append, mend, remove, save, spec, to_io};
use found::{notes_in, stitch};
use name::{Name, What};

use std::{
    fs::{self, File, OpenOptions},
    io::{self, BufWriter, Seek, Write},
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

use chrono::{DateTime, NaiveDateTime, Utc};

use crate::segment::{RATE, Segment, Settings};

/// Samples after which the live file is made whole: a quarter of a second.
const WHOLE_EVERY: u64 = RATE as u64 / 4;

/// Samples after which a new live file is begun: one minute.
const LIVE_LENGTH: u64 = 60 * RATE as u64;

/// Samples held in memory while nothing can be written: a quarter of an hour, 29 MB.
const BACKLOG: u64 = 15 * 60 * RATE as u64;

/// How long to wait after a failure before writing is tried again.
const RETRY_AFTER: Duration = Duration::from_secs(1);

/// Why sound could not be kept on disk.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SpoolError {
    /// The folder cannot be made or read.
    #[error("the folder for sound, {}, cannot be used: {source}. Nothing was recorded; check that the disk is there and may be written", .folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Another program is recording into the folder.
    #[error("another varvel is already listening (it holds {}). Stop that one first", .0.display())]
    InUse(PathBuf),
    /// No room is left.
    #[error(
        "the disk is full. What you say is held in memory for up to fifteen minutes and written as soon as there is room: free some space, and leave the program running"
    )]
    Full,
    /// Writing failed for another reason.
    #[error("sound cannot be written to {}: {source}. What you say is held in memory for up to fifteen minutes: check the disk, and leave the program running", .path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

impl SpoolError {
    fn write(path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::Full,
            _ => Self::Write { path: path.into(), source },
        }
    }
}

/// A spoken note that lies whole on disk.
#[derive(Debug, Clone, PartialEq)]
pub struct SavedNote {
    /// The WAV file, 16 kHz, one channel, 16 bits.
    pub path: PathBuf,
    /// When its first sample was heard.
    pub started_at: DateTime<Utc>,
    /// Length in seconds.
    pub seconds: f64,
    /// Whether it was found again after a crash.
    pub recovered: bool,
}

/// What is needed of a file that takes sound; tests put failing disks behind it.
pub trait Medium: Write + Seek + Send {}

impl<T: Write + Seek + Send> Medium for T {}

/// Makes the files that take sound.
pub type Create = Box<dyn Fn(&Path) -> io::Result<Box<dyn Medium>> + Send>;

/// The folder in which sound waits until it is taken into the record; held by one program at a time.
#[derive(Debug)]
pub struct Spool {
    folder: PathBuf,
    _lock: File,
}

impl Spool {
    /// Takes hold of the folder, making it if need be, and finishes what an earlier session left behind.
    ///
    /// # Errors
    ///
    /// Fails if the folder cannot be used, another program holds it, or what was left behind cannot
    /// be written out; the left-over files then stay as they are.
    pub fn open(folder: &Path, settings: Settings) -> Result<Self, SpoolError> {
        let unusable = |source| SpoolError::Folder { folder: folder.into(), source };
        fs::create_dir_all(folder).map_err(unusable)?;
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(folder.join("held"))
            .map_err(unusable)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(fs::TryLockError::WouldBlock) => return Err(SpoolError::InUse(folder.into())),
            Err(fs::TryLockError::Error(source)) => return Err(unusable(source)),
        }
        let spool = Self { folder: folder.into(), _lock: lock };
        spool.recover(settings)?;
        Ok(spool)
    }

    /// Begins a session that heard its first sample at the given time.
    pub fn begin(&self, started_at: DateTime<Utc>) -> Session {
        self.begin_on(started_at, Box::new(|path| Ok(Box::new(Forced::create(path)?))))
    }

    /// Begins a session whose files are made by the caller.
    pub fn begin_on(&self, started_at: DateTime<Utc>, create: Create) -> Session {
        Session {
            folder: self.folder.clone(),
            started_at,
            create,
            live: None,
            older: Vec::new(),
            held: Vec::new(),
            held_from: 0,
            written: 0,
            needed_from: 0,
            pending: Vec::new(),
            doubled: Vec::new(),
            opened: None,
            trouble: None,
            lost: 0,
        }
    }

    /// Returns the finished notes that nobody has taken yet, oldest first.
    ///
    /// # Errors
    ///
    /// Fails if the folder cannot be read.
    pub fn waiting(&self) -> Result<Vec<SavedNote>, SpoolError> {
        let mut notes: Vec<(Name, PathBuf)> =
            self.list()?.into_iter().filter(|(name, _)| matches!(name.what, What::Note { .. })).collect();
        notes.sort_by_key(|(name, _)| (name.session, name.start));
        Ok(notes.into_iter().map(|(name, path)| name.saved(path)).collect())
    }

    /// Removes a note that now lies elsewhere, or that is not to be kept.
    ///
    /// # Errors
    ///
    /// Fails if the file cannot be removed; one that is gone already is no error.
    pub fn done(&self, note: &SavedNote) -> Result<(), SpoolError> {
        remove(&note.path).map_err(|source| SpoolError::Write { path: note.path.clone(), source })
    }

    fn list(&self) -> Result<Vec<(Name, PathBuf)>, SpoolError> {
        let unusable = |source| SpoolError::Folder { folder: self.folder.clone(), source };
        let mut found = Vec::new();
        for entry in fs::read_dir(&self.folder).map_err(unusable)? {
            let path = entry.map_err(unusable)?.path();
            if let Some(name) = path.file_name().and_then(|n| n.to_str()).and_then(Name::read) {
                found.push((name, path));
            }
        }
        Ok(found)
    }

    /// Cuts notes out of the live files left behind, then removes those.
    fn recover(&self, settings: Settings) -> Result<(), SpoolError> {
        let files = self.list()?;
        // A note half written: its sound still lies in the live files.
        for (_, path) in files.iter().filter(|(name, _)| name.what == What::Part) {
            remove(path).map_err(|source| SpoolError::write(path, source))?;
        }
        let mut sessions: Vec<NaiveDateTime> = files
            .iter()
            .filter(|(name, _)| matches!(name.what, What::Live | What::Open))
            .map(|(name, _)| name.session)
            .collect();
        sessions.sort_unstable();
        sessions.dedup();
        for session in sessions {
            let of_session = |what: What| {
                let mut of: Vec<(u64, &PathBuf)> = files
                    .iter()
                    .filter(|(name, _)| name.session == session && name.what == what)
                    .map(|(name, path)| (name.start, path))
                    .collect();
                of.sort();
                of
            };
            let live = of_session(What::Live);
            let open = of_session(What::Open);
            // All before the end of the last note saved has been decided.
            let decided = files.iter().filter_map(|(name, _)| name.note_of(session)).map(|s| s.end).max();
            for piece in stitch(&live)? {
                let piece = piece.after(decided.unwrap_or(0));
                for segment in notes_in(&piece, settings, open.last().map(|o| o.0)) {
                    let from = (segment.start - piece.start) as usize;
                    let to = ((segment.end - piece.start) as usize).min(piece.samples.len());
                    let what = What::Note { end: segment.end, recovered: true };
                    let name = Name { session, start: segment.start, what };
                    save(&self.folder.join(name.write()), &piece.samples[from..to], &|path| {
                        Ok(Box::new(File::create(path)?))
                    })?;
                }
            }
            for (_, path) in live.iter().chain(&open) {
                remove(path).map_err(|source| SpoolError::write(path, source))?;
            }
        }
        Ok(())
    }
}

/// One unbroken run of sound from one microphone, on its way to disk.
///
/// Writing never fails from the caller's side: what cannot be written is held and tried again, and
/// [`Session::trouble`] tells of it.
pub struct Session {
    folder: PathBuf,
    started_at: DateTime<Utc>,
    create: Create,
    live: Option<Live>,
    /// Live files full or given up, with the sample one past their last.
    older: Vec<(PathBuf, u64)>,
    /// Samples still needed, from `held_from`.
    held: Vec<i16>,
    held_from: u64,
    /// Sample up to which sound lies in whole live files.
    written: u64,
    needed_from: u64,
    /// Notes that ended and are not saved yet.
    pending: Vec<Segment>,
    /// Notes saved whose sound still lies in live files too, with the sample one past their last.
    doubled: Vec<(SavedNote, u64)>,
    /// Marker file of the note going on.
    opened: Option<PathBuf>,
    trouble: Option<(SpoolError, Instant)>,
    lost: u64,
}

struct Live {
    path: PathBuf,
    start: u64,
    writer: hound::WavWriter<BufWriter<Box<dyn Medium>>>,
}

impl Session {
    /// Takes more samples.
    pub fn push(&mut self, samples: &[i16]) {
        self.held.extend_from_slice(samples);
        if self.held.len() as u64 > BACKLOG {
            let over = self.held.len() as u64 - BACKLOG;
            if self.held_from + over > self.written {
                self.lost += self.held_from + over - self.written.max(self.held_from);
            }
            self.held.drain(..over as usize);
            self.held_from += over;
            self.written = self.written.max(self.held_from);
        }
    }

    /// Tells that a note began at this sample, so that a crash cannot make it doubtful.
    pub fn note_opened(&mut self, start: u64) {
        let name = Name { session: self.session(), start, what: What::Open };
        let path = self.folder.join(name.write());
        // Only a help for recovery: the sound itself is safe without it.
        if (self.create)(&path).is_ok() {
            self.opened = Some(path);
        }
    }

    /// Tells that a note is complete; [`Session::settle`] writes it.
    pub fn note_closed(&mut self, segment: Segment) {
        self.pending.push(segment);
    }

    /// Tells that what seemed a note was none.
    pub fn note_dropped(&mut self) {
        if let Some(path) = self.opened.take() {
            // If it stays, recovery finds an empty note there and writes nothing.
            let _ = remove(&path);
        }
    }

    /// Tells from which sample on sound may still be needed.
    pub fn needed_from(&mut self, sample: u64) {
        self.needed_from = self.needed_from.max(sample);
    }

    /// Returns how many samples have been heard.
    pub fn heard(&self) -> u64 {
        self.held_from + self.held.len() as u64
    }

    /// Returns how many samples lie in whole files or are needed no longer.
    pub fn safe(&self) -> u64 {
        self.written
    }

    /// Returns how many samples were lost for good, since nothing could be written for too long.
    pub fn lost(&self) -> u64 {
        self.lost
    }

    /// Returns why nothing can be written now, if so.
    pub fn trouble(&self) -> Option<&SpoolError> {
        self.trouble.as_ref().map(|(why, _)| why)
    }

    /// Writes what is due and returns the notes that now lie whole on disk.
    pub fn settle(&mut self) -> Vec<SavedNote> {
        if self.trouble.as_ref().is_some_and(|(_, since)| since.elapsed() < RETRY_AFTER) {
            return Vec::new();
        }
        let mut saved = Vec::new();
        match self.try_settle(&mut saved) {
            Ok(()) => self.trouble = None,
            Err(why) => self.trouble = Some((why, Instant::now())),
        }
        saved
    }

    /// Writes everything out at the end of the session and returns the notes saved by that.
    ///
    /// # Errors
    ///
    /// Fails if something could not be written; the live files then stay for the next start.
    pub fn end(mut self) -> Result<Vec<SavedNote>, SpoolError> {
        let mut saved = Vec::new();
        self.try_settle(&mut saved)?;
        self.write_live(true)?;
        self.note_dropped();
        let last = self.live.take().map(|live| live.path);
        for path in self.older.drain(..).map(|(path, _)| path).chain(last) {
            remove(&path).map_err(|source| SpoolError::write(&path, source))?;
        }
        Ok(saved)
    }

    fn session(&self) -> NaiveDateTime {
        self.started_at.naive_utc()
    }

    fn try_settle(&mut self, saved: &mut Vec<SavedNote>) -> Result<(), SpoolError> {
        while let Some(&segment) = self.pending.first() {
            let note = self.save_note(segment)?;
            self.pending.remove(0);
            self.doubled.push((note, segment.end));
        }
        while let Some(&(_, end)) = self.doubled.first() {
            // Handed on only when a crash can no longer find the same note twice.
            self.needed_from = self.needed_from.max(end);
            self.turn_live(end)?;
            self.note_dropped();
            saved.push(self.doubled.remove(0).0);
        }
        self.write_live(false)?;
        if self.live.as_ref().is_some_and(|live| self.written - live.start >= LIVE_LENGTH) {
            self.turn_live(self.written)?;
        }
        self.forget();
        Ok(())
    }

    fn save_note(&self, segment: Segment) -> Result<SavedNote, SpoolError> {
        let from = segment.start.saturating_sub(self.held_from) as usize;
        let to = (segment.end.saturating_sub(self.held_from) as usize).min(self.held.len());
        let name = Name {
            session: self.session(),
            start: segment.start,
            what: What::Note { end: segment.end, recovered: false },
        };
        let path = self.folder.join(name.write());
        save(&path, &self.held[from.min(to)..to], &self.create)?;
        Ok(name.saved(path))
    }

    /// Begins a new live file at a sample and lets the old ones go once they are needed no longer.
    fn turn_live(&mut self, start: u64) -> Result<(), SpoolError> {
        let start = start.clamp(self.held_from, self.heard());
        if let Some(live) = self.live.take() {
            self.older.push((live.path.clone(), self.written));
            live.writer.finalize().map_err(|e| SpoolError::write(&live.path, to_io(e)))?;
        }
        self.written = self.written.min(start);
        self.write_live(true)?;
        // From here on the new file holds everything; the old ones matter only for what lies before.
        for (_, end) in &mut self.older {
            *end = (*end).min(start);
        }
        self.forget();
        Ok(())
    }

    /// Appends what the live file lacks, if enough has gathered or it is wanted now.
    fn write_live(&mut self, now: bool) -> Result<(), SpoolError> {
        let heard = self.heard();
        if heard - self.written < if now { 1 } else { WHOLE_EVERY } {
            return Ok(());
        }
        let mut live = match self.live.take() {
            Some(live) => live,
            None => self.new_live()?,
        };
        let result = append(&mut live.writer, &self.held[(self.written - self.held_from) as usize..]);
        match result {
            Ok(()) => {
                self.written = heard;
                self.live = Some(live);
                Ok(())
            }
            Err(why) => {
                // The file is given up where it was last whole; the next one takes over from there.
                let Live { path, writer, .. } = live;
                drop(writer);
                let whole = mend(&path).is_ok();
                if whole {
                    self.older.push((path.clone(), self.written));
                }
                Err(SpoolError::write(&path, why))
            }
        }
    }

    fn new_live(&self) -> Result<Live, SpoolError> {
        let name = Name { session: self.session(), start: self.written, what: What::Live };
        let mut path = self.folder.join(name.write());
        // A file given up at this very sample keeps its name.
        let mut again = 0;
        while self.older.iter().any(|(older, _)| *older == path) {
            again += 1;
            path = self.folder.join(format!("{}-{again}.wav", name.write().trim_end_matches(".wav")));
        }
        let fail = |source| SpoolError::write(&path, source);
        let medium = (self.create)(&path).map_err(fail)?;
        let writer = hound::WavWriter::new(BufWriter::with_capacity(64 * 1024, medium), spec())
            .map_err(|e| fail(to_io(e)))?;
        Ok(Live { path, start: self.written, writer })
    }

    /// Drops samples and live files that nothing needs any more.
    fn forget(&mut self) {
        let needed = self.pending.iter().map(|s| s.start).min().unwrap_or(u64::MAX).min(self.needed_from);
        self.older.retain(|(path, end)| *end > needed || remove(path).is_err());
        let from = needed.min(self.written);
        // In steps of a second, since each step moves the rest.
        if from >= self.held_from + u64::from(RATE) {
            let gone = (from - self.held_from) as usize;
            self.held.drain(..gone.min(self.held.len()));
            self.held_from += gone as u64;
        }
    }
}

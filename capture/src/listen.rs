//! A session without hands: sound in, notes cut and kept, each heard and answered with a tone.
//!
//! Recording runs on a thread of its own and never waits for a note to be understood: finished notes
//! queue on disk. Absent on purpose: how speech becomes text and what becomes of the text, which is
//! the [`Hearer`]'s affair, and the device itself, which is an [`Input`].

use std::{
    collections::VecDeque,
    sync::{
        atomic::{AtomicBool, Ordering},
        mpsc::{Receiver, RecvTimeoutError, Sender, channel},
    },
    time::{Duration, Instant},
};

use chrono::{DateTime, TimeDelta, Utc};

use crate::{
    cue::{self, Scratch},
    mic::{Flow, Input, Level, MicError},
    segment::{self, Cut, RATE, Segment, Segmenter},
    spool::{SavedNote, Session, Spool, SpoolError},
};

/// How often the level is told.
const LEVEL_EVERY: Duration = Duration::from_millis(200);

/// How long to wait before a microphone that is gone is tried again.
const REOPEN_EVERY: Duration = Duration::from_secs(1);

/// How the session goes; all of it the keeper's choice.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Settings {
    /// Where notes are cut.
    pub segment: segment::Settings,
    /// Words that a note must begin with to be kept; without them every note is.
    pub cue: Option<String>,
    /// Whether to end when the input ends or first fails, as for files, or to wait for it to come back.
    pub once: bool,
}

/// Turns finished notes into text and into the record.
pub trait Hearer {
    /// What is known of a note after hearing it, handed back to [`Hearer::keep`].
    type Words;
    /// Why it failed.
    type Error: std::fmt::Display;

    /// Hears a note and returns its text with whatever else is known.
    ///
    /// # Errors
    ///
    /// On failure the note stays on disk and is tried again at the next start.
    fn hear(&mut self, note: &SavedNote) -> Result<(String, Self::Words), Self::Error>;

    /// Takes a note into the record; after this its file here is removed.
    ///
    /// `said_from` is where in the text the words after the cue begin.
    ///
    /// # Errors
    ///
    /// On failure the note stays on disk and is tried again at the next start.
    fn keep(&mut self, note: &SavedNote, words: Self::Words, said_from: usize) -> Result<Kept, Self::Error>;

    /// Marks a kept note as withdrawn. Its sound stays.
    ///
    /// # Errors
    ///
    /// On failure the note counts as not withdrawn.
    fn withdraw(&mut self, id: &str) -> Result<(), Self::Error>;
}

/// What the record says of a note it took.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// What the record calls it.
    pub id: String,
    /// Whether a weight was heard in it.
    pub has_weight: bool,
    /// Whether the record had it already.
    pub known: bool,
}

/// What happened, for the keeper's eyes and ears.
#[derive(Debug)]
#[non_exhaustive]
pub enum Event {
    /// A microphone is open.
    Listening(String),
    /// How loud it is, and whether a note is going on.
    Level(Level, bool),
    /// A note has ended and lies safe on disk.
    Saved(SavedNote),
    /// A note went into the record: one tone, or two with a weight.
    Kept {
        /// The note.
        note: SavedNote,
        /// Its text.
        text: String,
        /// What the record says.
        kept: Kept,
    },
    /// A note did not begin with the cue, or held no words, and is not kept.
    NotKept {
        /// Its text.
        text: String,
    },
    /// The last note is withdrawn.
    Withdrawn {
        /// What the record calls it.
        id: String,
    },
    /// There was no note to withdraw.
    NothingToWithdraw,
    /// The microphone went away or cannot be opened; it is tried again each second.
    NoMicrophone(MicError),
    /// Sound cannot be written at the moment.
    DiskTrouble(String),
    /// Sound is written again; this many seconds were lost meanwhile.
    DiskWell(f64),
    /// A note could not be heard or kept and stays on disk.
    Failed {
        /// The note.
        note: SavedNote,
        /// Why.
        why: String,
    },
}

impl Event {
    /// Returns how many tones tell of it.
    pub fn tones(&self) -> u32 {
        match self {
            Self::Kept { kept, .. } if kept.has_weight => 2,
            Self::Kept { .. } => 1,
            _ => 0,
        }
    }
}

/// What a session came to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Summary {
    /// Notes in the record.
    pub kept: usize,
    /// Notes withdrawn again.
    pub withdrawn: usize,
    /// Notes without the cue or without words.
    pub not_kept: usize,
    /// Notes that failed and stay on disk.
    pub failed: usize,
}

/// Listens until told to stop.
///
/// `open` opens the microphone, at the start and again whenever it went away; `tell` hears of all
/// that happens, on the calling thread and in order. Notes left from an earlier session come first.
///
/// # Errors
///
/// Fails if the microphone cannot be opened at the start and `once` is set, or if the spool folder
/// can no longer be read.
pub fn run<H: Hearer>(
    open: impl FnMut() -> Result<Box<dyn Input>, MicError> + Send,
    spool: &Spool,
    settings: &Settings,
    hearer: &mut H,
    mut tell: impl FnMut(Event),
    stop: &AtomicBool,
) -> Result<Summary, SpoolError> {
    let (sender, events) = channel();
    let mut waiting: VecDeque<SavedNote> = spool.waiting()?.into();
    std::thread::scope(|scope| {
        let recorder =
            Recorder { spool, settings, sender, stop, level_told: Instant::now(), troubled: false, lost: 0 };
        scope.spawn(move || recorder.run(open));
        let mut desk = Desk { spool, settings, hearer, last: Vec::new(), summary: Summary::default() };
        // Events are told as soon as they come, notes heard one after the other in between.
        let mut recording = true;
        while recording || !waiting.is_empty() {
            recording = drain(&events, waiting.is_empty(), &mut waiting, &mut tell) && recording;
            if stop.load(Ordering::Relaxed) && !recording {
                // Stopping need not wait for the queue: it is offered again at the next start.
                break;
            }
            if let Some(note) = waiting.pop_front() {
                desk.hear(note, &mut tell);
            }
        }
        Ok(desk.summary)
    })
}

/// Passes on what the recorder told; waits for something only if there is nothing else to do.
///
/// Returns whether the recorder is still at work.
fn drain(
    events: &Receiver<Event>,
    wait: bool,
    waiting: &mut VecDeque<SavedNote>,
    tell: &mut impl FnMut(Event),
) -> bool {
    let mut next = events.recv_timeout(if wait { LEVEL_EVERY } else { Duration::ZERO });
    loop {
        match next {
            Ok(event) => {
                if let Event::Saved(note) = &event {
                    waiting.push_back(note.clone());
                }
                tell(event);
            }
            Err(RecvTimeoutError::Timeout) => return true,
            Err(RecvTimeoutError::Disconnected) => return false,
        }
        next = events.recv_timeout(Duration::ZERO);
    }
}

/// The side that understands notes.
struct Desk<'a, H> {
    spool: &'a Spool,
    settings: &'a Settings,
    hearer: &'a mut H,
    /// Notes of this session that can be withdrawn, the last one last.
    last: Vec<String>,
    summary: Summary,
}

impl<H: Hearer> Desk<'_, H> {
    fn hear(&mut self, note: SavedNote, tell: &mut impl FnMut(Event)) {
        match self.try_hear(&note) {
            Ok(events) => events.into_iter().for_each(tell),
            Err(why) => {
                self.summary.failed += 1;
                tell(Event::Failed { note, why });
            }
        }
    }

    fn try_hear(&mut self, note: &SavedNote) -> Result<Vec<Event>, String> {
        let (text, words) = self.hearer.hear(note).map_err(|e| e.to_string())?;
        let said = cue::strip(&text, self.settings.cue.as_deref().unwrap_or_default());
        // "Scratch that note" is clear enough without the cue.
        let alone = cue::scratch(&text[said.clone().unwrap_or(0..text.len())]);
        if alone == Scratch::Last {
            let event = self.withdraw_last()?;
            self.done(note)?;
            return Ok(vec![event]);
        }
        let Some(said) = said.filter(|at| text[at.clone()].chars().any(char::is_alphanumeric)) else {
            self.done(note)?;
            self.summary.not_kept += 1;
            return Ok(vec![Event::NotKept { text }]);
        };
        let kept = self.hearer.keep(note, words, said.start).map_err(|e| e.to_string())?;
        self.done(note)?;
        self.summary.kept += 1;
        if !kept.known {
            self.last.push(kept.id.clone());
        }
        let mut events = vec![Event::Kept { note: note.clone(), text, kept }];
        if alone == Scratch::This {
            events.push(self.withdraw_last()?);
        }
        Ok(events)
    }

    fn withdraw_last(&mut self) -> Result<Event, String> {
        let Some(id) = self.last.last().cloned() else { return Ok(Event::NothingToWithdraw) };
        self.hearer.withdraw(&id).map_err(|e| e.to_string())?;
        self.last.pop();
        self.summary.withdrawn += 1;
        Ok(Event::Withdrawn { id })
    }

    fn done(&self, note: &SavedNote) -> Result<(), String> {
        self.spool.done(note).map_err(|e| e.to_string())
    }
}

/// The side that records.
struct Recorder<'a> {
    spool: &'a Spool,
    settings: &'a Settings,
    sender: Sender<Event>,
    stop: &'a AtomicBool,
    level_told: Instant,
    troubled: bool,
    lost: u64,
}

impl Recorder<'_> {
    fn run(mut self, mut open: impl FnMut() -> Result<Box<dyn Input>, MicError>) {
        let mut told: Option<MicError> = None;
        while !self.stopped() {
            let failed = match open() {
                Ok(input) => {
                    told = None;
                    self.tell(Event::Listening(input.name().into()));
                    self.session(input)
                }
                Err(why) => Some(why),
            };
            if let Some(why) = failed {
                // The same words once a second would hide everything else.
                if told.as_ref() != Some(&why) {
                    self.tell(Event::NoMicrophone(why.clone()));
                    told = Some(why);
                }
            }
            if self.settings.once {
                return;
            }
            let again = Instant::now() + REOPEN_EVERY;
            while Instant::now() < again && !self.stopped() {
                std::thread::sleep(Duration::from_millis(50));
            }
        }
    }

    /// Records from one open microphone until it goes, ends, or all is stopped.
    fn session(&mut self, mut input: Box<dyn Input>) -> Option<MicError> {
        let mut segmenter = Segmenter::new(self.settings.segment);
        let mut session: Option<Session> = None;
        let mut block = Vec::new();
        let mut metered = Vec::new();
        let failed = loop {
            if self.stopped() {
                break None;
            }
            block.clear();
            let flow = input.read(&mut block, Duration::from_millis(100));
            if !block.is_empty() {
                let session =
                    session.get_or_insert_with(|| self.spool.begin(heard_at(Utc::now(), block.len())));
                session.push(&block);
                for cut in segmenter.push(&block) {
                    match cut {
                        Cut::Opened(start) => session.note_opened(start),
                        Cut::Closed(segment) => session.note_closed(segment),
                        Cut::Dropped(_) => session.note_dropped(),
                    }
                }
                session.needed_from(segmenter.needed_from());
                self.settle(session);
                metered.extend_from_slice(&block);
            }
            if self.level_told.elapsed() >= LEVEL_EVERY && !metered.is_empty() {
                self.tell(Event::Level(Level::of(&metered), segmenter.in_note()));
                metered.clear();
                self.level_told = Instant::now();
            }
            match flow {
                Ok(Flow::End) => break None,
                Ok(_) => {}
                Err(why) => break Some(why),
            }
        };
        if let Some(session) = session {
            self.end(session, segmenter);
        }
        failed
    }

    /// Finishes the note going on, or just begun, and closes the session's files.
    fn end(&mut self, mut session: Session, mut segmenter: Segmenter) {
        let pending = segmenter.pending_from();
        match segmenter.finish() {
            Some(Cut::Closed(segment)) => session.note_closed(segment),
            Some(_) => session.note_dropped(),
            None => {
                if let Some(start) = pending {
                    session.note_closed(Segment { start, end: session.heard() });
                }
            }
        }
        match session.end() {
            Ok(notes) => notes.into_iter().for_each(|note| self.tell(Event::Saved(note))),
            Err(why) => self.tell(Event::DiskTrouble(why.to_string())),
        }
    }

    fn settle(&mut self, session: &mut Session) {
        for note in session.settle() {
            self.tell(Event::Saved(note));
        }
        match (session.trouble(), self.troubled) {
            (Some(why), false) => {
                self.troubled = true;
                self.tell(Event::DiskTrouble(why.to_string()));
            }
            (None, true) => {
                self.troubled = false;
                let lost = session.lost() - self.lost;
                self.lost = session.lost();
                self.tell(Event::DiskWell(lost as f64 / f64::from(RATE)));
            }
            _ => {}
        }
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn tell(&self, event: Event) {
        // The other side ends only after this one.
        let _ = self.sender.send(event);
    }
}

/// Returns when the first of the samples that just came was heard.
fn heard_at(now: DateTime<Utc>, samples: usize) -> DateTime<Utc> {
    let millis = (samples as f64 * 1000.0 / f64::from(RATE)) as i64;
    now - TimeDelta::try_milliseconds(millis).unwrap_or_default()
}

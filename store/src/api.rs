//! Every call on the record.

use crate::*;
use note::{
    BirdId, Confirmed, Day, DisplayReading, Entry, EntryId, Grams, NoteId, PhotoId, RosterBird, Sha256,
    Transcript,
};
use std::path::{Path, PathBuf};

/// A keeper's record: cheap to clone, and safe to share between threads and programs.
#[derive(Clone, Debug)]
pub struct Store {
    home: PathBuf,
}

fn later<T>() -> Result<T> {
    Err(StoreError::Refused("not yet".into()))
}

impl Store {
    /// Opens the record in a data folder, making it where there is none yet.
    pub fn open(home: &Path) -> Result<Store> {
        Ok(Store { home: home.to_owned() })
    }
    /// Returns the data folder.
    pub fn home(&self) -> &Path {
        &self.home
    }
    /// Returns the folder for half-done uploads and work.
    pub fn spool(&self) -> PathBuf {
        self.home.join("spool")
    }
    /// Counts what there is of everything.
    pub fn counts(&self) -> Result<Counts> {
        later()
    }
    /// Adds a bird.
    pub fn add_bird(&self, details: BirdDetails, who: &Who) -> Result<BirdId> {
        let _ = (details, who);
        later()
    }
    /// Changes what is told of a bird; the journal keeps what was told before.
    pub fn change_bird(&self, id: &BirdId, details: BirdDetails, who: &Who) -> Result<()> {
        let _ = (id, details, who);
        later()
    }
    /// Enters a dated event; transferred, lost and died take the bird off the roster, acquired and found bring her back.
    pub fn add_bird_event(
        &self,
        id: &BirdId,
        kind: BirdEventKind,
        at: Moment,
        text: &str,
        who: &Who,
    ) -> Result<()> {
        let _ = (id, kind, at, text, who);
        later()
    }
    /// Lists a bird's events, oldest first.
    pub fn bird_events(&self, id: &BirdId) -> Result<Vec<BirdEvent>> {
        let _ = (id,);
        later()
    }
    /// Lists the birds that are here, by name.
    pub fn birds(&self) -> Result<Vec<Bird>> {
        later()
    }
    /// Lists all birds, those that are gone too.
    pub fn all_birds(&self) -> Result<Vec<Bird>> {
        later()
    }
    /// Gets a bird.
    pub fn bird(&self, id: &BirdId) -> Result<Bird> {
        let _ = (id,);
        later()
    }
    /// Finds a bird that is here by name or alias, whatever the case; then one that is gone.
    pub fn bird_named(&self, name: &str) -> Result<Option<Bird>> {
        let _ = (name,);
        later()
    }
    /// Returns the birds that are here as the extractor needs them, with their last confirmed weights.
    pub fn roster(&self) -> Result<Vec<RosterBird>> {
        later()
    }
    /// Returns the bird in hand.
    pub fn current_bird(&self) -> Result<Option<Bird>> {
        later()
    }
    /// Takes a bird in hand, or none.
    pub fn set_current_bird(&self, id: Option<&BirdId>, who: &Who) -> Result<()> {
        let _ = (id, who);
        later()
    }
    /// Returns the last confirmed weight of a bird.
    pub fn last_weight(&self, id: &BirdId) -> Result<Option<LastWeight>> {
        let _ = (id,);
        later()
    }
    /// Keeps an original: on disk and synced before it returns; the same bytes twice are kept once.
    pub fn put(&self, bytes: &[u8], about: &About) -> Result<Kept> {
        let _ = (bytes, about);
        later()
    }
    /// Keeps a copy of a file as an original.
    pub fn put_file(&self, file: &Path, about: &About) -> Result<Kept> {
        let _ = (file, about);
        later()
    }
    /// Moves a file of the spool into the evidence folder, after checking its sum where one is told.
    pub fn adopt_file(&self, file: &Path, expected: Option<&Sha256>, about: &About) -> Result<Kept> {
        let _ = (file, expected, about);
        later()
    }
    /// Tells of an original; `None` when it is not here.
    pub fn evidence(&self, sha256: &Sha256) -> Result<Option<Evidence>> {
        let _ = (sha256,);
        later()
    }
    /// Returns where an original lies, once it is known to be one.
    pub fn evidence_path(&self, sha256: &Sha256) -> Result<PathBuf> {
        let _ = (sha256,);
        later()
    }
    /// Reads an original and checks it against its name.
    pub fn read_evidence(&self, sha256: &Sha256) -> Result<Vec<u8>> {
        let _ = (sha256,);
        later()
    }
    /// Lists the originals, newest first.
    pub fn list_evidence(&self, offset: u64, limit: u64) -> Result<Vec<Evidence>> {
        let _ = (offset, limit);
        later()
    }
    /// Adds a note; the same recording twice is known, not new.
    pub fn add_note(&self, note: NewNote, who: &Who) -> Result<Added<NoteId>> {
        let _ = (note, who);
        later()
    }
    /// Gets a note.
    pub fn note(&self, id: &NoteId) -> Result<Note> {
        let _ = (id,);
        later()
    }
    /// Lists notes, newest first.
    pub fn notes(&self, span: Span, offset: u64, limit: u64) -> Result<Vec<Note>> {
        let _ = (span, offset, limit);
        later()
    }
    /// Finds the note of a recording.
    pub fn note_of(&self, evidence: &Sha256) -> Result<Option<Note>> {
        let _ = (evidence,);
        later()
    }
    /// Saves what the speech model heard, raw, with its engine and model; the note is then `heard`.
    pub fn set_transcript(&self, id: &NoteId, transcript: &Transcript) -> Result<()> {
        let _ = (id, transcript);
        later()
    }
    /// Returns what was heard, with word times.
    pub fn transcript(&self, id: &NoteId) -> Result<Option<Transcript>> {
        let _ = (id,);
        later()
    }
    /// Marks a note as failed, with the reason in plain words; its original stays.
    pub fn note_failed(&self, id: &NoteId, why: &str) -> Result<()> {
        let _ = (id, why);
        later()
    }
    /// Proposes what was read from a note, and pairs weights with photos. Done again, it replaces what nobody decided on.
    /// Returns the ids of all entries of the note that wait, in order.
    pub fn propose(&self, note: &NoteId, entries: Vec<Entry>) -> Result<Vec<EntryId>> {
        let _ = (note, entries);
        later()
    }
    /// Enters something by hand: proposed and confirmed in one step, in the keeper's own typed words.
    pub fn enter(&self, entry: Entry, who: &Who) -> Result<EntryId> {
        let _ = (entry, who);
        later()
    }
    /// Adds a photo; the same picture twice is known, not new.
    pub fn add_photo(&self, photo: NewPhoto, who: &Who) -> Result<Added<PhotoId>> {
        let _ = (photo, who);
        later()
    }
    /// Gets a photo.
    pub fn photo(&self, id: &PhotoId) -> Result<Photo> {
        let _ = (id,);
        later()
    }
    /// Lists photos, newest first.
    pub fn photos(&self, span: Span, offset: u64, limit: u64) -> Result<Vec<Photo>> {
        let _ = (span, offset, limit);
        later()
    }
    /// Finds the photo of an original.
    pub fn photo_of(&self, evidence: &Sha256) -> Result<Option<Photo>> {
        let _ = (evidence,);
        later()
    }
    /// Returns where a photo was taken. Private: never shown to others or handed over unless asked.
    pub fn photo_place(&self, id: &PhotoId) -> Result<Option<Place>> {
        let _ = (id,);
        later()
    }
    /// Saves what the display shows, then pairs the photo with a weight, or lets it propose one by itself.
    pub fn set_reading(&self, id: &PhotoId, reading: &DisplayReading) -> Result<()> {
        let _ = (id, reading);
        later()
    }
    /// Marks a photo as failed, with the reason in plain words; its original stays.
    pub fn photo_failed(&self, id: &PhotoId, why: &str) -> Result<()> {
        let _ = (id, why);
        later()
    }
    /// Pairs a photo with a weight by hand; either is first taken from what it was paired with.
    pub fn pair(&self, photo: &PhotoId, weight: &EntryId, who: &Who) -> Result<()> {
        let _ = (photo, weight, who);
        later()
    }
    /// Parts a photo from its weight by hand; it is not paired again by itself.
    pub fn unpair(&self, photo: &PhotoId, who: &Who) -> Result<()> {
        let _ = (photo, who);
        later()
    }
    /// Lists the weights that a photo may be paired with by hand, nearest in time first.
    pub fn pairing_choices(&self, photo: &PhotoId, limit: u64) -> Result<Vec<Record>> {
        let _ = (photo, limit);
        later()
    }
    /// Lists what waits as cards, oldest note first.
    pub fn waiting(&self, offset: u64, limit: u64) -> Result<Vec<Card>> {
        let _ = (offset, limit);
        later()
    }
    /// Returns the card of one note; empty `waiting` when all is decided.
    pub fn card(&self, note: &NoteId) -> Result<Card> {
        let _ = (note,);
        later()
    }
    /// Returns the card of a photo that proposes by itself.
    pub fn photo_card(&self, photo: &PhotoId) -> Result<Card> {
        let _ = (photo,);
        later()
    }
    /// Decides on entries, all or none. Where one was decided before, nothing happens and the error says by whom.
    pub fn decide(&self, decisions: &[Decision], who: &Who) -> Result<ActId> {
        let _ = (decisions, who);
        later()
    }
    /// Corrects an entry that was confirmed before; what it was stays in the record.
    pub fn amend(&self, entry: &EntryId, to: Entry, reason: &str, who: &Who) -> Result<ActId> {
        let _ = (entry, to, reason, who);
        later()
    }
    /// Takes back a decision: every entry stands exactly as before it.
    pub fn undo(&self, act: ActId, who: &Who) -> Result<Vec<EntryId>> {
        let _ = (act, who);
        later()
    }
    /// Takes back the last decision of this keeper that still stands.
    pub fn undo_last(&self, who: &Who) -> Result<Vec<EntryId>> {
        let _ = (who,);
        later()
    }
    /// Lists decisions that can be taken back, newest first.
    pub fn undoable(&self, limit: u64) -> Result<Vec<Undoable>> {
        let _ = (limit,);
        later()
    }
    /// Returns the confirmed entries of a bird in a span, oldest first. Only these count.
    pub fn confirmed(&self, bird: &BirdId, span: Span) -> Result<Vec<Confirmed>> {
        let _ = (bird, span);
        later()
    }
    /// Returns confirmed weather in a span: it belongs to no bird.
    pub fn weather(&self, span: Span) -> Result<Vec<Confirmed>> {
        let _ = (span,);
        later()
    }
    /// Returns the weigh-ins of a bird with what followed each, oldest first, from confirmed entries only.
    pub fn days(&self, bird: &BirdId, span: Span) -> Result<Vec<Day>> {
        let _ = (bird, span);
        later()
    }
    /// Returns everything of a bird in a span, waiting and rejected too, oldest first.
    pub fn records(&self, bird: &BirdId, span: Span) -> Result<Vec<Record>> {
        let _ = (bird, span);
        later()
    }
    /// Returns one entry with all that is known of it.
    pub fn record(&self, entry: &EntryId) -> Result<Record> {
        let _ = (entry,);
        later()
    }
    /// Returns all entries of a note.
    pub fn records_of_note(&self, note: &NoteId) -> Result<Vec<Record>> {
        let _ = (note,);
        later()
    }
    /// Returns the life of an entry: proposed, decided, corrected, undone.
    pub fn steps(&self, entry: &EntryId) -> Result<Vec<Step>> {
        let _ = (entry,);
        later()
    }
    /// Searches transcripts, typed notes and confirmed remarks.
    pub fn search(&self, words: &str, limit: u64) -> Result<Vec<Found>> {
        let _ = (words, limit);
        later()
    }
    /// Adds a keeper's name.
    pub fn add_keeper(&self, name: &str, who: &Who) -> Result<()> {
        let _ = (name, who);
        later()
    }
    /// Lists the keepers' names.
    pub fn keepers(&self) -> Result<Vec<String>> {
        later()
    }
    /// Learns a word: heard like this, meant like that; a second meaning replaces the first.
    pub fn learn_word(&self, heard: &str, meaning: &str, who: &Who) -> Result<()> {
        let _ = (heard, meaning, who);
        later()
    }
    /// Forgets a learned word.
    pub fn forget_word(&self, heard: &str, who: &Who) -> Result<()> {
        let _ = (heard, who);
        later()
    }
    /// Lists the learned words.
    pub fn learned_words(&self) -> Result<Vec<LearnedWord>> {
        later()
    }
    /// Returns a setting; `None` when it was never set.
    pub fn setting(&self, key: &str) -> Result<Option<serde_json::Value>> {
        let _ = (key,);
        later()
    }
    /// Sets a setting.
    pub fn set_setting(&self, key: &str, value: &serde_json::Value, who: &Who) -> Result<()> {
        let _ = (key, value, who);
        later()
    }
    /// Records that a known mass was laid on a scale.
    pub fn add_scale_check(
        &self,
        scale: &str,
        known_g: Grams,
        shown_g: Grams,
        at: Moment,
        who: &Who,
    ) -> Result<()> {
        let _ = (scale, known_g, shown_g, at, who);
        later()
    }
    /// Lists scale checks, newest first.
    pub fn scale_checks(&self, limit: u64) -> Result<Vec<ScaleCheck>> {
        let _ = (limit,);
        later()
    }
    /// Tells, in a sentence for the day sheet, of each scale whose last check was off by more than the tolerance set.
    pub fn scale_warnings(&self) -> Result<Vec<String>> {
        later()
    }
    /// Makes a one-time code for pairing a phone and returns its secret, which is nowhere kept.
    pub fn new_pairing_code(&self, valid_for_s: u32) -> Result<String> {
        let _ = (valid_for_s,);
        later()
    }
    /// Exchanges a code for a device; returns it with the secret for its cookie, which is nowhere kept. `None` when the code is wrong, used or too old.
    pub fn pair_device(&self, code: &str, name: &str, keeper: &str) -> Result<Option<(Device, String)>> {
        let _ = (code, name, keeper);
        later()
    }
    /// Finds the device of a cookie's secret, unless it was shut out.
    pub fn device_of(&self, secret: &str) -> Result<Option<Device>> {
        let _ = (secret,);
        later()
    }
    /// Notes that a device was seen just now.
    pub fn device_seen(&self, id: &str) -> Result<()> {
        let _ = (id,);
        later()
    }
    /// Lists paired devices, newest first.
    pub fn devices(&self) -> Result<Vec<Device>> {
        later()
    }
    /// Shuts a device out.
    pub fn revoke_device(&self, id: &str) -> Result<()> {
        let _ = (id,);
        later()
    }
    /// Queues a piece of work; the same kind on the same subject is queued once.
    pub fn add_job(&self, kind: &str, subject: &str) -> Result<()> {
        let _ = (kind, subject);
        later()
    }
    /// Takes the next piece of work, which nobody else then gets; after a crash it is free again.
    pub fn next_job(&self, kinds: &[&str]) -> Result<Option<Job>> {
        let _ = (kinds,);
        later()
    }
    /// Ends a piece of work.
    pub fn job_done(&self, id: i64) -> Result<()> {
        let _ = (id,);
        later()
    }
    /// Puts a piece of work back, to be tried again later.
    pub fn job_failed(&self, id: i64, why: &str, again_in_s: u32) -> Result<()> {
        let _ = (id, why, again_in_s);
        later()
    }
    /// Checks every line of the journal, every original and every row of the view.
    pub fn verify(&self) -> Result<Verified> {
        later()
    }
    /// Rebuilds the view from the journal.
    pub fn rebuild(&self) -> Result<()> {
        later()
    }
}

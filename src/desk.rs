//! The workshop as the hands-free session and the watched folder need it.

use crate::home::Home;
use crate::verbs;
use crate::verbs::listen::{Desk, Entered};
use crate::verbs::watch::Taken;
use crate::workshop::{TakenIn, Workshop};
use anyhow::Result;
use chrono::{DateTime, Local, Utc};
use note::{Kind, NoteId, TakenSource, Transcript};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use store::{About, Decision, NewNote, Source, Store, Who};

/// Takes in what is spoken or dropped, in one keeper's name.
pub struct AtDesk {
    workshop: Arc<Workshop>,
    who: Who,
}

impl AtDesk {
    /// Sits down at the record of a home, as its usual keeper.
    pub fn sit_down(home: Home) -> Result<Self> {
        let store = Store::open(home.path())?;
        let who = verbs::who(&store, None)?;
        Ok(Self { workshop: Workshop::new(store, home), who })
    }

    /// Where sound waits until it has been entered.
    pub fn spool(&self) -> PathBuf {
        self.workshop.store().spool()
    }

    /// Takes one file of a watched folder in, and reads it.
    pub fn take(&self, file: &Path) -> Result<Taken> {
        let taken = self.workshop.take_in(file, &self.who)?;
        // What cannot be read is kept, and the page says what is wrong with it.
        self.workshop.read(&taken)?;
        Ok(match taken {
            TakenIn::Note(id, new) => Taken { id: id.to_string(), kind: "note", known: !new },
            TakenIn::Photo(id, new) => Taken { id: id.to_string(), kind: "photo", known: !new },
        })
    }
}

impl Desk for AtDesk {
    fn hear(&mut self, sound: &Path) -> Result<Transcript> {
        self.workshop.hear_file(sound)
    }

    fn enter(&mut self, sound: &Path, at: DateTime<Utc>, words: Transcript) -> Result<Entered> {
        let store = self.workshop.store();
        let name = sound.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let kept = store.put_file(sound, &About::sound(name).of_type("audio/wav"))?;
        let at = at.with_timezone(&Local).fixed_offset();
        let new = NewNote {
            source: Source::Sound(kept.sha256),
            at,
            taken: Some(TakenSource::Container),
            bird: None,
        };
        let added = store.add_note(new, &self.who)?;
        let id = added.id();
        if added.is_new() {
            store.set_transcript(id, &words)?;
            self.workshop.draft(id)?;
        }
        let has_weight = store.card(id)?.waiting.iter().any(|w| w.proposed.entry.kind() == Kind::Weight);
        Ok(Entered { id: id.to_string(), has_weight, known: !added.is_new() })
    }

    fn withdraw(&mut self, id: &str) -> Result<()> {
        let store = self.workshop.store();
        let waiting = store.card(&NoteId::new(id))?.waiting;
        let rejected: Vec<Decision> =
            waiting.iter().map(|w| Decision::reject(&w.proposed.id, "scratched by voice")).collect();
        if !rejected.is_empty() {
            store.decide(&rejected, &self.who)?;
        }
        Ok(())
    }
}

//! From a proposal to somebody's word.
//!
//! A [`Confirmed`] cannot be built without a [`Verdict`], and a verdict bears a keeper's name.

use crate::{Entry, EntryId};
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

/// An entry that a machine read and nobody has looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Proposed {
    /// Its name from now on.
    pub id: EntryId,
    /// What was read.
    pub entry: Entry,
}

/// A keeper's decision on a proposal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "verdict", rename_all = "lowercase")]
pub enum Verdict {
    /// Right as it stands.
    Accept,
    /// Right after this change.
    Correct {
        /// The entry as it should be.
        entry: Box<Entry>,
    },
    /// Not to be kept.
    Reject {
        /// Why, if said.
        reason: String,
    },
}

/// An entry that a keeper vouches for. Only these count anywhere.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Confirmed {
    id: EntryId,
    entry: Entry,
    by: String,
    decided_at: DateTime<FixedOffset>,
}

impl Proposed {
    /// Applies a verdict; `None` when it was rejected.
    pub fn decide(self, verdict: &Verdict, by: &str, at: DateTime<FixedOffset>) -> Option<Confirmed> {
        let entry = match verdict {
            Verdict::Accept => self.entry,
            Verdict::Correct { entry } => (**entry).clone(),
            Verdict::Reject { .. } => return None,
        };
        Some(Confirmed { id: self.id, entry, by: by.to_owned(), decided_at: at })
    }
}

impl Confirmed {
    /// Returns the entry's name.
    pub fn id(&self) -> &EntryId {
        &self.id
    }
    /// Returns what was confirmed.
    pub fn entry(&self) -> &Entry {
        &self.entry
    }
    /// Returns the keeper who confirmed it.
    pub fn by(&self) -> &str {
        &self.by
    }
    /// Returns when it was confirmed.
    pub fn decided_at(&self) -> DateTime<FixedOffset> {
        self.decided_at
    }
}

//! What a file in the spool is, told by its name alone.

use super::SavedNote;
use crate::segment::{RATE, Segment};
use chrono::{NaiveDateTime, TimeDelta};
use std::path::PathBuf;

/// How the start of a session is written in file names.
const STAMP: &str = "%Y%m%dT%H%M%S%.3fZ";

/// What a file in the spool is, told by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    Live,
    Open,
    Part,
    Note { end: u64, recovered: bool },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Name {
    pub(super) session: NaiveDateTime,
    pub(super) start: u64,
    pub(super) what: What,
}

impl Name {
    pub(super) fn write(self) -> String {
        let stamp = self.session.format(STAMP);
        let start = self.start;
        match self.what {
            What::Live => format!("live-{stamp}-{start:012}.wav"),
            What::Open => format!("open-{stamp}-{start:012}.mark"),
            What::Part => format!("note-{stamp}-{start:012}.wav.part"),
            What::Note { end, recovered: false } => format!("note-{stamp}-{start:012}-{end:012}.wav"),
            What::Note { end, recovered: true } => {
                format!("note-{stamp}-{start:012}-{end:012}-recovered.wav")
            }
        }
    }

    pub(super) fn read(name: &str) -> Option<Self> {
        let (stem, end) = name.split_once("Z-")?;
        let (what, stamp) = stem.split_once('-')?;
        let session = NaiveDateTime::parse_from_str(&format!("{stamp}Z"), STAMP).ok()?;
        let (numbers, ending) = end.split_once('.')?;
        let mut numbers = numbers.split('-');
        let start = numbers.next()?.parse().ok()?;
        let what = match (what, ending) {
            ("live", "wav") => What::Live,
            ("open", "mark") => What::Open,
            ("note", "wav.part") => What::Part,
            ("note", "wav") => What::Note {
                end: numbers.next()?.parse().ok().filter(|end| *end >= start)?,
                recovered: numbers.next() == Some("recovered"),
            },
            _ => return None,
        };
        Some(Self { session, start, what })
    }

    pub(super) fn note_of(self, session: NaiveDateTime) -> Option<Segment> {
        match self.what {
            What::Note { end, .. } if self.session == session => Some(Segment { start: self.start, end }),
            _ => None,
        }
    }

    pub(super) fn saved(self, path: PathBuf) -> SavedNote {
        let (end, recovered) = match self.what {
            What::Note { end, recovered } => (end, recovered),
            _ => (self.start, false),
        };
        let millis = (self.start as f64 * 1000.0 / f64::from(RATE)) as i64;
        SavedNote {
            path,
            started_at: self
                .session
                .checked_add_signed(TimeDelta::try_milliseconds(millis).unwrap_or_default())
                .unwrap_or(self.session)
                .and_utc(),
            seconds: Segment { start: self.start, end }.seconds(),
            recovered,
        }
    }
}

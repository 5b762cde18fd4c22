//! Keepers, learned words, settings, scale checks, and counting.

use crate::journal::Op;
use crate::read::moment;
use crate::{Counts, LearnedWord, Moment, Result, ScaleCheck, Store, StoreError, Who};
use note::Grams;
use rusqlite::{Connection, OptionalExtension};
use serde_json::Value as Json;

/// Setting: how far a photo and a weight may lie apart in time to be paired, minutes.
pub const PAIRING_MINUTES: &str = "pairing minutes";
/// Setting: how far a scale may be off before it is told, grams.
pub const SCALE_TOLERANCE_G: &str = "scale tolerance g";

impl Store {
    /// Counts what there is of everything.
    pub fn counts(&self) -> Result<Counts> {
        self.read(|db| {
            let count = |sql: &str| -> Result<u64> {
                Ok(db.prepare_cached(sql)?.query_row([], |row| row.get::<_, i64>(0))? as u64)
            };
            let tally = |what: &str| -> Result<u64> {
                let n: i64 = db
                    .prepare_cached("SELECT n FROM tally WHERE what = ?1")?
                    .query_row([what], |row| row.get(0))?;
                Ok(n as u64)
            };
            Ok(Counts {
                birds: count("SELECT count(*) FROM bird WHERE gone IS NULL")?,
                notes: tally("note")?,
                photos: tally("photo")?,
                waiting: tally("waiting")?,
                confirmed: tally("confirmed")?,
                failed: count(
                    "SELECT (SELECT count(*) FROM note WHERE stage = 'failed')
                          + (SELECT count(*) FROM photo WHERE stage = 'failed')",
                )?,
                journal_lines: count("SELECT coalesce(max(seq), 0) FROM journal")?,
                jobs: count("SELECT count(*) FROM job")?,
            })
        })
    }

    /// Adds a keeper's name.
    pub fn add_keeper(&self, name: &str, who: &Who) -> Result<()> {
        let name = name.trim();
        if name.is_empty() || name.chars().count() > 60 {
            return Err(StoreError::Refused("a keeper's name has 1 to 60 letters".into()));
        }
        self.write(who, |w| {
            if !keepers(w.db)?.iter().any(|k| k == name) {
                w.push(Op::KeeperAdded { name: name.to_owned() })?;
            }
            Ok(())
        })
    }

    /// Lists the keepers' names.
    pub fn keepers(&self) -> Result<Vec<String>> {
        self.read(keepers)
    }

    /// Learns a word: heard like this, meant like that; a second meaning replaces the first.
    pub fn learn_word(&self, heard: &str, meaning: &str, who: &Who) -> Result<()> {
        let (heard, meaning) = (heard.trim().to_lowercase(), meaning.trim().to_owned());
        if heard.is_empty() || meaning.is_empty() {
            return Err(StoreError::Refused("both the word heard and its meaning are needed".into()));
        }
        self.write(who, |w| w.push(Op::WordLearned { heard, meaning }).map(drop))
    }

    /// Forgets a learned word.
    pub fn forget_word(&self, heard: &str, who: &Who) -> Result<()> {
        let heard = heard.trim().to_lowercase();
        self.write(who, |w| w.push(Op::WordForgotten { heard }).map(drop))
    }

    /// Lists the learned words.
    pub fn learned_words(&self) -> Result<Vec<LearnedWord>> {
        self.read(|db| {
            let mut rows = db.prepare_cached("SELECT heard, meaning, by, at FROM word ORDER BY heard")?;
            let rows = rows.query_map([], |row| {
                Ok(LearnedWord {
                    heard: row.get(0)?,
                    meaning: row.get(1)?,
                    by: row.get(2)?,
                    at: moment(row, 3)?,
                })
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Returns a setting; `None` when it was never set.
    pub fn setting(&self, key: &str) -> Result<Option<Json>> {
        self.read(|db| setting(db, key))
    }

    /// Sets a setting.
    pub fn set_setting(&self, key: &str, value: &Json, who: &Who) -> Result<()> {
        self.write(who, |w| {
            if setting(w.db, key)?.as_ref() != Some(value) {
                w.push(Op::Set { key: key.to_owned(), value: value.clone() })?;
            }
            Ok(())
        })
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
        if known_g.get() <= 0.0 {
            return Err(StoreError::Refused("the known mass must be more than nothing".into()));
        }
        let scale = scale.trim().to_owned();
        self.write(who, |w| {
            let (known_g, shown_g) = (known_g.get(), shown_g.get());
            w.push(Op::ScaleChecked { scale, known_g, shown_g, at }).map(drop)
        })
    }

    /// Lists scale checks, newest first.
    pub fn scale_checks(&self, limit: u64) -> Result<Vec<ScaleCheck>> {
        self.read(|db| scale_checks(db, limit))
    }

    /// Tells, in a sentence for the day sheet, of each scale whose last check was off by more than
    /// the tolerance set: see [`SCALE_TOLERANCE_G`], else a thousandth of the mass, but at least 1 g.
    pub fn scale_warnings(&self) -> Result<Vec<String>> {
        self.read(|db| {
            let set = setting(db, SCALE_TOLERANCE_G)?.and_then(|v| v.as_f64());
            let mut seen: Vec<String> = Vec::new();
            let mut out = Vec::new();
            for check in scale_checks(db, 1000)? {
                if seen.contains(&check.scale) {
                    continue;
                }
                seen.push(check.scale.clone());
                let tolerance = set.unwrap_or_else(|| (check.known_g.get() / 1000.0).max(1.0));
                let off = check.off_by_g();
                // A hair more than the tolerance is what rounding makes of the tolerance itself.
                if off.abs() > tolerance + 1e-9 {
                    out.push(format!(
                        "Scale {}: showed {} for a known {} on {}, {:.1} g too {}. Check it before trusting today's weights.",
                        if check.scale.is_empty() { "(no name)" } else { &check.scale },
                        check.shown_g,
                        check.known_g,
                        check.at.format("%-d %B %Y"),
                        off.abs(),
                        if off > 0.0 { "much" } else { "little" },
                    ));
                }
            }
            Ok(out)
        })
    }
}

fn keepers(db: &Connection) -> Result<Vec<String>> {
    let mut rows = db.prepare_cached("SELECT name FROM keeper ORDER BY name")?;
    let rows = rows.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

pub(crate) fn setting(db: &Connection, key: &str) -> Result<Option<Json>> {
    let text: Option<String> = db
        .prepare_cached("SELECT value FROM setting WHERE key = ?1")?
        .query_row([key], |row| row.get(0))
        .optional()?;
    Ok(text.map(|t| serde_json::from_str(&t)).transpose()?)
}

fn scale_checks(db: &Connection, limit: u64) -> Result<Vec<ScaleCheck>> {
    let mut rows = db.prepare_cached(
        "SELECT seq, scale, known_g, shown_g, at, by FROM scale_check ORDER BY at_ms DESC, seq DESC LIMIT ?1",
    )?;
    let rows = rows.query_map([limit as i64], |row| {
        Ok(ScaleCheck {
            seq: row.get(0)?,
            scale: row.get(1)?,
            known_g: crate::read::grams(row, 2)?,
            shown_g: crate::read::grams(row, 3)?,
            at: moment(row, 4)?,
            by: row.get(5)?,
        })
    })?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

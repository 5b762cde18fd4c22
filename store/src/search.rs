//! Finding words again in what was said, typed and remarked.

use crate::read::moment;
use crate::{Found, Result, Store};
use note::{EntryId, NoteId};
use rusqlite::params;

impl Store {
    /// Searches transcripts, typed notes and confirmed remarks; all words must be there, the last
    /// may be a beginning. Newest first.
    pub fn search(&self, words: &str, limit: u64) -> Result<Vec<Found>> {
        // Every word in quotation marks: nothing a keeper types is taken as search grammar.
        let terms: Vec<String> = words
            .split(|c: char| !c.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .take(20)
            .map(|word| format!("\"{word}\""))
            .collect();
        if terms.is_empty() {
            return Ok(Vec::new());
        }
        let query = format!("{}*", terms.join(" "));
        self.read(|db| {
            let mut rows = db.prepare_cached(
                "SELECT note.id, entry.id, coalesce(note.at, entry.decided),
                        snippet(search, 0, '[', ']', '…', 16)
                 FROM search LEFT JOIN note ON note.seq = search.rowid LEFT JOIN entry ON entry.seq = search.rowid
                 WHERE search MATCH ?1 ORDER BY coalesce(note.at_ms, entry.at_ms) DESC LIMIT ?2",
            )?;
            let rows = rows.query_map(params![query, limit as i64], |row| {
                Ok(Found {
                    note: row.get::<_, Option<String>>(0)?.map(NoteId::new),
                    entry: row.get::<_, Option<String>>(1)?.map(EntryId::new),
                    at: moment(row, 2)?,
                    snippet: row.get(3)?,
                })
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }
}

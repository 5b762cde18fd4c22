//! Paired phones and waiting work: housekeeping, no part of the record. Secrets are kept as sums only.

use crate::journal::{fill, hex, text_hash};
use crate::read::{maybe_moment, moment};
use crate::{Device, Job, Result, Store, StoreError};
use rusqlite::{Connection, OptionalExtension, Row, params};

/// How long a piece of work stays taken before it is thought abandoned, milliseconds.
const TAKEN_MS: i64 = 30 * 60 * 1000;

fn secret() -> Result<String> {
    let mut random = [0u8; 16];
    fill(&mut random)?;
    Ok(hex(&random))
}

fn sum(secret: &str) -> String {
    hex(&text_hash(secret))
}

const DEVICE: &str = "SELECT id, name, keeper, paired, seen, revoked FROM device";

fn device(row: &Row<'_>) -> rusqlite::Result<Device> {
    Ok(Device {
        id: row.get(0)?,
        name: row.get(1)?,
        keeper: row.get(2)?,
        paired: moment(row, 3)?,
        seen: maybe_moment(row, 4)?,
        revoked: maybe_moment(row, 5)?,
    })
}

impl Store {
    /// Makes a one-time code for pairing a phone and returns its secret, which is nowhere kept.
    pub fn new_pairing_code(&self, valid_for_s: u32) -> Result<String> {
        let (code, now) = (secret()?, self.now().timestamp_millis());
        self.housekeep(|db| {
            db.execute("DELETE FROM pairing_code WHERE expires <= ?1", [now])?;
            db.execute(
                "INSERT INTO pairing_code (secret, expires) VALUES (?1, ?2)",
                params![sum(&code), now + i64::from(valid_for_s) * 1000],
            )?;
            Ok(code.clone())
        })
    }

    /// Exchanges a code for a device; returns it with the secret for its cookie, which is nowhere
    /// kept. `None` when the code is wrong, used or too old.
    pub fn pair_device(&self, code: &str, name: &str, keeper: &str) -> Result<Option<(Device, String)>> {
        let (now, cookie, random) = (self.now(), secret()?, secret()?);
        self.housekeep(|db| {
            let expires: Option<i64> = db
                .query_row(
                    "DELETE FROM pairing_code WHERE secret = ?1 RETURNING expires",
                    [sum(code)],
                    |row| row.get(0),
                )
                .optional()?;
            if expires.is_none_or(|e| e <= now.timestamp_millis()) {
                return Ok(None);
            }
            let id = format!("d{}", &random[..12]);
            db.execute(
                "INSERT INTO device (id, name, keeper, secret, paired) VALUES (?1, ?2, ?3, ?4, ?5)",
                params![id, name.trim(), keeper.trim(), sum(&cookie), now.to_rfc3339()],
            )?;
            let made = db.query_row(&format!("{DEVICE} WHERE id = ?1"), [&id], device)?;
            Ok(Some((made, cookie.clone())))
        })
    }

    /// Finds the device of a cookie's secret, unless it was shut out.
    pub fn device_of(&self, secret: &str) -> Result<Option<Device>> {
        self.read(|db| {
            Ok(db
                .prepare_cached(&format!("{DEVICE} WHERE secret = ?1 AND revoked IS NULL"))?
                .query_row([sum(secret)], device)
                .optional()?)
        })
    }

    /// Notes that a device was seen just now; at most once a minute, to spare the disk.
    pub fn device_seen(&self, id: &str) -> Result<()> {
        let now = self.now();
        let seen = self.read(|db| {
            Ok(db
                .query_row(&format!("{DEVICE} WHERE id = ?1"), [id], device)
                .optional()?
                .and_then(|d| d.seen))
        })?;
        if seen.is_some_and(|seen| (now - seen).num_seconds().abs() < 60) {
            return Ok(());
        }
        self.housekeep(|db| {
            db.execute("UPDATE device SET seen = ?2 WHERE id = ?1", params![id, now.to_rfc3339()])?;
            Ok(())
        })
    }

    /// Lists paired devices, newest first.
    pub fn devices(&self) -> Result<Vec<Device>> {
        self.read(|db| {
            let mut rows = db.prepare(&format!("{DEVICE} ORDER BY paired DESC, id"))?;
            let rows = rows.query_map([], device)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Shuts a device out.
    pub fn revoke_device(&self, id: &str) -> Result<()> {
        let now = self.now().to_rfc3339();
        self.housekeep(|db| {
            let changed = db.execute(
                "UPDATE device SET revoked = coalesce(revoked, ?2) WHERE id = ?1",
                params![id, now],
            )?;
            if changed == 0 { Err(StoreError::missing("device", id)) } else { Ok(()) }
        })
    }

    /// Queues a piece of work; the same kind on the same subject is queued once.
    pub fn add_job(&self, kind: &str, subject: &str) -> Result<()> {
        self.housekeep(|db| add_job(db, kind, subject))
    }

    /// Takes the next piece of work of these kinds, which nobody else then gets; after a crash it
    /// is free again within half an hour, or at once with [`Store::resume_work`].
    pub fn next_job(&self, kinds: &[&str]) -> Result<Option<Job>> {
        let now = self.now().timestamp_millis();
        let kinds = serde_json::to_string(kinds)?;
        self.housekeep(|db| {
            Ok(db
                .prepare_cached(
                    "UPDATE job SET taken_until = ?2, tries = tries + 1 WHERE id = (
                        SELECT id FROM job WHERE kind IN (SELECT value FROM json_each(?1))
                           AND not_before <= ?3 AND (taken_until <= ?3 OR taken_until > ?3 + ?4)
                         ORDER BY not_before, id LIMIT 1)
                     RETURNING id, kind, subject, tries",
                )?
                .query_row(params![kinds, now + TAKEN_MS, now, 2 * TAKEN_MS], |row| {
                    Ok(Job { id: row.get(0)?, kind: row.get(1)?, subject: row.get(2)?, tries: row.get(3)? })
                })
                .optional()?)
        })
    }

    /// Ends a piece of work.
    pub fn job_done(&self, id: i64) -> Result<()> {
        self.housekeep(|db| {
            db.execute("DELETE FROM job WHERE id = ?1", [id])?;
            Ok(())
        })
    }

    /// Puts a piece of work back, to be tried again later.
    pub fn job_failed(&self, id: i64, why: &str, again_in_s: u32) -> Result<()> {
        let then = self.now().timestamp_millis() + i64::from(again_in_s) * 1000;
        self.housekeep(|db| {
            db.execute(
                "UPDATE job SET taken_until = 0, not_before = ?2, trouble = ?3 WHERE id = ?1",
                params![id, then, why],
            )?;
            Ok(())
        })
    }

    /// Frees all taken work, and queues what was taken in and then left unread, by a power cut say: recordings as
    /// `hear`, typed notes and heard ones as `draft`, photos as `read_scale`. For the one server of a record when it starts.
    pub fn resume_work(&self, hear: &str, draft: &str, read_scale: &str) -> Result<()> {
        self.housekeep(|db| {
            db.execute("UPDATE job SET taken_until = 0, not_before = 0", [])?;
            db.execute(
                "INSERT OR IGNORE INTO job (kind, subject)
                 SELECT CASE WHEN stage = 'received' AND sha256 IS NOT NULL THEN ?1 ELSE ?2 END, id
                   FROM note WHERE stage IN ('received', 'heard')
                 UNION ALL SELECT ?3, id FROM photo WHERE stage = 'received'",
                params![hear, draft, read_scale],
            )?;
            Ok(())
        })
    }
}

pub(crate) fn add_job(db: &Connection, kind: &str, subject: &str) -> Result<()> {
    db.execute("INSERT OR IGNORE INTO job (kind, subject) VALUES (?1, ?2)", [kind, subject])?;
    Ok(())
}

//! Repairing a damaged database: every journal line that can still be read is read, from the pages
//! themselves where SQLite gives up; the tables are made anew; the damaged file is set aside, not deleted.
//!
//! A line found proves itself by its hash, so nothing but true lines comes back.

use crate::journal::{Hash, Line, Op, ZERO, hex, line_hash, line_of, text_hash, unhex};
use crate::open::{MIGRATIONS, ourselves};
use crate::{DATABASE, Result, Store, StoreError, open};
use note::Sha256;
use rusqlite::{Connection, OpenFlags, params};
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::path::{Path, PathBuf};

/// What a repair did.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Repaired {
    /// Lines that were read.
    pub lines: u64,
    /// Lines that are lost, from and to.
    pub lost: Vec<(i64, i64)>,
    /// Lines that came from the backup.
    pub from_backup: u64,
    /// Where the damaged file lies now.
    pub set_aside: PathBuf,
}

type Found = BTreeMap<i64, Vec<Line>>;

impl Store {
    /// Repairs a damaged database in a data folder. Paired phones must be paired anew afterwards.
    ///
    /// A backup that is told fills in lines that can no longer be read.
    pub fn repair(home: &Path, backup: Option<&Path>) -> Result<Repaired> {
        let file = home.join(DATABASE);
        if !file.exists() && backup.is_none() {
            return Err(StoreError::Refused(format!("there is no {} to repair", file.display())));
        }
        if let Err(error @ (StoreError::Newer { .. } | StoreError::NotOurs(_))) = open::check_form(&file)
            && !is_damaged(&file)
        {
            return Err(error);
        }
        let mut found = Found::new();
        read_by_sql(&file, &mut found);
        read_by_pages(home, &mut found);
        let own = chosen(&found);
        let mut from_backup = 0;
        if let Some(backup) = backup {
            let before: Vec<i64> = own.iter().map(|line| line.seq).collect();
            read_by_sql(&backup.join(DATABASE), &mut found);
            from_backup =
                chosen(&found).iter().filter(|line| before.binary_search(&line.seq).is_err()).count() as u64;
        }
        let lines = chosen(&found);
        if lines.is_empty() {
            return Err(StoreError::Damaged("not one line can be read; restore a backup".into()));
        }
        let fresh = home.join("spool").join("repaired.db");
        open::make_folder(&home.join("spool"))?;
        let _ = fs::remove_file(&fresh);
        let lost = write_anew(&fresh, &lines)?;
        let stamp = chrono::Utc::now().format("%Y%m%dT%H%M%S");
        let set_aside = home.join(format!("{DATABASE}.damaged-{stamp}"));
        for end in ["-wal", "-shm", ""] {
            let (from, to) = (with_end(&file, end), with_end(&set_aside, end));
            if from.exists() {
                fs::rename(&from, &to).map_err(|e| StoreError::file(&from, e))?;
            }
        }
        fs::rename(&fresh, &file).map_err(|e| StoreError::file(&file, e))?;
        crate::evidence::sync_folder(home)?;
        let store = Store::open(home)?;
        store.write(&ourselves(), |w| {
            let head_before = lines.last().map(|line| Sha256::new(line.hash.clone()));
            w.push(Op::Repaired { lost: lost.clone(), head_before }).map(drop)
        })?;
        Ok(Repaired { lines: lines.len() as u64, lost, from_backup, set_aside })
    }
}

fn with_end(file: &Path, end: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

fn is_damaged(file: &Path) -> bool {
    let check = || -> rusqlite::Result<String> {
        let db = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        db.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
    };
    check().map_or(true, |answer| answer != "ok")
}

fn keep(found: &mut Found, line: Line) {
    let same = found.entry(line.seq).or_default();
    if line.holds() && !same.contains(&line) {
        same.push(line);
    }
}

/// Reads lines as far as SQLite can.
fn read_by_sql(file: &Path, found: &mut Found) {
    let read = || -> rusqlite::Result<Vec<Line>> {
        let db = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let mut out = Vec::new();
        let mut rows = db.prepare("SELECT * FROM journal ORDER BY seq")?;
        for line in rows.query_map([], line_of)? {
            match line {
                Ok(line) => out.push(line),
                // The pages tell the rest.
                Err(_) => break,
            }
        }
        Ok(out)
    };
    for line in read().unwrap_or_default() {
        keep(found, line);
    }
}

/// Reads lines from every page that still looks like a leaf of a table, in the file and its WAL.
fn read_by_pages(home: &Path, found: &mut Found) {
    let file = home.join(DATABASE);
    let Ok(bytes) = fs::read(&file) else { return };
    let wal = fs::read(with_end(&file, "-wal")).unwrap_or_default();
    let told = bytes.get(16..18).map_or(0, |b| usize::from(b[0]) << 8 | usize::from(b[1]));
    let size = match told {
        1 => 65_536,
        told if told.is_power_of_two() && told >= 512 => told,
        // The header is gone: what SQLite makes unless told otherwise.
        _ => 4096,
    };
    let mut newest: HashMap<usize, &[u8]> = HashMap::new();
    let mut pages: Vec<(usize, &[u8])> =
        bytes.chunks_exact(size).enumerate().map(|(n, p)| (n + 1, p)).collect();
    for frame in wal.get(32..).unwrap_or_default().chunks_exact(24 + size) {
        let number = u32::from_be_bytes([frame[0], frame[1], frame[2], frame[3]]) as usize;
        newest.insert(number, &frame[24..]);
        pages.push((number, &frame[24..]));
    }
    let overflow = |number: usize, wal_first: bool| -> Option<&[u8]> {
        let in_file = bytes.chunks_exact(size).nth(number.checked_sub(1)?);
        let in_wal = newest.get(&number).copied();
        if wal_first { in_wal.or(in_file) } else { in_file.or(in_wal) }
    };
    for (number, page) in pages {
        for wal_first in [true, false] {
            for line in
                lines_of_page(page, if number == 1 { 100 } else { 0 }, size, &|n| overflow(n, wal_first))
            {
                keep(found, line);
            }
        }
    }
}

/// Reads the cells of a leaf page of a table (SQLite file format, section 1.6: type 13, count of cells
/// at offset 3, pointers from offset 8).
fn lines_of_page<'a>(
    page: &'a [u8],
    start: usize,
    size: usize,
    overflow: &dyn Fn(usize) -> Option<&'a [u8]>,
) -> Vec<Line> {
    let mut out = Vec::new();
    if page.get(start) != Some(&13) {
        return out;
    }
    let two = |at: usize| page.get(at..at + 2).map(|b| usize::from(b[0]) << 8 | usize::from(b[1]));
    let Some(cells) = two(start + 3) else { return out };
    for cell in 0..cells.min(size / 4) {
        let Some(at) = two(start + 8 + 2 * cell) else { break };
        out.extend(line_of_cell(page, at, size, overflow));
    }
    out
}

fn varint(bytes: &[u8], at: &mut usize) -> Option<u64> {
    let mut value = 0u64;
    for i in 0..9 {
        let byte = *bytes.get(*at)?;
        *at += 1;
        if i == 8 {
            return Some(value << 8 | u64::from(byte));
        }
        value = value << 7 | u64::from(byte & 0x7f);
        if byte & 0x80 == 0 {
            return Some(value);
        }
    }
    None
}

fn line_of_cell<'a>(
    page: &'a [u8],
    mut at: usize,
    size: usize,
    overflow: &dyn Fn(usize) -> Option<&'a [u8]>,
) -> Option<Line> {
    let length = usize::try_from(varint(page, &mut at)?).ok().filter(|l| *l < 64 << 20)?;
    let seq = i64::try_from(varint(page, &mut at)?).ok()?;
    // How much of a payload stays on a leaf: the same section of the format.
    let (most, least) = (size - 35, (size - 12) * 32 / 255 - 23);
    let local = if length <= most {
        length
    } else {
        let rest = least + (length - least) % (size - 4);
        if rest <= most { rest } else { least }
    };
    let mut payload = page.get(at..at + local)?.to_vec();
    if local < length {
        let four = |b: &[u8]| b.get(..4).map(|b| u32::from_be_bytes([b[0], b[1], b[2], b[3]]) as usize);
        let mut next = four(page.get(at + local..)?)?;
        while payload.len() < length && next != 0 {
            let more = overflow(next)?;
            next = four(more)?;
            let take = (length - payload.len()).min(size - 4);
            payload.extend_from_slice(more.get(4..4 + take)?);
        }
    }
    let mut head = 0;
    let head_length = usize::try_from(varint(&payload, &mut head)?).ok()?;
    let mut types = Vec::new();
    while head < head_length {
        types.push(varint(&payload, &mut head)?);
    }
    // seq (kept as the row's number), prev, bird, bird_prev, body, hash.
    let [0, prev, bird, bird_prev, body, hash] = types.as_slice() else { return None };
    let mut from = head_length;
    let mut next = |kind: u64, text: bool| -> Option<Option<&[u8]>> {
        if kind == 0 {
            return Some(None);
        }
        if kind < 12 || (kind % 2 == 1) != text {
            return None;
        }
        let length = usize::try_from((kind - 12) / 2).ok()?;
        let value = payload.get(from..from.checked_add(length)?)?;
        from += length;
        Some(Some(value))
    };
    let prev: Hash = next(*prev, false)??.try_into().ok()?;
    let text = |bytes: &[u8]| std::str::from_utf8(bytes).ok().map(str::to_owned);
    let bird = match next(*bird, true)? {
        Some(bytes) => Some(text(bytes)?),
        None => None,
    };
    let bird_prev: Option<Hash> = match next(*bird_prev, false)? {
        Some(bytes) => Some(bytes.try_into().ok()?),
        None => None,
    };
    let body = text(next(*body, true)??)?;
    let hash: Hash = next(*hash, false)??.try_into().ok()?;
    let body_hash = text_hash(&body);
    (line_hash(seq, &prev, bird.as_deref(), bird_prev.as_ref(), &body_hash) == hash).then(|| Line {
        seq,
        prev: hex(&prev),
        bird,
        bird_prev: bird_prev.map(|h| hex(&h)),
        body_sha256: hex(&body_hash),
        hash: hex(&hash),
        body: Some(body),
    })
}

/// Chooses one line for each number: where pages of an abandoned write were found too, the one that
/// follows the line before it.
fn chosen(found: &Found) -> Vec<Line> {
    let mut out: Vec<Line> = Vec::new();
    for lines in found.values() {
        let before = match out.last() {
            Some(last) => last.hash.clone(),
            None => hex(&ZERO),
        };
        let follows = lines.iter().find(|line| line.prev == before);
        let whole = out.last().map_or(1, |last| last.seq + 1);
        match (follows, lines.first()) {
            (Some(line), _) => out.push(line.clone()),
            (None, Some(line)) if line.seq != whole => out.push(line.clone()),
            _ => {}
        }
    }
    out
}

/// Writes lines into a new file and makes its view; returns which are missing.
fn write_anew(file: &Path, lines: &[Line]) -> Result<Vec<(i64, i64)>> {
    open::make_private_file(file)?;
    let mut db = open::connect(file)?;
    let transaction = db.transaction()?;
    for (done, sql) in MIGRATIONS.iter().enumerate() {
        transaction.execute_batch(sql)?;
        transaction.pragma_update(None, "user_version", done as u32 + 1)?;
    }
    transaction.pragma_update(None, "application_id", open::APPLICATION_ID)?;
    // Lines with a gap before them may go in now, and never again.
    let guard: String = transaction.query_row(
        "SELECT sql FROM sqlite_master WHERE name = 'journal_has_no_gap'",
        [],
        |row| row.get(0),
    )?;
    transaction.execute_batch("DROP TRIGGER journal_has_no_gap")?;
    let mut lost = Vec::new();
    let mut last = 0;
    for line in lines {
        if line.seq != last + 1 {
            lost.push((last + 1, line.seq - 1));
        }
        last = line.seq;
        transaction
            .prepare_cached(
                "INSERT INTO journal (seq, prev, bird, bird_prev, body, hash) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute(params![
                line.seq,
                unhex(&line.prev),
                line.bird,
                line.bird_prev.as_deref().and_then(unhex),
                line.body,
                unhex(&line.hash),
            ])?;
    }
    transaction.execute_batch(&guard)?;
    crate::view::rebuild_what_is_there(&transaction)?;
    open::remember_view_form(&transaction)?;
    transaction.commit()?;
    Ok(lost)
}

//! Checking the whole record: every line, every original, every row of the view.

use crate::evidence::{place, sum};
use crate::journal::{Line, ZERO, hex, line_of};
use crate::{DATABASE, Result, Store, Verified, view};
use note::Sha256;
use rusqlite::types::Value;
use rusqlite::{Connection, params};
use std::collections::{HashMap, HashSet};
use std::fs::{self, File};
use std::path::Path;

/// Most sentences told of one kind of trouble; the rest is counted.
const TOLD: usize = 20;

impl Store {
    /// Checks every line of the journal, every original and every row of the view.
    pub fn verify(&self) -> Result<Verified> {
        verify(self.home(), true)
    }

    /// Checks every line of the journal and every row of the view, but no originals.
    pub fn verify_record(&self) -> Result<Verified> {
        verify(self.home(), false)
    }

    /// Rebuilds the view from the journal.
    pub fn rebuild(&self) -> Result<()> {
        self.housekeep(view::rebuild_what_is_there)
    }

    /// Returns the lines of one bird's chain, or of the whole journal, oldest first.
    pub fn journal(&self, bird: Option<&note::BirdId>) -> Result<Vec<Line>> {
        self.read(|db| {
            let (rest, bird) = match bird {
                Some(bird) => ("WHERE bird = ?1", bird.as_str()),
                None => ("WHERE ?1 = ''", ""),
            };
            let mut rows = db.prepare_cached(&format!("SELECT * FROM journal {rest} ORDER BY seq"))?;
            let rows = rows.query_map([bird], line_of)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }
}

struct Troubles {
    out: Vec<String>,
    counts: HashMap<&'static str, usize>,
}

impl Troubles {
    fn tell(&mut self, kind: &'static str, sentence: String) {
        let count = self.counts.entry(kind).or_default();
        *count += 1;
        if *count <= TOLD {
            self.out.push(sentence);
        }
    }

    fn done(mut self) -> Vec<String> {
        let mut more: Vec<_> = self.counts.iter().filter(|(_, n)| **n > TOLD).collect();
        more.sort();
        for (kind, count) in more {
            self.out.push(format!("… and {} more like it ({kind}).", count - TOLD));
        }
        self.out
    }
}

/// Checks the record in a data folder. The journal is replayed into a second view beside the first.
pub(crate) fn verify(home: &Path, originals: bool) -> Result<Verified> {
    let file = home.join(DATABASE);
    let mut troubles = Troubles { out: Vec::new(), counts: HashMap::new() };
    let mut remarks = Vec::new();
    // An unnamed database lives in memory and spills to a private file of its own.
    let db = Connection::open("")?;
    db.set_prepared_statement_cache_capacity(128);
    db.execute_batch("PRAGMA synchronous = OFF; PRAGMA journal_mode = OFF;")?;
    db.execute("ATTACH ?1 AS kept", [file.to_string_lossy()])?;
    db.busy_timeout(std::time::Duration::from_secs(10))?;
    db.execute_batch("BEGIN")?;
    let sound: Vec<String> = {
        let mut rows = db.prepare("PRAGMA kept.integrity_check(20)")?;
        rows.query_map([], |row| row.get(0))?.collect::<rusqlite::Result<_>>()?
    };
    for complaint in sound.iter().filter(|line| *line != "ok") {
        troubles.tell("damaged file", format!("The database file is damaged: {complaint}."));
    }
    view::create(&db)?;
    let chain = check_chain(&db, &mut troubles, &mut remarks)?;
    let rows = compare_views(&db, &mut troubles)?;
    let mut checked = 0;
    if originals {
        checked = check_originals(&db, home, &mut troubles, &mut remarks)?;
    }
    check_rights(home, &mut remarks);
    Ok(Verified {
        lines: chain.0,
        originals: checked,
        rows,
        head: chain.1.map(Sha256::new),
        troubles: troubles.done(),
        remarks,
    })
}

/// Follows the chain and replays each line into the second view.
fn check_chain(
    db: &Connection,
    troubles: &mut Troubles,
    remarks: &mut Vec<String>,
) -> Result<(u64, Option<String>)> {
    let mut lines = db.prepare("SELECT * FROM kept.journal ORDER BY seq")?;
    let mut rows = lines.query([])?;
    let (mut count, mut last, mut prev) = (0u64, 0i64, hex(&ZERO));
    let mut of_birds: HashMap<String, String> = HashMap::new();
    let mut known_losses: Vec<(i64, i64)> = Vec::new();
    let mut gaps: Vec<(i64, i64)> = Vec::new();
    let mut impossible: Vec<String> = Vec::new();
    while let Some(row) = rows.next()? {
        let line = line_of(row)?;
        count += 1;
        let whole = line.seq == last + 1;
        if !whole {
            gaps.push((last + 1, line.seq - 1));
        }
        if !line.holds() {
            troubles
                .tell("changed line", format!("Journal line {} was changed after it was written.", line.seq));
        }
        if whole && line.prev != prev {
            troubles.tell(
                "broken chain",
                format!(
                    "Journal line {} does not follow the line before it: one of them was exchanged.",
                    line.seq
                ),
            );
        }
        if let Some(bird) = &line.bird {
            let before = of_birds.get(bird).cloned().unwrap_or_else(|| hex(&ZERO));
            if gaps.is_empty() && line.bird_prev.as_ref() != Some(&before) {
                troubles.tell(
                    "broken chain",
                    format!("Journal line {} does not follow its bird's line before it.", line.seq),
                );
            }
            of_birds.insert(bird.clone(), line.hash.clone());
        }
        (last, prev) = (line.seq, line.hash);
        let text = line.body.unwrap_or_default();
        match serde_json::from_str::<crate::journal::Body>(&text) {
            Ok(body) => {
                if let crate::journal::Op::Repaired { lost, .. } = &body.what {
                    known_losses.extend(lost);
                }
                if let Err(error) = view::apply(db, last, &body) {
                    impossible.push(format!("Journal line {last} makes no sense here: {error}."));
                }
            }
            Err(_) => troubles.tell("unreadable line", format!("Journal line {last} cannot be read.")),
        }
    }
    for sentence in impossible {
        if known_losses.is_empty() {
            troubles.tell("impossible line", sentence);
        } else {
            remarks.push(format!("{sentence} It speaks of a line lost before a repair."));
        }
    }
    for (from, to) in gaps {
        let which = if from == to { format!("line {from} is") } else { format!("lines {from} to {to} are") };
        if known_losses.contains(&(from, to)) {
            remarks.push(format!("Journal {which} missing since a repair, which said so then."));
        } else {
            troubles.tell("missing line", format!("Journal {which} missing."));
        }
    }
    Ok((count, (count > 0).then_some(prev)))
}

/// Compares the kept view with the replayed one, row by row.
fn compare_views(db: &Connection, troubles: &mut Troubles) -> Result<u64> {
    let mut compared = 0;
    for (table, key) in view::TABLES {
        let what = format!("{key}, * FROM");
        let mut fresh = db.prepare(&format!("SELECT {what} main.{table} ORDER BY {key}"))?;
        let kept = db.prepare(&format!("SELECT {what} kept.{table} ORDER BY {key}"));
        let Ok(mut kept) = kept else {
            troubles.tell("missing table", format!("The table of {table}s is missing: rebuild the view."));
            continue;
        };
        let (mut fresh, mut kept) = (fresh.query([])?, kept.query([])?);
        let (mut a, mut b) = (values(fresh.next()?)?, values(kept.next()?)?);
        loop {
            let order = match (&a, &b) {
                (None, None) => break,
                (Some(_), None) => std::cmp::Ordering::Less,
                (None, Some(_)) => std::cmp::Ordering::Greater,
                (Some(a), Some(b)) => key_order(&a[0], &b[0]),
            };
            compared += 1;
            match order {
                std::cmp::Ordering::Equal => {
                    if a != b {
                        let id = a.as_ref().map(|row| name_of(row)).unwrap_or_default();
                        troubles
                            .tell("changed row", format!("The {table} {id} is not what the journal says."));
                    }
                    (a, b) = (values(fresh.next()?)?, values(kept.next()?)?);
                }
                std::cmp::Ordering::Less => {
                    let id = a.as_ref().map(|row| name_of(row)).unwrap_or_default();
                    troubles.tell(
                        "missing row",
                        format!("The {table} {id} is in the journal but not in the tables."),
                    );
                    a = values(fresh.next()?)?;
                }
                std::cmp::Ordering::Greater => {
                    let id = b.as_ref().map(|row| name_of(row)).unwrap_or_default();
                    troubles.tell(
                        "added row",
                        format!("The {table} {id} is in the tables but not in the journal."),
                    );
                    b = values(kept.next()?)?;
                }
            }
        }
    }
    Ok(compared)
}

fn values(row: Option<&rusqlite::Row<'_>>) -> Result<Option<Vec<Value>>> {
    let Some(row) = row else { return Ok(None) };
    let columns = row.as_ref().column_count();
    Ok(Some((0..columns).map(|at| row.get(at)).collect::<rusqlite::Result<_>>()?))
}

fn key_order(a: &Value, b: &Value) -> std::cmp::Ordering {
    match (a, b) {
        (Value::Integer(a), Value::Integer(b)) => a.cmp(b),
        (Value::Text(a), Value::Text(b)) => a.cmp(b),
        _ => std::cmp::Ordering::Equal,
    }
}

/// The id of a row where it has one, for a sentence.
fn name_of(row: &[Value]) -> String {
    let text = row.iter().skip(1).find_map(|v| if let Value::Text(t) = v { Some(t.as_str()) } else { None });
    let name: String = text.unwrap_or_default().chars().take(40).collect();
    match &row[0] {
        Value::Integer(seq) => format!("{name} (line {seq})"),
        _ => name,
    }
}

fn check_originals(
    db: &Connection,
    home: &Path,
    troubles: &mut Troubles,
    remarks: &mut Vec<String>,
) -> Result<u64> {
    let folder = home.join("evidence");
    let mut known: HashSet<String> = HashSet::new();
    let mut rows = db.prepare("SELECT sha256, bytes FROM main.evidence ORDER BY seq")?;
    let rows = rows.query_map(params![], |row| Ok((row.get::<_, String>(0)?, row.get::<_, i64>(1)?)))?;
    for row in rows {
        let (sha256, bytes) = row?;
        let path = place(&folder, &Sha256::new(sha256.clone()));
        match File::open(&path).map(|mut file| sum(&mut file)) {
            Ok(Ok((found, length))) if found.as_str() == sha256 && length == bytes as u64 => {}
            Ok(Ok(_)) => {
                troubles.tell("changed original", format!("The original {sha256} was changed on disk."));
            }
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                troubles.tell("missing original", format!("The original {sha256} is missing."));
            }
            Ok(Err(e)) | Err(e) => {
                troubles.tell("unreadable original", format!("The original {sha256} cannot be read: {e}."));
            }
        }
        known.insert(sha256);
    }
    let mut strays = 0;
    for inner in fs::read_dir(&folder).into_iter().flatten().flatten() {
        for file in fs::read_dir(inner.path()).into_iter().flatten().flatten() {
            if !known.contains(file.file_name().to_string_lossy().as_ref()) {
                strays += 1;
            }
        }
    }
    if strays > 0 {
        remarks.push(format!(
            "{strays} files in the evidence folder belong to no note or photo: left by an interruption, harmless."
        ));
    }
    Ok(known.len() as u64)
}

#[cfg(unix)]
fn check_rights(home: &Path, remarks: &mut Vec<String>) {
    use std::os::unix::fs::PermissionsExt;
    for (path, what) in [(home.to_owned(), "data folder"), (home.join(DATABASE), "database")] {
        if fs::metadata(&path).is_ok_and(|m| m.permissions().mode() & 0o077 != 0) {
            remarks.push(format!("Others on this machine may read the {what}: {}.", path.display()));
        }
    }
}

#[cfg(not(unix))]
fn check_rights(_: &Path, _: &mut Vec<String>) {}

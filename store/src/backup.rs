//! Backups while the record is in use, and bringing one back.
//!
//! A backup is a folder: the database as one file, the originals under their sums, and
//! `backup.json`, which tells the last line it holds. Done again, only new originals are copied.
//! A locked backup holds the same files as `.age`; its key lies in `key.age` under the passphrase.

use crate::evidence::{ANY_LENGTH, copy_synced, place, sum, sync_folder};
use crate::journal::{Hash, fill, head, hex};
use crate::seal::Key;
use crate::{DATABASE, Moment, Result, Store, StoreError, open, seal, verify};
use note::Sha256;
use rusqlite::{Connection, OpenFlags, OptionalExtension};
use serde::{Deserialize, Serialize};
use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

const MANIFEST: &str = "backup.json";
const KEY: &str = "key.age";
const OPEN_HALF: &str = "key.txt";

/// What `backup.json` says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Manifest {
    /// Form of this file.
    form: u32,
    made: Moment,
    /// Number and hash of the last line.
    last_line: i64,
    head: Sha256,
    originals: u64,
    /// Sum of the database file as it lies in the backup.
    database: Sha256,
    locked: bool,
    /// What was said of the database file that this one is taking the place of; only while that happens.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    before: Option<Box<Manifest>>,
}

/// What a backup or a restoring did.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Copied {
    /// Lines of the journal it holds.
    pub lines: u64,
    /// Hash of the last line.
    pub head: Option<Sha256>,
    /// Originals copied now.
    pub new: u64,
    /// Originals that were there already.
    pub known: u64,
    /// Originals that could not be copied, each as a sentence. The rest is whole.
    pub troubles: Vec<String>,
}

impl Store {
    /// Makes or brings up to date a backup in a folder of its own, while the record is in use.
    ///
    /// With a passphrase it is locked; a locked backup is brought up to date without the passphrase too.
    pub fn backup(&self, to: &Path, passphrase: Option<&str>) -> Result<Copied> {
        if to.starts_with(self.home()) {
            return Err(StoreError::Refused(
                "a backup inside the data folder is lost together with it: choose another disk".into(),
            ));
        }
        private_folder(to)?;
        self.same_record(to)?;
        let key = key_for(to, passphrase)?;
        let draft = Draft::new(&self.spool())?;
        let lines = self.snapshot(&draft.0)?;
        let db = Connection::open_with_flags(&draft.0, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let (last_line, hash) = head(&db)?;

        let mut done =
            Copied { lines, head: Some(Sha256::new(hex(&hash))).filter(|_| lines > 0), ..Copied::default() };
        let mut originals = 0;
        let mut rows = db.prepare("SELECT sha256, bytes FROM evidence ORDER BY seq")?;
        let rows = rows.query_map([], |row| Ok((row.get::<_, String>(0)?, row.get::<_, i64>(1)?)))?;
        for row in rows {
            let (sha256, bytes) = row?;
            let sha256 = Sha256::new(sha256);
            originals += 1;
            let target = named(&place(&to.join("evidence"), &sha256), key.is_some());
            let there = fs::metadata(&target).ok();
            if there.is_some_and(|m| key.is_some() || m.len() == bytes as u64) {
                done.known += 1;
                continue;
            }
            match self.copy_original(&sha256, &target, key.as_ref()) {
                Ok(()) => done.new += 1,
                Err(error @ (StoreError::Full | StoreError::NotWritable(_))) => return Err(error),
                Err(error) => done.troubles.push(format!("The original {sha256} was not copied: {error}.")),
            }
        }
        // The database last: it never speaks of originals that are not there yet. Two files cannot change places at
        // one moment, so the manifest speaks of both databases until the new one is in its place.
        let before = standing(to)?.map(Box::new);
        let mut from = File::open(&draft.0).map_err(|e| StoreError::file(&draft.0, e))?;
        let target = named(&to.join(DATABASE), key.is_some());
        let part = part_of(&target);
        let database = write_part(&mut from, &target, key.as_ref())?;
        let mut manifest = Manifest {
            form: 1,
            made: self.now(),
            last_line,
            head: Sha256::new(hex(&hash)),
            originals,
            database,
            locked: key.is_some(),
            before,
        };
        write_manifest(to, &manifest)?;
        put_in_place(&part, &target)?;
        manifest.before = None;
        write_manifest(to, &manifest)?;
        Ok(done)
    }

    /// Writes a snapshot of the database as one self-contained file; returns its count of lines.
    fn snapshot(&self, to: &Path) -> Result<u64> {
        self.read(|db| {
            let mut target = Connection::open(to)?;
            let backup = rusqlite::backup::Backup::new(db, &mut target)?;
            // All pages in one step: the snapshot holds still and writers go on beside it.
            backup.step(-1)?;
            drop(backup);
            target.execute_batch("PRAGMA journal_mode = DELETE")?;
            // Paired phones and their sums are no part of the record, but belong to this machine.
            let lines: i64 = target.query_row("SELECT count(*) FROM journal", [], |row| row.get(0))?;
            target.close().map_err(|(_, e)| e)?;
            File::open(to).and_then(|f| f.sync_all()).map_err(|e| StoreError::file(to, e))?;
            Ok(lines as u64)
        })
    }

    /// Refuses a folder that holds the backup of another record.
    fn same_record(&self, to: &Path) -> Result<()> {
        let Some(before) = manifest(to)? else {
            // Nothing, or what a first backup that was cut off leaves.
            let begun = |name: &str| {
                ["evidence", KEY, OPEN_HALF].contains(&name)
                    || [KEY, OPEN_HALF, MANIFEST, DATABASE].iter().any(|ours| {
                        [".part", ".age.part"].iter().any(|end| name.strip_suffix(end) == Some(ours))
                    })
            };
            let empty = fs::read_dir(to)
                .map_err(|e| StoreError::file(to, e))?
                .all(|entry| entry.is_ok_and(|e| begun(&e.file_name().to_string_lossy())));
            return if empty {
                Ok(())
            } else {
                Err(StoreError::Refused(format!(
                    "{} holds other files: choose an empty folder for the backup",
                    to.display()
                )))
            };
        };
        let ours: Option<Hash> = self.read(|db| {
            Ok(db
                .query_row("SELECT hash FROM journal WHERE seq = ?1", [before.last_line], |row| row.get(0))
                .optional()?)
        })?;
        if before.last_line > 0 && ours.map(|h| hex(&h)).as_deref() != Some(before.head.as_str()) {
            return Err(StoreError::Refused(format!(
                "{} holds the backup of another record, or of this one before it was restored: it was left as it is; choose another folder",
                to.display()
            )));
        }
        Ok(())
    }

    fn copy_original(&self, sha256: &Sha256, target: &Path, key: Option<&Key>) -> Result<()> {
        let path = self.place_of(sha256);
        let mut from = File::open(&path).map_err(|e| StoreError::file(&path, e))?;
        let (found, _) = sum(&mut from).map_err(|e| StoreError::file(&path, e))?;
        if found != *sha256 {
            return Err(StoreError::Damaged("it was changed on disk".into()));
        }
        io::Seek::rewind(&mut from).map_err(|e| StoreError::file(&path, e))?;
        private_folder(target.parent().unwrap_or(Path::new(".")))?;
        write_through(&mut from, target, key).map(drop)
    }

    /// Brings a backup back into an empty folder, and proves it equal: every line, original and row.
    pub fn restore(from: &Path, home: &Path, passphrase: Option<&str>) -> Result<Copied> {
        let manifest = standing(from)?
            .ok_or_else(|| StoreError::Refused(format!("{} holds no backup", from.display())))?;
        let file = home.join(DATABASE);
        let evidence = home.join("evidence");
        if file.exists() || fs::read_dir(&evidence).is_ok_and(|mut d| d.next().is_some()) {
            return Err(StoreError::Refused(format!(
                "{} holds a record already, and it was left as it is: restore into an empty folder",
                home.display()
            )));
        }
        let key = match (manifest.locked, passphrase) {
            (false, _) => None,
            (true, None) => {
                return Err(StoreError::Passphrase("this backup is locked: tell its passphrase".into()));
            }
            (true, Some(passphrase)) => {
                let path = from.join(KEY);
                let locked = fs::read(&path).map_err(|e| StoreError::file(&path, e))?;
                Some(Key::open_secret(passphrase, &locked)?)
            }
        };
        let spool = home.join("spool");
        for folder in [home, &evidence, &spool] {
            private_folder(folder)?;
        }
        let draft = Draft::new(&spool)?;
        let source = named(&from.join(DATABASE), key.is_some());
        if sum_of(&source)? != manifest.database {
            return Err(StoreError::Damaged(format!("{} is not as it was written", source.display())));
        }
        unlock(&source, &draft.0, key.as_ref())?;
        open::check_form(&draft.0)?;
        let db = Connection::open_with_flags(&draft.0, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let mut done = Copied::default();
        let mut rows = db.prepare("SELECT sha256 FROM evidence ORDER BY seq")?;
        for sha256 in rows.query_map([], |row| row.get::<_, String>(0))? {
            let sha256 = Sha256::new(sha256?);
            let source = named(&place(&from.join("evidence"), &sha256), key.is_some());
            let target = place(&evidence, &sha256);
            private_folder(target.parent().unwrap_or(&evidence))?;
            match unlock(&source, &target, key.as_ref()) {
                Ok(found) if found == sha256 => done.new += 1,
                Ok(_) => {
                    done.troubles.push(format!("The original {sha256} is damaged in the backup."));
                    let _ = fs::remove_file(&target);
                }
                Err(error @ (StoreError::Full | StoreError::NotWritable(_))) => return Err(error),
                Err(error) => {
                    done.troubles.push(format!("The original {sha256} is missing from the backup: {error}."));
                    let _ = fs::remove_file(&target);
                }
            }
        }
        drop(rows);
        drop(db);
        fs::rename(&draft.0, &file).map_err(|e| StoreError::file(&file, e))?;
        sync_folder(home)?;
        drop(Store::open(home)?);
        let found = verify::verify(home, true)?;
        if found.head.as_ref() != Some(&manifest.head) && manifest.last_line > 0 {
            return Err(StoreError::Damaged("the backup ends at another line than it says".into()));
        }
        let known = |trouble: &String| {
            done.troubles
                .iter()
                .any(|t| t.split_whitespace().nth(2).is_some_and(|sha256| trouble.contains(sha256)))
        };
        let others: Vec<String> = found.troubles.iter().filter(|t| !known(t)).cloned().collect();
        done.troubles.extend(others);
        done.lines = found.lines;
        done.head = found.head;
        Ok(done)
    }
}

fn manifest(folder: &Path) -> Result<Option<Manifest>> {
    let path = folder.join(MANIFEST);
    match fs::read(&path) {
        Ok(text) => {
            let manifest: Manifest = serde_json::from_slice(&text).map_err(|_| {
                StoreError::Damaged(format!("{} cannot be read: it is no backup of ours", path.display()))
            })?;
            if manifest.form > 1 {
                return Err(StoreError::Newer { found: manifest.form, known: 1 });
            }
            Ok(Some(manifest))
        }
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(StoreError::file(path, e)),
    }
}

/// What is said of the database file that lies in a backup now, also when a backup was cut off while it
/// exchanged the file; nothing if a first backup was cut off before its file was in place.
fn standing(folder: &Path) -> Result<Option<Manifest>> {
    let Some(manifest) = manifest(folder)? else { return Ok(None) };
    let file = named(&folder.join(DATABASE), manifest.locked);
    match manifest.before.clone() {
        None if !file.exists() => Ok(None),
        Some(before) if sum_of(&file)? == before.database => Ok(Some(*before)),
        _ => Ok(Some(manifest)),
    }
}

fn write_manifest(folder: &Path, manifest: &Manifest) -> Result<()> {
    let text = serde_json::to_vec_pretty(manifest)?;
    write_through(&mut text.as_slice(), &folder.join(MANIFEST), None).map(drop)
}

fn sum_of(path: &Path) -> Result<Sha256> {
    let mut file = File::open(path).map_err(|e| StoreError::file(path, e))?;
    Ok(sum(&mut file).map_err(|e| StoreError::file(path, e))?.0)
}

/// Finds or makes the key of a locked backup.
fn key_for(to: &Path, passphrase: Option<&str>) -> Result<Option<Key>> {
    let (locked, open_half) = (to.join(KEY), to.join(OPEN_HALF));
    let plain = to.join(DATABASE).exists();
    match (locked.exists(), passphrase) {
        (true, Some(passphrase)) => {
            let bytes = fs::read(&locked).map_err(|e| StoreError::file(&locked, e))?;
            Key::open_secret(passphrase, &bytes).map(Some)
        }
        (true, None) => {
            let text = fs::read_to_string(&open_half).map_err(|e| StoreError::file(&open_half, e))?;
            Key::from_open_half(&text).map(Some)
        }
        (false, Some(_)) if plain => Err(StoreError::Refused(format!(
            "{} holds an open backup: choose another folder for the locked one",
            to.display()
        ))),
        (false, Some(passphrase)) => {
            seal::check_passphrase(passphrase)?;
            let key = Key::new()?;
            // The open half first: without the locked secret beside it, it is made anew.
            write_through(&mut key.open_half().as_bytes(), &open_half, None)?;
            write_through(&mut key.seal_secret(passphrase)?.as_slice(), &locked, None)?;
            Ok(Some(key))
        }
        (false, None) => Ok(None),
    }
}

fn named(path: &Path, locked: bool) -> PathBuf {
    if !locked {
        return path.to_owned();
    }
    let mut name = path.as_os_str().to_owned();
    name.push(".age");
    PathBuf::from(name)
}

/// Writes beside the target, syncs, then renames: the target is the old file or the new one, whole.
/// Returns the sum of the file as it lies there.
fn write_through(from: &mut dyn Read, target: &Path, key: Option<&Key>) -> Result<Sha256> {
    let sum = write_part(from, target, key)?;
    put_in_place(&part_of(target), target)?;
    Ok(sum)
}

/// Writes a file whole beside its place; returns its sum.
fn write_part(from: &mut dyn Read, target: &Path, key: Option<&Key>) -> Result<Sha256> {
    let part = part_of(target);
    let written = match key {
        None => copy_synced(from, target, &part, ANY_LENGTH).map(|(sum, _)| sum),
        Some(key) => seal_synced(from, &part, key),
    };
    written.inspect_err(|_| {
        let _ = fs::remove_file(&part);
    })
}

fn put_in_place(part: &Path, target: &Path) -> Result<()> {
    fs::rename(part, target).map_err(|e| StoreError::file(target, e))?;
    sync_folder(target.parent().unwrap_or(Path::new(".")))
}

fn part_of(target: &Path) -> PathBuf {
    let mut name = target.as_os_str().to_owned();
    name.push(".part");
    PathBuf::from(name)
}

fn seal_synced(from: &mut dyn Read, to: &Path, key: &Key) -> Result<Sha256> {
    let mut out = File::create(to).map_err(|e| StoreError::file(to, e))?;
    {
        let mut buffered = io::BufWriter::new(&mut out);
        key.seal(from, &mut buffered)?;
        buffered.flush().map_err(|e| StoreError::file(to, e))?;
    }
    out.sync_all().map_err(|e| StoreError::file(to, e))?;
    sum_of(to)
}

/// Copies a file of a backup, opening it where it is locked; returns the sum of what was written.
fn unlock(source: &Path, target: &Path, key: Option<&Key>) -> Result<Sha256> {
    let from = File::open(source).map_err(|e| StoreError::file(source, e))?;
    let mut from: Box<dyn Read> = match key {
        Some(key) => key.open(io::BufReader::new(from))?,
        None => Box::new(from),
    };
    copy_synced(&mut *from, source, target, ANY_LENGTH).map(|(sum, _)| sum)
}

fn private_folder(folder: &Path) -> Result<()> {
    open::make_folder(folder)
}

/// A file of the spool that goes away, whatever happens.
struct Draft(PathBuf);

impl Draft {
    fn new(spool: &Path) -> Result<Self> {
        let mut random = [0u8; 8];
        fill(&mut random)?;
        Ok(Self(spool.join(format!("{}.db", hex(&random)))))
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.0);
    }
}

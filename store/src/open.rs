//! Opening the record: the folder, the file, its form, and the connections.

use crate::journal::{self, Body, Hash, Op};
use crate::{ActId, Moment, Result, Store, StoreError, Who, view};
use chrono::{SubsecRound, Utc};
use note::BirdId;
use rusqlite::{Connection, OpenFlags, OptionalExtension, TransactionBehavior};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// The migrations in order: each lifts the file's form by one. Never changed, only added to.
pub(crate) const MIGRATIONS: &[&str] = &[include_str!("../sql/0001_record.sql")];

/// "Varv", so that other programs can tell what the file is.
pub(crate) const APPLICATION_ID: i32 = 0x5661_7276;

/// Tells the time; replaced in tests and when a demonstration is made.
pub type Clock = dyn Fn() -> Moment + Send + Sync;

pub(crate) struct Inner {
    pub(crate) home: PathBuf,
    writer: Mutex<Connection>,
    readers: Mutex<Vec<Connection>>,
    clock: Box<Clock>,
}

impl std::fmt::Debug for Inner {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Store").field("home", &self.home).finish_non_exhaustive()
    }
}

/// Another thread's panic leaves no half-written state here: SQLite rolls back.
pub(crate) fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The name under which the program itself writes lines that no keeper asked for.
const SELF: &str = "Varvel";

pub(crate) fn ourselves() -> Who {
    Who::new(SELF, "this machine")
}

impl Store {
    /// Opens the record in a data folder, making it where there is none yet.
    ///
    /// Refuses a file of a newer version, and never makes an empty record beside originals whose
    /// file is missing.
    pub fn open(home: &Path) -> Result<Store> {
        Self::open_with_clock(home, Box::new(|| Utc::now().trunc_subsecs(3).fixed_offset()))
    }

    /// Opens the record with another clock than the system's.
    pub fn open_with_clock(home: &Path, clock: Box<Clock>) -> Result<Store> {
        make_folder(home)?;
        for folder in ["evidence", "spool"] {
            make_folder(&home.join(folder))?;
        }
        let file = home.join(crate::DATABASE);
        if !file.exists() && has_originals(home) {
            return Err(StoreError::Damaged(format!(
                "{} is missing, though originals are in {}",
                file.display(),
                home.join("evidence").display()
            )));
        }
        make_private_file(&file)?;
        let mut db = connect(&file)?;
        bring_up_to_date(&mut db, &file)?;
        Ok(Store {
            inner: std::sync::Arc::new(Inner {
                home: home.to_owned(),
                writer: Mutex::new(db),
                readers: Mutex::new(Vec::new()),
                clock,
            }),
        })
    }

    /// Returns the data folder.
    pub fn home(&self) -> &Path {
        &self.inner.home
    }

    /// Returns the folder for half-done uploads and work.
    pub fn spool(&self) -> PathBuf {
        self.inner.home.join("spool")
    }

    pub(crate) fn now(&self) -> Moment {
        (self.inner.clock)()
    }

    /// Reads in one snapshot.
    pub(crate) fn read<T>(&self, work: impl FnOnce(&Connection) -> Result<T>) -> Result<T> {
        let kept = locked(&self.inner.readers).pop();
        let mut db = match kept {
            Some(db) => db,
            None => connect(&self.inner.home.join(crate::DATABASE))?,
        };
        let snapshot = db.transaction()?;
        let out = work(&snapshot);
        drop(snapshot);
        let mut readers = locked(&self.inner.readers);
        if readers.len() < 8 {
            readers.push(db);
        }
        out
    }

    /// Writes lines in one transaction: all of them are kept and on disk when this returns, or none.
    pub(crate) fn write<T>(&self, who: &Who, work: impl FnOnce(&mut Writer<'_>) -> Result<T>) -> Result<T> {
        self.housekeep(|db| {
            let head = journal::head(db)?;
            let mut writer = Writer { db, who, at: self.now(), head, act: head.0 + 1 };
            work(&mut writer)
        })
    }

    /// Changes what is no part of the record, in one transaction.
    pub(crate) fn housekeep<T>(&self, work: impl FnOnce(&Connection) -> Result<T>) -> Result<T> {
        let mut db = locked(&self.inner.writer);
        let transaction = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let out = work(&transaction)?;
        transaction.commit()?;
        Ok(out)
    }
}

/// One transaction's worth of lines.
pub(crate) struct Writer<'a> {
    pub(crate) db: &'a Connection,
    pub(crate) at: Moment,
    who: &'a Who,
    head: (i64, Hash),
    act: i64,
}

impl Writer<'_> {
    /// Adds a line about the bird that the op names itself.
    pub(crate) fn push(&mut self, what: Op) -> Result<i64> {
        let bird = what.own_bird().cloned();
        self.push_for(bird.as_ref(), what)
    }

    /// Adds a line about a bird that the caller knows.
    pub(crate) fn push_for(&mut self, bird: Option<&BirdId>, what: Op) -> Result<i64> {
        let mut salt = [0u8; 8];
        journal::fill(&mut salt)?;
        let body = Body {
            at: self.at,
            by: self.who.keeper.clone(),
            device: self.who.device.clone(),
            act: self.act,
            salt: journal::hex(&salt),
            what,
        };
        self.head = journal::append(self.db, self.head, bird, &body)?;
        view::apply(self.db, self.head.0, &body)?;
        Ok(self.head.0)
    }

    /// Makes an id unlike any other.
    pub(crate) fn id(&self, letter: char) -> Result<String> {
        journal::new_id(letter, self.at)
    }

    /// Returns the number of this act.
    pub(crate) fn act(&self) -> ActId {
        ActId(self.act)
    }
}

pub(crate) fn make_folder(folder: &Path) -> Result<()> {
    if folder.is_dir() {
        return Ok(());
    }
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder).map_err(|e| StoreError::file(folder, e))
}

fn has_originals(home: &Path) -> bool {
    fs::read_dir(home.join("evidence")).is_ok_and(|mut entries| entries.next().is_some())
}

/// Makes the file with the right to read it for its owner only; SQLite gives its helpers the same.
pub(crate) fn make_private_file(file: &Path) -> Result<()> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    match options.open(file) {
        Ok(_) => Ok(()),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => Ok(()),
        Err(e) => Err(StoreError::file(file, e)),
    }
}

/// Connects with the settings that every connection needs.
pub(crate) fn connect(file: &Path) -> Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let db = Connection::open_with_flags(file, flags)?;
    db.busy_timeout(Duration::from_secs(10))?;
    db.set_prepared_statement_cache_capacity(128);
    // FULL: what was acknowledged survives a power cut, not only a crash.
    db.execute_batch("PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; PRAGMA trusted_schema = OFF;")?;
    Ok(db)
}

fn bring_up_to_date(db: &mut Connection, file: &Path) -> Result<()> {
    let known = MIGRATIONS.len() as u32;
    // Looked at before anything is written, so that a foreign or newer file stays as it is.
    let (form, id) = form_of(db)?;
    let tables: i64 = db.query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get(0))?;
    if id != APPLICATION_ID && (form != 0 || tables != 0) {
        return Err(StoreError::NotOurs(file.to_owned()));
    }
    if form > known {
        return Err(StoreError::Newer { found: form, known });
    }
    let view_form = view_form_of(db, form)?;
    if view_form > view::VIEW_FORM {
        return Err(StoreError::Newer { found: view_form, known: view::VIEW_FORM });
    }
    let mode: String = db.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0))?;
    if mode != "wal" {
        return Err(StoreError::NotWritable(file.to_owned()));
    }
    if form == known && view_form == view::VIEW_FORM {
        return check_last_line(db);
    }
    let transaction = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another program may have done it while this one waited.
    let (form, _) = form_of(&transaction)?;
    for (done, sql) in MIGRATIONS.iter().enumerate().skip(form as usize) {
        transaction.execute_batch(sql)?;
        transaction.pragma_update(None, "user_version", done as u32 + 1)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    if view_form_of(&transaction, known)? != view::VIEW_FORM {
        view::rebuild_what_is_there(&transaction)?;
        remember_view_form(&transaction)?;
    }
    Ok(transaction.commit()?)
}

pub(crate) fn remember_view_form(db: &Connection) -> Result<()> {
    db.execute(
        "INSERT INTO keeping (key, value) VALUES ('view form', ?1) ON CONFLICT (key) DO UPDATE SET value = ?1",
        [view::VIEW_FORM.to_string()],
    )?;
    Ok(())
}

/// Looks at the last line, which is where damage after a power cut would be.
fn check_last_line(db: &Connection) -> Result<()> {
    let last =
        db.query_row("SELECT * FROM journal ORDER BY seq DESC LIMIT 1", [], journal::line_of).optional()?;
    match last {
        Some(line) if !line.holds() => {
            Err(StoreError::Damaged(format!("journal line {} was changed", line.seq)))
        }
        _ => Ok(()),
    }
}

/// Makes sure that a file is ours and not newer, without changing it.
pub(crate) fn check_form(file: &Path) -> Result<()> {
    let db = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    let (form, id) = form_of(&db)?;
    let known = MIGRATIONS.len() as u32;
    match () {
        () if id != APPLICATION_ID => Err(StoreError::NotOurs(file.to_owned())),
        () if form > known => Err(StoreError::Newer { found: form, known }),
        () => Ok(()),
    }
}

fn form_of(db: &Connection) -> Result<(u32, i32)> {
    Ok((
        db.query_row("PRAGMA user_version", [], |row| row.get(0))?,
        db.query_row("PRAGMA application_id", [], |row| row.get(0))?,
    ))
}

fn view_form_of(db: &Connection, form: u32) -> Result<u32> {
    if form == 0 {
        return Ok(0);
    }
    let text: Option<String> =
        db.query_row("SELECT value FROM keeping WHERE key = 'view form'", [], |row| row.get(0)).optional()?;
    Ok(text.and_then(|t| t.parse().ok()).unwrap_or(0))
}

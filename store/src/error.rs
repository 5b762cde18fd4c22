//! What can go wrong, told to a falconer: what happened, what was kept, what to do.

use crate::State;
use note::EntryId;
use std::io;
use std::path::PathBuf;

/// Occurs when the record cannot do what was asked.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// Occurs when the file was written by a newer version.
    #[error(
        "this record was written by a newer Varvel (form {found}, this one knows up to {known}); nothing was touched: install the newer version"
    )]
    Newer {
        /// Form of the file.
        found: u32,
        /// Newest form that this program knows.
        known: u32,
    },
    /// Occurs when the file is no record of ours.
    #[error("{0} is not a Varvel record; nothing was touched: choose another folder")]
    NotOurs(PathBuf),
    /// Occurs when the file or the journal is damaged.
    #[error(
        "the record is damaged ({0}); nothing was thrown away: run `varvel restore --repair`, or restore a backup"
    )]
    Damaged(String),
    /// Occurs when the disk is full.
    #[error(
        "the disk is full; what was confirmed before is safe, this was not kept: make room and do it again"
    )]
    Full,
    /// Occurs when the folder or the file cannot be written.
    #[error(
        "{0} may not be written; nothing was changed: check who owns it and whether the disk is read-only"
    )]
    NotWritable(PathBuf),
    /// Occurs when another program holds the record for too long.
    #[error("another program is writing in this record; nothing was changed: try again in a moment")]
    Busy,
    /// Occurs when a file cannot be read or written for another reason.
    #[error("{path}: {source}")]
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// Occurs when something asked for is not in the record.
    #[error("there is no {what} {id} in this record")]
    NotFound {
        /// What was sought.
        what: &'static str,
        /// Its id.
        id: String,
    },
    /// Occurs when an entry was decided before: by another device, or by the same one sending twice.
    #[error("this entry was already {state} by {by}; nothing was changed")]
    AlreadyDecided {
        /// Which.
        entry: EntryId,
        /// Where it stands.
        state: State,
        /// Who decided.
        by: String,
        /// True when the very same decision was asked for again, so that nothing is lost by going on.
        same: bool,
    },
    /// Occurs when an entry that says something of a bird is to be confirmed before it is told of which.
    #[error("it is not known of which bird this is: choose the bird, then confirm")]
    NoBird {
        /// Which.
        entry: EntryId,
    },
    /// Occurs when there is nothing to take back.
    #[error("there is nothing to undo here: {0}")]
    NothingToUndo(String),
    /// Occurs when a bird of that name is here already.
    #[error("there is already a bird called {0} here: give this one another name")]
    NameTaken(String),
    /// Occurs when what was handed in makes no sense.
    #[error("{0}")]
    Refused(String),
    /// Occurs when a passphrase is wrong or missing.
    #[error("{0}")]
    Passphrase(String),
    /// Occurs when the database engine reports what is none of the above.
    #[error("the record cannot be used just now: {0}")]
    Database(rusqlite::Error),
}

impl StoreError {
    /// Tells of a file that could not be read or written.
    pub(crate) fn file(path: impl Into<PathBuf>, source: io::Error) -> Self {
        let path = path.into();
        match source.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => {
                Self::Full
            }
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => Self::NotWritable(path),
            _ => Self::File { path, source },
        }
    }

    pub(crate) fn missing(what: &'static str, id: impl ToString) -> Self {
        Self::NotFound { what, id: id.to_string() }
    }
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as Code;
        match error.sqlite_error_code() {
            Some(Code::DiskFull) => Self::Full,
            Some(Code::ReadOnly | Code::CannotOpen | Code::PermissionDenied) => {
                Self::NotWritable(PathBuf::from(crate::DATABASE))
            }
            Some(Code::DatabaseCorrupt) => Self::Damaged(error.to_string()),
            Some(Code::NotADatabase) => Self::Damaged("the file is no database any more".into()),
            Some(Code::SystemIoFailure) => Self::File {
                path: PathBuf::from(crate::DATABASE),
                source: io::Error::other(format!("the disk does not answer as it should ({error})")),
            },
            Some(Code::DatabaseBusy | Code::DatabaseLocked) => Self::Busy,
            _ => Self::Database(error),
        }
    }
}

impl From<serde_json::Error> for StoreError {
    fn from(error: serde_json::Error) -> Self {
        Self::Damaged(format!("a stored value cannot be read: {error}"))
    }
}

/// What the crate's functions return.
pub type Result<T> = std::result::Result<T, StoreError>;

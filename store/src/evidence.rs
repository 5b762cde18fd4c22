//! Originals: kept byte for byte under their SHA-256, never altered, never kept twice.

use crate::journal::{Op, fill, hex};
use crate::open::ourselves;
use crate::read::moment;
use crate::{About, Evidence, EvidenceKind, Kept, Result, Store, StoreError};
use note::Sha256;
use rusqlite::{Connection, OptionalExtension, Row};
use sha2::{Digest, Sha256 as Hasher};
use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// Longest original taken, bytes.
const MAX_ORIGINAL: u64 = 2 << 30;

/// Longest hand-over file taken, bytes: ten years of a bird with every note and photo.
pub const MAX_HAND_OVER: u64 = 64 << 30;

/// For our own database, which grows past any original: two hundred birds of ten years take five gigabytes.
pub(crate) const ANY_LENGTH: u64 = u64::MAX;

impl Store {
    /// Keeps an original: on disk and synced before it returns; the same bytes twice are kept once.
    pub fn put(&self, bytes: &[u8], about: &About) -> Result<Kept> {
        self.take(&mut &bytes[..], Path::new("what was handed in"), about)
    }

    /// Keeps a copy of a file as an original.
    pub fn put_file(&self, file: &Path, about: &About) -> Result<Kept> {
        let mut from = File::open(file).map_err(|e| StoreError::file(file, e))?;
        if !from.metadata().map_err(|e| StoreError::file(file, e))?.is_file() {
            return Err(StoreError::Refused(format!("{} is no file", file.display())));
        }
        self.take(&mut from, file, about)
    }

    /// Keeps what a stream brings as an original.
    pub fn put_stream(&self, from: &mut dyn Read, about: &About) -> Result<Kept> {
        self.take(from, Path::new("what was handed in"), about)
    }

    /// Moves a file of the spool into the evidence folder, after checking its sum where one is told.
    ///
    /// Where the sum is another, the file stays where it is and nothing is kept.
    pub fn adopt_file(&self, file: &Path, expected: Option<&Sha256>, about: &About) -> Result<Kept> {
        let mut open = File::open(file).map_err(|e| StoreError::file(file, e))?;
        let (sha256, bytes) = sum(&mut open).map_err(|e| StoreError::file(file, e))?;
        if expected.is_some_and(|expected| *expected != sha256) {
            return Err(StoreError::Refused(format!(
                "{} arrived damaged: send it again",
                about.name.as_deref().unwrap_or("the file")
            )));
        }
        open.sync_all().map_err(|e| StoreError::file(file, e))?;
        drop(open);
        self.settle(file, &sha256, bytes)?;
        self.enter_evidence(sha256, bytes, about)
    }

    /// Tells of an original; `None` when it is not here.
    pub fn evidence(&self, sha256: &Sha256) -> Result<Option<Evidence>> {
        self.read(|db| evidence(db, sha256))
    }

    /// Returns where an original lies, once it is known to be one.
    pub fn evidence_path(&self, sha256: &Sha256) -> Result<PathBuf> {
        self.evidence(sha256)?.ok_or_else(|| StoreError::missing("original", sha256))?;
        Ok(self.place_of(sha256))
    }

    /// Reads an original and checks it against its name.
    pub fn read_evidence(&self, sha256: &Sha256) -> Result<Vec<u8>> {
        let path = self.evidence_path(sha256)?;
        let bytes = fs::read(&path).map_err(|e| StoreError::file(&path, e))?;
        if hex(&Hasher::digest(&bytes)) != sha256.as_str() {
            return Err(StoreError::Damaged(format!("the original {sha256} was changed on disk")));
        }
        Ok(bytes)
    }

    /// Lists the originals, newest first.
    pub fn list_evidence(&self, offset: u64, limit: u64) -> Result<Vec<Evidence>> {
        self.read(|db| {
            let sql = format!("{SELECT} ORDER BY seq DESC LIMIT ?1 OFFSET ?2");
            let mut rows = db.prepare_cached(&sql)?;
            let rows = rows.query_map([limit as i64, offset as i64], of_row)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Where an original lies or would lie: a folder for each pair of first digits keeps folders small.
    pub(crate) fn place_of(&self, sha256: &Sha256) -> PathBuf {
        place(&self.home().join("evidence"), sha256)
    }

    fn take(&self, from: &mut dyn Read, named: &Path, about: &About) -> Result<Kept> {
        let mut random = [0u8; 12];
        fill(&mut random)?;
        let draft = self.spool().join(format!("{}.part", hex(&random)));
        let most = if about.kind == EvidenceKind::HandOver { MAX_HAND_OVER } else { MAX_ORIGINAL };
        let outcome = copy_synced(from, named, &draft, most);
        let (sha256, bytes) = outcome.inspect_err(|_| {
            let _ = fs::remove_file(&draft);
        })?;
        self.settle(&draft, &sha256, bytes).inspect_err(|_| {
            let _ = fs::remove_file(&draft);
        })?;
        self.enter_evidence(sha256, bytes, about)
    }

    /// Moves a synced file to its place; a sound original that is there already wins.
    fn settle(&self, draft: &Path, sha256: &Sha256, bytes: u64) -> Result<()> {
        let place = self.place_of(sha256);
        if let Ok(mut there) = File::open(&place)
            && there.metadata().is_ok_and(|m| m.len() == bytes)
            && sum(&mut there).is_ok_and(|(found, _)| found == *sha256)
        {
            return fs::remove_file(draft).map_err(|e| StoreError::file(draft, e));
        }
        let folder = place.parent().unwrap_or(Path::new("."));
        if !folder.is_dir() {
            make_private(folder)?;
            sync_folder(&self.home().join("evidence"))?;
        }
        read_only(draft).map_err(|e| StoreError::file(draft, e))?;
        // Across file systems a rename fails: copy beside the place, then rename.
        if let Err(error) = fs::rename(draft, &place) {
            if error.kind() != io::ErrorKind::CrossesDevices {
                return Err(StoreError::file(place, error));
            }
            let beside = place.with_extension("part");
            let mut from = File::open(draft).map_err(|e| StoreError::file(draft, e))?;
            copy_synced(&mut from, draft, &beside, ANY_LENGTH)?;
            read_only(&beside).map_err(|e| StoreError::file(&beside, e))?;
            fs::rename(&beside, &place).map_err(|e| StoreError::file(&place, e))?;
            fs::remove_file(draft).map_err(|e| StoreError::file(draft, e))?;
        }
        sync_folder(folder)
    }

    fn enter_evidence(&self, sha256: Sha256, bytes: u64, about: &About) -> Result<Kept> {
        self.write(&ourselves(), |w| {
            let known = evidence(w.db, &sha256)?.is_some();
            if !known {
                w.push(Op::Kept {
                    sha256: sha256.clone(),
                    bytes,
                    kind: about.kind,
                    media_type: about.media_type.clone(),
                    name: about.name.as_deref().map(plain_name),
                })?;
            }
            Ok(Kept { sha256, bytes, known })
        })
    }
}

pub(crate) fn place(evidence: &Path, sha256: &Sha256) -> PathBuf {
    let name = sha256.as_str();
    evidence.join(name.get(..2).unwrap_or("00")).join(name)
}

/// Keeps the last part of a name, without control signs, and not endless.
fn plain_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or(name);
    last.chars().filter(|c| !c.is_control()).take(200).collect()
}

const SELECT: &str = "SELECT sha256, bytes, kind, media_type, name, received FROM evidence";

pub(crate) fn evidence(db: &Connection, sha256: &Sha256) -> Result<Option<Evidence>> {
    let sql = format!("{SELECT} WHERE sha256 = ?1");
    Ok(db.prepare_cached(&sql)?.query_row([sha256.as_str()], of_row).optional()?)
}

pub(crate) fn of_row(row: &Row<'_>) -> rusqlite::Result<Evidence> {
    let kind: String = row.get(2)?;
    Ok(Evidence {
        sha256: Sha256::new(row.get::<_, String>(0)?),
        bytes: row.get::<_, i64>(1)? as u64,
        kind: EvidenceKind::from_word(&kind).unwrap_or(EvidenceKind::Other),
        media_type: row.get(3)?,
        name: row.get(4)?,
        received: moment(row, 5)?,
    })
}

/// Computes the sum and length of what is left in a stream.
pub(crate) fn sum(from: &mut dyn Read) -> io::Result<(Sha256, u64)> {
    let mut hasher = Hasher::new();
    let mut buffer = vec![0u8; 1 << 16];
    let mut bytes = 0;
    loop {
        match from.read(&mut buffer) {
            Ok(0) => return Ok((Sha256::new(hex(&hasher.finalize())), bytes)),
            Ok(n) => {
                hasher.update(&buffer[..n]);
                bytes += n as u64;
            }
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
}

/// Copies at most so many bytes into a new file and syncs it; returns its sum and length.
pub(crate) fn copy_synced(from: &mut dyn Read, named: &Path, to: &Path, most: u64) -> Result<(Sha256, u64)> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut out = options.open(to).map_err(|e| StoreError::file(to, e))?;
    let mut hasher = Hasher::new();
    let mut buffer = vec![0u8; 1 << 16];
    let mut bytes = 0;
    loop {
        let n = match from.read(&mut buffer) {
            Ok(0) => break,
            Ok(n) => n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(StoreError::file(named, e)),
        };
        bytes += n as u64;
        if bytes > most {
            return Err(StoreError::Refused(format!(
                "{} is longer than {:.0} GB: too long to be taken in",
                named.display(),
                most as f64 / f64::from(1 << 30)
            )));
        }
        hasher.update(&buffer[..n]);
        out.write_all(&buffer[..n]).map_err(|e| StoreError::file(to, e))?;
    }
    out.sync_all().map_err(|e| StoreError::file(to, e))?;
    Ok((Sha256::new(hex(&hasher.finalize())), bytes))
}

pub(crate) fn sync_folder(folder: &Path) -> Result<()> {
    // Not every system lets a folder be opened; there the rename itself is durable.
    match File::open(folder) {
        Ok(open) => open.sync_all().or_else(|e| {
            if e.kind() == io::ErrorKind::InvalidInput { Ok(()) } else { Err(StoreError::file(folder, e)) }
        }),
        Err(_) => Ok(()),
    }
}

fn make_private(folder: &Path) -> Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder).map_err(|e| StoreError::file(folder, e))
}

fn read_only(file: &Path) -> io::Result<()> {
    let mut permissions = fs::metadata(file)?.permissions();
    #[cfg(unix)]
    std::os::unix::fs::PermissionsExt::set_mode(&mut permissions, 0o400);
    #[cfg(not(unix))]
    permissions.set_readonly(true);
    fs::set_permissions(file, permissions)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_longer_than_may_be_is_refused_and_no_other() {
        let folder = tempfile::tempdir().unwrap();
        let copied =
            |most| copy_synced(&mut &[7; 1000][..], Path::new("note.wav"), &folder.path().join("a"), most);
        assert!(
            matches!(copied(999), Err(StoreError::Refused(why)) if why.starts_with("note.wav is longer"))
        );
        assert_eq!(copied(1000).unwrap().1, 1000);
        assert_eq!(copied(ANY_LENGTH).unwrap().1, 1000);
    }
}

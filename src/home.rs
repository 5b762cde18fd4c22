//! Where everything of one keeper's lies: one folder, found once.

use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};

/// The data folder, with its models folder.
#[derive(Clone, Debug)]
pub struct Home {
    path: PathBuf,
    models: PathBuf,
}

impl Home {
    /// Finds the folder: `VARVEL_HOME`, else the desktop's place for data, and creates it.
    pub fn find() -> Result<Self> {
        let path = match std::env::var_os("VARVEL_HOME") {
            Some(path) if !path.is_empty() => PathBuf::from(path),
            _ => data_dir()?.join("varvel"),
        };
        Self::at(path)
    }

    /// Takes a given folder, and creates it.
    pub fn at(path: PathBuf) -> Result<Self> {
        let models = match std::env::var_os("VARVEL_MODELS") {
            Some(models) if !models.is_empty() => PathBuf::from(models),
            _ => path.join("models"),
        };
        std::fs::create_dir_all(&path).with_context(|| {
            format!(
                "The folder {} cannot be made. Give another with VARVEL_HOME, or mend its rights.",
                path.display()
            )
        })?;
        Ok(Self { path, models })
    }

    /// The folder itself.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Tells whether a record was ever begun here.
    pub fn has_record(&self) -> bool {
        self.path.join("varvel.db").exists()
    }

    /// Where speech models are kept: `VARVEL_MODELS`, else `models` in the data folder.
    pub fn models_dir(&self) -> &Path {
        &self.models
    }
}

fn data_dir() -> Result<PathBuf> {
    if let Some(dir) = std::env::var_os("XDG_DATA_HOME").filter(|dir| Path::new(dir).is_absolute()) {
        return Ok(dir.into());
    }
    match std::env::var_os("HOME") {
        Some(home) if !home.is_empty() => Ok(PathBuf::from(home).join(".local/share")),
        _ => bail!(
            "No home folder is known to this system. Say where to keep the record: VARVEL_HOME=/a/folder varvel …"
        ),
    }
}

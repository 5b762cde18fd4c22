//! A keeper's folder for one test, and the program run in it.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A data folder that goes with the test.
pub struct Keeper {
    folder: tempfile::TempDir,
}

impl Keeper {
    /// Makes an empty one.
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder for the test") }
    }

    /// The data folder.
    pub fn home(&self) -> &Path {
        self.folder.path()
    }

    /// Runs the program here, in a fixed zone, with the models of this machine.
    pub fn run(&self, words: &[&str]) -> Output {
        self.command(words).output().expect("varvel runs")
    }

    /// Runs the program and expects it to say that all went well; returns its standard output.
    #[track_caller]
    pub fn ok(&self, words: &[&str]) -> String {
        let out = self.run(words);
        let (stdout, stderr) = (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
        assert!(out.status.success(), "varvel {words:?}: {}\n{stdout}\n{stderr}", out.status);
        stdout.into_owned()
    }

    fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_varvel"));
        command
            .args(words)
            .current_dir(root())
            .env("VARVEL_HOME", self.home())
            .env("TZ", "UTC")
            .env("VARVEL_THREADS", "1");
        if std::env::var_os("VARVEL_MODELS").is_none() {
            command.env("VARVEL_MODELS", models());
        }
        command
    }
}

/// The repository.
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Where the speech models of this machine are kept.
fn models() -> PathBuf {
    let data = std::env::var_os("XDG_DATA_HOME").map(PathBuf::from);
    let data =
        data.unwrap_or_else(|| PathBuf::from(std::env::var_os("HOME").expect("a home")).join(".local/share"));
    data.join("varvel/models")
}

/// Labelled sets that may lie beside the checkout; says so where they are absent.
pub fn beside(path: &str) -> Option<PathBuf> {
    let folder = std::env::var_os("VARVEL_SHARED").map_or_else(|| root().join("../shared"), PathBuf::from);
    let found = folder.join(path);
    if !found.exists() {
        eprintln!("{} is not here: this part of the test was left out", found.display());
    }
    found.exists().then_some(found)
}

/// JSON lines.
#[track_caller]
pub fn lines(text: &str) -> Vec<serde_json::Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}"))).collect()
}

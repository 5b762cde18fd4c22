//! A folder that a phone's sync drops recordings and photos into.
//!
//! [`Tracker`] is pure: it is shown what lies in the folder and told the time, and says what may be
//! taken. A file may be taken once it has held still: the same size and the same time of change
//! over several looks. Each is offered once; if it changes afterwards, once more. Whether the same
//! content came before under another name is for the caller to know, by its hash.
//!
//! Absent on purpose: notices from the system, which network and sync folders do not give, and files
//! beside the taken ones: nothing is ever written into the folder.

use std::{
    collections::BTreeMap,
    fs, io,
    path::{Path, PathBuf},
    time::{Duration, SystemTime},
};

/// How often the folder is looked at.
pub const LOOK_EVERY: Duration = Duration::from_secs(2);

/// Folders within folders deeper than this are left alone.
const DEEPEST: usize = 6;

/// How long files are waited for and tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Settings {
    /// How long a file must have held still.
    pub still_for: Duration,
    /// How long to wait before a file that failed is tried again; doubled each time.
    pub retry_after: Duration,
    /// How often a file is tried before it is left alone until it changes.
    pub tries: u32,
}

impl Default for Settings {
    fn default() -> Self {
        Self { still_for: Duration::from_secs(4), retry_after: Duration::from_secs(30), tries: 4 }
    }
}

/// A file as it was seen at one look.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// Where it lies.
    pub path: PathBuf,
    /// Its size in bytes.
    pub size: u64,
    /// When it was last changed, if the system knows.
    pub changed: Option<SystemTime>,
}

/// What is known of one file.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Track {
    size: u64,
    changed: Option<SystemTime>,
    since: Duration,
    state: State,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Still growing, or not yet still for long enough.
    Settling,
    /// Offered to the caller, who has not answered.
    Offered { failures: u32 },
    /// Taken; not offered again unless it changes.
    Taken,
    /// Failed this often; offered again at the time given.
    Failed { failures: u32, again_at: Duration },
    /// Failed too often; left alone unless it changes.
    GivenUp,
}

/// Knows which files in a folder are ready to be taken.
#[derive(Debug, Clone)]
pub struct Tracker {
    settings: Settings,
    files: BTreeMap<PathBuf, Track>,
}

impl Tracker {
    /// Makes a tracker that has seen nothing.
    pub fn new(settings: Settings) -> Self {
        Self { settings, files: BTreeMap::new() }
    }

    /// Is shown what lies in the folder at a time on a clock that only goes forward, and returns what is ready.
    ///
    /// Files that vanished are forgotten. What is returned must be answered with [`Tracker::taken`] or
    /// [`Tracker::failed`] before it can be offered again.
    pub fn look(&mut self, now: Duration, seen: &[Seen]) -> Vec<PathBuf> {
        let present: BTreeMap<&Path, &Seen> = seen.iter().map(|s| (s.path.as_path(), s)).collect();
        self.files.retain(|path, _| present.contains_key(path.as_path()));
        let mut ready = Vec::new();
        for file in present.values().filter(|f| is_wanted(&f.path)) {
            let fresh = Track { size: file.size, changed: file.changed, since: now, state: State::Settling };
            let track = self.files.entry(file.path.clone()).or_insert_with(|| fresh.clone());
            if (track.size, track.changed) != (file.size, file.changed) {
                *track = fresh;
                continue;
            }
            let failures = match track.state {
                State::Settling
                    if now.saturating_sub(track.since) >= self.settings.still_for && track.size > 0 =>
                {
                    0
                }
                State::Failed { failures, again_at } if now >= again_at => failures,
                _ => continue,
            };
            track.state = State::Offered { failures };
            ready.push(file.path.clone());
        }
        ready
    }

    /// Is told that an offered file was taken, or was known already.
    pub fn taken(&mut self, path: &Path) {
        if let Some(track) = self.files.get_mut(path) {
            track.state = State::Taken;
        }
    }

    /// Is told at the given time that an offered file could not be taken; returns whether it will be tried again.
    pub fn failed(&mut self, now: Duration, path: &Path) -> bool {
        let Some(track) = self.files.get_mut(path) else { return false };
        let failures = match track.state {
            State::Offered { failures } => failures + 1,
            _ => return false,
        };
        let again = failures < self.settings.tries;
        track.state = if again {
            let wait = self.settings.retry_after * 2_u32.saturating_pow(failures - 1);
            State::Failed { failures, again_at: now + wait }
        } else {
            State::GivenUp
        };
        again
    }
}

/// Endings of files that could hold a spoken note or a photo of the scale.
const WANTED: [&str; 27] = [
    "3ga", "3gp", "3gpp", "aac", "aif", "aiff", "amr", "awb", "caf", "flac", "m4a", "mka", "mp3", "mp4",
    "oga", "ogg", "opus", "wav", "weba", "webm", "wma", "heic", "heif", "jpeg", "jpg", "png", "webp",
];

/// Returns whether a file could be a recording or a photo that is complete.
///
/// Sync programs write under another name first: hidden, or with an ending of their own.
pub fn is_wanted(path: &Path) -> bool {
    let name = path.file_name().map(|n| n.to_string_lossy().to_lowercase()).unwrap_or_default();
    let hidden = name.starts_with('.') || name.starts_with('~');
    let ending = Path::new(&name).extension().map(|e| e.to_string_lossy().into_owned()).unwrap_or_default();
    !hidden && WANTED.contains(&ending.as_str())
}

/// Lists the files in a folder and the folders within it, hidden ones aside.
///
/// Links are not followed. What vanishes while it is being listed is left out.
///
/// # Errors
///
/// Fails if the folder itself cannot be read.
pub fn list(folder: &Path) -> io::Result<Vec<Seen>> {
    let mut found = Vec::new();
    list_into(folder, 0, &mut found)?;
    found.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(found)
}

fn list_into(folder: &Path, depth: usize, found: &mut Vec<Seen>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let Ok(entry) = entry else { continue };
        let Ok(about) = entry.metadata() else { continue };
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        if about.is_dir() && !hidden && depth < DEEPEST {
            // A folder within may be closed to us or vanish; the rest still counts.
            let _ = list_into(&entry.path(), depth + 1, found);
        } else if about.is_file() {
            found.push(Seen { path: entry.path(), size: about.len(), changed: about.modified().ok() });
        }
    }
    Ok(())
}

//! Any phone's recording to 16 kHz samples, and when it was made.
//!
//! What a file is, is told by its content, never by its name. Symphonia takes the containers apart and decodes
//! all but Opus (libopus does that) and what has no free decoder here (AMR, HE-AAC): for these the system's
//! `ffmpeg` is asked when there is one. A recording that breaks off gives what came before the break.
//!
//! Absent on purpose: the microphone, words, and any opinion on what is spoken.

mod boxes;
mod clock;
mod decode;
mod ffmpeg;
mod resample;

use chrono::{DateTime, Local};
use note::Taken;
use std::fs::File;
use std::io::{Cursor, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// Samples a second in a [`Sound`].
pub const SAMPLE_RATE: u32 = 16_000;

/// A recording, decoded.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// One channel at [`SAMPLE_RATE`], -1 to 1.
    pub samples: Vec<f32>,
    /// Length, seconds.
    pub seconds: f64,
    /// Short name of the container: `ogg`, `isomp4`, `matroska`, `wave`.
    pub container: String,
    /// Short name of the codec: `opus`, `aac`, `flac`.
    pub codec: String,
    /// True when the recording breaks off in the middle; all before the break is here.
    pub broken_off: bool,
    /// When it was made, and how that is known.
    pub recorded: Option<Taken>,
}

/// What a recording may be at most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Bytes of the file.
    pub bytes: u64,
    /// Seconds of sound.
    pub seconds: f64,
    /// Loudest sample below which a recording counts as silent, of full scale.
    pub silence: f32,
}

impl Default for Limits {
    fn default() -> Self {
        Self { bytes: 1 << 30, seconds: 3600.0, silence: 1e-4 }
    }
}

/// Why a recording cannot be used. The file itself is never touched.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs)]
pub enum SoundError {
    /// Occurs when the file cannot be read at all.
    #[error("{} cannot be read: {source}", path.display())]
    Disk { path: PathBuf, source: std::io::Error },
    /// Occurs when the file has no bytes.
    #[error("the file is empty: nothing was recorded, or the copying was cut short")]
    Empty,
    /// Occurs when the file is no sound in any known container.
    #[error("this is not a sound recording, or it is damaged from its first byte on")]
    NotSound,
    /// Occurs when the container is known and the codec is not, and ffmpeg could not help.
    #[error("the {codec} sound in this recording cannot be decoded here: {hint}")]
    Unsupported { codec: String, hint: &'static str },
    /// Occurs when a recording is broken and nothing can be saved from it.
    #[error("the recording is damaged ({why}) and no sound could be saved from it")]
    Damaged { why: String },
    /// Occurs when a recording decodes to no sound at all.
    #[error("the recording holds no sound: it was probably cut off before anything was written")]
    NoSamples,
    /// Occurs when a recording is silent from end to end.
    #[error("the recording is silent: was the microphone covered, muted, or not allowed to listen?")]
    Silent,
    /// Occurs when a recording is longer than the limit.
    #[error("the recording is longer than {limit_s:.0} seconds: cut it into shorter ones")]
    TooLong { limit_s: f64 },
    /// Occurs when a file is larger than the limit.
    #[error("the file has {bytes} bytes, more than the {limit} that are taken")]
    TooLarge { bytes: u64, limit: u64 },
}

/// Reads a recording from a file, within the usual limits.
pub fn read(path: &Path) -> Result<Sound, SoundError> {
    read_within(path, &Limits::default())
}

/// Reads a recording from a file.
pub fn read_within(path: &Path, limits: &Limits) -> Result<Sound, SoundError> {
    let disk = |source| SoundError::Disk { path: path.to_owned(), source };
    let mut file = File::open(path).map_err(disk)?;
    let data = file.metadata().map_err(disk)?;
    if data.is_dir() {
        return Err(disk(std::io::ErrorKind::IsADirectory.into()));
    }
    size(data.len(), limits)?;
    let told = clock::container_time(&mut file);
    let lead_s = boxes::lead_in(&mut file);
    file.seek(SeekFrom::Start(0)).map_err(disk)?;
    let decoded = match decode::decode(Box::new(file), limits) {
        Err(why) if why.ffmpeg_may_help() => ffmpeg::decode(path, limits).ok_or(why)?,
        other => other?,
    };
    let name = path.file_name().and_then(|n| n.to_str()).unwrap_or_default();
    let changed = data.modified().ok().map(DateTime::<Local>::from);
    finish(without_lead_in(decoded, lead_s), limits, told, name, changed)
}

/// Reads a recording from memory, within the usual limits; `name` may tell when it was made, nothing else.
pub fn read_bytes(bytes: &[u8], name: &str) -> Result<Sound, SoundError> {
    read_bytes_within(bytes, name, &Limits::default())
}

/// Reads a recording from memory.
pub fn read_bytes_within(bytes: &[u8], name: &str, limits: &Limits) -> Result<Sound, SoundError> {
    size(bytes.len() as u64, limits)?;
    let told = clock::container_time(&mut Cursor::new(bytes));
    let lead_s = boxes::lead_in(&mut Cursor::new(bytes));
    let decoded = match decode::decode(Box::new(Cursor::new(bytes.to_vec())), limits) {
        Err(why) if why.ffmpeg_may_help() => on_disk(bytes, limits).ok_or(why)?,
        other => other?,
    };
    finish(without_lead_in(decoded, lead_s), limits, told, name, None)
}

/// Lends ffmpeg the bytes as a file.
fn on_disk(bytes: &[u8], limits: &Limits) -> Option<decode::Decoded> {
    let mut file = tempfile::NamedTempFile::new().ok()?;
    file.write_all(bytes).ok()?;
    ffmpeg::decode(file.path(), limits)
}

fn size(bytes: u64, limits: &Limits) -> Result<(), SoundError> {
    match bytes {
        0 => Err(SoundError::Empty),
        bytes if bytes > limits.bytes => Err(SoundError::TooLarge { bytes, limit: limits.bytes }),
        _ => Ok(()),
    }
}

impl SoundError {
    fn ffmpeg_may_help(&self) -> bool {
        matches!(self, Self::NotSound | Self::Unsupported { .. } | Self::Damaged { .. } | Self::NoSamples)
    }
}

/// Drops what an AAC encoder puts before the first sample. Opus and what ffmpeg decodes come without it.
fn without_lead_in(mut decoded: decode::Decoded, lead_s: Option<f64>) -> decode::Decoded {
    let lead = (lead_s.unwrap_or(0.0) * f64::from(SAMPLE_RATE)).round() as usize;
    // An edit beyond the end is no edit.
    if decoded.codec == "aac" && lead < decoded.samples.len() {
        decoded.samples.drain(..lead);
    }
    decoded
}

fn finish(
    decoded: decode::Decoded,
    limits: &Limits,
    told: Option<DateTime<chrono::FixedOffset>>,
    name: &str,
    changed: Option<DateTime<Local>>,
) -> Result<Sound, SoundError> {
    let decode::Decoded { samples, container, codec, broken_off, tagged } = decoded;
    if samples.is_empty() {
        return Err(SoundError::NoSamples);
    }
    if samples.iter().all(|s| s.abs() < limits.silence) {
        return Err(SoundError::Silent);
    }
    let seconds = samples.len() as f64 / f64::from(SAMPLE_RATE);
    let recorded = clock::recorded(tagged.or(told), name, changed);
    Ok(Sound { samples, seconds, container, codec, broken_off, recorded })
}

/// Reads exactly `len` bytes, or nothing.
fn take(from: &mut impl Read, len: usize) -> Option<Vec<u8>> {
    let mut bytes = vec![0; len];
    from.read_exact(&mut bytes).ok()?;
    Some(bytes)
}

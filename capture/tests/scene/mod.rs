//! Sound scenes with a known schedule: spoken notes, pauses between them, noise under all of it.

#![allow(dead_code)] // Each test that includes this uses its own part of it.

use std::path::{Path, PathBuf};

use capture::{
    segment::{Cut, RATE, Segment, Segmenter, Settings},
    sound,
};

/// Level at which notes are spoken in a scene: the mean of their active parts, in dB below full scale.
const SPOKEN_DBFS: f32 = -24.0;

/// Returns the folder of shared sound, or says that there is none.
pub fn shared(part: &str) -> Option<PathBuf> {
    let root = std::env::var_os("VARVEL_SHARED")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared"), PathBuf::from);
    let folder = root.join("sound").join(part);
    if folder.is_dir() {
        return Some(folder);
    }
    println!("skipped: no folder {}", folder.display());
    None
}

/// Returns the sound files in a folder, in order.
pub fn files(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder can be read")
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|e| e != "jsonl"))
        .collect();
    files.sort();
    files
}

/// A spoken note with the bounds of what is audible in it, in samples.
#[derive(Clone)]
pub struct Spoken {
    pub name: String,
    pub samples: Vec<f32>,
    pub audible: Segment,
}

/// Reads a note and brings its active parts to the common level.
pub fn spoken(path: &Path) -> Spoken {
    let sound = sound::read(path).expect("a readable note");
    let mut samples = sound.samples;
    let levels: Vec<f32> =
        samples.chunks(160).map(|c| c.iter().map(|x| x * x).sum::<f32>() / 160.0 + 1e-9).collect();
    let mut sorted = levels.clone();
    sorted.sort_by(f32::total_cmp);
    // Audible is what lies within 35 dB of the loudest twentieth.
    let threshold = sorted[sorted.len() * 95 / 100] * 10_f32.powf(-3.5);
    let active: Vec<usize> = (0..levels.len()).filter(|&i| levels[i] > threshold).collect();
    let mean = active.iter().map(|&i| levels[i]).sum::<f32>() / active.len() as f32;
    let gain = 10_f32.powf(SPOKEN_DBFS / 20.0) / mean.sqrt();
    samples.iter_mut().for_each(|x| *x *= gain);
    Spoken {
        name: path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default(),
        samples,
        audible: Segment { start: active[0] as u64 * 160, end: (active[active.len() - 1] as u64 + 1) * 160 },
    }
}

/// Reads noise, without the silence some files begin with, and returns its kind with it.
pub fn noise(path: &Path) -> (String, Vec<f32>) {
    let samples = sound::read(path).expect("readable noise").samples;
    let from = samples.iter().position(|x| x.abs() > 1e-3).unwrap_or(0);
    let name = path.file_stem().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    (name, samples[from..].to_vec())
}

/// A scene and when which note is audible in it.
pub struct Scene {
    pub samples: Vec<i16>,
    pub schedule: Vec<(String, Segment)>,
}

/// Lays notes out with 5 to 10 seconds between them, and noise under it all at so many dB below the speech.
pub fn lay_out(notes: &[Spoken], under: Option<(&[f32], f32)>, seed: u64) -> Scene {
    let mut dice = Dice(seed);
    let mut samples = vec![0.0_f32; 8 * RATE as usize];
    let mut schedule = Vec::new();
    for note in notes {
        let at = samples.len() as u64;
        schedule.push((
            note.name.clone(),
            Segment { start: at + note.audible.start, end: at + note.audible.end },
        ));
        samples.extend_from_slice(&note.samples);
        let gap = (5.0 + 5.0 * dice.roll()) * f64::from(RATE);
        samples.extend(std::iter::repeat_n(0.0, gap as usize));
    }
    if let Some((noise, below_db)) = under {
        let mean = noise.iter().map(|x| x * x).sum::<f32>() / noise.len() as f32;
        let gain = 10_f32.powf((SPOKEN_DBFS - below_db) / 20.0) / mean.sqrt();
        samples.iter_mut().zip(noise.iter().cycle()).for_each(|(s, n)| *s += gain * n);
    }
    Scene { samples: to_i16(&samples), schedule }
}

/// Returns noise alone, over and over until it is long enough, louder or softer by a factor.
pub fn noise_alone(noise: &[f32], gain: f32, seconds: usize) -> Vec<i16> {
    let all: Vec<f32> = noise.iter().cycle().take(seconds * RATE as usize).map(|x| x * gain).collect();
    to_i16(&all)
}

fn to_i16(samples: &[f32]) -> Vec<i16> {
    samples.iter().map(|x| (x * 32768.0).round().clamp(-32768.0, 32767.0) as i16).collect()
}

/// Cuts sound as a session does, in blocks of a twentieth of a second.
pub fn cut(samples: &[i16], settings: Settings) -> Vec<Segment> {
    let mut segmenter = Segmenter::new(settings);
    let mut cuts: Vec<Cut> = samples.chunks(800).flat_map(|block| segmenter.push(block)).collect();
    cuts.extend(segmenter.finish());
    cuts.into_iter()
        .filter_map(|c| match c {
            Cut::Closed(segment) => Some(segment),
            _ => None,
        })
        .collect()
}

/// How found segments compare with the schedule.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Score {
    /// Notes played.
    pub played: usize,
    /// Notes found, whole or in part.
    pub found: usize,
    /// Notes whose audible beginning was cut by more than a tenth of a second.
    pub start_cut: usize,
    /// Notes whose audible end was cut by more than a tenth of a second.
    pub end_cut: usize,
    /// Notes found as more than one.
    pub split: usize,
    /// Segments holding more than one note.
    pub merged: usize,
    /// Segments holding none.
    pub extra: usize,
}

impl Score {
    /// Adds up two scores.
    pub fn plus(self, other: Self) -> Self {
        Self {
            played: self.played + other.played,
            found: self.found + other.found,
            start_cut: self.start_cut + other.start_cut,
            end_cut: self.end_cut + other.end_cut,
            split: self.split + other.split,
            merged: self.merged + other.merged,
            extra: self.extra + other.extra,
        }
    }
}

/// Compares found segments with the schedule.
pub fn score(schedule: &[(String, Segment)], found: &[Segment]) -> Score {
    let tenth = u64::from(RATE) / 10;
    let shares = |a: &Segment, b: &Segment| a.end.min(b.end).saturating_sub(a.start.max(b.start)) > 3 * tenth;
    let mut score = Score { played: schedule.len(), ..Score::default() };
    for (_, played) in schedule {
        let parts: Vec<&Segment> = found.iter().filter(|f| shares(f, played)).collect();
        let (Some(first), Some(last)) = (parts.first(), parts.last()) else { continue };
        score.found += 1;
        score.start_cut += usize::from(first.start > played.start + tenth);
        score.end_cut += usize::from(last.end + tenth < played.end);
        score.split += usize::from(parts.len() > 1);
    }
    for segment in found {
        match schedule.iter().filter(|(_, played)| shares(segment, played)).count() {
            0 => score.extra += 1,
            1 => {}
            _ => score.merged += 1,
        }
    }
    score
}

/// Even numbers from 0 to 1 that are the same each time (splitmix64).
pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

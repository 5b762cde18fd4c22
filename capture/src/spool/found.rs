//! Notes in the sound that a crash left behind.

use super::SpoolError;
use super::disk::read_samples;
use crate::segment::{Cut, Segment, Segmenter, Settings};
use std::path::PathBuf;

/// Sound without a gap, from left-over live files.
pub(super) struct Piece {
    pub(super) start: u64,
    pub(super) samples: Vec<i16>,
}

impl Piece {
    /// Returns what of it comes after a sample.
    pub(super) fn after(mut self, sample: u64) -> Self {
        let gone = sample.saturating_sub(self.start).min(self.samples.len() as u64);
        self.samples.drain(..gone as usize);
        self.start += gone;
        self
    }
}

/// Joins live files, given with their first samples in order, where they meet or overlap.
pub(super) fn stitch(live: &[(u64, &PathBuf)]) -> Result<Vec<Piece>, SpoolError> {
    let mut pieces: Vec<Piece> = Vec::new();
    for (start, path) in live {
        let samples = read_samples(path).map_err(|source| SpoolError::write(path, source))?;
        match pieces.last_mut() {
            Some(last) if last.start + last.samples.len() as u64 >= *start => {
                let have = (last.start + last.samples.len() as u64 - start) as usize;
                if have < samples.len() {
                    last.samples.extend_from_slice(&samples[have..]);
                }
            }
            _ => pieces.push(Piece { start: *start, samples }),
        }
    }
    Ok(pieces)
}

/// Finds the notes in left-over sound, rather one too many than one too few.
pub(super) fn notes_in(piece: &Piece, settings: Settings, opened: Option<u64>) -> Vec<Segment> {
    let mut segmenter = Segmenter::new(settings);
    let mut cuts = segmenter.push(&piece.samples);
    let pending = segmenter.pending_from();
    cuts.extend(segmenter.finish());
    let end = piece.samples.len() as u64;
    let mut found: Vec<Segment> = cuts
        .into_iter()
        .filter_map(|cut| match cut {
            Cut::Closed(s) => Some(s),
            _ => None,
        })
        .chain(pending.map(|start| Segment { start, end }))
        .map(|s| Segment { start: piece.start + s.start, end: piece.start + s.end })
        .collect();
    // What the session itself had recognised as a note is one, whatever a fresh ear thinks of it.
    if let Some(start) = opened.filter(|o| (piece.start..piece.start + end).contains(o)) {
        match found.iter_mut().find(|s| s.end > start) {
            Some(segment) => segment.start = segment.start.min(start),
            None => found.push(Segment { start, end: piece.start + end }),
        }
    }
    found.retain(|s| !s.is_empty());
    found
}

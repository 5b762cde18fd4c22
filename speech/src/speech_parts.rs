//! Finds where somebody speaks: trims silence, and cuts long recordings at pauses.

use crate::engine::SAMPLE_RATE;
use earshot::Detector;
use std::ops::Range;

/// A stretch of a recording that is read in one go.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// Its samples, `[start, end)`.
    pub samples: Range<usize>,
    /// Whether the detector heard a voice in it.
    pub voiced: bool,
}

/// Samples that the detector takes at once: 16 ms.
const FRAME: usize = 256;
/// The detector's own default threshold.
const VOICE: f32 = 0.5;
/// Kept before the first and after the last voiced frame.
const MARGIN: usize = SAMPLE_RATE * 3 / 10;
/// The longest part, below the model's window of thirty seconds.
const LONGEST: usize = SAMPLE_RATE * 28;
/// A pause worth cutting at.
const PAUSE: usize = SAMPLE_RATE * 2 / 5;

/// Splits a recording into the parts to be read.
///
/// A recording without any voice comes back whole (in parts of bearable length) and marked so: noise can
/// drown the detector and not the model.
pub fn speech_parts(samples: &[f32]) -> Vec<Part> {
    let voiced = voiced_runs(samples);
    let (Some(first), Some(last)) = (voiced.first(), voiced.last()) else {
        return cut(0..samples.len(), &[])
            .into_iter()
            .map(|samples| Part { samples, voiced: false })
            .collect();
    };
    let whole = first.start.saturating_sub(MARGIN)..(last.end + MARGIN).min(samples.len());
    cut(whole, &voiced).into_iter().map(|samples| Part { samples, voiced: true }).collect()
}

/// Returns the stretches of voice, as samples.
fn voiced_runs(samples: &[f32]) -> Vec<Range<usize>> {
    let mut detector = Detector::default_boxed();
    let mut runs: Vec<Range<usize>> = Vec::new();
    let loudest = samples.iter().fold(0.0f32, |m, s| m.max(s.abs()));
    // The detector takes full scale for granted; a phone held far away does not reach it.
    let gain = if loudest > 0.0 { (0.9 / loudest).min(30.0) } else { 1.0 };
    let mut frame = [0.0; FRAME];
    for (i, chunk) in samples.chunks_exact(FRAME).enumerate() {
        for (to, from) in frame.iter_mut().zip(chunk) {
            *to = (from * gain).clamp(-1.0, 1.0);
        }
        if detector.predict_f32(&frame) < VOICE {
            continue;
        }
        let here = i * FRAME..(i + 1) * FRAME;
        match runs.last_mut() {
            Some(run) if run.end == here.start => run.end = here.end,
            _ => runs.push(here),
        }
    }
    runs
}

/// Cuts `whole` into pieces of at most [`LONGEST`], in the middle of the last good pause where there is one.
fn cut(whole: Range<usize>, voiced: &[Range<usize>]) -> Vec<Range<usize>> {
    let mut pieces = Vec::new();
    let mut start = whole.start;
    while whole.end - start > LONGEST {
        let latest = start + LONGEST;
        let pauses = voiced.windows(2).map(|pair| pair[0].end..pair[1].start);
        let inside = pauses.filter(|p| p.start > start + LONGEST / 3 && p.start + p.len() / 2 < latest);
        let best = inside.max_by_key(|p| (p.len().min(PAUSE), p.start));
        let end = best.map_or(latest, |p| p.start + p.len() / 2);
        pieces.push(start..end);
        start = end;
    }
    pieces.push(start..whole.end);
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_stretch_is_one_piece() {
        let whole = 100..SAMPLE_RATE;
        assert_eq!(cut(whole.clone(), &[]), std::slice::from_ref(&whole));
    }

    #[test]
    fn a_long_one_is_cut_in_its_last_long_pause() {
        let s = SAMPLE_RATE;
        let voiced = [0..10 * s, 11 * s..20 * s, 20 * s + s / 2..27 * s, 27 * s + 100..40 * s];
        let pieces = cut(0..40 * s, &voiced);
        assert_eq!(pieces, [0..20 * s + s / 4, 20 * s + s / 4..40 * s]);
    }

    #[test]
    fn without_a_pause_it_is_cut_at_the_limit_and_nothing_is_lost() {
        let pieces = cut(7..LONGEST * 2 + 99, &[]);
        assert_eq!(pieces.first().map(|p| p.start), Some(7));
        assert_eq!(pieces.last().map(|p| p.end), Some(LONGEST * 2 + 99));
        assert!(pieces.windows(2).all(|p| p[0].end == p[1].start));
        assert!(pieces.iter().all(|p| p.len() <= LONGEST));
    }

    #[test]
    fn silence_has_no_voice() {
        let parts = speech_parts(&vec![0.0; SAMPLE_RATE * 2]);
        assert_eq!(parts, [Part { samples: 0..SAMPLE_RATE * 2, voiced: false }]);
    }
}

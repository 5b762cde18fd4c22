//! Any rate to ours, piece by piece, so that an hour of sound needs no hour's memory twice.

use super::{SAMPLE_RATE, SoundError};
use audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Fft, FixedSync, Resampler as _};

const PIECE: usize = 4096;

pub(super) struct Resampler {
    rate: u32,
    /// None where the rate is ours already.
    fft: Option<Fft<f32>>,
    waiting: Vec<f32>,
    taken: usize,
    written: usize,
    to_skip: usize,
    out: Vec<f32>,
}

impl Resampler {
    pub(super) fn new(rate: u32) -> Result<Self, SoundError> {
        let fft = match rate {
            SAMPLE_RATE => None,
            _ => Some(
                Fft::new(rate as usize, SAMPLE_RATE as usize, piece(rate), 1, FixedSync::Both)
                    .map_err(failed)?,
            ),
        };
        let to_skip = fft.as_ref().map_or(0, |f| f.output_delay());
        let room = fft.as_ref().map_or(0, |f| f.output_frames_max());
        Ok(Self { rate, fft, waiting: Vec::new(), taken: 0, written: 0, to_skip, out: vec![0.0; room] })
    }

    pub(super) fn rate(&self) -> u32 {
        self.rate
    }

    pub(super) fn push(&mut self, mono: &[f32], to: &mut Vec<f32>) -> Result<(), SoundError> {
        self.taken += mono.len();
        if self.fft.is_none() {
            to.extend_from_slice(mono);
            return Ok(());
        }
        self.waiting.extend_from_slice(mono);
        self.run(to, usize::MAX)
    }

    /// Gives what is still inside; the result is exactly as long as the input was.
    pub(super) fn finish(mut self, to: &mut Vec<f32>) -> Result<(), SoundError> {
        let whole = (self.taken as f64 * f64::from(SAMPLE_RATE) / f64::from(self.rate)).round() as usize;
        while self.fft.is_some() && self.written < whole {
            let piece = self.fft.as_ref().map_or(0, |f| f.input_frames_next());
            self.waiting.resize(self.waiting.len().next_multiple_of(piece).max(piece), 0.0);
            self.run(to, whole)?;
        }
        Ok(())
    }

    fn run(&mut self, to: &mut Vec<f32>, most: usize) -> Result<(), SoundError> {
        let Some(fft) = &mut self.fft else { return Ok(()) };
        let mut from = 0;
        while self.waiting.len() - from >= fft.input_frames_next() {
            let piece = fft.input_frames_next();
            let input = InterleavedSlice::new(&self.waiting[from..from + piece], 1, piece).map_err(failed)?;
            let room = self.out.len();
            let mut output = InterleavedSlice::new_mut(&mut self.out, 1, room).map_err(failed)?;
            let (_, made) = fft.process_into_buffer(&input, &mut output, None).map_err(failed)?;
            let skip = made.min(self.to_skip);
            self.to_skip -= skip;
            let keep = (made - skip).min(most - self.written);
            to.extend_from_slice(&self.out[skip..skip + keep]);
            self.written += keep;
            from += piece;
        }
        self.waiting.drain(..from);
        Ok(())
    }
}

/// Returns the length of a piece for which the resampler's delay, half a piece of its output, is a whole number.
fn piece(rate: u32) -> usize {
    let (mut unit, mut rest) = (rate, SAMPLE_RATE);
    while rest != 0 {
        (unit, rest) = (rest, unit % rest);
    }
    let step = (rate / unit) as usize;
    step * PIECE.div_ceil(step).next_multiple_of(2)
}

fn failed(why: impl std::fmt::Display) -> SoundError {
    SoundError::Damaged { why: format!("its sample rate cannot be changed: {why}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Root mean square of the difference to a sine, away from the edges.
    fn error(rate: u32, hertz: f64) -> f64 {
        let sine = |i: usize, rate: u32| {
            (std::f64::consts::TAU * hertz * i as f64 / f64::from(rate)).sin() as f32 * 0.5
        };
        let input: Vec<f32> = (0..rate as usize * 2).map(|i| sine(i, rate)).collect();
        let mut resampler = Resampler::new(rate).unwrap();
        let mut out = Vec::new();
        for piece in input.chunks(777) {
            resampler.push(piece, &mut out).unwrap();
        }
        resampler.finish(&mut out).unwrap();
        assert_eq!(out.len(), 2 * SAMPLE_RATE as usize, "{rate}");
        let middle = 2000..out.len() - 2000;
        let sum: f64 = middle.clone().map(|i| f64::from(out[i] - sine(i, SAMPLE_RATE)).powi(2)).sum();
        (sum / middle.len() as f64).sqrt()
    }

    #[test]
    fn a_tone_stays_itself_at_every_rate_that_phones_write() {
        for rate in [8_000, 11_025, 12_000, 16_000, 22_050, 24_000, 32_000, 44_100, 48_000, 88_200, 96_000] {
            assert!(error(rate, 440.0) < 1e-3, "{rate}: {}", error(rate, 440.0));
        }
    }
}

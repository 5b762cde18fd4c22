//! Recordings in, believed transcripts out.

use crate::engine::{Engine, Pass, Reading, SAMPLE_RATE, Times};
use crate::guard::{self, faults};
use crate::speech_parts::{Part, speech_parts};
use crate::words::words;
use crate::{Prompt, SpeechError};
use note::{Transcript, Word};
use std::path::Path;
use std::time::Instant;

/// How an [`Ear`] works. The defaults are the measured choice.
#[derive(Clone, Debug)]
pub struct Options {
    /// The model's name, as it goes into transcripts.
    pub model: String,
    /// SHA-256 of the model file, hex, as it goes into transcripts.
    pub model_sha256: String,
    /// Threads to use.
    pub threads: usize,
    /// Seconds of encoder window beyond the sound; `None` reads at the full window at once.
    pub margin_s: Option<f64>,
    /// Beam width of the first reading; one is greedy.
    pub beam: u32,
    /// The most readings of one part.
    pub readings: usize,
    /// How words get their times.
    pub times: Times,
    /// Whether the model was taught to write nothing where nobody speaks.
    pub knows_silence: bool,
}

impl Default for Options {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Self {
            model: String::new(),
            model_sha256: String::new(),
            threads: cores.min(4),
            margin_s: Some(0.64),
            beam: 1,
            readings: 4,
            times: Times::Attention,
            knows_silence: false,
        }
    }
}

/// Says how well a reading fits what is known, from 0 to 1; at 1 nothing better is sought.
pub type Judge<'a> = &'a dyn Fn(&Transcript) -> f32;

/// A loaded speech model, ready for any number of recordings. Nothing is carried from one to the next.
pub struct Ear {
    engine: Engine,
    options: Options,
    readings: u64,
}

impl std::fmt::Debug for Ear {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Ear").field("options", &self.options).finish_non_exhaustive()
    }
}

/// A reading with what speaks for and against it.
struct Weighed {
    faults: usize,
    liked: f32,
    reading: Reading,
}

impl Weighed {
    fn says_something(&self) -> bool {
        self.reading.text().contains(char::is_alphanumeric)
    }

    /// Fewer faults first, then what the judge likes, then what the model itself believes.
    fn beats(&self, other: &Self) -> bool {
        let order = other.faults.cmp(&self.faults).then(self.liked.total_cmp(&other.liked));
        order.then(self.reading.mean_logprob().total_cmp(&other.reading.mean_logprob())).is_gt()
    }
}

/// The beam of the later readings.
const WIDE_BEAM: u32 = 5;
/// Quieter than this (of full scale) is silence, whatever the detector says.
const SILENCE: f32 = 1e-4;

impl Ear {
    /// Loads a model file of whisper.cpp's form.
    pub fn load(path: &Path, options: Options) -> Result<Self, SpeechError> {
        let threads = options.threads.max(1);
        Ok(Self { engine: Engine::load(path, threads, options.times)?, options, readings: 0 })
    }

    /// Counts the readings done so far: more than one a part means that a reading was not believed.
    pub fn readings(&self) -> u64 {
        self.readings
    }

    /// Reads a recording: samples at 16 kHz, one channel, of any length.
    pub fn hear(&mut self, samples: &[f32], prompt: &Prompt) -> Result<Transcript, SpeechError> {
        self.hear_judged(samples, prompt, &|_| 1.0)
    }

    /// Reads a recording and, where the judge is not content with a part, reads that part in other ways and
    /// keeps the reading that the judge likes best.
    pub fn hear_judged(
        &mut self,
        samples: &[f32],
        prompt: &Prompt,
        judge: Judge<'_>,
    ) -> Result<Transcript, SpeechError> {
        let began = Instant::now();
        if samples.is_empty() {
            return Err(SpeechError::Empty);
        }
        if samples.iter().all(|s| s.abs() < SILENCE) {
            return Err(SpeechError::NoSpeech);
        }
        let mut whole = self.blank(samples.len());
        for part in speech_parts(samples) {
            let Some(reading) = self.best(&part, samples, prompt, judge)? else { continue };
            if !whole.text.is_empty() {
                whole.text.push(' ');
            }
            whole.text.push_str(&reading.text());
            whole.words.extend(part_words(&reading, &part));
        }
        if whole.words.is_empty() {
            return Err(SpeechError::NoSpeech);
        }
        whole.took_s = began.elapsed().as_secs_f64();
        Ok(whole)
    }

    /// Reads a recording in up to `most` ways and returns the different transcripts, the likeliest first.
    pub fn hear_candidates(
        &mut self,
        samples: &[f32],
        prompt: &Prompt,
        most: usize,
    ) -> Result<Vec<Transcript>, SpeechError> {
        let first = self.hear(samples, prompt)?;
        let mut list = vec![first];
        for pass in self.after_doubt().into_iter().chain(self.after_faults()).take(most.saturating_sub(1)) {
            let began = Instant::now();
            let tokens = self.engine.tokens(prompt.text())?;
            let mut other = self.blank(samples.len());
            for part in speech_parts(samples) {
                let reading = self.engine.read(&samples[part.samples.clone()], &pass, &tokens)?;
                other.text = format!("{} {}", other.text, reading.text()).trim().to_owned();
                other.words.extend(part_words(&reading, &part));
            }
            other.took_s = began.elapsed().as_secs_f64();
            if !other.words.is_empty() && list.iter().all(|t| t.text != other.text) {
                list.push(other);
            }
        }
        Ok(list)
    }

    /// The first reading of a part.
    fn first(&self) -> Pass {
        Pass {
            margin_s: self.options.margin_s,
            beam: self.options.beam,
            temperature: 0.0,
            prompted: true,
            may_be_empty: self.options.knows_silence,
        }
    }

    /// What is tried after a reading with faults: the model's full window, then more beams, then another mind.
    fn after_faults(&self) -> Vec<Pass> {
        let full = Pass { margin_s: None, ..self.first() };
        vec![full, Pass { beam: WIDE_BEAM, ..full }, Pass { temperature: 0.4, prompted: false, ..full }]
    }

    /// What is tried after a reading that is sound and does not fit: cheap other readings of the same window.
    fn after_doubt(&self) -> Vec<Pass> {
        let first = self.first();
        vec![Pass { beam: WIDE_BEAM, ..first }, Pass { prompted: false, ..first }]
    }

    /// Reads one part until a reading has no fault and contents the judge, and returns the best one.
    fn best(
        &mut self,
        part: &Part,
        samples: &[f32],
        prompt: &Prompt,
        judge: Judge<'_>,
    ) -> Result<Option<Reading>, SpeechError> {
        let tokens = self.engine.tokens(prompt.text())?;
        let mut best = self.weigh(&self.first(), part, samples, prompt, &tokens, judge)?;
        if self.options.knows_silence && !best.says_something() {
            return Ok(None);
        }
        let others = match (best.faults, best.liked >= 1.0) {
            (0, true) => Vec::new(),
            (0, false) => self.after_doubt(),
            _ => self.after_faults(),
        };
        for pass in others.iter().take(self.options.readings.saturating_sub(1)) {
            let other = self.weigh(pass, part, samples, prompt, &tokens, judge)?;
            if other.beats(&best) {
                best = other;
            }
            if best.faults == 0 && best.liked >= 1.0 {
                break;
            }
        }
        let nobody = !best.says_something() || (!part.voiced && best.faults > 0);
        Ok((!nobody).then_some(best.reading))
    }

    fn weigh(
        &mut self,
        pass: &Pass,
        part: &Part,
        samples: &[f32],
        prompt: &Prompt,
        tokens: &[i32],
        judge: Judge<'_>,
    ) -> Result<Weighed, SpeechError> {
        let sound = &samples[part.samples.clone()];
        let reading = self.engine.read(sound, pass, tokens)?;
        self.readings += 1;
        let found = faults(&guard::Reading {
            text: &reading.text(),
            tokens: reading.tokens.len(),
            seconds: sound.len() as f64 / SAMPLE_RATE as f64,
            mean_logprob: reading.mean_logprob(),
            prompt: if pass.prompted { prompt.text() } else { "" },
        });
        let liked =
            if found.is_empty() { judge(&self.part_transcript(&reading, part, samples.len())) } else { 0.0 };
        Ok(Weighed { faults: found.len(), liked, reading })
    }

    fn part_transcript(&self, reading: &Reading, part: &Part, samples: usize) -> Transcript {
        Transcript { text: reading.text(), words: part_words(reading, part), ..self.blank(samples) }
    }

    fn blank(&self, samples: usize) -> Transcript {
        Transcript {
            text: String::new(),
            words: Vec::new(),
            audio_s: samples as f64 / SAMPLE_RATE as f64,
            took_s: 0.0,
            model: self.options.model.clone(),
            model_sha256: self.options.model_sha256.clone(),
            engine: Engine::describe(),
        }
    }
}

fn part_words(reading: &Reading, part: &Part) -> Vec<Word> {
    let seconds = |samples: usize| samples as f64 / SAMPLE_RATE as f64;
    words(&reading.tokens, seconds(part.samples.start), seconds(part.samples.len()))
}

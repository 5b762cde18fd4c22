//! One reading of one piece of sound by whisper.cpp. What to think of it is not decided here.

use crate::SpeechError;
use crate::guard::token_cap;
use crate::words::Token;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use whisper_rs::{
    DtwMode, DtwModelPreset, DtwParameters, FullParams, SamplingStrategy, WhisperContext,
    WhisperContextParameters, WhisperError, WhisperState,
};

/// Samples a second that the engine takes.
pub const SAMPLE_RATE: usize = 16_000;
/// Encoder positions a second.
const POSITIONS_PER_SECOND: f64 = 50.0;

/// How words get their times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Times {
    /// By where the decoder looked while it wrote the word, for the models whose heads are known (tiny, base, small).
    Attention,
    /// By whisper.cpp's own estimate from loudness.
    Loudness,
}

/// How one reading is done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Pass {
    /// Seconds of window beyond the sound; `None` is the model's full window.
    pub(crate) margin_s: Option<f64>,
    /// Beam width; one is greedy.
    pub(crate) beam: u32,
    /// Temperature of sampling.
    pub(crate) temperature: f32,
    /// Whether the prompt is shown.
    pub(crate) prompted: bool,
    /// Whether the model may write nothing at all.
    pub(crate) may_be_empty: bool,
}

/// What came out of one reading. The engine's own probability that nobody speaks is not in it: with a prompt of more than one
/// token the engine (1.8.3) takes it from memory that is left from the last piece of sound.
#[derive(Clone, Debug, Default)]
pub(crate) struct Reading {
    pub(crate) tokens: Vec<Token>,
}

impl Reading {
    /// Joins the tokens to text.
    pub(crate) fn text(&self) -> String {
        let bytes: Vec<u8> = self.tokens.iter().flat_map(|t| t.bytes.iter().copied()).collect();
        String::from_utf8_lossy(&bytes).trim().to_owned()
    }

    /// Returns the mean log-probability of its tokens; nought when there are none.
    pub(crate) fn mean_logprob(&self) -> f64 {
        self.tokens.iter().map(|t| t.logprob).sum::<f64>() / self.tokens.len().max(1) as f64
    }
}

/// A loaded model with its working memory.
pub(crate) struct Engine {
    context: WhisperContext,
    state: WhisperState,
    threads: usize,
    aligned: bool,
}

impl Engine {
    pub(crate) fn load(path: &Path, threads: usize, times: Times) -> Result<Self, SpeechError> {
        if let Some(lack) = processor_lacks() {
            return Err(SpeechError::Processor(lack.to_owned()));
        }
        whisper_rs::install_logging_hooks();
        if !is_model(path) {
            return Err(SpeechError::Model {
                path: path.to_owned(),
                why: "it is no model of whisper.cpp's form".into(),
            });
        }
        let preset = if times == Times::Attention { preset(path) } else { None };
        let aligned = preset.is_some();
        let mut parameters = WhisperContextParameters::default();
        // Flash attention stays off: with a cut window it lets rows of the last clip into the next.
        parameters.use_gpu(false).flash_attn(false);
        if let Some(model_preset) = preset {
            parameters.dtw_parameters(DtwParameters {
                mode: DtwMode::ModelPreset { model_preset },
                ..DtwParameters::default()
            });
        }
        let failed = |e: WhisperError| SpeechError::Model { path: path.to_owned(), why: e.to_string() };
        let context = WhisperContext::new_with_params(path, parameters).map_err(failed)?;
        let state = context.create_state().map_err(failed)?;
        Ok(Self { context, state, threads, aligned })
    }

    /// Turns a prompt into tokens, the last `budget` of them.
    pub(crate) fn tokens(&self, text: &str) -> Result<Vec<i32>, SpeechError> {
        if text.is_empty() {
            return Ok(Vec::new());
        }
        // Half of the decoder's memory is for the prompt, less the mark that begins it.
        let budget = self.context.n_text_ctx() as usize / 2 - 1;
        let text = format!(" {}", text.trim());
        let mut tokens = self.context.tokenize(&text, text.len() + 1).map_err(engine)?;
        tokens.drain(..tokens.len().saturating_sub(budget));
        Ok(tokens)
    }

    pub(crate) fn read(
        &mut self,
        samples: &[f32],
        pass: &Pass,
        prompt: &[i32],
    ) -> Result<Reading, SpeechError> {
        let seconds = samples.len() as f64 / SAMPLE_RATE as f64;
        let strategy = match pass.beam {
            0 | 1 => SamplingStrategy::Greedy { best_of: 1 },
            beam => SamplingStrategy::BeamSearch { beam_size: beam as i32, patience: -1.0 },
        };
        let mut params = FullParams::new(strategy);
        params.set_n_threads(self.threads as i32);
        params.set_no_context(true);
        // Without marks of time in the text the engine's estimate from loudness has nothing to go by.
        params.set_no_timestamps(self.aligned);
        params.set_single_segment(true);
        params.set_token_timestamps(!self.aligned);
        params.set_suppress_nst(true);
        params.set_suppress_blank(!pass.may_be_empty);
        params.set_temperature(pass.temperature);
        // The engine's own fall-back has no cap; the caller decides on another reading.
        params.set_temperature_inc(0.0);
        params.set_max_tokens(token_cap(seconds) as i32);
        params.set_print_progress(false);
        params.set_print_special(false);
        params.set_print_realtime(false);
        params.set_print_timestamps(false);
        if pass.prompted && !prompt.is_empty() {
            params.set_tokens(prompt);
        }
        let full = self.context.n_audio_ctx();
        let window = pass.margin_s.map_or(full, |margin| window(seconds + margin));
        params.set_audio_ctx(window.min(full));
        self.state.full(params, samples).map_err(engine)?;
        Ok(self.collect())
    }

    fn collect(&self) -> Reading {
        let mut reading = Reading::default();
        let end_of_text = self.context.token_eot();
        for segment in self.state.as_iter() {
            for i in 0..segment.n_tokens() {
                let Some(token) = segment.get_token(i) else { continue };
                if token.token_id() >= end_of_text {
                    continue;
                }
                let data = token.token_data();
                let bytes = token.to_bytes().unwrap_or_default().to_vec();
                let (start, end) = if self.aligned { (data.t_dtw, data.t_dtw) } else { (data.t0, data.t1) };
                reading.tokens.push(Token {
                    bytes,
                    logprob: f64::from(data.plog),
                    start_s: start as f64 / 100.0,
                    end_s: end as f64 / 100.0,
                });
            }
        }
        if self.aligned {
            // The alignment gives each token one moment: its end is where the next one begins.
            for i in 1..reading.tokens.len() {
                reading.tokens[i - 1].end_s = reading.tokens[i].start_s;
            }
            if let Some(last) = reading.tokens.last_mut() {
                last.end_s = f64::INFINITY;
            }
        }
        reading
    }

    /// Names the engine, its version and the processor features in use.
    pub(crate) fn describe() -> String {
        let features = whisper_rs::print_system_info().trim().replace(" = 1", "");
        format!("whisper.cpp {} ({features})", whisper_rs::WHISPER_CPP_VERSION)
    }
}

/// Returns the encoder's window for so many seconds, in positions.
///
/// Eight positions go into one step of the fast matrix product; at any other width it falls back to a slow one.
fn window(seconds: f64) -> i32 {
    const WIDTH: i32 = 32;
    ((seconds * POSITIONS_PER_SECOND).ceil() as i32).div_euclid(WIDTH) * WIDTH + WIDTH
}

fn engine(e: WhisperError) -> SpeechError {
    SpeechError::Engine(e.to_string())
}

/// Tells a model by the sizes in its file, since only for known ones is it known which heads follow the sound.
fn preset(path: &Path) -> Option<DtwModelPreset> {
    let head = head(path)?;
    let (vocabulary, width, listening, writing) = (head[1], head[7], head[5], head[9]);
    match (vocabulary, width, listening, writing) {
        (51864, 384, 4, 4) => Some(DtwModelPreset::TinyEn),
        (51865, 384, 4, 4) => Some(DtwModelPreset::Tiny),
        (51864, 512, 6, 6) => Some(DtwModelPreset::BaseEn),
        (51865, 512, 6, 6) => Some(DtwModelPreset::Base),
        (51864, 768, 12, 12) => Some(DtwModelPreset::SmallEn),
        (51865, 768, 12, 12) => Some(DtwModelPreset::Small),
        _ => None,
    }
}

/// The first twelve numbers of a model file: its mark and its shape.
fn head(path: &Path) -> Option<[i32; 12]> {
    let mut bytes = [0u8; 48];
    File::open(path).ok()?.read_exact(&mut bytes).ok()?;
    let mut numbers = [0; 12];
    for (number, four) in numbers.iter_mut().zip(bytes.chunks_exact(4)) {
        *number = i32::from_le_bytes([four[0], four[1], four[2], four[3]]);
    }
    Some(numbers)
}

/// Tells whether a file begins as a model does. The engine itself ends the whole program on some that do not.
fn is_model(path: &Path) -> bool {
    const MARK: i32 = 0x6767_6d6c;
    let shape = |n: i32, most: i32| (1..=most).contains(&n);
    head(path).is_some_and(|head| {
        head[0] == MARK
            && (50_000..=60_000).contains(&head[1])
            && shape(head[5], 64)
            && shape(head[7], 4096)
            && shape(head[9], 64)
    })
}

/// Names what this processor lacks of what the engine was built for; `None` when it has everything.
pub fn processor_lacks() -> Option<&'static str> {
    #[cfg(target_arch = "x86_64")]
    {
        let needs = [
            ("AVX2", std::arch::is_x86_feature_detected!("avx2")),
            ("FMA", std::arch::is_x86_feature_detected!("fma")),
            ("F16C", std::arch::is_x86_feature_detected!("f16c")),
        ];
        needs.iter().find(|(_, there)| !there).map(|(name, _)| *name)
    }
    #[cfg(not(target_arch = "x86_64"))]
    None
}

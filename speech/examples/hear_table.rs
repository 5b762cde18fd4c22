//! Reads sounds with chosen settings and writes what it heard and what that cost.
//!
//! `hear_table MODEL.bin SETTING LIST.jsonl > OUT.jsonl`: LIST has a line for each sound,
//! `{"id","samples" (a WAV of 16 kHz, one channel),"birds":[…]}`; SETTING is words joined by commas:
//! `stock` (whisper.cpp's own defaults), or any of `margin=SECONDS`, `full`, `beam=N`, `readings=N`,
//! `names` (a prompt of the birds' names alone, for a taught model), `noprompt`, `threads=N`, `loudness`. OUT has `{"id","text","words","audio_s","cpu_s","wall_s"}`.
//! `tests/tools/hear_table.sh` makes the lists and scores the result.

use serde_json::{Value, json};
use speech::{Ear, Options, Prompt, SpeechError, Times};
use std::error::Error;
use std::fs;
use std::path::Path;
use std::time::Instant;
use whisper_rs::{FullParams, SamplingStrategy, WhisperContext, WhisperContextParameters};

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [model, setting, list] = args.as_slice() else {
        return Err("hear_table MODEL SETTING LIST".into());
    };
    let mut options = Options { threads: 1, ..Options::default() };
    let (mut stock, mut prompted, mut taught, mut fixed) = (false, true, false, None);
    for word in setting.split(',') {
        match word.split_once('=').unwrap_or((word, "")) {
            ("stock", _) => stock = true,
            ("default", _) => {}
            ("full", _) => options.margin_s = None,
            ("noprompt", _) => prompted = false,
            ("names", _) => {
                taught = true;
                options.knows_silence = true;
            }
            ("prompt", file) => fixed = Some(fs::read_to_string(file)?),
            ("loudness", _) => options.times = Times::Loudness,
            ("margin", n) => options.margin_s = Some(n.parse()?),
            ("beam", n) => options.beam = n.parse()?,
            ("readings", n) => options.readings = n.parse()?,
            ("threads", n) => options.threads = n.parse()?,
            _ => return Err(format!("unknown setting {word}").into()),
        }
    }
    let mut engine = if stock {
        Engine::Stock(Box::new(Stock::load(model, options.threads)?))
    } else {
        Engine::Ear(Box::new(Ear::load(Path::new(model), options)?))
    };
    for line in fs::read_to_string(list)?.lines() {
        let item: Value = serde_json::from_str(line)?;
        let samples = read_wav(item["samples"].as_str().ok_or("no samples")?)?;
        let names: Vec<String> = names(&item);
        let prompt = match (&fixed, prompted) {
            (Some(text), _) => Prompt::from_text(text.replace("{birds}", &names.join(", "))),
            (None, true) if taught => Prompt::for_taught(&names),
            (None, true) => Prompt::for_keeper(&names, &[]),
            (None, false) => Prompt::none(),
        };
        let (cpu, wall, before) = (cpu_seconds()?, Instant::now(), engine.readings());
        let (text, words) = match &mut engine {
            Engine::Stock(stock) => (stock.hear(&samples)?, json!([])),
            Engine::Ear(ear) => match ear.hear(&samples, &prompt) {
                Ok(heard) => (heard.text, serde_json::to_value(heard.words)?),
                Err(SpeechError::NoSpeech) => (String::new(), json!([])),
                Err(e) => return Err(e.into()),
            },
        };
        let cost = (cpu_seconds()? - cpu, wall.elapsed().as_secs_f64());
        println!(
            "{}",
            json!({"id": item["id"], "text": text, "words": words, "audio_s": samples.len() as f64 / 16000.0, "cpu_s": cost.0, "wall_s": cost.1, "readings": engine.readings() - before})
        );
    }
    eprintln!("peak memory {}", peak_memory()?);
    Ok(())
}

enum Engine {
    Stock(Box<Stock>),
    Ear(Box<Ear>),
}

impl Engine {
    fn readings(&self) -> u64 {
        match self {
            Self::Stock(_) => 0,
            Self::Ear(ear) => ear.readings(),
        }
    }
}

fn names(item: &Value) -> Vec<String> {
    let birds = item["birds"].as_array().into_iter().flatten();
    birds
        .flat_map(|b| std::iter::once(&b["name"]).chain(b["aliases"].as_array().into_iter().flatten()))
        .filter_map(|n| n.as_str().map(str::to_owned))
        .collect()
}

/// whisper.cpp as it comes: full window, five candidates, its own fall-back, no prompt.
struct Stock {
    state: whisper_rs::WhisperState,
    threads: usize,
}

impl Stock {
    fn load(model: &str, threads: usize) -> Result<Self, Box<dyn Error>> {
        whisper_rs::install_logging_hooks();
        let context = WhisperContext::new_with_params(model, WhisperContextParameters::default())?;
        Ok(Self { state: context.create_state()?, threads })
    }

    fn hear(&mut self, samples: &[f32]) -> Result<String, Box<dyn Error>> {
        let mut params = FullParams::new(SamplingStrategy::Greedy { best_of: 5 });
        params.set_n_threads(self.threads as i32);
        params.set_print_progress(false);
        self.state.full(params, samples)?;
        let mut text = String::new();
        for segment in self.state.as_iter() {
            text.push_str(&segment.to_str_lossy()?);
        }
        Ok(text.trim().to_owned())
    }
}

fn read_wav(path: &str) -> Result<Vec<f32>, Box<dyn Error>> {
    let samples = hound::WavReader::open(path)?.into_samples::<i16>().collect::<Result<Vec<_>, _>>()?;
    Ok(samples.into_iter().map(|s| f32::from(s) / 32768.0).collect())
}

/// Processor time of this process so far, from Linux's own book-keeping (hundredths of a second).
fn cpu_seconds() -> Result<f64, Box<dyn Error>> {
    let stat = fs::read_to_string("/proc/self/stat")?;
    let fields: Vec<&str> = stat.rsplit(')').next().unwrap_or_default().split_whitespace().collect();
    Ok((fields[11].parse::<f64>()? + fields[12].parse::<f64>()?) / 100.0)
}

fn peak_memory() -> Result<String, Box<dyn Error>> {
    let status = fs::read_to_string("/proc/self/status")?;
    Ok(status.lines().find(|l| l.starts_with("VmHWM")).unwrap_or_default().to_owned())
}

//! Says when a reading is not to be believed.
//!
//! Whisper's decoder can loop, run on, or make words out of wind. The thresholds for compression and mean
//! log-probability are those of Whisper's reference decoder (`compression_ratio_threshold` 2.4 and
//! `logprob_threshold` -1.0 in OpenAI's `transcribe.py`); the others are our own.

use flate2::Compression;
use flate2::write::ZlibEncoder;
use std::io::Write;

/// A reading as the guard needs to know it.
#[derive(Clone, Copy, Debug)]
pub struct Reading<'a> {
    /// The whole text.
    pub text: &'a str,
    /// Tokens of text.
    pub tokens: usize,
    /// Length of the piece of sound, seconds.
    pub seconds: f64,
    /// Mean natural logarithm of the tokens' probabilities.
    pub mean_logprob: f64,
    /// The prompt that was given.
    pub prompt: &'a str,
}

/// What is wrong with a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The same words follow each other again and again.
    Repeats,
    /// More tokens than anybody can say in the time.
    RunsOn,
    /// It compresses too well to be speech.
    Compresses,
    /// The model itself did not believe it.
    Unsure,
    /// It is the prompt, not the sound.
    EchoesPrompt,
}

const COMPRESSION_RATIO: f64 = 2.4;
const MEAN_LOGPROB: f64 = -1.0;
/// Fast speech has about six syllables a second, and a digit may be a token of its own.
const TOKENS_PER_SECOND: f64 = 9.0;
const TOKENS_SPARE: f64 = 8.0;
/// A run of the prompt's words of this length is no chance.
const ECHO_WORDS: usize = 7;

/// Returns the most tokens that a piece of sound of this length is read for.
pub fn token_cap(seconds: f64) -> usize {
    (TOKENS_SPARE + TOKENS_PER_SECOND * seconds).ceil() as usize
}

/// Lists what is wrong with a reading; nothing, most times.
pub fn faults(reading: &Reading<'_>) -> Vec<Fault> {
    let words = words(reading.text);
    let checks = [
        (repeats(&words), Fault::Repeats),
        (reading.tokens >= token_cap(reading.seconds), Fault::RunsOn),
        (compression_ratio(reading.text) > COMPRESSION_RATIO, Fault::Compresses),
        (reading.tokens > 0 && reading.mean_logprob < MEAN_LOGPROB, Fault::Unsure),
        (echoes(&words, reading.prompt), Fault::EchoesPrompt),
    ];
    checks.into_iter().filter_map(|(bad, fault)| bad.then_some(fault)).collect()
}

fn words(text: &str) -> Vec<String> {
    text.split_whitespace()
        .map(|w| w.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase())
        .filter(|w| !w.is_empty())
        .collect()
}

/// Finds a run of words that is said several times without a break: one word five times, two or three words
/// four or three times, four words or more twice. Once is allowed for: keepers do say a weight twice.
fn repeats(words: &[String]) -> bool {
    (1..=words.len() / 2).any(|len| {
        let times = match len {
            1 => 5,
            2 => 4,
            3 => 3,
            _ => 2,
        };
        words.windows(len * times).any(|run| run.chunks(len).all(|chunk| *chunk == run[..len]))
    })
}

fn echoes(words: &[String], prompt: &str) -> bool {
    let prompt = self::words(prompt);
    prompt.windows(ECHO_WORDS).any(|run| words.windows(ECHO_WORDS).any(|w| w == run))
}

/// Returns the length of the text over its length compressed by zlib.
pub fn compression_ratio(text: &str) -> f64 {
    let mut zlib = ZlibEncoder::new(Vec::new(), Compression::default());
    let compressed = zlib.write_all(text.as_bytes()).and_then(|()| zlib.finish());
    compressed.map_or(1.0, |bytes| text.len() as f64 / bytes.len().max(1) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Vec<Fault> {
        let tokens = text.split_whitespace().count() * 3 / 2;
        faults(&Reading {
            text,
            tokens,
            seconds: 9.0,
            mean_logprob: -0.3,
            prompt: "Wisp, 231 grams, two chicks, half a crop, keen to the fist.",
        })
    }

    #[test]
    fn plain_notes_pass() {
        for text in [
            "Bramble, 1085 grams, ate two chicks, full crop.",
            "642. 642 grams. No, no, no, 652.",
            "Three flights, four flights, five flights to the fist, keen.",
            "",
        ] {
            assert_eq!(of(text), [], "{text}");
        }
    }

    #[test]
    fn loops_are_found() {
        for text in [
            "two chicks and a mouse, two chicks and a mouse, full crop",
            "the the the the the weight",
            "half crop half crop half crop half crop",
            "one oh eight one oh eight one oh eight",
        ] {
            assert!(of(text).contains(&Fault::Repeats), "{text}");
        }
    }

    #[test]
    fn a_run_of_the_prompt_is_found() {
        assert!(of("231 grams, two chicks, half a crop.").contains(&Fault::EchoesPrompt));
        assert!(!of("Wisp, 231 grams, two mice, half a crop.").contains(&Fault::EchoesPrompt));
    }

    #[test]
    fn the_reference_thresholds_hold() {
        let reading = Reading { text: "a", tokens: 1, seconds: 3.0, mean_logprob: -1.01, prompt: "" };
        assert_eq!(faults(&reading), [Fault::Unsure]);
        assert_eq!(faults(&Reading { mean_logprob: -0.99, ..reading }), []);
        assert!(faults(&Reading { tokens: 200, ..reading }).contains(&Fault::RunsOn));
        assert!(compression_ratio(&"chick ".repeat(60)) > 2.4);
        assert!(compression_ratio("Bramble, 1085 grams, ate two chicks, full crop.") < 1.2);
    }
}

//! Puts tokens together to words.

use note::Word;

/// A token of text as the engine gives it.
#[derive(Clone, Debug)]
pub(crate) struct Token {
    /// Its bytes; a word's first token begins with a blank. A character may be split over tokens.
    pub(crate) bytes: Vec<u8>,
    /// Natural logarithm of its probability.
    pub(crate) logprob: f64,
    /// When it begins, seconds from the start of the part, if known.
    pub(crate) start_s: f64,
    /// When it ends, seconds from the start of the part.
    pub(crate) end_s: f64,
}

/// Joins tokens to words; `offset_s` is where the part begins in the recording, `length_s` the part's length.
///
/// A word's probability is the geometric mean of its tokens'.
pub(crate) fn words(tokens: &[Token], offset_s: f64, length_s: f64) -> Vec<Word> {
    let mut groups: Vec<&[Token]> = Vec::new();
    let mut from = 0;
    for i in 1..=tokens.len() {
        if i == tokens.len() || tokens[i].bytes.first() == Some(&b' ') {
            groups.push(&tokens[from..i]);
            from = i;
        }
    }
    let mut list: Vec<Word> = Vec::new();
    for group in groups {
        let bytes: Vec<u8> = group.iter().flat_map(|t| t.bytes.iter().copied()).collect();
        let text = String::from_utf8_lossy(&bytes).trim().to_owned();
        if text.is_empty() {
            continue;
        }
        let mean = group.iter().map(|t| t.logprob).sum::<f64>() / group.len() as f64;
        let start = group[0].start_s.clamp(0.0, length_s) + offset_s;
        let end = group[group.len() - 1].end_s.clamp(0.0, length_s) + offset_s;
        // Times never run backwards, whatever the engine says.
        let start = list.last().map_or(start, |before| start.max(before.start_s));
        list.push(Word { word: text, start_s: start, end_s: end.max(start), p: mean.exp().clamp(0.0, 1.0) });
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    fn token(text: &str, logprob: f64, start_s: f64, end_s: f64) -> Token {
        Token { bytes: text.as_bytes().to_vec(), logprob, start_s, end_s }
    }

    #[test]
    fn tokens_become_words_with_their_times() {
        let tokens = [
            token(" Br", -0.1, 0.2, 0.4),
            token("amble", -0.3, 0.4, 0.8),
            token(",", -0.2, 0.8, 0.9),
            token(" 10", 0.0, 1.0, 1.4),
            token("85", 0.0, 1.4, 9.0),
        ];
        let words = words(&tokens, 2.0, 3.0);
        assert_eq!(words.iter().map(|w| w.word.as_str()).collect::<Vec<_>>(), ["Bramble,", "1085"]);
        assert!((words[0].start_s - 2.2).abs() < 1e-9 && (words[0].end_s - 2.9).abs() < 1e-9);
        assert!((words[0].p - (-0.2f64).exp()).abs() < 1e-9);
        assert_eq!(words[1].end_s, 5.0, "no word ends after its part");
    }

    #[test]
    fn a_character_split_over_tokens_is_one() {
        let mut tokens = [token(" caf", 0.0, 0.0, 0.5), token("", 0.0, 0.5, 0.6), token("", 0.0, 0.6, 0.7)];
        tokens[1].bytes = vec![0xc3];
        tokens[2].bytes = vec![0xa9];
        assert_eq!(words(&tokens, 0.0, 1.0)[0].word, "café");
    }

    #[test]
    fn times_do_not_run_backwards() {
        let words = words(&[token(" a", 0.0, 0.5, 0.6), token(" b", 0.0, 0.1, 0.2)], 0.0, 1.0);
        assert!(words[1].start_s >= words[0].start_s && words[1].end_s >= words[1].start_s);
    }
}

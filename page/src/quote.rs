//! A note's words with the quotes marked, and where in the sound each quote is.

use crate::say;
use maud::{Markup, html};
use note::{Entry, EntryId, Transcript};
use store::{Card, Waiting};

/// Seconds played before and after the quoted words, so that their edges are heard.
const MARGIN_S: f64 = 0.2;

/// The note's words, the quoted spans marked and numbered like the slips below.
pub fn words(card: &Card) -> Markup {
    let Some(note) = &card.note else {
        let photo = card.photo.as_ref();
        return html! { @if let Some(photo) = photo { div.shown { figure { img src={ "/picture/" (photo.id) } alt="The photo of the scale" loading="lazy"; } } } };
    };
    let text =
        note.text.clone().or_else(|| card.transcript.as_ref().map(|t| t.text.clone())).unwrap_or_default();
    html! {
        p.said lang="en" { @for piece in pieces(&text, &card.waiting) {
            @match piece {
                Piece::Plain(words) => (words),
                Piece::Quoted { words, slip, ends } => mark data-slip={ "e-" (slip) } { (words) @for nr in ends { sup { (nr) } } },
            }
        } }
        @if note.evidence.is_some() { audio controls preload="none" src={ "/sound/" (note.id) } aria-label="The whole note" {} }
    }
}

#[derive(Debug, PartialEq)]
enum Piece {
    Plain(String),
    Quoted { words: String, slip: EntryId, ends: Vec<usize> },
}

/// Cuts a text at the borders of all spans; where spans overlap, the first entry lends its name.
fn pieces(text: &str, waiting: &[Waiting]) -> Vec<Piece> {
    let letters: Vec<char> = text.chars().collect();
    let spans: Vec<[usize; 2]> =
        waiting.iter().map(|w| w.proposed.entry.span.map(|edge| edge.min(letters.len()))).collect();
    let mut edges: Vec<usize> = spans.iter().flatten().copied().chain([0, letters.len()]).collect();
    edges.sort_unstable();
    edges.dedup();
    edges
        .windows(2)
        .map(|edge| {
            let words: String = letters[edge[0]..edge[1]].iter().collect();
            match spans.iter().position(|s| s[0] <= edge[0] && edge[1] <= s[1]) {
                None => Piece::Plain(words),
                Some(first) => {
                    let ends = (0..spans.len())
                        .filter(|i| spans[*i][0] < spans[*i][1] && spans[*i][1] == edge[1])
                        .map(|i| i + 1)
                        .collect();
                    Piece::Quoted { words, slip: waiting[first].proposed.id.clone(), ends }
                }
            }
        })
        .collect()
}

/// From and to where to play what an entry was read from, in seconds, with a little before and after.
pub fn heard_at(card: &Card, entry: &Entry) -> Option<(String, String)> {
    card.note.as_ref()?.evidence.as_ref()?;
    let (from, to) = span_times(card.transcript.as_ref()?, entry.span)?;
    Some((say::trim((from - MARGIN_S).max(0.0), 2), say::trim(to + MARGIN_S, 2)))
}

/// Finds when the words of a span were spoken, in seconds from the start of the recording.
pub fn span_times(transcript: &Transcript, span: [usize; 2]) -> Option<(f64, f64)> {
    let text: Vec<char> = transcript.text.chars().collect();
    let mut at = 0;
    let mut found: Option<(f64, f64)> = None;
    for word in &transcript.words {
        let letters: Vec<char> = word.word.trim().chars().collect();
        if letters.is_empty() {
            continue;
        }
        let Some(start) =
            (at..=text.len().saturating_sub(letters.len())).find(|i| text[*i..].starts_with(&letters))
        else {
            continue;
        };
        let end = start + letters.len();
        at = end;
        if start < span[1] && end > span[0] {
            found = Some(found.map_or((word.start_s, word.end_s), |(from, to)| {
                (from.min(word.start_s), to.max(word.end_s))
            }));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use note::Proposed;

    fn waiting(id: &str, span: [usize; 2]) -> Waiting {
        let entry: Entry = serde_json::from_value(serde_json::json!({
            "kind": "weight", "value": {"grams": 912.0, "unit": "g"}, "bird": "Sedge", "at": "2026-11-24T08:10:00+00:00",
            "quote": "x", "span": span, "confidence": 0.9, "flags": []
        }))
        .unwrap();
        Waiting { proposed: Proposed { id: EntryId::new(id), entry }, bird: None, pairing: None, net: None }
    }

    #[test]
    fn the_words_are_cut_at_the_borders_of_the_quotes() {
        let text = "Sedge 912 g, two chicks";
        let cut = pieces(text, &[waiting("a", [6, 11]), waiting("b", [13, 23])]);
        let plain = |w: &str| Piece::Plain(w.into());
        let quoted = |w: &str, id: &str, ends: &[usize]| Piece::Quoted {
            words: w.into(),
            slip: EntryId::new(id),
            ends: ends.to_vec(),
        };
        assert_eq!(
            cut,
            [plain("Sedge "), quoted("912 g", "a", &[1]), plain(", "), quoted("two chicks", "b", &[2])]
        );
        let over = pieces("abcdef", &[waiting("a", [0, 4]), waiting("b", [2, 6])]);
        assert_eq!(over, [quoted("ab", "a", &[]), quoted("cd", "a", &[1]), quoted("ef", "b", &[2])]);
    }

    #[test]
    fn spans_beyond_the_text_harm_nothing() {
        for span in [[0, 900], [900, 901], [3, 3], [0, 0]] {
            let joined: String = pieces("häß 9½", &[waiting("a", span)])
                .into_iter()
                .map(|p| match p {
                    Piece::Plain(w) | Piece::Quoted { words: w, .. } => w,
                })
                .collect();
            assert_eq!(joined, "häß 9½");
        }
    }

    #[test]
    fn the_sound_of_a_quote_is_that_of_its_words() {
        let word = |word: &str, start_s, end_s| note::Word { word: word.into(), start_s, end_s, p: 1.0 };
        let transcript = Transcript {
            text: " Sedge two two.".into(),
            words: vec![word("Sedge", 0.1, 0.6), word("two", 0.7, 0.9), word("two.", 1.0, 1.4)],
            audio_s: 2.0,
            took_s: 0.1,
            model: "m".into(),
            model_sha256: String::new(),
            engine: String::new(),
        };
        for (span, times) in [
            ([1, 6], Some((0.1, 0.6))),
            ([7, 10], Some((0.7, 0.9))),
            ([11, 14], Some((1.0, 1.4))),
            ([7, 15], Some((0.7, 1.4))),
            ([0, 0], None),
        ] {
            assert_eq!(span_times(&transcript, span), times, "{span:?}");
        }
    }
}

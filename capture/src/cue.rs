//! Spoken commands in a transcript: the cue that marks a note as meant, and "scratch that note".
//!
//! Pure. Transcripts mishear, so words are compared by likeness, not letter by letter.

use std::ops::Range;

/// Likeness from which a heard word counts as the one meant, 0 to 1 (Jaro-Winkler).
const ALIKE: f64 = 0.84;

/// Likeness needed for words of up to three letters, of which too many are alike.
const SHORT_ALIKE: f64 = 0.95;

/// Likeness by letters needed besides, for words run together: a long beginning in common is not enough.
const RUN_ALIKE: f64 = 0.75;

/// Words that may stand before a cue without being part of what is said.
const BEFORE: [&str; 7] = ["hey", "ok", "okay", "so", "right", "um", "er"];

/// What a note asks to be done about notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scratch {
    /// Nothing.
    No,
    /// The note is only the command: the one before it is meant.
    Last,
    /// The command ends the note: this note itself is meant.
    This,
}

/// Returns where in the text the words after the cue lie, or nothing if the cue is not at its start.
///
/// A cue of no words is always there. Where the cue may end at one word or another, it ends where what was
/// heard is most like it. Case, punctuation, the gaps between words and small
/// mishearings do not matter: for the cue "falcon log", "Falkan log," and "falconlog" will do.
pub fn strip(text: &str, cue: &str) -> Option<Range<usize>> {
    let wanted: Vec<String> = words(cue).map(|(w, _)| w).collect();
    if wanted.is_empty() {
        return Some(0..text.len());
    }
    let joined: String = wanted.concat();
    let heard: Vec<(String, Range<usize>)> = words(text).collect();
    let fillers = heard.iter().take_while(|(w, _)| BEFORE.contains(&w.as_str())).count();
    for skip in [0, fillers] {
        let rest = &heard[skip..];
        // The transcript may write the cue as one word more or fewer.
        let counts = [wanted.len(), wanted.len() + 1, wanted.len().saturating_sub(1).max(1)];
        let best = counts
            .into_iter()
            .filter_map(|count| {
                let found = rest.get(..count)?;
                let each = count == wanted.len() && found.iter().zip(&wanted).all(|((h, _), w)| alike(h, w));
                let run: String = found.iter().map(|(h, _)| h.as_str()).collect();
                let likeness = strsim::jaro_winkler(&run, &joined);
                (each || alike_run(&run, &joined)).then_some((likeness, found))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, found)) = best {
            let after = found.last().map_or(0, |(_, at)| at.end);
            let begin = text[after..].find(|c: char| c.is_alphanumeric()).map_or(text.len(), |n| after + n);
            return Some(begin..text.len());
        }
    }
    None
}

/// Reads a "scratch that note" at the end of a note, or as the whole of it.
pub fn scratch(text: &str) -> Scratch {
    let heard: Vec<String> = words(text).map(|(w, _)| w).collect();
    let polite = heard.iter().rev().take_while(|w| matches!(w.as_str(), "please" | "thanks")).count();
    let heard = &heard[..heard.len() - polite];
    for phrase in [
        &["scratch", "that", "note"][..],
        &["scratch", "the", "last", "note"],
        &["scratch", "that", "last", "note"],
        &["scratch", "last", "note"],
        &["scratch", "this", "note"],
        &["scratch", "the", "note"],
        &["scratch", "that"],
    ] {
        let Some(from) = heard.len().checked_sub(phrase.len()) else { continue };
        if !heard[from..].iter().zip(phrase).all(|(h, w)| meant(h, w)) {
            continue;
        }
        let only = heard[..from]
            .iter()
            .all(|w| BEFORE.contains(&w.as_str()) || matches!(w.as_str(), "no" | "oh" | "sorry"));
        return if only { Scratch::Last } else { Scratch::This };
    }
    Scratch::No
}

/// Returns whether a heard word is the word of the command, or one it is commonly taken for.
fn meant(heard: &str, word: &str) -> bool {
    match word {
        "note" => matches!(heard, "note" | "notes" | "knot" | "noted" | "not" | "nope"),
        "that" => matches!(heard, "that" | "thats" | "at" | "the"),
        _ => alike(heard, word),
    }
}

/// "Not" is as like "note" as "falkan" is "falcon", so the shorter of the two decides what is enough.
fn alike(heard: &str, word: &str) -> bool {
    let enough = if heard.chars().count().min(word.chars().count()) <= 3 { SHORT_ALIKE } else { ALIKE };
    strsim::jaro_winkler(heard, word) >= enough
}

/// Compares words run together. Their likeness says little of a word too many ("the falcon log"), so neither
/// may be longer than the other by more than a quarter.
fn alike_run(heard: &str, wanted: &str) -> bool {
    let (heard_len, wanted_len) = (heard.chars().count(), wanted.chars().count());
    alike(heard, wanted)
        && strsim::normalized_levenshtein(heard, wanted) >= RUN_ALIKE
        && heard_len.abs_diff(wanted_len) * 4 <= wanted_len
}

/// Returns each word in lower case without its punctuation, and where it stands.
fn words(text: &str) -> impl Iterator<Item = (String, Range<usize>)> + '_ {
    text.split_whitespace().filter_map(move |piece| {
        let start = piece.as_ptr() as usize - text.as_ptr() as usize;
        let word: String =
            piece.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
        (!word.is_empty()).then(|| (word, start..start + piece.len()))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cue_is_found_as_it_may_be_heard() {
        for (text, cue, rest) in [
            ("Falcon log. Bramble six forty two.", "falcon log", Some("Bramble six forty two.")),
            ("Falcon, log, Bramble 642", "Falcon log", Some("Bramble 642")),
            ("Falkan log Bramble 642", "falcon log", Some("Bramble 642")),
            ("falconlog: half crop", "falcon log", Some("half crop")),
            ("Okay, falcon log, two chicks", "falcon log", Some("two chicks")),
            ("Field book, wing stretched", "fieldbook", Some("wing stretched")),
            ("note, keen today", "note", Some("keen today")),
            ("Falcon log.", "falcon log", Some("")),
            ("Falcon lock, keen today", "falcon log", Some("keen today")),
            ("falconlog", "falcon log", Some("")),
            ("Falcon log log is full", "falcon log", Some("log is full")),
            ("falcon hood is torn", "falcon log", None),
            ("Anything at all", "", Some("Anything at all")),
            ("Come on then, good girl", "falcon log", None),
            ("The falcon log is at home", "falcon log", None),
            ("now then", "note", None),
            ("not today", "note", None),
            ("log falcon", "falcon log", None),
            ("", "falcon log", None),
            ("— falcon log — é", "falcon log", Some("é")),
        ] {
            assert_eq!(strip(text, cue).map(|at| &text[at]), rest, "{text:?} with {cue:?}");
        }
    }

    #[test]
    fn scratch_is_understood_and_little_else_is() {
        use Scratch::{Last, No, This};
        for (text, expect) in [
            ("Scratch that note.", Last),
            ("Scratch that.", Last),
            ("scratched that note", Last),
            ("Scratch that knot", Last),
            ("Oh no, scratch that note, please.", Last),
            ("Scratch the last note.", Last),
            ("Fern 931, two chicks, scratch that note.", This),
            ("Fern 931. Scratch that.", This),
            ("Fern has a scratch on her foot.", No),
            ("Scratch that note was wrong, 931", No),
            ("There is a scratch there", No),
            ("Catch that kite", No),
            ("Bramble 642", No),
            ("", No),
        ] {
            assert_eq!(scratch(text), expect, "{text:?}");
        }
    }
}

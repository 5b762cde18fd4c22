//! Denied or not, and how strongly.

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::Degree;

/// Whether it is denied, and from which atom.
pub(super) fn negation(sheet: &Sheet, i: usize, word: &str) -> (bool, Option<usize>) {
    let said = sheet.words(i);
    // "not interested" and "not focused" say their own no.
    if said.starts_with("not ") || said.starts_with("no ") {
        return (false, None);
    }
    // "bate free all morning"
    if sheet.is(i + 1, &["free"]) && sheet.before(i + 1) == Break::None && said.len() < 10 {
        return (true, Some(i));
    }
    let mut k = i;
    let mut seen = 0;
    while k > 0 && sheet.before(k) == Break::None && seen < 5 {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        seen += 1;
        if sheet.any(k, &[Cue::Neg]) && !(sheet.is(k, &["less"])) {
            return (true, Some(k));
        }
        let inverted = sheet.any(k, &[Cue::He, Cue::She])
            && k > 1
            && (sheet.is(k - 2, &["nor", "neither"]) || sheet.is(k - 1, &["nor", "neither"]));
        let light = inverted
            || sheet.any(k, &[Cue::Slight, Cue::Strong, Cue::Plain, Cue::Be, Cue::Filler])
            || sheet.is(
                k,
                &[
                    "any",
                    "more",
                    "sign",
                    "of",
                    "even",
                    "at",
                    "all",
                    "really",
                    "a",
                    "been",
                    "her",
                    "his",
                    "the",
                    "much",
                    "me",
                    "single",
                    "as",
                    "longer",
                    "to",
                    "once",
                    "that",
                    "particularly",
                    "too",
                    "have",
                    "has",
                    "had",
                    "been",
                    "actual",
                    "bad",
                    "wing",
                    "hint",
                    "trace",
                    "try",
                    "tried",
                    "want",
                    "wanted",
                    "need",
                    "bother",
                    "sign",
                    "getting",
                ],
            );
        if !light {
            break;
        }
    }
    let _ = word;
    (false, None)
}

/// Whether the word tells what the bird did, time by time, and not how it was.
fn is_done(word: &str) -> bool {
    matches!(
        word,
        "bating"
            | "footing"
            | "biting"
            | "mantling"
            | "landing on ground"
            | "carrying"
            | "raking away"
            | "overflying"
            | "stooping"
            | "rousing"
            | "screaming"
            | "sneezing"
            | "hissing"
            | "bathing"
            | "drinking"
    )
}

/// How strongly, and which atom says so.
pub(super) fn degree(sheet: &Sheet, i: usize, word: &str) -> (Degree, Option<usize>) {
    let class = |k: usize| {
        if !sheet.live(k) || sheet.used[k] && sheet.behaviour(k).is_some() {
            return None;
        }
        // Strong words may also be slight ("so", "hard"); the file's order decides.
        if sheet.is(k, &["throughout"]) && !is_done(word) {
            // "calm throughout": for how long, not how much; "bated throughout" is often.
            Some(Degree::Plain)
        } else if sheet.has(k, Cue::Strong) {
            Some(Degree::Strong)
        } else if sheet.has(k, Cue::Slight) {
            Some(Degree::Slight)
        } else if sheet.has(k, Cue::Plain) {
            Some(Degree::Plain)
        } else {
            None
        }
    };
    let said = sheet.words(i);
    if said.contains("mad keen")
        || said.starts_with("ravenous")
        || said.starts_with("starving")
        || matches!(
            said,
            "famished"
                | "half starved"
                | "red hot"
                | "gagging for it"
                | "gagging to go"
                | "champing at the bit"
        )
        || said.contains("full yarak")
    {
        return (Degree::Strong, None);
    }
    // "bit once"
    if said.ends_with(" once") {
        return (Degree::Slight, None);
    }
    // "had one bate", "a single bate"
    let single = sheet.is(i, &["bate", "scream", "stoop", "sneeze", "hiss", "mantle"])
        && i > 0
        && sheet.before(i) == Break::None
        && (sheet.is(i - 1, &["one", "single"]) || sheet.num(i - 1).is_some_and(|n| n.value == 1.0));
    if single {
        return (Degree::Slight, Some(i - 1));
    }
    // After it: "bating a lot", "footed me once", "hissing at the cat constantly".
    let mut k = i + 1;
    let mut gap = 0;
    while k < sheet.len() && sheet.before(k) == Break::None && gap < 5 {
        if sheet.dead[k] {
            k += 1;
            continue;
        }
        if let Some(d) = class(k) {
            // "very eager once she'd seen the bag": a conjunction.
            // "footed me once in the van" counts, "keen once in the air" says when.
            let place = matches!(sheet.word(k + 1), "on" | "in");
            let counts = place && is_done(word);
            let once_when = !(sheet.is(k, &["once"])
                && sheet.before(k + 1) == Break::None
                && !counts
                && (sheet.any(k + 1, &[Cue::He, Cue::She, Cue::I, Cue::It])
                    || sheet.bird(k + 1).is_some()
                    || place
                    || sheet.is(k + 1, &["the", "we", "they", "on", "in", "down", "up", "settled"])));
            // "gripping very hard": how hard.
            let how_hard = sheet
                .is(k, &["very", "really", "so", "incredibly", "extremely", "awful", "bloody"])
                && sheet.is(
                    k + 1,
                    &["hard", "hard indeed", "tight", "tightly", "loudly", "badly", "heavily", "bad", "much"],
                )
                && sheet.before(k + 1) == Break::None
                && sheet.behaviour(k + 1).is_none();
            if how_hard && gap == 0 {
                return (d, Some(k));
            }
            let mere = sheet.is(
                k,
                &[
                    "so", "too", "dead", "some", "little", "much", "hard", "proper", "properly", "bloody",
                    "mad", "quite", "pretty", "rather", "fairly", "very", "really", "super",
                ],
            ) && gap == 0
                && !sheet.is(k, &["hard", "much", "properly"])
                || sheet.is(
                    k,
                    &[
                        "very",
                        "really",
                        "so",
                        "too",
                        "quite",
                        "pretty",
                        "rather",
                        "fairly",
                        "some",
                        "hard",
                        "ever",
                        "super",
                        "extremely",
                        "incredibly",
                    ],
                ) && gap > 0;
            // "mantling and very aggressive": that degree is the next word's.
            let next_ones = sheet.behaviour(k + 1).is_some()
                && sheet.before(k + 1) == Break::None
                && !crate::breath::trailing(sheet, k);
            // "in yarak all the way up the hill": where, not how much.
            // "tame enough that I could touch her": a verb.
            let touched = sheet.is(k, &["touch"])
                && (sheet.any(k - 1, &[Cue::I]) || sheet.is(k - 1, &["could", "can", "to", "let"]));
            let mere = mere
                || touched
                || sheet.is(k, &["all the way"])
                    && sheet.before(k + 1) == Break::None
                    && sheet
                        .is(k + 1, &["up", "down", "along", "across", "round", "there", "out", "to", "back"]);
            if !mere && !next_ones && once_when && !sheet.has(k, Cue::But)
                || sheet.is(k, &["hard"]) && gap == 0
            {
                return (d, Some(k));
            }
            if next_ones {
                break;
            }
        }
        if sheet.behaviour(k).is_some()
            || sheet.any(k, &[Cue::And, Cue::But, Cue::Or]) && !sheet.is(k, &["with"])
            || sheet.bird(k).is_some()
            || sheet.num(k).is_some()
            || sheet.food(k).is_some()
                && !(word == "carrying" && gap < 2)
                // "bit my pinky once": the finger, not the mouse.
                && !(gap == 0 && sheet.ends(i, &["my"]))
            || sheet.sign(k).is_some()
            || sheet.any(k, &[Cue::He, Cue::She]) && !sheet.is(k, &["him", "himself", "herself"])
            || sheet.any(k, &[Cue::Neg])
        {
            break;
        }
        gap += 1;
        k += 1;
    }
    // Before it: "very aggressive", "a bit distracted", "a lot of bating", "bit of footing".
    let mut k = i;
    let mut gap = 0;
    while k > 0 && sheet.before(k) == Break::None && gap < 3 {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        if sheet.behaviour(k).is_some() && sheet.used[k] {
            break;
        }
        if let Some(d) = class(k) {
            let stands_off = gap > 0 && sheet.is(k, &["hard", "some", "much"]);
            // "once she was calm", "so she got": a conjunction, not a degree.
            let conjunction = gap > 0 && sheet.is(k, &["once", "so", "too"]);
            let of_another =
                k > 0 && sheet.behaviour(k - 1).is_some() && sheet.before(k) == Break::None && gap > 0;
            if !stands_off && !conjunction && !of_another && !(sheet.is(k, &["some"]) && word == "fed up") {
                return (d, Some(k));
            }
        }
        let light = sheet.is(k, &["of", "in", "more", "a", "being", "getting", "to", "much"]);
        if !light {
            break;
        }
        gap += 1;
    }
    // "bated, twice", "bating, a lot"
    let next = i + 1;
    if sheet.before(next) == Break::Comma
        && class(next).is_some()
        && (next + 1 >= sheet.len() || sheet.before(next + 1) != Break::None)
        && !sheet.is(next, &["so", "too", "some", "really", "very"])
    {
        return (class(next).unwrap_or(Degree::Plain), Some(next));
    }
    (Degree::Plain, None)
}

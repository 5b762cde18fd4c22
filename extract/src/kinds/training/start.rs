//! Whether words of a start or of a first time lead to the step.

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

pub(super) fn starting(sheet: &Sheet, k: usize, i: usize) -> bool {
    // "got him back on the lure" after he was away tells of no training.
    let fetched = sheet.is(k, &["back on"])
        && k > 1
        && sheet.any(k - 1, &[Cue::He, Cue::Her])
        && sheet.is(k - 2, &["got", "had", "brought", "fetched", "called", "took"]);
    // "back on the line as I don't trust her" is how she flew.
    let again = sheet.is(k, &["back on"]) && sheet.is(i, &["the line", "a line", "the string", "a string"]);
    // "not started the lure yet"
    let denied = (k.saturating_sub(2)..k)
        .any(|m| sheet.has(m, Cue::Neg) && (m + 1..=k).all(|x| sheet.before(x) == Break::None));
    if fetched || again || denied {
        return false;
    }
    // "started mantling", "got started": the start must lead to the step.
    (k + 1..i).all(|m| {
        sheet.bird(m).is_some()
            || sheet.dead[m]
            || sheet.any(
                m,
                &[
                    Cue::On,
                    Cue::Her,
                    Cue::He,
                    Cue::His,
                    Cue::Filler,
                    Cue::Today,
                    Cue::Plan,
                    Cue::At,
                    Cue::Both,
                    Cue::OtherBird,
                ],
            )
            || sheet.is(
                m,
                &[
                    "the", "on", "with", "to", "a", "'s", "her", "him", "off", "of", "work", "training",
                    "some", "doing", "up", "for", "in", "again", "using", "flying", "proper", "and", "today",
                    "tonight", "bit",
                ],
            )
    })
}

pub(super) fn first_of(sheet: &Sheet, k: usize, i: usize) -> bool {
    let words = sheet.words(k);
    if words.contains("time")
        || words.contains("go")
        || words.contains("day")
        || words.contains("session")
        || words.contains("night")
        || words.contains("evening")
        || words.contains("morning")
        || words.contains("lesson")
        || words.contains("attempt")
        || words.contains("try")
    {
        return true;
    }
    // "first free flight", "first hunting day": straight before the step.
    (k + 1..i).all(|m| {
        sheet.is(
            m,
            &[
                "ever",
                "proper",
                "real",
                "taste",
                "of",
                "the",
                "her",
                "his",
                "full",
                "session",
                "a",
                "go",
                "day",
                "day's",
                "'s",
                "time",
                "on",
                "flight",
                "flights",
                "experience",
                "lesson",
                "with",
                "outing",
                "trip",
                "at",
                "out",
                "ride",
                "spell",
                "morning",
                "evening",
                "with",
                "in",
            ],
        ) || sheet.any(m, &[Cue::Flight, Cue::On])
    })
}

//! Steps that the bird took without being asked twice, and steps that the keeper marks as done.

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Step, StepOutcome};

/// "took the hood, no fuss", "hood training with Pike, done it first go".
pub(super) fn accepted(
    sheet: &Sheet,
    i: usize,
    step: Step,
    start: usize,
    end: usize,
) -> Option<(StepOutcome, usize, usize)> {
    let tight = |k: usize| sheet.before(k) == Break::None;
    if step == Step::Hood && i > start + 1 && sheet.words(i) == "hood" {
        let verb = i - 2;
        let took = sheet.is(verb, &["took", "takes", "accepted", "taken"])
            && sheet.is(i - 1, &["the", "her", "his"])
            && tight(i - 1)
            && tight(i);
        let bird_did = verb == start
            || !tight(verb)
            || sheet.any(verb - 1, &[Cue::He, Cue::She, Cue::And])
            || sheet.bird(verb - 1).is_some()
            || sheet.is(verb - 1, &["even", "finally", "just", "has", "'s"]);
        let off = sheet.is(i + 1, &["off", "from", "out", "home", "back", "with", "and", "to", "down"])
            && tight(i + 1)
            || sheet.kit(i + 1).is_some();
        let denied = (verb.saturating_sub(3)..verb).any(|k| k >= start && sheet.has(k, Cue::Neg));
        if took && bird_did && !off && !denied {
            return Some((StepOutcome::Done, verb, i));
        }
    }
    if step == Step::TravelBox
        && let Some((from, to)) = boxed(sheet, i, start)
    {
        return Some((StepOutcome::Done, from, to));
    }
    let opens = i == start || sheet.before(i) != Break::None;
    let done = (i + 1..end.min(i + 9)).find(|k| {
        sheet.is(*k, &["done", "did", "nailed", "cracked", "managed", "got"])
            && sheet.is(k + 1, &["it", "that"])
            && tight(k + 1)
            && !sheet.any(k - 1, &[Cue::Neg])
            && (i + 1..*k).all(|m| !sheet.content(m) || sheet.bird(m).is_some())
    })?;
    let kit = matches!(step, Step::Lure | Step::Telemetry | Step::Whistle | Step::Creance | Step::FreeFlight);
    (opens && !kit).then_some((StepOutcome::Done, i, done + 1))
}

/// Steps that a bird takes or refuses as one thing.
pub(super) fn taken_or_refused(step: Step) -> bool {
    matches!(
        step,
        Step::Hood
            | Step::TravelBox
            | Step::FeedingOnTheFist
            | Step::SteppingToTheFist
            | Step::JumpingToTheFist
    )
}

/// "Hood. Rook wouldn't have it", "travel box, she took it without a fuss": the step is a heading.
pub(super) fn headed(sheet: &Sheet, i: usize, step: Step) -> Option<(StepOutcome, usize)> {
    let next = i + 1;
    let alone = i == sheet.start_of_sentence(i) && sheet.before(next) != Break::None && next < sheet.len();
    if !alone || !taken_or_refused(step) {
        return None;
    }
    let end = sheet.end_of_sentence(next).min(next + 9);
    let closes = |k: usize| k + 1 >= end || sheet.before(k + 1) != Break::None;
    let k = (next..end)
        .take_while(|k| *k == next || sheet.before(*k) == Break::None)
        .find(|k| sheet.bird(*k).is_none() && !sheet.any(*k, &[Cue::He, Cue::She, Cue::Filler]))?;
    let outcome = if sheet.any(k, &[Cue::Refused, Cue::Neg]) || sheet.is(k, &["refused", "would", "did"]) {
        StepOutcome::Refused
    } else if sheet.is(k, &["took", "takes", "accepted", "accepts"]) && sheet.is(k + 1, &["it"]) {
        // "she took it off" is no taking.
        let off = sheet.before(k + 2) == Break::None
            && sheet.is(k + 2, &["off", "from", "and", "out", "home", "back", "to"]);
        return (!off).then_some((StepOutcome::Done, k + 1));
    } else {
        return None;
    };
    // Nothing may follow but the step itself: "hood. Rook refused a mouse" is about the mouse.
    let mut to = k;
    while !closes(to) && to < k + 6 {
        to += 1;
        let about = sheet.any(to, &[Cue::Refused, Cue::Neg])
            || sheet.is(
                to,
                &[
                    "to",
                    "go",
                    "get",
                    "in",
                    "into",
                    "have",
                    "wear",
                    "take",
                    "stand",
                    "go in",
                    "n't",
                    "it",
                    "outright",
                    "flat",
                    "altogether",
                    "again",
                    "completely",
                    "point",
                    "blank",
                    "twice",
                    "today",
                    "at all",
                ],
            );
        if !about {
            return None;
        }
        if sheet.is(to, &["it"]) {
            break;
        }
    }
    let refused = (k..=to).any(|m| sheet.any(m, &[Cue::Refused, Cue::Neg]) || sheet.is(m, &["refused"]));
    refused.then_some((outcome, to))
}

/// The next four words of the clause.
fn words_from(sheet: &Sheet, k: usize) -> String {
    let Some(atom) = sheet.atoms.get(k) else { return String::new() };
    let mut words = String::new();
    for (n, token) in sheet.tokens[atom.first..].iter().take(4).enumerate() {
        if n > 0 && token.before != Break::None {
            break;
        }
        words.push_str(&token.norm);
        words.push(' ');
    }
    words
}

/// "walked into the travel box like a lamb": how it went makes it the step.
fn boxed(sheet: &Sheet, i: usize, start: usize) -> Option<(usize, usize)> {
    let verb = (start.max(i.saturating_sub(5))..i).rev().find(|k| {
        matches!(
            sheet.word(*k),
            "went"
                | "goes"
                | "walked"
                | "hopped"
                | "jumped"
                | "stepped"
                | "loaded"
                | "popped"
                | "trotted"
                | "got"
        )
    })?;
    let way = (verb..i).any(|m| sheet.ends(m, &["in", "into"]))
        && (verb + 1..i).all(|m| {
            sheet.is(
                m,
                &["straight", "right", "in", "into", "to", "on", "back", "the", "her", "his", "up", "inside"],
            ) || sheet.ends(m, &["in", "into", "to"])
        })
        && (verb + 1..=i).all(|m| sheet.before(m) == Break::None);
    let mine = verb > start && sheet.any(verb - 1, &[Cue::I, Cue::Neg]);
    const EASY: [&str; 17] = [
        "no bother ",
        "no fuss ",
        "no trouble ",
        "no problem ",
        "no drama ",
        "without a fuss ",
        "without any ",
        "without fuss ",
        "like a ",
        "happily ",
        "willingly ",
        "quietly ",
        "calmly ",
        "on her own ",
        "on his own ",
        "good as gold ",
        "first time ",
    ];
    let how = words_from(sheet, i + 1);
    (way && !mine && EASY.iter().any(|e| how.starts_with(e))).then_some((verb, i + 1))
}

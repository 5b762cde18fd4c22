//! Steps that the keeper marks as done: "stepped to the fist, tick", "mark that one done".

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::Step;

/// The last word of a mark behind the step at `i`.
pub(super) fn ticked(sheet: &Sheet, i: usize, step: Step) -> Option<usize> {
    if sheet.has(i, Cue::ToLure) || sheet.step(i).is_none() {
        return None;
    }
    let the = usize::from(i > 0 && sheet.before(i) == Break::None && sheet.is(i - 1, &["the", "her", "his"]));
    let opens = i == the || sheet.before(i - the) != Break::None;
    // A line or a lure is also what the bird was flown on, and a hood what was mended.
    let act = matches!(
        step,
        Step::FeedingOnTheFist
            | Step::SteppingToTheFist
            | Step::JumpingToTheFist
            | Step::PerchToPerch
            | Step::Manning
            | Step::Entering
    );
    if !opens && !act {
        return None;
    }
    let end = sheet.end_of_sentence(i);
    let alone = opens && sheet.end_of_sentence(i) == i + 1;
    // "weighed her, hooded her, done" ends the round and not the step.
    let start = sheet.start_of_sentence(i);
    let leads = i - start < 6
        && (start..i).all(|m| {
            sheet.bird(m).is_some()
                || sheet.any(m, &[Cue::He, Cue::She, Cue::Be, Cue::Filler])
                || sheet.is(m, &["the", "her", "his", "'s"])
        });
    let closes = |k: usize| k + 1 >= sheet.len() || sheet.before(k + 1) != Break::None;
    for k in i + 1..sheet.len().min(i + 12) {
        if let Some(to) = mark(sheet, k).filter(|_| !(i + 1..k).any(|m| sheet.has(m, Cue::Neg))) {
            return Some(to);
        }
        if sheet.before(k) != Break::None {
            // "tick", "done and dusted"; "done." by itself may end the note.
            let tick = sheet.is(
                k,
                &["tick", "ticked", "ticked off", "done and dusted", "crossed off", "mission accomplished"],
            );
            // "stepping to the fist, though, that's done"
            let told = sheet.any(k, &[Cue::It])
                && sheet.is(k + 1, &["'s", "is"])
                && sheet.is(k + 2, &["done", "sorted", "cracked"])
                && (k + 1..k + 3).all(|m| sheet.before(m) == Break::None)
                && closes(k + 2)
                && opens;
            if told {
                return Some(k + 2);
            }
            let that = usize::from(sheet.is(k + 1, &["that", "off"]) && sheet.before(k + 1) == Break::None);
            // "travel box training with Rook. All done and he was relaxed"
            let all = sheet.is(k, &["all done"])
                || sheet.is(k, &["all"]) && sheet.is(k + 1, &["done"]) && sheet.before(k + 1) == Break::None;
            let headed = opens
                && k == end
                && (i + 1..k).all(|m| {
                    sheet.bird(m).is_some()
                        || sheet.any(m, &[Cue::Her, Cue::He])
                        || sheet.is(m, &["with", "for", "training", "work"])
                });
            if all && headed {
                return Some(k + usize::from(sheet.is(k, &["all"])));
            }
            let done = sheet.is(k, &["done", "sorted", "completed"]) && (k < end && leads || alone);
            if tick && closes(k + that) {
                return Some(k + that);
            }
            if done && closes(k) {
                return Some(k);
            }
        }
        // Only the sentence of the step and the start of the next.
        let other = sheet.bird(k).is_some() && sheet.owner[k] != sheet.owner[i];
        if k >= end || sheet.content(k) || other {
            return None;
        }
    }
    None
}

/// "mark that done", "tick it off", "put it down as done", from atom `k`.
fn mark(sheet: &Sheet, k: usize) -> Option<usize> {
    let first = sheet.atoms.get(k)?.first;
    let end = (first + 1..sheet.tokens.len().min(first + 7))
        .find(|t| sheet.tokens[*t].before != Break::None)
        .unwrap_or_else(|| sheet.tokens.len().min(first + 7));
    let word = |t: usize| sheet.tokens[t].norm.as_str();
    if first + 2 >= end || !matches!(word(first + 1), "that" | "it" | "this" | "the") {
        return None;
    }
    let last = (first + 2..end).find(|t| match word(*t) {
        "off" => matches!(word(first), "tick" | "cross" | "check"),
        "done" => matches!(
            word(first),
            "mark" | "put" | "call" | "count" | "chalk" | "log" | "tick" | "cross" | "book"
        ),
        _ => false,
    })?;
    (k..sheet.len().min(k + 7)).find(|m| sheet.atoms[*m].last >= last)
}

//! The wrong bird named and put right: "682 for Hazel. Sorry, Pike.", "took the bell off Pike, no, off Dot".

use crate::lexicon::Cue;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;

/// How far back the wrong name may stand, in atoms.
const REACH: usize = 24;

/// Gives what was said of a bird to the one named in its place.
pub(super) fn renamed(sheet: &mut Sheet) {
    let mut i = 0;
    while i < sheet.len() {
        let (cue, mut right) = (i, i + 1);
        i += 1;
        if !taken_back(sheet, cue) || sheet.dead[cue] {
            continue;
        }
        while right < sheet.len() && right < cue + 7 && between(sheet, right) {
            right += 1;
        }
        let Some(bird) = sheet.bird(right).filter(|_| closes(sheet, right)) else { continue };
        let mut from = cue;
        while from > 0 && taken_back(sheet, from - 1) {
            from -= 1;
        }
        // "Pike, I mean, Pike": the right name was already begun with.
        let begun = from > 0
            && sheet.bird(from - 1) == Some(bird)
            && (from == 1 || sheet.before(from - 1) == Break::Stop);
        let from = from - usize::from(begun);
        let near = from.saturating_sub(REACH)..from;
        let Some(wrong) = near.rev().find(|k| sheet.bird(*k).is_some()) else { continue };
        let old = sheet.bird(wrong).filter(|b| *b != bird);
        let Some(old) = old.filter(|_| only_one_stop(sheet, wrong, from)) else { continue };
        // Back to where another bird's part ends.
        let start = sheet.start_of_sentence(wrong);
        let start =
            (start..wrong).rev().find(|k| sheet.owner[*k] != Owner::One(old)).map_or(start, |k| k + 1);
        if !(start..from).any(|k| sheet.content(k) && sheet.bird(k).is_none()) {
            continue;
        }
        for k in start..sheet.len().min(right + 1) {
            sheet.owner[k] = Owner::One(bird);
            if sheet.corrected[k].is_none() && k < from {
                sheet.corrected[k] = Some(k);
            }
        }
        // What goes on after it without a name is still said of the right one.
        for k in right + 1..sheet.len() {
            if sheet.owner[k] != Owner::One(old) || sheet.bird(k).is_some() {
                break;
            }
            sheet.owner[k] = Owner::One(bird);
        }
        i = right + 1;
    }
}

/// Words that put right; "no" and "not" only with a pause before them, or with others.
fn taken_back(sheet: &Sheet, k: usize) -> bool {
    sheet.has(k, Cue::TakenBack)
        && !sheet.is(k, &["not", "rather", "wrong", "actually"])
        && (!sheet.is(k, &["no"])
            || sheet.before(k) != Break::None
            || sheet.has(k + 1, Cue::TakenBack)
            || k > 0 && sheet.has(k - 1, Cue::TakenBack))
}

fn between(sheet: &Sheet, k: usize) -> bool {
    sheet.bird(k).is_none()
        && (sheet.any(k, &[Cue::TakenBack, Cue::Filler, Cue::It, Cue::Be])
            || sheet.is(
                k,
                &[
                    "off", "for", "on", "to", "with", "from", "of", "that", "that's", "'s", "that was",
                    "it was", "her", "the",
                ],
            ))
        && !sheet.is(k, &["not"])
}

/// Nothing new is said of the bird named: "Pike.", "Pike did."
fn closes(sheet: &Sheet, name: usize) -> bool {
    let ends = |k: usize| k >= sheet.len() || sheet.before(k) != Break::None;
    let next = name + 1;
    ends(next) && !(sheet.before(next) == Break::Comma && sheet.num(next).is_some())
        || sheet.is(next, &["did", "has", "was", "is", "that was", "it was"]) && ends(next + 1)
}

/// The wrong name stands in the same sentence or in the one before.
fn only_one_stop(sheet: &Sheet, wrong: usize, from: usize) -> bool {
    (wrong + 1..=from.min(sheet.len() - 1)).filter(|k| sheet.before(*k) == Break::Stop).count() <= 1
}

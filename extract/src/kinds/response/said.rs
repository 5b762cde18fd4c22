//! "Eight flights … and she was good": a word for the bird that judges the flights just told of.

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
use note::Value;

/// How far back the flights may have been told, in atoms.
const REACH: usize = 16;

/// Whether the word at `i` closes "she was …" shortly behind the bird's flights.
pub(super) fn of_flights(sheet: &Sheet, i: usize, drafts: &[Draft]) -> bool {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let subject = i > 1
        && tight(i)
        && tight(i - 1)
        && sheet.is(i - 1, &["was", "were", "'s", "is"])
        && (sheet.any(i - 2, &[Cue::He, Cue::She]) || sheet.bird(i - 2).is_some());
    let closes = i + 1 >= sheet.len() || !tight(i + 1);
    if !subject || !closes {
        return false;
    }
    let start = sheet.start_of_sentence(i);
    let floor = if start == 0 { 0 } else { sheet.start_of_sentence(start - 1) };
    let theirs = |owner: Owner| match (owner, sheet.owner[i]) {
        (Owner::Two(a, b), Owner::One(one)) => a == one || b == one,
        (Owner::Many(all), Owner::One(one)) => one < 64 && all >> one & 1 == 1,
        (a, b) => a == b,
    };
    drafts.iter().rev().take(40).any(|d| {
        matches!(d.value, Value::Flights(_))
            && theirs(sheet.owner[d.head])
            && d.from >= floor
            && d.to < i
            && i - d.to < REACH
    })
}

//! Several pieces of kit in one list, and one verb for all of them.

use crate::lexicon::{Cue, Sense};
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::EquipmentAction;

/// The kit named in one list with that at `i` and before it: "jesses, swivel and leash", the nearest first.
pub(super) fn listed_before(sheet: &Sheet, i: usize) -> Vec<usize> {
    let mut listed = Vec::new();
    let (start, mut k) = (sheet.start_of_sentence(i).max(i.saturating_sub(12)), i);
    let mut joined = false;
    while k > start {
        k -= 1;
        joined |= sheet.has(k, Cue::And) || sheet.before(k + 1) == Break::Comma;
        if sheet.kit(k).is_some() {
            // A piece right before another belongs to it: "the tail bell".
            if !joined || sheet.dead[k] || sheet.used[k] || sheet.owner[k] != sheet.owner[i] {
                break;
            }
            listed.push(k);
            joined = false;
        } else if !(sheet.any(k, &[Cue::And, Cue::Both])
            || sheet.is(k, &["the", "her", "his", "new", "old", "a"]))
        {
            break;
        }
    }
    listed
}

/// "changed the jesses and the leash": the verb holds for the list.
pub(super) fn in_list(
    sheet: &Sheet,
    i: usize,
    end: usize,
    last: Option<(usize, EquipmentAction)>,
) -> Option<(EquipmentAction, usize, usize)> {
    let (at, action) = last.filter(|(at, _)| i - at <= 6)?;
    // "a transmitter on Mav, his leash was frayed": a fresh statement.
    if (at + 1..i).any(|k| sheet.bird(k).is_some())
        || (sheet.any(end + 1, &[Cue::Be]) || sheet.word(end + 1) == "'s")
    {
        return None;
    }
    let only = (at + 1..i).all(|k| {
        sheet.dead[k]
            || sheet.used[k]
            || sheet.any(k, &[Cue::And, Cue::Old, Cue::His, Cue::Her])
            || sheet.is(k, &["there", "then", "now", "just"])
            || sheet.is(k, &["off", "him", "it", "on", "both"])
            || sheet.is(k, &["a", "the", "an", "new", "both", "her", "his", "leather", "of", "pair", "one"])
            || sheet.num(k).is_some()
    });
    (only && sheet.before(i) != Break::Stop && (at + 1..=i).all(|k| sheet.before(k) != Break::Stop))
        .then_some((action, i, end))
}

/// "fitted her bell, jessie's as well", "checked the leash and the civil too": a piece added to the last one,
/// by a word that only sounds like it.
pub(super) fn misheard(
    sheet: &Sheet,
    i: usize,
    last: Option<(usize, EquipmentAction)>,
) -> Option<(u16, usize)> {
    last.filter(|(at, _)| i - at <= 6 && sheet.owner[*at] == sheet.owner[i])?;
    if sheet.bird(i).is_some() || sheet.content(i) {
        return None;
    }
    let lexicon = sheet.lexicon;
    let found = lexicon.heard.find(&sheet.ids, &sheet.tokens, sheet.atoms[i].first)?;
    let last = sheet.atoms[i].first + found.len - 1;
    let end = (i..sheet.len().min(i + 3)).find(|k| sheet.atoms[*k].last == last)?;
    let tight = sheet.before(end + 1) == Break::None;
    let added = tight && sheet.is(end + 1, &["too", "as well", "also"]);
    // "got the bell on him and the jessies on him"
    let worn = tight
        && i > 1
        && sheet.is(end + 1, &["on"])
        && (sheet.any(end + 2, &[Cue::Her, Cue::He]) || sheet.bird(end + 2).is_some())
        && sheet.is(i - 1, &["the", "her", "his"])
        && sheet.has(i - 2, Cue::And);
    let kit = found.senses.iter().find_map(|s| if let Sense::Kit(kit) = s { Some(*kit) } else { None })?;
    (added || worn).then_some((kit, end))
}

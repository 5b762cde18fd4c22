//! What was done to a piece of kit, told right behind it.

use super::before::old_one_gone;
use super::daily;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::EquipmentAction;

/// "change of jesses, and the bewit on her left leg had snapped": another piece with a verb of its own.
pub(super) fn own_clause(
    sheet: &Sheet,
    i: usize,
    start: usize,
    end: usize,
) -> Option<(EquipmentAction, usize, usize)> {
    let other = (start..i).rev().find(|k| sheet.kit(*k).is_some() && sheet.used[*k])?;
    let fresh = (other + 1..i).any(|k| sheet.any(k, &[Cue::And, Cue::But]))
        && sheet.is(i - 1, &["the", "her", "his", "one", "a"]);
    let had = (i + 1..end).take_while(|m| sheet.before(*m) == Break::None && sheet.kit(*m).is_none()).find(
        |m| {
            (sheet.any(*m, &[Cue::Be]) || sheet.is(*m, &["had", "has", "'s"]))
                && sheet.any(*m + 1, &[Cue::Broke, Cue::Lost])
        },
    )?;
    let action = if sheet.has(had + 1, Cue::Broke) { EquipmentAction::Broken } else { EquipmentAction::Lost };
    (fresh && sheet.before(had + 1) == Break::None).then_some((action, i, had + 1))
}

/// "tail mount fitted, transmitter checked": the action right behind ends the clause.
pub(super) fn straight_after(sheet: &Sheet, i: usize, end: usize) -> Option<(EquipmentAction, usize, usize)> {
    use EquipmentAction as A;
    let mut m = i + 1;
    while m < end
        && sheet.before(m) == Break::None
        && (sheet.any(m, &[Cue::Be]) || sheet.is(m, &["'s", "all", "had", "has", "have", "got", "now"]))
    {
        m += 1;
    }
    // "lost a bell fitted a new leash": that action has its own piece.
    if sheet.before(m + 1) == Break::None && sheet.is(m + 1, &["her", "his", "the", "a", "new", "another"]) {
        return None;
    }
    let closes = m + 1 >= end
        || sheet.before(m + 1) != Break::None
        || sheet.any(m + 1, &[Cue::And, Cue::But])
        || sheet.bird(m + 1).is_some()
        || sheet.is(m, &["off"]) && sheet.any(m + 1, &[Cue::Her, Cue::He])
        // "tail mount broken swivel lost", without marks
        || sheet.unbroken && sheet.kit(m + 1).is_some()
        // "bell lost on Rook"
        || sheet.is(m + 1, &["on"]) && (sheet.bird(m + 2).is_some() || sheet.has(m + 2, Cue::Other));
    if m >= end || sheet.before(m) != Break::None || sheet.dead[m] || !closes {
        return None;
    }
    // "bells off, transmitter on"
    let led = i > 0 && sheet.before(i) == Break::None && sheet.is(i - 1, &["her", "his", "the", "both"]);
    let lead = i - usize::from(led);
    let opens = lead == 0
        || sheet.before(lead) != Break::None
        || sheet.has(lead - 1, Cue::And)
        || sheet.unbroken && sheet.behaviour(lead - 1).is_some();
    let item = sheet.kit(i).map_or("", |k| sheet.lexicon.equipment()[usize::from(k)].word.as_str());
    // "harness off Rook"
    let off_bird =
        sheet.is(m, &["off"]) && (sheet.bird(m + 1).is_some() || sheet.any(m + 1, &[Cue::Her, Cue::He]));
    let ends = off_bird
        || m + 1 >= end
        || sheet.before(m + 1) != Break::None
        || sheet.any(m + 1, &[Cue::And, Cue::But]);
    let worn = (i.saturating_sub(2)..i).any(|k| sheet.is(k, &["with", "without"]));
    let done = m == i + 1 && opens && !worn && !daily(item) && ends;
    let action = match sheet.word(m) {
        "off" if done && sheet.words(m) == "off" => A::Removed,
        "on" if done && sheet.words(m) == "on" && !old_one_gone(sheet, i) => A::Fitted,
        "gone" if sheet.words(m) != "gone" => return None,
        "fitted" | "attached" | "added" | "mounted" | "installed" => A::Fitted,
        "changed" | "replaced" | "swapped" | "renewed" => A::Changed,
        "removed" => A::Removed,
        "checked" | "tested" | "inspected" | "oiled" | "greased" => A::Checked,
        "broken" | "snapped" | "split" | "broke" | "bust" | "torn" => A::Broken,
        "lost" | "gone" | "missing" => A::Lost,
        _ => return None,
    };
    Some((action, i, m))
}

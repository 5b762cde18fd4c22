//! What was done to a piece of kit that was spoken of before: "changed it", "put a fresh one on".

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::EquipmentAction;

/// "new hood for her, the old one was rubbing": what was fitted stands in place of another.
pub(super) fn old_one_gone(sheet: &Sheet, i: usize) -> bool {
    let next = sheet.end_of_sentence(i);
    let end = sheet.end_of_sentence(next).min(i + 16);
    (i + 1..end)
        .take_while(|k| {
            // "new bewits and bells, the old ones were cracked"
            let listed = sheet.has(k - 1, Cue::And) && sheet.before(*k) == Break::None;
            listed || sheet.kit(*k).is_none() || sheet.kit(*k) == sheet.kit(i)
        })
        .any(|k| {
            sheet.is(k, &["old", "worn", "last", "previous", "worn out"])
                && sheet.before(k + 1) == Break::None
                && (sheet.is(k + 1, &["one", "ones", "pair", "set"]) || sheet.kit(k + 1).is_some())
                || sheet.is(k, &["old one", "old ones", "last one", "the last one"])
                || worn_one(sheet, k)
        })
}

/// "in place of the cracked ones": the word is said of what went.
pub(super) fn worn_one(sheet: &Sheet, k: usize) -> bool {
    sheet.has(k, Cue::Broke)
        && sheet.before(k + 1) == Break::None
        && sheet.is(k + 1, &["one", "ones", "pair", "set"])
        && k > 0
        && sheet.is(k - 1, &["the", "her", "his", "those", "that", "their"])
}

/// "changed it", "took them off", "replaced both": the piece spoken of before.
pub(super) fn done_to_it(sheet: &Sheet, i: usize) -> Option<(EquipmentAction, usize)> {
    use EquipmentAction as A;
    // "one was cracked, so I put new ones on"
    let ones = sheet.is(i, &["ones", "one", "pair", "set"])
        && i > 0
        && sheet.before(i) == Break::None
        && (sheet.ends(i - 1, &["new", "fresh", "another", "replacement"]))
        && ((i.saturating_sub(6)..i).any(|k| sheet.any(k, &[Cue::Fit, Cue::Put, Cue::Change]))
            || sheet.before(i + 1) == Break::None
                && (sheet.is(i + 1, &["put on", "fitted", "put", "tied on"])
                    // "a fresh pair on"
                    || sheet.is(i + 1, &["on"])
                        && (closes(sheet, i + 1)
                            || sheet.any(i + 2, &[Cue::Her, Cue::He, Cue::And])
                            || sheet.bird(i + 2).is_some())));
    // "removed the old anklets and fitted new"
    let anew = sheet.is(i, &["new"])
        && i > 0
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["fitted", "fit", "put on", "put"])
        && (i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None || sheet.is(i + 1, &["on"]));
    // "took off the old anklets and put her on new"
    let put_on = sheet.is(i, &["new"])
        && i > 0
        && sheet.ends(i - 1, &["on"])
        && (i.saturating_sub(2)..=i).all(|k| sheet.before(k) == Break::None)
        && (i.saturating_sub(3)..i).any(|k| sheet.word(k) == "put")
        && (closes(sheet, i) || sheet.any(i + 1, &[Cue::And, Cue::Check]));
    if anew || put_on {
        return Some((A::Changed, i));
    }
    if ones && sheet.kit(i + 1).is_none() && !sheet.is(i + 1, &["of"]) {
        return Some((A::Changed, i));
    }
    // "it's been replaced"
    let passive = sheet.is(i, &["replaced", "changed", "renewed", "swapped"])
        && i > 0
        && sheet.before(i) == Break::None
        && sheet.ends(i - 1, &["been"])
        && (i + 1 >= sheet.len()
            || sheet.before(i + 1) != Break::None
            || sheet.any(i + 1, &[Cue::And, Cue::Today]));
    if passive {
        return Some((A::Changed, i));
    }
    // "her leash was fraying, so there's another on"
    let another = sheet.is(i, &["another", "another one", "a fresh one", "a new one"])
        && sheet.before(i + 1) == Break::None
        && sheet.is(i + 1, &["on"])
        && (closes(sheet, i + 1)
            || sheet.any(i + 2, &[Cue::Old, Cue::And, Cue::But, Cue::Her, Cue::He])
            || sheet.is(i + 2, &["now", "instead"]));
    if another {
        return Some((A::Changed, i + 1));
    }
    // "so off with them"
    if sheet.is(i, &["off"])
        && sheet.is(i + 1, &["with"])
        && sheet.is(i + 2, &["it", "them", "those", "that", "both"])
        && (i + 1..i + 3).all(|k| sheet.before(k) == Break::None)
        && (closes(sheet, i + 2) || sheet.any(i + 3, &[Cue::And, Cue::But]))
    {
        return Some((A::Removed, i + 2));
    }
    // "that bell again. Lost it."
    if sheet.is(i, &["lost it"]) && i > 0 && sheet.before(i) == Break::Stop && closes(sheet, i) {
        return Some((A::Lost, i));
    }
    let it = i + 1;
    if !sheet.is(it, &["it", "them", "that", "both", "those", "them both", "both of them"])
        || sheet.before(it) != Break::None
        || i > 0 && sheet.before(i) == Break::None && sheet.has(i - 1, Cue::Neg)
    {
        return None;
    }
    let off = sheet.is(it + 1, &["off"]) && sheet.before(it + 1) == Break::None;
    // "put them on her" ends in "on" and not in what they stand on.
    let on = sheet.is(it + 1, &["on"])
        && sheet.before(it + 1) == Break::None
        && sheet.is(i, &["put", "got"])
        && (closes(sheet, it + 1)
            || sheet.any(it + 2, &[Cue::Her, Cue::He, Cue::And])
            || sheet.bird(it + 2).is_some());
    let pair = usize::from(
        sheet.is(it, &["them"]) && sheet.is(it + 1, &["both"]) && sheet.before(it + 1) == Break::None,
    );
    let ends = |k: usize| {
        k >= sheet.len()
            || sheet.before(k) != Break::None
            || sheet.any(k, &[Cue::And, Cue::But, Cue::Today])
            || sheet.is(k, &["for", "with", "over", "this", "out"])
            || sheet.is(k, &["to", "on"])
                && (sheet.bird(k + 1).is_some() || sheet.any(k + 1, &[Cue::Her, Cue::He]))
    };
    let action = match sheet.word(i) {
        "changed" | "replaced" | "swapped" | "renewed" | "changing" | "replacing" => A::Changed,
        "removed" => A::Removed,
        "took" | "taken" | "cut" if off => A::Removed,
        "checked" | "tested" | "inspected" | "oiled" | "greased" | "tightened" | "adjusted" | "mended"
        | "repaired" | "cleaned" | "waxed" | "stitched" => A::Checked,
        // "her jesses were getting thin, so I cut a new pair and fitted those"
        "fitted" | "put" | "got"
            if (on || sheet.is(i, &["fitted"]))
                && (i.saturating_sub(9)..i).any(|k| sheet.is(k, &["new", "fresh", "another"])) =>
        {
            A::Changed
        }
        "fitted" => A::Fitted,
        // "cut a pair of anklets and put them on Rook"
        "put" | "got" if on => A::Fitted,
        _ => return None,
    };
    let to = if off || on { it + 1 } else { it + pair };
    (on || ends(to + 1)).then_some((action, to))
}

fn closes(sheet: &Sheet, k: usize) -> bool {
    k + 1 >= sheet.len() || sheet.before(k + 1) != Break::None
}

/// "cracked at the clip", "gone near the button": where the piece gave way.
pub(super) fn of_it(sheet: &Sheet, i: usize) -> bool {
    let the = i.wrapping_sub(1);
    i > 1
        && sheet.is(the, &["the", "its", "one"])
        && sheet.is(i - 2, &["at", "near", "by", "beside", "below", "above", "along", "around"])
        && sheet.before(i) == Break::None
        && sheet.before(the) == Break::None
}

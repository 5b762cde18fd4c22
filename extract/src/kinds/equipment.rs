//! What was done to the kit.

mod before;
mod behind;
mod list;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use before::{done_to_it, of_it, old_one_gone, worn_one};
use behind::{own_clause, straight_after};
use list::{in_list, listed_before, misheard};
use note::{Equipment, EquipmentAction, Flag, Value};

/// Finds what was done to the kit.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let mut last: Option<(usize, EquipmentAction)> = None;
    // The piece spoken of last and its entry; `seen` is where something was last said of it.
    let mut spoken: Option<(usize, u16, Option<usize>)> = None;
    let mut seen = 0;
    for i in 0..sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            continue;
        }
        if let Some((action, to)) = done_to_it(sheet, i)
            && let Some((at, kit, entry)) = spoken.filter(|_| i - seen < 10)
            // "made a pair of jesses and fitted them to Rook": whose they are is said with the fitting.
            && let whom = whose(sheet, to)
            && (sheet.owner[at] == sheet.owner[i] || whom.is_some())
        {
            seen = to;
            let item = sheet.lexicon.equipment()[usize::from(kit)].word.clone();
            let broken = entry.is_some_and(|e| {
                matches!(&out[e].value, Value::Equipment(q)
                if matches!(
                    q.action,
                    EquipmentAction::Broken | EquipmentAction::Removed | EquipmentAction::Lost
                ))
            });
            let handled = daily(&item)
                && (action == EquipmentAction::Removed || action == EquipmentAction::Fitted && put(sheet, i));
            if entry.is_none() && !handled || broken && action == EquipmentAction::Changed {
                let value = Value::Equipment(Equipment { item, action });
                let draft = Draft::new(sheet, value, at, whom.unwrap_or(to), 0.9).at(whom.unwrap_or(at));
                let kept = entry.unwrap_or(out.len());
                match entry {
                    Some(e) => out[e] = draft,
                    None => out.push(draft),
                }
                sheet.take(i, to);
                // "cut it off and put a fresh one on"
                spoken = (action == EquipmentAction::Removed).then_some((at, kit, Some(kept)));
                continue;
            }
        }
        let named = sheet.kit(i).map(|kit| (kit, i));
        let Some((kit, end)) = named.or_else(|| misheard(sheet, i, last)) else { continue };
        let strange = named.is_none();
        // "the leash has gone at the clip": a part of the piece spoken of.
        if of_it(sheet, i) && spoken.is_some_and(|(at, ..)| i - at < 8 && at >= sheet.start_of_sentence(i)) {
            continue;
        }
        spoken = Some((i, kit, None));
        seen = i;
        let item = sheet.lexicon.equipment()[usize::from(kit)].word.clone();
        // "the battery in her transmitter" is one piece.
        if item == "battery"
            && let Some(holder) = (i + 1..(i + 5).min(sheet.len())).find(|k| sheet.kit(*k).is_some())
            && (i + 1..holder).all(|k| {
                (sheet.is(k, &["in", "on", "of", "for", "the", "her", "his", "'s"])
                    || sheet.bird(k).is_some())
                    && sheet.before(k) == Break::None
            })
            && let Some((action, from, to)) = action(sheet, i, &item)
        {
            let of = sheet.kit(holder).map_or(item.clone(), |k| {
                format!("{} battery", sheet.lexicon.equipment()[usize::from(k)].word)
            });
            let value = Value::Equipment(Equipment { item: of, action });
            out.push(Draft::new(sheet, value, from.min(i), to.max(holder), 0.9).at(i));
            sheet.take(from.min(i), to.max(holder));
            continue;
        }
        let told = if strange { None } else { action(sheet, i, &item) };
        let Some((action, from, to)) = told.or_else(|| in_list(sheet, i, end, last)) else {
            continue;
        };
        // "the scales have gone flat, new batteries in": not the bird's kit.
        let flat =
            item == "scale" && (i + 1..=to).any(|k| sheet.ends(k, &["flat", "dead", "battery", "batteries"]));
        let spare = item == "battery"
            && !(i.saturating_sub(24)..sheet.len().min(i + 12)).any(|k| {
                sheet.kit(k).is_some_and(|k| sheet.lexicon.equipment()[usize::from(k)].word == "transmitter")
            });
        if flat || spare {
            continue;
        }
        let action = if action == EquipmentAction::Fitted && old_one_gone(sheet, i) {
            EquipmentAction::Changed
        } else {
            action
        };
        last = Some((i, action));
        // "her jesses and leash changed": what was done behind the last is done to each.
        if to > i {
            for k in listed_before(sheet, i).into_iter().rev() {
                let item = sheet.lexicon.equipment()[usize::from(sheet.kit(k).unwrap_or(kit))].word.clone();
                out.push(Draft::new(sheet, Value::Equipment(Equipment { item, action }), k, k, 0.93).at(k));
                sheet.take(k, k);
            }
        }
        let value = Value::Equipment(Equipment { item, action });
        spoken = Some((i, kit, Some(out.len())));
        // "swivel cracked on the other one": the bird is told behind it.
        let other = (sheet.is(to + 1, &["on"]) && sheet.has(to + 2, Cue::Other) && sheet.live(to + 2))
            .then_some(to + 2);
        let mut draft = Draft::new(sheet, value, from.min(i), to.max(i), 0.95).at(other.unwrap_or(i));
        if strange {
            draft.flag(Flag::MisheardWord);
        }
        out.push(draft);
        sheet.take(from.min(i), to.max(i));
    }
}

/// "put the tracker on charge", "put the bell on the shelf".
fn laid_by(sheet: &Sheet, on: usize) -> bool {
    let place = on + 1 + usize::from(sheet.is(on + 1, &["the", "my", "a"]));
    sheet.before(on + 1) == Break::None
        && sheet.is(
            place,
            &[
                "charge",
                "order",
                "sale",
                "hold",
                "loan",
                "test",
                "charger",
                "shelf",
                "bench",
                "table",
                "side",
                "hook",
                "list",
                "dash",
                "roof",
                "bonnet",
                "desk",
                "windowsill",
                "radiator",
                "hob",
            ],
        )
}

/// "put it on", "got them on her": a thing of every day is put on without its being new.
fn put(sheet: &Sheet, i: usize) -> bool {
    sheet.is(i, &["put", "got", "get", "slipped", "popped"])
}

/// The bird that something was fitted to: "fitted them to Rook".
fn whose(sheet: &Sheet, to: usize) -> Option<usize> {
    // "put them on Rook" ends in "on" already.
    let bird = if sheet.is(to, &["on"]) { to + 1 } else { to + 2 };
    (sheet.is(bird - 1, &["to", "on", "onto", "for"])
        && sheet.bird(bird).is_some()
        && sheet.live(bird)
        && sheet.before(to + 1) == Break::None
        && sheet.before(bird) == Break::None)
        .then_some(bird)
}

/// Kit that is handled every day: putting it on or taking it off is no change of kit.
fn daily(item: &str) -> bool {
    matches!(
        item,
        "hood"
            | "glove"
            | "perch"
            | "lure"
            | "creance"
            | "scale"
            | "leash"
            | "swivel"
            | "travel box"
            | "bath"
    )
}

fn action(sheet: &Sheet, i: usize, item: &str) -> Option<(EquipmentAction, usize, usize)> {
    use EquipmentAction as A;
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(9));
    let end = sheet.end_of_sentence(i).min(i + 8);
    // "one kilo and fifteen on the new scale": weighed on it.
    let used_on = item == "scale"
        && (start..i).any(|k| {
            sheet.is(k, &["on", "by"])
                && k > 0
                && (sheet.num(k - 1).is_some() || sheet.any(k - 1, &[Cue::Grams, Cue::Ounces, Cue::Weigh]))
        });
    // "that was with his bell and transmitter on": worn while it was so.
    let worn = sheet.is(i + 1, &["on"])
        && sheet.before(i + 1) == Break::None
        && (start..i)
            .rev()
            .take_while(|k| sheet.before(k + 1) == Break::None)
            .any(|k| sheet.is(k, &["with"]));
    if worn {
        return None;
    }
    if used_on {
        return None;
    }
    if let Some(found) = own_clause(sheet, i, start, end) {
        return Some(found);
    }
    if let Some((action, from, to)) = straight_after(sheet, i, end) {
        let new = i > start && sheet.is(i - 1, &["new"]) && sheet.before(i) == Break::None;
        return Some((action, from - usize::from(new), to));
    }
    // "put a new bewit on the right bell": where it went.
    let place = (i.saturating_sub(3)..i).find(|k| sheet.is(*k, &["on", "onto"]));
    let there = place.is_some_and(|p| {
        p > 0
            && sheet.kit(p - 1).is_some()
            && sheet.used[p - 1]
            && (p..=i).all(|m| sheet.before(m) == Break::None)
            && sheet.is(p + 1, &["the", "her", "his"])
    });
    if there {
        return None;
    }
    if only_meant(sheet, start, i) {
        return None;
    }
    let mut new = None;
    let mut k = i;
    let denied = |k: usize| {
        k > 0 && sheet.before(k) == Break::None && sheet.any(k - 1, &[Cue::Neg]) && !sheet.dead[k - 1]
    };
    while k > start {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        if sheet.bird(k).is_some() && k + 3 < i && sheet.before(k) == Break::Stop {
            break;
        }
        // Another statement begins; "cracked a talon, new anklets" is one too.
        if sheet.sign(k).is_some()
            || sheet.food(k).is_some() && sheet.used[k]
            || sheet.num(k).is_some() && sheet.used[k]
        {
            break;
        }
        if sheet.before(k + 1) != Break::None && i - k > 5 {
            break;
        }
        // "leash checked, swivel's fine": the verb closed the clause before.
        if sheet.before(k + 1) != Break::None
            && sheet.any(k, &[Cue::Check, Cue::Change, Cue::Fit])
            && sheet.used[k]
            && (sheet.any(i + 1, &[Cue::Be]) || sheet.is(i + 1, &["'s"]))
        {
            break;
        }
        if sheet.is(k, &["new", "fresh"]) || sheet.words(k) == "brand new" {
            new = new.or(Some(k));
            continue;
        }
        // "switched over to the kitchen scale": weighed on another.
        if item == "scale" && sheet.has(k, Cue::Change) && (k..i).any(|m| sheet.ends(m, &["to"])) {
            return None;
        }
        if sheet.has(k, Cue::Change) && !denied(k) {
            return Some((A::Changed, k, i));
        }
        if sheet.has(k, Cue::Put) || sheet.is(k, &["put", "putting"]) {
            let on = (i + 1..end.min(i + 6)).take_while(|m| sheet.before(*m) == Break::None).find(|m| {
                sheet.is(*m, &["on"]) && !laid_by(sheet, *m)
                        || sheet.words(*m) == "back on"
                        // "clipped the tag in"
                        || sheet.is(*m, &["in"]) && sheet.is(k, &["clipped", "popped", "bolted"])
            });
            let before = (k + 1..i).find(|m| sheet.is(*m, &["on"]));
            let named = (k + 1..i).any(|m| sheet.bird(m).is_some());
            if new.is_some() || (on.is_some() || before.is_some() && !named) && !daily(item) {
                return Some((fit(sheet, i, end), k, on.unwrap_or(i).max(i)));
            }
            if sheet.is(k, &["got", "get"]) {
                continue;
            }
            break;
        }
        if sheet.has(k, Cue::Fit) && !denied(k) {
            if sheet.words(k) == "put on" && daily(item) && new.is_none() {
                break;
            }
            return Some((fit(sheet, i, end), k, i));
        }
        if sheet.has(k, Cue::TakeOff) && !denied(k) {
            return (!daily(item) || sheet.is(k, &["removed", "removing"])).then_some((A::Removed, k, i));
        }
        if sheet.has(k, Cue::Take) && !sheet.has(k, Cue::TakeOff) {
            let off = (i + 1..end.min(i + 5)).find(|m| {
                (sheet.is(*m, &["off"]) || sheet.is(*m, &["off after"])) && sheet.before(*m) == Break::None
            });
            if let Some(off) = off.filter(|_| !daily(item)) {
                return Some((A::Removed, k, off));
            }
        }
        if sheet.has(k, Cue::Lost)
            && !denied(k)
            && i - k <= 4
            && (!sheet.is(k, &["dropped"]) || item == "tail mount")
        {
            return Some((A::Lost, k, i));
        }
        if sheet.has(k, Cue::Broke) && !denied(k) && i - k <= 5 {
            // "swapped out the cracked bell": what was done about it.
            let mended = (start..k).rev().take_while(|m| sheet.before(*m + 1) == Break::None).find(|m| {
                sheet.any(*m, &[Cue::Change]) && !denied(*m)
                    || sheet.has(*m, Cue::TakeOff) && sheet.kit(i).is_some() && sheet.is(*m, &["removed"])
            });
            let of_its_kind = k + 1 == i && sheet.is(k.wrapping_sub(1), &["the", "her", "his", "that", "a"]);
            if let Some(m) = mended.filter(|_| of_its_kind) {
                let action = if sheet.has(m, Cue::Change) { A::Changed } else { A::Removed };
                return Some((action, m, i));
            }
            return Some((A::Broken, k, i));
        }
        if sheet.has(k, Cue::Check) && !denied(k) {
            return Some((A::Checked, k, i));
        }
    }
    // After it: "swivel fitted", "bell's gone", "transmitter isn't working".
    let mut m = i + 1;
    while m < end && m < i + 6 && sheet.before(m) == Break::None {
        if sheet.dead[m] {
            m += 1;
            continue;
        }
        if sheet.kit(m).is_some() && !sheet.any(m, &[Cue::Broke, Cue::Check, Cue::Lost]) {
            break;
        }
        // "in place of the old one, checked the swivel"; without marks "my glove lift's broken" too.
        let another = sheet.unbroken
            && m == i + 1
            && sheet.senses(m).is_empty()
            && sheet.bird(m).is_none()
            && sheet.word(m + 1) == "'s";
        if another || sheet.is(m, &["in place of", "instead of"]) {
            break;
        }
        let no = (i + 1..m).any(|x| sheet.has(x, Cue::Neg));
        if sheet.is(m, &["fitted", "attached", "added", "mounted", "installed"]) && !no {
            return Some((A::Fitted, new.unwrap_or(i), m));
        }
        if sheet.has(m, Cue::Fit) && sheet.words(m).ends_with(" on") && !no {
            return Some((A::Fitted, new.unwrap_or(i), m));
        }
        // "her hood was changed for a smaller one"
        let passive = matches!(sheet.word(m), "changed" | "replaced" | "swapped" | "switched")
            && (sheet.any(m - 1, &[Cue::Be]) || sheet.is(m - 1, &["'s"]));
        if (sheet.is(m, &["changed", "replaced", "swapped", "renewed"]) || passive) && !no {
            return Some((A::Changed, i, m));
        }
        if sheet.is(m, &["removed"]) || sheet.words(m) == "taken off" || sheet.words(m) == "cut off" {
            return Some((A::Removed, i, m));
        }
        // "the leash has snapped at the clip" is no bite.
        let at = sheet.is(m, &["snapped at"])
            && sheet.is(m + 1, &["the", "its", "one"])
            && (sheet.kit(m + 2).is_some()
                || sheet.is(m + 2, &["end", "clip", "fold", "slit", "knot", "seam"]));
        if at && !no {
            return Some((A::Broken, i, m));
        }
        if sheet.has(m, Cue::Broke) && !no && !worn_one(sheet, m)
            || no && sheet.is(m, &["working", "sending", "transmitting"])
        {
            return Some((A::Broken, i, m));
        }
        // "in the big shed" is where it was.
        let thing = (m.saturating_sub(2)..m).any(|x| x > i && sheet.is(x, &["the", "a", "my", "our"]));
        if sheet.has(m, Cue::Lost) && !thing && !sheet.is(m, &["dropped", "lost"])
            || sheet.is(m, &["lost", "gone"]) && sheet.any(m.saturating_sub(1), &[Cue::Be])
        {
            return Some((A::Lost, i, m));
        }
        if sheet.has(m, Cue::Check) && !no {
            return Some((A::Checked, i, m));
        }
        if sheet.any(m, &[Cue::And, Cue::But]) {
            break;
        }
        m += 1;
    }
    // "new jesses": fitted, unless they are only wanted.
    let wanted = (i.saturating_sub(6)..i).any(|k| sheet.has(k, Cue::Price))
        || new.is_some_and(|n| {
            (n.saturating_sub(5)..n).any(|x| {
                sheet.is(
                    x,
                    &[
                        "need", "needs", "order", "ordered", "want", "wants", "buy", "make", "making",
                        "needing", "require", "scales", "bought", "buying", "buys",
                    ],
                )
            })
        });
    let priced = sheet.before(i + 1) == Break::None
        && (sheet.any(i + 1, &[Cue::Be, Cue::Price])
            || sheet.is(i + 1, &["'s", "costs", "arrived", "came", "i"]));
    new.filter(|n| !wanted && !priced && i - n <= 3).map(|n| (fit(sheet, i, end), n, i))
}

/// "got to cut new jesses", "must fit a new bell", "need to change the anklets": it is still to be done.
fn only_meant(sheet: &Sheet, start: usize, i: usize) -> bool {
    let verb = |k: usize| {
        sheet.any(k, &[Cue::Fit, Cue::Change, Cue::Put, Cue::Check, Cue::TakeOff])
            || sheet.is(
                k,
                &[
                    "cut", "make", "fit", "change", "put", "replace", "find", "order", "get", "buy", "swap",
                    "sort",
                ],
            )
    };
    (start..i).any(|k| {
        let meant = sheet.is(
            k,
            &[
                "got to",
                "have to",
                "need to",
                "needs to",
                "must",
                "should",
                "ought to",
                "gotta",
                "going to",
                "gonna",
                "want to",
                "i'd better",
                "better",
                "remember to",
                "time to",
                "has to",
                "i'll",
                "'ll",
                "will",
            ],
        ) || sheet.is(k, &["to"])
            && k > start
            && sheet.is(k - 1, &["got", "need", "have", "want", "needs", "has", "ought"]);
        meant
            && (k + 1..=(k + 2).min(i - 1)).any(verb)
            && (k + 1..=i).all(|m| sheet.before(m) == Break::None)
            && !(k > 0 && sheet.before(k) == Break::None && sheet.is(k - 1, &["had"]))
    })
}

/// New kit in the place of old is changed, else fitted.
fn fit(sheet: &Sheet, i: usize, end: usize) -> EquipmentAction {
    let replaces = (i + 1..end).any(|k| {
        matches!(
            sheet.words(k),
            "in place of" | "instead of" | "to replace" | "for the old" | "in exchange for" | "replacing"
        )
    });
    if replaces { EquipmentAction::Changed } else { EquipmentAction::Fitted }
}

//! What was done to the kit.

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Equipment, EquipmentAction, Value};

/// Finds what was done to the kit.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let mut last: Option<(usize, EquipmentAction)> = None;
    // The piece spoken of last, and its entry.
    let mut spoken: Option<(usize, u16, Option<usize>)> = None;
    for i in 0..sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            continue;
        }
        if let Some((action, to)) = done_to_it(sheet, i)
            && let Some((at, kit, entry)) =
                spoken.filter(|(at, ..)| i - at < 10 && sheet.owner[*at] == sheet.owner[i])
        {
            let item = sheet.lexicon.equipment()[usize::from(kit)].word.clone();
            let broken = entry.is_some_and(|e| {
                matches!(&out[e].value, Value::Equipment(q)
                if matches!(
                    q.action,
                    EquipmentAction::Broken | EquipmentAction::Removed | EquipmentAction::Lost
                ))
            });
            if entry.is_none() && (!daily(&item) || action != EquipmentAction::Removed)
                || broken && action == EquipmentAction::Changed
            {
                let value = Value::Equipment(Equipment { item, action });
                let draft = Draft::new(sheet, value, at, to, 0.9).at(at);
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
        let Some(kit) = sheet.kit(i) else { continue };
        spoken = Some((i, kit, None));
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
        let Some((action, from, to)) = action(sheet, i, &item).or_else(|| in_list(sheet, i, last)) else {
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
        out.push(Draft::new(sheet, value, from.min(i), to.max(i), 0.95).at(i));
        sheet.take(from.min(i), to.max(i));
    }
}

/// The kit named in one list with that at `i` and before it: "jesses, swivel and leash", the nearest first.
fn listed_before(sheet: &Sheet, i: usize) -> Vec<usize> {
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

/// "new hood for her, the old one was rubbing": what was fitted stands in place of another.
fn old_one_gone(sheet: &Sheet, i: usize) -> bool {
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
fn worn_one(sheet: &Sheet, k: usize) -> bool {
    sheet.has(k, Cue::Broke)
        && sheet.before(k + 1) == Break::None
        && sheet.is(k + 1, &["one", "ones", "pair", "set"])
        && k > 0
        && sheet.is(k - 1, &["the", "her", "his", "those", "that", "their"])
}

/// "changed it", "took them off", "replaced both": the piece spoken of before.
fn done_to_it(sheet: &Sheet, i: usize) -> Option<(EquipmentAction, usize)> {
    use EquipmentAction as A;
    // "one was cracked, so I put new ones on"
    let ones = sheet.is(i, &["ones", "one", "pair", "set"])
        && i > 0
        && sheet.before(i) == Break::None
        && (sheet.ends(i - 1, &["new", "fresh", "another", "replacement"]))
        && ((i.saturating_sub(6)..i).any(|k| sheet.any(k, &[Cue::Fit, Cue::Put, Cue::Change]))
            || sheet.before(i + 1) == Break::None
                && sheet.is(i + 1, &["put on", "fitted", "put", "tied on"]));
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
        && (i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None);
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
    let it = i + 1;
    if !sheet.is(it, &["it", "them", "that", "both", "those", "them both", "both of them"])
        || sheet.before(it) != Break::None
        || i > 0 && sheet.before(i) == Break::None && sheet.has(i - 1, Cue::Neg)
    {
        return None;
    }
    let off = sheet.is(it + 1, &["off"]) && sheet.before(it + 1) == Break::None;
    let pair = usize::from(
        sheet.is(it, &["them"]) && sheet.is(it + 1, &["both"]) && sheet.before(it + 1) == Break::None,
    );
    let ends = |k: usize| {
        k >= sheet.len()
            || sheet.before(k) != Break::None
            || sheet.any(k, &[Cue::And, Cue::But, Cue::Today])
            || sheet.is(k, &["for", "with", "over", "this", "out"])
    };
    let action = match sheet.word(i) {
        "changed" | "replaced" | "swapped" | "renewed" | "changing" | "replacing" => A::Changed,
        "removed" => A::Removed,
        "took" | "taken" | "cut" if off => A::Removed,
        "checked" | "tested" | "inspected" | "oiled" | "greased" | "tightened" | "adjusted" | "mended"
        | "repaired" | "cleaned" | "waxed" | "stitched" => A::Checked,
        // "her jesses were getting thin, so I cut a new pair and fitted those"
        "fitted" if (i.saturating_sub(9)..i).any(|k| sheet.is(k, &["new", "fresh", "another"])) => A::Changed,
        "fitted" => A::Fitted,
        _ => return None,
    };
    let to = if off { it + 1 } else { it + pair };
    ends(to + 1).then_some((action, to))
}

/// "changed the jesses and the leash": the verb holds for the list.
fn in_list(
    sheet: &Sheet,
    i: usize,
    last: Option<(usize, EquipmentAction)>,
) -> Option<(EquipmentAction, usize, usize)> {
    let (at, action) = last.filter(|(at, _)| i - at <= 6)?;
    // "a transmitter on Mav, his leash was frayed": a fresh statement.
    if (at + 1..i).any(|k| sheet.bird(k).is_some()) || sheet.any(i + 1, &[Cue::Be]) {
        return None;
    }
    let only = (at + 1..i).all(|k| {
        sheet.dead[k]
            || sheet.used[k]
            || sheet.any(k, &[Cue::And, Cue::Old, Cue::His, Cue::Her])
            || sheet.is(k, &["off", "him", "it", "on", "both"])
            || sheet.is(k, &["a", "the", "an", "new", "both", "her", "his", "leather", "of", "pair", "one"])
            || sheet.num(k).is_some()
    });
    (only && sheet.before(i) != Break::Stop && (at + 1..=i).all(|k| sheet.before(k) != Break::Stop))
        .then_some((action, i, i))
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
        // Another statement begins.
        if sheet.food(k).is_some() && sheet.used[k] || sheet.num(k).is_some() && sheet.used[k] {
            break;
        }
        if sheet.before(k + 1) != Break::None && i - k > 5 {
            break;
        }
        if sheet.is(k, &["new", "fresh"]) || sheet.words(k) == "brand new" {
            new = new.or(Some(k));
            continue;
        }
        if sheet.has(k, Cue::Change) && !denied(k) {
            return Some((A::Changed, k, i));
        }
        if sheet.has(k, Cue::Put) || sheet.is(k, &["put", "putting"]) {
            let on = (i + 1..end.min(i + 6))
                .take_while(|m| sheet.before(*m) == Break::None)
                .find(|m| sheet.is(*m, &["on"]) || sheet.words(*m) == "back on");
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
            let off =
                (i + 1..end.min(i + 5)).find(|m| sheet.is(*m, &["off"]) && sheet.before(*m) == Break::None);
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
        let no = (i + 1..m).any(|x| sheet.has(x, Cue::Neg));
        if sheet.is(m, &["fitted", "attached", "added", "mounted", "installed"]) && !no {
            return Some((A::Fitted, new.unwrap_or(i), m));
        }
        if sheet.has(m, Cue::Fit) && sheet.words(m).ends_with(" on") && !no {
            return Some((A::Fitted, new.unwrap_or(i), m));
        }
        if sheet.is(m, &["changed", "replaced", "swapped", "renewed"]) && !no {
            return Some((A::Changed, i, m));
        }
        if sheet.is(m, &["removed"]) || sheet.words(m) == "taken off" || sheet.words(m) == "cut off" {
            return Some((A::Removed, i, m));
        }
        if sheet.has(m, Cue::Broke) && !no && !worn_one(sheet, m)
            || no && sheet.is(m, &["working", "sending", "transmitting"])
        {
            return Some((A::Broken, i, m));
        }
        if sheet.has(m, Cue::Lost) && !sheet.is(m, &["dropped", "lost"])
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

/// "change of jesses, and the bewit on her left leg had snapped": another piece with a verb of its own.
fn own_clause(sheet: &Sheet, i: usize, start: usize, end: usize) -> Option<(EquipmentAction, usize, usize)> {
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
fn straight_after(sheet: &Sheet, i: usize, end: usize) -> Option<(EquipmentAction, usize, usize)> {
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
        || sheet.bird(m + 1).is_some();
    if m >= end || sheet.before(m) != Break::None || sheet.dead[m] || !closes {
        return None;
    }
    // "bells off, transmitter on"
    let led = i > 0 && sheet.before(i) == Break::None && sheet.is(i - 1, &["her", "his", "the", "both"]);
    let lead = i - usize::from(led);
    let opens = lead == 0 || sheet.before(lead) != Break::None || sheet.has(lead - 1, Cue::And);
    let item = sheet.kit(i).map_or("", |k| sheet.lexicon.equipment()[usize::from(k)].word.as_str());
    let ends = m + 1 >= end || sheet.before(m + 1) != Break::None || sheet.any(m + 1, &[Cue::And, Cue::But]);
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

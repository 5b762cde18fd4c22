//! What was left or refused of the food before, and what that leaves eaten.

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Food, GRAMS_PER_OUNCE, Outcome, Value};

/// "left one", "left half of it", "refused it": words that lean on the food before.
pub(super) fn leftover(sheet: &mut Sheet, i: usize, out: &mut Vec<Draft>, first: usize) -> Option<usize> {
    if let Some(next) = spurned(sheet, i, out, first) {
        return Some(next);
    }
    if let Some(next) = still_there(sheet, i, out, first) {
        return Some(next);
    }
    let left = sheet.has(i, Cue::Left) && !sheet.is(i, &["dropped"]);
    let refused = sheet.has(i, Cue::Refused);
    let ate = sheet.has(i, Cue::Ate) && !sheet.is(i, &["had", "having"])
        || sheet.is(i, &["took", "had", "takes", "taken"]) && sheet.has(i + 1, Cue::It);
    if !left && !refused && !ate {
        return None;
    }
    let last = (first..out.len())
        .rev()
        .find(|k| sheet.owner[out[*k].head] == sheet.owner[i] && i > out[*k].to && i - out[*k].to < 16)?;
    let mut k = i + 1;
    if sheet.before(k) != Break::None {
        return None;
    }
    if sheet.is(k, &["about", "the", "just", "only", "all", "but"])
        && !(sheet.is(k, &["the"]) && sheet.part(k + 1).is_some())
    {
        k += 1;
    }
    let Value::Food(given) = out[last].value.clone() else { return None };
    let plain_count = |k: usize| {
        sheet.num(k).filter(|_| sheet.live(k)).and_then(crate::number::Num::count).filter(|c| *c <= 20.0)
    };
    // "ate one and left the other"
    let other = left && sheet.is(k, &["the other", "the other one", "other", "other one"]);
    // "half the quail went down and she left the other half"
    let other_half = left
        && given.count.is_some_and(|c| c < 1.0)
        && (sheet.words(k) == "the other half"
            || (k - 1..=k).any(|m| sheet.ends(m, &["other"]))
                && sheet.num(k + 1).is_some_and(|n| n.fraction));
    let rest_of_it = other_half.then(|| 1.0 - given.count.unwrap_or(0.5));
    let one = rest_of_it.or((sheet.is(k, &["one"]) || other).then_some(1.0));
    // "left fifteen grams of it"
    let heavy = sheet.num(k).map(|n| n.value).filter(|_| {
        sheet.any(k + 1, &[Cue::Grams, Cue::Ounces]) && sheet.before(k + 1) == Break::None && left
    });
    if let (Some(value), Some(all)) = (heavy, given.grams) {
        let rest =
            crate::mass::tenth(value * if sheet.has(k + 1, Cue::Ounces) { GRAMS_PER_OUNCE } else { 1.0 });
        let mut to = k + 1;
        let of = usize::from(sheet.is(to + 1, &["of"]) && sheet.before(to + 1) == Break::None);
        let the = of + usize::from(of == 1 && sheet.is(to + 1 + of, &["the", "her", "his", "that"]));
        if sheet.food(to + 1 + the).is_some() && sheet.before(to + 1 + the) == Break::None {
            return None;
        }
        if sheet.is(to + 1, &["of"]) && sheet.has(to + 2, Cue::It) {
            to += 2;
        }
        if rest < all {
            out[last].value =
                Value::Food(Food { grams: Some(crate::mass::tenth(all - rest)), ..given.clone() });
        }
        let food = Food { grams: Some(rest), outcome: Outcome::Left, ..given };
        out.push(Draft::new(sheet, Value::Food(food), i, to, 0.9).at(i));
        sheet.take(i, to);
        return Some(to + 1);
    }
    if other_half && sheet.words(k) != "the other half" {
        k += 1;
    }
    if let Some(count) = rest_of_it.or(plain_count(k)).or(one) {
        let mut to = k;
        // "three chicks and a rat, and she left one of the chicks": of the food that is named.
        let named = [k + 2, k + 3].into_iter().find_map(|n| {
            let lead = n == k + 2 || sheet.is(k + 2, &["the", "her", "his", "those", "these", "them"]);
            let tight = (k + 1..=n).all(|m| sheet.before(m) == Break::None);
            let item = sheet.food(n).filter(|_| left && lead && tight && sheet.is(k + 1, &["of"]))?;
            Some((n, sheet.lexicon.foods()[usize::from(item)].name.clone()))
        });
        if let Some((n, item)) = named {
            let source = (first..=last).rev().find_map(|d| match &out[d].value {
                Value::Food(f) if f.item == item && f.grams.is_none() => Some(f.clone()),
                _ => None,
            });
            let food = Food { count: Some(count), outcome: Outcome::Left, ..source? };
            out.push(Draft::new(sheet, Value::Food(food), i, n, 0.93).at(i));
            sheet.take(i, n);
            return Some(n + 1);
        }
        let of_it = sheet.is(k + 1, &["of"]) && sheet.is(k + 2, &["it", "them", "that", "those"])
            || sheet.words(k + 1) == "of it"
            || sheet.is(k + 1, &["it", "that"])
            || sheet.is(k + 1, &["of"]) && sheet.has(k + 2, Cue::It);
        if of_it && sheet.before(k + 1) == Break::None {
            to = if sheet.is(k + 1, &["it", "that"]) { k + 1 } else { k + 2 };
        } else if sheet.before(k + 1) == Break::None
            && k + 1 < sheet.len()
            && !sheet.any(k + 1, &[Cue::And, Cue::But, Cue::Today, Cue::On])
            && !sheet.is(k + 1, &["though", "in", "under", "by", "over", "of"])
            && (sheet.content(k + 1)
                || sheet.is(k + 1, &["a", "an", "of", "past"])
                || sheet.any(k + 1, &[Cue::Grams, Cue::Ounces, Cue::Flight, Cue::Metres]))
        {
            return None;
        }
        let fraction = rest_of_it.is_none() && sheet.num(k).is_some_and(|n| n.fraction);
        // "ate half and left half": both of the whole that was named.
        let whole = left
            && given.count.is_some_and(|g| g < 1.0 && g + count <= 1.0)
            && !(out[last].from..=out[last].to).any(|m| sheet.food(m).is_some());
        let count = if fraction && !whole { count * given.count.unwrap_or(1.0).min(1.0) } else { count };
        let outcome = if left {
            Outcome::Left
        } else if refused {
            Outcome::Refused
        } else {
            Outcome::Eaten
        };
        if ate {
            // "offered her a quail, ate half": what was eaten counts.
            if matches!(given.outcome, Outcome::Offered | Outcome::Eaten) {
                out[last].value = Value::Food(Food { count: Some(count), outcome: Outcome::Eaten, ..given });
                // "had two in front of her, ate one and left one": what was eaten is said, and no sum.
                out[last].from = i;
                out[last].to = out[last].to.max(to);
                sheet.take(i, to);
                return Some(to + 1);
            }
            return None;
        }
        if given.grams.is_some() && given.count.is_none() {
            return None;
        }
        let food = Food { count: Some(count), outcome, grams: None, ..given };
        let draft = Draft::new(sheet, Value::Food(food), i, to, 0.93).at(i);
        out.push(draft);
        sheet.take(i, to);
        return Some(to + 1);
    }
    let whole = sheet.is(k, &["it", "them", "that", "both", "lot", "most", "everything"]);
    if whole && (refused || ate) && matches!(given.outcome, Outcome::Offered | Outcome::Eaten) {
        let outcome = if refused { Outcome::Refused } else { Outcome::Eaten };
        if refused || given.outcome == Outcome::Offered && !out[last].planned {
            out[last].value = Value::Food(Food { outcome, ..given });
            out[last].to = out[last].to.max(k);
            sheet.take(i, k);
            return Some(k + 1);
        }
    }
    None
}

/// "three chicks given, one left": a number and what became of so many.
fn still_there(sheet: &mut Sheet, i: usize, out: &mut Vec<Draft>, first: usize) -> Option<usize> {
    let count = if sheet.is(i, &["one"]) { 1.0 } else { sheet.num(i)?.count().filter(|c| *c <= 20.0)? };
    // "one of them still there"
    let of_them = sheet.is(i + 1, &["of"])
        && sheet.is(i + 2, &["them", "those", "these"])
        && (i + 1..i + 3).all(|k| sheet.before(k) == Break::None);
    let verb = i + 1 + 2 * usize::from(of_them);
    let ends = verb + 1 >= sheet.len()
        || sheet.before(verb + 1) != Break::None
        || sheet.is(verb + 1, &["over", "uneaten", "behind"])
        || sheet.any(verb + 1, &[Cue::ThisMorning, Cue::Today]);
    if sheet.used[i] || sheet.before(verb) != Break::None || !ends {
        return None;
    }
    let outcome = match sheet.words(verb) {
        "left" | "uneaten" | "left over" | "still there" | "still left" | "untouched" | "left uneaten" => {
            Outcome::Left
        }
        "refused" => Outcome::Refused,
        _ => return None,
    };
    let last = (first..out.len())
        .rev()
        .find(|k| sheet.owner[out[*k].head] == sheet.owner[i] && i > out[*k].to && i - out[*k].to < 8)?;
    let Value::Food(given) = out[last].value.clone() else { return None };
    given.count.filter(|c| *c >= count)?;
    let food = Food { count: Some(count), outcome, ..given };
    out.push(Draft::new(sheet, Value::Food(food), i, verb, 0.93).at(i));
    sheet.take(i, verb);
    Some(verb + 1)
}
/// "offered her a rat pup, not interested": what was offered right before was refused.
fn spurned(sheet: &mut Sheet, i: usize, out: &mut [Draft], first: usize) -> Option<usize> {
    let words = matches!(
        sheet.words(i),
        "not interested"
            | "wasn't interested"
            | "no interest"
            | "nothing doing"
            | "not having it"
            | "wasn't having it"
            | "didn't want to know"
            | "showed no interest"
            | "not bothered"
            | "wasn't bothered"
            | "wanted nothing to do with it"
            | "wasn't having any of it"
            | "had none of it"
            | "having none of it"
            | "weren't having none of it"
            | "weren't having it"
            | "weren't having any of it"
            | "wasn't having none of it"
            | "wouldn't have none of it"
            | "wouldn't entertain it"
            | "wouldn't look at it"
            | "didn't fancy it"
            | "turned away"
            | "walked away"
    );
    let last = out.len().checked_sub(1).filter(|k| *k >= first && words)?;
    let ends = i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None || sheet.has(i + 1, Cue::But);
    let beside = i - out[last].to <= 5
        && (out[last].to + 1..=i).all(|k| sheet.before(k) != Break::Stop)
        && (out[last].to + 1..i).all(|k| sheet.any(k, &[Cue::But, Cue::And, Cue::He, Cue::She, Cue::Be]));
    let Value::Food(food) = out[last].value.clone() else { return None };
    if !ends || !beside || food.outcome != Outcome::Offered || out[last].planned {
        return None;
    }
    out[last].value = Value::Food(Food { outcome: Outcome::Refused, ..food });
    out[last].to = i;
    sheet.take(i, i);
    Some(i + 1)
}

/// The left amount names its food: one that leans on the food before is already taken off.
fn named_left(sheet: &Sheet, left: &Draft) -> bool {
    (left.from..=left.to).any(|k| sheet.food(k).is_some())
}

/// What was eaten is what was given less what was left or refused of the same.
pub(super) fn settle(sheet: &Sheet, out: &mut Vec<Draft>, first: usize) {
    let mut gone = Vec::new();
    for k in first..out.len() {
        let Value::Food(left) = out[k].value.clone() else { continue };
        let heavy = left.count.is_none() && left.grams.is_some() && left.outcome == Outcome::Left;
        if !matches!(left.outcome, Outcome::Left | Outcome::Refused) || left.count.is_none() && !heavy {
            continue;
        }
        let lean = !(out[k].from..=out[k].to).any(|m| sheet.food(m).is_some());
        let given = (k.saturating_sub(6).max(first)..k).rev().find(|g| {
            let Value::Food(f) = &out[*g].value else { return false };
            f.item == left.item
                && f.part == left.part
                && f.outcome == Outcome::Eaten
                && sheet.owner[out[*g].head] == sheet.owner[out[k].head]
                && sheet.when[out[*g].head] == sheet.when[out[k].head]
        });
        let Some(g) = given else { continue };
        let Value::Food(food) = out[g].value.clone() else { continue };
        let mut left = left;
        // "twenty grams of rabbit … left five of the rabbit": grams again.
        if let (None, Some(all), Some(rest), Outcome::Left) =
            (food.count, food.grams, left.count, left.outcome)
            && rest > 1.0
            && rest < all
            && left.grams.is_none()
        {
            left = Food { count: None, grams: Some(rest), ..left };
            out[k].value = Value::Food(left.clone());
        }
        let heavy = left.count.is_none();
        let said_eaten = (out[g].from.saturating_sub(4)..=out[g].from)
            .any(|m| sheet.has(m, Cue::Ate) && !sheet.is(m, &["had"]) && sheet.before(m + 1) == Break::None)
            // "half a quail eaten and half left"
            || sheet.is(out[g].to + 1, &["eaten", "gone", "went down", "gone down"]) && sheet.before(out[g].to + 1) == Break::None;
        if left.outcome == Outcome::Refused && !lean || said_eaten {
            continue;
        }
        if let (true, Some(all), Some(rest)) = (heavy && named_left(sheet, &out[k]), food.grams, left.grams) {
            if rest < all {
                out[g].value = Value::Food(Food { grams: Some(crate::mass::tenth(all - rest)), ..food });
            }
        } else if let (Some(all), Some(rest)) = (food.count, left.count) {
            let eaten = all - rest;
            if eaten > 0.0 {
                out[g].value = Value::Food(Food { count: Some(eaten), ..food });
                out[g].to = out[g].to.max(out[g].from);
            } else if eaten == 0.0 {
                gone.push(g);
            }
        }
    }
    gone.sort_unstable();
    for g in gone.into_iter().rev() {
        out.remove(g);
    }
}

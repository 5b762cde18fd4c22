//! What was done with the food, and whether it was fed at all.

use super::Phrase;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// The verb that governs a phrase.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Verb {
    Ate,
    Gave,
    Offered,
    Will,
    Refused,
    Left,
    Took,
    Hunted,
}

/// The verb that the phrase hangs on.
pub(super) fn governing(sheet: &Sheet, phrase: &Phrase) -> Option<Verb> {
    // After it: "two chicks left", "a quail for later", "a hamster refused".
    let next = phrase.to + 1;
    if sheet.before(next) == Break::None && next < sheet.len() && !sheet.dead[next] {
        let ends = next + 1 >= sheet.len()
            || sheet.before(next + 1) != Break::None
            || sheet.any(next + 1, &[Cue::And, Cue::But])
            || sheet.is(next + 1, &["in", "this", "over", "by", "from", "on", "again", "outright", "flat"]);
        if sheet.has(next, Cue::Left)
            && ends
            && sheet.is(
                next,
                &[
                    "left",
                    "uneaten",
                    "leftover",
                    "untouched",
                    "remaining",
                    "still there",
                    "still lying there",
                    "lying there",
                ],
            )
            || sheet.words(next) == "left over"
        {
            return Some(Verb::Left);
        }
        if matches!(sheet.words(next), "went down" | "gone down" | "eaten") {
            return Some(Verb::Ate);
        }
        if sheet.has(next, Cue::Refused) && ends && sheet.is(next, &["refused", "declined", "rejected"]) {
            return Some(Verb::Refused);
        }
        if sheet.has(next, Cue::Offered) && ends && sheet.is(next, &["offered"]) {
            return Some(Verb::Offered);
        }
        if sheet.has(next, Cue::Will) && sheet.is(next, &["later", "planned", "tonight"])
            || sheet.words(next) == "to follow"
            || sheet.words(next) == "for later"
            || sheet.words(next) == "for tonight"
            || sheet.words(next) == "to come"
            || sheet.words(next) == "lined up"
            || sheet.words(next) == "waiting for her"
            || sheet.words(next) == "set aside"
            || sheet.words(next) == "for tomorrow"
        {
            return Some(Verb::Will);
        }
        // "two mice out of the freezer for tonight"
        let kept = (next..sheet.len().min(next + 6))
            .take_while(|k| sheet.before(*k) == Break::None)
            .any(|k| matches!(sheet.words(k), "for tonight" | "for later" | "for tomorrow"));
        if kept && sheet.is(next, &["out", "out of", "in", "from"]) {
            return Some(Verb::Will);
        }
        // "two chicks is what she'll get"
        let promised = sheet.any(next, &[Cue::Be])
            && sheet.is(next + 1, &["what", "all", "the lot"])
            && (next + 2..next + 5).any(|k| sheet.any(k, &[Cue::Will]) || sheet.words(k).ends_with("'ll"));
        if promised {
            return Some(Verb::Will);
        }
        // "two chicks she's going to get later": read from the front.
    }
    // "some rangle, which he refused"
    let which = sheet.is(next, &["which", "that"])
        && sheet.before(next) != Break::Stop
        && (sheet.any(next + 1, &[Cue::He, Cue::She, Cue::It]) || sheet.bird(next + 1).is_some());
    if which {
        let verb =
            next + 2 + usize::from(sheet.is(next + 2, &["just", "flatly", "promptly", "then", "also"]));
        let ends = verb + 1 >= sheet.len()
            || sheet.before(verb + 1) != Break::None
            || sheet.any(verb + 1, &[Cue::And, Cue::But]);
        if sheet.has(verb, Cue::Refused) && sheet.before(verb) == Break::None {
            return Some(Verb::Refused);
        }
        if sheet.is(verb, &["left"]) && ends {
            return Some(Verb::Left);
        }
    }
    // "half a quail, and a wing she left"
    let who = sheet.any(next, &[Cue::He, Cue::She]) || sheet.bird(next).is_some();
    let said = next + 1;
    let closes = said + 1 >= sheet.len() || sheet.before(said + 1) != Break::None;
    if who
        && closes
        && sheet.before(next) == Break::None
        && sheet.before(said) == Break::None
        && sheet.live(said)
    {
        match sheet.words(said) {
            "left" => return Some(Verb::Left),
            "refused" => return Some(Verb::Refused),
            _ => {}
        }
    }
    // "chick leg, refused"
    let opens = phrase.from == 0 || sheet.before(phrase.from) != Break::None;
    if sheet.before(next) == Break::Comma
        && opens
        && next < sheet.len()
        && !sheet.dead[next]
        && (next + 1 >= sheet.len() || sheet.before(next + 1) != Break::None)
    {
        match sheet.words(next) {
            "refused" | "declined" => return Some(Verb::Refused),
            "offered" => return Some(Verb::Offered),
            "eaten" => return Some(Verb::Ate),
            _ => {}
        }
    }
    let start = sheet.start_of_sentence(phrase.from);
    let floor = start.max(phrase.from.saturating_sub(22));
    let mut k = phrase.from;
    while k > floor {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        if sheet.bird(k).is_some()
            && (sheet.owner[k] != sheet.owner[phrase.to] || sheet.before(k) != Break::None)
        {
            return None;
        }
        // "rat refused, then two chicks down": that verb has its food before it.
        if of_food_before(sheet, k) {
            return None;
        }
        if let Some(verb) = verb_at(sheet, k) {
            return Some(verb);
        }
        // A bird's weight stands between: "missed a pheasant, 936, two chicks".
        if sheet.num(k).is_some_and(|n| n.value >= 40.0 && crate::mass::near_any(n, &sheet.last_grams(k)))
            && !sheet.any(k + 1, &[Cue::Grams, Cue::Ounces])
        {
            return None;
        }
        // A new clause with its own subject stands between.
        if sheet.is(k, &["he", "she", "i", "we", "they", "it"]) || sheet.words(k) == "i was" {
            return None;
        }
        // Another statement stands between: a weight, a sign, a behaviour.
        if (sheet.sign(k).is_some() || sheet.behaviour(k).is_some())
            && sheet.before(k + 1) != Break::None
            && sheet.food(k).is_none()
        {
            return None;
        }
    }
    None
}

/// "quail refused", "a rat untouched": what became of the food named right before.
pub(super) fn of_food_before(sheet: &Sheet, k: usize) -> bool {
    k > 0
        && sheet.before(k) == Break::None
        && (sheet.food(k - 1).is_some() || sheet.part(k - 1).is_some())
        && sheet.is(k, &["refused", "declined", "rejected", "untouched", "uneaten", "eaten"])
        && (k + 1 >= sheet.len()
            || sheet.before(k + 1) != Break::None
            || sheet.any(k + 1, &[Cue::And, Cue::But, Cue::Today])
            || sheet.is(k + 1, &["by", "again", "outright", "flat", "this", "for"]))
        && !sheet.is(k - 1, &["crop"])
}

pub(super) fn verb_at(sheet: &Sheet, k: usize) -> Option<Verb> {
    let denied = |k: usize| {
        (k.saturating_sub(3)..k).any(|m| {
            (sheet.is(m, &["n't", "not", "never", "wouldn't", "didn't"])
                // "neither of them would eat the quail"
                || sheet.has(m, Cue::Neg) && sheet.has(m, Cue::Both))
                && !sheet.dead[m]
                && (m + 1..=k).all(|x| sheet.before(x) == Break::None)
                // "didn't cast both had a mouse": a fresh subject.
                && !(m + 1..k).any(|x| {
                    sheet.bird(x).is_some() || sheet.any(x, &[Cue::Both, Cue::He, Cue::She, Cue::And, Cue::But])
                })
        })
    };
    if sheet.has(k, Cue::Refused) {
        return Some(Verb::Refused);
    }
    // "gave her yesterday's leftover quail": of what kind, not what became of it.
    let kind = sheet.is(k, &["leftover", "left over", "leftovers"])
        && sheet.before(k + 1) == Break::None
        && sheet.food(k + 1).is_some();
    if sheet.has(k, Cue::Left) && !kind {
        let body = sheet.is(
            k + 1,
            &["foot", "wing", "leg", "talon", "eye", "side", "hand", "toe", "glove", "arm", "tail"],
        ) && sheet.before(k + 1) == Break::None
            || sheet.sign(k + 1).is_some();
        return (!body).then_some(Verb::Left);
    }
    // "he's getting a quail and the day off"
    let getting = sheet.is(k, &["getting", "having"])
        && k > 0
        && sheet.before(k) == Break::None
        && (sheet.is(k - 1, &["'s", "is", "are", "'re", "'m"]) || sheet.ends(k - 1, &["'s", "'re", "'m"]))
        && sheet.behaviour(k + 1).is_none();
    if sheet.words(k).ends_with("'ll") || sheet.is(k, &["theyll"]) || getting {
        return Some(Verb::Will);
    }
    if sheet.has(k, Cue::Will) {
        // "later" in front of its food says nothing about it.
        let owed = sheet.is(k, &["due"]) && sheet.before(k + 1) == Break::None;
        if !owed && sheet.is(k, &["later", "planned", "due", "wants", "gets", "saving", "to"]) {
            return sheet.is(k, &["gets"]).then_some(Verb::Gave);
        }
        return Some(Verb::Will);
    }
    if sheet.has(k, Cue::Offered) {
        return Some(Verb::Offered);
    }
    if sheet.any(k, &[Cue::Missed, Cue::Chased])
        && !sheet.any(k, &[Cue::Ate])
        && !sheet.is(k, &["after", "put", "close", "followed", "missing"])
    {
        return Some(Verb::Hunted);
    }
    if sheet.has(k, Cue::Ate) {
        return Some(if denied(k) && !sheet.is(k, &["put", "down"]) { Verb::Refused } else { Verb::Ate });
    }
    if sheet.has(k, Cue::Took) && !sheet.is(k, &["got", "in", "hit"]) {
        return Some(Verb::Took);
    }
    // "put rangle out for her and she refused it": what follows decides.
    let put_out = sheet.is(k, &["put", "left"])
        && (k + 2..sheet.len().min(k + 6)).any(|m| {
            sheet.is(m, &["out", "down", "in front"]) && (k + 1..=m).all(|x| sheet.before(x) == Break::None)
        })
        && (k + 3..sheet.end_of_sentence(k).min(k + 14)).any(|m| {
            sheet.any(m, &[Cue::Refused, Cue::Left, Cue::Ate]) && sheet.is(m + 1, &["it", "them", "that"])
        });
    if put_out && sheet.is(k, &["put"]) {
        return Some(Verb::Offered);
    }
    // "threw the mouse on the floor", "flung it aside"
    let thrown = sheet.is(k, &["threw", "flung", "chucked", "dropped"])
        && (k + 2..sheet.len().min(k + 5)).any(|m| {
            sheet.is(m, &["away", "aside", "down"])
                || sheet.is(m, &["on"])
                    && sheet.is(m + 1, &["the"])
                    && sheet.is(m + 2, &["floor", "ground", "lawn", "deck"])
        });
    if thrown {
        return Some(Verb::Refused);
    }
    if sheet.has(k, Cue::Gave) && !sheet.is(k, &["for", "on", "into", "just", "only"]) {
        return Some(Verb::Gave);
    }
    None
}

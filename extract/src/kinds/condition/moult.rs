//! The moult, and which feathers fell.

use super::{Found, light, push};
use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::Sign;

/// "started the moult", "through the moult".
pub(super) fn moult(sheet: &Sheet, i: usize) -> Found {
    let window = (i.saturating_sub(6)..sheet.len().min(i + 5)).filter(|k| {
        let (a, b) = ((*k).min(i), (*k).max(i));
        !sheet.dead[*k] && (a + 1..=b).all(|m| sheet.before(m) == Break::None)
    });
    let window: Vec<usize> = window.collect();
    let denied = window.iter().any(|k| {
        *k < i
            && (sheet.has(*k, Cue::Neg)
                || sheet.is(
                    *k,
                    &[
                        "halfway", "midway", "partway", "half", "part", "nearly", "almost", "mostly",
                        "weeks", "days", "months", "week", "month",
                    ],
                )
                || sheet.is(
                    *k,
                    &["about to", "going to", "soon", "due to", "ready to", "should", "might", "'ll"],
                ))
    });
    let from = |k: usize| (k.min(i), k.max(i));
    let end = window.iter().find(|k| sheet.has(**k, Cue::MoultEnd) && **k != i);
    let start = window.iter().find(|k| sheet.has(**k, Cue::MoultStart) && **k != i);
    if denied {
        return None;
    }
    // The nearer word decides: "started the moult", "through the moult".
    match (end, start) {
        (Some(e), s) if s.is_none_or(|s| e.abs_diff(i) <= s.abs_diff(i)) => {
            let (a, b) = from(*e);
            Some((Sign::Moult, "finished".into(), a, b))
        }
        (_, Some(s)) => {
            let (a, b) = from(*s);
            Some((Sign::Moult, "started".into(), a, b))
        }
        _ if sheet.is(i, &["moulting", "molting"]) => Some((Sign::Moult, "started".into(), i, i)),
        _ => None,
    }
}

/// "third primary dropped", "two tail feathers down".
pub(super) fn dropped(sheet: &Sheet, i: usize) -> Found {
    let words = sheet.words(i);
    if matches!(words, "tail" | "train" | "feathering") || words.contains("mark") || words.contains("trace") {
        return None;
    }
    // "the deck feather Colt dropped", "a primary she's after losing"
    let clause = sheet.before(i + 1) == Break::None
        && (sheet.bird(i + 1).is_some() || sheet.any(i + 1, &[Cue::He, Cue::She]));
    let mut k = i + 1 + usize::from(clause);
    while k < i + 5
        && sheet.before(k) == Break::None
        && (sheet.any(k, &[Cue::Be])
            || sheet.is(k, &["'s", "'d", "has", "had", "have", "now", "been", "just", "already"])
            || clause && sheet.is(k, &["after"]))
    {
        k += 1;
    }
    let fell = (sheet.is(k, &["dropped", "dropped by", "down", "moulted", "molted", "shed", "dropping"])
        || clause && sheet.is(k, &["lost", "losing", "threw", "throwing", "moulting", "shedding"]))
        && sheet.before(k) == Break::None
        && sheet.live(k)
        && (sheet.before(k + 1) != Break::None
            || sheet.is(k, &["dropped by"])
            || sheet.is(k + 1, &["right", "left", "both", "on", "already", "so", "now", "by", "from"])
            || sheet.any(k + 1, &[Cue::And, Cue::Today, Cue::But, Cue::ThisMorning]));
    let mut from = i;
    while from > 0
        && i - from < 3
        && sheet.before(from) == Break::None
        && (sheet.num(from - 1).is_some()
            || sheet.any(from - 1, &[Cue::First])
            || sheet.is(
                from - 1,
                &[
                    "a", "second", "third", "fourth", "fifth", "sixth", "outer", "inner", "another", "her",
                    "his",
                ],
            ))
    {
        from -= 1;
    }
    fell.then(|| (Sign::Moult, singular(words), from, k))
}

/// "dropped a primary, a secondary and two tail feathers", from the verb.
pub(super) fn feathers(sheet: &mut Sheet, verb: usize, out: &mut Vec<Draft>) -> usize {
    let mut k = verb + 1;
    let mut last = verb;
    // "dropped a primary. A secondary and a tail feather": a stop that was only a pause.
    let goes_on = |sheet: &Sheet, k: usize| {
        sheet.is(k, &["a", "an", "another", "one", "two"])
            && (sheet.sign(k + 1) == Some(Sign::Feather) || sheet.sign(k + 2) == Some(Sign::Feather))
            && !sheet.damage(k + 1)
    };
    while k < sheet.len()
        && k < last + 7
        && (sheet.before(k) != Break::Stop || last > verb && goes_on(sheet, k))
    {
        if sheet.sign(k) == Some(Sign::Feather) && !sheet.used[k] && !sheet.dead[k] {
            let words = sheet.words(k);
            if !matches!(words, "tail" | "train" | "feathering") && !sheet.damage(k) {
                // "two primaries" are one reading.
                let reading = singular(words);
                let from = if last == verb { verb } else { k };
                push(sheet, out, Sign::Moult, &reading, from, k, 0.95);
                last = k;
            }
        } else if !(light(sheet, k)
            || sheet.num(k).is_some()
            || sheet.any(k, &[Cue::And, Cue::First])
            || sheet.is(
                k,
                &[
                    "another",
                    "more",
                    "one",
                    "of",
                    "second",
                    "left",
                    "new",
                    "big",
                    "inner",
                    "outer",
                    "third",
                    "fourth",
                    "couple",
                    "first",
                    "old",
                    "both",
                    "couple of",
                    "few",
                    "number",
                    "the third",
                    "the second",
                    "the first",
                    "the last",
                    "the fourth",
                ],
            )
            || sheet.any(k, &[Cue::Left, Cue::Code]))
        {
            break;
        }
        k += 1;
    }
    last
}

fn singular(words: &str) -> String {
    match words {
        "primaries" => "primary".into(),
        "secondaries" => "secondary".into(),
        w => w.strip_suffix('s').unwrap_or(w).to_owned(),
    }
}

/// "two primaries down and a secondary": another that fell with the one before.
pub(super) fn also_dropped(sheet: &Sheet, i: usize, out: &[Draft]) -> Found {
    let article = i.checked_sub(1).filter(|k| sheet.is(*k, &["a", "an", "another", "one"]))?;
    let and = article.checked_sub(1).filter(|k| sheet.any(*k, &[Cue::And]))?;
    let fell = out.last().is_some_and(|d| {
        d.to + 1 == and && matches!(&d.value, note::Value::Condition(c) if c.sign == Sign::Moult)
    });
    let joined = (and..=i).all(|k| sheet.before(k) == Break::None);
    (fell && joined && !sheet.damage(i)).then(|| (Sign::Moult, singular(sheet.words(i)), article, i))
}

/// "she's put three tail feathers on the lawn": as good as dropped.
pub(super) fn put_on_the_floor(sheet: &Sheet, i: usize) -> bool {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let others = i > 0 && tight(i) && sheet.any(i - 1, &[Cue::I, Cue::Person, Cue::OtherBeast]);
    if others || !sheet.is(i, &["put", "left", "'s put", "'s left"]) {
        return false;
    }
    let Some(feather) =
        (i + 1..i + 5).take_while(|k| tight(*k)).find(|k| sheet.sign(*k) == Some(Sign::Feather))
    else {
        return false;
    };
    let at = feather + 1;
    let place = (at + 1..at + 4).take_while(|k| tight(*k)).any(|k| {
        sheet.ends(
            k,
            &["floor", "ground", "lawn", "grass", "deck", "mews", "aviary", "perch", "block", "gravel"],
        )
    });
    let counted = sheet.num(feather - 1).is_some() || sheet.is(feather - 1, &["a", "another", "her", "his"]);
    tight(at) && sheet.is(at, &["on", "in", "under", "below", "by", "beside"]) && place && counted
}

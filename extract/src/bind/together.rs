//! Birds spoken of together: "both", "all three", "Sedge, Rook and Mote".

use crate::lexicon::Cue;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;

pub(super) fn both_birds(sheet: &Sheet, n: usize, next: usize) -> bool {
    // "bewits checked, both fine", "her anklets are done, I changed them both": two of a kit.
    let start = sheet.start_of_sentence(n).max(n.saturating_sub(9));
    let said_birds = sheet.ends(n, &["birds", "hawks"]) || sheet.is(next, &["birds", "hawks"]);
    let kit = !said_birds
        && (start..n)
            .rev()
            .take_while(|k| sheet.bird(*k).is_none() && sheet.num(*k).is_none())
            .any(|k| sheet.kit(k).is_some() && sheet.words(k).ends_with('s'));
    // "two slips on jackrabbits, missed them both"
    let hunted = sheet.before(n) == Break::None
        && n > 0
        && sheet.any(n - 1, &[Cue::Missed, Cue::Chased, Cue::Took, Cue::Ate])
        && !sheet.is(n - 1, &["got", "for", "on", "after", "in", "had"])
        && sheet.before(next) != Break::None;
    if hunted {
        return false;
    }
    if kit && sheet.before(next) != Break::None
        || kit && sheet.is(next, &["fine", "good", "sound", "ok", "okay"])
    {
        return false;
    }
    // "with both dogs watching"
    if sheet.before(next) == Break::None
        && sheet.any(next, &[Cue::OtherBeast, Cue::Person])
        && !sheet.is(next, &["ladies", "girls", "lads", "boys", "girl", "lad"])
    {
        return false;
    }
    // "all three flights", "all four slips": not birds.
    if how_many(sheet, n) != Some(2)
        && sheet.before(next) == Break::None
        && (sheet.any(next, &[Cue::Flight, Cue::Times])
            || sheet.is(next, &["slips", "days", "sessions", "notes", "points", "toes", "ounces", "grams"]))
    {
        return false;
    }
    // "both pheasants": two of what is named.
    let counted = sheet.before(next) == Break::None
        && (sheet.quarry(next).is_some()
            || (sheet.food(next).is_some() || sheet.kit(next).is_some()) && sheet.words(next).ends_with('s'));
    if counted {
        return false;
    }
    if sheet.is(n, &["neither"]) {
        // "was neither keen nor sluggish", "neither did Rook": of one bird; "and neither cast" is of both.
        let opens = n == 0
            || sheet.before(n) != Break::None
            || sheet.any(n - 1, &[Cue::And, Cue::But])
            || sheet.is(n - 1, &["with"]);
        let of_one =
            sheet.is(next, &["did", "does", "has", "had", "is", "was"]) && sheet.bird(next + 1).is_some();
        let nor = (next..sheet.end_of_sentence(n).min(n + 6)).any(|k| sheet.is(k, &["nor"]));
        return opens && next < sheet.len() && sheet.before(next) == Break::None && !of_one && !nor;
    }
    if sheet.is(n, &["each", "apiece"]) {
        return sheet.before(next) != Break::None || sheet.any(next, &[Cue::Be]);
    }
    !sheet.is(
        next,
        &[
            "feet",
            "wings",
            "eyes",
            "legs",
            "sides",
            "talons",
            "ends",
            "hands",
            "days",
            "times",
            "jesses",
            "bells",
            "anklets",
            "the",
            "my",
            "her",
            "his",
            "primaries",
            "toes",
            "flights",
            "sets",
            "sessions",
            "cocks",
            "hens",
        ],
    ) || sheet.before(next) != Break::None
}

/// The birds meant by "both" or "all three": the whole roster where that is as many, else those named last.
pub(super) fn both(sheet: &Sheet, n: usize) -> Option<Owner> {
    let many = how_many(sheet, n);
    let roster = sheet.names.len();
    // "all cast bar Harrow"
    let end = sheet.end_of_sentence(n).min(n + 12);
    let spared = (n + 1..end).find_map(|k| sheet.bird(k).filter(|_| spares(sheet, k)));
    if let Some(spared) = spared.filter(|_| many.is_none_or(|many| many == roster)) {
        let rest: Vec<u16> = (0..roster as u16).filter(|b| *b != spared).collect();
        return match rest[..] {
            [one] => Some(Owner::One(one)),
            _ => group(rest),
        };
    }
    // "all cast" of a bird or two that were not named is of the roster.
    if sheet.is(n, &["all", "everyone", "everybody", "they all", "every one"]) && many.is_none() {
        return group((0..roster as u16).collect());
    }
    if many.map_or(roster <= 2, |many| many == roster) {
        return group((0..roster as u16).collect());
    }
    let mut seen: Vec<u16> = Vec::new();
    for k in (n.saturating_sub(200)..n).rev() {
        if let Some(b) = sheet.bird(k).filter(|b| !seen.contains(b)) {
            seen.push(b);
        }
        if many == Some(seen.len()) {
            seen.reverse();
            return group(seen);
        }
    }
    // "967 her, 624 him, the pair of them keen": told apart in this sentence without a name.
    if many == Some(2) && seen.is_empty() {
        let mut told: Vec<u16> = Vec::new();
        for k in (sheet.start_of_sentence(n).max(n.saturating_sub(60))..n).rev() {
            if let Owner::One(b) = sheet.owner[k]
                && sheet.content(k)
                && !told.contains(&b)
            {
                told.push(b);
            }
        }
        if told.len() == 2 {
            told.reverse();
            return group(told);
        }
    }
    // "both are keen, Sedge 938, Rook 641": named right after.
    if let Some(many) = many.filter(|many| *many < roster) {
        let end = sheet.end_of_sentence(sheet.end_of_sentence(n)).min(n + 16);
        let mut ahead: Vec<u16> = Vec::new();
        for k in n..end {
            if let Some(b) = sheet.bird(k).filter(|b| !ahead.contains(b)) {
                ahead.push(b);
            }
        }
        if ahead.len() == many {
            return group(ahead);
        }
    }
    match many {
        Some(_) => None,
        None if seen.len() < 2 => group((0..roster as u16).collect()),
        None => {
            seen.reverse();
            group(seen)
        }
    }
}

/// The last atom of words that speak of birds together: "both", "neither of them", "all three".
pub(super) fn together(sheet: &Sheet, n: usize) -> Option<usize> {
    if sheet.has(n, Cue::Both) {
        return Some(n);
    }
    if !matches!(sheet.word(n), "all" | "everyone" | "everybody" | "they" | "every") {
        return None;
    }
    // "all cast", "everyone ate": of every bird, where there are several.
    let verb = || {
        sheet.is(
            n + 1,
            &[
                "cast", "have", "ate", "were", "weighed", "flew", "bathed", "casted", "had", "fed", "calm",
                "keen",
            ],
        ) && sheet.before(n + 1) == Break::None
    };
    let opens = sheet.before(n) != Break::None || n == sheet.start_of_sentence(n);
    if sheet.is(n, &["all", "everyone", "everybody", "they all", "every one"])
        && opens
        && sheet.names.len() > 1
        && verb()
    {
        return Some(n);
    }
    (sheet.is(n, &["all"]) && sheet.before(n + 1) == Break::None && counted(sheet, n + 1).is_some())
        .then_some(n + 1)
}

/// A number of birds, three to five.
fn counted(sheet: &Sheet, n: usize) -> Option<usize> {
    let count = sheet.num(n)?.count()?;
    [3.0, 4.0, 5.0].contains(&count).then_some(count as usize)
}

/// How many birds words speak of together: "neither" of two, "all four" of four, "all of them" of however many.
fn how_many(sheet: &Sheet, n: usize) -> Option<usize> {
    if sheet.is(n, &["all"]) {
        return counted(sheet, n + 1);
    }
    if sheet.is(n, &["everyone", "everybody", "they all", "every one"]) {
        return None;
    }
    let words = sheet.words(n);
    let has = |one: &str| words.split(' ').any(|w| w == one);
    match () {
        () if has("three") => Some(3),
        () if has("four") => Some(4),
        () if has("both") || has("pair") || has("two") || has("neither") || has("either") => Some(2),
        () if ["all", "none", "any", "every", "birds", "lot", "not"].into_iter().any(has) => None,
        () => Some(2),
    }
}

/// Birds as one owner.
pub(super) fn group(birds: Vec<u16>) -> Option<Owner> {
    match birds[..] {
        [] | [_] => None,
        [a, b] => Some(Owner::Two(a, b)),
        _ if birds.iter().all(|b| *b < 64) => Some(Owner::Many(birds.iter().fold(0, |all, b| all | 1 << b))),
        _ => None,
    }
}

/// Three or more names in a row ("Sedge, Rook and Mote", "Sedge, Rook, Mote, all"), and one past the last atom.
pub(super) fn list(sheet: &Sheet, n: usize, end: usize) -> Option<(Owner, usize)> {
    let named = |k: usize| sheet.bird(k).filter(|_| k < end && !sheet.dead[k]);
    let joins = |k: usize| sheet.any(k, &[Cue::And, Cue::Or]) || sheet.is(k, &["nor", "plus"]);
    let mut birds = vec![named(n)?];
    let mut next = n + 1;
    let mut closed = false;
    loop {
        let joined = next < end && joins(next) && sheet.before(next + 1) == Break::None;
        let at = next + usize::from(joined);
        let Some(bird) = named(at).filter(|b| !birds.contains(b)) else { break };
        // "Hazel and Pike, and Dot had a sparrow": the second joint begins another statement.
        if closed || !joined && sheet.before(at) != Break::Comma {
            break;
        }
        closed |= joined;
        birds.push(bird);
        next = at + 1;
    }
    // "so a chick each instead, Vesper and Bosun both": a pair behind what was said.
    let pair = birds.len() == 2 && closed && sheet.before(n) == Break::Comma && {
        let both = usize::from(next < end && (sheet.has(next, Cue::Both) || sheet.is(next, &["alike"])));
        next + both >= end || sheet.is(next, &["alike"]) && sheet.before(next + 1) != Break::None
    };
    if pair && (sheet.start_of_sentence(n)..n).all(|k| sheet.bird(k).is_none()) {
        return group(birds).map(|o| (o, next));
    }
    // "Sedge, Rook, Mote, all cast": nothing joins the last, but they are counted together.
    closed |= next < end && (sheet.has(next, Cue::Both) || sheet.is(next, &["all"]));
    let owner = group(birds).filter(|o| closed && matches!(o, Owner::Many(_)))?;
    Some((owner, next))
}

/// Whether the bird at `k` is left out of what was said of all: "bar Harrow", "except for Rook".
fn spares(sheet: &Sheet, k: usize) -> bool {
    k > 0
        && sheet.before(k) == Break::None
        && (matches!(sheet.words(k - 1), "bar" | "except" | "barring" | "except for" | "apart from" | "save")
            || k > 1
                && (sheet.is(k - 1, &["for"]) && sheet.is(k - 2, &["except", "save"])
                    || sheet.is(k - 1, &["from"]) && sheet.is(k - 2, &["apart"])))
}

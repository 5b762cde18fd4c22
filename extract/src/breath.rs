//! Where a speaker would have drawn breath: notes written without any punctuation.
//!
//! The rules lean on commas. Where a speech model wrote none at all, the ways in which people
//! string a note together show where they belong: before a name, a fresh subject, an amount of
//! food, a count of flights; after a weight, a reading of the crop, a trailing "a lot".

use crate::lexicon::{Cue, Sense};
use crate::mass;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Puts commas into a note that has no punctuation; returns whether it did.
pub(crate) fn pause(sheet: &mut Sheet, text: &str) -> bool {
    let marked = sheet.atoms.iter().skip(1).any(|a| a.before != Break::None)
        || text.trim_end().ends_with(['.', '!', '?', ';', ',', '\u{2026}']);
    if marked || sheet.len() < 4 {
        return false;
    }
    sheet.unbroken = true;
    let at: Vec<usize> = (1..sheet.len()).filter(|i| here(sheet, *i)).collect();
    for i in at {
        sheet.atoms[i].before = Break::Comma;
    }
    true
}

/// A word that speech models write for a food ("three docks").
fn heard_food(sheet: &Sheet, i: usize) -> bool {
    sheet.atoms.get(i).is_some_and(|a| {
        a.num.is_none()
            && sheet
                .lexicon
                .heard
                .find(&sheet.ids, &sheet.tokens, a.first)
                .is_some_and(|f| f.senses.iter().any(|s| matches!(s, Sense::Food(_))))
    })
}

fn trade(sheet: &Sheet, i: usize) -> bool {
    sheet.senses(i).iter().any(|s| {
        matches!(
            s,
            Sense::Food(_)
                | Sense::Behaviour(_)
                | Sense::Kit(_)
                | Sense::Sign(_)
                | Sense::Quarry(_)
                | Sense::Wind(_)
                | Sense::Sky(_)
        )
    })
}

/// Whether the speaker draws breath before atom `i`.
fn here(sheet: &Sheet, i: usize) -> bool {
    let p = i - 1;
    let joins = sheet.any(p, &[Cue::And, Cue::But, Cue::Or, Cue::Neg, Cue::Than, Cue::Approx])
        && !sheet.is(p, &["not"])
        || sheet.is(
            p,
            &[
                "to", "of", "for", "with", "on", "into", "the", "a", "an", "at", "in", "from", "by", "off",
                "her", "his", "my", "your", "very", "really", "only", "just", "about", "'s", "than", "as",
                "was", "is", "are", "were", "had", "has", "been", "both", "when", "if", "that", "because",
                "while", "what", "where", "how", "like", "no", "getting", "giving",
            ],
        ) && !sheet.is(i, &["i"]);
    if sheet.bird(i).is_some() {
        let leads = sheet.any(
            p,
            &[Cue::Start, Cue::Plan, Cue::Gave, Cue::Check, Cue::Offered, Cue::Weigh, Cue::First, Cue::Want],
        ) || sheet.is(p, &["took", "entered"]);
        // "started manning Reba"
        let leads = leads || sheet.step(p).is_some() && !sheet.words(p).ends_with(['t', 'e', 'x']);
        return !joins
            && (!leads || sheet.is(p, &["now", "still", "just", "only"]))
            && !ends_with_preposition(sheet, p);
    }
    if joins {
        return false;
    }
    // "this morning at 7.30", "920 is what I'm aiming for", "1100 quid"
    let day = [Cue::ThisMorning, Cue::Yesterday, Cue::LastNight, Cue::Today];
    if sheet.is(i, &["at"]) && sheet.any(p, &day) && sheet.num(i + 1).is_some()
        || sheet.num(p).is_some()
            && (sheet.any(i, &[Cue::Be]) && sheet.is(i + 1, &["what", "where"])
                || sheet.is(i, &["quid", "euros", "dollars", "pence", "bucks"]))
    {
        return false;
    }
    // "want Sedge at nine twenty"
    if sheet.is(i, &["at"]) && p > 0 && sheet.bird(p).is_some() && sheet.has(p - 1, Cue::Want) {
        return false;
    }
    after(sheet, p, i) || before(sheet, p, i)
}

fn ends_with_preposition(sheet: &Sheet, p: usize) -> bool {
    sheet.atoms.get(p).is_some_and(|a| {
        matches!(sheet.tokens[a.last].norm.as_str(), "for" | "on" | "with" | "into" | "to" | "of")
    })
}

/// A thing said to its end just before `i`.
fn after(sheet: &Sheet, p: usize, i: usize) -> bool {
    // "refused it, baited like mad"
    if p > 0
        && sheet.is(p, &["it", "them"])
        && sheet.any(p - 1, &[Cue::Refused, Cue::Missed, Cue::Change])
        && (sheet.behaviour(i).is_some()
            || sheet.senses(i).is_empty() && !sheet.is(i, &["out", "all", "twice", "for", "by", "over"]))
    {
        return true;
    }
    // A time belongs to what was just said.
    if sheet.any(i, &[Cue::Noon, Cue::Midnight]) || sheet.is(i, &["at"]) {
        return false;
    }
    // A bare weight.
    if let Some(num) = sheet.num(p) {
        let near = mass::near_any(num, &sheet.last_grams(p));
        let unit = sheet.any(
            i,
            &[
                Cue::Grams,
                Cue::Kilos,
                Cue::Ounces,
                Cue::Pounds,
                Cue::Exact,
                Cue::Fahrenheit,
                Cue::OutOf,
                Cue::Flight,
                Cue::Times,
                Cue::Degrees,
                Cue::Metres,
                Cue::Yards,
                Cue::Feet,
                Cue::Delta,
            ],
        );
        let takes = unit
            || sheet.num(i).is_some()
            || sheet.food(i).is_some() && sheet.words(i).ends_with('s')
            || sheet.is(i, &["for", "and", "now", "today", "of", "a", "or"])
            || sheet
                .any(i, &[Cue::And, Cue::But, Cue::Today, Cue::Yesterday, Cue::LastNight, Cue::ThisMorning]);
        if near && num.value >= 40.0 && !takes {
            return true;
        }
        // "crop three quarters", "keel four out of five"
        if p > 0 && sheet.words(p - 1) == "out of" && !unit {
            return true;
        }
    }
    if sheet.any(p, &[Cue::Grams, Cue::Kilos, Cue::Ounces, Cue::Metres, Cue::Yards, Cue::Degrees, Cue::Exact])
        && p > 0
        && sheet.num(p - 1).is_some()
    {
        let goes_on = sheet.is(i, &["of", "and", "for", "a"])
            || sheet.food(i).is_some()
            || sheet.num(i).is_some() && sheet.any(p, &[Cue::Kilos, Cue::Pounds])
            || sheet.any(
                i,
                &[
                    Cue::And,
                    Cue::But,
                    Cue::Delta,
                    Cue::Exact,
                    Cue::Fahrenheit,
                    Cue::Degrees,
                    Cue::Today,
                    Cue::Ago,
                ],
            )
            || sheet.is(i, &["below", "on", "off", "or", "into", "up", "to"]);
        return !goes_on;
    }
    // A sign and its reading.
    let read = |k: usize| {
        [note::Sign::Crop, note::Sign::Keel, note::Sign::Mutes].iter().any(|s| sheet.reading(k, *s).is_some())
    };
    if p > 0
        && read(p)
        && (sheet.sign(p - 1).is_some()
            || p > 1 && sheet.any(p - 1, &[Cue::Be]) && sheet.sign(p - 2).is_some())
    {
        return !sheet.any(i, &[Cue::And, Cue::But]) && !sheet.is(i, &["full", "today", "again"]);
    }
    let half_a = p > 1
        && sheet.is(p - 1, &["a", "of"])
        && (p - 2..p).chain(p.checked_sub(3)).any(|k| sheet.num(k).is_some_and(|n| n.fraction));
    if sheet.sign(p).is_some()
        && p > 0
        && (sheet.num(p - 1).is_some_and(|n| n.fraction) || read(p - 1) || half_a)
        && !sheet.sign(p).is_some_and(|s| sheet.reading(i, s).is_some())
    {
        return !sheet.any(i, &[Cue::And, Cue::But, Cue::Be]) && !sheet.is(i, &["full", "'s"]);
    }
    // A trailing "a lot".
    let told = |k: usize| sheet.behaviour(k).is_some();
    // "distracted by the crows all the time"
    let over = (2..6).any(|d| {
        p >= d
            && told(p - d)
            && (p - d + 1..p).all(|k| sheet.num(k).is_none() && sheet.bird(k).is_none() && !told(k))
            && sheet.is(p - d + 1, &["by", "at", "over", "on", "me", "it", "off", "my", "the"])
    });
    if trailing(sheet, p)
        && p > 0
        && (told(p - 1)
            || p > 1 && told(p - 2)
            || over
            || sheet.words(p) == "at all"
            || sheet.words(p) == "again")
    {
        return !sheet.any(i, &[Cue::And, Cue::But])
            && !sheet.is(i, &["at", "on", "in", "when", "with", "off", "and", "for"]);
    }
    // Kit and what was done to it, then the next piece.
    p > 0
        && sheet.kit(p - 1).is_some()
        && sheet.is(p, &["fitted", "checked", "changed", "replaced", "removed"])
        && !sheet.is(i, &["her", "his", "the", "a", "new", "another", "old"])
}

/// Words of degree that end what they are said of.
pub(crate) fn trailing(sheet: &Sheet, k: usize) -> bool {
    matches!(
        sheet.words(k),
        "a lot"
            | "once"
            | "constantly"
            | "twice"
            | "like mad"
            | "all the time"
            | "non stop"
            | "nonstop"
            | "all day"
            | "all morning"
            | "repeatedly"
            | "continuously"
            | "the whole time"
            | "throughout"
            | "for a bit"
            | "at all"
            | "again"
            | "this time"
    )
}

/// A fresh thing begins at `i`.
fn before(sheet: &Sheet, p: usize, i: usize) -> bool {
    let subject = sheet.is(i, &["he", "she", "i", "we", "they", "it", "that", "hes", "shes", "i've", "i'll"])
        || matches!(
            sheet.words(i),
            "he'd"
                | "she'd"
                | "he'll"
                | "she'll"
                | "i was"
                | "i'd say"
                | "i'd call that"
                | "i'd call it"
                | "i'd give"
                | "i'll"
                | "i've"
                | "overall"
                | "after flying"
                | "before flying"
        );
    if subject {
        let governs = sheet.any(p, &[Cue::Filler]) && sheet.is(p, &["so", "think", "because"])
            || sheet.any(p, &[Cue::Want, Cue::Hearsay])
            || sheet.is(i, &["it", "that"])
                && (sheet.summary(p)
                    || sheet.any(
                        p,
                        &[
                            Cue::Change,
                            Cue::TakeOff,
                            Cue::Check,
                            Cue::Missed,
                            Cue::Took,
                            Cue::Chased,
                            Cue::Refused,
                            Cue::Left,
                            Cue::Ate,
                        ],
                    ))
            || sheet.is(
                p,
                &[
                    "think", "say", "said", "reckon", "hope", "guess", "know", "sure", "thing", "which",
                    "who", "before", "after", "since", "until", "soon", "time", "way", "did", "so", "was",
                    "once", "told",
                ],
            );
        return !governs;
    }
    if sheet.any(i, &[Cue::LastNight, Cue::ThisMorning, Cue::Yesterday, Cue::DayBefore])
        || sheet.is(i, &["today", "tonight", "now", "tomorrow", "since then"])
    {
        // "at half past six this morning": the day belongs to the clock before it.
        if sheet.num(p).is_some()
            && p > 0
            && sheet.any(
                p - 1,
                &[Cue::At, Cue::HalfPast, Cue::QuarterPast, Cue::QuarterTo, Cue::Past, Cue::ToHour],
            )
        {
            return false;
        }
        let next = i + 1;
        let at = sheet.has(next, Cue::At)
            && (next..next + 6).any(|k| sheet.bird(k).is_some() || sheet.is(k, &["he", "she", "i", "we"]));
        return at
            || sheet.bird(next).is_some()
            || sheet.is(next, &["he", "she", "i", "we", "it", "hes", "shes", "fed", "gave", "had", "after"])
            || sheet.any(next, &[Cue::He, Cue::She]);
    }
    // "two ounces of beef, at seven thirty this morning she weighed"
    if sheet.is(i, &["at"]) && sheet.num(i + 1).is_some() {
        let day = [Cue::ThisMorning, Cue::LastNight, Cue::Yesterday, Cue::Morning, Cue::Evening, Cue::Oclock];
        let e = i + 2 + usize::from(sheet.any(i + 2, &day));
        return sheet.any(e, &[Cue::He, Cue::She]) || sheet.bird(e).is_some();
    }
    // "after flying six thirty", "overall good"
    if sheet.is(i, &["after", "before"]) && sheet.is(i + 1, &["flying", "we", "i", "she", "he", "the"])
        || sheet.is(i, &["overall", "then"])
    {
        return true;
    }
    // A weight that follows something else: "carrying a bit 636".
    if let Some(num) = sheet.num(i) {
        let lasts = sheet.last_grams(i);
        let plain = num.value >= 90.0 && lasts.iter().any(|l| (0.6..1.6).contains(&(num.value / l)));
        let written = num.digits == Some(2) && num.value >= 1.0;
        let near = mass::near_any(num, &lasts) && (num.value >= 40.0 || written) || plain;
        let counts = sheet.any(
            i + 1,
            &[Cue::Metres, Cue::Yards, Cue::Feet, Cue::Flight, Cue::Times, Cue::Degrees, Cue::OutOf],
        ) || sheet.food(i + 1).is_some()
            || sheet.is(i + 1, &["of"]);
        let led = sheet.bird(p).is_some()
            || sheet.any(
                p,
                &[
                    Cue::Be,
                    Cue::Weigh,
                    Cue::Approx,
                    Cue::He,
                    Cue::She,
                    Cue::Filler,
                    Cue::Want,
                    Cue::At,
                    Cue::TakenBack,
                    Cue::Up,
                    Cue::Down,
                    Cue::Price,
                    Cue::Code,
                    Cue::Yes,
                    Cue::Kilos,
                    Cue::Pounds,
                    Cue::Today,
                ],
            )
            || sheet.is(p, &["'s", "flying"]);
        if near && !counts && !led {
            return true;
        }
    }
    // An amount of food, a count of flights, degrees, a mark.
    let article = sheet.is(i, &["a", "an", "one", "some", "another"]) || sheet.num(i).is_some();
    if article {
        let half = sheet.num(i).is_some_and(|n| n.fraction) && sheet.is(i + 1, &["a", "an", "of"]);
        let n = if half { i + 2 } else { i + 1 };
        let measured = sheet.num(i).is_some()
            && sheet.any(i + 1, &[Cue::Grams, Cue::Ounces])
            && (sheet.is(i + 2, &["of"]) || sheet.food(i + 2).is_some());
        let food = sheet.food(n).is_some()
            || heard_food(sheet, n)
            || measured
            || sheet.is(n, &["whole", "small", "big"]) && sheet.food(n + 1).is_some();
        let listed = sheet.num(i).is_some()
            && (sheet.any(n, &[Cue::Flight, Cue::Degrees]) || sheet.words(n) == "out of");
        let crop = sheet.num(i).is_some_and(|x| x.fraction)
            && (sheet.sign(i + 1).is_some() || sheet.sign(i + 2).is_some());
        let led = sheet.any(
            p,
            &[
                Cue::Ate,
                Cue::Gave,
                Cue::Offered,
                Cue::Refused,
                Cue::Left,
                Cue::Will,
                Cue::Took,
                Cue::Missed,
                Cue::Chased,
                Cue::Longest,
                Cue::Flew,
                Cue::Plan,
                Cue::At,
                Cue::Minus,
                Cue::Her,
                Cue::He,
                Cue::Slight,
                Cue::TakenBack,
                Cue::Code,
                Cue::Price,
                Cue::Done,
                Cue::Fit,
            ],
        ) || sheet.num(p).is_some_and(|n| n.fraction)
            || sheet.summary(p)
            || sheet.words(p).starts_with("waiting");
        return (food || listed || crop) && !led;
    }
    // "came in at two eleven", "weighed nine forty" without a subject.
    let weighs = sheet.is(
        i,
        &["came in at", "weighed in at", "comes in at", "weighed", "tipped the scales at", "cast", "casted"],
    );
    if weighs {
        let led = sheet.any(
            p,
            &[
                Cue::He,
                Cue::She,
                Cue::Be,
                Cue::I,
                Cue::Neg,
                Cue::It,
                Cue::OtherBird,
                Cue::Person,
                Cue::OtherBeast,
            ],
        ) || sheet.bird(p).is_some()
            || sheet.is(p, &["had", "has", "just", "late", "yet", "good", "which", "also", "never", "who"]);
        return !led;
    }
    // "no bating", "crop empty", "very keen", a verb without its subject.
    if sheet.any(i, &[Cue::Neg]) && sheet.is(i, &["no", "not"]) {
        let next = i + 1;
        return sheet.behaviour(next).is_some()
            || sheet.sign(next).is_some()
            || sheet.wind(next).is_some()
            || sheet.senses(next).is_empty() && !sheet.any(p, &[Cue::Be]);
    }
    if sheet.is(i, &["a", "one"]) && sheet.has(i + 1, Cue::Kilos) {
        return !sheet.any(p, &[Cue::Be, Cue::Weigh, Cue::Approx]) && sheet.bird(p).is_none();
    }
    let feet = sheet.num(p).is_some() && sheet.any(i, &[Cue::Feet]);
    if sheet.sign(i).is_some()
        && !feet
        && !sheet.any(p, &[Cue::Be, Cue::Left, Cue::Start, Cue::Old])
        && sheet.num(p).is_none_or(|n| !n.fraction)
        && !sheet.is(
            p,
            &[
                "right", "left", "full", "empty", "poor", "late", "good", "sharp", "green", "casting",
                "finished", "started",
            ],
        )
        && sheet.food(p).is_none()
        && !sheet.any(p, &[Cue::Shed, Cue::MoultStart, Cue::MoultEnd, Cue::First])
    {
        let own = |s| sheet.reading(p, s).is_some();
        return !(sheet.sign(i).is_some_and(own) || sheet.damage(p));
    }
    if sheet.behaviour(i).is_some()
        && (trade(sheet, p) && sheet.behaviour(p).is_some()
            || sheet.food(p).is_some()
            || sheet.part(p).is_some()
            || sheet.sky(p).is_some() && sheet.behaviour(p).is_none())
    {
        return true;
    }
    // "after the holidays fed up"
    if sheet.behaviour(i).is_some()
        && sheet.senses(p).is_empty()
        && sheet.num(p).is_none()
        && p > 0
        && sheet.is(p - 1, &["the", "my", "our"])
    {
        return true;
    }
    let degree = sheet.any(i, &[Cue::Strong, Cue::Slight])
        && sheet.behaviour(i + 1).is_some()
        && sheet.is(i, &["very", "really", "bit"]);
    if degree && (trade(sheet, p) || sheet.num(p).is_some()) && sheet.behaviour(p).is_none() {
        return true;
    }
    let verb = sheet.is(
        i,
        &[
            "gave", "fed", "offered", "refused", "ate", "left", "chased", "missed", "took", "flew",
            "started", "changed", "fitted", "checked", "removed", "lost", "broke", "landed", "overflew",
            "entered", "planning", "put", "swapped", "replaced", "tested", "cracked", "snapped",
        ],
    );
    let aux = sheet.any(p, &[Cue::Be, Cue::He, Cue::She, Cue::I, Cue::Neg])
        || sheet.bird(p).is_some() && !(p > 0 && sheet.is(p - 1, &["for", "on", "with", "off", "from"]))
        || sheet.is(
            p,
            &[
                "'d", "'ve", "has", "had", "just", "then", "i", "we", "never", "also", "who", "and",
                "nothing", "one", "some", "she", "he",
            ],
        )
        || sheet.kit(p).is_some()
            && sheet.is(
                i,
                &[
                    "changed", "fitted", "checked", "removed", "lost", "broke", "swapped", "replaced",
                    "tested", "snapped",
                ],
            )
            && !sheet.is(i + 1, &["her", "his", "the", "a", "new", "another", "old"]);
    if verb && !aux {
        return true;
    }
    // Somebody else comes in.
    sheet.is(i, &["my", "a"]) && sheet.has(i + 1, Cue::Person)
}

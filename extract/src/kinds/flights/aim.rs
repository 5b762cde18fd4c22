//! On which line the bird flew, and to what.

use super::count::planned;
use crate::lexicon::{Cue, Sense};
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Line, Step, To};

/// The lure, perch or glove that atom `i` speaks of.
pub(super) fn flown_to(sheet: &Sheet, i: usize) -> Option<To> {
    if sheet.has(i, Cue::ToLure) || sheet.step(i) == Some(Step::Lure) {
        return Some(To::Lure);
    }
    match sheet.kit(i).map(|k| sheet.lexicon.equipment()[usize::from(k)].item_word()) {
        Some("lure") => Some(To::Lure),
        Some("perch") => Some(To::Perch),
        Some("glove") => Some(To::Fist),
        _ => None,
    }
}

pub(super) fn line(sheet: &Sheet, i: usize) -> Option<Line> {
    if sheet.dead.get(i).copied().unwrap_or(true) {
        return None;
    }
    let planned_step = || planned(sheet, i) || next_time(sheet, i);
    if three_for_free(sheet, i) {
        return Some(Line::Free);
    }
    if sheet.has(i, Cue::Line) {
        return (!planned_step()).then_some(Line::Creance);
    }
    if bare(sheet, i) && !planned_step() {
        return Some(Line::Free);
    }
    if misheard_creance(sheet, i) && !planned_step() {
        return Some(Line::Creance);
    }
    if sheet.has(i, Cue::Free) {
        let of = sheet.is(i + 1, &["of", "from", "range"]) && sheet.before(i + 1) == Break::None;
        let not = i > 0
            && sheet.before(i) == Break::None
            && (sheet.has(i - 1, Cue::Neg) || sheet.is(i - 1, &["feel", "got", "broke", "for", "set"]));
        return (!of && !not && !planned_step()).then_some(Line::Free);
    }
    if sheet.step(i) == Some(Step::FreeFlight)
        && (sheet.is(i, &["freeflight"]) || matches!(sheet.word(i), "flew" | "flying" | "flown"))
        && !sheet.has(i, Cue::Free)
    {
        return (!planned_step()).then_some(Line::Free);
    }
    if sheet.step(i) == Some(Step::Creance) || sheet.is(i, &["creance"]) {
        let on = (i.saturating_sub(3)..i).any(|k| {
            (sheet.is(k, &["on", "with", "onto", "using"])
                || sheet.words(k).ends_with(" on")
                || sheet.words(k) == "on to")
                && (k + 1..=i).all(|x| sheet.before(x) == Break::None)
        });
        let plain = sheet.words(i).contains("creance") || sheet.atoms[i].heard;
        let off = i > 0
            && sheet.before(i) == Break::None
            && (sheet.is(i - 1, &["off", "round", "checked", "new", "the"])
                && !on
                && i > 1
                && sheet.is(i - 2, &["off", "checked", "new", "round"])
                || sheet.is(i - 1, &["off", "new"]));
        if off {
            return None;
        }
        let start = plain && sheet.any(i + 1, &[Cue::Fist, Cue::ToLure, Cue::ToPerch])
            || plain && sheet.has(i + 1, Cue::Flight)
            || (plain && i > 0 && sheet.any(i - 1, &[Cue::Flight]));
        // "creance work, eight flights", "creance again. Six to the fist": it opens the talk of them.
        let opens = plain
            && (i == 0 || sheet.before(i) != Break::None || sheet.any(i - 1, &[Cue::Filler, Cue::And]))
            && sheet.before(i + 1) != Break::None
            || plain
                && i == sheet.start_of_sentence(i)
                && sheet
                    .is(i + 1, &["again", "today", "work", "session", "flying", "training", "only", "still"]);
        return ((on || start || opens || plain && sheet.before(i) == Break::Comma) && !planned_step())
            .then_some(Line::Creance);
    }
    None
}

/// "six flights with nothing on her": no line, where flying is told of.
fn bare(sheet: &Sheet, i: usize) -> bool {
    sheet.is(i, &["with"])
        && sheet.is(i + 1, &["nothing"])
        && sheet.is(i + 2, &["on"])
        && sheet.any(i + 3, &[Cue::Her, Cue::He])
        && (i + 1..i + 4).all(|k| sheet.before(k) == Break::None)
        && flights_before(sheet, i)
}

/// Flights or flying are told of a little before in the sentence.
fn flights_before(sheet: &Sheet, i: usize) -> bool {
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(10));
    (start..i).any(|k| {
        !sheet.dead[k]
            && (sheet.is(k, &["flights", "flight", "recalls", "flew", "flown"]) || sheet.has(k, Cue::Line))
    })
}

/// "five flights on the cranes": another word, but flights are flown on it.
pub(super) fn misheard_creance(sheet: &Sheet, i: usize) -> bool {
    let strange = sheet.quarry(i).is_some() || sheet.senses(i).is_empty() && sheet.bird(i).is_none();
    if !strange || i < 2 || !flights_before(sheet, i) {
        return false;
    }
    // "on the screens above the bar"
    let ends = i + 1 >= sheet.len()
        || sheet.before(i + 1) != Break::None
        || sheet.any(i + 1, &[Cue::Fist, Cue::ToLure, Cue::ToPerch])
        || sheet.is(i + 1, &["longest", "the longest", "furthest", "the", "came"])
            && (i + 1..i + 5)
                .any(|k| sheet.any(k, &[Cue::Metres, Cue::Yards, Cue::Feet]) || sheet.grade(k).is_some());
    let on = sheet.is(i - 1, &["the", "a"])
        && sheet.is(i - 2, &["on"])
        && sheet.before(i) == Break::None
        && sheet.before(i - 1) == Break::None;
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(10));
    let hunted = (start..i).any(|k| {
        sheet.any(k, &[Cue::Missed, Cue::Chased]) || sheet.is(k, &["took", "caught", "killed", "grabbed"])
    });
    let lexicon = sheet.lexicon;
    on && ends
        && !hunted
        && lexicon
            .heard
            .word(&lexicon.vocabulary, sheet.word(i))
            .is_some_and(|s| s.contains(&Sense::Step(Step::Creance)))
}

fn next_time(sheet: &Sheet, i: usize) -> bool {
    let (start, end) =
        (sheet.start_of_sentence(i).max(i.saturating_sub(12)), sheet.end_of_sentence(i).min(i + 8));
    (start..end).any(|k| {
        (sheet.has(k, Cue::Plan)
            && sheet
                .is(k, &["planning", "plan", "planned", "tomorrow", "hopefully", "soon", "plans", "ready"])
            || matches!(
                sheet.words(k),
                "next week"
                    | "at the weekend"
                    | "hoping to"
                    | "going to"
                    | "want to"
                    | "next step"
                    | "ready for"
                    | "next weekend"
                    | "next time"
                    | "thinking of"
                    | "thinking about"
                    | "next month"
            ))
            && (k.min(i) + 1..=k.max(i)).all(|x| sheet.before(x) != Break::Stop)
            // "planning free flight for Sunday, four flights on the creance": those were flown.
            && !(k.min(i) + 1..k.max(i))
                .any(|x| sheet.num(x).is_some() && sheet.has(x + 1, Cue::Flight) && sheet.before(x) != Break::None)
    })
}

/// "to the fist, three, longest 25 metres": a count of nothing, which was "free" before it was written down.
pub(super) fn three_for_free(sheet: &Sheet, i: usize) -> bool {
    let three = sheet.is(i, &["three", "3"]) && sheet.live(i) && i > 0 && !sheet.used[i];
    three
        && sheet.any(i - 1, &[Cue::Fist, Cue::ToLure, Cue::ToPerch])
        && (sheet.any(i + 1, &[Cue::Longest]) && sheet.is(i + 1, &["longest", "furthest", "the longest"])
            || sheet.num(i + 1).is_some() && sheet.has(i + 2, Cue::Flight))
}

/// "jumped to the glove", "hops to the fist": what it goes to is in the words of the step.
pub(super) fn stepped(sheet: &Sheet, i: usize) -> Option<To> {
    let jump = sheet.step(i) == Some(Step::JumpingToTheFist);
    let words = sheet.words(i);
    // "slow to the glove", "wouldn't come to the lure": the judgement names it.
    if sheet.grade(i).is_some() && words.ends_with(" to the lure") {
        return Some(To::Lure);
    }
    let jump = jump || sheet.grade(i).is_some() && words.contains(" to the ");
    (jump && (words.ends_with("fist") || words.ends_with("glove"))).then_some(To::Fist)
}

/// What the bird flew to.
pub(super) fn aim(sheet: &Sheet, i: usize) -> Option<To> {
    if i >= sheet.len() || sheet.dead[i] {
        return None;
    }
    let words = || sheet.words(i);
    if let Some(to) = stepped(sheet, i) {
        return Some(to);
    }
    let to_before = i > 0 && sheet.before(i) == Break::None && sheet.is(i - 1, &["to", "onto"]);
    // "off the post and down to the glove"
    let down_to = i > 0
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["down to", "over to", "across to", "up to"])
        && (i.saturating_sub(7)..i - 1).any(|k| matches!(sheet.word(k), "off" | "from"));
    if sheet.has(i, Cue::ToLure) && !words().starts_with("chasing") {
        return Some(To::Lure);
    }
    if sheet.has(i, Cue::ToPerch) {
        return Some(To::Perch);
    }
    if sheet.has(i, Cue::Fist)
        && (words().starts_with("to ")
            || words().starts_with("back to")
            || words().starts_with("from the post")
            || to_before
            || down_to && sheet.ends(i, &["glove", "fist"])
            || words().starts_with("fist "))
    {
        return Some(To::Fist);
    }
    // "six flights, fist every time"
    let every = sheet.before(i) == Break::Comma
        && sheet.has(i, Cue::Fist)
        && (i.saturating_sub(9)..i).any(|k| sheet.has(k, Cue::Flight));
    // The same without commas: "eight flights free fist longest ninety".
    let run_on = sheet.unbroken
        && i > 0
        && sheet.has(i, Cue::Fist)
        && sheet.any(i - 1, &[Cue::Flight, Cue::Free, Cue::Line])
        && (i.saturating_sub(4)..i).any(|k| sheet.has(k, Cue::Flight) || sheet.words(k) == "free flights");
    if every || run_on {
        return Some(To::Fist);
    }
    // "twelve flights, lure, free"
    let counted = |k: usize| {
        sheet.has(k, Cue::Flight)
            || matches!(sheet.words(k), "free flights" | "free flight") && !sheet.dead[k]
    };
    let lone = sheet.before(i) == Break::Comma
        && sheet.before(i + 1) != Break::None
        && (i.saturating_sub(6)..i).any(counted);
    // "lure, four flights, free"
    let leads = (i == 0 || sheet.before(i) != Break::None)
        && sheet.before(i + 1) != Break::None
        && sheet.num(i + 1).is_some()
        && i + 2 < sheet.len()
        && counted(i + 2);
    if leads && sheet.has(i, Cue::Fist) {
        return Some(To::Fist);
    }
    let lone = lone || leads;
    // The same without commas: "twelve flights lure free".
    let lone = lone
        || sheet.unbroken
            && i > 0
            && sheet.has(i - 1, Cue::Flight)
            && (i + 1 >= sheet.len()
                || sheet.any(i + 1, &[Cue::Free, Cue::Longest])
                || sheet.num(i + 1).is_some());
    let led = |words: &[&str]| i > 1 && sheet.is(i - 1, &["the", "a", "my"]) && sheet.is(i - 2, words);
    let at_lure = led(&["at"])
        && sheet.kit(i).is_some_and(|k| sheet.lexicon.equipment()[usize::from(k)].word == "lure");
    // "to the far perch", "to the other glove"
    let described = far(sheet, i);
    if described && (sheet.is(i, &["glove", "fist"]) || sheet.has(i, Cue::Fist)) {
        return Some(To::Fist);
    }
    if described && sheet.is(i, &["post", "posts", "stump", "branch", "rail"]) {
        return Some(To::Perch);
    }
    if lone || to_before || described || led(&["to"]) || at_lure {
        let kit = sheet.kit(i).map(|k| sheet.lexicon.equipment()[usize::from(k)].item_word());
        return match kit {
            Some("lure") => Some(To::Lure),
            Some("perch") => Some(To::Perch),
            Some("glove") => Some(To::Fist),
            _ => None,
        };
    }
    None
}

/// "to the far perch": a word between the article and the thing.
pub(super) fn far(sheet: &Sheet, i: usize) -> bool {
    const PLACE: [&str; 22] = [
        "far", "near", "other", "top", "high", "higher", "low", "lower", "back", "front", "bottom", "first",
        "second", "third", "next", "same", "new", "old", "left", "right", "end", "opposite",
    ];
    let tight = |from: usize| (from + 1..=i).all(|k| sheet.before(k) == Break::None);
    let the = |k: usize| sheet.is(k, &["the", "her", "his", "my", "a"]);
    i > 1
        && (sheet.is(i - 1, &["the other"]) && sheet.is(i - 2, &["to"]) && tight(i - 2)
            || i > 2
                && (sheet.is(i - 1, &PLACE)
                    || sheet.is(i - 1, &["further", "farther", "furthest", "farthest"]))
                && the(i - 2)
                && sheet.is(i - 3, &["to"])
                && tight(i - 3))
}

/// Whether flying is told of just before `i` in its sentence.
pub(super) fn flew(sheet: &Sheet, i: usize) -> bool {
    said_flew(sheet, i)
        || sheet.words(i).starts_with("flew")
        || sheet.words(i).starts_with("flying")
        || sheet.words(i).starts_with("flown")
}

pub(super) fn said_flew(sheet: &Sheet, i: usize) -> bool {
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(8));
    (start..=i).any(|k| {
        let w = sheet.word(k);
        (matches!(w, "flew" | "flown" | "flying" | "flies")
            || sheet.atoms[k].heard && sheet.has(k, Cue::Flew)
            || sheet.words(k).starts_with("called") && sheet.has(k, Cue::Flew))
            && sheet.any(k, &[Cue::Flew, Cue::Free, Cue::FlyingTalk])
            && !sheet.dead[k]
            // "called her in to the lure from way up": fetched, not flown.
            && !(sheet.word(k) == "called"
                && (k + 1..k + 3).any(|m| sheet.is(m, &["in", "down", "back"]) && m <= i))
            && !(k.saturating_sub(3)..k).any(|m| {
                sheet.has(m, Cue::Neg) || sheet.any(m, &[Cue::Plan]) && !sheet.is(m, &["could", "might"])
            })
            && (k + 1..=i).all(|x| sheet.before(x) != Break::Stop)
    })
}

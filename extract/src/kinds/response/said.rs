//! What a word of judgement is said of: the flights just told of, or the sky, the step, the scales.

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
use note::{Step, Value};

/// How far back the flights may have been told, in atoms.
const REACH: usize = 16;

/// "Eight flights … and she was good": a word for the bird that judges the flights just told of.
///
/// Whether the word at `i` closes "she was …" shortly behind the bird's flights.
pub(super) fn of_flights(sheet: &Sheet, i: usize, drafts: &[Draft]) -> bool {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let subject = i > 1
        && tight(i)
        && tight(i - 1)
        && sheet.is(i - 1, &["was", "were", "'s", "is"])
        && (sheet.any(i - 2, &[Cue::He, Cue::She]) || sheet.bird(i - 2).is_some());
    let closes = i + 1 >= sheet.len() || !tight(i + 1);
    if !subject || !closes {
        return false;
    }
    let start = sheet.start_of_sentence(i);
    let floor = if start == 0 { 0 } else { sheet.start_of_sentence(start - 1) };
    let theirs = |owner: Owner| match (owner, sheet.owner[i]) {
        (Owner::Two(a, b), Owner::One(one)) => a == one || b == one,
        (Owner::Many(all), Owner::One(one)) => one < 64 && all >> one & 1 == 1,
        (a, b) => a == b,
    };
    drafts.iter().rev().take(40).any(|d| {
        matches!(d.value, Value::Flights(_))
            && theirs(sheet.owner[d.head])
            && d.from >= floor
            && d.to < i
            && i - d.to < REACH
    })
}

/// "Okay, I suppose.", "Alright, nothing special.", "Okay otherwise.": a judgement, and no way to begin.
pub(super) fn granted(sheet: &Sheet, next: usize) -> bool {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let ends = |k: usize| k >= sheet.len() || !tight(k);
    if sheet.is(next, &["i"]) {
        return ["suppose", "guess"].contains(&sheet.word(next + 1)) && ends(next + 2);
    }
    if sheet.is(next, &["i suppose", "i guess", "overall", "otherwise"]) {
        return ends(next + 1);
    }
    let token = |d: usize| {
        let at = sheet.atoms.get(next)?.first + d;
        sheet.tokens.get(at).filter(|t| t.before == Break::None).map(|t| t.norm.as_str())
    };
    matches!(sheet.word(next), "nothing" | "no")
        && matches!(token(1), Some("more" | "special" | "better" | "great"))
        && matches!(token(2), None | Some("than"))
}

/// "Blue sky, light air, no complaints": nothing but the weather stands in the sentence before the word.
pub(super) fn of_weather(sheet: &Sheet, i: usize, drafts: &[Draft]) -> bool {
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(10));
    let told = |k: usize| sheet.sky(k).is_some() || sheet.wind(k).is_some() || sheet.has(k, Cue::Degrees);
    let of_bird = |k: usize| {
        sheet.bird(k).is_some()
            || sheet.any(k, &[Cue::He, Cue::She, Cue::His, Cue::Her, Cue::FlyingTalk, Cue::Flight, Cue::Flew])
            || sheet.any(k, &[Cue::Fist, Cue::ToLure, Cue::ToPerch])
    };
    let end = sheet.end_of_sentence(i).min(i + 6);
    // What is said of days as well as of birds.
    let of_days = !sheet.words(i).contains(' ')
        || sheet
            .is(i, &["no complaints", "can't complain", "not bad", "not too bad", "spot on", "just right"]);
    of_days
        && (start..i).any(told)
        && !(start..end).any(|k| k != i && of_bird(k))
        && !drafts
            .iter()
            .rev()
            .take(40)
            .any(|d| !matches!(d.value, Value::Weather(_)) && d.head >= start && d.head < end)
}

/// "took the hood, first time of asking": how the step went that the sentence tells of, not how she answered.
pub(super) fn of_training(sheet: &Sheet, i: usize, drafts: &[Draft]) -> bool {
    let start = sheet.start_of_sentence(i);
    let step = drafts.iter().rev().take(40).any(|d| {
        matches!(&d.value, Value::Training(t) if matches!(t.step, Step::Hood | Step::TravelBox))
            && (start..i).contains(&d.head)
            && i - d.head < 14
    });
    let talk = |k: usize| sheet.any(k, &[Cue::FlyingTalk, Cue::Flight, Cue::ToLure, Cue::Flew]);
    step && !(start..sheet.end_of_sentence(i).min(i + 6)).any(|k| k != i && talk(k))
}

/// "644, so that's coming off nicely": the weight is.
pub(super) fn of_weight(sheet: &Sheet, i: usize, drafts: &[Draft]) -> bool {
    let off = i > 1
        && sheet.before(i) == Break::None
        && (sheet.is(i - 1, &["coming off", "going on", "creeping up"])
            || sheet.is(i - 1, &["off", "on"])
                && sheet.before(i - 1) == Break::None
                && sheet.is(i - 2, &["coming", "going"]));
    // "bang on a kilo"
    let next = i + 1;
    let figure = sheet.words(i).ends_with(" on")
        && sheet.before(next) == Break::None
        && (sheet.num(next).is_some()
            || sheet.is(next, &["a"]) && sheet.any(next + 1, &[Cue::Kilos, Cue::Pounds]));
    if figure {
        return true;
    }
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(14));
    let named = (start..i).any(|k| sheet.words(k).contains("weight"));
    off && (named
        || drafts
            .iter()
            .rev()
            .take(40)
            .any(|d| matches!(d.value, Value::Weight(_)) && (start..i).contains(&d.head)))
}

/// A noun that the word describes, so that it is no judgement of the answer.
pub(super) fn thing(sheet: &Sheet, k: usize) -> bool {
    if sheet.is(k, &["stoop", "stoops"]) {
        return true;
    }
    if sheet.any(
        k,
        &[
            Cue::FlyingTalk,
            Cue::Flight,
            Cue::Be,
            Cue::And,
            Cue::But,
            Cue::Today,
            Cue::At,
            Cue::Past,
            Cue::Strong,
            Cue::Or,
            Cue::Fist,
            Cue::ToLure,
            Cue::ToPerch,
        ],
    ) || sheet.is(
        k,
        &[
            "to",
            "in",
            "on",
            "off",
            "from",
            "enough",
            "again",
            "for",
            "overall",
            "by",
            "with",
            "all",
            "every",
            "this",
            "at",
            "first",
            "considering",
            "given",
            "really",
            "i",
            "as",
            "out",
            "then",
            "when",
            "today",
            "tonight",
            "too",
            "after",
            "before",
            "until",
            "till",
            "though",
            "she",
            "he",
            "session",
        ],
    ) || sheet.bird(k).is_some()
        || sheet.num(k).is_some()
    {
        return false;
    }
    true
}

/// "her keel is good", "the bell sounds fine": a sign or a piece of kit right before the word.
pub(super) fn thing_before(sheet: &Sheet, i: usize) -> bool {
    i > 0
        && sheet.before(i) == Break::None
        && (sheet.sign(i - 1).is_some()
            || sheet.sign(i.saturating_sub(2)).is_some() && sheet.any(i - 1, &[Cue::Be])
            || sheet.kit(i - 1).is_some())
}

/// Talk of flying in the sentence before.
pub(super) fn recent_talk(sheet: &Sheet, i: usize) -> bool {
    let from = i.saturating_sub(18);
    (from..i).rev().take_while(|k| sheet.owner[*k] == sheet.owner[i]).any(|k| {
        sheet.any(k, &[Cue::Flight, Cue::ToLure, Cue::ToPerch]) && !sheet.dead[k]
            || sheet.words(k).starts_with("flew")
            || sheet.is(k, &["creance", "longest", "called", "recall", "session", "response"])
            || sheet.has(k, Cue::Fist) && sheet.words(k).starts_with("to")
    })
}

//! "Missed two and nailed the third", "took one and missed three": words that lean on the quarry named before.

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::QuarryOutcome;

/// How far on the quarry is still meant, in atoms.
const REACH: usize = 26;

/// How many of the quarry at `at` the words from `i` tell of, what came of them, and their last atom.
///
/// `named` is how many were named there, for "it" and "them"; `None` where their fate is told already.
pub(super) fn of_them(
    sheet: &Sheet,
    at: usize,
    i: usize,
    named: Option<u32>,
    slips: Option<u32>,
) -> Option<(u32, QuarryOutcome, usize)> {
    // "Partridge all over the hill. Colt chased one": where no bird was named yet, it is for the one that flies.
    let nobodys = named.is_some()
        && (sheet.start_of_sentence(at)..sheet.end_of_sentence(at))
            .take(REACH)
            .all(|k| sheet.bird(k).is_none())
        && sheet.start_of_sentence(i) > at;
    if i <= at || i - at >= REACH || sheet.owner[at] != sheet.owner[i] && !nobodys {
        return None;
    }
    // In the same sentence or the next.
    let start = sheet.start_of_sentence(i);
    if start > at && sheet.start_of_sentence(start - 1) > at {
        return None;
    }
    // "grouse, one taken, two missed"
    let number = || {
        if sheet.is(i, &["one"]) {
            return Some(1);
        }
        let n = sheet.num(i)?.count().filter(|c| c.fract() == 0.0 && (1.0..=20.0).contains(c))?;
        Some(n as u32)
    };
    if sheet.before(i + 1) == Break::None
        && let Some(outcome) = super::participle(sheet, i + 1)
        && let Some(count) = number()
        && !sheet.used[i]
    {
        return Some((count, outcome, i + 1));
    }
    // "and a third one missed"
    let ordinal = sheet.is(i, &["third", "second", "fourth", "other", "another", "first", "last"]);
    let one = i + 1 + usize::from(sheet.is(i + 1, &["one"]) && sheet.before(i + 1) == Break::None);
    if ordinal
        && sheet.before(one) == Break::None
        && !sheet.used[i]
        && let Some(outcome) = participle_before(sheet, one)
    {
        return Some((1, outcome, one));
    }
    let outcome = match sheet.words(i) {
        "missed" | "miss" | "just missed" | "narrowly missed" | "failed to catch" | "lost" => {
            QuarryOutcome::Missed
        }
        "caught" | "took" | "nailed" | "killed" | "bagged" | "taken" | "got" | "grabbed" | "hit" | "had" => {
            QuarryOutcome::Taken
        }
        "chased" | "pursued" | "went after" | "flew at" | "had a go at" | "coursed" => QuarryOutcome::Chased,
        _ => return None,
    };
    let weak = sheet.is(i, &["lost", "had", "hit"]);
    // "second slip she missed"
    let closes = i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None;
    let slip = (sheet.start_of_sentence(i).max(i.saturating_sub(11))..i).any(|k| {
        sheet.is(k, &["second", "third", "next", "last", "other", "first", "one"])
            && sheet.is(k + 1, &["slip", "go", "flight", "chance", "attempt", "one", "flush", "point"])
    });
    if closes && slip && outcome == QuarryOutcome::Missed {
        return Some((1, outcome, i));
    }
    if sheet.before(i + 1) != Break::None
        || i > 0
            && sheet.before(i) == Break::None
            && sheet.any(i - 1, &[Cue::Neg, Cue::I, Cue::OtherBeast, Cue::Person])
    {
        return None;
    }
    let (count, last) = all(sheet, i + 1, slips)
        .or_else(|| kind(sheet, at, i + 1).filter(|_| !weak))
        .or_else(|| them(sheet, i + 1, named, weak))?;
    let next = last + 1;
    // "the last of the coffee" is no bird, "the first of the season" is.
    const WHOLE: [&str; 9] =
        ["day", "season", "year", "week", "morning", "afternoon", "lot", "bunch", "covey"];
    let of_other = sheet.is(next, &["of"])
        && sheet.before(next) == Break::None
        && !(next + 1..next + 4).any(|k| sheet.ends(k, &WHOLE) || sheet.quarry(k).is_some())
        && !sheet.is(next + 1, &["them", "'em", "em", "these", "those"]);
    if of_other {
        return None;
    }
    let ends = next >= sheet.len()
        || sheet.before(next) != Break::None
        || sheet.any(next, &[Cue::And, Cue::But, Cue::Today])
        || sheet.is(
            next,
            &[
                "on", "in", "into", "by", "after", "at", "of", "out", "off", "from", "near", "behind",
                "under", "over", "before", "up", "down", "just", "again", "too", "through", "along", "this",
                "though", "first", "too", "early", "late", "across", "beside", "along",
            ],
        );
    // "chased one clean over the hill", "chased one a long way"
    const FAR: [&str; 22] = [
        "clean", "right", "halfway", "half", "all", "a", "for", "to", "straight", "away", "back", "round",
        "around", "past", "towards", "across", "deep", "far", "hard", "until", "till", "well",
    ];
    let pursuit =
        outcome == QuarryOutcome::Chased && sheet.is(last, &["one"]) && FAR.contains(&sheet.word(next));
    (ends || pursuit).then_some((count, outcome, last))
}

/// The same where a place follows: "missed at the hedge".
fn participle_before(sheet: &Sheet, k: usize) -> Option<QuarryOutcome> {
    super::participle(sheet, k).or_else(|| {
        let place =
            sheet.before(k + 1) == Break::None && sheet.is(k + 1, &["at", "in", "on", "by", "near", "under"]);
        match sheet.words(k) {
            "missed" | "lost" if place => Some(QuarryOutcome::Missed),
            "taken" | "caught" | "killed" if place => Some(QuarryOutcome::Taken),
            _ => None,
        }
    })
}
/// "all three", "the lot", "every one of them": how many, and the last atom.
fn all(sheet: &Sheet, from: usize, slips: Option<u32>) -> Option<(u32, usize)> {
    if sheet.is(from, &["all", "all of"]) && sheet.before(from + 1) == Break::None {
        let count = sheet.num(from + 1).and_then(crate::number::Num::count);
        if let Some(count) = count.filter(|c| c.fract() == 0.0 && (1.0..=20.0).contains(c)) {
            return Some((count as u32, from + 1));
        }
    }
    let whole =
        ["the lot", "all of them", "every one", "all", "them all", "every one of them", "every single one"];
    if sheet.is(from, &whole) {
        return slips.filter(|s| *s > 1).map(|s| (s, from));
    }
    let lot = sheet.is(from, &["the", "every", "them"]) && sheet.is(from + 1, &["lot", "one", "all"]);
    slips.filter(|s| lot && *s > 1).map(|s| (s, from + 1))
}
/// "one", "another one", "the third", "two more", "both of them", "it": how many, and the last atom.
fn them(sheet: &Sheet, from: usize, named: Option<u32>, weak: bool) -> Option<(u32, usize)> {
    const ORDINALS: [&str; 14] = [
        "first",
        "second",
        "third",
        "fourth",
        "fifth",
        "other",
        "last",
        "next",
        "other one",
        "last one",
        "first one",
        "second one",
        "next one",
        "third one",
    ];
    const WHOLE: [&str; 14] = [
        "the one",
        "just the one",
        "the other",
        "the other one",
        "the last",
        "the last one",
        "the second",
        "the first",
        "the third",
        "the first one",
        "the second one",
        "another",
        "the fourth",
        "one more",
    ];
    let tight = |k: usize| sheet.before(k) == Break::None;
    let one = |k: usize| if sheet.is(k, &["one"]) && tight(k) { k } else { k - 1 };
    let article = sheet.is(from, &["the", "a"]) && tight(from + 1) && sheet.is(from + 1, &ORDINALS);
    if article {
        return Some((1, one(from + 2)));
    }
    // "missed the first two", "took the last three"
    const SOME: [&str; 5] = ["first", "last", "next", "other", "second"];
    let counted = |k: usize| {
        let count = sheet.num(k).filter(|_| tight(k))?.count()?;
        Some(count as u32).filter(|c| count.fract() == 0.0 && (2..=20).contains(c))
    };
    let some = if sheet.is(from, &["the first", "the last", "the next", "the other"]) {
        Some(from + 1)
    } else {
        (sheet.is(from, &["the"]) && tight(from + 1) && sheet.is(from + 1, &SOME)).then_some(from + 2)
    };
    if let Some(k) = some
        && let Some(count) = counted(k)
    {
        return Some((count, k));
    }
    if sheet.is(from, &["the"]) && tight(from + 1) {
        match sheet.words(from + 1) {
            "first two" | "last two" | "other two" => return Some((2, from + 1)),
            "first three" | "last three" => return Some((3, from + 1)),
            _ => {}
        }
    }
    // "and missed that too"
    if sheet.is(from, &["that", "that one"])
        && tight(from + 1)
        && sheet.is(from + 1, &["too", "as well", "also"])
    {
        return Some((1, from + 1));
    }
    if sheet.is(from, &WHOLE) || sheet.is(from, &["one", "a third"]) {
        return Some((1, one(from + 1)));
    }
    if sheet
        .is(from, &["both", "them both", "both of them", "the pair of them", "the pair", "the two of them"])
    {
        return Some((2, from));
    }
    if sheet.is(from, &["them"]) && tight(from + 1) && sheet.is(from + 1, &["both"]) {
        return Some((2, from + 1));
    }
    if sheet.is(from, &["it", "them"]) {
        return named.filter(|_| !weak).map(|n| (n, from));
    }
    let count = sheet.num(from)?.count().filter(|c| c.fract() == 0.0 && (1.0..=20.0).contains(c))?;
    let more = tight(from + 1) && sheet.is(from + 1, &["more", "others"]);
    let of = tight(from + 1)
        && sheet.is(from + 1, &["of"])
        && sheet.is(from + 2, &["them", "'em", "em", "these", "those"]);
    Some((count as u32, from + usize::from(more) + 2 * usize::from(of)))
}

/// "missed a cock pheasant, then took a hen": only the sex is said of another of the kind named before.
fn kind(sheet: &Sheet, at: usize, from: usize) -> Option<(u32, usize)> {
    let species = sheet.lexicon.quarry()[usize::from(sheet.quarry(at)?)].word.as_str();
    let (one, more): (&[&str], &[&str]) = match species {
        "pheasant" | "partridge" | "grouse" | "quail" => (&["hen", "cock"], &["hens", "cocks"]),
        "duck" => (&["hen", "drake"], &["hens", "drakes"]),
        "rabbit" | "hare" => (&["buck", "doe", "jack", "jill"], &["bucks", "does"]),
        _ => return None,
    };
    let tight = |k: usize| sheet.before(k) == Break::None;
    // "a big one", "an old hen"
    let size = sheet.is(from + 1, &["big", "young", "old", "small", "little", "fat"]) && tight(from + 1);
    let noun = from + 1 + usize::from(size);
    if !tight(noun) {
        return None;
    }
    if sheet.is(from, &["a", "an", "another", "one", "the"])
        && (sheet.is(noun, one) || size && sheet.is(noun, &["one"]))
    {
        return Some((1, noun));
    }
    let count = sheet.num(from)?.count().filter(|c| c.fract() == 0.0 && (1.0..=20.0).contains(c))?;
    (sheet.is(noun, more) || sheet.is(noun, one)).then_some((count as u32, noun))
}

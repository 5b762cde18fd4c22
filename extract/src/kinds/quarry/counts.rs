//! How many were flown at, taken or missed, and tallies that need no verb of their own.

use super::participle;
use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Flag, Quarry, QuarryOutcome, Value};

/// "flew at two rabbits and a pheasant, missed the lot": several that were chased in this sentence got away.
pub(super) fn missed_all(sheet: &mut Sheet, i: usize, out: &mut [Draft]) -> bool {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let to = if sheet.is(i + 1, &["the lot", "all of them", "them all", "every one", "both", "everything"]) {
        i + 1
    } else if sheet.is(i + 1, &["the", "them", "every"]) && sheet.is(i + 2, &["lot", "all", "one"]) {
        i + 2
    } else {
        return false;
    };
    let ends = to + 1 >= sheet.len() || sheet.before(to + 1) != Break::None || sheet.has(to + 1, Cue::And);
    if !sheet.is(i, &["missed"]) || !tight(i + 1) || !ends {
        return false;
    }
    let start = sheet.start_of_sentence(i);
    let chased: Vec<usize> = (0..out.len())
        .rev()
        .take(8)
        .filter(|d| {
            out[*d].head >= start
                && sheet.owner[out[*d].head] == sheet.owner[i]
                && matches!(&out[*d].value, Value::Quarry(q) if q.outcome == QuarryOutcome::Chased)
        })
        .collect();
    if chased.len() < 2 {
        return false;
    }
    for d in chased {
        if let Value::Quarry(q) = &mut out[d].value {
            q.outcome = QuarryOutcome::Missed;
        }
    }
    sheet.take(i, to);
    true
}

/// "Colt's first rabbit of the season": nothing else is told of it, so it is in the bag.
pub(super) fn first_of(sheet: &Sheet, i: usize) -> Option<usize> {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let whose = i > 2
        && tight(i)
        && tight(i - 1)
        && sheet.is(i - 1, &["first", "second", "third"])
        && sheet.is(i - 2, &["'s"])
        && sheet.bird(i - 3).is_some();
    let closes = i + 1 >= sheet.len() || !tight(i + 1) || sheet.is(i + 1, &["of", "this", "today", "ever"]);
    let quiet = (sheet.start_of_sentence(i)..i - 3.min(i)).all(|k| !sheet.content(k));
    (whose && closes && quiet).then(|| i - 3)
}

/// "three good slips at rabbits": how many slips.
pub(super) fn slips(sheet: &Sheet, i: usize) -> Option<u32> {
    let at = (i.saturating_sub(3)..i).rev().find(|k| {
        // "three misses on crows"
        sheet.is(*k, &["misses"]) && sheet.is(*k + 1, &["on", "at"])
            || sheet.is(*k, &["misses on", "misses at"])
            || sheet.has(*k, Cue::Chased)
                && matches!(
                    sheet.words(*k),
                    "slips at"
                        | "slips on"
                        | "flights at"
                        | "goes at"
                        | "had slips at"
                        | "stoops at"
                        | "shots at"
                        | "chances at"
                )
    })?;
    let number = (at.saturating_sub(2)..at).rev().find(|k| sheet.num(*k).is_some())?;
    let count = sheet.num(number)?.count().filter(|c| c.fract() == 0.0 && (2.0..=20.0).contains(c))?;
    (number + 1..=i).all(|k| sheet.before(k) == Break::None).then_some(count as u32)
}

/// "three cottontail slips, one in the bag", "chased three and caught one": how many were taken.
pub(super) fn taken_of_them(sheet: &Sheet, i: usize, verb: usize, to: usize) -> Option<u32> {
    if to <= i || verb > i {
        return None;
    }
    let whole = |k: usize| {
        if sheet.is(k, &["one"]) {
            return Some(1);
        }
        let c = sheet.num(k)?.count().filter(|c| c.fract() == 0.0 && (1.0..=50.0).contains(c))?;
        Some(c as u32)
    };
    // "two rabbits chased and one taken": of them, one.
    let before_it = to > i + 1 && sheet.num(to - 1).is_some() && sheet.has(to, Cue::Took);
    if before_it && let Some(said) = whole(to - 1) {
        return Some(said);
    }
    // "two rabbits taken one missed": that one has its own verb.
    let of_its_own =
        sheet.any(to + 2, &[Cue::Missed, Cue::Took, Cue::Chased]) && sheet.before(to + 2) == Break::None;
    let behind = || whole(to + 1).filter(|_| sheet.before(to + 1) == Break::None && !of_its_own);
    (i + 1..to).find_map(whole).or_else(behind)
}

pub(super) fn count(sheet: &Sheet, i: usize) -> (u32, usize) {
    let mut k = i;
    while k > 0 && i - k < 4 && sheet.before(k) == Break::None {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        if let Some(num) = sheet.num(k) {
            let whole =
                num.count().filter(|c| c.fract() == 0.0 && *c >= 1.0 && *c <= 100.0 && !sheet.used[k]);
            return whole.map_or((1, i), |c| (c as u32, k));
        }
        if sheet.is(k, &["a", "an", "another", "one"]) {
            return (1, k);
        }
        if sheet.is(k, &["both"]) {
            return (2, k);
        }
        if !sheet.senses(k).is_empty()
            && !sheet.is(
                k,
                &[
                    "good", "big", "wild", "few", "little", "old", "fat", "fast", "brown", "white", "young",
                    "first",
                ],
            )
        {
            break;
        }
        if sheet.bird(k).is_some() {
            break;
        }
    }
    (1, i)
}

/// "pheasants on the beet, two missed": the number that stands right before what came of them, at `to`.
pub(super) fn told_count(sheet: &Sheet, i: usize, to: usize) -> Option<u32> {
    let at = to.checked_sub(1).filter(|at| *at > i && sheet.before(to) == Break::None)?;
    participle(sheet, to)?;
    let count = sheet.num(at)?.count().filter(|c| c.fract() == 0.0 && (1.0..=20.0).contains(c))?;
    Some(count as u32)
}

/// "Three partridge to Colt, nothing to mine": a tally, which opens its clause and closes with the name.
pub(super) fn tally(sheet: &Sheet, i: usize) -> Option<(QuarryOutcome, usize, usize)> {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let (_, from) = count(sheet, i);
    let opens = from < i && (from == sheet.start_of_sentence(i) || !tight(from));
    let name = i + 2;
    let named = sheet.is(i + 1, &["to"]) && tight(i + 1) && tight(name) && sheet.bird(name).is_some();
    let closes = name + 1 >= sheet.len() || !tight(name + 1) || sheet.has(name + 1, Cue::And);
    (opens && named && closes).then_some((QuarryOutcome::Taken, from, name))
}

/// Game that is caught rather than fed where it is taken whole.
const GAME: [&str; 9] =
    ["rabbit", "hare", "squirrel", "pheasant", "duck", "partridge", "grouse", "moorhen", "crow"];

/// "She took a pheasant. No, sorry, a duck": the verb stands with the one taken back, and tells of both.
pub(super) fn put_right(sheet: &Sheet, out: &mut [Draft]) {
    for draft in out.iter_mut().filter(|d| d.flags.contains(&Flag::CorrectedInSpeech)) {
        let Value::Food(food) = &draft.value else { continue };
        let count = food.count.unwrap_or(1.0);
        if food.part.is_some() || food.grams.is_some() || count.fract() != 0.0 || count < 1.0 {
            continue;
        }
        let species = |k: usize| {
            let s = sheet.quarry(k)?;
            Some(sheet.lexicon.quarry()[usize::from(s)].word.as_str()).filter(|w| GAME.contains(w))
        };
        let Some(new) = (draft.from..=draft.to).find_map(species) else { continue };
        let first = draft.from.saturating_sub(8);
        let old = (first..draft.from).rev().take_while(|k| sheet.dead[*k]).find(|k| species(*k).is_some());
        let verb = old.and_then(|old| {
            (old.saturating_sub(4)..old)
                .rev()
                .take_while(|k| sheet.before(k + 1) == Break::None)
                .find_map(|k| super::verb(sheet, k).map(|outcome| (k, outcome)).filter(|_| sheet.live(k)))
        });
        if let Some((from, outcome)) = verb {
            let quarry = Quarry { species: new.to_owned(), count: count as u32, outcome };
            (draft.value, draft.from) = (Value::Quarry(quarry), from);
        }
    }
}

/// Whether the sentence says the one before it over again, word for word.
pub(super) fn said_again(sheet: &Sheet, i: usize) -> bool {
    const LONGEST: usize = 12;
    let (start, end) = (sheet.start_of_sentence(i), sheet.end_of_sentence(i));
    let Some(before) = start.checked_sub(1).map(|k| sheet.start_of_sentence(k)) else { return false };
    end - start <= LONGEST
        && start - before == end - start
        && (0..end - start).all(|d| sheet.words(before + d) == sheet.words(start + d))
}

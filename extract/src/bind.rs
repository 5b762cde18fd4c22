//! Which bird each part of the note is about.

mod described;
mod renamed;
mod together;
mod turns;

use crate::lexicon::Cue;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
pub(crate) use described::described;
use together::{both, both_birds, list, together};

/// Gives every atom its owner; where no name was said yet, the current bird's.
pub(crate) fn bind(sheet: &mut Sheet) {
    let current = sheet.context.current_bird.as_deref().map(str::trim);
    let current = current.and_then(|c| sheet.names.iter().position(|n| n.name == c)).map(|k| k as u16);
    let mut held = current.map_or(Owner::Unknown, Owner::One);
    let mut named = false;
    let mut i = 0;
    while i < sheet.len() {
        let end = sheet.end_of_sentence(i);
        sentence(sheet, i, end, &mut held, &mut named, current);
        i = end;
    }
    renamed::renamed(sheet);
    for i in 0..sheet.len() {
        if sheet.num(i).is_some() {
            turns::in_turn(sheet, i);
            turns::of_one(sheet, i);
            turns::of_all(sheet, i);
        }
    }
}

/// "Gave Tarn, sorry, I mean Vesper, two chicks": the name stands in place of another.
fn name_taken_back(sheet: &Sheet, n: usize) -> bool {
    let mut k = n;
    while k > 0 && n - k < 6 && sheet.any(k - 1, &[Cue::TakenBack]) && !sheet.is(k - 1, &["not"]) {
        k -= 1;
    }
    k < n && k > 0 && sheet.bird(k - 1).is_some_and(|b| Some(b) != sheet.bird(n))
}

/// A name that only compares, or whose thing is meant.
fn aside(sheet: &Sheet, n: usize) -> bool {
    let Some(p) = n.checked_sub(1) else { return false };
    if sheet.before(n) != Break::None {
        return false;
    }
    let than = sheet.any(p, &[Cue::Than]) && !sheet.is(p, &["not", "near", "behind", "against", "beside"]);
    let as_old = sheet.is(p, &["old", "poor"]) && p > 0 && sheet.has(p - 1, Cue::Than);
    let owned = sheet.is(n + 1, &["'s"])
        && (sheet.is(
            n + 2,
            &[
                "old", "spare", "other", "brother", "sister", "place", "block", "side", "perch", "aviary",
                "weight", "cadge", "mews",
            ],
        ) && sheet.before(n + 2) == Break::None)
        // "swapped Jot's perch" is about Jot.
        && !(sheet.kit(n + 2).is_some()
            && sheet.any(p, &[Cue::Change, Cue::Fit, Cue::TakeOff, Cue::Check, Cue::Broke, Cue::Lost]))
        && p > 0;
    // "one of Dot's bells" is Dot's.
    let of = sheet.is(p, &["of"])
        && sheet.is(n + 1, &["'s"])
        && sheet.kit(n + 2).is_none()
        && sheet.sign(n + 2).is_none();
    // "no casting from Rook" is Rook's.
    let sign = p > 0
        && sheet.is(p, &["from"])
        && (sheet.content(p - 1) && sheet.food(p - 1).is_none()
            || sheet.is(p - 1, &["pass", "passes", "answer", "response", "effort"])
            || sheet.is(p - 1, &["same", "the same", "nothing", "none", "ditto", "likewise", "more"])
            || sheet.has(p - 1, Cue::Flight));
    let size = sheet.is(p, &["near", "behind", "against", "beside", "past", "alongside", "from"]) && !sign;
    // "crabbing with Rook", "aggressive to Sedge": at whom it is done.
    let size = size
        || p > 0
            && sheet.is(p, &["with", "at", "to", "towards", "by"])
            && sheet.before(p) == Break::None
            && sheet.behaviour(p - 1).is_some();
    than || as_old || owned || of || size
}

fn preposition(sheet: &Sheet, i: usize) -> bool {
    sheet.is(i, &["for", "into", "to", "with", "on", "by", "in", "of", "at", "off", "from"])
        || sheet.words(i) == "went into"
}

fn sentence(
    sheet: &mut Sheet,
    start: usize,
    end: usize,
    held: &mut Owner,
    named: &mut bool,
    current: Option<u16>,
) {
    let mut from = start;
    let mut first = true;
    let mut n = start;
    while n < end {
        // "a chick each" of birds that were listed: each of those.
        let listed = matches!(*held, Owner::Two(..) | Owner::Many(_))
            && (sheet.is(n, &["each", "apiece", "all"]) || sheet.has(n, Cue::Both))
            && (start..n).any(|k| sheet.bird(k).is_some());
        if let Some(last) = together(sheet, n).filter(|_| !listed)
            && !sheet.dead[n]
            && both_birds(sheet, n, last + 1)
            && let Some(two) = both(sheet, n)
        {
            // "Mabel's three eleven and both had a gerbil": what was said of her stays hers.
            let clause = clause_start(sheet, n, from);
            let goes_on = sheet.before(last + 1) == Break::None
                && (last + 1..end.min(last + 6)).any(|k| sheet.content(k));
            let named_here = from > start && sheet.bird(from - 1).is_some();
            // "mutes watery, both birds": said last of all that went before.
            let last_words = sheet.before(n) == Break::Comma
                && (last + 1 >= sheet.len()
                    || sheet.before(last + 1) != Break::None
                    || sheet.is(last + 1, &["birds"]))
                && from == start
                && (start..n).any(|k| sheet.content(k))
                && !(start..n).any(|k| sheet.num(k).is_some() || sheet.bird(k).is_some());
            let clause = if last_words { start } else { clause };
            let clause = if goes_on && named_here { lead_in(sheet, n, clause) } else { clause };
            // "crops empty, all three": the whole of a sentence that names nobody.
            let closes = last + 1 >= end && n > start && sheet.before(n) == Break::Comma;
            let nobody = closes && (start..n).all(|k| sheet.bird(k).is_none());
            let clause = if nobody { start } else { clause };
            fill(sheet, from, clause, *held);
            fill(sheet, clause, last + 1, two);
            // "all three cast": the number is used up.
            if last > n {
                sheet.take(n, last);
            }
            *held = two;
            (from, first) = (last + 1, false);
            n = last + 1;
            continue;
        }
        if sheet.has(n, Cue::Other)
            && !other_thing(sheet, n)
            && let Some(other) = other(sheet, *held)
        {
            let clause = clause_start(sheet, n, from);
            // "leash broken on the other one"
            let led = n > from && sheet.before(n) == Break::None && preposition(sheet, n - 1);
            // "swapped his tracker for the other one": a piece for a piece.
            let led = led && !(n > 1 && sheet.is(n - 1, &["for"]) && sheet.kit(n - 2).is_some());
            let clause = if led { last_thing(sheet, n, clause) } else { lead_in(sheet, n, clause) };
            fill(sheet, from, clause, *held);
            fill(sheet, clause, n + 1, other);
            *held = other;
            *named = true;
            (from, first) = (n + 1, false);
            n += 1;
            continue;
        }
        if let Some(other) = contrary(sheet, n, start, *held)
            .or_else(|| if *named { None } else { by_pronoun(sheet, n, *held) })
        {
            let clause = lead_in(sheet, n, clause_start(sheet, n, from));
            fill(sheet, from, clause, *held);
            *held = Owner::One(other);
            (from, first) = (clause, false);
            n += 1;
            continue;
        }
        // "the merlin was 168", "the male isn't"
        if let Some(bird) = described(sheet, n).filter(|b| *held != Owner::One(*b) || first) {
            let article = usize::from(n > from && sheet.is(n - 1, &["the", "our", "my"]));
            let (head, clause) = (n - article, clause_start(sheet, n, from));
            let led = head > from && sheet.before(head) == Break::None && preposition(sheet, head - 1);
            let clause = if led { last_thing(sheet, head, clause) } else { lead_in(sheet, head, clause) };
            fill(sheet, from, clause, *held);
            fill(sheet, clause, n + 1, Owner::One(bird));
            *held = Owner::One(bird);
            (from, first) = (n + 1, false);
            n += 1;
            continue;
        }
        // "two chicks for her, one for him"
        if let Some(other) = meant_for(sheet, n, *held) {
            let clause = clause_start(sheet, n, from);
            let phrase = usize::from(sheet.words(n).contains(' ') || sheet.num(n - 1).is_some());
            let back = last_thing(sheet, n + phrase, clause);
            fill(sheet, from, back, *held);
            fill(sheet, back, n + 1, Owner::One(other));
            from = n + 1;
            first = false;
            n += 1;
            continue;
        }
        let Some(bird) = sheet.bird(n).filter(|_| !sheet.dead[n] && !aside(sheet, n)) else {
            n += 1;
            continue;
        };
        if let Some((all, next)) = list(sheet, n, end) {
            let clause = clause_start(sheet, n, from);
            let led = n > start && preposition(sheet, n - 1) && sheet.before(n) == Break::None;
            let pair = matches!(all, Owner::Two(..));
            // "two chicks apiece for Hazel, Pike and Dot": back to the thing; else to where the clause begins.
            let back = if first && (led || pair || from == clause) {
                from
            } else if led {
                last_thing(sheet, n, clause)
            } else {
                clause
            };
            fill(sheet, from, back, *held);
            fill(sheet, back, next, all);
            *held = all;
            *named = true;
            (from, first) = (next, false);
            n = next;
            continue;
        }
        let me = Owner::One(bird);
        if name_taken_back(sheet, n) {
            for k in n + 1..end {
                if sheet.corrected[k].is_none() && sheet.content(k) {
                    sheet.corrected[k] = Some(k);
                }
            }
        }
        // "Fern and Cobble", "neither Fern nor Cobble": both, until the next name.
        if n >= 2
            && (sheet.has(n - 1, Cue::And) || sheet.is(n - 1, &["nor"]))
            && sheet.before(n) == Break::None
            && sheet.before(n - 1) == Break::None
            && sheet.bird(n - 2).is_some_and(|b| b != bird)
        {
            let two = Owner::Two(sheet.bird(n - 2).unwrap_or(bird), bird);
            // What follows is said of both, unless each is spoken of on its own.
            // "two chicks apiece for Hazel and Pike"
            let led = n >= 3 && preposition(sheet, n - 3) && sheet.before(n - 2) == Break::None;
            let back = if led {
                let clause = clause_start(sheet, n - 2, start);
                last_thing(sheet, n - 2, clause)
            } else {
                n - 2
            };
            fill(sheet, from.min(back), n + 1, two);
            *held = two;
            *named = true;
            (from, first) = (n + 1, false);
            n += 1;
            continue;
        }
        let back = back_to(sheet, start, from, n, end, first, *held, *named, current);
        fill(sheet, from, back, *held);
        fill(sheet, back, n + 1, me);
        *held = me;
        *named = true;
        (from, first) = (n + 1, false);
        n += 1;
    }
    fill(sheet, from, end, *held);
}

/// Whether a pronoun is said of a male bird; `None` for another word.
fn pronoun(sheet: &Sheet, n: usize) -> Option<bool> {
    // "which herself says is a kettle": a person.
    if sheet.is(n, &["herself", "himself"])
        && sheet
            .is(n + 1, &["says", "said", "told", "thinks", "reckons", "calls", "called", "asked", "tells"])
    {
        return None;
    }
    if sheet.any(n, &[Cue::He]) {
        return Some(true);
    }
    sheet.any(n, &[Cue::She]).then_some(false)
}

/// "Both calm. She flew six times and he flew four": a subject that the bird in hand cannot be.
fn contrary(sheet: &Sheet, n: usize, start: usize, held: Owner) -> Option<u16> {
    if !sheet.any(n, &[Cue::He, Cue::She, Cue::His, Cue::Her]) {
        return None;
    }
    let male = if sheet.is(n, &["his"]) {
        true
    } else if sheet.is(n, &["her"]) {
        false
    } else {
        pronoun(sheet, n)?
    };
    let owns = sheet.is(n, &["his", "her"]);
    // "after that she was 933"
    let lead = n - start <= 3 && (start..n).all(|k| !sheet.content(k) && sheet.bird(k).is_none());
    let opens = lead
        || sheet.before(n) != Break::None
        || sheet.any(n - 1, &[Cue::And, Cue::But]) && !sheet.is(n - 1, &["with", "after", "before", "as"]);
    let thing = owns
        && sheet.before(n + 1) == Break::None
        && (sheet.sign(n + 1).is_some() || sheet.any(n + 1, &[Cue::Be]));
    if sheet.dead[n] || !opens || owns && !thing {
        return None;
    }
    let fits = |b: u16| sheet.names[usize::from(b)].male == Some(male);
    let among: Vec<u16> = match held {
        Owner::One(now) if sheet.names[usize::from(now)].male == Some(!male) => {
            (0..sheet.names.len() as u16).collect()
        }
        Owner::Two(a, b) => vec![a, b],
        Owner::Many(all) => (0..64).filter(|b| all >> b & 1 == 1).collect(),
        _ => return None,
    };
    let mut fit = among.into_iter().filter(|b| fits(*b));
    let other = fit.next().filter(|_| fit.next().is_none())?;
    // A person may be meant, or the keeper does not mind which he says.
    let before = if start == 0 { 0 } else { sheet.start_of_sentence(start - 1) };
    let person = (before.max(n.saturating_sub(30))..n).any(|k| {
        sheet.any(k, &[Cue::Person, Cue::Vet, Cue::OtherBird, Cue::OtherBeast])
            && !sheet.is(k, &["his", "theirs"])
    });
    let spoken_of = (n.saturating_sub(60)..n).any(|k| sheet.bird(k) == Some(other))
        || !matches!(held, Owner::One(_))
        || sheet.names.len() == 2;
    (!person && spoken_of).then_some(other)
}

/// "she's nine thirty and he's six forty": the bird that is no she, where the weight behind it is his and not hers.
fn by_pronoun(sheet: &Sheet, n: usize, held: Owner) -> Option<u16> {
    let Owner::One(now) = held else { return None };
    let male = pronoun(sheet, n).filter(|_| !sheet.dead[n])?;
    let here = &sheet.names[usize::from(now)];
    if here.male != Some(!male) {
        return None;
    }
    let number = (n + 1..sheet.len().min(n + 4)).find(|k| sheet.num(*k).is_some())?;
    let near = |last: Option<f64>| last.is_some_and(|l| crate::kinds::weight::near_said(sheet, number, l));
    let clause = (n + 1..=number).all(|k| sheet.before(k) == Break::None);
    if !clause || near(here.last_grams) {
        return None;
    }
    // Of several the weight tells which.
    let mut of_sex = (0..sheet.names.len())
        .filter(|k| sheet.names[*k].male == Some(male) && near(sheet.names[*k].last_grams));
    of_sex.next().filter(|_| of_sex.next().is_none()).map(|k| k as u16)
}

/// "one for him" where the bird in hand is no he: the only one that is.
fn meant_for(sheet: &Sheet, n: usize, held: Owner) -> Option<u16> {
    if !sheet.ends(n, &["him", "her"]) {
        return None;
    }
    // "for him" may be one phrase.
    let (male, thing) = match sheet.words(n) {
        "him" if n > 1 && sheet.is(n - 1, &["for", "to", "into"]) => (true, n - 2),
        "her" if n > 1 && sheet.is(n - 1, &["for", "to", "into"]) => (false, n - 2),
        // "967 her, 624 him"
        "him" | "her" if n > 0 && sheet.num(n - 1).is_some_and(|m| m.value >= 100.0) => {
            (sheet.is(n, &["him"]), n - 1)
        }
        "for him" | "to him" if n > 0 => (true, n - 1),
        "for her" | "to her" if n > 0 => (false, n - 1),
        _ => return None,
    };
    let told = sheet.num(thing).is_some()
        || sheet.food(thing).is_some()
        || sheet.part(thing).is_some()
        || sheet.is(thing, &["one"]);
    let tight = (thing + 1..=n).all(|k| sheet.before(k) == Break::None);
    let closes = sheet.before(n + 1) != Break::None || sheet.any(n + 1, &[Cue::And, Cue::But]);
    if !told || !tight || !closes || sheet.dead[n] {
        return None;
    }
    let Owner::One(now) = held else { return None };
    if sheet.names[usize::from(now)].male != Some(!male) {
        return None;
    }
    // Of several, the one that was spoken of last.
    let fits = |b: u16| sheet.names[usize::from(b)].male == Some(male);
    let named = (n.saturating_sub(60)..n).rev().find_map(|k| sheet.bird(k).filter(|b| fits(*b)));
    let mut of_sex = (0..sheet.names.len() as u16).filter(|b| fits(*b));
    named.or_else(|| of_sex.next().filter(|_| of_sex.next().is_none()))
}

/// How far back a name reaches over the words before it.
#[allow(clippy::too_many_arguments)]
fn back_to(
    sheet: &Sheet,
    start: usize,
    from: usize,
    n: usize,
    end: usize,
    first: bool,
    held: Owner,
    named: bool,
    current: Option<u16>,
) -> usize {
    let content = |a: usize, b: usize| (a..b).any(|k| sheet.content(k) && !sheet.dead[k]);
    if !content(from, n) {
        return from;
    }
    let tight = sheet.before(n) == Break::None;
    let prep = tight && n > 0 && preposition(sheet, n - 1);
    let follows = content(n + 1, end.min(n + 12));
    let clause = clause_start(sheet, n, from);
    if first {
        let me = sheet.bird(n);
        let stranger = held == Owner::Unknown || (!named && current != me && current.is_none());
        if stranger {
            return start;
        }
        // Nothing else in the sentence: it is all about this bird.
        if !follows || prep && sheet.before(n + 1) != Break::None && !named {
            return start;
        }
        if prep {
            // "first time in the box for Hazel she was calm": back to where the thing said begins.
            return if named { last_thing(sheet, n, clause) } else { start };
        }
        // "He had a leg and Sedge had the back": he is the bird in hand.
        let two = tight
            && sheet.any(n - 1, &[Cue::And, Cue::But])
            && matches!(held, Owner::One(b) if Some(b) != me
                && pronoun(sheet, start).is_some_and(|m| sheet.names[usize::from(b)].male == Some(m)));
        if two {
            return n - 1;
        }
        if tight {
            return clause;
        }
        // "twelve times to the fist, Pip, longest twenty-five"
        let measured = sheet.before(n + 1) == Break::Comma
            && sheet.any(n + 1, &[Cue::Longest])
            && sheet.is(n + 1, &["longest", "furthest", "the longest", "longest one", "best"]);
        if measured || named_aside(sheet, start, n, end) || !named && called(sheet, start, n, end) {
            return start;
        }
        if held == Owner::One(me.unwrap_or(u16::MAX)) || named_behind(sheet, from, n, held) {
            return start;
        }
        return n;
    }
    if prep {
        last_thing(sheet, n, clause)
    } else if !tight {
        n
    } else if n > clause
        && sheet.before(n + 1) != Break::None
        && (clause..n).all(|k| {
            sheet.num(k).is_some() || sheet.any(k, &[Cue::Grams, Cue::Kilos, Cue::Ounces, Cue::Pounds])
        })
    {
        // "938 grams Sedge, 641 grams Rook": the name comes last in each clause.
        clause
    } else {
        lead_in(sheet, n, clause)
    }
}

/// "she wouldn't step up, Dot, just sat there hissing": the name says who "she" is.
fn named_aside(sheet: &Sheet, start: usize, n: usize, end: usize) -> bool {
    let next = n + 1;
    let between = next < end && sheet.before(next) == Break::Comma && sheet.num(next).is_none();
    let lead = start + usize::from(sheet.any(start, &[Cue::And, Cue::But, Cue::Filler]));
    // "three starlings he missed, Jack, before he took one"
    let told = (lead + 1..n).find_map(|k| pronoun(sheet, k));
    let Some(male) = pronoun(sheet, lead).or(told) else { return false };
    let one_clause = (lead + 1..n).all(|k| sheet.before(k) == Break::None);
    between && one_clause && sheet.bird(n).is_some_and(|b| sheet.names[usize::from(b)].male == Some(male))
}

/// "twelve to the fist, Wilf, longest five metres": the bird is called by its name in the middle of what is said of it.
fn called(sheet: &Sheet, start: usize, n: usize, end: usize) -> bool {
    let next = n + 1;
    let (start, end) = (start.max(n.saturating_sub(20)), end.min(n + 20));
    let aside = next < end && sheet.before(n) == Break::Comma && sheet.before(next) == Break::Comma;
    let Some(bird) = sheet.bird(n).map(|b| &sheet.names[usize::from(b)]) else { return false };
    // A weight behind the name begins something of its own.
    let weight = |k: usize| {
        sheet.num(k).is_some()
            && bird.last_grams.is_some_and(|l| crate::kinds::weight::near_said(sheet, k, l))
    };
    let other_sex = (start..n).any(|k| pronoun(sheet, k).is_some_and(|male| bird.male == Some(!male)));
    let flights = |k: usize| {
        sheet.any(k, &[Cue::Flight, Cue::Times, Cue::ToLure, Cue::Metres, Cue::Yards, Cue::Feet, Cue::Free])
            || sheet.is(k, &["to the fist", "to the glove", "longest"])
            || sheet.ends(k, &["longest", "fist", "glove", "lure"])
    };
    let goes_on = (next..end.min(next + 9)).any(flights)
        || sheet.is(next, &["and", "then"])
        || sheet.has(next, Cue::And);
    let begun = (start..n).any(|k| flights(k) || sheet.quarry(k).is_some() || sheet.behaviour(k).is_some());
    aside && !other_sex && begun && goes_on && !(start..end).any(weight)
}

/// "thirty-two ounces, Maud, and keen": nothing but a weight before the name, and it is hers and not the other's.
fn named_behind(sheet: &Sheet, from: usize, n: usize, held: Owner) -> bool {
    let Some(named) = sheet.bird(n).and_then(|b| sheet.names[usize::from(b)].last_grams) else {
        return false;
    };
    let Owner::One(other) = held else { return false };
    let mut numbers = (from..n).filter(|k| sheet.num(*k).is_some() && !sheet.dead[*k]);
    let Some(number) = numbers.next() else { return false };
    let alone = (from..n).all(|k| sheet.dead[k] || sheet.num(k).is_some() || !sheet.content(k));
    let near = |last: f64| crate::kinds::weight::near_said(sheet, number, last);
    alone && near(named) && !sheet.names[usize::from(other)].last_grams.is_some_and(near)
}

/// The last thing said before a preposition: "… and a quail for Cobble".
fn last_thing(sheet: &Sheet, n: usize, clause: usize) -> usize {
    let mut k = n.saturating_sub(1);
    let mut seen = false;
    while k > clause {
        let p = k - 1;
        if sheet.any(p, &[Cue::And, Cue::But, Cue::Or]) && !sheet.is(p, &["with"]) && seen {
            break;
        }
        if sheet.bird(p).is_some() {
            break;
        }
        // A number begins the thing; what stands before it is another's.
        if sheet.num(p).is_some() {
            return p;
        }
        seen |= sheet.content(p);
        k = p;
    }
    k
}

/// Words that lead to a name and carry nothing: "then", "now for", "started".
fn lead_in(sheet: &Sheet, n: usize, clause: usize) -> usize {
    let mut k = n;
    while k > clause
        && !sheet.content(k - 1)
        && sheet.bird(k - 1).is_none()
        && (sheet
            .any(k - 1, &[Cue::And, Cue::But, Cue::Filler, Cue::Today, Cue::Start, Cue::Weigh, Cue::First])
            || sheet.is(
                k - 1,
                &[
                    "then", "next", "back", "to", "put", "and", "for", "on", "weighed", "with", "now", "as",
                    "while", "ditto", "likewise", "same", "the same",
                ],
            ))
        && !sheet.any(k - 1, &[Cue::Slight, Cue::Strong, Cue::Plain, Cue::Be])
    {
        k -= 1;
    }
    k
}

fn clause_start(sheet: &Sheet, n: usize, from: usize) -> usize {
    let mut k = n;
    while k > from && sheet.before(k) == Break::None {
        k -= 1;
    }
    k
}

fn fill(sheet: &mut Sheet, from: usize, to: usize, owner: Owner) {
    if from < to {
        sheet.owner[from..to].fill(owner);
    }
}

/// "on the other hand", "the other jess": a thing of which there are two.
fn other_thing(sheet: &Sheet, n: usize) -> bool {
    let next = n + 1;
    // "ate one and left the other"
    let object = n > 0
        && sheet.before(n) == Break::None
        && sheet.any(n - 1, &[Cue::Left, Cue::Ate, Cue::Missed, Cue::Chased, Cue::Refused])
        && !sheet.is(n - 1, &["had"])
        && (next >= sheet.len() || sheet.before(next) != Break::None);
    object
        || sheet.is(n, &["the other", "t'other"])
            && next < sheet.len()
            && sheet.before(next) == Break::None
            && (sheet.sign(next).is_some()
                || sheet.part(next).is_some()
                || sheet.kit(next).is_some()
                || sheet.is(
                    next,
                    &["hand", "side", "end", "way", "day", "night", "field", "wood", "half", "eye", "dog"],
                ))
}

fn other(sheet: &Sheet, held: Owner) -> Option<Owner> {
    match held {
        Owner::One(b) if sheet.names.len() == 2 && b < 2 => Some(Owner::One(1 - b)),
        _ => None,
    }
}

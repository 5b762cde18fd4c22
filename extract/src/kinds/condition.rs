//! Crop, casting, keel, mutes, moult, and what is amiss with talons, beak, feathers and feet.

mod damage;
mod moult;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use damage::{damage, toe_of};
use moult::{also_dropped, dropped, feathers, moult, put_on_the_floor};
use note::{Condition, Sign, Value};

/// Finds the signs of condition.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let mut i = 0;
    while i < sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            i += 1;
            continue;
        }
        let found = match sheet.sign(i) {
            Some(Sign::Crop) => crop(sheet, i),
            Some(Sign::Casting) => casting(sheet, i),
            Some(Sign::Keel) => keel(sheet, i),
            Some(Sign::Mutes) => mutes(sheet, i),
            Some(Sign::Moult) => moult(sheet, i),
            Some(sign @ (Sign::Talon | Sign::Beak | Sign::Foot)) => damage(sheet, i, sign).map(|found| {
                let sign = if toe_of(sheet, i) { Sign::Talon } else { found.0 };
                (sign, found.1, found.2, found.3)
            }),
            Some(Sign::Feather) => dropped(sheet, i)
                .or_else(|| also_dropped(sheet, i, out))
                .or_else(|| damage(sheet, i, Sign::Feather)),
            None if sheet.is(i, &["cast", "casted", "casting", "casts"]) => cast(sheet, i),
            // "cast a beauty"
            None if sheet.word(i) == "cast" && sheet.reading(i, Sign::Casting).is_some() => {
                sheet.reading(i, Sign::Casting).map(|r| (Sign::Casting, r.to_owned(), i, i))
            }
            None if sheet.is(i, &["bumblefoot", "bumble foot"]) => {
                let denied = i > 0 && sheet.before(i) == Break::None && sheet.has(i - 1, Cue::Neg);
                let foot =
                    (i.saturating_sub(6)..sheet.len().min(i + 6)).any(|k| sheet.sign(k) == Some(Sign::Foot));
                (!denied && !foot).then(|| (Sign::Foot, "bumblefoot".to_owned(), i, i))
            }
            // "hard penned", "clean moulted"
            None if sheet.is(i, &["hard penned", "hard down"]) => {
                Some((Sign::Moult, "finished".to_owned(), i, i))
            }
            // "put her crop over", "she's put it over"; not "hasn't put her crop over".
            None if sheet.words(i).contains("crop") || sheet.is(i, &["put it over"]) => {
                let denied = (i.saturating_sub(3)..i)
                    .any(|k| sheet.has(k, Cue::Neg) && (k + 1..=i).all(|m| sheet.before(m) == Break::None));
                sheet.reading(i, Sign::Crop).filter(|_| !denied).map(|r| (Sign::Crop, r.to_owned(), i, i))
            }
            None => None,
        };
        if let Some((sign, reading, from, to)) = found {
            push(sheet, out, sign, &reading, from, to, 0.97);
            i = i.max(to);
        } else if sheet.has(i, Cue::Shed)
            || put_on_the_floor(sheet, i)
            || sheet.has(i, Cue::Lost)
            || sheet.is(i, &["dropped to"]) && sheet.sign(i + 1) == Some(Sign::Feather)
            || sheet.is(i, &["down"])
                && sheet.num(i + 1).is_some()
                && sheet.sign(i + 2) == Some(Sign::Feather)
        {
            i = feathers(sheet, i, out);
        }
        i += 1;
    }
}

fn push(
    sheet: &mut Sheet,
    out: &mut Vec<Draft>,
    sign: Sign,
    reading: &str,
    from: usize,
    to: usize,
    score: f64,
) {
    let value = Value::Condition(Condition { sign, reading: reading.to_owned() });
    out.push(Draft::new(sheet, value, from, to, score));
    sheet.take(from, to);
}

type Found = Option<(Sign, String, usize, usize)>;

/// Words that may stand between a sign and its reading.
fn light(sheet: &Sheet, k: usize) -> bool {
    sheet.any(k, &[Cue::Be, Cue::Slight, Cue::Strong, Cue::Plain, Cue::Approx, Cue::Filler, Cue::Today])
        || sheet.is(
            k,
            &[
                "a", "an", "the", "her", "his", "'s", "still", "bit", "all", "now", "just", "quite", "nice",
                "have", "had", "has", "with", "at", "only", "been", "of", "in", "looking", "feels",
                "feeling", "feel", "look", "are", "were", "nearly", "almost", "again", "right", "up", "it",
                "it's", "side", "my", "little", "and", "scores", "score", "scored", "scoring", "marks",
                "about", "down to", "down", "up to",
            ],
        )
}

/// The next atom to the right that is not light, within `reach` and the clause.
fn right(sheet: &Sheet, i: usize, reach: usize) -> Option<usize> {
    for k in i + 1..sheet.len().min(i + reach + 1) {
        if sheet.dead[k] {
            continue;
        }
        // "crop half, no, three quarters": what was put right stands in the first one's place.
        let put_right = sheet.corrected[k].is_some() && k > 0 && sheet.dead[k - 1];
        if sheet.before(k) != Break::None && !put_right {
            return None;
        }
        if !light(sheet, k) || reads_anything(sheet, k) {
            return Some(k);
        }
    }
    None
}

fn reads_anything(sheet: &Sheet, k: usize) -> bool {
    [Sign::Crop, Sign::Keel, Sign::Mutes, Sign::Casting].iter().any(|s| sheet.reading(k, *s).is_some())
        || sheet.damage(k)
        || sheet.num(k).is_some()
}

/// The reading of `sign` said beside it: after it, then before it.
fn beside(sheet: &Sheet, i: usize, sign: Sign) -> Option<(String, usize, usize)> {
    let mut k = i;
    for _ in 0..3 {
        match right(sheet, k, 4) {
            Some(r) if !sheet.used[r] => {
                if let Some(reading) = sheet.reading(r, sign) {
                    let denied = (i + 1..r).any(|m| sheet.has(m, Cue::Neg));
                    if denied {
                        return None;
                    }
                    return Some((reading.to_owned(), i, r));
                }
                if !sheet.any(r, &[Cue::Be, Cue::Strong, Cue::Slight, Cue::Plain]) {
                    break;
                }
                k = r;
            }
            _ => break,
        }
    }
    // "half crop sharp keel": in a note without commas the breath may fall between the two.
    let paused = |b: usize| sheet.unbroken && b == i && sheet.before(b) == Break::Comma;
    let mut b = i;
    while b > 0 && i - b < 3 && (sheet.before(b) == Break::None || paused(b)) {
        b -= 1;
        if sheet.dead[b] {
            continue;
        }
        // "has a good keel": the lexicon holds "a good" for measures.
        let a_good = match sign {
            Sign::Keel => Some("good"),
            Sign::Casting => Some("cast"),
            _ => None,
        }
        .filter(|_| sheet.is(b, &["a good"]));
        if let Some(reading) = sheet.reading(b, sign).or(a_good).filter(|_| !sheet.used[b]) {
            let denied =
                b > 0 && sheet.before(b) == Break::None && sheet.has(b - 1, Cue::Neg) && !sheet.dead[b - 1];
            return (!denied).then(|| (reading.to_owned(), b, i));
        }
        if !light(sheet, b) {
            break;
        }
    }
    // "mutes, green" and "keel: good"
    let next = i + 1;
    if sheet.before(next) == Break::Comma
        && sheet.live(next)
        && !sheet.used[next]
        && sheet.before(next + 1) != Break::None
    {
        return sheet.reading(next, sign).map(|r| (r.to_owned(), i, next));
    }
    None
}

fn share(value: f64) -> Option<&'static str> {
    Some(if (value - 0.25).abs() < 0.01 {
        "quarter"
    } else if (value - 0.5).abs() < 0.01 {
        "half"
    } else if (value - 0.75).abs() < 0.01 {
        "three quarter"
    } else {
        return None;
    })
}

fn crop(sheet: &Sheet, i: usize) -> Found {
    // "just a bit in her crop", "three parts of a crop"
    let owned = i > 1 && sheet.is(i - 1, &["her", "his", "the"]) && sheet.is(i - 2, &["in"]);
    if owned && i > 2 && sheet.has(i - 3, Cue::Slight) && (i - 2..=i).all(|k| sheet.before(k) == Break::None)
    {
        return Some((Sign::Crop, "quarter".into(), i - 3, i));
    }
    let parts = i > 3
        && sheet.is(i - 1, &["a"])
        && sheet.is(i - 2, &["of"])
        && sheet.is(i - 3, &["parts"])
        && sheet.num(i - 4).is_some_and(|n| n.value == 3.0);
    if parts && (i - 3..=i).all(|k| sheet.before(k) == Break::None) {
        return Some((Sign::Crop, "three quarter".into(), i - 4, i));
    }
    // "half crop", "half a crop", "three quarters of a crop".
    let mut b = i;
    while b > 0 && i - b < 4 && sheet.before(b) == Break::None {
        b -= 1;
        if let Some(reading) = sheet
            .num(b)
            .filter(|n| n.fraction && !sheet.used[b] && !sheet.dead[b])
            .and_then(|n| share(n.value))
        {
            return Some((Sign::Crop, reading.into(), b, i));
        }
        if !sheet.is(b, &["a", "of", "the", "full", "her", "his", "nice", "good", "decent", "about"]) {
            break;
        }
    }
    // "crop three-quarter full", "crop about half".
    let mut from = i;
    let after = loop {
        match right(sheet, from, 4) {
            Some(r)
                if sheet.any(r, &[Cue::Be, Cue::Approx, Cue::Strong, Cue::Plain])
                    && r < i + 4
                    && sheet.reading(r, Sign::Crop).is_none()
                    && sheet.num(r).is_none() =>
            {
                from = r
            }
            other => break other,
        }
    };
    let comma = (sheet.before(i + 1) == Break::Comma && sheet.before(i + 2) != Break::None).then_some(i + 1);
    if let Some(r) = after.or(comma).filter(|r| sheet.live(*r) && !sheet.used[*r])
        && let Some(reading) = sheet.num(r).filter(|n| n.fraction).and_then(|n| share(n.value))
        && !(sheet.is(r + 1, &["a", "an", "of"])
            || sheet.food(r + 1).is_some()
            || sheet.sign(r + 1).is_some())
    {
        let full =
            usize::from(sheet.is(r + 1, &["full", "way", "ways"]) && sheet.before(r + 1) == Break::None);
        return Some((Sign::Crop, reading.into(), i, r + full));
    }
    // "nothing in her crop", "no crop".
    for b in (i.saturating_sub(4)..i).rev() {
        if sheet.before(b + 1) != Break::None {
            break;
        }
        if sheet.is(b, &["nothing", "no"]) && !sheet.dead[b] {
            return Some((Sign::Crop, "empty".into(), b, i));
        }
        if !sheet.is(b, &["in", "her", "his", "the", "at", "all", "left"]) {
            break;
        }
    }
    let (reading, from, to) = beside(sheet, i, Sign::Crop)?;
    let to = if sheet.is(to + 1, &["full"]) && sheet.before(to + 1) == Break::None { to + 1 } else { to };
    Some((Sign::Crop, reading, from, to))
}

fn casting(sheet: &Sheet, i: usize) -> Found {
    if sheet.is(i, &["casting"])
        && (sheet.is(i + 1, &["off", "about", "vote"]) && sheet.before(i + 1) == Break::None)
        && !(i > 0 && sheet.is(i - 1, &["her", "his", "a", "the"]))
    {
        return None;
    }
    for b in (i.saturating_sub(4)..i).rev() {
        if sheet.before(b + 1) != Break::None {
            break;
        }
        if (sheet.has(b, Cue::Neg) || sheet.is(b, &["missed", "skipped"])) && !sheet.dead[b] {
            return Some((Sign::Casting, "none".into(), b, i));
        }
        if !light(sheet, b) && !sheet.is(b, &["sign", "any", "found", "find", "see", "seen", "for"]) {
            break;
        }
    }
    if let Some((reading, from, to)) = beside(sheet, i, Sign::Casting) {
        return Some((Sign::Casting, reading, from, to));
    }
    // "pellet under the perch this morning"
    if (i == 0 || sheet.before(i) != Break::None)
        && sheet.before(i + 1) == Break::None
        && sheet.is(i + 1, &["under", "in", "on", "by", "beside", "below"])
        && sheet.is(i + 2, &["the", "her", "his"])
    {
        return Some((Sign::Casting, "cast".into(), i, i));
    }
    // "castings from Sedge and Rook"
    if (i == 0 || sheet.before(i) != Break::None)
        && sheet.before(i + 1) == Break::None
        && sheet.is(i + 1, &["from"])
        && sheet.before(i + 2) == Break::None
        && sheet.bird(i + 2).is_some()
    {
        return Some((Sign::Casting, "cast".into(), i, i));
    }
    // "pellet this morning, a nice one"
    if (i == 0 || sheet.before(i) != Break::None)
        && sheet.before(i + 1) == Break::None
        && sheet.any(i + 1, &[Cue::ThisMorning, Cue::Today, Cue::LastNight])
        && sheet.is(i, &["pellet", "casting", "a pellet", "a casting"])
        && (i + 2 >= sheet.len() || sheet.before(i + 2) != Break::None)
    {
        return Some((Sign::Casting, "cast".into(), i, i));
    }
    // "still waiting for a casting", "found her casting", "a casting under the perch".
    let waiting = (i.saturating_sub(4)..i)
        .any(|k| sheet.words(k).starts_with("waiting") || sheet.is(k, &["awaiting", "wait"]));
    if waiting {
        return Some((Sign::Casting, "none".into(), i, i));
    }
    // "half a chick, and a casting": what stands beyond a pause is something else.
    let clause = (i.saturating_sub(5)..i).rev().take_while(|k| sheet.before(*k + 1) == Break::None).last();
    let found = (clause.unwrap_or(i)..i).find(|k| {
        sheet.num(*k).is_some_and(|n| n.value <= 4.0) && *k + 1 == i
            || sheet.is(
                *k,
                &[
                    "found", "a", "her", "his", "one", "brought", "produced", "had", "picked", "there's",
                    "with",
                ],
            )
    });
    found.map(|from| (Sign::Casting, "cast".into(), from, i))
}

/// The verb: "she's cast", "not cast yet", "cast late".
fn cast(sheet: &Sheet, i: usize) -> Found {
    // "cast his vote", "cast a shadow"
    if sheet.is(i + 1, &["his", "her", "my", "a", "the", "an"])
        && sheet.before(i + 1) == Break::None
        && sheet.sign(i + 2).is_none()
    {
        return None;
    }
    if i > 0
        && sheet.before(i) == Break::None
        && (sheet.is(i - 1, &["a", "the", "to", "plaster", "i", "we"]) || sheet.any(i - 1, &[Cue::I]))
        && !(i > 1 && sheet.is(i - 2, &["found", "yet", "still"]))
    {
        return None;
    }
    for b in (i.saturating_sub(4)..i).rev() {
        if sheet.before(b + 1) != Break::None {
            break;
        }
        if sheet.has(b, Cue::Neg) && !sheet.dead[b] {
            return Some((Sign::Casting, "none".into(), b, i));
        }
        if sheet.is(b, &["yet"]) && sheet.is(b + 1, &["to"]) {
            return Some((Sign::Casting, "none".into(), b, i));
        }
        if sheet.any(b, &[Cue::And, Cue::But]) {
            break;
        }
    }
    let late = |k: usize| sheet.is(k, &["late", "later"]);
    for k in i + 1..sheet.len().min(i + 6) {
        if sheet.before(k) != Break::None {
            break;
        }
        if late(k) {
            return Some((Sign::Casting, "late".into(), i, k));
        }
        if sheet.is(k, &["poorly", "badly", "poor"]) {
            return Some((Sign::Casting, "poor".into(), i, k));
        }
        if sheet.any(k, &[Cue::And, Cue::But]) {
            break;
        }
    }
    if i > 0 && late(i - 1) && sheet.before(i) == Break::None {
        return Some((Sign::Casting, "late".into(), i - 1, i));
    }
    Some((Sign::Casting, "cast".into(), i, i))
}

fn keel(sheet: &Sheet, i: usize) -> Found {
    // A mark: "keel four out of five", "keel 3/5", "keel three".
    let mut k = i;
    for _ in 0..4 {
        k += 1;
        if k >= sheet.len() || sheet.before(k) == Break::Stop {
            break;
        }
        if let Some(num) = sheet.num(k).filter(|_| !sheet.used[k] && !sheet.dead[k]) {
            if let (crate::number::Form::Tied('/'), [a, b]) = (num.form, num.parts.as_slice()) {
                return Some((Sign::Keel, format!("{a}/{b}"), i, k));
            }
            let out_of = sheet.has(k + 1, Cue::OutOf) && sheet.before(k + 1) == Break::None;
            if let Some(of) = sheet.num(k + 2).filter(|_| out_of) {
                return Some((Sign::Keel, format!("{}/{}", num.value, of.value), i, k + 2));
            }
            let ends = k + 1 >= sheet.len() || sheet.before(k + 1) != Break::None;
            if num.value <= 5.0 && num.value >= 1.0 && sheet.before(k) == Break::None && ends && !num.fraction
            {
                return Some((Sign::Keel, format!("{}/5", num.value), i, k));
            }
            break;
        }
        if !light(sheet, k) {
            break;
        }
    }
    // "a bit thin on the keel", "can't find her keel"
    if i > 2
        && sheet.is(i - 1, &["the", "her", "his"])
        && sheet.is(i - 2, &["on", "over"])
        && (i - 2..=i).all(|k| sheet.before(k) == Break::None)
        && let Some(reading) = sheet.reading(i - 3, Sign::Keel)
    {
        return Some((Sign::Keel, reading.to_owned(), i - 3, i));
    }
    let lost = (i.saturating_sub(3)..i).find(|k| {
        matches!(
            sheet.words(*k),
            "can't find"
                | "couldn't find"
                | "can't feel"
                | "couldn't feel"
                | "hardly feel"
                | "can hardly feel"
        ) && (k + 1..=i).all(|m| sheet.before(m) == Break::None)
    });
    if let Some(from) = lost {
        return Some((Sign::Keel, "fat".into(), from, i));
    }
    let (reading, from, to) = beside(sheet, i, Sign::Keel)?;
    Some((Sign::Keel, reading, from, to))
}

fn mutes(sheet: &Sheet, i: usize) -> Found {
    // "nothing wrong with her mutes"
    let sound = (i.saturating_sub(4)..i).find(|b| {
        sheet.is(*b, &["nothing", "nothing wrong"]) && (*b + 1..=i).all(|m| sheet.before(m) == Break::None)
    });
    if let Some(b) = sound.filter(|b| {
        sheet.is(*b, &["nothing wrong"]) || sheet.is(*b + 1, &["wrong", "wrong with", "amiss", "the matter"])
    }) {
        return Some((Sign::Mutes, "normal".into(), b, i));
    }
    if let Some((reading, from, to)) = beside(sheet, i, Sign::Mutes) {
        return Some((Sign::Mutes, reading, from, to));
    }
    for b in (i.saturating_sub(3)..i).rev() {
        if sheet.before(b + 1) != Break::None {
            break;
        }
        if sheet.has(b, Cue::Neg) && !sheet.dead[b] {
            return Some((Sign::Mutes, "none".into(), b, i));
        }
    }
    None
}

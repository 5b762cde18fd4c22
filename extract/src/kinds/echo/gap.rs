//! The verb left out: "Sedge flew twelve times, Rook six", "half on Rook", "Rook twice", "another to Rook".

use super::{REACH, Said, leant_on};
use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Behaviour, Condition, Degree, Flights, Grade, Quarry, QuarryOutcome, Response, Sign, Value};

/// Where the words stand that are left of what was said: their first atom, and what must close them.
#[derive(Clone, Copy)]
struct Rest {
    at: usize,
    /// They stand before "for Rook", which closes them.
    before: bool,
}

/// Reads what is left of a clause about the bird at `n` that leans on the one before.
pub(super) fn elided(sheet: &mut Sheet, n: usize, said: &Said, more: &mut Vec<Draft>) {
    if !ahead(sheet, n).is_some_and(|rest| complete(sheet, n, rest, said, more))
        && let Some(rest) = behind(sheet, n)
    {
        complete(sheet, n, rest, said, more);
    }
}

/// Reads the words of `rest`; whether they told something.
fn complete(sheet: &mut Sheet, n: usize, rest: Rest, said: &Said, more: &mut Vec<Draft>) -> bool {
    let out = said.out;
    let found = leant_on(sheet, n, n.min(rest.at), said);
    let graded = sheet.grade(rest.at).is_some();
    // "Sedge ignored me, sat tight. Rook was good": a mark leans on a mark.
    let mark = |k: &&usize| graded && matches!(out[**k].value, Value::Response(_));
    let nearest = |k: &&usize| (out[**k].to, out[**k].from);
    let Some(&last) =
        found.iter().filter(mark).max_by_key(nearest).or_else(|| found.iter().max_by_key(nearest))
    else {
        return false;
    };
    // "Sedge was instant, Rook slow": of the answer, and so not of the bird.
    let graded = graded && matches!(out[last].value, Value::Response(_));
    // "keel's good on Sedge, a bit sharp on Rook"
    let read = matches!(&out[last].value, Value::Condition(c) if sheet.reading(rest.at, c.sign).is_some());
    if sheet.used.get(rest.at).is_none_or(|used| *used && !graded && !read) || sheet.dead[rest.at] {
        return false;
    }
    // What is said of both birds in one breath has its verb.
    let Some((value, to)) = completed(sheet, n, rest, out, &found, last) else { return false };
    let (from, to) = if rest.before { (rest.at, n) } else { (n, to) };
    let mut draft = Draft::new(sheet, value, from, to, 0.87).at(n);
    draft.planned = out[last].planned;
    more.push(draft);
    sheet.take(rest.at, to);
    true
}

/// "Mutes: Sedge watery, Rook normal": a sign that heads its sentence.
pub(super) fn headed(sheet: &mut Sheet, n: usize, more: &mut Vec<Draft>) {
    let start = sheet.start_of_sentence(n);
    let at = n + 1;
    let closes = at + 1 >= sheet.len()
        || sheet.before(at + 1) != Break::None
        || sheet.any(at + 1, &[Cue::And, Cue::But]);
    if start == n || sheet.before(start + 1) == Break::None || !closes || sheet.before(at) == Break::Stop {
        return;
    }
    let Some(sign) = sheet.sign(start).filter(|_| at < sheet.len() && !sheet.used[at] && !sheet.dead[start])
    else {
        return;
    };
    let Some(reading) = part_of_crop(sheet, at, sign).or_else(|| sheet.reading(at, sign)) else { return };
    let value = Value::Condition(Condition { sign, reading: reading.to_owned() });
    more.push(Draft::new(sheet, value, n, at, 0.9).at(n));
    sheet.take(at, at);
}

/// "Sedge, keen, ten flights. Rook, distracted, four.": a number alone in a sentence that a name heads.
pub(super) fn alone(sheet: &mut Sheet, at: usize, said: &Said, more: &mut Vec<Draft>) {
    let out = said.out;
    let start = sheet.start_of_sentence(at);
    if at < start + 2 || sheet.bird(start).is_none() || sheet.owner[start] != sheet.owner[at] {
        return;
    }
    let rest = Rest { at, before: false };
    let found = leant_on(sheet, start, start, said);
    let Some(&last) = found
        .iter()
        .filter(|k| matches!(out[**k].value, Value::Flights(_) | Value::Food(_) | Value::Quarry(_)))
        .max_by_key(|k| out[**k].to)
    else {
        return;
    };
    let flown = matches!(out[last].value, Value::Flights(_))
        && !said.within(start.max(at.saturating_sub(REACH)), at + REACH).into_iter().any(|d| {
            let d = &out[d];
            sheet.owner[d.head] == sheet.owner[at] && d.from > start && matches!(d.value, Value::Flights(_))
        });
    if let Some((value, to)) = completed(sheet, at, rest, out, &found, last).filter(|_| flown) {
        more.push(Draft::new(sheet, value, at, to, 0.85).at(at));
        sheet.take(at, to);
    }
}

/// "half", "three quarters", where a crop is spoken of.
fn part_of_crop(sheet: &Sheet, at: usize, sign: Sign) -> Option<&'static str> {
    let fraction = sheet.num(at).filter(|n| n.fraction && sign == Sign::Crop)?;
    match fraction.amount() {
        0.25 => Some("quarter"),
        0.5 => Some("half"),
        0.75 => Some("three quarter"),
        _ => None,
    }
}

/// "Rook six", "Rook only six", "Rook, six": behind the name.
fn behind(sheet: &Sheet, n: usize) -> Option<Rest> {
    let mut at = n + 1;
    if sheet.before(at) == Break::Stop {
        return None;
    }
    while at < n + 5
        && sheet.before(at + 1) == Break::None
        && sheet.is(
            at,
            &[
                "only", "just", "did", "had", "got", "flew", "managed", "caught", "was", "'s", "about", "is",
                "were", "are", "has", "have", "more", "rather",
            ],
        )
    {
        at += 1;
    }
    (at < sheet.len() && sheet.before(at) != Break::Stop).then_some(Rest { at, before: false })
}

/// "seven for Rook", "half on Rook": before the name, and nothing else before it in the clause.
fn ahead(sheet: &Sheet, n: usize) -> Option<Rest> {
    let led = n >= 2
        && sheet.before(n) == Break::None
        && sheet.before(n - 1) == Break::None
        && sheet.is(n - 1, &["for", "to", "on", "with", "from", "into"]);
    let at = n.checked_sub(2).filter(|_| led)?;
    let mut lead = at;
    while lead > 0
        && at - lead < 3
        && sheet.before(lead) == Break::None
        && (sheet.is(lead - 1, &["only", "just"])
            || sheet.any(lead - 1, &[Cue::Slight, Cue::Strong, Cue::Plain]))
    {
        lead -= 1;
    }
    let fresh = lead == 0 || sheet.before(lead) != Break::None || sheet.any(lead - 1, &[Cue::And, Cue::But]);
    fresh.then_some(Rest { at, before: true })
}

fn completed(
    sheet: &Sheet,
    n: usize,
    rest: Rest,
    out: &[Draft],
    found: &[usize],
    last: usize,
) -> Option<(Value, usize)> {
    let at = rest.at;
    let closes = |k: usize| {
        rest.before && k + 2 == n
            || k + 1 >= sheet.len()
            || sheet.before(k + 1) != Break::None
            || sheet.any(k + 1, &[Cue::And, Cue::But, Cue::Today])
            || sheet.is(k + 1, &["hers", "his"])
    };
    let number = || {
        if sheet.is(at, &["one"]) {
            return Some(1);
        }
        let num = sheet.num(at).filter(|num| !num.money && !num.minus && !num.fraction)?;
        let count = num.count().filter(|c| c.fract() == 0.0 && (1.0..=60.0).contains(c))?;
        (!crate::mass::near_any(num, &sheet.last_grams(n))).then_some(count as u32)
    };
    // "Rook missed one"
    if !rest.before
        && let Some(quarry) = found.iter().rev().find_map(|k| match &out[*k].value {
            Value::Quarry(q) => Some(q),
            _ => None,
        })
        && let outcome = match sheet.words(at) {
            "missed" => QuarryOutcome::Missed,
            "took" | "caught" | "killed" | "nailed" | "got" => QuarryOutcome::Taken,
            "chased" => QuarryOutcome::Chased,
            _ => quarry.outcome,
        }
        && sheet.is(at, &["missed", "took", "caught", "killed", "nailed", "got", "chased"])
        && sheet.before(at + 1) == Break::None
        && closes(at + 1)
    {
        let one = sheet.is(at + 1, &["one", "another", "another one"]).then_some(1);
        let count = one
            .or_else(|| sheet.num(at + 1)?.count().filter(|c| (1.0..=20.0).contains(c)).map(|c| c as u32))?;
        return Some((Value::Quarry(Quarry { count, outcome, ..quarry.clone() }), at + 1));
    }
    let tight = rest.before || sheet.before(n + 1) == Break::None;
    // "Sedge took a rabbit, Rook a squirrel"
    if let Value::Quarry(q) = &out[last].value
        && let Some(species) =
            sheet.quarry(at + 1).filter(|_| tight && closes(at + 1) && sheet.before(at + 1) == Break::None)
    {
        let count = if sheet.is(at, &["a", "an"]) { Some(1) } else { number() };
        let species = sheet.lexicon.quarry()[usize::from(species)].item_word().to_owned();
        return count.map(|count| (Value::Quarry(Quarry { species, count, outcome: q.outcome }), at + 1));
    }
    // The last that was counted; food leans on its own.
    let counted = found.iter().rev().find(|k| {
        matches!(&out[**k].value, Value::Flights(Flights { count: Some(_), .. }) | Value::Quarry(_))
    });
    if let Some(count) = number().filter(|_| closes(at))
        && let Some(counted) = counted
    {
        return match &out[*counted].value {
            Value::Flights(f) => {
                let (longest_m, to) = longest(sheet, at).map_or((None, at), |(m, to)| (Some(m), to));
                Some((Value::Flights(Flights { count: Some(count), longest_m, ..*f }), to))
            }
            Value::Quarry(q) if tight => Some((Value::Quarry(Quarry { count, ..q.clone() }), at)),
            _ => None,
        };
    }
    match &out[last].value {
        Value::Behaviour(b) if tight && closes(at) => {
            let degree = if sheet.is(at, &["twice"]) {
                Degree::Plain
            } else if sheet.has(at, Cue::Slight) {
                Degree::Slight
            } else if sheet.has(at, Cue::Strong) && !sheet.is(at, &["so", "too", "dead", "hard"]) {
                Degree::Strong
            } else {
                return None;
            };
            Some((Value::Behaviour(Behaviour { word: b.word.clone(), present: true, degree }), at))
        }
        Value::Condition(c) if closes(at) => {
            let reading = match part_of_crop(sheet, at, c.sign) {
                Some(part) => part,
                _ if sheet.is(at, &["nothing", "none"]) => match c.sign {
                    Sign::Crop => "empty",
                    Sign::Casting | Sign::Mutes => "none",
                    _ => return None,
                },
                _ if c.sign == Sign::Moult && sheet.has(at, Cue::MoultStart) => "started",
                _ if c.sign == Sign::Moult && sheet.has(at, Cue::MoultEnd) => "finished",
                _ => sheet.reading(at, c.sign)?,
            };
            let reading = reading.to_owned();
            Some((Value::Condition(Condition { sign: c.sign, reading }), at))
        }
        Value::Response(_) if tight && closes(at) => {
            let (grade, _) = sheet.grade(at)?;
            Grade::new(grade).map(|grade| (Value::Response(Response { grade }), at))
        }
        Value::Equipment(_) | Value::Training(_)
            if rest.before && sheet.is(at, &["another", "one", "another one", "others"]) =>
        {
            Some((out[last].value.clone(), at))
        }
        _ => None,
    }
}

/// "…, longest thirty": behind the number.
pub(super) fn longest(sheet: &Sheet, at: usize) -> Option<(f64, usize)> {
    let word = at + 1;
    let said = sheet.is(word, &["longest", "furthest", "best", "the longest", "longest one"]);
    let num = sheet.num(word + 1).filter(|n| said && !n.money && !sheet.used[word + 1])?;
    let unit = word + 2;
    let tight = sheet.before(unit) == Break::None;
    if tight && sheet.has(unit, Cue::Yards) {
        return Some((crate::mass::tenth(num.amount() * 0.9144), unit));
    }
    let metres = tight && sheet.has(unit, Cue::Metres);
    Some((num.amount(), if metres { unit } else { word + 1 }))
}

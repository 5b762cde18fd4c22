//! How well she answered: spoken marks and words, the summary before the last.

mod said;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::number::Form;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
use note::{Grade, Response, Value};

/// A judgement found.
struct Judgement {
    grade: u8,
    from: usize,
    to: usize,
    summary: bool,
    score: f64,
}

/// Finds spoken marks: "four out of five", "7/10". They take their numbers from other rules.
pub(crate) fn marks(sheet: &mut Sheet, out: &mut Vec<Draft>) -> Vec<usize> {
    let mut at = Vec::new();
    for i in 0..sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            continue;
        }
        let Some((grade, from, to, score)) = mark(sheet, i) else { continue };
        // "nine out of ten in spelling"
        let at_school = sheet.is(to + 1, &["in", "at"])
            && sheet.before(to + 1) == Break::None
            && sheet.is(
                to + 2,
                &[
                    "spelling",
                    "maths",
                    "math",
                    "reading",
                    "english",
                    "school",
                    "geography",
                    "history",
                    "art",
                    "french",
                ],
            );
        if at_school {
            sheet.take(from, to);
            continue;
        }
        if let Some(grade) = Grade::new(grade) {
            at.push(out.len());
            out.push(Draft::new(sheet, Value::Response(Response { grade }), from, to, score).at(to));
        }
        sheet.take(from, to);
    }
    at
}

fn scaled(value: f64, of: f64) -> Option<u8> {
    if value < 0.0 || value > of {
        return None;
    }
    let grade = if of == 5.0 {
        value.ceil()
    } else if of == 10.0 {
        (value / 2.0).ceil()
    } else {
        return None;
    };
    Some((grade as u8).clamp(1, 5))
}

/// Reads a mark at atom `i`; words that sound like digits count before "out of five".
fn mark(sheet: &Sheet, i: usize) -> Option<(u8, usize, usize, f64)> {
    let out_of = sheet.before(i + 1) == Break::None && sheet.words(i + 1) == "out of";
    if let Some(num) = sheet.num(i) {
        if num.money || num.minus {
            return None;
        }
        if out_of
            || sheet.has(i + 1, Cue::OutOf) && sheet.is(i + 1, &["over", "of", "outta"])
            || sheet.is(i + 1, &["from"])
                && sheet.num(i + 2).is_some_and(|n| n.value == 5.0 || n.value == 10.0)
                && sheet.before(i + 1) == Break::None
                && sheet.before(i + 2) == Break::None
        {
            let of = sheet.num(i + 2)?.value;
            if sheet.is(i + 1, &["of"]) && !sheet.is(i + 1, &["over", "outta"]) && num.value > of {
                return None;
            }
            if sheet.is(i + 1, &["of", "over"]) && !grading(sheet, i) {
                return None;
            }
            return Some((scaled(num.value, of)?, i, i + 2, 0.97));
        }
        if let (Form::Tied('/'), [a, b]) = (num.form, num.parts.as_slice()) {
            return Some((scaled(*a, *b).filter(|_| *b == 5.0 || *b == 10.0)?, i, i, 0.95));
        }
        // "five out of five" written "5.5"; "eight out of ten" as "8.10" or "810" where nothing else fits.
        if num.digits == Some(1)
            && num.value < 6.0
            && ((num.value * 10.0).round() as i64) % 10 == 5
            && (grading(sheet, i) || standing_alone(sheet, i))
            && heavy(sheet, i)
        {
            return Some((scaled(num.value.trunc(), 5.0)?, i, i, 0.75));
        }
        if num.digits == Some(2)
            && num.value < 11.0
            && ((num.value * 100.0).round() as i64) % 100 == 10
            && (grading(sheet, i) || standing_alone(sheet, i))
            && heavy(sheet, i)
        {
            return Some((scaled(num.value.trunc(), 10.0)?, i, i, 0.7));
        }
        // "I'd give her a four."
        let given = i >= 1
            && sheet.before(i) == Break::None
            && (sheet.is(i - 1, &["response", "solid", "a solid", "score of", "mark of"])
                || sheet.summary(i - 1) && !sheet.is(i - 1, &["altogether"])
                || sheet.is(i - 1, &["a"]) && i >= 2 && sheet.summary(i - 2)
                || sheet.is(i - 1, &["a"])
                    && i >= 3
                    && sheet.any(i - 2, &[Cue::Be])
                    && sheet.is(i - 3, &["response", "answer", "recall", "session"])
                || sheet.any(i - 1, &[Cue::Her, Cue::He]) && i >= 2 && sheet.summary(i - 2));
        let ends = i + 1 >= sheet.len()
            || sheet.before(i + 1) != Break::None
            || sheet.any(i + 1, &[Cue::Today, Cue::And]);
        let judged = (i.saturating_sub(4)..i).any(|k| {
            let marked = ["mark", "score", "grade", "rate"].iter().any(|w| sheet.words(k).contains(w));
            if sheet.summary(k) && marked {
                return true;
            }
            matches!(
                sheet.words(k),
                "i'd give"
                    | "i'd mark"
                    | "i'd score"
                    | "grade"
                    | "mark"
                    | "score"
                    | "rating"
                    | "response"
                    | "i'd rate"
                    | "give her"
                    | "give him"
                    | "i'll give"
                    | "marks"
                    | "i'd call it"
                    | "call it"
                    | "i'd put it at"
                    | "solid"
                    | "a solid"
                    | "score of"
                    | "mark of"
            )
        });
        if given
            && ends
            && judged
            && num.form == Form::Plain
            && (1.0..=5.0).contains(&num.value)
            && num.value.fract() == 0.0
        {
            return Some((num.value as u8, i, i, 0.85));
        }
        return None;
    }
    let digit = match sheet.word(i) {
        "to" | "too" => 2.0,
        "for" | "fore" => 4.0,
        "won" => 1.0,
        "tree" | "free" => 3.0,
        "sex" | "sicks" => 6.0,
        "ate" => 8.0,
        "fore out" => 4.0,
        _ => return None,
    };
    if !out_of || sheet.before(i + 2) != Break::None {
        return None;
    }
    let of = sheet.num(i + 2)?.value;
    Some((scaled(digit, of)?, i, i + 2, 0.9))
}

fn grading(sheet: &Sheet, i: usize) -> bool {
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(8));
    (start..sheet.end_of_sentence(i).min(i + 6)).any(|k| sheet.summary(k) || sheet.has(k, Cue::FlyingTalk))
}

fn standing_alone(sheet: &Sheet, i: usize) -> bool {
    sheet.before(i) != Break::None && (i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None)
}

/// No bird of the roster is so light that the number could be its weight.
fn heavy(sheet: &Sheet, i: usize) -> bool {
    let Some(num) = sheet.num(i) else { return false };
    !crate::mass::near_any(num, &sheet.last_grams(i))
}

/// Finds judgements in words, and keeps one for each bird: the summary, else the last.
pub(crate) fn find(sheet: &mut Sheet, marks: &[usize], out: &mut Vec<Draft>) {
    let mut all: Vec<(Judgement, Owner, usize, bool)> = Vec::new();
    for i in 0..sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            continue;
        }
        // "I've thought about it": the keeper did.
        if sheet.words(i).starts_with("thought") && super::behaviour::first_person(sheet, i) {
            continue;
        }
        if let Some(j) = judgement(sheet, i, out) {
            all.push((j, sheet.owner[i], i, false));
        }
    }
    let mut kept: Vec<Draft> = Vec::new();
    // Marks said aloud are judgements like the others, and as good as a summary.
    let mut spoken: Vec<(usize, Owner)> = marks.iter().map(|m| (*m, sheet.owner[out[*m].head])).collect();
    let mut owners: Vec<(Owner, usize)> = Vec::new();
    let mut seen = std::collections::HashMap::new();
    let key = |sheet: &Sheet, head: usize| (format!("{:?}", sheet.owner[head]), sheet.when[head]);
    for (j, owner, head, _) in &all {
        let entry = seen.entry(key(sheet, *head)).or_insert_with(Vec::new);
        entry.push((j.summary, j.from, j.to, j.grade, j.score, *head));
        owners.push((*owner, *head));
    }
    for (m, _) in &spoken {
        let d = &out[*m];
        let Value::Response(r) = &d.value else { continue };
        let entry = seen.entry(key(sheet, d.head)).or_insert_with(Vec::new);
        entry.push((true, d.from, d.to, r.grade.get(), d.score, d.head));
    }
    spoken.clear();
    let mut groups: Vec<_> = seen.into_values().collect();
    groups.sort_by_key(|g| g.iter().map(|x| x.1).min());
    for group in groups {
        let best =
            group.iter().filter(|x| x.0).max_by_key(|x| x.1).or_else(|| group.iter().max_by_key(|x| x.1));
        let Some((_, from, to, grade, score, head)) = best else { continue };
        let rivals = group.iter().filter(|x| x.3 != *grade).count();
        let score = score - 0.02 * rivals.min(3) as f64;
        if let Some(grade) = Grade::new(*grade) {
            kept.push(Draft::new(sheet, Value::Response(Response { grade }), *from, *to, score).at(*head));
        }
        for x in &group {
            sheet.take(x.1, x.2);
        }
    }
    out.retain(|d| !matches!(d.value, Value::Response(_)));
    out.extend(kept);
}

fn talk(sheet: &Sheet, k: usize) -> bool {
    sheet.any(k, &[Cue::FlyingTalk, Cue::Flight, Cue::ToLure, Cue::ToPerch]) && !sheet.dead[k]
        || sheet.has(k, Cue::Fist) && sheet.words(k).starts_with("to")
}

fn set_near(sheet: &Sheet, i: usize, drafts: &[Draft]) -> bool {
    drafts.iter().rev().take(40).any(|d| {
        matches!(d.value, Value::Flights(_)) && sheet.owner[d.head] == sheet.owner[i] && d.from < i + 12
    })
}

fn clause(sheet: &Sheet, i: usize) -> std::ops::Range<usize> {
    let (mut a, mut b) = (i, i + 1);
    while a > 0 && sheet.before(a) == Break::None && i - a < 9 && sheet.bird(a).is_none() {
        a -= 1;
    }
    while b < sheet.len() && sheet.before(b) == Break::None && b - i < 9 && sheet.bird(b).is_none() {
        b += 1;
    }
    a..b
}

fn judgement(sheet: &Sheet, i: usize, drafts: &[Draft]) -> Option<Judgement> {
    let (grade, alone) = sheet.grade(i)?;
    // "I'm not okay", "nothing doing at the pier": of the keeper, of the day.
    let tight = |k: usize| sheet.before(k) == Break::None;
    let mut p = i;
    while p > 0
        && i - p < 4
        && tight(p)
        && (p == i || sheet.any(p, &[Cue::Neg, Cue::Filler, Cue::Strong, Cue::Be]))
    {
        p -= 1;
    }
    let keeper = p < i
        && (matches!(sheet.words(p), "i'm" | "i was" | "i am")
            || sheet.is(p, &["i"]) && sheet.any(p + 1, &[Cue::Be]));
    let idle = sheet.is(i, &["nothing doing"])
        && tight(i + 1)
        && sheet.is(i + 1, &["at", "in", "on", "there", "then", "today"]);
    if keeper || idle {
        return None;
    }
    // "just fair", "well, good"
    let led = i > 0 && sheet.any(i - 1, &[Cue::Filler]) && (i == 1 || sheet.before(i - 1) != Break::None);
    let opens = i == 0 || sheet.before(i) != Break::None || led && sheet.is(i - 1, &["just", "only"]);
    let next = i + 1;
    let closes = next >= sheet.len() || sheet.before(next) != Break::None;
    // "good overall"
    let closes = closes
        || sheet.is(
            next,
            &["otherwise", "overall", "all in all", "in all", "on the whole", "all round", "generally"],
        ) && (next + 1 >= sheet.len() || sheet.before(next + 1) != Break::None);
    let words = sheet.words(i);
    // "Okay, so this is Gorse": a way to begin.
    let hesitant = matches!(words, "okay" | "ok" | "alright" | "all right");
    // "okay for a beginner"
    let for_one = sheet.is(next, &["for"]) && sheet.is(next + 1, &["a", "her", "his", "the"]);
    let granted = said::granted(sheet, next) || for_one && set_near(sheet, i, drafts);
    if hesitant
        && opens
        && !granted
        && (i == 0 || sheet.before(i) == Break::Stop)
        && !(closes && (next >= sheet.len() || sheet.before(next) == Break::Stop) && i > 0)
    {
        return None;
    }
    if hesitant
        && !closes
        && !granted
        && (sheet.any(next, &[Cue::He, Cue::She, Cue::I]) || sheet.bird(next).is_some())
        && opens
    {
        return None;
    }
    // "didn't even look sorry"
    if words.ends_with(" look")
        && sheet.before(next) == Break::None
        && next < sheet.len()
        && sheet.senses(next).is_empty()
        && !sheet.is(next, &["at", "up", "round", "my", "over", "down", "back", "for", "twice"])
    {
        return None;
    }
    // "nice and calm": how she was.
    if sheet.is(i, &["nice", "good"])
        && sheet.has(next, Cue::And)
        && sheet.before(next) == Break::None
        && sheet.before(next + 1) == Break::None
        && sheet.behaviour(next + 1).is_some()
    {
        return None;
    }
    // "and I'm like, okay, but": words put in one's own mouth.
    let quoted = (i.saturating_sub(4)..i)
        .any(|k| k > 0 && sheet.is(k, &["like"]) && sheet.any(k - 1, &[Cue::I, Cue::Be]));
    if hesitant && quoted {
        return None;
    }
    // "Is this on? Okay.": nothing was told of yet that it could judge.
    if hesitant
        && !granted
        && drafts.is_empty()
        && !(i.saturating_sub(12)..sheet.len().min(i + 6)).any(|k| sheet.summary(k) || talk(sheet, k))
    {
        return None;
    }
    // "I'm in no hurry": the keeper is not.
    if i > 0 && sheet.before(i) == Break::None && sheet.is(i - 1, &["i'm", "i was", "we're", "i am"]) {
        return None;
    }
    if said::of_weather(sheet, i, drafts)
        || said::of_training(sheet, i, drafts)
        || said::of_weight(sheet, i, drafts)
    {
        return None;
    }
    // "nine hundred quid outstanding"
    let owed = i > 0
        && tight(i)
        && (sheet.any(i - 1, &[Cue::Price])
            || sheet.is(i, &["outstanding"])
                && (sheet.num(i - 1).is_some() || sheet.any(i - 1, &[Cue::Pounds])));
    if owed {
        return None;
    }
    // "lovely flying weather"
    if !closes && sheet.is(next, &["weather", "day", "conditions", "ground", "country", "light", "wind"]) {
        return None;
    }
    // "two pounds ten, she's coming down nicely": the weight is.
    if i > 0 && sheet.any(i - 1, &[Cue::Down, Cue::Up]) && sheet.before(i) == Break::None {
        return None;
    }
    // "bang on the 960", "938, spot on": said of a weight.
    let weighed = matches!(words, "bang on" | "spot on" | "on the button" | "perfect" | "right on")
        && (sheet.num(next).is_some()
            || sheet.is(next, &["the", "her", "his"]) && sheet.num(next + 1).is_some()
            || sheet.any(next, &[Cue::Weigh, Cue::Want]) && !closes
            || i > 0
                && (sheet.num(i - 1).is_some()
                    || sheet.any(i - 1, &[Cue::Grams, Cue::Ounces, Cue::Pounds, Cue::Kilos]))
                && drafts
                    .iter()
                    .rev()
                    .take(20)
                    .any(|d| matches!(d.value, Value::Weight(_)) && d.to + 1 == i));
    let scales = matches!(words, "bang on" | "spot on" | "perfect")
        && (sheet.start_of_sentence(i).max(i.saturating_sub(12))..i)
            .any(|k| sheet.is(k, &["scale", "scales", "balance"]));
    if weighed || scales {
        return None;
    }
    // "good lad", "good weight", "a nice bath", "quick look": said of a thing.
    if !closes && !alone && said::thing(sheet, next) {
        return None;
    }
    if sheet.is(i, &["well"]) && opens {
        return None;
    }
    // The keeper, the dog or the road, not the bird.
    if !closes
        && sheet.behaviour(i).is_none()
        && i > 0
        && sheet.before(i) == Break::None
        && sheet.any(i - 1, &[Cue::I])
        && !sheet.words(i - 1).is_empty()
        && !sheet.summary(i - 1)
    {
        return None;
    }
    let clause = clause(sheet, i);
    let summary_at = clause
        .clone()
        .find(|k| *k != i && sheet.summary(*k) && !sheet.dead[*k])
        .or_else(|| (i > 0 && sheet.summary(i - 1) && !sheet.dead[i - 1]).then(|| i - 1))
        .or_else(|| {
            (sheet.summary(next)
                && sheet.before(next) == Break::Comma
                && (next + 1 >= sheet.len() || sheet.before(next + 1) == Break::Stop))
                .then_some(next)
        });
    let here = clause.clone().any(|k| k != i && talk(sheet, k));
    let around = here || set_near(sheet, i, drafts) || said::recent_talk(sheet, i);
    let subject_bird = clause.clone().any(|k| {
        k < i
            && (sheet.any(k, &[Cue::He, Cue::She]) || sheet.bird(k).is_some())
            && (sheet.any(k + 1, &[Cue::Be]) || sheet.is(k + 1, &["'s"]))
    });
    let of_flights = said::of_flights(sheet, i, drafts);
    let lazy = sheet.behaviour(i).is_some();
    if lazy {
        // "she's lazy today" is the bird; "slow to the fist" and "six flights, slow" the answer.
        let answer = of_flights
            || here
            || summary_at.is_some()
            || around && !subject_bird && set_near(sheet, i, drafts);
        if !answer {
            return None;
        }
    }
    if alone {
        let weak = matches!(
            words,
            "fair"
                | "average"
                | "hesitated"
                | "sticky"
                | "reluctant"
                | "hesitant"
                | "ignored"
                | "at once"
                | "right away"
                | "ignored everything"
                | "delayed"
                | "mixed"
                | "not good"
                | "not great"
                | "moderate response"
                | "pretty good"
                | "did well"
                | "did nothing"
                | "nothing special"
                | "reasonable"
                | "disappointing"
                | "took ages"
                | "took forever"
                | "took a while to come"
                | "up and down"
                | "just sat there"
                | "not a thing"
                | "never moved"
                | "never stirred"
                | "in two minds"
                | "no complaints"
                | "can't complain"
                | "took a long time"
                | "took an age"
        );
        let idle = matches!(words, "took ages" | "took forever" | "ignored" | "at once" | "delayed");
        let ok = !weak || around || summary_at.is_some() || (opens && closes && !idle);
        if !ok || hesitant && !around && summary_at.is_none() && !(closes && i > 0) {
            return None;
        }
    } else {
        let stands = opens && closes && around;
        let ok = here || summary_at.is_some() && (around || closes) || stands || lazy || of_flights;
        if !ok {
            return None;
        }
        if matches!(
            words,
            "nothing"
                | "none"
                | "enough"
                | "bad"
                | "late"
                | "eventually"
                | "weak"
                | "flat"
                | "strong"
                | "fast"
                | "beautiful"
                | "fine"
                | "steady"
                | "quick"
                | "nice"
                | "lovely"
                | "great"
                | "perfect"
                | "confident"
                | "positive"
                | "decent"
        ) && !here
            && summary_at.is_none()
        {
            return None;
        }
        if matches!(words, "nothing" | "none" | "enough" | "late")
            && !(clause.clone().any(|k| sheet.is(k, &["response", "answer"])))
        {
            return None;
        }
        if !here && summary_at.is_none() && said::thing_before(sheet, i) {
            return None;
        }
    }
    let denied = i > 0
        && sheet.before(i) == Break::None
        && sheet.has(i - 1, Cue::Neg)
        && !sheet.dead[i - 1]
        && !words.starts_with("no")
        && !words.contains("n't");
    let grade = match grade {
        _ if !denied => grade,
        4 | 5 => 2,
        3 => 2,
        _ => 4,
    };
    let mut from = if denied { i - 1 } else { i };
    let mut to = i;
    // "good response", "came okay": the words that make it a judgement.
    if sheet.is(next, &["response", "responses", "answer"]) && sheet.before(next) == Break::None {
        to = next;
    } else if let Some(s) = summary_at.filter(|s| *s + 4 >= i && *s < i) {
        from = from.min(s);
    }
    let score = if alone || summary_at.is_some() { 0.96 } else { 0.9 };
    Some(Judgement {
        grade,
        from,
        to,
        summary: summary_at.is_some(),
        score: if denied { score - 0.15 } else { score },
    })
}

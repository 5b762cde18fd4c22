//! What was given, eaten, offered, refused and left.

mod keep;
mod lean;
mod phrase;
mod rest;
mod verb;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::{Owner, Sheet};
use crate::tokens::Break;
use keep::keeps;
use lean::{of_named, opens_meal, same_again, shared_out};
use note::{Food, Outcome, Value};
use phrase::phrase;
use rest::{leftover, settle};
use verb::{Verb, governing};

/// A phrase that names food.
#[derive(Clone, Debug)]
struct Phrase {
    item: u16,
    count: Option<f64>,
    part: Option<u16>,
    grams: Option<f64>,
    from: usize,
    to: usize,
    /// It has a number, an article or a measure, so that it is an amount and no mere mention.
    amount: bool,
    article: bool,
}

/// Finds the food.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let first = out.len();
    let mut last: Option<Phrase> = None;
    // The food that a sentence names before it tells how much, and its draft where it has one.
    let mut named: Option<(Phrase, Option<usize>)> = None;
    let mut i = 0;
    while i < sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            i += 1;
            continue;
        }
        let open = named.as_ref().is_some_and(|(food, _)| last.as_ref().is_none_or(|l| l.to <= food.to));
        if !open && let Some(next) = leftover(sheet, i, out, first) {
            i = next;
            continue;
        }
        if ditto(sheet, i, out, first) {
            i += 1;
            continue;
        }
        if let Some((food, draft)) = &named
            && let Some((phrase, verb)) = of_named(sheet, i, food)
        {
            let (food, draft) = (food.clone(), *draft);
            let planned =
                draft.is_some_and(|d| out[d].planned) || governing(sheet, &food) == Some(Verb::Will);
            let verb = if planned && verb.is_none() { Some(Verb::Will) } else { verb };
            // What was named is told of now.
            if let Some(d) = draft {
                out.remove(d);
                named = Some((food, None));
            }
            push(sheet, out, &phrase, verb);
            i = phrase.to + 1;
            last = Some(phrase);
            continue;
        }
        let Some(phrase) = phrase(sheet, i, last.as_ref())
            .or_else(|| same_again(sheet, i, last.as_ref()))
            .or_else(|| weighed_out(sheet, i))
        else {
            i += 1;
            continue;
        };
        let next = phrase.to + 1;
        let verb = governing(sheet, &phrase);
        let kept = keeps(sheet, &phrase, verb);
        if opens_meal(sheet, &phrase) && !(kept && phrase.amount) {
            named = Some((phrase.clone(), kept.then_some(out.len())));
        }
        if kept {
            push(sheet, out, &phrase, verb);
            last = Some(phrase);
        } else if phrase.grams.is_some() && sheet.is(phrase.from + 2, &["of"]) {
            // "bought 680 grams of duck": nobody's weight either.
            sheet.take(phrase.from, phrase.to);
        }
        i = next;
    }
    shared_out(sheet, out, first);
    settle(sheet, out, first);
}

/// "Rook had the same", "ditto Rook": what the bird before was fed, for this one too.
fn ditto(sheet: &mut Sheet, i: usize, out: &mut Vec<Draft>, first: usize) -> bool {
    let said = sheet.is(i, &["same", "the same", "ditto", "likewise"])
        && !sheet.any(i + 1, &[Cue::Than, Cue::Yesterday])
        && (i + 1 >= sheet.len()
            || sheet.before(i + 1) != Break::None
            || sheet.is(i + 1, &["for", "again"])
            || sheet.bird(i + 1).is_some());
    let fed = out.len() > first && matches!(sheet.owner[i], Owner::One(_));
    if !said || !fed {
        return false;
    }
    let mut given: Vec<usize> = (first..out.len())
        .rev()
        .take(8)
        .take_while(|d| i.saturating_sub(out[*d].head) < 16)
        .filter(|d| {
            sheet.owner[out[*d].head] != sheet.owner[i]
                && matches!(&out[*d].value, Value::Food(f) if f.outcome == Outcome::Eaten)
        })
        .collect();
    given.reverse();
    for d in &given {
        let value = out[*d].value.clone();
        out.push(Draft::new(sheet, value, i, i, 0.85).at(i));
    }
    if !given.is_empty() {
        sheet.take(i, i);
    }
    !given.is_empty()
}

/// "fed her 35 grams": nobody says of what.
fn weighed_out(sheet: &Sheet, i: usize) -> Option<Phrase> {
    let num = sheet.num(i).filter(|n| !n.money && !n.minus && sheet.before(i) == Break::None)?;
    let scale = match () {
        () if sheet.has(i + 1, Cue::Grams) => 1.0,
        () if sheet.has(i + 1, Cue::Ounces) => note::GRAMS_PER_OUNCE,
        () => return None,
    };
    let grams = num.amount() * scale;
    let lasts = sheet.last_grams(i);
    let ends = i + 2 >= sheet.len()
        || sheet.before(i + 2) != Break::None
        || sheet.any(i + 2, &[Cue::And, Cue::But, Cue::Today, Cue::LastNight]);
    let p = i.checked_sub(1)?;
    let whom = sheet.bird(p).is_some() || sheet.any(p, &[Cue::Her, Cue::He]);
    let verb = p.checked_sub(usize::from(whom))?;
    let fed =
        sheet.is(verb, &["fed", "gave", "ate", "given"]) && (verb == p || sheet.before(p) == Break::None);
    if !fed
        || !ends
        || sheet.before(i + 1) != Break::None
        || lasts.is_empty()
        || lasts.iter().any(|l| grams > l * 0.4)
    {
        return None;
    }
    let item = sheet.lexicon.foods().iter().position(|f| f.name == "meat")?;
    Some(Phrase {
        item: u16::try_from(item).ok()?,
        count: None,
        part: None,
        grams: Some(grams),
        from: i,
        to: i + 1,
        amount: true,
        article: false,
    })
}

fn push(sheet: &mut Sheet, out: &mut Vec<Draft>, phrase: &Phrase, verb: Option<Verb>) {
    let outcome = match verb {
        Some(Verb::Offered | Verb::Will) => Outcome::Offered,
        Some(Verb::Refused) => Outcome::Refused,
        Some(Verb::Left) => Outcome::Left,
        _ => Outcome::Eaten,
    };
    let food = Food {
        item: sheet.lexicon.foods()[usize::from(phrase.item)].name.clone(),
        count: phrase.count,
        part: phrase.part.map(|p| sheet.lexicon.parts()[usize::from(p)].word.clone()),
        grams: phrase.grams.map(crate::mass::tenth),
        outcome,
    };
    let score = if phrase.amount && verb.is_some() {
        0.97
    } else if phrase.amount {
        0.96
    } else {
        0.88
    };
    let mut draft = Draft::new(sheet, Value::Food(food), phrase.from, phrase.to, score).at(phrase.to);
    draft.planned = verb == Some(Verb::Will);
    out.push(draft);
    sheet.take(phrase.from, phrase.to);
}

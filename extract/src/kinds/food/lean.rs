//! Amounts that lean on a food named before: "Rook had two", "Quail tonight. She ate half of it".

use super::Phrase;
use super::verb::{Verb, verb_at};
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// How far on a food that was only named is still meant, in atoms.
const REACH: usize = 16;

/// "Sedge had a chick and Rook had two", "two for Sedge, one for Rook": the item is the one before.
pub(super) fn same_again(sheet: &Sheet, i: usize, last: Option<&Phrase>) -> Option<Phrase> {
    let last = last.filter(|l| i > l.to && l.grams.is_none())?;
    let start = sheet.start_of_sentence(i);
    let bird = |k: usize| sheet.bird(k).is_some();
    // "two chicks and eight flights, Rook six": the last that was counted is meant.
    let counted =
        |k: usize| sheet.used[k] && sheet.num(k).is_some() && !sheet.any(k - 1, &[Cue::Left, Cue::Refused]);
    if (last.to + 1..i).any(counted) {
        return None;
    }
    let half = other_half(sheet, i).filter(|_| last.count == Some(0.5));
    let (count, to) = half.map(|to| (0.5, to)).or_else(|| amount(sheet, i))?;
    let ends = ends(sheet, to) || meant_for(sheet, to + 1);
    // "Sedge: two chicks, keen. Rook: one, calm": one sentence for each bird.
    let ate = i == start + 2 && sheet.before(i) == Break::None && sheet.is(i - 1, &["ate", "had", "got"]);
    let headed = (start + 1 == i || ate)
        && bird(start)
        && sheet.start_of_sentence(start.saturating_sub(1)) <= last.from;
    let near = i - last.to < 12 && start <= last.from;
    let led = i > 0
        && (sheet.before(i) == Break::None
            && (sheet.is(i - 1, &["had", "ate", "got", "gets", "has"])
                || sheet.is(i - 1, &["just", "only"]) && i > 1 && bird(i - 2)
                || bird(i - 1))
            || headed
            // "Sedge 948 and three chicks, Rook 633 and two"
            || sheet.any(i - 1, &[Cue::And])
                && i > 2
                && bird(i - 3)
                && sheet.num(i - 2).is_some_and(|n| crate::mass::near_any(n, &sheet.last_grams(i - 2)))
            || sheet.before(i) == Break::Comma && (bird(i - 1) || meant_for(sheet, to + 1))
            || half.is_some() && meant_for(sheet, to + 1)
            || sheet.any(i - 1, &[Cue::And, Cue::But]) && meant_for(sheet, to + 1));
    let other =
        sheet.owner[i] != sheet.owner[last.to] || sheet.before(i) == Break::None || meant_for(sheet, to + 1);
    (ends && led && (near || headed) && other).then(|| Phrase {
        count: Some(count),
        from: i,
        to,
        amount: true,
        article: false,
        ..last.clone()
    })
}

/// "the other half" at `i`, and its last atom.
fn other_half(sheet: &Sheet, i: usize) -> Option<usize> {
    if sheet.is(i, &["the other half", "other half"]) {
        return Some(i);
    }
    (sheet.is(i, &["the other"])
        && sheet.before(i + 1) == Break::None
        && sheet.num(i + 1).is_some_and(|n| n.fraction))
    .then_some(i + 1)
}

/// Whether "for Rook" stands at `k`.
fn meant_for(sheet: &Sheet, k: usize) -> bool {
    sheet.before(k) == Break::None && sheet.is(k, &["for him", "for her", "to him", "to her"])
        || sheet.is(k, &["for", "to", "into"])
            && sheet.before(k) == Break::None
            && (sheet.bird(k + 1).is_some()
                || sheet.is(k + 1, &["him", "her"])
                || k + 2 < sheet.len() && crate::bind::described(sheet, k + 2).is_some())
}

fn ends(sheet: &Sheet, to: usize) -> bool {
    to + 1 >= sheet.len()
        || sheet.before(to + 1) != Break::None
        || sheet.any(to + 1, &[Cue::And, Cue::But, Cue::Today])
}

/// A small number, "a half", "one" at `i`, and the last atom of it.
fn amount(sheet: &Sheet, i: usize) -> Option<(f64, usize)> {
    let at = i + usize::from(sheet.is(i, &["a"]) && sheet.num(i + 1).is_some_and(|n| n.fraction));
    if sheet.is(i, &["one", "the one"]) {
        return Some((1.0, i));
    }
    let num = sheet.num(at).filter(|n| !n.money && !n.minus && sheet.live(at) && !sheet.used[at])?;
    let count = num.count().or_else(|| num.fraction.then(|| num.amount()))?;
    (count > 0.0 && count <= 12.0 && (count * 4.0).fract() == 0.0).then_some((count, at))
}

/// Whether a food that is no amount names what the next words tell of: "Quail tonight.", "she's on rat".
pub(super) fn opens_meal(sheet: &Sheet, phrase: &Phrase) -> bool {
    const MENU: [&str; 44] = [
        "tonight",
        "today",
        "this evening",
        "this morning",
        "again",
        "only",
        "for",
        "tea",
        "supper",
        "dinner",
        "breakfast",
        "lunch",
        "on",
        "the",
        "menu",
        "on the menu",
        "as",
        "usual",
        "as usual",
        "day",
        "night",
        "her",
        "him",
        "them",
        "both",
        "for her",
        "for him",
        "for later",
        "week",
        "this week",
        "this",
        "now",
        "of course",
        "for tea",
        "later",
        "just",
        "for tonight",
        "everyone",
        "all",
        "round",
        "all round",
        "for both",
        "evening",
        "first",
    ];
    if phrase.grams.is_some() || phrase.count.is_some() && !phrase.article {
        return false;
    }
    let (start, end) = (sheet.start_of_sentence(phrase.from), sheet.end_of_sentence(phrase.to));
    let mut rest = phrase.to + 1..end;
    let closes = rest
        .by_ref()
        .take_while(|k| sheet.before(*k) != Break::Comma && !sheet.any(*k, &[Cue::And, Cue::But]))
        .all(|k| sheet.is(k, &MENU) || sheet.bird(k).is_some());
    let opens = phrase.from == start
        || sheet.before(phrase.from) != Break::None
        || sheet.is(phrase.from - 1, &["just", "only", "more"]) && phrase.from - 1 == start;
    // "supper was chicks", "she's on rat this week", "it's quail again"
    let served = phrase.from > start && sheet.before(phrase.from) == Break::None && {
        let p = phrase.from - 1;
        sheet.any(p, &[Cue::Be])
            || sheet.is(p, &["'s", "feeding", "serving"])
            || sheet.is(p, &["on"]) && p > start && (sheet.any(p - 1, &[Cue::Be]) || sheet.is(p - 1, &["'s"]))
    };
    closes && (opens || served)
}

/// An amount of the food that was named: "half of it", "two of them", "thirty grams", "the head", "refused it".
pub(super) fn of_named(sheet: &Sheet, i: usize, named: &Phrase) -> Option<(Phrase, Option<Verb>)> {
    let start = sheet.start_of_sentence(i);
    if i <= named.to
        || i - named.to >= REACH
        || start > named.to && sheet.start_of_sentence(start - 1) > named.to
        || (named.to + 1..i).any(|k| sheet.food(k).is_some() && !sheet.dead[k])
    {
        return None;
    }
    let tight = |k: usize| sheet.before(k) == Break::None;
    let of_it = |to: usize| {
        let next = to + 1;
        let word = next + usize::from(sheet.is(next, &["of", "off"]));
        if !tight(next) || word == next && !sheet.words(next).starts_with("of ") {
            return to;
        }
        if word == next {
            return next;
        }
        if tight(word) && sheet.is(word, &["it", "them", "that", "one", "those", "these"]) {
            word
        } else {
            to
        }
    };
    if sheet.has(i, Cue::Refused) {
        let it = i + usize::from(tight(i + 1) && sheet.is(i + 1, &["it", "them", "that", "the lot"]));
        let whole = ends(sheet, it);
        return whole
            .then(|| (Phrase { from: i, to: it, amount: true, ..named.clone() }, Some(Verb::Refused)));
    }
    // "legs only, three"
    if let Some(part) = sheet.part(i).filter(|_| named.part.is_none() && (i == start || !tight(i))) {
        let k = i + 1 + usize::from(tight(i + 1) && sheet.is(i + 1, &["only", "just"]));
        let (count, to) = amount(sheet, k).filter(|(_, to)| !tight(k) && ends(sheet, *to))?;
        let (part, count) = (Some(part), Some(count));
        return Some((Phrase { part, count, from: i, to, amount: true, ..named.clone() }, None));
    }
    let mut verb = None;
    let mut lead = i;
    while lead > start && i - lead < 4 && tight(lead) && verb.is_none() {
        lead -= 1;
        verb = verb_at(sheet, lead).or_else(|| sheet.is(lead, &["wanted"]).then_some(Verb::Ate));
    }
    let opens =
        !tight(i) || i == start || sheet.is(i - 1, &["just", "only"]) && (i - 1 == start || !tight(i - 1));
    let verb = verb.map(|v| if v == Verb::Took { Verb::Ate } else { v });
    if verb.is_none() && !opens || verb == Some(Verb::Hunted) {
        return None;
    }
    let lasts = sheet.last_grams(i);
    // "thirty grams of it"
    if let Some(num) = sheet.num(i).filter(|n| !n.money && !n.minus)
        && sheet.has(i + 1, Cue::Grams)
        && tight(i + 1)
        && !lasts.is_empty()
        && lasts.iter().all(|l| num.value < l * 0.5)
    {
        let to = of_it(i + 1);
        return (ends(sheet, to) && named.part.is_none()).then(|| {
            (Phrase { grams: Some(num.value), count: None, from: i, to, amount: true, ..named.clone() }, verb)
        });
    }
    if let Some((count, at)) = amount(sheet, i) {
        // "two wings"
        if let Some(part) = sheet.part(at + 1).filter(|_| tight(at + 1) && ends(sheet, at + 1)) {
            let (part, count) = (Some(part), Some(count));
            return Some((Phrase { part, count, from: i, to: at + 1, amount: true, ..named.clone() }, verb));
        }
        let to = of_it(at);
        let told = ends(sheet, to) || meant_for(sheet, to + 1) || sheet.is(to + 1, &["each", "apiece"]);
        return told.then(|| {
            (Phrase { count: Some(count), from: i, to, amount: true, article: false, ..named.clone() }, verb)
        });
    }
    // "only the head", "just the one leg"
    let article = sheet.is(i, &["the", "a", "the one", "its"]);
    let at = i + 1 + usize::from(sheet.is(i + 1, &["one"]));
    let closes = ends(sheet, at) || meant_for(sheet, at + 1);
    let part = sheet.part(at).filter(|_| article && named.part.is_none() && closes)?;
    let plural = sheet.words(at).ends_with('s') || sheet.is(at, &["feet"]);
    let count = (!plural).then_some(1.0);
    Some((Phrase { part: Some(part), count, from: i, to: at, amount: true, ..named.clone() }, verb))
}

/// "Three chicks, two for Sedge, one for Rook": the whole was shared out, and goes as such.
pub(super) fn shared_out(sheet: &Sheet, out: &mut Vec<crate::draft::Draft>, first: usize) {
    let lean = |d: &crate::draft::Draft| {
        meant_for(sheet, d.to + 1) && !(d.from..=d.to).any(|k| sheet.food(k).is_some())
    };
    let food = |d: &crate::draft::Draft| match &d.value {
        note::Value::Food(f) => Some((f.item.clone(), f.count)),
        _ => None,
    };
    let mut k = first;
    while k < out.len() {
        let shares =
            out[k + 1..].iter().take_while(|d| lean(d) && food(d).map(|f| f.0) == food(&out[k]).map(|f| f.0));
        let counts: Vec<f64> = shares.filter_map(|d| food(d)?.1).collect();
        let all = food(&out[k]).and_then(|f| f.1);
        let whole =
            all.is_some_and(|all| counts.len() > 1 && (counts.iter().sum::<f64>() - all).abs() < 0.01);
        if whole && !meant_for(sheet, out[k].to + 1) {
            out.remove(k);
        } else {
            k += 1;
        }
    }
}

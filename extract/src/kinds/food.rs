//! What was given, eaten, offered, refused and left.

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::number::Form;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Food, GRAMS_PER_OUNCE, Outcome, Value};

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

/// The verb that governs a phrase.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Verb {
    Ate,
    Gave,
    Offered,
    Will,
    Refused,
    Left,
    Took,
    Hunted,
}

/// Finds the food.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let first = out.len();
    let mut last: Option<Phrase> = None;
    let mut i = 0;
    while i < sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            i += 1;
            continue;
        }
        if let Some(next) = leftover(sheet, i, out, first) {
            i = next;
            continue;
        }
        let Some(phrase) = phrase(sheet, i, last.as_ref()).or_else(|| same_again(sheet, i, last.as_ref()))
        else {
            i += 1;
            continue;
        };
        let next = phrase.to + 1;
        let verb = governing(sheet, &phrase);
        if keeps(sheet, &phrase, verb) {
            push(sheet, out, &phrase, verb);
            last = Some(phrase);
        }
        i = next;
    }
    settle(sheet, out, first);
}

/// "Sedge had a chick and Rook had two": the item is the one before.
fn same_again(sheet: &Sheet, i: usize, last: Option<&Phrase>) -> Option<Phrase> {
    let last = last
        .filter(|l| i > l.to && i - l.to < 12 && l.grams.is_none() && sheet.start_of_sentence(i) <= l.from)?;
    let count = sheet.num(i)?.count().filter(|c| *c <= 12.0)?;
    let ends = i + 1 >= sheet.len()
        || sheet.before(i + 1) != Break::None
        || sheet.any(i + 1, &[Cue::And, Cue::But, Cue::Today]);
    let led =
        i > 0 && sheet.before(i) == Break::None && sheet.is(i - 1, &["had", "ate", "got", "gets", "has"]);
    (ends && led && !sheet.num(i)?.fraction).then(|| Phrase {
        count: Some(count),
        from: i,
        to: i,
        amount: true,
        article: false,
        ..last.clone()
    })
}

/// The food that quarry becomes: "took a pheasant. She's had the head".
fn taken(sheet: &Sheet, i: usize) -> Option<Phrase> {
    let q = (i.saturating_sub(24)..i)
        .rev()
        .find(|k| sheet.quarry(*k).is_some() && sheet.owner[*k] == sheet.owner[i] && !sheet.dead[*k])?;
    let item = sheet.food(q)?;
    Some(Phrase { item, count: None, part: None, grams: None, from: q, to: q, amount: false, article: false })
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

fn adjective(sheet: &Sheet, k: usize) -> bool {
    sheet.is(
        k,
        &[
            "whole",
            "big",
            "small",
            "fat",
            "fresh",
            "nice",
            "large",
            "little",
            "frozen",
            "defrosted",
            "more",
            "decent",
            "fluffy",
            "yellow",
            "extra",
            "dead",
            "good",
            "raw",
            "lean",
            "plump",
            "full",
            "young",
            "adult",
            "wild",
            "warm",
            "skinned",
            "plucked",
            "single",
            "hot",
            "chopped",
            "minced",
            "diced",
            "tiny",
            "last",
            "other",
            "own",
            "cold",
            "farmed",
            "gutted",
            "cleaned",
            "de",
            "yolked",
            "white",
            "brown",
            "grey",
            "odd",
            "thawed",
            "casting",
            "same",
            "best",
            "juicy",
            "cut",
            "up",
            "medium",
            "first",
            "second",
            "third",
        ],
    )
}

/// Reads a food phrase that starts at `i`.
fn phrase(sheet: &Sheet, i: usize, last: Option<&Phrase>) -> Option<Phrase> {
    let tight = |k: usize| sheet.before(k) == Break::None && sheet.live(k) && !sheet.used[k];
    let mut k = i;
    let mut count = None;
    let mut grams = None;
    let (mut amount, mut article) = (false, false);
    if let Some(num) = sheet.num(i) {
        if num.money || num.minus {
            return None;
        }
        k += 1;
        amount = true;
        let ounces = sheet.has(k, Cue::Ounces) || sheet.has(k, Cue::Pounds);
        if tight(k) && (sheet.has(k, Cue::Grams) || ounces || sheet.has(k, Cue::Kilos)) {
            let scale = if sheet.has(k, Cue::Ounces) {
                GRAMS_PER_OUNCE
            } else if sheet.has(k, Cue::Pounds) {
                GRAMS_PER_OUNCE * 16.0
            } else if sheet.has(k, Cue::Kilos) {
                1000.0
            } else {
                1.0
            };
            grams = Some(num.amount() * scale);
            k += 1;
            // "60 grams, of beef" is not said; "an ounce of beef" is below.
        } else {
            count = Some(
                num.count()
                    .or_else(|| (num.amount() < 1.0).then(|| num.amount()))
                    .filter(|c| *c <= 40.0 && ((c * 4.0).fract() == 0.0 || num.fraction))
                    .map(|c| (c * 100.0).round() / 100.0)?,
            );
            if (num.fraction || num.form != Form::Plain) && tight(k) && sheet.is(k, &["a", "an", "the", "of"])
            {
                k += 1;
                if sheet.is(k, &["a", "an", "the", "her", "his"]) && tight(k) {
                    k += 1;
                }
            }
        }
        if tight(k) && sheet.is(k, &["of"]) {
            k += 1;
            if tight(k) && sheet.is(k, &["the", "a", "her", "his", "my"]) {
                k += 1;
            }
        }
    } else if sheet.is(i, &["a", "an", "another", "one"]) {
        k += 1;
        (count, amount, article) = (Some(1.0), true, true);
        // "an ounce and a half of quail"
        let half = sheet.is(k + 1, &["and"])
            && sheet.num(k + 2).is_some_and(|n| n.fraction)
            && sheet.is(k + 3, &["of"]);
        if tight(k) && half && sheet.any(k, &[Cue::Ounces, Cue::Pounds]) {
            let scale = if sheet.has(k, Cue::Ounces) { GRAMS_PER_OUNCE } else { GRAMS_PER_OUNCE * 16.0 };
            grams = Some(scale * (1.0 + sheet.num(k + 2).map_or(0.0, |n| n.value)));
            count = None;
            k += 4;
        } else if tight(k) && sheet.any(k, &[Cue::Ounces, Cue::Kilos]) && sheet.is(k + 1, &["of"]) {
            grams = Some(if sheet.has(k, Cue::Ounces) { GRAMS_PER_OUNCE } else { 1000.0 });
            count = None;
            k += 2;
        } else if tight(k)
            && sheet.is(
                k,
                &[
                    "few", "handful", "bit", "lump", "piece", "chunk", "strip", "scrap", "mouthful", "pile",
                    "load", "helping",
                ],
            )
        {
            count = None;
            k += 1;
            if sheet.is(k, &["of"]) && tight(k) {
                k += 1;
            }
        }
    } else if sheet.has(i, Cue::Slight) && sheet.words(i).ends_with(" of")
        || sheet.is(i, &["several", "few", "any"])
        || sheet.words(i) == "some"
        || sheet.words(i) == "lots of"
        || sheet.words(i) == "plenty of"
        || sheet.words(i) == "bit of"
    {
        k += 1;
        amount = true;
    } else if sheet.is(i, &["most"]) && sheet.is(i + 1, &["of"]) {
        k += 2;
        amount = true;
        if tight(k) && sheet.is(k, &["a", "an", "the", "her", "his"]) {
            k += 1;
        }
    } else if sheet.words(i) == "a bit" && sheet.is(i + 1, &["of"]) {
        k += 2;
        amount = true;
    } else if sheet.is(i, &["free", "tree"]) && sheet.food(i + 1).is_some() && sheet.atoms[i + 1].heard {
        // "free todets" for three tidbits
        k += 1;
        (count, amount) = (Some(3.0), true);
    } else if sheet.is(i, &["to"]) && i > 0 && sheet.has(i - 1, Cue::Refused) && sheet.food(i + 1).is_some() {
        // "refused to chick" for "refused a chick"
        k += 1;
        (count, amount) = (Some(if sheet.words(i + 1).ends_with('s') { 2.0 } else { 1.0 }), true);
    } else if sheet.is(i, &["the", "her", "his"]) {
        k += 1;
        article = true;
    } else if sheet.is(i, &["the one"]) {
        // "just the one starling"
        k += 1;
        (count, amount) = (Some(1.0), true);
    }
    let mut adjectives = 0;
    while adjectives < 3
        && k > i
        && tight(k)
        && (adjective(sheet, k) || sheet.has(k, Cue::Slight) && sheet.is(k, &["little"]))
        && sheet.food(k).is_none()
    {
        k += 1;
        adjectives += 1;
    }
    if k > i && !tight(k) {
        return None;
    }
    let mut part = None;
    let mut to;
    let item;
    if let Some(food) = sheet.food(k).filter(|_| sheet.live(k) && !sheet.used[k]) {
        item = food;
        to = k;
        let after = if sheet.is(to + 1, &["'s"]) && sheet.part(to + 2).is_some() { to + 2 } else { to + 1 };
        if let Some(p) = sheet
            .part(after)
            .filter(|_| sheet.live(after) && sheet.before(after) == Break::None && !back_home(sheet, after))
        {
            part = Some(p);
            to = after;
            // "breast of pheasant" is below; "chick leg meat" is not said.
        }
        if part.is_none() && sheet.before(to + 1) == Break::None {
            // "chick and a half"
            let half = sheet.is(to + 1, &["and"])
                && sheet.num(to + 2).is_some_and(|n| n.fraction)
                && sheet.before(to + 2) == Break::None
                && sheet.live(to + 2);
            let follows = sheet.food(to + 3).is_some()
                || sheet.is(to + 3, &["a", "an", "of"]) && sheet.before(to + 3) == Break::None
                || sheet.sign(to + 3).is_some() && sheet.before(to + 3) == Break::None;
            if half && !follows {
                count = Some(count.unwrap_or(1.0) + sheet.num(to + 2).map_or(0.0, |n| n.value));
                to += 2;
                amount = true;
            }
        }
    } else if let Some(p) = sheet.part(k).filter(|_| sheet.live(k) && !sheet.used[k] && !back_home(sheet, k))
    {
        // "leg of rabbit", "the head", "two legs"
        let mut f = k + 1;
        if sheet.is(f, &["of"]) && sheet.before(f) == Break::None {
            f += 1;
            if sheet.is(f, &["a", "an", "the", "that"]) {
                f += 1;
            }
        }
        if f > k + 1 && sheet.food(f).is_some() && sheet.before(f) == Break::None {
            item = sheet.food(f)?;
            to = f;
            part = Some(p);
            amount = amount || article;
            if article {
                count = Some(1.0);
            }
        } else {
            let told = last.filter(|l| k > i && same_owner(sheet, l.to, k) && k - l.to < 40).cloned();
            let last = told.or_else(|| {
                taken(sheet, i).filter(|_| {
                    k > i && (i.saturating_sub(3)..i).any(|m| sheet.any(m, &[Cue::Ate, Cue::Gave]))
                })
            })?;
            if !part_of_meal(sheet, i, k, &last) {
                return None;
            }
            item = last.item;
            part = Some(p);
            to = k;
            if article {
                let plural = sheet.words(k).ends_with('s') || sheet.is(k, &["feet"]);
                count = if plural { None } else { Some(1.0) };
            }
            amount = true;
        }
    } else {
        return None;
    }
    // "the head of a chick" has count 1; "the chick leg" and "pigeon wing" too.
    if part.is_some()
        && count.is_none()
        && grams.is_none()
        && !sheet.words(to).ends_with('s')
        && !sheet.is(to, &["feet"])
        && !(k > i && !article)
    {
        count = Some(1.0);
        amount = true;
    }
    if article
        && sheet.is(i, &["a", "an", "another", "one"])
        && part.is_none()
        && grams.is_none()
        && count == Some(1.0)
        && uncounted(sheet, item)
    {
        count = None;
    }
    // "chick legs, three of them"
    if count.is_none()
        && grams.is_none()
        && sheet.words(to).ends_with('s')
        && sheet.before(to + 1) == Break::Comma
        && let Some(c) = sheet.num(to + 1).and_then(crate::number::Num::count).filter(|c| *c <= 20.0)
        && sheet.is(to + 2, &["of"])
        && sheet.is(to + 3, &["them"])
    {
        (count, amount) = (Some(c), true);
        to += 3;
    }
    // "venison, 60 grams"
    if grams.is_none() && count.is_none() && sheet.before(to + 1) != Break::Stop {
        let g = to + 1;
        if let Some(n) = sheet.num(g).filter(|_| {
            sheet.live(g)
                && !sheet.used[g]
                && sheet.has(g + 1, Cue::Grams)
                && sheet.before(g + 1) == Break::None
        }) {
            let lasts = sheet.last_grams(g);
            if lasts.iter().all(|l| n.value < l * 0.5)
                && !lasts.is_empty()
                && !(sheet.is(g + 2, &["of"])
                    || sheet.food(g + 2).is_some() && sheet.before(g + 2) == Break::None)
            {
                grams = Some(n.value);
                to = g + 1;
                amount = true;
            }
        }
    }
    Some(Phrase { item, count, part, grams, from: i, to, amount, article })
}

/// "back", "head", "foot" and the like where they are no food.
fn back_home(sheet: &Sheet, k: usize) -> bool {
    let hamper = k > 0
        && sheet.food(k - 1).is_some()
        && sheet.is(k + 1, &["in"])
        && sheet.is(k + 2, &["a", "an"])
        && sheet.food(k + 3).is_some();
    !hamper
        && sheet.is(k, &["back"])
        && sheet.before(k + 1) == Break::None
        && (sheet.is(
            k + 1,
            &["to", "home", "in", "on", "at", "from", "off", "into", "up", "out", "again", "down"],
        ))
}

fn uncounted(sheet: &Sheet, item: u16) -> bool {
    matches!(
        sheet.lexicon.foods()[usize::from(item)].name.as_str(),
        "beef" | "venison" | "washed meat" | "rangle" | "meat"
    )
}

fn same_owner(sheet: &Sheet, a: usize, b: usize) -> bool {
    sheet.owner[a] == sheet.owner[b]
}

/// Whether a lone part ("the head") goes with a meal that is being told.
fn part_of_meal(sheet: &Sheet, i: usize, k: usize, last: &Phrase) -> bool {
    if sheet.is(k, &["back"]) {
        return false;
    }
    let listed = (last.to + 1..i).all(|m| sheet.any(m, &[Cue::And]) || sheet.dead[m])
        && sheet.before(i) != Break::Stop;
    let verb = (i.saturating_sub(4)..i).any(|m| {
        sheet.any(m, &[Cue::Ate, Cue::Left, Cue::Refused, Cue::Gave, Cue::Offered])
            && !sheet.is(m, &["on", "for", "into", "just", "only", "got", "down", "having"])
            && (m + 1..=i).all(|x| sheet.before(x) != Break::Stop)
    });
    let body = sheet.damage(k + 1)
        || sheet.is(k + 1, &["is", "'s", "looks", "was", "are"])
        || i > 0 && sheet.damage(i);
    (listed || verb) && !body
}

/// The verb that the phrase hangs on.
fn governing(sheet: &Sheet, phrase: &Phrase) -> Option<Verb> {
    // After it: "two chicks left", "a quail for later", "a hamster refused".
    let next = phrase.to + 1;
    if sheet.before(next) == Break::None && next < sheet.len() && !sheet.dead[next] {
        let ends = next + 1 >= sheet.len()
            || sheet.before(next + 1) != Break::None
            || sheet.any(next + 1, &[Cue::And, Cue::But]);
        if sheet.has(next, Cue::Left)
            && ends
            && sheet.is(next, &["left", "uneaten", "leftover", "untouched", "remaining"])
            || sheet.words(next) == "left over"
        {
            return Some(Verb::Left);
        }
        if matches!(sheet.words(next), "went down" | "gone down" | "eaten") {
            return Some(Verb::Ate);
        }
        if sheet.has(next, Cue::Refused) && ends && sheet.is(next, &["refused", "declined", "rejected"]) {
            return Some(Verb::Refused);
        }
        if sheet.has(next, Cue::Offered) && ends && sheet.is(next, &["offered"]) {
            return Some(Verb::Offered);
        }
        if sheet.has(next, Cue::Will) && sheet.is(next, &["later", "planned", "tonight"])
            || sheet.words(next) == "to follow"
            || sheet.words(next) == "for later"
            || sheet.words(next) == "for tonight"
            || sheet.words(next) == "to come"
            || sheet.words(next) == "lined up"
            || sheet.words(next) == "waiting for her"
            || sheet.words(next) == "set aside"
            || sheet.words(next) == "for tomorrow"
        {
            return Some(Verb::Will);
        }
        // "two chicks she's going to get later": read from the front.
    }
    let start = sheet.start_of_sentence(phrase.from);
    let floor = start.max(phrase.from.saturating_sub(22));
    let mut k = phrase.from;
    while k > floor {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        if sheet.bird(k).is_some()
            && (sheet.owner[k] != sheet.owner[phrase.to] || sheet.before(k) != Break::None)
        {
            return None;
        }
        if let Some(verb) = verb_at(sheet, k) {
            return Some(verb);
        }
        // A bird's weight stands between: "missed a pheasant, 936, two chicks".
        if sheet.num(k).is_some_and(|n| n.value >= 40.0 && crate::mass::near_any(n, &sheet.last_grams(k)))
            && !sheet.any(k + 1, &[Cue::Grams, Cue::Ounces])
        {
            return None;
        }
        // A new clause with its own subject stands between.
        if sheet.is(k, &["he", "she", "i", "we", "they", "it"]) || sheet.words(k) == "i was" {
            return None;
        }
        // Another statement stands between: a weight, a sign, a behaviour.
        if (sheet.sign(k).is_some() || sheet.behaviour(k).is_some())
            && sheet.before(k + 1) != Break::None
            && sheet.food(k).is_none()
        {
            return None;
        }
    }
    None
}

fn verb_at(sheet: &Sheet, k: usize) -> Option<Verb> {
    let denied = |k: usize| {
        (k.saturating_sub(3)..k).any(|m| {
            sheet.is(m, &["n't", "not", "never", "wouldn't", "didn't"])
                && !sheet.dead[m]
                && (m + 1..=k).all(|x| sheet.before(x) == Break::None)
        })
    };
    if sheet.has(k, Cue::Refused) {
        return Some(Verb::Refused);
    }
    if sheet.has(k, Cue::Left) {
        let body = sheet.is(
            k + 1,
            &["foot", "wing", "leg", "talon", "eye", "side", "hand", "toe", "glove", "arm", "tail"],
        ) && sheet.before(k + 1) == Break::None
            || sheet.sign(k + 1).is_some();
        return (!body).then_some(Verb::Left);
    }
    if sheet.words(k).ends_with("'ll") {
        return Some(Verb::Will);
    }
    if sheet.has(k, Cue::Will) {
        // "later" in front of its food says nothing about it.
        if sheet.is(k, &["later", "planned", "due", "wants", "gets", "saving", "to"]) {
            return sheet.is(k, &["gets"]).then_some(Verb::Gave);
        }
        return Some(Verb::Will);
    }
    if sheet.has(k, Cue::Offered) {
        return Some(Verb::Offered);
    }
    if sheet.any(k, &[Cue::Missed, Cue::Chased])
        && !sheet.any(k, &[Cue::Ate])
        && !sheet.is(k, &["after", "put", "close", "followed", "missing"])
    {
        return Some(Verb::Hunted);
    }
    if sheet.has(k, Cue::Ate) {
        return Some(if denied(k) && !sheet.is(k, &["put", "down"]) { Verb::Refused } else { Verb::Ate });
    }
    if sheet.has(k, Cue::Took) && !sheet.is(k, &["got", "in", "hit"]) {
        return Some(Verb::Took);
    }
    if sheet.has(k, Cue::Gave) && !sheet.is(k, &["for", "on", "into", "just", "only"]) {
        return Some(Verb::Gave);
    }
    None
}

/// Whether the phrase tells of feeding at all.
fn keeps(sheet: &Sheet, phrase: &Phrase, verb: Option<Verb>) -> bool {
    let name = sheet.lexicon.foods()[usize::from(phrase.item)].name.as_str();
    let chick = matches!(
        name,
        "day-old chick"
            | "tidbit"
            | "washed meat"
            | "rangle"
            | "meat"
            | "beef"
            | "venison"
            | "gerbil"
            | "hamster"
            | "turkey"
    );
    let p = phrase.from.checked_sub(1).filter(|p| sheet.before(p + 1) == Break::None && !sheet.dead[*p]);
    // "quiet as a mouse"
    if phrase.article
        && phrase.from > 0
        && sheet.before(phrase.from) == Break::None
        && sheet.is(phrase.from - 1, &["as", "like"])
    {
        return false;
    }
    // "saw a rabbit", "flushed six ducks", "plenty of meat on her": nothing was eaten.
    let whole_beast = phrase.part.is_none() && phrase.grams.is_none() && sheet.quarry(phrase.to).is_some();
    let seen = |k: usize| {
        sheet.is(
            k,
            &[
                "saw",
                "seen",
                "see",
                "spotted",
                "noticed",
                "watched",
                "flushed",
                "disturbed",
                "kicked",
                "passed",
                "found",
                "jumped",
                "bumped",
                "heard",
                "heading",
                "running",
                "sitting",
                "sat",
                "flew",
                "went",
            ],
        ) || sheet.any(k, &[Cue::Chased])
    };
    let floor = sheet.start_of_sentence(phrase.from).max(phrase.from.saturating_sub(4));
    if whole_beast
        && !matches!(verb, Some(Verb::Ate | Verb::Gave | Verb::Offered | Verb::Refused | Verb::Left))
        && (floor..phrase.from).rev().take_while(|k| sheet.before(k + 1) == Break::None).any(seen)
    {
        return false;
    }
    if sheet.is(phrase.to + 1, &["on"])
        && sheet.any(phrase.to + 2, &[Cue::Her, Cue::He, Cue::She])
        && name == "meat"
        && sheet.before(phrase.to + 1) == Break::None
    {
        return false;
    }
    // "no chicks", "without meat"
    if p.is_some_and(|p| {
        sheet.any(p, &[Cue::Neg]) && !sheet.is(p, &["stopped", "less"]) && sheet.sign(p).is_none()
    }) && verb != Some(Verb::Refused)
    {
        return false;
    }
    // "there was a mouse in the pantry", "a chicken sandwich", "I had a chicken"
    if p.is_some_and(|p| sheet.any(p, &[Cue::Be]) && p > 0 && sheet.is(p - 1, &["there"])) {
        return false;
    }
    const DISHES: [&str; 24] = [
        "sandwich",
        "sandwiches",
        "soup",
        "pie",
        "curry",
        "burger",
        "farm",
        "shed",
        "house",
        "run",
        "wire",
        "coop",
        "hutch",
        "trap",
        "feeder",
        "pond",
        "pen",
        "poison",
        "shoot",
        "season",
        "stew",
        "casserole",
        "roast",
        "dinner",
    ];
    if sheet.before(phrase.to + 1) == Break::None && DISHES.contains(&sheet.word(phrase.to + 1)) {
        return false;
    }
    if p.is_some_and(|p| {
        sheet.any(p, &[Cue::Ate])
            && p > 0
            && sheet.before(p) == Break::None
            && sheet.is(p - 1, &["i", "we", "you"])
    }) {
        return false;
    }
    // "entered on rabbits", "distracted by a hare", "went up for a duck"
    if p.is_some_and(|p| {
        sheet.is(
            p,
            &[
                "on", "by", "at", "after", "of", "like", "than", "towards", "over", "near", "behind", "from",
                "about",
            ],
        )
    }) && phrase.part.is_none()
        && phrase.grams.is_none()
        && !(sheet.is(phrase.from.saturating_sub(1), &["on", "of", "from"]) && verb == Some(Verb::Gave))
        && !(chick && phrase.amount)
    {
        return false;
    }
    // Supplies: "ordered two hundred chicks".
    let start = sheet.start_of_sentence(phrase.from).max(phrase.from.saturating_sub(10));
    let stock = (start..sheet.end_of_sentence(phrase.to).min(phrase.to + 7)).any(|k| {
        sheet.is(
            k,
            &[
                "order",
                "ordered",
                "ordering",
                "freezer",
                "delivery",
                "delivered",
                "box",
                "boxes",
                "bag",
                "bags",
                "supplier",
                "buy",
                "bought",
                "price",
                "stock",
                "cost",
                "hatchery",
                "shop",
                "collect",
                "collected",
                "pay",
                "paid",
                "cheap",
                "expensive",
                "sell",
            ],
        ) || sheet.words(k) == "run out"
            || sheet.words(k) == "running low"
    });
    if stock && phrase.part.is_none() && phrase.grams.is_none() {
        return false;
    }
    if phrase.count.is_some_and(|c| c > 40.0) {
        return false;
    }
    // "jumped a jackrabbit and missed"
    let whole =
        phrase.part.is_none() && phrase.grams.is_none() && phrase.count.is_none_or(|c| c.fract() == 0.0);
    if verb.is_none()
        && whole
        && sheet.quarry(phrase.to).is_some()
        && super::quarry::outcome(sheet, phrase.to, phrase.from).is_some()
    {
        return false;
    }
    match verb {
        Some(Verb::Hunted) => return phrase.part.is_some() || phrase.grams.is_some(),
        Some(Verb::Took) => {
            let quarry = sheet.quarry(phrase.to).is_some()
                && phrase.part.is_none()
                && phrase.grams.is_none()
                && phrase.count.is_none_or(|c| c.fract() == 0.0);
            if quarry {
                return false;
            }
        }
        _ => {}
    }
    let governed = verb.is_some() && {
        // Close enough to hang on the verb without an amount: "refused rabbit", "gave her quail".
        let floor = phrase.from.saturating_sub(4);
        (floor..phrase.from).any(|k| {
            verb_at(sheet, k).is_some()
                || sheet.any(k, &[Cue::Gave, Cue::Ate])
                    && !sheet.is(k, &["for", "on", "just", "only", "into"])
        }) || listed(sheet, phrase)
    };
    if !phrase.amount && phrase.part.is_none() && !governed {
        // "Rangle, washed meat": foods that are nothing else may stand alone.
        let alone = sheet.before(phrase.from) != Break::None && sheet.before(phrase.to + 1) != Break::None;
        let sole = sheet.is(phrase.from, &["rangle"])
            || matches!(name, "washed meat" | "rangle" | "beef" | "venison");
        return alone && sole
            || alone
                && sheet.food(phrase.from).is_some()
                && !sheet.words(phrase.to).ends_with('s')
                && meal_before(sheet, phrase)
            || sheet.num(phrase.to).is_some();
    }
    if phrase.article && !phrase.amount && phrase.part.is_none() {
        return verb.is_some_and(|v| {
            matches!(v, Verb::Refused | Verb::Offered | Verb::Ate | Verb::Left | Verb::Gave)
        }) && governed;
    }
    true
}

fn listed(sheet: &Sheet, phrase: &Phrase) -> bool {
    phrase.from >= 2
        && sheet.any(phrase.from - 1, &[Cue::And])
        && sheet.used[phrase.from - 2]
        && (sheet.food(phrase.from - 2).is_some() || sheet.part(phrase.from - 2).is_some())
}

fn meal_before(sheet: &Sheet, phrase: &Phrase) -> bool {
    phrase.from > 0 && sheet.used[phrase.from - 1] && sheet.food(phrase.from - 1).is_some()
}

/// "left one", "left half of it", "refused it": words that lean on the food before.
fn leftover(sheet: &mut Sheet, i: usize, out: &mut Vec<Draft>, first: usize) -> Option<usize> {
    if let Some(next) = spurned(sheet, i, out, first) {
        return Some(next);
    }
    let left = sheet.has(i, Cue::Left) && !sheet.is(i, &["dropped"]);
    let refused = sheet.has(i, Cue::Refused);
    let ate = sheet.has(i, Cue::Ate) && !sheet.is(i, &["had", "having"]);
    if !left && !refused && !ate {
        return None;
    }
    let last = (first..out.len())
        .rev()
        .find(|k| sheet.owner[out[*k].head] == sheet.owner[i] && i > out[*k].to && i - out[*k].to < 16)?;
    let mut k = i + 1;
    if sheet.before(k) != Break::None {
        return None;
    }
    if sheet.is(k, &["about", "the", "just", "only", "all", "but"])
        && !(sheet.is(k, &["the"]) && sheet.part(k + 1).is_some())
    {
        k += 1;
    }
    let Value::Food(given) = out[last].value.clone() else { return None };
    let plain_count = |k: usize| sheet.num(k).and_then(crate::number::Num::count).filter(|c| *c <= 20.0);
    let one = sheet.is(k, &["one"]).then_some(1.0);
    // "left fifteen grams of it"
    let heavy = sheet.num(k).map(|n| n.value).filter(|_| {
        sheet.any(k + 1, &[Cue::Grams, Cue::Ounces]) && sheet.before(k + 1) == Break::None && left
    });
    if let (Some(value), Some(all)) = (heavy, given.grams) {
        let rest =
            crate::mass::tenth(value * if sheet.has(k + 1, Cue::Ounces) { GRAMS_PER_OUNCE } else { 1.0 });
        let mut to = k + 1;
        let of = usize::from(sheet.is(to + 1, &["of"]) && sheet.before(to + 1) == Break::None);
        let the = of + usize::from(of == 1 && sheet.is(to + 1 + of, &["the", "her", "his", "that"]));
        if sheet.food(to + 1 + the).is_some() && sheet.before(to + 1 + the) == Break::None {
            return None;
        }
        if sheet.is(to + 1, &["of"]) && sheet.has(to + 2, Cue::It) {
            to += 2;
        }
        if rest < all {
            out[last].value =
                Value::Food(Food { grams: Some(crate::mass::tenth(all - rest)), ..given.clone() });
        }
        let food = Food { grams: Some(rest), outcome: Outcome::Left, ..given };
        out.push(Draft::new(sheet, Value::Food(food), i, to, 0.9).at(i));
        sheet.take(i, to);
        return Some(to + 1);
    }
    if let Some(count) = plain_count(k).or(one) {
        let mut to = k;
        let of_it = sheet.is(k + 1, &["of"]) && sheet.is(k + 2, &["it", "them", "that", "those"])
            || sheet.words(k + 1) == "of it"
            || sheet.is(k + 1, &["it", "that"])
            || sheet.is(k + 1, &["of"]) && sheet.has(k + 2, Cue::It);
        if of_it && sheet.before(k + 1) == Break::None {
            to = if sheet.is(k + 1, &["it", "that"]) { k + 1 } else { k + 2 };
        } else if sheet.before(k + 1) == Break::None
            && k + 1 < sheet.len()
            && !sheet.any(k + 1, &[Cue::And, Cue::But, Cue::Today, Cue::On])
            && !sheet.is(k + 1, &["though", "in", "under", "by", "over", "of"])
            && (sheet.content(k + 1)
                || sheet.is(k + 1, &["a", "an", "of", "past"])
                || sheet.any(k + 1, &[Cue::Grams, Cue::Ounces, Cue::Flight, Cue::Metres]))
        {
            return None;
        }
        let fraction = sheet.num(k).is_some_and(|n| n.fraction);
        let count = if fraction { count * given.count.unwrap_or(1.0).min(1.0) } else { count };
        let outcome = if left {
            Outcome::Left
        } else if refused {
            Outcome::Refused
        } else {
            Outcome::Eaten
        };
        if ate {
            // "offered her a quail, ate half": what was eaten counts.
            if matches!(given.outcome, Outcome::Offered | Outcome::Eaten) {
                out[last].value = Value::Food(Food { count: Some(count), outcome: Outcome::Eaten, ..given });
                out[last].to = out[last].to.max(to);
                sheet.take(i, to);
                return Some(to + 1);
            }
            return None;
        }
        if given.grams.is_some() && given.count.is_none() {
            return None;
        }
        let food = Food { count: Some(count), outcome, grams: None, ..given };
        let draft = Draft::new(sheet, Value::Food(food), i, to, 0.93).at(i);
        out.push(draft);
        sheet.take(i, to);
        return Some(to + 1);
    }
    let whole = sheet.is(k, &["it", "them", "that", "both", "lot", "most", "everything"]);
    if whole && (refused || ate) && matches!(given.outcome, Outcome::Offered | Outcome::Eaten) {
        let outcome = if refused { Outcome::Refused } else { Outcome::Eaten };
        if refused || given.outcome == Outcome::Offered && !out[last].planned {
            out[last].value = Value::Food(Food { outcome, ..given });
            out[last].to = out[last].to.max(k);
            sheet.take(i, k);
            return Some(k + 1);
        }
    }
    None
}

/// "offered her a rat pup, not interested": what was offered right before was refused.
fn spurned(sheet: &mut Sheet, i: usize, out: &mut [Draft], first: usize) -> Option<usize> {
    let words = matches!(
        sheet.words(i),
        "not interested"
            | "wasn't interested"
            | "no interest"
            | "nothing doing"
            | "not having it"
            | "wasn't having it"
            | "didn't want to know"
            | "showed no interest"
            | "not bothered"
            | "wasn't bothered"
    );
    let last = out.len().checked_sub(1).filter(|k| *k >= first && words)?;
    let ends = i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None || sheet.has(i + 1, Cue::But);
    let beside = i - out[last].to <= 5
        && (out[last].to + 1..=i).all(|k| sheet.before(k) != Break::Stop)
        && (out[last].to + 1..i).all(|k| sheet.any(k, &[Cue::But, Cue::And, Cue::He, Cue::She, Cue::Be]));
    let Value::Food(food) = out[last].value.clone() else { return None };
    if !ends || !beside || food.outcome != Outcome::Offered || out[last].planned {
        return None;
    }
    out[last].value = Value::Food(Food { outcome: Outcome::Refused, ..food });
    out[last].to = i;
    sheet.take(i, i);
    Some(i + 1)
}

/// The left amount names its food: one that leans on the food before is already taken off.
fn named_left(sheet: &Sheet, left: &Draft) -> bool {
    (left.from..=left.to).any(|k| sheet.food(k).is_some())
}

/// What was eaten is what was given less what was left or refused of the same.
fn settle(sheet: &Sheet, out: &mut Vec<Draft>, first: usize) {
    let mut gone = Vec::new();
    for k in first..out.len() {
        let Value::Food(left) = out[k].value.clone() else { continue };
        let heavy = left.count.is_none() && left.grams.is_some() && left.outcome == Outcome::Left;
        if !matches!(left.outcome, Outcome::Left | Outcome::Refused) || left.count.is_none() && !heavy {
            continue;
        }
        let lean = !(out[k].from..=out[k].to).any(|m| sheet.food(m).is_some());
        let given = (k.saturating_sub(6).max(first)..k).rev().find(|g| {
            let Value::Food(f) = &out[*g].value else { return false };
            f.item == left.item
                && f.part == left.part
                && f.outcome == Outcome::Eaten
                && sheet.owner[out[*g].head] == sheet.owner[out[k].head]
                && sheet.when[out[*g].head] == sheet.when[out[k].head]
        });
        let Some(g) = given else { continue };
        let Value::Food(food) = out[g].value.clone() else { continue };
        let mut left = left;
        // "twenty grams of rabbit … left five of the rabbit": grams again.
        if let (None, Some(all), Some(rest), Outcome::Left) =
            (food.count, food.grams, left.count, left.outcome)
            && rest > 1.0
            && rest < all
            && left.grams.is_none()
        {
            left = Food { count: None, grams: Some(rest), ..left };
            out[k].value = Value::Food(left.clone());
        }
        let heavy = left.count.is_none();
        let said_eaten = (out[g].from.saturating_sub(4)..out[g].from)
            .any(|m| sheet.has(m, Cue::Ate) && !sheet.is(m, &["had"]) && sheet.before(m + 1) == Break::None);
        if left.outcome == Outcome::Refused && !lean || said_eaten {
            continue;
        }
        if let (true, Some(all), Some(rest)) = (heavy && named_left(sheet, &out[k]), food.grams, left.grams) {
            if rest < all {
                out[g].value = Value::Food(Food { grams: Some(crate::mass::tenth(all - rest)), ..food });
            }
        } else if let (Some(all), Some(rest)) = (food.count, left.count) {
            let eaten = all - rest;
            if eaten > 0.0 {
                out[g].value = Value::Food(Food { count: Some(eaten), ..food });
                out[g].to = out[g].to.max(out[g].from);
            } else if eaten == 0.0 {
                gone.push(g);
            }
        }
    }
    gone.sort_unstable();
    for g in gone.into_iter().rev() {
        out.remove(g);
    }
}

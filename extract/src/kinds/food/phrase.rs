//! Phrases that name food: how many, how much, which part of what.

use super::Phrase;
use crate::lexicon::Cue;
use crate::number::Form;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::GRAMS_PER_OUNCE;

/// The food that quarry becomes: "took a pheasant. She's had the head".
fn taken(sheet: &Sheet, i: usize) -> Option<Phrase> {
    // "a cock pheasant" names the quarry alone.
    let item = |k: usize| {
        let quarry = sheet.quarry(k)?;
        sheet.food(k).or_else(|| {
            let species = sheet.lexicon.quarry()[usize::from(quarry)].item_word();
            let at = sheet.lexicon.foods().iter().position(|f| f.name == species)?;
            u16::try_from(at).ok()
        })
    };
    let q = (i.saturating_sub(24)..i)
        .rev()
        .find(|k| sheet.owner[*k] == sheet.owner[i] && !sheet.dead[*k] && item(*k).is_some())?;
    let item = item(q)?;
    Some(Phrase { item, count: None, part: None, grams: None, from: q, to: q, amount: false, article: false })
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
            "headless",
            "skinless",
            "mixed",
            "assorted",
            "leftover",
            "jumbo",
            "fluffless",
            "rinsed",
            "soaked",
            "bony",
            "meaty",
            "first",
            "second",
            "third",
        ],
    )
}

/// Reads a food phrase that starts at `i`.
pub(super) fn phrase(sheet: &Sheet, i: usize, last: Option<&Phrase>) -> Option<Phrase> {
    let tight = |k: usize| sheet.before(k) == Break::None && sheet.live(k) && !sheet.used[k];
    let mut k = i;
    let mut count = None;
    let mut grams = None;
    let (mut amount, mut article, mut of) = (false, false, false);
    if let Some(num) = sheet.num(i) {
        if num.money || num.minus {
            return None;
        }
        k += 1;
        amount = true;
        // "half an ounce of beef"
        let part = num.fraction
            && sheet.is(k, &["a", "an"])
            && tight(k)
            && tight(k + 1)
            && sheet.any(k + 1, &[Cue::Ounces, Cue::Pounds, Cue::Kilos]);
        // "a quarter of an ounce of quail"
        let of_one = num.fraction
            && sheet.is(k, &["of"])
            && sheet.is(k + 1, &["a", "an"])
            && (k..k + 3).all(tight)
            && sheet.any(k + 2, &[Cue::Ounces, Cue::Pounds, Cue::Kilos]);
        k += usize::from(part) + 2 * usize::from(of_one);
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
            if (num.fraction || num.form != Form::Plain)
                && tight(k)
                && sheet.is(k, &["a", "an", "the", "of", "her", "his"])
            {
                k += 1;
                if sheet.is(k, &["a", "an", "the", "her", "his"]) && tight(k) {
                    k += 1;
                }
            }
        }
        // "three pieces of rangle"
        let pieces = count.is_some_and(|c| c >= 1.0)
            && tight(k)
            && sheet.is(k + 1, &["of"])
            && sheet.is(
                k,
                &[
                    "pieces",
                    "piece",
                    "bits",
                    "lumps",
                    "strips",
                    "chunks",
                    "cubes",
                    "slices",
                    "slivers",
                    "stones",
                    "scraps",
                    "mouthfuls",
                    "bites",
                ],
            );
        k += usize::from(pieces);
        if tight(k) && sheet.is(k, &["of"]) {
            k += 1;
            of = true;
            if tight(k) && sheet.is(k, &["the", "a", "her", "his", "my"]) {
                k += 1;
                // "ate two of her three chicks"
                k += usize::from(tight(k) && sheet.num(k).is_some() && sheet.food(k + 1).is_some());
            }
        }
    } else if (sheet.any(i, &[Cue::Ounces, Cue::Pounds])) && sheet.is(i + 1, &["of"]) && tight(i + 1) {
        // "ounce of beef"
        grams = Some(if sheet.has(i, Cue::Ounces) { GRAMS_PER_OUNCE } else { GRAMS_PER_OUNCE * 16.0 });
        amount = true;
        k += 2;
    } else if sheet.any(i, &[Cue::Ounces, Cue::Pounds])
        && sheet.is(i + 1, &["and"])
        && (i + 1..i + 4).all(tight)
        && !(i > 0
            && sheet.before(i) == Break::None
            && (sheet.num(i - 1).is_some() || sheet.is(i - 1, &["a", "an"])))
        && let Some(to) = (i + 2..i + 4).find(|m| sheet.num(*m).is_some_and(|n| n.fraction))
        && sheet.is(to + 1, &["of"])
    {
        // "ounce and a half of beef"
        let scale = if sheet.has(i, Cue::Ounces) { GRAMS_PER_OUNCE } else { GRAMS_PER_OUNCE * 16.0 };
        grams = Some(scale * (1.0 + sheet.num(to).map_or(0.0, |n| n.value)));
        amount = true;
        k = to + 2;
    } else if sheet.is(i, &["whole"]) && sheet.food(i + 1).is_some() && !sheet.words(i + 1).ends_with('s') {
        // "whole quail after"
        (count, amount) = (Some(1.0), true);
        k += 1;
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
                    "load", "helping", "sliver", "slice", "shred", "morsel", "nibble", "taste",
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
        || sheet.is(i, &["bits", "pieces", "slivers", "strips", "scraps", "shreds", "slices"])
            && sheet.is(i + 1, &["of"])
            && tight(i + 1)
        || sheet.words(i) == "plenty of"
        || sheet.words(i) == "bit of"
        || matches!(sheet.words(i), "a little" | "little")
            && sheet.food(i + 1).is_some_and(|f| uncounted(sheet, f))
    {
        k += 1 + usize::from(sheet.is(i + 1, &["of"]));
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
        // "ate her whole mouse"
        let whole = sheet.is(i + 1, &["whole"]) && sheet.food(i + 2).is_some();
        if whole && !sheet.words(i + 2).ends_with('s') {
            (count, amount) = (Some(1.0), true);
        }
    } else if sheet.is(i, &["both"]) && sheet.food(i + 1).is_some() && sheet.words(i + 1).ends_with('s') {
        // "ate both chicks"
        k += 1;
        (count, amount) = (Some(2.0), true);
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
            let and = sheet.is(to + 1, &["and"]) || sheet.is(to + 1, &["on", "in"]) && sheet.atoms[to].heard;
            let half = and
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
        // "leg of rabbit", "the head", "two legs", "a leg off it"
        let mut f = k + 1;
        // "the head and neck of a partridge", "two wings and a neck off a pigeon"
        let article_too = usize::from(sheet.is(f + 1, &["a", "an", "the"]));
        let second = f + 1 + article_too;
        if sheet.is(f, &["and"])
            && tight(f)
            && sheet.part(second).is_some()
            && sheet.is(second + 1, &["of", "off", "from"])
            && (f + 1..second + 2).all(|m| sheet.before(m) == Break::None)
        {
            f = second + 1;
        }
        if sheet.is(f, &["of", "off", "from"])
            && sheet.before(f) == Break::None
            && (sheet.is(f, &["of"]) || sheet.is(f + 1, &["a", "an", "the", "that"]))
        {
            f += 1;
            if sheet.is(f, &["a", "an", "the", "that"]) {
                f += 1;
            }
        }
        if f > k + 1 && sheet.food(f).is_some() && sheet.before(f) == Break::None {
            item = sheet.food(f)?;
            // The parts between are read on their own.
            to = if sheet.is(k + 1, &["and"]) { k } else { f };
            part = Some(p);
            amount = amount || article;
            if article {
                count = Some(1.0);
            }
        } else {
            // "gave her the heart and liver": the article stands for both.
            let shared = k == i
                && i > 1
                && sheet.is(i - 1, &["and"])
                && sheet.before(i) == Break::None
                && last.is_some_and(|l| l.part.is_some() && l.to + 2 == i);
            article |= shared;
            let told =
                last.filter(|l| (k > i || shared) && same_owner(sheet, l.to, k) && k - l.to < 40).cloned();
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
    // "left his mouse", "ate her quail"
    let own = article
        && sheet.is(i, &["her", "his"])
        && i > 0
        && sheet.before(i) == Break::None
        && sheet.any(i - 1, &[Cue::Ate, Cue::Left])
        && k == i + 1
        && !sheet.words(to).ends_with('s')
        && !uncounted(sheet, item);
    if own && count.is_none() && grams.is_none() && part.is_none() {
        (count, amount) = (Some(1.0), true);
    }
    // "forty of rabbit": grams, where nobody counts so many.
    if of
        && grams.is_none()
        && part.is_none()
        && count.is_some_and(|c| c >= 8.0)
        && !sheet.words(to).ends_with('s')
    {
        (grams, count) = (count, None);
    }
    // "a chick apiece", "chick each"
    if count.is_none()
        && grams.is_none()
        && !sheet.words(to).ends_with('s')
        && sheet.before(to + 1) == Break::None
        && sheet.is(to + 1, &["each", "apiece"])
    {
        (count, amount) = (Some(1.0), true);
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
    // "rangle, five stones"
    if count.is_none()
        && grams.is_none()
        && sheet.before(to + 1) == Break::Comma
        && sheet.is(to + 2, &["stones", "pieces", "bits"])
        && let Some(c) = sheet.num(to + 1).and_then(crate::number::Num::count)
    {
        (count, amount) = (Some(c), true);
        to += 2;
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
        && sheet.is(k + 1, &["in", "on"])
        && sheet.is(k + 2, &["a", "an"])
        && sheet.food(k + 3).is_some();
    // "three chicks down her neck": where they went.
    let gullet = k > 1
        && sheet.is(k, &["neck"])
        && sheet.any(k - 1, &[Cue::His, Cue::Her])
        && sheet.ends(k - 2, &["down", "in"]);
    gullet
        || !hamper
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
    // "had a chick and then just a head"
    let listed = (last.to + 1..i).all(|m| {
        sheet.any(m, &[Cue::And])
            || sheet.dead[m]
            || sheet.is(m, &["then", "just", "only", "and then"]) && m > last.to + 1
    }) && sheet.before(i) != Break::Stop;
    let verb = (i.saturating_sub(4)..i).any(|m| {
        sheet.any(m, &[Cue::Ate, Cue::Left, Cue::Refused, Cue::Gave, Cue::Offered])
            && !sheet.is(m, &["on", "for", "into", "just", "only", "got", "down", "having"])
            && (m + 1..=i).all(|x| sheet.before(x) != Break::Stop)
    });
    // "a chick with the head off"
    let off = sheet.is(k + 1, &["off", "on", "out", "removed", "gone"])
        && sheet.before(k + 1) == Break::None
        && (k + 2 >= sheet.len() || sheet.before(k + 2) != Break::None);
    let body = off
        || sheet.damage(k + 1)
        || sheet.is(k + 1, &["is", "'s", "looks", "was", "are"])
        || i > 0 && sheet.damage(i);
    (listed || verb) && !body
}

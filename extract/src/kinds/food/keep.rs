//! Whether a phrase that names food tells of feeding, or of a sandwich, the freezer and the bag.

use super::Phrase;
use super::verb::{Verb, of_food_before, verb_at};
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Whether the phrase tells of feeding at all.
pub(super) fn keeps(sheet: &Sheet, phrase: &Phrase, verb: Option<Verb>) -> bool {
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
    // "missed three pheasants and took the one, a hen": which of them it was.
    let hen = sheet.is(phrase.to, &["hen", "hens", "cock", "cocks"])
        && (sheet.start_of_sentence(phrase.from).max(phrase.from.saturating_sub(14))..phrase.from)
            .any(|k| sheet.quarry(k).is_some());
    if hen {
        return false;
    }
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
        sheet.ends(
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
    // "one last pheasant taken on Saturday"
    let taken = sheet.is(phrase.to + 1, &["taken", "caught", "killed", "bagged"])
        && sheet.before(phrase.to + 1) == Break::None
        && matches!(verb, None | Some(Verb::Took));
    if whole_beast && taken {
        return false;
    }
    // "bolted a rabbit and she nailed it"
    let fetched = matches!(verb, None | Some(Verb::Took))
        || (floor..phrase.from).any(|k| sheet.is(k, &["bolted", "put up", "flushed", "jumped"]));
    if whole_beast && fetched && crate::kinds::quarry::told_of_it(sheet, phrase.to) {
        return false;
    }
    if phrase.part.is_none() && phrase.grams.is_none() && crate::kinds::quarry::driven_off(sheet, phrase.to) {
        return false;
    }
    // "got her down with a dead pigeon on the lure"
    if sheet.before(phrase.to + 1) == Break::None
        && sheet.is(phrase.to + 1, &["on", "tied to"])
        && sheet.is(phrase.to + 2, &["the", "a"])
        && sheet.kit(phrase.to + 3).is_some_and(|k| sheet.lexicon.equipment()[usize::from(k)].word == "lure")
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
    // "carried a chick head into the hedge": taken along, which is told as carrying.
    let carried = (phrase.from.saturating_sub(2)..phrase.from).any(|k| {
        sheet.behaviour(k).is_some_and(|b| sheet.lexicon.behaviours()[usize::from(b)].word == "carrying")
            && (k + 1..=phrase.from).all(|m| sheet.before(m) == Break::None)
    });
    if carried {
        return false;
    }
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
    // "ate about half of a rat" measures; "talked about a rabbit" does not.
    let measured = |p: usize| sheet.is(p, &["about"]) && sheet.num(phrase.from).is_some();
    if p.filter(|p| !measured(*p)).is_some_and(|p| {
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
                "fridge",
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
    // "bought 680 grams of duck"
    let bought = p
        .is_some_and(|p| sheet.is(p, &["bought", "ordered", "buy", "order", "fetched", "bagged up"]))
        && phrase.from.checked_sub(2).is_none_or(|w| {
            sheet.before(w + 1) != Break::None || !sheet.any(w, &[Cue::He, Cue::She, Cue::Her])
        });
    if bought {
        return false;
    }
    // "both of them ate a quail, and that's the freezer empty"
    let eaten = verb == Some(Verb::Ate)
        && (phrase.from.saturating_sub(4)..phrase.from).any(|k| {
            sheet.has(k, Cue::Ate) && !sheet.is(k, &["had", "having", "'s had", "has had", "put away"])
        });
    let tonight = (phrase.to + 1..sheet.len().min(phrase.to + 7))
        .any(|k| matches!(sheet.words(k), "for tonight" | "for later" | "for tomorrow"));
    if stock && !eaten && !tonight && phrase.part.is_none() && phrase.grams.is_none_or(|g| g > 1500.0) {
        return false;
    }
    if phrase.count.is_some_and(|c| c > 40.0) {
        return false;
    }
    // "got a rabbit", "the tally is 14 rabbits": a whole one of that size is caught, not fed.
    let game = matches!(name, "rabbit" | "hare" | "squirrel" | "pheasant" | "duck")
        && phrase.part.is_none()
        && phrase.grams.is_none()
        && phrase.count.is_none_or(|c| c.fract() == 0.0);
    let got = || {
        (phrase.from.saturating_sub(3)..phrase.from).any(|k| sheet.is(k, &["got", "hold of", "got hold of"]))
    };
    let many = verb.is_none() && phrase.count.is_some_and(|c| c > 1.0);
    let around = sheet.start_of_sentence(phrase.from).max(phrase.from.saturating_sub(8))
        ..sheet.end_of_sentence(phrase.to).min(phrase.to + 8);
    let ferret = || around.clone().any(|k| sheet.word(k).starts_with("ferret"));
    let flown_at = || {
        use crate::kinds::quarry::{at_attempt, got_away};
        at_attempt(sheet, phrase.to) || got_away(sheet, phrase.to) || ferret()
    };
    // "a cock pheasant is about fourteen hundred"
    let spoken_of = verb.is_none()
        && sheet.before(phrase.to + 1) == Break::None
        && sheet.any(phrase.to + 1, &[Cue::Be, Cue::Weigh]);
    if game && (flown_at() || spoken_of || many || verb == Some(Verb::Gave) && got()) {
        return false;
    }
    // "jumped a jackrabbit and missed"
    let whole =
        phrase.part.is_none() && phrase.grams.is_none() && phrase.count.is_none_or(|c| c.fract() == 0.0);
    if verb.is_none()
        && whole
        && sheet.quarry(phrase.to).is_some()
        && crate::kinds::quarry::outcome(sheet, phrase.to, phrase.from).is_some()
    {
        return false;
    }
    match verb {
        Some(Verb::Hunted) => return phrase.part.is_some() || phrase.grams.is_some(),
        Some(Verb::Took) => {
            // "took a nine hundred gram rabbit": its size.
            let size = phrase.from > 0
                && sheet.is(phrase.from - 1, &["a", "an"])
                && sheet.is(phrase.from + 1, &["gram", "kilo", "pound", "ounce"]);
            let quarry = sheet.quarry(phrase.to).is_some()
                && phrase.part.is_none()
                && (phrase.grams.is_none() || size)
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
    // "Quail refused.", "Quail refused again by Rook"
    let opens = phrase.from == sheet.start_of_sentence(phrase.from)
        || sheet.before(phrase.from) != Break::None
        || sheet.bird(phrase.from - 1).is_some()
        || sheet.any(phrase.from - 1, &[Cue::And, Cue::But, Cue::Filler]);
    let governed = governed || opens && verb.is_some() && of_food_before(sheet, phrase.to + 1);
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

pub(super) fn listed(sheet: &Sheet, phrase: &Phrase) -> bool {
    phrase.from >= 2
        && sheet.any(phrase.from - 1, &[Cue::And])
        && sheet.used[phrase.from - 2]
        && (sheet.food(phrase.from - 2).is_some() || sheet.part(phrase.from - 2).is_some())
}

fn meal_before(sheet: &Sheet, phrase: &Phrase) -> bool {
    phrase.from > 0 && sheet.used[phrase.from - 1] && sheet.food(phrase.from - 1).is_some()
}

//! What was done with the food, and whether it was fed at all.

use super::Phrase;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// The verb that governs a phrase.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Verb {
    Ate,
    Gave,
    Offered,
    Will,
    Refused,
    Left,
    Took,
    Hunted,
}

/// The verb that the phrase hangs on.
pub(super) fn governing(sheet: &Sheet, phrase: &Phrase) -> Option<Verb> {
    // After it: "two chicks left", "a quail for later", "a hamster refused".
    let next = phrase.to + 1;
    if sheet.before(next) == Break::None && next < sheet.len() && !sheet.dead[next] {
        let ends = next + 1 >= sheet.len()
            || sheet.before(next + 1) != Break::None
            || sheet.any(next + 1, &[Cue::And, Cue::But])
            || sheet.is(next + 1, &["in", "this", "over", "by", "from", "on"]);
        if sheet.has(next, Cue::Left)
            && ends
            && sheet.is(
                next,
                &[
                    "left",
                    "uneaten",
                    "leftover",
                    "untouched",
                    "remaining",
                    "still there",
                    "still lying there",
                    "lying there",
                ],
            )
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
        // "two mice out of the freezer for tonight"
        let kept = (next..sheet.len().min(next + 6))
            .take_while(|k| sheet.before(*k) == Break::None)
            .any(|k| matches!(sheet.words(k), "for tonight" | "for later" | "for tomorrow"));
        if kept && sheet.is(next, &["out", "out of", "in", "from"]) {
            return Some(Verb::Will);
        }
        // "two chicks is what she'll get"
        let promised = sheet.any(next, &[Cue::Be])
            && sheet.is(next + 1, &["what", "all", "the lot"])
            && (next + 2..next + 5).any(|k| sheet.any(k, &[Cue::Will]) || sheet.words(k).ends_with("'ll"));
        if promised {
            return Some(Verb::Will);
        }
        // "two chicks she's going to get later": read from the front.
    }
    // "some rangle, which he refused"
    let which = sheet.is(next, &["which", "that"])
        && sheet.before(next) != Break::Stop
        && (sheet.any(next + 1, &[Cue::He, Cue::She, Cue::It]) || sheet.bird(next + 1).is_some());
    if which {
        let verb =
            next + 2 + usize::from(sheet.is(next + 2, &["just", "flatly", "promptly", "then", "also"]));
        let ends = verb + 1 >= sheet.len()
            || sheet.before(verb + 1) != Break::None
            || sheet.any(verb + 1, &[Cue::And, Cue::But]);
        if sheet.has(verb, Cue::Refused) && sheet.before(verb) == Break::None {
            return Some(Verb::Refused);
        }
        if sheet.is(verb, &["left"]) && ends {
            return Some(Verb::Left);
        }
    }
    // "half a quail, and a wing she left"
    let who = sheet.any(next, &[Cue::He, Cue::She]) || sheet.bird(next).is_some();
    let said = next + 1;
    let closes = said + 1 >= sheet.len() || sheet.before(said + 1) != Break::None;
    if who
        && closes
        && sheet.before(next) == Break::None
        && sheet.before(said) == Break::None
        && sheet.live(said)
    {
        match sheet.words(said) {
            "left" => return Some(Verb::Left),
            "refused" => return Some(Verb::Refused),
            _ => {}
        }
    }
    // "chick leg, refused"
    let opens = phrase.from == 0 || sheet.before(phrase.from) != Break::None;
    if sheet.before(next) == Break::Comma
        && opens
        && next < sheet.len()
        && !sheet.dead[next]
        && (next + 1 >= sheet.len() || sheet.before(next + 1) != Break::None)
    {
        match sheet.words(next) {
            "refused" | "declined" => return Some(Verb::Refused),
            "offered" => return Some(Verb::Offered),
            "eaten" => return Some(Verb::Ate),
            _ => {}
        }
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

pub(super) fn verb_at(sheet: &Sheet, k: usize) -> Option<Verb> {
    let denied = |k: usize| {
        (k.saturating_sub(3)..k).any(|m| {
            (sheet.is(m, &["n't", "not", "never", "wouldn't", "didn't"])
                // "neither of them would eat the quail"
                || sheet.has(m, Cue::Neg) && sheet.has(m, Cue::Both))
                && !sheet.dead[m]
                && (m + 1..=k).all(|x| sheet.before(x) == Break::None)
                // "didn't cast both had a mouse": a fresh subject.
                && !(m + 1..k).any(|x| {
                    sheet.bird(x).is_some() || sheet.any(x, &[Cue::Both, Cue::He, Cue::She, Cue::And, Cue::But])
                })
        })
    };
    if sheet.has(k, Cue::Refused) {
        return Some(Verb::Refused);
    }
    // "gave her yesterday's leftover quail": of what kind, not what became of it.
    let kind = sheet.is(k, &["leftover", "left over", "leftovers"])
        && sheet.before(k + 1) == Break::None
        && sheet.food(k + 1).is_some();
    if sheet.has(k, Cue::Left) && !kind {
        let body = sheet.is(
            k + 1,
            &["foot", "wing", "leg", "talon", "eye", "side", "hand", "toe", "glove", "arm", "tail"],
        ) && sheet.before(k + 1) == Break::None
            || sheet.sign(k + 1).is_some();
        return (!body).then_some(Verb::Left);
    }
    // "he's getting a quail and the day off"
    let getting = sheet.is(k, &["getting", "having"])
        && k > 0
        && sheet.before(k) == Break::None
        && (sheet.is(k - 1, &["'s", "is", "are", "'re", "'m"]) || sheet.ends(k - 1, &["'s", "'re", "'m"]))
        && sheet.behaviour(k + 1).is_none();
    if sheet.words(k).ends_with("'ll") || sheet.is(k, &["theyll"]) || getting {
        return Some(Verb::Will);
    }
    if sheet.has(k, Cue::Will) {
        // "later" in front of its food says nothing about it.
        let owed = sheet.is(k, &["due"]) && sheet.before(k + 1) == Break::None;
        if !owed && sheet.is(k, &["later", "planned", "due", "wants", "gets", "saving", "to"]) {
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
    // "put rangle out for her and she refused it": what follows decides.
    let put_out = sheet.is(k, &["put", "left"])
        && (k + 2..sheet.len().min(k + 6)).any(|m| {
            sheet.is(m, &["out", "down", "in front"]) && (k + 1..=m).all(|x| sheet.before(x) == Break::None)
        })
        && (k + 3..sheet.end_of_sentence(k).min(k + 14)).any(|m| {
            sheet.any(m, &[Cue::Refused, Cue::Left, Cue::Ate]) && sheet.is(m + 1, &["it", "them", "that"])
        });
    if put_out && sheet.is(k, &["put"]) {
        return Some(Verb::Offered);
    }
    // "threw the mouse on the floor", "flung it aside"
    let thrown = sheet.is(k, &["threw", "flung", "chucked", "dropped"])
        && (k + 2..sheet.len().min(k + 5)).any(|m| {
            sheet.is(m, &["away", "aside", "down"])
                || sheet.is(m, &["on"])
                    && sheet.is(m + 1, &["the"])
                    && sheet.is(m + 2, &["floor", "ground", "lawn", "deck"])
        });
    if thrown {
        return Some(Verb::Refused);
    }
    if sheet.has(k, Cue::Gave) && !sheet.is(k, &["for", "on", "into", "just", "only"]) {
        return Some(Verb::Gave);
    }
    None
}

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

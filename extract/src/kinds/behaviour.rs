//! What the bird did or did not do, and how strongly.

mod degree;
mod subject;

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use degree::{degree, negation};
use note::{Behaviour, Degree, Value};
pub(super) use subject::first_person;
use subject::{joins, listed_of_another, of_the_bird, stranger, subject_is_bird};

/// Finds the behaviours.
pub(crate) fn find(sheet: &mut Sheet, out: &mut Vec<Draft>) {
    let mut denied_list = false;
    let mut last = None;
    // The last word that told of somebody else.
    let mut foreign = None;
    for i in 0..sheet.len() {
        if sheet.dead[i] || sheet.used[i] {
            continue;
        }
        let Some(word) = sheet.behaviour(i) else { continue };
        let shared = foreign.is_some_and(|f| i - f < 6 && (f + 1..i).all(|k| joins(sheet, k)));
        if shared || listed_of_another(sheet, i) || !of_the_bird(sheet, i) {
            foreign = Some(i);
            continue;
        }
        let word = sheet.lexicon.behaviours()[usize::from(word)].word.clone();
        // "Fed up: three chicks"
        let heading = word == "fed up"
            && i == sheet.start_of_sentence(i)
            && sheet.before(i + 1) == Break::Comma
            && (i + 1..sheet.end_of_sentence(i)).any(|k| sheet.food(k).is_some());
        // "asleep on one leg": how she slept.
        let how_slept = word == "relaxed"
            && sheet.before(i) == Break::None
            && i.checked_sub(1)
                .and_then(|p| sheet.behaviour(p))
                .is_some_and(|b| sheet.lexicon.behaviours()[usize::from(b)].word == "sleeping");
        if how_slept
            || heading
            || !fits(sheet, i, &word)
            || likened(sheet, i)
            || spoken_to(sheet, i)
            || led_on(sheet, i)
        {
            continue;
        }
        let (denied, neg) = match only_expected(sheet, i) {
            Some(came) if came => continue,
            Some(_) => (true, None),
            None => negation(sheet, i, &word),
        };
        let inherits = !denied && denied_list && last.is_some_and(|l| carries_on(sheet, l, i));
        let absent = denied || inherits;
        let (degree, degree_at) = if absent { (Degree::Plain, None) } else { degree(sheet, i, &word) };
        // A bird does not bathe constantly: that is bating, misheard.
        let bated = word == "bathing" && degree == Degree::Strong && sheet.is(i, &["bathing", "bathed"]);
        let word = if bated { "bating".to_owned() } else { word };
        let from = [Some(i), neg, degree_at].into_iter().flatten().min().unwrap_or(i);
        let to = degree_at.map_or(i, |d| d.max(i));
        // "hardly bated"
        let degree = match i.checked_sub(1) {
            Some(p)
                if sheet.before(i) == Break::None
                    && (sheet.is(p, &["hardly", "barely", "scarcely"])
                        || p > 0
                            && sheet.is(p, &["a"])
                            && sheet.is(p - 1, &["hardly", "barely", "scarcely"]))
                    && !absent =>
            {
                Degree::Slight
            }
            _ => degree,
        };
        let score = if sheet.atoms[i].heard { 0.9 } else { 0.97 };
        let value = Value::Behaviour(Behaviour { word, present: !absent, degree });
        let mut draft = Draft::new(sheet, value, from, to, if bated { 0.75 } else { score }).at(i);
        if bated {
            draft.flag(note::Flag::MisheardWord);
        }
        out.push(draft);
        sheet.used[i] = true;
        denied_list = absent;
        last = Some(i);
    }
}

/// "Steady. Steady, lass.": said to the bird.
fn spoken_to(sheet: &Sheet, i: usize) -> bool {
    let opens = i == 0 || sheet.before(i) == Break::Stop;
    let soothing = sheet.is(i, &["steady", "easy", "settled", "quiet", "calm"]);
    let next = i + 1;
    let called = sheet.before(next) == Break::Comma
        && (sheet.bird(next).is_some()
            || sheet.is(
                next,
                &[
                    "lass", "lad", "girl", "boy", "old girl", "old boy", "old lad", "my lady", "madam",
                    "pet", "now",
                ],
            )
            || sheet.is(next, &["steady", "easy"]))
        && (next + 1 >= sheet.len()
            || sheet.before(next + 1) == Break::Stop
            || sheet.before(next + 1) == Break::Comma);
    let twice = sheet.before(next) == Break::Stop && sheet.words(next) == sheet.words(i)
        || i > 0 && sheet.words(i - 1) == sheet.words(i);
    opens && soothing && (called && sheet.is(i, &["steady", "easy"]) || twice)
}

/// "sharper than I like" compares, "settled down to preen" leads on to what was done, "lost by sleeping" tells how.
fn led_on(sheet: &Sheet, i: usize) -> bool {
    let next = i + 1;
    let tight = sheet.before(next) == Break::None;
    let compared = tight
        && sheet.words(i).ends_with("er")
        && sheet.is(next, &["than"])
        && (sheet.start_of_sentence(i).max(i.saturating_sub(8))..i).any(|k| sheet.sign(k).is_some());
    let down_to = tight
        && sheet.ends(i, &["settled", "settle", "down"])
        && (sheet.is(next, &["to"]) && sheet.behaviour(next + 1).is_some()
            || sheet.is(next, &["down"])
                && sheet.is(next + 1, &["to"])
                && sheet.behaviour(next + 2).is_some());
    let by = i > 1
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["by"])
        && (sheet.any(i - 2, &[Cue::Lost]) || sheet.is(i - 2, &["lost", "gained", "dropped"]));
    compared || down_to || by
}

/// "sat like a stuffed owl": said of what it is likened to.
fn likened(sheet: &Sheet, i: usize) -> bool {
    i > 1
        && sheet.before(i) == Break::None
        && sheet.before(i - 1) == Break::None
        && sheet.is(i - 1, &["a", "an"])
        && sheet.is(i - 2, &["like", "as"])
}

/// "I thought she was going to bate but she didn't" denies it (false); "she might bate" says nothing
/// of what was (true).
fn only_expected(sheet: &Sheet, i: usize) -> Option<bool> {
    let bare = matches!(
        sheet.words(i),
        "bate"
            | "mantle"
            | "scream"
            | "foot"
            | "carry"
            | "hiss"
            | "bite"
            | "sulk"
            | "rake away"
            | "rake off"
            | "footed me"
    );
    let expected = (i.saturating_sub(3)..i).any(|k| {
        sheet.is(
            k,
            &[
                "going to", "gonna", "about to", "might", "would", "'d", "may", "could", "should", "will",
                "'ll",
            ],
        ) && (k + 1..=i).all(|m| sheet.before(m) == Break::None)
            && (k + 1..i).all(|m| !sheet.any(m, &[Cue::Neg]))
            && !(k > 0 && sheet.before(k) == Break::None && sheet.any(k - 1, &[Cue::Neg]))
    });
    // "so she'd be steady": what it was for.
    let purpose = i > 1
        && sheet.before(i) == Break::None
        && (sheet.is(i - 1, &["be"])
            && (sheet.is(i - 2, &["'d", "would", "'ll", "will"]) || sheet.ends(i - 2, &["'d", "'ll"]))
            || ["'d be", "would be", "'ll be"].iter().any(|w| sheet.words(i - 1).ends_with(w)))
        && (i.saturating_sub(6)..i)
            .any(|k| sheet.is(k, &["so", "hope", "hoping", "hoped", "if", "thought", "so that"]));
    if purpose {
        return Some(true);
    }
    let denied = (i + 1..sheet.len().min(i + 5)).any(|k| sheet.has(k, Cue::But))
        && (i + 2..sheet.len().min(i + 7)).any(|k| sheet.is(k, &["didn't", "did not", "n't", "never"]));
    (bare && expected).then_some(!denied)
}

/// "no bating or screaming", "didn't mantle, foot or scream".
fn carries_on(sheet: &Sheet, last: usize, i: usize) -> bool {
    if i - last > 5 {
        return false;
    }
    let or = (last + 1..i).any(|k| sheet.has(k, Cue::Or) && !sheet.has(k, Cue::But));
    let only = (last + 1..i).all(|k| {
        sheet.any(k, &[Cue::Or, Cue::Slight, Cue::Strong]) || sheet.is(k, &["any", "at", "all", "even"])
    });
    let list = only
        && sheet.before(i) == Break::Comma
        && (i + 1..(i + 6).min(sheet.len())).any(|k| {
            sheet.has(k, Cue::Or) && sheet.before(k) != Break::Stop && sheet.behaviour(k + 1).is_some()
        });
    (or && only) || list
}

/// Words that are a behaviour only in some company.
fn fits(sheet: &Sheet, i: usize, word: &str) -> bool {
    let said = sheet.words(i);
    let next = i + 1;
    let tight = sheet.before(next) == Break::None && next < sheet.len();
    let p = i.checked_sub(1).filter(|_| sheet.before(i) == Break::None);
    let prev = |words: &[&str]| p.is_some_and(|p| sheet.is(p, words));
    let subject = p.is_some_and(|p| {
        sheet.any(
            p,
            &[
                Cue::Be,
                Cue::Strong,
                Cue::Slight,
                Cue::Plain,
                Cue::Neg,
                Cue::And,
                Cue::Or,
                Cue::He,
                Cue::She,
                Cue::But,
            ],
        ) || sheet.bird(p).is_some()
            || sheet.is(
                p,
                &[
                    "'s", "been", "still", "all", "just", "again", "then", "also", "both", "nice", "more",
                    "bit",
                ],
            )
    });
    let opens = i == 0 || sheet.before(i) != Break::None;
    let closes = next >= sheet.len() || sheet.before(next) != Break::None;
    let adjectival = opens
        || subject
        || p.is_some_and(|p| sheet.content(p))
        || tight && sheet.behaviour(next).is_some()
        || closes
            && (p.is_none_or(|p| {
                sheet.senses(p).is_empty()
                    || sheet.any(p, &[Cue::Today])
                    || sheet.num(p).is_some()
                    || sheet.behaviour(p).is_some()
            }));
    // A described thing: "wild rabbit", "calm evening", "sharp talons", "a lazy morning", "slow traffic".
    let describes = tight
        && (sheet.food(next).is_some()
            || sheet.quarry(next).is_some()
            || sheet.kit(next).is_some()
            || sheet.sign(next).is_some()
            || sheet.is(
                next,
                &[
                    "day",
                    "morning",
                    "evening",
                    "afternoon",
                    "night",
                    "weather",
                    "road",
                    "traffic",
                    "start",
                    "spot",
                    "bend",
                    "field",
                    "garden",
                    "place",
                    "wind",
                    "knife",
                    "turn",
                    "walk",
                    "drive",
                    "week",
                    "sunday",
                    "end",
                    "shower",
                    "water",
                    "food",
                    "heart",
                    "light",
                    "sky",
                ],
            ));
    match word {
        "keen" | "calm" | "wild" | "tame" | "aggressive" | "sluggish" | "nervous" | "relaxed"
        | "distracted" => {
            if describes
                || prev(&["a", "the"])
                    && tight
                    && sheet.senses(next).is_empty()
                    && !sheet.is(next, &["bird", "bit", "lot"])
                    && !closes
            {
                return sheet.is(next, &["bird", "girl", "boy", "lad"]) && tight;
            }
            // "the twitchy bit", "the wild one": which of several, not how she was.
            if prev(&["the"]) && tight && sheet.is(next, &["bit", "bits", "part", "one", "stuff"]) {
                return false;
            }
            // "Dana is keen": somebody whose name is none of the roster's.
            if stranger(sheet, i) {
                return false;
            }
            // "relaxed about the crowd": the bird by its name or pronoun, for keepers are so too.
            if said == "relaxed about" {
                return subject && subject_is_bird(sheet, i);
            }
            // "nine fifty-six, which is a bit heavy": said of the weight.
            if said == "heavy"
                && (i.saturating_sub(7)..i).any(|k| sheet.num(k).is_some_and(|n| n.value > 15.0))
            {
                return false;
            }
            if said == "quiet"
                || said == "easy"
                || said == "steady"
                || said == "settled"
                || said == "heavy"
                || said == "flat"
                || said == "dull"
                || said == "idle"
                || said == "wary"
                || said == "nasty"
            {
                return p.is_some_and(|p| {
                    sheet.any(p, &[Cue::Be, Cue::Strong, Cue::Slight, Cue::Plain]) || sheet.is(p, &["'s"])
                }) && subject_is_bird(sheet, i)
                    || opens
                        && closes
                        && said != "flat"
                        && said != "dull"
                        && said != "heavy"
                        && said != "easy";
            }
            if said == "on it" {
                return p.is_some_and(|p| sheet.any(p, &[Cue::Be, Cue::Strong]) || sheet.is(p, &["'s"]))
                    && closes
                    && subject_is_bird(sheet, i);
            }
            if said.contains(' ')
                && word == "keen"
                && !said.starts_with("keen")
                && !said.starts_with("hungry")
                && said != "well on"
            {
                return true;
            }
            // "not interested in the rat" is a refusal of food; "kept looking at me" is no distraction.
            let at = |words: &[&str]| {
                (next..next + 3)
                    .any(|k| sheet.is(k, words) && (next..=k).all(|m| sheet.before(m) == Break::None))
            };
            let food = (next..next + 4).any(|k| sheet.food(k).is_some());
            if (said.ends_with("interested in") || said.ends_with("interest in") || said == "hungry for")
                && food
                || matches!(said, "kept looking at" | "more interested in" | "gawping at")
                    && (at(&["me", "lure", "fist", "glove", "food"]) || food)
            {
                return false;
            }
            adjectival || subject_is_bird(sheet, i) || closes || sheet.is(next, &["as"]) && tight
        }
        "bathing" => {
            !matches!(said, "a bath" | "bath" | "baths" | "her bath" | "his bath" | "in the bath")
                || p.is_some_and(|p| {
                    sheet.any(p, &[Cue::Ate])
                        || sheet.is(
                            p,
                            &[
                                "had", "took", "got", "having", "enjoyed", "good", "long", "a", "no",
                                "loves", "wants", "her", "using",
                            ],
                        )
                })
                || said == "in the bath" && subject_is_bird(sheet, i)
        }
        "drinking" => !matches!(said, "drink" | "drunk" | "drinks") || subject || prev(&["not", "to"]),
        "biting" if tight && sheet.is(next, &["wind", "cold", "north", "east", "breeze", "frost"]) => false,
        "biting" if tight && sheet.wind(next).is_some() => false,
        // "she bit twice"
        "biting"
            if said.starts_with("bit ") && ["twice", "once", "hard"].iter().any(|w| said.ends_with(w)) =>
        {
            p.is_some_and(|p| sheet.any(p, &[Cue::He, Cue::She, Cue::And]) || sheet.bird(p).is_some())
        }
        "biting" => {
            !(matches!(said, "bite" | "bites" | "bit the") && prev(&["a", "the", "one", "two"]))
                && !(said == "bit the" && !tight)
        }
        "carrying" => {
            // "still carrying half a crop", "carrying some weight": her state.
            let state = (tight || sheet.unbroken)
                && !sheet.is(next, &["it", "them", "that"])
                && (next..next + 5)
                    .take_while(|k| sheet.before(*k) == Break::None || sheet.unbroken && *k == next)
                    .any(|k| {
                        sheet.sign(k) == Some(note::Sign::Crop)
                            || sheet.is(k, &["weight", "fat", "flesh", "condition", "injury", "crop"])
                    });
            if state || tight && sheet.is(next, &["you", "us"]) {
                return false;
            }
            // "two sparrows taken and he was carrying the last": what was caught.
            let caught = (sheet.start_of_sentence(i).max(i.saturating_sub(14))..i)
                .any(|k| sheet.quarry(k).is_some() && sheet.used[k]);
            if caught
                && tight
                && sheet.word(next) == "the"
                && sheet.kit(next + 1).is_none()
                && subject_is_bird(sheet, i)
            {
                return true;
            }
            if matches!(said, "carry" | "carried" | "carrying" | "carries")
                && tight
                && !(sheet.is(next, &["a"]) && sheet.any(next + 1, &[Cue::Kilos, Cue::Pounds]))
                && (["the", "a", "my", "me", "her", "him", "on", "out", "both", "too", "an", "one", "this"]
                    .contains(&sheet.word(next))
                    && !sheet.any(next, &[Cue::Slight, Cue::Strong]))
            {
                return sheet.is(next, &["her", "his"]) && sheet.is(next + 1, &["food", "kill", "meal"])
                    || sheet.is(next, &["the", "a", "her", "his"])
                        && (sheet.food(next + 1).is_some()
                            || sheet.is(next + 1, &["lure", "kill", "quarry"]))
                        && (subject_is_bird(sheet, i) || opens);
            }
            true
        }
        "footing" => {
            let hand = sheet.is(next, &["my", "me"])
                && (sheet.is(next, &["me"])
                    || sheet.is(next + 1, &["bare"])
                    || sheet.is(
                        next + 1,
                        &["finger", "fingers", "hand", "thumb", "arm", "wrist", "face", "glove", "fist"],
                    )
                    || sheet.kit(next + 1).is_some());
            !(matches!(said, "grabbed" | "grabbing" | "grabby")
                && tight
                && !hand
                && (sheet.quarry(next).is_some()
                    || sheet.quarry(next + 1).is_some()
                    || sheet.is(next, &["the", "a", "my", "hold"])))
                && !(prev(&["good", "bad", "loose", "lost", "my", "the", "equal", "better"]))
        }
        "stooping" => !(tight && sheet.is(next, &["to"])),
        "waiting on" => {
            !(tight && sheet.senses(next).is_empty() && sheet.word(next).ends_with('s'))
                && !(tight
                    && (sheet.is(next, &["the", "a", "my", "him", "you", "news", "delivery", "parts"]))
                    && !subject_is_bird(sheet, i))
                && !first_person(sheet, i)
        }
        "fed up"
            if said == "fed up"
                && tight
                && (sheet.food(next).is_some()
                    || sheet.food(next + 1).is_some()
                    || sheet.food(next + 2).is_some()
                    || sheet.is(next, &["on"])) =>
        {
            false
        }
        // "fed up with this rain" is the keeper; "Fern's fed up with the lure" is not.
        "fed up" if tight && sheet.is(next, &["with", "of"]) && opens => {
            sheet.kit(next + 1).is_some() || sheet.kit(next + 2).is_some()
        }
        "fed up" => subject_is_bird(sheet, i) || opens && !first_person(sheet, i),
        "landing on ground" => {
            // "it went to ground": the fox did.
            let quarry = said.ends_with("to ground") && i > 0 && sheet.any(i - 1, &[Cue::It]);
            !quarry && said != "on the ground" && said != "down on the ground"
                || p.is_some_and(|p| {
                    sheet.is(
                        p,
                        &[
                            "up", "ended", "down", "sat", "finished", "times", "time", "twice", "stayed",
                            "standing", "times",
                        ],
                    )
                }) && subject_is_bird(sheet, i)
        }
        // "not a peep out of him" is told only as what there was not.
        "screaming" if said == "peep" => (i.saturating_sub(4)..i).any(|k| sheet.has(k, Cue::Neg)),
        "screaming" => {
            !(matches!(said, "shouting" | "crying" | "shouted" | "yelled" | "yelling" | "noisy" | "vocal")
                && !(subject_is_bird(sheet, i) || opens))
        }
        "sleeping" => !first_person(sheet, i),
        // "took the bell off his left leg": where it was.
        "limping" if said.starts_with("off h") => {
            opens && (i + 1 >= sheet.len() || closes)
                || p.is_some_and(|p| {
                    sheet.any(p, &[Cue::Be, Cue::Slight, Cue::Strong, Cue::Plain])
                        || sheet.is(
                            p,
                            &["'s", "standing", "sitting", "keeping", "still", "weight", "stood", "hopping"],
                        )
                })
        }
        // "I shall limp it tomorrow": imping, misheard, for a bird limps nothing.
        "limping" if said == "limp" && tight && sheet.is(next, &["it", "them", "that"]) => false,
        "limping" => !(said == "lame" && describes),
        // "its fluffy cover"
        "fluffed" if matches!(said, "fluffy" | "puffy") && tight => {
            sheet.any(next, &[Cue::And, Cue::But, Cue::Today, Cue::Strong])
                || sheet.is(next, &["on", "in", "and", "again", "all"])
        }
        "fluffed" => !(said == "stuffed"),
        "panting" if said == "blowing a bit" => {
            subject_is_bird(sheet, i) && !opens && !sheet.is(next, &["from"])
        }
        "panting" => said != "mouth open" || subject_is_bird(sheet, i) || opens,
        "raking away" => {
            !matches!(said, "raked" | "raking")
                || sheet.is(next, &["away", "off", "out", "downwind", "wide", "over"])
                || closes
        }
        _ => true,
    }
}

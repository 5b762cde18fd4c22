//! What the bird did or did not do, and how strongly.

use crate::draft::Draft;
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::{Behaviour, Degree, Value};

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
        if !fits(sheet, i, &word) || likened(sheet, i) {
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
                    && sheet.is(p, &["hardly", "barely", "scarcely"])
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
    let denied = (i + 1..sheet.len().min(i + 5)).any(|k| sheet.has(k, Cue::But))
        && (i + 2..sheet.len().min(i + 7)).any(|k| sheet.is(k, &["didn't", "did not", "n't", "never"]));
    (bare && expected).then_some(!denied)
}

/// Whether the atom only joins one word to the next of the same subject.
fn joins(sheet: &Sheet, k: usize) -> bool {
    sheet.before(k) != Break::Stop
        && (sheet.any(k, &[Cue::And, Cue::Or, Cue::Slight, Cue::Strong, Cue::Plain, Cue::Neg, Cue::Filler])
            || sheet.behaviour(k).is_some())
        && !sheet.any(k, &[Cue::But])
}

/// "the dog, keen as ever", "the spaniel shivering, panting and limping".
fn listed_of_another(sheet: &Sheet, i: usize) -> bool {
    let start = sheet.start_of_sentence(i);
    let mut k = i;
    while k > start && sheet.before(k) == Break::None && joins(sheet, k - 1) {
        k -= 1;
    }
    if k == start || sheet.before(k) != Break::Comma {
        return false;
    }
    // What stands before the comma: nothing but the other, and at most one word said of it.
    let end = k;
    let mut from = end - 1;
    while from > start && sheet.before(from) == Break::None && end - from < 6 {
        from -= 1;
    }
    let lead = usize::from(sheet.is(from, &["the", "my", "our", "his", "that", "a"]));
    let other = from + lead;
    sheet.any(other, &[Cue::OtherBeast, Cue::Person])
        && sheet.bird(other).is_none()
        && other < end
        && end - other <= 2
        && !(other + 1..end).any(|m| sheet.content(m))
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

/// Whether the bird is who does it, and not the keeper, the dog or the kettle.
fn of_the_bird(sheet: &Sheet, i: usize) -> bool {
    let mut k = i;
    while k > 0 && sheet.before(k) == Break::None && i - k < 7 {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        let linked = || {
            (k + 1..i).all(|m| {
                sheet.dead[m]
                    || sheet.any(m, &[Cue::Be, Cue::Strong, Cue::Slight, Cue::Plain, Cue::Filler, Cue::Neg])
                    || sheet.is(m, &["'s", "all", "still"])
            })
        };
        // "the traffic was slow", "it was slow going": a subject of its own.
        if sheet.is(k, &["it"]) && linked() && sheet.any(k + 1, &[Cue::Be]) {
            return false;
        }
        let opens = |k: usize| k == 0 || sheet.before(k) != Break::None;
        if sheet.senses(k).is_empty()
            && sheet.num(k).is_none()
            && sheet.bird(k).is_none()
            && k > 0
            && sheet.before(k) == Break::None
            && opens(k - 1)
            && sheet.is(k - 1, &["the", "a", "my", "our", "their", "some", "that", "this"])
            && linked()
        {
            return false;
        }
        if sheet.bird(k).is_some()
            || sheet.any(k, &[Cue::He, Cue::She, Cue::His])
            || sheet.behaviour(k).is_some() && sheet.used[k]
        {
            return true;
        }
        if sheet.has(k, Cue::Her) && !sheet.is(k, &["her"]) {
            return true;
        }
        if sheet.is(k, &["i", "we", "you"]) || sheet.is(k, &["i'm", "we're"]) || sheet.words(k) == "i was" {
            // "I was asleep", "I'm keen"; "I think she's keen" has its own subject nearer.
            let governs = (k + 1..i).all(|m| {
                sheet.any(m, &[Cue::Be, Cue::Strong, Cue::Slight, Cue::Plain, Cue::Neg, Cue::Filler])
                    || sheet.is(m, &["'m", "'ve", "'d", "also", "always", "just", "all", "bit"])
            });
            // "I'm a bit nervous myself"
            let governs = governs || sheet.is(i + 1, &["myself", "ourselves"]);
            let verb = sheet.is(
                i,
                &[
                    "grabbed", "carrying", "carried", "carry", "bath", "shouted", "drank", "drink", "slept",
                    "nipped", "striking",
                ],
            );
            return !(governs || verb);
        }
        if sheet.has(k, Cue::I) && sheet.is(k, &["i", "im", "ive"]) {
            return false;
        }
        if sheet.has(k, Cue::OtherBeast) {
            // "bating at the dog" has the dog after it; here the dog is who does it.
            let at = k > 0
                && sheet.before(k) == Break::None
                && sheet.is(k - 1, &["at", "by", "from", "of", "with"])
                || k > 1 && sheet.is(k - 2, &["at", "by", "from", "of", "in", "into", "with"]);
            let does = (k + 1..=i).all(|m| {
                m == i
                    || sheet.any(m, &[Cue::Be, Cue::Strong, Cue::Slight, Cue::Filler])
                    || sheet.is(m, &["'s", "who", "that", "kept", "started"])
            });
            return at || !does;
        }
        if sheet.has(k, Cue::Person) && sheet.any(k + 1, &[Cue::Be]) {
            return false;
        }
        if sheet.any(k, &[Cue::And, Cue::But]) {
            return true;
        }
    }
    true
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
                                "had", "took", "having", "enjoyed", "good", "long", "a", "no", "loves",
                                "wants", "her", "using",
                            ],
                        )
                })
                || said == "in the bath" && subject_is_bird(sheet, i)
        }
        "drinking" => !matches!(said, "drink" | "drunk" | "drinks") || subject || prev(&["not", "to"]),
        "biting" => {
            !(matches!(said, "bite" | "bites" | "bit the") && prev(&["a", "the", "one", "two"]))
                && !(said == "bit the" && !tight)
        }
        "carrying" => {
            if matches!(said, "carry" | "carried" | "carrying" | "carries")
                && tight
                && !(sheet.is(next, &["a"]) && sheet.any(next + 1, &[Cue::Kilos, Cue::Pounds]))
                && (["the", "a", "my", "me", "her", "him", "on", "out", "both", "too", "an", "one", "this"]
                    .contains(&sheet.word(next))
                    && !sheet.any(next, &[Cue::Slight, Cue::Strong]))
            {
                return sheet.is(next, &["her", "his"]) && sheet.is(next + 1, &["food", "kill", "meal"])
                    || sheet.is(next, &["the"])
                        && sheet.food(next + 1).is_some()
                        && subject_is_bird(sheet, i);
            }
            true
        }
        "footing" => {
            let hand = sheet.is(next, &["my", "me"])
                && (sheet.is(next, &["me"])
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
        "fed up" => subject_is_bird(sheet, i) || opens && !first_person(sheet, i),
        "landing on ground" => {
            said != "on the ground" && said != "down on the ground"
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
        "screaming" => {
            !(matches!(said, "shouting" | "crying" | "shouted" | "yelled" | "yelling" | "noisy" | "vocal")
                && !(subject_is_bird(sheet, i) || opens))
        }
        "sleeping" => !first_person(sheet, i),
        "limping" => !(said == "lame" && describes),
        "fluffed" => !(said == "stuffed"),
        "panting" => said != "mouth open" || subject_is_bird(sheet, i) || opens,
        "raking away" => {
            !matches!(said, "raked" | "raking")
                || sheet.is(next, &["away", "off", "out", "downwind", "wide", "over"])
                || closes
        }
        _ => true,
    }
}

/// The subject of the clause is the bird, or there is none.
fn subject_is_bird(sheet: &Sheet, i: usize) -> bool {
    let mut k = i;
    while k > 0 && sheet.before(k) == Break::None && i - k < 9 {
        k -= 1;
        if sheet.bird(k).is_some() || sheet.any(k, &[Cue::He, Cue::She]) {
            return true;
        }
        if sheet.is(k, &["i", "we", "it", "there", "road", "wind", "dog"]) || sheet.has(k, Cue::OtherBeast) {
            return false;
        }
    }
    // "Fern, 930, very quiet": the name stands before the comma.
    sheet.before(i) != Break::None
        || (k < i
            && (k..i).all(|m| {
                sheet.any(m, &[Cue::Strong, Cue::Slight, Cue::Plain, Cue::Be, Cue::Neg, Cue::And])
                    || sheet.behaviour(m).is_some()
                    || sheet.is(m, &["all", "nice", "just"])
            }))
}

fn first_person(sheet: &Sheet, i: usize) -> bool {
    let mut k = i;
    while k > 0 && sheet.before(k) == Break::None && i - k < 7 {
        k -= 1;
        if sheet.bird(k).is_some() || sheet.any(k, &[Cue::He, Cue::She]) {
            return false;
        }
        if sheet.is(k, &["i", "we", "you", "i'm", "we're", "i've"]) || sheet.words(k) == "i was" {
            return true;
        }
    }
    false
}

/// Whether it is denied, and from which atom.
fn negation(sheet: &Sheet, i: usize, word: &str) -> (bool, Option<usize>) {
    let said = sheet.words(i);
    // "not interested" and "not focused" say their own no.
    if said.starts_with("not ") || said.starts_with("no ") {
        return (false, None);
    }
    let mut k = i;
    let mut seen = 0;
    while k > 0 && sheet.before(k) == Break::None && seen < 5 {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        seen += 1;
        if sheet.any(k, &[Cue::Neg]) && !(sheet.is(k, &["less"])) {
            return (true, Some(k));
        }
        let inverted = sheet.any(k, &[Cue::He, Cue::She])
            && k > 1
            && (sheet.is(k - 2, &["nor", "neither"]) || sheet.is(k - 1, &["nor", "neither"]));
        let light = inverted
            || sheet.any(k, &[Cue::Slight, Cue::Strong, Cue::Plain, Cue::Be, Cue::Filler])
            || sheet.is(
                k,
                &[
                    "any",
                    "more",
                    "sign",
                    "of",
                    "even",
                    "at",
                    "all",
                    "really",
                    "a",
                    "been",
                    "her",
                    "his",
                    "the",
                    "much",
                    "me",
                    "single",
                    "as",
                    "longer",
                    "to",
                    "once",
                    "that",
                    "particularly",
                    "too",
                    "have",
                    "has",
                    "had",
                    "been",
                    "actual",
                    "bad",
                    "wing",
                    "hint",
                    "trace",
                    "try",
                    "tried",
                    "want",
                    "wanted",
                    "need",
                    "bother",
                    "sign",
                    "getting",
                ],
            );
        if !light {
            break;
        }
    }
    let _ = word;
    (false, None)
}

/// How strongly, and which atom says so.
fn degree(sheet: &Sheet, i: usize, word: &str) -> (Degree, Option<usize>) {
    let class = |k: usize| {
        if !sheet.live(k) || sheet.used[k] && sheet.behaviour(k).is_some() {
            return None;
        }
        // Strong words may also be slight ("so", "hard"); the file's order decides.
        if sheet.has(k, Cue::Strong) {
            Some(Degree::Strong)
        } else if sheet.has(k, Cue::Slight) {
            Some(Degree::Slight)
        } else if sheet.has(k, Cue::Plain) {
            Some(Degree::Plain)
        } else {
            None
        }
    };
    let said = sheet.words(i);
    if said.contains("mad keen")
        || said.starts_with("ravenous")
        || said.starts_with("starving")
        || said.contains("full yarak")
    {
        return (Degree::Strong, None);
    }
    // After it: "bating a lot", "footed me once", "hissing at the cat constantly".
    let mut k = i + 1;
    let mut gap = 0;
    while k < sheet.len() && sheet.before(k) == Break::None && gap < 5 {
        if sheet.dead[k] {
            k += 1;
            continue;
        }
        if let Some(d) = class(k) {
            let once_when = true;
            let mere = sheet.is(
                k,
                &[
                    "so", "too", "dead", "some", "little", "much", "hard", "proper", "properly", "bloody",
                    "mad", "quite", "pretty", "rather", "fairly", "very", "really", "super",
                ],
            ) && gap == 0
                && !sheet.is(k, &["hard", "much", "properly"])
                || sheet.is(
                    k,
                    &[
                        "very",
                        "really",
                        "so",
                        "too",
                        "quite",
                        "pretty",
                        "rather",
                        "fairly",
                        "some",
                        "hard",
                        "ever",
                        "super",
                        "extremely",
                        "incredibly",
                    ],
                ) && gap > 0;
            // "mantling and very aggressive": that degree is the next word's.
            let next_ones = sheet.behaviour(k + 1).is_some()
                && sheet.before(k + 1) == Break::None
                && !crate::breath::trailing(sheet, k);
            if !mere && !next_ones && once_when && !sheet.has(k, Cue::But)
                || sheet.is(k, &["hard"]) && gap == 0
            {
                return (d, Some(k));
            }
            if next_ones {
                break;
            }
        }
        if sheet.behaviour(k).is_some()
            || sheet.any(k, &[Cue::And, Cue::But, Cue::Or]) && !sheet.is(k, &["with"])
            || sheet.bird(k).is_some()
            || sheet.num(k).is_some()
            || sheet.food(k).is_some()
            || sheet.sign(k).is_some()
            || sheet.any(k, &[Cue::He, Cue::She]) && !sheet.is(k, &["him", "himself", "herself"])
            || sheet.any(k, &[Cue::Neg])
        {
            break;
        }
        gap += 1;
        k += 1;
    }
    // Before it: "very aggressive", "a bit distracted", "a lot of bating", "bit of footing".
    let mut k = i;
    let mut gap = 0;
    while k > 0 && sheet.before(k) == Break::None && gap < 3 {
        k -= 1;
        if sheet.dead[k] {
            continue;
        }
        if sheet.behaviour(k).is_some() && sheet.used[k] {
            break;
        }
        if let Some(d) = class(k) {
            let stands_off = gap > 0 && sheet.is(k, &["hard", "some", "much"]);
            // "once she was calm", "so she got": a conjunction, not a degree.
            let conjunction = gap > 0 && sheet.is(k, &["once", "so", "too"]);
            let of_another =
                k > 0 && sheet.behaviour(k - 1).is_some() && sheet.before(k) == Break::None && gap > 0;
            if !stands_off && !conjunction && !of_another && !(sheet.is(k, &["some"]) && word == "fed up") {
                return (d, Some(k));
            }
        }
        let light = sheet.is(k, &["of", "in", "more", "a", "being", "getting", "to", "much"]);
        if !light {
            break;
        }
        gap += 1;
    }
    // "bated, twice", "bating, a lot"
    let next = i + 1;
    if sheet.before(next) == Break::Comma
        && class(next).is_some()
        && (next + 1 >= sheet.len() || sheet.before(next + 1) != Break::None)
        && !sheet.is(next, &["so", "too", "some", "really", "very"])
    {
        return (class(next).unwrap_or(Degree::Plain), Some(next));
    }
    (Degree::Plain, None)
}

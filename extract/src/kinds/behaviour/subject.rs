//! Who does it: the bird, or the keeper, the dog and the kettle.

use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Whether the atom only joins one word to the next of the same subject.
pub(super) fn joins(sheet: &Sheet, k: usize) -> bool {
    sheet.before(k) != Break::Stop
        && (sheet.any(k, &[Cue::And, Cue::Or, Cue::Slight, Cue::Strong, Cue::Plain, Cue::Neg, Cue::Filler])
            || sheet.behaviour(k).is_some())
        && !sheet.any(k, &[Cue::But])
}

/// "the dog, keen as ever", "the spaniel shivering, panting and limping".
pub(super) fn listed_of_another(sheet: &Sheet, i: usize) -> bool {
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

/// Whether the bird is who does it, and not the keeper, the dog or the kettle.
pub(super) fn of_the_bird(sheet: &Sheet, i: usize) -> bool {
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
        // "the bairns watched, and they lost interest", "and me carrying it two miles"
        let they = sheet.is(k, &["they", "they're", "they've"])
            && matches!(sheet.owner[k], crate::sheet::Owner::One(_) | crate::sheet::Owner::Unknown);
        let me = sheet.is(k, &["me"]) && k + 1 == i && k > 0 && sheet.any(k - 1, &[Cue::And]);
        if they || me {
            return false;
        }
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
        // "you've footed me": said to the bird.
        let to_me = sheet.is(i + 1, &["me", "my"]) || sheet.ends(i, &["me", "my"]);
        if sheet.is(k, &["you", "you've", "you'd"]) && to_me {
            return true;
        }
        if sheet.is(k, &["i", "we", "you"])
            || sheet.is(k, &["i'm", "we're", "i'll", "we'll"])
            || sheet.words(k) == "i was"
        {
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
        // "fan belt screaming all the way": a machine's noise, or people's.
        const MACHINES: [&str; 22] = [
            "belt",
            "belts",
            "brakes",
            "gearbox",
            "clutch",
            "bearings",
            "alarm",
            "siren",
            "hinge",
            "hinges",
            "gate",
            "chainsaw",
            "strimmer",
            "drill",
            "fan",
            "generator",
            "exhaust",
            "turbo",
            "motor",
            "mower",
            "saw",
            "tyres",
        ];
        // "kids screaming in the yard", for "lad" and "girl" are said of birds
        let people = sheet.has(k, Cue::Person)
            && !sheet.is(k, &["lad", "girl", "lady", "old lad", "woman", "man"])
            || sheet.is(k, &["kids", "children", "lads", "gulls", "neighbours"]);
        if k + 1 == i
            && (sheet.is(k, &MACHINES) || people)
            && sheet.ends(i, &["screaming", "squealing", "screeching", "howling"])
        {
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
        // "my wife had a bath"
        let somebody = k > 0
            && sheet.before(k) == Break::None
            && opens(k - 1)
            && sheet.is(k - 1, &["my", "our", "the", "a", "his", "her"])
            && sheet.before(k + 1) == Break::None;
        if sheet.has(k, Cue::Person) && (sheet.any(k + 1, &[Cue::Be]) || somebody) {
            return false;
        }
        if sheet.any(k, &[Cue::And, Cue::But]) {
            return true;
        }
    }
    true
}

/// The subject of the clause is the bird, or there is none.
pub(super) fn subject_is_bird(sheet: &Sheet, i: usize) -> bool {
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

pub(in crate::kinds) fn first_person(sheet: &Sheet, i: usize) -> bool {
    let mut k = i;
    while k > 0 && sheet.before(k) == Break::None && i - k < 7 {
        k -= 1;
        if sheet.bird(k).is_some() || sheet.any(k, &[Cue::He, Cue::She]) {
            return false;
        }
        if sheet.is(k, &["i", "we", "you", "i'm", "we're", "i've", "i'll", "we'll"])
            || sheet.words(k) == "i was"
        {
            return true;
        }
    }
    false
}

/// "Dana is keen": a name that opens the sentence, is no bird's, and is no word of English.
pub(super) fn stranger(sheet: &Sheet, i: usize) -> bool {
    let start = sheet.start_of_sentence(i);
    let name = &sheet.atoms[start];
    let token = &sheet.tokens[name.first];
    let strange = name.first == name.last
        && token.capital
        && !token.number
        && name.senses.is_empty()
        && name.num.is_none()
        && name.bird.is_none()
        && !name.heard
        && !sheet.lexicon.ordinary.contains(token.norm.as_str())
        && !sheet.lexicon.known.contains(token.norm.as_str());
    let said_of = start + 1 < i
        && i - start < 5
        && sheet.is(start + 1, &["is", "was", "'s"])
        && (start + 2..i)
            .all(|k| sheet.any(k, &[Cue::Strong, Cue::Slight, Cue::Plain, Cue::Be, Cue::Filler]));
    strange && said_of && (start + 1..=i).all(|k| sheet.before(k) == Break::None)
}

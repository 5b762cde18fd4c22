//! What is amiss with talons, beak, feathers and feet.

use super::{Found, light};
use crate::lexicon::Cue;
use crate::sheet::Sheet;
use crate::tokens::Break;
use note::Sign;

/// "left foot looks swollen", "a cut on her foot", "bent a feather", "the beak is overgrown".
pub(super) fn damage(sheet: &Sheet, i: usize, sign: Sign) -> Found {
    // A chick's foot is food.
    if i > 0
        && sheet.before(i) == Break::None
        && (sheet.food(i - 1).is_some()
            || sheet.is(i - 1, &["on"])
                && sign == Sign::Foot
                && sheet.is(i, &["foot"])
                && !(i > 1 && sheet.damage(i - 2)))
    {
        return None;
    }
    // "fret marks on the new primaries": the word is sign and reading in one.
    if sign == Sign::Feather && sheet.damage(i) {
        return Some((sign, sheet.words(i).to_owned(), i, i));
    }
    let kit_broke = (i.saturating_sub(6)..i)
        .any(|k| sheet.kit(k).is_some() && (k + 1..=i).all(|m| sheet.before(m) == Break::None));
    let skip = |k: usize| {
        light(sheet, k)
            || sheet.any(k, &[Cue::Left, Cue::Neg])
            || sheet.is(
                k,
                &[
                    "left", "right", "wing", "tail", "one", "of", "got", "has", "that", "looks", "on", "in",
                    "to", "gone", "slightly", "getting", "starting", "broken", "by", "so", "stub", "tip",
                    "side", "end", "both", "went", "come", "back", "found", "there", "there's", "hind",
                    "front", "no", "longer", "as", "was", "pretty",
                ],
            )
            || sheet.part(k).is_some()
            || k < i && sheet.num(k).is_some_and(|n| n.value <= 12.0)
            || sheet.bird(k).is_some() && sheet.owner[k] == sheet.owner[i]
            || sheet.is(k, &["'s"])
    };
    // "straightened a bent tail feather in hot water": the word right before it.
    if i > 0
        && sheet.before(i) == Break::None
        && sheet.damage(i - 1)
        && sheet.sign(i - 1).is_none()
        && !sheet.used[i - 1]
        && !sheet.dead[i - 1]
        && !sheet
            .is(i - 1, &["lost", "missing", "long", "loose", "clean", "fine", "hot", "growing", "better"])
        && !sheet.any(i + 1, &[Cue::Be])
    {
        return Some((sign, base(sheet.words(i - 1)), i - 1, i));
    }
    // "cracked a talon and the beak's long": what was done to this one stands before it.
    if let Some(found) = done_to(sheet, i, sign) {
        return Some(found);
    }
    // "coped beak and talons"
    if let Some(said) = shared(sheet, i) {
        return Some((sign, said, i, i));
    }
    // "talons are fine"
    if sheet.is(i + 1, &["are fine"]) && sheet.before(i + 1) == Break::None && sign != Sign::Feather {
        return Some((sign, "fine".to_owned(), i, i + 1));
    }
    let mut k = i + 1;
    while k < sheet.len().min(i + 9) && sheet.before(k) == Break::None {
        // "feet look good"
        let alone = k == i + 1
            && (i == 0 || sheet.before(i) != Break::None)
            && (k + 1 >= sheet.len() || sheet.before(k + 1) != Break::None);
        let well = sheet.is(k, &["good", "perfect", "healthy", "in good order", "in good nick"])
            && (sheet.any(k - 1, &[Cue::Be]) || alone)
            && matches!(sign, Sign::Foot | Sign::Beak | Sign::Talon);
        if well && k - i <= 3 {
            return Some((sign, sheet.words(k).to_owned(), i, k));
        }
        if kit_broke && sheet.any(k, &[Cue::Broke, Cue::Lost]) {
            return None;
        }
        // "no blood, thank God"
        let denied = sheet.is(k - 1, &["no", "not", "without"]) && sheet.before(k) == Break::None;
        if sheet.damage(k) && denied && !sheet.is(k, &["right", "fine", "good", "clean", "better", "healed"])
        {
            break;
        }
        if sheet.damage(k)
            && !sheet.dead[k]
            && !sheet.used[k]
            && !(sheet.is(
                k,
                &["lost", "missing", "long", "loose", "hot", "warm", "red", "growing", "fine", "clean"],
            ) && sheet.food(k + 1).is_some())
        {
            // "hot and swollen"
            let more = k + 2;
            let both = sheet.is(k + 1, &["and"])
                && sheet.damage(more)
                && sheet.sign(more).is_none()
                && (k + 1..=more).all(|m| sheet.before(m) == Break::None && sheet.live(m));
            if both {
                return Some((sign, format!("{} and {}", sheet.words(k), sheet.words(more)), i, more));
            }
            return Some((sign, base(sheet.words(k)), i, k));
        }
        // "a bent feather in the tail and her left foot is swollen": that is the foot's.
        let other = sheet.sign(k).is_some_and(|s| (s == Sign::Feather) != (sign == Sign::Feather));
        if other || !skip(k) && sheet.sign(k).is_none() {
            break;
        }
        k += 1;
    }
    if sheet.before(i + 1) == Break::Comma
        && sheet.damage(i + 1)
        && !sheet.dead[i + 1]
        && sheet.before(i + 2) != Break::None
    {
        return Some((sign, sheet.words(i + 1).to_owned(), i, i + 1));
    }
    // "left foot, looks swollen"
    let next = i + 1;
    if sheet.before(next) == Break::Comma && sheet.any(next, &[Cue::Be]) {
        let d = (next + 1..sheet.len().min(next + 4))
            .take_while(|k| sheet.before(*k) == Break::None)
            .find(|k| sheet.damage(*k) && !sheet.dead[*k]);
        if let Some(d) = d {
            return Some((sign, sheet.words(d).to_owned(), i, d));
        }
    }
    // "not happy with her right foot, it's swollen"
    if sheet.before(next) != Break::None && sheet.any(next, &[Cue::It])
        || sheet.is(next, &["they", "it", "they're", "it's"])
    {
        let is = next + usize::from(!sheet.is(next, &["they're", "it's"]));
        let said = is == next || sheet.any(is, &[Cue::Be]) || sheet.is(is, &["'s", "'re"]);
        let d = (is + 1..sheet.len().min(is + 4))
            .take_while(|k| sheet.before(*k) == Break::None)
            .take_while(|k| !sheet.any(*k, &[Cue::Neg, Cue::And, Cue::But]))
            .find(|k| sheet.damage(*k) && !sheet.dead[*k] && !sheet.used[*k]);
        if let Some(d) = d.filter(|_| said && (is == next || sheet.before(is) == Break::None)) {
            return Some((sign, sheet.words(d).to_owned(), i, d));
        }
    }
    let mut b = i;
    while b > 0 && i - b < 7 && sheet.before(b) == Break::None {
        b -= 1;
        if kit_broke && sheet.any(b, &[Cue::Broke, Cue::Lost]) {
            return None;
        }
        if sheet.damage(b) && !sheet.dead[b] && !sheet.used[b] {
            let lost = sheet.is(
                b,
                &["lost", "dropped", "missing", "clean", "loose", "long", "hot", "growing", "fine", "better"],
            );
            let body = i - b == 1 || !lost || sign == Sign::Talon && sheet.is(b, &["lost"]);
            return body.then(|| (sign, base(sheet.words(b)), b, i));
        }
        if !skip(b) && sheet.sign(b).is_none() {
            break;
        }
    }
    None
}

/// What was done to the part named just before and to this one: "coped beak and talons".
fn shared(sheet: &Sheet, i: usize) -> Option<String> {
    let other = i.checked_sub(2)?;
    let joined =
        sheet.has(i - 1, Cue::And) && sheet.before(i) == Break::None && sheet.before(i - 1) == Break::None;
    let part = matches!(sheet.sign(other), Some(Sign::Beak | Sign::Talon | Sign::Foot | Sign::Feather));
    let verb = other.checked_sub(1)?;
    let verb = if sheet.is(verb, &["her", "his", "the"]) { verb.checked_sub(1)? } else { verb };
    (joined && part && sheet.used[other] && sheet.damage(verb)).then(|| base(sheet.words(verb)))
}

/// The reading as it would be written: "broke a feather" leaves it broken.
fn base(words: &str) -> String {
    match words {
        "broke" => "broken".to_owned(),
        "swole" => "swollen".to_owned(),
        w => w.to_owned(),
    }
}

/// "he split a talon", "she's bent the tip of a feather": a deed with its object, of the bird or of nobody named.
fn done_to(sheet: &Sheet, i: usize, sign: Sign) -> Found {
    let tight = |k: usize| sheet.before(k) == Break::None;
    let verb = i.checked_sub(2).filter(|_| tight(i) && tight(i - 1))?;
    let deed = sheet.is(
        verb,
        &[
            "cracked",
            "broke",
            "broken",
            "bent",
            "chipped",
            "split",
            "snapped",
            "torn",
            "bruised",
            "scratched",
            "nicked",
        ],
    );
    let object = sheet.is(i - 1, &["a", "an", "another", "one", "her", "his"]);
    let subject = verb == sheet.start_of_sentence(verb)
        || !tight(verb)
        || sheet.bird(verb - 1).is_some()
        || sheet.any(verb - 1, &[Cue::He, Cue::She, Cue::And])
        || sheet.is(verb - 1, &["'s", "has", "had", "'d"]);
    let free = sheet.live(verb) && !sheet.used[verb] && sheet.damage(verb);
    (deed && object && subject && free).then(|| (sign, base(sheet.words(verb)), verb, i))
}

/// "her talon wants watching, the hind one on the left foot, it's split": the foot only says which talon.
pub(super) fn toe_of(sheet: &Sheet, i: usize) -> bool {
    let foot = sheet.sign(i) == Some(Sign::Foot);
    let one = (i.saturating_sub(4)..i).rev().take_while(|k| sheet.before(*k + 1) == Break::None).find(|k| {
        sheet.is(*k, &["one"]) && sheet.is(k + 1, &["on", "of"])
            || sheet.is(*k, &["one on", "one of", "front one", "back one", "hind one"])
    });
    foot && one.is_some_and(|k| (k.saturating_sub(10)..k).any(|m| sheet.sign(m) == Some(Sign::Talon)))
}

//! Bird names that were written as other words.

use super::code;
use crate::lexicon::Cue;
use crate::mass;
use crate::sheet::Sheet;
use crate::tokens::Break;

/// Finds bird names that were written as other words.
pub(super) fn names(sheet: &mut Sheet) {
    if sheet.names.is_empty() {
        return;
    }
    let roster = spelled(sheet);
    // A spelling that was a name once is that name again: "Tatty's not focused".
    let mut met: Vec<(usize, u16)> = Vec::new();
    for i in 0..sheet.len() {
        let again = || {
            let token = &sheet.tokens[sheet.atoms[i].first];
            let same = |k: usize| sheet.tokens[k].norm == token.norm;
            let fresh = sheet.atoms[i].bird.is_none() && token.capital;
            met.iter().find(|(k, _)| fresh && same(*k)).map(|m| m.1)
        };
        if let Some(bird) = name(sheet, i, &roster).or_else(again) {
            if met.len() < 16 {
                met.push((sheet.atoms[i].first, bird));
            }
            sheet.atoms[i].bird = Some(bird);
            sheet.atoms[i].mean(&[]);
        } else if let Some(bird) = parted(sheet, i, &roster) {
            sheet.atoms[i + 1].bird = Some(bird);
            sheet.atoms[i + 1].mean(&[]);
        }
    }
    let current = sheet.context.current_bird.as_deref().map(str::trim);
    let mut held = current.and_then(|c| sheet.names.iter().position(|n| n.name == c)).map(|k| k as u16);
    for i in 0..sheet.len() {
        if let Some(bird) = sheet.bird(i) {
            held = Some(bird);
        } else if let Some(bird) = weight_before(sheet, i, held) {
            sheet.atoms[i].bird = Some(bird);
            sheet.atoms[i].mean(&[]);
            sheet.atoms[i].heard = true;
            held = Some(bird);
        } else if let Some((end, bird)) = borne_out(sheet, i, held, &roster) {
            sheet.atoms[end].bird = Some(bird);
            sheet.atoms[end].mean(&[]);
            sheet.atoms[end].heard = true;
            held = Some(bird);
        }
    }
}

/// A name written as two words: "Safr in" for Saffron.
fn parted(sheet: &Sheet, i: usize, roster: &[(String, String, u16)]) -> Option<u16> {
    let j = i + 1;
    let half = |k: usize| {
        let atom = sheet.atoms.get(k).filter(|a| a.bird.is_none() && a.num.is_none() && a.first == a.last)?;
        Some(&sheet.tokens[atom.first])
    };
    let opens = i == 0 || sheet.before(i) != Break::None;
    let (first, second) = (half(i)?, half(j).filter(|_| opens && sheet.before(j) == Break::None)?);
    let strange =
        first.capital && sheet.senses(i).is_empty() && !sheet.lexicon.ordinary.contains(first.norm.as_str());
    if !strange || first.norm.len() < 3 || !second.norm.bytes().all(|b| b.is_ascii_alphabetic()) {
        return None;
    }
    let said = format!("{}{}", first.norm, second.norm);
    let mine = code(&said);
    let found = roster.iter().find(|(name, sound, _)| {
        mine.len() > 2 && mine == *sound && strsim::jaro_winkler(&said, name) >= 0.8
    })?;
    Some(found.2)
}

/// "286 for Moss" where Moth weighs that much and no other bird does: nothing like a name, but said where one is.
fn weight_before(sheet: &Sheet, i: usize, held: Option<u16>) -> Option<u16> {
    let atom = &sheet.atoms[i];
    let word = &sheet.tokens[atom.first];
    let said = i > 1
        && sheet.before(i) == Break::None
        && sheet.is(i - 1, &["for"])
        && sheet.before(i - 1) == Break::None
        && atom.num.is_none()
        && atom.first == atom.last
        && word.capital
        && word.norm.len() > 3
        && !sheet.content(i)
        && (i + 1 >= sheet.len() || sheet.before(i + 1) != Break::None)
        && crate::time::weekday(sheet, i).is_none();
    if !said {
        return None;
    }
    let start = sheet.start_of_sentence(i).max(i.saturating_sub(6));
    let mut number = (start..i - 1)
        .filter(|k| sheet.num(*k).is_some() || crate::kinds::weight::opens_with_unit(sheet, *k));
    let at = number.next().filter(|k| *k == start || sheet.before(*k) != Break::None)?;
    let near =
        |b: usize| sheet.names[b].last_grams.is_some_and(|l| crate::kinds::weight::near_said(sheet, at, l));
    let mut fitting = (0..sheet.names.len()).filter(|b| near(*b));
    let one = fitting.next().filter(|_| fitting.next().is_none())?;
    let other = held.is_none_or(|h| !near(usize::from(h)));
    other.then_some(one as u16)
}

/// A bird whose name was misheard past its sound, but whose weight follows: "Timber 250" for Thimble.
///
/// The odd word or two stand at the head of a clause, and the weight is near that bird's last and far
/// from the weight of the bird in hand.
fn borne_out(
    sheet: &Sheet,
    i: usize,
    held: Option<u16>,
    roster: &[(String, String, u16)],
) -> Option<(usize, u16)> {
    let word = |k: usize| {
        let atom = sheet.atoms.get(k)?;
        let empty = !sheet.any(
            k,
            &[
                Cue::And,
                Cue::But,
                Cue::He,
                Cue::She,
                Cue::His,
                Cue::Her,
                Cue::It,
                Cue::I,
                Cue::Be,
                Cue::Neg,
                Cue::Approx,
                Cue::Want,
                Cue::Weigh,
                Cue::Today,
                Cue::Person,
                Cue::Hearsay,
                Cue::At,
                Cue::Code,
                Cue::Price,
            ],
        );
        let alphabetic = sheet.word(k).chars().all(|c| c.is_ascii_alphabetic());
        (atom.bird.is_none()
            && atom.num.is_none()
            && atom.first == atom.last
            && !sheet.content(k)
            && empty
            && alphabetic)
            .then(|| sheet.word(k))
    };
    let head = i == 0 || sheet.before(i) != Break::None;
    let current = held.and_then(|h| sheet.names[usize::from(h)].last_grams).filter(|_| head)?;
    let first = word(i).filter(|w| w.len() > 2)?;
    let clitic = usize::from(sheet.is(i + 1, &["'s"]));
    let second = word(i + 1 + clitic)
        .filter(|_| sheet.before(i + 1) == Break::None && sheet.before(i + 1 + clitic) == Break::None);
    let said = second.map(|second| (i + 1 + clitic, format!("{first}{second}")));
    let said = std::iter::once((i, first.to_owned())).chain(said);
    said.into_iter().find_map(|(end, said)| {
        let mut k = end + 1;
        while k <= end + 3 && sheet.num(k).is_none() && !crate::kinds::weight::opens_with_unit(sheet, k) {
            let light = sheet.any(k, &[Cue::Be, Cue::Weigh, Cue::Filler])
                || sheet.is(k, &["'s", "next", "at", "all"]);
            if !light || sheet.before(k) == Break::Stop {
                return None;
            }
            k += 1;
        }
        let near_said = |last: f64| crate::kinds::weight::near_said(sheet, k, last);
        if sheet.before(k) == Break::Stop || near_said(current) {
            return None;
        }
        let mine = code(&said);
        // Nothing like any name, but said where a name is and before a weight that can be one bird's only.
        let token = &sheet.tokens[sheet.atoms[end].first];
        let alone = end == i
            && k <= end + 1 + clitic
            && token.norm.len() > 3
            && sheet.senses(end).is_empty()
            && (token.capital || !sheet.lexicon.ordinary.contains(token.norm.as_str()));
        let near = |bird: usize| sheet.names[bird].last_grams.is_some_and(near_said);
        let fits_one = alone && (0..sheet.names.len()).filter(|bird| near(*bird)).count() == 1;
        let fits = |(name, sound, bird): &&(String, String, u16)| {
            Some(*bird) != held
                && (fits_one || sounds_near(&said, &mine, name, sound))
                && near(usize::from(*bird))
                && sheet.names[usize::from(*bird)]
                    .last_grams
                    .is_some_and(|l| mass::distance(l, current) > mass::PLAUSIBLE)
        };
        let mut fitting = roster.iter().filter(fits);
        let bird = fitting.next()?.2;
        fitting.all(|f| f.2 == bird).then_some((end, bird))
    })
}

/// Whether two words begin alike and share half of their sounds.
fn sounds_near(word: &str, mine: &str, name: &str, sound: &str) -> bool {
    let class = |c: &str| c.replace('0', "T").replace('L', "R");
    let (mine, sound) = (class(mine), class(sound));
    let long = mine.len().max(sound.len());
    if long < 2 {
        return false;
    }
    let alike = 1.0 - strsim::levenshtein(&mine, &sound) as f64 / long as f64;
    // "Esther" for Hester: an aitch is easily dropped.
    let dropped = |a: &str, b: &str| a.starts_with('A') && b.starts_with('H') && a[1..] == b[1..];
    let begins = mine.chars().next() == sound.chars().next();
    (begins && alike >= 0.5 || dropped(&mine, &sound) || dropped(&sound, &mine))
        && strsim::jaro_winkler(word, name) >= 0.5
}

/// Spellings that sound as a name may be said: with a hard C, with the Welsh dd, without the r that many do not speak.
fn said_otherwise(name: &str) -> Vec<String> {
    let hard = name.starts_with('c').then(|| format!("k{}", &name[1..]));
    let soft = name.contains("dd").then(|| name.replace("dd", "th"));
    let mute = silent_r(name);
    hard.into_iter().chain(soft).chain(mute).collect()
}

/// How a written word sounds, and how it does without the r that many do not speak: "Wander" for Wanda.
struct Sound {
    code: String,
    mute: Option<String>,
}

impl Sound {
    fn of(word: &str) -> Self {
        Sound { code: code(word), mute: silent_r(word).map(|w| code(&w)) }
    }

    fn is(&self, sound: &str) -> bool {
        self.code == sound || self.mute.as_deref() == Some(sound)
    }
}

/// A word without the r that many do not speak, where it has one.
fn silent_r(word: &str) -> Option<String> {
    let vowel = |c: Option<&char>| c.is_some_and(|c| "aeiouy".contains(*c));
    let letters: Vec<char> = word.chars().collect();
    let spoken =
        |k: usize| letters[k] != 'r' || k == 0 || !vowel(letters.get(k - 1)) || vowel(letters.get(k + 1));
    let said: String = (0..letters.len()).filter(|k| spoken(*k)).map(|k| letters[k]).collect();
    (said.len() > 2 && said != word).then_some(said)
}

/// Names and aliases of one word, with their sounds.
fn spelled(sheet: &Sheet) -> Vec<(String, String, u16)> {
    let mut out = Vec::new();
    for (k, named) in sheet.names.iter().enumerate() {
        let aliases = sheet.context.birds.get(k).map(|b| b.aliases.as_slice()).unwrap_or_default();
        for name in std::iter::once(&named.name).chain(aliases) {
            let lower = name.to_lowercase();
            if lower.len() > 2 && lower.chars().all(|c| c.is_ascii_alphabetic()) {
                let sound = code(&lower);
                for other in said_otherwise(&lower) {
                    let other = code(&other);
                    if other != sound {
                        out.push((lower.clone(), other, k as u16));
                    }
                }
                out.push((lower.clone(), sound, k as u16));
            }
        }
    }
    out
}

fn name(sheet: &Sheet, i: usize, roster: &[(String, String, u16)]) -> Option<u16> {
    let atom = &sheet.atoms[i];
    if atom.bird.is_some() || atom.first != atom.last || atom.num.is_some() {
        return None;
    }
    let token = &sheet.tokens[atom.first];
    if token.number || token.norm.len() < 3 || !token.norm.chars().all(|c| c.is_ascii_alphabetic()) {
        return None;
    }
    let ordinary = sheet.lexicon.ordinary.contains(token.norm.as_str()) || !atom.senses.is_empty();
    // "Room 640" is a room, whatever it sounds like.
    if !token.capital && ordinary || sheet.any(i, &[Cue::Code, Cue::Price]) {
        return None;
    }
    let opens = i == 0 || sheet.before(i) != Break::None;
    let next = i + 1;
    let tight = next < sheet.len() && sheet.before(next) == Break::None;
    let led = !opens
        && sheet.ends(
            i - 1,
            &[
                "for", "into", "with", "and", "then", "now", "right", "on", "so", "to", "started", "had",
                "poor", "good", "dear", "old", "from", "by", "off",
            ],
        );
    let clitic = tight && sheet.is(next, &["'s", "'d", "'ll"]);
    let after = if clitic { next + 1 } else { next };
    let number = sheet.num(after).is_some() && sheet.before(after) != Break::Stop;
    let verb = tight
        && (sheet.any(
            next,
            &[Cue::Be, Cue::Ate, Cue::Took, Cue::Refused, Cue::Flew, Cue::Missed, Cue::Chased, Cue::Left],
        ) || sheet.behaviour(next).is_some()
            || [
                "is", "was", "has", "weighed", "weighs", "had", "went", "did", "jumped", "stepped", "landed",
                "cast", "casts", "came", "ate", "took",
            ]
            .contains(&sheet.word(next)));
    let closes = !tight;
    // "that was Jinx, 152"
    let led = led || !opens && number && token.capital && sheet.is(i - 1, &["was", "is", "'s"]);
    // "she's sluggish today is Dorcus": who it was comes last.
    let led =
        led || !opens && !tight && token.capital && sheet.is(i - 1, &["was", "is", "has", "did", "does"]);
    // "started Lorne and Tatty on the lure"
    let put = tight
        && !opens
        && sheet.before(i) == Break::None
        && sheet.is(next, &["on", "to", "with"])
        && (sheet.is(i - 1, &["started", "moved", "entered"])
            || sheet.any(i - 1, &[Cue::And]) && i > 1 && sheet.bird(i - 2).is_some());
    // "lost the bell off Whalen in the beck": a capital in mid-sentence that no dictionary knows.
    let strange = || {
        let mine = Sound::of(&token.norm);
        // At the head of a sentence any word has a capital.
        let least = if opens { 0.85 } else { 0.7 };
        mine.code.len() > 1
            && roster
                .iter()
                .any(|(name, sound, _)| mine.is(sound) && strsim::jaro_winkler(&token.norm, name) >= least)
    };
    let slot = (opens || led) && (number || clitic || verb || closes)
        || put
        || token.capital && !ordinary && strange();
    if !slot || !(token.capital || !ordinary) {
        return None;
    }
    let stem = token.norm.strip_suffix('s').filter(|s| s.len() > 2);
    [Some(token.norm.as_str()), stem].into_iter().flatten().find_map(|word| {
        alike(sheet, word, roster, Slot { i, opens, number, clitic, verb, led, put, closes, after, ordinary })
    })
}

/// Where a name may stand, and what stands around it.
struct Slot {
    i: usize,
    opens: bool,
    number: bool,
    clitic: bool,
    verb: bool,
    led: bool,
    put: bool,
    closes: bool,
    after: usize,
    ordinary: bool,
}

/// In how many places two words of the same length differ.
fn differ(a: &str, b: &str) -> usize {
    a.bytes().zip(b.bytes()).filter(|(a, b)| a != b).count()
}

fn alike(sheet: &Sheet, word: &str, roster: &[(String, String, u16)], slot: Slot) -> Option<u16> {
    let Slot { i, opens, number, clitic, verb, led, put, closes, after, ordinary } = slot;
    let atom = &sheet.atoms[i];
    let next = i + 1;
    let mine = Sound::of(word);
    let mut best: Option<(f64, u16)> = None;
    for (name, sound, bird) in roster {
        let alike = mine.is(sound);
        let one_off = name.len() == word.len()
            && name.len() <= 6
            && differ(name, word) <= 2
            && strsim::damerau_levenshtein(word, name) == 1;
        let neighbours = alike || strsim::damerau_levenshtein(&mine.code, sound) <= 1;
        if !(one_off || neighbours) {
            continue;
        }
        let near = strsim::jaro_winkler(word, name);
        let long = name.len().max(word.len());
        let same = alike && near >= 0.62;
        let close = neighbours
            && (sound.len() > 2 && near >= 0.78
                || strsim::damerau_levenshtein(word, name) as f64 / long as f64 <= 0.26);
        if !(same || one_off || close) {
            continue;
        }
        // An everyday word is a name only with a weight behind it that is this bird's.
        if ordinary {
            let last = sheet.names[usize::from(*bird)].last_grams;
            let weight = sheet.num(after).is_some_and(|n| last.is_some_and(|l| mass::near_any(n, &[l])));
            if !(weight && opens && number
                || same && (put || led) && !opens && sheet.tokens[atom.first].capital
                || same
                    && opens
                    && (clitic || closes && sheet.before(next) == Break::Comma)
                    && atom.senses.is_empty()
                    && word.len() > 3)
            {
                continue;
            }
        } else if !same && !(number || clitic || verb || led || put) {
            continue;
        }
        let score = near + if same { 0.1 } else { 0.0 };
        if best.is_none_or(|b| score > b.0) {
            best = Some((score, *bird));
        }
    }
    best.map(|b| b.1)
}
